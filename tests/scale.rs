//! A recipe for another tank size: there and back, to a test bucket, with bottles and products, and damaged.
#![allow(clippy::disallowed_methods, reason = "writes recipes into a folder of its own")]

use serde_json::{Value, json};

use crate::program::{bloomsalt, done};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/streptocarpus.toml");
const TEN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/ten-litres.toml");
const BOTTLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/ten-litres-bottles.toml");

fn document(arguments: &[&str]) -> Value {
    serde_json::from_str(&done(&[arguments, &["--json"]].concat())).expect("one document")
}

/// A folder of its own with a saved recipe.
struct Own {
    folder: tempfile::TempDir,
}

impl Own {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    fn path(&self, name: &str) -> String {
        self.folder.path().join(name).display().to_string()
    }

    fn mixed(&self, formula: &str, bench: &str) -> String {
        let path = self.path(&format!("{formula}.json"));
        done(&["mix", formula, "--bench", bench, "--save", &path]);
        path
    }
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("a number: {value}"))
}

fn ppm(document: &Value) -> Vec<(String, f64)> {
    let elements = document["elements"].as_array().expect("elements");
    elements.iter().map(|e| (e["element"].as_str().expect("a symbol").to_owned(), number(&e["ppm"]))).collect()
}

#[test]
fn up_and_down_again_returns() {
    let own = Own::new();
    let (small, large, back) = (own.mixed("growth", DEMO), own.path("large.json"), own.path("back.json"));
    let up = document(&["scale", &small, "--to", "600 L", "--bench", DEMO, "--save", &large]);
    assert!((number(&up["times"]) - 10.0).abs() < 1e-12 && (number(&up["from_l"]) - 60.0).abs() < 1e-12);
    let down = document(&["scale", &large, "--to", "60 L", "--bench", DEMO, "--save", &back]);
    let first = document(&["mix", "growth", "--bench", DEMO]);
    for dose in first["doses"].as_array().expect("doses") {
        let again = down["doses"].as_array().expect("doses").iter().find(|d| d["salt"] == dose["salt"]).expect("kept");
        // a step of the small tank, and a tenth of one of the large tank: its scale may be coarser
        let large = up["doses"].as_array().expect("doses").iter().find(|d| d["salt"] == dose["salt"]).expect("kept");
        let off = (number(&again["grams"]) - number(&dose["grams"])).abs();
        let steps = number(&dose["scale_g"]) + number(&large["scale_g"]) / 10.0;
        assert!(off <= steps + 1e-9, "{dose} and {again}");
    }
    // and a saved scaled recipe is a recipe like any other
    let third = document(&["scale", &back, "--to", "13 imp gal"]);
    assert_eq!(third["job"], "scale");
}

#[test]
fn the_scaled_mix_holds_what_the_recipe_gives() {
    let own = Own::new();
    for formula in ["growth", "push", "weak"] {
        let recipe = own.mixed(formula, DEMO);
        let mixed = ppm(&document(&["mix", formula, "--bench", DEMO]));
        for to in ["5 L", "23 L", "1 m3"] {
            let scaled = document(&["scale", &recipe, "--to", to, "--bench", DEMO]);
            let worst = scaled["worst_percent"].as_f64().expect("asked").abs();
            for (element, now) in ppm(&scaled) {
                let before = mixed.iter().find(|(other, _)| *other == element).expect("the same elements").1;
                let off = 100.0 * (now - before).abs() / before.max(1e-9);
                assert!(off <= worst + 1e-6 || before < 1e-3, "{formula} {to} {element}: {off} % over {worst} %");
            }
        }
    }
}

#[test]
fn down_to_a_test_bucket() {
    let own = Own::new();
    let scaled = document(&["scale", &own.mixed("push", DEMO), "--to", "0.5 L", "--bench", DEMO]);
    let helpers = scaled["helpers"].as_array().expect("bottles");
    assert!(helpers.iter().any(|helper| helper["new"] == true), "{helpers:?}");
    // the finest scale is trusted from five steps on, of which half a step is a tenth
    assert!(number(&scaled["worst_percent"]).abs() < 10.0);
}

/// Bottles of the recipe: drawn from where the bench file named has them, taken apart into their salts where it has not.
#[test]
fn a_recipe_with_bottles() {
    let own = Own::new();
    let recipe = own.mixed("push", BOTTLES);
    let uses = |document: &Value, id: &str| document["doses"].as_array().expect("doses").iter().any(|d| d["helper"] == id);
    let there = document(&["scale", &recipe, "--to", "12 L", "--bench", BOTTLES]);
    assert!(uses(&there, "traces") && uses(&there, "iron-dtpa-thin"));
    let without = document(&["scale", &recipe, "--to", "200 L", "--bench", DEMO]);
    assert!(!uses(&without, "traces"));
    let salts =
        |id: &str| without["doses"].as_array().expect("doses").iter().any(|d| d["salt"] == id && d["grams"].is_number());
    assert!(salts("boric-acid") && salts("iron-dtpa"));
    // without a bench that has them the bottles may be empty: what was in them is weighed, or put into new ones
    let alone = document(&["scale", &recipe, "--to", "12 L"]);
    assert!(!alone["helpers"].as_array().expect("bottles").iter().any(|helper| helper["new"] == false), "{alone:#}");
    assert!(number(&alone["worst_percent"]).abs() < 6.0, "{alone:#}");
}

#[test]
fn a_recipe_with_a_product() {
    let own = Own::new();
    let text =
        std::fs::read_to_string(DEMO).expect("there").replace("monopotassium-phosphate = { price_per_kg = 9.0 }\n", "");
    let text = text.replace("monoammonium-phosphate = { price_per_kg = 8.0 }\n", "");
    let bench = own.path("bench.toml");
    std::fs::write(&bench, text).expect("written");
    let recipe = own.mixed("push", &bench);
    // the recipe brings its product along, also to a bench that has none of it
    let scaled = document(&["scale", &recipe, "--to", "20 L"]);
    assert!(scaled["doses"].as_array().expect("doses").iter().any(|d| d["salt"] == "workshop-pk"), "{}", scaled["doses"]);
    let scaled = document(&["scale", &recipe, "--to", "20 L", "--bench", TEN]);
    assert!(scaled["doses"].as_array().expect("doses").iter().any(|d| d["salt"] == "workshop-pk"), "{}", scaled["doses"]);
}

#[test]
fn own_water_counts_with_a_bench_only() {
    let own = Own::new();
    let recipe = own.mixed("push", DEMO);
    let calcium = |document: &Value| {
        let elements = document["elements"].as_array().expect("elements");
        number(&elements.iter().find(|e| e["element"] == "Ca").expect("there")["water_ppm"])
    };
    assert!((calcium(&document(&["scale", &recipe, "--to", "30 L"])) - 9.0).abs() < 1e-9);
    assert!(calcium(&document(&["scale", &recipe, "--to", "30 L", "--bench", TEN])).abs() < 1e-9);
}

/// Every field left out, of a wrong type, or absurd: refused with words, or done; never a panic.
#[test]
fn damaged_recipes_are_refused() {
    let own = Own::new();
    let whole: Value =
        serde_json::from_str(&std::fs::read_to_string(own.mixed("push", DEMO)).expect("there")).expect("JSON");
    let path = own.path("damaged.json");
    let mut refused = 0;
    let mut try_one = |damaged: &Value, what: &str, must: bool| {
        std::fs::write(&path, damaged.to_string()).expect("written");
        let (status, out, err) = bloomsalt(&["scale", &path, "--to", "30 L"]);
        assert!(
            matches!(status, 0 | 2) && (status == 0 || (out.is_empty() && err.starts_with("error: "))),
            "{what}: {status} {err}"
        );
        assert!(status == 2 || !must, "{what}: taken");
        refused += u32::from(status == 2);
    };
    let may_be_null = ["formula", "water_alkalinity_meq_l", "water_ph"];
    for key in whole.as_object().expect("an object").keys() {
        let mut without = whole.clone();
        without.as_object_mut().expect("an object").remove(key);
        try_one(&without, &format!("without {key}"), !may_be_null.contains(&key.as_str()));
        for wrong in
            [json!({"a": 1}), json!([[1]]), json!(true), json!(-1e300), json!("\"]\n[shelf]"), json!(1e300), json!(null)]
        {
            let mut with = whole.clone();
            with[key] = wrong.clone();
            try_one(&with, &format!("{key} = {wrong}"), false);
        }
    }
    for key in ["salt", "helper", "grams", "millilitres", "purity"] {
        for wrong in [json!({}), json!(-1.0), json!(1e300), json!("nothing-of-the-kind"), json!(null)] {
            let mut with = whole.clone();
            with["doses"][0][key] = wrong.clone();
            try_one(&with, &format!("doses[0].{key} = {wrong}"), key == "salt");
        }
    }
    for (key, wrong) in [("volume_l", 0.0), ("volume_l", -60.0), ("temperature_c", 400.0), ("version", 2.0)] {
        let mut with = whole.clone();
        with[key] = json!(wrong);
        try_one(&with, &format!("{key} = {wrong}"), true);
    }
    let mut more = whole.clone();
    more["colour"] = json!("green");
    try_one(&more, "an unknown key", true);
    assert!(refused > 60, "{refused}");
    for text in ["", "{", "[]", "null", "\u{feff}{}", "recipe"] {
        std::fs::write(own.path("text.json"), text).expect("written");
        let (status, _, err) = bloomsalt(&["scale", &own.path("text.json"), "--to", "30 L"]);
        assert!(status == 2 && err.contains("is no recipe"), "{text}: {err}");
    }
    for to in ["30", "0 L", "1e9 L", "-3 L", ""] {
        let (status, _, err) = bloomsalt(&["scale", &own.path("push.json"), "--to", to]);
        assert!(status == 2 && !err.is_empty(), "{to}");
    }
}

#[test]
fn text_and_schema() {
    let own = Own::new();
    let recipe = own.mixed("push", DEMO);
    insta::assert_snapshot!("scale_demo_push", done(&["scale", &recipe, "--to", "20 L", "--bench", DEMO]));
    let schemas: Value = serde_json::from_str(&bloomsalt::report::schema()).expect("schemas");
    let scaled = document(&["scale", &recipe, "--to", "0.5 L", "--bench", DEMO]);
    let validator = jsonschema::validator_for(&schemas["scale"]).expect("a schema");
    let errors: Vec<String> = validator.iter_errors(&scaled).map(|error| error.to_string()).collect();
    assert!(errors.is_empty(), "{errors:?}");
    let (status, _, err) = bloomsalt(&["scale", &recipe, "--to", "20 L", "--save", &recipe]);
    assert!(status == 2 && err.contains("exists"), "nothing is overwritten: {err}");
}
