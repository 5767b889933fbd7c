//! What would help: salts of the table that are not on the shelf, each confirmed by solving again.

use super::question::{Question, must_not_meet_acid};
use super::tangent::EcTangent;
use super::why::answer;
use crate::fit::{self, EcLimits, Problem, Solution};
use crate::matter::{Kind, NUTRIENTS, Nutrient, Salt};
use crate::quantity::nine_digits;
use crate::safety::{self, Finding, Helps};
use crate::tank::parts::Part;

/// What would help is told when it takes at least this off the misfit, and this share of it.
const HELPS: (f64, f64) = (0.02, 0.1);
/// Elements of which traces are fed.
const TRACES: [Nutrient; 6] = [Nutrient::Fe, Nutrient::Mn, Nutrient::Zn, Nutrient::B, Nutrient::Cu, Nutrient::Mo];
/// A remedy brings no more of a trace element than so often what is asked, and this beside: own choice.
const TRACE_TIMES: f64 = 2.0;
const TRACE_OVER_PPM: f64 = 0.05;
/// Salts that are tried by solving, the most promising first.
const TRIED: usize = 12;

/// True for what may be proposed: no acid, no base, nothing restricted, silicates only for silicon.
pub(crate) fn may_be_proposed(question: &Question, salt: &Salt) -> bool {
    let silicon = question.formula.wish(Nutrient::Si).is_some_and(|wish| wish.target.is_some() || wish.min.is_some());
    let kind = match salt.kind {
        Kind::Salt | Kind::Chelate => true,
        Kind::Silicate => silicon,
        Kind::Acid | Kind::Base => false,
    };
    kind && !salt.law.restricted && !salt.own_product && !must_not_meet_acid(question.bench(), salt)
}

/// The same question with every salt of the table that may be proposed and is not on the shelf, behind the others.
pub(crate) fn with_candidates<'a>(question: &Question<'a>) -> Question<'a> {
    let mut parts = question.parts.clone();
    let there: Vec<String> = (0..parts.list.len()).map(|at| parts.id(at).to_owned()).collect();
    let catalogue = &question.bench().catalogue;
    let candidates = catalogue.salts().iter().filter(|salt| may_be_proposed(question, salt) && !there.contains(&salt.id));
    let stocks: Vec<Part> = candidates
        .filter_map(|salt| catalogue.find(&salt.id))
        .map(|salt| Part::Salt(question.bench().stock(salt)))
        .collect();
    parts.list.extend(stocks);
    question.with_parts(parts)
}

/// The one or two salts of the table that would help most, in so many ways at the most.
pub(super) fn what_helps(question: &Question, problem: &Problem, solution: &Solution, most: usize) -> Vec<Finding> {
    let wider = with_candidates(question);
    let own = problem.columns.len();
    let mut there = solution.g_per_l.clone();
    there.resize(wider.parts.list.len(), 0.0);
    let tangent = EcTangent::new(&wider.mixture, question.formula, &there);
    let mut all = wider.problem(&tangent);
    all.wants.clone_from(&problem.wants);
    all.water_ppm = problem.water_ppm;
    // what is forbidden on the shelf stays so
    for (column, before) in all.columns.iter_mut().zip(&problem.columns) {
        column.most_g_per_l = before.most_g_per_l;
    }
    all.columns[own..].iter_mut().for_each(fit::Column::forbid);
    let promising = |solution: &Solution, all: &Problem| -> Vec<usize> {
        let gain = |at: usize| {
            let column = &all.columns[at].ppm_per_g_per_l;
            let unit = all.wants.iter().filter_map(|want| want.target_ppm.map(|target| target / column[want.nutrient]));
            let gain =
                solution.shadow_prices.per_column.get(at).map_or(0.0, |cost| cost * unit.fold(f64::INFINITY, f64::min));
            // of salts that promise as much the first of the table is tried, whatever the last bits say
            nine_digits(gain)
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
        all.columns[at].forbid();
        answer
    };
    // an explanation that the solver cannot give is left out; the mix stands
    let Some(base) = answer(&all) else { return Vec::new() };
    let mut singles: Vec<(usize, Solution)> =
        promising(&base, &all).into_iter().filter_map(|at| Some((at, tried(&mut all, at)?))).collect();
    singles.sort_by(|a, b| a.1.misfit.total_cmp(&b.1.misfit).then(a.0.cmp(&b.0)));
    let helps = |before: f64, after: f64| before - after > HELPS.0.max(HELPS.1 * before);
    let asked_of = |nutrient| {
        let asked = |want: &fit::Want| want.target_ppm.into_iter().chain(want.min_ppm).fold(0.0, f64::max);
        problem.wants.iter().filter(|want| want.nutrient == nutrient).map(asked).fold(0.0, f64::max)
    };
    // no remedy brings too much of something that was none before, and none is of a trace element for something else in it
    let before = all.achieved_ppm(&there);
    let too_much = |all: &Problem, with: &Solution| {
        let after = all.achieved_ppm(&with.g_per_l);
        let over = |ppm: f64, nutrient| safety::too_much_ppm(nutrient).is_some_and(|most| ppm > most);
        NUTRIENTS.into_iter().any(|nutrient| {
            let is = after[nutrient];
            let most = before[nutrient].max(TRACE_TIMES * asked_of(nutrient)) + TRACE_OVER_PPM;
            over(is, nutrient) && !over(before[nutrient], nutrient) || TRACES.contains(&nutrient) && is > most
        })
    };
    singles.retain(|(_, with)| helps(solution.misfit, with.misfit) && !too_much(&all, with));
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
            if best.as_ref().is_none_or(|(_, best)| pair.misfit < best.misfit - 1e-9) && !too_much(&all, &pair) {
                best = Some((at, pair));
            }
        }
        if let Some((second, pair)) = best.filter(|(_, pair)| helps(with.misfit, pair.misfit)) {
            found.push(told(&all, &[*first, second], &pair));
        }
    }
    // with a limit of EC the tangent promised, and the chemistry has to keep it
    if let Some(before) = &problem.ec {
        all.ec = Some(EcLimits { conducts: &wider.mixture, ..*before });
        all.columns[own..].iter_mut().for_each(fit::Column::forbid);
        found.retain(|helps| {
            let at: Vec<usize> =
                (own..all.columns.len()).filter(|&at| helps.salts.iter().any(|(id, _)| id == wider.parts.id(at))).collect();
            for &at in &at {
                all.columns[at].most_g_per_l = None;
            }
            let kept = fit::solve(&all).is_ok_and(|with| with.misfit <= helps.after + 5e-4);
            for &at in &at {
                all.columns[at].forbid();
            }
            kept
        });
    }
    found.truncate(most);
    safety::would_help(&found).into_iter().collect()
}
