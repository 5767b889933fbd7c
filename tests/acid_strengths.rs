//! An acid by its per cent: named so on the shelf, in `[acid]` or in a bottle, and minded as what it is.

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, MixOptions, MixRecord};
use bloomsalt::safety::Code;
use serde_json::Value;

use crate::program::bloomsalt;

const HARD: &str = "[water]\nCa = 90\nMg = 12\nS = 15\nalkalinity = \"4.2 meq/L\"\npH = 7.4\n";

fn text(acid: &str) -> String {
    format!("{}\n{HARD}[acid]\nsalt = \"{acid}\"\ntarget_pH = 5.8\n", bloomsalt::bench::STARTER)
}

fn mix(acid: &str) -> MixRecord {
    let bench = Bench::parse(&text(acid), "bench").unwrap_or_else(|error| panic!("{error}"));
    jobs::mix(&bench, "growth", &MixOptions::default()).unwrap_or_else(|error| panic!("{error}"))
}

/// As much acid by charge goes in, whatever its strength; what is restricted or burns is told by the strength.
#[test]
fn the_dose_goes_by_the_strength() {
    let of = |percent: f64, acid: &MixRecord| acid.acid[0].grams_aired.expect("a dose") * percent;
    let table = of(60.0, &mix("nitric-acid-60"));
    for percent in [5.0, 12.5, 38.0, 53.0, 65.0] {
        let made = mix(&format!("nitric-acid-{percent}"));
        let acid = of(percent, &made);
        assert!((acid / table - 1.0).abs() < 1e-6, "{percent}: {acid} {table}");
        let restricted = made.findings.iter().any(|finding| finding.code == Code::AcidRestricted);
        assert!(restricted, "{percent}");
        let told: Vec<&str> = made.cautions.iter().map(|caution| caution.heading.as_str()).collect();
        let full: Vec<String> = mix("nitric-acid-60").cautions.iter().map(|caution| caution.heading.clone()).collect();
        assert!(
            percent < 38.0 || full.iter().all(|heading| told.contains(&heading.as_str())),
            "{percent}: {told:?} {full:?}"
        );
    }
    assert!(!mix("nitric-acid-2").findings.iter().any(|finding| finding.code == Code::AcidRestricted));
}

/// Ids that no acid has are refused with what is taken; a recipe with one is read where no bench names it.
#[test]
fn named_where_it_stands() {
    for wrong in ["nitric-acid-71", "nitric-acid-0", "nitric-acid-038"] {
        let error = Bench::parse(&text(wrong), "bench").expect_err("refused").to_string();
        assert!(error.contains("nitric-acid-1 to nitric-acid-70"), "{error}");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (bench, recipe) = (path("bench.toml"), path("recipe.json"));
    #[allow(clippy::disallowed_methods, reason = "writes the bench that the program reads")]
    std::fs::write(&bench, text("nitric-acid-38")).expect("written");
    let (status, out, err) = bloomsalt(&["mix", "growth", "--bench", &bench, "--save", &recipe]);
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("nitric acid 38 %"), "{out}");
    let (status, out, err) = bloomsalt(&["check", "--recipe", &recipe, "--json"]);
    assert_eq!(status, 0, "{err}");
    let checked: Value = serde_json::from_str(&out).expect("JSON");
    assert!(checked["doses"].as_array().expect("a list").iter().any(|dose| dose["salt"] == "nitric-acid-38"));
    let (status, out, err) = bloomsalt(&["salts", "nitric-acid-38"]);
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("NITRIC ACID 38 %") && out.contains("1.2328 kg/L"), "{out}");
    let (status, _, err) = bloomsalt(&["check", "nitric-acid-38=20 mL"]);
    assert_eq!(status, 2);
    assert!(err.contains("nitric-acid-38 = {}"), "{err}");
}

/// What was really measured of an acid by its per cent is entered as it was measured, by volume or by weight.
#[test]
fn booked_as_it_was_measured() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).display().to_string();
    #[allow(clippy::disallowed_methods, reason = "writes the bench that the program reads")]
    let write = |file: &str, text: String| std::fs::write(file, text).expect("written");
    #[allow(clippy::disallowed_methods, reason = "reads the files that the program writes")]
    let read =
        |file: &str| -> Value { serde_json::from_str(&std::fs::read_to_string(file).expect("a file")).expect("JSON") };
    for percent in ["38", "12.5", "60"] {
        let (id, bench, recipe) = (format!("nitric-acid-{percent}"), path("bench.toml"), path(&format!("{percent}.json")));
        write(&bench, text(&id));
        let (status, _, err) = bloomsalt(&["mix", "growth", "--bench", &bench, "--save", &recipe]);
        assert_eq!(status, 0, "{err}");
        let saved = read(&recipe);
        let dose =
            saved["doses"].as_array().expect("doses").iter().find(|dose| dose["salt"] == id.as_str()).expect("the acid");
        let [grams, ml] = ["grams", "millilitres"].map(|key| dose[key].as_f64().expect("an amount"));
        let really = ml * 1.1;
        for (at, typed) in [("volume", format!("{id}={really}mL")), ("weight", format!("{id}={}g", grams * 1.1))] {
            let book = path(&format!("{percent}-{at}.jsonl"));
            let when = ["--at", "2027-01-04 18:00+01:00", "--bench", &bench];
            let (status, _, err) = bloomsalt(&[&["logbook", "add", &book], &when[..], &["from", &recipe, &typed]].concat());
            assert_eq!(status, 0, "{typed}: {err}");
            let booked = read(&book)["salts_g"][&id].as_f64().expect("g");
            assert!((booked / (grams * 1.1) - 1.0).abs() < 1e-6, "{typed}: {booked} g for {}", grams * 1.1);
        }
    }
}
