//! A wish for a pH in the fit: the acid that meets it, its nutrients counted.

use serde::Serialize;

use crate::bench::{Acid, Basis};
use crate::fit::{self, FitError, PhRow, Problem, Solution};
use crate::jobs::engine::bottles;
use crate::jobs::engine::question::Question;
use crate::jobs::engine::sweep::sweep;
use crate::jobs::error::JobError;
use crate::tank::chemistry::{Mixture, air};

/// The pH of the full speciation is brought this near to the wish.
pub(crate) const NEAR: f64 = 0.01;
/// A misfit that a renewed row could move by no more than this has settled, own choice.
const SETTLED: f64 = 1e-4;
/// A misfit that is less by this is worth acid that another blend of waters does without, own choice.
const CLOSER: f64 = 1e-3;
/// A misfit that rises by more than this while the acid is held down is other salts at work in its place.
const STOOD_IN_MISFIT: f64 = 1.0;
/// Rounds of renewed mean charges.
const ROUNDS: usize = 10;

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

/// A fit with its wish for a pH.
pub(crate) struct Soured {
    /// The amounts.
    pub(crate) solution: Solution,
    /// False when the mix is at or under the wish without acid.
    pub(crate) needs_acid: bool,
    /// False when limits, or what is on hand, keep the acid from meeting the wish.
    pub(crate) met: bool,
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

/// How a problem is fitted on the way to an answer: with all wishes, or for the misfit alone.
pub(crate) type Fit = fn(&Problem) -> Result<Solution, FitError>;

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
        let acids = question.acids.iter().copied().filter(|&at| !frozen.columns[at].is_forbidden()).collect();
        frozen.ph = Some(row_at(&question.mixture, acid, acid.basis, acids, &solution.g_per_l)?);
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
        let soured = soured(&mut choice, &question.mixture, acid, acid.basis, &acids, None, fit::solve)?;
        if let Ok(Soured { solution, needs_acid: true, met: true }) = soured
            && question.mixture.alkalinity_known(&solution.g_per_l)
        {
            choice.ph = Some(row_at(&question.mixture, acid, acid.basis, acids, &solution.g_per_l)?);
            found.push(choice);
        }
    }
    Ok(found)
}

/// Those of several acids whose bits are set.
fn picked_of(acids: &[usize], picked: u32) -> Vec<usize> {
    acids.iter().enumerate().filter(|(at, _)| picked >> at & 1 == 1).map(|(_, &at)| at).collect()
}

/// The row of the pH with mean charges frozen at amounts `x`.
fn row_at(mixture: &Mixture, acid: &Acid, basis: Basis, acids: Vec<usize>, x: &[f64]) -> Result<PhRow, JobError> {
    let (meq_per_g, meq_per_l) = mixture.proton_row(x, acid.target_ph, air(basis))?;
    Ok(PhRow { meq_per_g, meq_per_l, acids })
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
    let first = match soured(problem, &question.mixture, acid, acid.basis, all, start, fit)? {
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
        let Ok(found) = soured(problem, &question.mixture, acid, acid.basis, &acids, start, fit)? else { continue };
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

/// Fits with the doses of the acids in columns `acids`, shared out as the wishes of the fit have it, that bring the pH down
/// to the wish, or without when it is not above it.
///
/// The proton condition is linear for frozen mean charges: they are frozen at the last mix, the fit is solved, the
/// charges renewed, until the pH of the full speciation is within 0.01 of the wish and what the row is still off by could not move
/// the misfit by more than 1e-4 at the price of the pH. The wish is one-sided and never makes a request impossible. Of several waters the blend that needs no acid stays unless one with acid comes closer. `start` as of [`answered`].
pub(crate) fn soured(
    problem: &mut Problem,
    mixture: &Mixture,
    acid: &Acid,
    basis: Basis,
    acids: &[usize],
    start: Option<&[f64]>,
    fit: Fit,
) -> Result<Result<Soured, FitError>, JobError> {
    let mosts: Vec<Option<f64>> = acids.iter().map(|&at| problem.columns[at].most_g_per_l).collect();
    for &at in acids {
        problem.columns[at].forbid();
    }
    problem.ph = None;
    let near = problem.near.clone();
    let without = fit(problem);
    acids.iter().zip(&mosts).for_each(|(&at, &most)| problem.columns[at].most_g_per_l = most);
    // all that there is of every acid
    let most: Option<f64> = mosts.iter().copied().sum();
    let all = |x: &[f64]| acids.iter().map(|&at| x[at]).sum::<f64>();
    let water = || vec![0.0; problem.columns.len()];
    let mut sour_enough = None;
    let from = match &without {
        Ok(without) if mixture.ph(&without.g_per_l, basis)? <= acid.target_ph + NEAR => {
            // of several waters more of a hard one, and acid for it, may come closer
            if problem.waters.is_empty() || without.misfit <= CLOSER {
                return Ok(Ok(Soured { solution: without.clone(), needs_acid: false, met: true }));
            }
            sour_enough = Some(without.misfit);
            without.g_per_l.clone()
        }
        Ok(without) => without.g_per_l.clone(),
        // what the acid brings may be what the limits want
        Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => water(),
        Err(error) => return Ok(Err(error.clone())),
    };
    let mut last = start.map_or(from, <[f64]>::to_vec);
    let mut best: Option<(f64, Solution)> = None;
    let row_at = |x: &[f64]| row_at(mixture, acid, basis, acids.to_vec(), x);
    let first_row = row_at(&last)?;
    let mut row = first_row.clone();
    for _ in 0..ROUNDS {
        problem.ph = Some(row);
        let mut answer = fit(problem);
        // all the acid there is, and still short: no other salt stands in for it
        let short = |most: &f64| answer.as_ref().map_or(true, |solution| all(&solution.g_per_l) >= most * (1.0 - 1e-9));
        if let Some(most) = most.filter(short) {
            let mut meq_per_g = vec![0.0; problem.columns.len()];
            for &at in acids {
                meq_per_g[at] = -1.0;
            }
            problem.ph = Some(PhRow { meq_per_g, meq_per_l: -most, acids: acids.to_vec() });
            answer = fit(problem);
        }
        let Ok(solution) = answer else { break };
        last.clone_from(&solution.g_per_l);
        // renewed charges move the mix by little
        problem.near = Some(last.clone());
        let off = (mixture.ph(&last, basis)? - acid.target_ph).abs();
        let (misfit, price) = (solution.misfit, solution.shadow_prices.of_ph());
        // of rounds that do not come to rest none that buys a little pH with other targets
        let nearer = |(least, one): &(f64, Solution)| match (off <= NEAR, *least <= NEAR) {
            (true, false) => true,
            (false, true) => false,
            _ => misfit < one.misfit - STOOD_IN_MISFIT || off < *least && misfit <= one.misfit + STOOD_IN_MISFIT,
        };
        if best.as_ref().is_none_or(nearer) {
            best = Some((off, solution));
        }
        if off <= NEAR && misfit <= SETTLED {
            break;
        }
        row = row_at(&last)?;
        if off <= NEAR && price * row.off(&last) <= SETTLED {
            break;
        }
    }
    problem.ph = None;
    problem.near = near;
    // the mix as it is without, at the drain that the answer takes, with all the acid that it would want
    let acid_alone = |row: &PhRow, without: &Solution, solution: &Solution| {
        let mut x = without.g_per_l.clone();
        problem.sparing.iter().for_each(|&spared| x[spared] = solution.g_per_l[spared]);
        let there: f64 = row.meq_per_g.iter().zip(&x).map(|(meq, amount)| meq * amount).sum();
        // in the shares of the answer
        let whole = all(&solution.g_per_l);
        let share = |at: usize| if whole > 0.0 { solution.g_per_l[at] / whole } else { f64::from(u8::from(at == acids[0])) };
        let meq_per_g: f64 = acids.iter().map(|&at| row.meq_per_g[at] * share(at)).sum();
        for &at in acids {
            x[at] = (row.meq_per_l - there) / meq_per_g * share(at);
        }
        x
    };
    // a limit that binds the acid could make the fit sour the tank with pounds of some other salt: never. Where a target
    // does, which salt gives way is for the fit to choose
    let stood_in = |without: &Solution, solution: &Solution| {
        let x = acid_alone(&first_row, without, solution);
        let bound = || {
            problem.broken_limits(&x, &problem.achieved_ppm(&x), 1e-6).len()
                > problem.broken_limits(&without.g_per_l, &problem.achieved_ppm(&without.g_per_l), 1e-6).len()
        };
        all(&solution.g_per_l) < 0.97 * all(&x) && solution.misfit > without.misfit + STOOD_IN_MISFIT && bound()
    };
    let closer =
        |(off, mix): &(f64, Solution)| *off <= NEAR && sour_enough.is_none_or(|misfit| mix.misfit < misfit - CLOSER);
    Ok(match (best, without) {
        (best, Ok(without)) if sour_enough.is_some() && !best.as_ref().is_some_and(closer) => {
            Ok(Soured { solution: without, needs_acid: false, met: true })
        }
        (Some((_, solution)), Ok(without)) if stood_in(&without, &solution) => {
            Ok(Soured { solution: without, needs_acid: true, met: false })
        }
        (Some((off, mut solution)), _) => {
            // the moving pH row leaves crumbs at its corner
            sweep(problem, &mut solution, acids);
            Ok(Soured { met: off <= 2.0 * NEAR, solution, needs_acid: true })
        }
        (None, without) => without.map(|solution| Soured { solution, needs_acid: true, met: false }),
    })
}
