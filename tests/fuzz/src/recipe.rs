//! Saved recipes.

use serde_json::{Map, Value, json};

use crate::bench::{ASKED, FORMULAS, RARE};
use crate::draw::Draw;

const SALTS: [&str; 8] = [
    "calcium-nitrate-tetrahydrate",
    "potassium-nitrate",
    "monopotassium-phosphate",
    "magnesium-sulfate-heptahydrate",
    "iron-dtpa",
    "boric-acid",
    "phosphoric-acid-10",
    "urea",
];

fn maybe(draw: &mut Draw, low: f64, high: f64) -> Value {
    if draw.once_in(2) { json!(draw.size(low, high)) } else { Value::Null }
}

/// The text of a right recipe.
pub fn sentence(draw: &mut Draw) -> String {
    let litres = if draw.once_in(4) { draw.size(0.1, 1e5) } else { 60.0 };
    let products = draw.once_in(4);
    let bottles = if draw.once_in(3) { 1 + draw.below(2) } else { 0 };
    let mut doses: Vec<Value> = Vec::new();
    for id in SALTS.into_iter().chain(products.then_some("workshop-pk")).chain(products.then_some("workshop-npk")) {
        if !draw.once_in(3) {
            let most = if draw.once_in(8) { 9e3 } else { 1.0 };
            let grams = draw.size(1e-4, most) * litres;
            let millilitres = if id.ends_with("-10") || id.ends_with("-pk") { json!(grams) } else { Value::Null };
            doses.push(json!({ "salt": id, "helper": null, "grams": grams, "millilitres": millilitres,
                "purity": maybe(draw, 0.5, 1.0) }));
        }
    }
    for at in 0..bottles {
        doses.push(json!({ "salt": null, "helper": format!("bottle-{at}"), "grams": null,
            "millilitres": draw.size(1e-3, 10.0) * litres, "purity": null }));
    }
    let mut water_ppm = Map::new();
    for (element, usual) in ASKED.into_iter().filter(|(element, _)| *element != "NH4-N" && *element != "N") {
        if draw.once_in(3) {
            water_ppm.insert(element.to_owned(), json!(draw.size(1e-3, usual)));
        }
    }
    let mut recipe = json!({
        "version": 1, "kind": "recipe", "formula": if draw.once_in(3) { Value::Null } else { json!(draw.one(&FORMULAS)) },
        "bench": "Flood bench", "volume_l": litres, "plus_minus_l": litres * 0.4 * draw.share(),
        "temperature_c": draw.one(&[21.0, 0.0, 50.0, 4.0]), "water_ppm": water_ppm,
        "water_alkalinity_meq_l": maybe(draw, 0.01, 10.0), "water_ph": maybe(draw, 5.0, 9.0),
        "wishes": wishes(draw), "doses": doses, "helpers": helpers(draw, bottles), "products": [],
    });
    if products {
        recipe["products"] = json!([
            { "id": "workshop-pk", "name": "PK liquid", "density_kg_l": 1.09, "analysis_percent": { "P2O5": 6.5, "K2O": 4.3 },
              "alkalinity_eq_kg": maybe(draw, 0.01, 2.0), "carbon_mol_kg": null },
            { "id": "workshop-npk", "name": "NPK", "density_kg_l": null,
              "analysis_percent": { "N": draw.size(0.01, 30.0), "K2O": draw.size(0.01, 30.0) },
              "alkalinity_eq_kg": null, "carbon_mol_kg": null },
        ]);
    }
    if draw.once_in(4) {
        let rain = litres * draw.share();
        recipe["waters"] = json!([{ "id": "rain", "litres": rain }, { "id": "tap", "litres": litres - rain }]);
    }
    if draw.once_in(4) {
        recipe["into"] = json!({ "drained_l": litres * draw.share(), "filled_l": litres * draw.share(),
            "level_l": if draw.once_in(2) { json!(litres) } else { Value::Null } });
    }
    recipe.to_string()
}

fn wishes(draw: &mut Draw) -> Vec<Value> {
    let mut wishes = Vec::new();
    for (element, usual) in ASKED.into_iter().take(11) {
        if !draw.once_in(4) {
            let ppm = draw.size(usual * 0.3, usual * 2.0);
            wishes.push(json!({ "element": element, "target_ppm": ppm, "min_ppm": null,
                "max_ppm": if draw.once_in(4) { json!(ppm * 1.5) } else { Value::Null } }));
        }
    }
    wishes
}

fn helpers(draw: &mut Draw, count: usize) -> Vec<Value> {
    let mut helpers = Vec::new();
    for at in 0..count {
        let mut made_of = vec![json!({ "salt": draw.one(&SALTS), "helper": null, "grams": draw.size(1e-3, 100.0),
            "millilitres": null, "purity": null })];
        if draw.once_in(3) {
            made_of.push(json!({ "salt": draw.one(&RARE[..8]), "helper": null, "grams": draw.size(1e-3, 100.0),
                "millilitres": null, "purity": null }));
        }
        if at > 0 && draw.once_in(2) {
            made_of.push(json!({ "salt": null, "helper": "bottle-0", "grams": null, "millilitres": draw.size(0.01, 40.0),
                "purity": null }));
        }
        helpers.push(json!({ "id": format!("bottle-{at}"), "volume_ml": draw.size(50.0, 5000.0), "made_of": made_of,
            "pure_water": draw.once_in(2) }));
    }
    helpers
}
