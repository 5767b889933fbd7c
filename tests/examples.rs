//! The outputs beside the examples, and those that the guide shows, are what the program prints.
#![allow(clippy::disallowed_methods, reason = "reads the examples and the guide")]

use std::collections::BTreeSet;
use std::path::Path;

use bloomsalt::cli::{self, Console};

fn read(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Words of a command line; double quotes keep spaces together.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate();
    parts
        .flat_map(|(at, part)| if at % 2 == 1 { vec![part] } else { part.split_whitespace().collect() })
        .map(str::to_owned)
        .collect()
}

fn run(typed: &[String]) -> String {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let status = cli::run(typed, &mut out, &mut err, Console::default());
    assert_eq!(status, 0, "{typed:?}\n{}", String::from_utf8_lossy(&err));
    String::from_utf8(out).unwrap()
}

fn printed(command: &str) -> String {
    run(&words(command))
}

/// Commands of `examples/make.sh`: everything but comments, empty lines and `set -e`.
fn made_by() -> Vec<String> {
    let script = read("examples/make.sh");
    let lines = script.lines().filter(|line| !line.is_empty() && !line.starts_with('#') && *line != "set -e");
    lines.map(str::to_owned).collect()
}

/// Files under a folder of the repository, as `make.sh` names them.
fn files(folder: &str) -> Vec<String> {
    let entries = std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)).unwrap();
    let names = entries.map(|entry| entry.unwrap()).filter(|entry| entry.path().is_file());
    names.map(|entry| format!("{folder}/{}", entry.file_name().into_string().unwrap())).collect()
}

#[test]
fn the_outputs_beside_the_examples_are_what_the_program_prints() {
    // what a command writes goes into a folder of its own; benches and logbooks are read where they are
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir_all(folder.path().join("examples/sheets")).unwrap();
    let mut made = BTreeSet::new();
    for line in made_by() {
        let (command, to) = match line.split_once(" > ") {
            Some((command, to)) => (command, Some(to.to_owned())),
            None => (line.as_str(), None),
        };
        let mut typed = words(command);
        assert_eq!(typed.first().map(String::as_str), Some("bloomsalt"), "{line}");
        let mut written = Vec::new();
        for at in 1..typed.len() {
            if matches!(typed[at - 1].as_str(), "--sheet" | "--calendar" | "--csv") {
                written.push(typed[at].clone());
                typed[at] = folder.path().join(&typed[at]).display().to_string();
            }
        }
        let out = run(&typed);
        let now = written.into_iter().map(|file| {
            let text = std::fs::read_to_string(folder.path().join(&file)).unwrap();
            (file, text)
        });
        for (file, now) in now.chain(to.map(|file| (file, out))) {
            assert!(read(&file) == now, "{file} is out of date; remove it and run\n{line}");
            assert!(made.insert(file), "two lines make one file: {line}");
        }
    }
    let there = files("examples").into_iter().chain(files("examples/sheets"));
    let outputs: BTreeSet<String> =
        there.filter(|file| [".txt", ".html", ".ics", ".csv"].iter().any(|end| file.ends_with(end))).collect();
    assert_eq!(outputs, made, "examples/make.sh makes every output there");
}

/// Pages whose outputs are compared, and the files that their commands write: into a folder of its own for each page, where
/// the steps that follow find them.
const PAGES: [(&str, &[&str]); 10] = [
    ("README.md", &["bench.toml"]),
    ("docs/getting-started.md", &["bench.toml", "growth.json", "push.json", "tank.jsonl"]),
    ("docs/guide.md", &["growth.json", "push.json", "restore.json", "growth-again.json", "tank.jsonl"]),
    ("docs/commands.md", &["bench.toml", "tank.jsonl", "push-recipe.json", "recipe.json", "plan.ics", "plan.csv"]),
    ("docs/faq.md", &["growth.json"]),
    ("docs/cycle.md", &[]),
    ("docs/logbook.md", &["push.json", "tank.jsonl"]),
    ("docs/today.md", &[]),
    ("docs/top-up.md", &[]),
    ("docs/waters.md", &[]),
];

/// True when the lines of `now` are those of `shown`, in which a line `…` stands for any number of others.
fn shows(shown: &str, now: &str) -> bool {
    let mut left: Vec<&str> = now.trim_end().lines().collect();
    let shown: Vec<&str> = shown.trim_end().lines().collect();
    let mut parts = shown.split(|line| line.trim() == "…").peekable();
    let mut first = true;
    while let Some(part) = parts.next() {
        let at = match (first, parts.peek()) {
            // what stands before the first and after the last `…` is the beginning and the end
            (true, None) if left.len() != part.len() => return false,
            (true, _) => Some(0).filter(|_| left.starts_with(part)),
            (false, None) => left.len().checked_sub(part.len()).filter(|_| left.ends_with(part)),
            (false, Some(_)) => (0..=left.len()).find(|at| left[*at..].starts_with(part)),
        };
        let Some(at) = at else { return false };
        left.drain(..at + part.len());
        first = false;
    }
    true
}

/// Whether the pages are to be written anew: `BLOOMSALT_RENEW=1 cargo test --test all -- examples::every`. What it puts
/// where lines are left out is a guess to be read, since it looks for the lines most like those that stood there.
fn renews() -> bool {
    std::env::var_os("BLOOMSALT_RENEW").is_some()
}

/// What is shown, with every run of lines between two `…` replaced by the most similar run of the output.
fn renewed(shown: &str, now: &str) -> String {
    let now: Vec<&str> = now.trim_end().lines().collect();
    let shown: Vec<&str> = shown.trim_end().lines().collect();
    let parts: Vec<&[&str]> = shown.split(|line| line.trim() == "…").collect();
    if parts.len() == 1 {
        return now.join("\n");
    }
    let mut from = 0;
    let mut kept = Vec::new();
    for (number, part) in parts.iter().enumerate() {
        let last = now.len().saturating_sub(part.len());
        let like = |at: usize| -> f64 {
            part.iter().zip(&now[at..]).map(|(old, new)| strsim::normalized_levenshtein(old, new)).sum()
        };
        let at = match number {
            0 => 0,
            _ if number + 1 == parts.len() => last,
            _ => (from..=last.max(from)).rev().max_by(|a, b| like(*a).total_cmp(&like(*b))).unwrap_or(from),
        };
        let end = (at + part.len()).min(now.len());
        kept.push(now[at.min(end)..end].join("\n"));
        from = end;
    }
    let left_out = shown.iter().find(|line| line.trim() == "…").copied().unwrap_or("…");
    kept.join(&format!("\n{left_out}\n")).trim_matches('\n').to_owned()
}

#[test]
fn lines_left_out_are_left_out_and_no_others() {
    let now = "a\n\nb\nc\n\nd\n";
    for shown in ["a\n\nb\nc\n\nd", "a\n…", "…\nd", "a\n…\nc\n\nd", "a\n\n…\n\nd", "…\nb\n…", "…"] {
        assert!(shows(shown, now), "{shown}");
    }
    for shown in ["a", "a\n\nb\nc\n\ne", "…\nc", "b\n…", "a\n…\nd\n…\nb\n…", "a\n…\na\n…", "a\n\n\n…"] {
        assert!(!shows(shown, now), "{shown}");
    }
}

/// The section of a bench file that a page shows, put in the place of the one of that name: what the reader is told to do.
fn edited(bench: &str, section: &str) -> String {
    let head = section.lines().next().unwrap_or_default();
    let (before, after) = bench.split_once(&format!("\n{head}\n")).unwrap_or_else(|| panic!("the bench has no {head}"));
    let rest = after.split_once("\n\n").map_or("", |(_, rest)| rest);
    format!("{before}\n{section}\n{rest}")
}

/// A word of a command line, with the folder before it where it is one of the page's own files.
fn in_folder(word: &str, files: &[&str], folder: &str) -> String {
    if files.contains(&word) { format!("{folder}{word}") } else { word.to_owned() }
}

#[test]
fn every_output_on_the_pages_is_what_the_program_prints() {
    for (page, files) in PAGES {
        let folder = tempfile::tempdir().unwrap();
        let there = format!("{}/", folder.path().display());
        let bench = folder.path().join("bench.toml");
        let mut shown_runs = 0;
        for fenced in read(page).split("\n```").skip(1).step_by(2) {
            let (kind, block) = fenced.split_once('\n').expect("a block");
            if kind == "toml" && bench.exists() {
                let text = std::fs::read_to_string(&bench).unwrap();
                std::fs::write(&bench, edited(&text, &format!("{block}\n"))).unwrap();
            }
            let block = format!("\n{block}");
            for run in block.split("\n$ ").skip(1).filter(|_| kind == "console") {
                let (line, shown) = run.split_once('\n').unwrap_or((run, ""));
                let (command, away) = line.split_once(" > ").map_or((line, false), |(command, _)| (command, true));
                let own: Vec<String> = command.split(' ').map(|word| in_folder(word, files, &there)).collect();
                let now = printed(&own.join(" ")).replace(&there, "");
                let now = if away { "" } else { now.as_str() };
                shown_runs += 1;
                if shows(shown, now) {
                    continue;
                }
                assert!(renews(), "{page}: `{line}` does not print\n{shown}\nbut\n{now}");
                let was = read(page);
                let new = was.replacen(&format!("$ {line}\n{shown}"), &format!("$ {line}\n{}", renewed(shown, now)), 1);
                assert_ne!(was, new, "{page}: `{line}`");
                std::fs::write(Path::new(env!("CARGO_MANIFEST_DIR")).join(page), new).unwrap();
            }
        }
        assert!(shown_runs > 0, "{page} shows outputs");
    }
}

#[allow(dead_code, reason = "an example has a `main` of its own")]
#[path = "../examples/whole_cycle.rs"]
mod whole_cycle;

/// The example goes from growth to push and back: the library alone, and what is booked is what was reckoned.
#[test]
fn a_whole_cycle_without_the_terminal() {
    let mut out = Vec::new();
    whole_cycle::run(&mut out).expect("done");
    let told = String::from_utf8(out).expect("UTF-8");
    let at = |says: &str| told.find(says).unwrap_or_else(|| panic!("{says} is missing in\n{told}"));
    let in_order = [at("GROWTH"), at("CYCLE"), at("SWITCH TO PUSH"), at("SWITCH TO GROWTH"), at("TANK  2027-02-09")];
    assert!(in_order.is_sorted(), "{told}");
}
