//! A job written down in one go: what `logbook add FILE from RECIPE` books is what was told, against a reckoning of its own
//! from the analyses that `salts` prints, and all of it stands in one line.
#![allow(clippy::disallowed_methods, reason = "reads the files that the program writes")]

use std::collections::BTreeMap;

use serde_json::Value;

use crate::program::{bloomsalt, done};

const AT: &str = "2027-01-11 18:30+01:00";
const SOFT: &str =
    "[tank]\nvolume = \"45 L\"\n[water]\nCa = 9\nMg = 2\nNa = 6\nCl = 7\nS = 3\nalkalinity = \"25 mg/L CaCO3\"\n";

struct Own(tempfile::TempDir);

impl Own {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn path(&self, name: &str) -> String {
        self.0.path().join(name).display().to_string()
    }

    /// The starter bench with other sections in the place of its first.
    fn bench(&self, sections: &str) -> String {
        let starter = bloomsalt::bench::STARTER;
        let rest = starter.find("[shelf]").expect("a shelf");
        let path = self.path("bench.toml");
        std::fs::write(&path, format!("name = \"bench\"\n{sections}\n{}", &starter[rest..])).expect("written");
        path
    }

    /// The logbook, an entry added; the last line as JSON.
    fn add(&self, at: &str, event: &[&str]) -> Value {
        let file = self.path("tank.jsonl");
        done(&[&["logbook", "add", &file, "--at", at], event].concat());
        let text = std::fs::read_to_string(&file).expect("a logbook");
        serde_json::from_str(text.lines().last().expect("a line")).expect("JSON")
    }

    fn now(&self, at: &str, bench: &str) -> BTreeMap<String, f64> {
        let file = self.path("tank.jsonl");
        let now: Value =
            serde_json::from_str(&done(&["logbook", "now", &file, "--at", at, "--bench", bench, "--json"])).expect("JSON");
        by_element(&now["elements"], "booked_ppm")
    }
}

fn by_element(elements: &Value, key: &str) -> BTreeMap<String, f64> {
    let each = elements.as_array().expect("elements").iter();
    each.map(|e| (e["element"].as_str().expect("a symbol").to_owned(), e[key].as_f64().expect("a number"))).collect()
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&done(arguments)).expect("JSON")
}

/// What grams of salts bring, mg by nutrient, from the percentages of the salt table.
fn brought(grams: &BTreeMap<String, f64>) -> BTreeMap<String, f64> {
    let mut mg = BTreeMap::new();
    for (salt, grams) in grams {
        let of = json(&["salts", salt, "--json"]);
        for (nutrient, percent) in of["salts"][0]["nutrients_percent"].as_object().expect("percentages") {
            *mg.entry(nutrient.clone()).or_insert(0.0) += percent.as_f64().expect("a number") * 10.0 * grams;
        }
    }
    mg
}

fn numbers(map: &Value) -> BTreeMap<String, f64> {
    let each = map.as_object().expect("a map").iter();
    each.map(|(key, value)| (key.clone(), value.as_f64().expect("a number"))).collect()
}

fn near(a: f64, b: f64, what: &str) {
    assert!((a - b).abs() <= 1e-6 * (1.0 + b.abs()), "{what}: {a} against {b}");
}

#[test]
fn a_mix_is_booked_as_the_filling_that_it_is() {
    let own = Own::new();
    let (bench, recipe) = (own.bench(SOFT), own.path("growth.json"));
    done(&["mix", "growth", "--bench", &bench, "--save", &recipe]);
    let from = own.add(AT, &["from", &recipe, "--held-back", "2 L", "--bench", &bench]);
    let filled =
        own.add("2027-01-16 18:30+01:00", &["filled", "--recipe", &recipe, "--held-back", "2 L", "--bench", &bench]);
    assert_eq!(from["event"], "filled");
    for key in ["volume_l", "held_back_l", "formula", "salts_g", "ppm"] {
        assert_eq!(from[key], filled[key], "{key}");
    }
    let more = own.add(AT, &["from", &recipe, "potassium-nitrate=12.3g", "--filled", "44 L", "--bench", &bench]);
    assert_eq!((more["volume_l"].as_f64(), more["salts_g"]["potassium-nitrate"].as_f64()), (Some(44.0), Some(12.3)));
    let brings = brought(&numbers(&more["salts_g"]));
    near(more["ppm"]["K"].as_f64().expect("K"), brings["K"] / 44.0, "K");
    near(more["ppm"]["Ca"].as_f64().expect("Ca"), 9.0 + brings["Ca"] / 44.0, "Ca");
}

/// Drained, filled up, poured and named after the formula, in one line: the masses by a reckoning of its own, and what the
/// tank then holds as the switch told.
#[test]
fn a_switch_is_booked_whole() {
    let own = Own::new();
    let (bench, growth, push) = (own.bench(SOFT), own.path("growth.json"), own.path("push.json"));
    done(&["mix", "growth", "--bench", &bench, "--save", &growth]);
    own.add("2027-01-04 18:00+01:00", &["from", &growth, "--bench", &bench]);
    own.add("2027-01-11 18:00+01:00", &["reading", "--level", "40 L"]);
    let logbook = own.path("tank.jsonl");
    let before = own.now(AT, &bench);
    let told = json(&["switch", "push", "--logbook", &logbook, "--at", AT, "--bench", &bench, "--save", &push, "--json"]);
    let entry = own.add(AT, &["from", &push, "--bench", &bench]);
    assert_eq!((&entry["event"], &entry["formula"]), (&"done".into(), &"push".into()));
    assert_eq!(entry["hold_at_most_days"], 28.0);
    let (drained, filled) = (entry["drained_l"].as_f64().expect("L"), entry["filled_l"].as_f64().expect("L"));
    near(drained, told["drain_l"].as_f64().expect("L"), "drained");
    near(filled, told["refill_l"].as_f64().expect("L"), "filled");
    let level = told["before"]["level_l"].as_f64().expect("L");
    assert!(level > 39.9 && level < 40.0, "half an hour's loss since the reading: {level}");
    near(entry["level_before_l"].as_f64().expect("L") - drained + filled, 45.0, "full again");
    let (after, brings) = (own.now(AT, &bench), brought(&numbers(&entry["salts_g"])));
    let water = BTreeMap::from([("Ca", 9.0), ("Mg", 2.0), ("Na", 6.0), ("Cl", 7.0), ("S", 3.0)]);
    for (symbol, is) in &after {
        let of = |map: &BTreeMap<String, f64>| map.get(symbol).copied().unwrap_or(0.0);
        let of_water = water.get(symbol.as_str()).copied().unwrap_or(0.0);
        let mine = ((level - drained) * of(&before) + filled * of_water + of(&brings)) / 45.0;
        near(*is, mine, symbol);
    }
    let promised = by_element(&told["elements"], "ppm");
    for (symbol, ppm) in promised {
        near(after.get(&symbol).copied().unwrap_or(0.0), ppm, &format!("{symbol} as the switch told"));
    }
    // the formula that it was brought to counts from now on
    let forecast = json(&["logbook", "forecast", &logbook, "--at", AT, "--bench", &bench, "--json"]);
    assert_eq!((&forecast["formula"], &forecast["back"]["date"]), (&"push".into(), &"2027-02-08".into()));
}

/// Bottles of pure water take the place of hard water that has nitrate of its own: the tank then holds as the switch told, all
/// nitrogen as much as its forms.
#[test]
fn pure_water_of_bottles_is_booked() {
    const HARD: &str = "[tank]\nvolume = \"1.5 L\"\n[water]\nCa = 90\nMg = 12\nNO3-N = 9\nNa = 20\nCl = 30\n\
                        alkalinity = \"210 mg/L CaCO3\"\n";
    let own = Own::new();
    let (bench, growth, push) = (own.bench(HARD), own.path("growth.json"), own.path("push.json"));
    done(&["mix", "growth", "--bench", &bench, "--save", &growth]);
    own.add("2027-01-04 18:00+01:00", &["from", &growth, "--bench", &bench]);
    let logbook = own.path("tank.jsonl");
    let told = json(&["switch", "push", "--logbook", &logbook, "--at", AT, "--bench", &bench, "--save", &push, "--json"]);
    let bottles = told["helpers"].as_array().expect("bottles");
    assert!(bottles.iter().any(|bottle| bottle["pure_water"] == true), "{bottles:?}");
    let entry = own.add(AT, &["from", &push, "--bench", &bench]);
    assert!(entry["water_ppm"]["NO3-N"].as_f64().expect("nitrate") < 9.0, "{entry}");
    let after = own.now(AT, &bench);
    for (symbol, ppm) in by_element(&told["elements"], "ppm") {
        near(after.get(&symbol).copied().unwrap_or(0.0), ppm, &format!("{symbol} as the switch told"));
    }
}

#[test]
fn a_stated_level_is_known_and_what_differs_counts() {
    let own = Own::new();
    let (bench, push) = (own.bench(SOFT), own.path("push.json"));
    done(&["switch", "push", "--holding", "growth", "--level", "40 L", "--bench", &bench, "--save", &push]);
    own.add("2027-01-04 18:00+01:00", &["filled", "--volume", "45 L", "--bench", &bench]);
    let entry =
        own.add(AT, &["from", &push, "--drained", "17 L", "--filled", "22 L", "potassium-sulfate=7.1g", "iron-dtpa=0 g"]);
    assert_eq!(entry["level_before_l"], 40.0);
    let salts = numbers(&entry["salts_g"]);
    assert_eq!((salts.get("potassium-sulfate"), salts.get("iron-dtpa")), (Some(&7.1), None));
    near(entry["mg"]["K"].as_f64().expect("K"), brought(&salts)["K"], "K");
    let read = own.add(AT, &["from", &push, "--to", "44 L", "--yes"]);
    near(
        read["level_before_l"].as_f64().expect("L") - read["drained_l"].as_f64().expect("L"),
        44.0 - read["filled_l"].as_f64().expect("L"),
        "to 44 L",
    );
}

#[test]
fn a_remedy_and_a_restore_are_booked() {
    let own = Own::new();
    let (bench, remedy, restore) = (own.bench(SOFT), own.path("remedy.json"), own.path("restore.json"));
    let weighed = ["potassium-nitrate=11.6g", "monoammonium-phosphate=3 g", "magnesium-sulfate-heptahydrate=9.1g"];
    let check = [&["check", "--bench", &bench, "--against", "growth", "--save-remedy", &remedy, "--json"], &weighed[..]];
    let told = json(&check.concat());
    assert_eq!(told["remedies"]["adding_is_enough"], true);
    own.add("2027-01-04 18:00+01:00", &[&["filled", "--volume", "45 L", "--bench", &bench], &weighed[..]].concat());
    let entry = own.add("2027-01-04 19:00+01:00", &["from", &remedy, "--bench", &bench]);
    assert!(entry.get("drained_l").is_none() && entry["salts_g"]["calcium-nitrate-tetrahydrate"].as_f64() > Some(15.0));
    for (symbol, ppm) in by_element(&told["remedies"]["options"][0]["after"], "ppm") {
        near(own.now(AT, &bench).get(&symbol).copied().unwrap_or(0.0), ppm, &symbol);
    }
    own.add("2027-01-11 18:00+01:00", &["reading", "--ec", "0.70 mS/cm", "--yes"]);
    let logbook = own.path("tank.jsonl");
    let forecast = ["logbook", "forecast", &logbook, "--at", AT, "--bench", &bench, "--save", &restore];
    assert!(done(&forecast).contains("Saved the recipe to"));
    let entry = own.add(AT, &["from", &restore, "--bench", &bench]);
    assert!(entry["mg"]["N"].as_f64() > Some(100.0) && entry["formula"] == "growth");
}

/// Cut anywhere, the one line counts for nothing; whole, it counts for all.
#[test]
fn all_of_it_or_none() {
    let own = Own::new();
    let (bench, push) = (own.bench(SOFT), own.path("push.json"));
    done(&["switch", "push", "--holding", "growth", "--bench", &bench, "--save", &push]);
    own.add("2027-01-04 18:00+01:00", &["filled", "--volume", "45 L", "--bench", &bench]);
    let before = std::fs::read(own.path("tank.jsonl")).expect("a logbook");
    own.add(AT, &["from", &push]);
    let whole = std::fs::read(own.path("tank.jsonl")).expect("a logbook");
    for end in (before.len()..whole.len() - 1).step_by(7) {
        let logbook = bloomsalt::logbook::Logbook::parse(&whole[..end], &[]).expect("torn at the most");
        assert_eq!(logbook.entries().len(), 1, "cut at byte {end}");
    }
}

#[test]
fn what_does_not_go_is_refused() {
    let own = Own::new();
    let (bench, push, growth) = (own.bench(SOFT), own.path("push.json"), own.path("growth.json"));
    done(&["switch", "push", "--holding", "growth", "--bench", &bench, "--save", &push]);
    done(&["mix", "growth", "--bench", &bench, "--save", &growth]);
    let logbook = own.path("tank.jsonl");
    let no = own.path("no.json");
    std::fs::write(&no, "{}").expect("written");
    let from = |words: &[&'static str]| [&["logbook", "add", &logbook, "--at", AT, "from"], words].concat();
    let refused = |arguments: Vec<&str>, status: u8, says: &str| {
        let (is, out, err) = bloomsalt(&arguments);
        let said = err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!((is, out.as_str()), (status, ""), "{arguments:?}: {err}");
        assert!(said.contains(says), "{arguments:?}: {err}");
        assert!(!std::path::Path::new(&logbook).exists(), "nothing is written");
    };
    let (push, growth) = (push.as_str(), growth.as_str());
    let with = |recipe: &str, words: &[&'static str]| {
        let mut all: Vec<String> = from(&[]).into_iter().map(str::to_owned).collect();
        all.push(recipe.to_owned());
        all.extend(words.iter().map(|word| (*word).to_owned()));
        all
    };
    for (recipe, words, says) in [
        (push, &["potassium-sulfat=7g"][..], "did you mean `potassium-sulfate`?"),
        (push, &["urea=7g"], "the recipe has no `urea`"),
        (push, &["potassium-sulfate"], "has no `=`"),
        (push, &["potassium-sulfate=7"], "potassium-sulfate=7"),
        (push, &["potassium-sulfate=-7g"], "potassium-sulfate=-7g"),
        (push, &["potassium-sulfate=7mL"], "measures a solid by volume"),
        (push, &["potassium-sulfate=7g", "potassium-sulfate=8g"], "a second time"),
        (push, &["--drained", "17"], "drained"),
        (push, &["--held-back", "4 L"], "of which the logbook knows what is held back"),
        (growth, &["--drained", "17 L"], "makes a fresh tank"),
        (growth, &["--to", "17 L"], "makes a fresh tank"),
        (&no, &[], "no recipe"),
    ] {
        let all = with(recipe, words);
        refused(all.iter().map(String::as_str).collect(), 2, says);
    }
    let into = "goes into what a tank holds";
    refused(vec!["check", "--recipe", push], 2, into);
    refused(vec!["scale", push, "--to", "10 L"], 2, into);
    refused(vec!["switch", "growth", "--recipe", push], 2, into);
    refused(vec!["logbook", "add", &logbook, "--at", AT, "filled", "--recipe", push], 2, into);
    let remedy = own.path("remedy.json");
    refused(vec!["check", "--recipe", growth, "--save-remedy", &remedy], 2, "--against");
    refused(vec!["check", "--recipe", growth, "--against", "growth", "--save-remedy", &remedy], 1, "it is as asked");
}

/// Of a jug of thinned acid so much goes in as the meter asks for: what is left in it is booked as such, and nobody reckons what neat
/// acid went in.
#[test]
fn what_is_left_in_a_jug_is_not_booked() {
    let own = Own::new();
    let hard = "[tank]\nvolume = \"60 L\"\n[water]\nCa = 90\nMg = 12\nalkalinity = \"200 mg/L CaCO3\"\npH = 7.5\n\
                [acid]\nsalt = \"phosphoric-acid-25\"\ntarget_pH = 6.0\n[syringe]\nstep = \"0.5 mL\"\n";
    let bench = own.bench(&format!("{hard}[[scale]]\nreadability = \"0.1 g\"\n"));
    let recipe = own.path("growth.json");
    let mix = json(&["mix", "growth", "--bench", &bench, "--json", "--save", &recipe]);
    let told: Value = serde_json::from_str(&std::fs::read_to_string(&recipe).expect("saved")).expect("JSON");
    let doses = told["doses"].as_array().expect("doses");
    let acid = doses.iter().find(|dose| dose["salt"] == "phosphoric-acid-25").expect("an acid");
    let (grams, ml) = (acid["grams"].as_f64().expect("g"), acid["millilitres"].as_f64().expect("mL"));
    // the jug is that of HOW TO MIX: its water, and the acid
    let steps = mix["order"].as_array().expect("steps");
    let water = steps.iter().find(|step| step["act"] == "dilute").expect("thinned")["litres"].as_f64().expect("water");
    let whole = acid["jug"]["whole_ml"].as_f64().expect("a jug");
    near(whole, 1e3 * water + ml, "the jug");
    near(acid["jug"]["pour_ml"].as_f64().expect("a jug"), whole, "all of it goes in");
    assert!(doses.iter().all(|dose| dose["salt"] == acid["salt"] || dose.get("jug").is_none()), "{doses:?}");
    let over = format!("{} mL left", whole + 1.0);
    for wrong in [over.as_str(), "left", "5 g left", "-3 mL left", "jug=27 mL left", "boric-acid=27 mL left"] {
        let typed = if wrong.contains('=') { wrong.to_owned() } else { format!("phosphoric-acid-25={wrong}") };
        let (status, out, refused) =
            bloomsalt(&["logbook", "add", &own.path("t.jsonl"), "from", &recipe, &typed, "--bench", &bench]);
        assert!(status == 2 && out.is_empty() && !refused.contains("panicked"), "{typed}: {refused}");
        assert!(!wrong.starts_with("jug") || refused.contains("27 mL left"), "{refused}");
    }
    // of a jug of which a part goes in, and of one of which all does
    let part = own.path("part.json");
    let mut of_part = told.clone();
    for dose in of_part["doses"].as_array_mut().expect("doses").iter_mut().filter(|dose| dose["salt"] == acid["salt"]) {
        dose["jug"]["pour_ml"] = (0.6 * whole).into();
    }
    std::fs::write(&part, of_part.to_string()).expect("written");
    let mut day = 11;
    // what is left of what was measured off counts with what stays in the jug: it alone would have booked more than was told
    let typed = "phosphoric-acid-25=27 mL left";
    let (status, out, refused) =
        bloomsalt(&["logbook", "add", &own.path("t.jsonl"), "from", &part, typed, "--bench", &bench]);
    let both = format!("phosphoric-acid-25={:.0}", 0.4 * whole + 27.0);
    assert!(status == 2 && out.is_empty() && refused.contains(&both), "{both}: {refused}");
    for (recipe, pour) in [(&recipe, whole), (&part, 0.6 * whole)] {
        for left in [0.5, 27.0, 100.0].map(|left| ((whole - pour) + left).round()) {
            day += 1;
            let typed = format!("phosphoric-acid-25={left} mL left");
            let left = if left > 0.0 { left } else { continue };
            let at = format!("2027-01-{day:02} 18:30+01:00");
            let entry = own.add(&at, &["from", recipe, &typed, "--bench", &bench, "--yes"]);
            let booked = entry["salts_g"]["phosphoric-acid-25"].as_f64().expect("booked");
            assert!((booked / (grams * (whole - left) / pour) - 1.0).abs() < 1e-6, "{typed}: {booked}");
        }
    }
}

/// A bottle that a recipe draws from and that the bench file does not have is named when it is booked, and no longer once it is there.
#[test]
fn a_bottle_that_is_not_in_the_bench_file_is_told() {
    let own = Own::new();
    let small = "[tank]\nvolume = \"10 L\"\n[syringe]\nstep = \"0.5 mL\"\n[[scale]]\nreadability = \"0.01 g\"\n";
    let bench = own.bench(small);
    let recipe = own.path("growth.json");
    let mix = json(&["mix", "growth", "--bench", &bench, "--json", "--save", &recipe]);
    let new: Vec<&Value> = mix["helpers"].as_array().expect("bottles").iter().filter(|one| one["new"] == true).collect();
    assert!(!new.is_empty(), "so small a tank takes bottles");
    let add = |at: &str, bench: &str| {
        done(&["logbook", "add", &own.path("tank.jsonl"), "--at", at, "from", &recipe, "--bench", bench, "--yes"])
    };
    let told = add(AT, &bench);
    for bottle in &new {
        let id = bottle["id"].as_str().expect("an id");
        let is_drawn = !bottle["dose_ml"].is_null();
        let named = told.split("Not in the bench file").nth(1).is_some_and(|rest| rest.contains(id));
        assert_eq!(named, is_drawn, "{id}: {told}");
    }
    let entries: Vec<&str> = new.iter().filter_map(|bottle| bottle["entry"].as_str()).collect();
    let text =
        std::fs::read_to_string(&bench).expect("a bench").replace("[shelf]", &format!("{}\n[shelf]", entries.join("\n")));
    let with = own.path("with.toml");
    std::fs::write(&with, text).expect("written");
    assert!(!add("2027-01-12 18:30+01:00", &with).contains("Not in the bench file"));
}
