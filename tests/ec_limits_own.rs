//! Limits of EC by the program's own chemistry: a search that knows only the EC of `check` starts at the exact mix and far from
//! it, follows slopes by differences and exchanges salts for one another, and finds nothing clearly closer under the same limit.
#![allow(clippy::disallowed_methods, reason = "a test may be told to run longer")]
#![allow(clippy::cast_precision_loss, reason = "small counts")]

use std::fmt::Write;

use bloomsalt::bench::Bench;
use bloomsalt::fit::{Column, Conducts, EcLimits, Problem, Want, phi, solve};
use bloomsalt::jobs::{self, Added, MixOptions, MixRecord};
use bloomsalt::matter::{Nutrient, Nutrients};
use bloomsalt::quantity::{Amount, Limits, gram};

use crate::random::Random;

/// What an exact mix may be beyond its limit of EC, relative.
const EXACT: f64 = 1e-4;
/// A misfit that is this much smaller, relative and absolute, is clearly closer.
const CLEARLY: (f64, f64) = (0.01, 1e-3);
/// Exchanges tried on one bench, and how many of them at the most are asked for their EC.
const TRIED: usize = 8_000;
const ASKED: usize = 160;
/// Tangents followed from a start, and starts far from the exact mix.
const STEPS: usize = 8;
const FAR: usize = 3;
/// Grams of a salt on its own that tell what a gram of it brings.
const ALONE: f64 = 10.0;

const SALTS: [&str; 12] = [
    "calcium-nitrate-tetrahydrate",
    "potassium-nitrate",
    "monopotassium-phosphate",
    "potassium-sulfate",
    "potassium-chloride",
    "magnesium-sulfate-heptahydrate",
    "magnesium-nitrate-hexahydrate",
    "monoammonium-phosphate",
    "ammonium-nitrate",
    "calcium-chloride-dihydrate",
    "calcium-sulfate-dihydrate",
    "urea",
];
const TARGETS: [(&str, f64, f64); 6] =
    [("N", 50.0, 180.0), ("P", 12.0, 50.0), ("K", 60.0, 300.0), ("Ca", 40.0, 140.0), ("Mg", 12.0, 60.0), ("S", 15.0, 90.0)];
const TAP: &str = "[water]\nCa = 48\nMg = 7\nNa = 14\nCl = 21\nSO4 = 30\nalkalinity = \"120 mg/L CaCO3\"\npH = 7.6\n";

fn bench(text: &str) -> Bench {
    Bench::parse(text, "bench.toml").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn mixed(bench: &Bench, formula: &str) -> MixRecord {
    let options = MixOptions { without_reasons: true, ..MixOptions::default() };
    jobs::mix(bench, formula, &options).unwrap_or_else(|error| panic!("{formula}: {error}"))
}

/// EC along a tangent.
struct Tangent {
    at_zero: f64,
    slopes: Vec<f64>,
}

impl Conducts for Tangent {
    fn ec_ms_per_cm(&self, grams: &[f64]) -> f64 {
        self.at_zero + self.slopes.iter().zip(grams).map(|(slope, grams)| slope * grams).sum::<f64>()
    }

    fn slope_ms_per_cm(&self, _: &[f64]) -> Vec<f64> {
        self.slopes.clone()
    }
}

/// A tank under a limit of EC, and how it is reckoned from grams of the salts of its shelf.
struct Tank {
    bench: Bench,
    salts: Vec<String>,
    /// The target of an element, what of it the water brings, and what a gram of each salt adds, ppm.
    targets: Vec<(Nutrient, f64, f64, Vec<f64>)>,
    most: f64,
}

impl Tank {
    fn new(bench: Bench, mix: &MixRecord, most: f64) -> Self {
        let salts: Vec<String> = bench.shelf.iter().map(|stock| bench.catalogue.salt(stock.salt).id.clone()).collect();
        let mut tank = Self { bench, salts, targets: Vec::new(), most };
        let alone: Vec<MixRecord> = (0..tank.salts.len())
            .map(|at| {
                tank.check(&(0..tank.salts.len()).map(|other| if other == at { ALONE } else { 0.0 }).collect::<Vec<_>>())
            })
            .collect();
        for element in &mix.elements {
            let Some(target) = element.target_ppm else { continue };
            let brings = |record: &MixRecord| {
                let found = record.elements.iter().find(|other| other.element == element.element);
                found.map_or(0.0, |found| (found.ppm - found.water_ppm) / ALONE)
            };
            let nutrient = Nutrient::parse(&element.element).expect("known");
            tank.targets.push((nutrient, target, element.water_ppm, alone.iter().map(brings).collect()));
        }
        tank
    }

    fn check(&self, grams: &[f64]) -> MixRecord {
        let added: Vec<Added> = self
            .salts
            .iter()
            .zip(grams)
            .filter(|(_, grams)| **grams > 0.0)
            .map(|(id, grams)| Added {
                salt: self.bench.catalogue.find(id).expect("known"),
                amount: Amount::Mass(gram(*grams)),
            })
            .collect();
        jobs::check(&self.bench, &added, None).unwrap_or_else(|error| panic!("{grams:?}: {error}"))
    }

    fn ec(&self, grams: &[f64]) -> f64 {
        self.check(grams).ec_ms_cm
    }

    fn misfit(&self, grams: &[f64]) -> f64 {
        let miss = |(_, target, water, brings): &(Nutrient, f64, f64, Vec<f64>)| {
            let ppm = water + brings.iter().zip(grams).map(|(ppm, grams)| ppm * grams).sum::<f64>();
            phi((ppm - target) / target)
        };
        self.targets.iter().map(miss).sum()
    }

    fn exact(&self, mix: &MixRecord) -> Vec<f64> {
        let grams = |id: &String| {
            let dose = mix.doses.iter().find(|dose| dose.salt() == Some(id));
            dose.and_then(jobs::Dose::grams_exact).unwrap_or(0.0)
        };
        self.salts.iter().map(grams).collect()
    }

    /// What a gram of each salt adds to EC at `grams`, mS/cm: by differences.
    fn slopes(&self, grams: &[f64]) -> Vec<f64> {
        let here = self.ec(grams);
        let more = |at: usize| {
            let mut more = grams.to_vec();
            more[at] += 0.5;
            ((self.ec(&more) - here) / 0.5).max(1e-6)
        };
        (0..grams.len()).map(more).collect()
    }

    /// The least misfit that exchanges find from `start` with an EC up to `most`: one or two salts more, one or two less, so that
    /// the EC stays about where it is, or a salt more or less on its own.
    fn exchanged(&self, random: &mut Random, start: &[f64], most: f64, (tried, asked): (usize, usize)) -> f64 {
        let slopes = self.slopes(start);
        let (mut here, mut misfit, mut asked) = (start.to_vec(), self.misfit(start), asked);
        let largest = 0.3 * most / slopes.iter().sum::<f64>() * slopes.len() as f64;
        for _ in 0..tried {
            let step = largest * 10f64.powf(random.between(-4.0, 0.0));
            let mut next = here.clone();
            let count = 1 + random.below(4);
            let members = random.some(&(0..next.len()).collect::<Vec<_>>(), count);
            let ups = 1 + random.below(2);
            for (position, &at) in members.iter().enumerate() {
                let sign = if position < ups { 1.0 } else { -1.0 };
                let shared = if position < ups { ups } else { members.len() - ups } as f64;
                let sign = if members.len() == 1 && random.chance(0.5) { -1.0 } else { sign };
                next[at] =
                    (next[at] + sign * step * random.between(0.7, 1.3) / shared * slopes[members[0]] / slopes[at]).max(0.0);
            }
            let closer = self.misfit(&next);
            if closer >= misfit - 1e-6 {
                continue;
            }
            if asked == 0 {
                break;
            }
            asked -= 1;
            if self.ec(&next) <= most {
                (here, misfit) = (next, closer);
            }
        }
        misfit
    }

    /// Where tangents to EC lead from `start`: the mix of least misfit on the way. Every step is a linear program.
    fn walked(&self, start: Vec<f64>, most: f64) -> Vec<f64> {
        let mut water_ppm = Nutrients::default();
        let column = Column { ppm_per_g_per_l: Nutrients::default(), most_g_per_l: None, cost_per_g: 1.0 };
        let mut columns = vec![column; self.salts.len()];
        let mut wants = Vec::new();
        for (nutrient, target, water, brings) in &self.targets {
            water_ppm[*nutrient] = *water;
            columns.iter_mut().zip(brings).for_each(|(column, ppm)| column.ppm_per_g_per_l[*nutrient] = *ppm);
            let target_ppm = Some(*target);
            wants.push(Want { nutrient: *nutrient, target_ppm, min_ppm: None, max_ppm: None, weight: 1.0 });
        }
        let mut best = start.clone();
        let mut here = start;
        for _ in 0..STEPS {
            let slopes = self.slopes(&here);
            let mut tangent = Tangent { at_zero: 0.0, slopes };
            tangent.at_zero = self.ec(&here) - tangent.ec_ms_per_cm(&here);
            let ec = EcLimits { min_ms_per_cm: None, max_ms_per_cm: Some(most), conducts: &tangent };
            let next = solve(&Problem {
                columns: columns.clone(),
                water_ppm,
                wants: wants.clone(),
                ammonium_share: Limits::default(),
                ec: Some(ec),
                ph: None,
                sparing: Vec::new(),
                waters: Vec::new(),
                near: None,
            });
            let Ok(next) = next else { break };
            here = next.g_per_l;
            // a tangent by differences may end over the limit by a hair
            for _ in 0..20 {
                if self.ec(&here) <= most {
                    break;
                }
                for grams in &mut here {
                    *grams *= 0.9999;
                }
            }
            if self.misfit(&here) < self.misfit(&best) && self.ec(&here) <= most {
                best.clone_from(&here);
            }
        }
        best
    }

    /// A mix far from `exact` that keeps the limit: one salt much changed, all of it thinned until EC holds.
    fn far(&self, random: &mut Random, exact: &[f64], most: f64) -> Vec<f64> {
        let mut grams: Vec<f64> = exact.iter().map(|grams| grams * random.between(0.2, 1.2)).collect();
        let mean = exact.iter().sum::<f64>() / exact.len() as f64;
        let at = random.below(grams.len());
        grams[at] = if exact[at] > 0.0 { 0.0 } else { mean * random.between(0.5, 2.0) };
        let mut rounds = 0;
        while self.ec(&grams) > most {
            for grams in &mut grams {
                *grams *= 0.85;
            }
            rounds += 1;
            assert!(rounds < 100, "the water alone is over the limit");
        }
        grams
    }
}

/// A bench whose limit of EC binds, with the mix under it.
fn bound(random: &mut Random) -> Option<(String, Bench, MixRecord, f64)> {
    let count = 5 + random.below(4);
    let shelf = random.some(&SALTS, count);
    let litres = [20.0, 60.0, 100.0][random.below(3)];
    let mut text = format!("[tank]\nvolume = \"{litres} L\"\n[[scale]]\nreadability = \"0.001 g\"\n[shelf]\n");
    for id in shelf {
        let _ = writeln!(text, "{id} = {{}}");
    }
    if random.chance(0.4) {
        text += TAP;
    }
    text += "[formula.f]\n";
    for (element, low, high) in TARGETS {
        let target = random.between(low, high);
        if element != "S" || random.chance(0.3) {
            let _ = writeln!(text, "{element} = {target:.1}");
        }
    }
    let free = bench(&text);
    let water = jobs::check(&free, &[], None).expect("water").ec_ms_cm;
    let all = mixed(&free, "f");
    let tank = Tank::new(free, &all, f64::INFINITY);
    let ec = tank.ec(&tank.exact(&all));
    let most = format!("{:.2}", water + (ec - water) * random.between(0.5, 0.95));
    let _ = writeln!(text, "EC = {{ max = \"{most} mS/cm\" }}");
    let most: f64 = most.parse().expect("a number");
    if most >= ec || most <= water + 0.1 {
        return None;
    }
    let tied = bench(&text);
    let mix = mixed(&tied, "f");
    Some((text, tied, mix, most))
}

#[test]
fn exchanges_find_nothing_clearly_closer_under_a_limit_of_ec() {
    let mut random = Random(20_261_126);
    let known = [
        (include_str!("cases/ec-limit-60l.toml"), "tap", 1.23, 4.06),
        (include_str!("cases/ec-limit-43.toml"), "tap", 1.55, f64::INFINITY),
        (include_str!("cases/ec-limit-100l.toml"), "f", 0.9, 10.71),
    ];
    let mut benches: Vec<(String, Bench, MixRecord, f64)> = Vec::new();
    for (text, formula, most, reached) in known {
        let tied = bench(text);
        let mix = mixed(&tied, formula);
        let exact = mix.misfit_exact.expect("fitted");
        assert!(exact <= reached, "{exact} where {reached} is known to exist\n{text}");
        assert!(exact <= mix.misfit.expect("fitted") + 1e-6, "as measured out closer than exact\n{text}");
        benches.push((text.to_owned(), tied, mix, most));
    }
    let count = std::env::var("BLOOMSALT_CASES").ok().and_then(|count| count.parse().ok()).unwrap_or(40);
    while benches.len() < count {
        benches.extend(bound(&mut random));
    }
    let (mut beaten, mut ties) = (Vec::new(), 0);
    for (text, bench, mix, most) in benches {
        let tank = Tank::new(bench, &mix, most);
        let exact = tank.exact(&mix);
        let (misfit, ec) = (mix.misfit_exact.expect("fitted"), tank.ec(&exact));
        assert!(ec <= tank.most * (1.0 + EXACT) + 1e-9, "EC {ec} of exact grams over {most}\n{text}");
        let reckoned = tank.misfit(&exact);
        assert!((misfit - reckoned).abs() <= 1e-6 * (1.0 + misfit), "{misfit} told, {reckoned} of the grams\n{text}");
        ties += usize::from(ec > tank.most * (1.0 - 1e-3));
        let most = ec.max(tank.most);
        let mut closest = tank.exchanged(&mut random, &exact, most, (TRIED / 2, ASKED / 2));
        for _ in 0..FAR {
            let far = tank.far(&mut random, &exact, most);
            let near = tank.walked(far, most);
            closest = closest.min(tank.exchanged(&mut random, &near, most, (TRIED / 8, ASKED / 8)));
        }
        if closest < misfit * (1.0 - CLEARLY.0) - CLEARLY.1 {
            beaten.push(format!("{misfit} and {closest} exists:\n{text}"));
        }
    }
    assert!(ties * 10 >= count * 9, "{ties} of {count} are tied by EC");
    assert!(beaten.len() * 20 <= count, "{} of {count}:\n{}", beaten.len(), beaten.join("\n"));
}
