//! The acid of the bench or what must not meet it: which of them a mix does without.

use super::acid::{Shared, shared_out, tank_open, undosed};
use super::question::{Prefer, Question, acid_part, kept_from_urea, must_not_meet_acid};
use super::souring::NEAR;
use crate::bench::{Bench, Formula};
use crate::fit::{self, Solution};
use crate::jobs::error::JobError;
use crate::matter::Nutrients;
use crate::safety::{self, Finding};
use crate::tank::Tank;
use crate::tank::parts::Parts;

/// The question that a formula is to the shelf, the bottles and the acid of a bench.
///
/// A salt that must not meet the acid takes no part, unless no acid goes in: since the mix with it is at or under the wish, or
/// since nothing here measures the acid. Then the acid takes none.
pub(crate) fn question<'a>(tank: Tank<'a>, formula: &'a Formula, prefer: Option<Prefer>) -> Result<Question<'a>, JobError> {
    let sour = Question::new(tank.clone(), formula, prefer)?;
    if sour.kept_out.is_empty() {
        return Ok(sour);
    }
    let plain = Question::without_acid(tank, formula, prefer)?;
    Ok(if is_sour_enough(&plain)? || !goes_in(&sour)? { plain } else { sour })
}

/// True where the mix without acid is at or under the wish of the bench.
fn is_sour_enough(question: &Question) -> Result<bool, JobError> {
    let (Some(acid), false) = (&question.bench().acid, tank_open(question)) else { return Ok(false) };
    let Ok(solution) = fit::solve(&question.problem(&question.mixture)) else { return Ok(false) };
    let is_known = question.mixture.alkalinity_known(&solution.g_per_l);
    Ok(is_known && question.mixture.ph(&solution.g_per_l, acid.basis)? <= acid.target_ph + NEAR)
}

/// True where some acid is measured into the mix.
fn goes_in(question: &Question) -> Result<bool, JobError> {
    let Some(acid) = question.bench().acid.as_ref().filter(|_| !tank_open(question)) else { return Ok(false) };
    let mut problem = question.problem(&question.mixture);
    let Ok(Shared { soured, acids, .. }) = shared_out(question, &mut problem, acid, None, fit::solve)? else {
        return Ok(true);
    };
    let per_l = &soured.solution.g_per_l;
    Ok(acids.iter().any(|&at| per_l[at] > 0.0 && undosed(question, at, per_l).is_none()))
}

/// What is told of acids that stay out of a tank for the urea that it holds.
pub(crate) fn of_urea(bench: &Bench, ppm: &Nutrients) -> Option<Finding> {
    let acids = kept_from_urea(bench, ppm);
    let urea = ["the urea that the tank holds".to_owned()];
    if acids.is_empty() { None } else { safety::acid_kept_from(&acids, &urea, None) }
}

/// What is told of acids that stay out for what they must not meet.
pub(crate) fn of_acid(question: &Question, solution: &Solution) -> Result<Option<Finding>, JobError> {
    let bench = question.bench();
    let Some(acid) = bench.acid.as_ref().filter(|_| question.is_without_acid) else { return Ok(None) };
    let parts = &question.parts;
    let meets = |at: &usize| parts.salt(*at).is_some_and(|salt| must_not_meet_acid(bench, salt));
    let salts = (0..parts.list.len()).filter(|&at| solution.g_per_l[at] > 0.0).filter(meets);
    let salts: Vec<String> = salts.map(|at| parts.name(at).to_owned()).collect();
    let acids = Parts::new(bench, acid.salts.iter().filter_map(|id| acid_part(bench, id)).collect());
    let names: Vec<String> = (0..acids.list.len()).map(|at| acids.name(at).to_owned()).collect();
    if tank_open(question) || !question.mixture.alkalinity_known(&solution.g_per_l) {
        return Ok(safety::acid_kept_from(&names, &salts, None));
    }
    let ph = question.mixture.ph(&solution.g_per_l, acid.basis)?;
    Ok(safety::acid_kept_from(&names, &salts, Some((acid.target_ph, ph))))
}
