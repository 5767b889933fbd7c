//! Fewer bags: the salts that a mix may use.

use super::acid::{answered, frozen};
use super::refuse::job_error;
use crate::fit::{self, EcLimits, Few, FitError, Problem, Solution};
use crate::jobs::engine::question::MixOptions;
use crate::jobs::engine::question::{Prefer, Question};
use crate::jobs::engine::tangent::EcTangent;
use crate::jobs::error::JobError;
use crate::safety::{self, Finding};
use crate::tank::parts::Part;

/// A mix with fewer salts comes as close when its misfit is within this of the best.
const AS_CLOSE: f64 = 0.01;

/// Forbids the salts that the wish for few leaves out.
pub(crate) fn keep_few(question: &Question, problem: &mut Problem, options: &MixOptions) -> Result<Vec<Finding>, JobError> {
    if options.salts_at_most.is_none() && options.prefer != Some(Prefer::Few) {
        return Ok(Vec::new());
    }
    let mut quick = frozen(question, problem)?;
    let failed = |problem: &Problem, error| job_error(question, problem, error);
    let all = fit::solve(&quick).map_err(|error| failed(problem, error))?;
    // a search fits hundreds of times: EC goes by its tangent, and the choice is held against the chemistry
    let tangent = EcTangent::new(&question.mixture, question.formula, &all.g_per_l);
    quick.ec = problem.ec.map(|ec| EcLimits { conducts: &tangent, ..ec });
    let kept = match chosen(question, &mut quick, options, &all) {
        Ok(kept) => confirmed(question, problem, kept)?,
        Err(error) => Err(error),
    };
    let kept = match kept {
        Err(FitError::Conflict(_) | FitError::NothingToMixFrom) if problem.ec.is_some() || quick.ph.is_some() => {
            let mut plain = problem.clone();
            question.acids.iter().for_each(|&at| plain.columns[at].forbid());
            chosen(question, &mut plain, options, &all)
        }
        kept => kept,
    };
    let Some(few) = kept.map_err(|error| failed(problem, error))? else { return Ok(Vec::new()) };
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

/// A choice under a limit of EC or with an acid, its misfit by the chemistry.
fn confirmed(
    question: &Question,
    problem: &mut Problem,
    kept: Option<Few>,
) -> Result<Result<Option<Few>, FitError>, JobError> {
    let Some(few) = kept else { return Ok(Ok(None)) };
    if problem.ec.is_none() && question.acids.is_empty() {
        return Ok(Ok(Some(few)));
    }
    let answer = fit::without(problem, &few.left_out, |problem| answered(question, problem, None))?;
    Ok(answer.map(|soured| Some(Few { misfit: soured.solution.misfit, proved: false, ..few })))
}
