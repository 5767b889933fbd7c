//! What logbooks say was drawn from a bottle of the bench is no longer in it.
#![allow(clippy::disallowed_methods, reason = "reads and writes the files of a bench")]

use std::collections::BTreeMap;
use std::fmt::Write as _;

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs;
use bloomsalt::logbook::{Event, Logbook, Moment};
use bloomsalt::quantity::milliliter;
use serde_json::Value;

use crate::program::done;
use crate::random::Random;

/// A bottle as the bench has it: days of October 2026.
#[derive(Debug)]
struct Bottle {
    id: String,
    left_ml: Option<f64>,
    made_on: Option<usize>,
    counted_on: Option<usize>,
}

impl Bottle {
    fn random(random: &mut Random, at: usize) -> Self {
        let left_ml = random.chance(0.5).then(|| random.between(0.0, 1000.0).round());
        let counted_on = left_ml.filter(|_| random.chance(0.7)).map(|_| 1 + random.below(28));
        let made_on = random.chance(0.5).then(|| 1 + random.below(28));
        Self { id: format!("bottle-{at}"), left_ml, made_on, counted_on }
    }

    fn entry(&self) -> String {
        let mut text =
            format!("[[helper]]\nid = \"{}\"\nvolume = \"1 L\"\nmade_of = {{ boric-acid = \"3.5 g\" }}\n", self.id);
        for (key, day) in [("made_on", self.made_on), ("counted_on", self.counted_on)] {
            if let Some(day) = day {
                writeln!(text, "{key} = 2026-10-{day:02}").expect("a text");
            }
        }
        if let Some(ml) = self.left_ml {
            writeln!(text, "left = \"{ml} mL\"").expect("a text");
        }
        text
    }

    /// What is left of it, as a grower would go through the entries.
    fn left(&self, draws: &[(usize, String, f64)], today: usize) -> f64 {
        let from = match (self.left_ml, self.counted_on) {
            (Some(left), None) => return left,
            (Some(_), Some(day)) => day,
            (None, _) => self.made_on.unwrap_or(0),
        };
        let counts = |day: usize, id: &str| id == self.id && (from..=today).contains(&day);
        let drawn: f64 = draws.iter().filter(|(day, id, _)| counts(*day, id)).map(|(_, _, ml)| ml).sum();
        (self.left_ml.unwrap_or(1000.0) - drawn).max(0.0)
    }
}

fn noon(day: usize) -> Moment {
    Moment::parse(&format!("2026-10-{day:02} 12:00+02:00")).expect("a moment")
}

/// A fresh tank, a job done whole or what was added by hand, with what was drawn.
fn drew(random: &mut Random, bottles_ml: BTreeMap<String, f64>) -> Event {
    let [salts_g, ppm, mg, water_ppm] = [const { BTreeMap::new() }; 4];
    let (formula, hold_at_most_days) = (None, None);
    if random.chance(0.3) {
        return Event::Added { salts_g, bottles_ml, mg };
    }
    if random.chance(0.5) {
        let (volume_l, held_back_l) = (60.0, 0.0);
        Event::Filled { volume_l, held_back_l, formula, hold_at_most_days, salts_g, bottles_ml, ppm }
    } else {
        let (level_before_l, drained_l, filled_l) = (None, 0.0, 1.0);
        Event::Done { formula, hold_at_most_days, level_before_l, drained_l, filled_l, water_ppm, salts_g, bottles_ml, mg }
    }
}

/// A logbook, what it says was drawn noted beside.
fn logbook(random: &mut Random, draws: &mut Vec<(usize, String, f64)>) -> Logbook {
    let (mut text, mut last) = (String::new(), None);
    for number in 1..=2 * (1 + random.below(6)) as u64 {
        let book = Logbook::parse(text.as_bytes(), &[]).expect("a logbook");
        let day = 1 + random.below(30);
        if let Some(voids) = last.take().filter(|_| random.chance(0.4)) {
            draws.pop();
            text += &book.append(noon(day), Event::Voided { voids, why: None }).expect("a void");
            continue;
        }
        last = Some(number);
        let (id, ml) = (format!("bottle-{}", random.below(4)), random.between(1.0, 300.0).round());
        draws.push((day, id.clone(), ml));
        let event = drew(random, BTreeMap::from([(id, ml)]));
        text += &book.append(noon(day), event).expect("an entry");
    }
    Logbook::parse(text.as_bytes(), &[]).expect("a logbook")
}

/// One or two logbooks, bottles with and without days, entries that are void, bottles that are none of the bench.
#[test]
fn a_bottle_holds_what_it_held_less_what_was_drawn() {
    let mut lowered = 0;
    for seed in 0..200 {
        let mut random = Random(seed);
        let bottles: Vec<Bottle> = (0..3).map(|at| Bottle::random(&mut random, at)).collect();
        let entries: String = bottles.iter().map(Bottle::entry).collect();
        let bench = Bench::parse(&format!("{STARTER}\n{entries}"), "bench.toml").expect("a bench");
        let mut draws: Vec<(usize, String, f64)> = Vec::new();
        let logbooks: Vec<Logbook> = (0..=random.below(2)).map(|_| logbook(&mut random, &mut draws)).collect();
        let today = 1 + random.below(30);
        let all: Vec<&Logbook> = logbooks.iter().collect();
        let left = jobs::drawn_down(&bench, &all, noon(today));
        for (bottle, was) in bottles.iter().zip(&bench.helpers) {
            let is = left.helpers.iter().find(|helper| helper.id == bottle.id).expect("the bottle");
            let of = |helper: &bloomsalt::bench::Helper| milliliter(helper.left.unwrap_or(helper.volume));
            let expected = bottle.left(&draws, today);
            assert!((of(is) - expected).abs() < 1e-9, "seed {seed}: {} for {expected}; {bottle:?} {draws:?}", of(is));
            lowered += usize::from(of(is) < of(was));
        }
    }
    assert!(lowered > 100, "{lowered}");
}

/// From the mix that draws from a bottle to the plan that counts what is left of it. The starter, with a scale too coarse for traces.
#[test]
fn a_mix_that_is_booked_lowers_the_bottle() {
    let own = tempfile::tempdir().expect("a folder");
    let path = |name: &str| own.path().join(name).display().to_string();
    let (bench, recipe, logbook) = (path("bench.toml"), path("growth.json"), path("tank.jsonl"));
    let helper =
        "[[helper]]\nid = \"boron\"\nvolume = \"1 L\"\nmade_of = { boric-acid = \"3.5 g\" }\nmade_on = 2027-01-03\n";
    let plan = "[cycle]\nstart = 2027-01-04\ngrowth = { formula = \"growth\", lasts = \"14 days\" }\n\
                push = { formula = \"push\", lasts = \"21 days\" }\nrenew_every = \"14 days\"\n";
    let text = STARTER.replace("boric-acid = {}\n", "");
    std::fs::write(&bench, format!("{text}\n{helper}\n{plan}")).expect("written");
    let json = |arguments: &[&str]| -> Value { serde_json::from_str(&done(arguments)).expect("JSON") };
    let mix = json(&["mix", "growth", "--bench", &bench, "--save", &recipe, "--json"]);
    let dose = mix["doses"].as_array().expect("doses").iter().find(|dose| dose["helper"] == "boron").expect("drawn from");
    let ml = dose["millilitres"].as_f64().expect("mL");
    let add =
        |at: &str, event: &[&str]| done(&[&["logbook", "add", &logbook, "--at", at, "--bench", &bench], event].concat());
    let told = add("2027-01-04 18:00+01:00", &["from", &recipe]);
    assert!(told.split_whitespace().collect::<Vec<_>>().join(" ").contains("mL of boron"), "{told}");
    let entry: Value = serde_json::from_str(&std::fs::read_to_string(&logbook).expect("a logbook")).expect("one line");
    assert!((entry["bottles_ml"]["boron"].as_f64().expect("mL") - ml).abs() < 1e-6);
    // a dose that was left out draws nothing
    add("2027-01-04 18:01+01:00", &["void", "1"]);
    let left = |at: &str| {
        let cycle = json(&["cycle", "--logbook", &logbook, "--bench", &bench, "--at", at, "--json"]);
        let bottle = cycle["bottles"].as_array().expect("bottles").iter().find(|bottle| bottle["id"] == "boron").cloned();
        bottle.expect("the bottle")["left_ml"].as_f64().expect("mL")
    };
    add("2027-01-04 18:02+01:00", &["from", &recipe, "boron=0mL"]);
    assert!((left("2027-01-04 19:00+01:00") - 1000.0).abs() < 1e-9);
    add("2027-01-04 18:03+01:00", &["void", "3"]);
    add("2027-01-04 18:04+01:00", &["from", &recipe]);
    assert!((left("2027-01-04 19:00+01:00") - (1000.0 - ml)).abs() < 1e-6);
    // and what is in it then caps what a turn takes
    let text = std::fs::read_to_string(&bench).expect("a bench");
    let day = "made_on = 2027-01-03\n";
    let nearly = text.replace(day, &format!("left = \"{} mL\"\ncounted_on = 2027-01-03\n", ml + 5.0));
    std::fs::write(&bench, nearly).expect("written");
    let turned =
        json(&["switch", "growth", "--logbook", &logbook, "--bench", &bench, "--at", "2027-01-20 18:00+01:00", "--json"]);
    let doses = turned["doses"].as_array().expect("doses");
    assert!(doses.iter().all(|dose| dose["helper"] != "boron"), "5 mL are left, under what the syringe can be trusted with");
}

/// A bottle that is drawn from keeps for so many days from the one on which it was made: on the last of them nothing is said, on the
/// next it is told.
#[test]
fn a_bottle_older_than_it_keeps_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("bench.toml").display().to_string();
    for (made_of, days) in
        [("boric-acid = \"3.5 g\"", 180), ("iron-dtpa = \"20 g\"", 90), ("potassium-nitrate = \"50 g\"", 60)]
    {
        let (id, _) = made_of.split_once(' ').expect("an id");
        let bottle =
            format!("[[helper]]\nid = \"made\"\nvolume = \"1 L\"\nmade_of = {{ {made_of} }}\nmade_on = 2026-10-03\n");
        let text = STARTER.replace(&format!("{id} = {{}}"), "");
        let (shelf, text) =
            (text.contains("[shelf]"), text.replace("[formula.growth]", &format!("{bottle}\n[formula.growth]")));
        assert!(shelf);
        std::fs::write(&path, text).expect("written");
        let told = |on: bloomsalt::quantity::Date| {
            let on = on.to_string();
            let turned: Value = serde_json::from_str(&done(&[
                "switch",
                "growth",
                "--holding",
                "push",
                "--drain",
                "40 L",
                "--on",
                &on,
                "--bench",
                &path,
                "--json",
            ]))
            .expect("JSON");
            let bottle = turned["helpers"].as_array().expect("bottles").iter().find(|one| one["id"] == "made").cloned();
            let bottle = bottle.unwrap_or_else(|| panic!("nothing is drawn of {id}"));
            assert_eq!(bottle["keep_days"], days, "{id}");
            let findings = turned["findings"].as_array().expect("findings").clone();
            (
                bottle["keeps_until"].as_str().expect("a day").to_owned(),
                findings.iter().any(|one| one["code"] == "bottle-old"),
            )
        };
        let last = bloomsalt::quantity::Date::parse("2026-10-03").expect("a day").plus(days);
        assert_eq!(told(last), (last.to_string(), false), "{id}");
        assert_eq!(told(last.plus(1)), (last.to_string(), true), "{id}");
    }
}
