//! From what a tank holds to a formula: how much to drain, refill and weigh in.

use serde::Serialize;

use crate::bench::{Bench, Formula};
use crate::jobs::engine::question::{MixOptions, formula as formula_called, holds_urea};
use crate::jobs::error::JobError;
use crate::jobs::record::describe::describe;
use crate::jobs::record::made::Made;
use crate::jobs::record::{Dose, Element, HelperRecord, MixRecord, Verdict, WaterRecord, bottle::too_old};
use crate::quantity::{Conductivity, Date, Volume, liter, liter_of, trimmed, volume_text};
use crate::safety::{self, Finding};
use crate::tank::parts::Parts;
use crate::tank::{Content, Tank};

mod in_steps;
mod lean;
#[cfg(test)]
mod recorded;
mod turn;
mod ways;
pub use in_steps::{InSteps, SwitchStep};
use lean::{may_lack, not_lean};
pub(super) use turn::{ALL_BUT, Turn};
use ways::{Drain, Way, a_little_more, judged, named, ways};

/// What is known of a tank that is turned over, and how it may be done.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SwitchOptions {
    /// What can be drained now; the tank's own volume unless stated.
    pub level: Option<Volume>,
    /// What stays behind in medium and pipes, with the same content.
    pub held_back: Option<Volume>,
    /// Drain in whole buckets of this size, or all of it.
    pub bucket: Option<Volume>,
    /// Drain just this much.
    pub drain: Option<Volume>,
    /// A rise or fall of EC by more than this at once is warned of.
    pub ec_step: Option<Conductivity>,
    /// The day on which it is done, or begun.
    pub on: Option<Date>,
    /// The day from which on the tank is fed the formula that is asked, where it is: its `hold_at_most` counts from then.
    pub fed_since: Option<Date>,
    /// The pH that was read in what it holds, also where that can be no content of it.
    pub held_ph: Option<f64>,
    /// The least nitrogen that may be in what it holds, ppm, where a logbook tells it by an estimate.
    pub low_nitrogen_ppm: Option<f64>,
    /// In several steps over days; at once without it.
    pub in_steps: Option<InSteps>,
    /// What the grower's meter reads over what is predicted, where a logbook tells it.
    pub meter_factor: Option<f64>,
}

/// Nutrients and EC of the tank before it is turned over.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Before {
    /// What can be drained, L.
    pub level_l: f64,
    /// What stays behind, L.
    pub held_back_l: f64,
    /// Where the content is known from.
    pub known_from: String,
    /// What is in it.
    pub elements: Vec<Element>,
    /// EC at 25 C, mS/cm.
    pub ec_ms_cm: f64,
    /// EC at 25 C of what was poured in, where a pH that burns speaks of far more; else null.
    pub poured_ec_ms_cm: Option<f64>,
    /// What the grower's meter should read in it, mS/cm, as the logbook tells it; null where none does.
    pub own_meter_ms_cm: Option<f64>,
    /// pH in air; null when a product leaves it open.
    pub ph_aired: Option<f64>,
    /// Its low end (k = 2).
    pub ph_aired_low: Option<f64>,
    /// Its high end.
    pub ph_aired_high: Option<f64>,
}

/// What a way of turning a tank over is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum Kind {
    /// The least misfit of the ways shown, as measured out, that nothing stops (of all, where something stops each); a wish for a
    /// pH that is not met counts 1 (own choice); of ways within 0.01 the one that drains least.
    #[serde(rename = "best fit")]
    BestFit,
    /// The least drain at which every target comes within 5 %, or as near as at the best fit.
    #[serde(rename = "least waste")]
    LeastWaste,
    /// A share of what can be drained, or the drain that was asked for.
    #[serde(rename = "fixed")]
    Fixed,
}

/// One way of turning a tank over.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SwitchOption {
    /// What it is.
    pub kind: Kind,
    /// True for the one that the top-level doses repeat.
    pub told: bool,
    /// What to drain, L.
    pub drain_l: f64,
    /// What to fill in, L.
    pub refill_l: f64,
    /// False where limits of the formula cannot be kept.
    pub possible: bool,
    /// Why not.
    pub why_not: Option<String>,
    /// Misfit as measured out; null where it is not possible.
    pub misfit: Option<f64>,
    /// Misfit before rounding; null where it is not possible.
    pub misfit_exact: Option<f64>,
    /// What to measure out.
    pub doses: Vec<Dose>,
    /// Litres of each of several waters in what is filled in, as of a mix.
    pub waters: Vec<WaterRecord>,
    /// Bottles that it draws from, as of a mix.
    pub helpers: Vec<HelperRecord>,
    /// What the tank will hold.
    pub after: Vec<Element>,
    /// EC at 25 C after it, mS/cm; null where it is not possible.
    pub ec_ms_cm: Option<f64>,
    /// pH right after it; null where it is not possible, or not known.
    pub ph: Option<f64>,
    /// pH after days in air; null likewise.
    pub ph_aired: Option<f64>,
    /// Stops (what is too little to weigh aside, which the misfit counts), with which it is no best fit beside a way that has
    /// none, and a wish for a pH that is not met, which counts as a misfit of 1.
    pub against: Vec<Finding>,
}

/// A tank turned over.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SwitchRecord {
    /// The option that is reported in full.
    #[serde(flatten)]
    pub after: MixRecord,
    /// The tank before.
    pub before: Before,
    /// Every option, least drained first.
    pub options: Vec<SwitchOption>,
    /// Kind of the option that the top-level doses repeat.
    pub told: Kind,
    /// What it drains, L.
    pub drain_l: f64,
    /// What it fills in, L.
    pub refill_l: f64,
    /// What stays behind of what burns, is rinsed, and so counts as water, L; else 0.
    pub rinsed_l: f64,
    /// What the grower's meter should then read, as the logbook that tells of it reckons, mS/cm; null without one.
    pub own_meter_ms_cm: Option<f64>,
    /// The day by which to turn back, where the formula may only be held for so long and the day of the switch is known.
    pub back_by: Option<String>,
    /// Every step, where it is done in several; the rest of the record is the first of them. Empty where it is done at once.
    pub steps: Vec<SwitchStep>,
}

/// Ways nearer than this share of the full tank are one: own choice, as well as a tank is usually known.
const ONE_WAY: f64 = 0.02;
/// A level is told to this fraction at the best: own choice.
const AS_TOLD: f64 = 0.005;
/// The most buckets that are counted.
const MOST_BUCKETS: f64 = 400.0;
/// A change of EC at once over which roots may suffer, mS/cm: own choice, no source.
const EC_STEP_MS_PER_CM: f64 = 0.5;

/// Turns a tank over to a formula: the best fit and the least waste, the rows from nothing to all of what is there, and the
/// full report of the best fit (or of the drain asked for). In steps, the full report is that of the first.
///
/// c = ((v - D + h) c0 + R w + sum a G) / (V + h): what is left of the old content, and of the water filled in, counts as
/// the water of a mix for V + h.
///
/// # Errors
/// As [`mix`](crate::jobs::mix); [`JobError::NoSwitch`] for a level over the tank, or more drained than there is.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, Content, MixOptions, SwitchOptions}};
/// let bench = Bench::starter();
/// let growth = jobs::mixed(&bench, "growth")?;
/// let turned = jobs::switch(&bench, "push", &growth, &SwitchOptions::default(), &MixOptions::default())?;
/// assert!(turned.drain_l > 0.0 && turned.options.len() >= 5);
/// # Ok::<(), jobs::JobError>(())
/// ```
///
/// Reference: `docs/switch.md`.
pub fn switch(
    bench: &Bench,
    formula: &str,
    holding: &Content,
    how: &SwitchOptions,
    options: &MixOptions,
) -> Result<SwitchRecord, JobError> {
    match how.in_steps {
        Some(in_steps) => in_steps::switch(bench, formula, holding, how, options, in_steps),
        None => at_once(bench, formula, holding, how, options),
    }
}

/// The tank that is turned over, as far as it is filled.
fn turn<'b>(bench: &'b Bench, formula: &'b str, holding: &'b Content, how: &SwitchOptions) -> Result<Turn<'b>, JobError> {
    let turn = Turn::full(bench, formula, holding)?;
    let full = turn.full;
    let level = how.level.map_or(full, liter_of);
    // a logbook keeps nine digits of everything that makes up its level
    if level > full * (1.0 + 1e-8) {
        let (level, full) = (volume_text(liter(level)), volume_text(liter(full)));
        return Err(JobError::NoSwitch { why: format!("a level of {level} is over the tank's {full}") });
    }
    Ok(turn.standing_at(level.min(full), how.held_back.map_or(0.0, liter_of)))
}

/// As [`switch`], in one go.
fn at_once(
    bench: &Bench,
    formula: &str,
    holding: &Content,
    how: &SwitchOptions,
    options: &MixOptions,
) -> Result<SwitchRecord, JobError> {
    let asked = formula_called(bench, formula)?;
    let mut turn = turn(bench, formula, holding, how)?;
    let level = turn.level;
    let mut before = before(&turn, how.meter_factor)?;
    turn = turn.letting_out(&how.spent_ph(before.ph_aired), before.ec_ms_cm);
    let asked_drain = drain_asked(how, level)?;
    let bucket = bucket_asked(how, level)?;
    let told = if asked_drain.is_some() { Kind::Fixed } else { Kind::BestFit };
    let burning_ph = how.held_ph.or(before.ph_aired).filter(|ph| safety::is_burning_ph(*ph));
    (turn.burning, turn.unfit) = (burning_ph.is_some(), burning_ph.is_some());
    if turn.burning {
        // known by element, as a logbook knows it, it is as it was poured in
        let poured = holding.ec_by_element(&bench.catalogue, &holding.ppm);
        before.poured_ec_ms_cm = poured.filter(|poured| safety::is_doubted_by_ec(before.ec_ms_cm, *poured));
    }
    let fixed_drain = asked_drain.or(burning_ph.map(|_| level)); // of what burns nothing stays
    let mut ways = match fixed_drain {
        Some(drain) => ways_beside(&turn, options, drain, bucket)?,
        None => ways_found(&turn, options, bucket)?,
    };
    for way in ways.iter_mut().filter(|way| fixed_drain.is_some_and(|drain| way.drain.to_bits() == drain.to_bits())) {
        way.kind = told;
    }
    // the way that is told: where none is possible, all is drained
    let is_told = |way: &Way| way.kind == told && fixed_drain.is_none_or(|drain| way.drain.to_bits() == drain.to_bits());
    let drain = ways.iter().find(|way| is_told(way)).map_or(level, |way| way.drain);
    let mut after = turn.made(drain, options, &[])?;
    let mut shown: Vec<SwitchOption> = ways
        .iter()
        .map(|way| option(way.kind, way.drain, turn.refill(way.drain), way.drain.to_bits() == drain.to_bits(), &way.made))
        .collect();
    for way in shown.iter_mut().filter(|way| way.drain_l < level - 1e-9) {
        way.against.extend(burning_ph.map(|ph| turn.burns(ph, way.drain_l, &before)));
    }
    "switch".clone_into(&mut after.job);
    after.bench.clone_from(&bench.name);
    let refill = turn.refill(drain);
    // as a logbook reckons it, and so what it tells of the tank once this is booked
    let own_meter_ms_cm = turn.own_meter(drain, &after.content_ppm(), how.meter_factor)?;
    let step = how.ec_step.map_or(EC_STEP_MS_PER_CM, crate::tank::chemistry::ms_per_cm);
    // what is too strong, burns, or must not meet the acid is not left half way
    if burning_ph.is_none() && !holds_urea(&holding.ppm) && before.ec_ms_cm <= safety::MOST_EC_MS_PER_CM {
        after.findings.extend(safety::in_two_steps(before.ec_ms_cm, after.ec_ms_cm, step));
    }
    after.findings.extend(burning_ph.map(|ph| turn.burns(ph, drain, &before)));
    after.findings.extend(how.held_ph.filter(|_| burning_ph.is_none()).and_then(|ph| turn.gas(ph)));
    after.findings.extend(not_lean(bench, &before, &after));
    after.findings.extend(may_lack(&turn, drain, how.low_nitrogen_ppm, &after));
    after.findings.extend(too_old(&after.helpers, how.on));
    let back_by = how.fed_since.or(how.on).and_then(|on| back_by(asked, on));
    after.findings.extend(back_by.map(|date| safety::back_by(&asked.name, &date.to_string())));
    after.findings.sort_by_key(|finding| finding.severity);
    after.verdict = Verdict::of(&after);
    // another way may take an acid that this one does without
    let acids: Vec<&str> = shown.iter().flat_map(|way| &way.doses).filter(|dose| dose.acid).filter_map(Dose::salt).collect();
    let against: Vec<Finding> = shown.iter().flat_map(|option| option.against.iter().cloned()).collect();
    after.mind(bench, &acids, &against, &how.spent_ph(before.ph_aired));
    Ok(SwitchRecord {
        after,
        before,
        options: shown,
        told,
        drain_l: drain,
        refill_l: refill,
        rinsed_l: turn.rinsed_l(drain),
        own_meter_ms_cm,
        back_by: back_by.map(|date| date.to_string()),
        steps: Vec::new(),
    })
}

/// What is to be drained, where that is stated, L.
fn drain_asked(how: &SwitchOptions, level: f64) -> Result<Option<f64>, JobError> {
    // what is told to the litre is all of it, and so is a little more
    let all_of_it = |drain: f64| if drain > level && drain <= level * (1.0 + AS_TOLD) { level } else { drain };
    let asked = how.drain.map(liter_of).map(all_of_it);
    match asked.filter(|drain| *drain > level * (1.0 + 1e-9)) {
        Some(drain) => {
            let (drain, level) = (volume_text(liter(drain)), volume_text(liter(level)));
            Err(JobError::NoSwitch { why: format!("{drain} cannot be drained: there are {level} that can") })
        }
        None => Ok(asked),
    }
}

/// The bucket that a drain is counted in, where one is named, L.
fn bucket_asked(how: &SwitchOptions, level: f64) -> Result<Option<f64>, JobError> {
    let bucket = how.bucket.map(liter_of);
    if bucket.is_some_and(|bucket| level / bucket > MOST_BUCKETS) {
        let why = format!("more than {} buckets: name a larger one", trimmed(MOST_BUCKETS, 0));
        return Err(JobError::NoSwitch { why });
    }
    Ok(bucket)
}

/// The drain that is asked for, and others to see it beside.
fn ways_beside(turn: &Turn, options: &MixOptions, drain: f64, bucket: Option<f64>) -> Result<Vec<Way>, JobError> {
    let asked = Drain { drain, wastes_least: false, within: Vec::new() };
    let mut shown = ways(turn, options, vec![asked], bucket)?;
    // a share next to it is no way of its own
    let is_asked = |way: &Way| way.drain.to_bits() == drain.to_bits();
    shown.retain(|way| is_asked(way) || (way.drain - drain).abs() >= ONE_WAY * turn.full);
    shown.sort_by(|a, b| a.drain.total_cmp(&b.drain));
    Ok(shown)
}

/// The best fit, the least waste, and others to see them beside.
fn ways_found(turn: &Turn, options: &MixOptions, bucket: Option<f64>) -> Result<Vec<Way>, JobError> {
    let one_way = bucket.unwrap_or(ONE_WAY * turn.full);
    let named = named(turn, bucket)?;
    let exact = named.first().map(|best| best.drain);
    let mut shown = ways(turn, options, named, bucket)?;
    if let Some(exact) = exact {
        shown.extend(a_little_more(turn, options, &shown, exact, one_way)?);
    }
    let mut shown = judged(shown, one_way);
    // the best fit is told without the limits of the least waste, and may then be another
    while let Some(best) = shown.iter_mut().find(|way| way.kind == Kind::BestFit && way.within) {
        best.made = turn.made(best.drain, options, &[]);
        best.within = false;
        shown = judged(shown, one_way);
    }
    Ok(shown)
}

/// The day by which a formula that is fed from a day on has been fed long enough; nothing beyond the calendar.
fn back_by(asked: &Formula, on: Date) -> Option<Date> {
    #[allow(clippy::cast_possible_truncation, reason = "bounded by the table of bounds")]
    let days = asked.hold_at_most?.get::<uom::si::time::day>().floor() as i32;
    Some(on.plus(days)).filter(|back_by| back_by.days_since(on) == days)
}

fn option(kind: Kind, drain: f64, refill: f64, told: bool, made: &Result<MixRecord, JobError>) -> SwitchOption {
    let made_out = made.as_ref().ok();
    SwitchOption {
        kind,
        told,
        drain_l: drain,
        refill_l: refill,
        possible: made_out.is_some(),
        why_not: made.as_ref().err().map(JobError::in_a_line),
        misfit: made_out.and_then(|mix| mix.misfit),
        misfit_exact: made_out.and_then(|mix| mix.misfit_exact),
        doses: made_out.map_or_else(Vec::new, |mix| mix.doses.clone()),
        waters: made_out.map_or_else(Vec::new, |mix| mix.waters.clone()),
        helpers: made_out.map_or_else(Vec::new, |mix| mix.helpers.clone()),
        after: made_out.map_or_else(Vec::new, |mix| mix.elements.clone()),
        ec_ms_cm: made_out.map(|mix| mix.ec_ms_cm),
        ph: made_out.and_then(|mix| mix.ph),
        ph_aired: made_out.and_then(|mix| mix.ph_aired),
        against: made_out.map_or_else(Vec::new, |mix| safety::speaks_against(&mix.findings).cloned().collect()),
    }
}

/// The tank before, as a mix of which nothing is weighed in.
fn before(turn: &Turn, meter_factor: Option<f64>) -> Result<Before, JobError> {
    let tank = Tank::full_of(turn.bench, turn.holding.clone());
    let parts = Parts::new(turn.bench, Vec::new());
    let made = Made::unfitted("switch", &tank, &parts, &[], &[]);
    let record = describe(&made, None)?;
    let by_logbook = turn.holding.ec_by_element(&turn.bench.catalogue, &turn.holding.ppm);
    Ok(Before {
        level_l: turn.level,
        held_back_l: turn.held_back,
        known_from: turn.holding.known_from.clone(),
        elements: record.elements,
        ec_ms_cm: record.ec_ms_cm,
        poured_ec_ms_cm: None,
        own_meter_ms_cm: meter_factor.zip(by_logbook).map(|(factor, ec)| ec * factor),
        ph_aired: record.ph_aired,
        ph_aired_low: record.ph_aired_low,
        ph_aired_high: record.ph_aired_high,
    })
}
