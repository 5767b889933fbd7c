//! A bench as a form shows it: every key as it is written, and what the program makes of it where nothing is.

use serde::Serialize;
use serde_json::Value;
use uom::si::electrical_conductivity::siemens_per_meter;
use uom::si::thermodynamic_temperature::degree_celsius;

use crate::bench::{Bench, EcLimit, Formula, Jug, Scale, Stock, Syringe, Tank, Wish, smallest_steps, written};
use crate::quantity::{Mass, liters_written, milliliter, nine_digits, round_to};

/// What answers `bench-read`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchRecord {
    /// Version of this document.
    pub version: u32,
    /// `bench-read`.
    pub job: String,
    /// Fingerprint of the text, for `bench-edit`.
    pub fingerprint: String,
    /// Name of the bench.
    pub name: String,
    /// Every tank, the first counts where none is named.
    pub tanks: Vec<BenchTank>,
    /// Scales, coarsest first.
    pub scales: Vec<BenchScale>,
    /// The syringe.
    pub syringe: BenchSyringe,
    /// Jugs and cylinders, in file order.
    pub jugs: Vec<BenchJug>,
    /// The shelf, in the order in which ties break.
    pub shelf: Vec<BenchSalt>,
    /// Ids of the products of the grower's own.
    pub products: Vec<String>,
    /// Ids of the bottles that are made.
    pub helpers: Vec<String>,
    /// Ids of the acids; empty where none is used.
    pub acids: Vec<String>,
    /// The formulas, with what they take over from others.
    pub formulas: Vec<BenchFormula>,
    /// Ids of the groups of plants.
    pub groups: Vec<String>,
    /// The file itself: every key as it stands, in its order. The way to a value here is its key for `bench-edit`.
    pub written: Value,
}

/// A tank.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchTank {
    /// Its id; null for the one that needs none.
    pub id: Option<String>,
    /// Volume, L.
    pub volume_l: f64,
    /// How well it is known, L.
    pub plus_minus_l: f64,
    /// Temperature, C.
    pub temperature_c: f64,
}

/// A scale.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchScale {
    /// Its step, g.
    pub readability_g: f64,
    /// How large a step may be against the dose.
    pub trust: f64,
    /// The least that it is trusted with, g.
    pub smallest_g: f64,
    /// The most that it takes at once, g; null where that is not stated.
    pub capacity_g: Option<f64>,
}

/// The syringe.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchSyringe {
    /// Its step, mL.
    pub step_ml: f64,
    /// How large a step may be against the dose.
    pub trust: f64,
    /// The least that it is trusted with, mL.
    pub smallest_ml: f64,
    /// The most that it takes at once, mL; null where that is not stated.
    pub capacity_ml: Option<f64>,
}

/// A jug or cylinder.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchJug {
    /// Its id.
    pub id: String,
    /// Its step, mL.
    pub step_ml: f64,
    /// How large a step may be against the dose.
    pub trust: f64,
    /// The least that it is trusted with, mL.
    pub smallest_ml: f64,
    /// The most that it takes at once, mL.
    pub capacity_ml: f64,
}

/// A salt on the shelf.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchSalt {
    /// Its id.
    pub salt: String,
    /// Its name.
    pub name: String,
    /// How much there is, g; null where that is not stated.
    pub on_hand_g: Option<f64>,
    /// Its purity; null where it counts as pure.
    pub purity: Option<f64>,
}

/// A formula, with what it takes over.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchFormula {
    /// Its name.
    pub name: String,
    /// What it says of each nutrient.
    pub elements: Vec<BenchWish>,
    /// Least EC, mS/cm.
    pub ec_min_ms_cm: Option<f64>,
    /// Most EC, mS/cm.
    pub ec_max_ms_cm: Option<f64>,
    /// Least share of ammonium and urea in all nitrogen.
    pub ammonium_share_min: Option<f64>,
    /// Most of it.
    pub ammonium_share_max: Option<f64>,
    /// How long it may be fed, days.
    pub hold_at_most_days: Option<f64>,
}

/// What a formula says of a nutrient.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchWish {
    /// Symbol of the nutrient.
    pub element: String,
    /// Target, ppm.
    pub target_ppm: Option<f64>,
    /// The least allowed, ppm.
    pub min_ppm: Option<f64>,
    /// The most allowed, ppm.
    pub max_ppm: Option<f64>,
    /// Weight of a miss.
    pub weight: f64,
}

/// What answers `bench-edit`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BenchEditRecord {
    /// Version of this document.
    pub version: u32,
    /// `bench-edit`.
    pub job: String,
    /// Fingerprint of the text that it was made from.
    pub fingerprint: String,
    /// The text as it is to be.
    pub text: String,
}

/// A bench as a form shows it.
///
/// * `text`: what the bench was read from
/// * `fingerprint`: that of the text
#[must_use]
pub fn bench_record(bench: &Bench, text: &str, fingerprint: String) -> BenchRecord {
    let one = || vec![(None, bench.tank)];
    let several = || bench.tanks.iter().map(|(id, tank)| (Some(id.clone()), *tank)).collect();
    let tanks: Vec<(Option<String>, Tank)> = if bench.tanks.is_empty() { one() } else { several() };
    let products = bench.catalogue.salts().iter().filter(|salt| salt.own_product);
    BenchRecord {
        version: 1,
        job: "bench-read".to_owned(),
        fingerprint,
        name: bench.name.clone(),
        tanks: tanks.into_iter().map(|(id, tank)| tank_record(id, &tank)).collect(),
        scales: bench.scales.iter().map(scale_record).collect(),
        syringe: syringe_record(&bench.syringe),
        jugs: bench.jugs.iter().map(jug_record).collect(),
        shelf: bench.shelf.iter().map(|stock| shelf_record(bench, stock)).collect(),
        products: products.map(|salt| salt.id.clone()).collect(),
        helpers: bench.helpers.iter().map(|helper| helper.id.clone()).collect(),
        acids: bench.acid.as_ref().map_or_else(Vec::new, |acid| acid.salts.clone()),
        formulas: bench.formulas.iter().map(formula_record).collect(),
        groups: bench.groups.iter().map(|group| group.id.clone()).collect(),
        written: written(text).unwrap_or_default(),
    }
}

/// The record of a changed text.
#[must_use]
pub fn bench_edit_record(text: String, fingerprint: String) -> BenchEditRecord {
    BenchEditRecord { version: 1, job: "bench-edit".to_owned(), fingerprint, text }
}

fn tank_record(id: Option<String>, tank: &Tank) -> BenchTank {
    BenchTank {
        id,
        volume_l: liters_written(tank.volume),
        plus_minus_l: liters_written(tank.plus_minus),
        temperature_c: round_to(tank.temperature.get::<degree_celsius>(), 2),
    }
}

fn grams(mass: Mass) -> f64 {
    nine_digits(mass.get::<uom::si::mass::gram>())
}

fn scale_record(scale: &Scale) -> BenchScale {
    BenchScale {
        readability_g: grams(scale.readability),
        trust: scale.trust,
        smallest_g: grams(scale.readability * smallest_steps(scale.trust)),
        capacity_g: scale.capacity.map(grams),
    }
}

fn jug_record(jug: &Jug) -> BenchJug {
    BenchJug {
        id: jug.id.clone(),
        step_ml: nine_digits(milliliter(jug.step)),
        trust: jug.trust,
        smallest_ml: nine_digits(milliliter(jug.step) * smallest_steps(jug.trust)),
        capacity_ml: nine_digits(milliliter(jug.capacity)),
    }
}

fn syringe_record(syringe: &Syringe) -> BenchSyringe {
    BenchSyringe {
        step_ml: nine_digits(milliliter(syringe.step)),
        trust: syringe.trust,
        smallest_ml: nine_digits(milliliter(syringe.step) * smallest_steps(syringe.trust)),
        capacity_ml: syringe.capacity.map(|capacity| nine_digits(milliliter(capacity))),
    }
}

fn shelf_record(bench: &Bench, stock: &Stock) -> BenchSalt {
    let salt = bench.salt(stock);
    BenchSalt { salt: salt.id.clone(), name: salt.name.clone(), on_hand_g: stock.on_hand.map(grams), purity: stock.purity }
}

fn formula_record(formula: &Formula) -> BenchFormula {
    let ec = |ec: EcLimit| nine_digits(ec.get::<siemens_per_meter>() * 10.0);
    let wish = |wish: &Wish| {
        let [target_ppm, min_ppm, max_ppm] = wish.in_ppm().map(|ppm| ppm.map(nine_digits));
        BenchWish { element: wish.nutrient.symbol().to_owned(), target_ppm, min_ppm, max_ppm, weight: wish.weight }
    };
    BenchFormula {
        name: formula.name.clone(),
        elements: formula.wishes.iter().map(wish).collect(),
        ec_min_ms_cm: formula.ec.min.map(ec),
        ec_max_ms_cm: formula.ec.max.map(ec),
        ammonium_share_min: formula.ammonium_share.min,
        ammonium_share_max: formula.ammonium_share.max,
        hold_at_most_days: formula.hold_at_most.map(|time| nine_digits(time.get::<uom::si::time::day>())),
    }
}
