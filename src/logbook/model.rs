//! What plants took: the size of the uptake from EC readings, carried on, and to come.

use super::ledger::{Interval, Open, pace, uptake};
use super::solve::{MOST_UPTAKE, met};
use super::tank::{Tank, Track};
use super::uptake::{Patterns, by_form};
use super::{Entry, Moment, Slip, State};
use crate::matter::{Nutrient, Nutrients};

/// How far an EC reading may be off (k = 2), a fraction: a meter calibrated now and then. Own choice.
pub const METER_PLUS_MINUS: f64 = 0.03;
/// A reading this fraction over what would be there without any uptake is not explained: the meter now and when it was held
/// against the tank, and the model of EC in between, 3 % each, in squares. Own choice.
const MOST_OVER: f64 = 0.052;
/// Days between filling and level from which a loss of water a day is told. Own choice.
const SHORTEST_DAYS: f64 = 0.5;
/// What evaporation to come leaves in the tank at the least, as a fraction: a pump runs dry before. Own choice.
const LEAST_LEFT: f64 = 0.1;

/// Predicts EC.
pub trait Predict {
    /// EC of a tank in mS/cm at 25 C; none where it cannot be told.
    ///
    /// * `ppm`: its concentrations
    /// * `water_per_l`: water that went in for each litre of it, which brought what nobody names too
    fn ec_ms_per_cm(&self, ppm: &Nutrients, water_per_l: f64) -> Option<f64>;
}

/// By what is named alone.
impl<F: Fn(&Nutrients) -> Option<f64>> Predict for F {
    fn ec_ms_per_cm(&self, ppm: &Nutrients, _: f64) -> Option<f64> {
        self(ppm)
    }
}

impl State {
    /// An EC reading: how the meter reads when it is the first after a filling or an analysis, else how much was taken up.
    /// Never both.
    pub(super) fn take_up(&mut self, entry: &Entry, tank: &Tank, ec: f64, patterns: &Patterns, predict: &dyn Predict) {
        let Some(open) = &self.open else { return };
        let litres = self.litres_at(tank, entry.at);
        let after = |track: Track, uptake: f64| {
            let mg = open.left_mg(track, entry.at, uptake, patterns);
            let there = Tank { volume_l: litres, ..*tank };
            predict.ec_ms_per_cm(&there.ppm(&mg)?, there.water_per_l())
        };
        let Some(without) = after(Track::Likely, 0.0).filter(|ec| *ec > 0.0) else {
            self.slips.push(Slip::NotPredicted { entry: entry.number });
            return;
        };
        if let Some(by) = self.known_by(entry.at) {
            // plants go on between an analysis and the reading; after a filling no pace is known yet
            let carried = self.carried_on(entry.at);
            let likely = after(Track::Likely, carried[Track::Likely as usize]).filter(|ec| *ec > 0.0).unwrap_or(without);
            let left = open.all_left_mg(entry.at, carried, patterns);
            if self.meter_read(entry.number, ec, likely, by) {
                self.known = None;
                self.reckoned = Some((entry.at, entry.number, ec));
                // of the first uptake of a filling it marks the beginning; after an analysis that is the anchor
                if self.intervals.is_empty() {
                    self.open = Some(Open::new(entry.at, tank.booked_mg, &left));
                }
            }
            return;
        }
        let target = ec / self.meter_factor;
        if without < target * (1.0 - MOST_OVER) {
            let predicted_ms_cm = without * self.meter_factor;
            self.slips.push(Slip::EcHigher { entry: entry.number, ec_ms_cm: ec, predicted_ms_cm });
            return;
        }
        // what a reading takes back was taken before it
        let most_back = uptake(&self.intervals).map(|uptake| -uptake.max(0.0));
        let on = |track: Track, least: f64, off: f64| met(&|uptake| after(track, uptake), least, target * (1.0 + off));
        let likely = on(Track::Likely, most_back[Track::Likely as usize], 0.0);
        if likely >= MOST_UPTAKE {
            self.slips.push(Slip::EcLower { entry: entry.number, ec_ms_cm: ec });
            return;
        }
        // the low track gives back no more than the likely one, whatever an analysis left between them
        let low = on(Track::Low, most_back[Track::Low as usize].max(likely.min(0.0)), -METER_PLUS_MINUS);
        let high = on(Track::High, most_back[Track::High as usize], METER_PLUS_MINUS);
        let left = open.all_left_mg(entry.at, [low, likely, high], patterns);
        self.book(entry.at, tank, [low, likely, high], &left);
        self.reckoned = Some((entry.at, entry.number, ec));
    }

    /// Closes the open interval and opens the next with what is left.
    pub(super) fn book(&mut self, at: Moment, tank: &Tank, uptake: [f64; 3], left_mg: &[Nutrients; 3]) {
        if let Some(open) = self.open.replace(Open::new(at, tank.booked_mg, left_mg)) {
            self.intervals.push(Interval { from: open.from, until: at, uptake });
        }
    }

    /// Uptake on each track since the last anchor, at the mean pace up to it; nothing where no pace is known.
    pub(super) fn carried_on(&self, at: Moment) -> [f64; 3] {
        let days = self.open.as_ref().map_or(0.0, |open| at.days_since(&open.from).max(0.0));
        pace(&self.intervals).unwrap_or_default().map(|per_day| per_day * days)
    }

    /// Water lost, L a day, since the filling as far as levels tell.
    fn lost_per_day(&self) -> Option<f64> {
        let days = self.lost_until?.days_since(&self.filled?);
        (days >= SHORTEST_DAYS).then(|| (self.lost_l / days).max(0.0))
    }

    /// The volume at a moment after the last level, loss of water carried on, L.
    pub(super) fn litres_at(&self, tank: &Tank, at: Moment) -> f64 {
        let (Some(per_day), Some(until)) = (self.lost_per_day(), self.lost_until) else { return tank.volume_l };
        let most = (tank.volume_l - tank.held_back_l).max(0.0) * (1.0 - LEAST_LEFT);
        tank.volume_l - (per_day * at.days_since(&until)).clamp(0.0, most)
    }

    /// From the last anchor to the moment asked for, at the pace up to then.
    pub(super) fn carry_on(&mut self, patterns: &Patterns) {
        let (Some(mut tank), Some(open)) = (self.tank, &self.open) else { return };
        tank.left_mg = open.all_left_mg(self.at, self.carried_on(self.at), patterns);
        tank.volume_l = self.litres_at(&tank, self.at);
        self.tank = Some(tank);
        self.litres_per_day = self.lost_per_day();
        self.uptake_per_day = pace(&self.intervals);
        if self.uptake_per_day.is_some() {
            self.carried_on_days = self.at.days_since(&open.from).max(0.0);
        }
    }

    /// Water that went in for each litre of the tank `days` from now, if loss of water goes on as it did and is made up day by day.
    #[must_use]
    pub fn water_in(&self, days: f64) -> f64 {
        self.tank.map_or(1.0, |tank| tank.water_per_l() + self.litres_per_day.unwrap_or(0.0) / tank.volume_l * days)
    }

    /// Concentrations of a track `days` from now, ppm, if uptake and loss of water go on as they did and the loss is made
    /// up day by day with water that holds `water` ppm.
    ///
    /// Of each nutrient dc/dt = -k c + (l / V) w with the uptake a day k, the loss l, the volume V and the water's w; the
    /// solution in closed form. None in an empty tank and where no readings tell the uptake.
    #[must_use]
    pub fn ppm_in(&self, days: f64, track: Track, patterns: &Patterns, water: &Nutrients) -> Option<Nutrients> {
        let (tank, per_day) = (self.tank?, self.uptake_per_day?[track as usize]);
        let made_up = self.litres_per_day.unwrap_or(0.0) / tank.volume_l;
        Some(course(&tank.ppm_on(track)?, days, |nutrient| per_day * patterns.speed(track, nutrient), made_up, water))
    }
}

/// Concentrations after `days` of uptake at `per_day` of each nutrient, a share `made_up` of the volume being lost and made
/// up with water each day: the solution of dc/dt = -k c + (l / V) w, ppm.
pub(super) fn course(
    now: &Nutrients,
    days: f64,
    per_day: impl Fn(Nutrient) -> f64,
    made_up: f64,
    water: &Nutrients,
) -> Nutrients {
    let mut fresh = *water;
    fresh[Nutrient::N] = water.unsplit_nitrogen();
    by_form(now, |nutrient, ppm| {
        let k = per_day(nutrient);
        // (1 - exp(-k t)) / k, which is t for a k of nothing
        let span = if k * days > 1e-12 { -libm::expm1(-k * days) / k } else { days };
        ppm * libm::exp(-k * days) + made_up * fresh[nutrient] * span
    })
}
