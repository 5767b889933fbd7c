//! What about an entry looks like a slip, before it is written.
//!
//! The law: an entry after which the tank would hold what no grower means is asked back, and one that follows what was told is
//! not. What is told is told of the tank as the logbook has it, so its levels fit by themselves.

use uom::si::mass::gram as in_grams;

use super::again::{booked_again, dated_off};
use super::now::{fed, feeds, findings};
use crate::bench::{Bench, Formula, PhaseKind, Tank};
use crate::catalogue::Catalogue;
use crate::jobs::engine::question::{holds_urea, is_nitric};
use crate::jobs::shelf::{drawn_down, taken_off};
use crate::logbook::{Entry, Event, Logbook, Moment, Patterns, Predict, Slip, State, Track, nutrients, state_at};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{milliliter, ppm_of};
use crate::safety::{self, Severity};
use crate::suggest;
use crate::tank::{ec_in, ec_of, surplus_meq_per_l};

/// In words what is odd, and what may have slipped.
type Odd = (String, Option<String>);

/// What an entry is judged beside.
#[derive(Debug, Clone, Copy, Default)]
pub struct Entered<'a> {
    /// The bench of the tank, where one is stated: what it holds, what is on hand, which phases there are.
    pub bench: Option<&'a Bench>,
    /// True where a saved recipe was followed to the letter: what is in it was told, and is not asked again.
    pub as_told: bool,
    /// True where the salts were weighed by hand and not by a recipe.
    pub by_hand: bool,
    /// The name of the bench that a saved recipe was made for.
    pub made_for: Option<&'a str>,
}

/// What about the last entry of a logbook does not fit what the entries before it say: in words what is odd, and what may
/// have slipped. Of a note and of a void that is never anything.
///
/// * `before`: the logbook without it
///
/// Reference: docs/logbook.md.
#[must_use]
pub fn slips_of_last(before: &Logbook, logbook: &Logbook, how: &Entered) -> Vec<Odd> {
    let Some(last) = logbook.entries().last() else { return Vec::new() };
    // of a date that is wrong all else follows
    if let Some(odd) = dated_off(before, last) {
        return vec![odd];
    }
    let mut odd: Vec<Odd> = booked_again(before, last).into_iter().collect();
    odd.extend(how.bench.and_then(|bench| unknown_phase(bench, before, last)));
    let measures = matches!(
        last.event,
        Event::Filled { .. }
            | Event::Added { .. }
            | Event::ToppedUp { .. }
            | Event::Drained { .. }
            | Event::Done { .. }
            | Event::Reading { .. }
            | Event::Analysis { .. }
    );
    if !measures {
        return odd;
    }
    // products of a grower's own are made of ions of the table, so any bench predicts the same; volumes hang on no EC
    let reads_ec = matches!(last.event, Event::Reading { ec_ms_cm: Some(_), .. });
    let predict = Predicted { bench: how.bench, reads_ec };
    let [was, is] = [before, logbook].map(|book| {
        let mut state = state_at(book, last.at, &Patterns::standard(), &predict);
        if let Some(bench) = how.bench {
            state.follow(&|phase| feeds(bench, phase));
        }
        state
    });
    let own: Vec<&Slip> = is.slips.iter().filter(|slip| slip.entry() == last.number).collect();
    odd.extend(own.iter().filter_map(|slip| safety::asked_back(slip)));
    odd.extend(acid_over(&is, &last.event).map(safety::acid_over));
    odd.extend(level_fell(&was, last));
    if let Event::Reading { ph: Some(ph), .. } = last.event {
        odd.extend(safety::ph_far_out(last.number, ph));
    }
    if let Some(bench) = how.bench {
        odd.extend(nitric_into_urea(bench, &was, &last.event));
        odd.extend(overfilled(bench, logbook, (&was, &is), last));
        odd.extend(other_formula(bench, (&was, &is), last));
        odd.extend(other_tank(bench, before, last, how));
        if how.by_hand {
            odd.extend(over_on_hand(bench, before, last));
        }
    }
    // of what is odd already a second question says no more
    if !how.as_told && odd.is_empty() {
        odd.extend(too_strong(how.bench, (&was, &is), last));
    }
    let of_ec = |slip: &&&Slip| matches!(slip, Slip::MeterOff { .. } | Slip::EcHigher { .. } | Slip::EcLower { .. });
    if own.iter().find(of_ec).is_none() {
        odd.extend(ec_fell(how.bench, &was, last));
    }
    odd
}

/// Free acid, meq/L, that an addition leaves in the tank by the charges of what is booked; none where it is no acid, or little of one.
fn acid_over(state: &State, event: &Event) -> Option<f64> {
    let (Event::Added { mg, .. }, Some(tank)) = (event, state.tank) else { return None };
    let meq = |ppm: &Nutrients| -surplus_meq_per_l(Catalogue::standard(), ppm);
    let brings = meq(&nutrients(mg).ok()?.scaled(1.0 / tank.volume_l));
    let left = meq(&tank.ppm_on(Track::Likely)?);
    (brings > ACID_MEQ_PER_L && left > ACID_MEQ_PER_L).then_some(left)
}

/// Nitric acid that goes into what holds urea.
fn nitric_into_urea(bench: &Bench, was: &State, event: &Event) -> Option<Odd> {
    let (Event::Added { salts_g, .. } | Event::Done { salts_g, .. }) = event else { return None };
    let ppm = was.tank?.ppm_on(Track::Likely)?;
    let acid =
        salts_g.keys().filter_map(|id| bench.catalogue.find(id)).find(|id| is_nitric(bench, bench.catalogue.salt(*id)))?;
    holds_urea(&ppm).then(|| safety::nitric_into_urea(&bench.catalogue.salt(acid).name, ppm[Nutrient::UreaN]))
}

/// Free acid from so much on brings a tank to pH 3, meq/L.
const ACID_MEQ_PER_L: f64 = 1.0;

/// A phase that neither a formula of the bench nor a phase of a cycle is called, and that the logbook did not have before.
fn unknown_phase(bench: &Bench, before: &Logbook, last: &Entry) -> Option<Odd> {
    let Event::Phase { phase, .. } = &last.event else { return None };
    let had = before.entries().iter().any(|entry| matches!(&entry.event, Event::Phase { phase: had, .. } if had == phase));
    let mut known: Vec<&str> = bench.formulas.iter().map(|formula| formula.name.as_str()).collect();
    for key in PhaseKind::ALL.map(PhaseKind::key) {
        if !known.contains(&key) {
            known.push(key);
        }
    }
    let is_known = known.contains(&phase.as_str()) || had;
    (!is_known).then(|| safety::unknown_phase(phase, suggest::nearest(phase, known.iter().copied()), &known))
}

/// A level is odd that lost so many times what the tank loses, or such a share of the fresh tank a day, whichever is more; where
/// no level tells a pace, such a share; and beside it what reading it may miss by (own choices).
const LOST_TIMES: f64 = 3.0;
const LOST_SHARE_A_DAY: (f64, f64) = (0.02, 0.05);
const LEVEL_MISREAD: f64 = 0.05;

/// A level that fell further than leaves and air can have it.
fn level_fell(was: &State, last: &Entry) -> Option<Odd> {
    let level = match last.event {
        Event::Reading { level_l, .. } => level_l?,
        Event::ToppedUp { volume_l, level_after_l, .. } => level_after_l? - volume_l,
        Event::Done { level_before_l, .. } => level_before_l?,
        _ => return None,
    };
    let (tank, filled) = (was.tank?, was.filled?);
    let told = was.level.map_or(filled, |(at, _)| at.max(filled));
    let days = last.at.days_since(&told).max(0.0);
    let full = was.fresh_l()?;
    let expected = (tank.volume_l - tank.held_back_l).max(0.0);
    let (known, unknown) = LOST_SHARE_A_DAY;
    let per_day = was.litres_per_day.map_or(unknown * full, |per_day| (LOST_TIMES * per_day).max(known * full));
    // what is expected has lost its pace already
    let more = (per_day - was.litres_per_day.unwrap_or(0.0)) * days + LEVEL_MISREAD * full;
    (expected - level > more).then(|| safety::level_fell(last.number, level.max(0.0), expected, was.litres_per_day))
}

/// A tank is taken to hold this share more than stated, beside what it is known to: own choice.
const OVER_FULL: f64 = 0.02;

/// More in the tank than it holds.
fn overfilled(bench: &Bench, logbook: &Logbook, (was, is): (&State, &State), last: &Entry) -> Option<Odd> {
    let tank = own_tank(bench, logbook);
    let [holds, plus_minus] = [tank.volume, tank.plus_minus].map(|volume| milliliter(volume) * 1e-3);
    let level = |state: &State| state.tank.map_or(0.0, |tank| tank.volume_l - tank.held_back_l);
    let fills = match last.event {
        Event::Filled { .. } | Event::ToppedUp { .. } => true,
        Event::Done { drained_l, filled_l, .. } => filled_l > drained_l,
        _ => false,
    };
    let fresh = matches!(last.event, Event::Filled { .. });
    let raised = fresh || level(is) > level(was);
    let over = fills && raised && level(is) > holds * (1.0 + OVER_FULL) + plus_minus;
    over.then(|| safety::overfilled(last.number, level(is), holds, matches!(last.event, Event::ToppedUp { .. })))
}

/// A fill is that of another tank when it leaves more than this share of it empty: own choice.
const OTHER_TANK: f64 = 0.1;

/// A recipe as told that is of another bench, or of a smaller tank, where the logbook has had none like it.
fn other_tank(bench: &Bench, before: &Logbook, last: &Entry, how: &Entered) -> Option<Odd> {
    let (Event::Filled { volume_l, held_back_l, .. }, Some(made_for)) = (&last.event, how.made_for) else { return None };
    let mut fills = 0;
    for entry in before.standing() {
        let Event::Filled { volume_l: other, .. } = &entry.event else { continue };
        if (other / volume_l - 1.0).abs() <= OTHER_TANK {
            return None;
        }
        fills += 1;
    }
    let holds = milliliter(own_tank(bench, before).volume) * 1e-3;
    if how.as_told && volume_l + held_back_l < holds * (1.0 - OTHER_TANK) {
        return Some(safety::of_smaller_tank(last.number, *volume_l, holds));
    }
    (fills == 0 && made_for != bench.name).then(|| safety::of_other_bench(last.number, made_for, &bench.name))
}

/// The tank that a logbook is of.
fn own_tank(bench: &Bench, logbook: &Logbook) -> Tank {
    let own = logbook.tank().and_then(|id| bench.tanks.iter().find(|(other, _)| other == id));
    own.map_or(bench.tank, |(_, tank)| *tank)
}

/// Targets that differ by more than this share tell two formulas apart: own choice.
const APART: f64 = 0.1;

/// Levels that differ by less than this share are the same: own choice, what a tank loses in minutes.
const SAME_LEVEL: f64 = 5e-4;

/// A job of another formula than the tank is fed, after which it is nearer to what it is fed: that turns no tank over.
fn other_formula(bench: &Bench, (was, is): (&State, &State), last: &Entry) -> Option<Odd> {
    let Event::Done { formula: Some(named), drained_l, level_before_l, .. } = &last.event else { return None };
    let (named, fed) = (bench.formula(named)?, fed(bench, was)?);
    // what was reckoned for the level of this day is no old file; one of the steps of a turn lets something out
    let level = was.tank.map(|tank| tank.volume_l - tank.held_back_l);
    let of_today = level.zip(*level_before_l).is_some_and(|(is, told)| (is - told).abs() <= SAME_LEVEL * is);
    if named.name == fed.name || *drained_l > 0.0 || of_today {
        return None;
    }
    let ppm = is.tank?.ppm_on(Track::Likely)?;
    let target = |formula: &Formula, nutrient| {
        formula.wish(nutrient).and_then(|wish| wish.target).map(ppm_of).filter(|target| *target > 0.0)
    };
    let (mut to_named, mut to_fed) = (0.0, 0.0);
    for nutrient in NUTRIENTS {
        let (Some(one), Some(other)) = (target(named, nutrient), target(fed, nutrient)) else { continue };
        if (one / other - 1.0).abs() > APART {
            let off = |target: f64| (ppm[nutrient] / target - 1.0).abs();
            to_named += off(one);
            to_fed += off(other);
        }
    }
    (to_fed < to_named).then(|| safety::of_other_formula(last.number, &named.name, &fed.name))
}

/// A shelf is counted no better than to this share: own choice.
const COUNTED: f64 = 0.05;

/// Salts weighed and bottles poured by hand of which less is on hand.
fn over_on_hand(bench: &Bench, before: &Logbook, last: &Entry) -> Vec<Odd> {
    let (Event::Filled { salts_g, bottles_ml, .. } | Event::Added { salts_g, bottles_ml, .. }) = &last.event else {
        return Vec::new();
    };
    let left = drawn_down(bench, &[before], last.at);
    let is_over = |amount: f64, there: f64| amount > there * (1.0 + COUNTED);
    let salts = salts_g.keys().filter_map(|id| {
        let salt = left.catalogue.find(id)?;
        let on_hand = left.shelf.iter().find(|stock| stock.salt == salt)?.on_hand?.get::<in_grams>();
        let grams = taken_off(bench, salt, last);
        is_over(grams, on_hand).then(|| safety::more_than_on_hand(&left.catalogue.salt(salt).name, grams, on_hand))
    });
    let bottles = bottles_ml.iter().filter_map(|(id, ml)| {
        let bottle = left.helpers.iter().find(|helper| helper.id == *id)?;
        let there_ml = milliliter(bottle.left.unwrap_or(bottle.volume));
        is_over(*ml, there_ml).then(|| safety::more_than_left(id, *ml, there_ml))
    });
    salts.chain(bottles).collect()
}

/// What stops any mix, and was not in the tank before.
fn too_strong(bench: Option<&Bench>, (was, is): (&State, &State), last: &Entry) -> Option<Odd> {
    if !matches!(last.event, Event::Filled { .. } | Event::Added { .. } | Event::Done { .. }) {
        return None;
    }
    let starter;
    let bench = match bench {
        Some(bench) => bench,
        None => {
            starter = Bench::starter();
            &starter
        }
    };
    let stops = |state: &State| {
        let all = findings(bench, state, None, None).into_iter();
        all.filter(|finding| finding.severity == Severity::Stop).collect::<Vec<_>>()
    };
    let after = stops(is);
    if after.is_empty() {
        return None;
    }
    let before = stops(was);
    let new = after.into_iter().find(|finding| before.iter().all(|had| had.code != finding.code))?;
    Some(safety::too_strong_after(last.number, &new.message))
}

/// EC by the chemistry of the table, and what nobody names in the water of the bench; none where nothing read it.
struct Predicted<'b> {
    bench: Option<&'b Bench>,
    reads_ec: bool,
}

impl Predict for Predicted<'_> {
    fn ec_ms_per_cm(&self, ppm: &Nutrients, water_per_l: f64) -> Option<f64> {
        let told = || self.bench.map_or_else(|| ec_of(Catalogue::standard(), ppm), |bench| ec_in(bench, ppm, water_per_l));
        self.reads_ec.then(told).flatten()
    }
}

/// An EC under this share of what is expected is odd, or after weeks under what a fall by a twentieth a day leaves (own choice).
const EC_LEFT: f64 = 0.7;
const EC_FALLS_DAYS: f64 = 20.0;

/// An EC that is lower than plants can have made it since the last one.
fn ec_fell(bench: Option<&Bench>, was: &State, last: &Entry) -> Option<Odd> {
    let Event::Reading { ec_ms_cm: Some(ec), .. } = last.event else { return None };
    let told: Moment = [was.ec.map(|(at, _)| at), was.filled].into_iter().flatten().max()?;
    let tank = was.tank?;
    let of_tank = Predicted { bench, reads_ec: true }.ec_ms_per_cm(&tank.ppm_on(Track::Likely)?, tank.water_per_l());
    let expected = of_tank? * was.meter_factor;
    let least = EC_LEFT.min(libm::exp(-last.at.days_since(&told).max(0.0) / EC_FALLS_DAYS));
    (ec < least * expected).then(|| safety::ec_fell(last.number, ec, expected))
}
