//! Every command on random benches, ordinary and extreme: it ends as it should, and what it says agrees with itself.
#![allow(clippy::neg_cmp_op_on_partial_ord, clippy::needless_for_each, reason = "what is not a number is wrong too")]
#![allow(
    clippy::disallowed_methods,
    clippy::print_stderr,
    reason = "benches in a folder of its own; long sweeps tell at once"
)]

use std::fmt::Write as _;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

use bloomsalt::bench::Bench;
use serde_json::Value;

use crate::program::bloomsalt;
use crate::random::Random;
use crate::random::benches::{self, Drawn};
use crate::random::judge::Judge;
use crate::random::minded::not_minded;

/// The first bench of a test; `BLOOMSALT_FROM` passes over those already tried.
fn from() -> u64 {
    std::env::var("BLOOMSALT_FROM").ok().and_then(|asked| asked.parse().ok()).unwrap_or(0)
}

/// Benches of a test; `BLOOMSALT_CASES` asks for more.
fn cases(few: u64) -> std::ops::Range<u64> {
    from()..std::env::var("BLOOMSALT_CASES").ok().and_then(|asked| asked.parse().ok()).unwrap_or(few)
}

/// A bench in a folder, its commands, and what went wrong with them.
struct Trial<'a> {
    folder: &'a Path,
    drawn: Drawn,
    bench: Bench,
    random: Random,
    wrong: Vec<String>,
    times: Vec<(Duration, String)>,
}

impl Trial<'_> {
    fn path(&self, name: &str) -> String {
        self.folder.join(name).to_str().expect("UTF-8").to_owned()
    }

    /// So many times the tank, no more than a tank may hold.
    fn litres(&self, times: f64) -> String {
        format!("{} L", (self.drawn.litres * times).min(100_000.0))
    }

    /// Runs a command with `--bench` and `--json`; its document where it was done. What must never be is noted.
    fn run(&mut self, command: &[&str]) -> Option<Value> {
        let path = self.path("bench.toml");
        let line: Vec<&str> = command.iter().copied().chain(["--bench", &path, "--json"]).collect();
        self.ran(&line)
    }

    fn ran(&mut self, line: &[&str]) -> Option<Value> {
        let mut fail = |what: String| self.wrong.push(format!("bloomsalt {}\n  {what}", line.join(" ")));
        let (start, before) = (Instant::now(), worked());
        let ran = catch_unwind(AssertUnwindSafe(|| bloomsalt(line)));
        let took = before.zip(worked()).map_or_else(|| start.elapsed(), |(before, after)| after.saturating_sub(before));
        self.times.push((took, line.join(" ")));
        let Ok((status, out, err)) = ran else {
            fail("panics".to_owned());
            return None;
        };
        if status > 1 {
            fail(format!("exit {status}: {err}"));
            return None;
        }
        if out.contains("NaN") || out.contains(" inf") || err.contains("NaN") {
            fail("tells a number that is none".to_owned());
        }
        let document: Value = match serde_json::from_str(&out) {
            Ok(document) => document,
            Err(error) => {
                fail(format!("no document: {error}"));
                return None;
            }
        };
        if status == 1 && err.trim().is_empty() {
            fail("refuses without a word".to_owned());
        }
        if status == 0 {
            not_minded(&self.bench.catalogue, &document).into_iter().for_each(&mut fail);
        }
        (status == 0).then_some(document)
    }

    /// The same as text, for a page that cannot be written.
    fn text(&mut self, command: &[&str]) {
        let path = self.path("bench.toml");
        let line: Vec<&str> = command.iter().copied().chain(["--bench", &path]).collect();
        let ran = catch_unwind(AssertUnwindSafe(|| bloomsalt(&line)));
        let whole = ran.is_ok_and(|(status, out, _)| status <= 1 && !out.contains("NaN") && !out.contains(" inf"));
        if !whole {
            self.wrong.push(format!("bloomsalt {} (as text)\n  fails", line.join(" ")));
        }
    }

    fn judge(&mut self, command: &[&str], record: &Value, from_shelf: bool) {
        let found = Judge { bench: &self.bench }.tank(record, from_shelf);
        self.wrong.extend(found.into_iter().map(|what| format!("bloomsalt {}\n  {what}", command.join(" "))));
    }

    fn say(&mut self, what: String) {
        self.wrong.push(what);
    }
}

/// What this thread has had of a processor, where the system tells: a sweep runs beside other work, and its wall clock counts that too.
fn worked() -> Option<Duration> {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    told.split(' ').next()?.parse().ok().map(Duration::from_nanos)
}

/// A long sweep tells at once which benches take longer, and what fails, and keeps their folders.
const SLOW: Duration = Duration::from_secs(2);

/// Tries something on so many benches, and tells what went wrong with the first of those that fail.
fn every(few: u64, salt: u64, tried: impl Fn(&mut Trial)) {
    each(cases(few), cases(few).end > few, salt, tried);
}

fn each(seeds: impl IntoIterator<Item = u64>, sweep: bool, salt: u64, tried: impl Fn(&mut Trial)) {
    let mut told = String::new();
    let mut failed = 0;
    let mut times: Vec<(Duration, String)> = Vec::new();
    for seed in seeds {
        let folder = tempfile::tempdir().expect("a folder");
        let drawn = benches::bench(seed);
        let path = folder.path().join("bench.toml");
        std::fs::write(&path, &drawn.text).expect("written");
        let bench =
            Bench::parse(&drawn.text, "bench.toml").unwrap_or_else(|error| panic!("{:?}\n{}", error.problems, drawn.text));
        let random = Random(seed ^ (salt << 40));
        let mut trial = Trial { folder: folder.path(), drawn, bench, random, wrong: Vec::new(), times: Vec::new() };
        tried(&mut trial);
        let slow: Vec<&(Duration, String)> = trial.times.iter().filter(|(took, _)| *took > SLOW).collect();
        if sweep && !slow.is_empty() {
            eprintln!("bench {seed} of {salt} is slow: {slow:?}");
        }
        let is_kept = sweep && !(slow.is_empty() && trial.wrong.is_empty());
        times.append(&mut trial.times);
        if !trial.wrong.is_empty() {
            failed += 1;
            if sweep {
                eprintln!("bench {seed} of {salt}: {}", trial.wrong.join("\n"));
            }
            if failed <= 3 {
                let _ = write!(told, "== bench {seed}\n{}\n{}\n", trial.wrong.join("\n"), trial.drawn.text);
            }
        }
        if is_kept {
            eprintln!("bench {seed} of {salt} is kept in {}", folder.keep().display());
        }
    }
    if sweep {
        times.sort_unstable();
        let at = |share: usize| times.get((times.len() * share).div_ceil(100).saturating_sub(1)).map(|(took, _)| *took);
        let slow = times.iter().filter(|(took, _)| *took > SLOW).count();
        eprintln!(
            "{salt}: {} runs, {slow} over {SLOW:?}, median {:?}, 99 % {:?}, worst {:?}",
            times.len(),
            at(50),
            at(99),
            at(100)
        );
    }
    assert!(failed == 0, "{failed} benches fail\n{told}");
}

#[test]
fn a_mix_agrees_with_itself_and_with_its_recipe() {
    every(40, 1, |trial| {
        let saved = trial.path("recipe.json");
        let formula = if trial.random.chance(0.5) { "growth" } else { "push" };
        let Some(mix) = trial.run(&["mix", formula, "--save", &saved]) else { return };
        trial.judge(&["mix", formula], &mix, true);
        let Some(check) = trial.run(&["check", "--recipe", &saved]) else { return };
        // a recipe has nine digits; where acid takes nearly all of a hard water, what is left over is theirs a
        // thousandfold in its share, and the pH with it
        for (key, within) in [("ec_ms_cm", 1e-6), ("ph", 1e-5), ("ph_aired", 1e-5)] {
            let (mixed, checked) = (mix[key].as_f64(), check[key].as_f64());
            let same = match (mixed, checked) {
                (Some(mixed), Some(checked)) => (mixed - checked).abs() <= within,
                (mixed, checked) => mixed == checked,
            };
            if !same {
                trial.say(format!("mix {formula}: {key} is {mixed:?}, and {checked:?} by check of its recipe"));
            }
        }
        // forms of nitrogen that no formula names stand in no table
        let form = |element: &&Value| element["element"].as_str().is_some_and(|symbol| symbol.contains("-N"));
        for element in mix["elements"].as_array().into_iter().flatten().filter(|element| !form(element)) {
            let ppm = element["ppm"].as_f64().unwrap_or(f64::NAN);
            let list = check["elements"].as_array();
            let other = list.and_then(|list| list.iter().find(|other| other["element"] == element["element"]));
            let checked = other.map_or(0.0, |other| other["ppm"].as_f64().unwrap_or(f64::NAN));
            if !((ppm - checked).abs() <= 1e-6 * ppm.abs().max(1e-3)) {
                trial.say(format!("mix {formula}: {} is {ppm}, and {checked} by check of its recipe", element["element"]));
            }
        }
    });
}

#[test]
fn other_ways_to_ask_for_a_mix_end_well() {
    every(20, 2, |trial| {
        if let Some(beside) = trial.run(&["mix", "growth", "--beside", "push"]) {
            trial.judge(&["mix", "growth", "--beside", "push"], &beside, true);
            trial.judge(&["mix", "push", "--beside", "growth"], &beside["beside"], true);
        }
        let most = (1 + trial.random.below(8)).to_string();
        if let Some(few) = trial.run(&["mix", "push", "--salts-at-most", &most]) {
            trial.judge(&["mix", "push", "--salts-at-most", &most], &few, true);
        }
        let wish = ["few", "light"][trial.random.below(2)];
        if let Some(preferred) = trial.run(&["mix", "growth", "--prefer", wish]) {
            trial.judge(&["mix", "growth", "--prefer", wish], &preferred, true);
        }
        trial.text(&["mix", "growth"]);
        if let [first, second, ..] = trial.drawn.targets[0][..] {
            trial.run(&["mix", "growth", "--trade", &format!("{first}:{second}")]);
        }
    });
}

#[test]
fn a_switch_ends_well() {
    every(20, 3, |trial| {
        let (held, behind) = (trial.random.between(0.3, 1.0), trial.random.between(0.0, 0.2));
        let (held, behind) = (trial.litres(held), trial.litres(behind));
        let how: Vec<String> = match trial.random.below(5) {
            0 => vec!["--level".into(), held, "--held-back".into(), behind],
            1 => vec!["--bucket".into(), trial.litres(0.17)],
            2 => vec!["--drain".into(), trial.litres(0.4)],
            _ => Vec::new(),
        };
        let how: Vec<&str> = how.iter().map(String::as_str).collect();
        let command: Vec<&str> = ["switch", "push", "--holding", "growth"].into_iter().chain(how.iter().copied()).collect();
        trial.run(&command);
        trial.text(&["switch", "growth", "--holding", "push"]);
        let found: Vec<String> = ["N=60", "P=12.5", "K=80", "Ca=70", "Mg=20", "S=30", "Cl=40", "Fe=1.2"]
            .into_iter()
            .filter(|_| trial.random.chance(0.6))
            .map(str::to_owned)
            .collect();
        if !found.is_empty() {
            let command = ["switch", "push"].into_iter().chain(how.iter().copied()).chain(["--analysis"]);
            let command: Vec<&str> = command.chain(found.iter().map(String::as_str)).collect();
            trial.run(&command);
        }
    });
}

/// What a grower may have weighed in, near what the tank would take.
fn added(trial: &mut Trial) -> Vec<String> {
    let litres = trial.drawn.litres;
    let mut list: Vec<String> = Vec::new();
    let count = 1 + trial.random.below(5);
    for id in trial.random.some(&trial.drawn.shelf.iter().collect::<Vec<_>>(), count) {
        let grams = (litres * trial.random.between(0.01, 0.6)).clamp(1e-6, 1e7);
        list.push(format!("{id}={grams:.6}g"));
    }
    if let Some(bottle) = trial.drawn.bottles.first() {
        list.push(format!("{bottle}={:.3}mL", litres * trial.random.between(0.5, 20.0)));
    }
    list
}

#[test]
fn a_check_ends_well() {
    every(20, 4, |trial| {
        let list = added(trial);
        let list: Vec<&str> = list.iter().map(String::as_str).collect();
        let plain: Vec<&str> = ["check"].into_iter().chain(list.iter().copied()).collect();
        if let Some(check) = trial.run(&plain) {
            let reads = check["ec_ms_cm"].as_f64().unwrap_or(1.0) * trial.random.between(0.6, 1.5) + 0.01;
            let reads = format!("{:.3} mS/cm", reads.min(50.0));
            let against: Vec<&str> = plain.iter().copied().chain(["--against", "growth", "--reads", &reads]).collect();
            trial.run(&against);
            trial.text(&against);
        }
        trial.run(&["check", "--against", "push", "--analysis", "N=70", "K=90", "Ca=60"]);
    });
}

#[test]
fn a_recipe_scales_to_any_tank() {
    every(20, 5, |trial| {
        let saved = trial.path("recipe.json");
        if trial.run(&["mix", "growth", "--save", &saved]).is_none() {
            return;
        }
        let times = trial.random.between(-3.0, 3.0).exp();
        let to = format!("{} L", (trial.drawn.litres * times).clamp(0.1, 100_000.0));
        if let Some(scaled) = trial.run(&["scale", &saved, "--to", &to]) {
            // limits are those of a recipe, its wishes have no weights
            let found = Judge { bench: &trial.bench }.contents(&scaled);
            found.into_iter().for_each(|what| trial.say(format!("scale --to {to}\n  {what}")));
        }
    });
}

#[test]
fn stock_bottles_give_the_tank_that_is_printed() {
    every(30, 6, |trial| {
        let strength = ["10", "34", "100", "250"][trial.random.below(4)];
        let bottle = ["0.25 L", "1 L", "5 L", "10 L"][trial.random.below(4)];
        let coldest = ["4 C", "10 C", "20 C"][trial.random.below(3)];
        let mut command = vec!["stock", "growth", "--strength", strength, "--bottle", bottle, "--coldest", coldest];
        if trial.random.chance(0.5) {
            command.extend(["--dose-for", "push"]);
        }
        if let Some(stock) = trial.run(&command) {
            trial.judge(&command, &stock, false);
            if !stock["dose_for"].is_null() {
                let other = Judge { bench: &trial.bench }.contents(&stock["dose_for"]);
                other.into_iter().for_each(|what| trial.say(format!("{} (the other)\n  {what}", command.join(" "))));
            }
        }
        trial.text(&command);
    });
}

#[test]
fn a_cycle_ends_well() {
    every(15, 7, |trial| {
        trial.run(&["cycle", "--start", "2027-01-04"]);
    });
}

/// Days of a logbook: a fill, a reading, water, an analysis, what was told to add, a switch.
fn days_of_a_logbook(trial: &mut Trial) {
    let (saved, logbook) = (trial.path("recipe.json"), trial.path("tank.logbook"));
    if trial.run(&["mix", "growth", "--save", &saved]).is_none() {
        return;
    }
    let level = trial.litres(0.85);
    let up = trial.litres(0.1);
    trial.run(&["logbook", "add", &logbook, "--at", "2027-01-04 08:00+00:00", "filled", "--recipe", &saved]);
    trial.run(&["logbook", "now", &logbook, "--at", "2027-01-05 08:00+00:00"]);
    let ec = format!("{:.3} mS/cm", trial.random.between(0.2, 2.0));
    trial.run(&[
        "logbook",
        "add",
        &logbook,
        "--at",
        "2027-01-07 08:00+00:00",
        "reading",
        "--ec",
        &ec,
        "--level",
        &level,
        "--yes",
    ]);
    trial.run(&["logbook", "add", &logbook, "--at", "2027-01-07 09:00+00:00", "topped-up", "--volume", &up]);
    trial.run(&["logbook", "add", &logbook, "--at", "2027-01-09 09:00+00:00", "analysis", "N=70", "K=60"]);
    trial.run(&["logbook", "now", &logbook, "--at", "2027-01-10 08:00+00:00"]);
    trial.run(&["logbook", "forecast", &logbook, "--at", "2027-01-10 08:00+00:00"]);
    let (turned, filled) = (trial.path("turned.json"), trial.path("filled.json"));
    let at = "2027-01-10 08:00+00:00";
    trial.run(&["today", "--logbook", &logbook, "--at", at]);
    trial.run(&["top-up", "--logbook", &logbook, "--at", at]);
    // where nothing is to be poured nothing is saved
    let told = trial.run(&["today", "--logbook", &logbook, "--at", at, "--save", &filled]).is_some();
    if told && Path::new(&filled).exists() {
        trial.run(&["logbook", "add", &logbook, "--at", at, "from", &filled]);
    }
    let done = trial.run(&["switch", "push", "--logbook", &logbook, "--at", at, "--save", &turned]);
    if done.is_some_and(|done| does_something(&done)) {
        // what fills it up and what turns it over may be the same weights, at the same minute
        trial.run(&["logbook", "add", &logbook, "--at", at, "from", &turned, "--yes"]);
        trial.run(&["logbook", "now", &logbook, "--at", at]);
    }
    trial.run(&["check", "--recipe", &saved, "--against", "push"]);
}

/// Where nothing is to be done there is nothing to write down.
fn does_something(done: &Value) -> bool {
    done["refill_l"].as_f64().is_some_and(|litres| litres >= 1e-3)
        || done["doses"].as_array().is_some_and(|doses| doses.iter().any(|dose| !dose["measure"].is_null()))
}

#[test]
fn a_logbook_reads_what_was_written() {
    every(15, 8, days_of_a_logbook);
    // bottles of purer water that keep some of the water's nitrate out; nothing to do in a switch; acids of the bench that a recipe does
    // not have, and that only a way beside the best one would take
    each([5609, 5744, 5406, 1482, 2806, 6704], false, 8, days_of_a_logbook);
}

/// Benches that once ended in a failure of our own, or in an answer that was no answer: none of them does again.
#[test]
fn known_benches_end_well() {
    let cases: [(&str, &[&str]); 16] = [
        ("ec-limit-60l", &["mix", "tap"]),
        ("ec-limit-43", &["mix", "tap"]),
        ("ec-limit-100l", &["mix", "f"]),
        ("ec-limit-thin", &["mix", "growth"]),
        ("own-acid-check", &["check", "potassium-nitrate=12g", "own-acid=34.9866g"]),
        ("own-acid-switch", &["switch", "push", "--holding", "growth"]),
        ("hard-water-acid", &["switch", "push", "--holding", "growth"]),
        ("misfit-under-exact", &["mix", "push"]),
        ("no-ray-mix", &["mix", "growth"]),
        ("no-ray-analysis", &["check", "--against", "push", "--analysis", "N=70", "K=90", "Ca=60"]),
        (
            "next-to-nothing",
            &[
                "check",
                "manganese-sulfate-monohydrate=6.527608g",
                "zinc-sulfate-heptahydrate=39.897883g",
                "potassium-nitrate=36.953355g",
                "copper-sulfate-pentahydrate=21.241349g",
                "--against",
                "growth",
            ],
        ),
        (
            "far-apart-check",
            &[
                "check",
                "monopotassium-phosphate=12685.599620g",
                "calcium-nitrate-tetrahydrate=15441.163459g",
                "magnesium-sulfate-heptahydrate=7675.638028g",
                "copper-sulfate-pentahydrate=15572.003489g",
                "--against",
                "growth",
                "--reads",
                "1.136 mS/cm",
            ],
        ),
        (
            "far-apart-bottle",
            &[
                "check",
                "copper-sulfate-pentahydrate=6751.844316g",
                "zinc-sulfate-heptahydrate=9395.649370g",
                "h0=379529.596mL",
                "--against",
                "growth",
                "--reads",
                "0.324 mS/cm",
            ],
        ),
        ("bottle-of-bottle", &["mix", "growth"]),
        (
            "loose-and-tight-stock",
            &["stock", "growth", "--strength", "34", "--bottle", "10 L", "--coldest", "20 C", "--dose-for", "push"],
        ),
        ("stock-41", &["stock", "held", "--strength", "34", "--bottle", "10 L", "--coldest", "20 C"]),
    ];
    for (name, command) in cases {
        let bench = format!("tests/cases/{name}.toml");
        let line: Vec<&str> = command.iter().copied().chain(["--bench", &bench, "--json"]).collect();
        let (status, out, err) = bloomsalt(&line);
        assert_eq!(status, 0, "{name}: {err}");
        let document: Value = serde_json::from_str(&out).unwrap_or_else(|error| panic!("{name}: {error}"));
        if command[0] == "mix" || command[0] == "stock" {
            let text = std::fs::read_to_string(&bench).expect("a bench file");
            let bench = Bench::parse(&text, name).expect("a bench");
            let wrong = Judge { bench: &bench }.tank(&document, command[0] == "mix");
            assert!(wrong.is_empty(), "{name}: {wrong:#?}");
        }
    }
}

/// The water of a bench file as one of two, the other of which brings nothing and may run out.
fn of_two_waters(drawn: &Drawn, rain_l: f64) -> String {
    let rain = format!("[[water]]\nid = \"rain\"\non_hand = \"{rain_l} L\"\n\n[[water]]\nid = \"tap\"\n");
    if drawn.text.contains("\n[water]\n") {
        return drawn.text.replacen("[water]\n", &rain, 1);
    }
    format!("{}\n{rain}Ca = 60\nalkalinity = \"3 meq/L\"\n", drawn.text)
}

#[test]
fn what_knows_several_waters_ends_well() {
    every(20, 9, |trial| {
        let rain_l = trial.drawn.litres * trial.random.between(0.0, 1.2);
        let text = of_two_waters(&trial.drawn, rain_l);
        std::fs::write(trial.path("bench.toml"), &text).expect("written");
        let [saved, logbook, turned, filled] =
            ["saved.json", "tank.jsonl", "turned.json", "filled.json"].map(|name| trial.path(name));
        let within = |trial: &mut Trial, document: &Value, filled_l: &str| {
            let litres: Vec<f64> =
                document["waters"].as_array().expect("waters").iter().filter_map(|water| water["litres"].as_f64()).collect();
            let all = document[filled_l].as_f64().expect("a volume");
            if (litres.iter().sum::<f64>() - all).abs() > 1e-6 * all.max(1.0) || litres[0] > rain_l * (1.0 + 1e-6) + 1e-9 {
                trial.say(format!("{litres:?} of {all} L, with {rain_l} L of rain"));
            }
        };
        for command in
            [&["mix", "push", "--salts-at-most", "4"][..], &["mix", "growth", "--beside", "push"], &["stock", "push"]]
        {
            if let Some(document) = trial.run(command) {
                within(trial, &document, "volume_l");
            }
        }
        if let [first, second, ..] = trial.drawn.targets[1][..] {
            trial.run(&["mix", "push", "--trade", &format!("{first}:{second}")]);
        }
        let half = trial.litres(0.5);
        for command in
            [&["switch", "push", "--holding", "growth"][..], &["switch", "push", "--holding", "growth", "--drain", &half]]
        {
            if let Some(document) = trial.run(command) {
                within(trial, &document, "refill_l");
            }
        }
        let Some(mix) = trial.run(&["mix", "growth", "--save", &saved]) else { return };
        within(trial, &mix, "volume_l");
        trial.text(&["mix", "growth"]);
        let double = trial.litres(2.0);
        trial.run(&["scale", &saved, "--to", &double]);
        trial.run(&["check", "--recipe", &saved, "--against", "push"]);
        let (full, less, at) = (trial.litres(1.0), trial.litres(0.9), "2027-01-10 08:00+00:00");
        trial.run(&["logbook", "add", &logbook, "--at", "2027-01-04 08:00+00:00", "from", &saved]);
        let ec = |times: f64| format!("{:.4} mS/cm", mix["ec_ms_cm"].as_f64().unwrap_or(1.0).max(0.05) * times);
        for (when, ec, level) in [("2027-01-04 09:00+00:00", ec(1.0), &full), ("2027-01-09 09:00+00:00", ec(0.95), &less)] {
            trial.run(&["logbook", "add", &logbook, "--at", when, "reading", "--ec", &ec, "--level", level, "--yes"]);
        }
        trial.run(&["logbook", "add", &logbook, "--at", at, "topped-up", "--volume", "1 mL", "--water", "tap"]);
        trial.run(&["logbook", "forecast", &logbook, "--at", at]);
        trial.run(&["top-up", "--logbook", &logbook, "--at", at]);
        // where nothing is to be poured nothing is saved
        let told = trial.run(&["today", "--logbook", &logbook, "--at", at, "--save", &filled]).is_some();
        if told && Path::new(&filled).exists() {
            trial.run(&["logbook", "add", &logbook, "--at", at, "from", &filled]);
        }
        let done = trial.run(&["switch", "push", "--logbook", &logbook, "--at", at, "--save", &turned]);
        if done.is_some_and(|done| does_something(&done)) {
            trial.run(&["logbook", "add", &logbook, "--at", at, "from", &turned, "--yes"]);
        }
    });
}
