//! Laws that hold for every bench, on random ones. The generators draw from the table of input bounds.
#![allow(clippy::disallowed_methods, reason = "random draws; nothing of them is printed")]

use bloomsalt::bench::Bench;
use bloomsalt::catalogue::Catalogue;
use bloomsalt::jobs::{self, Dosed, GoesIn, JobError, MixOptions, MixRecord};
use bloomsalt::matter::{Kind, NUTRIENTS, Nutrient};
use bloomsalt::quantity::{Bound, TANK_L, TARGET_PPM};
use bloomsalt::safety::Code;
use proptest::prelude::*;
use proptest::sample::subsequence;
use proptest::test_runner::{Config, RngSeed};

/// Deterministic; `BLOOMSALT_CASES` asks for more, as the long run in DEVELOPERS.md does.
#[allow(clippy::disallowed_methods, reason = "a test may be told to run longer")]
fn config(cases: u32) -> Config {
    let cases = std::env::var("BLOOMSALT_CASES").ok().and_then(|asked| asked.parse().ok()).unwrap_or(cases);
    Config { cases, rng_seed: RngSeed::Fixed(20_261_124), failure_persistence: None, ..Config::default() }
}

/// Log-uniform inside a bound.
fn inside(bound: Bound) -> impl Strategy<Value = f64> {
    (bound.low.ln()..bound.high.ln()).prop_map(move |log: f64| log.exp().clamp(bound.low, bound.high))
}

#[derive(Debug, Clone)]
struct Draw {
    shelf: Vec<String>,
    targets: Vec<(Nutrient, f64)>,
    limits: Vec<(Nutrient, f64, bool)>,
    share: Option<f64>,
    ec: Option<f64>,
    litres: f64,
    water: Vec<(Nutrient, f64)>,
}

/// Near the usual range of each nutrient, and one in ten anywhere that is allowed.
fn level(nutrient: Nutrient) -> impl Strategy<Value = f64> {
    let usual = match nutrient {
        Nutrient::Fe | Nutrient::Mn => 1.0,
        Nutrient::Zn | Nutrient::B | Nutrient::Cu => 0.2,
        Nutrient::Mo => 0.05,
        Nutrient::AmmoniumN => 10.0,
        _ => 60.0,
    };
    prop_oneof![9 => (0.2..5.0_f64).prop_map(move |times| usual * times), 1 => inside(TARGET_PPM)]
}

fn nutrients(count: std::ops::RangeInclusive<usize>) -> impl Strategy<Value = Vec<(Nutrient, f64)>> {
    // the forms of nitrogen depend on each other, so N alone is drawn
    let plain: Vec<Nutrient> = NUTRIENTS.into_iter().filter(|n| !n.is_nitrogen_form()).collect();
    subsequence(plain, count).prop_flat_map(|chosen| chosen.into_iter().map(|n| (Just(n), level(n))).collect::<Vec<_>>())
}

fn draws() -> impl Strategy<Value = Draw> {
    let ids: Vec<String> = Catalogue::standard().salts().iter().map(|salt| salt.id.clone()).collect();
    (
        subsequence(ids, 1..=25),
        nutrients(1..=11),
        proptest::collection::vec((nutrients(1..=1), any::<bool>()), 0..=2),
        proptest::option::weighted(0.3, 0.05..0.5_f64),
        proptest::option::weighted(0.2, 0.3..3.0_f64),
        inside(TANK_L),
        prop_oneof![2 => Just(Vec::new()).boxed(), 1 => nutrients(1..=5).boxed()],
    )
        .prop_map(|(shelf, targets, limits, share, ec, litres, water)| {
            let limits = limits
                .into_iter()
                .map(|(drawn, upper)| (drawn[0].0, drawn[0].1, upper))
                .filter(|(n, _, _)| targets.iter().all(|(targeted, _)| targeted != n))
                .collect();
            Draw { shelf, targets, limits, share, ec, litres, water }
        })
}

fn text(draw: &Draw) -> String {
    use std::fmt::Write as _;
    let mut text = format!("[tank]\nvolume = \"{} L\"\n[water]\n", draw.litres);
    for (nutrient, ppm) in &draw.water {
        let _ = writeln!(text, "{nutrient} = {}", ppm / 10.0);
    }
    text.push_str("[shelf]\n");
    for id in &draw.shelf {
        let _ = writeln!(text, "{id} = {{}}");
    }
    text.push_str("[formula.drawn]\n");
    for (nutrient, ppm) in &draw.targets {
        let _ = writeln!(text, "{nutrient} = {ppm}");
    }
    let mut seen = Vec::new();
    for (nutrient, ppm, upper) in &draw.limits {
        if !seen.contains(nutrient) {
            seen.push(*nutrient);
            let _ = writeln!(text, "{nutrient} = {{ {} = {ppm} }}", if *upper { "max" } else { "min" });
        }
    }
    if let Some(share) = draw.share {
        let _ = writeln!(text, "ammonium_share = {{ max = {share} }}");
    }
    if let Some(ec) = draw.ec {
        let _ = writeln!(text, "EC = {{ max = \"{ec} mS/cm\" }}");
    }
    text
}

fn bench(draw: &Draw) -> Bench {
    Bench::parse(&text(draw), "drawn").unwrap_or_else(|error| panic!("{error}"))
}

/// The mix, or nothing when the request cannot be met. A failure of our own fails the test.
fn mix(draw: &Draw) -> Option<MixRecord> {
    match jobs::mix(&bench(draw), "drawn", &MixOptions::default()) {
        Ok(mix) => Some(mix),
        Err(JobError::Conflict { .. } | JobError::NothingToMixFrom { .. } | JobError::NothingMeasurable { .. }) => None,
        Err(error) => panic!("{error}\n{}", text(draw)),
    }
}

fn grams(mix: &MixRecord) -> Vec<(String, f64)> {
    let mut grams: Vec<(String, f64)> =
        mix.doses.iter().filter_map(|dose| Some((dose.salt()?.to_owned(), dose.grams_exact()?))).collect();
    grams.sort_by(|a, b| a.0.cmp(&b.0));
    grams
}

/// Grams of every salt in so many millilitres of a bottle, by the recipe that the report prints.
fn in_bottle(mix: &MixRecord, id: &str, millilitres: f64) -> Vec<(String, f64)> {
    let bottle = mix.helpers.iter().find(|helper| helper.id == id).expect("listed");
    let share = millilitres / bottle.volume_ml;
    let mut salts = Vec::new();
    for of in &bottle.made_of {
        match (&of.salt, &of.helper) {
            (Some(salt), _) => {
                let density =
                    || Catalogue::standard().salt(Catalogue::standard().find(salt).expect("known")).density_kg_per_l;
                let grams = of.grams.unwrap_or_else(|| of.millilitres.expect("drawn") * density().expect("a liquid"));
                salts.push((salt.clone(), grams * share));
            }
            (None, Some(other)) => salts.extend(in_bottle(mix, other, of.millilitres.expect("drawn") * share)),
            (None, None) => panic!("nothing goes in"),
        }
    }
    salts
}

fn near(a: f64, b: f64, relative: f64) -> bool {
    (a - b).abs() <= relative * a.abs().max(b.abs()) + 1e-12
}

proptest! {
    #![proptest_config(config(120))]

    /// What is in the tank is what the salts and the water brought, to 1e-9.
    #[test]
    fn mass_balance_closes(draw in draws()) {
        let Some(mix) = mix(&draw) else { return Ok(()) };
        let (catalogue, bench) = (Catalogue::standard(), bench(&draw));
        for element in &mix.elements {
            let nutrient = Nutrient::parse(&element.element).expect("known");
            let brought = |grams: &dyn Fn(&jobs::Dose) -> Vec<(String, f64)>| -> f64 {
                let salts = mix.doses.iter().flat_map(grams);
                let milligrams: f64 = salts.map(|(id, grams)| {
                    let salt = catalogue.salt(catalogue.find(&id).expect("known"));
                    1e3 * grams * salt.composition.nutrients[nutrient]
                }).sum();
                milligrams / mix.volume_l + bench.water.nutrients[nutrient]
            };
            let weighed = |dose: &jobs::Dose| match &dose.what {
                Dosed::Salt { id, .. } => vec![(id.clone(), dose.grams().unwrap_or(0.0))],
                Dosed::Bottle { id, drawn: Some(drawn), .. } => in_bottle(&mix, id, drawn.millilitres),
                _ => Vec::new(),
            };
            let exact = |dose: &jobs::Dose| dose.salt().map(|id| (id.to_owned(), dose.grams_exact().unwrap_or(0.0))).into_iter().collect();
            prop_assert!(near(brought(&weighed), element.ppm, 1e-9), "{}", element.element);
            prop_assert!(near(brought(&exact), element.ppm_exact, 1e-9), "{}", element.element);
        }
    }

    /// The stated limits hold in the exact mix, EC within 1e-4.
    #[test]
    fn stated_limits_are_never_broken(draw in draws()) {
        let Some(mix) = mix(&draw) else { return Ok(()) };
        for element in &mix.elements {
            let slack = 1e-7 * element.ppm_exact.max(1.0);
            prop_assert!(element.max_ppm.is_none_or(|max| element.ppm_exact <= max + slack), "{}", element.element);
            prop_assert!(element.min_ppm.is_none_or(|min| element.ppm_exact >= min - slack), "{}", element.element);
        }
        // a thousand times the tank: rounding is then no longer to be seen in EC
        if let Some(limit) = draw.ec {
            let large = jobs::mix(&bench(&Draw { litres: 1e5, ..draw.clone() }), "drawn", &MixOptions::default()).expect("solved before");
            prop_assert!(large.ec_ms_cm <= limit * 1.001 || large.elements.iter().all(|e| e.ppm < 1e-3), "{} of {limit}", large.ec_ms_cm);
        }
    }

    /// Twice the tank, twice the grams; the concentrations do not know the tank.
    #[test]
    fn double_volume_is_double_grams(draw in draws()) {
        let half = Draw { litres: draw.litres.min(5e4), ..draw };
        let double = Draw { litres: 2.0 * half.litres, ..half.clone() };
        let (Some(one), Some(two)) = (mix(&half), mix(&double)) else { return Ok(()) };
        prop_assert_eq!(grams(&one).len(), grams(&two).len());
        for ((id, one), (other, two)) in grams(&one).iter().zip(grams(&two)) {
            prop_assert_eq!(id, &other);
            prop_assert!(near(2.0 * one, two, 1e-7), "{id}: {one} and {two}");
        }
    }

    /// A salt more on the shelf never makes the fit worse. Without an EC limit: with one the optimum is local.
    #[test]
    fn another_salt_never_hurts(draw in draws(), more in 0_usize..56) {
        let draw = Draw { ec: None, ..draw };
        let Some(before) = mix(&draw) else { return Ok(()) };
        let all = Catalogue::standard().salts();
        let mut shelf = draw.shelf.clone();
        shelf.push(all[more % all.len()].id.clone());
        shelf.sort();
        shelf.dedup();
        let after = mix(&Draw { shelf, ..draw }).expect("more salts cannot make limits contradict");
        let (before, after) = (before.misfit_exact.expect("fitted"), after.misfit_exact.expect("fitted"));
        prop_assert!(after <= before * (1.0 + 1e-6) + 1e-6, "{before} to {after}");
    }

    /// Asking for what a mix gives returns a mix that gives it: grams to ppm to grams.
    #[test]
    fn what_a_mix_gives_can_be_asked_for(draw in draws()) {
        let Some(mix_one) = mix(&draw) else { return Ok(()) };
        let targets: Vec<(Nutrient, f64)> = mix_one.elements.iter()
            .map(|e| (Nutrient::parse(&e.element).expect("known"), e.ppm_exact))
            .filter(|(n, ppm)| !n.is_nitrogen_form() && (TARGET_PPM.low..=TARGET_PPM.high).contains(ppm))
            .collect();
        if targets.is_empty() { return Ok(()) }
        let again = mix(&Draw { targets, limits: Vec::new(), share: draw.share, ec: None, ..draw.clone() }).expect("reachable");
        let misfit = again.misfit_exact.expect("fitted");
        prop_assert!(misfit < 1e-6, "{misfit}");
    }

    /// Acids, hydroxides and carbonates never enter by themselves; silicates only for silicon; and every salt that
    /// enters brings something that is asked for (or nitrogen, where its share is limited).
    #[test]
    fn nothing_enters_unasked(draw in draws()) {
        let Some(mix) = mix(&draw) else { return Ok(()) };
        let catalogue = Catalogue::standard();
        let asked: Vec<Nutrient> = draw.targets.iter().map(|(n, _)| *n)
            .chain(draw.limits.iter().filter(|(_, _, upper)| !upper).map(|(n, _, _)| *n))
            .chain(draw.share.map(|_| Nutrient::N))
            .collect();
        for id in mix.doses.iter().filter_map(|dose| dose.salt()) {
            let salt = catalogue.salt(catalogue.find(id).expect("known"));
            prop_assert!(!matches!(salt.kind, Kind::Acid | Kind::Base), "{}", salt.id);
            prop_assert!(salt.kind != Kind::Silicate || asked.contains(&Nutrient::Si), "{}", salt.id);
            prop_assert!(asked.iter().any(|n| salt.composition.nutrients[*n] > 0.0), "{}", salt.id);
        }
    }

    /// A dose is nothing, or at least what the instrument can be trusted with, in whole steps.
    #[test]
    fn doses_are_whole_trusted_steps(draw in draws()) {
        let Some(mix) = mix(&draw) else { return Ok(()) };
        for dose in &mix.doses {
            match &dose.what {
                _ if !dose.is_measured() => prop_assert!(mix.findings.iter().any(|f| f.code == Code::CannotBeWeighed)),
                Dosed::Bottle { drawn: Some(drawn), .. } | Dosed::Salt { goes_in: GoesIn::Drawn { drawn, .. }, .. } => {
                    let ml = drawn.millilitres;
                    prop_assert!(ml >= 10.0 - 1e-9 && (ml * 2.0 - (ml * 2.0).round()).abs() < 1e-6 * ml);
                }
                Dosed::Salt { goes_in: GoesIn::Weighed { grams, scale_g: Some(step), .. }, .. } => {
                    let steps = grams / step;
                    prop_assert!((steps - steps.round()).abs() < 1e-6 * steps.max(1.0), "{grams} g in {step} g steps");
                    prop_assert!(steps > 19.5, "{grams} g on a {step} g scale");
                }
                other => prop_assert!(false, "{other:?}"),
            }
        }
    }
}

mod order {
    use bloomsalt::fit::{Column, Problem, Want, solve};
    use bloomsalt::matter::Nutrients;
    use bloomsalt::quantity::Limits;
    use bloomsalt::quantity::ppm_of;

    use super::*;

    fn problem(bench: &Bench, order: &[usize]) -> Problem<'static> {
        let formula = bench.formula("drawn").expect("drawn");
        Problem {
            columns: order
                .iter()
                .map(|&at| Column {
                    ppm_per_g_per_l: bench.composition(&bench.shelf[at]).nutrients.scaled(1e3),
                    most_g_per_l: None,
                    cost_per_g: 1.0,
                })
                .collect(),
            water_ppm: Nutrients::default(),
            wants: formula
                .wishes
                .iter()
                .map(|wish| Want {
                    nutrient: wish.nutrient,
                    target_ppm: wish.target.map(ppm_of),
                    min_ppm: None,
                    max_ppm: None,
                    weight: wish.weight,
                })
                .collect(),
            ammonium_share: Limits { min: None, max: formula.ammonium_share.max },
            ec: None,
            ph: None,
            sparing: Vec::new(),
            waters: Vec::new(),
            near: None,
        }
    }

    proptest! {
        #![proptest_config(config(120))]

        /// The order of the salts decides ties and nothing else: every wish comes to the same.
        #[test]
        fn salt_order_is_irrelevant(draw in draws()) {
            let bench = bench(&Draw { limits: Vec::new(), ec: None, ..draw });
            let forward: Vec<usize> = (0..bench.shelf.len()).collect();
            let backward: Vec<usize> = forward.iter().rev().copied().collect();
            match (solve(&problem(&bench, &forward)), solve(&problem(&bench, &backward))) {
                (Ok(a), Ok(b)) => {
                    for (one, other) in a.stages.iter().zip(&b.stages) {
                        prop_assert!((one.value - other.value).abs() <= 1e-6 * (1.0 + one.value.abs()), "{one:?} {other:?}");
                    }
                }
                (a, b) => prop_assert!(a.is_err() && b.is_err(), "{a:?}\n{b:?}"),
            }
        }

        /// Less salt in the same water conducts less.
        #[test]
        fn dilution_lowers_ec(draw in draws(), times in 0.1..0.9_f64) {
            use bloomsalt::solution::{Air, conductivity, speciate};
            use uom::si::electrical_conductivity::siemens_per_meter;
            let catalogue = Catalogue::standard();
            let mut total = vec![0.0; catalogue.ions().rows().len()];
            for (id, (_, ppm)) in draw.shelf.iter().zip(draw.targets.iter().cycle()) {
                let salt = catalogue.salt(catalogue.find(id).expect("known"));
                for (ion, mol) in &salt.composition.ions {
                    total[ion.index()] += mol * ppm.min(200.0);
                }
            }
            let ec = |factor: f64| {
                let scaled: Vec<f64> = total.iter().map(|c| c * factor).collect();
                let totals = catalogue.chemistry().totals(catalogue.ions(), &scaled);
                let solution = speciate(catalogue.chemistry(), &totals, Air::Closed).expect("an equilibrium");
                conductivity(catalogue.chemistry(), &solution).get::<siemens_per_meter>()
            };
            let full = ec(1.0);
            prop_assert!(full.is_finite() && full >= 0.0);
            // under 10 uS/cm the water's own ions decide
            prop_assert!(ec(times) < full || full < 1e-3, "{} at {times} of {full}", ec(times));
        }
    }
}

/// Where nothing can be measured, every dose is under what the scale can be trusted with, and what the refusal names would do.
#[test]
fn nothing_measurable_names_what_would_do() {
    let refused = std::cell::Cell::new(0);
    let law = |draw: Draw| {
        let asked = |litres: f64, step: f64| {
            let text = text(&Draw { litres, ..draw.clone() });
            let text = format!("{text}\n[[scale]]\nreadability = \"{step} g\"\n");
            jobs::mix(&Bench::parse(&text, "bench.toml").expect("a good bench"), "drawn", &MixOptions::default())
        };
        let litres = draw.litres.min(20.0);
        if let Err(JobError::NothingMeasurable { doses, tank_l, scale_g, .. }) = asked(litres, 20.0) {
            refused.set(refused.get() + 1);
            assert!(!doses.is_empty() && doses.iter().all(|of| of.amount < of.smallest));
            let does = |litres, step| !matches!(asked(litres, step), Err(JobError::NothingMeasurable { .. }));
            assert!(tank_l.is_none_or(|tank| does(tank, 20.0)), "{tank_l:?}\n{}", text(&draw));
            assert!(scale_g.is_none_or(|step| does(litres, step)), "{scale_g:?}\n{}", text(&draw));
        }
    };
    proptest::test_runner::TestRunner::new(config(60))
        .run(&draws(), |draw| {
            law(draw);
            Ok(())
        })
        .expect("the law holds");
    assert!(refused.get() > 5, "{}", refused.get());
}

/// A bench of bags and a kitchen scale, 15 L: each dose by hand is under the 20 g that a scale of 1 g is trusted with.
#[test]
fn bags_and_a_kitchen_scale() {
    let bench = Bench::parse(include_str!("cases/label-bags.toml"), "bench.toml").expect("a good bench");
    let error = jobs::mix(&bench, "growth", &MixOptions::default()).expect_err("nothing can be measured");
    assert_eq!((error.code(), error.exit_status()), ("nothing-measurable", 1));
    // 15 L x 20 g / 0.985 g of the bag of which least is needed, and 0.985 g x 0.05 is a step of 0.05 g
    let JobError::NothingMeasurable { tank_l: Some(tank), scale_g: Some(step), syringe_ml: None, .. } = error else {
        panic!("{error:?}")
    };
    assert!((305.0..=320.0).contains(&tank) && (step - 0.01).abs() < 1e-12, "{tank} {step}");
}
