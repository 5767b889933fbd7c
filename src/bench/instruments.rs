//! Scales, the syringe, and jugs for larger volumes.

use super::names::plain_name;
use super::reader::Table;
use super::{Jug, Scale, Syringe, smallest_steps};
use crate::quantity::{
    self, CAPACITY_G, CAPACITY_ML, METER_SCALE, METER_SCALES, MeterScale, SCALE_STEP_G, SYRINGE_STEP_ML, TRUST, Volume,
    gram, liter, volume_text, whole_steps,
};

/// Smallest dose against its step where no `trust` is stated.
const TRUST_DEFAULT: f64 = 0.05;

/// More jugs than this are refused.
const JUGS_AT_MOST: usize = 12;

pub(super) fn scales(root: &Table) -> Vec<Scale> {
    let mut scales: Vec<Scale> = root
        .tables("scale")
        .iter()
        .filter_map(|table| {
            table.only(&["readability", "trust", "capacity"]);
            let readability = table
                .require("readability", "readability = \"0.1 g\"")?
                .quantity("0.1 g", |text| quantity::mass(text, &SCALE_STEP_G))?;
            let capacity = match table.get("capacity") {
                None => None,
                Some(item) => {
                    let capacity = item.quantity("500 g", |text| quantity::mass(text, &CAPACITY_G))?;
                    if capacity < readability {
                        item.wrong("the scale cannot hold one of its own steps", None);
                    }
                    Some(capacity)
                }
            };
            Some(Scale { readability, trust: trust(table), capacity })
        })
        .collect();
    if scales.is_empty() {
        scales = [0.1, 0.001].map(|step| Scale { readability: gram(step), trust: TRUST_DEFAULT, capacity: None }).to_vec();
    }
    scales.sort_by(|a, b| b.readability.partial_cmp(&a.readability).unwrap_or(std::cmp::Ordering::Equal));
    scales
}

fn trust(table: &Table) -> f64 {
    table.get("trust").and_then(|item| item.number(&TRUST)).unwrap_or(TRUST_DEFAULT)
}

pub(super) fn syringe(root: &Table) -> Syringe {
    let default = Syringe { step: liter(0.5e-3), trust: TRUST_DEFAULT, capacity: None };
    let Some(table) = root.table("syringe", "[syringe]") else { return default };
    table.only(&["step", "trust", "capacity"]);
    let step = table
        .get("step")
        .and_then(|item| item.quantity("0.5 mL", |text| quantity::volume(text, &SYRINGE_STEP_ML)))
        .unwrap_or(default.step);
    let capacity = table.get("capacity").and_then(|item| {
        let capacity = item.quantity("60 mL", |text| quantity::volume(text, &CAPACITY_ML))?;
        if capacity < step {
            item.wrong("the syringe cannot hold one of its own steps", None);
        }
        Some(capacity)
    });
    Syringe { step, trust: trust(&table), capacity }
}

/// The `[meter]`, of which the scale matters: 500 ppm on it may be 1.00 mS/cm, or 0.71.
pub(super) fn meter(root: &Table) -> Option<MeterScale> {
    let table = root.table("meter", "[meter]")?;
    table.only(&["scale"]);
    let item = table.require("scale", "scale = 500")?;
    let stated = item.number(&METER_SCALE)?;
    // as manuals name it, ppm at 1 mS/cm, or ppm for a uS/cm
    let is_it = |scale: &&MeterScale| [1e3, 1.0].iter().any(|per| (scale.factor * per - stated).abs() < 1e-9);
    let scale = METER_SCALES.iter().find(is_it).copied();
    if scale.is_none() {
        item.wrong(format!("read {stated}; meters have a scale of 500, 640 or 700 (0.5, 0.64 or 0.7)"), None);
    }
    scale
}

/// Every `[[jug]]`: none is trusted with less than the syringe, and each holds what it is trusted with.
pub(super) fn jugs(root: &Table, syringe: &Syringe) -> Vec<Jug> {
    let tables = root.tables("jug");
    if let (Some(item), false, None) = (root.get("jug"), tables.is_empty(), syringe.capacity) {
        let help = "add capacity = \"60 mL\" to [syringe]: what is more goes by jug".to_owned();
        item.wrong_key("beside a jug the syringe states what it holds", Some(help));
    }
    let mut all: Vec<Jug> = Vec::new();
    for table in &tables {
        if let Some(jug) = jug(table, syringe, &all) {
            all.push(jug);
        }
    }
    all
}

fn jug(table: &Table, syringe: &Syringe, others: &[Jug]) -> Option<Jug> {
    table.only(&["id", "step", "trust", "capacity"]);
    let id = table.require("id", "id = \"jug\"").and_then(|item| {
        let id = plain_name(&item)?;
        if others.iter().any(|other| other.id == id) {
            item.wrong(format!("`{id}` is taken"), Some("choose another id".to_owned()));
        } else if others.len() >= JUGS_AT_MOST {
            item.wrong(format!("more than {JUGS_AT_MOST} jugs are not taken"), None);
        }
        Some(id)
    });
    let step = table.require("step", "step = \"10 mL\"");
    let capacity = table.require("capacity", "capacity = \"1 L\"");
    let trust = trust(table);
    let (step_item, capacity_item) = (step?, capacity?);
    let step = step_item.quantity("10 mL", |text| quantity::volume(text, &SYRINGE_STEP_ML))?;
    let capacity = capacity_item.quantity("1 L", |text| quantity::volume(text, &CAPACITY_ML))?;
    let (least, of_syringe) = (smallest(step, trust), smallest(syringe.step, syringe.trust));
    if least < of_syringe * (1.0 - 1e-9) {
        step_item.wrong(
            format!("it would be trusted from {}, the syringe from {}", volume_text(least), volume_text(of_syringe)),
            Some("what is trusted with the least is the [syringe]; a jug is for more".to_owned()),
        );
    } else if capacity < least * (1.0 - 1e-9) {
        capacity_item.wrong(
            format!("it holds less than the {} from which it is trusted", volume_text(least)),
            Some("a looser `trust` lowers that: step / trust".to_owned()),
        );
    }
    Some(Jug { id: id?.to_owned(), step, trust, capacity })
}

/// The smallest volume that is trusted.
fn smallest(step: Volume, trust: f64) -> Volume {
    liter(whole_steps(smallest_steps(trust), quantity::milliliter(step)) * 1e-3)
}
