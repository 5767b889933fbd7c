//! Why a target cannot be had: what runs short, and what a miss hangs on, every statement confirmed by solving again.

use super::AS_GOOD;
use super::exact::Exact;
use super::question::Question;
use super::refuse::{job_error, limit_words};
use super::tangent::EcTangent;
use super::would_help::what_helps;
use crate::fit::{self, Limit, Problem, Solution, Want};
use crate::jobs::engine::question::MixOptions;
use crate::jobs::error::JobError;
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::ppm_text;
use crate::safety::{self, Finding, Missed, Partner};
use crate::tank::parts::Part;

/// A misfit that falls by more than this is nearer.
const NEARER: f64 = 1e-4;

/// A miss of a target under this fraction is not explained.
const MISS: f64 = 0.01;
/// A target counts as met within this fraction.
const MET: f64 = 1e-4;
/// A level that is told is confirmed when the target is then met within this fraction.
const CONFIRMED: f64 = 1e-3;
/// A partner is named when the miss shrinks by this share once it gives way.
const PARTNER: f64 = 0.1;
/// A target that gives way still counts this little, so that it moves no further than it must.
const FAINT: f64 = 1e-4;
/// Partners of a miss that are named, those that free it most.
const PARTNERS: usize = 3;
/// A lower level than this is not told: leaving the element out is another formula.
const LEAST_TOLD_PPM: f64 = 1.0;
/// What is proposed at the most: other levels, and salts that would help. More is not read.
const PROPOSALS: usize = 3;
/// Of them levels at which a miss would be met; the rest is for salts.
const LEVELS_TOLD: usize = 2;
/// Misses that are explained, the worst first.
const EXPLAINED: usize = 4;

/// What runs short, why targets are missed and what would help. With few salts on purpose the misses explain themselves.
pub(crate) fn explained(question: &Question, exact: &Exact, options: &MixOptions) -> Result<Vec<Finding>, JobError> {
    let solution = &exact.solution;
    let without_reasons = options.salts_at_most.is_some() || options.without_reasons;
    if without_reasons && solution.misfit <= NEARER {
        return Ok(Vec::new());
    }
    let tangent = EcTangent::new(&question.mixture, question.formula, &solution.g_per_l);
    let mut problem = question.problem(&tangent);
    exact.left_out.iter().for_each(|&at| problem.columns[at].forbid());
    // the pH has settled the acid: what it brings counts as brought by the water
    for &at in &question.acids {
        let brought = problem.columns[at].ppm_per_g_per_l;
        problem.water_ppm.add(&brought, solution.g_per_l[at]);
        problem.columns[at].forbid();
    }
    let mut found = runs_short(question, &mut problem, solution, options);
    if without_reasons {
        return Ok(found);
    }
    found.extend(if question.acids.is_empty() {
        explain(question, &mut problem, solution)
    } else {
        let without = fit::solve(&problem).map_err(|error| job_error(question, &problem, error))?;
        explain(question, &mut problem, &without)
    });
    Ok(found)
}

/// What goes in to the last of it, where more would bring the mix nearer. The problem comes back as it was.
fn runs_short(question: &Question, problem: &mut Problem, solution: &Solution, options: &MixOptions) -> Vec<Finding> {
    let (parts, litres) = (&question.parts, question.litres());
    let all_goes_in = |at: &usize| {
        let there_is = parts.there_is(*at).map(|there_is| there_is / litres);
        !question.acids.contains(at)
            && there_is.is_some_and(|most| most > 0.0 && solution.g_per_l[*at] >= most * (1.0 - 1e-9))
    };
    let short: Vec<usize> = (0..parts.list.len()).filter(all_goes_in).collect();
    if short.is_empty() || solution.misfit <= NEARER {
        return Vec::new();
    }
    let before: Vec<Option<f64>> = problem.columns.iter().map(|column| column.most_g_per_l).collect();
    if options.salts_at_most.is_some() {
        let unused = problem.columns.iter_mut().zip(&solution.g_per_l).filter(|(_, amount)| **amount <= 0.0);
        unused.for_each(|(column, _)| column.forbid());
    }
    let mut found = Vec::new();
    for at in short {
        let is_bottle = matches!(parts.list[at], Part::Helper(_));
        let most = problem.columns[at].most_g_per_l;
        problem.columns[at].most_g_per_l = is_bottle.then(|| parts.room_ml() / litres);
        if fit::solve_misfit(problem).is_ok_and(|with| with.misfit < solution.misfit - AS_GOOD) {
            found.push(safety::shelf_runs_short(parts.name(at), solution.g_per_l[at] * litres, is_bottle));
        }
        problem.columns[at].most_g_per_l = most;
    }
    problem.columns.iter_mut().zip(before).for_each(|(column, most)| column.most_g_per_l = most);
    found
}

/// Findings that explain the misses of an exact mix. The problem comes back as it was.
///
/// * `problem`: what `solution` answers, the acid, if any, at the amount that it has there
fn explain(question: &Question, problem: &mut Problem, solution: &Solution) -> Vec<Finding> {
    let achieved = problem.achieved_ppm(&solution.g_per_l);
    let mut missed: Vec<(usize, f64)> = problem
        .wants
        .iter()
        .enumerate()
        .filter_map(|(at, want)| want.target_ppm.map(|target| (at, (achieved[want.nutrient] - target) / target)))
        .filter(|(_, off)| off.abs() > MISS)
        .collect();
    if missed.is_empty() {
        return Vec::new();
    }
    missed.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()).then(a.0.cmp(&b.0)));
    missed.truncate(EXPLAINED);
    let mut misses: Vec<Missed> = missed.into_iter().map(|(at, off)| why(question, problem, solution, at, off)).collect();
    misses.iter_mut().filter(|missed| missed.by_itself().is_some()).for_each(|missed| missed.partners.clear());
    let mut causes = by_cause(misses);
    let levels = causes.iter_mut().flatten().flat_map(|missed| &mut missed.partners).filter(|one| one.would_take.is_some());
    levels.skip(LEVELS_TOLD).for_each(|partner| partner.would_take = None);
    let told = causes.iter().flatten().flat_map(|missed| &missed.partners).filter(|one| one.would_take.is_some()).count();
    let mut found: Vec<Finding> =
        causes.iter().filter_map(|cause| cause.split_first()).map(|(first, rest)| safety::why_missed(first, rest)).collect();
    found.extend(what_helps(question, problem, solution, PROPOSALS - told));
    found
}

/// Misses by their causes, the worst of each first.
fn by_cause(misses: Vec<Missed>) -> Vec<Vec<Missed>> {
    let mut causes: Vec<Vec<Missed>> = Vec::new();
    for missed in misses {
        match causes.iter_mut().find(|cause| cause[0].is_cause_of(&missed)) {
            Some(cause) => cause.push(missed),
            None => causes.push(vec![missed]),
        }
    }
    causes
}

/// An answer, or nothing where limits contradict.
fn answer(problem: &Problem) -> Option<Solution> {
    fit::solve_misfit(problem).ok()
}

/// A target that is missed, and by which share of it.
#[derive(Clone, Copy)]
struct Miss {
    want: usize,
    target: f64,
    off: f64,
}

impl Miss {
    /// True where so much of it being left is worth naming what gave way.
    fn shrinks_to(&self, left: f64) -> bool {
        left < self.off.abs() * (1.0 - PARTNER)
    }
}

/// What is over is there already where this share of it is: own choice.
const NEARLY_ALL: f64 = 0.95;

/// What a miss hangs on: the targets and limits whose price is not zero, each let go in turn.
fn why(question: &Question, problem: &mut Problem, solution: &Solution, at: usize, off: f64) -> Missed {
    let wanted = problem.wants[at];
    let nutrient = wanted.nutrient;
    let target = wanted.target_ppm.unwrap_or(0.0);
    let miss = Miss { want: at, target, off };
    let prices = &solution.shadow_prices;
    let has_price = |other: usize| prices.per_want.get(other).is_some_and(|price| price.abs() >= 1e-9);
    // nitrogen and its forms are one thing
    let is_other = |other: usize| other != at && problem.wants[other].nutrient.element() != nutrient.element();
    let others: Vec<usize> = (0..problem.wants.len()).filter(|&other| is_other(other) && has_price(other)).collect();
    let mut partners: Vec<(f64, Partner)> =
        others.into_iter().filter_map(|other| target_let_go(question, problem, miss, other)).collect();
    partners.extend(prices.per_limit.iter().filter_map(|(limit, _)| match limit {
        Limit::AtLeast(of) | Limit::AtMost(of) => limit_let_go(question, problem, miss, *limit, *of),
        _ => other_limit(question, problem, miss, *limit),
    }));
    partners.sort_by(|a, b| a.0.total_cmp(&b.0));
    partners.truncate(PARTNERS);
    let brings = |column: &fit::Column| !column.is_forbidden() && column.ppm_per_g_per_l[nutrient] > 0.0;
    let used_up = |(column, x): (&fit::Column, &f64)| column.most_g_per_l.is_some_and(|most| *x >= most * (1.0 - 1e-9));
    let there = problem.achieved_ppm(&vec![0.0; problem.columns.len()])[nutrient];
    Missed {
        nutrient,
        short: off < 0.0,
        ppm: target * (1.0 + off),
        target_ppm: target,
        supplied: problem.columns.iter().any(brings),
        there: (0..question.parts.list.len())
            .any(|part| !question.acids.contains(&part) && question.parts.composition(part).nutrients[nutrient] > 0.0),
        held: !question.tank.is_fresh && there > target && there > NEARLY_ALL * target * (1.0 + off),
        all_used: problem.columns.iter().zip(&solution.g_per_l).filter(|(column, _)| brings(column)).all(used_up),
        partners: partners.into_iter().map(|(_, partner)| partner).collect(),
    }
}

/// Another target, let go.
fn target_let_go(question: &Question, problem: &mut Problem, miss: Miss, other: usize) -> Option<(f64, Partner)> {
    let before = problem.wants[other];
    let asked = before.target_ppm?;
    problem.wants[other].weight = FAINT * before.weight;
    let (left, needs) = let_go(problem, miss, |achieved| achieved[before.nutrient]);
    let needs = needs.filter(|level| {
        problem.wants[other] = Want { target_ppm: Some(*level), ..before };
        is_met(problem, miss)
    });
    problem.wants[other] = before;
    let needs = needs.filter(|level| (level - asked).abs() > MET * asked && may_be_told(question, before.nutrient, *level));
    let at = |level: f64| format!("{} at {} ppm", before.nutrient, ppm_text(level));
    miss.shrinks_to(left).then(|| (left, Partner { words: at(asked), would_take: needs.map(at) }))
}

/// A limit of a nutrient, let go.
fn limit_let_go(
    question: &Question,
    problem: &mut Problem,
    miss: Miss,
    limit: Limit,
    of: Nutrient,
) -> Option<(f64, Partner)> {
    let other = problem.wants.iter().position(|want| want.nutrient == of)?;
    let before = problem.wants[other];
    let is_lower = matches!(limit, Limit::AtLeast(_));
    let with = |level: Option<f64>| {
        if is_lower { Want { min_ppm: level, ..before } } else { Want { max_ppm: level, ..before } }
    };
    problem.wants[other] = with(None);
    let (left, needs) = let_go(problem, miss, |achieved| achieved[of]);
    let needs = needs.filter(|level| {
        problem.wants[other] = with(Some(*level));
        is_met(problem, miss)
    });
    problem.wants[other] = before;
    let side = if is_lower { "at least" } else { "at most" };
    let needs = needs.filter(|level| may_be_told(question, of, *level));
    let would_take = needs.map(|level| format!("{of} {side} {} ppm", ppm_text(level)));
    miss.shrinks_to(left).then(|| (left, Partner { words: limit_words(question, &limit), would_take }))
}

/// True for a level that may be named as a way out: a large element, a target that can be stated, and no limit of EC, which
/// an explanation knows by its tangent only. Trace elements are never offered at other levels, which may do harm.
fn may_be_told(question: &Question, nutrient: Nutrient, level: f64) -> bool {
    let trace = matches!(
        nutrient,
        Nutrient::Fe | Nutrient::Mn | Nutrient::Zn | Nutrient::B | Nutrient::Cu | Nutrient::Mo | Nutrient::Si
    );
    let ec = question.formula.ec;
    !trace && level >= LEAST_TOLD_PPM && ec.min.is_none() && ec.max.is_none()
}

/// True when the best mix meets a target: what makes it possible need not make it worth its price elsewhere.
fn is_met(problem: &Problem, miss: Miss) -> bool {
    // the later wishes choose among equal mixes, so all of them are asked
    fit::solve(problem).is_ok_and(|solution| off(problem, miss, &solution) <= CONFIRMED)
}

/// How far a mix is off the target that is missed, as a share of it.
fn off(problem: &Problem, miss: Miss, solution: &Solution) -> f64 {
    let nutrient = problem.wants[miss.want].nutrient;
    (problem.achieved_ppm(&solution.g_per_l)[nutrient] - miss.target).abs() / miss.target
}

/// How much of the miss is left with something let go, and at which level that would have to be for the target to be met.
fn let_go(problem: &mut Problem, miss: Miss, level: impl Fn(&Nutrients) -> f64) -> (f64, Option<f64>) {
    let left = answer(problem).map_or(f64::INFINITY, |solution| off(problem, miss, &solution));
    let before = problem.wants[miss.want];
    if miss.off < 0.0 {
        problem.wants[miss.want].min_ppm = Some(miss.target * (1.0 - MET));
    } else {
        problem.wants[miss.want].max_ppm = Some(miss.target * (1.0 + MET));
    }
    let needs = answer(problem).map(|solution| level(&problem.achieved_ppm(&solution.g_per_l)));
    problem.wants[miss.want] = before;
    (left, needs)
}

/// A limit that is none of a nutrient, let go.
fn other_limit(question: &Question, problem: &mut Problem, miss: Miss, limit: Limit) -> Option<(f64, Partner)> {
    let share = problem.ammonium_share;
    match limit {
        Limit::ShareAtLeast => problem.ammonium_share.min = None,
        Limit::ShareAtMost => problem.ammonium_share.max = None,
        _ => {}
    }
    let ec = matches!(limit, Limit::EcAtLeast | Limit::EcAtMost).then(|| problem.ec.take());
    let left = answer(problem).map(|solution| off(problem, miss, &solution));
    problem.ammonium_share = share;
    if let Some(ec) = ec {
        problem.ec = ec;
    }
    let left = left.filter(|left| miss.shrinks_to(*left))?;
    Some((left, Partner { words: limit_words(question, &limit), would_take: None }))
}
