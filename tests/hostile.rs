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

/// What is seen, and does something where it is not taken as text.
const SEEN: [&str; 10] = [
    "<script>alert(1)</script>",
    "=1+1",
    "@sum",
    "+3*2",
    "-3",
    "a,b;c\\d",
    "\" onload=\"x",
    "</title><img src=x>",
    "Ärger & Söhne",
    "{{7*7}}",
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
                refused.problems.iter().flat_map(|problem| [problem.key.as_str(), problem.message.as_str()]).collect();
            assert!(!shown.contains(letters), "{what} is shown: {shown:?}");
        }
    }
}

/// What is seen is taken as it is, and shown as text: in pages as text, in a table of cells as a cell that reckons nothing.
#[test]
fn what_is_seen_is_text_everywhere() {
    for name in SEEN {
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

/// What a grower may name, each as it stands in a bench file of a whole cycle.
fn named_everywhere(name: &str) -> String {
    let name = quoted(name);
    format!(
        "{}\n[formula.{name}]\nfrom = \"push\"\n\
         [[product]]\nid = \"own\"\nname = {name}\nanalysis = {{ K2O = 20 }}\n\
         [cycle]\nstart = 2027-01-04\ngrowth = {{ formula = \"growth\", lasts = \"42 days\" }}\n\
         push = {{ formula = {name}, lasts = \"21 days\" }}\nrenew_every = \"14 days\"\n\
         [[group]]\nid = \"early\"\nname = {name}\ndays_to_flower = \"44 days\"\n\
         pollen_from = \"0 days\"\npollen_to = \"3 days\"\nstigma_from = \"4 days\"\nstigma_to = \"9 days\"\n",
        STARTER
            .replace("name = \"Streptocarpus flood bench\"", &format!("name = {name}"))
            .replace("[shelf]", "[shelf]\nown = {}")
            .replace("[tank]", &format!("[[tank]]\nid = {name}"))
    )
}

/// Cells of a table as a spreadsheet reads them.
fn cells(table: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut is_quoted = false;
    for letter in table.chars() {
        match letter {
            '"' => is_quoted = !is_quoted,
            ',' | '\r' | '\n' if !is_quoted => cells.push(String::new()),
            letter => cells.last_mut().expect("a cell").push(letter),
        }
    }
    cells
}

/// Each name in each place where a grower names something, through every output of every job that shows it.
#[test]
fn a_hostile_name_is_text_in_every_output() {
    use bloomsalt::ask::{Answer, Request, ask};
    use bloomsalt::report::{Form, calendar, csv, line, render};
    let stamp = bloomsalt::quantity::Stamp::midnight(bloomsalt::quantity::Date::parse("2026-12-01").expect("a day"));
    for name in SEEN {
        let bench = named_everywhere(name);
        let jobs = [
            json!({ "job": "mix", "formula": name, "bench": bench, "also": ["figures", "recipe"] }),
            json!({ "job": "mix-beside", "formula": "growth", "beside": name, "bench": bench }),
            json!({ "job": "check", "added": ["own=2g", "urea=3g"], "against": name, "bench": bench, "also": ["figures"] }),
            json!({ "job": "switch", "formula": name, "holding": "growth", "bench": bench, "also": ["figures"] }),
            json!({ "job": "stock", "formula": name, "bench": bench, "also": ["figures"] }),
            json!({ "job": "cycle", "bench": bench, "also": ["figures"] }),
            json!({ "job": "today", "logbooks": [], "now": "2027-01-05 08:00+00:00", "bench": bench }),
            json!({ "job": "salts", "words": "own", "bench": bench }),
            json!({ "job": "mix", "formula": format!("no {name}"), "bench": bench }),
        ];
        let mut shown = 0;
        for asked in jobs {
            let answer = match ask(&Request::parse(&asked.to_string()).expect("a request")) {
                Ok(answer) => answer,
                Err(refusal) => {
                    let whole = line(&refusal);
                    let document: Value = serde_json::from_str(&whole).expect("JSON");
                    assert!(whole.lines().count() == 1 && document["problems"].is_array(), "{name}: {whole}");
                    assert!(asked["formula"] != json!(name) || asked["job"] == "stock", "{asked}: {refusal}");
                    continue;
                }
            };
            let whole = line(&answer);
            assert!(whole.lines().count() == 1 && serde_json::from_str::<Value>(&whole).is_ok(), "{name}");
            let text = render(&answer, Form::Text { colour: false, plot: true }).expect("a text");
            assert!(text.chars().all(|letter| letter == '\n' || !letter.is_control()), "{name}: {text}");
            let sheet = render(&answer, Form::Sheet).expect("a sheet");
            assert!(!sheet.contains("<script") && !sheet.contains("\" onload=") && !sheet.contains("<img"), "{name}");
            shown += usize::from(
                sheet.contains(&name.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")),
            );
            if let Answer::Cycle(of) = &answer {
                let table = csv(&of.record);
                // a number reckons nothing
                let runs =
                    |cell: &&String| cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
                assert_eq!(cells(&table).iter().find(runs), None, "{name}: {table}");
                let plan = calendar(&of.record, stamp);
                for line in plan.split("\r\n") {
                    assert!(line.chars().all(|letter| !letter.is_control()) && line.len() <= 75, "{name}: {line}");
                    let known = line.is_empty() || line.starts_with(' ') || line.contains(':');
                    assert!(
                        known && (!line.starts_with("BEGIN:") || ["BEGIN:VCALENDAR", "BEGIN:VEVENT"].contains(&line)),
                        "{line}"
                    );
                }
            }
        }
        assert!(shown >= 5, "{name} is shown by {shown} sheets");
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
