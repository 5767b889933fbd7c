//! The fit at the edges of what a bench file may say: every problem has an answer or limits that contradict each other.
#![allow(clippy::disallowed_methods, reason = "reads how many cases are asked for from the environment")]

use bloomsalt::catalogue::Catalogue;
use bloomsalt::fit::{Column, FitError, Problem, Proof, Want, solve};
use bloomsalt::matter::{NUTRIENTS, Nutrient, Nutrients};
use bloomsalt::quantity::Limits;

use crate::random::Random;

/// Evenly between two numbers by their logarithms.
fn spread(random: &mut Random, low: f64, high: f64) -> f64 {
    random.between(low.ln(), high.ln()).exp()
}

/// A problem anywhere within the table of bounds; the columns are salts of the table, or what a bottle of a tiny strength has.
fn problem(random: &mut Random, catalogue: &Catalogue) -> Problem<'static> {
    let salts = catalogue.salts();
    let litres = spread(random, 0.1, 1e5);
    let extreme = random.chance(0.6);
    let count = 1 + random.below(9);
    let columns: Vec<Column> = (0..count)
        .map(|_| {
            let of = salts[random.below(salts.len())].composition.nutrients.scaled(1e3);
            let thinned = if random.chance(0.2) { spread(random, 1e-7, 1.0) } else { 1.0 };
            let (least, most) = if extreme { (1e-6, 1e7) } else { (1.0, 5e3) };
            Column {
                ppm_per_g_per_l: of.scaled(thinned),
                most_g_per_l: random.chance(0.4).then(|| spread(random, least, most) / litres),
                cost_per_g: if random.chance(0.2) { 0.0 } else { spread(random, 0.01, 100.0) },
            }
        })
        .collect();
    let mut water_ppm = Nutrients::default();
    if random.chance(0.5) {
        for nutrient in NUTRIENTS.into_iter().filter(|nutrient| *nutrient != Nutrient::N && *nutrient != Nutrient::UreaN) {
            if random.chance(0.5) {
                water_ppm[nutrient] = spread(random, 1e-3, 150.0);
            }
        }
        water_ppm[Nutrient::N] = water_ppm[Nutrient::NitrateN] + water_ppm[Nutrient::AmmoniumN];
    }
    let (low, high) = if extreme { (1e-4, 5e3) } else { (0.02, 300.0) };
    let asked = 1 + random.below(8);
    let mut wants = Vec::new();
    for nutrient in random.some(&NUTRIENTS, asked) {
        if nutrient.is_nitrogen_form() && random.chance(0.7) {
            continue;
        }
        let target_ppm = random.chance(0.75).then(|| spread(random, low, high));
        let level = target_ppm.unwrap_or_else(|| spread(random, low, high));
        let min_ppm = random.chance(0.2).then(|| level * random.between(0.3, 1.0));
        let max_ppm = random.chance(0.35).then(|| level * random.between(1.0, 3.0));
        if target_ppm.is_some() || min_ppm.is_some() || max_ppm.is_some() {
            let weight = if random.chance(0.1) { spread(random, 0.01, 100.0) } else { 1.0 };
            wants.push(Want { nutrient, target_ppm, min_ppm, max_ppm, weight });
        }
    }
    let share = |random: &mut Random, chance| random.chance(chance).then(|| random.between(0.0, 0.4));
    let ammonium_share = Limits { min: share(random, 0.05), max: share(random, 0.3) };
    let mut problem = Problem {
        columns,
        water_ppm,
        wants,
        ammonium_share,
        ec: None,
        ph: None,
        sparing: Vec::new(),
        waters: Vec::new(),
        near: None,
    };
    // a tank that is drained: what it held against what is filled in
    if random.chance(0.3) {
        let mut held = Nutrients::default();
        for nutrient in NUTRIENTS.into_iter().filter(|nutrient| *nutrient != Nutrient::N) {
            held[nutrient] = if random.chance(0.6) { spread(random, low, high) } else { 0.0 };
        }
        held[Nutrient::N] = held[Nutrient::NitrateN] + held[Nutrient::AmmoniumN] + held[Nutrient::UreaN];
        let mut change = problem.water_ppm;
        change.add(&held, -1.0);
        problem.water_ppm = held;
        problem.columns.push(Column { ppm_per_g_per_l: change, most_g_per_l: Some(1.0), cost_per_g: 0.0 });
        problem.sparing = vec![count];
    }
    problem
}

#[test]
fn no_problem_ends_in_a_failure_of_the_fit() {
    let cases: u64 = std::env::var("BLOOMSALT_CASES").ok().and_then(|cases| cases.parse().ok()).unwrap_or(3000);
    let catalogue = Catalogue::standard();
    let (mut answered, mut contradict, mut proved, mut failed) = (0, 0, 0, Vec::new());
    for seed in 0..cases {
        let problem = problem(&mut Random(0xed6e + seed), catalogue);
        match solve(&problem) {
            Ok(solution) => {
                answered += 1;
                let achieved = problem.achieved_ppm(&solution.g_per_l);
                let broken = problem.broken_limits(&solution.g_per_l, &achieved, 1e-6);
                if !broken.is_empty() {
                    failed.push(format!("{seed}: {broken:?} do not hold"));
                }
                assert!((problem.misfit(&achieved) - solution.misfit).abs() <= 1e-9 * (1.0 + solution.misfit), "{seed}");
                proved += usize::from(solution.proof == Proof::Proved);
            }
            Err(FitError::Conflict(conflict)) => {
                contradict += 1;
                assert!(!conflict.limits.is_empty(), "{seed}");
            }
            Err(FitError::NothingToMixFrom) => {}
            Err(error) => failed.push(format!("{seed}: {error}")),
        }
    }
    assert!(failed.is_empty(), "{} of {cases}:\n{}", failed.len(), failed.join("\n"));
    assert!(proved * 1000 > answered * 998, "{proved} of {answered} proved");
    assert!(answered > contradict && contradict * 10 > answered, "{answered} answered, {contradict} contradict");
}
