//! Limits of EC, which bend: programs with a tangent in place of the limit, from several starts.
//!
//! EC is nearly concave in the amounts, so a tangent lies above it: amounts under the tangent of an upper limit keep the limit,
//! but the tangent cuts others off that would keep it too. Each program takes the newest tangent alone, and where a limit
//! binds it may end in a point that is the closest of its neighbourhood only. So several starts are followed.

use super::conflict::feasible_point;
use super::face::Face;
use super::linear::Failure;
use super::model::{Model, Tangent};
use super::problem::{EC_TOLERANCE, Limit, Problem};
use super::solve::{FitError, Proof, Solution, wishes_in_order};

/// Programs from one start.
const ROUNDS: usize = 20;
/// Rounds after which a step beyond the limit is cut short.
const FULL_STEPS: usize = 3;
/// A misfit that moves less than this from round to round has settled.
const SETTLED: f64 = 1e-6;
/// Where on the way from a point within the limits to the mix without them other starts lie.
const BETWEEN: [f64; 2] = [1.0 / 3.0, 2.0 / 3.0];
/// EC that follows its tangent within this fraction of the limit is straight: no other start leads elsewhere.
const STRAIGHT: f64 = 1e-7;
/// Tangents that the later wishes may collect.
const LATER_ROUNDS: usize = 6;

/// The tangent to EC at `x`, for one of its limits.
pub(super) fn tangent(problem: &Problem, limit: Limit, x: &[f64]) -> Option<Tangent> {
    let ec = problem.ec.as_ref()?;
    let slope = (ec.slope_ms_per_cm)(x);
    let at_zero = (ec.ec_ms_per_cm)(x) - slope.iter().zip(x).map(|(slope, x)| slope * x).sum::<f64>();
    // far beyond the chemistry there is no EC and so no tangent
    (at_zero.is_finite() && slope.iter().all(|slope| slope.is_finite())).then_some(Tangent { limit, slope, at_zero })
}

/// The amounts closest to the targets that several starts find within the limits of EC, all later wishes held.
///
/// * `free`: the answer without them
pub(super) fn within_ec(model: &Model, free: &Solution, later_wishes: bool) -> Result<Solution, FitError> {
    let safe = feasible_point(model)?.map_err(FitError::Conflict)?;
    let edge = last_that_holds(model.problem, &safe, &free.g_per_l);
    let mut best: Option<(f64, Vec<f64>)> = None;
    let between = BETWEEN.map(|share| along(&safe, &edge, share));
    for start in [&free.g_per_l, &edge, &safe].into_iter().chain(&between) {
        let (found, straight) = follow(model, start, &safe)?;
        if best.as_ref().is_none_or(|(misfit, _)| found.0 < misfit - SETTLED) {
            best = Some(found);
        }
        if straight {
            break;
        }
    }
    let (misfit, point) = best.unwrap_or_else(|| (misfit_of(model.problem, &safe), safe));
    later(model, &point, misfit, later_wishes)
}

fn misfit_of(problem: &Problem, x: &[f64]) -> f64 {
    problem.misfit(&problem.achieved_ppm(x))
}

fn along(from: &[f64], to: &[f64], share: f64) -> Vec<f64> {
    from.iter().zip(to).map(|(a, b)| a + share * (b - a)).collect()
}

/// The last point on the way from `from`, where EC holds, to `to`, where it does not.
fn last_that_holds(problem: &Problem, from: &[f64], to: &[f64]) -> Vec<f64> {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..30 {
        let middle = f64::midpoint(low, high);
        if problem.ec_beyond(&along(from, to, middle)).most() <= EC_TOLERANCE / 2.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    along(from, to, low)
}

/// Tangents at `x`: the newest alone for an upper limit, whose older ones would cut good points off; all of them for a lower
/// limit, where each is a valid cut. At a point over the limit the tangent is the row itself; one within the tolerance of the
/// limit is not cut off by its own tangent.
fn renewed(problem: &Problem, x: &[f64], before: &[Tangent]) -> Vec<Tangent> {
    let Some(ec) = &problem.ec else { return Vec::new() };
    let mut tangents: Vec<Tangent> = before.iter().filter(|tangent| tangent.limit == Limit::EcAtLeast).cloned().collect();
    let beyond = ec.beyond(x);
    let within = |off: f64, level: f64| if off <= EC_TOLERANCE { off * level } else { 0.0 };
    if let Some(min) = ec.min_ms_per_cm
        && let Some(mut tangent) = tangent(problem, Limit::EcAtLeast, x)
    {
        tangent.at_zero += within(beyond.under, min);
        tangents.push(tangent);
    }
    if let Some(max) = ec.max_ms_per_cm
        && let Some(mut tangent) = tangent(problem, Limit::EcAtMost, x)
    {
        tangent.at_zero -= within(beyond.over, max);
        tangents.push(tangent);
    }
    tangents
}

/// Program after program from `start`, each with the tangents at the answer of the one before; the closest point within the
/// limits, with its misfit, and whether EC was straight on the way.
fn follow(model: &Model, start: &[f64], safe: &[f64]) -> Result<((f64, Vec<f64>), bool), FitError> {
    let problem = model.problem;
    let mut best = (misfit_of(problem, safe), safe.to_vec());
    let mut tangents = renewed(problem, start, &[]);
    let (mut last, mut straight, mut again) = (f64::INFINITY, true, false);
    for round in 1..=ROUNDS {
        let Some(mut next) = closest(model, &tangents)? else {
            // a tangent that nothing keeps proves nothing: it may lie far above EC
            if again {
                break;
            }
            (again, straight) = (true, false);
            tangents = renewed(problem, &best.1, &[]);
            continue;
        };
        straight &= problem.ec.as_ref().is_none_or(|ec| {
            let value = (ec.ec_ms_per_cm)(&next);
            let upper = tangents.iter().find(|tangent| tangent.limit == Limit::EcAtMost);
            upper.is_some_and(|tangent| (tangent.at(&next) - value).abs() <= STRAIGHT * value.abs())
        });
        let mut beyond = problem.ec_beyond(&next).most();
        if beyond > EC_TOLERANCE && round > FULL_STEPS {
            next = last_that_holds(problem, &best.1, &next);
            beyond = problem.ec_beyond(&next).most();
        }
        let misfit = misfit_of(problem, &next);
        tangents = renewed(problem, &next, &tangents);
        if beyond <= EC_TOLERANCE {
            let settled = (misfit - last).abs() < SETTLED;
            if misfit < best.0 {
                best = (misfit, next);
            }
            if settled {
                break;
            }
            last = misfit;
        }
    }
    Ok((best, straight))
}

/// The least misfit under tangents, in g/L; none where they cannot be kept.
fn closest(model: &Model, tangents: &[Tangent]) -> Result<Option<Vec<f64>>, FitError> {
    let program = model.misfit_program(tangents);
    let cost = program.cost.clone();
    let mut face = Face::new(program);
    match face.minimise(|at| cost[at]) {
        Ok(_) => Ok(Some(model.amounts(&face.point[..model.columns.len()]))),
        Err(Failure::Infeasible) => Ok(None),
        Err(error) => Err(error.into()),
    }
}

/// The later wishes at a point that is closest, its misfit held.
fn later(model: &Model, point: &[f64], misfit: f64, later_wishes: bool) -> Result<Solution, FitError> {
    let problem = model.problem;
    let mut tangents = renewed(problem, point, &[]);
    for _ in 0..LATER_ROUNDS {
        let Some(solution) = wishes_in_order(model, &tangents, later_wishes)? else { break };
        if problem.ec_beyond(&solution.g_per_l).most() <= EC_TOLERANCE && solution.misfit <= misfit + 2.0 * SETTLED {
            return Ok(Solution { proof: Proof::ClosestFound, ..solution });
        }
        // a later wish went along the tangent to where EC bends away from it
        let more = renewed(problem, &solution.g_per_l, &[]);
        tangents.extend(more);
    }
    // no tangents keep the point and its misfit: the point as it is, of which the prices are those of its own tangent
    let solution = wishes_in_order(model, &renewed(problem, point, &[]), false)?;
    let (certificate_gap, prices) = solution.map(|solution| (solution.certificate_gap, solution.prices)).unwrap_or_default();
    let stages = vec![super::Stage { wish: "least misfit", value: misfit, unit: "" }];
    Ok(Solution { g_per_l: point.to_vec(), misfit, certificate_gap, proof: Proof::ClosestFound, stages, prices })
}
