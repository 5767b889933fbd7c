//! Two acids, and two waters, brought to a pH: against HiGHS and IPhreeqc, recorded by `tests/oracle/make_sour.py`. What is found is
//! no farther off than what they found, and its pH is that of the full chemistry of others.

#![allow(clippy::print_stdout, reason = "the error figures are printed for the docs")]
#![allow(clippy::disallowed_methods, reason = "reads what was recorded")]

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, MixOptions, MixRecord};
use serde_json::Value;

/// A misfit that is less by more than this is closer.
const CLOSER: f64 = 1e-3;
/// Apart in pH.
const PH: f64 = 0.05;

fn recorded() -> Vec<Value> {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/oracle/sour.json");
    let all: Value = serde_json::from_str(&std::fs::read_to_string(file).expect("recorded")).expect("valid JSON");
    all["cases"].as_array().expect("cases").clone()
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// What the program comes to, and its pH on the basis of the wish.
fn found(case: &Value) -> (MixRecord, Option<f64>) {
    let bench = Bench::parse(case["bench"].as_str().expect("a bench"), "recorded").expect("valid");
    let options = MixOptions { without_reasons: true, ..MixOptions::default() };
    let mix = jobs::mix(&bench, "asked", &options).unwrap_or_else(|error| panic!("{}: {error}", case["id"]));
    let ph = if case["basis"] == "fresh" { mix.ph } else { mix.ph_aired };
    (mix, ph)
}

/// Exact grams of a salt, or 0.
fn grams(mix: &MixRecord, salt: &str) -> f64 {
    mix.doses.iter().find(|dose| dose.salt() == Some(salt)).and_then(jobs::Dose::grams_exact).unwrap_or(0.0)
}

#[test]
fn nothing_that_others_found_is_closer() {
    let (mut two_acids, mut blended, mut worst) = (0, 0, f64::NEG_INFINITY);
    for case in recorded() {
        let (mix, _) = found(&case);
        let over = mix.misfit_exact.expect("fitted") - number(&case["best"]["misfit"]);
        assert!(over <= CLOSER, "{}: {over} farther off than the best", case["id"]);
        worst = worst.max(over);
        two_acids += u32::from(mix.acid.iter().filter(|acid| grams(&mix, &acid.salt) > 0.0).count() > 1);
        blended += u32::from(mix.waters.len() > 1 && mix.waters.iter().all(|water| water.litres > 1e-6));
    }
    println!("misfit over the best: worst {worst:.2e}; {two_acids} mixes of two acids, {blended} blends");
    assert!(two_acids >= 10 && blended >= 10, "{two_acids} of two acids, {blended} blends");
}

/// IPhreeqc was asked what the pH is where the program ended: the amounts have to be those, still.
#[test]
fn the_ph_is_that_of_other_chemistry() {
    let (mut with_acid, mut worst) = (0, 0.0_f64);
    for case in recorded() {
        let (mix, ph) = found(&case);
        let wish = number(&case["pH"]);
        let theirs = number(&case["found"]["pH"]);
        for (salt, recorded) in case["found"]["grams"].as_object().expect("grams") {
            let (now, then) = (grams(&mix, salt), number(recorded));
            assert!(
                (now - then).abs() <= 1e-3 * then + 1e-3,
                "{}: {now} g of {salt}, recorded {then}; make sour.json again",
                case["id"]
            );
        }
        let soured = mix.acid.iter().any(|acid| grams(&mix, &acid.salt) > 0.0);
        with_acid += u32::from(soured);
        let off = if soured { (theirs - wish).abs() } else { (theirs - wish).max(0.0) };
        assert!(off <= PH, "{}: pH {theirs} of other chemistry for {wish}", case["id"]);
        worst = worst.max(off);
        // what is measured out is nearly the same
        assert!(ph.is_some_and(|ph| (ph - theirs).abs() <= PH), "{}: {ph:?}, {theirs} of other chemistry", case["id"]);
    }
    println!("pH of other chemistry off the wish: worst {worst:.3}; {with_acid} with acid");
    assert!(with_acid >= 60, "{with_acid} with acid");
}
