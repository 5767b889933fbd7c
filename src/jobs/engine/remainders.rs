//! What is too little to speak of beside bottles that are made already: nobody makes a second one for the last percent of a trace.

use super::AS_GOOD;
use super::acid::frozen;
use crate::bench::Stock;
use crate::fit::{self, Problem, Solution};
use crate::jobs::engine::question::Question;
use crate::jobs::error::JobError;
use crate::tank::instrument::measured;
use crate::tank::parts::{Part, Parts};

/// A remainder under this share of every target that it brings is left out: own choice, as well as a weight taken at the
/// usual trust of 5 % is known.
const REMAINDER: f64 = 0.05;
/// Under this share of every target it is left out whoever brings the rest: own choice. Bottles fix the ratio of what they
/// hold, and the exact mix then takes a crumb of some other salt to meet one more target to the last digit.
const CRUMB: f64 = 1e-3;
/// The same of what an instrument can measure: own choice, about what a bottle is known to. Nobody weighs it beside bottles
/// that bring all the rest.
const SMALL_REMAINDER: f64 = 0.02;
/// A nutrient is the business of the bottles, or of what is there, when they have this share of its target: own choice.
const OF_BOTTLES: f64 = 0.5;
/// A syringe or jug is filled no more often than this for one dose where the salt can be weighed instead: own choice.
const MOST_FILLINGS: u32 = 8;

/// Settles which of a salt and a bottle of the bench that holds it goes in, where one can do for the other: no new bottle is made
/// of what is in one already, and nobody fills a syringe nine times for what can be weighed. Returns what it forbids.
pub(crate) fn settle_bottles(question: &Question, problem: &mut Problem) -> Result<Vec<usize>, JobError> {
    let parts = &question.parts;
    let mut left_out = Vec::new();
    if !parts.list.iter().any(|part| matches!(part, Part::Helper(_))) {
        return Ok(left_out);
    }
    let mut trial = frozen(question, problem)?;
    let Ok(mut solution) = fit::solve(&trial) else { return Ok(left_out) };
    let mut tried: Vec<usize> = Vec::new();
    loop {
        let offered = |at: &usize| !trial.columns[*at].is_forbidden() && !question.acids.contains(at);
        let bottles = || (0..parts.list.len()).filter(|at| offered(at) && matches!(parts.list[*at], Part::Helper(_)));
        let is_settled_by_another = |at: usize| match parts.list[at] {
            // what comes from a bottle now is not weighed once the bottle is taken out
            Part::Salt(stock) => {
                let weighed = solution.g_per_l[at];
                let drawn = || bottles().map(|bottle| holds(parts, bottle, &stock) * solution.g_per_l[bottle]).sum();
                let dose = if weighed > 0.0 { weighed } else { drawn() } * question.litres();
                parts.too_small(at, dose) && bottles().any(|bottle| holds(parts, bottle, &stock) > 0.0)
            }
            Part::Helper(_) => {
                let of_it = |salt: &usize| matches!(parts.list[*salt], Part::Salt(stock) if holds(parts, at, &stock) > 0.0);
                // of several salts in one bottle the others would have to be weighed as well, where no other bottle has them
                let salts = parts.contents(at).salts;
                let weighed = || salts.len() == 1 && (0..parts.list.len()).filter(offered).any(|salt| of_it(&salt));
                let drawn = solution.g_per_l[at] * question.litres();
                let by_another = || bottles().any(|other| stands_in(parts, other, at));
                // what it has not enough of is too little to weigh beside it, and all of it is not
                let leaves_too_little =
                    || (0..parts.list.len()).filter(of_it).any(|salt| is_too_little(question, &solution, salt));
                is_too_little(question, &solution, at) && by_another()
                    || fillings(parts, at, drawn) > MOST_FILLINGS && (by_another() || weighed())
                    || leaves_too_little() && weighed()
            }
        };
        let next = (0..parts.list.len()).filter(offered).find(|at| !tried.contains(at) && is_settled_by_another(*at));
        let Some(at) = next else { return Ok(left_out) };
        tried.push(at);
        let mut without = trial.clone();
        without.columns[at].forbid();
        // a bottle too strong for the syringe gives way to a thinner one, not to one that is too strong as well
        let too_strong = |of: &Solution| {
            let bottles = (0..parts.list.len()).filter(|at| matches!(parts.list[*at], Part::Helper(_)));
            bottles.filter(|&at| is_too_little(question, of, at)).count()
        };
        let was_too_strong = matches!(parts.list[at], Part::Helper(_)) && is_too_little(question, &solution, at);
        let gives_way = |found: &Solution| !was_too_strong || too_strong(found) < too_strong(&solution);
        // each for itself, as a remainder is left out
        let is_as_near = |found: &Solution| found.misfit <= solution.misfit + REMAINDER;
        if let Some(found) = fit::solve(&without).ok().filter(|found| is_as_near(found) && gives_way(found)) {
            (trial, solution) = (without, found);
            problem.columns[at].forbid();
            left_out.push(at);
        }
    }
}

/// True for another bottle that holds every salt of a bottle.
pub(crate) fn stands_in(parts: &Parts, other: usize, bottle: usize) -> bool {
    let there = parts.contents(other).salts;
    other != bottle && parts.contents(bottle).salts.iter().all(|(salt, _)| there.iter().any(|(same, _)| same == salt))
}

/// True for something of which too little goes in to measure it.
fn is_too_little(question: &Question, solution: &Solution, at: usize) -> bool {
    let dose = solution.g_per_l[at] * question.litres();
    dose > 0.0 && question.parts.too_small(at, dose)
}

/// What a millilitre of a bottle holds of a salt, g.
pub(crate) fn holds(parts: &Parts, bottle: usize, stock: &Stock) -> f64 {
    parts.contents(bottle).salts.iter().filter(|(salt, _)| *salt == stock.salt).map(|(_, grams)| grams).sum()
}

/// How often what measures an amount is filled for it.
fn fillings(parts: &Parts, at: usize, amount: f64) -> u32 {
    measured(parts.bench, parts.density(at), amount).portions
}

/// Forbids what would go in only to make up for the last percent that bottles already made, or what the tank holds, leave of a
/// target, a salt or another bottle. Returns what it forbids.
pub(crate) fn leave_out_remainders(question: &Question, problem: &mut Problem) -> Result<Vec<usize>, JobError> {
    let parts = &question.parts;
    let mut left_out = Vec::new();
    // a fresh mix without bottles is left as it is, crumbs and all
    if question.tank.is_fresh && !parts.list.iter().any(|part| matches!(part, Part::Helper(_))) {
        return Ok(left_out);
    }
    let mut trial = frozen(question, problem)?;
    let mut last = Vec::new();
    // without one of them another may stand in
    while let Ok(solution) = fit::solve(&trial) {
        let found = Brought { question, problem: &trial, per_l: &solution.g_per_l }.remainders();
        if found.is_empty() {
            last.clear();
            break;
        }
        for &at in &found {
            trial.columns[at].forbid();
        }
        left_out.extend(&found);
        last = found;
    }
    // a limit needs the last ones after all
    left_out.retain(|at| !last.contains(at));
    for &at in &left_out {
        problem.columns[at].forbid();
    }
    Ok(left_out)
}

/// What each part of an answer brings of what is asked.
struct Brought<'q, 'a> {
    question: &'q Question<'a>,
    problem: &'q Problem<'q>,
    per_l: &'q [f64],
}

impl Brought<'_, '_> {
    /// As a share of the target, or of the least.
    fn share(&self, at: usize, want: &fit::Want) -> Option<f64> {
        Some(self.problem.columns[at].ppm_per_g_per_l[want.nutrient] * self.per_l[at] / level(want)?)
    }

    /// The parts that make up only for the last percent.
    fn remainders(&self) -> Vec<usize> {
        let Question { parts, acids, .. } = self.question;
        let drawn: Vec<usize> =
            (0..parts.list.len()).filter(|&at| matches!(parts.list[at], Part::Helper(_)) && self.per_l[at] > 0.0).collect();
        let is_there = |at: &usize| self.per_l[*at] > 0.0 && !acids.contains(at);
        (0..parts.list.len()).filter(|at| is_there(at) && self.is_remainder(*at, &drawn)).collect()
    }

    fn is_remainder(&self, at: usize, drawn: &[usize]) -> bool {
        let parts = &self.question.parts;
        let wants = self.problem.wants.iter();
        let shares: Vec<(f64, &fit::Want)> =
            wants.filter_map(|want| Some((self.share(at, want)?, want))).filter(|(share, _)| *share > 0.0).collect();
        let all_under = |most: f64| shares.iter().all(|(share, _)| *share < most);
        let in_a_bottle = match parts.list[at] {
            Part::Salt(stock) => drawn.iter().any(|&bottle| holds(parts, bottle, &stock) > 0.0),
            Part::Helper(_) => false,
        };
        let others = |want: &fit::Want| {
            let of_bottles: f64 = drawn.iter().filter_map(|&bottle| self.share(bottle, want)).sum();
            let own = if drawn.contains(&at) { self.share(at, want).unwrap_or(0.0) } else { 0.0 };
            self.there(want) + of_bottles - own
        };
        let is_small = parts.too_small(at, self.per_l[at] * self.question.litres());
        let least = if is_small { REMAINDER } else { SMALL_REMAINDER };
        all_under(CRUMB) || all_under(least) && (in_a_bottle || shares.iter().any(|(_, want)| others(want) > OF_BOTTLES))
    }

    /// What the tank holds already, as a share.
    fn there(&self, want: &fit::Want) -> f64 {
        let before = &self.question.tank.before.ppm;
        if self.question.tank.is_fresh { 0.0 } else { level(want).map_or(0.0, |level| before[want.nutrient] / level) }
    }
}

/// What is asked: the target, or the least.
fn level(want: &fit::Want) -> Option<f64> {
    want.target_ppm.or(want.min_ppm).filter(|level| *level > 0.0)
}

/// As [`leave_out_remainders`], of few salts that were chosen: only where the misfit stays as good, since the choice has left out
/// what would stand in.
pub(crate) fn leave_out_crumbs(question: &Question, problem: &mut Problem) -> Result<Vec<usize>, JobError> {
    let mut trial = problem.clone();
    let left_out = leave_out_remainders(question, &mut trial)?;
    if left_out.is_empty() {
        return Ok(left_out);
    }
    let misfit = |problem: &Problem| -> Result<f64, JobError> {
        Ok(fit::solve_misfit(&frozen(question, problem)?).map_or(f64::INFINITY, |solution| solution.misfit))
    };
    if misfit(&trial)? > misfit(problem)? + AS_GOOD {
        return Ok(Vec::new());
    }
    *problem = trial;
    Ok(left_out)
}
