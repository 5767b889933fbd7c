//! How fast a tank runs down, learnt from a filling and its readings, and carried over to a fresh tank.

use super::booking::state_of;
use super::ledger::pace;
use super::model::{Predict, course};
use super::tank::{Tank, Track};
use super::uptake::Patterns;
use super::{Entry, Interval, Logbook, Moment, Slip, State};
use crate::matter::{Nutrient, Nutrients};

/// How fast the plants of a tank took up what it held, by the readings and analyses of one filling.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    /// The formula that the tank was filled to.
    pub formula: Option<String>,
    /// When it was filled.
    pub filled: Moment,
    /// From when on uptake counts: the first reading of the fresh tank, else the filling.
    pub from: Moment,
    /// The last reading or analysis that counts.
    pub until: Moment,
    /// The EC that was read then, mS/cm.
    pub ec_ms_cm: Option<f64>,
    /// What the meter reads over what is predicted.
    pub meter_factor: f64,
    /// Size of the uptake a day, by [`super::TRACKS`].
    pub uptake_per_day: [f64; 3],
    /// Water lost to leaves and air, L a day, where levels tell it.
    pub litres_per_day: Option<f64>,
    /// The tank right after the filling.
    pub fresh: Tank,
}

/// What a logbook tells of the pace of its tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Learnt {
    /// Of each formula asked for the latest filling that tells, and the latest of all; the latest first.
    pub paces: Vec<Pace>,
    /// What does not fit in the fillings that were looked at.
    pub slips: Vec<Slip>,
    /// Entries that are dated later than the moment and do not count.
    pub later: usize,
}

impl Pace {
    /// The pace that a state tells, since the tank was filled or turned over to another formula; none without readings or
    /// analyses that do.
    #[must_use]
    pub fn of(state: &State) -> Option<Self> {
        let (filled, formula, fresh) = match &state.turned {
            Some(turned) => (turned.at, Some(turned.formula.clone()), turned.tank),
            None => (state.filled?, state.formula.clone(), state.fresh?),
        };
        // an interval that the turn ends, or that it lies in, tells of what was before
        let own: Vec<Interval> = state.intervals.iter().filter(|interval| interval.from >= filled).copied().collect();
        let (from, until) = (own.first()?.from, own.last()?.until);
        Some(Self {
            formula,
            filled,
            from,
            until,
            ec_ms_cm: state.ec.filter(|(at, _)| *at == until).map(|(_, ec)| ec),
            meter_factor: state.meter_factor,
            uptake_per_day: pace(&own)?,
            litres_per_day: state.litres_per_day,
            fresh,
        })
    }

    /// Concentrations of another tank, `days` after it was filled afresh for the same plants, ppm.
    ///
    /// * `track`: one of the three courses
    /// * `water`: what the water holds that makes up for what is lost, ppm
    /// * `fresh_ppm`: what the tank is filled to
    /// * `volume_l`: its volume, what is held back included, L
    ///
    /// The same milligrams a day are a larger share of a smaller tank: the pace goes with 1 / volume. Whether plants take
    /// the same milligrams or the same share of a solution of another strength nobody has measured here, so of each nutrient
    /// whichever is more is taken. A tank of the same content and volume runs down as [`State::ppm_in`] has it.
    #[must_use]
    pub fn ppm_in(
        &self,
        days: f64,
        track: Track,
        patterns: &Patterns,
        water: &Nutrients,
        fresh_ppm: &Nutrients,
        volume_l: f64,
    ) -> Nutrients {
        let learnt_ppm = self.fresh.ppm_on(track).unwrap_or_default();
        let pace = self.uptake_per_day[track as usize] * self.fresh.volume_l / volume_l;
        let per_day = |nutrient: Nutrient| {
            // plants that find less ammonium take nitrate: the strength of nitrogen is that of all of it
            let of = if nutrient.is_nitrogen_form() { Nutrient::N } else { nutrient };
            let stronger = if fresh_ppm[of] > 0.0 { (learnt_ppm[of] / fresh_ppm[of]).max(1.0) } else { 1.0 };
            pace * stronger * patterns.speed(track, nutrient)
        };
        course(fresh_ppm, days, per_day, self.litres_per_day.unwrap_or(0.0) / volume_l, water)
    }
}

/// What the entries up to `at` tell of the pace of the tank.
///
/// * `wanted`: formulas of which the latest filling that tells is looked for
/// * `patterns`, `predict`: as for [`super::state_at`]
///
/// Goes back from the last filling, or turn to another formula; each counts by its own readings up to the next.
#[must_use]
pub fn learn(logbook: &Logbook, at: Moment, wanted: &[&str], patterns: &Patterns, predict: &dyn Predict) -> Learnt {
    let standing = logbook.standing();
    let entries: Vec<&Entry> = standing.iter().copied().filter(|entry| entry.at <= at).collect();
    let mut learnt = Learnt { paces: Vec::new(), slips: Vec::new(), later: standing.len() - entries.len() };
    let (mut end, mut until) = (entries.len(), at);
    // what is poured and drained tells where one begins, and takes no EC
    while let Some((begun, formula)) = state_of(&entries[..end], until, patterns, &|_: &Nutrients| None).begun {
        let Some(filling) = entries.iter().take(end).rposition(|entry| entry.number == begun) else { break };
        let told = |name: &str| learnt.paces.iter().any(|pace| pace.formula.as_deref() == Some(name));
        let asked = formula.as_deref().is_some_and(|name| wanted.contains(&name) && !told(name));
        if asked || learnt.paces.is_empty() {
            let state = state_of(&entries[..end], until, patterns, predict);
            learnt.paces.extend(Pace::of(&state));
            let new: Vec<Slip> = state.slips.into_iter().filter(|slip| !learnt.slips.contains(slip)).collect();
            learnt.slips.extend(new);
        }
        (end, until) = (filling, entries[filling].at);
    }
    learnt
}
