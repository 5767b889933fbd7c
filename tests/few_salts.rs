//! Few salts: one more that is allowed never makes the mix fit worse, whatever bottles and acids are on the bench; few that come as
//! close do so as dosed; and leaving out one by one comes no closer.
#![allow(clippy::disallowed_methods, reason = "random draws; nothing of them is printed")]

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, JobError, MixOptions, MixRecord, Prefer};
use bloomsalt::matter::Kind;
use bloomsalt::safety::Code;

use crate::random::Random;
use crate::random::benches::USUAL;
use crate::waters::cases;

/// With an acid, whose mean charges move with the mix, and under a limit of EC a choice is the best found and not proved.
const NEAR: f64 = 0.01;
const MOST: usize = 11;

/// Hard water, and so many acids to meet it with.
fn sour(random: &mut Random, acids: usize) -> String {
    let litres = [2.0, 10.0, 60.0, 100.0][random.below(4)];
    let (ca, mg, meq) = (random.between(20.0, 70.0), random.between(1.0, 9.0), random.between(0.8, 4.0));
    let kinds = [
        ["phosphoric-acid-10", "phosphoric-acid-75", "phosphoric-acid-85"],
        ["nitric-acid-60", "nitric-acid-60", "nitric-acid-60"],
        ["sulfuric-acid-35", "sulfuric-acid-35", "sulfuric-acid-35"],
    ];
    let of: Vec<&str> = random.some(&kinds, acids).into_iter().map(|kind| kind[random.below(3)]).collect();
    let basis = ["fresh", "aired"][random.below(2)];
    format!(
        "[tank]\nvolume = \"{litres} L\"\n[water]\nCa = {ca:.1}\nMg = {mg:.1}\nalkalinity = \"{meq:.2} meq/L\"\npH = 7.4\n\
         [syringe]\nstep = \"{} mL\"\n[acid]\nsalt = {of:?}\ntarget_pH = {:.1}\nbasis = \"{basis}\"\n",
        [0.1, 0.5][random.below(2)],
        random.between(5.6, 6.4),
    )
}

/// A shelf and a formula of large elements, for which acids are cheap nutrients.
fn large(random: &mut Random) -> String {
    const LARGE: [&str; 11] = [
        "potassium-nitrate",
        "magnesium-sulfate-heptahydrate",
        "monoammonium-phosphate",
        "monopotassium-phosphate",
        "potassium-sulfate",
        "sodium-nitrate",
        "calcium-nitrate-tetrahydrate",
        "ammonium-sulfate",
        "ammonium-nitrate",
        "calcium-chloride-dihydrate",
        "magnesium-nitrate-hexahydrate",
    ];
    let mut text = "[shelf]\n".to_owned();
    for id in LARGE.iter().filter(|_| random.chance(0.8)) {
        let _ = writeln!(text, "{id} = {{}}");
    }
    text.push_str("[formula.asked]\n");
    for (element, usual) in [("N", 80.0), ("P", 20.0), ("K", 100.0), ("Ca", 70.0), ("Mg", 15.0), ("S", 45.0)] {
        if random.chance(0.85) {
            let _ = writeln!(text, "{element} = {:.4}", usual * random.between(0.6, 1.5));
        }
    }
    text
}

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
    mixed(bench, MixOptions { salts_at_most, ..MixOptions::default() })
}

fn mixed(bench: &Bench, options: MixOptions) -> Option<MixRecord> {
    let options = MixOptions { without_reasons: true, ..options };
    match jobs::mix(bench, "asked", &options) {
        Ok(mix) => Some(mix),
        Err(
            JobError::Conflict { .. }
            | JobError::NothingToMixFrom { .. }
            | JobError::NothingMeasurable { .. }
            | JobError::TooFewSalts { .. },
        ) => None,
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

/// Holds a bench to both laws; how often one more salt came closer.
fn hold(text: &str) -> u32 {
    let bench = Bench::parse(text, "drawn").unwrap_or_else(|error| panic!("{error}\n{text}"));
    let mut gained = 0;
    let misfit = |mix: &MixRecord| mix.misfit_exact.expect("fitted");
    let mut least = f64::INFINITY;
    for most in 1..=MOST {
        let Some(mix) = mix(&bench, Some(most).filter(|most| *most < MOST)).filter(keeps_the_wish) else { continue };
        let misfit = misfit(&mix);
        assert!(misfit <= least + NEAR, "{misfit} with {most} salts, {least} with fewer\n{text}");
        gained += u32::from(misfit < least - NEAR);
        least = least.min(misfit);
    }
    let few = mixed(&bench, MixOptions { prefer: Some(Prefer::Few), ..MixOptions::default() });
    if let (Some(plain), Some(few)) = (mix(&bench, None), few)
        && keeps_the_wish(&plain)
    {
        assert!(misfit(&few) <= misfit(&plain) + NEAR + 1e-6, "{} for {}\n{text}", misfit(&few), misfit(&plain));
    }
    gained
}

/// Of several acids one may be chosen for the salts that it spares, though too little of it goes in to be measured.
#[test]
fn few_salts_count_on_no_acid_that_is_not_dosed() {
    let water = "Ca = 62\nMg = 7\nNa = 14\nCl = 22\nSO4 = 38\n";
    let salts = |ids: &[&str]| ids.iter().map(|id| format!("{id} = {{}}\n")).collect::<Vec<_>>().concat();
    let spared = format!(
        "[tank]\nvolume = \"100 L\"\n[water]\n{water}alkalinity = \"155 mg/L CaCO3\"\npH = 7.5\n[shelf]\n{}[acid]\n\
         salt = [\"phosphoric-acid-75\", \"sulfuric-acid-35\"]\ntarget_pH = 6.2\nbasis = \"aired\"\n[formula.asked]\nN = 59\n\
         P = 15.5\nK = 85\nCa = 62\nMg = 14\n",
        salts(&[
            "potassium-nitrate",
            "magnesium-sulfate-heptahydrate",
            "monoammonium-phosphate",
            "potassium-sulfate",
            "sodium-nitrate",
            "calcium-nitrate-tetrahydrate",
        ])
    );
    let shared = format!(
        "[tank]\nvolume = \"60 L\"\n[water]\n{water}HCO3 = 186\npH = 7.4\n[syringe]\nstep = \"0.1 mL\"\n[shelf]\n{}[acid]\n\
         salt = [\"phosphoric-acid-85\", \"nitric-acid-60\"]\ntarget_pH = 6\n[formula.asked]\nN = 80\nP = 20.4\nK = 91.8\n\
         Ca = 75.5\nMg = 12.5\nS = 51.1\nammonium_share = {{ max = 0.05 }}\n",
        salts(&[
            "ammonium-sulfate",
            "calcium-chloride-dihydrate",
            "magnesium-sulfate-heptahydrate",
            "calcium-nitrate-tetrahydrate",
            "potassium-sulfate",
            "sodium-nitrate",
            "monoammonium-phosphate",
            "potassium-nitrate",
            "ammonium-nitrate",
        ])
    );
    hold(&spared);
    hold(&shared);
    let gained: u32 = (0..cases(30))
        .map(|seed| {
            let random = &mut Random(seed as u64 ^ 0x50ed);
            hold(&(sour(random, 1 + seed % 3) + &large(random)))
        })
        .sum();
    assert!(gained > 50, "{gained} closer");
}

/// The misfit of a shelf of these salts.
fn of_shelf(ids: &[&str], formula: &str, salts_at_most: Option<usize>) -> (f64, Vec<String>) {
    let shelf = ids.iter().map(|id| format!("{id} = {{}}\n")).collect::<Vec<_>>().concat();
    let text = format!("[tank]\nvolume = \"100 L\"\n[shelf]\n{shelf}{formula}");
    let bench = Bench::parse(&text, "drawn").unwrap_or_else(|error| panic!("{error}\n{text}"));
    let mix = mix(&bench, salts_at_most).expect("no limits");
    // what goes in, by itself or in a bottle
    let used = mix.doses.iter().filter(|dose| dose.grams_exact().is_some_and(|grams| grams > 0.0));
    (mix.misfit_exact.expect("fitted"), used.filter_map(|dose| dose.salt().map(str::to_owned)).collect())
}

/// Leaving out one by one, each time the one that is missed least.
fn one_by_one<'i>(ids: &[&'i str], formula: &str, most: usize) -> f64 {
    let mut kept = ids.to_vec();
    loop {
        let (misfit, used) = of_shelf(&kept, formula, None);
        // what is not used is missed by nobody
        kept.retain(|id| used.iter().any(|other| other == id));
        if kept.len() <= most {
            return misfit;
        }
        let without = |at: usize| -> Vec<&'i str> {
            kept.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, id)| *id).collect()
        };
        let misfits: Vec<f64> = (0..kept.len()).map(|at| of_shelf(&without(at), formula, None).0).collect();
        let least = (0..kept.len()).min_by(|a, b| misfits[*a].total_cmp(&misfits[*b])).expect("some");
        kept.remove(least);
    }
}

#[test]
fn few_of_many_salts_fit_no_worse_than_leaving_out_one_by_one() {
    let starter = Bench::starter();
    let formula = "[formula.asked]\nN = 90\nP = 18\nK = 100\nCa = 75\nMg = 22\nS = 29\nFe = 1.5\nMn = 0.4\nZn = 0.2\nB = 0.3\nCu = 0.05\n\
                   Mo = 0.05\n";
    let all: Vec<&str> = (starter.catalogue.salts().iter())
        .filter(|salt| matches!(salt.kind, Kind::Salt | Kind::Chelate))
        .map(|salt| salt.id.as_str())
        .collect();
    let mut closer = 0;
    for seed in 0..cases(8) {
        let random = &mut Random(seed as u64 ^ 0x5a17);
        let mut ids = random.some(&all, 14 + 3 * (seed % 8));
        ids.extend(USUAL.iter().filter(|id| all.contains(id)));
        ids.sort_unstable();
        ids.dedup();
        let mut fewer = f64::INFINITY;
        for most in 7..=10 {
            let (misfit, _) = of_shelf(&ids, formula, Some(most));
            let seeded = one_by_one(&ids, formula, most);
            // of two that are missed as little either may go first
            assert!(misfit <= seeded + NEAR, "{most} of {ids:?}: {misfit}, one by one {seeded}");
            assert!(misfit <= fewer + 1e-6, "{most} of {ids:?}: {misfit}, with fewer {fewer}");
            closer += u32::from(misfit < seeded - NEAR);
            fewer = fewer.min(misfit);
        }
    }
    assert!(closer > 3, "{closer} closer than one by one");
    // from a table as long as there is one comes an answer, however few may go in
    let mut fewer = f64::INFINITY;
    for most in [1, 2, 5, 9] {
        let (misfit, used) = of_shelf(&all, formula, Some(most));
        assert!(used.len() <= most && misfit < fewer, "{most}: {misfit} with {used:?}");
        fewer = misfit;
    }
}
