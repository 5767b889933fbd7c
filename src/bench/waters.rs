//! The water of a bench: one analysis, or several waters that a job blends.

use super::Source;
use super::names::plain_name;
use super::reader::{Item, Table};
use crate::catalogue::Catalogue;
use crate::matter::{Nutrient, Water, WaterItem};
use crate::quantity::{
    self, ALKALINITY_MEQ_PER_L, Concentration, EC_WATER_MS_PER_CM, MeterScale, PH, WATER_ON_HAND_L, WATER_PPM, ppm_of,
};

/// More waters than this are refused: nobody carries more cans than that to a tank.
const WATERS_AT_MOST: usize = 6;

/// Water under this EC, mS/cm, is as good as pure: own choice.
const PURE_MS_PER_CM: f64 = 0.1;
/// EC that tap water may have where nothing of it was measured, mS/cm: from memory.
const TAP_MS_PER_CM: f64 = 0.4;

/// True where waters are listed, as `[[water]]`.
fn are_several(root: &Table) -> bool {
    root.get("water").is_some_and(|item| item.value.is_array())
}

/// The one `[water]`; nothing where none is stated, or several are.
pub(super) fn water(root: &Table, catalogue: &Catalogue, meter: Option<MeterScale>) -> Water {
    if are_several(root) {
        return Water::default();
    }
    root.table("water", "[water]").map_or_else(Water::default, |table| analysis(&table, catalogue, &[], meter))
}

/// Every `[[water]]`, each with an id of its own.
pub(super) fn waters(root: &Table, catalogue: &Catalogue, meter: Option<MeterScale>) -> Vec<Source> {
    let mut all: Vec<Source> = Vec::new();
    if !are_several(root) {
        return all;
    }
    for table in root.tables("water") {
        let water = analysis(&table, catalogue, &["id", "on_hand"], meter);
        let on_hand =
            table.get("on_hand").and_then(|item| item.quantity("40 L", |text| quantity::volume(text, &WATER_ON_HAND_L)));
        let Some(item) = table.require("id", "id = \"rain\"") else { continue };
        let Some(id) = plain_name(&item) else { continue };
        if all.iter().any(|other| other.id == id) {
            item.wrong(format!("`{id}` is taken"), Some("choose another id".to_owned()));
        } else if all.len() >= WATERS_AT_MOST {
            item.wrong(format!("more than {WATERS_AT_MOST} waters are not taken"), None);
        }
        all.push(Source { id: id.to_owned(), water, on_hand });
    }
    all
}

/// An analysis.
///
/// * `beside`: keys of the same table that say something else
/// * `meter`: the scale of the grower's meter
fn analysis(table: &Table, catalogue: &Catalogue, beside: &[&'static str], meter: Option<MeterScale>) -> Water {
    let known: Vec<&str> = beside.iter().copied().chain(Water::keys()).chain(["alkalinity", "pH", "EC"]).collect();
    table.only(&known);
    let mut water = Water::default();
    let mut stated: Vec<(Nutrient, &str)> = Vec::new();
    for item in table.items() {
        match Water::item(item.name, catalogue.elements()) {
            Some(WaterItem::Nutrient { nutrient, factor, molar_mass }) => {
                if let Some((_, before)) = stated.iter().find(|(seen, _)| *seen == nutrient) {
                    item.wrong(format!("states the same thing as `{before}`"), Some("keep one of the two".to_owned()));
                    continue;
                }
                stated.push((nutrient, item.name));
                if let Some(ppm) = water_ppm(&item, molar_mass) {
                    water.nutrients[nutrient] = ppm * factor;
                }
            }
            Some(WaterItem::Bicarbonate { molar_mass }) => {
                water.alkalinity_meq_per_l = water_ppm(&item, molar_mass).map(|ppm| ppm / molar_mass);
            }
            None => {}
        }
    }
    water.nutrients[Nutrient::N] = water.nutrients[Nutrient::NitrateN] + water.nutrients[Nutrient::AmmoniumN];
    if let Some(item) = table.get("alkalinity") {
        if table.get("HCO3").is_some() {
            item.wrong("states the same thing as `HCO3`", Some("keep one of the two".to_owned()));
        }
        water.alkalinity_meq_per_l = item
            .quantity("25 mg/L CaCO3", |text| quantity::alkalinity(text, &ALKALINITY_MEQ_PER_L))
            .map(|alkalinity| alkalinity.meq_per_l);
    }
    water.ph = table.get("pH").and_then(|item| item.number(&PH));
    water.ec_ms_per_cm = table
        .get("EC")
        .and_then(|item| item.quantity("0.10 mS/cm", |text| quantity::conductivity(text, &EC_WATER_MS_PER_CM, meter)))
        .map(|ec| ec.get::<uom::si::electrical_conductivity::siemens_per_meter>() * 10.0);
    if stated.is_empty() && water.alkalinity_meq_per_l.is_none() {
        water.unstated_ms_per_cm = match (water.ec_ms_per_cm, water.ph) {
            (Some(ec), _) if ec >= PURE_MS_PER_CM => ec,
            // of several waters the one with nothing but a name is rain
            (None, None) if beside.is_empty() => TAP_MS_PER_CM,
            _ => 0.0,
        };
    }
    water
}

/// ppm of what the key names: a bare number, or text with a unit.
fn water_ppm(item: &Item, molar_mass: f64) -> Option<f64> {
    if item.is_number() {
        return item.number(&WATER_PPM);
    }
    let value = item.is_concentration_text().then(|| item.quantity("40 ppm", quantity::concentration))??;
    item.checked(WATER_PPM.check(match value {
        Concentration::Mass(mass) => ppm_of(mass),
        Concentration::Amount(amount) => amount.get::<uom::si::molar_concentration::mole_per_cubic_meter>() * molar_mass,
    }))
}
