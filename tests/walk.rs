//! The order of mixing, walked step by step: every step after which brushite or gypsum is over saturation says so, and no
//! other does. What is in after each step is counted here again, and reckoned as a tank of its own.

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, Act, Added, Dose, Dosed, GoesIn, Ingredient, MixOptions, MixRecord, Step};
use bloomsalt::quantity::{Amount, gram, liter};

use crate::random::benches;

/// Indices nearer to 0 than this may be told or not: pure water of bottles is not counted here.
const NEAR: f64 = 0.02;

/// A salt and how much of it there is.
#[derive(Clone)]
struct Part {
    salt: String,
    grams: Option<f64>,
    millilitres: f64,
}

impl Part {
    fn share(self, share: f64) -> Self {
        Self { grams: self.grams.map(|grams| grams * share), millilitres: self.millilitres * share, ..self }
    }

    fn added(&self, bench: &Bench) -> Added {
        let amount = match self.grams {
            Some(grams) => Amount::Mass(gram(grams)),
            None => Amount::Volume(liter(self.millilitres * 1e-3)),
        };
        Added { salt: bench.catalogue.find(&self.salt).expect("on the bench"), amount }
    }
}

/// Every salt in so many millilitres of a bottle, whatever bottles it is made from.
fn salts_in(mix: &MixRecord, bottle: &str, millilitres: f64) -> Vec<Part> {
    let helper = mix.helpers.iter().find(|helper| helper.id == bottle).expect("described");
    let share = millilitres / helper.volume_ml;
    let of = |ingredient: &Ingredient| match (&ingredient.salt, &ingredient.helper) {
        (Some(salt), _) => {
            let millilitres = ingredient.millilitres.unwrap_or(0.0);
            vec![Part { salt: salt.clone(), grams: ingredient.grams, millilitres }.share(share)]
        }
        (_, Some(from)) => salts_in(mix, from, ingredient.millilitres.expect("drawn") * share),
        _ => Vec::new(),
    };
    helper.made_of.iter().flat_map(of).collect()
}

/// What one part of a mix brings: the salt itself, or what a bottle holds of each.
fn salts_of(mix: &MixRecord, id: &str) -> Vec<Part> {
    let in_bottle = |dose: &Dose| matches!(dose.what, Dosed::Salt { goes_in: GoesIn::InBottle { .. }, .. });
    match mix.doses.iter().find(|dose| dose.salt() == Some(id) && !in_bottle(dose)) {
        Some(dose) => vec![Part { salt: id.to_owned(), grams: dose.grams(), millilitres: 0.0 }],
        None => {
            let of_bottle = |dose: &&Dose| dose.bottle() == Some(id);
            salts_in(mix, id, mix.doses.iter().find(of_bottle).and_then(Dose::millilitres).expect("poured"))
        }
    }
}

/// What a part takes up in the tank when all of it is in, with the water that it is diluted with, L.
fn liquid_of(mix: &MixRecord, id: &str) -> f64 {
    let of = |dose: &&Dose| dose.id() == id;
    let dose = mix.doses.iter().find(of).and_then(Dose::millilitres).unwrap_or(0.0);
    let jug = mix.order.iter().find(|step| step.act == Act::Dilute && step.parts.iter().any(|part| part == id));
    dose * 1e-3 + jug.and_then(|jug| jug.litres).unwrap_or(0.0)
}

/// The share of a part that is in after a step.
fn share(mix: &MixRecord, step: &Step, id: &str) -> f64 {
    if step.act != Act::Sour {
        return 1.0;
    }
    let holds = |other: &&Step| other.act == Act::Dilute && other.parts.iter().any(|part| part == id);
    // none where the acid is thin already
    let jug = mix.order.iter().find(holds).and_then(|jug| jug.litres).unwrap_or(0.0);
    let acid = mix.doses.iter().find(|dose| dose.id() == id).and_then(Dose::millilitres);
    step.litres.expect("poured") / (jug + acid.unwrap_or(0.0) * 1e-3)
}

/// In how many steps a solid is named.
fn times_told(mix: &MixRecord, mineral: &str) -> usize {
    mix.order.iter().map(|step| step.text.matches(mineral).count()).sum()
}

/// Steps of a mix that are not as the chemistry of a tank of their own says; how many of them are over saturation.
fn wrong(bench: &Bench, mix: &MixRecord) -> (Vec<String>, usize) {
    let filled = mix.order.iter().find(|step| step.act == Act::Fill).and_then(|step| step.litres).expect("filled");
    let mut bench = bench.clone();
    let mut added: Vec<(String, Part)> = Vec::new();
    let mut liquid: Vec<(String, f64)> = Vec::new();
    let (mut wrong, mut over) = (Vec::new(), 0);
    for step in mix.order.iter().filter(|step| matches!(step.act, Act::Sour | Act::Dissolve | Act::Pour | Act::SetPh)) {
        for id in &step.parts {
            added.retain(|(of, _)| of != id);
            let share = share(mix, step, id);
            liquid.retain(|(of, _)| of != id);
            liquid.push((id.clone(), liquid_of(mix, id) * share));
            added.extend(salts_of(mix, id).into_iter().map(|part| (id.clone(), part.share(share))));
        }
        let list: Vec<Added> = added.iter().map(|(_, part)| part.added(&bench)).collect();
        if step.parts.is_empty() || list.is_empty() {
            continue;
        }
        let liquid: f64 = liquid.iter().map(|(_, litres)| litres).sum();
        bench.tank.volume = liter(filled + liquid);
        // the water of bottles is not the bench's
        if !bench.water.is_pure() && liquid > 0.02 * filled {
            continue;
        }
        let Ok(tank) = jobs::check(&bench, &list, None) else { continue };
        for mineral in ["brushite", "gypsum"] {
            let index = tank.saturation.iter().find(|one| one.mineral == mineral).and_then(|one| one.index);
            let told = step.over.iter().find(|one| one.mineral == mineral);
            let index = index.unwrap_or(-9.0);
            over += usize::from(index > 0.0);
            let words = told.is_none_or(|_| times_told(mix, mineral) == 1);
            if (index > NEAR && told.is_none()) || (index < -NEAR && told.is_some()) || !words {
                wrong.push(format!("{}: {mineral} {index}, told {told:?}", step.text));
            }
        }
    }
    (wrong, over)
}

#[test]
fn every_step_over_saturation_says_so() {
    let (mut mixed, mut over, mut failed) = (0, 0, Vec::new());
    for seed in 0..200 {
        let drawn = benches::bench(seed);
        let bench = Bench::parse(&drawn.text, "bench.toml").expect("it parses");
        for formula in ["growth", "push"] {
            let Ok(mix) = jobs::mix(&bench, formula, &MixOptions::default()) else { continue };
            mixed += 1;
            let (wrong, steps) = wrong(&bench, &mix);
            over += steps;
            failed.extend(wrong.into_iter().map(|what| format!("bench {seed}, {formula}: {what}")));
        }
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
    assert!(mixed >= 200 && over >= 20, "{mixed} mixes, {over} steps over saturation");
}
