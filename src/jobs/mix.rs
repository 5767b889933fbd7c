//! What to weigh for a fresh tank of a formula.

use crate::bench::{Acid, Basis, Bench, Formula};
use crate::fit::{self, FitError, Ladder, Problem, Proof, Solution, Want};
use crate::jobs::engine::acid::{Soured, Undosed, answered, ph, soured, tank_open, undosed};
use crate::jobs::engine::bottles::{self, Proposed};
use crate::jobs::engine::explain::{EcTangent, explain};
use crate::jobs::engine::few::keep_few;
use crate::jobs::engine::question::{Prefer, Question, formula as formula_called};
use crate::jobs::engine::refuse::{job_error, limit_words};
use crate::jobs::engine::sweep::{leave_out_remainders, sweep};
use crate::jobs::error::JobError;
use crate::jobs::record::describe::{Made, describe};
use crate::jobs::record::{AcidRecord, MixRecord, StageRecord};
use crate::matter::{Kind, Nutrient};
use crate::quantity::ppm_of;
use crate::safety::{self, Finding};
use crate::solution::{Air, MeterScale};
use crate::tank::chemistry::{Mixture, slips, volume_deviation};
use crate::tank::instrument::{Measured, finest, instruments, ladder, measured};
use crate::tank::parts::{Part, Parts};
use crate::tank::{Holding, Measure};

/// What else is wished of a mix.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MixOptions {
    /// Adds the reading of a meter that shows a dissolved-solids scale instead of EC.
    pub meter: Option<MeterScale>,
    /// The most salts of the shelf that may go in; bottles already made and the acid are not counted.
    pub salts_at_most: Option<usize>,
    /// The third wish.
    pub prefer: Option<Prefer>,
    /// Leaves out why targets are missed and what would help.
    pub without_reasons: bool,
}

/// What to weigh for a fresh tank of `formula`, what the meter should read, what to watch and how to handle the salts.
///
/// # Errors
/// [`JobError`]: no such formula, nothing to mix from, limits that contradict each other, or a failure of our own.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs};
/// let mix = jobs::mix(&Bench::starter(), "growth", &jobs::MixOptions::default())?;
/// assert!(mix.misfit_exact.is_some_and(|misfit| misfit < 1e-9));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn mix(bench: &Bench, formula: &str, options: &MixOptions) -> Result<MixRecord, JobError> {
    mix_within(bench, formula, options, &[])
}

/// As [`mix`], the exact amounts kept within limits of their own beside those of the formula; without any, within those alone.
pub(super) fn mix_within(
    bench: &Bench,
    formula: &str,
    options: &MixOptions,
    within: &[Want],
) -> Result<MixRecord, JobError> {
    let formula = formula_called(bench, formula)?;
    let mut question = Question::new(bench, formula, options.prefer)?;
    if !within.is_empty() {
        question.wants = within.to_vec();
    }
    let exact = exact(&question, options)?;
    let weighed = weigh(&question, &exact.solution)?;
    let mut findings = exact.findings.clone();
    findings.extend(explained(&question, &exact, options)?);
    findings.extend(why_closer(&question, &exact.solution, &weighed));
    findings.extend(weighed.findings);
    let stages = exact
        .solution
        .stages
        .iter()
        .map(|stage| StageRecord { wish: stage.wish.to_owned(), value: stage.value, unit: stage.unit.to_owned() })
        .collect();
    let mut exact_g_per_l = exact.solution.g_per_l;
    exact_g_per_l.resize(weighed.parts.list.len(), 0.0);
    let made = Made {
        job: "mix",
        bench,
        formula: Some(formula),
        parts: &weighed.parts,
        exact_per_l: &exact_g_per_l,
        measured: &weighed.measured,
        proposed: &weighed.proposed,
        misfit_exact: Some((exact.solution.misfit, exact.solution.proof)),
        proved: weighed.proved,
        stages,
        acid: exact.acid,
        findings,
    };
    describe(&made, options.meter)
}

/// The parts of a mix as weighed out, and their amounts per litre in the unit of each part.
pub(super) fn weighed_out<'a>(
    bench: &'a Bench,
    formula: &str,
    options: &MixOptions,
) -> Result<(Parts<'a>, Vec<f64>), JobError> {
    let question = Question::new(bench, formula_called(bench, formula)?, options.prefer)?;
    let exact = exact(&question, options)?;
    let weighed = weigh(&question, &exact.solution)?;
    let amounts = weighed.measured.iter().map(|measured| measured.amount / question.litres()).collect();
    Ok((weighed.parts, amounts))
}

/// The content of a tank freshly mixed to a formula of the bench, as it is weighed out, after days in air.
///
/// # Errors
/// As [`mix`].
pub fn mixed(bench: &Bench, formula: &str) -> Result<Holding, JobError> {
    let (parts, amounts) = weighed_out(bench, formula, &MixOptions::default())?;
    Ok(Holding::of_parts(bench, &parts, &amounts, Air::Open, format!("{formula}, as weighed out"))?)
}

/// The misfit of the exact mix, its acid included; infinite where limits cannot be kept or nothing can be mixed from.
pub(super) fn exact_misfit(bench: &Bench, formula: &str) -> Result<f64, JobError> {
    let question = Question::new(bench, formula_called(bench, formula)?, None)?;
    let mixture = &question.mixture;
    let (ec_of, slope_of) = (|x: &[f64]| mixture.ec(x), |x: &[f64]| mixture.ec_slope(x));
    let mut problem = question.problem(&ec_of, &slope_of);
    match answered(&question, &mut problem, None)? {
        Ok(answer) => Ok(answer.solution.misfit),
        Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => Ok(f64::INFINITY),
        Err(error) => Err(job_error(&question, &problem, error)),
    }
}

/// A misfit that falls by more than this is nearer.
const NEARER: f64 = 1e-4;

/// What runs short, why targets are missed and what would help. With few salts on purpose the misses explain themselves.
pub(super) fn explained(question: &Question, exact: &Exact, options: &MixOptions) -> Result<Vec<Finding>, JobError> {
    let solution = &exact.solution;
    let without_reasons = options.salts_at_most.is_some() || options.without_reasons;
    if without_reasons && solution.misfit <= NEARER {
        return Ok(Vec::new());
    }
    let tangent = EcTangent::new(&question.mixture, question.formula, &solution.g_per_l);
    let (ec_of, slope_of) = (|x: &[f64]| tangent.ec(x), |_: &[f64]| tangent.slope.clone());
    let mut problem = question.problem(&ec_of, &slope_of);
    exact.left_out.iter().for_each(|&at| problem.columns[at].most_g_per_l = Some(0.0));
    // the pH has settled the acid: what it brings counts as brought by the water
    if let Some(at) = question.acid {
        let brought = problem.columns[at].ppm_per_g_per_l;
        problem.water_ppm.add(&brought, solution.g_per_l[at]);
        problem.columns[at].most_g_per_l = Some(0.0);
    }
    let mut found = runs_short(question, &mut problem, solution, options);
    if without_reasons {
        return Ok(found);
    }
    found.extend(if question.acid.is_some() {
        let without = fit::solve(&problem).map_err(|error| job_error(question, &problem, error))?;
        explain(question, &mut problem, &without)?
    } else {
        explain(question, &mut problem, solution)?
    });
    Ok(found)
}

/// What goes in to the last of it, where more would bring the mix nearer. The problem comes back as it was.
fn runs_short(question: &Question, problem: &mut Problem, solution: &Solution, options: &MixOptions) -> Vec<Finding> {
    let (parts, litres) = (&question.parts, question.litres());
    let all_goes_in = |at: &usize| {
        let there_is = parts.there_is(*at).map(|there_is| there_is / litres);
        question.acid != Some(*at) && there_is.is_some_and(|most| most > 0.0 && solution.g_per_l[*at] >= most * (1.0 - 1e-9))
    };
    let short: Vec<usize> = (0..parts.list.len()).filter(all_goes_in).collect();
    if short.is_empty() || solution.misfit <= NEARER {
        return Vec::new();
    }
    let before: Vec<Option<f64>> = problem.columns.iter().map(|column| column.most_g_per_l).collect();
    if options.salts_at_most.is_some() {
        let unused = problem.columns.iter_mut().zip(&solution.g_per_l).filter(|(_, amount)| **amount <= 0.0);
        unused.for_each(|(column, _)| column.most_g_per_l = Some(0.0));
    }
    let mut found = Vec::new();
    for at in short {
        let is_bottle = matches!(parts.list[at], Part::Helper(_));
        let most = problem.columns[at].most_g_per_l;
        problem.columns[at].most_g_per_l = is_bottle.then(|| parts.room_ml() / litres);
        if fit::solve_misfit(problem).is_ok_and(|with| with.misfit < solution.misfit - NEARER) {
            found.push(safety::shelf_runs_short(parts.name(at), solution.g_per_l[at] * litres, is_bottle));
        }
        problem.columns[at].most_g_per_l = most;
    }
    problem.columns.iter_mut().zip(before).for_each(|(column, most)| column.most_g_per_l = most);
    found
}

/// The exact answer to a question.
pub(super) struct Exact {
    pub(super) solution: Solution,
    pub(super) acid: Option<AcidRecord>,
    pub(super) findings: Vec<Finding>,
    /// Parts left out because bottles bring all but a little of the same.
    left_out: Vec<usize>,
}

/// Fits the formula, with the acid where one is named.
pub(super) fn exact(question: &Question, options: &MixOptions) -> Result<Exact, JobError> {
    let mut exact = fitted(question, options)?;
    let (no_ec, no_slope) = (|_: &[f64]| 0.0, |_: &[f64]| Vec::new());
    sweep(&question.problem(&no_ec, &no_slope), &mut exact.solution, question.acid);
    Ok(exact)
}

fn fitted(question: &Question, options: &MixOptions) -> Result<Exact, JobError> {
    let Question { bench, formula, parts, mixture, .. } = question;
    let (ec_of, slope_of) = (|x: &[f64]| mixture.ec(x), |x: &[f64]| mixture.ec_slope(x));
    let mut problem = question.problem(&ec_of, &slope_of);
    let mut findings = match keep_few(question, &mut problem, options) {
        Ok(findings) => findings,
        Err(error) => return Err(job_error(question, &problem, error)),
    };
    let left_out = leave_out_remainders(question, &mut problem);
    let solve = |problem: &Problem| fit::solve(problem).map_err(|error| job_error(question, problem, error));
    let Some((at, acid)) = question.acid.zip(bench.acid.as_ref()) else {
        return Ok(Exact { solution: solve(&problem)?, acid: None, findings, left_out });
    };
    if tank_open(question) {
        findings.push(safety::acid_not_reckoned_in_tank());
        problem.columns[at].most_g_per_l = Some(0.0);
        return Ok(Exact { solution: solve(&problem)?, acid: None, findings, left_out });
    }
    let mut on = |basis| match soured(&mut problem, mixture, acid, basis, at, None)? {
        Ok(soured) => Ok(soured),
        Err(error) => Err(job_error(question, &problem, error)),
    };
    let (fresh, aired) = (on(Basis::Fresh)?, on(Basis::Aired)?);
    let amount = |soured: &Soured| soured.met.then(|| soured.solution.g_per_l[at] * question.litres());
    let record = acid_record(parts, at, acid, amount(&fresh), amount(&aired));
    let chosen = if acid.basis == Basis::Fresh { fresh } else { aired };
    if let Some(why) = undosed(question, at, &chosen.solution.g_per_l) {
        problem.columns[at].most_g_per_l = Some(0.0);
        let (finding, acid) = match why {
            Undosed::Blind => (
                match mixture.leaves_alkalinity_open(&chosen.solution.g_per_l) {
                    Some((open, meq_per_l)) => safety::acid_not_reckoned(parts.name(open), meq_per_l),
                    None => safety::acid_not_reckoned_in_tank(),
                },
                None,
            ),
            Undosed::TooLittle(dose) => {
                let density = parts.density(at);
                let finest = finest(&instruments(bench, density), density);
                (safety::acid_too_little(parts.name(at), dose, &finest), Some(record))
            }
        };
        findings.push(finding);
        return Ok(Exact { solution: solve(&problem)?, acid, findings, left_out });
    }
    let solved = &chosen.solution.g_per_l;
    let base = if chosen.needs_acid { None } else { base_that_would(question, acid, solved)? };
    findings.extend(safety::of_acid(&safety::AcidFacts {
        name: parts.name(at).to_owned(),
        wished_ph: acid.target_ph,
        ph: ph(mixture, solved, acid.basis)?,
        needs_acid: chosen.needs_acid,
        met: chosen.met,
        base,
        brings: brings_more(mixture, at, solved[at], formula),
    }));
    Ok(Exact { solution: chosen.solution, acid: Some(record), findings, left_out })
}

/// A mix as measured out.
pub(super) struct Weighed<'a> {
    /// With the bottles that are proposed.
    pub(super) parts: Parts<'a>,
    pub(super) measured: Vec<Measured>,
    pub(super) proposed: Vec<Proposed>,
    pub(super) proved: bool,
    pub(super) misfit: f64,
    pub(super) findings: Vec<Finding>,
}

/// Why what is measured out comes closer than the exact mix, where it does by more than the report rounds off.
fn why_closer(question: &Question, exact: &Solution, weighed: &Weighed) -> Option<Finding> {
    const ROUNDED_OFF: f64 = 5e-4;
    let parts = &weighed.parts;
    let drawn = (0..parts.list.len()).filter(|&at| weighed.measured[at].amount > 0.0);
    let reasons = [
        (!weighed.findings.is_empty(), "a limit gave way"),
        (
            exact.proof == Proof::ClosestFound,
            "the exact mix is the closest that was found under the limit of EC, and not proved least",
        ),
        (
            drawn.into_iter().any(|at| parts.contents(at).pure_water_ml > 0.0),
            "the pure water in the bottles thins what your water has too much of",
        ),
        (question.acid.is_some(), "the acid goes by whole steps of the syringe"),
    ];
    let reasons: Vec<&str> = reasons.into_iter().filter_map(|(holds, words)| holds.then_some(words)).collect();
    (weighed.misfit < exact.misfit - ROUNDED_OFF).then(|| safety::closer_than_exact(weighed.misfit, exact.misfit, &reasons))
}

/// Brings the exact answer to what the instruments can show: bottles for what is too little, then whole steps.
pub(super) fn weigh<'a>(question: &Question<'a>, exact: &Solution) -> Result<Weighed<'a>, JobError> {
    let litres = question.litres();
    let doses: Vec<f64> = exact.g_per_l.iter().map(|x| x * litres).collect();
    let mut parts = question.parts.clone();
    let proposed = bottles::propose(&mut parts, &doses);
    let mut start = exact.clone();
    start.g_per_l.resize(parts.list.len(), 0.0);
    for one in proposed.iter().filter(|one| !one.serves.is_empty()) {
        one.serves.iter().for_each(|&served| start.g_per_l[served] = 0.0);
        if let Some(at) = parts.list.iter().position(|part| *part == Part::Helper(one.helper)) {
            start.g_per_l[at] = one.dose_ml / litres;
        }
    }
    let question = question.with_parts(parts)?;
    let Question { bench, parts, mixture, .. } = &question;
    let ladders: Vec<Ladder> =
        (0..parts.list.len()).map(|at| ladder(&instruments(bench, parts.density(at)), parts.most(at))).collect();
    // the pH decides the dose of the acid, or of the bottle that stands in for it
    let settled: Vec<(usize, f64)> = question
        .acid
        .into_iter()
        .flat_map(|acid| {
            let thinned = proposed.iter().find(|one| one.serves.contains(&acid)).map(|one| Part::Helper(one.helper));
            let bottle = thinned.and_then(|part| parts.list.iter().position(|other| *other == part));
            let steps = |at: usize| (at, ladders[at].amount(ladders[at].nearest(start.g_per_l[at] * litres)));
            std::iter::once(steps(acid)).chain(bottle.map(steps))
        })
        .collect();
    let deviations: Vec<f64> = (0..parts.list.len())
        .map(|at| {
            let density = parts.density(at);
            measured(&instruments(bench, density), density, start.g_per_l[at] * litres).deviation / litres
        })
        .collect();
    let slips = slips(parts, &start.g_per_l, &deviations);
    let plus_minus = mixture.plus_minus_ppm(&start.g_per_l, &slips, volume_deviation(bench));
    let (ec_of, slope_of) = (|x: &[f64]| mixture.ec(x), |x: &[f64]| mixture.ec_slope(x));
    let problem = question.problem(&ec_of, &slope_of);
    let weighed = fit::weigh(&problem, &start, &ladders, litres, &settled, &plus_minus);
    // a bottle of which nothing is taken after all is not made
    let drawn = |helper: usize| {
        parts.list.iter().zip(&weighed.amounts).any(|(part, amount)| *part == Part::Helper(helper) && *amount > 0.0)
    };
    let proposed = bottles::needed(parts, proposed, drawn);
    let measured = (0..parts.list.len())
        .map(|at| {
            let density = parts.density(at);
            let mut measured = measured(&instruments(bench, density), density, weighed.amounts[at]);
            if matches!(parts.list[at], Part::Helper(_)) && measured.measure.is_some() {
                measured.measure = Some(Measure::Helper);
            }
            measured
        })
        .collect();
    let gave_way: Vec<String> = weighed.gave_way.iter().map(|limit| limit_words(&question, limit)).collect();
    let findings = safety::limits_gave_way(&gave_way).into_iter().collect();
    Ok(Weighed { measured, proposed, proved: weighed.proved, misfit: weighed.misfit, findings, parts: question.parts })
}

fn acid_record(parts: &Parts, at: usize, acid: &Acid, fresh: Option<f64>, aired: Option<f64>) -> AcidRecord {
    let millilitres = |amount: Option<f64>| Some(amount? / parts.density(at)?);
    let grams = |amount: Option<f64>| amount.filter(|_| parts.salt(at).is_some());
    AcidRecord {
        salt: acid.salt.clone(),
        target_ph: acid.target_ph,
        basis: if acid.basis == Basis::Fresh { "fresh" } else { "aired" }.to_owned(),
        grams_fresh: grams(fresh),
        grams_aired: grams(aired),
        millilitres_fresh: millilitres(fresh),
        millilitres_aired: millilitres(aired),
    }
}

/// Nutrients of which the acid alone brings more than the formula asks: symbol, what it brings, target; ppm.
fn brings_more(mixture: &Mixture, at: usize, g_per_l: f64, formula: &Formula) -> Vec<(String, f64, f64)> {
    let brings = mixture.ppm_per_g_per_l(at).scaled(g_per_l);
    [Nutrient::N, Nutrient::P, Nutrient::S]
        .into_iter()
        .filter_map(|nutrient| {
            let target = formula.wish(nutrient)?.target.map(ppm_of)?;
            (brings[nutrient] > target * (1.0 + 1e-6)).then(|| (nutrient.symbol().to_owned(), brings[nutrient], target))
        })
        .collect()
}

/// The first base on the shelf and the grams of it that would bring the mix up to the wish, where it is clearly under.
fn base_that_would(question: &Question, acid: &Acid, per_l: &[f64]) -> Result<Option<(String, f64)>, JobError> {
    let bench = question.bench;
    let Some(base) = bench.shelf.iter().find(|stock| bench.salt(stock).kind == Kind::Base) else { return Ok(None) };
    let air = if acid.basis == Basis::Fresh { Air::Closed } else { Air::Open };
    let mut with_base = question.parts.clone();
    with_base.list.push(Part::Salt(*base));
    let wider = Mixture::new(&with_base)?;
    let mut amounts = per_l.to_vec();
    amounts.push(0.0);
    let (meq_per_g, wanted) = wider.proton_row(&amounts, acid.target_ph, air)?;
    let there: f64 = meq_per_g.iter().zip(&amounts).map(|(meq, grams)| meq * grams).sum();
    let per_gram = meq_per_g.last().copied().unwrap_or(0.0);
    let grams = (wanted - there) / per_gram * question.litres();
    Ok((per_gram > 0.0 && grams > 0.0).then(|| (bench.salt(base).name.clone(), grams)))
}
