//! An EC reading against the prediction: which slips would explain it, how likely each is, and how to tell them apart.

mod suspects;

use serde::Serialize;
use uom::si::thermodynamic_temperature::degree_celsius;

use self::suspects::{Judged, Suspect};
use crate::jobs::error::JobError;
use crate::quantity::{Conductivity, Temperature};
use crate::safety::{self, Finding};
use crate::solution::EC_MODEL_PLUS_MINUS;
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, ms_per_cm, volume_deviation};
use crate::tank::parts::Parts;

/// What a meter shows, and how far it may be trusted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// What it shows: EC at 25 C, or at `read_at`.
    pub ec: Conductivity,
    /// How far it may be off, as a fraction of what it shows (k = 2).
    pub meter_error: f64,
    /// Set for a meter that does not correct to 25 C: the temperature of the solution that it was read in.
    pub read_at: Option<Temperature>,
}

/// How far a meter may be off unless stated, as a fraction (k = 2): own choice, a hand-held meter calibrated lately.
pub const METER_ERROR: f64 = 0.03;

/// What may have happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum CauseKind {
    /// Nothing beyond the stated errors.
    NothingWrong,
    /// The tank holds clearly more or less than stated.
    Volume,
    /// Something was not put in.
    LeftOut,
    /// Something was put in twice.
    Doubled,
    /// A scale of dissolved solids was taken for another.
    MeterScale,
    /// The meter is out of calibration by more than stated.
    MeterOff,
    /// The meter corrects for temperature and was taken not to, or the other way round.
    Compensation,
    /// Something that is not thought of here.
    SomethingElse,
}

/// One cause that would explain a reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Cause {
    /// What may have happened.
    pub kind: CauseKind,
    /// Id of the salt or bottle, for `left-out` and `doubled`; else null.
    pub what: Option<String>,
    /// In words.
    pub words: String,
    /// For `volume`: how much more the tank would hold than stated, negative for less; for `meter-off`: how much more the
    /// meter would show than it should; percent. Else null.
    pub percent: Option<f64>,
    /// What the meter would show, mS/cm; null for `something-else`.
    pub would_read_ms_cm: Option<f64>,
    /// pH right after mixing; null when it is not known.
    pub ph: Option<f64>,
    /// How likely it is among all causes here, given the reading and the priors.
    pub probability: f64,
}

/// Causes that the reading cannot tell apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CauseGroup {
    /// The causes, most likely first.
    pub causes: Vec<Cause>,
    /// What to do to tell them apart.
    pub tests: Vec<String>,
}

/// A reading held against the prediction.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ReadingRecord {
    /// What the meter shows, mS/cm.
    pub ec_ms_cm: f64,
    /// How far the meter may be off, percent (k = 2).
    pub meter_error_percent: f64,
    /// The temperature at which a meter without correction was read, C; else null.
    pub read_at_c: Option<f64>,
    /// What it should show, mS/cm.
    pub predicted_ms_cm: f64,
    /// Give or take of the prediction alone, mS/cm (k = 2).
    pub predicted_plus_minus_ms_cm: f64,
    /// How far the reading is over the prediction, percent; negative for under.
    pub apart_percent: f64,
    /// Give or take of that difference, meter and prediction together, percent (k = 2).
    pub apart_plus_minus_percent: f64,
    /// Give or take of the tank's volume, percent (k = 2): part of the prediction's.
    pub volume_plus_minus_percent: f64,
    /// Give or take of the EC model, percent (k = 2): part of the prediction's.
    pub model_plus_minus_percent: f64,
    /// `as-predicted`, `one-cause`, `not-told-apart` or `no-cause`.
    pub verdict: String,
    /// Causes, the most likely group first. Within a group the reading cannot tell them apart.
    pub groups: Vec<CauseGroup>,
    /// Names of what could have been left out or doubled without this reading showing it.
    pub not_seen: Vec<String>,
}

/// Causes that fit the reading within this factor of likelihood are not told apart by it (own choice).
const TOLD_APART: f64 = 10.0;
/// A cause this much less likely than the first of a group stands in a later one (own choice).
const MUCH_LESS_LIKELY: f64 = 0.02;
/// Causes less likely than this are not told (own choice).
const TOLD_FROM: f64 = 0.002;
/// One cause is told as the likely one from this probability (own choice).
const LIKELY: f64 = 0.8;
/// The most groups that are told (own choice).
const GROUPS: usize = 3;
/// pH of two causes this far apart can be told with a usual pH meter (own choice: prediction and meter to 0.1 each).
const PH_APART: f64 = 0.3;

/// Holds a reading against what went in.
///
/// Each cause predicts what the meter would show; its likelihood is that of the reading under a normal error made up of
/// the prediction's give or take, the meter's and its step. Prior times likelihood ranks them. A cause with a free figure
/// (volume, meter) averages over it. Causes that fit the reading within a factor of ten stand in one group.
///
/// * `amounts`: per litre of tank, in the unit of each part
/// * `plus_minus`: give or take (k = 2) of the predicted EC at 25 C, mS/cm
///
/// # Errors
/// [`TankError::NoEquilibrium`](crate::tank::TankError::NoEquilibrium) when what went in is beyond the chemistry.
pub(crate) fn judge(
    tank: &Tank,
    parts: &Parts,
    amounts: &[f64],
    plus_minus: f64,
    reading: &Reading,
) -> Result<(ReadingRecord, Vec<Finding>), JobError> {
    let mixture = Mixture::new(tank, parts);
    let ec = ms_per_cm(mixture.solution(amounts)?.ec);
    let deviation = if ec > 0.0 { plus_minus / ec / 2.0 } else { 0.0 };
    let judged = Judged { tank, parts, mixture, amounts, reading, deviation };
    let Some(right) = judged.sight(amounts) else {
        return Err(JobError::Failed { words: "a solution that was reckoned once was not the second time".to_owned() });
    };
    let (mut suspects, not_seen) = judged.suspects(right);
    let all: f64 = suspects.iter().map(|suspect| suspect.prior * suspect.likelihood).sum();
    for suspect in &mut suspects {
        suspect.cause.probability = suspect.prior * suspect.likelihood / all;
    }
    suspects.sort_by(|a, b| b.cause.probability.total_cmp(&a.cause.probability));
    let groups = grouped(suspects);
    let verdict = verdict(&groups);
    let (reads, shows) = (judged.reads(), right.shows);
    let apart = 100.0 * (reads / shows - 1.0);
    let record = ReadingRecord {
        ec_ms_cm: reads,
        meter_error_percent: 100.0 * reading.meter_error,
        read_at_c: reading.read_at.map(|temperature| temperature.get::<degree_celsius>()),
        predicted_ms_cm: shows,
        predicted_plus_minus_ms_cm: 2.0 * deviation * shows,
        apart_percent: apart,
        apart_plus_minus_percent: 200.0 * judged.spread(shows) / shows,
        volume_plus_minus_percent: 200.0 * volume_deviation(tank),
        model_plus_minus_percent: 100.0 * EC_MODEL_PLUS_MINUS,
        verdict: verdict.to_owned(),
        groups,
        not_seen,
    };
    let test = record.groups.first().and_then(|group| group.tests.first()).cloned();
    let findings = safety::of_reading(&safety::ReadingFacts {
        reads_ms_per_cm: reads,
        predicted_ms_per_cm: shows,
        apart_percent: apart,
        plus_minus_percent: record.apart_plus_minus_percent,
        unexplained: verdict == "no-cause",
        test,
    });
    let findings = findings.into_iter().chain(safety::reads_too_far("The EC read", reads, shows, "what is predicted"));
    Ok((record, findings.collect()))
}

/// Groups of causes that the reading cannot tell apart, by their most likely.
fn grouped(suspects: Vec<Suspect>) -> Vec<CauseGroup> {
    let mut left: Vec<Suspect> = suspects.into_iter().filter(|suspect| suspect.cause.probability >= TOLD_FROM).collect();
    let mut groups = Vec::new();
    while !left.is_empty() && groups.len() < GROUPS {
        let (fits, likely) = (left[0].at_best / TOLD_APART, left[0].cause.probability * MUCH_LESS_LIKELY);
        let (together, later): (Vec<Suspect>, Vec<Suspect>) =
            left.into_iter().partition(|suspect| suspect.at_best >= fits && suspect.cause.probability >= likely);
        let causes: Vec<Cause> = together.into_iter().map(|suspect| suspect.cause).collect();
        groups.push(CauseGroup { tests: tests(&causes), causes });
        left = later;
    }
    groups
}

fn verdict(groups: &[CauseGroup]) -> &'static str {
    let Some(causes) = groups.first().map(|group| &group.causes) else { return "no-cause" };
    let Some(first) = causes.first() else { return "no-cause" };
    match first.kind {
        CauseKind::SomethingElse => "no-cause",
        CauseKind::NothingWrong if first.probability >= LIKELY => "as-predicted",
        _ if causes.len() == 1 && first.probability >= LIKELY => "one-cause",
        _ => "not-told-apart",
    }
}

/// What separates causes, the least work first.
fn tests(causes: &[Cause]) -> Vec<String> {
    let any = |kinds: &[CauseKind]| causes.iter().any(|cause| kinds.contains(&cause.kind));
    let mut tests = Vec::new();
    if any(&[CauseKind::Volume]) {
        tests.push("Measure the depth of the tank and work out its volume.".to_owned());
    }
    let phs = || causes.iter().filter_map(|cause| cause.ph);
    let (low, high) = phs().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), ph| (ph.min(low), ph.max(high)));
    if high - low >= PH_APART {
        tests.push("Read the pH and compare it with the column pH, right after mixing.".to_owned());
    }
    if any(&[CauseKind::LeftOut, CauseKind::Doubled]) {
        tests.push("Weigh what is left of the salts named, if you know what there was.".to_owned());
    }
    if any(&[CauseKind::Compensation]) {
        tests.push("Read the temperature, and read the meter again in a sample at 25 C.".to_owned());
    }
    if any(&[CauseKind::MeterScale, CauseKind::MeterOff]) {
        tests.push(
            "Read the meter in a standard solution: potassium chloride of 0.01 mol/L has 1.413 mS/cm at 25 C.".to_owned(),
        );
    }
    tests
}
