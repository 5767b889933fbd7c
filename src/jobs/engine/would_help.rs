//! What would help: salts of the table that are not on the shelf, each confirmed by solving again.

use super::bottles::is_hard;
use super::question::{Question, must_not_meet_acid};
use super::tangent::EcTangent;
use crate::fit::{self, EcLimits, Problem, Solution};
use crate::matter::{Kind, NUTRIENTS, Nutrient, Nutrients, Salt};
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
    // bare iron falls out of a water with alkalinity
    let falls_out =
        salt.kind == Kind::Salt && salt.composition.nutrients[Nutrient::Fe] > 0.0 && is_hard(&question.bench().water);
    kind && !falls_out && !salt.law.restricted && !salt.own_product && !must_not_meet_acid(question.bench(), salt)
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
    let mut there = solution.g_per_l.clone();
    there.resize(wider.parts.list.len(), 0.0);
    let tangent = EcTangent::new(&wider.mixture, question.formula, &there);
    let mut table = Table::new(&wider, wider.problem(&tangent), problem, &there, solution.misfit);
    // an explanation that the solver cannot give is left out; the mix stands
    let Some(base) = fit::solve_misfit(&table.all).ok() else { return Vec::new() };
    let singles = table.singles(&base);
    let mut found: Vec<Helps> = singles.iter().take(2).map(|(at, with)| table.told(&[*at], with)).collect();
    if let Some((first, with)) = singles.first().filter(|(_, with)| with.misfit > HELPS.0)
        && let Some((second, pair)) = table.second(*first, with)
    {
        found.push(table.told(&[*first, second], &pair));
    }
    // with a limit of EC the tangent promised, and the chemistry has to keep it
    if let Some(before) = &problem.ec {
        table.all.ec = Some(EcLimits { conducts: &wider.mixture, ..*before });
        found.retain(|helps| table.keeps(helps));
    }
    found.truncate(most);
    let asked = question.formula.wishes.iter().filter(|wish| wish.target.is_some()).count();
    let apart = question.wants.iter().filter(|want| want.target_ppm.is_some()).count() < asked;
    safety::would_help(&found, apart).into_iter().collect()
}

/// True for a misfit that is less by what is worth telling.
fn helps(before: f64, after: f64) -> bool {
    before - after > HELPS.0.max(HELPS.1 * before)
}

/// The salts of the table beside those of the shelf, each forbidden until it is tried.
struct Table<'t, 'a> {
    wider: &'t Question<'a>,
    all: Problem<'t>,
    /// Columns of the shelf, which stand first.
    own: usize,
    /// What is there without them, ppm, and the misfit.
    before_ppm: Nutrients,
    misfit: f64,
}

impl<'t, 'a> Table<'t, 'a> {
    /// * `all`: the problem of everything, `problem`: that of the shelf, `there`: its answer
    fn new(wider: &'t Question<'a>, mut all: Problem<'t>, problem: &Problem, there: &[f64], misfit: f64) -> Self {
        let own = problem.columns.len();
        all.wants.clone_from(&problem.wants);
        all.water_ppm = problem.water_ppm;
        // what is forbidden on the shelf stays so
        for (column, before) in all.columns.iter_mut().zip(&problem.columns) {
            column.most_g_per_l = before.most_g_per_l;
        }
        all.columns[own..].iter_mut().for_each(fit::Column::forbid);
        let before_ppm = all.achieved_ppm(there);
        Self { wider, all, own, before_ppm, misfit }
    }

    /// Columns that promise most beside a solution, the most promising first.
    fn promising(&self, solution: &Solution) -> Vec<usize> {
        let gain = |at: usize| {
            let column = &self.all.columns[at].ppm_per_g_per_l;
            let wants = self.all.wants.iter();
            let unit = wants.filter_map(|want| want.target_ppm.map(|target| target / column[want.nutrient]));
            let gain =
                solution.shadow_prices.per_column.get(at).map_or(0.0, |cost| cost * unit.fold(f64::INFINITY, f64::min));
            // of salts that promise as much the first of the table is tried, whatever the last bits say
            nine_digits(gain)
        };
        let all = (self.own..self.all.columns.len()).map(|at| (gain(at), at));
        let mut found: Vec<(f64, usize)> = all.filter(|(gain, _)| *gain < -1e-9 && gain.is_finite()).collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        found.into_iter().take(TRIED).map(|(_, at)| at).collect()
    }

    /// The fit with one more of them.
    fn tried(&mut self, at: usize) -> Option<Solution> {
        self.all.columns[at].most_g_per_l = None;
        let answer = fit::solve_misfit(&self.all).ok();
        self.all.columns[at].forbid();
        answer
    }

    /// Those that help by themselves, the best first; of salts that are the same but for the water in them one.
    fn singles(&mut self, base: &Solution) -> Vec<(usize, Solution)> {
        let promising = self.promising(base);
        let mut tried: Vec<(usize, Solution)> = promising.into_iter().filter_map(|at| Some((at, self.tried(at)?))).collect();
        // as it is told: what comes as near the table puts in order, else a minute of the day would
        let as_told = |with: &Solution| (with.misfit * 1e3).round();
        tried.sort_by(|a, b| as_told(&a.1).total_cmp(&as_told(&b.1)).then(a.0.cmp(&b.0)));
        tried.retain(|(_, with)| helps(self.misfit, with.misfit) && !self.brings_too_much(with));
        let mut kept: Vec<(usize, Solution)> = Vec::new();
        for (at, with) in tried {
            let is_same = |(other, before): &(usize, Solution)| {
                self.are_alike(*other, at) && (before.misfit - with.misfit).abs() < 1e-6
            };
            if !kept.iter().any(is_same) {
                kept.push((at, with));
            }
        }
        kept
    }

    /// The one that helps most beside another.
    fn second(&mut self, first: usize, with: &Solution) -> Option<(usize, Solution)> {
        self.all.columns[first].most_g_per_l = None;
        let mut best: Option<(usize, Solution)> = None;
        for at in self.promising(with) {
            let Some(pair) = self.tried(at) else { continue };
            if best.as_ref().is_none_or(|(_, best)| pair.misfit < best.misfit - 1e-9) && !self.brings_too_much(&pair) {
                best = Some((at, pair));
            }
        }
        self.all.columns[first].forbid();
        best.filter(|(_, pair)| helps(with.misfit, pair.misfit))
    }

    /// True where a remedy brings too much of something that was none before, or is of a trace element for something else in it.
    fn brings_too_much(&self, with: &Solution) -> bool {
        let asked_of = |nutrient| {
            let asked = |want: &fit::Want| want.target_ppm.into_iter().chain(want.min_ppm).fold(0.0, f64::max);
            self.all.wants.iter().filter(|want| want.nutrient == nutrient).map(asked).fold(0.0, f64::max)
        };
        let after = self.all.achieved_ppm(&with.g_per_l);
        // what plants hardly take up piles up from one filling up to the next
        let most = |nutrient| {
            if nutrient == Nutrient::Na { Some(safety::SODIUM_TOPPED_UP_PPM) } else { safety::too_much_ppm(nutrient) }
        };
        let over = |ppm: f64, nutrient| most(nutrient).is_some_and(|most| ppm > most);
        NUTRIENTS.into_iter().any(|nutrient| {
            let (is, was) = (after[nutrient], self.before_ppm[nutrient]);
            let most = was.max(TRACE_TIMES * asked_of(nutrient)) + TRACE_OVER_PPM;
            over(is, nutrient) && !over(was, nutrient) || TRACES.contains(&nutrient) && is > most
        })
    }

    /// True for salts of the same elements.
    fn are_alike(&self, a: usize, b: usize) -> bool {
        let (a, b) = (&self.all.columns[a].ppm_per_g_per_l, &self.all.columns[b].ppm_per_g_per_l);
        NUTRIENTS.into_iter().all(|nutrient| (a[nutrient] > 0.0) == (b[nutrient] > 0.0))
    }

    fn told(&self, salts: &[usize], with: &Solution) -> Helps {
        let salts = salts.iter().map(|&at| {
            let brought = self.all.columns[at].ppm_per_g_per_l.scaled(with.g_per_l[at]);
            let beside = [Nutrient::Cl, Nutrient::Na, Nutrient::AmmoniumN, Nutrient::UreaN, Nutrient::S]
                .into_iter()
                .filter(|nutrient| brought[*nutrient] > 0.05)
                .map(|nutrient| (nutrient, brought[nutrient]))
                .collect();
            (self.wider.parts.id(at).to_owned(), beside)
        });
        Helps { salts: salts.collect(), before: self.misfit, after: with.misfit }
    }

    /// True where the fit with all wishes comes as close as was told.
    fn keeps(&mut self, told: &Helps) -> bool {
        let is_told = |at: &usize| told.salts.iter().any(|(id, _)| id == self.wider.parts.id(*at));
        let salts: Vec<usize> = (self.own..self.all.columns.len()).filter(is_told).collect();
        for &at in &salts {
            self.all.columns[at].most_g_per_l = None;
        }
        let kept = fit::solve(&self.all).is_ok_and(|with| with.misfit <= told.after + 5e-4);
        for &at in &salts {
            self.all.columns[at].forbid();
        }
        kept
    }
}
