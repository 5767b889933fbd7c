//! `bloomsalt logbook …` as a whole: what is printed, the exit status, what the file holds.
#![allow(clippy::disallowed_methods, reason = "reads and damages the files that the program writes")]

use std::path::Path;

use serde_json::Value;

use crate::program::{bloomsalt, done};

fn refused(arguments: &[&str]) -> String {
    let (status, out, err) = bloomsalt(arguments);
    assert_eq!((status, out.as_str()), (2, ""), "{arguments:?}");
    err
}

fn example(name: &str) -> String {
    format!("{}/examples/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// A logbook of its own, in a folder that goes with it.
struct Own {
    folder: tempfile::TempDir,
}

impl Own {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    fn file(&self) -> String {
        self.folder.path().join("tank.jsonl").display().to_string()
    }

    fn add(&self, at: &str, event: &[&str]) -> String {
        let file = self.file();
        done(&[&["logbook", "add", &file, "--at", at], event].concat())
    }

    fn lines(&self) -> Vec<String> {
        std::fs::read_to_string(self.file()).expect("the logbook").lines().map(str::to_owned).collect()
    }
}

const AT: [&str; 2] = ["--at", "2026-10-20 09:00+02:00"];

/// The figures are estimates of the model; each change of them stands in the changelog under "Numbers changed".
#[test]
fn whole_output_of_the_example() {
    let (logbook, bench) = (example("streptocarpus-logbook.jsonl"), example("streptocarpus.toml"));
    insta::assert_snapshot!("logbook_show", done(&["logbook", "show", &logbook]));
    let now = ["logbook", "now", &logbook, "--bench", &bench, AT[0], AT[1]];
    insta::assert_snapshot!("logbook_now", done(&now));
    insta::assert_snapshot!("logbook_now_json", done(&[&now[..], &["--json"]].concat()));
    let forecast = ["logbook", "forecast", &logbook, "--bench", &bench, AT[0], AT[1]];
    insta::assert_snapshot!("logbook_forecast", done(&forecast));
    insta::assert_snapshot!(
        "logbook_forecast_growth",
        done(&[&forecast[..], &["--formula", "growth", "--floor", "30 ppm"]].concat())
    );
    // before the first filling, right after it, and when the push has lasted too long
    for (name, at) in [
        ("logbook_now_before", "2026-09-01 09:00+02:00"),
        ("logbook_now_fresh", "2026-10-03 18:32+02:00"),
        ("logbook_now_late", "2026-11-20 09:00+01:00"),
    ] {
        insta::assert_snapshot!(name, done(&["logbook", "now", &logbook, "--bench", &bench, "--at", at]));
    }
    for arguments in [&["logbook", "show", &logbook][..], &now, &forecast] {
        for line in done(arguments).lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}

/// The example was made by the program: its own commands make the same lines. What a later version weighs may differ, since
/// history does not change; what was mixed is still that formula.
#[test]
fn the_example_is_made_by_the_program() {
    let own = Own::new();
    let (push, bench) = (own.folder.path().join("push.json").display().to_string(), example("streptocarpus.toml"));
    done(&["mix", "push", "--bench", &bench, "--save", &push]);
    let text = std::fs::read_to_string(example("streptocarpus-logbook.jsonl")).expect("the example");
    own.add("2026-10-03 18:30+02:00", &["filled", "--recipe", &push, "--bench", &bench]);
    own.add("2026-10-03 18:35+02:00", &["phase", "push", "--bench", &bench]);
    let reading = ["reading", "--ec", "1.08 mS/cm", "--ph", "6.2", "--temperature", "21 C", "--level", "60 L"];
    own.add("2026-10-03 19:10+02:00", &reading);
    for (made, kept) in own.lines().iter().zip(text.lines().skip(6)) {
        let entry = |line: &str| -> Value { serde_json::from_str(line).expect("JSON") };
        let (mut made, mut kept) = (entry(made), entry(kept));
        for symbol in ["N", "P", "K", "Ca", "Mg", "Fe"].into_iter().filter(|_| made["event"] == "filled") {
            let ppm = |entry: &Value| entry["ppm"][symbol].as_f64().expect("a number");
            assert!((ppm(&made) / ppm(&kept) - 1.0).abs() < 0.05, "{symbol}: {} for {}", ppm(&made), ppm(&kept));
        }
        for key in ["entry", "check", "salts_g", "ppm"] {
            for entry in [&mut made, &mut kept] {
                entry.as_object_mut().expect("an object").remove(key);
            }
        }
        assert_eq!(made, kept);
    }
}

/// What a recipe draws from bottles counts by what is in them: the ppm entered are those of the mix.
#[test]
fn a_recipe_with_bottles_fills_what_the_mix_says() {
    let own = Own::new();
    let (saved, bench) = (own.folder.path().join("push.json").display().to_string(), example("streptocarpus.toml"));
    let mix = ["mix", "push", "--bench", &bench, "--tank", "10 L"];
    let mixed: Value = serde_json::from_str(&done(&[&mix[..], &["--json"]].concat())).expect("JSON");
    done(&[&mix[..], &["--save", &saved]].concat());
    let helpers: Value = serde_json::from_str(&std::fs::read_to_string(&saved).expect("the recipe")).expect("JSON");
    let pure = helpers["helpers"].to_string().replace("\"pure_water\":false", "\"pure_water\":true");
    assert_ne!(helpers["helpers"].to_string(), pure, "a tank of 10 L needs a bottle for traces");
    own.add("2026-10-03 18:30+02:00", &["filled", "--recipe", &saved, "--volume", "10 L", "--bench", &bench]);
    // the same with a bottle of pure water: so much less of what the water holds
    let mut other = helpers.clone();
    other["helpers"] = serde_json::from_str(&pure).expect("JSON");
    let other_saved = own.folder.path().join("pure.json").display().to_string();
    std::fs::write(&other_saved, other.to_string()).expect("written");
    own.add("2026-10-08 18:30+02:00", &["filled", "--recipe", &other_saved, "--volume", "10 L", "--bench", &bench]);
    let ppm = |line: usize| -> Value { serde_json::from_str::<Value>(&own.lines()[line]).expect("JSON")["ppm"].clone() };
    for element in mixed["elements"].as_array().expect("elements") {
        let (symbol, expected) = (element["element"].as_str().expect("text"), element["ppm"].as_f64().expect("a number"));
        let there = ppm(0)[symbol].as_f64().expect("a number");
        assert!((there - expected).abs() <= 1e-6 * expected.max(0.01), "{symbol}: {there} for {expected}");
    }
    let drawn = helpers["doses"].as_array().expect("doses").iter().filter(|dose| !dose["helper"].is_null());
    let drawn: f64 = drawn.map(|dose| dose["millilitres"].as_f64().expect("a number")).sum();
    let less = ppm(0)["Na"].as_f64().expect("a number") - ppm(1)["Na"].as_f64().expect("a number");
    assert!((less - 6.0 * drawn / 10_000.0).abs() < 1e-6, "{less}");
}

#[test]
fn every_event_is_written_and_shown() {
    let own = Own::new();
    let bench = example("streptocarpus.toml");
    let with = ["--bench", &bench];
    let said = [
        own.add(
            "2026-10-03 18:30+02:00",
            &[
                &[
                    "filled",
                    "--volume",
                    "60 L",
                    "--formula",
                    "push",
                    "calcium-nitrate-tetrahydrate=18.2g",
                    "workshop-pk=20 mL",
                ],
                &with[..],
            ]
            .concat(),
        ),
        own.add("2026-10-04 18:30+02:00", &[&["topped-up", "--volume", "1.5 gal", "--to", "60 L"], &with[..]].concat()),
        own.add("2026-10-04 18:31+02:00", &["topped-up", "--volume", "500 mL", "--pure"]),
        own.add("2026-10-05 18:30+02:00", &[&["added", "potassium-sulfate=0.002 kg"], &with[..]].concat()),
        own.add("2026-10-06 18:30+02:00", &["drained", "--volume", "20 L"]),
        own.add(
            "2026-10-07 18:30+02:00",
            &["reading", "--ec", "980 uS/cm", "--ph", "5.9", "--temperature", "70 F", "--level", "40 L", "--yes"],
        ),
        own.add("2026-10-08 18:30+02:00", &["analysis", "N=31", "Ca=70.5", "K=0.14 g/L"]),
        own.add("2026-10-09 18:30+02:00", &["note", "two leaves with brown edges"]),
        own.add("2026-10-10 18:30+02:00", &[&["phase", "push"], &with[..]].concat()),
        own.add("2026-10-11 18:30+02:00", &["stalks"]),
        own.add("2026-10-12 18:30+02:00", &["void", "5", "--why", "it was the other tank"]),
        own.add("2026-10-13 18:30+02:00", &["filled", "--volume", "50 L", "--held-back", "4 L", "--pure"]),
    ];
    insta::assert_snapshot!("logbook_added", said.concat());
    insta::assert_snapshot!("logbook_file", own.lines().join("\n"));
    let shown = done(&["logbook", "show", &own.file()]);
    assert!(shown.contains("5  2026-10-06 18:30 +02:00  (void, by entry 11) drained 20 L"), "{shown}");
}

#[test]
fn what_is_wrong_is_refused_and_nothing_is_written() {
    let own = Own::new();
    let file = own.file();
    let add = |event: &[&str]| refused(&[&["logbook", "add", &file, "--at", "2026-10-03 18:30+02:00"], event].concat());
    assert!(add(&["filled", "--volume", "60 L", "--formula", "push"]).contains("but not what went in"));
    assert!(
        add(&["filled", "--volume", "60 L", "--formula", "psuh", "potassium-nitrate=1g"]).contains("did you mean `push`?")
    );
    assert!(add(&["filled", "potassium-nitrate=1g"]).contains("--volume"));
    assert!(add(&["filled", "--volume", "60"]).contains("the unit is missing"));
    assert!(add(&["added", "potassium-nitrat=1g"]).contains("did you mean `potassium-nitrate`?"));
    assert!(add(&["added", "potassium-nitrate=1 mL"]).contains("is a solid"));
    assert!(add(&["drained", "--volume", "0 L"]).contains("out of range"));
    assert!(add(&["topped-up", "--volume", "8 L", "--to", "5 L"]).contains("less than what went in"));
    assert!(add(&["reading"]).contains("reads nothing"));
    assert!(add(&["reading", "--ph", "NaN"]).contains("is not a number"));
    assert!(add(&["reading", "--ec", "1.1"]).contains("the unit is missing"));
    assert!(add(&["analysis", "N=88", "NO3-N=80"]).contains("N and its forms"));
    assert!(add(&["analysis", "n=88"]).contains("did you mean `N`?"));
    assert!(add(&["analysis", "N88"]).contains("has no `=`"));
    assert!(add(&["analysis", "N=1", "N=2"]).contains("a second time"));
    assert!(add(&["note", " "]).contains("is empty"));
    assert!(add(&["void", "1"]).contains("there is no such file"));
    assert!(add(&["filled", "--recipe", &file]).contains("there is no such file"));
    let recipe = own.folder.path().join("recipe.json");
    std::fs::write(&recipe, "{}").expect("written");
    assert!(add(&["filled", "--recipe", recipe.to_str().expect("UTF-8")]).contains("is no recipe"));
    assert!(!Path::new(&file).exists(), "a refused entry makes no file");
    let folder = own.folder.path().display().to_string();
    assert!(refused(&["logbook", "add", &folder, "note", "x"]).contains("is a folder"));
    assert!(refused(&["logbook", "show", &file]).contains("there is no such file"));
    own.add("2026-10-03 18:30+02:00", &["note", "a line"]);
    let before = own.lines();
    assert!(add(&["void", "2"]).contains("there is no entry 2 to void"));
    assert!(add(&["recovered", "1"]).contains("nothing to give up"));
    assert_eq!(own.lines(), before);
    assert!(refused(&["logbook", "now", &file, "--uptake", &file]).contains("tank.jsonl"));
    assert!(refused(&["logbook", "forecast", &file, "--formula", "bloom"]).contains("there is no formula `bloom`"));
    assert!(refused(&["logbook", "forecast", &file, "--floor", "30"]).contains("the unit is missing"));
}

/// The offset is stated, or follows from a zone that is stated, or is that of the system; never guessed.
#[test]
fn moments_and_zones() {
    let own = Own::new();
    let file = own.file();
    let add = |when: &[&str]| bloomsalt(&[&["logbook", "add", &file, "note", "x"], when].concat());
    let at = |when: &[&str]| {
        let (status, out, err) = add(when);
        assert_eq!((status, err.as_str()), (0, ""));
        let entry = own.lines().pop().expect("an entry");
        let at: Value = serde_json::from_str(&entry).expect("JSON");
        assert!(out.contains(if when.is_empty() { "note: x" } else { when[1].get(11..16).unwrap_or("12:00") }), "{out}");
        at["at"].as_str().expect("text").to_owned()
    };
    let said = |when: &[&str]| {
        let (status, _, err) = add(when);
        assert_eq!(status, 2, "{when:?}");
        err
    };
    assert_eq!(at(&["--at", "2026-10-03 18:30", "--zone", "Europe/Berlin"]), "2026-10-03T18:30:00+02:00");
    assert_eq!(at(&["--at", "2026-12-03T18:30:15", "--zone", "Europe/Berlin"]), "2026-12-03T18:30:15+01:00");
    assert_eq!(at(&["--at", "2026-10-03 18:30", "--zone", "-03:30"]), "2026-10-03T18:30:00-03:30");
    assert_eq!(at(&["--at", "2026-10-03 18:30", "--zone", "Asia/Kathmandu"]), "2026-10-03T18:30:00+05:45");
    assert_eq!(at(&["--at", "2028-02-29 18:30", "--zone", "UTC"]), "2028-02-29T18:30:00+00:00");
    // the night when the clocks of Berlin skip 02:00 to 03:00, and the night when they show it twice
    assert!(said(&["--at", "2026-03-29 02:30", "--zone", "Europe/Berlin"]).contains("skipped that day"));
    let twice = said(&["--at", "2026-10-25 02:30", "--zone", "Europe/Berlin"]);
    assert!(twice.contains("showed twice that day") && twice.contains("+02 was the first, +01 the second"), "{twice}");
    assert_eq!(at(&["--at", "2026-10-25 02:30+02:00"]), "2026-10-25T02:30:00+02:00");
    // without an offset and a zone the clock is that of the system; a day alone is its noon
    assert!(at(&["--at", "2026-10-03 18:30"]).starts_with("2026-10-03T18:30:00"));
    assert!(at(&["--at", "2026-10-03"]).starts_with("2026-10-03T12:00:00"));
    assert_eq!(at(&["--at", "2026-10-03", "--zone", "+02:00"]), "2026-10-03T12:00:00+02:00");
    assert!(said(&["--at", "last Tuesday"]).contains("no date and time"));
    assert!(said(&["--at", "2026-10-03 18:30+02:00", "--zone", "UTC"]).contains("keep one of the two"));
    assert!(said(&["--at", "2027-02-29 18:30", "--zone", "UTC"]).contains("no date and time"));
    assert!(said(&["--at", "2026-10-03 18:30", "--zone", "Europe/Berlim"]).contains("did you mean `Europe/Berlin`?"));
    // without either, the clock and the zone of the system, and the offset is in the file
    assert!(bloomsalt::logbook::Moment::parse(&at(&[])).is_ok());
}

#[test]
fn damage_is_exit_3_and_can_be_given_up() {
    let own = Own::new();
    let file = own.file();
    for (day, words) in (1..).zip(["one", "two", "three", "four"]) {
        own.add(&format!("2026-10-0{day} 18:30+02:00"), &["note", words]);
    }
    let damaged = std::fs::read_to_string(&file).expect("the logbook").replacen("two", "twa", 1);
    std::fs::write(&file, &damaged).expect("written");
    let bench = example("streptocarpus.toml");
    for arguments in [
        &["logbook", "show", &file][..],
        &["logbook", "now", &file, "--bench", &bench],
        &["logbook", "forecast", &file],
        &["logbook", "add", &file, "note", "five"],
        &["logbook", "add", &file, "recovered", "3"],
    ] {
        let (status, out, err) = bloomsalt(arguments);
        assert_eq!((status, out.as_str()), (3, ""), "{arguments:?}");
        assert!(err.contains("line 2: its check is"), "{err}");
        assert_eq!(std::fs::read_to_string(&file).expect("the logbook"), damaged, "nothing was written");
    }
    let (_, out, err) = bloomsalt(&["logbook", "show", &file, "--json"]);
    insta::assert_snapshot!("logbook_damaged", err.replace(&file, "tank.jsonl"));
    let document: Value = serde_json::from_str(&out).expect("one JSON document");
    assert_eq!(document["problems"][0]["code"], "logbook-damaged");
    assert_eq!(document["problems"][0]["line"], 2);
    assert_eq!(document["job"], "logbook-show");
    let message = document["problems"][0]["message"].as_str().expect("text");
    assert!(message.contains("1 entry before the first of these and 2 after it can be read"), "{message}");
    let said = own.add("2026-10-05 18:30+02:00", &["recovered", "2"]);
    assert!(said.contains("gave up what cannot be read of line 2"), "{said}");
    assert!(std::fs::read_to_string(&file).expect("the logbook").starts_with(&damaged), "nothing is rewritten");
    assert!(done(&["logbook", "show", &file]).starts_with("LOGBOOK  4 entries"));
}

#[test]
fn json_keeps_to_its_schema() {
    let schemas: Value = serde_json::from_str(&done(&["schema"])).expect("JSON");
    let (logbook, bench) = (example("streptocarpus-logbook.jsonl"), example("streptocarpus.toml"));
    let own = Own::new();
    let file = own.file();
    for (schema, arguments) in [
        ("logbook-show", &["logbook", "show", &logbook, "--json"][..]),
        ("logbook-now", &["logbook", "now", &logbook, "--bench", &bench, "--json", AT[0], AT[1]]),
        ("logbook-now", &["logbook", "now", &logbook, "--json", "--at", "2026-01-01 00:00Z"]),
        ("logbook-forecast", &["logbook", "forecast", &logbook, "--bench", &bench, "--json", AT[0], AT[1]]),
        ("logbook-forecast", &["logbook", "forecast", &logbook, "--json", "--at", "2026-01-01 00:00Z"]),
        ("logbook-add", &["logbook", "add", &file, "stalks", "--json"]),
    ] {
        let document: Value = serde_json::from_str(&done(arguments)).expect("JSON");
        let validator = jsonschema::validator_for(&schemas[schema]).expect("a schema");
        let wrong: Vec<String> = validator.iter_errors(&document).map(|error| error.to_string()).collect();
        assert!(wrong.is_empty(), "{schema}: {wrong:?}");
        assert_eq!(document["job"], schema);
        for key in document.as_object().expect("an object").keys() {
            assert!(schemas[schema]["properties"].get(key).is_some(), "{schema}: `{key}` is not in the schema");
        }
    }
}

/// A table of uptake of the grower's own takes the place of the one in the program.
#[test]
fn the_table_of_uptake_can_be_replaced() {
    let own = Own::new();
    let table = own.folder.path().join("uptake.toml");
    let proportional = bloomsalt::logbook::STANDARD_UPTAKE
        .lines()
        .map(|line| match line.split_once(" = ") {
            Some((key @ ("likely" | "low"), _)) => format!("{key} = 1.0\n"),
            _ => format!("{line}\n"),
        })
        .collect::<String>();
    std::fs::write(&table, proportional).expect("written");
    let (logbook, bench) = (example("streptocarpus-logbook.jsonl"), example("streptocarpus.toml"));
    let now = ["logbook", "now", &logbook, "--bench", &bench, "--json", AT[0], AT[1]];
    let nitrogen = |arguments: &[&str]| -> f64 {
        let document: Value = serde_json::from_str(&done(arguments)).expect("JSON");
        document["elements"][0]["ppm"].as_f64().expect("a number")
    };
    let own_table = nitrogen(&[&now[..], &["--uptake", table.to_str().expect("UTF-8")]].concat());
    assert!(own_table > nitrogen(&now) + 5.0, "in proportion more nitrogen is left: {own_table}");
}
