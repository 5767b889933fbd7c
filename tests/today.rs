//! What to do today, on the days of a walk of twelve weeks that is done as the page says: what is due against a calendar kept by
//! this test, what fills the tank up against a mass balance of its own, the groups against their own days counted here.
#![allow(clippy::disallowed_methods, reason = "reads and writes the files of the walk")]

use std::collections::BTreeMap;

use bloomsalt::jobs;
use bloomsalt::quantity::Date;
use serde_json::Value;

use crate::program::{bloomsalt, done};

/// Day 0 of the walk is the first of January 2027. Lengths of the phases: growth 14 days, push 21, hold 7, back 35, ripening 30.
pub const PHASES: &str = r#"
[cycle]
start = 2027-01-01
growth = { formula = "growth", lasts = "14 days" }
push = { formula = "push", lasts = "21 days" }
hold = { formula = "push", lasts = "7 days" }
back = { formula = "growth", lasts = "35 days" }
ripening = { formula = "growth", lasts = "30 days" }
renew_every = "14 days"
"#;
const GROUPS: &str = r#"
[[group]]
id = "early"
name = "early blues"
days_to_flower = "30 days"
flowers_for = "10 days"
pollen_from = "0 days"
pollen_to = "3 days"
stigma_from = "4 days"
stigma_to = "9 days"
dry_pollen_keeps = "5 days"
ripe_after = "28 days"

[[group]]
id = "late"
name = "late whites"
tank = "40 L"
starts_after = "6 days"
days_to_flower = "30 days"
flowers_for = "8 days"
pollen_from = "1 day"
pollen_to = "4 days"
stigma_from = "4 days"
stigma_to = "8 days"
ripe_after = "28 days"
"#;
const WATER: [(&str, f64); 5] = [("Ca", 9.0), ("Mg", 2.0), ("Na", 6.0), ("Cl", 7.0), ("S", 3.0)];
const TANK: &str =
    "[tank]\nvolume = \"60 L\"\n[water]\nCa = 9\nMg = 2\nNa = 6\nCl = 7\nS = 3\nalkalinity = \"25 mg/L CaCO3\"\n";
/// The days on which the grower looks: twenty.
const DAYS: [i32; 20] = [0, 3, 7, 10, 14, 15, 21, 25, 28, 35, 42, 45, 49, 52, 56, 60, 63, 70, 77, 84];

fn date(day: i32) -> String {
    Date::parse("2027-01-01").expect("a day").plus(day).to_string()
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&done(arguments)).expect("JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// What grams of salts bring, mg by nutrient, from the percentages of the salt table.
fn brought(grams: &Value) -> BTreeMap<String, f64> {
    let mut mg = BTreeMap::new();
    for (salt, grams) in grams.as_object().into_iter().flatten() {
        let of = json(&["salts", salt, "--json"]);
        for (nutrient, percent) in of["salts"][0]["nutrients_percent"].as_object().expect("percentages") {
            *mg.entry(nutrient.clone()).or_insert(0.0) += number(percent) * 10.0 * number(grams);
        }
    }
    mg
}

/// The walk: its folder, and the calendar that the test keeps.
struct Walk {
    folder: tempfile::TempDir,
    /// The formula that the tank has, and the day on which it was last renewed.
    has: Option<(&'static str, i32)>,
    /// The day of the last filling or reading.
    read: Option<i32>,
    files: usize,
}

impl Walk {
    fn path(&self, name: &str) -> String {
        self.folder.path().join(name).display().to_string()
    }

    fn at(day: i32, time: &str) -> String {
        format!("{} {time}+01:00", date(day))
    }

    fn today(&self, day: i32, more: &[&str]) -> Value {
        let (at, bench, logbook) = (Self::at(day, "09:00"), self.path("bench.toml"), self.path("tank.jsonl"));
        let mut asked = vec!["today", "--bench", &bench, "--at", &at, "--json"];
        if self.has.is_some() {
            asked.extend(["--logbook", &logbook]);
        }
        json(&[&asked[..], more].concat())
    }

    fn add(&self, day: i32, time: &str, event: &[&str]) -> Value {
        let (at, bench, logbook) = (Self::at(day, time), self.path("bench.toml"), self.path("tank.jsonl"));
        done(&[&["logbook", "add", &logbook, "--at", &at, "--bench", &bench], event].concat());
        let text = std::fs::read_to_string(&logbook).expect("a logbook");
        serde_json::from_str(text.lines().last().expect("a line")).expect("JSON")
    }

    fn booked(&self, day: i32, time: &str) -> (BTreeMap<String, f64>, f64) {
        let (at, bench, logbook) = (Self::at(day, time), self.path("bench.toml"), self.path("tank.jsonl"));
        let now = json(&["logbook", "now", &logbook, "--at", &at, "--bench", &bench, "--json"]);
        let each = now["elements"].as_array().expect("elements").iter();
        let ppm = each.map(|e| (e["element"].as_str().expect("a symbol").to_owned(), number(&e["booked_ppm"])));
        (ppm.collect(), number(&now["level_l"]))
    }

    /// A saved recipe booked, and what it comes to by a mass balance of its own.
    fn book(&mut self, day: i32, recipe: &str) {
        let before = if self.has.is_some() { self.booked(day, "09:30") } else { (BTreeMap::new(), 0.0) };
        let entry = self.add(day, "09:30", &["from", recipe]);
        let (after, level) = self.booked(day, "09:30");
        let (kept, filled) = if entry["event"] == "filled" {
            (0.0, number(&entry["volume_l"]))
        } else {
            let drained = entry.get("drained_l").map_or(0.0, number);
            (number(&entry["level_before_l"]) - drained, entry.get("filled_l").map_or(0.0, number))
        };
        assert!((kept + filled - level).abs() < 1e-6, "day {day}: {kept} L and {filled} L are {level} L");
        let brings = brought(&entry["salts_g"]);
        // water that was lost between the look and the entry took nothing along
        let share = entry.get("level_before_l").map_or(0.0, |there| kept / number(there));
        for (symbol, ppm) in &after {
            let water = WATER.iter().find(|(of, _)| of == symbol).map_or(0.0, |(_, ppm)| *ppm);
            let old = before.0.get(symbol).copied().unwrap_or(0.0);
            let mine = (share * before.1 * old + filled * water + brings.get(symbol).copied().unwrap_or(0.0)) / level;
            assert!((ppm - mine).abs() <= 1e-6 * (1.0 + mine), "day {day}, {symbol}: {ppm} against {mine}");
        }
    }

    fn new_file(&mut self) -> String {
        self.files += 1;
        self.path(&format!("recipe-{}.json", self.files))
    }

    /// What is due, by the calendar of this test: kind and days left.
    fn expected(&self, day: i32) -> Vec<(&'static str, i32)> {
        // days of the changes of formula: push on day 14, growth again on day 42
        let (asked, from) = if day < 14 {
            ("growth", 0)
        } else if day < 42 {
            ("push", 14)
        } else {
            ("growth", 42)
        };
        let change = if day < 14 {
            Some(14)
        } else if day < 42 {
            Some(42)
        } else {
            None
        };
        let mut due = Vec::new();
        match self.has {
            Some((has, _)) if has != asked => due.push(("switch", from - day)),
            Some((_, renewed)) if change.is_none_or(|change| renewed + 14 + 2 < change) => {
                due.push(("renew", renewed + 14 - day));
            }
            _ => {}
        }
        due.extend(change.filter(|_| self.has.is_some()).map(|change| ("switch", change - day)));
        due.extend(self.read.map(|read| ("read", read + 7 - day)));
        due
    }
}

/// What stands under `due` by plan and habit: what a forecast or `hold_at_most` says depends on the model.
fn told(tank: &Value) -> Vec<(String, i32)> {
    let each = tank["due"].as_array().expect("a list").iter();
    let each = each.filter(|due| due["by"] == "plan" || due["by"] == "habit");
    each.map(|due| {
        let left = i32::try_from(due["days_left"].as_i64().expect("days")).expect("days");
        (due["what"].as_str().expect("a kind").to_owned(), left)
    })
    .collect()
}

/// What the groups do on a day, counted here: of `early` the push begins on day 14 and flowers open on days 44 to 53; of `late`
/// they are days 20 and 50 to 57.
fn groups(day: i32) -> [(bool, bool, bool); 2] {
    let within = |from: i32, to: i32| (from..=to).contains(&day);
    [
        // pollen 0 to 3 days after, stigmas 4 to 9; crossed with late pollen (51 to 61) on days 51 to 61, ripe 28 days on
        (within(44, 56), within(48, 62), within(48 + 28, 62 + 28)),
        // pollen 1 to 4, stigmas 4 to 8 days after
        (within(51, 61), within(54, 65), within(54 + 28, 65 + 28)),
    ]
}

#[test]
fn twenty_days_of_twelve_weeks() {
    let mut walk = Walk { folder: tempfile::tempdir().expect("a folder"), has: None, read: None, files: 0 };
    let starter = bloomsalt::bench::STARTER;
    let rest = &starter[starter.find("[shelf]").expect("a shelf")..];
    std::fs::write(walk.path("bench.toml"), format!("name = \"two groups\"\n{TANK}\n{rest}\n{PHASES}{GROUPS}"))
        .expect("written");
    let mut filled_up = 0;
    for day in DAYS {
        if let Some(read) = walk.read {
            // what plants and air took: 0.5 L and 1.2 % of EC a day
            let fresh = walk.today(day, &[]);
            let ec = number(&fresh["tanks"][0]["ec_ms_cm"]["likely"]) * (1.0 - 0.012 * f64::from(day - read));
            let before = walk.today(day, &[]);
            let mut expected: Vec<(String, i32)> =
                walk.expected(day).into_iter().map(|(what, left)| (what.to_owned(), left)).collect();
            let mut is = told(&before["tanks"][0]);
            expected.sort();
            is.sort();
            assert_eq!(is, expected, "day {day}: {}", before["tanks"][0]["due"]);
            let level = format!("{:.1} L", 60.0 - 0.5 * f64::from(day - read));
            walk.add(day, "08:00", &["reading", "--ec", &format!("{ec:.2} mS/cm"), "--ph", "6.1", "--level", &level]);
            walk.read = Some(day);
        }
        let page = walk.today(day, &[]);
        assert_eq!((&page["date"], &page["plan_from"]), (&date(day).into(), &"2027-01-01".into()));
        for (at, (pollen, stigmas, ripens)) in groups(day).into_iter().enumerate() {
            let group = &page["groups"][at];
            assert!(group["collect_pollen_until"].is_null() || pollen, "day {day}: pollen of {}", group["id"]);
            assert_eq!(!group["stigmas_open_until"].is_null(), stigmas, "day {day}: stigmas of {}", group["id"]);
            let ripe = !group["ripens"].as_array().expect("a list").is_empty();
            assert!(!ripe || ripens, "day {day}: seed of {}", group["id"]);
        }
        let bench = walk.path("bench.toml");
        let tank = &page["tanks"][0];
        let asked = if (14..42).contains(&day) { "push" } else { "growth" };
        let recipe = walk.new_file();
        let due = |what: &str| {
            let by_plan = |due: &&Value| due["by"] == "plan" && due["what"] == what && due["days_left"].as_i64() <= Some(0);
            tank["due"].as_array().expect("a list").iter().any(|due| by_plan(&due))
        };
        if walk.has.is_none() {
            done(&["mix", asked, "--bench", &bench, "--save", &recipe]);
            walk.book(day, &recipe);
            (walk.has, walk.read) = (Some((asked, day)), Some(day));
        } else if due("switch") || due("renew") {
            let fill = &tank["fill_up"];
            assert_eq!((fill["formula"].as_str(), tank["no_fill_up"].is_null()), (Some(asked), true), "day {day}");
            assert!(number(&fill["drain_l"]) > 0.0 && !fill["doses"].as_array().expect("doses").is_empty(), "day {day}");
            walk.today(day, &["--save", &recipe]);
            walk.book(day, &recipe);
            let (at, logbook) = (Walk::at(day, "10:00"), walk.path("tank.jsonl"));
            let now = json(&["logbook", "now", &logbook, "--at", &at, "--bench", &bench, "--json"]);
            let reads = number(&now["ec_ms_cm"]["likely"]);
            assert!((reads - number(&fill["ec_ms_cm"])).abs() < 0.005, "day {day}: {reads} and {}", fill["ec_ms_cm"]);
            walk.has = Some((asked, day));
        } else if tank["fill_up"].is_object() {
            let fill = &tank["fill_up"];
            let level = number(&tank["level_l"]);
            assert!(
                (number(&fill["water_l"]) - (60.0 - level)).abs() < 1e-6,
                "day {day}: {level} L and {}",
                fill["water_l"]
            );
            assert!(number(&fill["misfit"]) <= number(&fill["misfit_before"]), "day {day}");
            walk.today(day, &["--save", &recipe]);
            walk.book(day, &recipe);
            filled_up += 1;
        }
    }
    assert!(filled_up >= 5, "filled up on {filled_up} days");
    let (at, logbook) = (Walk::at(84, "10:00"), walk.path("tank.jsonl"));
    let asked =
        ["today", "--bench", &walk.path("bench.toml"), "--at", &at, "--logbook", &logbook, "--sheet", &walk.path("s.html")];
    let text = done(&asked);
    assert!(text.starts_with("TODAY  Fri 26 Mar 2027, on two groups"), "{text}");
    let sheet = std::fs::read_to_string(walk.path("s.html")).expect("a sheet");
    assert!(sheet.contains("<h1>Today</h1>") && sheet.contains("late whites"));
}

/// Hard water and nitric acid: what the correction of a pH brings is told, is not weighed in a second time, and the meter reads what
/// was told once both are in and booked.
#[test]
fn what_corrects_the_ph_is_reckoned_with() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_str().expect("UTF-8").to_owned();
    let (bench, logbook, saved, fill) = (path("bench.toml"), path("tank.jsonl"), path("push.json"), path("fill.json"));
    let water = "[water]\nCa = 90\nMg = 12\nNa = 15\nCl = 25\nS = 15\nalkalinity = \"4.5 meq/L\"\npH = 7.4\n";
    let starter = include_str!("../src/bench/starter.toml");
    let text = starter
        .replace(
            "[[scale]]                        # a kitchen",
            &format!("{water}[acid]\nsalt = \"nitric-acid-60\"\ntarget_pH = 6.0\n\n[[scale]] # a kitchen"),
        )
        .replace("[shelf] ", "[shelf]\nnitric-acid-60 = {}\n# ")
        .replace("step = \"0.5 mL\"", "step = \"0.1 mL\"");
    std::fs::write(&bench, text).expect("written");
    let at = |day: &str| format!("2026-11-{day}+01:00");
    let run = |command: &[&str]| json(&command.iter().copied().chain(["--bench", &bench, "--json"]).collect::<Vec<_>>());
    run(&["mix", "push", "--save", &saved]);
    run(&["logbook", "add", &logbook, "--at", &at("12 10:00"), "from", &saved]);
    run(&[
        "logbook",
        "add",
        &logbook,
        "--at",
        &at("15 09:00"),
        "reading",
        "--ec",
        "1.14 mS/cm",
        "--ph",
        "7.4",
        "--level",
        "57 L",
        "--yes",
    ]);
    let today = run(&["today", "--logbook", &logbook, "--at", &at("15 09:10"), "--save", &fill]);
    let (tank, ph) = (&today["tanks"][0], &today["tanks"][0]["ph"]["correction"]);
    assert_eq!((ph["salt"].as_str(), ph["brings"]["element"].as_str()), (Some("nitric-acid-60"), Some("N")), "{ph}");
    // 60 % by mass of HNO3, 63.012 g/mol, 14.007 of them nitrogen (standard atomic weights, IUPAC 2021)
    let brings = number(&ph["grams"]) * 0.60 * 14.007 / 63.012 / 60.0 * 1e3;
    assert!((number(&ph["brings"]["ppm"]) - brings).abs() < 1e-3 * brings && brings > 10.0, "{brings}: {ph}");
    // N is over what push asks then, so nothing with nitrogen is weighed in beside
    let doses = tank["fill_up"]["doses"].as_array().expect("doses");
    assert!(
        doses.iter().all(|dose| !dose["salt"].as_str().is_some_and(|id| id.contains("nitr") || id.contains("ammon"))),
        "{doses:#?}"
    );
    let after = number(&tank["nitrogen_ppm"]["likely"]) * number(&tank["level_l"]) / 60.0 + number(&ph["brings"]["ppm"]);
    // the water that is filled in is in the dose: nothing is left to correct tomorrow
    let aired = number(&tank["fill_up"]["ph_aired"]);
    assert!((aired - number(&ph["to_ph"])).abs() < 0.1, "{aired}: {ph}");
    let missed = tank["fill_up"]["missed"].as_array().expect("a list");
    let told = missed.iter().find(|one| one["element"] == "N").map(|one| number(&one["ppm"])).expect("N stays off");
    assert!((told - after).abs() < 1e-6 * after, "{told} and {after}");
    // booked whole, the acid with it, the logbook tells the same tank
    let recipe: Value = serde_json::from_str(&std::fs::read_to_string(&fill).expect("a recipe")).expect("JSON");
    let booked = recipe["doses"].as_array().expect("doses").iter().find(|dose| dose["salt"] == "nitric-acid-60");
    assert!(booked.is_some_and(|dose| (number(&dose["grams"]) / number(&ph["grams"]) - 1.0).abs() < 1e-8), "{recipe}");
    run(&["logbook", "add", &logbook, "--at", &at("15 09:30"), "from", &fill]);
    let now = run(&["logbook", "now", &logbook, "--at", &at("15 09:31")]);
    let (reads, told) = (number(&now["ec_ms_cm"]["likely"]), number(&tank["fill_up"]["ec_ms_cm"]));
    assert!((reads - told).abs() < 0.005, "{reads} and {told}");
}

#[test]
fn what_cannot_be_said_is_refused() {
    let example = |name: &str| format!("{}/examples/{name}", env!("CARGO_MANIFEST_DIR"));
    let (bench, logbook) = (example("streptocarpus.toml"), example("streptocarpus-logbook.jsonl"));
    let cycle = example("streptocarpus-cycle.toml");
    let at = "2026-10-20 09:00+02:00";
    let folder = tempfile::tempdir().expect("a folder");
    let save = folder.path().join("fill.json").display().to_string();
    for (arguments, status, says) in [
        (&["today", "--at", at][..], 2, "neither a logbook nor a plan"),
        (&["today", "--at", at, "--bench", &cycle], 2, "nothing says when it begins"),
        (&["today", "--at", at, "--bench", &bench, "--start", "2026-10-03"], 2, "no [cycle]"),
        (&["today", "--at", at, "--bench", &cycle, "--start", "2026-13-03"], 2, "2026-13-03"),
        (&["today", "--at", at, "--bench", &cycle, "--first-open", "soon"], 2, "soon"),
        (&["today", "--at", "yesterday", "--logbook", &logbook], 2, "--at"),
        (&["today", "--at", at, "--logbook", "nowhere.jsonl"], 2, "no such file"),
        (&["today", "--at", at, "--logbook", &bench], 3, "damaged"),
        (&["today", "--at", at, "--save", &save], 2, "--logbook"),
    ] {
        let (is, out, err) = bloomsalt(arguments);
        let said = err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!((is, out.as_str()), (status, ""), "{arguments:?}: {err}");
        assert!(said.contains(says), "{arguments:?}: {err}");
    }
    // before the first entry there is nothing to save, which is said, as text and as JSON; without it the page stands
    let day = ["today", "--at", "2026-01-01 09:00+01:00", "--logbook", &logbook];
    let (status, out, err) = bloomsalt(&[&day[..], &["--save", &save]].concat());
    let err = err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(err.contains("nothing to pour today, and so no recipe: nothing is in it"), "{err}");
    let (status, out, _) = bloomsalt(&[&day[..], &["--save", &save, "--json"]].concat());
    assert_eq!(status, 1);
    let refusal: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(refusal["problems"][0]["code"], "nothing-to-add");
    assert!(!std::path::Path::new(&save).exists());
    assert!(done(&day).contains("nothing is in it"));
}

/// A bench of its own sections in place of those that stand before the shelf of the starter.
fn starter_with(sections: &str) -> String {
    let starter = bloomsalt::bench::STARTER;
    let rest = starter.find("[shelf]").expect("a shelf");
    format!("name = \"bench\"\n{sections}\n{}", &starter[rest..])
}

/// Two tanks that lack more water than there is of the better one: what the first is told the second does not get again.
#[test]
fn water_of_which_little_is_left_is_told_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (bench, at) = (path("bench.toml"), "2027-01-11 09:00+01:00");
    for there in [1.5, 3.0, 9.0, 40.0] {
        let sections = format!(
            "[[tank]]\nid = \"big\"\nvolume = \"120 L\"\n[[tank]]\nid = \"small\"\nvolume = \"40 L\"\n\
             [[water]]\nid = \"rain\"\non_hand = \"{there} L\"\n\
             [[water]]\nid = \"tap\"\nCa = 110\nMg = 14\nCl = 35\nHCO3 = 310\n"
        );
        std::fs::write(&bench, starter_with(&sections)).expect("written");
        let mut asked: Vec<String> = ["today", "--bench", &bench, "--at", at, "--json"].map(str::to_owned).to_vec();
        for (tank, full, level) in [("big", "120 L", "112 L"), ("small", "40 L", "35 L")] {
            let book = path(&format!("{tank}-{there}.jsonl"));
            let add = |at: &str, event: &[&str]| {
                done(&[&["logbook", "add", &book, "--tank", tank, "--at", at, "--bench", &bench], event].concat());
            };
            add(
                "2027-01-04 09:00+01:00",
                &["filled", "--volume", full, "--water", "tap", "potassium-nitrate=9g", "--formula", "growth"],
            );
            add("2027-01-10 09:00+01:00", &["reading", "--level", level]);
            asked.extend(["--logbook".to_owned(), book]);
        }
        let page = json(&asked.iter().map(String::as_str).collect::<Vec<_>>());
        let rain = |tank: usize| {
            let waters = page["tanks"][tank]["fill_up"]["waters"].as_array().into_iter().flatten();
            waters.filter(|water| water["id"] == "rain").map(|water| number(&water["litres"])).sum::<f64>()
        };
        assert!(rain(0) > 0.0 && rain(0) + rain(1) <= there + 1e-6, "{there} L: {} L and {} L", rain(0), rain(1));
    }
}

/// On its first day a tank is filled, and not renewed; a logbook that is not begun says how it is.
#[test]
fn a_first_day_says_how_to_begin() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).display().to_string();
    let bench = path("bench.toml");
    std::fs::write(&bench, starter_with(&format!("[tank]\nvolume = \"60 L\"\n{PHASES}"))).expect("written");
    let page = json(&["today", "--bench", &bench, "--at", "2027-01-01 09:00+01:00", "--json"]);
    let due = &page["tanks"][0]["due"][0];
    assert_eq!((&due["what"], &due["formula"], &due["days_left"]), (&"fill".into(), &"growth".into(), &0.into()));
    let (status, _, err) = bloomsalt(&["today", "--bench", &bench, "--logbook", &path("none.jsonl")]);
    assert!(status == 2 && err.contains("there is no such file") && err.contains("begins with its first entry"), "{err}");
}

/// As long as seed of a mother is still to ripen by the plan, her group is not done with.
#[test]
fn seed_that_is_still_to_ripen_is_told() {
    let text = include_str!("../examples/streptocarpus-cycle.toml");
    let bench = bloomsalt::bench::Bench::parse(text, "test").expect("valid");
    let start = bloomsalt::quantity::Date::parse("2027-01-04").expect("a day");
    let begin = Some(jobs::Begin::On(start));
    let plan = jobs::cycle(&bench, jobs::Begin::On(start), None).expect("a plan");
    let harvests: Vec<_> = plan.crossing.iter().filter(|step| step.work == jobs::CrossingWork::Harvest).collect();
    assert!(harvests.len() > 2);
    let mut waits = 0;
    for day in 0..320 {
        let date = start.plus(day);
        let at = bloomsalt::logbook::Moment::parse(&format!("{date} 12:00+00:00")).expect("a moment");
        let patterns = bloomsalt::logbook::Patterns::standard();
        let asked = jobs::TodayAsked { logbooks: &[], at, patterns: &patterns, begin, with_recipe: false };
        let page = jobs::today(&bench, &asked).expect("a day");
        for group in &page.groups {
            let of_it = harvests.iter().filter(|step| step.stigma_of.as_ref() == Some(&group.id) && step.days.from > date);
            if let Some(first) = of_it.map(|step| step.days.from).min() {
                let next = group.next.unwrap_or_else(|| panic!("{date}: seed of {} ripens on {first}", group.id));
                assert!(next.on <= first, "{date}: {} before {first}", next.on);
                waits += 1;
            }
        }
    }
    assert!(waits > 100, "{waits}");
}

/// No renewal is told for a day on which the plan is over, and once it is over that is said.
#[test]
fn a_plan_that_is_over_asks_for_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (bench, book) = (path("bench.toml"), path("tank.jsonl"));
    std::fs::write(&bench, starter_with(&format!("[tank]\nvolume = \"60 L\"\n{PHASES}"))).expect("written");
    let plan = json(&["cycle", "--bench", &bench, "--json"]);
    let phases = plan["tanks"][0]["phases"].as_array().expect("phases");
    let end = phases.last().expect("a last phase")["to"].as_str().expect("a day");
    let end = bloomsalt::quantity::Date::parse(end).expect("a day");
    for back in 1..=20 {
        let filled = format!("{} 09:00+00:00", end.plus(-back));
        let book = format!("{book}{back}");
        let with = ["filled", "--volume", "60 L", "--formula", "growth", "potassium-nitrate=10g"];
        done(&[&["logbook", "add", &book, "--at", &filled, "--bench", &bench], &with[..]].concat());
        for ahead in [1 - back.min(4), 0, 1, 9] {
            let at = format!("{} 10:00+00:00", end.plus(ahead));
            let page = json(&["today", "--bench", &bench, "--logbook", &book, "--at", &at, "--json"]);
            for due in page["tanks"][0]["due"].as_array().expect("due").iter().filter(|due| due["by"] == "plan") {
                let on = bloomsalt::quantity::Date::parse(due["on"].as_str().expect("a day")).expect("a day");
                assert!(on <= end, "{at}: {due}");
            }
            let told = page["no_plan"].as_str().is_some_and(|why| why.contains(&format!("ended on {end}")));
            assert_eq!(told, ahead > 0, "{at}: {}", page["no_plan"]);
        }
    }
}
