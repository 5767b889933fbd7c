//! The closest mix under a limit of EC that binds: by tangents, from several starts.

use super::answer::{Conflict, FitError, Proof, ShadowPrices, Solution, Stage};
use super::conflict::{all_limits, contradiction, holding};
use super::ec::{EC_TOLERANCE, between, excess, holds, tangents_at};
use super::model::{Model, Tangent};
use super::problem::Problem;
use super::wishes::wishes_in_order;

/// Tangents that one way from a start may take, and after how many a point over the limit is brought back under it.
const ROUNDS: usize = 14;
const PATIENCE: usize = 5;
/// A misfit that moves less than this from round to round has settled.
const SETTLED: f64 = 1e-6;
/// Tangents that the later wishes may take.
const LATER_ROUNDS: usize = 10;
/// Looks on the way back under a limit, and what is on it, relative.
const LOOKS: usize = 20;
const ON_THE_LIMIT: f64 = 1e-6;
/// An EC that is over its limit by more than this share of it is far beyond.
const FAR: f64 = 1.0;

/// The last point on the way from `from`, where EC holds, to `to`, where it does not: by false position, the end that stays put
/// counted by half each time (the Illinois rule), since EC bends little on the way.
fn last_that_holds(problem: &Problem, from: &[f64], to: &[f64]) -> Vec<f64> {
    let over = |x: &[f64]| excess(problem, x) - EC_TOLERANCE / 2.0;
    let mut at_low = over(from).min(0.0);
    // share of the way, and how far over as it is counted
    let (mut low, mut high) = ((0.0, at_low), (1.0, over(to)));
    for _ in 0..LOOKS {
        if at_low > -ON_THE_LIMIT || high.1 <= 0.0 {
            break;
        }
        // far beyond the limit a straight line says nothing
        let share = if high.1 > FAR { 0.5 } else { low.1 / (low.1 - high.1) };
        let middle = low.0 + share * (high.0 - low.0);
        let found = over(&between(from, to, middle));
        if found <= 0.0 {
            (low, at_low) = ((middle, found), found);
            high.1 /= 2.0;
        } else {
            high = (middle, found);
            low.1 /= 2.0;
        }
    }
    between(from, to, low.0)
}

/// A point at which every limit holds, and the tangents on which the next step goes.
struct Found {
    misfit: f64,
    x: Vec<f64>,
    tangents: Vec<Tangent>,
    /// What the fit on those tangents came to, where the point is its own.
    solution: Option<Solution>,
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
            *best = Some(Found {
                misfit: next.misfit,
                x: next.g_per_l.clone(),
                tangents: tangents.clone(),
                solution: Some(next.clone()),
            });
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

/// From several starts: `free`, and where EC bends the weakest mix that keeps the other limits and points between.
fn from_several(model: &Model, free: &[f64], later_wishes: bool, best: &mut Option<Found>) -> Result<(), FitError> {
    let problem = model.problem;
    let limits = all_limits(model);
    let Some(safe) = holding(model, &limits)? else {
        let conflict = if later_wishes { contradiction(model, limits)? } else { Vec::new() };
        return Err(FitError::Conflict(Conflict { limits: conflict }));
    };
    let misfit = |x: &[f64]| problem.misfit(&problem.achieved_ppm(x));
    descend(model, free, &safe, best)?;
    if best.is_none() || bends(problem, free, &safe) {
        // where the way to the mix without the limit meets the limit, the weakest mix, and half way between
        let edge = last_that_holds(problem, &safe, free);
        let half = between(&safe, &edge, 0.5);
        for start in [&edge, &half, &safe] {
            descend(model, start, &safe, best)?;
        }
        if best.as_ref().is_none_or(|best| misfit(&edge) < best.misfit - SETTLED) {
            let tangents = tangents_at(problem, &edge, &[]);
            *best = Some(Found { misfit: misfit(&edge), tangents, x: edge, solution: None });
        }
    }
    Ok(())
}

/// The closest mix that is found under limits of EC which `free`, the mix without them, breaks.
pub(super) fn under_ec(model: &Model, free: &[f64], later_wishes: bool) -> Result<Solution, FitError> {
    let problem = model.problem;
    let mut best = None;
    if let Some(near) = problem.near.as_ref().filter(|near| holds(problem, near)) {
        descend(model, near, near, &mut best)?;
    }
    if best.is_none() {
        from_several(model, free, later_wishes, &mut best)?;
    }
    let Some(mut best) = best else { return Err(FitError::Solver("no mix was found under a limit of EC".to_owned())) };
    // without later wishes the next fit would be the same again
    if let Some(solution) = best.solution.take_if(|_| !later_wishes) {
        return Ok(solution);
    }
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
        shadow_prices: ShadowPrices::default(),
    })
}

/// True unless the slope of EC is the same at both points: then one tangent is exact, and other starts lead nowhere else.
fn bends(problem: &Problem, a: &[f64], b: &[f64]) -> bool {
    problem.ec.as_ref().is_some_and(|ec| ec.conducts.slope_ms_per_cm(a) != ec.conducts.slope_ms_per_cm(b))
}

#[cfg(test)]
mod tests {
    use super::super::sample::{column, problem, target};
    use super::super::solve::solve;
    use super::super::{Conducts, EcLimits};
    use super::*;
    use crate::matter::Nutrient;

    /// What conducts like 0.9 a g/L, and of the first column more: a hump on the way from none of it to 1 g/L, flat up to 0.3
    /// and 0.3 mS/cm at 1, where it still rises.
    struct Hump;

    impl Hump {
        const OF: [f64; 3] = [5.26, -10.02, 5.06];

        fn on_the_way(first: f64) -> f64 {
            ((first - 0.3) / 0.7).max(0.0)
        }
    }

    impl Conducts for Hump {
        fn ec_ms_per_cm(&self, g_per_l: &[f64]) -> f64 {
            let [a, b, c] = Self::OF;
            let way = Self::on_the_way(g_per_l[0]);
            0.9 * (g_per_l[0] + g_per_l[1]) + way * way * (a + way * (b + way * c))
        }

        fn slope_ms_per_cm(&self, g_per_l: &[f64]) -> Vec<f64> {
            let [a, b, c] = Self::OF;
            let way = Self::on_the_way(g_per_l[0]);
            vec![0.9 + way * (2.0 * a + way * (3.0 * b + way * 4.0 * c)) / 0.7, 0.9]
        }
    }

    /// Two columns of the same potassium, the first of less mass: 100 ppm is met by 1 g/L of either, and under 1 mS/cm by the
    /// second alone or little of the first. Tangents lead the wish for less mass over the limit and back again, and end nowhere:
    /// the potassium is met none the less, under the limit, and told with the proof and the prices of its own program.
    #[test]
    fn a_later_wish_that_does_not_come_to_rest_leaves_the_first_as_it_was() {
        let columns = vec![column(&[(Nutrient::K, 100.0)]), column(&[(Nutrient::K, 100.0)])];
        let mut of = problem(columns, vec![target(Nutrient::K, 100.0)]);
        of.columns[1].cost_per_g = 2.0;
        let free = solve(&of).unwrap();
        assert!((free.g_per_l[0] - 1.0).abs() < 1e-9);
        of.ec = Some(EcLimits { min_ms_per_cm: None, max_ms_per_cm: Some(1.0), conducts: &Hump });
        let found = solve(&of).unwrap();
        assert!(found.misfit < 1e-9, "{found:?}");
        assert!(Hump.ec_ms_per_cm(&found.g_per_l) <= 1.0 + EC_TOLERANCE, "{found:?}");
        assert!(found.certificate_gap < 1e-9 && found.shadow_prices.per_column.len() == 2, "{found:?}");
    }
}
