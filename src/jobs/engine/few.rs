//! Fewer bags: the salts that a mix may use.

use crate::fit::{self, EcLimits, Few, FitError, Problem, Solution};
use crate::jobs::engine::question::MixOptions;
use crate::jobs::engine::question::{Prefer, Question};
use crate::jobs::engine::tangent::EcTangent;
use crate::safety::{self, Finding};
use crate::tank::parts::Part;

/// A mix with fewer salts comes as close when its misfit is within this of the best.
const AS_CLOSE: f64 = 0.01;

/// Forbids the salts that the wish for few leaves out.
pub(crate) fn keep_few(question: &Question, problem: &mut Problem, options: &MixOptions) -> Result<Vec<Finding>, FitError> {
    if options.salts_at_most.is_none() && options.prefer != Some(Prefer::Few) {
        return Ok(Vec::new());
    }
    let all = fit::solve(problem)?;
    // a search fits hundreds of times: EC goes by its tangent, and the choice is held against the chemistry
    let tangent = EcTangent::new(&question.mixture, question.formula, &all.g_per_l);
    let ec = problem.ec.map(|ec| EcLimits { conducts: &tangent, ..ec });
    let mut quick = Problem { ec, ..problem.clone() };
    let kept = match chosen(question, &mut quick, options, &all).and_then(|kept| confirmed(problem, kept)) {
        Err(FitError::Conflict(_) | FitError::NothingToMixFrom) if problem.ec.is_some() => {
            chosen(question, problem, options, &all)?
        }
        kept => kept?,
    };
    let Some(few) = kept else { return Ok(Vec::new()) };
    for &at in &few.left_out {
        problem.columns[at].forbid();
    }
    let told = options.salts_at_most.map(|most| safety::fewer_salts(most, few.misfit, all.misfit, few.proved));
    Ok(told.into_iter().collect())
}

/// The few salts that a wish leaves; `None` where the best mix has no more than that.
fn chosen(
    question: &Question,
    problem: &mut Problem,
    options: &MixOptions,
    all: &Solution,
) -> Result<Option<Few>, FitError> {
    let counted: Vec<usize> = (0..question.parts.list.len())
        .filter(|&at| matches!(question.parts.list[at], Part::Salt(_)) && !question.acids.contains(&at))
        .collect();
    let mut kept = match options.salts_at_most {
        Some(most) => Some(fit::fewest(problem, &counted, most)?),
        None => None,
    };
    if options.prefer == Some(Prefer::Few) {
        let best = match &kept {
            Some(few) => fit::without(problem, &few.left_out, |problem| fit::solve(problem))?,
            None => all.clone(),
        };
        let mut most = counted.iter().filter(|&&at| best.g_per_l[at] > 0.0).count();
        while most > 1 {
            let few = match fit::fewest(problem, &counted, most - 1) {
                Ok(few) if few.misfit <= best.misfit + AS_CLOSE => few,
                // farther off, or too few for the limits
                Ok(_) | Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => break,
                Err(error) => return Err(error),
            };
            kept = Some(few);
            most -= 1;
        }
    }
    Ok(kept)
}

/// A choice under a limit of EC, its misfit by the chemistry.
fn confirmed(problem: &mut Problem, kept: Option<Few>) -> Result<Option<Few>, FitError> {
    let Some(few) = kept else { return Ok(None) };
    if problem.ec.is_none() {
        return Ok(Some(few));
    }
    let misfit = fit::without(problem, &few.left_out, |problem| fit::solve_misfit(problem))?.misfit;
    Ok(Some(Few { misfit, proved: false, ..few }))
}
