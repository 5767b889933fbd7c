//! What would bring a tank to a formula: salts to add as it stands, or litres to let out first.

use schemars::JsonSchema;
use serde::Serialize;

use super::check::InTank;
use super::error::JobError;
use super::holding::Holding;
use super::mix::{MixOptions, exact_misfit, mix};
use super::record::{Dose, Element, HelperRecord, MixRecord};
use super::switch::{AS_GOOD, Turn};
use crate::bench::{Bench, Formula};
use crate::fit::phi;
use crate::quantity::{gram, liter};
use crate::safety::{self, Finding, Severity};

/// One way of setting a tank right.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Remedy {
    /// `add now`, `least waste` or `best fit`.
    pub kind: String,
    /// What to drain first, L.
    pub drain_l: f64,
    /// What to fill in of the water, L.
    pub refill_l: f64,
    /// False where limits of the formula cannot be kept.
    pub possible: bool,
    /// Why not.
    pub why_not: Option<String>,
    /// Misfit after it, as measured out; null where it is not possible.
    pub misfit: Option<f64>,
    /// What to measure out, in the order in which it goes in.
    pub doses: Vec<Dose>,
    /// Dilute bottles that this takes.
    pub helpers: Vec<HelperRecord>,
    /// What the tank will hold.
    pub after: Vec<Element>,
    /// EC at 25 C after it, mS/cm; null where it is not possible.
    pub ec_ms_cm: Option<f64>,
    /// What speaks against it: stops, and a change of EC that is much at once.
    pub findings: Vec<Finding>,
}

/// What would set a tank right.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Remedies {
    /// False when every target is met within its give or take and every limit is kept: then nothing is proposed.
    pub needed: bool,
    /// True when adding alone comes as near to the formula as any draining would, within a misfit of 0.01.
    pub adding_is_enough: bool,
    /// The ways, nothing drained first.
    pub options: Vec<Remedy>,
}

/// Salts without which the misfit rises by less than this in all are not fetched (own choice; as near as least waste),
/// and what is gained on targets that are met within their give or take is no gain.
const NOT_WORTH_FETCHING: f64 = AS_GOOD;
/// A drain of the best fit is told beside the least one from this share of the tank (own choice, as well as a tank is
/// usually known).
const ANOTHER_DRAIN: f64 = 0.02;
/// What is drained is told in such steps, L (own choice).
const DRAIN_STEP_L: f64 = 0.1;
/// A rise or fall of EC at once that is warned of, mS/cm: own choice, as when a tank is turned over.
const EC_STEP_MS_PER_CM: f64 = 0.5;

/// Ways to bring what a tank holds to a formula, for a full tank of which nothing stays behind.
///
/// * `shelf`: the bench that is weighed from; its water refills
/// * `tank`: the tank held against the formula
pub(super) fn remedies(shelf: &Bench, formula: &Formula, holding: &Holding, tank: &MixRecord) -> Result<Remedies, JobError> {
    if !is_off(tank) {
        return Ok(Remedies { needed: false, adding_is_enough: true, options: Vec::new() });
    }
    let turn = Turn::full(shelf, &formula.name, holding);
    let as_it_stands = exact_misfit(&turn.bench_after(0.0)?, &formula.name)?;
    let mut ways = vec![("add now", 0.0)];
    // no drain comes nearer than a misfit of 0
    if as_it_stands > AS_GOOD {
        let (best, least) = turn.best()?;
        let (best, least) = (in_steps(best, tank.volume_l), in_steps(least, tank.volume_l));
        if least > 0.0 {
            ways.push(("least waste", least));
        }
        if least > 0.0 && best - least > ANOTHER_DRAIN * tank.volume_l {
            ways.push(("best fit", best));
        }
    }
    let adding_is_enough = ways.len() == 1 && as_it_stands.is_finite();
    let options =
        ways.into_iter().map(|(kind, drain)| remedy(&turn, formula, kind, drain, tank)).collect::<Result<_, _>>()?;
    Ok(Remedies { needed: true, adding_is_enough, options })
}

/// True when a target is missed by more than its give or take, or a limit is not kept.
fn is_off(tank: &MixRecord) -> bool {
    let target = |e: &Element| e.target_ppm.is_some_and(|target| (e.ppm - target).abs() > e.plus_minus_ppm);
    let limits = ["limit-missed", "ec-outside"];
    tank.elements.iter().any(target) || tank.findings.iter().any(|finding| limits.contains(&finding.code))
}

/// Rounded up to what can be measured with a mark; a trifle is nothing.
fn in_steps(litres: f64, most: f64) -> f64 {
    if litres < 1e-6 { 0.0 } else { ((litres / DRAIN_STEP_L - 1e-9).ceil() * DRAIN_STEP_L).min(most) }
}

fn remedy(turn: &Turn, formula: &Formula, kind: &str, drain: f64, tank: &MixRecord) -> Result<Remedy, JobError> {
    let mut remedy = Remedy {
        kind: kind.to_owned(),
        drain_l: drain,
        refill_l: drain,
        possible: false,
        why_not: None,
        misfit: None,
        doses: Vec::new(),
        helpers: Vec::new(),
        after: Vec::new(),
        ec_ms_cm: None,
        findings: Vec::new(),
    };
    let bench = turn.bench_after(drain)?;
    let made = match worth_fetching(&bench, formula, met_anyway(formula, tank))? {
        Some(bench) => mix(&bench, &formula.name, &MixOptions::default()),
        None => InTank::new(&bench, &[]).record(Some(formula), Vec::new(), None),
    };
    let after = match made {
        Ok(after) => after,
        Err(error @ (JobError::Conflict { .. } | JobError::NothingToMixFrom { .. })) => {
            remedy.why_not = Some(error.to_string().replace("\n  ", "; "));
            return Ok(remedy);
        }
        Err(error) => return Err(error),
    };
    remedy.possible = true;
    remedy.misfit = after.misfit;
    remedy.findings = after.findings.into_iter().filter(|finding| finding.severity == Severity::Stop).collect();
    remedy.findings.extend(safety::in_two_steps(tank.ec_ms_cm, after.ec_ms_cm, EC_STEP_MS_PER_CM));
    remedy.ec_ms_cm = Some(after.ec_ms_cm);
    (remedy.doses, remedy.helpers, remedy.after) = (after.doses, after.helpers, after.elements);
    Ok(remedy)
}

/// What targets that are met within their give or take add to the misfit of the tank.
fn met_anyway(formula: &Formula, tank: &MixRecord) -> f64 {
    let of = |e: &Element| {
        let target = e.target_ppm.filter(|target| (e.ppm - target).abs() <= e.plus_minus_ppm)?;
        let wish = formula.wishes.iter().find(|wish| wish.nutrient.symbol() == e.element)?;
        Some(wish.weight * phi((e.ppm - target) / target))
    };
    tank.elements.iter().filter_map(of).sum()
}

/// The bench with only what is worth fetching, so that no milligrams of everything make up for the last tenth of a per
/// cent; `None` when nothing is.
///
/// What matters least goes first, as long as the misfit stays near the least.
///
/// * `met_anyway`: misfit of the tank that is within the give or take
fn worth_fetching(bench: &Bench, formula: &Formula, met_anyway: f64) -> Result<Option<Bench>, JobError> {
    let allowed = exact_misfit(bench, &formula.name)? + NOT_WORTH_FETCHING + met_anyway;
    if allowed.is_infinite() {
        return Ok(Some(bench.clone()));
    }
    // each salt of the shelf, then each bottle
    let without = |bench: &Bench, at: usize| {
        let mut bench = bench.clone();
        match at.checked_sub(bench.shelf.len()) {
            None => bench.shelf[at].on_hand = Some(gram(0.0)),
            Some(helper) => bench.helpers[helper].left = Some(liter(0.0)),
        }
        bench
    };
    // the pH decides on the acid
    let acid = bench.acid.as_ref().map(|acid| acid.salt.as_str());
    let is_acid = |at: usize| {
        let of_shelf = bench.shelf.get(at).map(|stock| bench.salt(stock).id.as_str());
        let of_bottles = || bench.helpers.get(at - bench.shelf.len()).map(|helper| helper.id.as_str());
        acid.is_some() && acid == of_shelf.or_else(of_bottles)
    };
    let mut rises: Vec<(f64, usize)> = Vec::new();
    for at in (0..bench.shelf.len() + bench.helpers.len()).filter(|&at| !is_acid(at)) {
        rises.push((exact_misfit(&without(bench, at), &formula.name)?, at));
    }
    rises.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut kept = bench.clone();
    let mut left = rises.len();
    for (_, at) in rises {
        let fewer = without(&kept, at);
        if exact_misfit(&fewer, &formula.name)? <= allowed {
            (kept, left) = (fewer, left - 1);
        }
    }
    Ok((left > 0).then_some(kept))
}
