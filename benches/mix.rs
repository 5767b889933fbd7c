//! Time of a certified fit, of ten salts in whole steps, of a whole mix in process with and without new bottles, of a
//! thousand varied mixes, and of fits at 10, 20 and 40 salts.
//! `cargo bench`

use bloomsalt::bench::Bench;
use bloomsalt::catalogue::Catalogue;
use bloomsalt::fit::{Column, Flight, Ladder, Problem, ToWeigh, Want, solve, weigh};
use bloomsalt::jobs::{self, MixOptions};
use bloomsalt::matter::{Kind, Nutrient, Nutrients};
use bloomsalt::quantity::{Limits, liter, ppm_of};
use divan::{Bencher, black_box};

fn main() {
    divan::main();
}

/// A salt of these nutrients, as much as is wanted.
fn column(grams_per_gram: &Nutrients) -> Column {
    Column { ppm_per_g_per_l: grams_per_gram.scaled(1e3), most_g_per_l: None, cost_per_g: 1.0 }
}

/// The fit of a starter formula without the rest of a mix.
fn starter(formula: &str) -> Problem<'static> {
    let bench = Bench::starter();
    let formula = bench.formula(formula).expect("a starter formula");
    Problem {
        columns: bench
            .shelf
            .iter()
            .filter(|stock| bench.salt(stock).kind != Kind::Acid)
            .map(|stock| column(&bench.composition(stock).nutrients))
            .collect(),
        water_ppm: Nutrients::default(),
        wants: formula
            .wishes
            .iter()
            .map(|wish| Want {
                nutrient: wish.nutrient,
                target_ppm: wish.target.map(ppm_of),
                min_ppm: wish.min.map(ppm_of),
                max_ppm: wish.max.map(ppm_of),
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

#[divan::bench(args = ["growth", "push"])]
fn one_certified_fit(bencher: Bencher, formula: &str) {
    let problem = starter(formula);
    bencher.bench_local(|| solve(black_box(&problem)));
}

/// Ten salts in whole steps of 0.1 g from 2 g, 0.001 g below: rounding, local moves, branch and bound to the end or to the
/// limit of nodes. The times are of tanks in litres.
#[divan::bench(args = [60, 20, 6])]
fn weighable_mix_of_10_salts(bencher: Bencher, litres: u32) {
    let mut problem = starter("growth");
    let all = solve(&problem).expect("met");
    let used: Vec<usize> = (0..problem.columns.len()).filter(|&at| all.g_per_l[at] > 0.0).collect();
    assert!(used.len() >= 10, "{}", used.len());
    problem.columns = used[used.len() - 10..].iter().map(|&at| problem.columns[at].clone()).collect();
    let exact = solve(&problem).expect("solved");
    let scales = [Flight { step: 0.001, first: 5, last: 1999 }, Flight { step: 0.1, first: 20, last: 100_000 }];
    let ladders = vec![Ladder::new(scales.to_vec()); problem.columns.len()];
    let plus_minus = Nutrients::default();
    let to_weigh = ToWeigh {
        problem: &problem,
        exact: &exact,
        ladders: &ladders,
        litres: f64::from(litres),
        settled: &[],
        ph: None,
        plus_minus_ppm: &plus_minus,
    };
    bencher.bench_local(|| weigh(black_box(&to_weigh)));
}

/// The growth formula for ten litres with a scale of 0.1 g: bottles are proposed, and one that is made of another.
#[divan::bench]
fn a_mix_with_new_bottles(bencher: Bencher) {
    let text = bloomsalt::bench::STARTER.replacen("readability = \"0.001 g\"", "readability = \"0.1 g\"", 1);
    let text = text.replacen("trust = 0.2 ", "trust = 0.05 ", 1);
    let bench = Bench::parse(&text, "coarse").expect("valid").with_tank(liter(10.0));
    bencher.bench_local(|| jobs::mix(black_box(&bench), "growth", &MixOptions::default()));
}

#[divan::bench(args = ["growth", "push"])]
fn one_mix_in_process(bencher: Bencher, formula: &str) {
    let bench = Bench::starter();
    bencher.bench_local(|| jobs::mix(black_box(&bench), formula, &MixOptions::default()));
}

/// One speciation of the push solution, with its EC.
#[divan::bench]
fn one_speciation(bencher: Bencher) {
    use bloomsalt::solution::{Air, conductivity, speciate};
    let bench = Bench::starter();
    let catalogue = Catalogue::standard();
    let mix = jobs::mix(&bench, "push", &MixOptions::default()).expect("solved");
    let mut mmol = vec![0.0; catalogue.ions().rows().len()];
    for dose in &mix.doses {
        let salt = catalogue.salt(catalogue.find(dose.salt().expect("a salt")).expect("known"));
        for (ion, mol) in &salt.composition.ions {
            mmol[ion.index()] += 1e3 * mol * dose.grams_exact().unwrap_or(0.0) / mix.volume_l;
        }
    }
    let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
    bencher.bench_local(|| {
        let solution = speciate(catalogue.chemistry(), black_box(&totals), Air::Closed).expect("an equilibrium");
        conductivity(catalogue.chemistry(), &solution)
    });
}

/// Nitrogen from 36 to 136 ppm and potassium from 80 to 180 ppm.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn a_thousand_varied_mixes(bencher: Bencher) {
    let benches: Vec<Bench> = (0..1000)
        .map(|at| {
            let text = bloomsalt::bench::STARTER.replacen("N = 90 ", &format!("N = {} ", 36 + at / 10), 1);
            let text = text.replacen("K = 100\n", &format!("K = {}\n", 80 + at % 101), 1);
            Bench::parse(&text, "varied").expect("valid").with_tank(liter(60.0))
        })
        .collect();
    bencher.bench_local(|| {
        benches.iter().map(|bench| jobs::mix(bench, "growth", &MixOptions::default()).is_ok()).filter(|ok| *ok).count()
    });
}

/// The first so many salts of the table, for the growth formula.
#[divan::bench(args = [10, 20, 40])]
fn fit_by_salts(bencher: Bencher, salts: usize) {
    let kinds = |kind| matches!(kind, Kind::Salt | Kind::Chelate);
    let mut problem = starter("growth");
    let table = Catalogue::standard().salts().iter().filter(|salt| kinds(salt.kind));
    let mut columns: Vec<Column> = table.map(|salt| column(&salt.composition.nutrients)).collect();
    // alternate from both ends, so that a short shelf has traces too
    let mut mixed = Vec::new();
    while !columns.is_empty() && mixed.len() < salts {
        mixed.push(columns.remove(0));
        mixed.extend(columns.pop());
    }
    mixed.truncate(salts);
    assert!(mixed.iter().any(|column| column.ppm_per_g_per_l[Nutrient::N] > 0.0));
    problem.columns = mixed;
    bencher.bench_local(|| solve(black_box(&problem)));
}
