//! Limits that contradict each other: an irreducible infeasible subset of them.

use super::answer::FitError;
use super::ec::{EC_TOLERANCE, between, beyond};
use super::face::Face;
use super::linear::{Program, Relation};
use super::model::{LOOSE, Model};
use super::problem::{Limit, Problem};
use super::strength::{strong_enough, weakest};

/// A violation up to this is rounding: limits that contradict by less are held with as much slack.
const NONE: f64 = LOOSE;
/// What an excess over another limit costs against that of the one in question.
const DEAR: f64 = 1e3;
/// Halvings between an EC that is too low and one that is too high.
const HALVINGS: usize = 40;

/// The least total relative violation of those of `limits` that are linear, and the amounts that reach it, by our own
/// arithmetic.
fn least_violation(model: &Model, limits: &[Limit]) -> Result<(f64, Vec<f64>), FitError> {
    let mut program = model.frame(|column| limits.contains(&Limit::OnHand(column)));
    for row in model.limit_rows(&[]).into_iter().filter(|row| limits.contains(&row.limit)) {
        elastic(&mut program, row.terms, row.relation, row.right);
    }
    let mut face = Face::new(program);
    face.minimise(|at| if at < model.columns.len() { 0.0 } else { 1.0 })?;
    let x = model.amounts(&face.point[..model.columns.len()]);
    Ok((violation(model, limits, &x), x))
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

/// Total relative violation of the linear ones of `limits` at `x`.
fn violation(model: &Model, limits: &[Limit], x: &[f64]) -> f64 {
    let rows = model.limit_rows(&[]);
    rows.iter().filter(|row| limits.contains(&row.limit)).map(|row| row.beyond(model, x)).sum()
}

/// How far the linear limits of a problem are off at the least, all of them together and relative; where they hold, and those of EC
/// do not, as far as a limit by its own size.
pub(super) fn least_off(problem: &Problem) -> Result<f64, FitError> {
    let model = Model::new(problem);
    if model.columns.is_empty() {
        return Ok(f64::INFINITY);
    }
    let least = least_violation(&model, &linear_limits(&model))?.0;
    Ok(if least > NONE { least } else { 1.0 })
}

/// Every limit of the problem but those of EC, in the order of the formula.
pub(super) fn linear_limits(model: &Model) -> Vec<Limit> {
    let mut limits: Vec<Limit> = model.limit_rows(&[]).iter().map(|row| row.limit).collect();
    let on_hand = model.columns.iter().filter(|&&column| model.problem.columns[column].most_g_per_l.is_some());
    limits.extend(on_hand.map(|&column| Limit::OnHand(column)));
    limits
}

/// Every limit of the problem, in the order of the formula.
pub(super) fn all_limits(model: &Model) -> Vec<Limit> {
    let mut limits = linear_limits(model);
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
    Ok(holding(&model, &all_limits(&model))?.is_some())
}

/// How far one limit of a nutrient, or of the ammonium share, would have to give way for all the others to hold: its least
/// excess relative to the target of its nutrient, else to the limit itself (to 1 ppm where that is 0). `None` where that
/// does not suffice. Limits of EC are left aside.
///
/// # Errors
/// [`FitError::Solver`] when the solver fails.
///
/// Reference: `docs/fit.md`.
pub fn how_far(problem: &Problem, limit: Limit) -> Result<Option<f64>, FitError> {
    let model = Model::new(problem);
    let others: Vec<Limit> = linear_limits(&model).into_iter().filter(|other| *other != limit).collect();
    if least_violation(&model, &others)?.0 > NONE {
        return Ok(None);
    }
    // the others hold whatever it costs: their excess costs far more than that of the one
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

/// Amounts in g/L at which `limits` hold, with as little EC as is found; `None` where they cannot. What is linear is decided to
/// [`LOOSE`], the lower limit of EC by tangents that are valid cuts where EC is concave, the upper one by search.
pub(super) fn holding(model: &Model, limits: &[Limit]) -> Result<Option<Vec<f64>>, FitError> {
    let problem = model.problem;
    let (least, point) = least_violation(model, limits)?;
    if least > NONE {
        return Ok(None);
    }
    let counts = |limit| limits.contains(&limit);
    if ![Limit::EcAtLeast, Limit::EcAtMost].into_iter().any(counts) {
        return Ok(Some(point));
    }
    let loose = model.loosened();
    let Some(weak) = weakest(&loose, limits)? else { return Ok(None) };
    if beyond(problem, &weak, counts) <= EC_TOLERANCE {
        return Ok(Some(weak));
    }
    if !counts(Limit::EcAtLeast) || beyond(problem, &weak, |limit| limit == Limit::EcAtMost && counts(limit)) > EC_TOLERANCE
    {
        return Ok(None);
    }
    let Some(strong) = strong_enough(&loose, limits, &weak)? else { return Ok(None) };
    // the linear limits hold all the way between, and EC has no jumps
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = between(&weak, &strong, high);
        if beyond(problem, &middle, counts) <= EC_TOLERANCE {
            return Ok(Some(middle));
        }
        let half = f64::midpoint(low, high);
        let too_weak = beyond(problem, &between(&weak, &strong, half), |limit| limit == Limit::EcAtLeast) > EC_TOLERANCE;
        if too_weak { low = half } else { high = half }
    }
    Ok(None)
}

/// An irreducible infeasible subset of `limits` that cannot all hold, by a deletion filter: a limit without which the rest
/// still contradicts is dropped for good. None of what is left can be spared, but a smaller subset may exist.
pub(super) fn contradiction(model: &Model, mut limits: Vec<Limit>) -> Result<Vec<Limit>, FitError> {
    // what is on hand goes first, so that a conflict that does not need it does not name it
    let mut order = limits.clone();
    order.sort_by_key(|limit| !matches!(limit, Limit::OnHand(_) | Limit::Water(_)));
    for limit in order {
        let without: Vec<Limit> = limits.iter().copied().filter(|other| *other != limit).collect();
        if holding(model, &without)?.is_none() {
            limits = without;
        }
    }
    Ok(limits)
}
