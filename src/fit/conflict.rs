//! Limits that contradict each other: a set of them that does, and would not without any one.

use super::face::Face;
use super::linear::{Program, Relation};
use super::model::Model;
use super::problem::{EC_TOLERANCE, EcLimits, Limit, Problem};
use super::solve::FitError;

/// A violation below this is rounding.
const NONE: f64 = 1e-8;
/// EC may be off by this at a point where all limits hold; half of what an answer may, so that one can be reached from it.
const EC_HOLDS: f64 = EC_TOLERANCE / 2.0;
/// What an excess over another limit costs against that of the one in question.
const DEAR: f64 = 1e3;
/// Programs in search of the least EC.
const ROUNDS: usize = 6;
/// How far beyond a lower limit of EC amounts are looked for, in multiples of it; the first are multiples of its tangent at
/// nothing, which lies above EC.
const STRONG: [f64; 3] = [2.0, 4.0, 16.0];
/// Halvings of the way from a weak solution to a strong one.
const HALVINGS: usize = 40;

/// Limits that cannot all hold; without any one of them the others can.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conflict {
    /// The set, in the order of the formula.
    pub limits: Vec<Limit>,
}

/// The least relative violation of `limits` that is found, and the amounts in g/L that reach it: of all that are straight
/// lines first, then of EC among the amounts that keep those.
fn least_violation(model: &Model, limits: &[Limit]) -> Result<(f64, Vec<f64>), FitError> {
    let x = toward(model, limits, None, None)?;
    let straight = violation(model, limits, &x);
    let (low, high) = (limits.contains(&Limit::EcAtLeast), limits.contains(&Limit::EcAtMost));
    let Some(ec) = model.problem.ec.as_ref().filter(|_| straight <= NONE && (low || high)) else {
        return Ok((straight, x));
    };
    let under = |x: &[f64]| if low { ec.beyond(x).under } else { 0.0 };
    let over = |x: &[f64]| if high { ec.beyond(x).over } else { 0.0 };
    let weak = weakest(model, limits, ec, x)?;
    if over(&weak) > EC_HOLDS || under(&weak) <= EC_HOLDS {
        let off = over(&weak);
        return Ok((if off > EC_HOLDS { off } else { 0.0 }, weak));
    }
    let strong = strongest(model, limits, ec, &weak)?;
    if under(&strong) > EC_HOLDS {
        return Ok((under(&strong), strong));
    }
    // all on the way from one to the other keeps the straight limits
    let along = |share: f64| -> Vec<f64> { weak.iter().zip(&strong).map(|(a, b)| a + share * (b - a)).collect() };
    let (mut from, mut to) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(from, to);
        if under(&along(middle)) > EC_HOLDS { from = middle } else { to = middle }
    }
    let point = along(to);
    let off = over(&point);
    Ok((if off > EC_HOLDS { off } else { 0.0 }, point))
}

/// The least EC that is found within the straight limits: of a function that is nearly concave, so each program goes down its
/// slope at the last answer, the first from water alone.
fn weakest(model: &Model, limits: &[Limit], ec: &EcLimits, start: Vec<f64>) -> Result<Vec<f64>, FitError> {
    let value = |x: &[f64]| Some((ec.ec_ms_per_cm)(x)).filter(|value| value.is_finite()).unwrap_or(f64::INFINITY);
    let mut best = (value(&start), start);
    let mut at = vec![0.0; best.1.len()];
    for _ in 0..ROUNDS {
        let slope = (ec.slope_ms_per_cm)(&at);
        if slope.iter().any(|slope| !slope.is_finite()) {
            break;
        }
        let next = toward(model, limits, Some((&slope, 1.0)), None)?;
        let found = value(&next);
        if found >= best.0 * (1.0 - NONE) {
            break;
        }
        best = (found, next.clone());
        at = next;
    }
    Ok(best.1)
}

/// Amounts within the straight limits of an EC over the lower limit, as far as there are any.
fn strongest(model: &Model, limits: &[Limit], ec: &EcLimits, weak: &[f64]) -> Result<Vec<f64>, FitError> {
    let level = ec.min_ms_per_cm.unwrap_or(0.0);
    let mut strong = weak.to_vec();
    let slope = (ec.slope_ms_per_cm)(weak);
    let (here, tangent) =
        ((ec.ec_ms_per_cm)(weak), slope.iter().zip(weak).map(|(slope, x)| slope * x).sum::<f64>());
    if slope.iter().any(|slope| !slope.is_finite()) {
        return Ok(strong);
    }
    for times in STRONG {
        strong = toward(model, limits, Some((&slope, -1.0)), Some(tangent + times * level - here))?;
        if ec.beyond(&strong).under <= EC_HOLDS {
            break;
        }
    }
    Ok(strong)
}

/// Amounts in g/L of the least violation of the straight limits, and among those with the least of `sign` times what a slope
/// comes to; that sum kept under `most`.
fn toward(
    model: &Model,
    limits: &[Limit],
    slope: Option<(&[f64], f64)>,
    most: Option<f64>,
) -> Result<Vec<f64>, FitError> {
    let columns = model.columns.len();
    let mut program = model.frame(|column| limits.contains(&Limit::OnHand(column)));
    for row in model.limit_rows(&[]).into_iter().filter(|row| limits.contains(&row.limit)) {
        elastic(&mut program, row.terms, row.relation, row.right);
    }
    // more of a salt never lowers EC for long: a slope that says so would have no end
    let endless = |column: usize| model.problem.columns[column].most_g_per_l.is_none();
    let scaled: Option<Vec<f64>> = slope.map(|(slope, sign)| {
        let of = |column: usize| if endless(column) { slope[column].max(0.0) } else { slope[column] };
        model.columns.iter().zip(&model.unit).map(|(&column, unit)| sign * of(column) * unit).collect()
    });
    if let (Some(scaled), Some((_, sign)), Some(most)) = (&scaled, slope, most) {
        let size = most.abs().max(NONE);
        program.row(scaled.iter().enumerate().map(|(at, slope)| (at, sign * slope / size)).collect(), Relation::AtMost, most / size);
    }
    let mut face = Face::new(program);
    face.minimise(|at| if at < columns { 0.0 } else { 1.0 })?;
    if let Some(scaled) = scaled {
        let largest = scaled.iter().fold(0.0_f64, |most, slope| most.max(slope.abs()));
        if largest > 0.0 && !face.is_a_point() {
            face.minimise(|at| if at < columns { scaled[at] / largest } else { 0.0 })?;
        }
    }
    Ok(model.amounts(&face.point[..columns]))
}

fn elastic(program: &mut Program, mut terms: Vec<(usize, f64)>, relation: Relation, right: f64) {
    if relation != Relation::AtLeast {
        terms.push((program.variable(0.0, f64::INFINITY), -1.0));
    }
    if relation != Relation::AtMost {
        terms.push((program.variable(0.0, f64::INFINITY), 1.0));
    }
    program.row(terms, relation, right);
}

/// Total relative violation of the straight limits at `x`, by our own arithmetic.
fn violation(model: &Model, limits: &[Limit], x: &[f64]) -> f64 {
    let of = |row: &super::model::LimitRow| {
        let left: f64 = row.terms.iter().map(|(at, a)| a * x[model.columns[*at]] / model.unit[*at]).sum();
        match row.relation {
            Relation::AtMost => (left - row.right).max(0.0),
            Relation::AtLeast => (row.right - left).max(0.0),
            Relation::Equal => (left - row.right).abs(),
        }
    };
    model.limit_rows(&[]).iter().filter(|row| limits.contains(&row.limit)).map(of).sum()
}

/// Every limit of the problem, in the order of the formula.
fn all_limits(model: &Model) -> Vec<Limit> {
    let mut limits: Vec<Limit> = model.limit_rows(&[]).iter().map(|row| row.limit).collect();
    let on_hand = model.columns.iter().filter(|&&column| model.problem.columns[column].most_g_per_l.is_some());
    limits.extend(on_hand.map(|&column| Limit::OnHand(column)));
    if let Some(ec) = &model.problem.ec {
        limits.extend(ec.min_ms_per_cm.map(|_| Limit::EcAtLeast));
        limits.extend(ec.max_ms_per_cm.map(|_| Limit::EcAtMost));
    }
    limits
}

/// True when every limit can hold at once.
///
/// # Errors
/// [`FitError::Solver`] when the solver fails.
///
/// Reference: `docs/fit.md`.
pub fn can_be_met(problem: &Problem) -> Result<bool, FitError> {
    let model = Model::new(problem);
    Ok(least_violation(&model, &all_limits(&model))?.0 <= NONE)
}

/// How far one limit of a nutrient, or of the ammonium share, would have to give way for all the others to hold: its least
/// excess relative to the target of its nutrient, else to the limit itself (to 1 ppm where that is 0). `None` where that
/// does not suffice.
///
/// # Errors
/// [`FitError::Solver`] when the solver fails.
///
/// Reference: `docs/fit.md`.
pub fn how_far(problem: &Problem, limit: Limit) -> Result<Option<f64>, FitError> {
    let model = Model::new(problem);
    let others: Vec<Limit> = all_limits(&model).into_iter().filter(|other| *other != limit).collect();
    if least_violation(&model, &others)?.0 > NONE {
        return Ok(None);
    }
    // the others hold at any price: their excess costs far more than that of the one
    let mut program = model.frame(|column| others.contains(&Limit::OnHand(column)));
    let mut weights = vec![0.0; model.columns.len()];
    for row in model.limit_rows(&[]) {
        let before = program.cost.len();
        elastic(&mut program, row.terms, row.relation, row.right);
        let weight = if row.limit == limit { 1.0 } else { DEAR };
        weights.resize(before, 0.0);
        weights.resize(program.cost.len(), weight);
    }
    let mut face = Face::new(program);
    face.minimise(|at| weights[at])?;
    let x = model.amounts(&face.point[..model.columns.len()]);
    let excess = violation(&model, &[limit], &x);
    Ok((violation(&model, &others, &x) <= 1e-6).then_some(excess))
}

/// Amounts in g/L at which every limit holds, or a set of limits that cannot all hold.
///
/// The set is minimal: found by a deletion filter, a limit without which the rest still contradicts is dropped for good. It need
/// not be the smallest there is.
pub(super) fn feasible_point(model: &Model) -> Result<Result<Vec<f64>, Conflict>, FitError> {
    let mut limits = all_limits(model);
    let (least, x) = least_violation(model, &limits)?;
    if least <= NONE {
        return Ok(Ok(x));
    }
    // what is on hand goes first, so that a conflict that does not need it does not name it
    let mut order = limits.clone();
    order.sort_by_key(|limit| !matches!(limit, Limit::OnHand(_)));
    for limit in order {
        let without: Vec<Limit> = limits.iter().copied().filter(|other| *other != limit).collect();
        if least_violation(model, &without)?.0 > NONE {
            limits = without;
        }
    }
    Ok(Err(Conflict { limits }))
}
