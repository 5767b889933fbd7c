//! What is worth fetching for a tank that is near to its formula, and what of it can wait.

use crate::bench::{Bench, Formula, Wish};
use crate::fit::{self, FitError, Solution};
use crate::jobs::engine::AS_GOOD;
use crate::jobs::engine::acid::answered;
use crate::jobs::engine::kept_apart;
use crate::jobs::engine::question::Question;
use crate::jobs::engine::refuse::job_error;
use crate::jobs::engine::remainders::{holds, settle_bottles, stands_in};
use crate::jobs::error::JobError;
use crate::quantity::{gram, liter, ppm_of};
use crate::tank::Tank;
use crate::tank::instrument::smallest;
use crate::tank::parts::Part;

/// Salts without which the misfit rises by less than this in all are not fetched (own choice; as near as least waste),
/// and what is gained on targets that are met within their give or take is no gain.
pub(super) const NOT_WORTH_FETCHING: f64 = AS_GOOD;
/// What brings a target by no more than this share nearer can wait, however short that is (own choice).
const NEXT_TO_NONE: f64 = 0.05;
/// What is too little to measure waits while every target is met by this share without it (own choice): a bottle made for what is
/// missing today is the wrong one the next time.
const CAN_WAIT: f64 = 2.0 / 3.0;

/// A target is no longer short within this share of it: own choice, less than a reading tells.
const MET: f64 = 0.02;

/// The closest mix of the columns that are kept; `None` where they meet no limits.
type Closest<'c> = dyn Fn(&[bool]) -> Result<Option<Solution>, JobError> + 'c;

/// How a tank is brought nearer to its formula.
pub(super) struct Fetching {
    /// Misfit of the tank that is within the give or take.
    pub(super) met_anyway: f64,
    /// True where what is too little to measure waits: the tank is filled up again.
    pub(super) waits: bool,
}

/// What is fetched, and what waits.
pub(super) struct Fetched {
    /// The bench with nothing else; `None` when nothing is worth it.
    pub(super) bench: Option<Bench>,
    /// What is too little to measure, by name.
    pub(super) waits: Vec<String>,
}

/// The bench with only what is worth fetching, so that no milligrams of everything make up for the last tenth of a per
/// cent.
///
/// Of what the exact mix takes, what matters least goes first, as long as the misfit stays near the least. The limit of EC,
/// every look at which costs speciations, is left out until the end; where it does not bear what is left, all is kept.
pub(super) fn worth_fetching(tank: &Tank, formula: &Formula, how: &Fetching) -> Result<Fetched, JobError> {
    let bench = tank.bench;
    let question = kept_apart::question(tank.clone(), formula, None)?;
    let mixture = &question.mixture;
    let all = || Fetched { bench: Some(bench.clone()), waits: Vec::new() };
    let closest = |kept: &[bool], limit_ec: bool, start: Option<&[f64]>| -> Result<Option<Solution>, JobError> {
        let mut problem = question.problem(mixture);
        problem.ec = problem.ec.filter(|_| limit_ec);
        for (column, _) in problem.columns.iter_mut().zip(kept).filter(|(_, kept)| !**kept) {
            column.forbid();
        }
        match answered(&question, &mut problem, start, fit::solve)? {
            Ok(answer) => Ok(Some(answer.solution)),
            Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => Ok(None),
            Err(error) => Err(job_error(&question, &problem, error)),
        }
    };
    let mut settled = question.problem(mixture);
    settled.ec = None;
    settle_bottles(&question, &mut settled)?;
    let mut kept: Vec<bool> = settled.columns.iter().map(|column| !column.is_forbidden()).collect();
    let Some(free) = closest(&kept, false, None)? else { return Ok(all()) };
    let near = |least: &Solution| least.misfit + NOT_WORTH_FETCHING + how.met_anyway;
    let problem = question.problem(mixture);
    let mut matters: Vec<(f64, usize)> = Vec::new();
    for (at, keep) in kept.iter_mut().enumerate().filter(|(at, _)| !question.acids.contains(at)) {
        // the pH decides on the acid, and what the exact mix leaves out is left out
        *keep = free.g_per_l[at] > 0.0;
        let mut without = free.g_per_l.clone();
        without[at] = 0.0;
        matters.push((problem.misfit(&problem.achieved_ppm(&without)), at));
    }
    matters.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (_, at) in matters {
        if !kept[at] {
            continue;
        }
        kept[at] = false;
        kept[at] = closest(&kept, false, Some(&free.g_per_l))?.is_none_or(|fewer| fewer.misfit > near(&free));
    }
    let mut waits = Vec::new();
    if how.waits {
        let tried = |kept: &[bool]| closest(kept, false, None);
        waits = waiting(&question, formula, &mut kept, &tried)?;
    }
    if problem.ec.is_some() {
        let of_all = closest(&vec![true; kept.len()], true, None)?;
        let held = closest(&kept, true, None)?;
        if of_all.is_none_or(|of_all| held.is_none_or(|held| held.misfit > near(&of_all))) {
            return Ok(all());
        }
    }
    if !kept.iter().enumerate().any(|(at, kept)| *kept && !question.acids.contains(&at)) {
        return Ok(Fetched { bench: None, waits });
    }
    let mut fewer = bench.clone();
    for (part, _) in question.parts.list.iter().zip(&kept).filter(|(_, kept)| !**kept) {
        match part {
            Part::Salt(stock) => {
                fewer.shelf.iter_mut().filter(|one| one.salt == stock.salt).for_each(|one| one.on_hand = Some(gram(0.0)));
            }
            Part::Helper(helper) => fewer.helpers[*helper].left = Some(liter(0.0)),
        }
    }
    Ok(Fetched { bench: Some(fewer), waits })
}

/// Takes out of `kept` what is too little to measure and can wait, by name: what is nearest to nothing first. Of a bottle that is too
/// strong for it a thinner one goes in instead, where there is one.
fn waiting(
    question: &Question,
    formula: &Formula,
    kept: &mut Vec<bool>,
    closest: &Closest,
) -> Result<Vec<String>, JobError> {
    let parts = &question.parts;
    let problem = question.problem(&question.mixture);
    let dose = |of: &Solution, at: usize| of.g_per_l[at] * question.litres();
    let is_little = |of: &Solution, at: usize| dose(of, at) > 0.0 && parts.too_small(at, dose(of, at));
    let is_bottle = |at: usize| matches!(parts.list[at], Part::Helper(_));
    // with nothing left to fit nothing goes in, where no limit asks for it
    let without_it = |kept: &[bool]| -> Result<Option<Vec<f64>>, JobError> {
        if kept.contains(&true) {
            return Ok(closest(kept)?.map(|of| of.g_per_l));
        }
        let nothing = vec![0.0; kept.len()];
        let keeps_limits = problem.broken_limits(&nothing, &problem.achieved_ppm(&nothing), 1e-6).is_empty();
        Ok(keeps_limits.then_some(nothing))
    };
    let (mut waits, mut decided) = (Vec::new(), vec![false; kept.len()]);
    while let Some(found) = closest(kept)? {
        let can = |at: &usize| kept[*at] && !decided[*at] && !question.acids.contains(at);
        let little = (0..kept.len()).filter(can).filter(|&at| is_little(&found, at));
        let of_smallest = |at: usize| dose(&found, at) / smallest(parts.bench, parts.density(at));
        let Some(at) = little.min_by(|&a, &b| of_smallest(a).total_cmp(&of_smallest(b))) else { break };
        decided[at] = true;
        let is_fed = |without: &[f64]| {
            let [with, without] = [&found.g_per_l[..], without].map(|one| problem.achieved_ppm(one));
            formula.wishes.iter().all(|wish| {
                let enough = |target| (CAN_WAIT * ppm_of(target)).min(with[wish.nutrient] - NEXT_TO_NONE * ppm_of(target));
                wish.target.is_none_or(|target| without[wish.nutrient] >= enough(target))
            })
        };
        let mut without = kept.clone();
        without[at] = false;
        let thinner: Vec<usize> =
            (0..kept.len()).filter(|&other| is_bottle(at) && is_bottle(other) && stands_in(parts, other, at)).collect();
        let mut thinned = without.clone();
        for &other in &thinner {
            thinned[other] = true;
        }
        let serves = |of: &Solution| {
            is_fed(&of.g_per_l)
                && thinner.iter().any(|&other| dose(of, other) > 0.0)
                && !thinner.iter().any(|&other| is_little(of, other))
        };
        if !thinner.is_empty() && closest(&thinned)?.is_some_and(|of| serves(&of)) {
            *kept = thinned;
        } else if without_it(&without)?.is_some_and(|of| is_fed(&of)) {
            *kept = without;
            waits.push(at);
        }
    }
    let there = without_it(kept)?.map(|amounts| problem.achieved_ppm(&amounts));
    let is_short = |at: &usize| {
        let brings = problem.columns[*at].ppm_per_g_per_l;
        let short = |wish: &Wish| {
            let there = there.as_ref().map_or(0.0, |there| there[wish.nutrient]);
            brings[wish.nutrient] > 0.0 && wish.target.is_some_and(|target| there < (1.0 - MET) * ppm_of(target))
        };
        formula.wishes.iter().any(short)
    };
    let mut names = Vec::new();
    for at in waits.into_iter().filter(is_short) {
        // what is in a bottle of the bench is poured from it, and not weighed
        let bottle = match parts.list[at] {
            Part::Salt(stock) => (0..parts.list.len()).find(|&other| is_bottle(other) && holds(parts, other, &stock) > 0.0),
            Part::Helper(_) => Some(at),
        };
        // what is poured all the same, or thinner, does not wait
        let goes_in = |bottle: usize| {
            (0..kept.len())
                .any(|other| kept[other] && is_bottle(other) && (other == bottle || stands_in(parts, other, bottle)))
        };
        if bottle.is_some_and(goes_in) {
            continue;
        }
        let name = bottle.map_or_else(|| parts.name(at).to_owned(), |bottle| format!("bottle {}", parts.name(bottle)));
        if !names.contains(&name) {
            names.push(name);
        }
    }
    Ok(names)
}
