//! Writes a mix down: what `--save` writes.

use crate::bench::{Bench, Ingredient};
use crate::jobs::engine::blend::as_filled;
use crate::jobs::record::{Act, Dose, Element, HelperRecord, Ingredient as Measured, MixRecord, Step};
use crate::jobs::{CheckRecord, Remedy, RemedyKind, SwitchRecord};
use crate::matter::{NUTRIENTS, Salt};
use crate::quantity::{liter_of, milliliter};
use crate::tank::parts::Parts;
use crate::tank::{Recipe, RecipeDose, RecipeHelper, RecipeInto, RecipeJug, RecipeProduct, RecipeWater, RecipeWish};

/// The recipe of a mix: what is measured out, the water it goes into, the bottles and products it uses.
#[must_use]
pub fn recipe(bench: &Bench, mix: &MixRecord) -> Recipe {
    recipe_with(bench, mix, None)
}

/// The same, with a dose that is no part of the mix.
fn recipe_with(bench: &Bench, mix: &MixRecord, also: Option<&RecipeDose>) -> Recipe {
    let bench = &*as_filled(bench, &mix.waters);
    let helpers = with_parents(bench, mix.helpers.iter().map(|helper| drawn_from(bench, helper)).collect());
    let in_bottles = helpers.iter().flat_map(|helper| helper.made_of.iter().filter_map(|of| of.salt.as_deref()));
    let beside = also.iter().filter_map(|dose| dose.salt.as_deref());
    let used: Vec<&str> = mix.doses.iter().filter_map(Dose::salt).chain(in_bottles).chain(beside).collect();
    Recipe {
        version: 1,
        kind: "recipe".to_owned(),
        formula: mix.formula.clone(),
        bench: bench.name.clone(),
        volume_l: mix.volume_l,
        plus_minus_l: liter_of(bench.tank.plus_minus),
        temperature_c: mix.temperature_c,
        water_ppm: NUTRIENTS
            .into_iter()
            .map(|nutrient| (nutrient.symbol().to_owned(), bench.water.nutrients[nutrient]))
            .filter(|(_, ppm)| *ppm > 0.0)
            .collect(),
        water_alkalinity_meq_l: bench.water.alkalinity_meq_per_l,
        water_unstated_ec_ms_cm: Some(bench.water.unstated_ms_per_cm).filter(|ec| *ec > 0.0),
        water_ph: bench.water.ph,
        waters: waters(mix),
        wishes: wishes(mix),
        into: None,
        doses: doses(bench, mix, also),
        products: products(bench, &used),
        helpers: helpers.clone(),
    }
}

/// Purity of a salt, where the shelf states one.
fn purity(bench: &Bench, id: &str) -> Option<f64> {
    bench.catalogue.find(id).and_then(|salt| bench.stock(salt).purity)
}

/// A bottle that the mix draws from.
fn drawn_from(bench: &Bench, helper: &HelperRecord) -> RecipeHelper {
    let grams = |of: &Measured| {
        let density = of.salt.as_deref().and_then(|id| bench.catalogue.find(id));
        let density = density.and_then(|salt| bench.catalogue.salt(salt).density_kg_per_l);
        of.grams.or_else(|| Some(of.millilitres? * density?))
    };
    let made_of = |of: &Measured| RecipeDose {
        purity: of.salt.as_deref().and_then(|id| purity(bench, id)),
        salt: of.salt.clone(),
        helper: of.helper.clone(),
        grams: grams(of),
        millilitres: of.millilitres,
        jug: None,
    };
    RecipeHelper {
        id: helper.id.clone(),
        volume_ml: helper.volume_ml,
        made_of: helper.made_of.iter().map(made_of).collect(),
        pure_water: helper.pure_water,
    }
}

/// What was asked of the mix.
fn wishes(mix: &MixRecord) -> Vec<RecipeWish> {
    let asked = mix.elements.iter().filter(|e| e.target_ppm.is_some() || e.min_ppm.is_some() || e.max_ppm.is_some());
    let wish = |e: &Element| RecipeWish {
        element: e.element.clone(),
        target_ppm: e.target_ppm,
        min_ppm: e.min_ppm,
        max_ppm: e.max_ppm,
    };
    asked.map(wish).collect()
}

/// What is measured out, and a dose that is no part of the mix.
fn doses(bench: &Bench, mix: &MixRecord, also: Option<&RecipeDose>) -> Vec<RecipeDose> {
    let purity = |salt: Option<&str>| salt.and_then(|id| purity(bench, id));
    let measured = mix.doses.iter().filter(|dose| dose.is_measured()).map(|dose| RecipeDose {
        purity: purity(dose.salt()),
        salt: dose.salt().map(str::to_owned),
        helper: dose.bottle().map(str::to_owned),
        grams: dose.grams(),
        millilitres: dose.millilitres(),
        jug: jug(mix, dose),
    });
    measured.chain(also.map(|dose| RecipeDose { purity: purity(dose.salt.as_deref()), ..dose.clone() })).collect()
}

/// The jug in which a dose of acid is thinned: all of it goes in.
fn jug(mix: &MixRecord, dose: &Dose) -> Option<RecipeJug> {
    let thins = |step: &&Step| step.act == Act::Dilute && step.parts.iter().any(|id| id == dose.id());
    let whole_ml = 1e3 * mix.order.iter().find(thins)?.litres? + dose.millilitres().unwrap_or(0.0);
    Some(RecipeJug { whole_ml, pour_ml: whole_ml })
}

/// Products of the grower's own among the salts that are used.
fn products(bench: &Bench, used: &[&str]) -> Vec<RecipeProduct> {
    let own = bench.catalogue.salts().iter().filter(|salt| salt.own_product && used.contains(&salt.id.as_str()));
    let product = |salt: &Salt| RecipeProduct {
        id: salt.id.clone(),
        name: salt.name.clone(),
        density_kg_l: salt.density_kg_per_l,
        analysis_percent: salt.analysis.iter().cloned().collect(),
        alkalinity_eq_kg: salt.stated.alkalinity_eq_per_kg,
        carbon_mol_kg: salt.stated.carbon_mol_per_kg,
        chelate: salt.stated.chelate,
    };
    own.map(product).collect()
}

/// Litres of each of several waters; nothing where nothing is filled in.
fn waters(mix: &MixRecord) -> Vec<RecipeWater> {
    if mix.waters.iter().all(|water| water.litres <= 0.0) {
        return Vec::new();
    }
    mix.waters.iter().map(|water| RecipeWater { id: water.id.clone(), litres: water.litres }).collect()
}

/// The recipe of a tank turned over: what is let out, filled in and weighed in, as told at the top.
#[must_use]
pub fn switch_recipe(bench: &Bench, turned: &SwitchRecord) -> Recipe {
    // what is rinsed goes out with the rest, and water takes its place
    let with_rinsed = |litres: f64| litres + turned.rinsed_l;
    let into = RecipeInto {
        drained_l: with_rinsed(turned.drain_l),
        filled_l: with_rinsed(turned.refill_l),
        level_l: Some(turned.before.level_l),
    };
    Recipe { into: Some(into), ..recipe(bench, &turned.after) }
}

/// The recipe of what was checked: it answers no formula, whatever the tank was held against.
#[must_use]
pub fn checked_recipe(bench: &Bench, checked: &CheckRecord) -> Recipe {
    Recipe { formula: None, wishes: Vec::new(), ..recipe(bench, &checked.tank) }
}

/// The recipe of what would set a checked tank right: adding where that is enough, else the least drain that comes as near as
/// draining can, else whatever is possible; none where nothing is needed, or nothing possible or nearer.
#[must_use]
pub fn remedy_recipe(bench: &Bench, against: &str, checked: &CheckRecord) -> Option<Recipe> {
    let options = &checked.remedies.as_ref()?.options;
    let rank = |remedy: &&Remedy| match remedy.kind {
        RemedyKind::LeastWaste => 0,
        RemedyKind::BestFit => 1,
        RemedyKind::AddNow => 2,
    };
    let chosen = options.iter().filter(|remedy| remedy.possible).min_by_key(rank)?;
    if chosen.doses.is_empty() && chosen.drain_l == 0.0 {
        return None;
    }
    let mix = MixRecord {
        formula: Some(against.to_owned()),
        doses: chosen.doses.clone(),
        waters: chosen.waters.clone(),
        helpers: chosen.helpers.clone(),
        elements: chosen.after.clone(),
        order: chosen.order.clone(),
        ..checked.tank.clone()
    };
    let into = RecipeInto { drained_l: chosen.drain_l, filled_l: chosen.refill_l, level_l: None };
    Some(Recipe { into: Some(into), ..recipe(bench, &mix) })
}

/// The recipe of what is added to a tank as it stands, or as it is filled up.
///
/// * `filled_l`, `level_l`: what is filled in, and what stands in it before, L
/// * `also`: what corrects its pH
pub(super) fn filled_up_recipe(
    bench: &Bench,
    formula: &str,
    after: &MixRecord,
    filled_l: f64,
    level_l: f64,
    also: Option<&RecipeDose>,
) -> Recipe {
    let into = RecipeInto { drained_l: 0.0, filled_l, level_l: Some(level_l).filter(|_| filled_l > 0.0) };
    Recipe { into: Some(into), formula: Some(formula.to_owned()), ..recipe_with(bench, after, also) }
}

/// The bottles with those of the bench that they were made from standing before them.
fn with_parents(bench: &Bench, drawn_from: Vec<RecipeHelper>) -> Vec<RecipeHelper> {
    let mut all: Vec<RecipeHelper> = Vec::new();
    for helper in drawn_from {
        for parent in helper.made_of.iter().filter_map(|of| of.helper.as_deref()) {
            add_of_bench(bench, parent, &mut all);
        }
        if !all.iter().any(|other| other.id == helper.id) {
            all.push(helper);
        }
    }
    all
}

/// Adds a bottle of the bench, after those that it was made from; one that is new is told by the mix already.
fn add_of_bench(bench: &Bench, id: &str, all: &mut Vec<RecipeHelper>) {
    let Some(of) = bench.helpers.iter().find(|helper| helper.id == id) else { return };
    if all.iter().any(|other| other.id == id) {
        return;
    }
    let parts = Parts::new(bench, Vec::new());
    let made_of = of.made_of.iter().map(|(what, amount)| {
        let measured = parts.amount(*what, *amount);
        match what {
            Ingredient::Salt(salt) => RecipeDose {
                salt: Some(bench.catalogue.salt(*salt).id.clone()),
                helper: None,
                grams: Some(measured),
                millilitres: bench.catalogue.salt(*salt).density_kg_per_l.map(|density| measured / density),
                purity: bench.stock(*salt).purity,
                jug: None,
            },
            Ingredient::Helper(parent) => RecipeDose {
                salt: None,
                helper: Some(bench.helpers[*parent].id.clone()),
                grams: None,
                millilitres: Some(measured),
                purity: None,
                jug: None,
            },
        }
    });
    let made_of: Vec<RecipeDose> = made_of.collect();
    for parent in made_of.iter().filter_map(|of| of.helper.as_deref()) {
        add_of_bench(bench, parent, all);
    }
    all.push(RecipeHelper {
        id: of.id.clone(),
        volume_ml: milliliter(of.volume),
        made_of,
        pure_water: of.made_with_pure_water,
    });
}
