//! A wish for a pH in the fit: the acid that meets it, its nutrients counted.

use serde::Serialize;

use crate::bench::{Acid, Basis};
use crate::fit::{self, FitError, Problem};
use crate::jobs::engine::bottles;
use crate::jobs::engine::question::Question;
use crate::jobs::engine::souring::{Fit, NEAR, Soured, Souring, soured};
use crate::jobs::error::JobError;

/// The acid of a mix.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct AcidRecord {
    /// Its id.
    pub salt: String,
    /// The wished pH.
    pub target_ph: f64,
    /// `fresh` or `aired`: when the wish should hold. The doses of the mix are those of this basis.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub basis: Basis,
    /// Dose that meets the wish right after mixing, g; null when no dose does.
    pub grams_fresh: Option<f64>,
    /// Dose that meets it after days in air, g; null when no dose does.
    pub grams_aired: Option<f64>,
    /// The fresh dose in mL, for liquids.
    pub millilitres_fresh: Option<f64>,
    /// The aired dose in mL, for liquids.
    pub millilitres_aired: Option<f64>,
    /// What of it beside the other acids would come closer, though nothing here measures so little, g, or mL of a bottle; else null.
    pub too_little: Option<f64>,
}

impl AcidRecord {
    /// Its doses right after mixing and after days in air: g, or mL of a bottle.
    pub(crate) fn doses(&self) -> (Option<f64>, Option<f64>) {
        (self.grams_fresh.or(self.millilitres_fresh), self.grams_aired.or(self.millilitres_aired))
    }

    /// The one of the mix.
    pub(crate) fn dose(&self) -> Option<f64> {
        let (fresh, aired) = self.doses();
        if self.basis == Basis::Fresh { fresh } else { aired }
    }
}

/// Why an acid that is named is not dosed after all.
pub(crate) enum Undosed {
    /// Products leave the alkalinity open, so a dose would be blind.
    Blind,
    /// A strong acid of which no instrument here measures so little, g.
    TooLittle(f64),
}

/// True where only an analysis by element tells what the tank holds.
pub(crate) fn tank_open(question: &Question) -> bool {
    !question.tank.before.alkalinity_known
}

/// Why the acid in column `at`, the only one that is left, is not dosed after all, if it is not.
pub(crate) fn undosed(question: &Question, at: usize, g_per_l: &[f64]) -> Option<Undosed> {
    if !question.mixture.alkalinity_known(g_per_l) {
        return Some(Undosed::Blind);
    }
    let dose = g_per_l[at] * question.litres();
    let too_little = question.parts.too_small(at, dose) && bottles::is_strong(&question.parts, at);
    too_little.then_some(Undosed::TooLittle(dose))
}

/// The exact answer to a problem, with the acid where one is named and can be reckoned; for searches, which care for the misfit
/// and, where something is spared, for that.
///
/// * `start`: amounts whose mean charges are taken first; without it those of the answer without acid
pub(crate) fn answered(
    question: &Question,
    problem: &mut Problem,
    start: Option<&[f64]>,
    fit: Fit,
) -> Result<Result<Soured, FitError>, JobError> {
    let plain =
        |problem: &Problem| fit::solve_misfit(problem).map(|solution| Soured { solution, needs_acid: false, met: true });
    let Some(acid) = question.bench().acid.as_ref().filter(|_| !question.acids.is_empty()) else {
        return Ok(plain(problem));
    };
    if !tank_open(question) {
        match shared_out(question, problem, acid, start, fit)? {
            Ok(Shared { soured, acids, .. })
                if acids.iter().any(|&at| undosed(question, at, &soured.solution.g_per_l).is_some()) => {}
            other => return Ok(other.map(|shared| shared.soured)),
        }
    }
    for &at in &question.acids {
        problem.columns[at].forbid();
    }
    Ok(plain(problem))
}

/// The problem as a search sees it: with the row of the mix that meets the wish, its mean charges frozen, or without the acids
/// where none goes in. Left free of the wish they would be cheap nutrients.
pub(crate) fn frozen<'p>(question: &Question, problem: &Problem<'p>) -> Result<Problem<'p>, JobError> {
    let mut frozen = problem.clone();
    let Some(acid) = question.bench().acid.as_ref().filter(|_| !question.acids.is_empty()) else { return Ok(frozen) };
    if let Ok(Soured { solution, needs_acid: true, met: true }) = answered(question, &mut frozen, None, fit::solve)? {
        let acids: Vec<usize> = question.acids.iter().copied().filter(|&at| !frozen.columns[at].is_forbidden()).collect();
        frozen.ph = Some(souring(question, acid, &acids).row_at(&solution.g_per_l)?);
        return Ok(frozen);
    }
    for &at in &question.acids {
        frozen.columns[at].forbid();
    }
    Ok(frozen)
}

/// As [`frozen`], once for every choice among several acids that could meet the wish, whether or not what goes in of each can be
/// measured: fewer salts take other doses of them.
pub(crate) fn frozen_by_choice<'p>(question: &Question, problem: &Problem<'p>) -> Result<Vec<Problem<'p>>, JobError> {
    let mut found = vec![frozen(question, problem)?];
    let several = question.bench().acid.as_ref().filter(|_| question.acids.len() > 1 && !tank_open(question));
    let Some(acid) = several else { return Ok(found) };
    // most of them first: where they do there is no need of the others
    let mut choices: Vec<Vec<usize>> =
        (1..1_u32 << question.acids.len()).map(|picked| picked_of(&question.acids, picked)).collect();
    choices.sort_by_key(|choice| std::cmp::Reverse(choice.len()));
    for acids in choices {
        let mut choice = problem.clone();
        question.acids.iter().filter(|at| !acids.contains(at)).for_each(|&at| choice.columns[at].forbid());
        let souring = souring(question, acid, &acids);
        let soured = soured(&mut choice, &souring, None, fit::solve)?;
        if let Ok(Soured { solution, needs_acid: true, met: true }) = soured
            && question.mixture.alkalinity_known(&solution.g_per_l)
        {
            choice.ph = Some(souring.row_at(&solution.g_per_l)?);
            found.push(choice);
        }
    }
    Ok(found)
}

/// Those in columns `acids` bring the mix to the wish, on its basis.
fn souring<'q>(question: &'q Question, acid: &'q Acid, acids: &'q [usize]) -> Souring<'q> {
    Souring { mixture: &question.mixture, acid, basis: acid.basis, acids }
}

/// Those of several acids whose bits are set.
fn picked_of(acids: &[usize], picked: u32) -> Vec<usize> {
    acids.iter().enumerate().filter(|(at, _)| picked >> at & 1 == 1).map(|(_, &at)| at).collect()
}

/// The acids shared out.
pub(crate) struct Shared {
    pub(crate) soured: Soured,
    /// Those that take part.
    pub(crate) acids: Vec<usize>,
    /// Those of which too little to measure would come closer: how much, in the unit of the part, and the misfit with it.
    pub(crate) lost: Vec<(usize, f64, f64)>,
}

/// Shares the acids out.
///
/// Where a dose of one is more than nothing here measures, fewer share it out: those that meet the wish, and of these the
/// closest, whatever their order in the file. One that stays by itself is judged by [`undosed`].
pub(crate) fn shared_out(
    question: &Question,
    problem: &mut Problem,
    acid: &Acid,
    start: Option<&[f64]>,
    fit: Fit,
) -> Result<Result<Shared, FitError>, JobError> {
    let all = &question.acids;
    let most: Vec<Option<f64>> = all.iter().map(|&at| problem.columns[at].most_g_per_l).collect();
    let dose = |soured: &Soured, at: usize| soured.solution.g_per_l[at] * question.litres();
    let too_little = |soured: &Soured, at: usize| question.parts.too_small(at, dose(soured, at));
    let first = match soured(problem, &souring(question, acid, all), start, fit)? {
        Ok(first) => first,
        Err(error) => return Ok(Err(error)),
    };
    if all.len() == 1 || !all.iter().any(|&at| too_little(&first, at)) {
        return Ok(Ok(Shared { soured: first, acids: all.clone(), lost: Vec::new() }));
    }
    let allow = |problem: &mut Problem, acids: &[usize]| {
        for (&at, &most) in all.iter().zip(&most) {
            problem.columns[at].most_g_per_l = most;
            if !acids.contains(&at) {
                problem.columns[at].forbid();
            }
        }
    };
    let mut best: Option<(Soured, Vec<usize>)> = None;
    for picked in 1..(1_u32 << all.len()) - 1 {
        let acids = picked_of(all, picked);
        allow(problem, &acids);
        let Ok(found) = soured(problem, &souring(question, acid, &acids), start, fit)? else { continue };
        let measured = |soured: &Soured, acids: &[usize]| !acids.iter().any(|&at| too_little(soured, at));
        if acids.len() > 1 && !measured(&found, &acids) {
            continue;
        }
        let rank = |soured: &Soured, acids: &[usize]| (measured(soured, acids), soured.met);
        let better = best.as_ref().is_none_or(|(best, of)| {
            let (one, other) = (rank(&found, &acids), rank(best, of));
            one > other || one == other && found.solution.misfit < best.solution.misfit - NEAR * NEAR
        });
        if better {
            best = Some((found, acids));
        }
    }
    let Some((soured, acids)) = best else {
        allow(problem, all);
        return Ok(Ok(Shared { soured: first, acids: all.clone(), lost: Vec::new() }));
    };
    allow(problem, &acids);
    let lost = all.iter().copied().filter(|&at| too_little(&first, at));
    let lost = lost.map(|at| (at, dose(&first, at), first.solution.misfit)).collect();
    Ok(Ok(Shared { soured, acids, lost }))
}
