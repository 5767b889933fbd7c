//! What could be behind a reading, and how likely each of it is.

use uom::si::thermodynamic_temperature::degree_celsius;

use super::{Cause, CauseKind, Reading};
use crate::quantity::METER_SCALES;
use crate::quantity::fixed;
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, ms_per_cm, volume_deviation};
use crate::tank::parts::{Part, Parts};

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
/// Below this distance from 25 C correction for temperature makes no difference, C (own choice).
const NEAR_25_C: f64 = 1.0;

/// A cause with how well it fits.
pub(super) struct Suspect {
    pub(super) cause: Cause,
    /// Density of the reading under the cause, per mS/cm.
    pub(super) likelihood: f64,
    /// The same with the free figure of the cause at its best.
    pub(super) at_best: f64,
    pub(super) prior: f64,
}

/// A tank that is read.
pub(super) struct Judged<'a> {
    pub(super) tank: &'a Tank<'a>,
    pub(super) parts: &'a Parts<'a>,
    pub(super) mixture: Mixture<'a>,
    pub(super) amounts: &'a [f64],
    pub(super) reading: &'a Reading,
    /// Standard deviation of a prediction, as a fraction of it.
    pub(super) deviation: f64,
}

/// What the meter shows and the pH of some amounts.
#[derive(Clone, Copy)]
pub(super) struct Sight {
    pub(super) shows: f64,
    /// The same with temperature corrected the other way round.
    pub(super) otherwise: f64,
    pub(super) ph: Option<f64>,
}

impl Judged<'_> {
    /// `None` where the amounts are beyond the chemistry: no cause that can be reckoned with.
    pub(super) fn sight(&self, amounts: &[f64]) -> Option<Sight> {
        let chemistry = self.parts.bench.catalogue.chemistry();
        let solution = self.mixture.solution(amounts).ok()?;
        let corrected = ms_per_cm(solution.ec);
        let at = |temperature| ms_per_cm(solution.ec_at(chemistry, temperature));
        let temperature = self.parts.bench.tank.temperature;
        let (shows, otherwise) = match self.reading.read_at {
            Some(read_at) => (at(read_at), corrected),
            None => (corrected, at(temperature)),
        };
        let known = self.mixture.alkalinity_known(amounts);
        Some(Sight { shows, otherwise, ph: known.then_some(solution.fresh.ph) })
    }

    pub(super) fn reads(&self) -> f64 {
        ms_per_cm(self.reading.ec)
    }

    /// Standard deviation of a reading of which `shows` is predicted, mS/cm.
    pub(super) fn spread(&self, shows: f64) -> f64 {
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
    pub(super) fn suspects(&self, right: Sight) -> (Vec<Suspect>, Vec<String>) {
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
