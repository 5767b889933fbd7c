//! Whole steps and what hangs on all of them together: the pH that is wished, a least EC, and bottles that could be spared.
#![allow(clippy::disallowed_methods, reason = "random draws; nothing of them is printed")]

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, Dose, Dosed, GoesIn, JobError, MixOptions, MixRecord};
use bloomsalt::quantity::{gram, liter};
use bloomsalt::safety::Code;

use crate::random::Random;
use crate::waters::cases;

/// What is told of a pH, and what whole steps may be off it.
const TOLD: f64 = 0.1;

fn quick(bench: &Bench) -> Option<MixRecord> {
    match jobs::mix(bench, "asked", &MixOptions { without_reasons: true, ..MixOptions::default() }) {
        Ok(mix) => Some(mix),
        Err(JobError::Conflict { .. } | JobError::NothingToMixFrom { .. } | JobError::NothingMeasurable { .. }) => None,
        Err(error) => panic!("{error:?}"),
    }
}

fn told(mix: &MixRecord, code: Code) -> bool {
    mix.findings.iter().any(|finding| finding.code == code)
}

/// Two phosphates of ammonium, of which a step of one for a step of the other is base for acid.
fn phosphates(random: &mut Random) -> String {
    let litres = [2.0, 10.0, 60.0, 100.0][random.below(4)];
    let mut text = format!("[tank]\nvolume = \"{litres} L\"\n");
    if random.chance(0.3) {
        let _ = writeln!(text, "[water]\nCa = 20\nMg = 3\nalkalinity = \"{:.2} meq/L\"\npH = 7.3", random.between(0.2, 2.0));
    }
    for scale in ["0.1", "0.01"].iter().filter(|_| random.chance(0.5)) {
        let _ = writeln!(text, "[[scale]]\nreadability = \"{scale} g\"");
    }
    text.push_str("[shelf]\n");
    for (id, chance) in [
        ("potassium-nitrate", 1.0),
        ("calcium-nitrate-tetrahydrate", 1.0),
        ("diammonium-phosphate", 0.9),
        ("monoammonium-phosphate", 0.9),
        ("monopotassium-phosphate", 0.7),
        ("magnesium-sulfate-heptahydrate", 0.7),
        ("magnesium-nitrate-hexahydrate", 0.5),
        ("potassium-sulfate", 0.5),
        ("sodium-nitrate", 0.5),
    ] {
        if random.chance(chance) {
            let _ = writeln!(text, "{id} = {{}}");
        }
    }
    let acid = ["phosphoric-acid-10", "phosphoric-acid-75", "nitric-acid-60"][random.below(3)];
    let (ph, basis) = (random.between(5.4, 6.4), ["fresh", "aired"][random.below(2)]);
    let _ = writeln!(text, "[acid]\nsalt = \"{acid}\"\ntarget_pH = {ph:.1}\nbasis = \"{basis}\"\n[formula.asked]");
    for (element, usual) in [("N", 100.0), ("P", 25.0), ("K", 100.0), ("Ca", 70.0), ("Mg", 15.0)] {
        let _ = writeln!(text, "{element} = {:.2}", usual * random.between(0.6, 1.5));
    }
    text
}

/// The pH of a mix on the basis of its wish.
fn on_basis(mix: &MixRecord) -> Option<f64> {
    if mix.acid.first()?.basis == bloomsalt::bench::Basis::Fresh { mix.ph } else { mix.ph_aired }
}

/// As measured out the pH is the wished one, or it is said.
fn hold_ph(text: &str) -> Option<f64> {
    let bench = Bench::parse(text, "drawn").unwrap_or_else(|error| panic!("{error}\n{text}"));
    let mix = quick(&bench)?;
    let wish = bench.acid.as_ref().expect("named").target_ph;
    let ph = on_basis(&mix)?;
    let said = [Code::PhWishNotMet, Code::PhInSteps, Code::PhUnknown, Code::CannotBeWeighed]
        .into_iter()
        .any(|code| told(&mix, code))
        || ph < wish && told(&mix, Code::PhUnderWish);
    assert!(said || (ph - wish).abs() <= TOLD + 1e-9, "{ph} for {wish}\n{text}");
    // the section of the meter says no other than the meter will
    let page = bloomsalt::report::mix(&mix, false).split_whitespace().collect::<Vec<_>>().join(" ");
    let denies =
        page.contains("goes in: the pH is at or under") && !page.contains("as the salts can be measured here it is");
    assert!(!denies || ph <= wish + TOLD, "{ph} for {wish}\n{page}");
    Some((ph - wish).abs())
}

const SMALL: &str = "[tank]\nvolume = \"2 L\"\n[shelf]\npotassium-nitrate = {}\ncalcium-nitrate-tetrahydrate = {}\n\
    magnesium-sulfate-heptahydrate = {}\nmonopotassium-phosphate = {}\nmonoammonium-phosphate = {}\ndiammonium-phosphate = {}\n\
    potassium-sulfate = {}\n[acid]\nsalt = \"phosphoric-acid-75\"\ntarget_pH = 5.5\n[formula.asked]\nP = 13\nK = 79.8\nCa = 26.7\n\
    Mg = 10.2\nNO3-N = 42.5\nNH4-N = 7.1\n";
const LARGE: &str = "[tank]\nvolume = \"60 L\"\n[shelf]\ndiammonium-phosphate = {}\npotassium-nitrate = {}\n\
    magnesium-nitrate-hexahydrate = {}\ncalcium-nitrate-tetrahydrate = {}\nmonopotassium-phosphate = {}\nsodium-nitrate = {}\n\
    monoammonium-phosphate = {}\n[acid]\nsalt = \"phosphoric-acid-10\"\ntarget_pH = 6\n[formula.asked]\nN = 156\nP = 28\nK = 107\n\
    Ca = 101\nMg = 20\n";

#[test]
fn whole_steps_keep_the_wished_ph_or_it_is_said() {
    for text in [SMALL, LARGE] {
        let off = hold_ph(text).expect("mixed");
        assert!(off <= TOLD, "off by {off}\n{text}");
    }
    let (mut near, mut all) = (0, 0);
    for seed in 0..cases(120) {
        let text = phosphates(&mut Random(seed as u64 ^ 0xd1a0));
        let Some(off) = hold_ph(&text) else { continue };
        near += u32::from(off <= TOLD);
        all += 1;
    }
    // the others are under the wish, or too little acid to be measured
    assert!(near * 3 > all, "{near} of {all}");
}

/// A small tank of tap water with traces, whose bottles of pure water thin it.
fn least_ec(min: f64) -> MixRecord {
    let text = format!(
        "[tank]\nvolume = \"1 L\"\n[water]\nCa = 62\nMg = 7\nNa = 14\nCl = 22\nSO4 = 38\nHCO3 = 186\npH = 7.4\n[shelf]\n\
         potassium-nitrate = {{}}\nmonopotassium-phosphate = {{}}\ncalcium-nitrate-tetrahydrate = {{}}\n\
         magnesium-sulfate-heptahydrate = {{}}\nboric-acid = {{}}\ncopper-sulfate-pentahydrate = {{}}\n\
         manganese-sulfate-monohydrate = {{}}\nzinc-sulfate-heptahydrate = {{}}\niron-dtpa = {{}}\n[formula.asked]\nN = 90\nP = 18\n\
         K = 100\nCa = 75\nMg = 22\nB = 0.3\nCu = 0.05\nMn = 0.4\nZn = 0.2\nFe = 1.5\nEC = {{ min = \"{min:.2} mS/cm\" }}\n"
    );
    quick(&Bench::parse(&text, "test").expect("valid")).expect("mixed")
}

#[test]
fn bottles_of_pure_water_do_not_take_a_tank_under_its_least_ec() {
    let mut kept = 0;
    for hundredths in [110, 125, 130, 135, 140, 145, 150, 160] {
        let min = f64::from(hundredths) / 100.0;
        let mix = least_ec(min);
        assert!(mix.helpers.iter().any(|bottle| bottle.new && bottle.pure_water), "{min}");
        let keeps = mix.ec_ms_cm >= min * (1.0 - 1.01e-4);
        assert!(keeps || told(&mix, Code::LimitGaveWay), "EC {} for {min}", mix.ec_ms_cm);
        kept += u32::from(keeps);
    }
    assert!(kept >= 7, "{kept} kept");
}

/// What a new bottle brings into one tank is too little to weigh, or something is missed by more without it.
#[test]
fn no_bottle_is_made_of_what_could_be_weighed() {
    let mut bottles = 0;
    for seed in 0..cases(120) {
        let text = phosphates(&mut Random(seed as u64 ^ 0xb077));
        let bench = Bench::parse(&text, "drawn").expect("valid");
        let Some(mix) = quick(&bench) else { continue };
        for bottle in mix.helpers.iter().filter(|bottle| bottle.new && bottle.made_of.len() == 1) {
            let in_it = |dose: &&Dose| matches!(&dose.what, Dosed::Salt { goes_in: GoesIn::InBottle { bottle: id, .. }, .. } if *id == bottle.id);
            let Some(dose) = mix.doses.iter().find(in_it).filter(|dose| !dose.acid) else { continue };
            let grams = dose.grams_in_bottle().expect("in a bottle");
            bottles += 1;
            let finest = bench
                .scales
                .iter()
                .map(|scale| (scale.readability / gram(1.0)).value / scale.trust)
                .fold(f64::INFINITY, f64::min);
            // the pH may want other steps than the scale has
            assert!(grams < finest * 1.2, "{grams} g of {} in a bottle, {finest} g can be weighed\n{text}", dose.name);
        }
    }
    assert!(bottles > 3, "{bottles} bottles");
}

/// One name stands for one content on a page.
#[test]
fn two_mixes_on_a_page_share_no_name_for_different_bottles() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/streptocarpus.toml")).expect("there");
    let mut shared = 0;
    for litres in [1.0, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0] {
        let bench = Bench::parse(&text, "example").expect("valid").with_tank(liter(litres));
        let both =
            jobs::mix_beside(&bench, "push", "growth", &MixOptions { without_reasons: true, ..MixOptions::default() });
        let both = both.expect("mixed");
        for one in both.first.helpers.iter().filter(|bottle| bottle.new) {
            for other in both.beside.helpers.iter().filter(|bottle| bottle.new && bottle.id == one.id) {
                assert_eq!(one.made_of, other.made_of, "{} in {litres}", one.id);
                shared += 1;
            }
        }
        // what comes in a bottle is not shown as nothing
        let page = bloomsalt::report::beside(&both, false);
        let in_bottles = |mix: &MixRecord| mix.doses.iter().filter(|dose| dose.grams_in_bottle().is_some()).count();
        let due = in_bottles(&both.first) + in_bottles(&both.beside);
        assert_eq!(page.matches("in a bottle").count(), due, "{litres}\n{page}");
    }
    assert!(shared > 0, "none of the same content");
}
