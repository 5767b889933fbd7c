//! A tank turned over in steps: against own arithmetic of masses, and laws on random benches.
#![allow(clippy::disallowed_methods, reason = "reads the examples")]

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs::{self, Content, InSteps, JobError, MixOptions, SwitchOptions, SwitchRecord};
use bloomsalt::matter::{Nutrient, Nutrients};
use bloomsalt::quantity::{liter, ppm_of};
use serde_json::Value;

use crate::program::{bloomsalt, done};
use crate::random::benches;
use crate::switch::brought_mg;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/streptocarpus.toml");

fn demo() -> Bench {
    Bench::parse(&std::fs::read_to_string(DEMO).expect("the demo bench"), "streptocarpus.toml").expect("valid")
}

fn steps(count: u32) -> SwitchOptions {
    SwitchOptions { in_steps: Some(InSteps { count, every_days: 2 }), ..SwitchOptions::default() }
}

fn turn(bench: &Bench, formula: &str, holding: &Content, how: &SwitchOptions) -> SwitchRecord {
    jobs::switch(bench, formula, holding, how, &MixOptions::default()).expect("possible")
}

/// Every step poured by hand into what the one before left: litres and masses alone.
fn balanced(bench: &Bench, turned: &SwitchRecord, there: &Nutrients, full: f64) {
    let held_back = turned.before.held_back_l;
    let (mut level, mut ppm, mut seen) = (turned.before.level_l, *there, 0);
    for step in &turned.steps {
        assert!((step.refill_l - (full - level + step.drain_l)).abs() < 1e-9, "{} L", step.refill_l);
        let mut mg = ppm.scaled(level - step.drain_l + held_back);
        mg.add(&bench.water.nutrients, step.refill_l);
        for dose in &step.doses {
            let (salt, helper) = (dose.salt(), dose.bottle());
            mg.add(&brought_mg(bench, &step.helpers, salt, dose.grams(), helper, dose.millilitres()), 1.0);
        }
        (level, ppm) = (full, mg.scaled(1.0 / (full + held_back)));
        for element in &step.after {
            let own = ppm[Nutrient::parse(&element.element).expect("known")];
            assert!((own - element.ppm).abs() <= 1e-9 * own.max(1.0), "step {}, {element:?}: {own}", step.step);
            seen += 1;
        }
    }
    assert!(seen > 20);
}

/// What a step asks lies on the straight line from what is held to the formula.
fn on_the_line(bench: &Bench, formula: &str, holding: &Content, turned: &SwitchRecord) {
    let count = f64::from(u32::try_from(turned.steps.len()).expect("few"));
    let formula = bench.formula(formula).expect("there");
    for step in &turned.steps {
        for wish in &formula.wishes {
            let Some(target) = wish.target.map(ppm_of) else { continue };
            let asked = step.after.iter().find(|e| e.element == wish.nutrient.symbol()).expect("listed").target_ppm;
            let there = holding.ppm[wish.nutrient];
            let line = there + f64::from(step.step) / count * (target - there);
            let asked = asked.expect("asked");
            assert!((asked - line).abs() < 1e-9 * line.max(1.0), "step {}: {} {asked}, {line}", step.step, wish.nutrient);
        }
    }
}

#[test]
fn masses_close_from_step_to_step() {
    let bench = demo();
    for (from, to) in [("growth", "push"), ("push", "growth"), ("weak", "push")] {
        let holding = jobs::mixed(&bench, from).expect("possible");
        for (count, level, held_back) in [(2, 60.0, 0.0), (3, 47.0, 4.0), (4, 52.0, 1.0)] {
            let how = SwitchOptions { level: Some(liter(level)), held_back: Some(liter(held_back)), ..steps(count) };
            let turned = turn(&bench, to, &holding, &how);
            assert_eq!(turned.steps.len(), count as usize);
            balanced(&bench, &turned, &holding.ppm, 60.0);
            on_the_line(&bench, to, &holding, &turned);
        }
    }
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/ten-litres-bottles.toml");
    let bench = Bench::parse(&std::fs::read_to_string(path).expect("there"), "bottles.toml").expect("valid");
    let growth = jobs::mixed(&bench, "growth").expect("possible");
    balanced(&bench, &turn(&bench, "push", &growth, &steps(2)), &growth.ppm, 10.0);
}

#[test]
fn the_record_is_that_of_the_first_step() {
    let bench = demo();
    let growth = jobs::mixed(&bench, "growth").expect("possible");
    let turned =
        turn(&bench, "push", &growth, &SwitchOptions { on: Some("2027-01-04".parse().expect("a day")), ..steps(3) });
    let first = &turned.steps[0];
    assert_eq!((&first.doses, first.drain_l, first.refill_l), (&turned.after.doses, turned.drain_l, turned.refill_l));
    let days: Vec<_> = turned.steps.iter().map(|step| step.on.as_deref().expect("dated")).collect();
    assert_eq!(days, ["2027-01-04", "2027-01-06", "2027-01-08"]);
    // twenty-eight days from the first step, by the bench
    assert_eq!(turned.back_by.as_deref(), Some("2027-02-01"));
    // no nutrient that is asked moves by more than its part of the way, and what rounding and a drain of the whole tank add
    let mut before = growth.ppm;
    for step in &turned.steps {
        for element in step.after.iter().filter(|e| e.target_ppm.is_some()) {
            let nutrient = Nutrient::parse(&element.element).expect("known");
            let target =
                bench.formula("push").and_then(|f| f.wish(nutrient)).and_then(|w| w.target).map(ppm_of).expect("asked");
            let part = (target - growth.ppm[nutrient]).abs() / 3.0;
            let moved = (element.ppm - before[nutrient]).abs();
            assert!(moved <= part + 0.03 * target.max(growth.ppm[nutrient]), "step {}: {nutrient} by {moved}", step.step);
            before[nutrient] = element.ppm;
        }
    }
    assert_eq!(turn(&bench, "push", &growth, &SwitchOptions::default()).steps, []);
}

#[test]
fn limits_that_are_kept_stay_kept_and_others_come_nearer() {
    let text = std::fs::read_to_string(DEMO).expect("there");
    let strict = "[formula.strict]\nfrom = \"push\"\nCl = { max = 25 }\nEC = { max = \"1.05 mS/cm\" }\n";
    let bench = Bench::parse(&format!("{text}\n{strict}"), "strict.toml").expect("valid");
    let growth = jobs::mixed(&bench, "growth").expect("possible");
    let mut salty = growth.ppm;
    salty[Nutrient::Cl] = 65.0;
    let holding = Content::of_analysis(&bench, &salty, "an analysis");
    let turned = turn(&bench, "strict", &holding, &steps(3));
    let limits: Vec<f64> = turned
        .steps
        .iter()
        .map(|step| step.after.iter().find(|e| e.element == "Cl").and_then(|e| e.max_ppm).expect("limited"))
        .collect();
    for (limit, line) in limits.iter().zip([155.0 / 3.0, 115.0 / 3.0, 25.0]) {
        assert!((limit - line).abs() < 1e-9, "{limits:?}");
    }
    let ec: Vec<f64> = turned.steps.iter().map(|step| step.ec_ms_cm).collect();
    assert!(turned.before.ec_ms_cm > 1.05, "not kept at first: {}", turned.before.ec_ms_cm);
    assert!(ec[2] <= 1.05 + 1e-9, "{ec:?}");
    // kept from the start: in every step
    let kept = turn(&bench, "strict", &Content::of_analysis(&bench, &growth.ppm.scaled(0.8), "thin"), &steps(3));
    assert!(kept.before.ec_ms_cm < 1.05 && kept.steps.iter().all(|step| step.ec_ms_cm <= 1.05 + 1e-9));
}

#[test]
fn random_benches_go_in_steps_or_say_why_not() {
    let mut done = 0;
    for seed in 0..60 {
        let bench = Bench::parse(&benches::bench(seed).text, "bench.toml").expect("valid");
        let Ok(holding) = jobs::mixed(&bench, "growth") else { continue };
        match jobs::switch(
            &bench,
            "push",
            &holding,
            &steps(2 + u32::try_from(seed % 3).expect("few")),
            &MixOptions::default(),
        ) {
            Ok(turned) => {
                on_the_line(&bench, "push", &holding, &turned);
                done += 1;
            }
            Err(error) => {
                assert_eq!(error.exit_status(), 1, "bench {seed}: {error}");
                // the way is refused only where the formula is
                let at_once = jobs::switch(&bench, "push", &holding, &SwitchOptions::default(), &MixOptions::default());
                assert!(at_once.is_err(), "bench {seed}: {error}");
            }
        }
    }
    assert!(done > 20, "{done}");
}

/// Twenty litres of rain are drunk by the first steps: no later one fills in what is gone.
#[test]
fn waters_of_later_steps_are_told_and_drawn_down() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/two-waters.toml");
    let bench = Bench::parse(&std::fs::read_to_string(path).expect("there"), "two-waters.toml").expect("valid");
    let growth = jobs::mixed(&jobs::filled_with(&bench, &[("tap".to_owned(), 60.0)]).expect("a water"), "growth");
    let turned = turn(&bench, "push", &growth.expect("possible"), &steps(3));
    let mut rain = 0.0;
    for step in &turned.steps {
        let filled: f64 = step.waters.iter().map(|water| water.litres).sum();
        assert!((filled - step.refill_l).abs() < 1e-9, "{filled} of {}", step.refill_l);
        rain += step.waters.iter().filter(|water| water.id == "rain").map(|water| water.litres).sum::<f64>();
    }
    assert!(rain > 10.0 && rain <= 20.0 + 1e-9, "{rain} L of rain");
    let asked = ["switch", "push", "--holding", "growth", "--steps", "3", "--bench", path];
    assert!(done(&asked).matches(" of tap").count() > 3, "told in every step");
}

#[test]
fn what_cannot_be_is_refused() {
    let base = ["switch", "push", "--holding", "growth"];
    for (more, words) in [
        (&["--steps", "1"][..], "`--steps` reads \"1\""),
        (&["--steps", "5"], "out of range"),
        (&["--steps", "two"], "invalid value"),
        (&["--steps", "2", "--every-days", "0"], "`--every-days` reads \"0\""),
        (&["--every-days", "2"], "--steps"),
        (&["--steps", "2", "--drain", "10 L"], "cannot be used with"),
    ] {
        let (status, out, err) = bloomsalt(&[&base[..], more].concat());
        assert_eq!((status, out.as_str()), (2, ""), "{more:?}: {err}");
        assert!(err.contains(words), "{more:?}: {err}");
    }
    let bench = demo();
    let growth = jobs::mixed(&bench, "growth").expect("possible");
    let in_steps = Some(InSteps { count: 3, every_days: 20 });
    let how = SwitchOptions { on: Some("2027-01-04".parse().expect("a day")), in_steps, ..SwitchOptions::default() };
    let late = jobs::switch(&bench, "push", &growth, &how, &MixOptions::default());
    assert!(matches!(late, Err(JobError::NoSwitch { why }) if why.contains("2027-02-13") && why.contains("2027-02-01")));
}

#[test]
fn text_and_schema() {
    let arguments = ["switch", "push", "--holding", "growth", "--steps", "3", "--on", "2027-01-04", "--bench", DEMO];
    insta::assert_snapshot!("switch_demo_steps", done(&arguments));
    let schemas: Value = serde_json::from_str(&bloomsalt::report::schema()).expect("schemas");
    let document: Value = serde_json::from_str(&done(&[&arguments[..], &["--json"]].concat())).expect("JSON");
    assert!(jsonschema::validator_for(&schemas["switch"]).expect("a schema").is_valid(&document));
}

/// The acid of a later step is thinned like that of the first.
#[test]
fn the_acid_of_every_step_is_thinned() {
    let text = format!(
        "{STARTER}\n[water]\nCa = 80\nMg = 10\nalkalinity = \"4 meq/L\"\npH = 7.6\n[acid]\nsalt = \"phosphoric-acid-10\"\ntarget_pH = 5.8\n"
    );
    let bench = Bench::parse(&text, "test").expect("it parses");
    let holding = jobs::mixed(&bench, "growth").expect("held");
    let turned = turn(&bench, "push", &holding, &steps(3));
    let text = bloomsalt::report::switch(&turned, false);
    let (_, later) = text.split_once("LATER STEPS").expect("later steps");
    let later = later.split("THE WAYS").next().expect("lines").split_whitespace().collect::<Vec<_>>().join(" ");
    let soured = turned.steps[1..].iter().filter(|step| step.doses.iter().any(|dose| dose.acid && dose.is_measured()));
    let count = soured.count();
    assert_eq!((count, later.matches("dilute the acid in a marked jug").count()), (2, 2), "{later}");
    let thins = |order: &[jobs::Step]| order.iter().any(|step| step.act == jobs::Act::Dilute);
    assert!(turned.steps.iter().all(|step| thins(&step.order)), "every step has its own");
}

/// A pH that was read is that of the tank before the first step.
#[test]
fn only_the_first_step_lets_out_what_burns() {
    let bench = demo();
    let holding = jobs::mixed(&bench, "growth").expect("held");
    let plain = turn(&bench, "push", &holding, &steps(3));
    let sour = turn(&bench, "push", &holding, &SwitchOptions { held_ph: Some(3.2), ..steps(3) });
    // and where it goes is told, by what was read
    let told = |turned: &SwitchRecord| turned.after.cautions.iter().any(|one| one.heading == "Acid old solution");
    assert!(told(&sour) && !told(&plain));
    assert!(sour.steps[0].drain_l > 59.9 && plain.steps[0].drain_l < 59.9);
    assert!(sour.steps[1..].iter().all(|step| step.drain_l < 59.9), "{:?}", sour.steps);
}
