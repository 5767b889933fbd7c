//! Two logbooks of one tank as one: every entry once, voids with what they void, nothing of the first rewritten.

use std::collections::{BTreeMap, BTreeSet};

use bloomsalt::ask::{Answer, Refusal, Request, ask};
use bloomsalt::logbook::{Event, Logbook, Moment};
use proptest::prelude::*;
use serde_json::{Value, json};

fn read(text: &str) -> Logbook {
    Logbook::parse(text.as_bytes(), &[]).unwrap_or_else(|damage| panic!("{damage}\n{text}"))
}

fn at(hour: u32) -> Moment {
    Moment::parse(&format!("2026-10-{:02} {:02}:00+02:00", 1 + hour / 24, hour % 24)).expect("a moment")
}

/// Appends events to a text, each at its hour.
fn wrote(mut text: String, events: &[(u32, Event)]) -> String {
    for (hour, event) in events {
        let more = read(&text).append(at(*hour), event.clone()).expect("an entry");
        text.push_str(&more);
    }
    text
}

fn note(words: &str) -> Event {
    Event::Note { text: words.to_owned() }
}

fn void(voids: u64, why: Option<&str>) -> Event {
    Event::Voided { voids, why: why.map(str::to_owned) }
}

fn merge(here: &str, other: &str) -> Result<Value, Refusal> {
    let asked = json!({ "job": "logbook-merge", "logbook": here, "other": other });
    let request = Request::parse(&asked.to_string()).expect("a request");
    assert_eq!(serde_json::to_value(&request).expect("JSON"), asked);
    ask(&request).map(|answer| serde_json::from_str(&bloomsalt::report::document(&answer)).expect("JSON"))
}

fn merged(here: &str, other: &str) -> (String, Value) {
    let answer = merge(here, other).unwrap_or_else(|refusal| panic!("{refusal}"));
    (format!("{here}{}", answer["append"].as_str().expect("a text")), answer)
}

#[test]
fn what_is_missing_is_appended_by_its_time() {
    let base = wrote(String::new(), &[(0, note("filled")), (9, note("both"))]);
    let phone = wrote(base.clone(), &[(30, Event::Drained { volume_l: 5.0 })]);
    let desk = wrote(base, &[(40, note("late")), (20, note("early")), (21, void(3, Some("no")))]);
    let (text, answer) = merged(&phone, &desk);
    let told: Vec<(u64, &str)> = answer["added"]
        .as_array()
        .expect("entries")
        .iter()
        .map(|entry| (entry["entry"].as_u64().expect("a number"), entry["event"].as_str().expect("an event")))
        .collect();
    // the void is of hour 21 and stands behind what it voids, of hour 40
    assert_eq!(told, [(4, "note"), (5, "note"), (6, "voided")]);
    assert_eq!((&answer["added"][2]["voids"], &answer["added"][1]["voided_by"]), (&json!(5), &json!(6)));
    assert_eq!((&answer["shared"], &answer["clashes"]), (&json!(2), &json!([])));
    let book = read(&text);
    assert!(text.starts_with(&phone));
    assert_eq!((book.entries().len(), book.voided_by(5)), (6, Some(6)));
    // once is enough
    let (again, answer) = merged(&text, &desk);
    assert_eq!((again, &answer["shared"], &answer["append"]), (text, &json!(5), &json!("")));
}

#[test]
fn what_clashes_is_told() {
    let base = wrote(String::new(), &[(0, note("first")), (1, note("second"))]);
    let level = |level_l| Event::Reading { ec_ms_cm: None, ph: None, temperature_c: None, level_l: Some(level_l) };
    let here = wrote(base.clone(), &[(9, level(50.0)), (10, void(1, None))]);
    let other = wrote(base, &[(9, level(52.0)), (11, void(1, Some("wrong day"))), (12, void(2, None))]);
    let (text, answer) = merged(&here, &other);
    let expected = json!([
        { "kind": "same-moment", "other_entry": 3, "entry": 5, "with": 3 },
        { "kind": "void-already", "other_entry": 4, "entry": null, "with": 4 },
    ]);
    assert_eq!(answer["clashes"], expected);
    assert_eq!(read(&text).voided_by(2), Some(6));
    let asked = json!({ "job": "logbook-merge", "logbook": here, "other": other });
    let answer = ask(&Request::parse(&asked.to_string()).expect("a request")).expect("answered");
    let form = bloomsalt::report::Form::Text { colour: false, plot: false };
    let words = bloomsalt::report::render(&answer, form).expect("words").replace('\n', " ");
    assert!(words.contains("2 entries were missing; 2 entries were in both."), "{words}");
    assert!(words.contains("Entry 5 and entry 3 are of the same moment and say something else"), "{words}");
}

#[test]
fn a_broken_line_or_another_tank_is_refused() {
    let good = wrote(String::new(), &[(0, note("first")), (1, note("second"))]);
    let broken = good.replacen("first", "fi4st", 1);
    for (here, other, file) in [(&broken, &good, "logbook"), (&good, &broken, "other")] {
        let refusal = merge(here, other).expect_err("refused");
        let problem = &refusal.problems[0];
        assert_eq!((refusal.status, problem.code.as_str()), (3, "logbook-damaged"));
        assert_eq!((problem.file.as_deref(), problem.line), (Some(file), Some(1)));
    }
    let tank = |id: &str| wrote(String::new(), &[(0, Event::Tank { tank: id.to_owned() }), (1, note("x"))]);
    for (here, other) in [(tank("small"), tank("large")), (good.clone(), tank("large")), (tank("small"), good.clone())] {
        let refusal = merge(&here, &other).expect_err("refused");
        assert_eq!((refusal.status, refusal.problems[0].code.as_str()), (2, "tank"), "{refusal}");
    }
    // an empty one is of any tank; the binding stands first, whatever was entered for a day before it
    let bound = wrote(tank("small"), &[(0, note("same hour"))]);
    let (text, _) = merged("", &bound);
    assert_eq!(read(&text).tank(), Some("small"));
}

#[test]
fn torn_lines_count_for_nothing_and_are_told() {
    let good = wrote(String::new(), &[(0, note("first"))]);
    let torn = format!("{good}{{\"entry\":2,\"ver");
    let more = wrote(good.clone(), &[(5, note("more"))]);
    let (text, answer) = merged(&torn, &more);
    assert_eq!(read(&text).entries().len(), 3, "the entry that names the torn line, and the one that was missing");
    assert_eq!(answer["logbook_torn"]["logbook"], 0);
    let (text, answer) = merged(&more, &torn);
    assert_eq!((text, &answer["logbook_torn"]["logbook"]), (more, &json!(1)));
    // what was given up there says nothing of the lines here
    let given_up = wrote(torn, &[(7, note("after"))]);
    assert!(read(&given_up).entries().iter().any(|entry| matches!(entry.event, Event::Recovered { .. })));
    let (text, _) = merged(&good, &given_up);
    assert_eq!(read(&text).entries().len(), 2);
}

/// What one writer did: notes at an hour, and which of all that it has it voids.
type Deeds = Vec<(u32, Option<prop::sample::Index>)>;

fn deeds() -> impl Strategy<Value = Deeds> {
    prop::collection::vec((0..60_u32, prop::option::weighted(0.3, any::<prop::sample::Index>())), 0..8)
}

/// The texts of a writer, and a model of them: every note by its words, and those that are void.
fn written_by(who: &str, base: &str, deeds: &Deeds) -> String {
    let mut text = base.to_owned();
    for (count, (hour, voids)) in deeds.iter().enumerate() {
        let book = read(&text);
        let open: Vec<u64> = book
            .entries()
            .iter()
            .filter(|entry| matches!(entry.event, Event::Note { .. }) && book.voided_by(entry.number).is_none())
            .map(|entry| entry.number)
            .collect();
        let event = match voids {
            Some(pick) if !open.is_empty() => void(*pick.get(&open), Some(who)),
            _ => note(&format!("{who} {count}")),
        };
        text = wrote(text, &[(*hour, event)]);
    }
    text
}

/// The words of every note, how often it stands, and whether it is void.
fn model(text: &str) -> (BTreeMap<String, usize>, BTreeSet<String>) {
    let book = read(text);
    let (mut all, mut void) = (BTreeMap::new(), BTreeSet::new());
    for entry in book.entries() {
        if let Event::Note { text } = &entry.event {
            *all.entry(text.clone()).or_insert(0) += 1;
            if book.voided_by(entry.number).is_some() {
                void.insert(text.clone());
            }
        }
    }
    (all, void)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Both ways round: every note of either once, void where either voids it, and nothing more to merge after it.
    #[test]
    fn nothing_is_lost_and_nothing_comes_twice(base in deeds(), here in deeds(), other in deeds()) {
        let base = written_by("base", "", &base);
        let (here, other) = (written_by("here", &base, &here), written_by("other", &base, &other));
        let ((mut all, mut void), (others, others_void)) = (model(&here), model(&other));
        all.extend(others);
        void.extend(others_void);
        prop_assert!(all.values().all(|times| *times == 1));
        for (one, two) in [(&here, &other), (&other, &here)] {
            let (text, _) = merged(one, two);
            prop_assert!(text.starts_with(one.as_str()));
            prop_assert_eq!(model(&text), (all.clone(), void.clone()));
            prop_assert_eq!(&merged(&text, two).1["append"], &json!(""));
            prop_assert_eq!(&merged(&text, one).1["append"], &json!(""));
        }
    }

    /// Whatever the two texts are: an answer that can be read, or a refusal.
    #[test]
    fn nothing_panics(
        cut in any::<prop::sample::Index>(), put in "[{}\",:0-9a-z\n]{0,4}", deeds in deeds(), swap in any::<bool>()
    ) {
        let good = written_by("good", "", &deeds);
        let mut other = good.clone();
        let place = cut.index(other.len() + 1);
        other.replace_range(place..(place + 1).min(good.len()), &put);
        let (one, two) = if swap { (&other, &good) } else { (&good, &other) };
        let asked = json!({ "job": "logbook-merge", "logbook": one, "other": two });
        match ask(&Request::parse(&asked.to_string()).expect("a request")) {
            Ok(Answer::LogbookMerge(of)) => {
                let whole = format!("{one}{}", of.record.append);
                prop_assert!(Logbook::parse(whole.as_bytes(), &[]).is_ok());
            }
            Ok(other) => prop_assert!(false, "{other:?}"),
            Err(refusal) => prop_assert!(refusal.status >= 2),
        }
    }
}
