//! Several waters, shared out by the fit: against a search over the litres, the mass balance, and one water of the same analysis.
#![allow(clippy::disallowed_methods, reason = "a test may read the environment")]

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::fit::Proof;
use bloomsalt::jobs::{self, JobError, MixOptions, MixRecord};
use bloomsalt::matter::{NUTRIENTS, Nutrient};
use bloomsalt::quantity::milliliter;

use crate::random::Random;

const SHELF: &str = "[shelf]\ncalcium-nitrate-tetrahydrate = {}\npotassium-nitrate = {}\nmonopotassium-phosphate = {}\n\
                     monoammonium-phosphate = {}\npotassium-sulfate = {}\nmagnesium-sulfate-heptahydrate = {}\n\
                     calcium-chloride-dihydrate = {}\niron-dtpa = {}\nphosphoric-acid-10 = {}\nnitric-acid-60 = {}\n";
/// A syringe with which no dose of a strong acid is too small: else the wish for a pH is given up, and the misfit with it.
const SCALE: &str = "[[scale]]\nreadability = \"0.001 g\"\ntrust = 0.2\n[syringe]\nstep = \"0.01 mL\"\ntrust = 0.5\n";
const ACIDS: [&str; 4] = [
    "",
    "salt = \"phosphoric-acid-10\"",
    "salt = \"nitric-acid-60\"",
    "salt = [\"phosphoric-acid-10\", \"nitric-acid-60\"]",
];
/// So many random benches, or as many as `BLOOMSALT_CASES` says.
pub fn cases(usual: usize) -> usize {
    std::env::var("BLOOMSALT_CASES").ok().and_then(|count| count.parse().ok()).unwrap_or(usual)
}

/// A water as lines of a bench file: from next to nothing to hard, its charges as a laboratory would find them.
fn water(random: &mut Random) -> String {
    let hardness = [0.0, 0.05, 0.3, 1.0, 1.5][random.below(5)];
    if hardness == 0.0 {
        return String::new();
    }
    let mut ppm = |usual: f64| hardness * usual * random.between(0.4, 1.6);
    let (ca, mg, na, cl, s) = (ppm(80.0), ppm(12.0), ppm(25.0), ppm(30.0), ppm(15.0));
    let alkalinity = (ca / 20.04 + mg / 12.15 + na / 22.99 - cl / 35.45 - s / 16.03).max(0.01);
    let ph = random.between(6.8, 8.3);
    let lines = format!("Ca = {ca}\nMg = {mg}\nNa = {na}\nCl = {cl}\nS = {s}\nalkalinity = \"{alkalinity} meq/L\"\n");
    if random.chance(0.8) { format!("{lines}pH = {ph}\n") } else { lines }
}

/// What is asked of a random bench, its waters aside.
fn asked(random: &mut Random) -> String {
    let mut text = format!("{SHELF}{SCALE}");
    let acid = ACIDS[random.below(ACIDS.len())];
    if !acid.is_empty() {
        let basis = if random.chance(0.5) { "fresh" } else { "aired" };
        let _ = writeln!(text, "[acid]\n{acid}\ntarget_pH = {}\nbasis = \"{basis}\"", random.between(5.4, 6.2));
    }
    text.push_str("[formula.asked]\n");
    for (symbol, usual) in [("N", 90.0), ("P", 22.0), ("K", 100.0), ("Ca", 70.0), ("Mg", 22.0), ("Fe", 1.5)] {
        let _ = writeln!(text, "{symbol} = {}", usual * random.between(0.5, 1.5));
    }
    if random.chance(0.4) {
        let _ = writeln!(text, "Cl = {{ max = {} }}", random.between(10.0, 60.0));
    }
    if random.chance(0.3) {
        let _ = writeln!(text, "S = {}", random.between(20.0, 70.0));
    }
    if random.chance(0.4) {
        let _ = writeln!(text, "EC = {{ max = \"{} mS/cm\" }}", random.between(0.7, 1.3));
    }
    text
}

/// A bench of `count` waters; of each there may be too little for all of the tank, of all together enough.
pub fn bench(random: &mut Random, count: usize) -> Bench {
    let litres = random.between(10.0, 200.0);
    let mut text = format!("[tank]\nvolume = \"{litres} L\"\n");
    for at in 0..count {
        let _ = writeln!(text, "[[water]]\nid = \"water {at}\"\n{}", water(random));
        // the last never runs out
        if at + 1 < count && random.chance(0.6) {
            let _ = writeln!(text, "on_hand = \"{} L\"", litres * random.between(0.0, 1.2));
        }
    }
    text.push_str(&asked(random));
    Bench::parse(&text, "drawn").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

pub fn litres(bench: &Bench) -> f64 {
    milliliter(bench.tank.volume) * 1e-3
}

pub fn there(bench: &Bench, at: usize) -> f64 {
    bench.waters[at].on_hand.map_or(f64::INFINITY, |all| milliliter(all) * 1e-3)
}

const OPTIONS: MixOptions = MixOptions { meter: None, salts_at_most: None, prefer: None, without_reasons: true };

/// The mix, or nothing where limits contradict each other.
fn mix(bench: &Bench) -> Option<MixRecord> {
    match jobs::mix(bench, "asked", &OPTIONS) {
        Ok(mix) => Some(mix),
        Err(JobError::Conflict { .. }) => None,
        Err(error) => panic!("{error}"),
    }
}

/// The bench with one water, by arithmetic of this file: sums of the analyses by litres; the pH, which is no sum, as recorded.
fn of_one_water(bench: &Bench, poured: &[f64], ph: Option<f64>) -> Bench {
    let all: f64 = poured.iter().sum();
    let mut one = bench.clone();
    (one.waters, one.blend) = (Vec::new(), Vec::new());
    let share = |at: usize| poured[at] / all;
    let sum = |of: &dyn Fn(usize) -> f64| (0..poured.len()).map(|at| share(at) * of(at)).sum::<f64>();
    for nutrient in NUTRIENTS {
        one.water.nutrients[nutrient] = sum(&|at| bench.waters[at].water.nutrients[nutrient]);
    }
    let measured = |at: usize| bench.waters[at].water.alkalinity_meq_per_l;
    let any = (0..poured.len()).any(|at| measured(at).is_some());
    one.water.alkalinity_meq_per_l = any.then(|| sum(&|at| measured(at).unwrap_or(0.0)));
    one.water.ph = ph;
    one
}

#[test]
fn the_litres_fill_the_tank_and_the_blend_is_one_water() {
    let mut random = Random(0x5eed_0001);
    let (mut blended, mut soured, mut bounded) = (0, 0, 0);
    for case in 0..cases(120) {
        let count = 2 + case % 2;
        let bench = bench(&mut random, count);
        let Some(mix) = mix(&bench) else { continue };
        let litres = litres(&bench);
        let poured: Vec<f64> = mix.waters.iter().map(|water| water.litres).collect();
        assert_eq!(poured.len(), count, "case {case}");
        assert!((poured.iter().sum::<f64>() - litres).abs() < 1e-9 * litres, "case {case}: {poured:?} of {litres}");
        for (at, poured) in poured.iter().enumerate() {
            assert!((0.0..=there(&bench, at) * (1.0 + 1e-9)).contains(poured), "case {case}: {poured} of water {at}");
        }
        blended += u32::from(poured.iter().filter(|litres| **litres > 1e-6).count() > 1);
        soured += u32::from(mix.acid.iter().any(|acid| acid.grams_fresh.is_some_and(|grams| grams > 0.0)));
        bounded += u32::from(bench.formula("asked").is_some_and(|formula| formula.ec.max.is_some()));
        // what is in the tank is what the waters and the salts bring
        for element in &mix.elements {
            let nutrient = Nutrient::parse(&element.element).expect("a nutrient");
            let of_waters: f64 =
                poured.iter().zip(&bench.waters).map(|(litres, water)| litres * water.water.nutrients[nutrient]).sum();
            assert!((element.water_ppm - of_waters / litres).abs() < 1e-9 * (1.0 + of_waters / litres), "case {case}");
            let of_salts: f64 = mix
                .doses
                .iter()
                .filter_map(|dose| Some((dose.salt()?, dose.grams_exact()?)))
                .map(|(id, grams)| {
                    let salt = bench.catalogue.find(id).expect("a salt");
                    grams * 1e3 * bench.composition(&bench.stock(salt)).nutrients[nutrient]
                })
                .sum();
            let all = (of_waters + of_salts) / litres;
            assert!((element.ppm_exact - all).abs() < 1e-9 * (1.0 + all), "case {case}: {} {all}", element.ppm_exact);
        }
        // and one water of the same analysis gives the same mix
        let ph = jobs::recipe(&bench, &mix).water_ph;
        let one = self::mix(&of_one_water(&bench, &poured, ph)).expect("a mix");
        let misfits = mix.misfit_exact.zip(one.misfit_exact).expect("fitted");
        assert!((misfits.0 - misfits.1).abs() < 1e-9, "case {case}: {misfits:?}");
        assert_eq!(mix.doses.len(), one.doses.len(), "case {case}");
        for (a, b) in mix.doses.iter().zip(&one.doses) {
            let exact = |dose: &jobs::Dose| dose.grams_exact().unwrap_or(0.0);
            assert_eq!((a.salt(), a.is_measured()), (b.salt(), b.is_measured()), "case {case}");
            assert!((exact(a) - exact(b)).abs() <= 1e-9 * (1.0 + exact(a)), "case {case}: {} {}", exact(a), exact(b));
        }
    }
    assert!(blended > 25 && soured > 25 && bounded > 25, "{blended} blended, {soured} soured, {bounded} with a limit of EC");
}

/// Every tenth of the tank from either water, where there is as much of it.
#[test]
fn nothing_on_a_grid_of_litres_comes_closer() {
    let mut random = Random(0x5eed_0002);
    let mut blended = 0;
    for case in 0..cases(16) {
        let bench = bench(&mut random, 2);
        let litres = litres(&bench);
        let best = mix(&bench);
        blended += u32::from(best.as_ref().is_some_and(|mix| mix.waters.iter().all(|water| water.litres > 1e-6)));
        for step in 0..=10 {
            let first = litres * f64::from(step) / 10.0;
            let poured = [first, litres - first];
            if (0..2).any(|at| poured[at] > there(&bench, at)) {
                continue;
            }
            let ids = bench.waters.iter().map(|water| water.id.clone());
            let filled: Vec<(String, f64)> = ids.zip(poured).collect();
            let one = jobs::filled_with(&bench, &filled).expect("a blend");
            let Some(one) = mix(&one) else { continue };
            let Some(best) = &best else { panic!("case {case}: {filled:?} keeps the limits, and nothing was found") };
            let (found, tried) = best.misfit_exact.zip(one.misfit_exact).expect("fitted");
            assert!(found <= tried + 1e-3, "case {case}: {found} found, {tried} at {filled:?}");
            // of blends as close the one with most of the first water
            if best.acid.is_empty() && best.proof_exact == Some(Proof::Proved) && tried <= found + 1e-9 {
                assert!(first <= best.waters[0].litres + 1e-6 * litres, "case {case}: {first} L of the first come as close");
            }
        }
    }
    assert!(blended > 4, "{blended} blended");
}

#[test]
fn of_waters_that_are_alike_the_first_is_used_up_first() {
    let mut random = Random(0x5eed_0003);
    for _ in 0..20 {
        let (lines, asked) = (water(&mut random), asked(&mut random));
        let text = format!(
            "[tank]\nvolume = \"60 L\"\n[[water]]\nid = \"a\"\non_hand = \"25 L\"\n{lines}\n[[water]]\nid = \"b\"\non_hand = \"20 L\"\n\
             {lines}\n[[water]]\nid = \"c\"\n{lines}\n{asked}"
        );
        let Some(mix) = mix(&Bench::parse(&text, "alike").expect("valid")) else { continue };
        let poured: Vec<f64> = mix.waters.iter().map(|water| water.litres).collect();
        assert!(poured.iter().zip([25.0, 20.0, 15.0]).all(|(found, asked)| (found - asked).abs() < 1e-6), "{poured:?}");
    }
}

#[test]
fn a_list_of_one_water_is_that_water() {
    let mut random = Random(0x5eed_0004);
    for _ in 0..20 {
        let (lines, asked) = (water(&mut random), asked(&mut random));
        // one of a list with nothing but its name is rain, and a `[water]` with nothing in it is tap water without a report
        if lines.trim().is_empty() {
            continue;
        }
        let bench = |head: &str| {
            Bench::parse(&format!("[tank]\nvolume = \"60 L\"\n{head}\n{lines}\n{asked}"), "one").expect("valid")
        };
        let (listed, plain) = (mix(&bench("[[water]]\nid = \"tap\"")), mix(&bench("[water]")));
        let (Some(listed), Some(plain)) = (listed, plain) else { continue };
        assert_eq!(listed.doses, plain.doses);
        assert_eq!(listed.elements, plain.elements);
        assert_eq!((listed.ph, listed.ph_aired, listed.ec_ms_cm), (plain.ph, plain.ph_aired, plain.ec_ms_cm));
        assert!(plain.waters.is_empty() && (listed.waters[0].litres - 60.0).abs() < 1e-9);
    }
}

#[test]
fn too_little_water_is_refused_with_what_there_is() {
    let text = format!(
        "[tank]\nvolume = \"60 L\"\n[[water]]\nid = \"rain\"\non_hand = \"25 L\"\n[[water]]\nid = \"well\"\non_hand = \"30 L\"\n\
         {SHELF}[formula.asked]\nN = 90\n"
    );
    let bench = Bench::parse(&text, "short").expect("valid");
    let error = jobs::mix(&bench, "asked", &OPTIONS).expect_err("55 L for 60 L");
    assert_eq!((error.code(), error.exit_status()), ("not-enough-water", 1));
    let words = error.to_string();
    assert!(["60 L", "rain 25 L", "well 30 L"].iter().all(|said| words.contains(said)), "{words}");
    let enough = bench.with_tank(bloomsalt::quantity::liter(55.0));
    let mix = jobs::mix(&enough, "asked", &OPTIONS).expect("just enough");
    assert!((mix.waters[0].litres - 25.0).abs() < 1e-6 && (mix.waters[1].litres - 30.0).abs() < 1e-6);
}

/// A limit that only the scarce water keeps names the waters.
#[test]
fn a_limit_that_the_waters_do_not_allow_names_them() {
    let text = format!(
        "[tank]\nvolume = \"60 L\"\n[[water]]\nid = \"rain\"\non_hand = \"25 L\"\n[[water]]\nid = \"well\"\nCl = 90\nNa = 58\n\
         {SHELF}[formula.asked]\nN = 90\nCl = {{ max = 40 }}\n"
    );
    let error = jobs::mix(&Bench::parse(&text, "salty").expect("valid"), "asked", &OPTIONS).expect_err("52.5 ppm of Cl");
    let JobError::Conflict { limits, helps, .. } = &error else { panic!("{error}") };
    let kinds: Vec<String> = limits.iter().map(|limit| format!("{:?}", limit.kind)).collect();
    assert_eq!(kinds, ["AtMost", "Waters"], "{error}");
    // 35 L of 60 L are from the well
    assert!(helps.iter().any(|help| help.contains("52.5")), "{helps:?}");
}
