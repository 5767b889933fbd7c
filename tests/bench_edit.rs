//! A bench file read for a form and changed key by key: what is asked for changes, and not a byte beside it.

#![allow(clippy::disallowed_methods, reason = "reads the bench files of the examples")]

use bloomsalt::ask::{Answer, Request, ask};
use bloomsalt::bench::{Bench, Edit, EditError, STARTER, Step, edited, written};
use proptest::prelude::*;
use serde_json::{Value, json};

fn key(path: &Value) -> Vec<Step> {
    serde_json::from_value(path.clone()).expect("a path")
}

fn edit(path: &Value, value: Option<Value>) -> Edit {
    Edit { key: key(path), value }
}

/// A bench that is written in many ways: dotted keys, tables in braces, lists over lines, comments at every place.
const WAYS: &str = r#"# first of all
name = 'Bench' # its name
bottles = [
  "250 mL", # small
  # none between
  "1 L",
]

# --- tank ---
[tank] # ours
# in all
volume = "60 L"        # final volume
temperature.x = 1
temperature.y = 2 # dotted

[[scale]] # kitchen
readability = "0.1 g"
trust = 0.05
# below the last of the first scale

[[scale]]
readability = "0.001 g"

[shelf]
potassium-nitrate = {}
"urea" = { on_hand = "2 kg", purity = 0.99 } # in a tin
monopotassium-phosphate = { on_hand = "1 kg" }

[formula.growth] # while leaves grow
N = 90
S = { min = 10, max = 100 }

[formula."push it"]
# a fraction
N = { times = 0.4 }
made_on = 2026-10-03
"#;

#[test]
fn what_is_asked_for_changes_and_nothing_else() {
    let cases = [
        (json!(["tank", "volume"]), json!("45.5 L"), "volume = \"60 L\" ", "volume = \"45.5 L\" "),
        (json!(["name"]), json!("It's \"mine\""), "'Bench'", "\"It's \\\"mine\\\"\""),
        (json!(["scale", 1, "trust"]), json!(0.2), "\"0.001 g\"\n", "\"0.001 g\"\ntrust = 0.2\n"),
        (json!(["scale", 0, "trust"]), Value::Null, "trust = 0.05\n", ""),
        (json!(["shelf", "urea", "purity"]), Value::Null, ", purity = 0.99", ""),
        (json!(["shelf", "urea", "on_hand"]), Value::Null, "on_hand = \"2 kg\", ", ""),
        (json!(["shelf", "monopotassium-phosphate", "on_hand"]), Value::Null, "on_hand = \"1 kg\"", ""),
        (json!(["shelf", "potassium-nitrate", "purity"]), json!(0.98), "nitrate = {}", "nitrate = { purity = 0.98 }"),
        (json!(["shelf", "urea", "price_per_kg"]), json!(6.5), "purity = 0.99", "purity = 0.99, price_per_kg = 6.5"),
        (json!(["shelf", "boric-acid"]), json!({}), "\"1 kg\" }\n", "\"1 kg\" }\nboric-acid = {}\n"),
        (json!(["formula", "growth", "K"]), json!(100), "max = 100 }\n", "max = 100 }\nK = 100\n"),
        (json!(["formula", "growth", "N"]), json!({ "target": 90, "min": 80 }), "N = 90", "N = { target = 90, min = 80 }"),
        (json!(["formula", "push it", "N", "times"]), json!(0.35), "times = 0.4", "times = 0.35"),
        (json!(["formula", "push it", "made_on"]), json!("2026-11-24"), "2026-10-03", "2026-11-24"),
        (json!(["tank", "temperature", "y"]), json!(3), "y = 2", "y = 3"),
        (json!(["tank", "temperature", "z"]), json!(4), "y = 2 # dotted\n", "y = 2 # dotted\ntemperature.z = 4\n"),
        (json!(["bottles", 2]), json!("5 L"), "\"1 L\",", "\"1 L\", \"5 L\","),
        (json!(["bottles", 0]), json!("100 mL"), "\"250 mL\"", "\"100 mL\""),
        (json!(["bottles", 0]), Value::Null, "  \"250 mL\", # small\n", ""),
        (json!(["bottles", 1]), Value::Null, "  \"1 L\",\n", ""),
        (json!(["group"]), json!(7), "\"1 L\",\n]\n", "\"1 L\",\n]\ngroup = 7\n"),
        (
            json!(["scale", 2]),
            json!({ "readability": "1 g", "trust": 0.1 }),
            "\"0.001 g\"\n\n",
            "\"0.001 g\"\n\n[[scale]]\nreadability = \"1 g\"\ntrust = 0.1\n\n",
        ),
        (json!(["scale", 0]), Value::Null, "[[scale]] # kitchen\nreadability = \"0.1 g\"\ntrust = 0.05\n# below", "# below"),
        (
            json!(["formula", "weak pH", "from"]),
            json!("growth"),
            "2026-10-03\n",
            "2026-10-03\n\n[formula.\"weak pH\"]\nfrom = \"growth\"\n",
        ),
        (
            json!(["formula", "growth"]),
            Value::Null,
            "[formula.growth] # while leaves grow\nN = 90\nS = { min = 10, max = 100 }\n",
            "",
        ),
        (json!(["water", "Ca"]), json!(9), "2026-10-03\n", "2026-10-03\n\n[water]\nCa = 9\n"),
    ];
    for (path, value, from, to) in cases {
        assert_eq!(WAYS.matches(from).count(), 1, "{path}: {from:?}");
        let expected = WAYS.replace(from, to);
        for (text, expected) in [
            (WAYS.to_owned(), expected.clone()),
            (WAYS.replace('\n', "\r\n"), expected.replace('\n', "\r\n")),
            (format!("\u{feff}{WAYS}"), format!("\u{feff}{expected}")),
        ] {
            let new = edited(&text, &edit(&path, Some(value.clone())));
            assert_eq!(new.as_deref(), Ok(&expected[..]), "{path} = {value}");
        }
    }
}

#[test]
fn one_table_becomes_several_and_a_whole_section_only_what_differs() {
    let two = json!([{ "id": "small", "volume": "20 L" }, { "id": "large", "volume": "90 L" }]);
    let new = edited(STARTER, &edit(&json!(["tank"]), Some(two.clone()))).expect("changed");
    let bench = Bench::parse(&new, "bench").unwrap_or_else(|error| panic!("{error}\n{new}"));
    assert_eq!(bench.tanks.iter().map(|(id, _)| id.as_str()).collect::<Vec<_>>(), ["small", "large"]);
    assert_eq!(written(&new).expect("TOML")["tank"], two);
    // of a section that is given whole only the lines that differ are touched
    let growth = &written(WAYS).expect("TOML")["formula"]["growth"];
    let mut other = growth.clone();
    other["S"]["max"] = json!(80);
    let new = edited(WAYS, &edit(&json!(["formula", "growth"]), Some(other))).expect("changed");
    assert_eq!(new, WAYS.replace("max = 100", "max = 80"));
    // and a text without an end of its last line stays one line a key
    let new = edited("[tank]\nvolume = \"60 L\"", &edit(&json!(["tank", "temperature"]), Some(json!("21 C"))));
    assert_eq!(new.as_deref(), Ok("[tank]\nvolume = \"60 L\"\ntemperature = \"21 C\""));
}

#[test]
fn what_cannot_be_is_refused_and_no_panic() {
    let cases = [
        (json!([]), json!(1), EditError::NoPlace),
        (json!([0]), json!(1), EditError::NoPlace),
        (json!(["tank", 0]), json!(1), EditError::NoPlace),
        (json!(["scale", 3, "trust"]), json!(0.1), EditError::NoPlace),
        (json!(["scale", "trust"]), json!(0.1), EditError::NoPlace),
        (json!(["tank", "volume", "x"]), json!(1), EditError::NoPlace),
        (json!(["tank", "colour"]), Value::Null, EditError::NoPlace),
        (json!(["a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "l", "m"]), json!(1), EditError::NoPlace),
        (json!(["tank", "volume"]), json!({ "a": null }), EditError::NoValue),
        (json!(["tank", "volume"]), json!(u64::MAX), EditError::NoValue),
        (json!(["formula", "x"]), json!(1), EditError::TakesKeys),
    ];
    for (path, value, error) in cases {
        assert_eq!(edited(WAYS, &edit(&path, Some(value))), Err(error), "{path}");
    }
    // dotted keys in braces are for a person to change
    let dots = "a = { b.c = 1, b.d = 2 }\n";
    assert_eq!(edited(dots, &edit(&json!(["a", "b", "c"]), None)), Err(EditError::ByHand));
    assert_eq!(edited(dots, &edit(&json!(["a", "b", "c"]), Some(json!(5)))).as_deref(), Ok("a = { b.c = 5, b.d = 2 }\n"));
    assert_eq!(edited("[tank\n", &edit(&json!(["a"]), Some(json!(1)))), Err(EditError::ByHand));
}

/// The way to every value that holds no other, and to every table and list.
fn ways(value: &Value, path: &mut Vec<Value>, leaves: &mut Vec<Value>, all: &mut Vec<Value>) {
    if !path.is_empty() {
        all.push(Value::Array(path.clone()));
    }
    let inner: Vec<(Value, &Value)> = match value {
        Value::Object(keys) => keys.iter().map(|(key, value)| (json!(key), value)).collect(),
        Value::Array(list) => list.iter().enumerate().map(|(at, value)| (json!(at), value)).collect(),
        _ => Vec::new(),
    };
    if inner.is_empty() {
        leaves.push(Value::Array(path.clone()));
    }
    for (step, value) in inner {
        path.push(step);
        ways(value, path, leaves, all);
        path.pop();
    }
}

fn at<'v>(value: &'v Value, path: &Value) -> Option<&'v Value> {
    path.as_array().expect("a path").iter().try_fold(value, |value, step| match step {
        Value::String(key) => value.get(key),
        step => value.get(usize::try_from(step.as_u64()?).ok()?),
    })
}

/// A TOML text by the other reader of the library: the one that knows no places.
fn plain(text: &str) -> Value {
    fn json_of(value: toml::Value) -> Value {
        match value {
            toml::Value::String(text) => json!(text),
            toml::Value::Integer(whole) => json!(whole),
            toml::Value::Float(number) => json!(number),
            toml::Value::Boolean(yes) => json!(yes),
            toml::Value::Datetime(day) => json!(day.to_string()),
            toml::Value::Array(list) => list.into_iter().map(json_of).collect(),
            toml::Value::Table(keys) => keys.into_iter().map(|(key, value)| (key, json_of(value))).collect(),
        }
    }
    json_of(toml::Value::Table(toml::from_str(text).expect("TOML")))
}

/// How many lines of the old text are not in the new one before and after what differs, and the other way round.
fn lines_apart(old: &str, new: &str) -> (usize, usize) {
    let (old, new): (Vec<&str>, Vec<&str>) = (old.split('\n').collect(), new.split('\n').collect());
    let before = old.iter().zip(&new).take_while(|(old, new)| old == new).count();
    let most = old.len().min(new.len()) - before;
    let after = old.iter().rev().zip(new.iter().rev()).take(most).take_while(|(old, new)| old == new).count();
    (old.len() - before - after, new.len() - before - after)
}

/// Every bench file of the examples and of the known cases, every place of it: set to what it is nothing changes; taken out and
/// put in again it says the same.
#[test]
fn every_place_of_every_bench_file_can_be_changed() {
    let root = env!("CARGO_MANIFEST_DIR");
    let files = [format!("{root}/examples"), format!("{root}/tests/cases")].map(|folder| {
        let all = std::fs::read_dir(&folder).expect("a folder").map(|file| file.expect("a file").path());
        all.filter(|path| path.extension().is_some_and(|of| of == "toml")).collect::<Vec<_>>()
    });
    let mut places = 0;
    for file in files.concat() {
        let text = std::fs::read_to_string(&file).expect("a bench");
        let before = plain(&text);
        assert_eq!(written(&text).as_ref(), Some(&before), "{}", file.display());
        let mut all = Vec::new();
        ways(&before, &mut Vec::new(), &mut Vec::new(), &mut all);
        for path in &all {
            let value = at(&before, path).cloned().expect("a value");
            assert_eq!(edited(&text, &edit(path, Some(value.clone()))).as_ref(), Ok(&text), "{path}");
            let without = edited(&text, &edit(path, None)).unwrap_or_else(|error| panic!("{path}: {error}"));
            assert_ne!(without, text, "{path}");
            if path.as_array().expect("a path").iter().all(Value::is_string) {
                let again = edited(&without, &edit(path, Some(value))).unwrap_or_else(|error| panic!("{path}: {error}"));
                assert_eq!(plain(&again), before, "{path}");
            }
            places += 1;
        }
    }
    assert!(places > 500, "{places}");
}

fn texts() -> impl Strategy<Value = String> {
    let text = prop_oneof![Just(STARTER), Just(WAYS), Just(include_str!("../examples/streptocarpus-cycle.toml"))];
    (text, any::<bool>()).prop_map(|(text, crlf)| if crlf { text.replace('\n', "\r\n") } else { text.to_owned() })
}

fn values() -> impl Strategy<Value = Value> {
    prop_oneof![
        Just(json!("45 L # no \"comment\" \\ é")),
        Just(json!("two\nlines")),
        Just(json!("2026-11-24")),
        Just(json!(true)),
        Just(json!([1, "a", []])),
        Just(json!({ "a b": { "c": 1.5 }, "d": [{ "e": "f" }] })),
        any::<i64>().prop_map(|whole| json!(whole)),
        (-1e300..1e300).prop_map(|number| json!(number)),
        "[ -~]{0,12}".prop_map(|text| json!(text)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// A value that is changed is there when it is read; at most the lines that it stood in have changed.
    #[test]
    fn a_value_that_is_set_is_read((text, value) in (texts(), values()), pick in any::<prop::sample::Index>()) {
        let mut leaves = Vec::new();
        ways(&plain(&text), &mut Vec::new(), &mut leaves, &mut Vec::new());
        let path = pick.get(&leaves);
        let new = edited(&text, &edit(path, Some(value.clone()))).expect("changed");
        let mut expected = plain(&text);
        let mut place = &mut expected;
        for step in path.as_array().expect("a path") {
            place = match step {
                Value::String(key) => &mut place[key],
                step => &mut place[usize::try_from(step.as_u64().expect("a place")).expect("small")],
            };
        }
        *place = value.clone();
        prop_assert_eq!(plain(&new), expected);
        let old = at(&plain(&text), path).cloned().expect("a value");
        let lines = if old.is_array() { 5 } else { 1 };
        prop_assert!(lines_apart(&text, &new).0 <= lines, "{path}: {new}");
        prop_assert_eq!(new.matches("\r\n").count() > 0, text.contains("\r\n"));
    }

    /// What is taken out is gone, with no comment but that of its own line, and comes back when it is put in again.
    #[test]
    fn what_is_taken_out_comes_back(text in texts(), pick in any::<prop::sample::Index>()) {
        let mut all = Vec::new();
        let before = plain(&text);
        ways(&before, &mut Vec::new(), &mut Vec::new(), &mut all);
        let path = pick.get(&all);
        let value = at(&before, path).cloned().expect("a value");
        let without = edited(&text, &edit(path, None)).expect("taken out");
        let steps = path.as_array().expect("a path");
        let listed = steps.iter().any(Value::is_u64);
        if !listed {
            prop_assert!(at(&plain(&without), path).is_none());
            let again = edited(&without, &edit(path, Some(value.clone()))).expect("put in again");
            prop_assert_eq!(plain(&again), before);
        }
        if !value.is_object() && !value.is_array() {
            let (gone, come) = lines_apart(&text, &without);
            prop_assert!(gone <= 2 && come <= 1, "{path}: {without}");
        }
        let own_lines = |text: &str| text.lines().filter(|line| line.trim_start().starts_with('#')).count();
        if value.is_string() || value.is_number() {
            prop_assert_eq!(own_lines(&text), own_lines(&without), "{}", path);
        }
    }

    /// Any text, any way, any value: an answer or a refusal.
    #[test]
    fn nothing_panics(
        text in "(\\[{1,2}[a-c.\"]{0,4}\\]{0,2}|[a-c]{1,2}(\\.[a-c])? ?= ?[0-9\"{}\\[\\],a= é]{0,8}|# ?.?|\u{feff}|\r|\n){0,12}",
        steps in prop::collection::vec(prop_oneof![(0..3_usize).prop_map(Step::At), "[a-c]{0,2}".prop_map(Step::Key)], 0..5),
        value in prop::option::of(values()),
    ) {
        let asked = Edit { key: steps, value };
        if let Ok(new) = edited(&text, &asked) {
            prop_assert!(written(&new).is_some());
        }
    }

    /// The starter with a byte taken out or put in at random: the same.
    #[test]
    fn nothing_panics_on_a_bench_that_is_damaged(
        at_byte in any::<prop::sample::Index>(), by in "[\\[\\]{}\"'=#.,\n a0]{0,3}", pick in any::<prop::sample::Index>(), value in values()
    ) {
        let mut text = STARTER.to_owned();
        let start = (0..=at_byte.index(text.len())).rev().find(|at| text.is_char_boundary(*at)).expect("the first");
        let end = (start + 1..=text.len()).find(|at| text.is_char_boundary(*at)).unwrap_or(text.len());
        text.replace_range(start..end, &by);
        let mut all = Vec::new();
        ways(&plain(STARTER), &mut Vec::new(), &mut Vec::new(), &mut all);
        for value in [None, Some(value)] {
            let asked = json!({ "job": "bench-edit", "bench": text, "edits": [{ "key": pick.get(&all), "value": value }] });
            let request = Request::parse(&asked.to_string()).expect("a request");
            match ask(&request) {
                Ok(Answer::BenchEdit(new)) => prop_assert!(Bench::parse(&new.text, "bench").is_ok()),
                Ok(other) => prop_assert!(false, "{other:?}"),
                Err(refusal) => prop_assert_eq!(refusal.status, 2),
            }
        }
    }
}

fn asked(request: &Value) -> Result<Value, bloomsalt::ask::Refusal> {
    let request = Request::parse(&request.to_string()).expect("a request");
    ask(&request).map(|answer| serde_json::from_str(&bloomsalt::report::document(&answer)).expect("JSON"))
}

#[test]
fn a_change_that_does_not_read_is_refused_as_the_file_would_be() {
    let change = |key: Value, value: Value| json!({ "job": "bench-edit", "edits": [{ "key": key, "value": value }] });
    let refusal = asked(&change(json!(["tank", "volume"]), json!("60 galon"))).expect_err("refused");
    let problem = &refusal.problems[0];
    let line = 1 + STARTER.lines().position(|line| line.starts_with("volume = ")).expect("a line");
    assert_eq!((refusal.status, problem.code.as_str(), problem.file.as_deref()), (2, "bench-file", Some("bench")));
    assert_eq!((problem.key.as_deref(), problem.line), (Some("[tank] volume"), Some(line)));
    assert_eq!((problem.read.as_deref(), problem.help.as_deref()), (Some("\"60 galon\""), Some("did you mean `gal`?")));
    let refusal = asked(&change(json!(["formula", "growth"]), Value::Null)).expect_err("others stand on it");
    assert!(refusal.problems.iter().any(|problem| problem.key.as_deref() == Some("[formula.push] from")), "{refusal}");
    let refusal = asked(&change(json!(["tank", "colour"]), Value::Null)).expect_err("no such key");
    assert_eq!((refusal.status, refusal.problems[0].code.as_str()), (2, "bench-edit"));
    assert!(refusal.problems[0].message.starts_with("`tank colour`: there is no such place"), "{refusal}");
    let refusal = asked(&json!({ "job": "bench-edit", "bench": "[tank\n", "edits": [{ "key": ["name"], "value": "x" }] }));
    assert_eq!(refusal.expect_err("no TOML").problems[0].line, Some(1));
}

#[test]
fn several_changes_are_made_together_or_not_at_all() {
    // one by one, either would leave a formula that follows one that is not there
    let rename = json!({ "job": "bench-edit", "edits": [
        { "key": ["formula", "leaves"], "value": written(STARTER).expect("TOML")["formula"]["growth"] },
        { "key": ["formula", "growth"] },
        { "key": ["formula", "push", "from"], "value": "leaves" },
        { "key": ["formula", "lean", "from"], "value": "leaves" },
        { "key": ["formula", "weak", "from"], "value": "leaves" },
    ] });
    let text = asked(&rename).expect("answered")["text"].as_str().expect("a text").to_owned();
    let (old, new) = (Bench::starter(), Bench::parse(&text, "bench").expect("a bench"));
    assert_eq!(old.formula("growth").expect("it").wishes, new.formula("leaves").expect("it").wishes);
    assert_eq!(old.formula("push").expect("it").wishes, new.formula("push").expect("it").wishes);
    let mut half = rename;
    half["edits"].as_array_mut().expect("changes").pop();
    assert!(asked(&half).is_err());
}

#[test]
fn a_text_that_was_changed_meanwhile_is_refused() {
    let shown = asked(&json!({ "job": "bench-read" })).expect("answered");
    let change = |bench: &str| {
        json!({ "job": "bench-edit", "bench": bench, "fingerprint": shown["fingerprint"],
                "edits": [{ "key": ["tank", "volume"], "value": "45 L" }] })
    };
    let answer = asked(&change(STARTER)).expect("it stands");
    assert_eq!(answer["fingerprint"], shown["fingerprint"]);
    assert_eq!(answer["text"], STARTER.replace("\"60 L\"", "\"45 L\""));
    let refusal = asked(&change(&STARTER.replace("\"1 L\"", "\"2 L\""))).expect_err("changed");
    assert_eq!((refusal.status, refusal.problems[0].code.as_str()), (2, "changed-meanwhile"));
}

#[test]
fn a_form_is_told_what_is_written_and_what_it_means() {
    let text = format!(
        "bottles = [\"1 L\"]\n{}\n[[product]]\nid = \"own-pk\"\nanalysis = {{ K2O = 20 }}\n[[helper]]\nid = \"traces\"\nvolume = \"1 L\"\n\
         made_of = {{ boric-acid = \"3.5 g\" }}\nmade_on = 2026-10-03\n[acid]\nsalt = \"phosphoric-acid-10\"\ntarget_pH = 5.8\n",
        STARTER.replace("boric-acid = {}", "boric-acid = { on_hand = \"0.25 kg\", purity = 0.99 }")
    );
    let read = asked(&json!({ "job": "bench-read", "bench": text })).expect("answered");
    assert_eq!(read["written"], plain(&text));
    assert_eq!(read["tanks"], json!([{ "id": null, "volume_l": 60.0, "plus_minus_l": 1.0, "temperature_c": 21.0 }]));
    // 0.1 g / 0.05 and 0.001 g / 0.2
    assert_eq!((&read["scales"][0]["smallest_g"], &read["scales"][1]["smallest_g"]), (&json!(2.0), &json!(0.005)));
    assert_eq!((&read["syringe"]["smallest_ml"], &read["syringe"]["capacity_ml"]), (&json!(10.0), &json!(60.0)));
    let shelf = read["shelf"].as_array().expect("salts");
    let boric = shelf.iter().find(|salt| salt["salt"] == "boric-acid").expect("it");
    assert_eq!((&boric["on_hand_g"], &boric["purity"], &boric["name"]), (&json!(250.0), &json!(0.99), &json!("boric acid")));
    assert_eq!((&read["products"], &read["helpers"]), (&json!(["own-pk"]), &json!(["traces"])));
    assert_eq!((&read["acids"], &read["groups"]), (&json!(["phosphoric-acid-10"]), &json!([])));
    assert_eq!(read["written"]["helper"][0]["made_on"], "2026-10-03");
    // 90 ppm, of which the push takes four tenths
    let push = read["formulas"].as_array().expect("formulas").iter().find(|of| of["name"] == "push").expect("it");
    let nitrogen = push["elements"].as_array().expect("wishes").iter().find(|of| of["element"] == "N").expect("it");
    assert_eq!((&nitrogen["target_ppm"], &push["hold_at_most_days"]), (&json!(36.0), &json!(28.0)));
    assert_eq!(read["written"]["formula"]["push"]["N"], json!({ "times": 0.4 }));
    let refusal = asked(&json!({ "job": "bench-read", "bench": "[tank]\nvolume = \"60\"\n" })).expect_err("refused");
    assert_eq!((refusal.status, refusal.problems[0].line), (2, Some(2)));
}
