//! An EC reading against the prediction: which slips would explain it, how likely each is, and how to tell them apart.

use schemars::JsonSchema;
use serde::Serialize;
use uom::si::thermodynamic_temperature::degree_celsius;

use crate::jobs::error::JobError;
use crate::quantity::{Conductivity, Temperature, fixed};
use crate::safety::{self, Finding};
use crate::solution::{EC_MODEL_PLUS_MINUS, METER_SCALES, conductivity, conductivity_at};
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, ms_per_cm, volume_deviation};
use crate::tank::parts::{Part, Parts};

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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CauseGroup {
    /// The causes, most likely first.
    pub causes: Vec<Cause>,
    /// What to do to tell them apart.
    pub tests: Vec<String>,
}

/// A reading held against the prediction.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
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

/// Priors, before anything is read. All own choice, no source; they add up to 1.
const NOTHING_WRONG: f64 = 0.60;
/// The volume is off by more than stated (own choice).
const VOLUME: f64 = 0.12;
/// One thing was left out, shared out evenly over what went in (own choice).
const LEFT_OUT: f64 = 0.08;
/// One thing went in twice, likewise (own choice).
const DOUBLED: f64 = 0.04;
/// A dissolved-solids scale taken for another, shared out over the six ways (own choice).
const METER_SCALE: f64 = 0.03;
/// The meter is off by more than stated (own choice).
const METER_OFF: f64 = 0.08;
/// Temperature correction the other way round (own choice).
const COMPENSATION: f64 = 0.03;
/// Anything else (own choice).
const SOMETHING_ELSE: f64 = 0.02;

/// Standard deviation of ln(volume) when the volume is grossly off (own choice).
const GROSS_VOLUME: f64 = 0.15;
/// Standard deviation of ln(what the meter shows) when the meter is grossly off (own choice).
const GROSS_METER: f64 = 0.10;
/// Gross slips are looked at up to this, as a logarithm: from 39 % less to 65 % more (own choice).
const GROSS_MOST: f64 = 0.5;
/// Step of that look, as a logarithm (own choice, under any meter's error).
const GROSS_STEP: f64 = 0.01;
/// Anything else may show from nothing up to so many times what is predicted, all alike (own choice).
const ELSE_TIMES: f64 = 3.0;
/// A meter shows steps of this, mS/cm (own choice, usual hand-held meters).
const METER_STEP_MS_PER_CM: f64 = 0.01;
/// Standard deviation that a thermometer half a degree off leaves in a reading without correction (own choice; EC changes
/// by about 2 % a degree).
const THERMOMETER: f64 = 0.01;
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
/// Below this distance from 25 C correction for temperature makes no difference, C (own choice).
const NEAR_25_C: f64 = 1.0;

/// A cause with how well it fits.
struct Suspect {
    cause: Cause,
    /// Density of the reading under the cause, per mS/cm.
    likelihood: f64,
    /// The same with the free figure of the cause at its best.
    at_best: f64,
    prior: f64,
}

/// A tank that is read.
struct Judged<'a> {
    tank: &'a Tank<'a>,
    parts: &'a Parts<'a>,
    mixture: Mixture<'a>,
    amounts: &'a [f64],
    reading: &'a Reading,
    /// Standard deviation of a prediction, as a fraction of it.
    deviation: f64,
}

/// What the meter shows and the pH of some amounts.
#[derive(Clone, Copy)]
struct Sight {
    shows: f64,
    /// The same with temperature corrected the other way round.
    otherwise: f64,
    ph: Option<f64>,
}

impl Judged<'_> {
    /// `None` where the amounts are beyond the chemistry: no cause that can be reckoned with.
    fn sight(&self, amounts: &[f64]) -> Option<Sight> {
        let chemistry = self.parts.bench.catalogue.chemistry();
        let fresh = self.mixture.solution(amounts).ok()?.fresh;
        let at = |temperature| ms_per_cm(conductivity_at(chemistry, &fresh, temperature));
        let (corrected, temperature) = (ms_per_cm(conductivity(chemistry, &fresh)), self.parts.bench.tank.temperature);
        let (shows, otherwise) = match self.reading.read_at {
            Some(read_at) => (at(read_at), corrected),
            None => (corrected, at(temperature)),
        };
        let known = self.mixture.alkalinity_known(amounts);
        Some(Sight { shows, otherwise, ph: known.then_some(fresh.ph) })
    }

    fn reads(&self) -> f64 {
        ms_per_cm(self.reading.ec)
    }

    /// Standard deviation of a reading of which `shows` is predicted, mS/cm.
    fn spread(&self, shows: f64) -> f64 {
        let thermometer = if self.reading.read_at.is_some() { THERMOMETER } else { 0.0 };
        let relative = self.deviation.powi(2) + (self.reading.meter_error / 2.0).powi(2) + thermometer.powi(2);
        (relative * shows.powi(2) + METER_STEP_MS_PER_CM.powi(2) / 12.0).sqrt()
    }

    /// Density of the reading where `shows` is predicted, per mS/cm.
    fn density(&self, shows: f64) -> f64 {
        let spread = self.spread(shows);
        let off = (self.reads() - shows) / spread;
        libm::exp(-0.5 * off * off) / (spread * (2.0 * std::f64::consts::PI).sqrt())
    }

    fn suspect(
        &self,
        kind: CauseKind,
        what: Option<usize>,
        words: String,
        shows: f64,
        ph: Option<f64>,
        prior: f64,
    ) -> Suspect {
        let what = what.map(|at| self.parts.id(at).to_owned());
        let cause = Cause { kind, what, words, percent: None, would_read_ms_cm: Some(shows), ph, probability: 0.0 };
        let likelihood = self.density(shows);
        Suspect { cause, likelihood, at_best: likelihood, prior }
    }

    /// A cause with a free figure: its logarithm is spread round 0, and what lies within the stated error is no such cause.
    ///
    /// * `shows`: what the meter would show at a logarithm
    fn gross(
        &self,
        kind: CauseKind,
        stated: f64,
        spread: f64,
        prior: f64,
        shows: impl Fn(f64) -> Option<Sight>,
    ) -> Option<Suspect> {
        let mut steps: Vec<(f64, f64, f64, Sight)> = Vec::new();
        let mut at = -GROSS_MOST;
        while at <= GROSS_MOST + 1e-9 {
            // strictly beyond what is stated already
            if at.abs() > stated.max(GROSS_STEP / 2.0)
                && let Some(sight) = shows(at)
            {
                steps.push((at, libm::exp(-0.5 * (at / spread).powi(2)), self.density(sight.shows), sight));
            }
            at += GROSS_STEP;
        }
        let weight: f64 = steps.iter().map(|(_, weight, ..)| weight).sum();
        let likelihood: f64 = steps.iter().map(|(_, weight, density, _)| weight * density).sum::<f64>() / weight;
        // the likeliest figure; where nothing fits, the one that comes nearest
        let miss = |sight: &Sight| (sight.shows - self.reads()).abs();
        let (log, _, at_best, sight) = steps
            .iter()
            .max_by(|a, b| (a.1 * a.2).total_cmp(&(b.1 * b.2)).then(miss(&b.3).total_cmp(&miss(&a.3))))
            .copied()?;
        let percent = 100.0 * (libm::exp(log) - 1.0);
        let much = fixed(percent.abs(), 0);
        let words = match (kind, percent > 0.0) {
            (CauseKind::Volume, true) => format!("about {much} % more in the tank than stated"),
            (CauseKind::Volume, false) => format!("about {much} % less in the tank than stated"),
            (_, true) => format!("meter shows about {much} % too much"),
            (_, false) => format!("meter shows about {much} % too little"),
        };
        let mut suspect = self.suspect(kind, None, words, sight.shows, sight.ph, prior);
        suspect.cause.percent = Some(percent);
        Some(Suspect { likelihood, at_best, ..suspect })
    }

    /// Everything that is reckoned with, and the names of what the reading cannot show.
    fn suspects(&self, right: Sight) -> (Vec<Suspect>, Vec<String>) {
        let one = |kind, words: &str, shows, prior| self.suspect(kind, None, words.to_owned(), shows, right.ph, prior);
        let mut all = vec![one(CauseKind::NothingWrong, "nothing wrong", right.shows, NOTHING_WRONG)];
        let stated = 2.0 * volume_deviation(self.tank);
        all.extend(self.gross(CauseKind::Volume, stated, GROSS_VOLUME, VOLUME, |log| {
            let thinned: Vec<f64> = self.amounts.iter().map(|amount| amount / libm::exp(log)).collect();
            self.sight(&thinned)
        }));
        all.extend(self.gross(CauseKind::MeterOff, self.reading.meter_error, GROSS_METER, METER_OFF, |log| {
            Some(Sight { shows: right.shows * libm::exp(log), ..right })
        }));
        let went_in: Vec<usize> = (0..self.amounts.len()).filter(|&at| self.amounts[at] > 0.0).collect();
        #[allow(clippy::cast_precision_loss, reason = "a count of doses")]
        let count = went_in.len().max(1) as f64;
        let mut not_seen = Vec::new();
        for at in went_in {
            let mut seen = false;
            let bottle = if matches!(self.parts.list[at], Part::Helper(_)) { "bottle " } else { "" };
            let name = format!("{bottle}{}", self.parts.name(at));
            let ways = [
                (CauseKind::LeftOut, 0.0, format!("{name} left out"), LEFT_OUT),
                (CauseKind::Doubled, 2.0, format!("{name} doubled"), DOUBLED),
            ];
            for (kind, times, words, prior) in ways {
                let mut amounts = self.amounts.to_vec();
                amounts[at] *= times;
                let Some(sight) = self.sight(&amounts) else { continue };
                if (sight.shows - right.shows).abs() >= self.spread(right.shows) {
                    seen = true;
                    all.push(self.suspect(kind, Some(at), words, sight.shows, sight.ph, prior / count));
                }
            }
            if !seen {
                not_seen.push(name);
            }
        }
        for shown in METER_SCALES {
            for taken in METER_SCALES.iter().filter(|taken| (taken.factor - shown.factor).abs() > 1e-9) {
                let words = format!("ppm of the {} scale read as {}", shown.factor, taken.factor);
                let ratio = shown.factor / taken.factor;
                all.push(one(CauseKind::MeterScale, &words, right.shows * ratio, METER_SCALE / 6.0));
            }
        }
        let temperature = self.reading.read_at.unwrap_or(self.parts.bench.tank.temperature).get::<degree_celsius>();
        if (temperature - 25.0).abs() > NEAR_25_C {
            let words = if self.reading.read_at.is_some() {
                "meter does correct to 25 C".to_owned()
            } else {
                format!("meter does not correct to 25 C from {} C", fixed(temperature, 0))
            };
            all.push(one(CauseKind::Compensation, &words, right.otherwise, COMPENSATION));
        }
        let density = 1.0 / (ELSE_TIMES * right.shows.max(self.reads()).max(METER_STEP_MS_PER_CM));
        let mut other = one(CauseKind::SomethingElse, "something not thought of here", right.shows, SOMETHING_ELSE);
        (other.likelihood, other.at_best) = (density, density);
        (other.cause.would_read_ms_cm, other.cause.ph) = (None, None);
        all.push(other);
        (all, not_seen)
    }
}

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
/// [`JobError::NoEquilibrium`] when what went in is beyond the chemistry.
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
