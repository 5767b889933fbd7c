//! Limits that contradict each other: the smallest set that does.

use super::face::Face;
use super::linear::{Program, Relation};
use super::model::{Model, Tangent};
use super::problem::{Limit, Problem};
use super::solve::{EC_TOLERANCE, FitError, NO_EC, tangent};

/// A violation below this is rounding.
const NONE: f64 = 1e-8;
/// EC may be off by this at a point where all limits hold; half of what an answer may, so that one can be reached from it.
const EC_HOLDS: f64 = EC_TOLERANCE / 2.0;
/// What an excess over another limit costs against that of the one in question.
const DEAR: f64 = 1e3;
/// Rounds of EC tangents.
const ROUNDS: usize = 20;

/// Limits that cannot all hold; without any one of them the others can.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conflict {
    /// The set, in the order of the formula.
    pub limits: Vec<Limit>,
}

/// The least total relative violation of `limits`, and the scaled amounts that reach it.
fn least_violation(model: &Model, limits: &[Limit]) -> Result<(f64, Vec<f64>), FitError> {
    let wants_ec = |limit| limits.contains(&limit);
    let mut tangents: Vec<Tangent> = Vec::new();
    let mut best: Option<(f64, Vec<f64>)> = None;
    for _ in 0..ROUNDS {
        let mut program = model.frame(|column| limits.contains(&Limit::OnHand(column)));
        for row in model.limit_rows(&tangents).into_iter().filter(|row| limits.contains(&row.limit)) {
            elastic(&mut program, row.terms, row.relation, row.right);
        }
        let mut face = Face::new(program);
        face.minimise(|at| if at < model.columns.len() { 0.0 } else { 1.0 })?;
        let scaled = face.point[..model.columns.len()].to_vec();
        let x = model.amounts(&scaled);
        let (violation, ec_off) = violation(model, limits, &x);
        let better = best.as_ref().is_none_or(|(least, _)| violation < least - 1e-9);
        if better {
            best = Some((violation, scaled));
        }
        if ec_off <= EC_HOLDS || (!better && !tangents.is_empty()) {
            break;
        }
        tangents = [Limit::EcAtLeast, Limit::EcAtMost]
            .into_iter()
            .filter(|limit| wants_ec(*limit))
            .filter_map(|limit| tangent(model.problem, limit, &x))
            .collect();
    }
    best.ok_or_else(|| FitError::Solver("no violation was found".to_owned()))
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

/// Total relative violation at `x`, and EC's part of it, by our own arithmetic.
fn violation(model: &Model, limits: &[Limit], x: &[f64]) -> (f64, f64) {
    let mut total = 0.0;
    for row in model.limit_rows(&[]).iter().filter(|row| limits.contains(&row.limit)) {
        let left: f64 = row.terms.iter().map(|(at, a)| a * x[model.columns[*at]] / model.unit[*at]).sum();
        total += match row.relation {
            Relation::AtMost => (left - row.right).max(0.0),
            Relation::AtLeast => (row.right - left).max(0.0),
            Relation::Equal => (left - row.right).abs(),
        };
    }
    let mut ec_off = 0.0;
    if let Some(ec) = &model.problem.ec {
        let value = (ec.ec_ms_per_cm)(x);
        if !value.is_finite() {
            ec_off += NO_EC;
        }
        if let Some(max) = ec.max_ms_per_cm.filter(|_| limits.contains(&Limit::EcAtMost)) {
            ec_off += ((value - max) / max.max(1e-9)).max(0.0);
        }
        if let Some(min) = ec.min_ms_per_cm.filter(|_| limits.contains(&Limit::EcAtLeast)) {
            ec_off += ((min - value) / min.max(1e-9)).max(0.0);
        }
    }
    let beyond = if ec_off > EC_HOLDS { ec_off } else { 0.0 };
    (total + beyond, ec_off)
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
    let excess = violation(&model, &[limit], &x).0;
    Ok((violation(&model, &others, &x).0 <= 1e-6).then_some(excess))
}

/// Amounts in g/L at which every limit holds, or the smallest set of limits that cannot.
///
/// The set is found by a deletion filter: a limit without which the rest still contradicts is dropped for good.
pub(super) fn feasible_point(model: &Model) -> Result<Result<Vec<f64>, Conflict>, FitError> {
    let mut limits = all_limits(model);
    let (least, scaled) = least_violation(model, &limits)?;
    if least <= NONE {
        return Ok(Ok(model.amounts(&scaled)));
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
