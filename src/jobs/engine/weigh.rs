//! From exact amounts to what the instruments can show: bottles for what is too little, then whole steps.

use super::AS_GOOD;
use super::acid::tank_open;
use super::bottles::{self, Proposed};
use super::exact::exact;
use super::kept_apart;
use super::question::{Question, formula as formula_called};
use super::refuse::limit_words;
use crate::bench::{Basis, Bench};
use crate::fit::{self, Ladder, Limit, PhBand, Solution, ToWeigh};
use crate::jobs::engine::ladder::ladder;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::error::JobError;
use crate::safety::{self, Finding};
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, air, slips, volume_deviation};
use crate::tank::instrument::{Measured, measured, smallest};
use crate::tank::parts::{Part, Parts};

/// Whole steps keep the pH of the exact mix to within this (own choice, a little less than is told of).
const PH_KEPT: f64 = 0.08;
/// A pH further off than this is told of, and worth other steps.
const PH_OFF: f64 = 0.02;
/// What keeping the pH may cost, in misfit beyond that of the exact mix or of the steps that do not keep it: own choice, as much as
/// one nutrient 5 % off.
const PH_COSTS: f64 = 0.05;

/// What raising doses to the least that can be measured may cost so that no bottle is made for them: own choice, as much as one
/// nutrient 10 % off, which is about what half a step is of so little.
const RAISED_COSTS: f64 = 0.1;

/// A mix as measured out.
pub(crate) struct Weighed<'a> {
    /// With the bottles that are proposed.
    pub(crate) parts: Parts<'a>,
    pub(crate) measured: Vec<Measured>,
    pub(crate) proposed: Vec<Proposed>,
    pub(crate) proved: bool,
    pub(crate) misfit: f64,
    /// Limits that gave way, in words.
    pub(crate) gave_way: Vec<String>,
    /// Parts of the exact mix that are left out, since the rest comes as close without them.
    pub(crate) spared: Vec<usize>,
    /// How far the pH is out of where it is kept.
    ph_off: f64,
}

impl Weighed<'_> {
    pub(crate) fn findings(&self) -> Option<Finding> {
        safety::limits_gave_way(&self.gave_way)
    }

    /// True for steps that come as close but for `slack` and keep as much, so that what speaks for them otherwise may decide.
    fn is_as_good_as(&self, other: &Self, slack: f64) -> bool {
        self.misfit <= other.misfit + slack
            && self.gave_way.iter().all(|limit| other.gave_way.contains(limit))
            && self.ph_off <= other.ph_off + PH_OFF
    }
}

/// Brings the exact answer to what the instruments can show: bottles for what is too little, then whole steps.
///
/// No bottle is made whose content for the tank could as well be weighed, left out, or be the least that can be weighed.
pub(crate) fn weigh<'a>(question: &Question<'a>, exact: &Solution) -> Weighed<'a> {
    let kept = KeptPh::of(question, exact);
    let mut asked = exact.clone();
    let mut best = in_steps(question, &asked, kept.as_ref());
    let bottles: Vec<Vec<usize>> = best.proposed.iter().map(|one| one.serves.clone()).collect();
    for serves in bottles.into_iter().filter(|serves| !serves.is_empty()) {
        if serves.iter().any(|at| question.acids.contains(at)) {
            continue;
        }
        let instead = [
            (weighable(&best, &serves), AS_GOOD),
            (dispensable(question, &best, &serves), AS_GOOD),
            (raised(&best, &serves), RAISED_COSTS),
        ];
        for (amounts, slack) in instead.into_iter().filter_map(|(amounts, slack)| Some((amounts?, slack))) {
            let mut other = asked.clone();
            serves.iter().zip(amounts).for_each(|(&at, amount)| other.g_per_l[at] = amount / question.litres());
            let weighed = in_steps(question, &other, kept.as_ref());
            if weighed.is_as_good_as(&best, slack) {
                (asked, best) = (other, weighed);
                break;
            }
        }
    }
    best.spared = (0..exact.g_per_l.len()).filter(|&at| exact.g_per_l[at] > 0.0 && asked.g_per_l[at] <= 0.0).collect();
    best
}

/// What a bottle brings of everything that it serves, where all of that can be measured by itself.
fn weighable(weighed: &Weighed, serves: &[usize]) -> Option<Vec<f64>> {
    let amounts = brought(weighed, serves)?;
    serves.iter().zip(&amounts).all(|(&at, amount)| !weighed.parts.too_small(at, *amount)).then_some(amounts)
}

/// The least that can be measured of everything that a bottle serves and of which it brings less.
fn raised(weighed: &Weighed, serves: &[usize]) -> Option<Vec<f64>> {
    let parts = &weighed.parts;
    let least = |at: usize| smallest(parts.bench, parts.density(at));
    Some(serves.iter().zip(brought(weighed, serves)?).map(|(&at, amount)| amount.max(least(at))).collect())
}

/// What a bottle brings of every salt that it serves.
fn brought(weighed: &Weighed, serves: &[usize]) -> Option<Vec<f64>> {
    let parts = &weighed.parts;
    let bottle = bottle_of(weighed, serves)?;
    let brings = parts.contents(bottle).salts;
    let amount = |at: usize| {
        let Part::Salt(stock) = parts.list[at] else { return None };
        let (_, per_ml) = brings.iter().find(|(salt, _)| *salt == stock.salt)?;
        Some(per_ml * weighed.measured[bottle].amount)
    };
    serves.iter().map(|&at| amount(at)).collect()
}

/// Nothing of everything that a bottle serves, where the rest comes about as close without it.
fn dispensable(question: &Question, weighed: &Weighed, serves: &[usize]) -> Option<Vec<f64>> {
    let bottle = bottle_of(weighed, serves)?;
    let question = question.with_parts(weighed.parts.clone());
    let problem = question.problem(&question.mixture);
    let mut per_l: Vec<f64> = weighed.measured.iter().map(|measured| measured.amount / question.litres()).collect();
    per_l[bottle] = 0.0;
    // other steps make good for some of it
    let near = problem.misfit(&problem.achieved_ppm(&per_l)) <= weighed.misfit + PH_COSTS;
    near.then(|| vec![0.0; serves.len()])
}

fn bottle_of(weighed: &Weighed, serves: &[usize]) -> Option<usize> {
    let one = weighed.proposed.iter().find(|one| one.serves == serves)?;
    weighed.parts.list.iter().position(|part| *part == Part::Helper(one.helper))
}

/// Where whole steps are to keep the pH that the exact mix has for the wish of the bench.
struct KeptPh {
    basis: Basis,
    low: f64,
    high: f64,
}

impl KeptPh {
    /// Where a wish is reckoned with.
    fn of(question: &Question, exact: &Solution) -> Option<Self> {
        let acid = question.bench().acid.as_ref().filter(|_| !question.acids.is_empty())?;
        if tank_open(question) || !question.mixture.alkalinity_known(&exact.g_per_l) {
            return None;
        }
        let ph = question.mixture.ph(&exact.g_per_l, acid.basis).ok()?;
        Some(Self { basis: acid.basis, low: ph - PH_KEPT, high: ph.max(acid.target_ph) + PH_KEPT })
    }

    /// As bounds of the amounts near `per_l`.
    fn band(&self, mixture: &Mixture, per_l: &[f64]) -> Option<PhBand> {
        let row = |ph| mixture.proton_row(per_l, ph, air(self.basis)).ok();
        Some(PhBand { at_most: row(self.high)?, at_least: row(self.low)? })
    }

    /// How far amounts are out of it; nothing where their pH cannot be told.
    fn off(&self, mixture: &Mixture, per_l: &[f64]) -> f64 {
        mixture.ph(per_l, self.basis).map_or(0.0, |ph| (ph - self.high).max(self.low - ph).max(0.0))
    }
}

fn in_steps<'a>(question: &Question<'a>, exact: &Solution, kept: Option<&KeptPh>) -> Weighed<'a> {
    let litres = question.litres();
    let doses: Vec<f64> = exact.g_per_l.iter().map(|x| x * litres).collect();
    let mut parts = question.parts.clone();
    let proposed = bottles::propose(&mut parts, &doses);
    let start = with_bottles(exact, &parts, &proposed, litres);
    let question = question.with_parts(parts);
    let Question { tank, parts, mixture, .. } = &question;
    let bench = tank.bench;
    let ladders: Vec<Ladder> = (0..parts.list.len()).map(|at| ladder(bench, parts.density(at), parts.most(at))).collect();
    let settled = settled(&question, &proposed, &ladders, &start);
    let deviations: Vec<f64> = (0..parts.list.len())
        .map(|at| measured(bench, parts.density(at), start.g_per_l[at] * litres).deviation / litres)
        .collect();
    let slips = slips(parts, &start.g_per_l, &deviations);
    let plus_minus = mixture.plus_minus_ppm(&start.g_per_l, &slips, volume_deviation(tank));
    let problem = question.problem(mixture);
    let to_weigh = ToWeigh {
        problem: &problem,
        exact: &start,
        ladders: &ladders,
        litres,
        settled: &settled,
        ph: None,
        plus_minus_ppm: &plus_minus,
    };
    let (weighed, ph_off) = keeping_ph(mixture, &to_weigh, kept, exact.misfit);
    // a bottle of which nothing is taken after all is not made
    let drawn = |helper: usize| {
        parts.list.iter().zip(&weighed.amounts).any(|(part, amount)| *part == Part::Helper(helper) && *amount > 0.0)
    };
    let proposed = bottles::needed(parts, proposed, drawn);
    let measured = (0..parts.list.len()).map(|at| measured(bench, parts.density(at), weighed.amounts[at])).collect();
    let gave_way: Vec<String> = weighed.gave_way.iter().map(|limit| limit_words(&question, limit)).collect();
    Weighed {
        measured,
        proposed,
        proved: weighed.proved,
        misfit: weighed.misfit,
        gave_way,
        spared: Vec::new(),
        ph_off,
        parts: question.parts,
    }
}

/// The exact answer with what is too little drawn from the bottles that are proposed for it.
fn with_bottles(exact: &Solution, parts: &Parts, proposed: &[Proposed], litres: f64) -> Solution {
    let mut start = exact.clone();
    start.g_per_l.resize(parts.list.len(), 0.0);
    for one in proposed.iter().filter(|one| !one.serves.is_empty()) {
        one.serves.iter().for_each(|&served| start.g_per_l[served] = 0.0);
        if let Some(at) = parts.list.iter().position(|part| *part == Part::Helper(one.helper)) {
            start.g_per_l[at] = one.dose_ml / litres;
        }
    }
    start
}

/// Doses that the pH decides: those of the acids, and of the bottles that stand in for them.
fn settled(question: &Question, proposed: &[Proposed], ladders: &[Ladder], start: &Solution) -> Vec<(usize, f64)> {
    let (parts, litres) = (&question.parts, question.litres());
    let of = |acid: usize| {
        let thinned = proposed.iter().find(|one| one.serves.contains(&acid)).map(|one| Part::Helper(one.helper));
        let bottle = thinned.and_then(|part| parts.list.iter().position(|other| *other == part));
        let steps = |at: usize| (at, ladders[at].amount(ladders[at].nearest(start.g_per_l[at] * litres)));
        std::iter::once(steps(acid)).chain(bottle.map(steps))
    };
    question.acids.iter().copied().flat_map(of).collect()
}

/// The best whole steps, and how far their pH is out of where it is kept: steps that spoil it give way to others, where that costs
/// little.
fn keeping_ph(mixture: &Mixture, to_weigh: &ToWeigh, kept: Option<&KeptPh>, exact_misfit: f64) -> (fit::Weighed, f64) {
    let weigh = |to_weigh: &ToWeigh| {
        let mut weighed = fit::weigh(to_weigh);
        weighed.gave_way.retain(|limit| *limit != Limit::Ph);
        weighed
    };
    let off = |steps: &fit::Weighed| {
        let per_l: Vec<f64> = steps.amounts.iter().map(|amount| amount / to_weigh.litres).collect();
        kept.map_or(0.0, |kept| kept.off(mixture, &per_l))
    };
    let weighed = weigh(to_weigh);
    let ph_off = off(&weighed);
    if ph_off > PH_OFF
        && let Some(band) = kept.and_then(|kept| kept.band(mixture, &to_weigh.exact.g_per_l))
    {
        let other = weigh(&ToWeigh { ph: Some(&band), ..*to_weigh });
        let (nearer, costs) = (off(&other), other.misfit - weighed.misfit.max(exact_misfit));
        if nearer < ph_off && costs <= PH_COSTS && other.gave_way.iter().all(|limit| weighed.gave_way.contains(limit)) {
            // the best with the pH in view, not of all
            return (fit::Weighed { proved: false, ..other }, nearer);
        }
    }
    (weighed, ph_off)
}

/// The parts of a mix as weighed out, and their amounts per litre in the unit of each part.
pub(crate) fn weighed_out<'a>(
    bench: &'a Bench,
    formula: &str,
    options: &MixOptions,
) -> Result<(Parts<'a>, Vec<f64>), JobError> {
    let question = kept_apart::question(Tank::fresh(bench)?, formula_called(bench, formula)?, options.prefer)?;
    let exact = exact(&question, options)?;
    let weighed = weigh(&question, &exact.solution);
    let amounts = weighed.measured.iter().map(|measured| measured.amount / question.litres()).collect();
    Ok((weighed.parts, amounts))
}
