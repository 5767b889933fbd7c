//! An entry that looks like a slip is asked back, and stands when it is confirmed.

#![allow(clippy::disallowed_methods, reason = "reads the files that the program writes")]

use bloomsalt::ask::{Request, ask};
use bloomsalt::bench::STARTER;
use bloomsalt::logbook::Moment;
use serde_json::{Value, json};

use crate::program::{bloomsalt, done};
use crate::random::Random;

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

/// The same weights within a day are one job entered twice, or two: that is asked. A day later they are the next job, of a filling
/// four days later.
/// From memory: urea and nitric acid never meet.
#[test]
fn nitric_acid_into_urea_is_asked_back() {
    let filled = |salt: &str| {
        let entry = json!({ "event": "filled", "volume": "60 L", "added": [format!("{salt}=20g")], "pure": true });
        add("", FILLED, &entry, None).expect("filled")
    };
    let nitric = json!({ "event": "added", "added": ["nitric-acid-38=3g"] });
    let bench = "[tank]\nvolume = \"60 L\"\n[shelf]\nurea = {}\nnitric-acid-38 = {}\n";
    let asked = add_on(bench, &filled("urea"), "2026-10-03 09:00+02:00", &nitric).expect_err("asked back");
    assert!(asked.contains("must never meet"), "{asked}");
    let other = add_on(bench, &filled("potassium-nitrate"), "2026-10-03 09:00+02:00", &nitric);
    assert!(other.as_ref().err().is_none_or(|asked| !asked.contains("must never meet")), "{other:?}");
}

#[test]
fn what_is_booked_twice_is_asked_back() {
    let book = logbook();
    let again = json!({ "event": "filled", "volume": "60 L", "added": ["potassium-nitrate=60g"], "pure": true });
    let asked = add(&book, "2026-10-03 08:05+02:00", &again, None).expect_err("asked back");
    assert!(asked[0].0.contains("entry 1, 5 minutes before it, has the same weights already"), "{asked:?}");
    assert!(add(&book, "2026-10-03 08:05+02:00", &again, Some(true)).is_ok());
    // a tank is not filled anew with the same on the next days, unless it was emptied
    let asked = add(&book, "2026-10-06 08:05+02:00", &again, None).expect_err("asked back");
    assert!(asked[0].0.contains("entry 1, 3 days before it, has the same weights already"), "{asked:?}");
    let let_out = |volume: &str| {
        let drained = json!({ "event": "drained", "volume": volume });
        let append = add(&book, "2026-10-06 08:00+02:00", &drained, None).expect("a drain");
        add(&format!("{book}{append}"), "2026-10-06 08:05+02:00", &again, None)
    };
    assert!(let_out("20 L").is_err() && let_out("50 L").is_ok());
    assert!(add(&book, "2026-10-07 08:05+02:00", &again, None).is_ok());
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

const FULL_L: [f64; 5] = [12.0, 40.0, 60.0, 110.0, 400.0];

fn at(days: f64) -> String {
    Moment::parse(FILLED).expect("a moment").plus_days(days).to_string()
}

fn of_bench(job: &str, bench: &str, book: &str, now: &str, more: &Value) -> Value {
    let mut asked = json!({ "job": job, "bench": bench, "now": now });
    asked.as_object_mut().expect("a map").extend(more.as_object().expect("a map").clone());
    if job == "today" {
        asked["logbooks"] = json!([book]);
    } else if job != "mix" {
        asked["logbook"] = json!(book);
    }
    if job == "mix" {
        asked.as_object_mut().expect("a map").remove("now");
    }
    let answer = ask(&Request::parse(&asked.to_string()).expect("a request"))
        .unwrap_or_else(|refusal| panic!("{job} at {now}: {refusal}"));
    serde_json::from_str(&bloomsalt::report::document(&answer)).expect("JSON")
}

/// What is appended, or what is asked, with the bench of the tank.
fn add_on(bench: &str, book: &str, now: &str, entry: &Value) -> Result<String, String> {
    let asked = json!({ "job": "logbook-add", "bench": bench, "logbook": book, "now": now, "entry": entry });
    match ask(&Request::parse(&asked.to_string()).expect("a request")) {
        Ok(answer) => {
            let document: Value = serde_json::from_str(&bloomsalt::report::document(&answer)).expect("JSON");
            Ok(document["append"].as_str().expect("a text").to_owned())
        }
        Err(refusal) => {
            assert!(refusal.problems.iter().all(|problem| problem.code == "confirm"), "{entry}: {refusal}");
            Err(refusal.to_string())
        }
    }
}

/// A tank over some weeks, as it goes: it loses water and salts at a pace of its own, is read now and then, filled up by hand or
/// by what `today` tells, partly drained, turned over. None of it is asked back; at any of these moments every slip is.
#[test]
fn what_no_grower_means_is_asked_back_and_nothing_else() {
    let mut random = Random(15);
    let mut told = 0;
    for full in FULL_L.into_iter().cycle().take(10) {
        let bench = STARTER
            .replacen("volume = \"60 L\"", &format!("volume = \"{full} L\""), 1)
            .replacen("plus_minus = \"1 L\"", &format!("plus_minus = \"{} L\"", full / 60.0), 1)
            .replacen("potassium-nitrate = {}", &format!("potassium-nitrate = {{ on_hand = \"{} g\" }}", full * 4.0), 1);
        let recipe = |of: &str, book: &str, now: &str| {
            of_bench("mix", &bench, book, now, &json!({ "formula": of, "also": ["recipe"] }))
        };
        let growth = recipe("growth", "", FILLED)["recipe"].to_string();
        let push = recipe("push", "", FILLED)["recipe"].to_string();
        let mut book = add_on(&bench, "", FILLED, &json!({ "event": "from", "recipe": growth })).expect("a filling");
        let (lost, taken) = (full * random.between(0.002, 0.03), random.between(0.0, 0.03));
        let (mut day, mut level) = (0.02, full);
        let mut since = 0.02;
        for visit in 0..6 {
            level -= lost * since;
            let now = at(day);
            let read = of_bench("logbook-now", &bench, &book, &now, &json!({}));
            let ec = read["ec_ms_cm"]["likely"].as_f64().expect("an EC");
            let ec = ec * libm::exp(-taken * since * if visit > 2 { 0.2 } else { 1.0 }) * random.between(0.985, 1.015);
            let [shown_l, shown] = [format!("{level:.2} L"), format!("{ec:.2} mS/cm")];
            let usual = json!({ "event": "reading", "level": shown_l, "ec": shown });
            // what a tired hand writes
            if visit > 0 {
                for slip in [
                    json!({ "event": "reading", "level": format!("{:.2} L", level / 10.0) }),
                    json!({ "event": "reading", "level": format!("{:.2} L", level * 10.0) }),
                    json!({ "event": "reading", "level": format!("{:.2} L", level * 0.3) }),
                    json!({ "event": "reading", "ec": format!("{:.3} mS/cm", ec / 10.0) }),
                    json!({ "event": "reading", "ec": format!("{:.3} mS/cm", ec * 10.0) }),
                    json!({ "event": "reading", "ec": format!("{:.3} mS/cm", ec * 0.5) }),
                    json!({ "event": "reading", "ec": format!("{:.3} mS/cm", ec * 0.64) }),
                    json!({ "event": "added", "added": ["potassium-nitrate=20kg"] }),
                    json!({ "event": "added", "added": [format!("potassium-nitrate={:.0}g", full * 4.3)] }),
                    json!({ "event": "added", "added": [format!("calcium-nitrate-tetrahydrate={:.0}g", full * 5.5)] }),
                    json!({ "event": "added", "added": [format!("boric-acid={:.1}g", full * 0.03)] }),
                    json!({ "event": "topped-up", "volume": format!("{full} L") }),
                    json!({ "event": "topped-up", "volume": format!("{:.2} L", full - level + full * 0.08) }),
                    json!({ "event": "from", "recipe": growth, "filled": format!("{} L", full * 10.0) }),
                    json!({ "event": "filled", "volume": format!("{} L", full * 2.0) }),
                    json!({ "event": "phase", "name": "psuh" }),
                ] {
                    assert!(add_on(&bench, &book, &now, &slip).is_err(), "{full} L, visit {visit}: {slip} on\n{book}");
                }
                for other_day in [day - 365.0, day - 31.0, day + 365.0, day + 730.0] {
                    assert!(add_on(&bench, &book, &at(other_day), &usual).is_err(), "dated {other_day} days off");
                }
            }
            let enter = |book: &mut String, after: f64, entry: &Value, once: bool| {
                let when = at(day + after);
                let append = add_on(&bench, book, &when, entry)
                    .unwrap_or_else(|asked| panic!("{full} L, visit {visit}: {entry} is asked back: {asked}\n{book}"));
                book.push_str(&append);
                let again = || add_on(&bench, book, &at(day + after + 0.003), entry);
                assert!(!once || again().is_err(), "{full} L, visit {visit}: {entry} twice");
            };
            enter(&mut book, 0.0, &usual, true);
            let up = full - level;
            match random.below(4) {
                0 if up > 0.02 * full => {
                    enter(&mut book, 0.01, &json!({ "event": "topped-up", "to": format!("{full} L") }), false);
                }
                1 if up > 0.02 * full => {
                    let volume = format!("{up:.2} L");
                    enter(
                        &mut book,
                        0.01,
                        &json!({ "event": "topped-up", "volume": volume, "to": format!("{full} L") }),
                        true,
                    );
                }
                2 => {
                    enter(&mut book, 0.01, &json!({ "event": "drained", "volume": format!("{:.1} L", level * 0.3) }), false);
                    let up = format!("{:.2} L", up + level * 0.3 - 0.1);
                    enter(&mut book, 0.02, &json!({ "event": "topped-up", "volume": up }), true);
                }
                _ => {
                    let today = of_bench("today", &bench, &book, &at(day + 0.01), &json!({ "also": ["recipe"] }));
                    let fill = &today["tanks"][0]["recipe"];
                    if !fill.is_null() {
                        told += 1;
                        enter(&mut book, 0.01, &json!({ "event": "from", "recipe": fill.to_string() }), true);
                        let other = json!({ "event": "from", "recipe": fill.to_string().replace("growth", "push") });
                        let other = add_on(&bench, &book, &at(day + 2.0), &other);
                        assert!(
                            other.is_err() || fill["formula"] != "growth",
                            "{full} L, visit {visit}: of another formula"
                        );
                    }
                }
            }
            if visit == 3 {
                let turn = json!({ "formula": "push", "also": ["recipe"] });
                let turned = of_bench("switch", &bench, &book, &at(day + 0.1), &turn);
                enter(&mut book, 0.1, &json!({ "event": "from", "recipe": turned["recipe"].to_string() }), true);
            }
            if visit == 4 {
                let fresh = if random.chance(0.5) { &growth } else { &push };
                enter(&mut book, 0.2, &json!({ "event": "from", "recipe": fresh }), true);
            }
            level = of_bench("logbook-now", &bench, &book, &at(day + 0.2), &json!({}))["level_l"].as_f64().expect("a level");
            since = random.between(1.5, 6.0);
            day += since;
        }
    }
    assert!(told >= 10, "{told} filled up as told");
}

/// A tank read and filled up twice a week for nine weeks, renewed every third: none of it is asked back, what is entered a week late
/// neither; of every entry the same a month or a year off is, in either direction.
#[test]
fn an_entry_of_another_month_is_asked_back() {
    let growth =
        of_bench("mix", STARTER, "", FILLED, &json!({ "formula": "growth", "also": ["recipe"] }))["recipe"].to_string();
    let fill = json!({ "event": "from", "recipe": growth });
    let read = |level: f64| json!({ "event": "reading", "level": format!("{level} L") });
    let mut book = add_on(STARTER, "", FILLED, &fill).expect("a filling");
    for half_week in 1..18 {
        let day = 3.5 * f64::from(half_week);
        let usual = if half_week % 6 == 0 { &fill } else { &read(60.0 - f64::from(half_week % 6)) };
        if half_week > 5 {
            for off in [-365.0, -30.0, -28.0, 28.0, 30.0, 365.0] {
                let entry = if off > 0.0 { &read(50.0) } else { usual };
                let asked = add_on(STARTER, &book, &at(day + off), entry).expect_err("asked back");
                assert!(asked.contains("the month"), "day {day}, {off} days off: {asked}");
            }
        }
        let append = add_on(STARTER, &book, &at(day), usual).unwrap_or_else(|asked| panic!("day {day}: {asked}"));
        book.push_str(&append);
    }
    let note = |days: f64| add_on(STARTER, &book, &at(days), &json!({ "event": "stalks" }));
    assert!(note(52.0).is_ok() && note(60.0).is_ok() && note(70.0).is_ok() && note(30.0).is_err());
    // what was wrong weeks ago is written down anew
    let line = |book: &str| book.lines().count();
    let number = (0..line(&book))
        .find(|of| book.lines().nth(*of).is_some_and(|text| text.contains("\"level_l\":58")))
        .expect("a reading")
        + 1;
    let void = add_on(STARTER, &book, &at(60.0), &json!({ "event": "void", "entry": number })).expect("a void");
    assert!(add_on(STARTER, &format!("{book}{void}"), &at(7.0), &read(58.2)).is_ok());
    assert!(add_on(STARTER, &book, &at(7.0), &read(58.2)).is_err());
}

/// A month between entries is no slip where it is usual, and none of a tank that has begun only.
#[test]
fn a_slow_tank_may_be_slow() {
    let mut book = logbook();
    for month in 1..9 {
        let read = json!({ "event": "topped-up", "volume": format!("{} L", 5.0 + f64::from(month) * 0.1), "pure": true });
        let append =
            add(&book, &at(30.0 * f64::from(month)), &read, None).unwrap_or_else(|asked| panic!("{month}: {asked:?}"));
        book.push_str(&append);
    }
}

/// The recipe of another tank, by its volume or by the name of its bench.
#[test]
fn a_recipe_of_another_tank_is_asked_back() {
    let larger = STARTER.replacen("volume = \"60 L\"", "volume = \"120 L\"", 1);
    let other = STARTER.replacen("name = \"", "name = \"the other ", 1);
    let recipe = |bench: &str| {
        let mix = of_bench("mix", bench, "", FILLED, &json!({ "formula": "growth", "also": ["recipe"] }));
        json!({ "event": "from", "recipe": mix["recipe"].to_string() })
    };
    let own = recipe(STARTER);
    let book = add_on(STARTER, "", FILLED, &own).expect("its own");
    for (bench, entry, says) in [
        (&*larger, &own, "for 60 L, and the tank holds 120 L"),
        (STARTER, &recipe(&larger), "120 L in the tank, which holds 60 L"),
        (STARTER, &recipe(&other), "for the bench `the other"),
    ] {
        let asked = add_on(bench, "", FILLED, entry).expect_err("asked back");
        assert!(asked.contains(says) && asked.contains("another tank?"), "{asked}");
    }
    // a tank that was filled so before is filled so again, and what was really filled in is no slip
    assert!(add_on(&larger, &book, &at(20.0), &own).is_ok());
    let mut less = own.clone();
    less["filled"] = json!("60 L");
    assert!(add_on(&larger, "", FILLED, &less).is_ok());
}

/// What was told for the level of one day is not done a second time, days later neither.
#[test]
fn a_job_that_was_told_once_is_done_once() {
    let growth =
        of_bench("mix", STARTER, "", FILLED, &json!({ "formula": "growth", "also": ["recipe"] }))["recipe"].to_string();
    let mut book = add_on(STARTER, "", FILLED, &json!({ "event": "from", "recipe": growth })).expect("a filling");
    let read = json!({ "event": "reading", "level": "50 L" });
    book += &add_on(STARTER, &book, &at(5.0), &read).expect("a reading");
    let turned = of_bench("switch", STARTER, &book, &at(5.01), &json!({ "formula": "push", "also": ["recipe"] }));
    let turn = json!({ "event": "from", "recipe": turned["recipe"].to_string() });
    book += &add_on(STARTER, &book, &at(5.01), &turn).expect("as told");
    for days in [5.02, 8.0, 12.0, 20.0] {
        let asked = add_on(STARTER, &book, &at(days), &turn).expect_err("asked back");
        assert!(asked.contains("has the same recipe already"), "{days}: {asked}");
    }
    // what is let out whole is made anew, a week later with the same
    let mut book = add_on(STARTER, "", FILLED, &json!({ "event": "from", "recipe": growth })).expect("a filling");
    book += &add_on(STARTER, &book, &at(5.0), &read).expect("a reading");
    let anew =
        of_bench("switch", STARTER, &book, &at(5.01), &json!({ "formula": "growth", "drain": "50 L", "also": ["recipe"] }));
    let anew = json!({ "event": "from", "recipe": anew["recipe"].to_string() });
    book += &add_on(STARTER, &book, &at(5.01), &anew).expect("as told");
    let asked = add_on(STARTER, &book, &at(6.0), &anew).expect_err("asked back");
    assert!(asked.contains("has the same recipe already"), "{asked}");
    book += &add_on(STARTER, &book, &at(12.0), &read).expect("a reading");
    assert!(add_on(STARTER, &book, &at(12.01), &anew).is_ok());
}

/// EC typed for pH, or a decimal point: no tank of plants has such a pH (under 4, over 9: own choice).
#[test]
fn a_ph_that_no_tank_has_is_asked_back() {
    let event = json!({ "event": "filled", "volume": "60 L", "pure": true });
    let filled = add("", FILLED, &event, Some(true)).expect("a filling");
    for (ph, odd) in
        [("0.9", true), ("0.58", true), ("3.9", true), ("4.1", false), ("5.8", false), ("8.9", false), ("9.1", true)]
    {
        let read = json!({ "event": "reading", "ph": ph });
        let asked = add(&filled, "2026-10-05 08:00+02:00", &read, None);
        let told = asked.as_ref().err().is_some_and(|asked| asked.iter().any(|(text, _)| text.contains("no plant is fed")));
        assert_eq!(told, odd, "{ph}: {asked:?}");
        assert!(add(&filled, "2026-10-05 08:00+02:00", &read, Some(true)).is_ok(), "{ph}");
    }
}
