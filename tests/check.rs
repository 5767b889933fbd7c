//! `check` in full: recipes, bottles, products and analyses come back, what is proposed does what it says, a reading is
//! judged honestly, mistakes are refused.
#![allow(clippy::disallowed_methods, reason = "writes bench files and recipes to folders of its own")]
#![allow(clippy::print_stdout, reason = "how often a ranking is right is told by the test that measures it")]

use std::path::Path;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, Added, CauseKind, CheckOptions, Known, MixOptions, Reading, ReadingRecord, Recipe, check_tank};
use bloomsalt::quantity::{Amount, gram, millisiemens_per_cm};
use bloomsalt::report;
use serde_json::Value;

use crate::program::{bloomsalt, done};

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&done(arguments)).expect("one JSON document")
}

fn demo() -> String {
    format!("{}/examples/streptocarpus.toml", env!("CARGO_MANIFEST_DIR"))
}

/// The demo bench with a bottle of traces.
fn with_bottle() -> String {
    let demo = std::fs::read_to_string(demo()).expect("the demo bench");
    format!(
        "{demo}\n[[helper]]\nid = \"traces\"\nvolume = \"1 L\"\n\
         made_of = {{ boric-acid = \"2.1 g\", manganese-sulfate-monohydrate = \"1.5 g\" }}\nleft = \"640 mL\"\n"
    )
}

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_str().expect("UTF-8").to_owned()
    }

    fn file(&self, name: &str, text: &str) -> String {
        let path = self.path(name);
        std::fs::write(&path, text).expect("written");
        path
    }
}

fn valid(document: &Value) {
    let schemas: Value = serde_json::from_str(&report::schema()).expect("the schema");
    let validator = jsonschema::validator_for(&schemas["check"]).expect("a schema");
    let errors: Vec<String> = validator.iter_errors(document).map(|error| error.to_string()).collect();
    assert!(errors.is_empty(), "{errors:?}");
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Every ppm, EC and pH of two documents within a relative error.
fn same(a: &Value, b: &Value, within: f64) {
    let (of_a, of_b) = (a["elements"].as_array().expect("elements"), b["elements"].as_array().expect("elements"));
    for one in of_a {
        let other = of_b.iter().find(|other| other["element"] == one["element"]).unwrap_or(&Value::Null);
        let (ppm, again) = (number(&one["ppm"]), if other.is_null() { 0.0 } else { number(&other["ppm"]) });
        assert!((ppm - again).abs() <= within * ppm.abs().max(1e-6), "{}: {ppm} and {again}", one["element"]);
    }
    for key in ["ec_ms_cm", "ph", "ph_aired"] {
        assert!(a[key].is_null() && b[key].is_null() || (number(&a[key]) - number(&b[key])).abs() < 1e-6, "{key}");
    }
}

#[test]
fn a_saved_mix_comes_back() {
    let folder = Folder::new();
    let bottle = folder.file("bottle.toml", &with_bottle());
    let tight = folder.file("tight.toml", &with_bottle().replace("readability = \"0.001 g\"", "readability = \"0.01 g\""));
    let benches = [None, Some(demo()), Some(bottle), Some(tight)];
    for (at, bench) in benches.iter().enumerate() {
        for formula in ["growth", "push", "weak"] {
            for tank in ["60 L", "13 L", "15.9 gal"] {
                if bench.is_some() && formula == "weak" && !std::fs::read_to_string(demo()).unwrap().contains("formula.weak")
                {
                    continue;
                }
                let file = folder.path(&format!("{at}-{formula}-{tank}.json"));
                let mut arguments = vec!["mix", formula, "--tank", tank, "--save", &file, "--json"];
                arguments.extend(bench.iter().flat_map(|bench| ["--bench", bench.as_str()]));
                let mixed = json(&arguments);
                let checked = json(&["check", "--recipe", &file, "--json"]);
                valid(&checked);
                // documents show nine digits, and so does the volume of a tank in gallons
                same(&mixed, &checked, 1e-8);
                assert_eq!(checked["formula"], Value::Null);
                // and held against its own formula it is as far from it as it was
                let mut arguments = vec!["check", "--recipe", &file, "--json", "--against", formula];
                arguments.extend(bench.iter().flat_map(|bench| ["--bench", bench.as_str()]));
                let against = json(&arguments);
                valid(&against);
                assert!((number(&against["misfit"]) - number(&mixed["misfit"])).abs() < 1e-7);
            }
        }
    }
}

/// Without the rounding of documents: the ppm of the mix to 1e-9.
#[test]
fn a_saved_mix_comes_back_exactly() {
    let folder = Folder::new();
    for (at, text) in [std::fs::read_to_string(demo()).unwrap(), with_bottle()].iter().enumerate() {
        let bench = Bench::parse(text, "test").expect("a bench");
        for formula in ["growth", "push"] {
            let mix = jobs::mix(&bench, formula, &MixOptions::default()).expect("mixed");
            let file = folder.file(&format!("{at}-{formula}.json"), &report::document(&jobs::recipe(&bench, &mix)));
            let recipe: Recipe = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
            let content = Known::Recipe { recipe: &recipe, made_up_to: None };
            // the bench at hand is another one: it has only to read the numbers
            let checked = check_tank(&Bench::starter(), &content, &CheckOptions::default()).expect("checked");
            for one in &mix.elements {
                let again = checked.tank.elements.iter().find(|other| other.element == one.element);
                let again = again.map_or(0.0, |again| again.ppm);
                assert!((again - one.ppm).abs() <= 1e-9 * one.ppm, "{formula} {}: {} and {again}", one.element, one.ppm);
            }
        }
    }
}

#[test]
fn salts_bottles_and_products_go_through_a_saved_check() {
    let folder = Folder::new();
    let bench = folder.file("bench.toml", &with_bottle());
    let file = folder.path("checked.json");
    let went_in =
        ["calcium-nitrate-tetrahydrate=18.2g", "potassium-sulfate=9.7g", "traces=50mL", "workshop-pk=61.5mL", "urea=500mg"];
    let mut arguments = vec!["check", "--bench", &bench, "--save", &file, "--json", "--against", "push"];
    arguments.extend(went_in);
    let first = json(&arguments);
    valid(&first);
    // boron: 2.1 g of boric acid in a litre, 50 mL of it in 60 L; molar masses 10.81 and 61.83
    let boron = first["elements"].as_array().unwrap().iter().find(|e| e["element"] == "B").unwrap();
    assert!((number(&boron["ppm"]) - 2100.0 * 0.05 / 60.0 * 10.81 / 61.83).abs() < 1e-4, "{boron}");
    let recipe: Recipe = serde_json::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
    assert_eq!((recipe.formula, recipe.wishes.len(), recipe.doses.len()), (None, 0, 5));
    let again = json(&["check", "--recipe", &file, "--json"]);
    valid(&again);
    same(&first, &again, 1e-9);
    // the same recipe in a tank that was filled less
    let less = json(&["check", "--recipe", &file, "--json", "--tank", "30 L"]);
    let salts = |document: &Value| {
        let n = document["elements"].as_array().unwrap().iter().find(|e| e["element"] == "N").unwrap().clone();
        number(&n["ppm"]) - number(&n["water_ppm"])
    };
    assert!((salts(&less) / salts(&first) - 2.0).abs() < 1e-9);
    // a product that states no alkalinity leaves the pH open
    assert!(first["ph"].is_null());
    // and by weight it is the same as by volume
    let grams = json(&["check", "workshop-pk=67.035g", "--bench", &bench, "--json"]);
    let millilitres = json(&["check", "workshop-pk=61.5mL", "--bench", &bench, "--json"]);
    same(&grams, &millilitres, 1e-9);
}

#[test]
fn an_analysis_is_held_against_growth() {
    let analysed = [
        "check",
        "--analysis",
        "NO3-N=55",
        "NH4-N=5",
        "P=18",
        "K=100",
        "Ca=75",
        "Mg=22",
        "S=60",
        "Fe=1.5",
        "--against",
        "growth",
    ];
    let mut arguments = analysed.to_vec();
    arguments.push("--json");
    let document = json(&arguments);
    valid(&document);
    let element = |symbol: &str| {
        document["elements"].as_array().unwrap().iter().find(|e| e["element"] == symbol).cloned().unwrap_or(Value::Null)
    };
    assert!((number(&element("N")["ppm"]) - 60.0).abs() < 1e-9);
    assert!((number(&element("N")["deviation_percent"]) + 100.0 / 3.0).abs() < 1e-6);
    assert!((number(&document["ammonium_share"]) - 1.0 / 12.0).abs() < 1e-9);
    // what is not named is not known: it is neither listed nor told as missing
    assert!(element("Mo").is_null() && element("Cl").is_null());
    assert_eq!((&document["ph"], &document["ph_aired"]), (&Value::Null, &Value::Null));
    let codes: Vec<&str> = document["findings"].as_array().unwrap().iter().filter_map(|f| f["code"].as_str()).collect();
    assert!(codes.contains(&"target-missed") && codes.contains(&"not-analysed"), "{codes:?}");
    assert!(!codes.contains(&"element-absent") && !codes.contains(&"nitrogen-not-split"), "{codes:?}");
    assert_eq!(document["remedies"]["needed"], true);
    assert_eq!(document["known_from"], "a laboratory analysis");
    let text = done(&analysed);
    insta::assert_snapshot!("analysis", text);
}

/// What is proposed, done and checked again, comes to what was promised.
#[test]
fn what_is_proposed_does_what_it_says() {
    let folder = Folder::new();
    let bench = demo();
    // forgotten magnesium, too much of everything, a push where growth is wanted, half a tank of growth
    let cases: [&[(&str, f64)]; 4] = [
        &[("calcium-nitrate-tetrahydrate", 24.0), ("potassium-nitrate", 12.0), ("monopotassium-phosphate", 4.7)],
        &[("calcium-nitrate-tetrahydrate", 40.0), ("potassium-nitrate", 20.0), ("magnesium-sulfate-heptahydrate", 25.0)],
        &[("calcium-nitrate-tetrahydrate", 18.2), ("potassium-sulfate", 14.0), ("monopotassium-phosphate", 9.5)],
        &[("calcium-nitrate-tetrahydrate", 12.0), ("potassium-nitrate", 6.5), ("monoammonium-phosphate", 2.0)],
    ];
    let mut drained = 0;
    for (at, case) in cases.iter().enumerate() {
        let typed: Vec<String> = case.iter().map(|(id, grams)| format!("{id}={grams}g")).collect();
        let mut arguments = vec!["check", "--bench", &bench, "--against", "growth", "--json"];
        arguments.extend(typed.iter().map(String::as_str));
        let document = json(&arguments);
        valid(&document);
        let options = document["remedies"]["options"].as_array().expect("options");
        let place = |kind: &str| options.iter().position(|option| option["kind"] == kind);
        assert!(place("add now").is_some());
        if place("least waste").is_some() {
            assert_eq!(place("least waste"), Some(0), "what takes out stands before what is put in");
        }
        assert_eq!(options.len() == 1, document["remedies"]["adding_is_enough"].as_bool().unwrap());
        for option in options.iter().filter(|option| option["possible"] == true) {
            let drain = number(&option["drain_l"]);
            drained += usize::from(drain > 0.0);
            // what is left of the first salts, and what goes in; new bottles are written into the bench
            let mut all: Vec<(String, f64, &str)> =
                case.iter().map(|(id, grams)| ((*id).to_owned(), grams * (1.0 - drain / 60.0), "g")).collect();
            let new = option["helpers"].as_array().unwrap();
            let entries: Vec<&str> = new.iter().filter_map(|helper| helper["entry"].as_str()).collect();
            let entries = entries.join("\n");
            for dose in option["doses"].as_array().unwrap().iter().filter(|dose| !dose["measure"].is_null()) {
                let (id, amount, unit) = match dose["salt"].as_str() {
                    Some(id) => (id, number(&dose["grams"]), "g"),
                    None => (dose["helper"].as_str().unwrap(), number(&dose["millilitres"]), "mL"),
                };
                match all.iter_mut().find(|(other, ..)| other == id) {
                    Some((_, sum, _)) => *sum += amount,
                    None => all.push((id.to_owned(), amount, unit)),
                }
            }
            let text = std::fs::read_to_string(&bench).unwrap();
            let file = folder.file(&format!("{at}-{drain}.toml"), &format!("{text}\n{entries}"));
            all.retain(|(_, amount, _)| *amount > 0.0);
            let typed: Vec<String> = all.iter().map(|(id, amount, unit)| format!("{id}={amount:.9}{unit}")).collect();
            let mut arguments = vec!["check", "--bench", &file, "--against", "growth", "--json"];
            arguments.extend(typed.iter().map(String::as_str));
            let after = json(&arguments);
            for promised in option["after"].as_array().unwrap() {
                let came =
                    after["elements"].as_array().unwrap().iter().find(|e| e["element"] == promised["element"]).unwrap();
                let (promised, came) = (number(&promised["ppm"]), number(&came["ppm"]));
                assert!((promised - came).abs() < 1e-6 * promised.max(1e-3), "case {at}, drain {drain}: {promised}, {came}");
            }
            assert!((number(&after["misfit"]) - number(&option["misfit"])).abs() < 1e-5);
            // a tank that stood in air has lost the carbon dioxide of its water, which a check of fresh salts still has
            assert!((number(&after["ec_ms_cm"]) / number(&option["ec_ms_cm"]) - 1.0).abs() < 0.005);
            assert!(number(&after["misfit"]) <= number(&document["misfit"]) + 1e-9, "case {at} is no worse");
        }
        // where something can be drained the way that drains most comes close
        let drains = |option: &&Value| number(&option["drain_l"]) > 0.0;
        let last = options.iter().rfind(drains).unwrap_or(&options[0]);
        assert!(number(&last["misfit"]) < 0.2, "case {at}: {}", last["misfit"]);
    }
    assert!(drained >= 2, "two cases need draining");
}

#[test]
fn a_tank_that_is_right_is_left_alone() {
    let folder = Folder::new();
    let file = folder.path("growth.json");
    done(&["mix", "growth", "--save", &file]);
    let document = json(&["check", "--recipe", &file, "--against", "growth", "--json"]);
    assert_eq!(document["remedies"]["needed"], false);
    assert_eq!(document["remedies"]["options"], Value::Array(Vec::new()));
    assert!(done(&["check", "--recipe", &file, "--against", "growth"]).contains("nothing to do"));
}

#[test]
fn mistakes_are_refused() {
    let folder = Folder::new();
    let bench = folder.file("bench.toml", &with_bottle());
    let recipe = folder.path("push.json");
    done(&["mix", "push", "--save", &recipe]);
    let broken = folder.file("broken.json", "{ \"kind\": \"recipe\" }");
    let not_one = folder.file("other.json", &std::fs::read_to_string(&recipe).unwrap().replace("\"recipe\"", "\"letter\""));
    let cases: &[(&[&str], &str)] = &[
        (&["check"], "SALT=AMOUNT"),
        (&["check", "urea=1g", "--recipe", &recipe], "cannot be used with"),
        (&["check", "--recipe", &recipe, "--analysis", "N=80"], "cannot be used with"),
        (&["check", "--analysis", "N=80", "--reads", "1 mS/cm"], "cannot be used with"),
        (&["check", "--recipe", &recipe, "--save", "again.json"], "cannot be used with"),
        (&["check", "urea=1g", "--meter-error", "0.03"], "--reads"),
        (&["check", "urea=1g", "--read-at", "18 C"], "--reads"),
        (&["check", "traces=50g", "--bench", &bench], "state what was drawn up"),
        (&["check", "trace=50mL", "--bench", &bench], "did you mean `traces`?"),
        (&["check", "traces=50mL", "traces=5mL", "--bench", &bench], "a second time"),
        (&["check", "traces=50mL"], "there is no salt"),
        (&["check", "urea=1g", "--against", "growht"], "did you mean `growth`?"),
        (&["check", "urea=1g", "--reads", "1.35"], "the unit is missing"),
        (&["check", "urea=1g", "--reads", "60 mS/cm"], "--reads"),
        (&["check", "urea=1g", "--reads", "1 mS/cm", "--meter-error", "0.9"], "error of a meter"),
        (&["check", "urea=1g", "--reads", "1 mS/cm", "--meter-error", "nan"], "--meter-error"),
        (&["check", "urea=1g", "--reads", "1 mS/cm", "--read-at", "95 C"], "temperature"),
        (&["check", "--analysis", "N=80", "NO3-N=70"], "keep one of the two"),
        (&["check", "--analysis", "Xx=80"], "is no nutrient"),
        (&["check", "--analysis", "K=80", "K=81"], "a second time"),
        (&["check", "--analysis", "K"], "has no `=`"),
        (&["check", "--recipe", &broken], "is no recipe"),
        (&["check", "--recipe", &not_one], "no recipe of this version"),
        (&["check", "--recipe", "nowhere.json"], "nowhere.json"),
        (&["check", "urea=1g", "--save", &recipe], "nothing is overwritten"),
    ];
    for (arguments, words) in cases {
        let (status, out, err) = bloomsalt(arguments);
        assert_eq!((status, out.as_str()), (2, ""), "{arguments:?}: {err}");
        assert!(err.contains(words), "{arguments:?}: {err}");
    }
    let (status, out, _) = bloomsalt(&["check", "--analysis", "K=80", "K=81", "--json"]);
    let document: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((status, &document["problems"][0]["code"]), (2, &Value::from("analysis")));
    assert!(!Path::new("again.json").exists());
}

/// Doses of a starter formula, and the bench.
fn starter(formula: &str) -> (Bench, Vec<(String, f64)>) {
    let bench = Bench::starter();
    let mix = jobs::mix(&bench, formula, &MixOptions::default()).expect("mixed");
    let doses = mix.doses.iter().filter_map(|dose| Some((dose.salt()?.to_owned(), dose.grams()?))).collect();
    (bench, doses)
}

fn added(bench: &Bench, doses: &[(String, f64)]) -> Vec<Added> {
    let of = |(id, grams): &(String, f64)| Added {
        salt: bench.catalogue.find(id).expect("in the table"),
        amount: Amount::Mass(gram(*grams)),
    };
    doses.iter().map(of).collect()
}

fn judged(bench: &Bench, salts: &[Added], reads: f64, meter_error: f64) -> ReadingRecord {
    let reading = Reading { ec: millisiemens_per_cm(reads), meter_error, read_at: None };
    let how = CheckOptions { reading: Some(&reading), ..CheckOptions::default() };
    check_tank(bench, &Known::Added { salts, bottles: &[] }, &how).expect("checked").reading.expect("a reading")
}

/// The example of the design: without its monopotassium phosphate the push reads as if there were a tenth more water.
#[test]
fn what_cannot_be_told_apart_stands_together() {
    let (bench, doses) = starter("push");
    let without: Vec<_> = doses.iter().filter(|(id, _)| id != "monopotassium-phosphate").cloned().collect();
    let reads = jobs::check(&bench, &added(&bench, &without), None).expect("checked").ec_ms_cm;
    let record = judged(&bench, &added(&bench, &doses), reads, 0.03);
    assert_eq!(record.verdict, "not-told-apart");
    let first = &record.groups[0];
    let left_out = first.causes.iter().find(|cause| cause.what.as_deref() == Some("monopotassium-phosphate"));
    let volume = first.causes.iter().find(|cause| cause.kind == CauseKind::Volume).expect("more water");
    assert!((8.0..16.0).contains(&volume.percent.unwrap()), "{volume:?}");
    let left_out = left_out.expect("left out");
    assert!((left_out.would_read_ms_cm.unwrap() - reads).abs() < 1e-9);
    // and the pH tells them apart
    assert!(left_out.ph.unwrap() - volume.ph.unwrap() > 0.3, "{left_out:?} {volume:?}");
    assert!(first.tests.iter().any(|test| test.contains("pH")) && first.tests.iter().any(|test| test.contains("depth")));
    let all: f64 = record.groups.iter().flat_map(|group| &group.causes).map(|cause| cause.probability).sum();
    assert!(all <= 1.0 + 1e-9 && all > 0.97, "{all}");
}

#[test]
fn a_reading_as_predicted_accuses_nobody() {
    let (bench, doses) = starter("push");
    let salts = added(&bench, &doses);
    let predicted = jobs::check(&bench, &salts, None).expect("checked").ec_ms_cm;
    let record = judged(&bench, &salts, predicted, 0.03);
    assert_eq!(record.verdict, "as-predicted");
    assert_eq!(record.groups[0].causes[0].kind, CauseKind::NothingWrong);
    assert!(record.not_seen.iter().any(|name| name == "boric acid"));
    // and one that nothing explains says so
    let record = judged(&bench, &salts, 6.0 * predicted, 0.03);
    assert_eq!((record.verdict.as_str(), record.groups[0].causes.len()), ("no-cause", 1));
    // readings at the very ends do not fail
    for reads in [0.0, 50.0] {
        let record = judged(&bench, &salts, reads, 0.001);
        assert!(record.groups.iter().flat_map(|group| &group.causes).all(|cause| cause.probability.is_finite()), "{reads}");
    }
}

/// A meter without correction read in a cool tank.
#[test]
fn temperature_is_allowed_for_where_it_is_stated() {
    let salts = ["calcium-nitrate-tetrahydrate=18.2g", "potassium-sulfate=14g", "monopotassium-phosphate=9.5g", "--json"];
    let plain = json(&[&["check"][..], &salts].concat());
    let cool = number(&plain["ec_at_temperature_ms_cm"]);
    let reads = format!("{cool} mS/cm");
    let stated = json(&[&["check", "--reads", &reads, "--read-at", "21 C"][..], &salts].concat());
    valid(&stated);
    assert_eq!(stated["reading"]["verdict"], "as-predicted");
    let not_stated = json(&[&["check", "--reads", &reads][..], &salts].concat());
    let first = &not_stated["reading"]["groups"][0]["causes"];
    assert!(first.as_array().unwrap().iter().any(|cause| cause["kind"] == "compensation"), "{first}");
}

/// A small generator of its own (SplitMix64), so that the figures below stay the same.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        #[allow(clippy::cast_precision_loss, reason = "53 bits")]
        let value = ((z ^ (z >> 31)) >> 11) as f64;
        value / 9_007_199_254_740_992.0
    }

    /// Normal, by the sum of twelve.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() - 6.0
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "a small index")]
    fn below(&mut self, count: usize) -> usize {
        ((self.next() * count as f64) as usize).min(count - 1)
    }
}

/// 500 readings with a known cause: meter 3 % and volume 2 % (k = 2), model 3 % (k = 2). How often is the cause in the first
/// group? Causes are drawn alike, which is hard on a ranking that thinks slips rare.
#[test]
fn how_often_the_true_cause_is_in_the_first_group() {
    const KINDS: [CauseKind; 6] = [
        CauseKind::NothingWrong,
        CauseKind::Volume,
        CauseKind::LeftOut,
        CauseKind::Doubled,
        CauseKind::MeterScale,
        CauseKind::Compensation,
    ];
    let mut chance = Chance(20_261_125);
    let tanks = [starter("growth"), starter("push")];
    let mut seen = [(0_u32, 0_u32, 0_u32); 6];
    let (mut accused, mut wrongly, mut sizes) = (0_u32, 0_u32, 0_usize);
    for at in 0..500 {
        let (bench, doses) = &tanks[at % 2];
        let mut bench = bench.clone();
        bench.tank.plus_minus = bench.tank.volume * 0.02;
        let kind = at % KINDS.len();
        let mut went_in = doses.clone();
        // only what a meter can show: the six heaviest salts
        went_in.sort_by(|a, b| b.1.total_cmp(&a.1));
        let dose = chance.below(6);
        let culprit = went_in[dose].0.clone();
        let (mut volume, mut meter) =
            (1.0 + 0.01 * chance.normal(), (1.0 + 0.015 * chance.normal()) * (1.0 + 0.015 * chance.normal()));
        match KINDS[kind] {
            CauseKind::Volume => {
                volume *= if chance.next() < 0.5 { 1.08 + 0.12 * chance.next() } else { 0.80 + 0.12 * chance.next() }
            }
            CauseKind::LeftOut => went_in[dose].1 = 0.0,
            CauseKind::Doubled => went_in[dose].1 *= 2.0,
            CauseKind::MeterScale => meter *= [1.28, 1.4, 1.0 / 1.28, 1.0 / 1.4][chance.below(4)],
            _ => {}
        }
        went_in.retain(|(_, grams)| *grams > 0.0);
        let real =
            jobs::check(&bench.clone().with_tank(bench.tank.volume * volume), &added(&bench, &went_in), None).expect("real");
        let corrected = KINDS[kind] != CauseKind::Compensation;
        let reads = meter * if corrected { real.ec_ms_cm } else { real.ec_at_temperature_ms_cm };
        let record = judged(&bench, &added(&bench, doses), (reads * 100.0).round() / 100.0, 0.03);
        let is_true = |cause: &jobs::Cause| {
            let salt_matters = matches!(KINDS[kind], CauseKind::LeftOut | CauseKind::Doubled);
            cause.kind == KINDS[kind] && (!salt_matters || cause.what.as_deref() == Some(culprit.as_str()))
        };
        let first = &record.groups[0].causes;
        sizes += first.len();
        let row = &mut seen[kind];
        row.0 += 1;
        row.1 += u32::from(first.iter().any(is_true));
        row.2 += u32::from(is_true(&first[0]));
        if record.verdict == "one-cause" {
            accused += 1;
            wrongly += u32::from(!is_true(&first[0]));
        }
    }
    let (all, hit, top) = seen.iter().fold((0, 0, 0), |sum, row| (sum.0 + row.0, sum.1 + row.1, sum.2 + row.2));
    for (kind, (count, hit, top)) in KINDS.iter().zip(seen) {
        println!("{kind:?}: {count} readings, true cause in the first group {hit}, named first {top}");
    }
    println!(
        "all: {all} readings, in the first group {hit}, named first {top}; causes in a first group on average {:.1}",
        f64::from(u32::try_from(sizes).unwrap()) / 500.0
    );
    println!("one cause told alone: {accused}, wrongly {wrongly}");
    assert!(f64::from(hit) >= 0.88 * f64::from(all), "in the first group: {hit} of {all}");
    assert!(f64::from(wrongly) <= 0.10 * f64::from(accused.max(1)), "told alone {accused}, wrongly {wrongly}");
}

#[test]
fn whole_output() {
    let folder = Folder::new();
    let bench = folder.file("bench.toml", &with_bottle());
    let salts =
        ["calcium-nitrate-tetrahydrate=18.2g", "potassium-sulfate=14g", "monopotassium-phosphate=9.5g", "traces=50mL"];
    insta::assert_snapshot!(
        "reading",
        done(&[&["check", "--reads", "1.35 mS/cm", "--meter-error", "0.04", "--bench", &bench][..], &salts].concat())
    );
    insta::assert_snapshot!("against", done(&[&["check", "--against", "growth", "--bench", &bench][..], &salts].concat()));
    let document = done(&[&["check", "--against", "growth", "--reads", "0.9 mS/cm", "--json"][..], &salts[..3]].concat());
    let document: Value = serde_json::from_str(&document).unwrap();
    valid(&document);
    insta::assert_snapshot!("reading_json", format!("{:#}", document["reading"]));
    for text in [
        done(&[&["check", "--reads", "1.35 mS/cm"][..], &salts[..3]].concat()),
        done(&[&["check", "--against", "growth"][..], &salts[..3]].concat()),
        done(&["check", "--analysis", "N=130", "K=100", "Ca=75", "--against", "growth"]),
    ] {
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}

/// A tank that burns or gives off gas, or may do so, is let out whole, and nobody goes half of the way with it.
#[test]
fn what_no_plant_may_have_is_let_out_whole() {
    let sour = [
        "potassium-nitrate=18g",
        "nitric-acid-60=30mL",
        "magnesium-sulfate-heptahydrate=12g",
        "calcium-nitrate-tetrahydrate=24g",
    ];
    let gas = ["ammonium-sulfate=10g", "monoammonium-phosphate=4g", "potassium-hydroxide=10g"];
    let caustic = ["potassium-hydroxide=20g", "potassium-nitrate=14g"];
    let fine = ["potassium-nitrate=10g", "calcium-nitrate-tetrahydrate=20g"];
    for (salts, unfit) in [(&sour[..], true), (&gas, true), (&caustic, true), (&fine, false)] {
        let arguments = [&["check", "--against", "growth", "--json"], salts].concat();
        let told: Value = serde_json::from_str(&done(&arguments)).expect("JSON");
        let ways = told["remedies"]["options"].as_array().expect("ways");
        assert!(!ways.is_empty(), "{salts:?}");
        let whole = |way: &Value| way["drain_l"].as_f64() == Some(60.0);
        assert_eq!(ways.iter().all(whole), unfit, "{salts:?}");
        assert!(!unfit || !told["remedies"].to_string().contains("in-two-steps"), "{salts:?}");
        // nothing is added to what is let out: what it holds too much or too little of is told without a remedy
        let of_content = ["limit-missed", "target-missed", "element-absent", "ammonium-share", "feed-too-strong"];
        for finding in told["findings"].as_array().expect("findings") {
            let is_of_content = of_content.iter().any(|code| finding["code"] == *code);
            assert!(!(unfit && is_of_content) || finding["remedy"].is_null(), "{salts:?}: {finding}");
        }
    }
    // what is too sour asks for no other acid
    let told = done(&[&["check", "--against", "growth"], &sour[..]].concat());
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("less acid") && !told.contains("another acid"), "{told}");
    // with all of it let out nothing in it is over; what burns goes into vessels first, and not down a drain
    let dipped = "in a bucket of water dipped out of the tank";
    assert!(!told.contains(dipped) && !told.contains("Adding takes nothing out"), "{told}");
    assert!(
        told.contains("drain 60 L into marked plastic vessels, half full, which go into open air and stay there"),
        "{told}"
    );
    let told = done(&[&["check", "--against", "growth"], &gas[..]].concat());
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("What the STOPs at the head tell holds while the old solution is there"), "{told}");
    let told = done(&[&["check", "--against", "growth"], &fine[..]].concat());
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains(dipped) && !told.contains("vessels, which go into open air"), "{told}");
}

/// What nobody names in the water conducts at the tank's own temperature too: at 25 C a meter that does not correct shows the same, and
/// colder or warmer it shows of that water the share that it shows of any.
#[test]
fn water_without_an_analysis_is_read_by_a_meter_that_does_not_correct() {
    for (ec, celsius) in [(0.2, 25.0), (0.6, 25.0), (0.9, 14.0), (0.3, 20.0), (0.5, 29.0)] {
        let folder = tempfile::tempdir().expect("a folder");
        let bench = folder.path().join("bench.toml").display().to_string();
        let text = bloomsalt::bench::STARTER
            .replace("temperature = \"21 C\"", &format!("temperature = \"{celsius} C\"\n[water]\nEC = \"{ec} mS/cm\""));
        std::fs::write(&bench, text).expect("written");
        let read = |salts: &[&str]| -> (f64, f64) {
            let told = [&["check", "--bench", &bench, "--json"], salts].concat();
            let told: Value = serde_json::from_str(&done(&told)).expect("JSON");
            (number(&told["ec_ms_cm"]), number(&told["ec_at_temperature_ms_cm"]))
        };
        let (corrected, uncorrected) = read(&["potassium-nitrate=20g", "magnesium-sulfate-heptahydrate=15g"]);
        assert!(corrected > ec, "{corrected}");
        let share = uncorrected / corrected;
        // about 2 % a degree, the rule of water analysts (common practice)
        assert!(
            (share - (1.0 + 0.02 * (celsius - 25.0))).abs() < 0.003 * (celsius - 25.0).abs() + 1e-9,
            "{ec} at {celsius}: {share}"
        );
    }
}

/// Beside urea a thinner nitric acid is no way out of the rules for a strong one; alone it is.
#[test]
fn no_thinner_nitric_acid_is_told_beside_urea() {
    let told = |salts: &[&str]| {
        let told = done(&[&["check", "--against", "growth"], salts].concat());
        told.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let thinner = "A ready-diluted acid under the limit does the same";
    let beside = told(&["urea=20g", "nitric-acid-60=30mL"]);
    assert!(beside.contains("never nitric, however thin") && !beside.contains(thinner), "{beside}");
    assert!(told(&["potassium-nitrate=20g", "nitric-acid-60=3mL"]).contains(thinner));
}

/// A remedy that drains is told step by step in the order in which it is done: what is let out and where to, the rinse of what must not
/// meet, the salts, and the acid last; nitric acid goes into no tank that held urea before that is rinsed.
#[test]
fn a_remedy_is_told_in_the_order_in_which_it_is_done() {
    let folder = tempfile::tempdir().expect("a folder");
    let bench = folder.path().join("bench.toml").display().to_string();
    let text = bloomsalt::bench::STARTER.replace("[shelf]", "[shelf]\nnitric-acid-38 = {}").replace(
        "[syringe]",
        "[water]\nCa = 70\nMg = 10\nalkalinity = \"4 meq/L\"\npH = 7.5\n[acid]\nsalt = \"nitric-acid-38\"\ntarget_pH = 5.8\n\n[syringe]",
    );
    std::fs::write(&bench, text).expect("written");
    let (mut rinsed, mut soured) = (0, 0);
    for salts in [
        &["urea=20g"][..],
        &["urea=20g", "nitric-acid-38=100mL"],
        &["urea=40g", "potassium-nitrate=300g"],
        &["potassium-nitrate=141g", "calcium-nitrate-tetrahydrate=260g", "monopotassium-phosphate=48g"],
        &["potassium-nitrate=30g", "nitric-acid-38=60mL"],
    ] {
        let told = done(&[&["check", "--against", "growth", "--bench", &bench], salts].concat());
        let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
        let ways = told.split_once("TO SET IT RIGHT").expect("it is off").1;
        let ways = ways.split_once("WATCH").map_or(ways, |(ways, _)| ways);
        let at = |words: &str| ways.find(words);
        let Some(drain) = at("1. Pump and lights unplugged") else { continue };
        let dissolved = at("Dissolve each before the next").expect("salts go in");
        assert!(drain < dissolved, "{salts:?}: {ways}");
        if let Some(acid) = at("Last the acid") {
            assert!(dissolved < acid && at("dilute the acid").is_some_and(|jug| jug < acid), "{salts:?}: {ways}");
            soured += 1;
        }
        let urea = salts.iter().any(|salt| salt.starts_with("urea"));
        let nitric = ways.contains("mL nitric acid 38 %");
        let rinse = at("the tank with much water").or(at("Rinse the tank with much water"));
        assert!(!(urea && nitric) || rinse.is_some_and(|rinse| drain < rinse && rinse < dissolved), "{salts:?}: {ways}");
        rinsed += usize::from(rinse.is_some());
    }
    assert!(rinsed > 0 && soured > 2, "{rinsed} rinsed, {soured} with acid");
}
