//! The acid or the base that a pH near an edge takes.

use super::made::Made;
use super::reckoned::Reckoned;
use super::souring::water_to_thin;
use crate::bench::Stock;
use crate::matter::{Kind, Nutrient};
use crate::safety::{Correction, Remedy, ph_remedy};
use crate::solution::Air;
use crate::tank::Tank;
use crate::tank::correction::grams_to_reach;
use crate::tank::instrument::{instruments, measured};
use crate::tank::parts::Parts;

/// pH that a base aims at, and an acid where `[acid]` names none: own choice, each no further than the middle of the range.
const AIM_PH: (f64, f64) = (6.0, 6.5);
/// A base that cannot burn, for a tank whose shelf has no other.
const MILD_BASE: &str = "potassium-bicarbonate";
/// A nutrient that a correction brings is told from so much of it, ppm: own choice.
const WORTH_A_WORD_PPM: f64 = 1.0;
/// An acid ready diluted, for a bench that names none.
const MILD_ACID: &str = "phosphoric-acid-10";

/// What the pH asks for, at the tank's own buffer; `None` where it asks for nothing or nothing here would do.
pub(super) fn correction(made: &Made, reckoned: &Reckoned) -> Option<Correction> {
    let remedy = reckoned.acidity.as_ref().and_then(ph_remedy)?;
    corrected(made.tank, made.parts, &reckoned.weighed, remedy)
}

/// What a remedy takes in a tank; `None` where nothing here would do.
///
/// * `per_l`: what is in it beside the content, per litre in the unit of each part
pub(in crate::jobs) fn corrected(tank: &Tank, parts: &Parts, per_l: &[f64], remedy: Remedy) -> Option<Correction> {
    let bench = tank.bench;
    let of = |id: &str| bench.catalogue.find(id).map(|salt| bench.stock(salt));
    let wish = bench.acid.as_ref().filter(|_| remedy != Remedy::Base);
    let on_shelf = |stock: &&Stock| {
        let salt = bench.salt(stock);
        salt.kind == Kind::Acid && !salt.law.restricted
    };
    let stock = match remedy {
        Remedy::Base => of(MILD_BASE),
        _ => wish
            .and_then(|acid| acid_of(parts, per_l, &acid.salts))
            .or_else(|| bench.shelf.iter().find(on_shelf).copied())
            .or_else(|| of(MILD_ACID)),
    }?;
    let (low, high) = AIM_PH;
    let ph = wish.map_or(if remedy == Remedy::Base { low } else { high }, |acid| acid.target_ph);
    let air = if remedy == Remedy::AcidNow { Air::Closed } else { Air::Open };
    let dose = grams_to_reach(tank, parts, per_l, stock, ph, air).ok()??;
    let salt = bench.salt(&stock);
    let grams = dose * tank.litres();
    let strength = salt.mass_percent.map(|percent| percent / 100.0).or((!salt.is_liquid()).then_some(1.0));
    let water = strength.filter(|_| remedy != Remedy::Base).and_then(|strength| water_to_thin(grams, strength));
    let brought = bench.composition(&stock).nutrients.scaled(dose * 1e3);
    let fed = [Nutrient::N, Nutrient::P, Nutrient::S].into_iter().map(|nutrient| (nutrient, brought[nutrient]));
    let millilitres = salt.density_kg_per_l.map(|density| grams / density);
    let instruments = instruments(bench, salt.density_kg_per_l);
    Some(Correction {
        name: salt.name.clone(),
        grams,
        millilitres,
        measurable: measured(&instruments, salt.density_kg_per_l, grams).measure.is_some(),
        brings: fed.filter(|(_, ppm)| *ppm >= WORTH_A_WORD_PPM).max_by(|a, b| a.1.total_cmp(&b.1)),
        water_ml: water,
        ph,
    })
}

/// The acid of several that goes into the tank, else the first that no rules restrict, else the first.
fn acid_of(parts: &Parts, per_l: &[f64], ids: &[String]) -> Option<Stock> {
    let bench = parts.bench;
    let goes_in = |id: &&String| {
        let of_it = |at: usize| parts.contents(at).salts.iter().any(|(salt, _)| bench.catalogue.salt(*salt).id == **id);
        per_l.iter().enumerate().any(|(at, amount)| *amount > 0.0 && of_it(at))
    };
    let free = |id: &&String| bench.catalogue.find(id).is_some_and(|salt| !bench.catalogue.salt(salt).law.restricted);
    let chosen = ids.iter().find(goes_in).or_else(|| ids.iter().find(free)).or_else(|| ids.first())?;
    bench.catalogue.find(chosen).map(|salt| bench.stock(salt))
}
