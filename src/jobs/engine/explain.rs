//! Why a target cannot be had, and what would help: every statement confirmed by solving again.

use crate::bench::Formula;
use crate::fit::{self, EcLimits, Limit, Problem, Solution, Want};
use crate::jobs::engine::question::Question;
use crate::jobs::engine::refuse::limit_words;
use crate::jobs::error::JobError;
use crate::matter::{Kind, NUTRIENTS, Nutrient, Nutrients, Salt};
use crate::quantity::ppm_text;
use crate::safety::{self, Finding, Helps, Missed, Partner};
use crate::tank::chemistry::Mixture;
use crate::tank::parts::Part;

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
/// What would help is told when it takes at least this off the misfit, and this share of it.
const HELPS: (f64, f64) = (0.02, 0.1);
/// Salts that are tried by solving, the most promising first.
const TRIED: usize = 12;
/// Partners of a miss that are named, those that free it most.
const PARTNERS: usize = 3;
/// A lower level than this is not told: leaving the element out is another formula.
const LEAST_TOLD_PPM: f64 = 1.0;
/// Misses that are explained, the worst first.
const EXPLAINED: usize = 4;

/// EC by its tangent at the exact mix: an explanation solves dozens of times, and each speciation of a solution that is
/// only supposed would cost more than the fit.
pub(crate) struct EcTangent {
    at_zero: f64,
    pub(crate) slope: Vec<f64>,
}

impl EcTangent {
    /// At amounts `x` per litre; flat where the formula states no limit of EC.
    pub(crate) fn new(mixture: &Mixture, formula: &Formula, x: &[f64]) -> Self {
        if formula.ec.min.is_none() && formula.ec.max.is_none() {
            return Self { at_zero: 0.0, slope: vec![0.0; x.len()] };
        }
        let slope = mixture.ec_slope(x);
        let of_salts: f64 = slope.iter().zip(x).map(|(slope, x)| slope * x).sum();
        Self { at_zero: mixture.ec(x) - of_salts, slope }
    }

    pub(crate) fn ec(&self, x: &[f64]) -> f64 {
        self.at_zero + self.slope.iter().zip(x).map(|(slope, x)| slope * x).sum::<f64>()
    }
}

/// Findings that explain the misses of an exact mix. The problem comes back as it was.
///
/// * `problem`: what `solution` answers, the acid, if any, at the amount that it has there
pub(crate) fn explain(question: &Question, problem: &mut Problem, solution: &Solution) -> Result<Vec<Finding>, JobError> {
    let achieved = problem.achieved_ppm(&solution.g_per_l);
    let mut missed: Vec<(usize, f64)> = problem
        .wants
        .iter()
        .enumerate()
        .filter_map(|(at, want)| want.target_ppm.map(|target| (at, (achieved[want.nutrient] - target) / target)))
        .filter(|(_, off)| off.abs() > MISS)
        .collect();
    if missed.is_empty() {
        return Ok(Vec::new());
    }
    missed.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()).then(a.0.cmp(&b.0)));
    missed.truncate(EXPLAINED);
    let mut found = Vec::new();
    for (at, off) in missed {
        found.push(safety::why_missed(&why(question, problem, solution, at, off)));
    }
    found.extend(what_helps(question, problem, solution)?);
    Ok(found)
}

/// An answer, or nothing where limits contradict.
fn answer(problem: &Problem) -> Option<Solution> {
    fit::solve_misfit(problem).ok()
}

/// What a miss hangs on: the targets and limits whose price is not zero, each let go in turn.
fn why(question: &Question, problem: &mut Problem, solution: &Solution, at: usize, off: f64) -> Missed {
    let wanted = problem.wants[at];
    let nutrient = wanted.nutrient;
    let target = wanted.target_ppm.unwrap_or(0.0);
    let prices = &solution.prices;
    let mut partners: Vec<(f64, Partner)> = Vec::new();
    for other in (0..problem.wants.len()).filter(|&other| other != at) {
        let before = problem.wants[other];
        let Some(asked) = before.target_ppm else { continue };
        // nitrogen and its forms are one thing
        if prices.per_want.get(other).is_none_or(|price| price.abs() < 1e-9)
            || before.nutrient.element() == nutrient.element()
        {
            continue;
        }
        problem.wants[other].weight = FAINT * before.weight;
        let (left, needs) = let_go(problem, at, target, off, |achieved| achieved[before.nutrient]);
        let needs = needs.filter(|level| {
            problem.wants[other] = Want { target_ppm: Some(*level), ..before };
            is_met(problem, at, target)
        });
        problem.wants[other] = before;
        if left < off.abs() * (1.0 - PARTNER) {
            let needs =
                needs.filter(|level| (level - asked).abs() > MET * asked && may_be_told(question, before.nutrient, *level));
            let at = |level: f64| format!("{} at {} ppm", before.nutrient, ppm_text(level));
            partners.push((left, Partner { words: at(asked), would_take: needs.map(at) }));
        }
    }
    for (limit, _) in prices.per_limit.iter().copied() {
        let (Limit::AtLeast(of) | Limit::AtMost(of)) = limit else {
            if let Some(partner) = other_limit(question, problem, at, off, limit) {
                partners.push(partner);
            }
            continue;
        };
        let Some(other) = problem.wants.iter().position(|want| want.nutrient == of) else { continue };
        let before = problem.wants[other];
        match limit {
            Limit::AtLeast(_) => problem.wants[other].min_ppm = None,
            _ => problem.wants[other].max_ppm = None,
        }
        let (left, needs) = let_go(problem, at, target, off, |achieved| achieved[of]);
        let needs = needs.filter(|level| {
            match limit {
                Limit::AtLeast(_) => problem.wants[other].min_ppm = Some(*level),
                _ => problem.wants[other].max_ppm = Some(*level),
            }
            is_met(problem, at, target)
        });
        problem.wants[other] = before;
        if left < off.abs() * (1.0 - PARTNER) {
            let words = limit_words(question, &limit);
            let side = if matches!(limit, Limit::AtLeast(_)) { "at least" } else { "at most" };
            let needs = needs.filter(|level| may_be_told(question, of, *level));
            let would_take = needs.map(|level| format!("{of} {side} {} ppm", ppm_text(level)));
            partners.push((left, Partner { words, would_take }));
        }
    }
    partners.sort_by(|a, b| a.0.total_cmp(&b.0));
    partners.truncate(PARTNERS);
    let brings = |column: &fit::Column| column.most_g_per_l != Some(0.0) && column.ppm_per_g_per_l[nutrient] > 0.0;
    Missed {
        nutrient,
        short: off < 0.0,
        ppm: target * (1.0 + off),
        target_ppm: target,
        supplied: problem.columns.iter().any(brings),
        all_used: problem
            .columns
            .iter()
            .zip(&solution.g_per_l)
            .filter(|(column, _)| brings(column))
            .all(|(column, x)| column.most_g_per_l.is_some_and(|most| *x >= most * (1.0 - 1e-9))),
        partners: partners.into_iter().map(|(_, partner)| partner).collect(),
    }
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
fn is_met(problem: &Problem, at: usize, target: f64) -> bool {
    let nutrient = problem.wants[at].nutrient;
    let off = |solution: &Solution| (problem.achieved_ppm(&solution.g_per_l)[nutrient] - target).abs() / target;
    // the later wishes choose among equal mixes, so all of them are asked
    fit::solve(problem).is_ok_and(|solution| off(&solution) <= CONFIRMED)
}

/// How much of the miss is left with something let go, and at which level that would have to be for the target to be met.
fn let_go(problem: &mut Problem, at: usize, target: f64, off: f64, level: impl Fn(&Nutrients) -> f64) -> (f64, Option<f64>) {
    let nutrient = problem.wants[at].nutrient;
    let miss = |solution: &Solution| (problem.achieved_ppm(&solution.g_per_l)[nutrient] - target) / target;
    let left = answer(problem).map_or(f64::INFINITY, |solution| miss(&solution).abs());
    let before = problem.wants[at];
    if off < 0.0 {
        problem.wants[at].min_ppm = Some(target * (1.0 - MET));
    } else {
        problem.wants[at].max_ppm = Some(target * (1.0 + MET));
    }
    let needs = answer(problem).map(|solution| level(&problem.achieved_ppm(&solution.g_per_l)));
    problem.wants[at] = before;
    (left, needs)
}

/// A limit that is none of a nutrient, let go.
fn other_limit(question: &Question, problem: &mut Problem, at: usize, off: f64, limit: Limit) -> Option<(f64, Partner)> {
    let want = problem.wants[at];
    let target = want.target_ppm?;
    let share = problem.ammonium_share;
    match limit {
        Limit::ShareAtLeast => problem.ammonium_share.min = None,
        Limit::ShareAtMost => problem.ammonium_share.max = None,
        _ => {}
    }
    let ec = matches!(limit, Limit::EcAtLeast | Limit::EcAtMost).then(|| problem.ec.take());
    let left =
        answer(problem).map(|solution| (problem.achieved_ppm(&solution.g_per_l)[want.nutrient] - target).abs() / target);
    problem.ammonium_share = share;
    if let Some(ec) = ec {
        problem.ec = ec;
    }
    let left = left.filter(|left| *left < off.abs() * (1.0 - PARTNER))?;
    Some((left, Partner { words: limit_words(question, &limit), would_take: None }))
}

/// True for what may be proposed: no acid, no base, nothing restricted, silicates only for silicon.
pub(crate) fn may_be_proposed(question: &Question, salt: &Salt) -> bool {
    let silicon = question.formula.wish(Nutrient::Si).is_some_and(|wish| wish.target.is_some() || wish.min.is_some());
    let kind = match salt.kind {
        Kind::Salt | Kind::Chelate => true,
        Kind::Silicate => silicon,
        Kind::Acid | Kind::Base => false,
    };
    kind && !salt.law.restricted && !salt.own_product
}

/// The same question with every salt of the table that may be proposed and is not on the shelf, behind the others.
pub(crate) fn with_candidates<'a>(question: &Question<'a>) -> Result<Question<'a>, JobError> {
    let mut parts = question.parts.clone();
    let there: Vec<String> = (0..parts.list.len()).map(|at| parts.id(at).to_owned()).collect();
    let catalogue = &question.bench.catalogue;
    let candidates = catalogue.salts().iter().filter(|salt| may_be_proposed(question, salt) && !there.contains(&salt.id));
    let stocks: Vec<Part> =
        candidates.filter_map(|salt| catalogue.find(&salt.id)).map(|salt| Part::Salt(question.bench.stock(salt))).collect();
    parts.list.extend(stocks);
    question.with_parts(parts)
}

/// The one or two salts of the table that would help most.
fn what_helps(question: &Question, problem: &Problem, solution: &Solution) -> Result<Vec<Finding>, JobError> {
    let wider = with_candidates(question)?;
    let own = problem.columns.len();
    let mut there = solution.g_per_l.clone();
    there.resize(wider.parts.list.len(), 0.0);
    let tangent = EcTangent::new(&wider.mixture, question.formula, &there);
    let (ec_of, slope_of) = (|x: &[f64]| tangent.ec(x), |_: &[f64]| tangent.slope.clone());
    let mut all = wider.problem(&ec_of, &slope_of);
    all.wants.clone_from(&problem.wants);
    all.water_ppm = problem.water_ppm;
    // what is forbidden on the shelf stays so
    for (column, before) in all.columns.iter_mut().zip(&problem.columns) {
        column.most_g_per_l = before.most_g_per_l;
    }
    all.columns[own..].iter_mut().for_each(|column| column.most_g_per_l = Some(0.0));
    let promising = |solution: &Solution, all: &Problem| -> Vec<usize> {
        let gain = |at: usize| {
            let column = &all.columns[at].ppm_per_g_per_l;
            let unit = all.wants.iter().filter_map(|want| want.target_ppm.map(|target| target / column[want.nutrient]));
            solution.prices.per_column.get(at).map_or(0.0, |price| price * unit.fold(f64::INFINITY, f64::min))
        };
        let mut found: Vec<(f64, usize)> = (own..all.columns.len())
            .map(|at| (gain(at), at))
            .filter(|(gain, _)| *gain < -1e-9 && gain.is_finite())
            .collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        found.into_iter().take(TRIED).map(|(_, at)| at).collect()
    };
    let tried = |all: &mut Problem, at: usize| -> Option<Solution> {
        all.columns[at].most_g_per_l = None;
        let answer = answer(all);
        all.columns[at].most_g_per_l = Some(0.0);
        answer
    };
    // an explanation that the solver cannot give is left out; the mix stands
    let Some(base) = answer(&all) else { return Ok(Vec::new()) };
    let mut singles: Vec<(usize, Solution)> =
        promising(&base, &all).into_iter().filter_map(|at| Some((at, tried(&mut all, at)?))).collect();
    singles.sort_by(|a, b| a.1.misfit.total_cmp(&b.1.misfit).then(a.0.cmp(&b.0)));
    let helps = |before: f64, after: f64| before - after > HELPS.0.max(HELPS.1 * before);
    singles.retain(|(_, with)| helps(solution.misfit, with.misfit));
    let told = |all: &Problem, salts: &[usize], with: &Solution| {
        let salts = salts.iter().map(|&at| {
            let brought = all.columns[at].ppm_per_g_per_l.scaled(with.g_per_l[at]);
            let beside = [Nutrient::Cl, Nutrient::Na, Nutrient::AmmoniumN, Nutrient::UreaN, Nutrient::S]
                .into_iter()
                .filter(|nutrient| brought[*nutrient] > 0.05)
                .map(|nutrient| (nutrient, brought[nutrient]))
                .collect();
            (wider.parts.id(at).to_owned(), beside)
        });
        Helps { salts: salts.collect(), before: solution.misfit, after: with.misfit }
    };
    // the same salt with less water in it is no second help
    let alike = |a: usize, b: usize| {
        let (a, b) = (&all.columns[a].ppm_per_g_per_l, &all.columns[b].ppm_per_g_per_l);
        NUTRIENTS.into_iter().all(|nutrient| (a[nutrient] > 0.0) == (b[nutrient] > 0.0))
    };
    let mut kept: Vec<(usize, Solution)> = Vec::new();
    for (at, with) in singles {
        if !kept.iter().any(|(other, before)| alike(*other, at) && (before.misfit - with.misfit).abs() < 1e-6) {
            kept.push((at, with));
        }
    }
    let singles = kept;
    let mut found: Vec<Helps> = singles.iter().take(2).map(|(at, with)| told(&all, &[*at], with)).collect();
    if let Some((first, with)) = singles.first().filter(|(_, with)| with.misfit > HELPS.0) {
        all.columns[*first].most_g_per_l = None;
        let mut best: Option<(usize, Solution)> = None;
        for at in promising(with, &all) {
            let Some(pair) = tried(&mut all, at) else { continue };
            if best.as_ref().is_none_or(|(_, best)| pair.misfit < best.misfit - 1e-9) {
                best = Some((at, pair));
            }
        }
        if let Some((second, pair)) = best.filter(|(_, pair)| helps(with.misfit, pair.misfit)) {
            found.push(told(&all, &[*first, second], &pair));
        }
    }
    // with a limit of EC the tangent promised, and the chemistry has to keep it
    if let Some(before) = &problem.ec {
        let limits = (before.min_ms_per_cm, before.max_ms_per_cm);
        let (ec_of, slope_of) = (|x: &[f64]| wider.mixture.ec(x), |x: &[f64]| wider.mixture.ec_slope(x));
        all.ec = Some(EcLimits {
            min_ms_per_cm: limits.0,
            max_ms_per_cm: limits.1,
            ec_ms_per_cm: &ec_of,
            slope_ms_per_cm: &slope_of,
        });
        all.columns[own..].iter_mut().for_each(|column| column.most_g_per_l = Some(0.0));
        found.retain(|helps| {
            let at: Vec<usize> =
                (own..all.columns.len()).filter(|&at| helps.salts.iter().any(|(id, _)| id == wider.parts.id(at))).collect();
            for &at in &at {
                all.columns[at].most_g_per_l = None;
            }
            let kept = fit::solve(&all).is_ok_and(|with| with.misfit <= helps.after + 5e-4);
            for &at in &at {
                all.columns[at].most_g_per_l = Some(0.0);
            }
            kept
        });
        return Ok(safety::would_help(&found).into_iter().collect());
    }
    Ok(safety::would_help(&found).into_iter().collect())
}
