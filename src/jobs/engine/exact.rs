//! The exact answer to a formula, with the acid where one is named.

use super::AS_GOOD;
use super::acid::{AcidRecord, Shared, Undosed, answered, shared_out, tank_open, undosed};
use super::few::keep_few;
use super::kept_apart;
use super::question::{Question, acid_part, formula as formula_called};
use super::refuse::job_error;
use super::remainders::{leave_out_crumbs, leave_out_remainders, settle_bottles};
use super::souring::{Soured, Souring, soured};
use super::sweep::sweep;
use crate::bench::{Acid, Basis, Bench, Formula, Stock};
use crate::catalogue::SaltId;
use crate::fit::{self, FitError, Problem, Solution};
use crate::jobs::engine::ladder::finest;
use crate::jobs::engine::question::{MixOptions, Prefer};
use crate::jobs::error::JobError;
use crate::matter::{Kind, Nutrient, Nutrients};
use crate::quantity::ppm_of;
use crate::safety::{self, BaseWanted, Finding, Substance};
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, air};
use crate::tank::correction::grams_to_reach;
use crate::tank::parts::Parts;

/// The exact answer to a question.
pub(crate) struct Exact {
    pub(crate) solution: Solution,
    pub(crate) acid: Vec<AcidRecord>,
    pub(crate) findings: Vec<Finding>,
    /// Parts left out because bottles bring all but a little of the same.
    pub(crate) left_out: Vec<usize>,
}

/// Fits the formula, with the acid where one is named.
pub(crate) fn exact(question: &Question, options: &MixOptions) -> Result<Exact, JobError> {
    let mut exact = fitted(question, options)?;
    sweep(&question.problem(&question.mixture), &mut exact.solution, &question.acids);
    Ok(exact)
}

fn fitted(question: &Question, options: &MixOptions) -> Result<Exact, JobError> {
    let bench = question.bench();
    let mut problem = question.problem(&question.mixture);
    let mut left_out = settle_bottles(question, &mut problem)?;
    // before the choice of few salts, which counts what is left out here as gone
    left_out.extend(leave_out_remainders(question, &mut problem)?);
    let mut findings = keep_few(question, &mut problem, options)?;
    if options.salts_at_most.is_some() || options.prefer == Some(Prefer::Few) {
        left_out.extend(leave_out_crumbs(question, &mut problem)?);
    }
    findings.extend(safety::kept_from_acid(&question.kept_out));
    findings.extend(kept_apart::of_urea(bench, &question.tank.before.ppm));
    findings.extend(not_stated(bench));
    let mut fitting = Fitting { question, problem, findings };
    let (solution, acid) = match bench.acid.as_ref().filter(|_| !question.acids.is_empty()) {
        None => {
            let solution = fitting.solved()?;
            fitting.findings.extend(kept_apart::of_acid(question, &solution)?);
            (solution, Vec::new())
        }
        Some(acid) if tank_open(question) => {
            fitting.findings.push(safety::acid_not_reckoned_in_tank(&acid.salts, any_burns(bench, &acid.salts)));
            (fitting.without(&question.acids)?, Vec::new())
        }
        Some(acid) => fitting.with_acid(acid, options)?,
    };
    Ok(Exact { solution, acid, findings: fitting.findings, left_out })
}

/// A problem on its way to the exact answer, and what is told of it.
struct Fitting<'q, 'a> {
    question: &'q Question<'a>,
    problem: Problem<'q>,
    findings: Vec<Finding>,
}

impl Fitting<'_, '_> {
    fn solved(&self) -> Result<Solution, JobError> {
        fit::solve(&self.problem).map_err(|error| self.failed(error))
    }

    fn failed(&self, error: FitError) -> JobError {
        job_error(self.question, &self.problem, error)
    }

    /// The answer without these columns.
    fn without(&mut self, columns: &[usize]) -> Result<Solution, JobError> {
        for &at in columns {
            self.problem.columns[at].forbid();
        }
        self.solved()
    }

    /// The answer with as much of the acids as the wish takes, and what of them goes in.
    fn with_acid(&mut self, acid: &Acid, options: &MixOptions) -> Result<(Solution, Vec<AcidRecord>), JobError> {
        let Question { parts, mixture, .. } = self.question;
        let Shared { soured: chosen, acids, lost } =
            shared_out(self.question, &mut self.problem, acid, None, fit::solve)?.map_err(|error| self.failed(error))?;
        let lost = lost.into_iter().filter(|(.., misfit)| chosen.solution.misfit > misfit + AS_GOOD);
        let lost: Vec<(usize, f64)> = lost.map(|(at, dose, _)| (at, dose)).collect();
        for &(at, dose) in &lost {
            let finest = finest(self.question.bench(), parts.density(at));
            self.findings.push(safety::acid_left_to_others(parts.name(at), dose, &finest));
        }
        // of a way that is only compared with others the dose on the other basis is not told
        let basis = if acid.basis == Basis::Fresh { Basis::Aired } else { Basis::Fresh };
        let other = if options.without_reasons {
            None
        } else {
            let souring = Souring { mixture, acid, basis, acids: &acids };
            Some(soured(&mut self.problem, &souring, None, fit::solve)?.map_err(|error| self.failed(error))?)
        };
        let record = |&at: &usize| {
            let amount = |soured: &Soured| soured.met.then(|| soured.solution.g_per_l[at] * self.question.litres());
            let (own, other) = (amount(&chosen), other.as_ref().and_then(amount));
            let (fresh, aired) = if acid.basis == Basis::Fresh { (own, other) } else { (other, own) };
            let too_little = lost.iter().find(|(of, _)| *of == at).map(|(_, dose)| *dose);
            AcidRecord { too_little, ..acid_record(parts, at, acid, fresh, aired) }
        };
        let records: Vec<AcidRecord> = self.question.acids.iter().map(record).collect();
        let per_l = &chosen.solution.g_per_l;
        if let Some((at, why)) = acids.iter().find_map(|&at| Some((at, undosed(self.question, at, per_l)?))) {
            let solution = self.without(&acids)?;
            let told = matches!(why, Undosed::TooLittle(_));
            self.findings.extend(self.not_dosed(acid, (at, &why), per_l, &solution)?);
            return Ok((solution, if told { records } else { Vec::new() }));
        }
        self.findings.extend(of_acid(self.question, acid, &acids, &chosen)?);
        Ok((chosen.solution, records))
    }

    /// Why an acid is not dosed: the one in a column, of amounts with it, and the answer without.
    fn not_dosed(
        &self,
        acid: &Acid,
        (at, why): (usize, &Undosed),
        with: &[f64],
        without: &Solution,
    ) -> Result<Option<Finding>, JobError> {
        let Question { parts, mixture, .. } = self.question;
        Ok(match why {
            Undosed::Blind => Some(match mixture.leaves_alkalinity_open(with) {
                Some((open, meq_per_l)) => {
                    safety::acid_not_reckoned(&acid.salts, any_burns(parts.bench, &acid.salts), parts.name(open), meq_per_l)
                }
                None => safety::acid_not_reckoned_in_tank(&acid.salts, any_burns(parts.bench, &acid.salts)),
            }),
            Undosed::TooLittle(dose) => {
                let ph = mixture.ph(&without.g_per_l, acid.basis)?;
                let finest = finest(self.question.bench(), parts.density(at));
                // within what a pH that is read may be over the wish it is not missed
                let is_near = safety::is_near_wish(ph, acid.target_ph);
                (!is_near).then(|| safety::acid_too_little(parts.name(at), *dose, &finest))
            }
        })
    }
}

/// What is told of acids that are shared out.
fn of_acid(question: &Question, acid: &Acid, acids: &[usize], chosen: &Soured) -> Result<Vec<Finding>, JobError> {
    let Question { parts, mixture, formula, .. } = question;
    let solved = &chosen.solution.g_per_l;
    let dosed: Vec<usize> = acids.iter().copied().filter(|&at| solved[at] > 0.0).collect();
    let named = if dosed.is_empty() { acids } else { &dosed };
    Ok(safety::of_acid(&safety::AcidFacts {
        names: named.iter().map(|&at| parts.name(at).to_owned()).collect(),
        wished_ph: acid.target_ph,
        ph: mixture.ph(solved, acid.basis)?,
        needs_acid: chosen.needs_acid,
        met: chosen.met,
        base: if chosen.needs_acid { None } else { base_that_would(question, acid, solved)? },
        brings: brings_more(mixture, acids, solved, formula),
    }))
}

/// Acids and bases of the grower's own, on the shelf or in `[acid]`, that leave open how much alkalinity they have.
fn not_stated(bench: &Bench) -> Vec<Finding> {
    let parts = bench.acid.iter().flat_map(|acid| &acid.salts).filter_map(|id| acid_part(bench, id)).collect();
    let acids = Parts::new(bench, parts);
    let named: Vec<SaltId> = (0..acids.list.len()).flat_map(|at| acids.contents(at).salts).map(|(salt, _)| salt).collect();
    let mut all: Vec<SaltId> = named.iter().copied().chain(bench.shelf.iter().map(|stock| stock.salt)).collect();
    all.sort();
    all.dedup();
    let of = |id: SaltId| {
        let salt = bench.catalogue.salt(id);
        let open = !salt.alkalinity_known() && matches!(salt.kind, Kind::Acid | Kind::Base | Kind::Silicate);
        let likely = bench.catalogue.left_over_eq_per_kg(&salt.composition);
        open.then(|| safety::alkalinity_not_stated(&salt.name, salt.kind, likely, named.contains(&id)))
    };
    all.into_iter().filter_map(of).collect()
}

/// The misfit of the exact mix, its acid included; infinite where limits cannot be kept or nothing can be mixed from.
///
/// * `near`: the mix of a tank much like this one; where there is none yet it becomes that of this one
pub(crate) fn exact_misfit(tank: &Tank, formula: &str, near: &mut Option<Vec<f64>>) -> Result<f64, JobError> {
    let question = kept_apart::question(tank.clone(), formula_called(tank.bench, formula)?, None)?;
    let mixture = &question.mixture;
    let mut problem = question.problem(mixture);
    problem.near.clone_from(near);
    match answered(&question, &mut problem, None, fit::solve_misfit)? {
        Ok(answer) => {
            near.get_or_insert(answer.solution.g_per_l);
            Ok(answer.solution.misfit)
        }
        Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => Ok(f64::INFINITY),
        Err(error) => Err(job_error(&question, &problem, error)),
    }
}

fn acid_record(parts: &Parts, at: usize, acid: &Acid, fresh: Option<f64>, aired: Option<f64>) -> AcidRecord {
    let millilitres = |amount: Option<f64>| Some(amount? / parts.density(at)?);
    let grams = |amount: Option<f64>| amount.filter(|_| parts.salt(at).is_some());
    AcidRecord {
        salt: parts.id(at).to_owned(),
        target_ph: acid.target_ph,
        basis: acid.basis,
        grams_fresh: grams(fresh),
        grams_aired: grams(aired),
        millilitres_fresh: millilitres(fresh),
        millilitres_aired: millilitres(aired),
        too_little: None,
    }
}

/// Nutrients of which the acids alone bring more than the formula asks: symbol, what it brings, target; ppm.
fn brings_more(mixture: &Mixture, acids: &[usize], g_per_l: &[f64], formula: &Formula) -> Vec<(String, f64, f64)> {
    let mut brings = Nutrients::default();
    for &at in acids {
        brings.add(&mixture.ppm_per_g_per_l(at), g_per_l[at]);
    }
    [Nutrient::N, Nutrient::P, Nutrient::S]
        .into_iter()
        .filter_map(|nutrient| {
            let target = formula.wish(nutrient)?.target.map(ppm_of)?;
            (brings[nutrient] > target * (1.0 + 1e-6)).then(|| (nutrient.symbol().to_owned(), brings[nutrient], target))
        })
        .collect()
}

/// The first base on the shelf, no hydroxide where there is another, and the grams of it that would bring the mix up to the wish,
/// where it is clearly under.
fn base_that_would(question: &Question, acid: &Acid, per_l: &[f64]) -> Result<Option<BaseWanted>, JobError> {
    let bench = question.bench();
    let is_base = |stock: &&Stock| bench.salt(stock).kind == Kind::Base && bench.salt(stock).alkalinity_known();
    let burns = |stock: &&Stock| Substance::of(bench.salt(stock), bench.catalogue.ions(), &[]).hydroxide;
    let Some(base) = bench.shelf.iter().filter(is_base).min_by_key(burns) else { return Ok(None) };
    let per_l = grams_to_reach(&question.tank, &question.parts, per_l, *base, acid.target_ph, air(acid.basis))?;
    let salt = bench.salt(base);
    let burns = salt.may_burn();
    let (salt, name) = (&salt.id, &salt.name);
    let wanted = |per_l| BaseWanted { salt: salt.clone(), name: name.clone(), grams: per_l * question.litres(), burns };
    Ok(per_l.map(wanted))
}

/// True where any of these acids burns, or of its hazards nothing is known.
fn any_burns(bench: &Bench, ids: &[String]) -> bool {
    ids.iter().filter_map(|id| bench.catalogue.find(id)).any(|id| bench.catalogue.salt(id).may_burn())
}
