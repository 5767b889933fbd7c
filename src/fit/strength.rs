//! The weakest and the strongest mixes that keep other limits, by tangents to EC.

use super::answer::FitError;
use super::ec::{EC_TOLERANCE, beyond, tangent};
use super::face::Face;
use super::linear::{Failure, Program, Relation};
use super::model::{Model, Tangent};
use super::problem::Limit;

/// Tangents that the way to one of them may take.
const ROUNDS: usize = 14;
/// How far beyond a lower limit of EC amounts are looked for, in multiples of it.
const STRONG: f64 = 1.5;
/// Amounts at which the first slopes are taken, in units of the columns.
const THIN: f64 = 0.01;

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
            for slope in &mut slope {
                *slope = slope.max(0.0);
            }
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
