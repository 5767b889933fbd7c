//! What the library says belongs to no face: it names keys of a request, and the terminal makes its options of them.
#![allow(clippy::disallowed_methods, reason = "writes a damaged file into a folder of its own")]

use bloomsalt::ask::{Request, ask};
use bloomsalt::report::{Form, line, render};
use serde_json::json;

use crate::ask::{folder, refused, request, typed};
use crate::program::bloomsalt;

/// A word of the terminal within a text.
fn of_the_terminal(text: &str) -> Option<&str> {
    let option = text.match_indices("--").find(|(at, _)| {
        let after = text[at + 2..].chars().next();
        let before = text[..*at].chars().next_back();
        after.is_some_and(|letter| letter.is_ascii_lowercase()) && before.is_none_or(|letter| !letter.is_alphanumeric())
    });
    let at = option.map(|(at, _)| at).or_else(|| text.find("bloomsalt "))?;
    text.get(at..).map(|rest| rest.split(['"', '.', ';']).next().unwrap_or(rest))
}

fn clean(asked: &Request) {
    let written = serde_json::to_string(asked).expect("JSON");
    match ask(asked) {
        Ok(answer) => {
            assert_eq!(of_the_terminal(&line(&answer)), None, "{written}");
            let text = render(&answer, Form::Text { colour: false, plot: false }).expect("a text");
            let option = text.lines().find(|line| line.contains("`--") || line.contains(" --"));
            assert_eq!(option, None, "{written}");
        }
        Err(refusal) => {
            assert_eq!(of_the_terminal(&line(&refusal)), None, "{written}");
            assert_eq!(of_the_terminal(&refusal.to_string()), None, "{written}");
        }
    }
}

#[test]
fn no_answer_and_no_refusal_speaks_of_the_terminal() {
    assert_eq!(of_the_terminal("say so with --coldest."), Some("--coldest"));
    assert_eq!(of_the_terminal("a--b and 3 -- 4"), None);
    let (of_answers, recipe) = folder();
    for (_, typed) in typed(&recipe) {
        clean(&request(&typed));
    }
    for typed in refused(of_answers.path()) {
        let all = std::iter::once("bloomsalt").chain(typed.iter().map(String::as_str));
        if let Ok(Some(asked)) = bloomsalt::cli::request(all) {
            clean(&asked);
        }
    }
    let at = "2026-10-24 18:00+02:00";
    let entry = |entry: serde_json::Value| json!({ "job": "logbook-add", "logbook": "", "now": at, "entry": entry });
    for asked in [
        json!({ "job": "switch", "formula": "push" }),
        json!({ "job": "switch", "formula": "push", "logbook": "", "now": at }),
        json!({ "job": "cycle" }),
        json!({ "job": "cycle", "start": "2027-01-04" }),
        json!({ "job": "cycle", "start": "2027-01-04", "also": ["recipe"] }),
        json!({ "job": "today", "logbooks": [], "now": at }),
        json!({ "job": "today", "logbooks": [""], "now": at }),
        json!({ "job": "today", "logbooks": ["", ""], "now": at }),
        json!({ "job": "today", "logbooks": [], "now": at, "bench": include_str!("../examples/streptocarpus-cycle.toml") }),
        json!({ "job": "logbook-forecast", "logbook": "", "now": at }),
        json!({ "job": "top-up", "logbook": "", "now": at }),
        json!({ "job": "check", "recipe": "{}" }),
        json!({ "job": "check", "added": ["guano=3g"] }),
        json!({ "job": "check", "added": ["phosphoric-acid-85=3g"], "against": "push" }),
        json!({ "job": "stock", "formula": "growth", "strength": "400", "coldest": "2 C" }),
        json!({ "job": "salts" }),
        json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": ["0.1 g"], "shelf": ["urea"] }),
        entry(json!({ "event": "filled" })),
        entry(json!({ "event": "filled", "volume": "60 L", "formula": "growth" })),
        entry(json!({ "event": "reading" })),
        entry(json!({ "event": "drained", "volume": "60 L" })),
        entry(json!({ "event": "void", "entry": 3 })),
    ] {
        if let Ok(asked) = Request::parse(&asked.to_string()) {
            clean(&asked);
        }
    }
}

/// What the library says of its keys the terminal says of its options, and what of an entry, as its command.
#[test]
fn the_terminal_speaks_of_its_options() {
    let (folder, _) = folder();
    let damaged = folder.path().join("tank.jsonl");
    std::fs::write(&damaged, "what\nis\nthis\n").expect("written");
    let damaged = damaged.display().to_string();
    let recovered = format!("`bloomsalt logbook add {damaged} recovered 1 2 3`");
    for (typed, says) in [
        (&["switch", "push"][..], "state `--holding`, `--recipe`, `--analysis` or `--logbook`"),
        (&["cycle"], "it takes one of `--start` and `--first-open`"),
        (&["mix", "push", "--tank", "60"], "`--tank` reads \"60\""),
        (&["today"], "`bloomsalt logbook add FILE filled"),
        (&["switch", "push", "--holding", "growth", "--held-back", "4"], "`--held-back` reads"),
        (&["logbook", "show", &damaged], &recovered),
        (&["check", "guano=3g"], "`bloomsalt salts` lists the ids"),
        // what was typed stays as it is
        (&["mix", "tank"], "there is no formula `tank`"),
    ] {
        let (_, _, err) = bloomsalt(typed);
        assert!(err.contains(says), "{typed:?}: {err}");
    }
}
