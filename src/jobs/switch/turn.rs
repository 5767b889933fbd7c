//! How much of a tank to drain: a column of the program that weighs the salts.

use std::borrow::Cow;
use std::cell::Cell;

use super::Before;
use crate::bench::Bench;
use crate::fit::{self, Column, FitError, Proof, Want};
use crate::jobs::engine::acid::answered;
use crate::jobs::engine::blend::{Filled, Waters, moved_under_ec, settled};
use crate::jobs::engine::exact::exact_misfit;
use crate::jobs::engine::question::{MixOptions, Question, formula as formula_called, holds_urea, wants};
use crate::jobs::engine::refuse::job_error;
use crate::jobs::error::JobError;
use crate::jobs::mix::mix_in;
use crate::jobs::record::MixRecord;
use crate::logbook::is_renewed;
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::{liter, liter_of};
use crate::safety::{self, Finding};
use crate::tank::blend::with_blend;
use crate::tank::{Content, Spent, Tank, Turned};

/// What a target may miss at the least waste: this share, or what it misses at the best fit.
const BAND: f64 = 0.05;
/// As little of a target is missed as well without it.
const NEXT_TO_NOTHING: f64 = 1e-4;
/// What the best fit comes to is met within this.
const SLACK: f64 = 1e-9;
const SLACK_WITH_ACID: f64 = 1e-3;
/// By this much the limits of the least waste are widened where its acid, reckoned anew, does not find its way between them.
const LOOSER: f64 = 1e-2;
/// Drains within this share of nothing, or of all there is, are that: what the solver leaves open.
const EDGE: f64 = 1e-6;
/// All but so much of a full tank is all of it: own choice, as well as a tank is usually known.
pub(in crate::jobs) const ALL_BUT: f64 = 0.02;

/// A tank that is turned over.
pub(in crate::jobs) struct Turn<'b> {
    pub(super) bench: &'b Bench,
    pub(super) formula: &'b str,
    pub(super) holding: &'b Content,
    /// The water that is filled in; of several the first.
    pub(super) water: Content,
    /// The waters, where there are several to be shared out.
    pub(super) waters: Option<Waters>,
    /// What can be drained, what stays behind, and the full tank, L.
    pub(super) level: f64,
    pub(super) held_back: f64,
    pub(super) full: f64,
    /// What is done with what is let out.
    pub(in crate::jobs) spent: Spent,
    /// True where what it holds must not meet: it is rinsed out.
    pub(in crate::jobs) unfit: bool,
    /// True where what it holds burns: once all of it is let out, what stays behind is rinsed.
    pub(super) burning: bool,
}

/// The drain of an exact answer, L, and what the tank then holds, ppm.
pub(super) struct Drained {
    pub(super) drain: f64,
    /// The misfit.
    pub(super) misfit: f64,
    achieved: Nutrients,
    /// Amounts for each litre of the whole: the parts, the drain, then the waters.
    amounts: Vec<f64>,
    /// Shares of several waters in what is filled in.
    shares: Vec<f64>,
    /// True where a limit of EC binds, which bends.
    bent: bool,
    /// False where the wished pH is not met.
    met: bool,
}

impl<'b> Turn<'b> {
    /// A full tank of which nothing stays behind.
    pub(in crate::jobs) fn full(bench: &'b Bench, formula: &'b str, holding: &'b Content) -> Result<Self, JobError> {
        let full = liter_of(bench.tank.volume);
        let waters = Waters::of(bench)?;
        let water = match &waters {
            Some(waters) => waters.contents[0].clone(),
            None => Content::of_water(bench)?,
        };
        Ok(Self {
            bench,
            formula,
            holding,
            water,
            waters,
            level: full,
            held_back: 0.0,
            full,
            spent: Spent::Goes,
            unfit: false,
            burning: false,
        })
    }

    /// The same tank with what is done with what is let out of it.
    ///
    /// * `ph`, `ec_ms_per_cm`: of what it holds
    pub(in crate::jobs) fn letting_out(self, ph: &[f64], ec_ms_per_cm: f64) -> Self {
        let spent = if safety::is_treated_first(self.bench.catalogue.cautions(), ph) {
            Spent::Treated
        } else if ec_ms_per_cm > safety::STRONG_EC_MS_PER_CM {
            Spent::Thinned
        } else {
            Spent::Goes
        };
        Self { spent, ..self }
    }

    /// The same tank with less in it, and with what stays behind, L.
    pub(in crate::jobs) fn standing_at(self, level: f64, held_back: f64) -> Self {
        Self { level, held_back, ..self }
    }

    /// What is filled in after draining so much, L.
    pub(super) fn refill(&self, drain: f64) -> f64 {
        (self.full - self.level + drain).max(0.0)
    }

    /// What stays behind and is rinsed, so that it counts as water, L.
    pub(super) fn rinsed_l(&self, drain: f64) -> f64 {
        if self.burning && self.is_whole(drain) { self.held_back } else { 0.0 }
    }

    /// True where all that can be drained is.
    fn is_whole(&self, drain: f64) -> bool {
        drain >= self.level - 1e-9
    }

    /// All that the tank and what stays behind hold when full, L.
    pub(super) fn total(&self) -> f64 {
        self.full + self.held_back
    }

    /// The bench with the blend of its waters that comes closest after draining so much; as it is where it has one water.
    ///
    /// * `within`: limits that the exact amounts keep beside those of the formula; without any, those of the formula
    pub(in crate::jobs) fn bench_at(&self, drain: f64, within: &[Want]) -> Result<Cow<'b, Bench>, JobError> {
        let Some(waters) = &self.waters else { return Ok(Cow::Borrowed(self.bench)) };
        let refill = self.refill(drain);
        waters.suffice(refill)?;
        let wants = (!within.is_empty()).then(|| within.to_vec());
        // where no blend keeps the limits, the first waters do not, and the mix says which
        let found = if refill > 0.0 { self.answer(drain, true, None, wants)? } else { None };
        let shares = match found {
            None => waters.first(refill),
            Some(found) if found.bent && within.is_empty() => {
                let mut near = None;
                let misfit = |shares: &[f64]| {
                    let here = with_blend(self.bench, shares)?;
                    exact_misfit(&self.after(&here, drain)?, self.formula, &mut near)
                };
                moved_under_ec(waters, found.shares, refill, misfit)?
            }
            Some(found) => found.shares,
        };
        Ok(Cow::Owned(with_blend(self.bench, &shares)?))
    }

    /// The tank after draining and refilling.
    ///
    /// * `bench`: [`Turn::bench_at`] of this drain
    pub(in crate::jobs) fn after<'x>(&self, bench: &'x Bench, drain: f64) -> Result<Tank<'x>, JobError> {
        Ok(self.filled_with(bench, &Content::of_water(bench)?, drain))
    }

    /// What the grower's meter should read after one drain, as a logbook reckons it, mS/cm; nothing of a tank that is renewed, in which
    /// no reading has told of it.
    ///
    /// * `ppm`: what is then in it
    /// * `factor`: what the meter reads over what is predicted
    pub(super) fn own_meter(&self, drain: f64, ppm: &Nutrients, factor: Option<f64>) -> Result<Option<f64>, JobError> {
        let held_l = self.total() - self.refill(drain);
        let Some(factor) = factor.filter(|_| !is_renewed(held_l, self.total())) else { return Ok(None) };
        let here = self.bench_at(drain, &[])?;
        Ok(self.after(&here, drain)?.before.ec_by_element(&here.catalogue, ppm).map(|ec| ec * factor))
    }

    /// What is measured into the tank after one drain, the exact amounts kept within limits beside those of the formula.
    pub(super) fn made(&self, drain: f64, options: &MixOptions, within: &[Want]) -> Result<MixRecord, JobError> {
        let bench = self.bench_at(drain, within)?;
        mix_in(&self.after(&bench, drain)?, self.formula, options, within)
    }

    fn filled_with<'x>(&self, bench: &'x Bench, water: &Content, drain: f64) -> Tank<'x> {
        let rinsed = self.rinsed_l(drain) > 0.0;
        let behind = if rinsed { 0.0 } else { self.held_back };
        let share = ((self.level - drain + behind) / self.total()).clamp(0.0, 1.0);
        // else nothing of the old is left: this is a fresh tank
        let holds = share > 1e-12;
        let before = if holds { self.holding.thinned(bench.catalogue.ions(), water, share) } else { water.clone() };
        Tank {
            bench,
            before,
            is_fresh: !holds,
            volume: liter(self.total()),
            room: liter(self.refill(drain)),
            turned: Some(Turned {
                drain_l: drain,
                held_back_l: self.held_back,
                filled_l: self.refill(drain),
                full_l: self.full,
                spent: self.spent,
                unfit: self.unfit,
                rinsed,
                urea: holds_urea(&self.holding.ppm),
            }),
        }
    }

    /// What is told of a tank that gives off gas at a pH that was read in it.
    pub(super) fn gas(&self, ph: f64) -> Option<Finding> {
        let held = &self.holding.ppm;
        safety::burns_as_read(ph, false, held[Nutrient::AmmoniumN] > 0.0, held[Nutrient::UreaN] > 0.0)
    }

    /// What is told of a tank that burns.
    ///
    /// * `ph`, `before`: of what it holds
    pub(super) fn burns(&self, ph: f64, drain: f64, before: &Before) -> Finding {
        let held = &self.holding.ppm;
        safety::held_burns(safety::Burning {
            ph,
            ec_ms_per_cm: before.poured_ec_ms_cm.map(|_| before.ec_ms_cm),
            ammonium: held[Nutrient::AmmoniumN] > 0.0,
            urea: held[Nutrient::UreaN] > 0.0,
            rinsed: self.rinsed_l(drain) > 0.0,
        })
    }

    /// The least drain with the least misfit, that misfit, and the least waste.
    pub(in crate::jobs) fn best(&self) -> Result<(f64, f64, f64), JobError> {
        let Some(best) = self.closest()? else { return Ok((self.level, f64::INFINITY, self.level)) };
        Ok((best.drain, best.misfit, self.least_waste(&best)?))
    }

    /// The least misfit, and with it the least drain; `None` where no drain keeps the limits.
    pub(super) fn closest(&self) -> Result<Option<Drained>, JobError> {
        self.answer(0.0, false, None, None)
    }

    /// The least drain at which every limit holds and every target lies within 5 %, or within what it misses at `best`.
    pub(super) fn least_waste(&self, best: &Drained) -> Result<f64, JobError> {
        let bands = self.bands(best)?;
        let found = self.answer(0.0, false, Some(&best.amounts), Some(limits_alone(&bands)))?;
        let found = found.filter(|found| found.met || !best.met);
        Ok(found.map_or(best.drain, |found| found.drain.min(best.drain)))
    }

    /// What the formula asks, with limits as near as 5 % to every target, or as near as the best fit comes.
    pub(super) fn bands(&self, best: &Drained) -> Result<Vec<Want>, JobError> {
        // where an acid moves the row of the pH, what the best fit comes to is known to that only
        let slack = if self.bench.acid.is_some() { SLACK_WITH_ACID } else { SLACK };
        Ok(wants(formula_called(self.bench, self.formula)?).into_iter().map(|want| band(want, best, slack)).collect())
    }

    /// The exact answer at one drain.
    pub(super) fn at(&self, drain: f64) -> Result<Option<Drained>, JobError> {
        self.answer(drain, true, None, None)
    }

    /// Asks the fit with the drain, from `least` up, as a column behind the parts: litres drained for each litre of the whole. A
    /// litre drained and filled in again changes the content by the difference between the water and what was held. Several
    /// waters stand behind it. `start` as of [`answered`].
    ///
    /// * `fixed`: true to drain `least` and no more
    /// * `wants`: in place of those of the formula
    fn answer(
        &self,
        least: f64,
        fixed: bool,
        start: Option<&[f64]>,
        wants: Option<Vec<Want>>,
    ) -> Result<Option<Drained>, JobError> {
        let Some(waters) = &self.waters else { return self.answer_on(self.bench, least, fixed, start, wants) };
        let last = Cell::new(None);
        let fit = |guess: &Bench| {
            let found = self.answer_on(guess, least, fixed, start, wants.clone())?;
            let shares = found.as_ref().map(|found| found.shares.clone());
            last.set(found);
            Ok(shares)
        };
        settled(self.bench, waters, fit)?;
        Ok(last.into_inner())
    }

    /// As [`Turn::answer`], on a bench whose water is what pure bottles displace.
    fn answer_on(
        &self,
        bench: &Bench,
        least: f64,
        fixed: bool,
        start: Option<&[f64]>,
        wants: Option<Vec<Want>>,
    ) -> Result<Option<Drained>, JobError> {
        // bottles find room in what is filled in; how much that is at the least follows from the answer
        let tank = Tank { room: liter(self.refill(self.level)), ..self.filled_with(bench, &self.water, least) };
        let mut question = Question::new(tank, formula_called(bench, self.formula)?, None)?;
        let exchanged = self.holding.exchanged(bench.catalogue.ions(), &self.water);
        let change = exchanged.nutrients.scaled(1e3);
        question.mixture.push(exchanged);
        self.waters.iter().for_each(|waters| waters.exchange(bench, &mut question.mixture));
        let mixture = &question.mixture;
        let mut problem = question.problem(mixture);
        let at = problem.columns.len();
        let most_g_per_l = Some((self.level - least) / self.total());
        problem.columns.push(Column { ppm_per_g_per_l: change, most_g_per_l, cost_per_g: 0.0 });
        if fixed {
            problem.columns[at].forbid();
        } else {
            problem.sparing.push(at);
        }
        let filled = Filled { per_l: self.refill(least) / self.total(), drain: Some(at) };
        if let Some(waters) = &self.waters {
            waters.share_out(&mut problem, mixture, filled, self.total(), self.full / self.total());
        }
        problem.wants = wants.unwrap_or(problem.wants);
        let (solution, met) = match answered(&question, &mut problem, start, fit::solve)? {
            Ok(answer) => (answer.solution, answer.met),
            Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => return Ok(None),
            Err(error) => return Err(job_error(&question, &problem, error)),
        };
        let amounts: Vec<f64> = solution.g_per_l[..at].iter().map(|amount| amount * self.total()).collect();
        let room = question.parts.room_taken_ml(&amounts) * 1e-3 - (self.full - self.level);
        let drain = (least + solution.g_per_l[at] * self.total()).max(room).min(self.level);
        let drain = match drain / self.level {
            share if share < EDGE => 0.0,
            share if share > 1.0 - EDGE => self.level,
            _ => drain,
        };
        let achieved = problem.achieved_ppm(&solution.g_per_l);
        let proof = solution.proof;
        let mut amounts = solution.g_per_l;
        let shares = self.waters.as_ref().map(|waters| waters.shares(&amounts, filled.per_l + amounts[at]));
        amounts[at] += least / self.total();
        let misfit = problem.misfit(&achieved);
        let bent = problem.ec.is_some() && proof == Proof::ClosestFound;
        Ok(Some(Drained { drain, misfit, achieved, amounts, shares: shares.unwrap_or_default(), bent, met }))
    }
}

/// A wish with limits as near as 5 % to its target, or as near as the best fit comes.
fn band(want: Want, best: &Drained, slack: f64) -> Want {
    let Some(target) = want.target_ppm else { return want };
    let there = best.achieved[want.nutrient];
    let low = (target * (1.0 - BAND)).min(there * (1.0 - slack));
    let high = (target * (1.0 + BAND)).max(there * (1.0 + slack));
    // a target of which next to nothing is met is not held to the last grain of it
    let low = Some(low).filter(|low| *low > NEXT_TO_NOTHING * target);
    Want {
        min_ppm: want.min_ppm.into_iter().chain(low).reduce(f64::max),
        max_ppm: Some(want.max_ppm.map_or(high, |max| max.min(high))),
        ..want
    }
}

/// Wishes without their targets.
fn limits_alone(wants: &[Want]) -> Vec<Want> {
    wants.iter().map(|want| Want { target_ppm: None, ..*want }).collect()
}

/// The same with limits a little wider.
pub(super) fn loosened(wants: &[Want]) -> Vec<Want> {
    let wider = |want: &Want| Want {
        min_ppm: want.min_ppm.map(|min| min * (1.0 - LOOSER)),
        max_ppm: want.max_ppm.map(|max| max * (1.0 + LOOSER)),
        ..*want
    };
    wants.iter().map(wider).collect()
}
