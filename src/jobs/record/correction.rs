//! The acid or the base that a pH near an edge takes.

use super::made::Made;
use super::reckoned::Reckoned;
use super::souring::water_to_thin;
use crate::bench::{Bench, Stock};
use crate::matter::{Kind, Nutrient, Salt};
use crate::safety::{Correction, Remedy, Substance, never_in_one_mix, ph_remedy};
use crate::solution::Air;
use crate::tank::Tank;
use crate::tank::correction::grams_to_reach;
use crate::tank::instrument::measured;
use crate::tank::parts::Parts;

/// pH that a base aims at, and an acid where `[acid]` names none: own choice, each no further than the middle of the range.
const AIM_PH: (f64, f64) = (6.0, 6.5);
/// A base that cannot burn, for a tank whose shelf has no other.
const MILD_BASE: &str = "potassium-bicarbonate";
/// A nutrient that a correction brings is told from so much of it, ppm: own choice.
const WORTH_A_WORD_PPM: f64 = 1.0;
/// An acid ready diluted, for a bench that names none.
const MILD_ACID: &str = "phosphoric-acid-10";

/// What an acid would meet in a tank and beside it.
struct Met {
    substances: Vec<Substance>,
    /// True where urea is weighed in, or is in the tank already: what holds both may not dry up.
    urea: bool,
    /// Names of what froths with an acid.
    froths: Vec<String>,
}

impl Met {
    fn of(tank: &Tank, parts: &Parts, per_l: &[f64]) -> Self {
        let catalogue = &parts.bench.catalogue;
        let there = per_l.iter().enumerate().filter(|(_, amount)| **amount > 0.0);
        let salts = there.flat_map(|(at, _)| parts.contents(at).salts);
        let of = |(salt, _)| Substance::of(catalogue.salt(salt), catalogue.ions(), catalogue.salts());
        let substances: Vec<Substance> = salts.map(of).collect();
        let froths = substances.iter().filter(|one| one.carbonate && one.kind != Kind::Acid).map(|one| one.name.clone());
        let urea = tank.before.ppm[Nutrient::UreaN] > 0.0 || substances.iter().any(|one| one.urea);
        Self { urea, froths: froths.collect(), substances }
    }

    /// True where an acid may be measured out for this tank: nitric acid never where there is urea, as in a mix.
    fn may_meet(&self, bench: &Bench, acid: &Salt) -> bool {
        let acid = Substance::of(acid, bench.catalogue.ions(), bench.catalogue.salts());
        let of_the_tank = self.urea && acid.nitric_acid;
        !(of_the_tank || self.substances.iter().any(|one| never_in_one_mix(one, &acid)))
    }
}

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
    let there = Met::of(tank, parts, per_l);
    let on_shelf = |stock: &&Stock| {
        let salt = bench.salt(stock);
        salt.kind == Kind::Acid && !salt.law.restricted && there.may_meet(bench, salt)
    };
    let stock = match remedy {
        Remedy::Base => of(MILD_BASE),
        _ => wish
            .and_then(|acid| acid_of(parts, per_l, &acid.salts, &there))
            .or_else(|| bench.shelf.iter().find(on_shelf).copied())
            .or_else(|| of(MILD_ACID)),
    }?;
    let passed_over =
        remedy != Remedy::Base && there.urea && wish.is_some_and(|acid| !acid.salts.contains(&bench.salt(&stock).id));
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
    Some(Correction {
        salt: salt.id.clone(),
        name: salt.name.clone(),
        grams,
        millilitres,
        measurable: measured(bench, salt.density_kg_per_l, grams).is_trusted,
        brings: fed.filter(|(_, ppm)| *ppm >= WORTH_A_WORD_PPM).max_by(|a, b| a.1.total_cmp(&b.1)),
        water_ml: water,
        ph,
        passed_over,
        never_onto: if remedy == Remedy::Base { Vec::new() } else { there.froths },
    })
}

/// The acid of several that goes into the tank, else the first that no rules restrict, else the first.
fn acid_of(parts: &Parts, per_l: &[f64], ids: &[String], there: &Met) -> Option<Stock> {
    let bench = parts.bench;
    let may_meet =
        |id: &&String| bench.catalogue.find(id).is_some_and(|salt| there.may_meet(bench, bench.catalogue.salt(salt)));
    let ids: Vec<&String> = ids.iter().filter(may_meet).collect();
    let mut ids = ids.into_iter();
    let goes_in = |id: &&String| {
        let of_it = |at: usize| parts.contents(at).salts.iter().any(|(salt, _)| bench.catalogue.salt(*salt).id == **id);
        per_l.iter().enumerate().any(|(at, amount)| *amount > 0.0 && of_it(at))
    };
    let free = |id: &&String| bench.catalogue.find(id).is_some_and(|salt| !bench.catalogue.salt(salt).law.restricted);
    let chosen = ids.clone().find(goes_in).or_else(|| ids.clone().find(free)).or_else(|| ids.next())?;
    bench.catalogue.find(chosen).map(|salt| bench.stock(salt))
}
