//! An entry that looks like a slip is asked back, and stands when it is confirmed.

#![allow(clippy::disallowed_methods, reason = "reads the files that the program writes")]

use bloomsalt::ask::{Request, ask};
use serde_json::{Value, json};

use crate::program::{bloomsalt, done};

const FILLED: &str = "2026-10-03 08:00+02:00";

fn request(logbook: &str, now: &str, entry: &Value, confirmed: Option<bool>) -> Request {
    let mut asked = json!({ "job": "logbook-add", "logbook": logbook, "now": now, "entry": entry });
    if let Some(confirmed) = confirmed {
        asked["confirmed"] = json!(confirmed);
    }
    Request::parse(&asked.to_string()).expect("a request")
}

/// What is appended, or what is asked: its words and what may have slipped.
fn add(logbook: &str, now: &str, entry: &Value, confirmed: Option<bool>) -> Result<String, Vec<(String, String)>> {
    match ask(&request(logbook, now, entry, confirmed)) {
        Ok(answer) => {
            let document: Value = serde_json::from_str(&bloomsalt::report::document(&answer)).expect("JSON");
            Ok(document["append"].as_str().expect("a text").to_owned())
        }
        Err(refusal) => {
            assert_eq!((refusal.status, refusal.job.as_str()), (2, "logbook-add"));
            let asked = refusal.problems.iter().map(|problem| {
                assert_eq!((problem.code.as_str(), problem.key.as_deref()), ("confirm", Some("confirmed")), "{refusal}");
                (problem.message.clone(), problem.help.clone().unwrap_or_default())
            });
            Err(asked.collect())
        }
    }
}

/// 60 L of potassium nitrate alone: 1 g/L of it reads about 1.3 mS/cm.
fn logbook() -> String {
    let entry = json!({ "event": "filled", "volume": "60 L", "added": ["potassium-nitrate=60g"], "pure": true });
    add("", FILLED, &entry, None).expect("a filling is never asked back")
}

#[test]
fn a_slip_is_asked_back_with_what_it_may_be() {
    let book = logbook();
    let later = "2026-10-03 09:00+02:00";
    for (entry, odd, slip) in [
        (json!({ "event": "reading", "ec": "13.5 mS/cm" }), "reads EC 13.50", "It may be a decimal point"),
        (json!({ "event": "reading", "ec": "2.4 mS/cm" }), "more than 15 % apart", "Volume off, a salt left out or doubled"),
        (json!({ "event": "reading", "level": "580 L" }), "puts the level at 580.0 L", "a decimal point"),
        (json!({ "event": "reading", "level": "60 gal" }), "puts the level at 227.1 L", "gallons stated for litres"),
        (json!({ "event": "reading", "level": "66 L" }), "60.0 L at the most", "Enter the water that went in"),
        (json!({ "event": "drained", "volume": "75 L" }), "60.0 L could be drained", "not entered"),
        (json!({ "event": "topped-up", "volume": "5 L", "to": "75 L" }), "puts the level at 70.0 L", "Enter the water"),
    ] {
        let asked = add(&book, later, &entry, None).expect_err("asked back");
        let [(message, help)] = &asked[..] else { panic!("{entry}: {asked:?}") };
        assert!(message.starts_with("nothing is written yet: entry 2") && message.ends_with("Is it as it was typed?"));
        assert!(message.contains(odd) && help.contains(slip), "{entry}: {message} {help}");
        assert_eq!(add(&book, later, &entry, Some(false)), Err(asked));
        // as it stands: the entry that would have been written in the first place
        let append = add(&book, later, &entry, Some(true)).expect("confirmed");
        let line: Value = serde_json::from_str(&append).expect("one line");
        assert_eq!((&line["entry"], &line["event"]), (&json!(2), &entry["event"]));
        // and it is not asked back for ever: the next entry is judged for itself
        let note = json!({ "event": "note", "text": "looked again" });
        assert!(add(&format!("{book}{append}"), later, &note, None).is_ok());
    }
    let nothing_filled = json!({ "event": "drained", "volume": "5 L" });
    let asked = add("", FILLED, &nothing_filled, None).expect_err("asked back");
    assert!(asked[0].0.contains("a tank that no earlier entry fills"), "{asked:?}");
    // two things may be odd at once
    let both = json!({ "event": "reading", "ec": "13.5 mS/cm", "level": "580 L" });
    assert_eq!(add(&book, later, &both, None).expect_err("asked back").len(), 2);
}

#[test]
fn what_is_usual_is_not_asked_back() {
    let mut book = logbook();
    for (now, entry) in [
        ("2026-10-03 09:00+02:00", json!({ "event": "reading", "ec": "1.3 mS/cm", "ph": "6.1", "level": "60 L" })),
        ("2026-10-06 09:00+02:00", json!({ "event": "reading", "ec": "1.25 mS/cm", "level": "52 L" })),
        ("2026-10-06 09:05+02:00", json!({ "event": "topped-up", "volume": "8 L", "to": "60 L", "pure": true })),
        ("2026-10-07 09:00+02:00", json!({ "event": "drained", "volume": "20 L" })),
        ("2026-10-07 09:10+02:00", json!({ "event": "added", "added": ["potassium-nitrate=14.1g"] })),
        ("2026-10-07 09:20+02:00", json!({ "event": "phase", "name": "push" })),
        ("2026-10-07 09:30+02:00", json!({ "event": "stalks" })),
        ("2026-10-08 09:30+02:00", json!({ "event": "void", "entry": 2 })),
    ] {
        let append = add(&book, now, &entry, None).unwrap_or_else(|asked| panic!("{entry}: {asked:?}"));
        book.push_str(&append);
    }
}

#[test]
fn the_request_comes_back_from_json() {
    for confirmed in [None, Some(false), Some(true)] {
        let asked = request("", FILLED, &json!({ "event": "stalks" }), confirmed);
        let written = serde_json::to_string(&asked).expect("JSON");
        assert_eq!(Request::parse(&written), Ok(asked));
    }
    let typed = ["bloomsalt", "logbook", "add", "x.jsonl", "--yes", "--at", FILLED, "stalks"];
    let Ok(Some(Request::LogbookAdd(asked))) = bloomsalt::cli::request(typed) else { panic!("a request") };
    assert!(asked.confirmed);
}

#[test]
fn the_terminal_asks_back_and_writes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("tank.jsonl").display().to_string();
    let drained = ["logbook", "add", &file, "--at", "2026-10-03 12:00+02:00", "drained", "--volume", "600 L"];
    let (status, out, err) = bloomsalt(&drained);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("no earlier entry fills") && err.contains("add `--yes`"), "{err}");
    assert!(!std::path::Path::new(&file).exists(), "an entry that is asked back makes no file");
    done(&["logbook", "add", &file, "--at", FILLED, "filled", "potassium-nitrate=60g", "--volume", "60 L"]);
    let before = std::fs::read(&file).expect("a logbook");
    let (status, out, err) = bloomsalt(&[&drained[..], &["--json"]].concat());
    assert_eq!((status, std::fs::read(&file).expect("a logbook")), (2, before.clone()));
    let refusal: Value = serde_json::from_str(&out).expect("a refusal");
    assert_eq!(refusal["problems"][0]["code"], "confirm");
    assert!(err.contains("drains 600.0 L, but 60.0 L could be drained") && err.contains("a decimal point"), "{err}");
    let told = done(&[&drained[..], &["--yes"]].concat());
    assert!(told.starts_with("Entry 2, 2026-10-03 12:00 +02:00: drained 600 L"), "{told}");
    assert!(std::fs::read(&file).expect("a logbook").starts_with(&before));
}

/// Nitric acid of 60 % at 1.367 g/mL (CRC Handbook) is 13.0 mol/L: 13 mL in 60 L are 2.8 meq/L, which 30 g of bicarbonate take up,
/// and ten times as much leave over 20.
#[test]
fn acid_that_nothing_takes_up_is_asked_back() {
    let salts = json!(["potassium-nitrate=60g", "potassium-bicarbonate=30g"]);
    let entry = json!({ "event": "filled", "volume": "60 L", "added": salts, "pure": true });
    let book = add("", FILLED, &entry, None).expect("a filling is never asked back");
    let acid = |ml: &str| json!({ "event": "added", "added": [format!("nitric-acid-60={ml}mL")] });
    let at = "2026-10-03 09:00+02:00";
    add(&book, at, &acid("13"), None).expect("taken up");
    let asked = add(&book, at, &acid("130"), None).expect_err("asked back");
    let [(message, help)] = &asked[..] else { panic!("{asked:?}") };
    assert!(message.contains("23.") && message.contains("pH under 3") && help.contains("decimal point"), "{message} {help}");
    add(&book, at, &acid("130"), Some(true)).expect("confirmed");
}

/// The same weights within a day are one job entered twice, or two: that is asked. A day later they are the next job.
#[test]
fn what_is_booked_twice_is_asked_back() {
    let book = logbook();
    let again = json!({ "event": "filled", "volume": "60 L", "added": ["potassium-nitrate=60g"], "pure": true });
    let asked = add(&book, "2026-10-03 08:05+02:00", &again, None).expect_err("asked back");
    assert!(asked[0].0.contains("entry 1, 5 minutes before it, has the same weights already"), "{asked:?}");
    assert!(add(&book, "2026-10-03 08:05+02:00", &again, Some(true)).is_ok());
    assert!(add(&book, "2026-10-04 08:05+02:00", &again, None).is_ok());
    let other = json!({ "event": "filled", "volume": "60 L", "added": ["potassium-nitrate=61g"], "pure": true });
    assert!(add(&book, "2026-10-03 08:05+02:00", &other, None).is_ok());
}

/// What was really weighed is asked back where it is far from the recipe, and is not where it differs as hands differ.
#[test]
fn weights_far_from_the_recipe_are_asked_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let recipe = folder.path().join("push.json");
    done(&["mix", "push", "--save", &recipe.display().to_string()]);
    let recipe = std::fs::read_to_string(recipe).expect("a recipe");
    let from = |weighed: &str| json!({ "event": "from", "recipe": recipe, "weighed": [weighed] });
    for (weighed, odd) in [("potassium-sulfate=140g", "is 10.0 times"), ("potassium-sulfate=1.4g", "is 0.10 times")] {
        let asked = add("", FILLED, &from(weighed), None).expect_err("asked back");
        assert!(asked.iter().any(|(words, _)| words.contains(odd)), "{asked:?}");
        assert!(add("", FILLED, &from(weighed), Some(true)).is_ok());
    }
    for weighed in ["potassium-sulfate=15g", "potassium-sulfate=0g", "potassium-sulfate=40g"] {
        assert!(add("", FILLED, &from(weighed), None).is_ok(), "{weighed}");
    }
}

/// Where the logbook knows the level, the level after filling up says how much went in.
#[test]
fn filling_up_to_a_level_needs_no_subtraction() {
    let mut book = logbook();
    let read = json!({ "event": "reading", "level": "52.5 L" });
    book += &add(&book, "2026-10-06 09:00+02:00", &read, None).expect("written");
    let up = json!({ "event": "topped-up", "to": "60 L", "pure": true });
    let line: Value =
        serde_json::from_str(&add(&book, "2026-10-06 09:05+02:00", &up, None).expect("written")).expect("a line");
    let (went_in, after) = (line["volume_l"].as_f64().expect("litres"), line["level_after_l"].as_f64());
    // what evaporates in five minutes at 7.5 L in three days is 9 mL
    assert!((went_in - 7.5).abs() < 0.02 && after == Some(60.0), "{line}");
    let low = json!({ "event": "topped-up", "to": "40 L" });
    let refused = ask(&request(&book, "2026-10-06 09:05+02:00", &low, None)).expect_err("refused");
    assert!(refused.to_string().contains("the level is 52.5 L already"), "{refused}");
}
