//! A tank turned over: against an independent solver, against own arithmetic, and as growers type it.
#![allow(clippy::disallowed_methods, reason = "reads the examples and writes recipes into a folder of its own")]

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::cli::{Console, run};
use bloomsalt::jobs::{self, Holding, MixOptions, SwitchOption, SwitchOptions, SwitchRecord};
use bloomsalt::matter::{Nutrient, Nutrients};
use bloomsalt::quantity::{Volume, liter, milliliter};
use serde_json::Value;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/streptocarpus.toml");
const DIARY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/streptocarpus-diary.jsonl");

fn demo() -> Bench {
    Bench::parse(&std::fs::read_to_string(DEMO).expect("the demo bench"), "streptocarpus.toml").expect("valid")
}

fn ppm(object: &Value) -> Nutrients {
    let mut read = Nutrients::default();
    for (key, value) in object.as_object().expect("an object") {
        read[Nutrient::parse(key).expect("a nutrient")] = value.as_f64().expect("a number");
    }
    read
}

fn turn(bench: &Bench, formula: &str, holding: &Holding, how: &SwitchOptions) -> SwitchRecord {
    jobs::switch(bench, formula, holding, how, &MixOptions::default()).expect("possible")
}

fn of_kind<'r>(record: &'r SwitchRecord, kind: &str) -> Option<&'r SwitchOption> {
    record.options.iter().find(|option| option.kind == kind)
}

/// A recorded case as a bench file.
fn bench_text(case: &Value) -> String {
    let number = |value: &Value| value.as_f64().expect("a number");
    let total = number(&case["full_l"]) + number(&case["held_back_l"]);
    let mut text = format!("[tank]\nvolume = \"{} L\"\n[water]\n", case["full_l"]);
    for (key, value) in case["water"].as_object().expect("water").iter().filter(|(key, _)| *key != "N") {
        let _ = writeln!(text, "{key} = {value}");
    }
    text.push_str("[[scale]]\nreadability = \"0.001 g\"\n[shelf]\n");
    for salt in case["salts"].as_array().expect("salts") {
        let on_hand = salt["upper_g_per_l"].as_f64().map_or_else(String::new, |g| format!(" on_hand = \"{:.12} g\" ", g * total));
        let _ = writeln!(text, "{} = {{{on_hand}}}", salt["id"].as_str().expect("an id"));
    }
    text.push_str("[formula.asked]\n");
    for wish in case["wishes"].as_array().expect("wishes") {
        let mut keys: Vec<String> = ["target", "min", "max"]
            .into_iter()
            .filter(|key| !wish[key].is_null())
            .map(|key| format!("{key} = {:.9}", number(&wish[key])))
            .collect();
        if !wish["target"].is_null() {
            keys.push(format!("weight = {}", wish["weight"]));
        }
        let _ = writeln!(text, "{} = {{ {} }}", wish["nutrient"].as_str().expect("a name"), keys.join(", "));
    }
    for key in ["min", "max"] {
        if let Some(share) = case["ammonium_share"][key].as_f64() {
            let _ = writeln!(text, "ammonium_share.{key} = {share}");
        }
    }
    text
}

/// Model against model: one linear program with the drain as a variable, solved by HiGHS, against the program's own search.
///
/// Misfits to 1e-6 relative and absolute. The drain to 1e-3 of what can be drained where the minimum is sharp; where holding the
/// misfit ten or a hundred times looser moves the recorded drain, as much again is allowed: the minimum is flat there.
#[test]
fn recorded_switches_are_reached() {
    let recorded: Value = serde_json::from_str(include_str!("oracle/switches.json")).expect("valid JSON");
    let cases = recorded["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), 200);
    let mut wrong = Vec::new();
    let (mut worst_misfit, mut worst_drain, mut worst_waste, mut drained) = (0.0_f64, 0.0_f64, 0.0_f64, 0);
    for case in cases {
        let id = &case["id"];
        let number = |key: &str| case[key].as_f64().expect("a number");
        let bench = Bench::parse(&bench_text(case), "case.toml").unwrap_or_else(|error| panic!("case {id}: {error}"));
        let holding = Holding::of_analysis(&bench, &ppm(&case["present"]), "recorded");
        let how = SwitchOptions {
            level: Some(liter(number("level_l"))),
            held_back: Some(liter(number("held_back_l"))),
            ..SwitchOptions::default()
        };
        let told = match jobs::switch(&bench, "asked", &holding, &how, &MixOptions::default()) {
            Ok(told) => told,
            Err(_) if case["feasible"] == false => continue,
            Err(error) => {
                wrong.push(format!("case {id}: {error}"));
                continue;
            }
        };
        if case["feasible"] == false {
            wrong.push(format!("case {id}: found, but recorded as infeasible"));
            continue;
        }
        let best = of_kind(&told, "best fit").expect("told");
        let least = of_kind(&told, "least waste").unwrap_or(best);
        let (misfit, level) = (number("misfit"), number("level_l"));
        let off = (best.misfit_exact.expect("possible") - misfit).abs() / (1.0 + misfit);
        let drain = (best.drain_l - number("drain_l")).abs() / level;
        let flat = (number("drain_loose_l") - number("drain_l")).abs() / level;
        let waste = (least.drain_l - number("least_waste_l")).abs() / level;
        worst_misfit = worst_misfit.max(off);
        worst_waste = worst_waste.max(waste);
        if flat < 1e-4 {
            worst_drain = worst_drain.max(drain);
        }
        drained += u32::from(number("drain_l") > 1e-6);
        if off > 1e-6 || drain > 1e-3 + flat || waste > 1e-3 {
            wrong.push(format!(
                "case {id}: misfit {:?} against {misfit}, drain {} against {} ({flat:.1e} flat), least waste {} against {}",
                best.misfit_exact, best.drain_l, case["drain_l"], least.drain_l, case["least_waste_l"]
            ));
        }
    }
    println!("worst: misfit {worst_misfit:.1e}, drain {worst_drain:.1e}, least waste {worst_waste:.1e} of the level; {drained} drain");
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), cases.len(), wrong.join("\n"));
    assert!(drained > 50, "{drained} cases drain something");
}
