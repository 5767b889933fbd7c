//! What a report names to be added it minds: cases of the law that `every_command` holds of random benches, in text and on sheets
//! too; what spent solution, gases and burns ask for.
#![allow(clippy::disallowed_methods, reason = "benches in a folder of its own")]

use std::path::Path;

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs::{self, Content, MixOptions, SwitchKind, SwitchOptions};
use bloomsalt::report;
use bloomsalt::safety::Code;
use serde_json::Value;

use crate::program::{bloomsalt, done};
use crate::random::minded::not_minded;

const HARD: &str = "[water]\nCa = 60\nMg = 8\nNa = 10\nCl = 18\nSO4 = 30\nalkalinity = \"160 mg/L CaCO3\"\npH = 7.4\n";
const NITRIC: &str = "[acid]\nsalt = \"nitric-acid-60\"\ntarget_pH = 5.8\n";

/// The starter with a water and an acid, and with salts on the shelf instead of the diluted acid.
fn text(water: &str, acid: &str, shelf: &str) -> String {
    let text = STARTER.replace("phosphoric-acid-10 = {}", shelf);
    format!("{text}\n{water}{acid}")
}

fn written(folder: &Path, text: &str) -> String {
    let path = folder.join("bench.toml");
    std::fs::write(&path, text).expect("written");
    path.to_str().expect("UTF-8").to_owned()
}

fn catalogue_of(text: &str) -> Bench {
    Bench::parse(text, "test").expect("it parses")
}

/// Nitric acid that is left to the days after, or too little to draw up, is no dose; it is minded all the same.
#[test]
fn a_correction_brings_its_cautions_and_its_law_in_text_sheet_and_json() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = text(HARD, NITRIC, "nitric-acid-60 = {}");
    let (path, bench) = (written(folder.path(), &text), catalogue_of(&text));
    let saved = folder.path().join("r.json").to_str().expect("UTF-8").to_owned();
    done(&["mix", "growth", "--bench", &path, "--save", &saved]);
    let sheet = folder.path().join("sheet.html").to_str().expect("UTF-8").to_owned();
    let commands: [&[&str]; 5] = [
        &["mix", "growth", "--tank", "30 L"],
        &["mix", "growth", "--tank", "3 L"],
        &["switch", "push", "--holding", "growth"],
        &["check", "potassium-nitrate=10g"],
        &["check", "--recipe", &saved, "--against", "push"],
    ];
    let mut beside_the_doses = 0;
    for command in commands {
        let line: Vec<&str> = command.iter().copied().chain(["--bench", &path]).collect();
        let json: Vec<&str> = line.iter().copied().chain(["--json"]).collect();
        let document: Value = serde_json::from_str(&done(&json)).expect("JSON");
        assert_eq!(not_minded(&bench.catalogue, &document), Vec::<String>::new(), "{command:?}");
        let weighed = |id: &str| document["doses"].as_array().is_some_and(|all| all.iter().any(|dose| dose["salt"] == id));
        let minded =
            document["handling"].as_array().is_some_and(|all| all.iter().any(|one| one["salt"] == "nitric-acid-60"));
        if minded && !weighed("nitric-acid-60") {
            beside_the_doses += 1;
            let printed = done(&line);
            let (_, safety) = printed.split_once("SAFETY").expect("it is there");
            for word in ["nitric acid 60 %", "Burns", "Fumes", "Annex I:"] {
                assert!(safety.replace("\n   ", " ").contains(word), "{command:?}: {word}\n{safety}");
            }
            let _ = std::fs::remove_file(&sheet);
            if command[0] != "check" {
                let paper: Vec<&str> = line.iter().copied().chain(["--sheet", &sheet]).collect();
                done(&paper);
                let paper = std::fs::read_to_string(&sheet).expect("a sheet");
                assert!(paper.contains("Annex I:") && paper.contains("Fumes"), "{command:?}");
            }
        }
    }
    assert!(beside_the_doses > 0, "no command names the acid beside its doses");
}

/// Nitric acid is never named where urea is in the list or in the tank.
#[test]
fn no_correction_names_nitric_acid_beside_urea() {
    let hard = text(HARD, NITRIC, "nitric-acid-60 = {}\nurea = {}");
    // of which so little phosphoric acid is needed that its phosphorus may be
    let softer = hard.replace("160 mg/L", "100 mg/L");
    assert_ne!(hard, softer);
    let bench = catalogue_of(&hard);
    let remedies_in = |text: &str, with: &str| -> String {
        let folder = tempfile::tempdir().expect("a folder");
        let path = written(folder.path(), text);
        let document: Value = serde_json::from_str(&done(&["check", with, "--bench", &path, "--json"])).expect("JSON");
        assert_eq!(not_minded(&bench.catalogue, &document), Vec::<String>::new());
        document["findings"].as_array().expect("findings").iter().filter_map(|one| one["remedy"].as_str()).collect()
    };
    let remedies = |with: &str| remedies_in(&hard, with);
    let (plain, with_urea) = (remedies("potassium-nitrate=10g"), remedies_in(&softer, "urea=3g"));
    let refused = remedies("urea=3g");
    assert!(refused.contains("over 60.0 is too much") && !refused.contains("nitric"), "{refused}");
    assert!(plain.contains("of nitric acid 60 %"), "{plain}");
    assert!(!with_urea.contains("nitric acid 60 %") && with_urea.contains("of phosphoric acid 10 %"), "{with_urea}");
    assert!(with_urea.contains("never meet urea"), "{with_urea}");
    let with_carbonate = remedies("potassium-bicarbonate=20g");
    assert!(with_carbonate.contains("Never beside or onto potassium bicarbonate itself"), "{with_carbonate}");
    assert!(!plain.contains("Never beside"), "{plain}");
}

#[test]
fn burns_and_gases_name_who_to_call() {
    let bench = catalogue_of(&text(HARD, NITRIC, "nitric-acid-60 = {}"));
    let mix = jobs::mix(&bench, "growth", &MixOptions::default()).expect("it mixes");
    let said = |heading: &str| {
        let of_it = mix.cautions.iter().find(|one| one.heading == heading);
        of_it.map_or_else(|| panic!("{heading} is missing"), |one| one.text.clone())
    };
    assert!(
        said("Burns").contains("emergency number") && said("Burns").contains("On skin: wet clothes off, rinse long, doctor")
    );
    assert!(said("Eyes").contains("emergency number"));
    for gas in ["Bleach", "Ammonia"] {
        assert!(said(gas).to_lowercase().contains("fresh air, doctor"), "{gas}");
    }
}

/// Solution in the usual range is thinned; beyond it, it is brought there first.
#[test]
fn strongly_sour_or_alkaline_solution_is_brought_nearer_before_it_is_poured_away() {
    let bench = catalogue_of(&text("", "", "phosphoric-acid-10 = {}"));
    let said = |id: &str, grams: f64| -> Vec<String> {
        let salt = bench.catalogue.find(id).expect("in the table");
        let amount = bloomsalt::quantity::Amount::Mass(bloomsalt::quantity::gram(grams));
        let tank = jobs::check(&bench, &[jobs::Added { salt, amount }], None).expect("a tank");
        tank.cautions.into_iter().map(|one| one.heading).filter(|heading| heading.contains("ld solution")).collect()
    };
    assert_eq!(said("potassium-nitrate", 10.0), ["Old solution"]);
    assert_eq!(said("phosphoric-acid-85", 400.0), ["Acid old solution", "Old solution"]);
    assert_eq!(said("potassium-hydroxide", 100.0), ["Alkaline old solution", "Old solution"]);
}

/// What is poured first is listed first: an acid of which four fifths go into plain hard water.
#[test]
fn doses_stand_in_the_order_in_which_they_are_done() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = text(HARD, NITRIC, "nitric-acid-60 = {}");
    let (path, saved) = (written(folder.path(), &text), folder.path().join("r.json").to_str().expect("UTF-8").to_owned());
    let json = |line: &[&str]| -> Value {
        let line: Vec<&str> = line.iter().copied().chain(["--bench", &path, "--json"]).collect();
        serde_json::from_str(&done(&line)).expect("JSON")
    };
    let mixed = json(&["mix", "growth", "--save", &saved]);
    for document in [&mixed, &json(&["stock", "growth"]), &json(&["check", "--recipe", &saved])] {
        let first = |id: &str| {
            let steps = document["order"].as_array().expect("steps");
            let pours = |step: &&Value| ["sour", "dissolve", "pour", "set-ph"].iter().any(|act| step["act"] == *act);
            let steps = steps.iter().filter(pours);
            steps.enumerate().find(|(_, step)| step["parts"].as_array().is_some_and(|all| all.iter().any(|one| one == id)))
        };
        let doses = document["doses"].as_array().expect("doses");
        let ids = doses.iter().filter(|dose| !dose["measure"].is_null());
        let ids = ids.map(|dose| dose["salt"].as_str().or(dose["helper"].as_str()).expect("an id"));
        let places: Vec<usize> = ids.filter_map(|id| first(id).map(|(at, _)| at)).collect();
        assert!(places.len() > 1 && places.is_sorted(), "{places:?}");
        assert_eq!(doses[0]["salt"], "nitric-acid-60", "four fifths of it go in before all else");
    }
}

/// No way that is stopped, or misses the pH, is the best fit beside one that is neither.
#[test]
fn the_best_fit_of_a_switch_meets_the_ph_where_any_way_does() {
    let mut spoken_against = 0;
    for (step, alkalinity) in [("0.5 mL", 60), ("0.5 mL", 160), ("2 mL", 100), ("5 mL", 60), ("5 mL", 100), ("5 mL", 160)] {
        let water = HARD.replace("160 mg/L", &format!("{alkalinity} mg/L"));
        let text = text(&water, NITRIC, "nitric-acid-60 = {}").replace("step = \"0.5 mL\"", &format!("step = \"{step}\""));
        let bench = catalogue_of(&text).with_tank(bloomsalt::quantity::liter(30.0));
        let holding: Content = jobs::mixed(&bench, "growth").expect("a tank");
        let how = (SwitchOptions::default(), MixOptions::default());
        let turned = jobs::switch(&bench, "push", &holding, &how.0, &how.1).expect("a switch");
        let possible: Vec<_> = turned.options.iter().filter(|way| way.possible).collect();
        let clear = possible.iter().any(|way| way.against.is_empty());
        let best = possible.iter().find(|way| way.kind == SwitchKind::BestFit).expect("a best fit");
        assert!(best.against.is_empty() || !clear, "{step}, {alkalinity}: {:?}", best.against);
        let least = possible.iter().filter(|way| !clear || way.against.is_empty()).filter_map(|way| way.misfit);
        let least = least.fold(f64::INFINITY, f64::min);
        assert!(best.misfit.is_some_and(|misfit| misfit <= least + 0.01), "{step}, {alkalinity}");
        let printed = report::switch(&turned, false);
        let missed = possible.iter().filter(|way| way.against.iter().any(|one| one.code == Code::PhWishNotMet)).count();
        assert_eq!(printed.matches("pH not met").count(), missed, "{printed}");
        spoken_against += usize::from(missed > 0);
    }
    assert!(spoken_against > 0, "no way of any misses its pH");
}

/// An entry of a logbook, with a bench.
fn booked(logbook: &str, bench: &str, at: &str, what: &[&str]) {
    let line: Vec<&str> =
        ["logbook", "add", logbook, "--bench", bench, "--at", at].into_iter().chain(what.iter().copied()).collect();
    let (status, _, err) = bloomsalt(&line);
    assert_eq!(status, 0, "{line:?}: {err}");
}

/// FILL UP of a tank whose pH was read tells the pH after it, and the chelate that does not hold there.
#[test]
fn a_fill_up_tells_its_ph_and_its_chelates() {
    let folder = tempfile::tempdir().expect("a folder");
    let acid = NITRIC.replace("5.8", "6.5");
    let bench_text = text(HARD, &acid, "nitric-acid-60 = {}")
        .replace("iron-dtpa = {}", "iron-edta = {}")
        .replace("step = \"0.5 mL\"", "step = \"0.1 mL\"");
    let path = written(folder.path(), &bench_text);
    let saved = folder.path().join("r.json").to_str().expect("UTF-8").to_owned();
    done(&["mix", "growth", "--bench", &path, "--save", &saved]);
    let today = |read: &str| {
        let logbook = folder.path().join(format!("{read}.jsonl")).to_str().expect("UTF-8").to_owned();
        let add = |at: &str, what: &[&str]| booked(&logbook, &path, at, what);
        add("2027-01-04 08:00+00:00", &["filled", "--recipe", &saved]);
        add("2027-01-08 08:00+00:00", &["reading", "--ec", "1.0 mS/cm", "--ph", read, "--level", "50 L", "--yes"]);
        let line = ["today", "--bench", &path, "--logbook", &logbook, "--at", "2027-01-08 09:00+00:00"];
        let json: Vec<&str> = line.iter().copied().chain(["--json"]).collect();
        let document: Value = serde_json::from_str(&done(&json)).expect("JSON");
        assert_eq!(not_minded(&catalogue_of(&bench_text).catalogue, &document), Vec::<String>::new());
        let tank = document["tanks"][0].clone();
        let ph = tank["fill_up"]["ph_aired"].as_f64().unwrap_or_else(|| panic!("a pH: {tank}"));
        (ph, tank, done(&line).replace("\n   ", " "))
    };
    // near an edge and not over it: hard water lifts it further, out of what EDTA holds, and no acid is named for that
    std::fs::write(&path, bench_text.replace(&acid, "")).expect("written");
    let (ph, tank, printed) = today("6.7");
    std::fs::write(&path, &bench_text).expect("written");
    assert!((6.6..7.6).contains(&ph) && tank["ph"]["correction"].is_null(), "{ph}: {tank}");
    let chelates = tank["fill_up"]["chelates"].as_array().expect("a list");
    assert!(chelates.iter().any(|one| one["message"].as_str().is_some_and(|words| words.contains("EDTA"))), "{tank}");
    for word in ["pH should then read about", "[chelate-outside]", "SAFETY"] {
        assert!(printed.contains(word), "{word}\n{printed}");
    }
    // over it the acid is in before, and the chelate holds
    let (ph, tank, printed) = today("7.6");
    let correction = &tank["ph"]["correction"];
    assert!(
        correction["salt"].is_string() && (ph - correction["to_ph"].as_f64().expect("a pH")).abs() < 0.1,
        "{ph}: {tank}"
    );
    assert!(
        printed.contains("before the weights") && tank["fill_up"]["chelates"].as_array().is_some_and(Vec::is_empty),
        "{tank}"
    );
}

/// A sour tank is told so by `logbook forecast` as by `today`, also where the reading no longer stands.
#[test]
fn a_forecast_and_today_tell_a_sour_tank_alike() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = written(folder.path(), &text(HARD, "", "phosphoric-acid-10 = {}"));
    let saved = folder.path().join("r.json").to_str().expect("UTF-8").to_owned();
    done(&["mix", "growth", "--bench", &path, "--save", &saved]);
    let both = |name: &str, ph: &str, then: &[&str]| {
        let logbook = folder.path().join(name).to_str().expect("UTF-8").to_owned();
        let add = |at: &str, what: &[&str]| booked(&logbook, &path, at, what);
        add("2027-01-04 08:00+00:00", &["filled", "--recipe", &saved]);
        add("2027-01-08 08:00+00:00", &["reading", "--ec", "0.8 mS/cm", "--ph", ph, "--level", "50 L", "--yes"]);
        if !then.is_empty() {
            add("2027-01-08 08:30+00:00", then);
        }
        let at = ["--at", "2027-01-08 09:00+00:00"];
        let today = done(&["today", "--bench", &path, "--logbook", &logbook, at[0], at[1]]);
        let forecast = done(&["logbook", "forecast", &logbook, "--bench", &path, at[0], at[1]]);
        [today, forecast].map(|printed| {
            assert!(printed.contains("SAFETY"), "{printed}");
            printed.contains("Acid old solution")
        })
    };
    assert_eq!(both("sour.jsonl", "4.2", &[]), [true, true]);
    assert_eq!(both("since.jsonl", "4.2", &["added", "potassium-nitrate=1g", "--yes"]), [true, true]);
    assert_eq!(both("usual.jsonl", "5.8", &[]), [false, false]);
}

/// A pH that no acid of the bench could mend without spoiling the feed, or that what was read of EC speaks against, orders no dose: the
/// meter is suspected. What is ordered brings no more than half of any target.
#[test]
fn no_reading_of_ph_orders_more_than_the_feed_bears() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = written(folder.path(), &text("", "", "phosphoric-acid-10 = {}"));
    let saved = folder.path().join("r.json").to_str().expect("UTF-8").to_owned();
    done(&["mix", "growth", "--bench", &path, "--save", &saved]);
    let (mut told, mut doubted) = (0, 0);
    for tenths in [70, 72, 76, 80, 84, 88, 94, 102] {
        let read = format!("{:.1}", f64::from(tenths) / 10.0);
        let logbook = folder.path().join(format!("{read}.jsonl")).to_str().expect("UTF-8").to_owned();
        let add = |at: &str, what: &[&str]| booked(&logbook, &path, at, what);
        add("2027-01-04 08:00+00:00", &["filled", "--recipe", &saved]);
        add("2027-01-08 08:00+00:00", &["reading", "--ec", "1.02 mS/cm", "--ph", &read, "--level", "52 L", "--yes"]);
        let line = ["today", "--bench", &path, "--logbook", &logbook, "--at", "2027-01-08 09:00+00:00"];
        let json: Vec<&str> = line.iter().copied().chain(["--json"]).collect();
        let document: Value = serde_json::from_str(&done(&json)).expect("JSON");
        let tank = &document["tanks"][0];
        let printed = done(&line).replace("\n   ", " ");
        if let Some(brings) = tank["ph"]["correction"]["brings"]["ppm"].as_f64() {
            assert!(brings <= 18.0 / 2.0, "{read}: {brings}");
        }
        if tank["ph"]["correction"].is_null() {
            assert!(tank["ph"]["untold"].is_string(), "{read}: {tank}");
            assert!(printed.contains("alibrate"), "{printed}");
            if tank["ph"]["doubted"] == true {
                // nor is what fills it up reckoned from it
                assert!(printed.contains("Suspect the pH meter first") || printed.contains("is far out"), "{printed}");
                let burns = read.parse::<f64>().expect("a number") > 9.0;
                let stops = printed.matches("STOP").count();
                assert!(tank["fill_up"]["ph"].is_null() && stops == usize::from(burns), "{printed}");
                doubted += 1;
            }
        } else {
            assert!(printed.contains("On before anything is opened: goggles, gloves"), "{printed}");
            told += 1;
        }
    }
    assert!(told > 0 && doubted > 0, "{told} told, {doubted} doubted");
}

/// What is worn stands over the first weight of every job that weighs something, and an acid is opened only at its step.
#[test]
fn what_is_worn_is_said_before_anything_is_opened() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = written(folder.path(), &text(HARD, NITRIC, "nitric-acid-60 = {}"));
    for command in [&["mix", "growth"][..], &["stock", "growth"], &["switch", "push", "--holding", "growth"]] {
        let line: Vec<&str> = command.iter().copied().chain(["--bench", &path]).collect();
        let printed = done(&line).replace("\n   ", " ");
        let worn = printed.find("On before anything is opened: goggles, gloves, apron, dust mask.");
        let first = printed.find(" g ").expect("a weight");
        assert!(worn.is_some_and(|worn| worn < first), "{command:?}\n{printed}");
        assert!(
            printed.contains("The acid is opened and measured when its step of HOW TO MIX comes"),
            "{command:?}\n{printed}"
        );
    }
}

/// An acid of which too little is needed to measure is a warning in every job, and no line beside tells a dose of it after all.
#[test]
fn an_acid_too_little_to_measure_is_told_alike_everywhere() {
    let mut told = 0;
    for litres in [2.0, 6.0, 12.0, 20.0, 30.0, 45.0] {
        let bench = catalogue_of(&text(HARD, NITRIC, "nitric-acid-60 = {}")).with_tank(bloomsalt::quantity::liter(litres));
        let holding: Content = jobs::mixed(&bench, "growth").expect("a tank");
        let turned = jobs::switch(&bench, "push", &holding, &SwitchOptions::default(), &MixOptions::default());
        let mixed = ["growth", "push"].map(|formula| jobs::mix(&bench, formula, &MixOptions::default()));
        let records = mixed.into_iter().flatten().chain(turned.ok().map(|turned| turned.after));
        for record in records {
            let is_of_it = |words: &str| words.contains("nitric acid 60 %");
            let small = |one: &&bloomsalt::safety::Finding| {
                one.code == bloomsalt::safety::Code::CannotBeWeighed && is_of_it(&one.message)
            };
            let too_little: Vec<_> = record.findings.iter().filter(small).collect();
            told += too_little.len();
            for one in &too_little {
                assert_eq!(one.severity, bloomsalt::safety::Severity::Warning, "{litres} L: {one:?}");
            }
            let doses = |words: &str| words.contains("mL of nitric acid 60 %") || words.contains("roughly");
            let beside = record.findings.iter().filter_map(|one| one.remedy.as_deref()).find(|words| doses(words));
            assert!(too_little.is_empty() || beside.is_none(), "{litres} L: {beside:?}");
        }
    }
    assert!(told > 3, "{told}");
}
