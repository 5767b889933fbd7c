//! Several waters shared out: columns of the program that weighs the salts.
//!
//! With waters 1 to n the columns are y_k, the litres that are filled in of any water behind the k-th: what goes in of one is
//! y_{k-1} - y_k, with y_0 all that is filled in and y_n nothing. To spare y_1, then y_2 and so on is to take as much as possible of
//! the first water, then of the second.

use std::borrow::Cow;
use std::cell::Cell;

use super::acid::answered;
use super::exact::exact_misfit;
use super::few::keep_few;
use super::question::{MixOptions, Prefer, Question, formula as formula_called};
use super::refuse::job_error;
use crate::bench::Bench;
use crate::fit::{self, Column, FitError, Problem, Proof, WaterRow};
use crate::jobs::error::JobError;
use crate::jobs::record::WaterRecord;
use crate::matter::Nutrients;
use crate::quantity::{buckets_text, liter_of};
use crate::tank::blend::{contents, with_blend};
use crate::tank::chemistry::Mixture;
use crate::tank::content::one_water;
use crate::tank::{Content, Tank, TankError};

/// A share under this is none: what the solver leaves open.
const NOTHING: f64 = 1e-9;
/// Shares that move less than this from round to round have settled.
const SETTLED: f64 = 1e-9;
/// Looks at a range of shares, and how often the range is narrowed to what lies around the closest.
const LOOKS: u32 = 6;
const NARROWINGS: u32 = 3;
/// Shares this near to each other are the same look.
const SEEN: f64 = 1e-6;
/// A misfit that is less by this is closer.
const NEARER: f64 = 1e-6;
/// Rounds of fitting the blend to the pure water of bottles, which takes the place of the blend itself.
const ROUNDS: usize = 12;

/// The waters of a bench, to be shared out.
pub(crate) struct Waters {
    pub(crate) contents: Vec<Content>,
    /// What there is of each, L; infinite without a bound.
    there_l: Vec<f64>,
    ids: Vec<String>,
}

/// What is filled in, L for each litre of tank: so much, and with it what is drained by a column.
#[derive(Clone, Copy)]
pub(crate) struct Filled {
    pub(crate) per_l: f64,
    pub(crate) drain: Option<usize>,
}

impl Waters {
    /// Those of a bench whose waters are still to be blended.
    pub(crate) fn of(bench: &Bench) -> Result<Option<Self>, JobError> {
        if bench.waters.is_empty() || !bench.blend.is_empty() {
            return Ok(None);
        }
        let there_l = bench.waters.iter().map(|source| source.on_hand.map_or(f64::INFINITY, liter_of));
        let ids = bench.waters.iter().map(|source| source.id.clone());
        Ok(Some(Self { contents: contents(bench)?, there_l: there_l.collect(), ids: ids.collect() }))
    }

    /// Refuses a filling for which there is too little of all waters together.
    pub(crate) fn suffice(&self, needed_l: f64) -> Result<(), JobError> {
        if self.there_l.iter().sum::<f64>() >= needed_l * (1.0 - NOTHING) {
            return Ok(());
        }
        let there_l = self.ids.iter().cloned().zip(self.there_l.iter().copied()).collect();
        Err(JobError::NotEnoughWater { needed_l, there_l })
    }

    /// Shares of so much filled in of the first water, then of the second, as far as each goes.
    pub(crate) fn first(&self, filled_l: f64) -> Vec<f64> {
        let mut left = filled_l;
        let mut shares: Vec<f64> = Vec::new();
        for there in &self.there_l {
            let taken = there.min(left);
            left -= taken;
            shares.push(if filled_l > 0.0 { taken / filled_l } else { 0.0 });
        }
        if filled_l <= 0.0 {
            shares[0] = 1.0;
        }
        shares
    }

    /// Adds what a litre of the next water brings in place of one of the water before it.
    pub(crate) fn exchange(&self, bench: &Bench, mixture: &mut Mixture) {
        for pair in self.contents.windows(2) {
            mixture.push(pair[0].exchanged(bench.catalogue.ions(), &pair[1]));
        }
    }

    /// The same as columns, as [`Waters::exchange`] adds them behind all others, and the bounds of what is filled in of each.
    ///
    /// * `litres`: of the whole tank
    /// * `most_per_l`: the most that is filled in, L for each litre of tank
    pub(crate) fn share_out(&self, problem: &mut Problem, mixture: &Mixture, filled: Filled, litres: f64, most_per_l: f64) {
        let first = problem.columns.len();
        let count = self.contents.len() - 1;
        for at in first..first + count {
            let ppm_per_g_per_l = mixture.ppm_per_g_per_l(at);
            problem.columns.push(Column { ppm_per_g_per_l, most_g_per_l: Some(most_per_l), cost_per_g: 0.0 });
            problem.sparing.push(at);
        }
        for water in 0..self.contents.len() {
            // what goes in of it: the column before less its own
            let mut terms: Vec<(usize, f64)> = Vec::new();
            let mut constant = 0.0;
            if water == 0 {
                constant = filled.per_l;
                terms.extend(filled.drain.map(|drain| (drain, 1.0)));
            } else {
                terms.push((first + water - 1, 1.0));
            }
            if water < count {
                terms.push((first + water, -1.0));
                let less: Vec<(usize, f64)> = terms.iter().map(|(column, a)| (*column, -a)).collect();
                problem.waters.push(WaterRow { terms: less, at_most: constant });
            }
            let there = self.there_l[water] / litres;
            if there < most_per_l {
                problem.waters.push(WaterRow { terms, at_most: there - constant });
            }
        }
    }

    /// Shares of the waters, summing to 1, in amounts of which those of [`Waters::share_out`] stand last.
    pub(crate) fn shares(&self, amounts: &[f64], filled_per_l: f64) -> Vec<f64> {
        let count = self.contents.len() - 1;
        let behind = &amounts[amounts.len() - count..];
        if filled_per_l <= NOTHING {
            return std::iter::once(1.0).chain(behind.iter().map(|_| 0.0)).collect();
        }
        let mut before = filled_per_l;
        let mut shares: Vec<f64> = Vec::new();
        for after in behind.iter().copied().chain([0.0]) {
            let after = after.min(before);
            shares.push(Some((before - after) / filled_per_l).filter(|share| *share > NOTHING).unwrap_or(0.0));
            before = after;
        }
        let all: f64 = shares.iter().sum();
        shares.iter().map(|share| share / all).collect()
    }
}

/// Shares that a limit of EC may have left short of the closest: EC bends, and the program ends in a corner of its tangents. What
/// goes in of each water is moved to the next, as far as there is enough, and what comes closest as one water is kept.
///
/// * `misfit`: of one water with these shares
pub(crate) fn moved_under_ec(
    waters: &Waters,
    mut shares: Vec<f64>,
    filled_l: f64,
    mut misfit: impl FnMut(&[f64]) -> Result<f64, JobError>,
) -> Result<Vec<f64>, JobError> {
    let most: Vec<f64> = waters.there_l.iter().map(|there| there / filled_l).collect();
    // the second time on the way that all others go, from the mix of the first
    misfit(&shares)?;
    let mut least = misfit(&shares)?;
    for at in 0..shares.len() - 1 {
        let (own, next) = (shares[at], shares[at + 1]);
        let with = |moved: f64| {
            let mut other = shares.clone();
            (other[at], other[at + 1]) = (own - moved, next + moved);
            other
        };
        let (mut low, mut high) = (-next.min(most[at] - own), own.min(most[at + 1] - next));
        let mut best = (least, 0.0);
        // ends and middle of what is narrowed to have been looked at before
        let mut seen: Vec<f64> = Vec::new();
        for _ in 0..NARROWINGS {
            let step = (high - low) / f64::from(LOOKS);
            for look in 0..=LOOKS {
                let moved = low + step * f64::from(look);
                if seen.iter().any(|before| (before - moved).abs() < SEEN) {
                    continue;
                }
                seen.push(moved);
                let found = misfit(&with(moved))?;
                if found < best.0 - NEARER {
                    best = (found, moved);
                }
            }
            (low, high) = ((best.1 - step).max(low), (best.1 + step).min(high));
        }
        (least, shares) = (best.0, with(best.1));
    }
    Ok(shares)
}

/// Fits shares again and again for the water that pure bottles displace, until they settle: the first guess is the first water.
pub(crate) fn settled(
    bench: &Bench,
    waters: &Waters,
    fit: impl Fn(&Bench) -> Result<Option<Vec<f64>>, JobError>,
) -> Result<Option<Bench>, JobError> {
    let mut shares: Vec<f64> = (0..waters.contents.len()).map(|at| if at == 0 { 1.0 } else { 0.0 }).collect();
    let mut blended = with_blend(bench, &shares)?;
    for _ in 0..ROUNDS {
        let Some(next) = fit(&blended)? else { return Ok(None) };
        let moved = next.iter().zip(&shares).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        shares = next;
        blended = with_blend(bench, &shares)?;
        let displaces = bench.helpers.iter().any(|helper| helper.made_with_pure_water);
        if moved < SETTLED || !displaces {
            break;
        }
    }
    Ok(Some(blended))
}

/// The bench with its waters blended for a fresh tank of a formula; as it is where it has one water, or a blend already.
///
/// The litres of each are columns of the fit: directly after the least misfit comes as much as possible of the water that stands
/// first. Everything after it sees one water, the blend.
///
/// # Errors
/// As [`crate::jobs::mix`]; [`JobError::NotEnoughWater`] where there is less than the tank takes.
///
/// Reference: `docs/waters.md`.
pub fn blended<'b>(bench: &'b Bench, formula: &str, options: &MixOptions) -> Result<Cow<'b, Bench>, JobError> {
    let Some(waters) = Waters::of(bench)? else { return Ok(Cow::Borrowed(bench)) };
    let litres = liter_of(bench.tank.volume);
    waters.suffice(litres)?;
    let bent = Cell::new(false);
    let shared = |guess: &Bench| {
        let tank = Tank { before: waters.contents[0].clone(), ..Tank::fresh(guess)? };
        let mut question = Question::new(tank, formula_called(guess, formula)?, options.prefer)?;
        waters.exchange(guess, &mut question.mixture);
        let mut problem = question.problem(&question.mixture);
        waters.share_out(&mut problem, &question.mixture, Filled { per_l: 1.0, drain: None }, litres, 1.0);
        keep_few(&question, &mut problem, options)?;
        match answered(&question, &mut problem, None, fit::solve)? {
            Ok(soured) => {
                bent.set(problem.ec.is_some() && soured.solution.proof == Proof::ClosestFound);
                Ok(Some(waters.shares(&soured.solution.g_per_l, 1.0)))
            }
            // the misfit alone does not say which limits contradict each other
            Err(FitError::Conflict(_)) => match fit::solve(&problem) {
                Ok(solution) => Ok(Some(waters.shares(&solution.g_per_l, 1.0))),
                Err(error) => Err(job_error(&question, &problem, error)),
            },
            Err(error) => Err(job_error(&question, &problem, error)),
        }
    };
    let Some(found) = settled(bench, &waters, shared)? else { return Ok(Cow::Borrowed(bench)) };
    if !bent.get() || options.salts_at_most.is_some() || options.prefer == Some(Prefer::Few) {
        return Ok(Cow::Owned(found));
    }
    let shares = found.blend.iter().map(|(_, share)| *share).collect();
    let mut near = None;
    let misfit = |shares: &[f64]| exact_misfit(&Tank::fresh(&with_blend(bench, shares)?)?, formula, &mut near);
    Ok(Cow::Owned(with_blend(bench, &moved_under_ec(&waters, shares, litres, misfit)?)?))
}

/// What a litre of the water brings that replaces what evaporates.
///
/// # Errors
/// As [`usual_blend`].
pub(crate) fn usual_water(bench: &Bench, formula: Option<&str>) -> Result<Nutrients, JobError> {
    let bench = usual_blend(bench, formula)?;
    Ok(one_water(&bench)?.nutrients)
}

/// The bench with the water that replaces what evaporates: of several waters the blend of a fresh tank of a formula, whatever is on
/// hand today.
///
/// # Errors
/// As [`blended`]; [`TankError::NotBlended`] for several waters without a formula.
pub(crate) fn usual_blend<'b>(bench: &'b Bench, formula: Option<&str>) -> Result<Cow<'b, Bench>, JobError> {
    let Some(formula) = formula.filter(|_| bench.blend.is_empty() && !bench.waters.is_empty()) else {
        one_water(bench)?;
        return Ok(Cow::Borrowed(bench));
    };
    let mut ever = bench.clone();
    ever.waters.iter_mut().for_each(|source| source.on_hand = None);
    Ok(Cow::Owned(blended(&ever, formula, &MixOptions::default())?.into_owned()))
}

/// The bench with the blend that a tank was filled with.
///
/// * `filled`: ids of its waters, and litres of each
///
/// # Errors
/// [`TankError::NoEquilibrium`]; [`TankError::NotBlended`] where the bench lacks one of them, or nothing was filled in.
pub fn filled_with(bench: &Bench, filled: &[(String, f64)]) -> Result<Bench, JobError> {
    let all: f64 = filled.iter().map(|(_, litres)| litres).sum();
    let share = |id: &str| filled.iter().filter(|(other, _)| other == id).map(|(_, litres)| litres / all).sum::<f64>();
    let shares: Vec<f64> = bench.waters.iter().map(|source| share(&source.id)).collect();
    // written so that no number, where nothing is filled in, is refused too
    if (shares.iter().sum::<f64>() - 1.0).abs() < NOTHING {
        return Ok(with_blend(bench, &shares)?);
    }
    Err(TankError::NotBlended { ids: bench.waters.iter().map(|source| source.id.clone()).collect() }.into())
}

/// The bench with the blend that a mix was filled with, where its waters are several.
pub(crate) fn as_filled<'b>(bench: &'b Bench, filled: &[WaterRecord]) -> Cow<'b, Bench> {
    let filled: Vec<(String, f64)> = filled.iter().map(|water| (water.id.clone(), water.litres)).collect();
    // the mix was reckoned in this very blend; where nothing was filled in, its water is of no account
    filled_with(bench, &filled).map_or(Cow::Borrowed(bench), Cow::Owned)
}

/// Litres of each water in so much of the blend of a bench.
pub(crate) fn litres_of(bench: &Bench, filled_l: f64) -> impl Iterator<Item = (&str, f64)> {
    bench.blend.iter().map(move |(id, share)| (id.as_str(), share * filled_l))
}

/// `40 L of rain, 20 L of tap`; nothing where the water is one, or nothing is filled in.
pub(crate) fn litres_words(bench: &Bench, filled_l: f64) -> Option<String> {
    buckets_text(litres_of(bench, filled_l))
}
