//! A first bench file from a few answers: asked for in the terminal, made by a request, and fit to mix from.
#![allow(clippy::disallowed_methods, reason = "runs the program with answers on its standard input")]

use std::io::Write;
use std::process::{Command, Stdio};

use bloomsalt::ask::{Request, ask};
use bloomsalt::bench::Bench;
use bloomsalt::report;
use serde_json::{Value, json};

use crate::program::done;

/// Exit status, standard output and standard error of the program, with answers to read.
fn asked(file: &str, answers: &str) -> (i32, String, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_bloomsalt"))
        .args(["new", file, "--ask"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program");
    // a program that stops early closes its end
    let _ = child.stdin.take().expect("a pipe").write_all(answers.as_bytes());
    let output = child.wait_with_output().expect("an end");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    let unwrapped = text(output.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    (output.status.code().expect("a status"), unwrapped, text(output.stderr))
}

fn path(folder: &tempfile::TempDir) -> String {
    folder.path().join("bench.toml").display().to_string()
}

#[test]
fn the_usual_answers_make_a_bench_that_works() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let (status, out, err) = asked(&file, "\n\n\n\n");
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("its water is known") && out.contains("every target within 5 %"), "{out}");
    assert_eq!(err.lines().count(), 4, "{err}");
    let mix: Value = serde_json::from_str(&done(&["mix", "growth", "--bench", &file, "--json"])).expect("JSON");
    assert_eq!((mix["volume_l"].as_f64(), &mix["pure_water"]), (Some(60.0), &true.into()));
    // nothing is overwritten, and then nothing is asked
    let (status, out, err) = asked(&file, "");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("nothing is overwritten") && !err.contains("How much"), "{err}");
}

#[test]
fn tap_water_by_its_report_and_without() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let report = "Ca=40, Mg=8, Na=12, Cl=20, SO4=30, alkalinity=120 mg/L CaCO3, pH=7.4";
    let (status, out, err) = asked(&file, &format!("45 L\ntap\n{report}\n0.1 g, 0.001 g\n\n"));
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("counted as nothing: N."), "{out}");
    let bench = Bench::parse(&std::fs::read_to_string(&file).expect("a bench"), "bench").expect("it reads");
    assert!((bench.water.alkalinity_meq_per_l.expect("known") - 120.0 / 50.0435).abs() < 1e-3, "CaCO3: 100.087 g/mol");
    assert_eq!(bench.scales.len(), 2);
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let (status, out, err) = asked(&file, "45 L\ntap\n\n0.1 g\n\n");
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("alkalinity, Ca, Mg, Na, Cl, S, N") && out.contains("how far the pH climbs"), "{out}");
    let text = std::fs::read_to_string(&file).expect("a bench");
    assert!(text.contains("# Tap water. Not known") && text.contains("\n[water]"), "{text}");
    let mix = done(&["mix", "growth", "--bench", &file]);
    assert!(
        mix.contains("[water-unknown]") && mix.contains("pH not known: the alkalinity of the water is not stated"),
        "{mix}"
    );
}

/// What does not fit is said, and asked again; answers that end early leave no file.
#[test]
fn wrong_answers_are_asked_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let answers = "60\n30 L\nwell\ntap\nCa 40\nXx=3\nCa=-4\nCa=40\n0.1 L\n0.1 g\nepson salt, urea\nmagnesium sulfate heptahydrate, \
                   calcium-nitrate-tetrahydrate\n";
    let (status, out, err) = asked(&file, answers);
    assert_eq!(status, 0, "{err}");
    for says in
        ["the unit is missing", "neither rain nor tap", "has no `=`", "Xx", "-4", "scales", "there is no salt `epson salt`"]
    {
        assert!(err.contains(says), "{says}: {err}");
    }
    assert!(out.contains("growth on this shelf misses"), "{out}");
    let bench = Bench::parse(&std::fs::read_to_string(&file).expect("a bench"), "bench").expect("it reads");
    assert_eq!(bench.shelf.len(), 2);
    let folder = tempfile::tempdir().expect("a folder");
    let (status, out, err) = asked(&path(&folder), "60 L\nrain\n");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("nothing is written") && !std::path::Path::new(&path(&folder)).exists(), "{err}");
}

#[test]
fn the_request_keeps_to_the_schema() {
    let schemas: Value = serde_json::from_str(&report::schema()).expect("JSON");
    for (request, unknown) in [
        (json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": ["0.1 g"] }), 0),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "tap", "report": ["Ca=40", "HCO3=90"] },
                    "scales": ["0.1 g", "0.001 g"], "shelf": ["potassium-nitrate"] }),
            5,
        ),
    ] {
        assert!(jsonschema::is_valid(&schemas["request"], &request), "{request}");
        let answer = ask(&Request::parse(&request.to_string()).expect("a request")).expect("answered");
        let document: Value = serde_json::from_str(&report::document(&answer)).expect("JSON");
        assert!(jsonschema::is_valid(&schemas["new"], &document));
        assert_eq!(document["unknown"].as_array().expect("a list").len(), unknown);
    }
    for (request, says) in [
        (json!({ "job": "new", "tank": "60", "water": { "from": "rain" }, "scales": ["0.1 g"] }), "tank"),
        (json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": [] }), "nothing can be weighed"),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "tap", "report": ["Ca=4\u{7}"] }, "scales": ["1 g"] }),
            "no key and value",
        ),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "tap", "report": ["S=4", "SO4=9"] }, "scales": ["1 g"] }),
            "same thing",
        ),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": ["1 g"], "shelf": ["uera"] }),
            "did you mean",
        ),
    ] {
        let refusal = ask(&Request::parse(&request.to_string()).expect("a request")).expect_err("refused");
        assert_eq!(refusal.status, 2, "{request}");
        assert!(refusal.to_string().contains(says), "{request}: {refusal}");
        assert_eq!(refusal.job, "new");
    }
}
