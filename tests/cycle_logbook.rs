//! Renewal days of a cycle from a logbook, against a reckoning of their own: of potassium nitrate in pure water nitrogen falls
//! as an exponential whose pace is known, because the readings are made from it.

#![allow(clippy::disallowed_methods, reason = "tests write logbooks")]

use std::path::Path;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{
    self, Begin, CycleRecord, DueBy, DueKind, FromLogbooks, Renewal, RenewalEnd, RenewalFrom, TodayAsked, TodayRecord,
};
use bloomsalt::logbook::{Amounts, Entry, Event, Logbook, Moment, Patterns, line};
use bloomsalt::matter::{Nutrient, Nutrients};
use bloomsalt::quantity::{Date, Stamp};
use bloomsalt::report;
use bloomsalt::safety::Code;
use serde_json::Value;

use crate::program::{bloomsalt, done};
use crate::random::Random;

/// Nitrogen and potassium in a gram of potassium nitrate, from atomic weights.
const N_OF_SALT: f64 = 14.007 / 101.103;
const K_OF_SALT: f64 = 39.098 / 101.103;
/// Speed of potassium on the likely track of `salts/uptake.toml`; that of nitrate is 1.
const K_SPEED: f64 = 0.7;

const GROUPS: &str = r#"
[[group]]
id = "here"
days_to_flower = "35 days"
pollen_from = "0 days"
pollen_to = "2 days"
stigma_from = "3 days"
stigma_to = "6 days"
[[group]]
id = "small"
tank = "30 L"
days_to_flower = "35 days"
pollen_from = "0 days"
pollen_to = "2 days"
stigma_from = "3 days"
stigma_to = "6 days"
[[group]]
id = "large"
tank = "120 L"
days_to_flower = "35 days"
pollen_from = "0 days"
pollen_to = "2 days"
stigma_from = "3 days"
stigma_to = "6 days"
"#;

/// Growth has 90 ppm of nitrogen, push 36.
fn bench(renew: i32, limits: &str, more: &str) -> Bench {
    let text = format!(
        "{more}\n[tank]\nvolume = \"60 L\"\n[shelf]\npotassium-nitrate = {{}}\n[formula.growth]\nN = 90\n{limits}\n\
         [formula.push]\nN = 36\n[cycle]\nrenew_every = \"{renew} days\"\n\
         growth = {{ formula = \"growth\", lasts = \"70 days\" }}\npush = {{ formula = \"push\", lasts = \"40 days\" }}\n{GROUPS}"
    );
    Bench::parse(&text, "bench.toml").unwrap_or_else(|error| panic!("{error}"))
}

fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap_or_else(|error| panic!("{error}"))
}

fn salt(n_ppm: f64) -> Nutrients {
    let mut ppm = Nutrients::default();
    (ppm[Nutrient::N], ppm[Nutrient::NitrateN], ppm[Nutrient::K]) = (n_ppm, n_ppm, n_ppm / N_OF_SALT * K_OF_SALT);
    ppm
}

/// What the likely track leaves after an uptake of that size.
fn taken(fresh: &Nutrients, uptake: f64) -> Nutrients {
    let mut left = *fresh;
    for nutrient in [Nutrient::N, Nutrient::NitrateN] {
        left[nutrient] *= (-uptake).exp();
    }
    left[Nutrient::K] *= (-uptake * K_SPEED).exp();
    left
}

fn ec(ppm: &Nutrients) -> f64 {
    bloomsalt::tank::ec_of(&Bench::starter().catalogue, ppm).expect("an equilibrium")
}

fn filled(formula: &str, n_ppm: f64) -> Event {
    let of = salt(n_ppm);
    let ppm: Amounts = [("N", of[Nutrient::N]), ("NO3-N", of[Nutrient::NitrateN]), ("K", of[Nutrient::K])]
        .map(|(s, v)| (s.to_owned(), v))
        .into();
    let formula = Some(formula.to_owned());
    Event::Filled {
        volume_l: 60.0,
        held_back_l: 0.0,
        formula,
        hold_at_most_days: None,
        salts_g: Amounts::new(),
        bottles_ml: Amounts::new(),
        ppm,
    }
}

fn read(ec: f64) -> Event {
    Event::Reading { ec_ms_cm: Some(ec), ph: None, temperature_c: None, level_l: None }
}

/// The reading that an uptake of the likely track gives.
fn after(n_ppm: f64, uptake: f64) -> Event {
    read(ec(&taken(&salt(n_ppm), uptake)))
}

fn text_of(events: &[(&str, Event)]) -> String {
    let numbered = events.iter().zip(1..);
    numbered.map(|((at, event), number)| line(&Entry { number, at: moment(at), event: event.clone() })).collect()
}

fn planned(bench: &Bench, events: &[(&str, Event)], start: &str) -> CycleRecord {
    let logbook = Logbook::parse(text_of(events).as_bytes(), &[]).unwrap_or_else(|damage| panic!("{damage}"));
    let (at, patterns) = (moment("2028-06-01T12:00:00Z"), Patterns::standard());
    let from = FromLogbooks { logbooks: &[&logbook], at, patterns: &patterns };
    let begin = Begin::On(Date::parse(start).expect("a day"));
    jobs::cycle(bench, begin, Some(from)).unwrap_or_else(|error| panic!("{error}"))
}

/// Growth filled on 26 February of a leap year, and read a week later.
fn week(uptake: f64) -> [(&'static str, Event); 2] {
    [("2028-02-26T18:00:00+01:00", filled("growth", 90.0)), ("2028-03-04T18:00:00+01:00", after(90.0, uptake))]
}

fn renewal<'a>(record: &'a CycleRecord, tank: usize, phase: &str) -> &'a Renewal {
    &record.tanks[tank].phases.iter().find(|one| one.phase == phase).expect("planned").renewal
}

/// Nitrogen of a planned tank by what is weighed into it, ppm.
fn weighed_n(record: &CycleRecord, formula: &str, volume_l: f64) -> f64 {
    let mix =
        record.mixes.iter().find(|mix| mix.formula == formula && (mix.volume_l - volume_l).abs() < 1e-9).expect("mixed");
    mix.doses.iter().filter_map(jobs::Dose::grams).sum::<f64>() * N_OF_SALT * 1e3 / volume_l
}

#[allow(clippy::cast_possible_truncation, reason = "a few days")]
fn whole(days: f64) -> i32 {
    days.floor() as i32
}

/// Days until half of the target, by what is weighed in; growth was learnt at 90 ppm in 60 L over 7 days.
fn by_hand(record: &CycleRecord, uptake: f64, formula: &str, volume_l: f64, own: bool) -> f64 {
    let fresh = weighed_n(record, formula, volume_l);
    let floor = if formula == "growth" { 45.0 } else { 18.0 };
    // the same milligrams a day, or the same share, whichever is more; a group's plants count as many a litre at the least
    let volume = if own { (60.0 / volume_l).max(1.0) } else { 60.0 / volume_l };
    let a_day = uptake / 7.0 * volume * (90.0 / fresh).max(1.0);
    (fresh / floor).ln() / a_day
}

#[test]
fn intervals_are_those_of_an_exponential_by_hand() {
    for uptake in [0.09, 0.21, 0.38, 0.6, 1.3] {
        let record = planned(&bench(200, "", ""), &week(uptake), "2028-12-20");
        for (tank, volume_l) in [(0, 60.0), (1, 30.0), (2, 120.0)] {
            for formula in ["growth", "push"] {
                let found = renewal(&record, tank, formula);
                let expected = by_hand(&record, uptake, formula, volume_l, tank > 0);
                let context = format!("{uptake} {formula} {volume_l}: {expected} {found:?}");
                let shown = Some(whole(expected)).filter(|days| *days < 90);
                assert_eq!(found.logbook_days, shown, "{context}");
                assert_eq!(found.days, shown.unwrap_or(200).max(1), "{context}");
                assert_eq!(found.from == RenewalFrom::Logbook, shown.is_some(), "{context}");
                assert_eq!(found.ends_by, shown.map(|_| RenewalEnd::NitrogenFloor), "{context}");
                assert!(found.low_days.is_some_and(|days| f64::from(days) <= expected), "{context}");
                let learnt = found.learnt.as_ref().expect("readings");
                assert_eq!(
                    (learnt.formula.as_deref(), learnt.read_to.as_str()),
                    (Some("growth"), "2028-03-04T18:00:00+01:00")
                );
            }
        }
    }
    // the larger tank of the same plants lasts longer, that of other plants does not
    let tank = |volume: &str| {
        let larger =
            bench(200, "", "").with_tank(bloomsalt::quantity::volume(volume, &bloomsalt::quantity::TANK_L).expect("fits"));
        planned(&larger, &week(0.6), "2028-12-20")
    };
    let record = tank("120 L");
    assert_eq!(renewal(&record, 0, "growth").days, whole(by_hand(&record, 0.6, "growth", 120.0, false)));
    assert_eq!(renewal(&record, 2, "growth").days, whole(by_hand(&record, 0.6, "growth", 120.0, true)));
}

/// Where nitrogen meets its floor just after the seventh day there are seven, just before it six.
#[test]
fn a_floor_that_is_just_missed_gives_a_day_more() {
    let plain =
        jobs::cycle(&bench(200, "", ""), Begin::On(Date::parse("2028-12-20").expect("a day")), None).expect("a plan");
    let share = (weighed_n(&plain, "growth", 60.0) / 45.0).ln();
    let days = |off: f64| {
        let record = planned(&bench(200, "", ""), &week(share / (1.0 + off)), "2028-12-20");
        (renewal(&record, 0, "growth").days, renewal(&record, 0, "growth").logbook_days)
    };
    // what is weighed is not quite 90 ppm, so the pace of 90 is a little more in it
    let more = (90.0 / weighed_n(&plain, "growth", 60.0)).max(1.0) - 1.0;
    assert_eq!(days(more + 1e-4), (7, Some(7)));
    assert_eq!(days(more - 1e-4), (6, Some(6)));
    // an interval that is as long as the fixed one is the fixed one
    for (renew, from) in [(6, RenewalFrom::Fixed), (7, RenewalFrom::Fixed), (8, RenewalFrom::Logbook)] {
        let record = planned(&bench(renew, "", ""), &week(share / (1.0 + more + 1e-4)), "2028-12-20");
        let found = renewal(&record, 0, "growth");
        assert_eq!((found.days, found.from, found.logbook_days), (renew.min(7), from, Some(7)));
    }
}

/// A tank that stands for a day longer than the low pattern allows is told, with the first day on which it may be past its floor;
/// one that is renewed on that day is not.
#[test]
fn a_tank_that_may_run_down_sooner_is_told() {
    let low = renewal(&planned(&bench(200, "", ""), &week(0.6), "2028-12-20"), 0, "growth").low_days.expect("a floor");
    assert!(low > 0);
    for (renew, fires) in [(low, false), (low + 1, true)] {
        let record = planned(&bench(renew, "", ""), &week(0.6), "2028-12-20");
        let growth = renewal(&record, 0, "growth");
        assert_eq!((growth.days, growth.low_days, growth.low_ends_by), (renew, Some(low), Some(RenewalEnd::NitrogenFloor)));
        assert!(growth.low_limit.is_some_and(|floor| (floor - 45.0).abs() < 1e-9));
        let of_tank = |code: Code| {
            let told = record.findings.iter().filter(|finding| finding.code == code);
            told.filter(|finding| finding.message.contains("`growth` in the bench tank")).cloned().collect::<Vec<_>>()
        };
        let told = of_tank(Code::MayRunDownSooner);
        assert_eq!(told.len(), usize::from(fires), "{told:?}");
        let on = Date::parse("2028-12-20").expect("a day").plus(low).long();
        let words = |text: &str| text.contains("under its floor of 45.0 ppm") && text.contains(&on);
        assert!(told.iter().all(|finding| words(&finding.message) && finding.remedy.is_some()), "{told:?}");
        let text = report::cycle(&record, false).split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(text.contains("`growth` in the bench tank"), fires);
    }
}

/// The plan runs over the end of a year and the leap day.
#[test]
fn fresh_tanks_stand_on_the_days_that_the_intervals_give() {
    let record = planned(&bench(14, "", ""), &week(0.6), "2028-12-20");
    let growth = renewal(&record, 0, "growth").days;
    assert_eq!(growth, 8, "ln 2 / (0.6 / 7) are 8.09 days");
    let start = Date::parse("2028-12-20").expect("a day");
    let fills: Vec<_> = record.tanks[0].fills.iter().filter(|fill| fill.formula == "growth").collect();
    let dates: Vec<String> = fills.iter().map(|fill| fill.date.to_string()).collect();
    let by_hand = [
        "2028-12-20",
        "2028-12-28",
        "2029-01-05",
        "2029-01-13",
        "2029-01-21",
        "2029-01-29",
        "2029-02-06",
        "2029-02-14",
        "2029-02-22",
    ];
    assert_eq!(dates, by_hand);
    assert_eq!(fills.last().map(|fill| (fill.days, fill.renew_days)), Some((6, 8)), "cut short by the push");
    assert!(
        record.tanks[0].fills.iter().all(|fill| fill.renew_from == RenewalFrom::Logbook && fill.days <= fill.renew_days)
    );
    // push takes 2.5 times the share of the 36 ppm: ln 2 / (0.6 / 7 * 2.5) are 3.2 days, over 29 February
    let push: Vec<_> = record.tanks[0].fills.iter().filter(|fill| fill.formula == "push").take(2).collect();
    assert_eq!((push[0].date, push[1].date), (start.plus(70), start.plus(73)));
    assert_eq!(push[1].date.to_string(), "2029-03-03");
}

/// What medium and pipes hold back counts on both sides: the same volume is the same share.
#[test]
fn what_is_held_back_counts_for_the_plan_as_well() {
    let Event::Filled { formula, ppm, salts_g, .. } = filled("growth", 90.0) else { panic!("a filling") };
    let back = Event::Filled {
        volume_l: 60.0,
        held_back_l: 6.0,
        formula,
        hold_at_most_days: None,
        salts_g,
        bottles_ml: Amounts::new(),
        ppm,
    };
    // the first filling thins itself with what the medium holds
    let thin = 90.0 * 60.0 / 66.0;
    let events = [("2028-02-26T18:00:00+01:00", back), ("2028-03-04T18:00:00+01:00", after(thin, 0.6))];
    let record = planned(&bench(200, "", ""), &events, "2028-12-20");
    let days = |share: f64| whole((weighed_n(&record, "growth", 60.0) / 45.0).ln() / (0.6 / 7.0 * share));
    assert_eq!(renewal(&record, 0, "growth").days, days(1.0));
    assert_eq!(renewal(&record, 1, "growth").days, days(66.0 / 36.0));
    assert_eq!(renewal(&record, 2, "growth").days, days(1.0));
}

#[test]
fn a_tank_that_runs_down_within_a_day_is_renewed_every_day() {
    let record = planned(&bench(14, "", ""), &week(6.0), "2028-12-20");
    let found = renewal(&record, 0, "growth");
    assert_eq!((found.days, found.logbook_days, found.from), (1, Some(0), RenewalFrom::Logbook));
    assert_eq!(record.tanks[0].fills.len(), 110);
    assert!(report::cycle(&record, false).contains("1 day, the least that is planned"));
}

/// EC that falls under its least value before nitrogen falls under its floor, and EC that hard water drives over its most.
#[test]
fn ec_that_leaves_its_limits_ends_a_tank_as_well() {
    let uptake = 0.6;
    let least = |share: f64| {
        let min = ec(&salt(90.0)) * share;
        let limits = format!("EC = {{ min = \"{min:.6} mS/cm\" }}");
        let record = planned(&bench(200, &limits, ""), &week(uptake), "2028-12-20");
        let fresh = salt(weighed_n(&record, "growth", 60.0));
        let first = (0..90).find(|day| ec(&taken(&fresh, uptake / 7.0 * f64::from(*day))) < min).expect("falls");
        let found = renewal(&record, 0, "growth").clone();
        assert_eq!((found.logbook_days, found.ends_by), (Some(first - 1), Some(RenewalEnd::EcMin)), "{share}: {found:?}");
        assert!((found.limit.expect("a limit") - min).abs() < 1e-6);
        first - 1
    };
    assert!(least(0.9) < least(0.8) && least(0.8) < 8);
    // a least value that lies lower than what is left at the floor plays no part
    let patient = planned(&bench(200, "EC = { min = \"0.1 mS/cm\" }", ""), &week(uptake), "2028-12-20");
    assert_eq!(renewal(&patient, 0, "growth").ends_by, Some(RenewalEnd::NitrogenFloor));
    // by a meter that reads 10 % more a fresh tank is over its most already: that is nothing it runs down to
    let high = |share: f64| {
        let fresh = ec(&salt(90.0));
        let events = [week(uptake)[0].clone(), ("2028-02-26T19:00:00+01:00", read(fresh * 1.1)), {
            let Event::Reading { ec_ms_cm: Some(ec), .. } = after(90.0, uptake) else { panic!("a reading") };
            ("2028-03-04T19:00:00+01:00", read(ec * 1.1))
        }];
        let limits = format!("EC = {{ max = \"{:.6} mS/cm\" }}", fresh * share);
        renewal(&planned(&bench(200, &limits, ""), &events, "2028-12-20"), 0, "growth").clone()
    };
    for share in [1.05, 1.15] {
        let found = high(share);
        assert_eq!((found.days, found.ends_by), (8, Some(RenewalEnd::NitrogenFloor)), "{found:?}");
        assert!((found.learnt.expect("readings").meter_factor - 1.1).abs() < 1e-9);
    }
    // 6 L lost a day and made up with water of 100 ppm Na and 154 ppm Cl; nothing is taken
    let hard = "[water]\nNa = 100\nCl = 154.2\n";
    let mut drunk = vec![("2028-02-26T18:00:00+01:00", filled("growth", 90.0))];
    drunk.push((
        "2028-03-04T18:00:00+01:00",
        Event::Reading { ec_ms_cm: Some(ec(&salt(90.0 * 60.0 / 18.0))), ph: None, temperature_c: None, level_l: Some(18.0) },
    ));
    let mut content = salt(weighed_n(&planned(&bench(200, "", hard), &drunk, "2028-12-20"), "growth", 60.0));
    (content[Nutrient::Na], content[Nutrient::Cl]) = (100.0, 154.2);
    let max = ec(&content) + 0.2;
    let limits = format!("EC = {{ max = \"{max:.6} mS/cm\" }}");
    let record = planned(&bench(200, &limits, hard), &drunk, "2028-12-20");
    let first = (0..90).find(|day| {
        let mut then = content;
        let share = 6.0 / 60.0 * f64::from(*day);
        (then[Nutrient::Na], then[Nutrient::Cl]) = (100.0 * (1.0 + share), 154.2 * (1.0 + share));
        ec(&then) > max
    });
    let found = renewal(&record, 0, "growth");
    assert_eq!((found.ends_by, found.logbook_days), (Some(RenewalEnd::EcMax), first.map(|day| day - 1)), "{found:?}");
}

#[test]
fn a_formula_goes_by_its_own_filling_and_only_else_by_another() {
    let mut events = week(0.6).to_vec();
    events.push(("2028-03-10T18:00:00+01:00", filled("push", 36.0)));
    events.push(("2028-03-17T18:00:00+01:00", after(36.0, 0.35)));
    let record = planned(&bench(200, "", ""), &events, "2028-12-20");
    let growth = renewal(&record, 0, "growth");
    assert_eq!((growth.days, growth.learnt.as_ref().and_then(|from| from.formula.as_deref())), (8, Some("growth")));
    let push = renewal(&record, 0, "push");
    let fresh = weighed_n(&record, "push", 60.0);
    let expected = (fresh / 18.0).ln() / (0.35 / 7.0 * (36.0 / fresh).max(1.0));
    assert_eq!((push.days, push.learnt.as_ref().and_then(|from| from.formula.as_deref())), (whole(expected), Some("push")));
    // a filling that was not read since does not hide the one before
    events.push(("2028-03-18T18:00:00+01:00", filled("push", 36.0)));
    let later = planned(&bench(200, "", ""), &events, "2028-12-20");
    assert_eq!(later.tanks, record.tanks);
    // learnt in the weak push, growth goes by the same share: the same milligrams would be less
    let weak = [("2028-03-10T18:00:00+01:00", filled("push", 36.0)), ("2028-03-17T18:00:00+01:00", after(36.0, 0.35))];
    let record = planned(&bench(200, "", ""), &weak, "2028-12-20");
    assert_eq!(renewal(&record, 0, "growth").days, whole((weighed_n(&record, "growth", 60.0) / 45.0).ln() / 0.05));
}

#[test]
fn a_logbook_that_does_not_tell_leaves_the_plan_as_it_is_and_says_so() {
    let bench = bench(14, "", "");
    let plain = jobs::cycle(&bench, Begin::On(Date::parse("2028-12-20").expect("a day")), None).expect("a plan");
    let at = "2028-02-26T18:00:00+01:00";
    let fresh = (at, filled("growth", 90.0));
    let level = Event::Reading { ec_ms_cm: None, ph: Some(6.0), temperature_c: None, level_l: Some(50.0) };
    for events in [
        vec![],
        vec![fresh.clone()],
        vec![fresh.clone(), ("2028-03-04T18:00:00+01:00", level)],
        // half a day less a minute apart
        vec![fresh.clone(), (at, read(ec(&salt(90.0)))), ("2028-02-27T05:59:00+01:00", read(0.5))],
    ] {
        let record = planned(&bench, &events, "2028-12-20");
        let codes: Vec<Code> = record.findings.iter().map(|finding| finding.code).collect();
        let more: Vec<Code> = codes.into_iter().filter(|code| plain.findings.iter().all(|one| one.code != *code)).collect();
        assert_eq!(more, [Code::RenewalNotLearnt], "{events:?}");
        assert_eq!(record.tanks, plain.tanks);
        assert!(!report::cycle(&record, false).contains("RENEWED AFTER"));
    }
    // half a day apart it tells
    let told = [fresh.clone(), (at, read(ec(&salt(90.0)))), ("2028-02-27T06:00:00+01:00", read(0.5))];
    assert!(renewal(&planned(&bench, &told, "2028-12-20"), 0, "growth").learnt.is_some());
    // a reading that no uptake explains tells nothing, and is told itself
    let record = planned(&bench, &[fresh.clone(), ("2028-03-04T18:00:00+01:00", read(1e-7))], "2028-12-20");
    let codes: Vec<Code> = record.findings.iter().map(|finding| finding.code).collect();
    assert!(codes.contains(&Code::EcNotExplained) && codes.contains(&Code::RenewalNotLearnt), "{codes:?}");
    assert_eq!(record.tanks, plain.tanks);
    // entries of a later day do not count
    let late = [fresh, ("2028-06-02T18:00:00+01:00", read(0.5))];
    let record = planned(&bench, &late, "2028-12-20");
    assert!(record.findings.iter().any(|finding| finding.code == Code::DatedLater), "{:?}", record.findings);
    assert_eq!(record.tanks, plain.tanks);
}

fn cycle(arguments: &[&str]) -> (u8, String, String) {
    bloomsalt(&[&["cycle"], arguments].concat())
}

fn root(file: &str) -> String {
    format!("{}/{file}", env!("CARGO_MANIFEST_DIR"))
}

fn text(path: &Path) -> &str {
    path.to_str().expect("UTF-8")
}

#[test]
fn the_demo_from_its_logbook_as_text_json_calendar_and_table() {
    let folder = tempfile::tempdir().expect("a folder");
    let (calendar, table) = (folder.path().join("plan.ics"), folder.path().join("plan.csv"));
    let (demo, logbook) = (root("examples/streptocarpus-cycle.toml"), root("examples/streptocarpus-logbook.jsonl"));
    let base = ["--bench", &demo, "--start", "2027-01-04", "--logbook", &logbook, "--at", "2026-10-20 09:00+02:00"];
    let files = ["--calendar", text(&calendar), "--stamp", "2026-11-25", "--csv", text(&table)];
    let (status, out, err) = cycle(&[&base[..], &files].concat());
    assert_eq!((status, err.as_str()), (0, ""));
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let section: Vec<&str> = out.split("\n\n").filter(|part| part.starts_with("RENEWED AFTER")).collect();
    insta::assert_snapshot!("renewed", section.concat());
    let written = |path: &Path| std::fs::read_to_string(path).expect("readable").replace("\r\n ", "");
    assert!(written(&calendar).contains("DESCRIPTION:renew\\, 9 days at most by the logbook\\, for 9 days\\n"));
    assert!(written(&table).contains(",\"renew, 9 days at most by the logbook\"\r\n"));
    let out = done(&[&["cycle"], &base[..], &["--json"]].concat());
    let json: Value = serde_json::from_str(&out).expect("one JSON document");
    let schemas: Value = serde_json::from_str(&report::schema()).expect("JSON");
    let validator = jsonschema::validator_for(&schemas["cycle"]).expect("a schema");
    let wrong: Vec<String> = validator.iter_errors(&json).map(|error| error.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    let push = &json["tanks"][0]["phases"][1]["renewal"];
    assert_eq!(
        (&push["from"], &push["fixed_days"], &push["learnt"]["ec_ms_cm"]),
        (&"logbook".into(), &14.into(), &0.81.into())
    );
    assert_eq!(json["tanks"][0]["fills"][0]["renew_from"], "logbook");
    // a table of uptake of the grower's own: everything is taken in proportion on the likely track
    let own = folder.path().join("uptake.toml");
    let table = std::fs::read_to_string(root("salts/uptake.toml")).expect("readable");
    let slow: Vec<String> = table
        .lines()
        .map(|line| if line.starts_with("likely = ") { "likely = 1.0".to_owned() } else { line.to_owned() })
        .collect();
    std::fs::write(&own, slow.join("\n")).expect("written");
    let out = done(&[&["cycle"], &base[..], &["--uptake", text(&own), "--json"]].concat());
    let even: Value = serde_json::from_str(&out).expect("one JSON document");
    let days = |json: &Value| json["tanks"][0]["phases"][0]["renewal"]["days"].as_i64().expect("days");
    assert!(days(&even) > days(&json), "{} {}", days(&even), days(&json));
}

#[test]
fn a_calendar_of_a_plan_by_a_logbook_keeps_its_uids() {
    let bench = bench(14, "", "");
    let uids = |record: &CycleRecord| -> Vec<String> {
        let calendar = report::calendar(record, Stamp::midnight(record.start));
        calendar.lines().filter(|line| line.contains("_bench.mix.0.")).map(str::to_owned).collect()
    };
    let plain = jobs::cycle(&bench, Begin::On(Date::parse("2028-12-20").expect("a day")), None).expect("a plan");
    let first = uids(&plain);
    assert_eq!((first.len(), &first), (1, &uids(&planned(&bench, &week(0.6), "2028-12-20"))));
}

#[test]
fn wrong_input_exits_2_and_a_damaged_logbook_3() {
    let folder = tempfile::tempdir().expect("a folder");
    let (demo, logbook) = (root("examples/streptocarpus-cycle.toml"), root("examples/streptocarpus-logbook.jsonl"));
    let damaged = folder.path().join("damaged.jsonl");
    let whole = std::fs::read_to_string(&logbook).expect("readable");
    std::fs::write(&damaged, whole.replacen("\"ec_ms_cm\":0.93", "\"ec_ms_cm\":0.39", 1)).expect("written");
    let none = folder.path().join("none.jsonl");
    let base = ["--bench", &demo, "--start", "2027-01-04"];
    let at = ["--at", "2026-10-20 09:00+02:00"];
    for (status, more, says) in [
        (3, [&at[..], &["--logbook", text(&damaged)]].concat(), "line 3"),
        (2, [&at[..], &["--logbook", text(&none)]].concat(), "there is no such file"),
        (2, at.to_vec(), "`--at` goes with --logbook"),
        (2, vec!["--uptake", &demo], "`--uptake` goes with --logbook"),
        (2, vec!["--zone", "Europe/Berlin"], "`--zone` goes with --logbook"),
        (2, [&at[..], &["--logbook", &logbook, "--uptake", &demo]].concat(), "uptake"),
    ] {
        let (found, out, err) = cycle(&[&base[..], &more].concat());
        assert_eq!((found, out.as_str()), (status, ""), "{more:?}: {err}");
        assert!(err.contains(says), "{more:?}: {err}");
    }
    let torn = folder.path().join("torn.jsonl");
    std::fs::write(&torn, format!("{whole}{{\"entry\":18,")).expect("written");
    let (status, out, err) = cycle(&[&base[..], &at, &["--logbook", text(&torn)]].concat());
    assert_eq!((status, out.contains("RENEWED AFTER"), err.contains("is torn")), (0, true, true), "{err}");
}

/// Growth, push, hold on push and growth again, each as long.
fn turning(renew: i32, [growth, push, hold, back]: [i32; 4]) -> Bench {
    let text = format!(
        "[tank]\nvolume = \"60 L\"\n[shelf]\npotassium-nitrate = {{}}\n[formula.growth]\nN = 90\n[formula.push]\nN = 36\n\
         [cycle]\nrenew_every = \"{renew} days\"\ngrowth = {{ formula = \"growth\", lasts = \"{growth} days\" }}\n\
         push = {{ formula = \"push\", lasts = \"{push} days\" }}\nhold = {{ formula = \"push\", lasts = \"{hold} days\" }}\n\
         back = {{ formula = \"growth\", lasts = \"{back} days\" }}\n"
    );
    Bench::parse(&text, "bench.toml").unwrap_or_else(|error| panic!("{error}"))
}

const BEGIN: &str = "2027-01-04";

fn day(of: i32) -> Date {
    Date::parse(BEGIN).expect("a day").plus(of)
}

/// The plan and the page of a day, entries of later days not counted.
fn looked_at(bench: &Bench, events: &[(i32, Event)], on: i32, hour: u32) -> (CycleRecord, TodayRecord) {
    let at = |day: i32, hour: u32| format!("{}T{hour:02}:00:00Z", self::day(day));
    let all: Vec<(String, Event)> = events.iter().map(|(on, event)| (at(*on, 18), event.clone())).collect();
    let lines: Vec<(&str, Event)> = all.iter().map(|(at, event)| (at.as_str(), event.clone())).collect();
    let logbook = Logbook::parse(text_of(&lines).as_bytes(), &[]).unwrap_or_else(|damage| panic!("{damage}"));
    let (at, patterns) = (moment(&at(on, hour)), Patterns::standard());
    let logbooks = [&logbook];
    let from = FromLogbooks { logbooks: &logbooks, at, patterns: &patterns };
    let begin = Begin::On(day(0));
    let plan = jobs::cycle(bench, begin, Some(from)).unwrap_or_else(|error| panic!("{error}"));
    let asked = TodayAsked { logbooks: &logbooks, at, patterns: &patterns, begin: Some(begin), with_recipe: false };
    (plan, jobs::today(bench, &asked).unwrap_or_else(|error| panic!("{error}")))
}

/// Days until what is asked of that kind first.
fn asked(today: &TodayRecord, what: DueKind, by: DueBy) -> Option<i32> {
    today.tanks[0].due.iter().filter(|due| due.what == what && due.by == by).map(|due| due.days_left).min()
}

/// What is in the tank by its logbook ends a phase: turned over early or late, the plan and what is due move with it, a turn that
/// is overdue stays so from day to day, and one that was done is not asked again.
#[test]
fn the_plan_follows_what_is_in_the_tank() {
    let mut random = Random(3);
    let mut within = |from: i32, to: i32| from + i32::try_from(random.below(usize::try_from(to - from).unwrap())).unwrap();
    for _ in 0..6 {
        let [growth, push, hold, back] = [within(14, 30), within(10, 22), within(3, 9), 60];
        let bench = turning(14, [growth, push, hold, back]);
        let pushed = growth + within(-6, 30);
        let turned = pushed + push + hold + within(-12, 20);
        let events = [(0, filled("growth", 90.0)), (pushed, filled("push", 36.0)), (turned, filled("growth", 90.0))];
        for on in 0..turned + 20 {
            let (plan, today) = looked_at(&bench, &events, on, 20);
            let context = format!("{growth} {push} {hold}, pushed {pushed}, turned {turned}, day {on}");
            // the day on which the next turn is due: never moved by a day on which it was not done
            let next = if on < pushed {
                Some(growth)
            } else if on < turned {
                Some(pushed + push + hold)
            } else {
                None
            };
            assert_eq!(asked(&today, DueKind::Switch, DueBy::Plan), next.map(|next| next - on), "{context}");
            let begins =
                |name: &str| plan.tanks[0].phases.iter().find(|phase| phase.phase == name).map(|phase| phase.days.from);
            let push_from = if on < pushed { growth.max(on) } else { pushed };
            let back_from = if on < turned { (push_from + push + hold).max(on) } else { turned };
            assert_eq!((begins("push"), begins("back")), (Some(day(push_from)), Some(day(back_from))), "{context}");
            for pair in plan.tanks[0].phases.windows(2) {
                assert_eq!(pair[0].days.to.plus(1), pair[1].days.from, "{context}");
            }
        }
    }
}

/// What is needed is needed from now on: with every tank that is filled as planned it grows less by what went into that tank; and
/// the first fresh tank of the plan is the one that `today` asks for.
#[test]
fn what_is_in_the_tank_is_not_bought_again() {
    let bench = turning(10, [25, 14, 7, 30]);
    let mut events: Vec<(i32, Event)> = Vec::new();
    let grams = |plan: &CycleRecord| plan.salts.iter().map(|salt| salt.needed_g).sum::<f64>();
    let mut filled_up = 0;
    // what is due after the last day of the plan is none of it
    for on in 0..66 {
        let (plan, today) = looked_at(&bench, &events, on, 12);
        let fills = &plan.tanks[0].fills;
        let of = |mix: usize| plan.mixes[mix].doses.iter().filter_map(jobs::Dose::grams).sum::<f64>();
        let all: f64 = fills.iter().map(|fill| of(fill.mix)).sum();
        assert!((grams(&plan) - all).abs() < 1e-9, "day {on}: {} g, and the fresh tanks take {all} g", grams(&plan));
        assert!(fills.iter().all(|fill| fill.date >= day(on)), "day {on}: {fills:?}");
        let due = |what| asked(&today, what, DueBy::Plan);
        let soonest = [DueKind::Fill, DueKind::Switch, DueKind::Renew].into_iter().filter_map(due).min();
        assert_eq!(soonest, fills.first().map(|fill| fill.date.days_since(day(on))), "day {on}: {:?}", today.tanks[0].due);
        if let Some(fill) = fills.first().filter(|fill| fill.date == day(on)) {
            events.push((on, filled(&fill.formula, if fill.formula == "push" { 36.0 } else { 90.0 })));
            filled_up += 1;
            let (after, _) = looked_at(&bench, &events, on, 20);
            let less = grams(&plan) - grams(&after);
            assert!((less - of(fill.mix)).abs() < 1e-9, "day {on}: {less} g less, and {} g went in", of(fill.mix));
        }
    }
    assert!(filled_up >= 6, "{filled_up} fresh tanks");
}

/// A turn back that is the job of today is not told as due later as well, by the days for which a formula may be fed.
#[test]
fn what_is_turned_back_today_is_not_due_again() {
    let bench = turning(14, [20, 10, 3, 40]);
    let pushed = |held: f64| match filled("push", 36.0) {
        Event::Filled { volume_l, held_back_l, formula, salts_g, bottles_ml, ppm, .. } => {
            Event::Filled { volume_l, held_back_l, formula, hold_at_most_days: Some(held), salts_g, bottles_ml, ppm }
        }
        other => other,
    };
    let (mut later, mut now) = (0, 0);
    for held in [12.0, 15.0, 28.0] {
        let events = [(0, filled("growth", 90.0)), (20, pushed(held))];
        for on in 21..40 {
            let (_, today) = looked_at(&bench, &events, on, 20);
            let back = |by| asked(&today, DueKind::Switch, by);
            let by_days = back(DueBy::HoldAtMost);
            let turned = back(DueBy::Plan).is_some_and(|left| left <= 0);
            assert!(!turned || by_days.is_none_or(|left| left <= 0), "{held} days, day {on}: {:?}", today.tanks[0].due);
            assert!(turned || by_days.is_some(), "{held} days, day {on}");
            later += usize::from(by_days.is_some_and(|left| left > 0));
            now += usize::from(turned);
        }
    }
    assert!(later > 10 && now > 6, "{later} told for later, {now} turned");
}

/// The plan and the page of a day reckon when a tank runs down as one.
#[test]
fn the_plan_and_the_day_run_down_together() {
    let mut sooner = 0;
    for (uptake, renew) in [(0.05, 30), (0.2, 30), (0.3, 30), (0.4, 12), (0.5, 40)] {
        let bench = turning(renew, [60, 14, 7, 30]);
        let events = [(0, filled("growth", 90.0)), (0, read(ec(&salt(90.0)))), (7, after(90.0, uptake))];
        for on in 7..30 {
            let (plan, today) = looked_at(&bench, &events, on, 20);
            let due = [DueBy::Plan, DueBy::Forecast].map(|by| asked(&today, DueKind::Renew, by));
            sooner += usize::from(due[1] < due[0] && due[1].is_some());
            let soonest = due.into_iter().flatten().min().expect("renewed");
            assert_eq!(plan.tanks[0].fills[0].date, day(on + soonest.max(0)), "{uptake} {renew}, day {on}: {due:?}");
        }
    }
    assert!(sooner > 30, "{sooner} by the logbook");
}

/// A filling goes on to tell its pace once a switch has ended it, whatever share of it was let out.
#[test]
fn a_switch_takes_nothing_from_what_was_learnt() {
    let before = planned(&bench(200, "", ""), &week(0.6), "2028-12-20");
    let pace = renewal(&before, 0, "growth").logbook_days;
    assert!(pace.is_some());
    for drained_l in [10.0, 34.0, 50.0, 58.0] {
        let turned = Event::Done {
            formula: Some("push".to_owned()),
            hold_at_most_days: None,
            level_before_l: None,
            drained_l,
            filled_l: drained_l,
            water_ppm: Amounts::new(),
            salts_g: Amounts::new(),
            bottles_ml: Amounts::new(),
            mg: Amounts::new(),
        };
        let mut events = week(0.6).to_vec();
        events.push(("2028-03-04T19:00:00+01:00", turned));
        let left = taken(&salt(90.0), 0.6);
        let then = ec(&left.scaled(1.0 - drained_l / 60.0));
        for more in [0, 1, 2] {
            if more > 0 {
                events.push((
                    ["2028-03-04T20:00:00+01:00", "2028-03-11T20:00:00+01:00"][more - 1],
                    read(then * [1.0, 0.8][more - 1]),
                ));
            }
            let after = planned(&bench(200, "", ""), &events, "2028-12-20");
            assert_eq!(renewal(&after, 0, "growth").logbook_days, pace, "{drained_l} L let out, {more} readings after");
            let push = renewal(&after, 0, "push").learnt.clone().expect("of one or the other");
            let own = if more == 2 { "push" } else { "growth" };
            assert_eq!(push.formula.as_deref(), Some(own), "{drained_l} L let out, {more} readings after");
        }
    }
}
