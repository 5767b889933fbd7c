//! A first bench file from a few answers: asked for in the terminal, made by a request, and fit to mix from.
#![allow(clippy::disallowed_methods, reason = "runs the program with answers on its standard input")]

use std::io::Write;
use std::process::{Command, Stdio};

use bloomsalt::ask::{Request, ask};
use bloomsalt::bench::Bench;
use bloomsalt::matter::Nutrient;
use bloomsalt::quantity::{celsius, liter, milliliter};
use bloomsalt::report;
use serde_json::{Value, json};

use crate::program::done;

/// Exit status, standard output and standard error of the program, with answers to read.
fn asked(file: &str, answers: &str) -> (i32, String, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_bloomsalt"))
        .args(["new", file, "--ask"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program");
    // a program that stops early closes its end
    let _ = child.stdin.take().expect("a pipe").write_all(answers.as_bytes());
    let output = child.wait_with_output().expect("an end");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    let unwrapped = text(output.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    (output.status.code().expect("a status"), unwrapped, text(output.stderr))
}

fn path(folder: &tempfile::TempDir) -> String {
    folder.path().join("bench.toml").display().to_string()
}

#[test]
fn the_usual_answers_make_a_bench_that_works() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let (status, out, err) = asked(&file, "\n\n\n\n\n\n\n\n\n");
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("its water is known") && out.contains("every target within 5 %"), "{out}");
    assert_eq!(err.lines().count(), 9, "{err}");
    let mix: Value = serde_json::from_str(&done(&["mix", "growth", "--bench", &file, "--json"])).expect("JSON");
    assert_eq!((mix["volume_l"].as_f64(), &mix["pure_water"]), (Some(60.0), &true.into()));
    // nothing is overwritten, and then nothing is asked
    let (status, out, err) = asked(&file, "");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("nothing is overwritten") && !err.contains("How much"), "{err}");
}

#[test]
fn tap_water_by_its_report_and_without() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let report = "Ca=40, Mg=8, Na=12, Cl=20, SO4=30, alkalinity=120 mg/L CaCO3, pH=7.4";
    let (status, out, err) = asked(&file, &format!("45 L\n\n\ntap\n{report}\n0.1 g, 0.001 g\n\n\n\n\n\n"));
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("counted as nothing: N."), "{out}");
    let bench = Bench::parse(&std::fs::read_to_string(&file).expect("a bench"), "bench").expect("it reads");
    assert!((bench.water.alkalinity_meq_per_l.expect("known") - 120.0 / 50.0435).abs() < 1e-3, "CaCO3: 100.087 g/mol");
    assert_eq!(bench.scales.len(), 2);
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let (status, out, err) = asked(&file, "45 L\n\n\ntap\n\n\n0.1 g\n\n\n\n\n\n");
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("alkalinity, Ca, Mg, Na, Cl, S, N") && out.contains("how far the pH climbs"), "{out}");
    let text = std::fs::read_to_string(&file).expect("a bench");
    assert!(text.contains("# Tap water. Not known") && text.contains("\n[water]"), "{text}");
    let mix = done(&["mix", "growth", "--bench", &file]);
    assert!(
        mix.contains("[water-unknown]") && mix.contains("pH not known: the alkalinity of the water is not stated"),
        "{mix}"
    );
}

/// What does not fit is said, and asked again; answers that end early leave no file.
#[test]
fn wrong_answers_are_asked_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    // tank, warmth, meter, water, report and what was wrong of it, scales, syringe, jugs, shelf and what was wrong of it, product, acid
    let answers = "60\n30 L\nwarm\n21 C\nppm\n550\nmS\npuddle\ntap\nCa, Xx=3, Mg=-4, Na=12\nCa 40\n0.1 L, 0,1 g\n\n5\n\n10 mL, 1 L, 5 mL\n10 mL, 100 mL\n\n\
                   epsom slat, urea, calcium nitrate\nmagnesium sulfate heptahydrate\n\nvinegary, 5\n\n";
    let (status, out, err) = asked(&file, answers);
    assert_eq!(status, 0, "{err}");
    for says in [
        "the unit is missing",
        "`warm` is not a number",
        "ppm of which scale",
        "it takes 500, 640 or 700",
        "neither rain nor tap",
        "`Ca` is no key and value",
        "Xx",
        "-4",
        "scales",
        "read as 0.1 L, 0.1 g",
        "two volumes",
        "less than the 200 mL from which it is trusted",
        "there is no salt `epsom slat`",
        "there is no salt `vinegary`",
    ] {
        assert!(err.contains(says), "{says}: {err}");
    }
    assert!(out.contains("calcium nitrate is taken as `calcium-nitrate-tetrahydrate`"), "{out}");
    assert!(out.contains("growth on this shelf misses"), "{out}");
    let bench = Bench::parse(&std::fs::read_to_string(&file).expect("a bench"), "bench").expect("it reads");
    assert_eq!(bench.shelf.len(), 3, "what was right of a list is not asked again");
    assert_eq!((bench.water.nutrients[Nutrient::Na], bench.water.nutrients[Nutrient::Ca]), (12.0, 40.0));
    let folder = tempfile::tempdir().expect("a folder");
    let (status, out, err) = asked(&path(&folder), "60 L\nrain\n");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("nothing is written") && !std::path::Path::new(&path(&folder)).exists(), "{err}");
}

#[test]
fn the_request_keeps_to_the_schema() {
    let schemas: Value = serde_json::from_str(&report::schema()).expect("JSON");
    for (request, unknown) in [
        (json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": ["0.1 g"] }), 0),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "tap", "report": ["Ca=40", "HCO3=90"] },
                    "scales": ["0.1 g", "0.001 g"], "shelf": ["potassium-nitrate"] }),
            5,
        ),
    ] {
        assert!(jsonschema::is_valid(&schemas["request"], &request), "{request}");
        let answer = ask(&Request::parse(&request.to_string()).expect("a request")).expect("answered");
        let document: Value = serde_json::from_str(&report::document(&answer)).expect("JSON");
        assert!(jsonschema::is_valid(&schemas["new"], &document));
        assert_eq!(document["unknown"].as_array().expect("a list").len(), unknown);
    }
    for (request, says) in [
        (json!({ "job": "new", "tank": "60", "water": { "from": "rain" }, "scales": ["0.1 g"] }), "tank"),
        (json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": [] }), "nothing can be weighed"),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "tap", "report": ["Ca=4\u{7}"] }, "scales": ["1 g"] }),
            "no key and value of a water report",
        ),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "tap", "report": ["S=4", "SO4=9"] }, "scales": ["1 g"] }),
            "same thing",
        ),
        (
            json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": ["1 g"], "shelf": ["uera"] }),
            "did you mean",
        ),
    ] {
        let refusal = ask(&Request::parse(&request.to_string()).expect("a request")).expect_err("refused");
        assert_eq!(refusal.status, 2, "{request}");
        assert!(refusal.to_string().contains(says), "{request}: {refusal}");
        assert_eq!(refusal.job, "new");
    }
}

/// A grower with two waters, a meter in ppm, a labelled feed and an acid by its per cent: no key of the file has to be known.
#[test]
fn all_that_a_bench_has() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let answers = "40 liters\n18 C\nppm 500\nrain and tap\n25 litres\n\n210 ppm\n1 gram, 0,01 g\n0,5 mL, 20 mL\n10 mL, 1 L, 50 mL, 5 L\ncalcium nitrate, iron chelate, \
                   epsom salts\ncomplete feed 10-10-30: NO3-N 8,0, NH4-N 2 %, P2O5 10, K2O=30, MgO 4, Fe 0.12\nPK liquid: P2O5 6.5, K2O 4.3, density \
                   1.09 kg/L\n\nnitric acid 38 %, phosphoric acid 10 %, pH 5,8\n";
    let (status, out, err) = asked(&file, answers);
    assert_eq!(status, 0, "{err}");
    let text = std::fs::read_to_string(&file).expect("a bench");
    let bench = Bench::parse(&text, "bench").unwrap_or_else(|error| panic!("{error}\n{text}"));
    assert_eq!((bench.tank.volume, bench.tank.temperature), (liter(40.0), celsius(18.0)));
    assert_eq!(bench.meter.map(|meter| meter.factor), Some(0.5));
    let waters: Vec<_> = bench.waters.iter().map(|water| (water.id.as_str(), water.on_hand.map(milliliter))).collect();
    assert_eq!(waters, [("rain", Some(25_000.0)), ("tap", None)]);
    assert!((bench.waters[1].water.ec_ms_per_cm.expect("read") - 0.42).abs() < 1e-12, "210 ppm on the 500 scale");
    assert_eq!((bench.scales.len(), bench.syringe.capacity.map(milliliter)), (2, Some(20.0)));
    let ids: Vec<&str> = bench.shelf.iter().map(|stock| bench.salt(stock).id.as_str()).collect();
    let named = [
        "calcium-nitrate-tetrahydrate",
        "magnesium-sulfate-heptahydrate",
        "iron-dtpa",
        "complete-feed-10-10-30",
        "pk-liquid",
    ];
    assert!(named.iter().all(|id| ids.contains(id)) && ids.len() == named.len(), "{ids:?}");
    let acid = bench.acid.expect("an acid");
    assert_eq!((acid.salts, acid.target_ph), (vec!["nitric-acid-38".to_owned(), "phosphoric-acid-10".to_owned()], 5.8));
    let jugs: Vec<_> =
        bench.jugs.iter().map(|jug| (jug.id.as_str(), milliliter(jug.step), milliliter(jug.capacity))).collect();
    assert_eq!(jugs, [("jug", 10.0, 1000.0), ("jug 2", 50.0, 5000.0)]);
    assert!(text.contains("here 20 g") && out.contains("is taken as `calcium-nitrate-tetrahydrate`"), "{text}{out}");
    done(&["mix", "growth", "--bench", &file]);
}

/// A bench of two bags whose labels state no sulfur can be mixed; where a least is asked all the same, it is said what the label omits.
#[test]
fn a_feed_without_sulfur_on_its_label() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let feed = "complete feed: NO3-N 8, NH4-N 2, P2O5 10, K2O 30, MgO 4, Fe 0.1";
    let (status, out, err) = asked(&file, &format!("\n\n\n\n0.1 g\n\n\ncalcium nitrate\n{feed}\n\n"));
    assert_eq!(status, 0, "{err}");
    assert!(!out.contains("cannot be mixed"), "{out}");
    let mix = done(&["mix", "growth", "--bench", &file]);
    assert!(mix.contains("[label-omits]"), "{mix}");
    let text = std::fs::read_to_string(&file).expect("a bench");
    std::fs::write(&file, text.replace("S = { max = 100 }", "S = { min = 10 }")).expect("written");
    let (status, _, err) = crate::program::bloomsalt(&["mix", "growth", "--bench", &file]);
    assert_eq!(status, 1);
    assert!(err.contains("complete feed: its label states no S"), "{err}");
    // with the sulfur on the label the least stays
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let (status, _, err) = asked(&file, &format!("\n\n\n\n0.1 g\n\n\ncalcium nitrate\n{feed}, SO3 8\n\n"));
    assert_eq!(status, 0, "{err}");
    assert!(std::fs::read_to_string(&file).expect("a bench").contains("S = { min = 10, max = 100 }"));
}

/// A shelf of which nothing is taken is asked again whole: Enter alone never puts the usual salts in its place unsaid.
#[test]
fn a_shelf_that_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let (status, _, err) = asked(&file, "\n\n\n\n\n\n\nepsom slat, nitric acid\nurea, vinegary\n\n\n");
    assert_eq!(status, 0, "{err}");
    assert!(err.contains("there is no salt `epsom slat`") && err.contains("comes in many strengths"), "{err}");
    assert_eq!(err.matches("Which salts are on the shelf?").count(), 2, "{err}");
    assert_eq!(err.matches("Again, only what was refused?").count(), 1, "{err}");
    let bench = Bench::parse(&std::fs::read_to_string(&file).expect("a bench"), "bench").expect("it reads");
    assert_eq!(bench.shelf.iter().map(|stock| &*bench.salt(stock).id).collect::<Vec<_>>(), ["urea"]);
}

/// N without its forms is asked for them; where nobody knows, file and answer say so, and the mix says first what to write where.
#[test]
fn the_forms_of_nitrogen() {
    let feed = "complete feed: N 10, P2O5 10, K2O 30, MgO 4, SO3 5";
    let new = |answers: &str| {
        let folder = tempfile::tempdir().expect("a folder");
        let file = path(&folder);
        let (status, out, err) = asked(&file, &format!("\n\n\n\n\n\n\ncalcium nitrate\n{answers}\n"));
        assert_eq!(status, 0, "{err}");
        (std::fs::read_to_string(&file).expect("a bench"), out, err, done(&["mix", "growth", "--bench", &file]))
    };
    let (text, out, err, mix) = new(&format!("{feed}\n\n"));
    assert_eq!(err.matches("In which forms is its N").count(), 1, "{err}");
    assert!(text.contains("# The forms of 10 % N in it are not known"), "{text}");
    assert!(out.contains("complete feed states N without its forms"), "{out}");
    let first = mix.split("WEIGH").next().expect("the head").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        first.contains("On the `analysis` line of complete feed, in place of N = 10, write NO3-N = , NH4-N = and urea-N = "),
        "{mix}"
    );
    assert_eq!(mix.matches("[nitrogen-form-unknown]").count(), 1, "{mix}");
    let (text, out, err, mix) = new(&format!("{feed}\nall of them\nnitrates 6\n"));
    assert!(err.contains("`all of them` is no list of forms"), "{err}");
    assert!(text.contains("N = 10, P2O5 = 10, K2O = 30, MgO = 4, SO3 = 5, NO3-N = 6 }"), "{text}");
    assert!(out.contains("without its forms"), "4 % of it are still unknown: {out}");
    assert!(!mix.is_empty());
    let (text, out, err, mix) =
        new(&format!("{feed}\nnitrate 8, ammonium 4\nnitrate nitrogen 6 %, ammoniacal 3,5, urea 0.5\n"));
    assert!(err.contains("the forms of nitrogen add up to 12 %"), "{err}");
    assert!(text.contains("SO3 = 5, NO3-N = 6, NH4-N = 3.5, urea-N = 0.5 }") && !text.contains("are not known"), "{text}");
    assert!(!out.contains("without its forms") && !mix.contains("[nitrogen-form-unknown]"), "{out}{mix}");
    // one that states them is not asked
    let (_, _, err, _) = new("complete feed: NO3-N 8, NH4-N 2, P2O5 10, K2O 30, SO3 5\n");
    assert!(!err.contains("In which forms"), "{err}");
}

/// Every name that growers have for the usual salts is taken; an acid without its per cent is not.
#[test]
fn everyday_names() {
    let shelf = |name: &str| {
        let request =
            json!({ "job": "new", "tank": "60 L", "water": { "from": "rain" }, "scales": ["0.1 g"], "shelf": [name] });
        let answer =
            ask(&Request::parse(&request.to_string()).expect("a request")).map_err(|refusal| refusal.to_string())?;
        let document: Value = serde_json::from_str(&report::document(&answer)).expect("JSON");
        let bench = Bench::parse(document["text"].as_str().expect("a text"), "bench").expect("a bench");
        Ok::<String, String>(bench.salt(&bench.shelf[0]).id.clone())
    };
    for (name, id) in [
        ("epsom", "magnesium-sulfate-heptahydrate"),
        ("Epsom salts", "magnesium-sulfate-heptahydrate"),
        ("MKP", "monopotassium-phosphate"),
        ("KNO3", "potassium-nitrate"),
        ("saltpeter", "potassium-nitrate"),
        ("calcium nitrate", "calcium-nitrate-tetrahydrate"),
        ("calcium chloride", "calcium-chloride-dihydrate"),
        ("ammonium nitrate", "ammonium-nitrate"),
        ("magnesium sulphate", "magnesium-sulfate-heptahydrate"),
        ("iron chelate", "iron-dtpa"),
        ("iron EDTA", "iron-edta"),
        ("manganese sulfate", "manganese-sulfate-monohydrate"),
        ("zinc sulfate", "zinc-sulfate-heptahydrate"),
        ("copper sulfate", "copper-sulfate-pentahydrate"),
        ("sodium molybdate", "sodium-molybdate-dihydrate"),
        ("boric acid", "boric-acid"),
        ("citric acid", "citric-acid"),
        ("gypsum", "calcium-sulfate-dihydrate"),
        ("phosphoric acid 85 %", "phosphoric-acid-85"),
        ("nitric acid 38%", "nitric-acid-38"),
        ("nitric acid 53.5 %", "nitric-acid-53.5"),
    ] {
        assert_eq!(shelf(name).as_deref(), Ok(id), "{name}");
    }
    for name in ["nitric acid", "phosphoric acid"] {
        let said = shelf(name).expect_err("no strength");
        assert!(said.contains("per cent") && said.contains("38 %"), "{said}");
    }
}

/// A shelf of labelled bags alone, scales with the most they take, and a water report in the words that it is printed in.
#[test]
fn what_people_say_is_read() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = path(&folder);
    let report = "calcium=85, Magnesium 12, nitrate: 12, sulphate=45, alkalinity=230 mg/L as CaCO3";
    let feed = "complete feed: NO3-N 8, NH4-N 2, P2O5 10, K2O 30, MgO 4, Fe 0.1, SO3 3";
    let answers = format!("40 L\n20 C\n0.5\ntap\n{report}\n0.1 g to 2 kg, 0.001 g, to 50 g\n\nnone\nnone\n{feed}\nno\n-\n");
    let (status, out, err) = asked(&file, &answers);
    assert_eq!(status, 0, "{err}");
    assert!(!out.contains("cannot be mixed"), "{out}");
    let text = std::fs::read_to_string(&file).expect("a bench");
    let bench = Bench::parse(&text, "bench").expect("it reads");
    let shelf: Vec<&str> = bench.shelf.iter().map(|stock| &*bench.salt(stock).id).collect();
    assert_eq!(shelf, ["complete-feed"], "{text}");
    let most = |at: usize| bench.scales[at].capacity.map(|most| most.get::<uom::si::mass::gram>());
    assert_eq!((most(0), most(1)), (Some(2000.0), Some(50.0)), "{text}");
    let water = &bench.water.nutrients;
    let is = |nutrient: Nutrient, ppm: f64| (water[nutrient] - ppm).abs() < 1e-9;
    assert!(is(Nutrient::Ca, 85.0) && is(Nutrient::Mg, 12.0), "{text}");
    assert!((bench.water.alkalinity_meq_per_l.expect("stated") - 4.596).abs() < 2e-3);
    assert!((water[Nutrient::NitrateN] - 2.711).abs() < 2e-3 && (water[Nutrient::S] - 15.02).abs() < 0.02, "{text}");
    assert!(bench.jugs.is_empty() && bench.acid.is_none());
    // a scale that cannot be, and a meter of which nobody knows the scale, are asked again
    let folder = tempfile::tempdir().expect("a folder");
    let answers = format!("\n\nI do not know\n\n\n0.1 g to 2 L\n0.1 g to 2 kg\n\n\nnone\n{feed}\n\n");
    let (status, _, err) = asked(&path(&folder), &answers);
    assert_eq!(status, 0, "{err}");
    assert!(err.contains("calibration solution of 1.413 mS/cm"), "{err}");
    assert_eq!(err.matches("Which steps do your scales show").count(), 2, "{err}");
}

/// A scale for traces is trusted as the starter trusts its own, coarser ones as is usual.
#[test]
fn a_scale_for_traces_is_trusted_as_in_the_starter() {
    for (step, least_g) in [("0.001 g", 0.005), ("0.0005 g", 0.0025), ("0.01 g", 0.2), ("0.1 g", 2.0)] {
        let request = json!({ "job": "new", "tank": "25 L", "water": { "from": "rain" }, "scales": [step] });
        let answer = ask(&Request::parse(&request.to_string()).expect("a request")).expect("answered");
        let bloomsalt::ask::Answer::New(of) = answer else { panic!("a bench") };
        assert!((of.smallest_g / least_g - 1.0).abs() < 1e-9, "{step}: {}", of.smallest_g);
    }
    let starter = Bench::starter();
    let of_traces = starter.scales.iter().map(|scale| scale.trust).fold(0.0, f64::max);
    assert!((of_traces - 0.2).abs() < 1e-12, "{of_traces}");
}

/// A label and a report are typed as they are printed; hardness by itself says neither calcium nor alkalinity, and is asked back.
#[test]
fn what_is_printed_is_read_or_asked_back() {
    let asks = |water: &[&str], label: &str| {
        let request = json!({
            "job": "new", "tank": "90 L", "water": { "from": "tap", "report": water }, "scales": ["0.1 g"],
            "shelf": ["calcium nitrate greenhouse grade", "epsom"], "products": [label],
        });
        ask(&Request::parse(&request.to_string()).expect("a request"))
    };
    let label = "powder: Nitrate nitrogen 10.5 %, ammonium nitrogen=1.5 %, P2O5 12, K2O 36, MgO 1";
    let text = |water: &[&str]| match asks(water, label).expect("answered") {
        bloomsalt::ask::Answer::New(of) => of.text.clone(),
        _ => panic!("a bench"),
    };
    let bench = text(&["Ca=40", "KH=8 dH"]);
    assert!(bench.contains("NO3-N = 10.5") && bench.contains("NH4-N = 1.5"), "{bench}");
    assert!(bench.contains("ammonium-calcium-nitrate-decahydrate"), "{bench}");
    let there = Bench::parse(&bench, "bench").expect("valid").water.alkalinity_meq_per_l.expect("stated");
    assert!((there - 2.853).abs() < 0.01, "8 German degrees: {there}");
    for hardness in ["hardness=8 dH", "total hardness 8 dH", "8 degrees German", "GH=8", "Hardness: 140 mg/L CaCO3"] {
        let refused = asks(&["Ca=40", hardness], label).expect_err(hardness);
        let problem = &refused.problems[0];
        let help = problem.help.clone().unwrap_or_default();
        assert!(help.contains("alkalinity=8 dH") && problem.message.contains("hardness"), "{hardness}: {problem:?}");
    }
}
