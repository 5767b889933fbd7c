//! The fit at the edges of what a bench file may say: every problem has an answer or limits that contradict each other.
#![allow(clippy::disallowed_methods, reason = "reads how many cases are asked for from the environment")]

use bloomsalt::catalogue::Catalogue;
use bloomsalt::fit::{Column, FitError, Limit, Problem, Proof, Want, solve};
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

/// A column of these ppm for each g/L, of which there is no end.
fn column(brings: &[(Nutrient, f64)]) -> Column {
    let mut ppm_per_g_per_l = Nutrients::default();
    for (nutrient, ppm) in brings {
        ppm_per_g_per_l[*nutrient] = *ppm;
    }
    Column { ppm_per_g_per_l, most_g_per_l: None, cost_per_g: 1.0 }
}

/// What is asked of these columns in pure water, no share, EC or pH among it.
fn plain(columns: Vec<Column>, wants: Vec<Want>) -> Problem<'static> {
    Problem {
        columns,
        water_ppm: Nutrients::default(),
        wants,
        ammonium_share: Limits::default(),
        ec: None,
        ph: None,
        sparing: Vec::new(),
        waters: Vec::new(),
        near: None,
    }
}

/// A level from below, from above and from both that contradicts itself by less than anyone can tell is met; by more it is a conflict.
#[test]
fn limits_that_contradict_by_rounding_alone_are_met() {
    for (apart, meets) in [(0.0, true), (3e-9, true), (8e-9, true), (1e-6, false), (0.01, false)] {
        let want =
            |nutrient, min, max| Want { nutrient, target_ppm: None, min_ppm: Some(min), max_ppm: Some(max), weight: 1.0 };
        let wants = vec![want(Nutrient::K, 100.0 * (1.0 + apart), 100.0), want(Nutrient::P, 20.0, 60.0)];
        let of = plain(vec![column(&[(Nutrient::K, 287.0), (Nutrient::P, 228.0)]), column(&[(Nutrient::K, 387.0)])], wants);
        match solve(&of) {
            Ok(found) => {
                let k = of.achieved_ppm(&found.g_per_l)[Nutrient::K];
                assert!(meets && (k - 100.0).abs() < 1e-5, "{apart}: {k}");
            }
            Err(FitError::Conflict(conflict)) => {
                assert!(!meets, "{apart}");
                assert_eq!(conflict.limits, [Limit::AtLeast(Nutrient::K), Limit::AtMost(Nutrient::K)], "{apart}");
            }
            Err(error) => panic!("{apart}: {error}"),
        }
    }
}

/// Potassium that comes with molybdenum, of which a thousandth is asked for, so that what is on hand is millions of times what
/// alone would meet that: it ends the dose all the same wherever potassium is to have more.
#[test]
fn what_is_on_hand_ends_a_dose_however_little_meets_one_of_its_targets() {
    let asked = |nutrient, ppm, weight| Want { nutrient, target_ppm: Some(ppm), min_ppm: None, max_ppm: None, weight };
    for (on_hand, used) in [(0.1, 0.1), (0.4, 0.4), (2.0, 0.5), (1e9, 0.5)] {
        let mut salt = column(&[(Nutrient::K, 400.0), (Nutrient::Mo, 5e5)]);
        salt.most_g_per_l = Some(on_hand);
        // molybdenum does not count for much
        let of = plain(vec![salt], vec![asked(Nutrient::K, 200.0, 1.0), asked(Nutrient::Mo, 1e-3, 1e-12)]);
        let found = solve(&of).expect("an answer");
        assert!((found.g_per_l[0] - used).abs() < 1e-6, "{on_hand}: {:?}", found.g_per_l);
    }
}

/// Complementary slackness, from the theory of linear programs: more of what stands between nothing and all there is changes the
/// misfit by nothing, more of what is left out makes it no smaller, and less of what is used up neither. A cost is judged by what
/// the column brings of everything that is priced, and by what all there is of it could change.
#[test]
fn reduced_costs_say_of_every_column_whether_more_would_help() {
    let catalogue = Catalogue::standard();
    let (mut between, mut at_an_end, mut limited) = (0, 0, 0);
    for seed in 0..1200 {
        let of = problem(&mut Random(0x5eed + seed), catalogue);
        let Ok(found) = solve(&of) else { continue };
        if found.proof != Proof::Proved || found.misfit > 100.0 {
            continue;
        }
        let prices = &found.shadow_prices;
        let of_limits = prices.per_limit.iter().map(|(limit, price)| match limit {
            Limit::AtLeast(nutrient) | Limit::AtMost(nutrient) => {
                let want = of.wants.iter().find(|want| want.nutrient == *nutrient).expect("asked");
                let level = want.target_ppm.or(if matches!(limit, Limit::AtLeast(_)) { want.min_ppm } else { want.max_ppm });
                (*nutrient, price / level.expect("stated"))
            }
            // a share is counted in nitrogen, and 10 ppm of it where none is asked for
            _ => (Nutrient::N, price / 1e-3),
        });
        let of_targets = of.wants.iter().zip(&prices.per_want);
        let priced: Vec<(Nutrient, f64)> = of_targets
            .filter_map(|(want, price)| Some((want.nutrient, price.abs() / want.target_ppm?)))
            .chain(of_limits)
            .collect();
        limited += usize::from(!prices.per_limit.is_empty());
        for (at, column) in of.columns.iter().enumerate().filter(|(at, _)| of.takes_part(*at)) {
            let (amount, cost) = (found.g_per_l[at], prices.per_column[at]);
            let size: f64 = priced.iter().map(|(nutrient, price)| price * column.ppm_per_g_per_l[*nutrient].abs()).sum();
            // and by the least amount that alone meets what is asked, in which the fit counts
            let levels = of.wants.iter().filter_map(|want| {
                let level = want.target_ppm.or(want.max_ppm).or(want.min_ppm)?;
                Some(level / column.ppm_per_g_per_l[want.nutrient].abs()).filter(|amount| amount.is_finite())
            });
            let of_all = column.most_g_per_l.filter(|most| *most > 0.0).map_or(0.0, |most| 1e-6 / most);
            let rounding = 1e-6 * size + 1e-8 / levels.fold(f64::INFINITY, f64::min) + of_all;
            let is_all = column.most_g_per_l.is_some_and(|most| amount >= most * (1.0 - 1e-6));
            assert!(is_all || cost >= -rounding, "{seed}: more of {at} would help: {cost}, of {size}");
            assert!(amount <= 0.0 || cost <= rounding, "{seed}: less of {at} would help: {cost}, of {size}");
            if amount > 0.0 && !is_all { between += 1 } else { at_an_end += 1 }
        }
    }
    assert!(between > 300 && at_an_end > 300 && limited > 20, "{between} {at_an_end} {limited}");
}
