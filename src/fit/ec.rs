//! Limits of EC: how far a mix is beyond them, and tangents to EC, which bends.

use super::model::Tangent;
use super::problem::{Limit, Problem};

/// EC may be beyond its limit by this fraction.
pub(super) const EC_TOLERANCE: f64 = 1e-4;
/// How far an EC that cannot be reckoned counts as beyond its limits.
const NO_EC: f64 = 1e6;

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
pub(super) fn tangents_at(problem: &Problem, x: &[f64], before: &[Tangent]) -> Vec<Tangent> {
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
