//! The logbook: what the text holds, what is damage and what is torn, bookkeeping that closes, and the model of uptake.

use std::collections::BTreeMap;

use bloomsalt::bench::Bench;
use bloomsalt::jobs;
use bloomsalt::logbook::{Amounts, Basis, Entry, Event, Logbook, Moment, Patterns, Slip, State, Track, line, state_at};
use bloomsalt::matter::{NUTRIENTS, Nutrient, Nutrients};
use bloomsalt::safety::{Achieved, Code, InTank};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

use crate::random::Random;

/// Deterministic; `BLOOMSALT_CASES` asks for more, as in `tests/laws.rs`.
#[allow(clippy::disallowed_methods, reason = "a test may be told to run longer")]
fn config(cases: u32) -> Config {
    let cases = std::env::var("BLOOMSALT_CASES").ok().and_then(|asked| asked.parse().ok()).unwrap_or(cases);
    Config { cases, rng_seed: RngSeed::Fixed(20_261_125), failure_persistence: None, ..Config::default() }
}

/// Noon of a day in October 2026, and hours after it.
fn hour(hours: f64) -> Moment {
    Moment::parse("2026-10-01T12:00:00+02:00").unwrap().plus_days(hours / 24.0)
}

fn text_of(events: &[(Moment, Event)]) -> String {
    let numbered =
        events.iter().zip(1..).map(|((at, event), number)| line(&Entry { number, at: *at, event: event.clone() }));
    numbered.collect()
}

fn parse(text: &str) -> Logbook {
    Logbook::parse(text.as_bytes(), &[]).unwrap_or_else(|damage| panic!("{damage}\n{text}"))
}

fn amounts(of: &[(&str, f64)]) -> Amounts {
    of.iter().map(|(symbol, value)| ((*symbol).to_owned(), *value)).collect()
}

/// A filling with no salts told.
pub(crate) fn filled(volume_l: f64, held_back_l: f64, ppm: Amounts) -> Event {
    Event::Filled {
        volume_l,
        held_back_l,
        formula: None,
        hold_at_most_days: None,
        salts_g: Amounts::new(),
        bottles_ml: Amounts::new(),
        ppm,
    }
}

fn read_ec(ec: f64) -> Event {
    Event::Reading { ec_ms_cm: Some(ec), ph: None, temperature_c: None, level_l: None }
}

fn read_level(level: f64) -> Event {
    Event::Reading { ec_ms_cm: None, ph: None, temperature_c: None, level_l: Some(level) }
}

fn water(volume_l: f64, level_after_l: Option<f64>) -> Event {
    Event::ToppedUp { volume_l, level_after_l, ppm: Amounts::new() }
}

/// EC that is linear in what is there, for laws that need no chemistry.
#[allow(clippy::unnecessary_wraps, reason = "what a prediction looks like")]
fn plain_ec(ppm: &Nutrients) -> Option<f64> {
    Some(NUTRIENTS.into_iter().filter(|n| !n.is_nitrogen_form()).map(|n| ppm[n] * 0.002).sum())
}

fn state_of(events: &[(Moment, Event)], at: Moment) -> State {
    state_at(&parse(&text_of(events)), at, &Patterns::standard(), &plain_ec)
}

// --- bookkeeping -------------------------------------------------------------------------------------------------

/// A few nutrients, nitrogen by its forms, from nothing to plenty.
fn contents() -> impl Strategy<Value = Amounts> {
    proptest::collection::vec(0.0..300.0_f64, 6).prop_map(|v| {
        let names = ["NO3-N", "NH4-N", "P", "K", "Ca", "Mo"];
        let mut all: Amounts = names.into_iter().map(str::to_owned).zip(v).collect();
        let nitrogen = all["NO3-N"] + all["NH4-N"];
        all.insert("N".to_owned(), nitrogen * 1.125);
        all
    })
}

fn moves() -> impl Strategy<Value = Vec<(Event, f64)>> {
    let one = prop_oneof![
        1 => (1.0..100.0_f64, 0.0..10.0_f64, contents()).prop_map(|(v, h, ppm)| filled(v, h, ppm)),
        3 => contents().prop_map(|mg| Event::Added { salts_g: Amounts::new(), bottles_ml: Amounts::new(), mg }),
        3 => (0.001..40.0_f64, contents())
            .prop_map(|(volume_l, ppm)| Event::ToppedUp { volume_l, level_after_l: None, ppm }),
        2 => (0.001..40.0_f64, 0.0..40.0_f64, contents())
            .prop_map(|(volume_l, more, ppm)| Event::ToppedUp { volume_l, level_after_l: Some(volume_l + more), ppm }),
        3 => (0.001..60.0_f64).prop_map(|volume_l| Event::Drained { volume_l }),
        3 => (0.0..80.0_f64).prop_map(read_level),
        1 => (0.0..3.0_f64).prop_map(read_ec),
        1 => (0.0..300.0_f64).prop_map(|k| Event::Analysis { ppm: amounts(&[("K", k)]) }),
    ];
    proptest::collection::vec((one, 0.1..50.0_f64), 1..25)
}

/// A ledger of its own: what came in, what went out, what is there. Volumes as the logbook has them: what leaves and air took between
/// levels they take on, by the day, and what is let out is a share of what is then there.
#[derive(Default)]
struct Ledger {
    litres: f64,
    held: f64,
    filled: f64,
    lost: f64,
    levelled: Option<f64>,
    came_in: Nutrients,
    went_out: Nutrients,
}

impl Ledger {
    fn there(&self) -> Nutrients {
        let mut there = self.came_in;
        there.add(&self.went_out, -1.0);
        there
    }

    fn evaporate(&mut self, day: f64) {
        let Some(levelled) = self.levelled else { return };
        let days = levelled - self.filled;
        if days >= 0.5 {
            let most = 0.9 * (self.litres - self.held).max(0.0);
            let lost = (self.lost / days * (day - levelled)).clamp(0.0, most);
            (self.litres, self.lost) = (self.litres - lost, self.lost + lost);
        }
        self.levelled = Some(day);
    }

    fn level(&mut self, day: f64, level: f64) {
        self.lost += self.litres - (level + self.held);
        (self.litres, self.levelled) = (level + self.held, Some(day));
    }

    fn enter(&mut self, day: f64, event: &Event) {
        let of = |amounts: &Amounts| bloomsalt::logbook::nutrients(amounts).unwrap();
        match event {
            Event::Filled { volume_l, held_back_l, ppm, .. } => {
                self.evaporate(day);
                let stays = if self.litres > 0.0 { (held_back_l / self.litres).min(1.0) } else { 0.0 };
                self.went_out.add(&self.there(), 1.0 - stays);
                self.came_in.add(&of(ppm), *volume_l);
                (self.litres, self.held) = (volume_l + held_back_l, *held_back_l);
                (self.filled, self.lost, self.levelled) = (day, 0.0, None);
            }
            Event::Added { mg, .. } => self.came_in.add(&of(mg), 1.0),
            Event::ToppedUp { volume_l, level_after_l, ppm } => {
                self.came_in.add(&of(ppm), *volume_l);
                if let Some(after) = level_after_l {
                    self.level(day, after - volume_l);
                }
                self.litres += volume_l;
            }
            Event::Drained { volume_l } => {
                self.evaporate(day);
                let out = volume_l.min(self.litres - self.held).max(0.0);
                if self.litres > 0.0 {
                    self.went_out.add(&self.there(), out / self.litres);
                }
                self.litres -= out;
            }
            Event::Reading { level_l: Some(level), .. } => self.level(day, *level),
            _ => {}
        }
    }
}

proptest! {
    #![proptest_config(config(256))]

    /// What is there is what came in less what went out, to 1e-12 of what came in, for every nutrient of every logbook.
    #[test]
    fn masses_and_volumes_close(first in (1.0..100.0_f64, contents()), moves in moves()) {
        let mut events = vec![(hour(0.0), filled(first.0, 0.0, first.1))];
        let mut now = 0.0;
        for (event, hours) in moves {
            now += hours;
            events.push((hour(now), event));
        }
        let mut ledger = Ledger::default();
        for (at, event) in &events {
            ledger.enter(at.days_since(&hour(0.0)), event);
        }
        let logbook = parse(&text_of(&events));
        // at the last entry nothing is carried on
        let last = events.last().map(|(at, _)| *at).unwrap();
        let state = state_at(&logbook, last, &Patterns::standard(), &plain_ec);
        let tank = state.tank.unwrap();
        let expected = ledger.there();
        let untold = |event: &Event| !matches!(event, Event::Analysis { .. } | Event::Reading { ec_ms_cm: Some(_), .. });
        let bookkeeping = events.iter().all(|(_, event)| untold(event));
        for nutrient in NUTRIENTS {
            let off = (tank.booked_mg[nutrient] - expected[nutrient]).abs();
            prop_assert!(off <= 1e-12 * ledger.came_in[nutrient].max(1.0), "{nutrient}: off by {off} mg");
            // without an EC reading and an analysis all tracks are the bookkeeping
            prop_assert!(!bookkeeping || (tank.booked_mg[nutrient] - tank.left_mg[1][nutrient]).abs() <= 1e-12 * ledger.came_in[nutrient].max(1.0));
        }
        prop_assert!((tank.held_back_l - ledger.held).abs() < 1e-12);
        let levelled = events.iter().rposition(|(_, e)| matches!(e, Event::Reading { level_l: Some(_), .. } | Event::ToppedUp { level_after_l: Some(_), .. }));
        let refilled = events.iter().rposition(|(_, e)| matches!(e, Event::Filled { .. }));
        // loss of water is carried on after a level, so only then the volume may have moved on
        if levelled.is_none_or(|at| at + 1 == events.len()) || levelled < refilled {
            prop_assert!((tank.volume_l - ledger.litres).abs() <= 1e-12 * ledger.litres.max(1.0));
        }
    }

    /// A void entry might as well never have been, and the order of lines does not matter, only that of the times.
    #[test]
    fn void_entries_and_late_entries(first in contents(), moves in moves(), pick in any::<prop::sample::Index>()) {
        let mut events = vec![(hour(0.0), filled(50.0, 0.0, first))];
        let mut now = 0.0;
        for (event, hours) in moves {
            now += hours;
            events.push((hour(now), event));
        }
        let at = hour(now + 1.0);
        let tank = |events: &[(Moment, Event)]| state_of(events, at).tank;
        let chosen = 1 + pick.index(events.len() - 1);
        let mut without = events.clone();
        let taken = without.remove(chosen);
        let mut voided = events.clone();
        voided.push((at, Event::Voided { voids: u64::try_from(chosen).unwrap() + 1, why: None }));
        prop_assert_eq!(tank(&voided), tank(&without));
        let mut late = without;
        late.push(taken);
        prop_assert_eq!(tank(&late), tank(&events));
    }

    /// On the likely track the predicted EC meets every reading that an uptake explains, and the tracks bracket nitrogen.
    #[test]
    fn the_predicted_ec_meets_the_reading(ppm in contents(), falls in proptest::collection::vec(0.6..0.99_f64, 1..5)) {
        prop_assume!(ppm["NO3-N"] > 1.0);
        let start = plain_ec(&bloomsalt::logbook::nutrients(&ppm).unwrap()).unwrap();
        let mut events = vec![(hour(0.0), filled(60.0, 0.0, ppm)), (hour(1.0), read_ec(start))];
        let mut ec = start;
        for (fall, week) in falls.iter().zip(1_u8..) {
            ec *= fall;
            events.push((hour(168.0 * f64::from(week)), read_ec(ec)));
        }
        let state = state_of(&events, events.last().unwrap().0);
        let tank = state.tank.unwrap();
        let predicted = plain_ec(&tank.ppm_on(Track::Likely).unwrap()).unwrap();
        prop_assert!((predicted / ec - 1.0).abs() < 1e-6, "{predicted} for {ec}");
        let (low, likely, high) = state.range_ppm(Nutrient::N).unwrap();
        prop_assert!(low <= likely && likely <= high, "{low} {likely} {high}");
    }

    /// Whatever bytes a file holds, reading it ends in entries or in a report, never in a panic.
    #[test]
    fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..300), keep in 0..400_usize) {
        let mut text = sample().into_bytes();
        text.truncate(keep);
        text.extend(bytes);
        let read = Logbook::parse(&text, &[]);
        if let Ok(logbook) = read {
            let _ = state_at(&logbook, hour(100.0), &Patterns::standard(), &plain_ec);
        }
    }
}

/// Mathematics, section 4, as in the design: v = 50 L, h = 4 L, N 110 ppm; draining all and filling 60 L leaves 6.9 ppm N.
#[test]
fn what_is_held_back_stays() {
    let nitrate = |ppm: f64| amounts(&[("N", ppm), ("NO3-N", ppm)]);
    let events = [
        (hour(0.0), filled(50.0, 4.0, nitrate(118.8))),
        (hour(1.0), Event::Drained { volume_l: 50.0 }),
        (hour(2.0), filled(60.0, 4.0, nitrate(0.0))),
    ];
    // 118.8 ppm in 50 L on 4 L of plain water in the medium
    let before = state_of(&events[..1], hour(0.5)).tank.unwrap().ppm_on(Track::Likely).unwrap()[Nutrient::N];
    assert!((before - 110.0).abs() < 1e-9, "{before}");
    let drained = state_of(&events[..2], hour(1.5)).tank.unwrap();
    assert!((drained.volume_l - 4.0).abs() < 1e-12);
    let after = state_of(&events, hour(3.0)).tank.unwrap().ppm_on(Track::Likely).unwrap()[Nutrient::N];
    assert!((after - 6.875).abs() < 1e-9, "{after}");
}

#[test]
fn a_level_is_water_lost_and_no_salt() {
    let events = [
        (hour(0.0), filled(60.0, 0.0, amounts(&[("K", 100.0)]))),
        (hour(96.0), read_level(52.0)),
        (hour(96.1), water(8.0, Some(60.0))),
        (hour(192.1), water(10.0, Some(60.0))),
    ];
    let state = state_of(&events[..2], hour(96.0));
    let tank = state.tank.unwrap();
    assert!((tank.ppm_on(Track::Likely).unwrap()[Nutrient::K] - 6000.0 / 52.0).abs() < 1e-9);
    assert!((state.litres_per_day.unwrap() - 2.0).abs() < 1e-9);
    // carried on: two days later 4 L less
    let later = state_of(&events[..2], hour(144.0)).tank.unwrap();
    assert!((later.volume_l - 48.0).abs() < 1e-6, "{}", later.volume_l);
    // the level after a topping up tells the loss without a reading of its own
    let state = state_of(&events, hour(192.1));
    assert!((state.tank.unwrap().volume_l - 60.0).abs() < 1e-9);
    assert!((state.litres_per_day.unwrap() - 18.0 / 8.004_166).abs() < 1e-3, "{:?}", state.litres_per_day);
}

#[test]
fn slips_are_told_and_do_not_stop() {
    let ppm = amounts(&[("K", 100.0), ("Cl", 90.0)]);
    let early = [(hour(0.0), water(5.0, None)), (hour(1.0), filled(60.0, 0.0, ppm.clone()))];
    assert_eq!(state_of(&early[..1], hour(2.0)).slips, [Slip::NotFilled { entry: 1 }]);
    assert!(state_of(&early, hour(2.0)).slips.is_empty(), "a fresh filling settles what was before it");
    let high = [(hour(0.0), filled(60.0, 0.0, ppm.clone())), (hour(1.0), read_level(61.3))];
    assert!(matches!(state_of(&high, hour(2.0)).slips[..], [Slip::LevelHigher { entry: 2, .. }]));
    let near = [(hour(0.0), filled(60.0, 0.0, ppm.clone())), (hour(1.0), read_level(61.1))];
    assert!(state_of(&near, hour(2.0)).slips.is_empty());
    let drained = [(hour(0.0), filled(60.0, 0.0, ppm.clone())), (hour(1.0), Event::Drained { volume_l: 62.0 })];
    assert!(matches!(state_of(&drained, hour(2.0)).slips[..], [Slip::DrainedMore { entry: 2, .. }]));
    assert!(state_of(&drained, hour(2.0)).tank.unwrap().ppm_on(Track::Likely).is_none(), "an empty tank has no ppm");
    let start = 0.38;
    let off = [(hour(0.0), filled(60.0, 0.0, ppm.clone())), (hour(1.0), read_ec(start * 1.16))];
    assert!(matches!(state_of(&off, hour(2.0)).slips[..], [Slip::MeterOff { entry: 2, .. }]));
    let fits = [(hour(0.0), filled(60.0, 0.0, ppm.clone())), (hour(1.0), read_ec(start * 1.14))];
    assert!((state_of(&fits, hour(2.0)).meter_factor - 1.14).abs() < 1e-9);
    let rose = [(hour(0.0), filled(60.0, 0.0, ppm.clone())), (hour(50.0), read_ec(start * 1.06))];
    assert!(matches!(state_of(&rose, hour(50.0)).slips[..], [Slip::EcHigher { entry: 2, .. }]));
    let held = [(hour(0.0), filled(60.0, 0.0, ppm.clone())), (hour(50.0), read_ec(start * 1.05))];
    assert!(state_of(&held, hour(50.0)).slips.is_empty());
    let nothing = [(hour(0.0), filled(60.0, 0.0, ppm)), (hour(50.0), read_ec(0.0))];
    assert!(matches!(state_of(&nothing, hour(50.0)).slips[..], [Slip::EcLower { entry: 2, .. }]));
}

#[test]
fn a_ph_stands_until_something_goes_in_or_a_week_is_over() {
    let ppm = || amounts(&[("K", 100.0), ("Cl", 90.0)]);
    let read_ph =
        |hours: f64| (hour(hours), Event::Reading { ec_ms_cm: None, ph: Some(6.1), temperature_c: None, level_l: None });
    let added = Event::Added { salts_g: Amounts::new(), bottles_ml: Amounts::new(), mg: amounts(&[("K", 60.0)]) };
    let filling = (hour(0.0), filled(60.0, 0.0, ppm()));
    // a day after the filling, and 20 hours are enough, when what was filled in has aired
    let ph = |more: &[(Moment, Event)], at: f64| {
        state_of(&[&[filling.clone(), read_ph(24.0)], more].concat(), hour(at)).standing_ph()
    };
    assert_eq!(ph(&[], 25.0), Some(6.1));
    assert_eq!((ph(&[], 24.0 + 167.9), ph(&[], 24.0 + 168.1)), (Some(6.1), None));
    assert_eq!(ph(&[(hour(25.0), Event::Drained { volume_l: 20.0 }), (hour(26.0), read_level(39.0))], 27.0), Some(6.1));
    for event in [added, water(3.0, None), filled(60.0, 0.0, ppm())] {
        assert_eq!(ph(&[(hour(25.0), event.clone())], 50.0), None, "{event:?}");
        let unaired = matches!(event, Event::Filled { .. });
        assert_eq!(ph(&[(hour(25.0), event.clone()), read_ph(44.9)], 50.0), (!unaired).then_some(6.1), "{event:?}");
        assert_eq!(ph(&[(hour(25.0), event), read_ph(45.0)], 50.0), Some(6.1));
    }
    // next to nothing of water changes none
    assert_eq!(ph(&[(hour(25.0), water(1.1, None))], 27.0), Some(6.1));
    assert_eq!(ph(&[(hour(25.0), water(1.3, None))], 27.0), None);
}

#[test]
fn an_analysis_takes_the_place_of_the_estimate() {
    let ppm = amounts(&[("N", 80.0), ("NO3-N", 60.0), ("NH4-N", 20.0), ("K", 100.0)]);
    let mut events = vec![
        (hour(0.0), filled(60.0, 0.0, ppm)),
        (hour(1.0), read_ec(0.36)),
        (hour(170.0), read_ec(0.25)),
        (hour(171.0), Event::Analysis { ppm: amounts(&[("N", 44.0)]) }),
    ];
    let state = state_of(&events, hour(171.0));
    let (low, likely, high) = state.range_ppm(Nutrient::N).unwrap();
    assert!(
        (likely - 44.0).abs() < 1e-9 && (low - 41.8).abs() < 1e-9 && (high - 46.2).abs() < 1e-9,
        "{low} {likely} {high}"
    );
    let tank = state.tank.unwrap().ppm_on(Track::Likely).unwrap();
    assert!((tank[Nutrient::NitrateN] + tank[Nutrient::AmmoniumN] - 44.0).abs() < 1e-9, "the forms keep their shares");
    assert_eq!((state.basis(Nutrient::N), state.basis(Nutrient::K)), (Basis::Measured, Basis::Estimate));
    // two days on it is an estimate again
    assert_eq!(state_of(&events, hour(220.0)).basis(Nutrient::N), Basis::Estimate);
    // what is put in afterwards no laboratory has found, and water without minerals takes nothing away from what it found
    let found = Event::Analysis { ppm: amounts(&[("N", 44.0), ("K", 60.0), ("Ca", 0.0)]) };
    let added =
        Event::Added { salts_g: Amounts::new(), bottles_ml: Amounts::new(), mg: amounts(&[("K", 60.0), ("P", 50.0)]) };
    let with = [&events[..3], &[(hour(171.0), found), (hour(171.1), added), (hour(171.2), water(2.0, None))]].concat();
    let known = |nutrient| state_of(&with, hour(171.5)).basis(nutrient);
    assert_eq!([Nutrient::N, Nutrient::K, Nutrient::P].map(known), [Basis::Measured, Basis::Estimate, Basis::Estimate]);
    events.push((hour(172.0), Event::Analysis { ppm: amounts(&[("NO3-N", 30.0), ("NH4-N", 4.0)]) }));
    let tank = state_of(&events, hour(172.0)).tank.unwrap().ppm_on(Track::Likely).unwrap();
    assert!((tank[Nutrient::N] - 34.0).abs() < 1e-9);
}

// --- uptake ------------------------------------------------------------------------------------------------------

fn fresh(bench: &Bench, formula: &str) -> Nutrients {
    let mix = jobs::mix(bench, formula, &jobs::MixOptions::default()).unwrap();
    let mut ppm = Nutrients::default();
    for element in &mix.elements {
        ppm[Nutrient::parse(&element.element).unwrap()] = element.ppm;
    }
    (ppm[Nutrient::NitrateN], ppm[Nutrient::AmmoniumN]) = (mix.nitrate_n_ppm, mix.ammonium_n_ppm);
    ppm
}

fn as_amounts(ppm: &Nutrients) -> Amounts {
    NUTRIENTS.into_iter().map(|n| (n.symbol().to_owned(), ppm[n])).collect()
}

/// Model against model: a content known by element only conducts like the mix it came from.
#[test]
fn ec_of_elements_is_that_of_the_mix() {
    let tap = Bench::parse(include_str!("../examples/streptocarpus.toml"), "streptocarpus.toml").unwrap();
    for bench in [Bench::starter(), tap] {
        for formula in ["growth", "push", "weak"] {
            let mix = jobs::mix(&bench, formula, &jobs::MixOptions::default()).unwrap();
            let ec = bloomsalt::tank::ec_of(&bench.catalogue, &fresh(&bench, formula)).unwrap();
            assert!((ec / mix.ec_ms_cm - 1.0).abs() < 0.005, "{formula}: {ec} for {}", mix.ec_ms_cm);
        }
    }
}

/// The example of the design (mathematics, section 7): EC fell by 24 % while N fell by 60 %, from 45 to 18 ppm. A pattern
/// in proportion still reports 34. The low pattern must not report more than there is, and the range must hold it.
#[test]
fn the_low_pattern_does_not_overstate_nitrogen() {
    let push = "\n[formula.made]\nfrom = \"push\"\nN = 45\n";
    let bench = Bench::parse(&format!("{}{push}", bloomsalt::bench::STARTER), "starter").unwrap();
    for formula in ["made", "push", "growth", "weak"] {
        let ppm = fresh(&bench, formula);
        let ec = bloomsalt::tank::ec_of(&bench.catalogue, &ppm).unwrap();
        let events =
            [(hour(0.0), filled(60.0, 0.0, as_amounts(&ppm))), (hour(1.0), read_ec(ec)), (hour(240.0), read_ec(0.76 * ec))];
        let predict = |ppm: &Nutrients| bloomsalt::tank::ec_of(&bench.catalogue, ppm);
        let state = state_at(&parse(&text_of(&events)), hour(240.0), &Patterns::standard(), &predict);
        let (low, likely, high) = state.range_ppm(Nutrient::N).unwrap();
        let share = |value: f64| value / ppm[Nutrient::N];
        assert!(share(low) <= 0.40, "{formula}: the low pattern leaves {:.3}", share(low));
        assert!(share(high) >= 0.74, "{formula}: in proportion {:.3} is left", share(high));
        assert!(share(likely) > 0.40 && share(likely) < 0.76, "{formula}: {:.3}", share(likely));
        if formula == "made" {
            assert!(low <= 18.0 && (33.0..36.0).contains(&high), "{low} to {high}");
        }
    }
}

/// The course to come in closed form against small steps of the same equation.
#[test]
fn the_forecast_is_the_solution_of_its_equation() {
    let ppm = amounts(&[("N", 36.0), ("NO3-N", 33.0), ("NH4-N", 3.0), ("K", 150.0), ("Ca", 70.0), ("Na", 5.0)]);
    let events = [
        (hour(0.0), filled(60.0, 0.0, ppm)),
        (hour(1.0), read_ec(0.522)),
        (hour(169.0), Event::Reading { ec_ms_cm: Some(0.45), ph: None, temperature_c: None, level_l: Some(53.0) }),
    ];
    let state = state_of(&events, hour(169.0));
    let patterns = Patterns::standard();
    let brings = bloomsalt::logbook::nutrients(&amounts(&[("N", 2.0), ("NO3-N", 1.5), ("Ca", 20.0), ("Na", 8.0)])).unwrap();
    let (per_day, lost) = (state.uptake_per_day.unwrap()[1], state.litres_per_day.unwrap() / state.tank.unwrap().volume_l);
    let mut stepped = state.tank.unwrap().ppm_on(Track::Likely).unwrap();
    let steps = 200_000;
    let step = 20.0 / f64::from(steps);
    let parts = [Nutrient::NitrateN, Nutrient::AmmoniumN, Nutrient::K, Nutrient::Ca, Nutrient::Na];
    for _ in 0..steps {
        for nutrient in parts {
            let k = per_day * patterns.speed(Track::Likely, nutrient);
            stepped[nutrient] += step * (lost * brings[nutrient] - k * stepped[nutrient]);
        }
    }
    let closed = state.ppm_in(20.0, Track::Likely, &patterns, &brings).unwrap();
    for nutrient in parts {
        assert!((closed[nutrient] / stepped[nutrient] - 1.0).abs() < 1e-4, "{nutrient}: {}", closed[nutrient]);
    }
}

#[test]
fn a_table_of_uptake_is_checked() {
    let standard = bloomsalt::logbook::STANDARD_UPTAKE;
    let refused = |text: &str| Patterns::parse(text).unwrap_err().words;
    assert!(refused(&standard.replacen("low = 1.0", "low = -1.0", 1)).contains("`N.low`: -1 is out of range"));
    assert!(refused(&standard.replacen("\"Mo\"", "\"Xx\"", 1)).contains("`Xx` is no nutrient"));
    assert!(refused(&standard.replacen("\"Mo\"", "\"Cu\"", 1)).contains("`Cu` has two rows"));
    let cut = standard.rfind("[[uptake]]").unwrap();
    assert!(refused(&standard[..cut]).contains("`Mo` has no row"));
    assert!(refused("x = 1").contains("unknown field"));
    // every source is in the register
    let catalogue = bloomsalt::catalogue::Catalogue::standard();
    assert!(Patterns::standard().rows().iter().all(|row| catalogue.source(&row.source).is_some()));
    // nitrogen is never the slowest of what the low pattern takes: it is what warnings are about
    let patterns = Patterns::standard();
    let nitrate = patterns.speed(Track::Low, Nutrient::NitrateN);
    let others = NUTRIENTS.into_iter().filter(|n| n.element() != "N");
    assert!(others.into_iter().all(|n| patterns.speed(Track::Low, n) <= nitrate));
}

// --- findings ----------------------------------------------------------------------------------------------------

/// Nothing known of what is in it but the floor.
fn in_tank(floor_ppm: Option<f64>) -> InTank<'static> {
    InTank { achieved: &[], ec_ms_per_cm: None, formula: None, floor_ppm }
}

/// Codes that fire for a state, with a floor for nitrogen.
fn fired(events: &[(Moment, Event)], at: f64, floor_ppm: Option<f64>) -> Vec<Code> {
    bloomsalt::safety::of_logbook(&state_of(events, hour(at)), &in_tank(floor_ppm))
        .iter()
        .map(|finding| finding.code)
        .collect()
}

/// Each finding that is no slip (those are above): one case that fires it, one that just misses it.
#[test]
fn findings_fire_and_just_miss() {
    let potassium = || filled(60.0, 0.0, amounts(&[("N", 40.0), ("NO3-N", 40.0), ("K", 100.0), ("Cl", 90.0)]));
    let read = |hours: f64, ec: f64| (hour(hours), read_ec(ec));
    let level = |hours: f64| (hour(hours), read_level(59.0));
    let sound = [(hour(0.0), potassium()), read(1.0, 0.46), level(100.0), read(100.0, 0.40)];
    assert_eq!(fired(&sound, 100.0, None), []);
    // nothing is known before the second reading, and something after it
    assert_eq!(fired(&sound[..2], 2.0, None), [Code::UptakeUnknown]);
    assert_eq!(fired(&[sound[0].clone(), sound[1].clone(), sound[3].clone()], 100.0, None), [Code::LevelUnknown]);
    assert_eq!(fired(&sound, 100.0 + 7.01 * 24.0, None), [Code::ReadingOld]);
    assert_eq!(fired(&sound, 100.0 + 6.99 * 24.0, None), []);
    assert_eq!(fired(&sound, 99.0, None), [Code::UptakeUnknown, Code::DatedLater]);
    let low = state_of(&sound, hour(100.0)).range_ppm(Nutrient::N).unwrap().0;
    assert_eq!(fired(&sound, 100.0, Some(low * 1.001)), [Code::NitrogenUnderFloor]);
    assert_eq!(fired(&sound, 100.0, Some(low * 0.999)), []);
    let mut held = sound.to_vec();
    held.push((hour(90.0), Event::Phase { phase: "push".to_owned(), hold_at_most_days: Some(1.0) }));
    assert_eq!(fired(&held, 90.0 + 23.9, None), [Code::BackBy]);
    assert_eq!(fired(&held, 90.0 + 24.1, None), [Code::HoldOver]);
    // an EC that cannot be predicted
    let state = state_at(&parse(&text_of(&sound)), hour(100.0), &Patterns::standard(), &|_: &Nutrients| None);
    assert!(matches!(state.slips[..], [Slip::NotPredicted { entry: 2 }, Slip::NotPredicted { entry: 4 }]));
    for finding in bloomsalt::safety::of_logbook(&state, &in_tank(None)) {
        assert!(!finding.message.is_empty());
    }
}

/// What the entries leave over a limit of the formula is told once it is surely over, and a tank too strong as any mix is.
#[test]
fn a_tank_over_its_limits_is_told() {
    let state = state_of(&[(hour(0.0), filled(60.0, 0.0, amounts(&[("S", 90.0)])))], hour(1.0));
    let codes = |nutrient: Nutrient, ppm: f64, max_ppm: Option<f64>| {
        let [target_ppm, min_ppm] = [None; 2];
        let one = Achieved { nutrient, ppm, exact_ppm: ppm, plus_minus_ppm: 1.0, target_ppm, min_ppm, max_ppm };
        let held = InTank { achieved: &[one], formula: Some("push"), ..in_tank(None) };
        let found = bloomsalt::safety::of_logbook(&state, &held);
        found.into_iter().map(|finding| finding.code).filter(|code| *code != Code::UptakeUnknown).collect::<Vec<_>>()
    };
    assert_eq!(codes(Nutrient::S, 101.01, Some(100.0)), [Code::OverItsLimit]);
    assert_eq!(codes(Nutrient::S, 100.99, Some(100.0)), []);
    assert_eq!(codes(Nutrient::Mg, 101.01, None), [Code::FeedTooStrong]);
    assert_eq!(codes(Nutrient::Mg, 100.99, None), []);
}

// --- the text ----------------------------------------------------------------------------------------------------

/// One of each event.
fn every_event() -> Vec<Event> {
    vec![
        Event::Filled {
            volume_l: 60.0,
            held_back_l: 4.0,
            formula: Some("push".to_owned()),
            hold_at_most_days: Some(28.0),
            salts_g: amounts(&[("potassium-nitrate", 14.1)]),
            bottles_ml: amounts(&[("traces", 12.5)]),
            ppm: amounts(&[("N", 32.56), ("NO3-N", 32.56), ("K", 90.9)]),
        },
        Event::Added { salts_g: amounts(&[("boric-acid", 0.1)]), bottles_ml: Amounts::new(), mg: amounts(&[("B", 17.5)]) },
        Event::ToppedUp { volume_l: 8.0, level_after_l: Some(60.0), ppm: amounts(&[("Ca", 9.0)]) },
        Event::Drained { volume_l: 20.5 },
        Event::Reading { ec_ms_cm: Some(1.1), ph: Some(5.9), temperature_c: Some(21.0), level_l: Some(52.0) },
        Event::Analysis { ppm: amounts(&[("N", 88.0), ("Ca", 70.0)]) },
        Event::Note { text: "Kelch geöffnet, \"früh\" {am} Tag ,\"check\":\"00000000\"}\n2. Zeile 🌱".to_owned() },
        Event::Phase { phase: "push".to_owned(), hold_at_most_days: Some(28.0) },
        Event::StalksSeen {},
        Event::Voided { voids: 4, why: Some("twice".to_owned()) },
    ]
}

fn sample() -> String {
    text_of(&every_event().into_iter().map(|event| (hour(0.0), event)).collect::<Vec<_>>())
}

#[test]
fn every_event_comes_back() {
    let logbook = parse(&sample());
    let events: Vec<Event> = logbook.entries().iter().map(|entry| entry.event.clone()).collect();
    assert_eq!(events, every_event());
    assert_eq!(logbook.voided_by(4), Some(10));
    assert_eq!(logbook.standing().len(), 9);
    // by hand, without version and check, with spaces, and with the line ends of another system
    let hand = "{ \"entry\": 1, \"at\": \"2026-10-03 18:30+02:00\", \"event\": \"drained\", \"volume_l\": 5 }\r\n";
    assert_eq!(parse(hand).entries()[0].event, Event::Drained { volume_l: 5.0 });
}

/// A crash may cut the last write anywhere: every entry before it counts, the cut is told, and the next entry names it.
#[test]
fn a_last_line_torn_at_any_byte_is_told_and_recovered() {
    for event in every_event().into_iter().take(9) {
        let whole = text_of(&[(hour(0.0), Event::StalksSeen {}), (hour(1.0), event)]);
        let start = whole.find('\n').unwrap() + 1;
        for cut in start..whole.len() {
            let torn = &whole.as_bytes()[..cut];
            let logbook = Logbook::parse(torn, &[]).unwrap_or_else(|damage| panic!("cut at {cut}: {damage}"));
            let complete = cut == whole.len() - 1;
            assert_eq!(logbook.entries().len(), 1 + usize::from(complete), "cut at {cut}");
            let is_torn = cut > start && !complete;
            assert_eq!(logbook.torn().len(), usize::from(is_torn), "cut at {cut}");
            let more = logbook.append(hour(2.0), Event::StalksSeen {}).unwrap();
            let all = [torn, more.as_bytes()].concat();
            assert!(all.starts_with(torn), "nothing is rewritten");
            let healed = Logbook::parse(&all, &[]).unwrap_or_else(|damage| panic!("cut at {cut}: {damage}"));
            assert!(healed.torn().is_empty());
            let named = healed.entries().iter().any(|entry| entry.event == Event::Recovered { lines: vec![2] });
            assert_eq!(named, is_torn, "cut at {cut}");
            // the write that recovers may be cut as well
            for again in 0..more.len() {
                let twice = [torn, &more.as_bytes()[..again]].concat();
                let logbook = Logbook::parse(&twice, &[]).unwrap_or_else(|damage| panic!("cut at {cut}, {again}: {damage}"));
                let third = logbook.append(hour(3.0), Event::StalksSeen {}).unwrap();
                let healed = Logbook::parse(&[&twice, third.as_bytes()].concat(), &[]).unwrap();
                let stalks = healed.entries().iter().filter(|entry| entry.event == Event::StalksSeen {}).count();
                assert!(healed.torn().is_empty() && stalks >= 2, "cut at {cut}, {again}");
                if cut > start + 2 && again > 3 {
                    break; // the rest of the second cut is the same for every place of the first
                }
            }
        }
    }
}

/// Zeros at the end: the file had grown, its bytes had not reached the disk.
#[test]
fn zeros_at_the_end_are_torn() {
    let whole = sample();
    for zeros in [1, 7, 4096] {
        for cut in [whole.len(), whole.len() - 20] {
            let bytes = [&whole.as_bytes()[..cut], &vec![0; zeros]].concat();
            let logbook = Logbook::parse(&bytes, &[]).unwrap();
            assert_eq!(logbook.torn().len(), 1, "{zeros} zeros at {cut}");
        }
    }
}

/// Every byte changed in turn, to several others: the entries come back as they were, or something is told.
#[test]
fn no_changed_byte_passes_for_an_entry() {
    let whole = sample();
    let before = parse(&whole);
    let mut told = 0;
    for at in 0..whole.len() {
        for to in [b' ', b'7', b'"', b'\n', 0xff, whole.as_bytes()[at] ^ 1] {
            let mut bytes = whole.clone().into_bytes();
            if bytes[at] == to {
                continue;
            }
            bytes[at] = to;
            match Logbook::parse(&bytes, &[]) {
                Err(damage) => {
                    let line = whole.as_bytes()[..at].split(|byte| *byte == b'\n').count();
                    assert!(damage.faults.iter().any(|fault| fault.line.abs_diff(line) <= 1), "byte {at}: {damage}");
                    told += 1;
                }
                Ok(logbook) if !logbook.torn().is_empty() => told += 1,
                Ok(logbook) => assert_eq!(logbook.entries(), before.entries(), "byte {at} to {to} passed"),
            }
        }
    }
    assert!(told > 5 * whole.len(), "{told}");
}

/// Lines gone, doubled, swapped, put in, glued together; other files.
#[test]
fn damage_is_told_with_its_line_and_what_can_be_saved() {
    let whole = sample();
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    let told = |bytes: &[u8]| Logbook::parse(bytes, &[]).expect_err("damage");
    for at in 0..lines.len() - 1 {
        let mut gone = lines.clone();
        gone.remove(at);
        let damage = told(gone.concat().as_bytes());
        assert_eq!(damage.faults[0].line, at + 1);
        assert_eq!(damage.saved.len(), lines.len() - 1, "what is left can be read");
        let mut doubled = lines.clone();
        doubled.insert(at, lines[at]);
        assert_eq!(told(doubled.concat().as_bytes()).faults[0].line, at + 2);
        let mut swapped = lines.clone();
        swapped.swap(at, at + 1);
        assert_eq!(told(swapped.concat().as_bytes()).faults[0].line, at + 1);
        let mut foreign = lines.clone();
        foreign.insert(at, "[tank]\n");
        let damage = told(foreign.concat().as_bytes());
        assert_eq!(damage.faults[0].line, at + 1);
        assert_eq!(damage.saved_around(), (at, lines.len() - at));
        let glued = lines.concat().replacen(
            &format!("{}{}", lines[at], lines[at + 1]),
            &format!("{}{}", lines[at].trim_end(), lines[at + 1]),
            1,
        );
        assert_eq!(told(glued.as_bytes()).faults[0].line, at + 1);
        let mut cut = lines.clone();
        let half = format!("{}\n", &lines[at][..20]);
        cut[at] = &half;
        let damage = told(cut.concat().as_bytes());
        assert_eq!((damage.faults[0].line, damage.faults.len()), (at + 1, 1));
    }
    for (other, words) in [
        ("name = \"a bench\"\n", "not JSON"),
        ("{\"version\":1,\"kind\":\"recipe\"}\n", "`entry` is no number from 1"),
        ("\u{feff}{}\n", "not JSON"),
        ("{\"entry\":1,\"version\":2}\n", "it is of version 2"),
        ("{\"entry\":2,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"stalks-seen\"}\n", "entry 1 should stand here"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00\",\"event\":\"stalks-seen\"}\n", "has no offset"),
        ("{\"entry\":1,\"at\":\"2026-02-29T18:30:00Z\",\"event\":\"stalks-seen\"}\n", "no date and time"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"sown\"}\n", "unknown variant `sown`"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"drained\",\"volume_l\":-1}\n", "out of range"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"drained\",\"volume_l\":1e999}\n", "not JSON"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"drained\",\"litres\":1}\n", "unknown field `litres`"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"reading\"}\n", "the reading reads nothing"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"voided\",\"voids\":1}\n", "there is no entry 1 to void"),
        ("{\"entry\":1,\"at\":\"2026-10-03T18:30:00Z\",\"event\":\"analysis\",\"ppm\":{\"Au\":1}}\n", "`Au` is no nutrient"),
    ] {
        let damage = told(other.as_bytes());
        assert!(damage.to_string().contains(words), "{other}: {damage}");
    }
}

/// Damage is given up by an entry at the end; the damaged line stays where it is.
#[test]
fn lines_are_given_up_by_an_entry() {
    let whole = sample();
    let broken = whole.replacen("\"volume_l\":20.5", "\"volume_l\":29.5", 1);
    assert_eq!(Logbook::parse(broken.as_bytes(), &[]).unwrap_err().faults[0].line, 4);
    let logbook = Logbook::parse(broken.as_bytes(), &[4]).unwrap();
    let text = broken + &logbook.append(hour(9.0), Event::Recovered { lines: vec![4] }).unwrap();
    let logbook = parse(&text);
    // its number stays taken, and the entry that voided it has nothing left to void
    assert_eq!(logbook.entries().len(), 10);
    assert_eq!(logbook.next_number(), 12);
    // giving up line 4 is no licence for another gap
    let gap = text.split_inclusive('\n').filter(|line| !line.contains("\"entry\":7")).collect::<String>();
    assert!(Logbook::parse(gap.as_bytes(), &[]).is_err());
}

/// Numbers that are missing or come twice, and voids of nothing, can be given up as well.
#[test]
fn gaps_and_doubles_are_given_up() {
    let whole = sample();
    let lines: Vec<&str> = whole.split_inclusive('\n').collect();
    let mut gap = lines.clone();
    gap.drain(3..5);
    let damage = Logbook::parse(gap.concat().as_bytes(), &[]).unwrap_err();
    assert_eq!((damage.faults[0].line, damage.faults.len()), (4, 1), "{damage}");
    let logbook = Logbook::parse(gap.concat().as_bytes(), &[4]).unwrap();
    assert_eq!((logbook.entries().len(), logbook.next_number()), (8, 11));
    let mut double = lines.clone();
    double.insert(6, lines[1]);
    assert_eq!(Logbook::parse(double.concat().as_bytes(), &[]).unwrap_err().faults.len(), 1);
    assert_eq!(parse(&whole).entries(), Logbook::parse(double.concat().as_bytes(), &[7]).unwrap().entries());
    let twice = whole.clone() + &line(&Entry { number: 11, at: hour(0.0), event: Event::Voided { voids: 4, why: None } });
    assert_eq!(Logbook::parse(twice.as_bytes(), &[]).unwrap_err().faults[0].line, 11);
    let logbook = Logbook::parse(twice.as_bytes(), &[11]).unwrap();
    let healed = twice.clone() + &logbook.append(hour(1.0), Event::Recovered { lines: vec![11] }).unwrap();
    assert_eq!(parse(&healed).next_number(), 13);
    assert_eq!(parse(&healed).voided_by(4), Some(10));
}

#[test]
fn what_cannot_be_voided() {
    let logbook = parse(&sample());
    let refused = |voids: u64| logbook.append(hour(0.0), Event::Voided { voids, why: None }).unwrap_err();
    assert!(refused(4).contains("entry 4 is void already, by entry 10"));
    assert!(refused(10).contains("entry 10 is `voided` and cannot be voided"));
    assert!(refused(11).contains("there is no entry 11 to void"));
    assert!(refused(0).contains("numbered from 1"));
}

#[test]
fn moments_keep_their_offset_and_compare_by_the_instant() {
    let moment = |text: &str| Moment::parse(text).unwrap();
    assert_eq!(moment("2026-10-03T18:30:00+02:00"), moment("2026-10-03 16:30Z"));
    assert_eq!(moment("2026-10-03 18:30-09:30").to_string(), "2026-10-03T18:30:00-09:30");
    // the night in which clocks in Berlin went back has 25 hours
    let (evening, morning) = (moment("2026-10-24 12:00+02:00"), moment("2026-10-25 12:00+01:00"));
    assert!((morning.days_since(&evening) - 25.0 / 24.0).abs() < 1e-12);
    // leap days are there and in other years not
    assert_eq!(moment("2028-02-28 12:00Z").plus_days(1.0).date().to_string(), "2028-02-29");
    assert_eq!(moment("2027-02-28 12:00Z").plus_days(1.0).date().to_string(), "2027-03-01");
    assert!(Moment::parse("2027-02-29 12:00Z").is_err());
    assert!(Moment::parse("2028-02-29 12:00Z").is_ok());
    assert_eq!(moment("9999-12-30 12:00Z").plus_days(1e300), moment("9999-12-30 12:00Z").plus_days(f64::MAX));
    for wrong in ["", "now", "2026-10-03", "2026-10-03 25:00Z", "2026-10-03 18:30", "18:30Z", "2026-13-01 10:00Z"] {
        assert!(Moment::parse(wrong).is_err(), "{wrong}");
    }
}

fn to_push(hours: f64) -> (Moment, Event) {
    let event = Event::Filled {
        volume_l: 60.0,
        held_back_l: 0.0,
        formula: Some("push".to_owned()),
        hold_at_most_days: Some(28.0),
        salts_g: BTreeMap::new(),
        bottles_ml: BTreeMap::new(),
        ppm: BTreeMap::new(),
    };
    (hour(hours), event)
}

/// Phases: begun by an entry of their own or by a filling to another formula; the days count from there.
#[test]
fn a_phase_runs_from_its_beginning() {
    let push = to_push;
    let state = |events: &[(Moment, Event)]| state_of(events, hour(2000.0));
    let since = |events: &[(Moment, Event)]| state(events).phase.unwrap().since;
    assert_eq!(since(&[push(5.0)]), hour(5.0));
    // filled again to the same formula, the days run on
    assert_eq!(since(&[push(5.0), push(240.0)]), hour(5.0));
    let named = Event::Phase { phase: "push".to_owned(), hold_at_most_days: None };
    let both = [(hour(2.0), named), push(5.0)];
    assert_eq!(since(&both), hour(2.0));
    let fed = state(&both).fed.pop().unwrap();
    assert_eq!((fed.since, fed.hold_at_most_days), (hour(2.0), Some(28.0)));
    let growth = Event::Phase { phase: "growth".to_owned(), hold_at_most_days: None };
    assert_eq!(state(&[push(5.0), (hour(700.0), growth)]).fed.pop().unwrap().hold_at_most_days, None);
}

/// How long a formula may be fed runs from the day on which plants came to be fed it, over phases that feed it one after the
/// other, over fresh tanks of it and over what tops it up; against a list kept here.
#[test]
fn phases_that_feed_one_formula_count_together() {
    let feeds = |phase: &str| match phase {
        "push" => Some(("push".to_owned(), Some(28.0))),
        "growth" | "back" => Some(("growth".to_owned(), None)),
        // the push goes on, whatever that is called
        _ => None,
    };
    let mut random = Random(2);
    let mut held = 0;
    for _ in 0..200 {
        let (mut events, mut mine) = (Vec::new(), Vec::new());
        let mut seen = None;
        for turn in 0..3 + random.below(12) {
            let at = 30.0 * f64::from(u32::try_from(turn).unwrap());
            let formula = ["growth", "push"][random.below(2)];
            let hold = (formula == "push").then_some(28.0);
            let (event, fed) = match random.below(6) {
                0 => (to_push(at).1, Some("push")),
                1 | 2 => {
                    let event = Event::Done {
                        formula: Some(formula.to_owned()),
                        hold_at_most_days: hold,
                        level_before_l: None,
                        drained_l: 0.0,
                        filled_l: 1.0,
                        water_ppm: BTreeMap::new(),
                        salts_g: BTreeMap::new(),
                        bottles_ml: BTreeMap::new(),
                        mg: BTreeMap::new(),
                    };
                    (event, Some(formula))
                }
                3 => {
                    let phase = ["hold", "back", "push", "rest"][random.below(4)];
                    let event = Event::Phase { phase: phase.to_owned(), hold_at_most_days: None };
                    (
                        event,
                        [None, Some("growth"), Some("push"), None]
                            [["hold", "back", "push", "rest"].iter().position(|of| *of == phase).unwrap()],
                    )
                }
                4 => {
                    seen = Some(at);
                    (Event::StalksSeen {}, None)
                }
                _ => (Event::ToppedUp { volume_l: 1.0, level_after_l: None, ppm: BTreeMap::new() }, None),
            };
            events.push((hour(at), event));
            if let Some(fed) = fed.filter(|fed| mine.last().is_none_or(|(last, _)| last != fed)) {
                mine.push((fed, at));
                seen = None;
            }
        }
        let mut state = state_of(&events, hour(1000.0));
        state.follow(&feeds);
        let told: Vec<(&str, Moment)> = state.fed.iter().map(|fed| (fed.formula.as_str(), fed.since)).collect();
        let mine: Vec<(&str, Moment)> = mine.into_iter().map(|(fed, at)| (fed, hour(at))).collect();
        assert_eq!(told, mine, "{events:?}");
        assert_eq!(state.stalks, seen.map(hour), "{events:?}");
        let push = state.fed.last().filter(|fed| fed.formula == "push");
        assert!(push.is_none_or(|fed| fed.hold_at_most_days == Some(28.0)), "{events:?}");
        held += usize::from(push.is_some());
    }
    assert!(held > 50, "{held} end on push");
}
