//! The outputs beside the examples, and those that the guide shows, are what the program prints.
#![allow(clippy::disallowed_methods, reason = "reads the examples and the guide")]

use std::path::Path;

use bloomsalt::cli::{self, Console};

/// A file of `examples/`, and the command whose output it holds.
const OUTPUTS: [(&str, &str); 6] = [
    ("ten-litres-growth.txt", "bloomsalt mix growth --bench examples/ten-litres.toml"),
    ("ten-litres-push.txt", "bloomsalt mix push --bench examples/ten-litres.toml"),
    ("ten-litres-finer-push.txt", "bloomsalt mix push --bench examples/ten-litres-finer.toml"),
    ("ten-litres-bottles-push.txt", "bloomsalt mix push --bench examples/ten-litres-bottles.toml"),
    ("one-calcium-push.txt", "bloomsalt mix push --bench examples/one-calcium.toml"),
    ("one-calcium-trade.txt", "bloomsalt mix push --bench examples/one-calcium.toml --trade N:Ca"),
];

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

fn printed(command: &str) -> String {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let status = cli::run(words(command), &mut out, &mut err, Console::default());
    assert_eq!(status, 0, "{command}\n{}", String::from_utf8_lossy(&err));
    String::from_utf8(out).unwrap()
}

#[test]
fn the_outputs_beside_the_examples_are_what_the_program_prints() {
    for (file, command) in OUTPUTS {
        let now = printed(command);
        assert!(read(&format!("examples/{file}")) == now, "examples/{file} is out of date; `{command}` prints\n{now}");
    }
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
