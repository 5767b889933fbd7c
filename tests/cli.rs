//! The program as a whole: everything printed, the exit status, the files.

use std::path::Path;

use bloomsalt::cli::{Console, run};
use bloomsalt::jobs::Recipe;
use serde_json::Value;

use crate::program::{bloomsalt, done};

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&done(arguments)).expect("one JSON document")
}

fn demo() -> String {
    format!("{}/examples/streptocarpus.toml", env!("CARGO_MANIFEST_DIR"))
}

/// The numbers in these will change with later versions; each change stands in the changelog under "Numbers changed".
#[test]
fn whole_output_of_mix() {
    insta::assert_snapshot!("growth", done(&["mix", "growth"]));
    insta::assert_snapshot!("push", done(&["mix", "push"]));
    insta::assert_snapshot!("weak", done(&["mix", "weak", "--tank", "15.9 gal", "--meter-scale", "0.5"]));
    insta::assert_snapshot!("weak_beside_push", done(&["mix", "weak", "--beside", "push"]));
    insta::assert_snapshot!("demo_push", done(&["mix", "push", "--bench", &demo()]));
    insta::assert_snapshot!("push_json", done(&["mix", "push", "--json"]));
}

#[test]
fn whole_output_of_salts() {
    insta::assert_snapshot!("salts", done(&["salts"]));
    insta::assert_snapshot!("salt_boric_acid", done(&["salts", "boric-acid"]));
    insta::assert_snapshot!("salt_nitric_acid", done(&["salts", "nitric-acid-60"]));
    insta::assert_snapshot!("salt_iron_dtpa", done(&["salts", "iron-dtpa"]));
}

const CHECKED: [&str; 8] = [
    "check",
    "calcium-nitrate-tetrahydrate=18.2g",
    "potassium-sulfate=14 g",
    "monopotassium-phosphate=9.5g",
    "magnesium-sulfate-heptahydrate=0.0134 kg",
    "phosphoric-acid-10=12 mL",
    "--tank",
    "60 L",
];

#[test]
fn whole_output_of_check() {
    insta::assert_snapshot!("check", done(&CHECKED));
    insta::assert_snapshot!("acid", {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("bench.toml");
        let tap = include_str!("../examples/streptocarpus.toml").replace("25 mg/L CaCO3", "60 mg/L CaCO3");
        let acid = "[acid]\nsalt = \"phosphoric-acid-10\"\ntarget_pH = 5.8\n";
        let text = format!("{}\n{acid}", tap.replace("Ca = 9", "Ca = 23").replace("EC = \"0.09 mS/cm\"", ""));
        std::io::Write::write_all(&mut std::fs::File::create_new(&file).expect("new"), text.as_bytes()).expect("written");
        done(&["mix", "push", "--bench", file.to_str().expect("UTF-8")])
    });
}

/// What was mixed comes back: the ppm of a fitted mix are those of its weights checked.
#[test]
fn check_of_a_mix_returns_its_ppm() {
    let mix = json(&["mix", "push", "--json"]);
    let doses: Vec<String> = mix["doses"]
        .as_array()
        .expect("doses")
        .iter()
        .map(|dose| format!("{}={}g", dose["salt"].as_str().expect("a salt"), dose["grams"]))
        .collect();
    let mut arguments = vec!["check", "--json"];
    arguments.extend(doses.iter().map(String::as_str));
    let check = json(&arguments);
    for (a, b) in mix["elements"].as_array().expect("elements").iter().zip(check["elements"].as_array().expect("elements")) {
        assert_eq!((&a["element"], &a["ppm"]), (&b["element"], &b["ppm"]));
        assert!(b["target_ppm"].is_null());
    }
    for key in ["ec_ms_cm", "ph", "ph_aired", "ionic_strength_mol_l", "saturation"] {
        assert_eq!(mix[key], check[key], "{key}");
    }
    assert!(check["misfit"].is_null() && check["formula"].is_null());
}

#[test]
fn lines_fit_eighty_columns() {
    for arguments in [
        &["mix", "push"][..],
        &["mix", "weak", "--beside", "push"],
        &["salts", "copper-sulfate-pentahydrate"],
        &["--help"],
        &CHECKED,
    ] {
        for line in done(arguments).lines() {
            assert!(line.chars().count() <= 80, "{arguments:?}: {line}");
        }
    }
}

#[test]
fn json_keeps_to_its_schema() {
    let schemas = json(&["schema"]);
    let check = |schema: &str, document: &Value| {
        let validator = jsonschema::validator_for(&schemas[schema]).expect("a schema");
        let wrong: Vec<String> = validator.iter_errors(document).map(|error| error.to_string()).collect();
        assert!(wrong.is_empty(), "{schema}: {wrong:?}");
        // every key of the document is described
        for key in document.as_object().expect("an object").keys() {
            assert!(schemas[schema]["properties"].get(key).is_some(), "{schema}: `{key}` is not in the schema");
        }
    };
    for formula in ["growth", "push", "weak"] {
        check("mix", &json(&["mix", formula, "--json"]));
    }
    check("mix", &json(&["mix", "push", "--bench", &demo(), "--json", "--meter-scale", "0.7"]));
    let mut checked = CHECKED.to_vec();
    checked.push("--json");
    check("check", &json(&checked));
    check("mix-beside", &json(&["mix", "weak", "--beside", "push", "--json"]));
    check("salts", &json(&["salts", "--json"]));
    check("salts", &json(&["salts", "urea", "--json"]));
}

/// The keys that interface.md fixes.
#[test]
fn json_has_the_fixed_keys() {
    let mix = json(&["mix", "push", "--json"]);
    for key in [
        "version",
        "job",
        "formula",
        "volume_l",
        "doses",
        "elements",
        "nitrate_n_ppm",
        "ammonium_n_ppm",
        "urea_n_ppm",
        "ammonium_share",
        "misfit",
        "misfit_exact",
        "proof_exact",
        "proof",
        "ec_ms_cm",
        "ec_plus_minus_ms_cm",
        "ph",
        "ph_aired",
        "ionic_strength_mol_l",
        "saturation",
        "cost",
        "helpers",
        "findings",
        "handling",
        "sources",
        "ec_at_temperature_ms_cm",
        "temperature_c",
    ] {
        assert!(mix.get(key).is_some(), "{key}");
    }
    assert!(mix["cost"].is_null() && mix["ph"].is_number(), "unknown is null, never 0");
    for key in ["salt", "name", "measure", "grams", "grams_exact", "millilitres", "helper", "scale_g"] {
        assert!(mix["doses"][0].get(key).is_some(), "{key}");
    }
    for key in [
        "element",
        "ppm",
        "ppm_exact",
        "target_ppm",
        "min_ppm",
        "max_ppm",
        "water_ppm",
        "deviation_percent",
        "plus_minus_ppm",
    ] {
        assert!(mix["elements"][0].get(key).is_some(), "{key}");
    }
    for key in ["code", "severity", "message", "remedy"] {
        assert!(mix["findings"][0].get(key).is_some(), "{key}");
    }
    for key in ["salt", "signal_word", "hazards", "advice", "source"] {
        assert!(mix["handling"][0].get(key).is_some(), "{key}");
    }
    for key in ["id", "citation", "grade"] {
        assert!(mix["sources"][0].get(key).is_some(), "{key}");
    }
}

/// Common practice, no source: a push lowers nitrogen and raises phosphorus and potassium against growth, and says so.
#[test]
fn the_starter_push_is_a_push_and_says_so() {
    let (growth, push) = (json(&["mix", "growth", "--json"]), json(&["mix", "push", "--json"]));
    let ppm = |mix: &Value, symbol: &str| -> f64 {
        let elements = mix["elements"].as_array().expect("elements");
        elements.iter().find(|e| e["element"] == symbol).expect(symbol)["ppm"].as_f64().expect("a number")
    };
    assert!(ppm(&push, "N") < 0.45 * ppm(&growth, "N"));
    assert!(ppm(&push, "P") > 1.9 * ppm(&growth, "P"));
    assert!(ppm(&push, "K") > 1.4 * ppm(&growth, "K"));
    assert!(done(&["mix", "push"]).contains("against growth (ppm asked): N 90.0 -> 36.0, P 18.0 -> 36.0, K 100.0 -> 150.0"));
}

/// What the issue asks of the starter bench, tried there with another solver: misfit 0, share at most 0.09, EC 0.96 to
/// 1.06 for growth and push; without monoammonium phosphate growth misses, without a calcium free of nitrogen push.
#[test]
fn the_starter_bench_does_what_it_should() {
    for formula in ["growth", "push"] {
        let mix = json(&["mix", formula, "--json"]);
        assert!(mix["misfit_exact"].as_f64().expect("a number") < 1e-9, "{formula}");
        assert!(mix["ammonium_share"].as_f64().expect("a number") <= 0.09, "{formula}");
        let ec = mix["ec_ms_cm"].as_f64().expect("a number");
        // to the digits that are printed
        assert!((0.96..=1.06).contains(&((ec * 100.0).round() / 100.0)), "{formula}: EC {ec}");
        assert!(mix["doses"].as_array().expect("doses").iter().all(|dose| !dose["grams"].is_null()), "{formula}");
        assert_eq!(mix["stages"].as_array().expect("stages").len(), 3);
    }
    let folder = tempfile::tempdir().expect("a folder");
    let without = |id: &str, formula: &str| {
        let file = folder.path().join(format!("without-{id}.toml"));
        let starter = bloomsalt::bench::STARTER;
        let kept: Vec<&str> = starter.lines().filter(|line| !line.starts_with(id)).collect();
        let bench = kept.join("\n");
        std::fs::File::create_new(&file)
            .and_then(|mut f| std::io::Write::write_all(&mut f, bench.as_bytes()))
            .expect("written");
        json(&["mix", formula, "--bench", file.to_str().expect("UTF-8"), "--json"])["misfit_exact"]
            .as_f64()
            .expect("a number")
    };
    assert!(without("monoammonium-phosphate", "growth") > 0.01);
    assert!(without("calcium-chloride-dihydrate", "push") > 0.01);
}

#[test]
fn new_writes_the_starter_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("bench.toml");
    let name = file.to_str().expect("UTF-8");
    assert!(done(&["new", name]).contains("bloomsalt mix push --bench"));
    assert_eq!(read(&file), bloomsalt::bench::STARTER);
    let (status, out, err) = bloomsalt(&["new", name]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("exists already, and nothing is overwritten"), "{err}");
    // the starter in a file and the starter carried give the same
    assert_eq!(done(&["mix", "push", "--bench", name]), done(&["mix", "push"]));
    let (status, _, err) = bloomsalt(&["new", folder.path().join("none/bench.toml").to_str().expect("UTF-8")]);
    assert_eq!(status, 2);
    assert!(err.contains("the folder does not exist"), "{err}");
    assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 1, "nothing half-written is left");
}

#[allow(clippy::disallowed_methods, reason = "tests look at the files")]
fn read(file: &Path) -> String {
    std::fs::read_to_string(file).expect("readable")
}

#[test]
fn save_writes_a_recipe_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("push.json");
    let name = file.to_str().expect("UTF-8");
    assert!(done(&["mix", "push", "--bench", &demo(), "--save", name]).contains("Saved the recipe to"));
    let recipe: Recipe = serde_json::from_str(&read(&file)).expect("a recipe");
    assert_eq!((recipe.version, recipe.kind.as_str(), recipe.formula.as_deref()), (1, "recipe", Some("push")));
    let mix = json(&["mix", "push", "--bench", &demo(), "--json"]);
    for (dose, weighed) in recipe.doses.iter().zip(mix["doses"].as_array().expect("doses")) {
        assert_eq!(dose.grams, weighed["grams"].as_f64());
        assert_eq!(dose.salt.as_deref(), weighed["salt"].as_str());
    }
    assert!(recipe.water_ppm.contains_key("Ca"), "the water is saved with it");
    let schema = &json(&["schema"])["recipe"];
    assert!(jsonschema::is_valid(schema, &serde_json::from_str(&read(&file)).expect("JSON")));
    let (status, out, err) = bloomsalt(&["mix", "push", "--save", name]);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("exists already"), "{err}");
}

#[test]
fn requests_that_cannot_be_met_exit_1_and_name_the_limits() {
    let folder = tempfile::tempdir().expect("a folder");
    let bench = |name: &str, shelf: &str, formula: &str| {
        let file = folder.path().join(name);
        let text = format!("[tank]\nvolume = \"60 L\"\n[shelf]\n{shelf}\n[formula.growth]\n{formula}\n");
        std::io::Write::write_all(&mut std::fs::File::create_new(&file).expect("new"), text.as_bytes()).expect("written");
        file.to_str().expect("UTF-8").to_owned()
    };
    let conflict =
        bench("conflict.toml", "calcium-nitrate-tetrahydrate = {}", "Ca = { min = 75 }\nN = { target = 20, max = 36 }");
    let (status, out, err) = bloomsalt(&["mix", "growth", "--bench", &conflict, "--json"]);
    assert_eq!(status, 1);
    let document: Value = serde_json::from_str(&out).expect("one JSON document");
    let limits = document["conflict"].as_array().expect("limits");
    let words: Vec<&str> = limits.iter().filter_map(|limit| limit["words"].as_str()).collect();
    assert_eq!(words, ["N at most 36.0 ppm", "Ca at least 75.0 ppm"]);
    let of = |at: usize| ["kind", "element", "level", "unit"].map(|key| limits[at][key].clone());
    assert_eq!(serde_json::json!(of(0)), serde_json::json!(["at-most", "N", 36.0, "ppm"]));
    assert_eq!(serde_json::json!(of(1)), serde_json::json!(["at-least", "Ca", 75.0, "ppm"]));
    // Ca(NO3)2 has 2 x 14.007 of N to 40.078 of Ca: 75 ppm of Ca bring 52.4 of N, and 36 of N bring 51.5 of Ca
    let enough = [0, 1].map(|at: usize| limits[at]["enough_at"].as_f64().expect("a level"));
    assert!((enough[0] - 75.0 * 28.014 / 40.078).abs() < 0.1 && (enough[1] - 36.0 * 40.078 / 28.014).abs() < 0.1);
    assert!(err.contains("N at most 36.0 ppm") && err.contains("Ca at least 75.0 ppm"), "{err}");
    let nothing = bench("nothing.toml", "sodium-chloride = {}", "N = 90");
    let (status, out, err) = bloomsalt(&["mix", "growth", "--bench", &nothing]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(err.contains("nothing to mix from"), "{err}");
    let one = bench("one.toml", "potassium-nitrate = {}", "N = 90\nMg = { min = 5 }");
    let (status, _, err) = bloomsalt(&["mix", "growth", "--bench", &one]);
    assert_eq!(status, 1);
    assert!(err.contains("no salt on the shelf supplies it") && err.contains("Mg at least 5.00 ppm"), "{err}");
    let (status, out, err) = bloomsalt(&["check", "sodium-chloride=3kg", "--tank", "10 L"]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(err.contains("no equilibrium was found"), "{err}");
    let ec = bench("ec.toml", "potassium-nitrate = {}", "N = { target = 90, min = 80 }\nEC = { max = \"0.2 mS/cm\" }");
    let (status, _, err) = bloomsalt(&["mix", "growth", "--bench", &ec]);
    assert_eq!(status, 1);
    assert!(err.contains("EC at most 0.200 mS/cm") && err.contains("N at least 80.0 ppm"), "{err}");
}

#[test]
fn wrong_input_exits_2() {
    for (arguments, says) in [
        (&["mix", "grwth"][..], "did you mean `growth`?"),
        (&["mix", "growth", "--tank", "60"], "the unit is missing"),
        (&["mix", "growth", "--tank", "60 galon"], "did you mean `gal`?"),
        (&["mix", "growth", "--tank", "1e9 L"], "0.1 to 100000 L"),
        (&["mix", "growth", "--bench", "no-such.toml"], "there is no such file"),
        (&["mix", "growth", "--meter-scale", "0.6"], "0.64"),
        (&["mix"], "FORMULA"),
        (&["salts", "calcium-nitrit"], "there is no salt"),
        (&["mixx"], "mix"),
        (&["check"], "SALT=AMOUNT"),
        (&["check", "potassium-nitrate=14"], "the unit is missing"),
        (&["check", "potassium-nitrate"], "has no `=`"),
        (&["check", "potasium-nitrate=1g"], "did you mean `potassium-nitrate`?"),
        (&["check", "potassium-nitrate=5mL"], "weigh it and state grams"),
        (&["check", "urea=1g", "urea=2g"], "a second time"),
        (&["mix", "growth", "--beside", "psh"], "did you mean `push`?"),
    ] {
        let (status, out, err) = bloomsalt(arguments);
        assert_eq!((status, out.as_str()), (2, ""), "{arguments:?}");
        assert!(err.contains(says), "{arguments:?}: {err}");
    }
    let (status, out, _) = bloomsalt(&["mix", "grwth", "--json"]);
    let document: Value = serde_json::from_str(&out).expect("one JSON document");
    assert_eq!((status, document["problems"][0]["code"].as_str()), (2, Some("unknown-formula")));
    let (status, out, _) = bloomsalt(&["mix", "growth", "--json", "--tan", "5 L"]);
    let document: Value = serde_json::from_str(&out).expect("one JSON document");
    assert_eq!(
        (status, document["job"].as_str(), document["problems"][0]["code"].as_str()),
        (2, Some("mix"), Some("usage"))
    );
}

/// A library's `run` can be called again, prints the same, and takes a closed pipe for the reader's choice.
#[test]
fn runs_repeat_and_a_closed_pipe_is_no_error() {
    struct Closed;
    impl std::io::Write for Closed {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::BrokenPipe.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    assert_eq!(done(&["mix", "push"]), done(&["mix", "push"]));
    let mut err = Vec::new();
    assert_eq!(run(["bloomsalt", "mix", "push"], &mut Closed, &mut err, Console::default()), 0);
    assert!(err.is_empty());
}

#[test]
fn help_completions_and_man_page_come_from_one_definition() {
    bloomsalt::cli::command().debug_assert();
    assert!(done(&["--version"]).starts_with("bloomsalt 0."));
    assert!(done(&["--help"]).contains("What to weigh for a fresh tank of a formula"));
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        assert!(done(&["completions", shell]).contains("meter-scale"), "{shell}");
    }
    assert!(done(&["man"]).contains(".TH bloomsalt"));
    let (status, _, err) = bloomsalt(&[]);
    assert_eq!(status, 2);
    assert!(err.contains("Usage"));
}

/// Bold headings where colour is allowed, and the same words.
#[test]
fn colour_adds_nothing_but_colour() {
    let mut out = Vec::new();
    run(
        ["bloomsalt", "mix", "push"],
        &mut out,
        &mut Vec::new(),
        Console { colour_out: true, colour_err: true, terminal_out: true },
    );
    let coloured = String::from_utf8(out).expect("UTF-8");
    assert!(coloured.contains("\u{1b}[1m"));
    assert_eq!(anstream::adapter::strip_str(&coloured).to_string(), done(&["mix", "push"]));
}
