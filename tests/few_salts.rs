//! Few salts: one more that is allowed never makes the mix fit worse, whatever bottles and acids are on the bench.
#![allow(clippy::disallowed_methods, reason = "random draws; nothing of them is printed")]

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, JobError, MixOptions, MixRecord};
use bloomsalt::safety::Code;

use crate::random::Random;
use crate::random::benches::USUAL;
use crate::waters::cases;

/// With an acid, whose mean charges move with the mix, and under a limit of EC a choice is the best found and not proved.
const NEAR: f64 = 0.01;
const MOST: usize = 11;

/// A bench with bottles of some of what is on its shelf.
fn bench(seed: u64) -> String {
    let random = &mut Random(seed ^ 0x00fe_11ed);
    let mut text = format!("[tank]\nvolume = \"{} L\"\n", [10.0, 40.0, 60.0, 100.0][random.below(4)]);
    if random.chance(0.4) {
        let (ca, mg, meq) = (random.between(5.0, 60.0), random.between(1.0, 9.0), random.between(0.2, 2.0));
        let _ = writeln!(text, "[water]\nCa = {ca:.1}\nMg = {mg:.1}\nalkalinity = \"{meq:.2} meq/L\"\npH = 7.3");
    }
    if random.chance(0.5) {
        text.push_str("[[scale]]\nreadability = \"0.1 g\"\n");
    }
    if random.chance(0.5) {
        let acid = ["phosphoric-acid-10", "nitric-acid-60"][random.below(2)];
        let _ = writeln!(text, "[acid]\nsalt = \"{acid}\"\ntarget_pH = 5.8");
    }
    text.push_str("[shelf]\n");
    for id in USUAL.iter().filter(|_| random.chance(0.85)) {
        let _ = writeln!(text, "{id} = {{}}");
    }
    for (id, chance, holds) in [
        ("traces", 1.0, [("boric-acid", 4.0), ("manganese-sulfate-monohydrate", 4.0)]),
        ("pk", 0.6, [("monopotassium-phosphate", 60.0), ("potassium-nitrate", 80.0)]),
        ("calcium", 0.4, [("calcium-nitrate-tetrahydrate", 150.0), ("iron-dtpa", 5.0)]),
    ] {
        if random.chance(chance) {
            let made = holds.map(|(salt, most)| format!("{salt} = \"{:.2} g\"", most * random.between(0.2, 1.0)));
            let _ = writeln!(text, "[[helper]]\nid = \"{id}\"\nvolume = \"1 L\"\nmade_of = {{ {} }}", made.join(", "));
        }
    }
    text.push_str("[formula.asked]\n");
    for (element, usual) in [
        ("N", 90.0),
        ("P", 25.0),
        ("K", 110.0),
        ("Ca", 70.0),
        ("Mg", 22.0),
        ("Fe", 1.5),
        ("Mn", 0.4),
        ("Zn", 0.1),
        ("B", 0.3),
    ] {
        if random.chance(0.85) {
            let _ = writeln!(text, "{element} = {:.4}", usual * random.between(0.5, 1.6));
        }
    }
    if random.chance(0.3) {
        let _ = writeln!(text, "Cl = {{ max = {:.1} }}", random.between(10.0, 60.0));
    }
    if random.chance(0.2) {
        let _ = writeln!(text, "EC = {{ max = \"{:.2} mS/cm\" }}", random.between(0.8, 1.6));
    }
    text
}

fn mix(bench: &Bench, salts_at_most: Option<usize>) -> Option<MixRecord> {
    let options = MixOptions { salts_at_most, without_reasons: true, ..MixOptions::default() };
    match jobs::mix(bench, "asked", &options) {
        Ok(mix) => Some(mix),
        Err(JobError::Conflict { .. } | JobError::NothingToMixFrom { .. } | JobError::NothingMeasurable { .. }) => None,
        Err(error) => panic!("{error:?}"),
    }
}

/// A pH that the acid cannot bring is given up, and the mix without the wish may then come closer.
fn keeps_the_wish(mix: &MixRecord) -> bool {
    mix.findings.iter().all(|finding| finding.code != Code::PhWishNotMet)
}

#[test]
fn one_more_salt_never_fits_worse() {
    let (mut gained, mut with_acid, mut drawn) = (0, 0, 0);
    for seed in 0..cases(60) {
        let text = bench(seed as u64);
        let bench = Bench::parse(&text, "drawn").unwrap_or_else(|error| panic!("{error}\n{text}"));
        let mut least: Option<(usize, f64)> = None;
        for most in 1..=MOST {
            // the last is without a bound
            let Some(mix) = mix(&bench, Some(most).filter(|most| *most < MOST)) else { continue };
            if !keeps_the_wish(&mix) {
                continue;
            }
            let misfit = mix.misfit_exact.expect("fitted");
            if let Some((fewer, before)) = least {
                assert!(
                    misfit <= before + NEAR * (1.0 + before),
                    "bench {seed}: {misfit} with {most} salts, {before} with {fewer}\n{text}"
                );
                gained += u32::from(misfit < before - NEAR);
            }
            least = Some(least.filter(|(_, before)| *before <= misfit).unwrap_or((most, misfit)));
            with_acid += u32::from(mix.acid.iter().any(|acid| acid.grams_fresh.is_some_and(|grams| grams > 0.0)));
            drawn += u32::from(mix.doses.iter().any(|dose| dose.bottle().is_some()));
        }
    }
    assert!(gained > 100 && with_acid > 50 && drawn > 200, "{gained} closer, {with_acid} with acid, {drawn} from bottles");
}
