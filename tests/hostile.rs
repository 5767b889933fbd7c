//! Names that do more than name: none reaches a page, a calendar, a table or a terminal.

use bloomsalt::bench::Bench;
use serde_json::{Value, json};

use crate::program::bloomsalt;

/// What a name may hold that is not seen, and does something.
const UNSEEN: [(&str, &str); 9] = [
    ("a terminal's command", "\u{1b}[2J"),
    ("a line end", "\n"),
    ("a carriage return", "\r"),
    ("a null", "\u{0}"),
    ("writing turned round", "\u{202e}"),
    ("an isolate", "\u{2066}"),
    ("a joiner", "\u{200b}"),
    ("a byte order mark", "\u{feff}"),
    ("a line separator", "\u{2028}"),
];

const STARTER: &str = include_str!("../src/bench/starter.toml");

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    let letters = text.chars().map(|letter| match letter {
        '"' | '\\' => format!("\\{letter}"),
        letter if letter.is_control() => format!("\\u{:04X}", u32::from(letter)),
        letter => letter.to_string(),
    });
    format!("\"{}\"", letters.collect::<String>())
}

#[test]
fn what_is_not_seen_is_refused_wherever_a_bench_file_names() {
    for (what, letters) in UNSEEN {
        let name = quoted(&format!("bad{letters}name"));
        let places = [
            STARTER.replace("name = \"Streptocarpus flood bench\"", &format!("name = {name}")),
            format!("{STARTER}\n[formula.{name}]\nN = 90\n"),
            format!("{STARTER}\n[[product]]\nid = \"own\"\nname = {name}\nanalysis = {{ K2O = 20 }}\n"),
            format!("{STARTER}\n[[helper]]\nid = {name}\nvolume = \"1 L\"\nmade_of = {{ boric-acid = \"1 g\" }}\n"),
            format!(
                "{STARTER}\n[cycle]\ngrowth = {{ formula = \"growth\", lasts = \"42 days\" }}\n\
                 push = {{ formula = \"push\", lasts = \"21 days\" }}\nrenew_every = \"14 days\"\n\
                 [[group]]\nid = {name}\ndays_to_flower = \"44 days\"\n"
            ),
        ];
        for text in places {
            let refused = Bench::parse(&text, "bench.toml").expect_err(what);
            assert!(
                refused
                    .problems
                    .iter()
                    .any(|problem| { problem.message.contains("not seen") || problem.message.contains("on one line") }),
                "{what}: {:?}",
                refused.problems
            );
            let shown: String =
                refused.problems.iter().map(|problem| format!("{}{}", problem.key, problem.message)).collect();
            assert!(!shown.contains(letters), "{what} is shown: {shown:?}");
        }
    }
}

/// What is seen is taken as it is, and shown as text: in pages as text, in a table of cells as a cell that reckons nothing.
#[test]
fn what_is_seen_is_text_everywhere() {
    for name in ["<script>alert(1)</script>", "=1+1", "@sum", "a,b;c\\d", "\" onload=\"x", "Ärger & Söhne", "{{7*7}}"] {
        let text = STARTER.replace("name = \"Streptocarpus flood bench\"", &format!("name = {}", quoted(name)));
        let bench = Bench::parse(&text, "bench.toml").unwrap_or_else(|error| panic!("{name}: {:?}", error.problems));
        assert_eq!(bench.name, name);
        let request = json!({ "job": "mix", "formula": "push", "bench": text, "also": ["figures"] }).to_string();
        let request = bloomsalt::ask::Request::parse(&request).expect("a request");
        let answer = bloomsalt::ask::ask(&request).expect("answered");
        let sheet = bloomsalt::report::render(&answer, bloomsalt::report::Form::Sheet).expect("a sheet");
        assert!(!sheet.contains("<script>alert") && !sheet.contains("\" onload=\"x"), "{name}");
        let document: Value = serde_json::from_str(&bloomsalt::report::line(&answer)).expect("JSON");
        assert_eq!(document["bench"], name);
    }
}

#[test]
fn a_note_is_kept_as_written_and_shown_without_what_is_not_seen() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("tank.jsonl");
    let file = file.to_str().expect("UTF-8");
    let note = "pest\u{1b}[2J\u{202e}seen\nhere";
    let (status, out, err) = bloomsalt(&["logbook", "add", file, "--at", "2027-01-04 08:00+00:00", "note", note]);
    assert_eq!(status, 0, "{err}");
    let (_, shown, _) = bloomsalt(&["logbook", "show", file]);
    for text in [out, shown] {
        assert!(text.contains("pest") && !text.contains('\u{1b}') && !text.contains('\u{202e}'), "{text:?}");
    }
}

/// A change that stands is no failure because nobody heard of it.
#[test]
fn an_entry_stands_though_its_answer_cannot_be_printed() {
    struct Full;
    impl std::io::Write for Full {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::Error::other("no room"))
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("tank.jsonl");
    let file = file.to_str().expect("UTF-8");
    let mut err = Vec::new();
    let line = ["bloomsalt", "logbook", "add", file, "--at", "2027-01-04 08:00+00:00", "note", "kept"];
    let console = bloomsalt::cli::Console { colour_out: false, colour_err: false, terminal_out: false };
    assert_eq!(bloomsalt::cli::run(line, &mut Full, &mut err, console), 0);
    let err = String::from_utf8(err).expect("UTF-8");
    assert!(err.contains("no room") && err.contains("stands in the file"), "{err}");
    assert!(bloomsalt(&["logbook", "show", file]).1.contains("note: kept"));
}
