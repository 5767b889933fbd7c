//! Many requests at once: each line is answered as it would be alone.
#![allow(clippy::disallowed_methods, reason = "reads a page of the docs, and writes and runs what it shows")]

use std::fs;
use std::process::Command;

use bloomsalt::ask::{Request, ask};
use bloomsalt::{cli, report};
use serde_json::{Value, json};

use crate::ask::{folder, request, typed};
use crate::random::{Random, benches};

const LINES: usize = 1_000;

/// A request of some job with a tank, a formula, a bench and parts of its own.
fn varied(random: &mut Random, templates: &[Value]) -> String {
    let mut asked = templates[random.below(templates.len())].clone();
    let job = asked["job"].as_str().expect("a job").to_owned();
    if asked.get("formula").is_some() && random.chance(0.7) {
        let formulas = ["growth", "push", "weak", "lean", "psh"];
        asked["formula"] = json!(formulas[random.below(formulas.len())]);
    }
    if matches!(job.as_str(), "mix" | "mix-beside" | "check" | "switch" | "stock" | "cycle") && random.chance(0.6) {
        asked["tank"] = json!(format!("{:.1} L", random.between(0.05, 3.0) * 60.0));
    }
    if matches!(job.as_str(), "mix" | "check" | "trade" | "stock" | "salts") && random.chance(0.4) {
        asked["bench"] = json!(benches::bench(random.below(1_000_000) as u64).text);
    }
    if asked.get("now").is_some() && random.chance(0.5) {
        asked["now"] = json!(format!("2026-10-{:02} 18:00+02:00", 1 + random.below(28)));
    }
    if job == "salts" {
        let words = ["MKP", "CuSO4·5H2O", "nitrate", "acid", "guano", "urea"];
        asked["words"] = json!(words[random.below(words.len())]);
    }
    let line = asked.to_string();
    // some lines are broken
    if random.chance(0.03) { line[..random.below(line.len().min(60))].to_owned() } else { line }
}

fn alone(line: &str) -> String {
    match Request::parse(line).and_then(|request| ask(&request)) {
        Ok(answer) => report::line(&answer),
        Err(refusal) => report::line(&refusal),
    }
}

#[test]
fn a_batch_of_every_job_is_answered_as_each_alone() {
    let (_folder, recipe) = folder();
    let mut templates: Vec<Value> =
        typed(&recipe).iter().map(|(_, typed)| serde_json::to_value(request(typed)).expect("JSON")).collect();
    templates.push(json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": ["0.1 g"] }));
    let mut random = Random(20_270_104);
    let lines: Vec<String> = (0..LINES).map(|_| varied(&mut random, &templates)).collect();
    let mut out = Vec::new();
    cli::batch(&mut lines.join("\n").as_bytes(), &mut out).expect("written");
    let out = String::from_utf8(out).expect("UTF-8");
    let answers: Vec<&str> = out.split_inclusive('\n').collect();
    assert_eq!(answers.len(), LINES);
    let mut refused = 0;
    for (line, answer) in lines.iter().zip(&answers) {
        assert_eq!(*answer, alone(line), "{line}");
        refused += usize::from(answer.contains("\"problems\":"));
    }
    assert!((30..LINES / 2).contains(&refused), "{refused} of {LINES} were refused");
}

/// An empty line is answered like any other; after the last line feed there is none, and a last line needs no line feed.
#[test]
fn lines_are_counted_by_what_ends_them() {
    for (asked, answers) in [("", 0), ("\n", 1), ("\n{}\n", 2), ("\n{}", 2), ("\n{}\n\n", 3), ("\n{}\n ", 3)] {
        let mut out = Vec::new();
        cli::batch(&mut asked.as_bytes(), &mut out).expect("written");
        assert_eq!(String::from_utf8(out).expect("UTF-8").lines().count(), answers, "{asked:?}");
    }
}

/// What the page shows of several processes is run as it stands there, and answers as one process does.
#[test]
fn several_processes_answer_as_one() {
    let page = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/ask.md")).expect("the page");
    let (_, rest) = page.split_once("```sh\n").expect("a block");
    let (shown, _) = rest.split_once("```").expect("its end");
    assert!(shown.contains("xargs -P") && shown.contains("-l 250"));
    let folder = tempfile::tempdir().expect("a folder");
    let lines: Vec<String> = (0..520)
        .map(|at| match at % 10 {
            0 => json!({ "job": "mix", "formula": "push", "tank": format!("{} L", 20 + at) }),
            1 => json!({ "job": "mix", "formula": "psh" }),
            _ => json!({ "job": "salts", "words": (["MKP", "epsom", "guano"])[at % 3] }),
        })
        .map(|asked| asked.to_string() + "\n")
        .collect();
    fs::write(folder.path().join("requests.ndjson"), lines.concat()).expect("written");
    let program = std::path::Path::new(env!("CARGO_BIN_EXE_bloomsalt"));
    let path = std::env::var("PATH").expect("a PATH");
    let path = format!("{}:{path}", program.parent().expect("a folder").display());
    let ran =
        Command::new("sh").args(["-ec", shown]).current_dir(folder.path()).env("PATH", path).status().expect("a shell");
    assert!(ran.success());
    let mut one = Vec::new();
    cli::batch(&mut lines.concat().as_bytes(), &mut one).expect("written");
    let answers = fs::read_to_string(folder.path().join("answers.ndjson")).expect("answers");
    let one = String::from_utf8(one).expect("UTF-8");
    for ((answer, one), asked) in answers.lines().zip(one.lines()).zip(&lines) {
        assert_eq!(answer, one, "{asked}");
    }
    assert_eq!((answers.lines().count(), one.lines().count()), (lines.len(), lines.len()));
}
