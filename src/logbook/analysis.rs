//! What a laboratory found: it takes the place of the estimate, and ends an interval like a reading.

use super::found::Found;
use super::ledger::{Open, uptake};
use super::meter::FRESH_DAYS;
use super::model::Predict;
use super::solve::met;
use super::tank::{TRACKS, Tank, Track};
use super::uptake::Patterns;
use super::{Amounts, MeterBy, Moment, State};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};

/// Nutrients that plants take at least this fast beside nitrate tell the size of an uptake where no nitrogen was looked for:
/// of slower ones the plus or minus of the laboratory would tell it. Own choice.
const FAST: f64 = 0.5;
/// Less than this share of what went in is under what a laboratory tells from nothing. Own choice.
const LEAST_FOUND: f64 = 0.01;

impl State {
    /// An analysis sets what it names on every track, and books the uptake since the last anchor.
    ///
    /// The size of the uptake is the one after which the likely track holds the nitrogen that was found, or what else plants
    /// take fast; the other tracks differ by as much from what they would have taken at their own pace. One within a day of
    /// the filling, or of slow nutrients alone, tells no uptake: it corrects what is there.
    pub(super) fn analyse(&mut self, at: Moment, tank: &Tank, ppm: &Amounts, patterns: &Patterns, predict: &dyn Predict) {
        let (Some(filled), Some(open)) = (self.filled, &self.open) else { return };
        let litres = self.litres_at(tank, at);
        let found = Found::new(ppm, litres);
        let fresh = self.intervals.is_empty() && at.days_since(&filled) <= FRESH_DAYS;
        let carried = self.carried_on(at);
        let most_back = uptake(&self.intervals).map(|uptake| -uptake.max(0.0));
        let of_likely = |of: [f64; 3]| of[Track::Likely as usize];
        let reckoned = open.all_left_mg(at, carried, patterns);
        let told = told_by(&found, open, at, (of_likely(carried), of_likely(most_back)), patterns);
        let in_place = |mg: &[Nutrients; 3]| TRACKS.map(|track| found.in_place(track, &mg[track as usize]));
        let is = if let Some(likely) = told.filter(|_| !fresh) {
            let surprise = likely - of_likely(carried);
            let taken = TRACKS.map(|track| match track {
                Track::Likely => likely,
                _ => (carried[track as usize] + surprise).max(most_back[track as usize]),
            });
            let is = in_place(&open.all_left_mg(at, taken, patterns));
            self.book(at, tank, taken, &is);
            is
        } else {
            if let Some(open) = &mut self.open {
                open.found(at, found.clone());
            }
            in_place(&reckoned)
        };
        if fresh || told.is_some() {
            let ec = |mg: &[Nutrients; 3]| {
                predict.ec_ms_per_cm(&mg[Track::Likely as usize].scaled(1.0 / litres), tank.water_l / litres)
            };
            self.meter_read_before(at, ec(&reckoned), ec(&is));
        }
        if told.is_some() {
            self.known = Some((at, MeterBy::Analysis));
        }
        for nutrient in NUTRIENTS {
            let of_nitrogen = nutrient.element() == "N" && found.names_nitrogen();
            if of_nitrogen || found.named.contains(&nutrient) {
                self.analysed[nutrient as usize] = Some(at);
            }
        }
    }
}

/// The uptake on the likely track that what was found tells; none where it tells none.
///
/// * `(carried, least)`: what it was reckoned to be, and the least that it may be
fn told_by(found: &Found, open: &Open, at: Moment, (carried, least): (f64, f64), patterns: &Patterns) -> Option<f64> {
    let nitrogen = found.names_nitrogen();
    let tells = |nutrient: Nutrient| {
        if nitrogen { nutrient.element() == "N" } else { patterns.speed(Track::Likely, nutrient) >= FAST }
    };
    let sum =
        |of: &Nutrients| found.named.iter().filter(|nutrient| tells(**nutrient)).map(|nutrient| of[*nutrient]).sum::<f64>();
    let after = |uptake: f64| sum(&open.left_mg(Track::Likely, at, uptake, patterns));
    // where a laboratory finds next to nothing the uptake is not endless, nor more than was reckoned
    let target = sum(&found.mg).max(after(carried).min(LEAST_FOUND * after(0.0)));
    (after(0.0) > 0.0).then(|| met(&|uptake| Some(after(uptake)), least, target))
}
