//! One stock bottle: what is weighed into it, how it is made, and what the chemistry model says of it.

use crate::bench::{Bench, Helper, Ingredient};
use crate::catalogue::SaltId;
use crate::jobs::engine::bottle_names::free_id;
use crate::jobs::engine::bottles::{self, is_hard};
use crate::jobs::engine::clear::Judge;
use crate::jobs::engine::ladder::{finest, ladder};
use crate::jobs::record::rank::rank_of;
use crate::jobs::record::{Act, Saturation, Step};
use crate::jobs::stock::record::BottleChemistry;
use crate::matter::Nutrient;
use crate::quantity::{Amount, Volume, gram, liter, milliliter, volume_text};
use crate::safety::{self, Finding};
use crate::solution;
use crate::tank::parts::{Part, Parts};

/// A bottle is filled to this share before the salts go in: own choice.
const FILL_FIRST: f64 = 0.75;
/// Room that is left for dissolved salts, share of the bottle: own choice.
const ROOM_FOR_SALTS: f64 = 0.15;

/// What of calcium, sulfur or phosphorus the water of a bottle may bring to what it takes out, ppm: own choice. By the salt
/// table's solubility of gypsum, about a sixth of what saturates it in a molar sulfate.
const TAKES_OUT_PPM: f64 = 1.0;

/// A bottle with what is weighed into it.
pub(super) struct Filled {
    /// Its position among the helpers.
    pub(super) helper: usize,
    pub(super) findings: Vec<Finding>,
    /// Names of what is too little to measure.
    pub(super) left_out: Vec<String>,
}

/// Weighs salts into a bottle: whole steps, and a dilute bottle for what is too little to measure, made before it.
pub(super) fn fill(bench: &Bench, helpers: &mut Vec<Helper>, id: &str, volume: Volume, g_per_l: &[(SaltId, f64)]) -> Filled {
    // making a bottle is mixing a small tank
    let small_tank = bench.clone().with_tank(volume);
    let list = g_per_l.iter().map(|(salt, _)| Part::Salt(crate::bench::Stock { on_hand: None, ..bench.stock(*salt) }));
    let mut parts = Parts { helpers: helpers.clone(), ..Parts::new(&small_tank, list.collect()) };
    let grams: Vec<f64> = g_per_l.iter().map(|(_, g_per_l)| g_per_l * milliliter(volume) * 1e-3).collect();
    let proposed = bottles::propose(&mut parts, &grams);
    let mut order: Vec<usize> = (0..g_per_l.len()).collect();
    // phosphate makes the bottle acid before anything else is in it
    let phosphate = |at: usize| parts.composition(at).nutrients[Nutrient::P] > 0.0;
    order.sort_by_key(|&at| (!phosphate(at), rank_of(&parts, at)));
    let (mut findings, mut left_out) = (Vec::new(), Vec::new());
    let mut made_of: Vec<(Ingredient, Amount)> = Vec::new();
    for at in order {
        let served = |one: &&bottles::Proposed| one.serves.contains(&at);
        let (salt, grams) = (g_per_l[at].0, grams[at]);
        if let Some(one) = proposed.iter().find(served) {
            let ingredient = Ingredient::Helper(one.helper);
            if !made_of.iter().any(|(other, _)| *other == ingredient) {
                made_of.push((ingredient, Amount::Volume(liter(one.dose_ml * 1e-3))));
            }
        } else if parts.too_small(at, grams) {
            left_out.push(parts.name(at).to_owned());
            findings.push(safety::stock_left_out(id, parts.name(at), grams, &finest(bench, None)));
        } else {
            let ladder = ladder(bench, None, None);
            made_of.push((Ingredient::Salt(salt), Amount::Mass(gram(ladder.amount(ladder.nearest(grams))))));
        }
    }
    let id = free_id(&parts, id);
    helpers.clone_from(&parts.helpers);
    let made_with_pure_water = wants_pure_water(bench, &parts);
    helpers.push(Helper { id, volume, made_of, made_on: None, left: None, counted_on: None, made_with_pure_water });
    Filled { helper: helpers.len() - 1, findings, left_out }
}

/// True where the bench's water would take something out of a bottle: it is hard, or it brings calcium to sulfate or phosphate,
/// or sulfate or phosphate to calcium.
pub(super) fn wants_pure_water(bench: &Bench, bottle: &Parts) -> bool {
    let water = &bench.water;
    let in_water = |nutrient| water.nutrients[nutrient] > TAKES_OUT_PPM;
    let in_bottle = |nutrient| (0..bottle.list.len()).any(|at| bottle.composition(at).nutrients[nutrient] > 0.0);
    let takes = |one: &dyn Fn(Nutrient) -> bool, other: &dyn Fn(Nutrient) -> bool| {
        one(Nutrient::Ca) && (other(Nutrient::S) || other(Nutrient::P))
    };
    is_hard(water) || takes(&in_water, &in_bottle) || takes(&in_bottle, &in_water)
}

/// How a bottle is made.
pub(super) fn making(bench: &Bench, helpers: &[Helper], helper: usize, volume: Volume) -> Vec<Step> {
    let of = &helpers[helper];
    let several = bench.blend.iter().filter(|(_, share)| *share > 0.0).count() > 1;
    let water = match (of.made_with_pure_water, several) {
        (true, _) => "pure water (rain, reverse osmosis, distilled)",
        (false, true) => "your waters, shared as in the tank",
        (false, false) => "your water",
    };
    let names: Vec<String> = of
        .made_of
        .iter()
        .map(|(ingredient, _)| match ingredient {
            Ingredient::Salt(salt) => bench.catalogue.salt(*salt).name.clone(),
            Ingredient::Helper(bottle) => format!("what comes from bottle {}", helpers[*bottle].id),
        })
        .collect();
    // what is poured in needs room, and so do the salts
    let poured: f64 = of
        .made_of
        .iter()
        .map(|(_, amount)| if let Amount::Volume(poured) = amount { milliliter(*poured) } else { 0.0 })
        .sum();
    let first = (milliliter(volume) * (1.0 - ROOM_FOR_SALTS) - poured).clamp(0.0, milliliter(volume) * FILL_FIRST);
    let ids = of.made_of.iter().map(|(ingredient, _)| match ingredient {
        Ingredient::Salt(salt) => bench.catalogue.salt(*salt).id.clone(),
        Ingredient::Helper(bottle) => helpers[*bottle].id.clone(),
    });
    let dissolve = match names.as_slice() {
        [one] => format!("Dissolve in it, to the last grain: {one}."),
        several => format!("Dissolve one after another, each clear before the next: {}.", several.join(", ")),
    };
    let first = liter(first * 1e-3);
    let filled = volume_text(volume);
    vec![
        Step::plain(Act::Fill, Some(first), format!("Fill to about {} with {water}, lukewarm.", volume_text(first))),
        Step { parts: ids.collect(), ..Step::plain(Act::Dissolve, None, dissolve) },
        Step::plain(
            Act::TopUp,
            Some(volume),
            format!("Let it come to room temperature, top up to {filled}, close, shake, label."),
        ),
        Step::plain(
            Act::Look,
            None,
            "What turns cloudy or shows crystals is not dosed: warm it with the cap loose, close and shake it; if it stays so, \
             make it anew."
                .to_owned(),
        ),
    ]
}

/// pH and saturation of a bottle; `None` beyond the reach of the model.
pub(super) fn chemistry(bench: &Bench, judge: &Judge, of: &Helper, g_per_l: &[(SaltId, f64)]) -> Option<BottleChemistry> {
    let parts = Parts::new(bench, g_per_l.iter().map(|(salt, _)| Part::Salt(bench.stock(*salt))).collect());
    let amounts: Vec<f64> = g_per_l.iter().map(|(_, grams)| *grams).collect();
    let bottle = judge.in_bottle(&parts, &amounts, of.made_with_pure_water)?;
    let fresh = &bottle.fresh;
    (bottle.ph_known && bottle.within_reach()).then(|| BottleChemistry {
        ph: fresh.ph,
        ionic_strength_mol_l: fresh.ionic_strength_mol_per_kg,
        saturation: bench
            .catalogue
            .minerals()
            .iter()
            .filter_map(|mineral| {
                let index = solution::saturation(mineral, fresh)?;
                Some(Saturation { mineral: mineral.name.clone(), index: Some(index), index_aired: None, slow: mineral.slow })
            })
            .collect(),
    })
}
