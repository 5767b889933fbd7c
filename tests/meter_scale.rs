//! A meter that shows ppm: its scale stands once in the bench file, and every EC is read and told by it.

use bloomsalt::ask::{Answer, Request, ask};
use bloomsalt::bench::Bench;
use bloomsalt::quantity::millisiemens_per_cm;
use bloomsalt::report;
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::program::bloomsalt;

const FILLED: &str = r#"{"job":"logbook-add","logbook":"","now":"2027-01-04 10:00+01:00",
  "entry":{"event":"filled","added":["potassium-nitrate=14.1g","calcium-nitrate-tetrahydrate=26.5g","magnesium-sulfate-heptahydrate=13.4g"],
           "volume":"60 L","formula":"growth"}}"#;

fn answer(request: &Value) -> Result<Value, String> {
    let request = Request::parse(&request.to_string()).expect("a request");
    let answer = ask(&request).map_err(|refusal| refusal.to_string())?;
    Ok(serde_json::from_str(&report::document(&answer)).expect("JSON"))
}

/// The starter with a scale of the meter, and maybe an EC of its water.
fn bench(scale: Option<&str>, water: &str) -> String {
    let meter = scale.map_or_else(String::new, |scale| format!("[meter]\nscale = {scale}\n"));
    let water = if water.is_empty() {
        String::new()
    } else {
        format!("[water]\nCa = 20\nalkalinity = \"1 meq/L\"\nEC = \"{water}\"\n")
    };
    format!("{}\n{meter}{water}", bloomsalt::bench::STARTER)
}

fn appended(bench: &str, ec: &str) -> Result<String, String> {
    let mut filled: Value = serde_json::from_str(FILLED).expect("JSON");
    filled["bench"] = bench.into();
    let logbook = answer(&filled)?["append"].as_str().expect("a text").to_owned();
    let read = json!({ "job": "logbook-add", "bench": bench, "logbook": logbook, "now": "2027-01-04 18:00+01:00",
                       "entry": { "event": "reading", "ec": ec }, "confirmed": true });
    Ok(logbook + answer(&read)?["append"].as_str().expect("a text"))
}

fn without_check(logbook: &str) -> Vec<Value> {
    logbook
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).map_or_else(|_| line.into(), |line| line["ec_ms_cm"].clone()))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Whatever the scale, ppm typed is the mS/cm that it stands for: in a logbook, in the water and as a limit.
    #[test]
    fn ppm_is_read_by_the_scale(ppm in 50_u32..2500, which in 0_usize..3, short in any::<bool>()) {
        let (scale, factor) = [("500", 0.5), ("640", 0.64), ("700", 0.7)][which];
        let scale = if short { format!("{factor}") } else { scale.to_owned() };
        let (typed, ms) = (format!("{ppm} ppm"), f64::from(ppm) / (1e3 * factor));
        let by_ppm = appended(&bench(Some(&scale), ""), &typed).expect("taken");
        let by_ms = appended(&bench(Some(&scale), ""), &format!("{ms} mS/cm")).expect("taken");
        prop_assert_eq!(without_check(&by_ppm), without_check(&by_ms));
        let of = |text: &str| Bench::parse(&bench(Some(&scale), text), "bench").expect("a bench").water.ec_ms_per_cm.expect("stated");
        prop_assert!((of(&typed) - ms).abs() < 1e-9);
        let limit = bench(Some(&scale), "").replace("hold_at_most = \"28 days\"", &format!("hold_at_most = \"28 days\"\nEC = {{ max = \"{typed}\" }}"));
        let max = Bench::parse(&limit, "bench").expect("a bench").formula("push").expect("push").ec.max.expect("stated");
        prop_assert!((max.value - millisiemens_per_cm(ms).value).abs() < 1e-12);
    }
}

#[test]
fn without_a_scale_ppm_is_refused_with_the_way_out() {
    let said = appended(&bench(None, ""), "590 ppm").expect_err("refused");
    assert!(said.contains("[meter]") && said.contains("scale = 500") && said.contains("mS/cm"), "{said}");
    let said = Bench::parse(&bench(None, "210 ppm"), "bench").expect_err("refused").to_string();
    assert!(said.contains("[meter]") && said.contains("scale = 500"), "{said}");
    for scale in ["550", "0", "\"500\"", "5000"] {
        assert!(Bench::parse(&bench(Some(scale), ""), "bench").is_err(), "{scale}");
    }
}

/// Every job that tells an EC says beside it what the meter of the bench should show, and none where it shows mS/cm.
#[test]
fn every_job_tells_what_the_meter_shows() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (plain, scaled, logbook) = (path("plain.toml"), path("scaled.toml"), path("tank.jsonl"));
    #[allow(clippy::disallowed_methods, reason = "writes the benches and the logbook that the program reads")]
    {
        let cycle = "\n[cycle]\ngrowth = { formula = \"growth\", lasts = \"28 days\" }\npush = { formula = \"push\", lasts = \"21 days\" }\n\
                     renew_every = \"14 days\"\n";
        std::fs::write(&plain, bench(None, "") + cycle).expect("written");
        std::fs::write(&scaled, bench(Some("500"), "") + cycle).expect("written");
        std::fs::write(&logbook, appended(&bench(None, ""), "1.00 mS/cm").expect("a logbook")).expect("written");
    }
    let of = ["--logbook", &logbook, "--at", "2027-01-06 10:00+01:00"];
    let runs: [&[&str]; 9] = [
        &["mix", "growth"],
        &["mix", "growth", "--beside", "push"],
        &["check", "potassium-nitrate=14.1g", "--reads", "0.31 mS/cm"],
        &["switch", "push", of[0], of[1], of[2], of[3]],
        &["stock", "push"],
        &["cycle", "--start", "2027-01-04"],
        &["today", of[0], of[1], of[2], of[3]],
        &["logbook", "now", of[1], of[2], of[3]],
        &["logbook", "forecast", of[1], of[2], of[3]],
    ];
    for run in runs {
        let with = |bench: &str| bloomsalt(&[run, &["--bench", bench]].concat());
        let (status, out, err) = with(&scaled);
        assert_eq!(status, 0, "{run:?}: {err}");
        let told =
            ["ppm on your meter", "ppm on a meter", "ppm on yours", "EC meter"].iter().any(|words| out.contains(words));
        assert!(told || !out.contains("mS/cm"), "{run:?}: {out}");
        let (status, out, err) = with(&plain);
        assert_eq!(status, 0, "{run:?}: {err}");
        assert!(!out.contains("ppm on your meter") && !out.contains("ppm on a meter"), "{run:?}: {out}");
    }
    let (status, out, err) = bloomsalt(&["check", "potassium-nitrate=14.1g", "--reads", "155 ppm", "--bench", &scaled]);
    assert_eq!(status, 0, "{err}");
    assert!(out.contains("0.31 mS/cm at 25 C, 155 ppm on your meter"), "{out}");
    let Ok(Answer::Mix(mix)) =
        ask(&Request::parse(&json!({ "job": "mix", "formula": "push", "bench": bench(Some("640"), "") }).to_string())
            .expect("a request"))
    else {
        panic!("no mix")
    };
    let shown = mix.record.meter_reading_ppm.expect("told");
    assert!((shown - 640.0 * mix.record.ec_ms_cm).abs() < 1e-9);
}
