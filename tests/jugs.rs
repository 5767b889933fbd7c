//! Jugs and cylinders: which instrument measures a liquid, against a choice of our own from the numbers of the bench file.
#![allow(clippy::disallowed_methods, reason = "writes a bench file in a folder of its own")]
#![allow(clippy::float_cmp, reason = "counts of fillings are whole")]

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, MixOptions};
use serde_json::{Value, json};

use crate::program::done;
use crate::random::Random;
use crate::random::benches::{bench, inside};
use crate::random::judge::Judge;

/// An instrument for liquids as the file states it, mL.
#[derive(Clone)]
struct Drawn {
    id: Option<String>,
    step: f64,
    trust: f64,
    capacity: f64,
}

impl Drawn {
    fn smallest(&self) -> f64 {
        (1.0 / self.trust - 1e-9).ceil() * self.step
    }

    fn fillings(&self, ml: f64) -> f64 {
        (ml / self.capacity - 1e-6).ceil().max(1.0)
    }
}

/// A syringe and one to three jugs that may stand beside it.
fn instruments(random: &mut Random) -> Vec<Drawn> {
    let step = [0.1, 0.2, 0.5, 1.0][random.below(4)];
    let mut all = vec![Drawn { id: None, step, trust: 0.05, capacity: step * (20.0 + random.between(0.0, 200.0)).round() }];
    for at in 0..=random.below(3) {
        let trust = [0.05, 0.1, 0.2, 0.02][random.below(4)];
        let step = [1.0, 2.0, 5.0, 10.0, 25.0, 100.0][random.below(6)];
        let jug = Drawn { id: Some(format!("jug {at}")), step, trust, capacity: f64::NAN };
        let capacity = (jug.smallest() * inside(random, 1.0, 40.0)).ceil().min(1e5);
        let jug = Drawn { capacity, ..jug };
        if jug.smallest() >= all[0].smallest() && capacity >= jug.smallest() {
            all.push(jug);
        }
    }
    all
}

/// The random bench of a number with these for its syringe and jugs.
fn text(seed: u64, all: &[Drawn]) -> String {
    let drawn = bench(seed).text;
    let mut file = String::new();
    let mut of_syringe = false;
    for line in drawn.lines() {
        of_syringe = if line.starts_with('[') { line == "[syringe]" } else { of_syringe };
        if !of_syringe {
            let _ = writeln!(file, "{line}");
        }
    }
    for one in all {
        let _ = match &one.id {
            None => writeln!(file, "[syringe]"),
            Some(id) => writeln!(file, "[[jug]]\nid = \"{id}\""),
        };
        let _ = writeln!(file, "step = \"{} mL\"\ntrust = {}\ncapacity = \"{} mL\"", one.step, one.trust, one.capacity);
    }
    file
}

/// What is wrong with the instrument that is named for a volume.
fn wrong(all: &[Drawn], what: &Value, ml: f64) -> Vec<String> {
    let Some(named) = all.iter().find(|one| one.id.as_deref() == what["jug"].as_str()) else {
        return vec![format!("{}: no such jug", what["jug"])];
    };
    let mut wrong = Vec::new();
    if what.get("measure").is_some() && what["portions"].as_f64().unwrap_or(1.0) != named.fillings(ml) {
        wrong.push(format!("{ml} mL are told in {} parts, they are {}", what["portions"], named.fillings(ml)));
    }
    if ((ml / named.step).round() * named.step - ml).abs() > 1e-6 {
        wrong.push(format!("{ml} mL are no whole steps of {}", named.step));
    }
    let trusted = || all.iter().filter(|one| ml >= one.smallest() * (1.0 - 1e-9));
    if !trusted().any(|one| one.id == named.id) {
        wrong.push(format!("{ml} mL are under the {} that {:?} is trusted with", named.smallest(), named.id));
    }
    let fewest = trusted().map(|one| one.fillings(ml)).fold(f64::INFINITY, f64::min);
    if named.fillings(ml) != fewest {
        wrong.push(format!("{ml} mL in {} fillings of {:?}, {fewest} would do", named.fillings(ml), named.id));
    }
    let finest = trusted().filter(|one| one.fillings(ml) == 1.0).map(|one| one.step).fold(f64::INFINITY, f64::min);
    if fewest == 1.0 && named.step > finest {
        wrong.push(format!("{ml} mL by steps of {}, {finest} holds them too", named.step));
    }
    wrong
}

/// Every dose and every ingredient that is drawn up, with its volume.
fn drawn(mix: &Value) -> Vec<(&Value, f64)> {
    let list = |value: &'_ Value| value.as_array().expect("a list").len();
    let doses = (0..list(&mix["doses"])).map(|at| &mix["doses"][at]).filter(|dose| !dose["measure"].is_null());
    let new = (0..list(&mix["helpers"])).map(|at| &mix["helpers"][at]).filter(|helper| helper["new"] == true);
    let made_of = new.flat_map(|helper| (0..list(&helper["made_of"])).map(move |at| &helper["made_of"][at]));
    doses.chain(made_of).filter_map(|what| Some((what, what["millilitres"].as_f64()?))).collect()
}

#[test]
fn what_measures_a_liquid_takes_the_fewest_fillings_and_then_the_finest_step() {
    let (mut by_jug, mut by_syringe, mut several) = (0, 0, 0);
    for seed in 0..400 {
        let random = &mut Random(seed ^ 0x0001_60C5);
        let all = instruments(random);
        let text = text(seed, &all);
        let bench = Bench::parse(&text, "random").unwrap_or_else(|error| panic!("{error}\n{text}"));
        let Ok(mix) = jobs::mix(&bench, "growth", &MixOptions::default()) else { continue };
        let mix = serde_json::to_value(&mix).expect("JSON");
        for (what, ml) in drawn(&mix) {
            let found = wrong(&all, what, ml);
            assert!(found.is_empty(), "bench {seed}, {what}: {found:?}\n{text}");
            by_jug += usize::from(!what["jug"].is_null());
            by_syringe += usize::from(what["jug"].is_null());
            several += usize::from(what["portions"].as_u64().is_some());
        }
        for weighed in mix["doses"].as_array().expect("a list").iter().filter(|dose| dose["measure"] == "scale") {
            assert!(weighed["jug"].is_null(), "bench {seed}: {weighed}");
        }
        let judged = Judge { bench: &bench }.tank(&mix, true);
        assert!(judged.is_empty(), "bench {seed}: {judged:?}\n{text}");
    }
    assert!(by_jug > 30 && by_syringe > 30 && several > 5, "{by_jug} by jug, {by_syringe} by syringe, {several} in parts");
}

/// A bottle of which 540 mL go in, nine fillings of the syringe.
const BENCH: &str = r#"
name = "Streptocarpus flood bench"
[tank]
volume = "60 L"
[syringe]
step = "0.5 mL"
capacity = "60 mL"
[shelf]
potassium-nitrate = { on_hand = "0 g" }
[[helper]]
id = "nitrate"
volume = "1 L"
made_of = { potassium-nitrate = "30 g" }
[formula.growth]
K = 104.4
"#;

#[test]
fn nine_syringes_are_one_jug() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("bench.toml");
    let run = |jugs: &str, more: &[&str]| {
        std::fs::write(&path, format!("{BENCH}{jugs}")).expect("written");
        done(&[&["mix", "growth", "--bench", path.to_str().expect("UTF-8")], more].concat())
    };
    let dose = |jugs: &str| {
        let mix: Value = serde_json::from_str(&run(jugs, &["--json"])).expect("JSON");
        let dose =
            &mix["doses"].as_array().expect("a list").iter().find(|dose| dose["helper"] == "nitrate").expect("it").clone();
        json!([dose["measure"], dose["jug"], dose["millilitres"], dose["portions"]])
    };
    let jug = "[[jug]]\nid = \"litre jug\"\nstep = \"10 mL\"\ncapacity = \"1 L\"\n";
    let cylinder = "[[jug]]\nid = \"cylinder\"\nstep = \"5 mL\"\ncapacity = \"600 mL\"\n";
    let small = "[[jug]]\nid = \"cylinder\"\nstep = \"1 mL\"\ncapacity = \"100 mL\"\n";
    // K of potassium nitrate: 39.0983 / 101.102 (IUPAC 2021, from memory), 104.4 ppm in 60 L are 16.2 g of it
    assert_eq!(dose(""), json!(["helper", null, 540.0, 9]));
    assert_eq!(dose(jug), json!(["helper", "litre jug", 540.0, null]));
    assert_eq!(dose(&format!("{jug}{cylinder}")), json!(["helper", "cylinder", 540.0, null]));
    assert_eq!(dose(small), json!(["helper", "cylinder", 540.0, 6]));
    assert!(run(jug, &[]).contains("540.0 mL  bottle nitrate  litre jug"), "{}", run(jug, &[]));
    assert!(run("", &[]).contains("540.0 mL  bottle nitrate  syringe"), "{}", run("", &[]));
}

#[test]
fn a_jug_no_dose_is_large_enough_for_changes_nothing() {
    let jug = "[[jug]]\nid = \"bucket\"\nstep = \"100 mL\"\ncapacity = \"10 L\"\n";
    let mut same = 0;
    for seed in 0..120 {
        let syringe = [Drawn { id: None, step: 0.5, trust: 0.05, capacity: 60.0 }];
        let text = text(seed, &syringe);
        let of = |text: &str| {
            let bench = Bench::parse(text, "random").unwrap_or_else(|error| panic!("{error}\n{text}"));
            jobs::mix(&bench, "growth", &MixOptions::default()).ok().map(|mix| serde_json::to_value(&mix).expect("JSON"))
        };
        let Some(without) = of(&text) else { continue };
        // a dose may be no more than the tank, and this jug is trusted from 2 L
        if !drawn(&without).is_empty() && without["volume_l"].as_f64() < Some(1.9) {
            assert_eq!(of(&format!("{text}{jug}")), Some(without), "bench {seed}");
            same += 1;
        }
    }
    assert!(same > 5, "{same} benches with something drawn up");
}
