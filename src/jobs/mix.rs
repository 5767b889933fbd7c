//! What to weigh for a fresh tank of a formula.

use crate::bench::Bench;
use crate::fit::{Proof, Solution, Want};
use crate::jobs::engine::AS_GOOD;
use crate::jobs::engine::blend::blended;
use crate::jobs::engine::exact::exact;
use crate::jobs::engine::kept_apart;
use crate::jobs::engine::question::{MixOptions, Prefer, Question, formula as formula_called};
use crate::jobs::engine::too_little::refused;
use crate::jobs::engine::weigh::{Weighed, weigh, weighed_out};
use crate::jobs::engine::why::explained;
use crate::jobs::error::JobError;
use crate::jobs::record::describe::describe;
use crate::jobs::record::made::Made;
use crate::jobs::record::{Dose, MixRecord, StageRecord};
use crate::safety::{self, Finding, is_burning_ph};
use crate::solution::Air;
use crate::tank::parts::Part;
use crate::tank::{Content, Tank, TankError};

/// What to weigh for a fresh tank of `formula`, what the meter should read, what to watch and how to handle the salts.
///
/// # Errors
/// [`JobError`]: no such formula, nothing to mix from, nothing that the bench can measure, limits that contradict each other, or a failure of our own.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs};
/// let mix = jobs::mix(&Bench::starter(), "growth", &jobs::MixOptions::default())?;
/// assert!(mix.misfit_exact.is_some_and(|misfit| misfit < 1e-9));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn mix(bench: &Bench, formula: &str, options: &MixOptions) -> Result<MixRecord, JobError> {
    let blend = blended(bench, formula, options)?;
    let mut mix = mix_in(&Tank::fresh(&blend)?, formula, options, &[])?;
    if !options.without_reasons && options.salts_at_most.is_none() && options.prefer.is_none() {
        // a note, which stands behind all others
        mix.findings.extend(undrawn(bench, formula, &mix));
    }
    Ok(mix)
}

/// Bottles on the bench that a mix leaves undrawn, where one of few salts that draws from them comes as close: a wish that stands
/// before that for little to weigh, such as that for little chloride, has kept them out.
fn undrawn(bench: &Bench, formula: &str, mix: &MixRecord) -> Option<Finding> {
    let draws = |of: &MixRecord, id: &str| of.doses.iter().any(|dose| dose.is_measured() && dose.bottle() == Some(id));
    if bench.helpers.is_empty() || bench.helpers.iter().any(|helper| draws(mix, &helper.id)) {
        return None;
    }
    let few = MixOptions { prefer: Some(Prefer::Few), without_reasons: true, ..MixOptions::default() };
    // what cannot be mixed so is nothing to tell
    let few = self::mix(bench, formula, &few).ok()?;
    let bottles: Vec<&str> = bench.helpers.iter().map(|helper| helper.id.as_str()).filter(|id| draws(&few, id)).collect();
    let is_here = |dose: &Dose| bench.helpers.iter().any(|helper| dose.bottle() == Some(&helper.id));
    let by_hand = |dose: &&Dose| dose.is_measured() && !dose.acid && !is_here(dose);
    let salts = |of: &MixRecord| of.doses.iter().filter(by_hand).count();
    let chloride =
        |of: &MixRecord| of.elements.iter().find(|element| element.element == "Cl").map_or(0.0, |found| found.ppm);
    let as_close = few.misfit_exact? <= mix.misfit_exact? + AS_GOOD;
    (as_close && !bottles.is_empty() && salts(&few) < salts(mix))
        .then(|| safety::bottles_undrawn(&bottles, salts(&few), salts(mix), chloride(&few) - chloride(mix)))
}

/// As [`mix`] into any tank, the exact amounts kept within limits of their own beside those of the formula; without any, within those alone.
pub(super) fn mix_in(tank: &Tank, formula: &str, options: &MixOptions, within: &[Want]) -> Result<MixRecord, JobError> {
    let formula = formula_called(tank.bench, formula)?;
    let mut question = kept_apart::question(tank.clone(), formula, options.prefer)?;
    if !within.is_empty() {
        question.wants = within.to_vec();
    }
    let exact = exact(&question, options)?;
    let weighed = weigh(&question, &exact.solution);
    refused(&question, &exact.solution, &weighed.measured)?;
    let mut findings = exact.findings.clone();
    findings.extend(explained(&question, &exact, options)?);
    findings.extend(why_closer(&question, &exact.solution, &weighed));
    findings.extend(weighed.findings());
    let stages = exact
        .solution
        .stages
        .iter()
        .map(|stage| StageRecord { wish: stage.wish.to_owned(), value: stage.value, unit: stage.unit.to_owned() })
        .collect();
    let mut exact_g_per_l = exact.solution.g_per_l;
    exact_g_per_l.resize(weighed.parts.list.len(), 0.0);
    weighed.spared.iter().for_each(|&at| exact_g_per_l[at] = 0.0);
    let made = Made {
        job: "mix",
        tank,
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

/// What a tank holds at the pH that was read in it. Of what burns nothing stays when it is turned over, so that it may be beyond what
/// can be reckoned: then it is as it was known before.
///
/// # Errors
/// [`TankError::NoEquilibrium`] where no content has that pH.
pub fn held_at_ph(bench: &Bench, holding: Content, ph: f64) -> Result<Content, TankError> {
    match holding.clone().at_ph(bench, ph) {
        Err(_) if is_burning_ph(ph) => Ok(holding),
        at_ph => at_ph,
    }
}

/// The content of a tank freshly mixed to a formula of the bench, as it is weighed out, after days in air.
///
/// # Errors
/// As [`mix`].
pub fn mixed(bench: &Bench, formula: &str) -> Result<Content, JobError> {
    let bench = blended(bench, formula, &MixOptions::default())?;
    let (parts, amounts) = weighed_out(&bench, formula, &MixOptions::default())?;
    Ok(Content::of_parts(&Tank::fresh(&bench)?, &parts, &amounts, Air::Open, format!("{formula}, as weighed out"))?)
}

/// Why what is measured out comes closer than the exact mix, where it does by more than the report rounds off.
fn why_closer(question: &Question, exact: &Solution, weighed: &Weighed) -> Option<Finding> {
    const ROUNDED_OFF: f64 = 5e-4;
    let parts = &weighed.parts;
    let drawn = (0..parts.list.len()).filter(|&at| weighed.measured[at].amount > 0.0);
    let gave_way = format!("a limit gave way ({})", weighed.gave_way.join(", "));
    let sours = question.acids.iter().any(|&at| {
        let bottle = weighed.proposed.iter().find(|one| one.serves.contains(&at)).map(|one| Part::Helper(one.helper));
        let comes_in = |other: usize| other == at || bottle == Some(parts.list[other]);
        (0..parts.list.len()).any(|other| comes_in(other) && weighed.measured[other].amount > 0.0)
    });
    let reasons = [
        (!weighed.gave_way.is_empty(), gave_way.as_str()),
        (
            exact.proof == Proof::ClosestFound,
            "the exact mix is the closest that was found under the limit of EC, and not proved least",
        ),
        (
            drawn.into_iter().any(|at| parts.contents(at).pure_water_ml > 0.0),
            "the pure water in the bottles thins what your water has too much of",
        ),
        (sours, "the acid goes by the marks of its measure of glass or polypropylene"),
        (!question.acids.is_empty() && !sours, "the steps leave the pH a little off the wish"),
    ];
    let reasons: Vec<&str> = reasons.into_iter().filter_map(|(holds, words)| holds.then_some(words)).collect();
    (weighed.misfit < exact.misfit - ROUNDED_OFF).then(|| safety::closer_than_exact(weighed.misfit, exact.misfit, &reasons))
}
