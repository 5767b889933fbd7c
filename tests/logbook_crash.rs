//! Writing a logbook with the built program: killed at any moment, and two processes at once.
#![allow(clippy::disallowed_methods, reason = "runs the program and reads what it wrote")]

use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Duration;

use bloomsalt::logbook::{Event, Logbook};

fn note(file: &Path, text: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bloomsalt"));
    command.args(["logbook", "add"]).arg(file).args(["--at", "2026-10-03 18:30+02:00", "note", text]);
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn added(file: &Path, text: &str) -> Output {
    note(file, text).output().expect("the program runs")
}

fn notes(logbook: &Logbook) -> Vec<&str> {
    let events = logbook.entries().iter().map(|entry| &entry.event);
    events.filter_map(|event| if let Event::Note { text } = event { Some(text.as_str()) } else { None }).collect()
}

fn read(file: &Path) -> Logbook {
    let bytes = std::fs::read(file).expect("the logbook");
    Logbook::parse(&bytes, &[]).unwrap_or_else(|damage| panic!("{damage}"))
}

/// 200 writers killed (SIGKILL on Unix) after 0 to 12 ms; `BLOOMSALT_KILLS` asks for more. What was acknowledged is there,
/// nothing is there twice, every entry is whole and in its place.
#[test]
fn killed_writers_lose_nothing_that_was_acknowledged() {
    let kills: u64 = std::env::var("BLOOMSALT_KILLS").ok().and_then(|asked| asked.parse().ok()).unwrap_or(200);
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("tank.jsonl");
    let long = "x".repeat(3000);
    let mut acknowledged = BTreeSet::new();
    let mut killed = 0;
    // a small generator of our own: delays differ, and are the same on every run
    let mut random = 20_261_125_u64;
    for count in 0..kills {
        random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let text = format!("{count} {long}");
        let mut child = note(&file, &text).spawn().expect("the program runs");
        std::thread::sleep(Duration::from_micros((random >> 33) % 12_000));
        child.kill().expect("killed, or done already");
        let output = child.wait_with_output().expect("it ends");
        if output.status.success() || !output.stdout.is_empty() {
            acknowledged.insert(text);
        } else {
            killed += 1;
        }
    }
    let last = added(&file, "the last");
    assert!(last.status.success(), "{}", String::from_utf8_lossy(&last.stderr));
    let logbook = read(&file);
    assert!(logbook.torn().is_empty(), "the last entry names what was torn");
    let notes = notes(&logbook);
    let there: BTreeSet<&str> = notes.iter().copied().collect();
    assert_eq!(there.len(), notes.len(), "nothing is there twice");
    let lost: Vec<&String> = acknowledged.iter().filter(|text| !there.contains(text.as_str())).collect();
    assert!(lost.is_empty(), "{} of {} acknowledged entries are lost", lost.len(), acknowledged.len());
    let numbers: Vec<u64> = logbook.entries().iter().map(|entry| entry.number).collect();
    assert_eq!(numbers, (1..=numbers.len() as u64).collect::<Vec<_>>());
    assert!(killed > 0, "some writers were killed before they were done");
}

/// A file cut at any byte of its last line, as a crash leaves it, is taken up by the program: told, kept, and named.
#[test]
fn the_program_goes_on_after_a_torn_line() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("tank.jsonl");
    assert!(added(&file, "first").status.success());
    assert!(added(&file, "second").status.success());
    let whole = std::fs::read(&file).expect("the logbook");
    let start = whole.iter().position(|byte| *byte == b'\n').expect("a line") + 1;
    for cut in [start + 1, start + 17, whole.len() - 2] {
        std::fs::write(&file, &whole[..cut]).expect("written");
        let show =
            Command::new(env!("CARGO_BIN_EXE_bloomsalt")).args(["logbook", "show"]).arg(&file).output().expect("runs");
        assert!(show.status.success());
        let told = String::from_utf8_lossy(&show.stderr).into_owned();
        assert!(told.contains("warning: line 2 of") && told.contains("is torn"), "{told}");
        assert_eq!(std::fs::read(&file).expect("the logbook"), &whole[..cut], "reading writes nothing");
        let again = added(&file, "second again");
        assert!(again.status.success());
        assert!(String::from_utf8_lossy(&again.stderr).contains("is torn"));
        let bytes = std::fs::read(&file).expect("the logbook");
        assert!(bytes.starts_with(&whole[..cut]), "nothing is rewritten");
        let logbook = read(&file);
        assert_eq!(notes(&logbook), ["first", "second again"]);
        assert_eq!(logbook.entries()[1].event, Event::Recovered { lines: vec![2] });
    }
}

/// Two processes, fifty entries each, at once: all there, numbered without gaps.
#[test]
fn two_writers_at_once_lose_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("tank.jsonl");
    std::thread::scope(|scope| {
        for writer in ["a", "b"] {
            let file = &file;
            scope.spawn(move || {
                for count in 0..50 {
                    let output = added(file, &format!("{writer}{count}"));
                    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
                }
            });
        }
    });
    let logbook = read(&file);
    let numbers: Vec<u64> = logbook.entries().iter().map(|entry| entry.number).collect();
    assert_eq!(numbers, (1..=100).collect::<Vec<u64>>());
    let there: BTreeSet<&str> = notes(&logbook).into_iter().collect();
    assert_eq!(there.len(), 100);
}
