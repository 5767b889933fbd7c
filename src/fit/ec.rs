//! Limits of EC: how far a mix is beyond them, and tangents to EC, which bends.

use super::model::Tangent;
use super::problem::{EcLimits, Limit, Problem};

/// EC may be beyond its limit by this fraction.
pub(super) const EC_TOLERANCE: f64 = 1e-4;
/// How far an EC that cannot be reckoned counts as beyond its limits.
const NO_EC: f64 = 1e6;

/// How far EC is beyond those of its limits that `counts` names, relative. The one place that says so.
pub(super) fn beyond(problem: &Problem, x: &[f64], counts: impl Fn(Limit) -> bool) -> f64 {
    let Some(ec) = &problem.ec else { return 0.0 };
    if !ec.stated().any(|(limit, _)| counts(limit)) {
        return 0.0;
    }
    ec.beyond(ec.conducts.ec_ms_per_cm(x), counts)
}

/// The same of all limits, less than nothing where EC keeps them; minus infinity where there is none.
pub(super) fn excess(problem: &Problem, x: &[f64]) -> f64 {
    problem.ec.as_ref().map_or(f64::NEG_INFINITY, |ec| ec.excess(ec.conducts.ec_ms_per_cm(x), |_| true))
}

impl EcLimits<'_> {
    /// The limits that are stated, mS/cm.
    fn stated(&self) -> impl Iterator<Item = (Limit, f64)> + use<> {
        let limits = [(Limit::EcAtLeast, self.min_ms_per_cm), (Limit::EcAtMost, self.max_ms_per_cm)];
        limits.into_iter().filter_map(|(limit, level)| Some((limit, level?)))
    }

    /// How far a value of EC is beyond those that `counts` names, relative.
    fn beyond(&self, value: f64, counts: impl Fn(Limit) -> bool) -> f64 {
        self.excess(value, counts).max(0.0)
    }

    fn excess(&self, value: f64, counts: impl Fn(Limit) -> bool) -> f64 {
        if !value.is_finite() {
            return NO_EC;
        }
        let off = |(limit, level): (Limit, f64)| {
            let over = if limit == Limit::EcAtMost { value - level } else { level - value };
            over / level.max(1e-9)
        };
        self.stated().filter(|(limit, _)| counts(*limit)).map(off).fold(f64::NEG_INFINITY, f64::max)
    }
}

/// True where every limit of EC holds.
pub(super) fn holds(problem: &Problem, x: &[f64]) -> bool {
    beyond(problem, x, |_| true) <= EC_TOLERANCE
}

/// The tangent to EC at `x` for each of its limits, and by how much EC is beyond it within the tolerance, mS/cm; nothing far
/// beyond the chemistry, where there is no EC and so no tangent.
fn own_tangents(problem: &Problem, x: &[f64]) -> Vec<(Tangent, f64)> {
    let Some(ec) = &problem.ec else { return Vec::new() };
    let value = ec.conducts.ec_ms_per_cm(x);
    if !value.is_finite() {
        return Vec::new();
    }
    let slope = ec.conducts.slope_ms_per_cm(x);
    if !slope.iter().all(|slope| slope.is_finite()) {
        return Vec::new();
    }
    let at_zero = value - slope.iter().zip(x).map(|(slope, x)| slope * x).sum::<f64>();
    let of = |(limit, level): (Limit, f64)| {
        let off = ec.beyond(value, |other| other == limit);
        let margin = if off <= EC_TOLERANCE { off * level } else { 0.0 };
        (Tangent { limit, slope: slope.clone(), at_zero }, margin)
    };
    ec.stated().map(of).collect()
}

/// The limits of an EC that is straight, as rows; nothing where EC bends.
pub(super) fn straight(problem: &Problem) -> Vec<Tangent> {
    if !problem.ec.is_some_and(|ec| ec.conducts.is_straight()) {
        return Vec::new();
    }
    tangents_at(problem, &vec![0.0; problem.columns.len()], &[])
}

/// The tangent to EC at `x`, for one of its limits.
pub(super) fn tangent(problem: &Problem, limit: Limit, x: &[f64]) -> Option<Tangent> {
    own_tangents(problem, x).into_iter().map(|(tangent, _)| tangent).find(|tangent| tangent.limit == limit)
}

/// Tangents at `x`: the newest alone for an upper limit, whose older ones would cut good points off; all of them for a
/// lower limit, where each is a valid cut.
///
/// At a point over the limit it is the tangent itself. A point that keeps the limit within the tolerance alone is not cut
/// off by its own tangent.
pub(super) fn tangents_at(problem: &Problem, x: &[f64], before: &[Tangent]) -> Vec<Tangent> {
    let mut tangents: Vec<Tangent> = before.iter().filter(|tangent| tangent.limit == Limit::EcAtLeast).cloned().collect();
    tangents.extend(own_tangents(problem, x).into_iter().map(|(tangent, margin)| {
        let margin = if tangent.limit == Limit::EcAtLeast { margin } else { -margin };
        Tangent { at_zero: tangent.at_zero + margin, ..tangent }
    }));
    tangents
}

/// The point a `share` of the way from `from` to `to`.
pub(super) fn between(from: &[f64], to: &[f64], share: f64) -> Vec<f64> {
    from.iter().zip(to).map(|(a, b)| a + share * (b - a)).collect()
}
