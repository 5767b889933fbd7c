//! What the whole plan takes, set against the shelf.

use uom::si::mass::gram as in_grams;

use super::record::{BottlePlan, CycleMix, SaltTotal};
use crate::bench::Bench;
use crate::catalogue::SaltId;

/// Every salt that `mixes` take, each so many times, and every salt that goes into a new bottle, each time that it is made,
/// in the order of the catalogue.
pub(super) fn shopping(bench: &Bench, mixes: &[CycleMix], bottles: &[BottlePlan]) -> Vec<SaltTotal> {
    let mut needed: Vec<(SaltId, f64)> = Vec::new();
    let mut add = |salt: SaltId, grams: f64| match needed.iter_mut().find(|(other, _)| *other == salt) {
        Some((_, sum)) => *sum += grams,
        None => needed.push((salt, grams)),
    };
    for mix in mixes {
        #[allow(clippy::cast_precision_loss, reason = "a count of tanks")]
        let times = mix.times as f64;
        for dose in &mix.doses {
            // a dose that nothing on the bench can measure comes in a bottle, or does not go in, and its mix says so
            let Some(grams) = dose.grams() else { continue };
            let Some(salt) = dose.salt().and_then(|id| bench.catalogue.find(id)) else { continue };
            add(salt, times * grams);
        }
    }
    for bottle in bottles {
        #[allow(clippy::cast_precision_loss, reason = "a count of bottles")]
        let times = bottle.made_on.len() as f64;
        for of in &bottle.made_of {
            let Some(salt) = of.salt.as_deref().and_then(|id| bench.catalogue.find(id)) else { continue };
            let of_liquid = || Some(of.millilitres? * bench.catalogue.salt(salt).density_kg_per_l?);
            add(salt, times * of.grams.or_else(of_liquid).unwrap_or(0.0));
        }
    }
    needed.sort_by_key(|(salt, _)| *salt);
    needed.into_iter().map(|(salt, grams)| total(bench, salt, grams)).collect()
}

fn total(bench: &Bench, id: SaltId, needed_g: f64) -> SaltTotal {
    let salt = bench.catalogue.salt(id);
    let stock = bench.shelf.iter().find(|stock| stock.salt == id);
    let on_hand_g = stock.and_then(|stock| stock.on_hand).map(|mass| mass.get::<in_grams>());
    let bag_g = bench.bags.iter().find(|bag| bag.salt == id).map(|bag| bag.holds.get::<in_grams>());
    let short = (needed_g - on_hand_g.unwrap_or(0.0)).max(0.0);
    // a bag that the last bit of a sum overruns is not opened
    let bags = bag_g.map(|bag| (short / bag - 1e-9).ceil().max(0.0));
    let buy_g = match (bag_g, bags) {
        (Some(bag), Some(bags)) => bags * bag,
        _ => short,
    };
    let price = stock.and_then(|stock| stock.price_per_g);
    let ml = |grams: f64| salt.density_kg_per_l.map(|density| grams / density);
    // amounts and bags are bounded, so the number of bags fits with room to spare
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole, at least 0; a cast saturates")]
    let whole = |bags: f64| bags as u32;
    SaltTotal {
        salt: salt.id.clone(),
        name: salt.name.clone(),
        needed_g,
        needed_ml: ml(needed_g),
        on_hand_g,
        on_hand_ml: on_hand_g.and_then(ml),
        buy_g,
        buy_ml: ml(buy_g),
        bag_g,
        bag_ml: bag_g.and_then(ml),
        bags: bags.map(whole),
        buy_cost: price.map(|price| price * buy_g),
    }
}

/// What is to be bought of salts.
fn bought(salts: &[SaltTotal]) -> impl Iterator<Item = &SaltTotal> {
    salts.iter().filter(|total| total.buy_g > 0.0)
}

/// What it costs, of all that has a price; `None` where nothing of it has one.
pub(super) fn cost(salts: &[SaltTotal]) -> Option<f64> {
    let priced = bought(salts).next().is_none() || bought(salts).any(|total| total.buy_cost.is_some());
    priced.then(|| bought(salts).filter_map(|total| total.buy_cost).sum())
}

/// Names of what has no price.
pub(super) fn no_price(salts: &[SaltTotal]) -> Vec<String> {
    bought(salts).filter(|total| total.buy_cost.is_none()).map(|total| total.name.clone()).collect()
}
