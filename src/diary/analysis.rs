//! What a laboratory found: it takes the place of the estimate, and ends an interval like a reading.

use super::ledger::{Open, uptake};
use super::model::{FRESH_DAYS, Predict};
use super::solve::met;
use super::state::{Meter, amounts};
use super::tank::{TRACKS, Tank, Track};
use super::uptake::Patterns;
use super::{Amounts, Moment, State};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};

/// How far a figure of a laboratory may be off (k = 2), a fraction, as for the water. Own choice.
const ANALYSIS_PLUS_MINUS: f64 = 0.05;
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
    pub(super) fn analyse(&mut self, at: Moment, tank: &Tank, ppm: &Amounts, patterns: &Patterns, predict: Predict) {
        let (Some(filled), Some(open)) = (self.filled, &self.open) else { return };
        let litres = self.litres_at(tank, at);
        let found_mg = amounts(ppm).scaled(litres);
        let fresh = self.intervals.is_empty() && at.days_since(&filled) <= FRESH_DAYS;
        let carried = self.carried_on(at);
        let most_back = uptake(&self.intervals).map(|uptake| -uptake.max(0.0));
        let of_likely = |of: [f64; 3]| of[Track::Likely as usize];
        match told_by(open, at, ppm, &found_mg, (of_likely(carried), of_likely(most_back)), patterns) {
            Some(likely) if !fresh => {
                let surprise = likely - of_likely(carried);
                let taken = TRACKS.map(|track| match track {
                    Track::Likely => likely,
                    _ => (carried[track as usize] + surprise).max(most_back[track as usize]),
                });
                let left = open.all_left_mg(at, taken, patterns);
                self.book(at, tank, taken, &with_found(&left, ppm, &found_mg));
            }
            _ => {
                let reckoned = open.all_left_mg(at, carried, patterns);
                let found = with_found(&reckoned, ppm, &found_mg);
                if let Some(open) = &mut self.open {
                    open.found(at, &reckoned, &found);
                }
                // the first reading was held against what was thought to be there
                if fresh && self.meter == Meter::Read {
                    let ec = |mg: &[Nutrients; 3]| predict(&mg[Track::Likely as usize].scaled(1.0 / litres));
                    if let (Some(thought), Some(is)) = (ec(&reckoned), ec(&found).filter(|ec| *ec > 0.0)) {
                        self.meter_factor *= thought / is;
                    }
                }
            }
        }
        for (nutrient, analysed) in NUTRIENTS.into_iter().zip(&mut self.analysed) {
            let of_nitrogen = nutrient.element() == "N" && ppm.keys().any(|symbol| is_nitrogen(symbol));
            if ppm.contains_key(nutrient.symbol()) || of_nitrogen {
                *analysed = Some(at);
            }
        }
    }
}

fn is_nitrogen(symbol: &str) -> bool {
    Nutrient::parse(symbol).is_some_and(|nutrient| nutrient.element() == "N")
}

/// The uptake on the likely track that an analysis tells; none where it tells none.
///
/// * `(carried, least)`: what it was reckoned to be, and the least that it may be
fn told_by(
    open: &Open,
    at: Moment,
    ppm: &Amounts,
    found_mg: &Nutrients,
    (carried, least): (f64, f64),
    patterns: &Patterns,
) -> Option<f64> {
    let nitrogen = ppm.keys().any(|symbol| is_nitrogen(symbol));
    let telling: Vec<Nutrient> = ppm
        .keys()
        .filter_map(|symbol| Nutrient::parse(symbol))
        .filter(
            |nutrient| if nitrogen { nutrient.element() == "N" } else { patterns.speed(Track::Likely, *nutrient) >= FAST },
        )
        .collect();
    let sum = |of: &Nutrients| telling.iter().map(|nutrient| of[*nutrient]).sum::<f64>();
    let after = |uptake: f64| sum(&open.left_mg(Track::Likely, at, uptake, patterns));
    // where a laboratory finds next to nothing the uptake is not endless, nor more than was reckoned
    let target = sum(found_mg).max(after(carried).min(LEAST_FOUND * after(0.0)));
    (after(0.0) > 0.0).then(|| met(&|uptake| Some(after(uptake)), least, target))
}

/// What was reckoned, mg, with what was found in the place of what is named, give or take.
fn with_found(reckoned: &[Nutrients; 3], ppm: &Amounts, found_mg: &Nutrients) -> [Nutrients; 3] {
    let mut tracks = *reckoned;
    let forms = ppm.keys().any(|symbol| Nutrient::parse(symbol).is_some_and(Nutrient::is_nitrogen_form));
    for (mg, off) in tracks.iter_mut().zip([-ANALYSIS_PLUS_MINUS, 0.0, ANALYSIS_PLUS_MINUS]) {
        let nitrogen = mg[Nutrient::N];
        let unsplit = mg.unsplit_nitrogen();
        for nutrient in NUTRIENTS.into_iter().filter(|n| ppm.contains_key(n.symbol())) {
            mg[nutrient] = found_mg[nutrient] * (1.0 + off);
        }
        if ppm.contains_key("N") {
            // the forms keep their shares
            let times = if nitrogen > 0.0 { mg[Nutrient::N] / nitrogen } else { 0.0 };
            for form in NUTRIENTS.into_iter().filter(|n| n.is_nitrogen_form()) {
                mg[form] *= times;
            }
        } else if forms {
            mg[Nutrient::N] = unsplit + NUTRIENTS.into_iter().filter(|n| n.is_nitrogen_form()).map(|n| mg[n]).sum::<f64>();
        }
    }
    tracks
}
