//! What holds of every answer, and of every refusal.

use bloomsalt::ask::{Answer, Refusal, Request, ask};
use bloomsalt::quantity::{WEIGHED_G, WEIGHED_L, liter, mass, volume};
use bloomsalt::report::{Form, document, line, render};
use serde_json::{Value, json};

use crate::count::End;

/// A request of its JSON, as every face makes it.
///
/// # Panics
/// Where the JSON is no request: the grammar and the reader differ.
#[must_use]
pub fn request(asked: &Value) -> Request {
    Request::parse(&asked.to_string()).unwrap_or_else(|refusal| panic!("{refusal}: {asked}"))
}

/// Asks, and holds the laws of answers and refusals.
///
/// # Panics
/// Where a law does not hold.
pub fn asked(request: &Request) -> (End, Option<Value>) {
    let written = serde_json::to_string(request).expect("a request is JSON");
    assert_eq!(Request::parse(&written).as_ref(), Ok(request), "a request goes through its JSON");
    match ask(request) {
        Ok(answer) => (End::Answered, Some(holds(&answer, &written))),
        Err(refusal) => (refused(&refusal, &written), None),
    }
}

/// A refusal says something, in JSON of one line, and is no failure of our own.
///
/// # Panics
/// Where it is.
pub fn refused(refusal: &Refusal, written: &str) -> End {
    assert!(!refusal.problems.is_empty(), "{written}");
    let damaged = refusal.problems.iter().all(|problem| problem.code == "logbook-damaged");
    assert!(matches!(refusal.status, 1 | 2) || damaged, "a failure of our own: {refusal}\n{written}");
    assert!(!refusal.to_string().is_empty());
    let whole = line(refusal);
    assert!(whole.lines().count() == 1 && serde_json::from_str::<Value>(&whole).is_ok(), "{whole}");
    if refusal.status == 1 { End::Unmet } else { End::Refused }
}

/// The document of an answer, which round trips, has sound amounts, and prints in every form.
fn holds(answer: &Answer, written: &str) -> Value {
    let whole = line(answer);
    assert_eq!(whole.lines().count(), 1, "{written}");
    let read: Value = serde_json::from_str(&whole).expect("an answer is JSON");
    assert_eq!(format!("{read}\n"), whole, "JSON goes through a reader: {written}");
    assert_eq!(serde_json::from_str::<Value>(&document(answer)).expect("JSON"), read, "one document in two looks");
    amounts("", &read, written);
    let text = render(answer, Form::Text { colour: false, plot: true }).unwrap_or_default();
    let control = |letter: char| letter.is_control() && letter != '\n';
    assert!(!text.contains(control), "{text:?}\n{written}");
    assert!(!text.contains("NaN") && !text.split_whitespace().any(|word| word == "inf"), "{text}\n{written}");
    if let Some(sheet) = render(answer, Form::Sheet) {
        assert!(!sheet.contains("NaN") && !sheet.contains("<script"), "{written}");
    }
    read
}

/// Keys whose numbers are amounts, volumes or concentrations.
const AMOUNTS: [&str; 4] = ["grams", "grams_exact", "millilitres", "litres"];
const ENDS: [&str; 4] = ["_l", "_ml", "_g", "_ppm"];
/// Units in which an `l` stands below, whose numbers may be negative.
const BELOW: [&str; 2] = ["_meq_l", "_mol_l"];

fn amounts(key: &str, value: &Value, written: &str) {
    match value {
        Value::Number(number) => {
            let number = number.as_f64().expect("a number");
            assert!(number.is_finite(), "`{key}`: {number}\n{written}");
            let is_amount = AMOUNTS.contains(&key) || key == "ppm" || ENDS.iter().any(|end| key.ends_with(end));
            if is_amount && !BELOW.iter().any(|end| key.ends_with(end)) {
                assert!(number >= 0.0, "`{key}`: {number}\n{written}");
            }
            reads_back(key, number);
        }
        Value::Array(items) => items.iter().for_each(|item| amounts(key, item, written)),
        Value::Object(entries) => {
            assert!(!entries.get("volume_l").is_some_and(Value::is_null), "a volume that is no number: {written}");
            entries.iter().for_each(|(key, item)| amounts(key, item, written));
        }
        _ => {}
    }
}

/// An amount as it is told can be typed again.
fn reads_back(key: &str, number: f64) {
    if key == "grams" && number <= WEIGHED_G.high {
        let read = mass(&format!("{number} g"), &WEIGHED_G).expect("grams are read");
        assert_eq!(read, bloomsalt::quantity::gram(number));
    }
    if key == "volume_l" && number <= WEIGHED_L.high {
        assert_eq!(volume(&format!("{number} L"), &WEIGHED_L).expect("litres are read"), liter(number));
    }
}

/// A mix and its recipe agree: the recipe is read again, and holds the concentrations that the mix says.
///
/// # Panics
/// Where it does not.
pub fn recipe_agrees(bench: &str, mix: &Value) {
    let recipe = mix["recipe"].to_string();
    let (end, checked) = asked(&request(&json!({ "job": "check", "bench": bench, "recipe": recipe })));
    let nothing = mix["doses"].as_array().is_some_and(|doses| doses.iter().all(|dose| dose["grams"] == 0.0));
    let Some(checked) = checked else {
        assert!(nothing || end == End::Unmet, "a recipe that is not read: {recipe}\n{bench}");
        return;
    };
    let elements = |document: &Value| -> Vec<(String, f64)> {
        let all = document["elements"].as_array().expect("elements").iter();
        all.map(|of| (of["element"].to_string(), of["ppm"].as_f64().expect("ppm"))).collect()
    };
    let read = elements(&checked);
    for (element, was) in elements(mix) {
        // what there is none of, and forms of nitrogen, stand there where they are asked for
        let Some((_, is)) = read.iter().find(|(other, _)| *other == element) else {
            assert!(was < 1e-9 || element.ends_with("-N\""), "{element} is not told: {recipe}");
            continue;
        };
        assert!((was - is).abs() <= 1e-6 * was.max(1e-3), "{element}: {was} and {is} ppm\n{bench}\n{recipe}");
    }
}
