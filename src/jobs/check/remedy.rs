//! What would bring a tank to a formula: salts to add as it stands, or litres to let out first.

use serde::Serialize;

use crate::bench::{Bench, Formula};
use crate::fit::phi;
use crate::jobs::check::InTank;
use crate::jobs::check::worth::{Fetched, Fetching, NOT_WORTH_FETCHING, worth_fetching};
use crate::jobs::engine::AS_GOOD;
use crate::jobs::engine::exact::{exact, exact_misfit};
use crate::jobs::engine::kept_apart;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::engine::why::explained;
use crate::jobs::error::JobError;
use crate::jobs::mix::mix_in;
use crate::jobs::record::{Dose, Element, HelperRecord, MixRecord, Step, WaterRecord};
use crate::jobs::switch::{ALL_BUT, Turn};
use crate::matter::Nutrient;
use crate::quantity::Limits;
use crate::safety::{self, Code, Finding, Severity, ammonium_not_bought};
use crate::tank::{Content, Tank};

/// Which way of setting a tank right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub enum RemedyKind {
    /// Salts are added to it as it stands.
    #[serde(rename = "add now")]
    AddNow,
    /// The least is drained that comes close.
    #[serde(rename = "least waste")]
    LeastWaste,
    /// So much is drained as comes closest.
    #[serde(rename = "best fit")]
    BestFit,
}

/// One way of setting a tank right.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Remedy {
    /// `add now`, `least waste` or `best fit`.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub kind: RemedyKind,
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
    /// How it is done, step by step, as of a mix.
    pub order: Vec<Step>,
    /// Litres of each of several waters in what is filled in, as of a mix.
    pub waters: Vec<WaterRecord>,
    /// Dilute bottles that this takes.
    pub helpers: Vec<HelperRecord>,
    /// What the tank will hold.
    pub after: Vec<Element>,
    /// EC at 25 C after it, mS/cm; null where it is not possible.
    pub ec_ms_cm: Option<f64>,
    /// pH right after it; null where it is not known.
    pub ph: Option<f64>,
    /// pH after days in air; null likewise.
    pub ph_aired: Option<f64>,
    /// What speaks against it: stops, what its pH then does, and a change of EC that is much at once.
    pub findings: Vec<Finding>,
}

/// What would set a tank right.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Remedies {
    /// False when every target is met within its give or take and every limit is kept: then nothing is proposed.
    pub needed: bool,
    /// True when adding alone comes as near to the formula as any draining would, within a misfit of 0.01.
    pub adding_is_enough: bool,
    /// The ways: where adding alone does not come close those that drain first, else nothing drained first.
    pub options: Vec<Remedy>,
}

/// To keep a limit the misfit may rise by so much: own choice, about a target that is missed by 22 %.
const LIMIT_WORTH: f64 = 1.0;
/// No element is brought over its target by more than this share of it for the ammonium that is there (own choice).
const FAR_OVER: f64 = 0.25;
/// What is drained is told in such steps, L (own choice).
const DRAIN_STEP_L: f64 = 0.1;
/// A rise or fall of EC at once that is warned of, mS/cm: own choice, as when a tank is turned over.
const EC_STEP_MS_PER_CM: f64 = 0.5;

/// Ways to bring what a tank holds to a formula, for a full tank of which nothing stays behind.
///
/// * `shelf`: the bench that is weighed from; its water refills
/// * `tank`: the tank held against the formula
pub(crate) fn remedies(shelf: &Bench, formula: &Formula, holding: &Content, tank: &MixRecord) -> Result<Remedies, JobError> {
    if !is_off(tank) {
        return Ok(Remedies { needed: false, adding_is_enough: true, options: Vec::new() });
    }
    let spent: Vec<f64> = [tank.ph, tank.ph_aired].into_iter().flatten().collect();
    let mut turn = Turn::full(shelf, &formula.name, holding)?.letting_out(&spent, tank.ec_ms_cm);
    turn.unfit = safety::meets_what_it_must_not(&tank.findings);
    let as_it_stands = {
        let here = turn.bench_at(0.0, &[])?;
        exact_misfit(&after(&turn, &here, 0.0)?, &formula.name, &mut None)?
    };
    let unfit = safety::is_unfit(&tank.findings);
    let mut ways = if unfit { vec![(RemedyKind::LeastWaste, tank.volume_l)] } else { vec![(RemedyKind::AddNow, 0.0)] };
    // no drain comes nearer than a misfit of 0
    if as_it_stands > AS_GOOD && !unfit {
        let (best, misfit, least) = turn.best()?;
        let (best, least) = (in_steps(best, tank.volume_l), in_steps(least, tank.volume_l));
        if least > 0.0 {
            ways.push((RemedyKind::LeastWaste, least));
        }
        // where adding comes within 5 % of every target, draining may come nearer still
        let nearer = least > 0.0 || misfit < as_it_stands - AS_GOOD;
        if nearer && best - least > ALL_BUT * tank.volume_l {
            ways.push((RemedyKind::BestFit, best));
        }
        // where adding leaves too much in it, what takes out stands first
        if least > 0.0 {
            ways.rotate_left(1);
        }
    }
    let mut options =
        ways.into_iter().map(|(kind, drain)| remedy(&turn, formula, kind, drain, tank)).collect::<Result<Vec<_>, _>>()?;
    // what rounding makes no better than the tank as it stands is no remedy
    if !breaks_limits(tank) {
        let now = tank.misfit.unwrap_or(f64::INFINITY);
        options.retain(|one| one.drain_l == 0.0 || one.misfit.is_none_or(|misfit| misfit < now - NOT_WORTH_FETCHING));
    }
    let adding_is_enough = options.len() == 1 && as_it_stands.is_finite() && !unfit;
    Ok(Remedies { needed: true, adding_is_enough, options })
}

/// True when a target is missed by more than its give or take, or a limit is not kept.
fn is_off(tank: &MixRecord) -> bool {
    let target = |e: &Element| e.target_ppm.is_some_and(|target| (e.ppm - target).abs() > e.plus_minus_ppm);
    tank.elements.iter().any(target) || breaks_limits(tank)
}

fn breaks_limits(tank: &MixRecord) -> bool {
    tank.findings.iter().any(|finding| [Code::LimitMissed, Code::EcOutside].contains(&finding.code))
}

/// Rounded up to what can be measured with a mark; a trifle is nothing, and all but a trifle is all.
fn in_steps(litres: f64, most: f64) -> f64 {
    if litres < 1e-6 {
        0.0
    } else if litres > (1.0 - ALL_BUT) * most {
        most
    } else {
        ((litres / DRAIN_STEP_L - 1e-9).ceil() * DRAIN_STEP_L).min(most)
    }
}

fn remedy(turn: &Turn, formula: &Formula, kind: RemedyKind, drain: f64, tank: &MixRecord) -> Result<Remedy, JobError> {
    let mut remedy = Remedy {
        kind,
        drain_l: drain,
        refill_l: drain,
        possible: false,
        why_not: None,
        misfit: None,
        doses: Vec::new(),
        order: Vec::new(),
        waters: Vec::new(),
        helpers: Vec::new(),
        after: Vec::new(),
        ec_ms_cm: None,
        ph: None,
        ph_aired: None,
        findings: Vec::new(),
    };
    let made = || {
        let here = turn.bench_at(drain, &[])?;
        let how = Fetching { met_anyway: met_anyway(formula, tank), waits: false };
        Ok(added(&after(turn, &here, drain)?, formula, &how)?.0)
    };
    let after = match made() {
        Ok(after) => after,
        Err(
            error @ (JobError::Conflict { .. }
            | JobError::NothingToMixFrom { .. }
            | JobError::NothingMeasurable { .. }
            | JobError::NotEnoughWater { .. }),
        ) => {
            remedy.why_not = Some(error.in_a_line());
            return Ok(remedy);
        }
        Err(error) => return Err(error),
    };
    remedy.possible = true;
    remedy.misfit = after.misfit;
    // a warning of what comes of it; what is told of the tank as it stands is not told again
    let of_itself = [Code::PhOutside, Code::ChelateOutside, Code::WillPrecipitate];
    let warns = |finding: &Finding| {
        let told = |of: &Finding| of.code == finding.code && of.severity == finding.severity;
        finding.severity == Severity::Warning && of_itself.contains(&finding.code) && !tank.findings.iter().any(told)
    };
    let told = |finding: &Finding| finding.severity == Severity::Stop || finding.code == Code::LimitMissed || warns(finding);
    remedy.findings = after.findings.into_iter().filter(told).collect();
    // what burns roots is not left half way
    let burns = |finding: &Finding| finding.code == Code::FeedTooStrong;
    if !tank.findings.iter().any(burns) && !safety::is_unfit(&tank.findings) {
        remedy.findings.extend(safety::in_two_steps(tank.ec_ms_cm, after.ec_ms_cm, EC_STEP_MS_PER_CM));
    }
    (remedy.ec_ms_cm, remedy.ph, remedy.ph_aired) = (Some(after.ec_ms_cm), after.ph, after.ph_aired);
    (remedy.doses, remedy.order, remedy.waters) = (after.doses, after.order, after.waters);
    (remedy.helpers, remedy.after) = (after.helpers, after.elements);
    Ok(remedy)
}

/// True where an element comes over its target by more than is let pass, and was not before.
fn goes_far_over(made: &MixRecord, nothing: &MixRecord) -> bool {
    made.elements
        .iter()
        .zip(&nothing.elements)
        .any(|(after, before)| after.target_ppm.is_some_and(|target| after.ppm - before.ppm.max(target) > FAR_OVER * target))
}

/// A target within its give or take counts as met up to this share of it: own choice. What a water may hold of an element that nobody
/// states is no reason to leave that out.
const MET_ANYWAY: f64 = 0.1;

/// What targets that are met within their give or take add to the misfit of the tank.
fn met_anyway(formula: &Formula, tank: &MixRecord) -> f64 {
    let of = |e: &Element| {
        let target = e.target_ppm.filter(|target| (e.ppm - target).abs() <= e.plus_minus_ppm.min(MET_ANYWAY * target))?;
        let wish = formula.wishes.iter().find(|wish| wish.nutrient.symbol() == e.element)?;
        Some(wish.weight * phi((e.ppm - target) / target))
    };
    tank.elements.iter().filter_map(of).sum()
}

/// The tank after draining and refilling. There is room in what is filled in, and in a
/// full tank for as much as its volume may be off.
fn after<'x>(turn: &Turn, bench: &'x Bench, drain: f64) -> Result<Tank<'x>, JobError> {
    let mut tank = turn.after(bench, drain)?;
    let least = tank.bench.tank.plus_minus;
    if tank.room < least {
        tank.room = least;
    }
    Ok(tank)
}

/// A tank that is filled up.
pub(crate) struct FilledUp {
    /// With water alone.
    pub(crate) before: MixRecord,
    /// With what is added then.
    pub(crate) after: MixRecord,
    /// What is too little to measure and waits, by name.
    pub(crate) waits: Vec<String>,
    /// Why a target stays off though nothing waits for it, and what would help.
    pub(crate) why_off: Vec<Finding>,
}

/// A target under this is that of a trace, ppm: own choice.
const NO_TRACE_PPM: f64 = 5.0;
/// A target that stays short by more than this share of it is explained: own choice.
const EXPLAINED_OFF: f64 = 0.1;

/// A tank filled up with water, and what is to be added to it then. What is too little to measure waits where it can.
///
/// * `level_l`, `held_back_l`: what is in it before, L
pub(crate) fn fill_and_add(
    bench: &Bench,
    formula: &Formula,
    holding: &Content,
    level_l: f64,
    held_back_l: f64,
) -> Result<FilledUp, JobError> {
    let turn = Turn::full(bench, &formula.name, holding)?.standing_at(level_l, held_back_l);
    let here = turn.bench_at(0.0, &[])?;
    let tank = after(&turn, &here, 0.0)?;
    let before = nothing_added(&tank, formula)?;
    let how = Fetching { met_anyway: met_anyway(formula, &before), waits: true };
    let (after, waits) = added(&tank, formula, &how)?;
    let why_off = why_off(&tank, formula, &after)?;
    Ok(FilledUp { before, after, waits, why_off })
}

/// Why targets stay short with all that the shelf has, and what would help; what waits is no cause.
fn why_off(tank: &Tank, formula: &Formula, after: &MixRecord) -> Result<Vec<Finding>, JobError> {
    let is_short = |one: &Element| one.deviation_percent.is_some_and(|off| off < -100.0 * EXPLAINED_OFF);
    if !after.elements.iter().any(is_short) {
        return Ok(Vec::new());
    }
    let mut question = kept_apart::question(tank.clone(), formula, None)?;
    // traces wait, and are no cause of anything else
    question.wants.retain(|want| want.target_ppm.is_none_or(|target| target >= NO_TRACE_PPM));
    let options = MixOptions::default();
    let exact = match exact(&question, &options) {
        Ok(exact) => exact,
        // a limit that nothing keeps is told with what breaks it
        Err(error) if error.exit_status() == 1 => return Ok(Vec::new()),
        Err(error) => return Err(error),
    };
    // what is told is another mix where a good part of it waits
    let achieved = question.problem(&question.mixture).achieved_ppm(&exact.solution.g_per_l);
    let is_another = |one: &Element| {
        let Some((nutrient, target)) = Nutrient::parse(&one.element).zip(one.target_ppm) else { return false };
        target >= NO_TRACE_PPM && (achieved[nutrient] - one.ppm).abs() > EXPLAINED_OFF * target
    };
    if exact.solution.misfit <= EXPLAINED_OFF || after.elements.iter().any(is_another) {
        return Ok(Vec::new());
    }
    let mut found = explained(&question, &exact, &options)?;
    found.retain(|finding| matches!(finding.code, Code::WhyMissed | Code::WouldHelp));
    Ok(found)
}

fn nothing_added(tank: &Tank, formula: &Formula) -> Result<MixRecord, JobError> {
    InTank::new(tank.clone(), &[]).record(Some(formula), Vec::new(), None)
}

/// What is worth fetching mixed into a tank; nothing where it is as near to the formula without, limits and pH
/// left alone. With what waits, by name.
fn added(tank: &Tank, formula: &Formula, how: &Fetching) -> Result<(MixRecord, Vec<String>), JobError> {
    let nothing = nothing_added(tank, formula)?;
    let Fetched { bench: fewer, waits } = worth_fetching(tank, formula, how)?;
    let Some(fewer) = fewer else { return Ok((nothing, waits)) };
    let made = mix_in(&tank.with_shelf_of(&fewer), &formula.name, &MixOptions::default(), &[])?;
    if formula.ammonium_share.max.is_some_and(|max| max < 1.0) && goes_far_over(&made, &nothing) {
        // what lowers the share of ammonium is more of another nitrogen: that is not bought, the share is told
        let free = Formula { ammonium_share: Limits { max: Some(1.0), ..formula.ammonium_share }, ..formula.clone() };
        let others = tank.bench.formulas.iter().filter(|other| other.name != free.name).cloned();
        let formulas = std::iter::once(free.clone()).chain(others).collect();
        let (mut made, waits) = added(&tank.with_shelf_of(&Bench { formulas, ..tank.bench.clone() }), &free, how)?;
        let share = made.ammonium_share_least.zip(made.ammonium_share);
        made.findings.extend(share.zip(formula.ammonium_share.max).and_then(|(share, max)| ammonium_not_bought(share, max)));
        return Ok((made, waits));
    }
    let sours = tank
        .bench
        .acid
        .as_ref()
        .is_some_and(|acid| made.doses.iter().any(|dose| acid.salts.iter().any(|id| id == dose.id())));
    // of the last one that is left nobody asked yet whether it is worth it
    let gain = NOT_WORTH_FETCHING + how.met_anyway;
    let no_nearer = made.misfit.zip(nothing.misfit).is_none_or(|(made, nothing)| made >= nothing - gain);
    // a limit is not bought with targets that are then missed by far: what breaks it is told
    let far_off = made.misfit.zip(nothing.misfit).is_some_and(|(made, nothing)| made > nothing + LIMIT_WORTH);
    Ok((if far_off || no_nearer && !sours && !breaks_limits(&nothing) { nothing } else { made }, waits))
}
