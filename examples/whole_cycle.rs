//! A whole cycle through the one door, without the terminal: a growth mix, its logbook, the turn to push, the plan, and back.
//! What a program keeps is text: a bench file, a logbook that it appends to, and saved recipes.
//!
//! `cargo run --example whole_cycle`

use std::io::Write;

use bloomsalt::ask::{Answer, Refusal, Request, ask};
use bloomsalt::report::{Form, document, render};
use serde_json::{Value, json};

const BENCH: &str = include_str!("streptocarpus-cycle.toml");

fn main() -> Result<(), Box<dyn std::error::Error>> {
    run(&mut std::io::stdout().lock())
}

/// Does the cycle, and tells of it.
pub(crate) fn run(out: &mut dyn Write) -> Result<(), Box<dyn std::error::Error>> {
    let mut logbook = String::new();

    // the recipe is what went in, if nothing else is said
    let mix = asked(&json!({ "job": "mix", "bench": BENCH, "formula": "growth", "also": ["recipe"] }))?;
    write!(out, "{}", text(&mix))?;
    let filled = json!({ "event": "from", "recipe": recipe(&mix) });
    enter(&mut logbook, "2027-01-04 09:00+01:00", &filled)?;
    enter(&mut logbook, "2027-01-04 09:05+01:00", &json!({ "event": "phase", "name": "growth" }))?;
    let reading = json!({ "event": "reading", "ec": "1.1 mS/cm", "ph": "5.9", "level": "55 L" });
    enter(&mut logbook, "2027-01-11 09:00+01:00", &reading)?;

    let plan = json!({ "job": "cycle", "bench": BENCH, "start": "2027-01-04", "logbooks": [logbook], "now": "2027-01-11 09:30+01:00" });
    write!(out, "{}", text(&asked(&plan)?))?;

    for (formula, moment) in [("push", "2027-01-18 09:00+01:00"), ("growth", "2027-02-08 09:00+01:00")] {
        let turn = json!({
            "job": "switch", "bench": BENCH, "formula": formula, "logbook": logbook, "now": moment, "also": ["recipe"]
        });
        let turn = asked(&turn)?;
        write!(out, "{}", text(&turn))?;
        enter(&mut logbook, moment, &json!({ "event": "from", "recipe": recipe(&turn) }))?;
        enter(&mut logbook, moment, &json!({ "event": "phase", "name": formula }))?;
    }

    let now = json!({ "job": "logbook-now", "bench": BENCH, "logbook": logbook, "now": "2027-02-09 09:00+01:00" });
    write!(out, "{}", text(&asked(&now)?))?;
    Ok(())
}

fn asked(request: &Value) -> Result<Answer, Refusal> {
    ask(&Request::parse(&request.to_string())?)
}

fn text(answer: &Answer) -> String {
    render(answer, Form::Text { colour: false, plot: false }).unwrap_or_default()
}

/// The recipe that an answer was asked for, as the text of a file.
fn recipe(answer: &Answer) -> Option<String> {
    answer.recipe().map(document)
}

/// Writes down what happened.
fn enter(logbook: &mut String, now: &str, entry: &Value) -> Result<(), Refusal> {
    let request = json!({ "job": "logbook-add", "bench": BENCH, "logbook": *logbook, "now": now, "entry": entry });
    if let Answer::LogbookAdd(done) = asked(&request)? {
        logbook.push_str(&done.append);
    }
    Ok(())
}
