//! Several tanks on one bench: picked by their id, each with a logbook that its first entry binds to it, and one shelf that all
//! of them draw down.
#![allow(clippy::disallowed_methods, reason = "reads and writes the files of a bench")]

use serde_json::Value;

use crate::program::{bloomsalt, done};

const TANKS: &str = "[[tank]]\nid = \"long bench\"\nvolume = \"60 L\"\n[[tank]]\nid = \"small bench\"\nvolume = \"20 L\"\n";
const PLAN: &str = r#"
[cycle]
start = 2027-01-01
growth = { formula = "growth", lasts = "14 days" }
push = { formula = "push", lasts = "21 days" }
renew_every = "14 days"

[[group]]
id = "early"
days_to_flower = "30 days"
pollen_from = "0 days"
pollen_to = "3 days"
stigma_from = "4 days"
stigma_to = "9 days"

[[group]]
id = "late"
tank = "small bench"
starts_after = "6 days"
days_to_flower = "30 days"
pollen_from = "1 day"
pollen_to = "4 days"
stigma_from = "4 days"
stigma_to = "8 days"
"#;

struct Own(tempfile::TempDir);

impl Own {
    fn path(&self, name: &str) -> String {
        self.0.path().join(name).display().to_string()
    }

    /// The starter with two tanks; of two salts the shelf says what was counted on the third of January.
    fn new() -> (Self, String) {
        let own = Self(tempfile::tempdir().expect("a folder"));
        let starter = bloomsalt::bench::STARTER;
        let mut rest = starter[starter.find("[shelf]").expect("a shelf")..].to_owned();
        for (salt, says) in [
            ("potassium-nitrate", "on_hand = \"100 g\", counted_on = 2027-01-03, price_per_kg = 7.0"),
            ("calcium-nitrate-tetrahydrate", "on_hand = \"10 g\", price_per_kg = 6.5"),
            ("magnesium-sulfate-heptahydrate", "on_hand = \"100 g\", price_per_kg = 3.0"),
        ] {
            let line = rest.lines().find(|line| line.starts_with(&format!("{salt} "))).expect("a line").to_owned();
            rest = rest.replace(&line, &format!("{salt} = {{ {says} }}"));
        }
        let bench = own.path("bench.toml");
        std::fs::write(&bench, format!("name = \"two tanks\"\n{TANKS}\n{rest}\n{PLAN}")).expect("written");
        (own, bench)
    }
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&done(arguments)).expect("JSON")
}

fn refused(arguments: &[&str], status: u8, says: &str) {
    let (is, out, err) = bloomsalt(arguments);
    let said = err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!((is, out.as_str()), (status, ""), "{arguments:?}: {err}");
    assert!(said.contains(says), "{arguments:?}: {err}");
}

#[test]
fn a_tank_is_picked_by_its_id() {
    let (_own, bench) = Own::new();
    let litres = |tank: &[&str]| json(&[&["mix", "growth", "--bench", &bench, "--json"], tank].concat())["volume_l"].clone();
    assert_eq!([litres(&[]), litres(&["--tank", "small bench"]), litres(&["--tank", "33 L"])], [60.0, 20.0, 33.0]);
    refused(&["mix", "growth", "--bench", &bench, "--tank", "smal bench"], 2, "did you mean `small bench`?");
}

/// What fills up one of two tanks is saved for the one that is named, and what is printed says how to name each.
#[test]
fn each_tank_is_saved_and_booked_as_told() {
    let (own, bench) = Own::new();
    let text = std::fs::read_to_string(&bench).expect("a bench");
    let rest = text.find("[shelf]").expect("a shelf");
    let starter = bloomsalt::bench::STARTER;
    let shelf = &starter[starter.find("[shelf]").expect("a shelf")..];
    std::fs::write(&bench, format!("{}{shelf}\n{PLAN}", &text[..rest])).expect("written");
    let tanks = [("long bench", own.path("long.jsonl"), 52.0), ("small bench", own.path("small.jsonl"), 17.0)];
    for (tank, logbook, level) in &tanks {
        let mix = own.path(&format!("{tank}.json"));
        done(&["mix", "growth", "--bench", &bench, "--tank", tank, "--save", &mix]);
        let add = |at: &str, event: &[&str]| {
            done(&[&["logbook", "add", logbook, "--at", at, "--bench", &bench, "--tank", tank], event].concat())
        };
        add("2027-01-02 09:00+01:00", &["from", &mix]);
        add("2027-01-05 09:00+01:00", &["reading", "--level", &format!("{level} L")]);
    }
    let [(_, long, _), (_, small, _)] = &tanks;
    let today = ["today", "--logbook", small, "--logbook", long, "--bench", &bench, "--at", "2027-01-05 10:00+01:00"];
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let page = words(&done(&today));
    for (tank, logbook, _) in &tanks {
        let says = format!(
            "the same command with `--tank \"{tank}\" --save FILE`, and once it is done `bloomsalt logbook add {logbook} from FILE \
             --bench {bench} --at \"2027-01-05 10:00+01:00\"`"
        );
        assert!(page.contains(&says), "{page}");
    }
    let save = own.path("save.json");
    refused(&[&today[..], &["--save", &save]].concat(), 2, "`--tank \"long bench\" --save long-bench.json`, then `--tank");
    refused(&[&today[..], &["--save", &save, "--tank", "smal bench"]].concat(), 2, "did you mean `--tank \"small bench\"`?");
    for (tank, logbook, level) in &tanks {
        let save = own.path(&format!("{tank} filled up.json"));
        let told = words(&done(&[&today[..], &["--save", &save, "--tank", tank]].concat()));
        let entry = format!(
            "It is that of {tank}. Once it is done: `bloomsalt logbook add {logbook} from \"{save}\" --bench {bench} --at"
        );
        assert!(told.contains(&entry), "{told}");
        done(&["logbook", "add", logbook, "--at", "2027-01-05 10:00+01:00", "from", &save, "--bench", &bench]);
        let line = std::fs::read_to_string(logbook).expect("a logbook");
        let line: Value = serde_json::from_str(line.lines().last().expect("a line")).expect("JSON");
        let full = if *level > 20.0 { 60.0 } else { 20.0 };
        let up = line["filled_l"].as_f64().expect("L");
        assert!((up - (full - level)).abs() < 0.2, "{tank}: {up}");
    }
}

#[test]
fn every_logbook_is_of_its_own_tank_and_the_shelf_is_of_all() {
    let (own, bench) = Own::new();
    let (long, small) = (own.path("long.jsonl"), own.path("small.jsonl"));
    let add = |file: &str, at: &str, more: &[&str]| {
        done(&[&["logbook", "add", file, "--at", at, "--bench", &bench], more].concat())
    };
    let before = "2027-01-02 09:00+01:00";
    add(&long, before, &["filled", "--volume", "60 L", "potassium-nitrate=9g", "magnesium-sulfate-heptahydrate=9g"]);
    let said = add(
        &small,
        "2027-01-03 09:00+01:00",
        &["--tank", "small bench", "filled", "--volume", "20 L", "potassium-nitrate=5.5g"],
    );
    assert!(said.starts_with("Entry 2, "), "{said}");
    add(&small, "2027-01-04 09:00+01:00", &["--tank", "small bench", "added", "potassium-nitrate=1.5g"]);
    add(&long, "2027-01-05 09:00+01:00", &["added", "potassium-nitrate=3g", "magnesium-sulfate-heptahydrate=2g"]);
    assert!(done(&["logbook", "show", &small]).contains("logbook of small bench"));
    let at = ["--at", "2027-01-05 12:00+01:00", "--bench", &bench];
    // counted on the third: 5.5 and 1.5 g from one tank, 3 g from the other; of the other salt no day is known
    let cycle = json(&[&["cycle", "--logbook", &long, "--logbook", &small, "--json"], &at[..]].concat());
    let on_hand = |cycle: &Value, salt: &str| {
        let of = cycle["salts"].as_array().expect("salts").iter().find(|total| total["salt"] == salt);
        of.expect("the salt")["on_hand_g"].as_f64().expect("g")
    };
    assert!((on_hand(&cycle, "potassium-nitrate") - 90.0).abs() < 1e-9);
    assert!((on_hand(&cycle, "magnesium-sulfate-heptahydrate") - 100.0).abs() < 1e-9);
    let ids: Vec<&Value> = cycle["tanks"].as_array().expect("tanks").iter().map(|tank| &tank["tank"]).collect();
    assert_eq!(ids, ["long bench", "small bench"]);
    assert_eq!(cycle["tanks"][1]["volume_l"], 20.0);
    // one list: what has a price is summed up, what has none is named
    let bought = || cycle["salts"].as_array().expect("salts").iter().filter(|total| total["buy_g"].as_f64() > Some(0.0));
    let cost: f64 = bought().filter_map(|total| total["buy_cost"].as_f64()).sum();
    assert!((cycle["shopping_cost"].as_f64().expect("a cost") - cost).abs() < 1e-9 && cost > 0.0);
    let without = bought().filter(|total| total["buy_cost"].is_null()).map(|total| total["name"].clone());
    assert_eq!(cycle["no_price"], Value::Array(without.collect()));
    assert!(done(&[&["cycle"], &at[2..]].concat()).contains("without what has no price: "));
    // the page has both, each by its own logbook
    let today = json(&[&["today", "--logbook", &small, "--logbook", &long, "--json"], &at[..]].concat());
    let tanks = today["tanks"].as_array().expect("tanks");
    let seen: Vec<_> =
        tanks.iter().map(|tank| (&tank["tank"], tank["volume_l"].as_f64(), tank["level_l"].as_f64())).collect();
    assert_eq!(seen, [(&"long bench".into(), Some(60.0), Some(60.0)), (&"small bench".into(), Some(20.0), Some(20.0))]);
    let alone = json(&[&["today", "--logbook", &small, "--json"], &at[..]].concat());
    assert_eq!((&alone["tanks"][0]["logbook"], &alone["tanks"][1]["logbook"]), (&false.into(), &true.into()));
    // a logbook brings its tank along
    let turned = json(&[&["switch", "growth", "--logbook", &small, "--json"], &at[..]].concat());
    assert!((turned["volume_l"].as_f64().expect("L") - 20.0).abs() < 1e-9);
    refused(
        &[&["switch", "growth", "--logbook", &small, "--tank", "long bench"], &at[..]].concat(),
        2,
        "not of `long bench`",
    );
    refused(&["logbook", "now", &small, at[0], at[1]], 2, "the bench has no [[tank]]");
    refused(
        &[&["today", "--logbook", &small, "--logbook", &small], &at[..]].concat(),
        2,
        "another logbook of `small bench`",
    );
    let entry = |file: &str, tank: &'static str| {
        let all = ["logbook", "add", file, "--at", before, "--bench", &bench, "--tank", tank, "stalks"];
        all.map(str::to_owned)
    };
    for (file, tank, says) in [
        (&small, "long bench", "not of `long bench`"),
        (&long, "small bench", "names no tank"),
        (&own.path("new.jsonl"), "smal bench", "the bench has `long bench`, `small bench`"),
    ] {
        let all = entry(file, tank);
        refused(&all.each_ref().map(String::as_str), 2, says);
    }
    assert!(!std::path::Path::new(&own.path("new.jsonl")).exists());
}

/// The small tank is a jar of half a litre, and the least that is drawn up 100 mL.
#[test]
fn a_tank_of_which_nothing_can_be_measured_leaves_the_others_planned() {
    let (own, bench) = Own::new();
    let plan = |tanks: &[(&str, &str)]| {
        let mut text = std::fs::read_to_string(&bench).expect("a bench");
        for (was, is) in tanks {
            text = text.replacen(was, is, 1);
        }
        let file = own.path("jar.toml");
        std::fs::write(
            &file,
            text.replace(
                "[shelf]",
                "[[scale]]\nreadability = \"0.1 g\"\n[syringe]\nstep = \"5 mL\"\ncapacity = \"2 L\"\n[shelf]",
            ),
        )
        .expect("written");
        bloomsalt(&["cycle", "--bench", &file, "--json"])
    };
    let whole: Value = serde_json::from_str(&plan(&[]).1).expect("JSON");
    let (status, json, err) = plan(&[("\"20 L\"", "\"0.5 L\"")]);
    assert_eq!(status, 0, "{err}");
    let jar: Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(jar["tanks"].as_array().expect("a list").len(), 1);
    // the bench tank, the groups and their crosses are as with a tank that can be mixed
    assert_eq!(jar["tanks"][0], whole["tanks"][0]);
    assert_eq!((&jar["groups"], &jar["crossing"]), (&whole["groups"], &whole["crossing"]));
    assert!(jar["mixes"].as_array().expect("a list").iter().all(|mix| mix["volume_l"] == 60.0), "{}", jar["mixes"]);
    let told: Vec<&Value> =
        jar["findings"].as_array().expect("a list").iter().filter(|it| it["code"] == "tank-not-measurable").collect();
    let [told] = told[..] else { panic!("told once: {}", jar["findings"]) };
    let said = told["message"].as_str().expect("words");
    assert!(said.contains("`late`") && said.contains("500 mL") && !said.contains("``"), "{said}");
    // none that can be mixed is no plan
    let (status, _, err) = plan(&[("\"20 L\"", "\"0.5 L\""), ("\"60 L\"", "\"0.5 L\"")]);
    assert_eq!(status, 1, "{err}");
}
