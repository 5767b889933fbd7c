//! What a bottle or a shelf holds too little of: it is told, and no more is taken off than went.
#![allow(clippy::disallowed_methods, reason = "reads and writes the files of a bench")]

use std::collections::BTreeMap;

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs::{self, MixRecord, StockOptions, TodayAsked};
use bloomsalt::logbook::{Amounts, Event, Logbook, Moment, Patterns};
use bloomsalt::quantity::{celsius, liter, milliliter};
use bloomsalt::safety::{Code, Severity};
use serde_json::Value;

use crate::program::{bloomsalt, done};
use crate::random::Random;

/// The first bottle that a tank takes more of than one holds.
fn more_than_one(mix: &MixRecord) -> Option<&str> {
    let over = mix.helpers.iter().find(|helper| helper.dose_ml.is_some_and(|ml| ml > helper.volume_ml * (1.0 + 1e-9)));
    over.map(|helper| helper.id.as_str())
}

fn says_short(mix: &MixRecord) -> Option<&str> {
    let found = mix.findings.iter().find(|finding| finding.code == Code::ShelfRunsShort);
    found.map(|finding| {
        assert_eq!(finding.severity, Severity::Warning);
        finding.message.as_str()
    })
}

/// Tanks of one litre to a cubic metre: where one bottle is not enough for the dose, and only there, it is said with how far it goes.
#[test]
fn a_stock_bottle_smaller_than_its_dose() {
    let (mut short, mut enough) = (0, 0);
    for seed in 0..60 {
        let mut random = Random(seed);
        let litres = [10.0, 60.0, 99.0, 100.0, 101.0, 300.0, 1000.0][random.below(7)];
        let bench = Bench::starter().with_tank(liter(litres));
        let how = StockOptions {
            strength: [50.0, 100.0, 200.0][random.below(3)],
            bottle: liter([0.5, 1.0, 5.0][random.below(3)]),
            coldest: celsius(10.0),
            dose_for: random.chance(0.3).then(|| "push".to_owned()),
        };
        let stock = jobs::stock(&bench, "growth", &how).expect("bottles");
        let beside = stock.with_salts.iter().map(|made| &made.tank);
        for mix in [&stock.tank].into_iter().chain(&stock.dose_for).chain(beside) {
            let (over, said) = (more_than_one(mix), says_short(mix));
            assert_eq!(over.is_some(), said.is_some(), "seed {seed}: {litres} L, {how:?}: {said:?}");
            if let (Some(over), Some(said)) = (over, said) {
                assert!(said.contains(over), "{said}");
                let least = mix.helpers.iter().filter_map(|helper| Some(helper.volume_ml / helper.dose_ml?));
                let does_for = litres * least.fold(f64::INFINITY, f64::min);
                let told = said.rsplit("does for ").next().and_then(|rest| rest.strip_suffix(" L."));
                let told: f64 = told.expect("how far it goes").parse().expect("a number");
                assert!(told <= does_for + 1e-6 && told > does_for - 0.11, "{said}: {does_for}");
            }
            short += usize::from(over.is_some());
            enough += usize::from(over.is_none());
        }
    }
    assert!(short > 20 && enough > 20, "{short} {enough}");
    let text = done(&["stock", "growth", "--tank", "300 L"]);
    assert!(text.contains("3000 mL  syringe, 50 parts, 3 bottles"), "{text}");
}

const BORON: &str = "[[helper]]\nid = \"boron\"\nvolume = \"1 L\"\nmade_of = { boric-acid = \"3.5 g\" }\n";

/// A bench with the boron in a bottle.
fn bottled(more: &str) -> String {
    format!("{}\n{BORON}{more}\n", STARTER.replace("boric-acid = {}\n", ""))
}

fn written(folder: &tempfile::TempDir, name: &str, text: &str) -> String {
    let path = folder.path().join(name);
    std::fs::write(&path, text).expect("written");
    path.display().to_string()
}

/// A recipe for a larger tank takes what is left in a bottle, or on the shelf, and says that it is all.
#[test]
fn a_recipe_scaled_beyond_what_is_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let own = |name: &str| folder.path().join(name).display().to_string();
    let full = written(&folder, "full.toml", &bottled(""));
    let recipe = own("growth.json");
    done(&["mix", "growth", "--bench", &full, "--save", &recipe]);
    let low = written(&folder, "low.toml", &bottled("left = \"30 mL\""));
    let salt = bottled("").replace("\npotassium-nitrate = {}", "\npotassium-nitrate = { on_hand = \"20 g\" }");
    let salt = written(&folder, "salt.toml", &salt);
    for (bench, says) in [(&full, None), (&low, Some("boron: all 30.0 mL left")), (&salt, Some("potassium nitrate: all 20"))]
    {
        let scaled: Value = serde_json::from_str(&done(&["scale", &recipe, "--to", "120 L", "--bench", bench, "--json"]))
            .expect("a document");
        let findings = scaled["findings"].as_array().expect("findings");
        let short: Vec<&Value> = findings.iter().filter(|finding| finding["code"] == "shelf-runs-short").collect();
        assert_eq!(short.len(), usize::from(says.is_some()), "{bench}: {short:?}");
        for (one, says) in short.iter().zip(says) {
            assert!(one["message"].as_str().expect("words").starts_with(says), "{one}");
        }
    }
}

fn noon(day: usize) -> Moment {
    Moment::parse(&format!("2026-10-{day:02} 12:00+02:00")).expect("a moment")
}

/// A pH is corrected with so much as is on the shelf, or told as what is not there in full.
#[test]
fn a_correction_larger_than_what_is_on_hand() {
    let corrected = |on_hand: &str| {
        let text = STARTER.replacen("[shelf]", &format!("[shelf]\npotassium-bicarbonate = {{{on_hand}}}\n"), 1);
        let bench = Bench::parse(&text, "bench.toml").unwrap_or_else(|error| panic!("{error}\n{text}"));
        let ppm = [("NO3-N", 90.0), ("P", 18.0), ("K", 100.0), ("Ca", 75.0), ("Mg", 22.0), ("S", 29.0)];
        let ppm = ppm.iter().map(|(symbol, ppm)| ((*symbol).to_owned(), *ppm)).collect();
        let filled = Event::Filled {
            volume_l: 60.0,
            held_back_l: 0.0,
            formula: Some("growth".to_owned()),
            hold_at_most_days: None,
            salts_g: Amounts::new(),
            bottles_ml: Amounts::new(),
            ppm,
        };
        let empty = Logbook::parse(b"", &[]).expect("empty");
        let mut text = empty.append(noon(3), filled).expect("an entry");
        let read = Event::Reading { ec_ms_cm: None, ph: Some(4.6), temperature_c: None, level_l: None };
        text += &Logbook::parse(text.as_bytes(), &[]).expect("a logbook").append(noon(6), read).expect("an entry");
        let logbook = Logbook::parse(text.as_bytes(), &[]).expect("a logbook");
        let patterns = Patterns::standard();
        let asked = TodayAsked { logbooks: &[&logbook], at: noon(6), patterns: &patterns, begin: None, with_recipe: false };
        let today = jobs::today(&bench, &asked).expect("a day");
        today.tanks[0].ph.clone().and_then(|ph| ph.correction).expect("a correction")
    };
    let there = corrected("");
    assert!(there.on_shelf && !there.acid && there.grams > 0.1, "{there:?}");
    assert!(corrected(&format!(" on_hand = \"{} g\" ", there.grams * 1.01)).on_shelf);
    for part in [0.9, 0.0] {
        assert!(!corrected(&format!(" on_hand = \"{} g\" ", there.grams * part)).on_shelf, "{part}");
    }
}

/// What is poured from a bottle by hand is booked by what it holds, as a recipe books it, and is gone from the bottle; more than is
/// left in it is asked back.
#[test]
fn a_bottle_poured_by_hand() {
    let folder = tempfile::tempdir().expect("a folder");
    let own = |name: &str| folder.path().join(name).display().to_string();
    let bench = written(&folder, "bench.toml", &bottled("made_on = 2027-01-03"));
    let (recipe, told, by_hand) = (own("growth.json"), own("told.jsonl"), own("by-hand.jsonl"));
    done(&["mix", "growth", "--bench", &bench, "--save", &recipe]);
    let mix: Value = serde_json::from_str(&std::fs::read_to_string(&recipe).expect("a recipe")).expect("JSON");
    let doses = mix["doses"].as_array().expect("doses").iter().map(|dose| match dose["helper"].as_str() {
        Some(bottle) => format!("{bottle}={}mL", dose["millilitres"]),
        None => format!("{}={}g", dose["salt"].as_str().expect("a salt"), dose["grams"]),
    });
    let doses: Vec<String> = doses.collect();
    let add = |logbook: &str, at: &str, event: &[&str]| {
        let options = ["logbook", "add", logbook, "--at", at, "--bench", &bench];
        bloomsalt(&[&options, event].concat())
    };
    let at = "2027-01-04 18:00+01:00";
    assert_eq!(add(&told, at, &["from", &recipe]).0, 0);
    let typed: Vec<&str> = doses.iter().map(String::as_str).collect();
    let (status, _, err) = add(&by_hand, at, &[&["filled", "--volume", "60 L", "--formula", "growth"], &typed[..]].concat());
    assert_eq!(status, 0, "{err}");
    let entries = |path: &str| -> Vec<Value> {
        let text = std::fs::read_to_string(path).expect("a logbook");
        text.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect()
    };
    let (one, other) = (entries(&told).remove(0), entries(&by_hand).remove(0));
    for key in ["salts_g", "bottles_ml", "ppm"] {
        let (one, other) = (one[key].as_object().expect("amounts"), other[key].as_object().expect("amounts"));
        assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>(), "{key}");
        for (id, amount) in one {
            let (amount, by_hand) = (amount.as_f64().expect("a number"), other[id].as_f64().expect("a number"));
            assert!((amount - by_hand).abs() <= 1e-7 * amount, "{key} {id}: {amount} {by_hand}");
        }
    }
    // a cup more of it, days later: its boron alone, 3.5 g of boric acid in a litre, 17.48 % B by its formula
    let (status, out, err) = add(&by_hand, "2027-01-06 18:00+01:00", &["added", "boron=10mL"]);
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("10.0 mL of boron"), "{out}");
    let added = entries(&by_hand).pop().expect("an entry");
    assert!((added["mg"]["B"].as_f64().expect("mg") - 35.0 * 0.1748).abs() < 0.01, "{added}");
    let logbook = Logbook::parse(&std::fs::read(&by_hand).expect("a logbook"), &[]).expect("it reads");
    let poured: f64 = entries(&by_hand).iter().map(|entry| entry["bottles_ml"]["boron"].as_f64().expect("mL")).sum();
    let text = std::fs::read_to_string(&bench).expect("a bench");
    let of = Bench::parse(&text, "bench.toml").expect("a bench");
    let left = jobs::drawn_down(&of, &[&logbook], Moment::parse("2027-01-07 09:00+01:00").expect("a moment"));
    assert!((milliliter(left.helpers[0].left.expect("drawn from")) - (1000.0 - poured)).abs() < 1e-6);
    // 1.1 times what is left, and a slip in its name
    let more = format!("boron={}mL", (1000.0 - poured) * 1.1);
    let (status, _, err) = add(&by_hand, "2027-01-08 18:00+01:00", &["added", &more]);
    let err = err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(status, 2);
    assert!(err.contains("mL of bottle boron, of which") && err.contains("--yes"), "{err}");
    let (status, _, err) = add(&by_hand, "2027-01-08 18:00+01:00", &["added", "borom=10mL"]);
    assert!(status == 2 && err.contains("did you mean `boron`?"), "{err}");
}

/// A bottle of 4 g of boric acid in a litre: the day on which it was made, or looked at, and what of the first bottle is in it.
#[derive(Debug)]
struct Made {
    on: Option<usize>,
    seen: Option<usize>,
    of_first_ml: f64,
}

impl Made {
    fn random(random: &mut Random, is_first: bool) -> Self {
        let on = random.chance(0.6).then(|| 1 + random.below(28));
        let seen = (on.is_none() && random.chance(0.5)).then(|| 1 + random.below(28));
        Self { on, seen, of_first_ml: if !is_first && random.chance(0.6) { 100.0 } else { 0.0 } }
    }

    fn entry(&self, id: &str) -> String {
        let first = if self.of_first_ml > 0.0 { ", bottle-0 = \"100 mL\"" } else { "" };
        let made = self.on.map_or_else(String::new, |day| format!("made_on = 2026-10-{day:02}\n"));
        let seen = self.seen.map_or_else(String::new, |day| format!("left = \"900 mL\"\ncounted_on = 2026-10-{day:02}\n"));
        format!("\n[[helper]]\nid = \"{id}\"\nvolume = \"1 L\"\nmade_of = {{ boric-acid = \"4 g\"{first} }}\n{made}{seen}")
    }

    /// True where it is no part of what is counted on a day, or was taken from it before it is poured on another.
    fn stood(&self, counted: Option<usize>, poured: usize) -> bool {
        match self.on {
            Some(made) => made <= poured,
            None => self.seen.zip(counted).is_some_and(|(seen, counted)| seen <= counted),
        }
    }
}

/// The first bottle and one that may be made of it, and the shelf, as a grower's hands know them: what is in them leaves when a bottle
/// is made of it, or when it is poured in.
struct Hands {
    bottles: [Made; 2],
    counted: usize,
    today: usize,
    gone_g: f64,
    gone_ml: f64,
}

impl Hands {
    /// The day from which the first bottle is drawn down.
    fn from(&self) -> Option<usize> {
        self.bottles[0].seen.or(self.bottles[0].on)
    }

    fn make(&mut self) {
        let [first, second] = &self.bottles;
        let made = |bottle: &Made, from: usize| bottle.on.filter(|made| (from..=self.today).contains(made));
        self.gone_g += made(first, self.counted).map_or(0.0, |_| 4.0);
        let of_first = |day: usize| if first.stood(Some(self.counted), day) { 0.0 } else { second.of_first_ml * 0.004 };
        self.gone_g += made(second, self.counted).map_or(0.0, |day| 4.0 + of_first(day));
        self.gone_ml += made(second, self.from().unwrap_or(1)).map_or(0.0, |_| second.of_first_ml);
    }

    /// Some grams, and mL of a bottle, poured in by hand.
    fn pour(&mut self, day: usize, at: usize, ml: f64, weighed: f64) -> Event {
        let [first, second] = &self.bottles;
        // grams, and mL of the first, in a mL
        let of_first = if at == 1 { second.of_first_ml * 1e-3 } else { 0.0 };
        let (own, stood) = (&self.bottles[at], |bottle: &Made| bottle.stood(Some(self.counted), day));
        if (self.counted..=self.today).contains(&day) {
            let from_shelf = if stood(own) { 0.0 } else { 0.004 };
            let by_first = if stood(own) || stood(first) { 0.0 } else { of_first * 0.004 };
            self.gone_g += weighed + ml * (from_shelf + by_first);
        }
        if (self.from().unwrap_or(1)..=self.today).contains(&day) {
            self.gone_ml += match at {
                0 => ml,
                _ if second.stood(self.from(), day) => 0.0,
                _ => ml * of_first,
            };
        }
        let salts_g = BTreeMap::from([("boric-acid".to_owned(), weighed + ml * 0.004 * (1.0 + of_first))]);
        Event::Added { salts_g, bottles_ml: BTreeMap::from([(format!("bottle-{at}"), ml)]), mg: Amounts::new() }
    }
}

#[test]
fn each_gram_leaves_the_shelf_once() {
    let mut moved = 0;
    for seed in 0..400 {
        let mut random = Random(seed);
        let bottles = [Made::random(&mut random, true), Made::random(&mut random, false)];
        let (counted, today) = (1 + random.below(28), 15 + random.below(16));
        let mut hands = Hands { bottles, counted, today, gone_g: 0.0, gone_ml: 0.0 };
        let on_hand = format!("\nboric-acid = {{ on_hand = \"100 g\", counted_on = 2026-10-{counted:02} }}");
        let [first, second] = &hands.bottles;
        let text = STARTER.replace("\nboric-acid = {}", &on_hand) + &first.entry("bottle-0") + &second.entry("bottle-1");
        let full_ml = if first.seen.is_some() { 900.0 } else { 1000.0 };
        let bench = Bench::parse(&text, "bench.toml").unwrap_or_else(|error| panic!("{error}\n{text}"));
        hands.make();
        let made_g = hands.gone_g;
        let mut log = String::new();
        for _ in 0..=random.below(5) {
            let (day, at, ml) = (1 + random.below(30), random.below(2), random.between(10.0, 100.0).round());
            let weighed = if random.chance(0.5) { random.between(0.1, 2.0) } else { 0.0 };
            let event = hands.pour(day, at, ml, weighed);
            log += &Logbook::parse(log.as_bytes(), &[]).expect("a logbook").append(noon(day), event).expect("an entry");
        }
        let logbook = Logbook::parse(log.as_bytes(), &[]).expect("a logbook");
        let left = jobs::drawn_down(&bench, &[&logbook], noon(today));
        let salt = left.catalogue.find("boric-acid").expect("a salt");
        let stock = left.shelf.iter().find(|stock| stock.salt == salt).expect("on the shelf");
        let grams = stock.on_hand.expect("counted").get::<uom::si::mass::gram>();
        let expected = 100.0 - hands.gone_g;
        assert!((grams - expected).abs() < 1e-6, "seed {seed}: {grams} g for {expected}\n{text}\n{log}");
        let (ml, expected) = (left.helpers[0].left.map_or(1000.0, milliliter), full_ml - hands.gone_ml);
        assert!((ml - expected).abs() < 1e-6, "seed {seed}: {ml} mL for {expected}\n{text}\n{log}");
        moved += usize::from(made_g > 0.0 && hands.gone_g > made_g && hands.gone_ml > 0.0);
    }
    assert!(moved > 40, "{moved}");
}
