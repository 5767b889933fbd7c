//! Limits of EC, which bends: by tangents, from several starts.

use super::conflict::{all_limits, contradiction, holding};
use super::face::Face;
use super::linear::{Failure, Program, Relation};
use super::model::{Model, Tangent};
use super::problem::{Limit, Problem};
use super::solve::{FitError, Proof, Solution, Stage, wishes_in_order};

/// EC may be beyond its limit by this fraction.
pub(super) const EC_TOLERANCE: f64 = 1e-4;
/// How far an EC that cannot be reckoned counts as beyond its limits.
const NO_EC: f64 = 1e6;
/// Tangents that one way from a start may take, and after how many a point over the limit is brought back under it.
const ROUNDS: usize = 14;
const PATIENCE: usize = 5;
/// A misfit that moves less than this from round to round has settled.
const SETTLED: f64 = 1e-6;
/// Tangents that the later wishes may take.
const LATER_ROUNDS: usize = 10;
/// How far beyond a lower limit of EC amounts are looked for, in multiples of it.
const STRONG: f64 = 1.5;
/// Amounts at which the first slopes are taken, in units of the columns.
const THIN: f64 = 0.01;
/// Halvings on the way back under a limit.
const HALVINGS: usize = 20;

/// How far EC is beyond those of its limits that `counts` names, relative. The one place that says so.
pub(super) fn beyond(problem: &Problem, x: &[f64], counts: impl Fn(Limit) -> bool) -> f64 {
    let Some(ec) = &problem.ec else { return 0.0 };
    let max = ec.max_ms_per_cm.filter(|_| counts(Limit::EcAtMost));
    let min = ec.min_ms_per_cm.filter(|_| counts(Limit::EcAtLeast));
    if max.is_none() && min.is_none() {
        return 0.0;
    }
    let value = ec.conducts.ec_ms_per_cm(x);
    if !value.is_finite() {
        return NO_EC;
    }
    let over = max.map_or(0.0, |max| (value - max) / max.max(1e-9));
    let under = min.map_or(0.0, |min| (min - value) / min.max(1e-9));
    over.max(under).max(0.0)
}

/// True where every limit of EC holds.
pub(super) fn holds(problem: &Problem, x: &[f64]) -> bool {
    beyond(problem, x, |_| true) <= EC_TOLERANCE
}

/// The tangent to EC at `x`, for one of its limits.
pub(super) fn tangent(problem: &Problem, limit: Limit, x: &[f64]) -> Option<Tangent> {
    let ec = problem.ec.as_ref()?;
    let slope = ec.conducts.slope_ms_per_cm(x);
    let at_zero = ec.conducts.ec_ms_per_cm(x) - slope.iter().zip(x).map(|(slope, x)| slope * x).sum::<f64>();
    // far beyond the chemistry there is no EC and so no tangent
    (at_zero.is_finite() && slope.iter().all(|slope| slope.is_finite())).then_some(Tangent { limit, slope, at_zero })
}

/// Tangents at `x`: the newest alone for an upper limit, whose older ones would cut good points off; all of them for a
/// lower limit, where each is a valid cut.
///
/// At a point over the limit it is the tangent itself. A point that keeps the limit within the tolerance alone is not cut
/// off by its own tangent.
fn tangents_at(problem: &Problem, x: &[f64], before: &[Tangent]) -> Vec<Tangent> {
    let Some(ec) = &problem.ec else { return Vec::new() };
    let mut tangents: Vec<Tangent> = before.iter().filter(|tangent| tangent.limit == Limit::EcAtLeast).cloned().collect();
    let limits = [(Limit::EcAtLeast, ec.min_ms_per_cm), (Limit::EcAtMost, ec.max_ms_per_cm)];
    let stated = limits.into_iter().filter_map(|(limit, level)| Some((limit, level?)));
    for (limit, level) in stated {
        let off = beyond(problem, x, |other| other == limit);
        let margin = if off <= EC_TOLERANCE { off * level } else { 0.0 };
        if let Some(mut tangent) = tangent(problem, limit, x) {
            tangent.at_zero += if limit == Limit::EcAtLeast { margin } else { -margin };
            tangents.push(tangent);
        }
    }
    tangents
}

/// The point a `share` of the way from `from` to `to`.
pub(super) fn between(from: &[f64], to: &[f64], share: f64) -> Vec<f64> {
    from.iter().zip(to).map(|(a, b)| a + share * (b - a)).collect()
}

/// The last point on the way from `from`, where EC holds, to `to`, where it does not.
fn last_that_holds(problem: &Problem, from: &[f64], to: &[f64]) -> Vec<f64> {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if beyond(problem, &between(from, to, middle), |_| true) <= EC_TOLERANCE / 2.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    between(from, to, low)
}

/// A point at which every limit holds, and the tangents on which the next step goes.
struct Found {
    misfit: f64,
    x: Vec<f64>,
    tangents: Vec<Tangent>,
}

/// From `start` along tangent after tangent, until EC holds and the misfit has settled; `safe` is a point where every limit
/// holds.
fn descend(model: &Model, start: &[f64], safe: &[f64], best: &mut Option<Found>) -> Result<(), FitError> {
    let problem = model.problem;
    let mut point = start.to_vec();
    let (mut tangents, mut before) = (Vec::new(), f64::INFINITY);
    for round in 0..ROUNDS {
        tangents = tangents_at(problem, &point, &tangents);
        // a tangent that leaves nothing proves nothing: other starts may do
        let Some(next) = wishes_in_order(model, &tangents, false, &|_| true)? else { break };
        let holds = holds(problem, &next.g_per_l);
        if holds && best.as_ref().is_none_or(|best| next.misfit < best.misfit) {
            *best = Some(Found { misfit: next.misfit, x: next.g_per_l.clone(), tangents: tangents.clone() });
        }
        if holds && (next.misfit - before).abs() < SETTLED {
            break;
        }
        before = next.misfit;
        // a concave EC keeps below its tangent and settles soon; where pairing bends it the other way, on from where it holds
        point = if holds || round < PATIENCE { next.g_per_l } else { last_that_holds(problem, safe, &next.g_per_l) };
    }
    Ok(())
}

/// The closest mix that is found under limits of EC which `free`, the mix without them, breaks.
pub(super) fn closest(model: &Model, free: &[f64], later_wishes: bool) -> Result<Solution, FitError> {
    let problem = model.problem;
    let limits = all_limits(model);
    let Some(safe) = holding(model, &limits)? else {
        let conflict = if later_wishes { contradiction(model, limits)? } else { Vec::new() };
        return Err(FitError::Conflict(super::Conflict { limits: conflict }));
    };
    let misfit = |x: &[f64]| problem.misfit(&problem.achieved_ppm(x));
    let mut best = None;
    descend(model, free, &safe, &mut best)?;
    if best.is_none() || bends(problem, free, &safe) {
        // where the way to the mix without the limit meets the limit, the weakest mix, and half way between
        let edge = last_that_holds(problem, &safe, free);
        let half = between(&safe, &edge, 0.5);
        for start in [&edge, &half, &safe] {
            descend(model, start, &safe, &mut best)?;
        }
        if best.as_ref().is_none_or(|best| misfit(&edge) < best.misfit - SETTLED) {
            best = Some(Found { misfit: misfit(&edge), tangents: tangents_at(problem, &edge, &[]), x: edge });
        }
    }
    let Some(best) = best else { return Err(FitError::Solver("no mix was found under a limit of EC".to_owned())) };
    // the later wishes move along what is as close, and EC with them
    let mut tangents = best.tangents.clone();
    for _ in 0..LATER_ROUNDS {
        let Some(solution) = wishes_in_order(model, &tangents, later_wishes, &|_| true)? else { break };
        if solution.misfit > best.misfit + SETTLED {
            break;
        }
        if holds(problem, &solution.g_per_l) {
            return Ok(solution);
        }
        tangents = tangents_at(problem, &solution.g_per_l, &tangents);
    }
    // they do not come to rest: those of them that keep EC where it is
    if let Some(solution) = wishes_in_order(model, &best.tangents, later_wishes, &|x| holds(problem, x))?
        && holds(problem, &solution.g_per_l)
        && solution.misfit <= best.misfit + SETTLED
    {
        return Ok(solution);
    }
    Ok(Solution {
        misfit: best.misfit,
        g_per_l: best.x,
        proof: Proof::ClosestFound,
        certificate_gap: f64::INFINITY,
        stages: vec![Stage { wish: "least misfit", value: best.misfit, unit: "" }],
        prices: super::Prices::default(),
    })
}

/// True unless the slope of EC is the same at both points: then one tangent is exact, and other starts lead nowhere else.
fn bends(problem: &Problem, a: &[f64], b: &[f64]) -> bool {
    problem.ec.as_ref().is_some_and(|ec| ec.conducts.slope_ms_per_cm(a) != ec.conducts.slope_ms_per_cm(b))
}

/// Amounts with as little EC as is found among those that keep the other `limits`, as long as it is over its upper limit: down
/// the slope from one corner to the next, since a concave EC is least in a corner.
pub(super) fn weakest(model: &Model, limits: &[Limit]) -> Result<Option<Vec<f64>>, FitError> {
    let problem = model.problem;
    let Some(ec) = &problem.ec else { return Ok(None) };
    // in next to pure water the slopes are those of a trace among a few hydrogen ions: they say nothing of a mix
    let mut x = model.amounts(&vec![THIN; model.columns.len()]);
    let mut least: Option<(f64, Vec<f64>)> = None;
    for round in 0..ROUNDS {
        let mut slope = ec.conducts.slope_ms_per_cm(&x);
        if slope.iter().any(|slope| !slope.is_finite()) {
            break;
        }
        if round == 0 {
            slope.iter_mut().for_each(|slope| *slope = slope.max(0.0));
        }
        match lightest(model, limits, &slope) {
            Err(Failure::Infeasible) => return Ok(None),
            point => x = point?,
        }
        let value = ec.conducts.ec_ms_per_cm(&x);
        if least.as_ref().is_some_and(|(least, _)| value.is_nan() || value > least - EC_TOLERANCE * least / 2.0) {
            break;
        }
        least = Some((value, x.clone()));
    }
    Ok(least.map(|(_, x)| x))
}

/// Amounts that reach the lower limit of EC and keep the other `limits`: the most that all tangents so far leave, no more than a
/// multiple of the limit, and a tangent more at each answer; `None` where no such amounts are found.
pub(super) fn strong_enough(model: &Model, limits: &[Limit], weak: &[f64]) -> Result<Option<Vec<f64>>, FitError> {
    let problem = model.problem;
    let low = |limit| limit == Limit::EcAtLeast;
    let level = problem.ec.as_ref().and_then(|ec| ec.min_ms_per_cm).unwrap_or(0.0).max(f64::MIN_POSITIVE);
    let mut x = weak.to_vec();
    let mut cuts: Vec<Tangent> = Vec::new();
    for _ in 0..2 * ROUNDS {
        if beyond(problem, &x, low) <= EC_TOLERANCE / 2.0 {
            return Ok(Some(x));
        }
        let Some(cut) = tangent(problem, Limit::EcAtLeast, &x) else { return Ok(None) };
        cuts.push(cut);
        let mut program = framed(model, limits);
        // in units of the limit
        let most = program.variable(0.0, STRONG);
        for cut in &cuts {
            let terms = model.columns.iter().zip(&model.unit).enumerate();
            let terms = terms.map(|(at, (&column, unit))| (at, -cut.slope[column] * unit / level));
            program.row(terms.chain([(most, 1.0)]).collect(), Relation::AtMost, cut.at_zero / level);
        }
        let mut face = Face::new(program);
        match face.minimise(|at| if at == most { -1.0 } else { 0.0 }) {
            Err(Failure::Infeasible) => return Ok(None),
            found => found?,
        };
        x = model.amounts(&face.point[..model.columns.len()]);
    }
    Ok(None)
}

/// The amounts of least `slope` that keep the other `limits`; a negative one of what has no end is taken as 0.
fn lightest(model: &Model, limits: &[Limit], slope: &[f64]) -> Result<Vec<f64>, Failure> {
    // where what is on hand is not among the limits, it has no end either
    let least = |column: usize| if limits.contains(&Limit::OnHand(column)) { f64::NEG_INFINITY } else { 0.0 };
    let cost: Vec<f64> =
        model.columns.iter().zip(&model.unit).map(|(&column, unit)| slope[column].max(least(column)) * unit).collect();
    let largest = cost.iter().fold(f64::MIN_POSITIVE, |most, c| most.max(c.abs()));
    let mut face = Face::new(framed(model, limits));
    face.minimise(|at| cost[at] / largest)?;
    Ok(model.amounts(&face.point))
}

/// The amounts within those of `limits` that are straight lines.
fn framed(model: &Model, limits: &[Limit]) -> Program {
    let mut program = model.frame(|column| limits.contains(&Limit::OnHand(column)));
    for row in model.limit_rows(&[]).into_iter().filter(|row| limits.contains(&row.limit)) {
        program.row(row.terms, row.relation, row.right);
    }
    program
}
