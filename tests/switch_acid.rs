//! Tanks turned over where an acid is named: laws on random benches of hard water.
#![allow(clippy::disallowed_methods, reason = "reads how many cases are asked for from the environment")]

use std::fmt::Write as _;

use bloomsalt::bench::{Basis, Bench};
use bloomsalt::jobs::{self, Added, JobError, MixOptions, MixRecord, SwitchKind, SwitchOptions, SwitchRecord};
use bloomsalt::quantity::{Amount, gram, liter};
use bloomsalt::safety::Code;

use crate::random::Random;

const SALTS: [&str; 9] = [
    "calcium-nitrate-tetrahydrate",
    "ammonium-calcium-nitrate-decahydrate",
    "potassium-nitrate",
    "monopotassium-phosphate",
    "monoammonium-phosphate",
    "potassium-sulfate",
    "magnesium-sulfate-heptahydrate",
    "calcium-chloride-dihydrate",
    "magnesium-nitrate-hexahydrate",
];
const ACIDS: [&str; 5] = ["phosphoric-acid-10", "phosphoric-acid-75", "nitric-acid-60", "sulfuric-acid-35", "citric-acid"];
/// An acid of the grower's own: nitric acid of 38 %.
const OWN: &str = "[[product]]\nid = \"own-acid\"\ndensity = \"1.24 kg/L\"\nanalysis = { NO3-N = 8.45 }\nalkalinity_per_kg = \"-6.033 eq\"\n";

/// A bench of hard water with a formula of growth and one of push, and its acid.
fn bench(random: &mut Random) -> (String, String) {
    let litres = [4.0, 15.0, 40.0, 60.0, 200.0][random.below(5)];
    let mut text = format!("[tank]\nvolume = \"{litres} L\"\n[water]\n");
    let alkalinity = random.between(0.3, 5.0);
    let (calcium, magnesium) = (alkalinity * random.between(8.0, 20.0), alkalinity * random.between(1.0, 5.0));
    let _ = writeln!(text, "Ca = {calcium:.1}\nMg = {magnesium:.1}\nCl = {:.1}", random.between(2.0, 30.0));
    let _ = writeln!(text, "alkalinity = \"{alkalinity:.3} meq/L\"\npH = {:.1}", random.between(6.9, 8.1));
    let _ = writeln!(
        text,
        "[[scale]]\nreadability = \"{} g\"\n[[scale]]\nreadability = \"0.001 g\"",
        [0.1, 0.01][random.below(2)]
    );
    let _ = writeln!(text, "[syringe]\nstep = \"{} mL\"\ntrust = 0.2\n[shelf]", [0.01, 0.1][random.below(2)]);
    let count = 4 + random.below(5);
    for id in random.some(&SALTS, count) {
        let _ = writeln!(text, "{id} = {{}}");
    }
    let acid = if random.chance(0.4) { "own-acid" } else { ACIDS[random.below(ACIDS.len())] };
    if acid == "own-acid" {
        text.push_str(OWN);
    }
    let basis = if random.chance(0.5) { "fresh" } else { "aired" };
    let _ = writeln!(text, "[acid]\nsalt = \"{acid}\"\ntarget_pH = {:.1}\nbasis = \"{basis}\"", random.between(5.4, 6.4));
    for (name, n, p, k) in [("growth", 110.0, 22.0, 130.0), ("push", 45.0, 42.0, 180.0)] {
        let mut about = |ppm: f64| ppm * random.between(0.6, 1.4);
        let _ = writeln!(text, "[formula.{name}]\nN = {:.1}\nP = {:.1}\nK = {:.1}", about(n), about(p), about(k));
        let _ = writeln!(text, "Ca = {:.1}\nMg = {:.1}\nS = {{ max = 250 }}", about(85.0), about(25.0));
    }
    (text, acid.to_owned())
}

fn cases() -> u64 {
    std::env::var("BLOOMSALT_CASES").ok().and_then(|cases| cases.parse().ok()).unwrap_or(60)
}

/// What one mix would have to be for a tank of these grams in the bench's water, by `check`.
fn checked(bench: &Bench, doses: &[(&MixRecord, f64)]) -> MixRecord {
    let mut added: Vec<Added> = Vec::new();
    for (mix, share) in doses {
        for dose in mix.doses.iter().filter(|dose| dose.is_measured()) {
            let id = dose.salt().expect("no bottles here");
            let grams = dose.grams().expect("measured") * share;
            let salt = bench.catalogue.find(id).expect("known");
            added.push(Added { salt, amount: Amount::Mass(gram(grams)) });
        }
    }
    jobs::check(bench, &added, None).expect("a tank")
}

struct Turned {
    text: String,
    bench: Bench,
    growth: MixRecord,
    turned: SwitchRecord,
}

/// Every random bench that can be turned over from growth to push, and how many were refused.
fn turned() -> (Vec<Turned>, usize) {
    let (mut all, mut refused) = (Vec::new(), 0);
    for seed in 0..cases() {
        let mut random = Random(0x5eed + seed);
        let (text, _) = bench(&mut random);
        let bench = Bench::parse(&text, "hard.toml").unwrap_or_else(|error| panic!("{error}\n{text}"));
        let options = MixOptions { without_reasons: true, ..MixOptions::default() };
        let made = jobs::mix(&bench, "growth", &options).and_then(|growth| {
            let holding = jobs::mixed(&bench, "growth")?;
            let how = SwitchOptions {
                bucket: random.chance(0.2).then(|| liter(growth.volume_l / 6.5)),
                drain: random.chance(0.2).then(|| liter(growth.volume_l * random.unit())),
                ..SwitchOptions::default()
            };
            Ok((jobs::switch(&bench, "push", &holding, &how, &options)?, growth))
        });
        match made {
            // what is too little for the scales comes in a bottle, and is not summed here
            Ok((turned, growth)) => {
                let weighed = |mix: &MixRecord| mix.doses.iter().all(|dose| dose.bottle().is_none());
                if weighed(&growth) && weighed(&turned.after) {
                    all.push(Turned { text, bench, growth, turned });
                }
            }
            Err(JobError::Conflict { .. } | JobError::NothingToMixFrom { .. } | JobError::NothingMeasurable { .. }) => {
                refused += 1;
            }
            Err(error) => panic!("{error}\n{text}"),
        }
    }
    (all, refused)
}

#[test]
fn laws_of_a_switch_with_acid() {
    let (all, refused) = turned();
    assert!(all.len() * 2 > usize::try_from(cases()).expect("few"), "{} of {}, {refused} refused", all.len(), cases());
    let (mut dosed, mut wished) = (0, 0);
    for Turned { text, bench, growth, turned } in &all {
        // what is left of growth and what was weighed in, poured by hand into one tank, is the same tank
        let kept = 1.0 - turned.drain_l / growth.volume_l;
        let by_hand = checked(bench, &[(growth, kept), (&turned.after, 1.0)]);
        for element in &turned.after.elements {
            let own = by_hand.elements.iter().find(|e| e.element == element.element).map_or(0.0, |e| e.ppm);
            assert!((own - element.ppm).abs() <= 1e-9 * own.max(1.0), "{element:?}, by hand {own}\n{text}");
        }
        // and after days in air it has the same pH, however much of it had aired before
        let (Some(here), Some(there)) = (turned.after.ph_aired, by_hand.ph_aired) else { panic!("no pH\n{text}") };
        assert!((here - there).abs() < 0.02, "aired pH {here}, by hand {there}\n{text}");
        let acid = bench.acid.as_ref().expect("named");
        let has_acid =
            turned.after.doses.iter().filter_map(|dose| dose.salt()).any(|id| acid.salts.iter().any(|acid| acid == id));
        dosed += usize::from(has_acid);
        // the wish is met as far as whole steps of the syringe go, or it is told that it is not
        let told = |code: Code| turned.after.findings.iter().any(|finding| finding.code == code);
        let ph = if turned.after.acid.first().is_some_and(|acid| acid.basis == Basis::Aired) {
            turned.after.ph_aired
        } else {
            turned.after.ph
        };
        let over = ph.expect("known") - acid.target_ph;
        if over > 0.15 {
            assert!(
                told(Code::PhWishNotMet) || told(Code::PhInSteps) || told(Code::CannotBeWeighed),
                "pH over by {over}\n{text}"
            );
        } else {
            wished += 1;
        }
        judged(turned, text, growth.volume_l);
    }
    assert!(dosed * 2 > all.len() && wished * 2 > all.len(), "{dosed} take acid, {wished} of {} meet the wish", all.len());
}

/// The table never contradicts its labels.
fn judged(turned: &SwitchRecord, text: &str, full: f64) {
    let compared = crate::switch::compared(&turned.options);
    assert_eq!(turned.options.iter().filter(|option| option.told).count(), 1, "{text}");
    if turned.told == SwitchKind::Fixed {
        return;
    }
    let least = compared.iter().map(|(_, misfit)| *misfit).fold(f64::INFINITY, f64::min);
    let best = turned.options.iter().find(|option| option.told).expect("one");
    assert_eq!(best.kind, SwitchKind::BestFit, "{text}");
    let (first, _) = compared.iter().find(|(_, misfit)| *misfit <= least + 0.01).expect("one");
    assert_eq!(first.drain_l.to_bits(), best.drain_l.to_bits(), "{least} {best:?}\n{text}");
    for option in &turned.options {
        let apart = (option.drain_l - best.drain_l).abs();
        assert!(apart == 0.0 || apart >= 0.02 * full - 1e-9, "{} L beside {} L\n{text}", option.drain_l, best.drain_l);
    }
}

#[test]
fn least_waste_keeps_every_target_within_five_per_cent_or_what_the_best_fit_misses() {
    let mut seen = 0;
    for Turned { text, turned, .. } in &turned().0 {
        let options = &turned.options;
        let Some(waste) = options.iter().find(|option| option.kind == SwitchKind::LeastWaste) else { continue };
        // where the way told is the exact best as well
        let exact = |option: &jobs::SwitchOption| option.misfit_exact.unwrap_or(f64::INFINITY);
        let least = options.iter().map(exact).fold(f64::INFINITY, f64::min);
        let Some(best) = options.iter().find(|option| option.told && exact(option) <= least + 1e-9) else { continue };
        for (a, b) in waste.after.iter().zip(&best.after) {
            let Some(target) = a.target_ppm else { continue };
            let (miss, at_best) = ((a.ppm_exact - target) / target, (b.ppm_exact - target) / target);
            // the row of the pH moves with the charges, so a hundredth is allowed
            let moved = 0.012 * (1.0 + at_best.abs());
            let (low, high) = (at_best.min(-0.05) - moved, at_best.max(0.05) + moved);
            assert!((low..=high).contains(&miss), "{} misses by {miss}, {at_best} at the best fit\n{text}", a.element);
        }
        seen += 1;
    }
    assert!(seen > 5, "{seen}");
}

/// Urea that is in a tank cannot be kept out of it: no way of turning it over, and nothing that sets it right, measures nitric acid in.
/// An acid that is too little to measure in a smaller tank is left out of it, and not raised to what the syringe is trusted with.
#[test]
fn nitric_acid_never_meets_urea_and_is_never_raised() {
    let mut with_acid = 0;
    for seed in 0..40 {
        let random = &mut Random(seed ^ 0x0EA);
        let meq = random.between(2.0, 5.0);
        let acid = ["nitric-acid-60", "nitric-acid-38"][random.below(2)];
        let text = format!(
            "[tank]\nvolume = \"60 L\"\n[water]\nCa = {:.1}\nalkalinity = \"{meq:.2} meq/L\"\npH = 7.4\n[[scale]]\nreadability = \"0.01 g\"\n\
             [syringe]\nstep = \"0.2 mL\"\n[acid]\nsalt = \"{acid}\"\ntarget_pH = 6.0\n[shelf]\n{acid} = {{}}\npotassium-nitrate = {{}}\n\
             monopotassium-phosphate = {{}}\nmagnesium-sulfate-heptahydrate = {{}}\n[formula.growth]\nN = 90\nP = 18\nK = 100\nMg = 22\n",
            20.04 * meq
        );
        let bench = Bench::parse(&text, "test").unwrap_or_else(|error| panic!("{error}\n{text}"));
        let plain = MixOptions::default();
        let mix = jobs::mix(&bench, "growth", &plain).unwrap_or_else(|error| panic!("{error}\n{text}"));
        let nitric = |doses: &[jobs::Dose]| doses.iter().any(|dose| dose.acid && dose.is_measured());
        with_acid += usize::from(nitric(&mix.doses));
        let urea = Added {
            salt: bench.catalogue.find("urea").expect("known"),
            amount: Amount::Mass(gram(random.between(0.2, 4.0))),
        };
        let salt = bench.catalogue.find("potassium-nitrate").expect("known");
        let fed = Added { salt, amount: Amount::Mass(gram(10.0)) };
        let held = jobs::Content::of_recipe(&bench, &recipe_of(&bench, &[urea, fed])).expect("a content");
        let how = SwitchOptions { drain: Some(liter(random.between(0.0, 50.0))), ..SwitchOptions::default() };
        let turned = jobs::switch(&bench, "growth", &held, &how, &plain).unwrap_or_else(|error| panic!("{error}\n{text}"));
        // once all of it is drained there is none
        let holds = |option: &&jobs::SwitchOption| option.drain_l < 59.0;
        assert!(turned.options.iter().filter(holds).all(|option| !nitric(&option.doses)), "{text}");
        // to a tank in which it is half of what the syringe is trusted with, and a little more
        let drawn = mix.doses.iter().filter(|dose| dose.acid).find_map(jobs::Dose::millilitres);
        if let Some(drawn) = drawn {
            let to = liter(60.0 * 4.0 * random.between(0.5, 0.9) / drawn);
            let (scaled, _) = jobs::scale(&bench, false, &jobs::recipe(&bench, &mix), to).expect("scaled");
            assert!(!nitric(&scaled.mix.doses), "{text}\n{:#?}", scaled.mix.doses);
        }
    }
    assert!(with_acid > 20, "{with_acid}");
}

/// A recipe of these amounts.
fn recipe_of(bench: &Bench, doses: &[Added]) -> jobs::Recipe {
    let checked = jobs::check(bench, doses, None).expect("checked");
    jobs::recipe(bench, &checked)
}
