//! The pages of `docs/` say what the program does.
#![allow(clippy::disallowed_methods, reason = "reads the pages and the source of the rules")]

use std::collections::BTreeSet;
use std::path::Path;

use bloomsalt::bench::Bench;
use bloomsalt::catalogue::{Catalogue, Grade, Source};
use bloomsalt::cli::{self, Console};
use bloomsalt::report;
use bloomsalt::safety::Code;

fn page(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn grade(grade: Grade) -> String {
    serde_json::to_value(grade).unwrap().as_str().unwrap().to_owned()
}

#[test]
fn the_sources_page_is_the_register() {
    let text = page("docs/sources.md");
    let header = "| id | grade | citation |\n|---|---|---|\n";
    let (before, table) = text.split_once(header).expect("the header of the table");
    let row = |source: &Source| format!("| `{}` | {} | {} |\n", source.id, grade(source.grade), source.citation);
    let register = Catalogue::standard().sources().iter().map(row).collect::<Vec<_>>().concat();
    if std::env::var_os("BLOOMSALT_RENEW").is_some() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/sources.md");
        return std::fs::write(path, format!("{before}{header}{register}")).expect("written");
    }
    assert!(table == register, "docs/sources.md is out of date; `BLOOMSALT_RENEW=1 cargo test docs::` renews it");
}

/// Texts between `before` and the next `after`.
fn between<'a>(text: &'a str, before: &str, after: &str) -> BTreeSet<&'a str> {
    text.split(before).skip(1).filter_map(|rest| rest.split_once(after)).map(|(inside, _)| inside).collect()
}

#[test]
fn the_findings_page_names_every_code_and_no_other() {
    let codes: BTreeSet<&str> = Code::ALL.iter().map(|code| code.as_str()).collect();
    let kebab = |code: &str| !code.is_empty() && code.bytes().all(|b| b.is_ascii_lowercase() || b == b'-');
    assert!(codes.len() == Code::ALL.len() && codes.iter().all(|code| kebab(code)), "{codes:?}");
    let text = page("docs/findings.md");
    // the first cell of every row of the table
    let rows = between(&text, "\n| `", "` |");
    assert_eq!(rows, codes);
    // and elsewhere only codes, keys of the bench file and commands
    let shaped = |word: &&str| word.contains('-') && word.bytes().all(|b| b.is_ascii_lowercase() || b == b'-');
    let quoted: BTreeSet<&str> = text.split('`').skip(1).step_by(2).filter(shaped).filter(|w| !w.starts_with('-')).collect();
    assert!(quoted.is_subset(&codes), "no such finding: {:?}", quoted.difference(&codes));
}

/// A bench file with a key that no section knows, in every section.
const UNKNOWN: &str = r#"
zzzz = 1
[tank]
volume = "60 L"
zzzz = 1
[[water]]
id = "rain"
zzzz = 1
[[scale]]
readability = "0.1 g"
zzzz = 1
[syringe]
capacity = "60 mL"
zzzz = 1
[[jug]]
id = "jug"
step = "10 mL"
capacity = "1 L"
zzzz = 1
[shelf]
potassium-nitrate = { zzzz = 1 }
[[product]]
id = "own"
analysis = { zzzz = 1 }
zzzz = 1
[[helper]]
id = "bottle"
volume = "1 L"
made_of = { boric-acid = "3.5 g" }
zzzz = 1
[acid]
salt = "phosphoric-acid-10"
target_pH = 5.8
zzzz = 1
[formula.growth]
N = { target = 90, zzzz = 1 }
ammonium_share = { max = 0.15, zzzz = 1 }
EC = { max = "1.3 mS/cm", zzzz = 1 }
zzzz = 1
[cycle]
renew_every = "14 days"
push = { formula = "growth", lasts = "21 days", zzzz = 1 }
zzzz = 1
[[group]]
id = "early"
days_to_flower = "45 days"
pollen_from = "0 days"
pollen_to = "3 days"
stigma_from = "4 days"
stigma_to = "9 days"
zzzz = 1
"#;

#[test]
fn the_bench_file_page_names_every_key() {
    let text = page("docs/bench-file.md");
    let error = Bench::parse(UNKNOWN, "unknown.toml").unwrap_err();
    let lists: Vec<(&str, &str)> = error
        .problems
        .iter()
        .filter_map(|problem| Some((problem.key.as_str(), problem.message.split_once("; it takes ")?.1)))
        .collect();
    let tables = UNKNOWN.matches("zzzz").count();
    assert_eq!(lists.len(), tables, "every unknown key is told, with what is taken: {error}");
    for (place, list) in lists {
        for key in list.split(", ") {
            assert!(text.contains(&format!("`{key}`")), "docs/bench-file.md does not name `{key}` ({place})");
        }
    }
}

#[test]
fn the_json_page_names_every_property_of_a_mix() {
    let schemas: serde_json::Value = serde_json::from_str(&report::schema()).unwrap();
    let text = page("docs/json.md");
    let documents = [
        "mix",
        "mix-beside",
        "check",
        "trade",
        "switch",
        "scale",
        "cycle",
        "salts",
        "recipe",
        "logbook-add",
        "logbook-show",
        "logbook-now",
        "logbook-forecast",
    ];
    for document in documents {
        for key in schemas[document]["properties"].as_object().unwrap().keys() {
            let named = [format!("`{key}`"), format!("`{key}[].")].iter().any(|word| text.contains(word));
            assert!(named, "docs/json.md does not name `{key}` of {document}");
        }
    }
}

/// Words of a command line; double quotes keep spaces together.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate();
    parts
        .flat_map(|(at, part)| if at % 2 == 1 { vec![part] } else { part.split_whitespace().collect() })
        .map(str::to_owned)
        .collect()
}

#[test]
fn every_command_shown_runs() {
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let pages = ["docs/commands.md", "docs/cycle.md", "docs/logbook.md", "docs/sheet.md"];
    for name in pages.into_iter().chain(readme.exists().then_some("README.md")) {
        // files that a command writes go to a folder of their own, and later commands find them there
        let folder = tempfile::tempdir().unwrap();
        let mut written = BTreeSet::new();
        let text = page(name);
        let lines = text.split("```console\n").skip(1).filter_map(|rest| rest.split("```").next()).flat_map(str::lines);
        let commands = lines.filter_map(|line| line.strip_prefix("$ ")).filter(|line| line.starts_with("bloomsalt"));
        for line in commands {
            let mut command = words(line.split(" > ").next().unwrap_or(line));
            let writes = |option: &str| matches!(option, "new" | "add" | "--save" | "--sheet" | "--calendar" | "--csv");
            let files = command.windows(2).filter(|pair| writes(&pair[0])).map(|pair| pair[1].clone());
            written.extend(files);
            for word in command.iter_mut().filter(|word| written.contains(*word)) {
                *word = folder.path().join(&*word).display().to_string();
            }
            let (mut out, mut err) = (Vec::new(), Vec::new());
            let status = cli::run(&command, &mut out, &mut err, Console::default());
            assert_eq!(status, 0, "{name}: {line}\n{}", String::from_utf8_lossy(&err));
        }
    }
}

/// Long options of a command and of the commands in it.
fn options(command: &clap::Command) -> BTreeSet<String> {
    let own = command.get_arguments().filter_map(clap::Arg::get_long).map(|long| format!("--{long}"));
    own.chain(command.get_subcommands().flat_map(options)).collect()
}

#[test]
fn the_commands_page_names_every_option() {
    let text = page("docs/commands.md");
    for command in cli::command().get_subcommands() {
        let heading = format!("\n## `bloomsalt {}", command.get_name());
        let mut sections: String = text.split(&heading).skip(1).filter_map(|rest| rest.split("\n## ").next()).collect();
        if command.get_name() == "logbook" {
            // what each event takes stands on a page of its own
            sections += &page("docs/logbook.md");
        }
        for option in options(command) {
            assert!(sections.contains(&option), "docs/commands.md does not name `{option}` of {}", command.get_name());
        }
    }
}

/// The anchor that a heading gets where the pages are shown: small letters, digits, hyphens; a space is a hyphen.
fn anchor(heading: &str) -> String {
    let kept = heading.to_lowercase();
    let kept = kept.chars().filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'));
    kept.map(|c| if c == ' ' { '-' } else { c }).collect()
}

#[test]
fn every_link_between_the_pages_leads_somewhere() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let in_docs = std::fs::read_dir(root.join("docs")).unwrap().map(|file| file.unwrap().path());
    let pages = in_docs.chain([root.join("README.md"), root.join("DEVELOPERS.md")]).filter(|path| path.exists());
    let mut links = 0;
    for path in pages {
        let text = std::fs::read_to_string(&path).unwrap();
        let targets = text.split("](").skip(1).filter_map(|rest| rest.split_once(')')).map(|(target, _)| target);
        for target in targets.filter(|target| !target.contains("://")) {
            let (file, heading) = target.split_once('#').unwrap_or((target, ""));
            let to = if file.is_empty() { path.clone() } else { path.parent().unwrap().join(file) };
            assert!(to.exists(), "{}: `{target}` is no file", path.display());
            if !heading.is_empty() {
                let page = std::fs::read_to_string(&to).unwrap();
                let mut headings = page.lines().filter(|line| line.starts_with('#'));
                let found = headings.any(|line| anchor(line.trim_start_matches('#').trim()) == heading);
                assert!(found, "{}: `{target}` is no heading there", path.display());
            }
            links += 1;
        }
    }
    assert!(links > 50, "links are found: {links}");
}
