//! Drains against an independent solver.

use std::fmt::Write as _;

use serde_json::Value;

use super::Turn;
use crate::bench::Bench;
use crate::jobs::Content;
use crate::matter::{Nutrient, Nutrients};

fn ppm(object: &Value) -> Nutrients {
    let mut read = Nutrients::default();
    for (key, value) in object.as_object().expect("an object") {
        read[Nutrient::parse(key).expect("a nutrient")] = value.as_f64().expect("a number");
    }
    read
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
        let on_hand =
            salt["upper_g_per_l"].as_f64().map_or_else(String::new, |g| format!(" on_hand = \"{:.12} g\" ", g * total));
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

/// Model against model: one linear program with the drain as a variable, solved by HiGHS (`tests/oracle/make_switches.py`).
///
/// Misfits to 1e-6 relative and absolute. Drains to 1e-3 of what can be drained; where holding the misfit a hundred times
/// looser moves the recorded drain, as much again is allowed: the minimum is flat there.
#[test]
fn recorded_switches_are_reached() {
    let recorded: Value = serde_json::from_str(include_str!("../../../tests/oracle/switches.json")).expect("valid JSON");
    let cases = recorded["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), 200);
    let mut wrong = Vec::new();
    let (mut worst_misfit, mut worst_drain, mut worst_waste, mut drained, mut spared) = (0.0_f64, 0.0_f64, 0.0_f64, 0, 0);
    for case in cases {
        let id = &case["id"];
        let number = |key: &str| case[key].as_f64().expect("a number");
        let bench = Bench::parse(&bench_text(case), "case.toml").unwrap_or_else(|error| panic!("case {id}: {error}"));
        let holding = Content::of_analysis(&bench, &ppm(&case["present"]), "recorded");
        let (level, held_back, full) = (number("level_l"), number("held_back_l"), number("full_l"));
        let turn = Turn::full(&bench, "asked", &holding).expect("water").standing_at(level, held_back);
        assert!((turn.full - full).abs() < 1e-9 * full, "case {id}");
        let best = match turn.closest() {
            Ok(best) => best,
            Err(error) => {
                wrong.push(format!("case {id}: {error}"));
                continue;
            }
        };
        let (Some(best), true) = (&best, case["feasible"] == true) else {
            if best.is_some() || case["feasible"] == true {
                wrong.push(format!(
                    "case {id}: {}, but recorded otherwise",
                    if best.is_some() { "found" } else { "refused" }
                ));
            }
            continue;
        };
        let misfit = number("misfit");
        let off = (best.misfit - misfit).abs() / (1.0 + misfit);
        let drain = (best.drain - number("drain_l")).abs() / level;
        let flat = (number("drain_loose_l") - number("drain_l")).abs() / level;
        let least = turn.least_waste(best).unwrap_or_else(|error| panic!("case {id}: {error}"));
        // null where the best fit does not settle what every target comes to
        let waste = case["least_waste_l"].as_f64().map_or(0.0, |recorded| (least - recorded).abs() / level);
        worst_misfit = worst_misfit.max(off);
        worst_waste = worst_waste.max(waste);
        worst_drain = worst_drain.max(if flat < 1e-4 { drain } else { 0.0 });
        drained += u32::from(number("drain_l") > 1e-6);
        spared += u32::from(least < best.drain - 1e-3 * level);
        if off > 1e-6 || drain > 1e-3 + flat || waste > 1e-3 {
            wrong.push(format!(
                "case {id}: misfit {} against {misfit}, drain {} against {} ({flat:.1e} flat), least waste {least} against {}",
                best.misfit, best.drain, case["drain_l"], case["least_waste_l"]
            ));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), cases.len(), wrong.join("\n"));
    assert!(
        worst_misfit < 1e-6 && worst_drain < 1e-5 && worst_waste < 1e-5,
        "worst: misfit {worst_misfit:.1e}, drain {worst_drain:.1e}, least waste {worst_waste:.1e} of the level"
    );
    assert!(drained > 50 && spared > 50, "{drained} cases drain something, {spared} waste less");
}
