//! The one door: requests go through JSON and back, answers and refusals keep to the schema and to what the terminal prints.

#![allow(clippy::disallowed_methods, reason = "reads the examples and writes files for the program")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use bloomsalt::ask::{MixRequest, Refusal, Request, ask};
use bloomsalt::{cli, report};
use serde_json::{Value, json};

use crate::program::bloomsalt;

fn example(name: &str) -> String {
    format!("{}/examples/{name}", env!("CARGO_MANIFEST_DIR"))
}

fn schemas() -> Value {
    serde_json::from_str(&report::schema()).expect("JSON")
}

/// A folder with a saved recipe of the starter's push.
pub(crate) fn folder() -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let recipe = folder.path().join("push.json").display().to_string();
    assert_eq!(bloomsalt(&["mix", "push", "--save", &recipe]).0, 0);
    (folder, recipe)
}

/// What can be typed for every job, with the name of its answer in the schema.
pub(crate) fn typed(recipe: &str) -> Vec<(&'static str, Vec<String>)> {
    let (bench, logbook) = (example("streptocarpus.toml"), example("streptocarpus-logbook.jsonl"));
    let cycle = example("streptocarpus-cycle.toml");
    let at = "2026-10-24 18:00+02:00";
    let new = format!("{recipe}.jsonl");
    let all: [(&str, &[&str]); 27] = [
        ("mix", &["mix", "push"]),
        (
            "mix",
            &[
                "mix",
                "growth",
                "--bench",
                &bench,
                "--tank",
                "40 L",
                "--meter-scale",
                "0.64",
                "--salts-at-most",
                "9",
                "--prefer",
                "few",
            ],
        ),
        ("mix-beside", &["mix", "weak", "--beside", "push", "--tank", "20 L"]),
        ("trade", &["mix", "push", "--trade", "N:Ca"]),
        ("check", &["check", "potassium-nitrate=14.1g", "urea=2 g", "--bench", &bench, "--against", "push"]),
        (
            "check",
            &["check", "potassium-nitrate=14.1g", "--reads", "0.4 mS/cm", "--meter-error", "0.05", "--read-at", "18 C"],
        ),
        ("check", &["check", "--recipe", recipe, "--tank", "61 L", "--meter-scale", "0.7"]),
        ("check", &["check", "--analysis", "N=88", "Ca=70", "--against", "growth"]),
        ("switch", &["switch", "push", "--holding", "growth", "--level", "50 L", "--held-back", "4 L", "--bucket", "10 L"]),
        (
            "switch",
            &["switch", "push", "--recipe", recipe, "--drain", "20 L", "--ec-step", "0.3 mS/cm", "--on", "2027-01-04"],
        ),
        ("switch", &["switch", "growth", "--logbook", &logbook, "--bench", &bench, "--at", at, "--holding-ph", "6.1"]),
        ("switch", &["switch", "push", "--holding", "growth", "--steps", "3", "--every-days", "4"]),
        ("scale", &["scale", recipe, "--to", "10 L"]),
        ("stock", &["stock", "growth", "--dose-for", "push", "--strength", "50", "--bottle", "2 L", "--coldest", "5 C"]),
        ("cycle", &["cycle", "--start", "2027-01-04", "--bench", &cycle, "--tank", "50 L"]),
        (
            "logbook-add",
            &["logbook", "add", &new, "--at", at, "filled", "potassium-nitrate=14.1g", "--volume", "60 L", "--pure"],
        ),
        ("logbook-add", &["logbook", "add", &new, "--at", at, "reading", "--ec", "1.1 mS/cm", "--level", "52 L", "--yes"]),
        ("logbook-add", &["logbook", "add", &new, "--at", at, "filled", "--recipe", recipe, "--held-back", "4 L"]),
        (
            "logbook-add",
            &[
                "logbook",
                "add",
                &new,
                "--at",
                at,
                "from",
                recipe,
                "potassium-sulfate=9g",
                "--filled",
                "59 L",
                "--held-back",
                "4 L",
            ],
        ),
        ("logbook-show", &["logbook", "show", &logbook]),
        ("logbook-now", &["logbook", "now", &logbook, "--bench", &bench, "--at", at]),
        (
            "logbook-forecast",
            &["logbook", "forecast", &logbook, "--bench", &bench, "--at", at, "--floor", "30 ppm", "--formula", "push"],
        ),
        ("today", &["today", "--logbook", &logbook, "--bench", &bench, "--at", at]),
        ("today", &["today", "--bench", &cycle, "--start", "2026-07-20", "--at", at]),
        ("top-up", &["top-up", "--logbook", &logbook, "--bench", &bench, "--at", at, "--volume", "6 L"]),
        ("salts", &["salts", "boric-acid"]),
        ("salts", &["salts", "calcium", "nitrate"]),
    ];
    all.map(|(name, typed)| (name, typed.iter().map(|word| (*word).to_owned()).collect())).into()
}

/// What no argument asks for.
fn apart() -> Vec<Request> {
    let bench = fs::read_to_string(example("streptocarpus-cycle.toml")).expect("a bench");
    let logbook = fs::read_to_string(example("streptocarpus-logbook.jsonl")).expect("a logbook");
    let first: String = logbook.split_inclusive('\n').take(3).collect();
    let all = [
        json!({ "job": "bench-read", "bench": bench }),
        json!({ "job": "bench-edit", "bench": bench, "edits": [{ "key": ["tank", "volume"], "value": "45 L" }] }),
        json!({ "job": "logbook-merge", "logbook": first, "other": logbook }),
    ];
    all.iter().map(|asked| Request::parse(&asked.to_string()).expect("a request")).collect()
}

#[test]
fn what_no_argument_asks_for_comes_back_from_json_and_keeps_to_the_schema() {
    let schemas = schemas();
    for asked in apart() {
        let written = serde_json::to_value(&asked).expect("JSON");
        assert!(jsonschema::is_valid(&schemas["request"], &written), "{written}");
        assert_eq!(Request::parse(&written.to_string()).as_ref(), Ok(&asked));
        let answer = ask(&asked).unwrap_or_else(|refusal| panic!("{refusal}"));
        let document: Value = serde_json::from_str(&report::document(&answer)).expect("JSON");
        assert_eq!(document["job"], asked.job());
        assert!(keeps_to(&schemas[asked.job()], &document, asked.job()) > 3);
    }
}

pub(crate) fn request(typed: &[String]) -> Request {
    let all = std::iter::once("bloomsalt").chain(typed.iter().map(String::as_str));
    cli::request(all).unwrap_or_else(|refused| panic!("{typed:?}: {refused}")).expect("a job")
}

/// Arguments to a request, to JSON, and to the same request; what it asks is what the terminal prints.
#[test]
fn requests_come_back_from_json_and_the_terminal_asks_the_same() {
    let (_folder, recipe) = folder();
    let schema = &schemas()["request"];
    let mut jobs = BTreeSet::new();
    for (_, typed) in typed(&recipe) {
        let asked = request(&typed);
        jobs.insert(asked.job());
        let written = serde_json::to_value(&asked).expect("JSON");
        assert_eq!(written["job"], asked.job());
        assert!(jsonschema::is_valid(schema, &written), "{typed:?}");
        assert_eq!(Request::parse(&written.to_string()).as_ref(), Ok(&asked), "{typed:?}");
        let answer = ask(&asked).unwrap_or_else(|refusal| panic!("{typed:?}: {refusal}"));
        let mut words: Vec<&str> = typed.iter().map(String::as_str).collect();
        words.push("--json");
        // a logbook of its own for every entry
        let _ = fs::remove_file(format!("{recipe}.jsonl"));
        assert_eq!(bloomsalt(&words), (0, report::document(&answer), String::new()), "{typed:?}");
    }
    let known = schema["oneOf"].as_array().expect("jobs").iter().map(|of| of["properties"]["job"]["const"].as_str());
    // the terminal asks for the answers to `new` one by one (`tests/new_bench.rs`), and never for those of `apart`
    jobs.insert("new");
    jobs.extend(apart().iter().map(Request::job));
    assert_eq!(jobs, known.map(|job| job.expect("a name")).collect(), "every job of the schema is asked for here");
}

#[test]
fn requests_are_closed() {
    let schema = &schemas()["request"];
    for (wrong, says) in [
        (json!({ "job": "mixx", "formula": "push" }), "unknown variant `mixx`"),
        (json!({ "job": "mix" }), "missing field `formula`"),
        (json!({ "job": "mix", "formula": "push", "bnech": null }), "unknown field `bnech`"),
        (json!({ "job": "mix", "formula": "push", "prefer": "dear" }), "unknown variant `dear`"),
        (json!({ "job": "mix", "formula": "push", "meter_scale": "0.6" }), "unknown variant `0.6`"),
        (json!({ "job": "mix", "formula": "push", "tank": 60 }), "invalid type"),
        (json!({ "formula": "push" }), "missing field `job`"),
        (json!([]), "that is no request"),
    ] {
        let refusal = Request::parse(&wrong.to_string()).expect_err("refused");
        assert_eq!((refusal.status, refusal.problems[0].code.as_str()), (2, "request"));
        assert!(refusal.problems[0].message.contains(says), "{refusal}");
        assert!(!jsonschema::is_valid(schema, &wrong), "{wrong}");
    }
    let plain = Request::parse(r#"{ "job": "mix", "bench": null, "formula": "push" }"#);
    assert_eq!(plain, Ok(Request::Mix(MixRequest { formula: "push".to_owned(), ..MixRequest::default() })));
}

/// Keys whose entries are whatever there is: nutrients, salts, temperatures.
const MAPS: [&str; 10] = [
    "codes",
    "written",
    "analysis_percent",
    "nutrients_percent",
    "species_mol_kg",
    "soluble_at_least_g_l",
    "water_ppm",
    "salts_g",
    "ppm",
    "mg",
];
/// Keys that are there on demand, or of one kind of entry of a logbook alone.
const AT_TIMES: [&str; 14] = [
    "into",
    "recipe",
    "figures",
    "logbook_torn",
    "held_back_l",
    "formula",
    "hold_at_most_days",
    "salts_g",
    "why",
    "level_after_l",
    "ec_ms_cm",
    "ph",
    "temperature_c",
    "level_l",
];

/// Keys of objects that were looked at: where they stand whatever their number in a list, and with which keys beside them.
type Seen = BTreeSet<(String, Vec<String>)>;

/// The place of every key that has to be there; of objects of a list that have the same keys, those of the first.
fn places(value: &Value, (path, shape): (&str, &str), entry: bool, seen: &mut Seen, found: &mut Vec<(String, String)>) {
    match value {
        Value::Object(keys) => {
            let entry = entry || keys.contains_key("event");
            let new = seen.insert((shape.to_owned(), keys.keys().cloned().collect()));
            for (key, inner) in keys {
                let at_times = AT_TIMES.contains(&key.as_str()) && (entry || AT_TIMES[..3].contains(&key.as_str()));
                if new && !at_times {
                    found.push((path.to_owned(), key.clone()));
                }
                if !(MAPS.contains(&key.as_str()) && inner.is_object()) {
                    places(inner, (&format!("{path}/{key}"), &format!("{shape}/{key}")), entry, seen, found);
                }
            }
        }
        Value::Array(items) => {
            for (at, item) in items.iter().enumerate() {
                places(item, (&format!("{path}/{at}"), &format!("{shape}/*")), entry, seen, found);
            }
        }
        _ => {}
    }
}

/// A document keeps to its schema, and does not without any one key of it.
fn keeps_to(schema: &Value, document: &Value, what: &str) -> usize {
    let validator = jsonschema::validator_for(schema).expect(what);
    assert!(validator.is_valid(document), "{what}: {:?}", validator.iter_errors(document).next().map(|e| e.to_string()));
    let mut found = Vec::new();
    places(document, ("", ""), false, &mut Seen::new(), &mut found);
    let mut without = document.clone();
    for (path, key) in &found {
        let object = without.pointer_mut(path).and_then(Value::as_object_mut).expect("an object");
        let taken = object.remove(key).expect("there");
        assert!(!validator.is_valid(&without), "{what}: {path}/{key} may be missing");
        without.pointer_mut(path).and_then(Value::as_object_mut).expect("an object").insert(key.clone(), taken);
    }
    found.len()
}

#[test]
fn answers_keep_to_the_schema_and_no_key_can_be_missing() {
    let (_folder, recipe) = folder();
    let schemas = schemas();
    let new = json!({ "job": "new", "tank": "60 L", "water": { "from": "tap", "report": ["Ca=40"] }, "scales": ["0.1 g"] });
    let typed = typed(&recipe).into_iter().map(|(name, typed)| (name, serde_json::to_value(request(&typed)).expect("JSON")));
    let mut jobs = BTreeSet::new();
    for (name, mut written) in typed.chain([("new", new)]) {
        jobs.insert(name);
        if let ("mix" | "check" | "scale" | "today", Some(asked)) = (name, written.as_object_mut()) {
            asked.insert("also".to_owned(), json!(["recipe", "figures"]));
        } else if let ("switch" | "top-up", Some(asked)) = (name, written.as_object_mut()) {
            asked.insert("also".to_owned(), json!(["recipe", "figures"]));
        } else if let ("logbook-forecast", Some(asked)) = (name, written.as_object_mut()) {
            asked.insert("also".to_owned(), json!(["recipe"]));
        } else if let ("stock" | "cycle", Some(asked)) = (name, written.as_object_mut()) {
            asked.insert("also".to_owned(), json!(["figures"]));
        }
        let with = Request::parse(&written.to_string()).expect("a request");
        let answer = ask(&with).unwrap_or_else(|refusal| panic!("{written}: {refusal}"));
        let document: Value = serde_json::from_str(&report::document(&answer)).expect("JSON");
        let figures = written.get("also").is_some_and(|also| *also != json!(["recipe"]));
        assert_eq!(document.get("figures").is_some(), figures, "{written}");
        assert!(keeps_to(&schemas[name], &document, name) > 3);
        if let Some(recipe) = document.get("recipe") {
            keeps_to(&schemas["recipe"], recipe, "recipe");
        }
    }
    let known = schemas.as_object().expect("schemas").keys().map(String::as_str);
    // what no argument asks for is looked at by itself
    let apart = ["request", "refusal", "recipe", "bench-read", "bench-edit", "logbook-merge"];
    assert_eq!(jobs, known.filter(|name| !apart.contains(name)).collect());
}

/// Arguments that are refused, each in a way of its own; files of them stand in the folder.
pub(crate) fn refused(folder: &Path) -> Vec<Vec<String>> {
    let write = |name: &str, text: &str| {
        let path = folder.join(name);
        fs::write(&path, text).expect("written");
        path.display().to_string()
    };
    let bench = |name: &str, shelf: &str, formula: &str| {
        write(name, &format!("[tank]\nvolume = \"60 L\"\n[shelf]\n{shelf}\n[formula.growth]\n{formula}\n"))
    };
    let conflict =
        bench("conflict.toml", "calcium-nitrate-tetrahydrate = {}", "Ca = { min = 75 }\nN = { target = 20, max = 36 }");
    let nothing = bench("nothing.toml", "sodium-chloride = {}", "N = 90");
    let twice = write("twice.toml", "[tank]\nvolume = \"60\"\n[shelf]\ncalcium-nitrate = {}\n");
    let no_toml = write("no.toml", "[tank\n");
    let no_recipe = write("no.json", "{ }");
    let damaged = write("damaged.jsonl", "what\nis\nthis\n");
    let uptake = write("uptake.toml", "[[uptake]]\nnutrient = \"Xx\"\n");
    let logbook = example("streptocarpus-logbook.jsonl");
    let at = "2026-10-24 18:00+02:00";
    let all: [&[&str]; 26] = [
        &["mix", "psh"],
        &["mix", "growth", "--bench", &conflict],
        &["mix", "growth", "--bench", &nothing],
        &["mix", "growth", "--bench", &twice],
        &["mix", "growth", "--bench", &no_toml],
        &["mix", "growth", "--bench", "nowhere.toml"],
        &["mix", "growth", "--tank", "60"],
        &["mix", "growth", "--prefer", "cheap"],
        &["mix", "growth", "--trade", "N:N"],
        &["mix", "growth", "--trade", "N:Xx"],
        &["check", "urea=1"],
        &["check", "urea=1g", "urea=2g"],
        &["check", "uera=1g"],
        &["check", "urea=1mL"],
        &["check", "sodium-chloride=3kg", "--tank", "10 L"],
        &["check", "urea=1g", "--reads", "1 mS/cm", "--meter-error", "2"],
        &["check", "--analysis", "Xx=3"],
        &["check", "--recipe", &no_recipe],
        &["switch", "push"],
        &["switch", "push", "--holding", "growth", "--held-back", "4"],
        &["switch", "push", "--holding", "growth", "--level", "90 L"],
        &["switch", "push", "--logbook", &damaged, "--at", at],
        &["logbook", "now", &logbook, "--uptake", &uptake, "--at", at],
        &["cycle", "--start", "2027-13-04"],
        &["stock", "growth", "--strength", "1"],
        &["salts", "borik"],
    ];
    all.map(|typed| typed.iter().map(|word| (*word).to_owned()).collect()).into()
}

/// What is said, without the drawing around it.
fn bare(text: &str) -> String {
    text.chars().filter(|letter| !letter.is_whitespace() && *letter != '|').collect()
}

#[test]
fn refusals_keep_to_the_schema_and_say_what_the_text_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let schema = &schemas()["refusal"];
    for typed in refused(folder.path()) {
        let mut words: Vec<&str> = typed.iter().map(String::as_str).collect();
        words.push("--json");
        let (status, out, err) = bloomsalt(&words);
        let document: Value = serde_json::from_str(&out).expect("one document");
        keeps_to(schema, &document, &typed.join(" "));
        let refusal: Refusal = serde_json::from_value(document).expect("a refusal");
        assert_eq!(status, refusal.status, "{typed:?}");
        let told = err.lines().filter(|line| line.starts_with("error: ")).count();
        assert_eq!(told, refusal.problems.len(), "{err}");
        for problem in &refusal.problems {
            assert!(bare(&err).contains(&bare(&problem.message)), "{typed:?}: {} in {err}", problem.message);
            assert!(problem.help.as_ref().is_none_or(|help| bare(&err).contains(&bare(help))), "{typed:?}: {err}");
            assert!(problem.file.as_ref().is_none_or(|file| err.contains(file)), "{typed:?}: {err}");
        }
        assert_eq!(err.matches("help:").count(), refusal.problems.iter().filter(|of| of.help.is_some()).count(), "{err}");
        for limit in &refusal.conflict {
            assert!(err.contains(&limit.words), "{err}");
        }
        // the library alone says the same, but for the names of files and options
        let all = std::iter::once("bloomsalt").chain(typed.iter().map(String::as_str));
        if let Ok(Some(asked)) = cli::request(all) {
            let plain = report::document(&ask(&asked).expect_err("refused as well"));
            let plain: Refusal = serde_json::from_str(&plain).expect("a refusal");
            assert_eq!((plain.status, plain.problems.len()), (refusal.status, refusal.problems.len()), "{typed:?}");
            assert_eq!(plain.conflict, refusal.conflict);
            let said = bare(&plain.to_string());
            for problem in &plain.problems {
                assert!(said.contains(&bare(&problem.message)), "{typed:?}: {said}");
                assert!(problem.help.as_ref().is_none_or(|help| said.contains(&bare(help))), "{typed:?}: {said}");
            }
            let codes = |of: &Refusal| of.problems.iter().map(|problem| problem.code.clone()).collect::<Vec<_>>();
            assert_eq!(codes(&plain), codes(&refusal));
        }
    }
}

#[test]
fn a_refusal_names_every_mistake_with_its_place() {
    let bench = "[tank]\nvolume = \"60\"\n[shelf]\ncalcium-nitrate = {}\n";
    let asked = json!({ "job": "mix", "formula": "growth", "bench": bench });
    let refusal = ask(&Request::parse(&asked.to_string()).expect("a request")).expect_err("refused");
    let [volume, salt] = &refusal.problems[..] else { panic!("{refusal}") };
    assert_eq!(
        (volume.file.as_deref(), volume.line, volume.key.as_deref()),
        (Some("bench"), Some(2), Some("[tank] volume"))
    );
    assert_eq!((volume.read.as_deref(), volume.span), (Some("\"60\""), Some((16, 20))));
    assert!(volume.allowed.as_ref().is_some_and(|allowed| allowed.contains("imp gal")), "{volume:?}");
    assert_eq!((salt.line, salt.read.as_deref()), (Some(4), Some("calcium-nitrate")));
    assert_eq!(salt.help.as_deref(), Some("did you mean `calcium-nitrate-tetrahydrate`?"));
    let asked = json!({ "job": "mix", "formula": "growth", "tank": "60 galon" });
    let refusal = ask(&Request::parse(&asked.to_string()).expect("a request")).expect_err("refused");
    let tank = &refusal.problems[0];
    assert_eq!(
        (tank.code.as_str(), tank.key.as_deref(), tank.read.as_deref()),
        ("quantity", Some("tank"), Some("60 galon"))
    );
    assert!(tank.message.starts_with("`tank` reads \"60 galon\""), "{tank:?}");
}

/// Requests that arguments cannot make.
#[test]
fn what_does_not_go_together_is_refused() {
    for (asked, says) in [
        (json!({ "job": "check" }), "nothing is known"),
        (json!({ "job": "check", "added": ["urea=1g"], "analysis": ["N=1"] }), "said twice"),
        (json!({ "job": "check", "analysis": ["N=1"], "reads": "1 mS/cm" }), "predicts no reading"),
        (json!({ "job": "check", "added": ["urea=1g"], "read_at": "18 C" }), "go with `reads`"),
        (json!({ "job": "switch", "formula": "push", "holding": "growth", "analysis": ["N=1"] }), "said twice"),
        (
            json!({ "job": "switch", "formula": "push", "holding": "growth", "bucket": "9 L", "drain": "9 L" }),
            "does not go with",
        ),
        (
            json!({ "job": "switch", "formula": "push", "holding": "growth", "now": "2026-10-03 18:30+02:00" }),
            "goes with a logbook",
        ),
        (
            json!({ "job": "switch", "formula": "push", "holding": "growth", "also": ["remedy"] }),
            "`remedy` goes with `check`",
        ),
        (json!({ "job": "check", "added": ["urea=1g"], "also": ["remedy"] }), "goes with `against`"),
        (json!({ "job": "check", "added": ["urea=1g"], "against": "growth", "also": ["recipe", "remedy"] }), "one recipe"),
        (json!({ "job": "switch", "formula": "push", "logbook": "" }), "`now` is missing"),
        (json!({ "job": "stock", "formula": "push", "also": ["recipe"] }), "no recipe"),
        (json!({ "job": "cycle", "start": "2027-01-04", "first_open": "2027-W10" }), "one of `start` and `first_open`"),
        (json!({ "job": "mix", "formula": "push", "salts_at_most": 0 }), "a whole number from 1"),
    ] {
        let refusal = ask(&Request::parse(&asked.to_string()).expect("a request")).expect_err("refused");
        assert_eq!(refusal.status, 2, "{asked}");
        assert!(refusal.problems[0].message.contains(says), "{asked}: {refusal}");
        assert_eq!(refusal.job, asked["job"].as_str().expect("a job"));
    }
}

#[test]
fn a_batch_answers_every_line_in_order() {
    let mix = |tank: usize| json!({ "job": "mix", "formula": "push", "tank": format!("{tank} L") }).to_string();
    let mut lines: Vec<String> = (20..60).map(mix).collect();
    lines.insert(3, "{ \"job\": \"mix\", \"formula\": \"psh\" }".to_owned());
    lines.insert(9, "not JSON".to_owned());
    lines.insert(17, String::new());
    let mut out = Vec::new();
    cli::batch(&mut lines.join("\n").as_bytes(), &mut out).expect("written");
    let out = String::from_utf8(out).expect("UTF-8");
    let answers: Vec<Value> = out.lines().map(|line| serde_json::from_str(line).expect("one document a line")).collect();
    assert_eq!(answers.len(), lines.len());
    for (at, (asked, answer)) in lines.iter().zip(&answers).enumerate() {
        if [3, 9, 17].contains(&at) {
            let code = if at == 3 { "unknown-formula" } else { "request" };
            assert_eq!((&answer["status"], &answer["problems"][0]["code"]), (&json!(2), &json!(code)));
        } else {
            let alone = ask(&Request::parse(asked).expect("a request")).expect("answered");
            assert_eq!(*answer, serde_json::from_str::<Value>(&report::document(&alone)).expect("JSON"));
        }
    }
    let mut not_text = Vec::new();
    cli::batch(&mut &b"\xff\xfe\n"[..], &mut not_text).expect("written");
    assert!(String::from_utf8_lossy(&not_text).contains("not UTF-8"));
}

/// Whatever stands in the part stands in the whole; of a list the beginning.
fn within(part: &Value, whole: &Value) -> bool {
    match (part, whole) {
        (Value::Object(part), Value::Object(whole)) => {
            part.iter().all(|(key, value)| whole.get(key).is_some_and(|whole| within(value, whole)))
        }
        (Value::Array(part), Value::Array(whole)) => {
            part.len() <= whole.len() && part.iter().zip(whole).all(|(part, whole)| within(part, whole))
        }
        _ => part == whole,
    }
}

/// Every request on a page, and what of its answer stands below it.
#[test]
fn the_pages_show_what_is_answered() {
    shows_what_is_answered("docs/ask.md", 6);
    shows_what_is_answered("README.md", 2);
}

fn shows_what_is_answered(page: &str, at_least: usize) {
    let page = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(page);
    let text = fs::read_to_string(page).expect("the page");
    let blocks: Vec<Value> = text
        .split("```json\n")
        .skip(1)
        .filter_map(|rest| rest.split("```").next())
        .map(|block| serde_json::from_str(block).unwrap_or_else(|error| panic!("{error}: {block}")))
        .collect();
    assert!(blocks.len() >= at_least && blocks.len().is_multiple_of(2));
    for pair in blocks.chunks(2) {
        let said = match Request::parse(&pair[0].to_string()).and_then(|request| ask(&request)) {
            Ok(answer) => report::document(&answer),
            Err(refusal) => report::document(&refusal),
        };
        let said: Value = serde_json::from_str(&said).expect("JSON");
        assert!(within(&pair[1], &said), "{}\nis not what is answered:\n{said:#}", pair[1]);
    }
}
