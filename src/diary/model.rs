//! What plants took: the size of the uptake from EC readings, carried on, and to come.

use super::tank::{TRACKS, Tank, Track};
use super::uptake::{Patterns, by_form};
use super::{Entry, Slip, State};
use crate::matter::{Nutrient, Nutrients};

/// How far an EC reading may be off (k = 2), a fraction: a meter calibrated now and then. Own choice.
pub const METER_PLUS_MINUS: f64 = 0.03;
/// A first reading within this many days of a filling says how the meter reads, not what plants took. Own choice.
pub(super) const FRESH_DAYS: f64 = 1.0;
/// A meter, the volume and the model together explain a first reading that is off by this fraction at the most. Own choice.
const METER_FACTOR: f64 = 0.15;
/// Days that must lie between two readings to tell a rate from them. Own choice.
const SHORTEST_DAYS: f64 = 0.5;
/// An uptake beyond this leaves nothing of what is taken at all.
const MOST_UPTAKE: f64 = 30.0;
/// What evaporation to come leaves in the tank at the least, as a fraction: a pump runs dry before. Own choice.
const LEAST_LEFT: f64 = 0.1;

/// Predicts the EC of concentrations in ppm, mS/cm at 25 C; none where it cannot.
pub(super) type Predict<'a> = &'a dyn Fn(&Nutrients) -> Option<f64>;

impl State {
    /// An EC reading: how the meter reads when it is the first after a filling, else how much was taken up.
    pub(super) fn take_up(&mut self, entry: &Entry, tank: &mut Tank, ec: f64, patterns: &Patterns, predict: Predict) {
        let Some(filled) = self.filled else { return };
        if self.span.is_none() && entry.at.days_since(&filled) <= FRESH_DAYS {
            let Some(predicted) = tank.ppm(&tank.booked_mg).and_then(|ppm| predict(&ppm)).filter(|ec| *ec > 0.0) else {
                self.slips.push(Slip::NotPredicted { entry: entry.number });
                return;
            };
            if (ec / predicted - 1.0).abs() <= METER_FACTOR {
                self.meter_factor = ec / predicted;
                self.span = Some((entry.at, entry.at));
            } else {
                self.slips.push(Slip::MeterOff { entry: entry.number, ec_ms_cm: ec, predicted_ms_cm: predicted });
            }
            return;
        }
        let mut left = tank.left_mg;
        for (track, off) in TRACKS.into_iter().zip([-METER_PLUS_MINUS, 0.0, METER_PLUS_MINUS]) {
            let at = track as usize;
            let target = ec / self.meter_factor * (1.0 + off);
            let after = |uptake: f64| predict(&tank.ppm(&patterns.left(track, &tank.left_mg[at], uptake))?);
            let Some(without) = after(0.0) else {
                self.slips.push(Slip::NotPredicted { entry: entry.number });
                return;
            };
            if track == Track::Likely && without < target * (1.0 - METER_PLUS_MINUS) {
                let predicted_ms_cm = without * self.meter_factor;
                self.slips.push(Slip::EcHigher { entry: entry.number, ec_ms_cm: ec, predicted_ms_cm });
            }
            let uptake = if without <= target { 0.0 } else { met(&after, target) };
            if track == Track::Likely && uptake >= MOST_UPTAKE {
                self.slips.push(Slip::EcLower { entry: entry.number, ec_ms_cm: ec });
            }
            self.uptake[at] += uptake;
            left[at] = patterns.left(track, &tank.left_mg[at], uptake);
        }
        tank.left_mg = left;
        self.span = Some((self.span.map_or(filled, |(from, _)| from), entry.at));
    }

    /// From the last readings to the moment asked for, at the pace up to then.
    pub(super) fn carry_on(&mut self, patterns: &Patterns) {
        let (Some(mut tank), Some(filled)) = (self.tank, self.filled) else { return };
        if let Some(until) = self.lost_until
            && until.days_since(&filled) >= SHORTEST_DAYS
        {
            let per_day = (self.lost_l / until.days_since(&filled)).max(0.0);
            self.litres_per_day = Some(per_day);
            let most = (tank.volume_l - tank.held_back_l).max(0.0) * (1.0 - LEAST_LEFT);
            tank.volume_l -= (per_day * self.at.days_since(&until)).clamp(0.0, most);
        }
        if let Some((from, until)) = self.span
            && until.days_since(&from) >= SHORTEST_DAYS
        {
            let per_day = self.uptake.map(|uptake| uptake / until.days_since(&from));
            self.uptake_per_day = Some(per_day);
            self.carried_on_days = self.at.days_since(&until).max(0.0);
            // what a laboratory found later than the reading goes on from there
            let days = self.analysed.map(|analysed| {
                self.at.days_since(&analysed.filter(|analysed| *analysed > until).unwrap_or(until)).max(0.0)
            });
            for track in TRACKS {
                let mg = &mut tank.left_mg[track as usize];
                let pace = per_day[track as usize];
                *mg = by_form(mg, |nutrient, mg| {
                    mg * libm::exp(-pace * days[nutrient as usize] * patterns.speed(track, nutrient))
                });
            }
        }
        self.tank = Some(tank);
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

/// The uptake after which a falling EC meets its target; [`MOST_UPTAKE`] when it never does.
fn met(after: &dyn Fn(f64) -> Option<f64>, target: f64) -> f64 {
    // where nothing can be predicted the EC counts as low, so that the bracket closes
    let over = |uptake: f64| after(uptake).unwrap_or(0.0) - target;
    let (mut low, mut high) = ((0.0, over(0.0)), (0.1, over(0.1)));
    while high.1 > 0.0 {
        if high.0 >= MOST_UPTAKE {
            return MOST_UPTAKE;
        }
        (low, high) = (high, (2.0 * high.0, over(2.0 * high.0)));
    }
    // false position, the weight of an end that stays twice halved (Illinois)
    let mut stayed = 0;
    for _ in 0..60 {
        let at = low.0 + (high.0 - low.0) * low.1 / (low.1 - high.1);
        let found = over(at);
        if found.abs() <= 1e-9 * target || high.0 - low.0 <= 1e-12 * high.0 {
            return at;
        }
        if found > 0.0 {
            low = (at, found);
            high.1 *= if stayed > 0 { 0.5 } else { 1.0 };
            stayed = 1;
        } else {
            high = (at, found);
            low.1 *= if stayed < 0 { 0.5 } else { 1.0 };
            stayed = -1;
        }
    }
    0.5 * (low.0 + high.0)
}
