//! Wrong bench files, one mistake each: refused with status 2, the place, what was read and what is allowed.

#![allow(clippy::disallowed_methods, reason = "reads the wrong files, and what a run left beside them")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::cli::{self, Console};
use bloomsalt::quantity::BOUNDS;
use proptest::prelude::*;
use proptest::sample::Index;
use proptest::test_runner::RngSeed;
use serde_json::Value;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/mistakes");

/// Put at the end of the line that is wrong.
const MARK: &str = "# <- here";

struct Run {
    status: u8,
    out: String,
    err: String,
}

fn mix(path: &Path, more: &[&str]) -> Run {
    let path = path.to_str().expect("UTF-8");
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let typed = ["bloomsalt", "mix", "growth", "--bench", path].into_iter().chain(more.iter().copied());
    let status = cli::run(typed, &mut out, &mut err, Console::default());
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    Run { status, out: text(out), err: text(err) }
}

fn files() -> Vec<PathBuf> {
    let entries = fs::read_dir(FOLDER).expect("a folder");
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
    files.sort();
    files
}

fn name(path: &Path) -> &str {
    path.file_stem().and_then(|name| name.to_str()).expect("a name")
}

#[test]
fn refused() {
    insta::glob!("mistakes/*.toml", |path| {
        let run = mix(path, &[]);
        assert_eq!(run.status, 2, "{}", run.err);
        assert_eq!(run.out, "", "standard output stays empty");
        let folder = path.parent().and_then(Path::to_str).expect("a folder");
        let err = run.err.replace(&format!("{folder}/"), "").replace(&format!("{folder}\\"), "");
        insta::assert_snapshot!(err);
    });
}

/// A line too long for a screen, letters that move others, and a mistake behind the last letter are shown all the same.
#[test]
fn hard_lines_are_shown() {
    let folder = tempfile::tempdir().expect("a folder");
    let long = format!("name = \"{}\" oops", "w".repeat(5_000));
    let lines = [
        long.as_str(),
        "[tank]\tvolume\u{7}",
        "[tank]\r\nvolume = \"\u{202e}60 L\"\r\n",
        "name = \"\u{e9}\u{e9}\" = \"\u{1b}[2J\"",
        "name =",
        "",
        "\u{feff}[tank]\nvolume = 6",
    ];
    for text in lines {
        let path = folder.path().join("bench.toml");
        fs::write(&path, text).expect("written");
        let run = mix(&path, &[]);
        assert_eq!(run.status, 2, "{text:?}: {}", run.err);
        let folder = folder.path().to_str().expect("UTF-8");
        let err = run.err.replace(folder, "");
        let hard = |letter: char| letter != '\n' && (letter.is_control() || letter == '\u{202e}');
        assert!(!err.contains(hard), "{text:?}: {err:?}");
        let lines: Vec<&str> = err.lines().collect();
        let at = lines.iter().position(|line| line.trim_start().starts_with('^')).expect("a pointer");
        assert!(lines[at - 2].contains(", line "), "{err}");
        assert!(lines[at - 1].chars().count() < 115 && lines[at].chars().count() < 115, "{err}");
        let pointer = lines[at].chars().count() - 1;
        assert!(pointer <= lines[at - 1].chars().count().max(4), "{err}");
    }
}

#[test]
fn every_mistake_is_one_object_under_json() {
    for path in files() {
        let run = mix(&path, &["--json"]);
        let name = name(&path);
        assert_eq!(run.status, 2, "{name}");
        let document: Value = serde_json::from_str(&run.out).expect(name);
        assert_eq!((&document["version"], &document["job"]), (&Value::from(1), &Value::from("mix")), "{name}");
        let error = &document["problems"][0];
        assert_eq!(error["file"].as_str(), path.to_str(), "{name}");
        assert!(error["message"].as_str().is_some_and(|words| !words.is_empty()), "{name}: {error}");
        // text that is no TOML has lines, but no keys yet
        let keyed = error["key"].as_str().is_some_and(|key| !key.is_empty());
        assert_eq!(keyed, !name.starts_with("toml-"), "{name}: {error}");
        let text = fs::read_to_string(&path).expect("readable");
        let marked = text.lines().position(|line| line.ends_with(MARK)).map(|line| line as u64 + 1);
        let line = error["line"].as_u64().unwrap_or_else(|| panic!("{name}: no line"));
        assert_eq!(line, marked.unwrap_or(line), "{name}: {error}");
    }
}

/// One mistake is one complaint: what follows from it is not complained of again.
#[test]
fn one_mistake_is_told_once() {
    for path in files() {
        let err = mix(&path, &[]).err;
        assert_eq!(err.lines().filter(|line| line.starts_with("error: ")).count(), 1, "{err}");
    }
}

#[test]
fn a_refused_run_leaves_nothing_behind() {
    let held = || -> BTreeMap<PathBuf, Vec<u8>> {
        files().into_iter().map(|path| (path.clone(), fs::read(path).expect("readable"))).collect()
    };
    let before = held();
    let elsewhere = tempfile::tempdir().expect("a folder");
    let recipe = elsewhere.path().join("recipe.json");
    for path in before.keys() {
        mix(path, &["--save", recipe.to_str().expect("UTF-8")]);
        mix(path, &["--json"]);
    }
    assert!(before == held(), "a bench file changed, came or went");
    assert_eq!(fs::read_dir(elsewhere.path()).expect("a folder").count(), 0, "no recipe is saved");
}

#[test]
fn bounds_take_their_ends_and_nothing_beyond() {
    for bound in BOUNDS {
        let what = bound.what;
        assert!(bound.low.is_finite() && bound.high.is_finite() && bound.low <= bound.high, "{what}");
        for inside in [bound.low, bound.high, f64::midpoint(bound.low, bound.high)] {
            assert_eq!(bound.check(inside), Ok(inside), "{what}");
        }
        for outside in [bound.low.next_down(), bound.high.next_up(), f64::MIN, f64::MAX] {
            let error = bound.check(outside).expect_err(what).to_string();
            assert!(error.contains(what) && error.contains(&bound.allowed()), "{error}");
        }
        assert!([f64::NAN, f64::INFINITY, f64::NEG_INFINITY].into_iter().all(|none| bound.check(none).is_err()), "{what}");
    }
}

#[test]
fn a_chain_of_thousands_and_escapes_in_names_are_refused_in_plain_text() {
    let links: Vec<String> = (0..20_000).map(|at| format!("[formula.f{at}]\nfrom = \"f{}\"\n", at + 1)).collect();
    for text in [format!("[tank]\nvolume = \"60 L\"\n{}", links.concat()), "[tank]\nvolume = \"6 \\u001bL\"".to_owned()] {
        let error = Bench::parse(&text, "bench.toml").expect_err("wrong");
        assert!(!error.problems[0].message.contains('\u{1b}'), "{error}");
    }
}

/// A slip of the hand, somewhere.
#[derive(Debug, Clone)]
enum Slip {
    Replace(Index, usize, String),
    Repeat(Index, usize),
    Number(Index, String),
}

impl Slip {
    fn apply(&self, text: &mut Vec<u8>) {
        let part = |at: &Index, length: &usize, text: &[u8]| {
            let start = at.index(text.len() + 1);
            start..text.len().min(start + length)
        };
        match self {
            Self::Replace(at, length, words) => drop(text.splice(part(at, length, text), words.bytes())),
            Self::Repeat(at, length) => {
                let part = part(at, length, text);
                let again = text[part.clone()].to_vec();
                text.splice(part.start..part.start, again);
            }
            Self::Number(at, other) => {
                let digits: Vec<usize> = (0..text.len()).filter(|&at| text[at].is_ascii_digit()).collect();
                if !digits.is_empty() {
                    let start = digits[at.index(digits.len())];
                    text.splice(start..=start, other.bytes());
                }
            }
        }
    }
}

const NO_NUMBERS: [&str; 11] = ["", "-", "nan", "inf", "1e999", "1_0", "0x10", "0,5", "1979-05-27", "[1]", "{}"];
fn slip() -> impl Strategy<Value = Slip> {
    let at = any::<Index>;
    let number = prop_oneof![
        any::<f64>().prop_map(|number| number.to_string()),
        any::<i64>().prop_map(|number| number.to_string()),
        prop::sample::select(NO_NUMBERS.as_slice()).prop_map(str::to_owned),
    ];
    prop_oneof![
        (at(), 1_usize..40).prop_map(|(at, length)| Slip::Replace(at, length, String::new())),
        (at(), "[ -~\n]{1,12}|\\PC{1,6}").prop_map(|(at, words)| Slip::Replace(at, 0, words)),
        (at(), 1_usize..200).prop_map(|(at, length)| Slip::Repeat(at, length)),
        (at(), number).prop_map(|(at, other)| Slip::Number(at, other)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 300, rng_seed: RngSeed::Fixed(2026), failure_persistence: None, ..ProptestConfig::default()
    })]

    #[test]
    fn slips_of_the_hand_never_panic(slips in prop::collection::vec(slip(), 1..5)) {
        let mut text = STARTER.as_bytes().to_vec();
        for slip in &slips {
            slip.apply(&mut text);
        }
        let text = String::from_utf8_lossy(&text);
        let Err(error) = Bench::parse(&text, "slips.toml") else { return Ok(()) };
        prop_assert!(error.problems.iter().all(|problem| !problem.message.is_empty()) && !error.problems.is_empty());
        let folder = tempfile::tempdir()?;
        let path = folder.path().join("slips.toml");
        fs::write(&path, &*text)?;
        let run = mix(&path, &["--json"]);
        prop_assert!(run.status == 2 && run.err.contains("slips.toml, line "), "{}", run.err);
    }
}
