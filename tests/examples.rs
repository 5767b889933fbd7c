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
    // what a command writes goes into a folder of its own; benches and diaries are read where they are
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

#[test]
fn every_output_in_the_guide_is_what_the_program_prints() {
    const LEFT_OUT: &str = "…";
    let guide = read("docs/guide.md");
    let blocks: Vec<&str> = guide.split("```console\n").skip(1).filter_map(|rest| rest.split("```").next()).collect();
    assert!(blocks.len() > 4, "the guide shows outputs");
    // recipes and the diary of the walk are written into a folder of its own, and the steps that follow find them there
    let folder = tempfile::tempdir().unwrap();
    let there = folder.path().display().to_string();
    for block in blocks {
        let (command, shown) = block.split_once('\n').expect("a command and its output");
        let command = command.strip_prefix("$ ").unwrap_or_else(|| panic!("a command first: {command}"));
        let own = command.replace(" growth.json", &format!(" {there}/growth.json"));
        let own = own.replace(" tank.jsonl", &format!(" {there}/tank.jsonl"));
        let now = printed(&own).replace(&format!("{there}/"), "");
        // sections end with an empty line; a line of its own stands for those that are left out
        let mut sections = now.trim_end().split("\n\n");
        let mut skipping = false;
        for part in shown.trim_end().split("\n\n") {
            if part == LEFT_OUT {
                skipping = true;
                continue;
            }
            let found = if skipping { sections.any(|section| section == part) } else { sections.next() == Some(part) };
            assert!(found, "`{command}` does not print, at this place,\n{part}\n");
            skipping = false;
        }
        assert!(skipping || sections.next().is_none(), "`{command}` prints more than is shown: say so with {LEFT_OUT}");
    }
}
