//! Requests of every job.

use serde_json::{Value, json};

use crate::draw::Draw;
use crate::{bench, logbook, recipe};

const SALTS: [&str; 6] =
    ["potassium-nitrate", "urea", "workshop-pk", "boric-acid", "calcium-nitrate-tetrahydrate", "bottle-0"];

/// Salts and amounts as they are typed.
fn added(draw: &mut Draw) -> Vec<String> {
    let count = 1 + draw.below(4);
    let mut ids: Vec<&str> = SALTS.to_vec();
    (0..count)
        .map(|_| {
            let id = ids.remove(draw.below(ids.len()));
            let unit = if id.starts_with("bottle") || id.ends_with("pk") { "mL" } else { "g" };
            format!("{id}={} {unit}", draw.size(1e-4, 1e3))
        })
        .collect()
}

fn analysis(draw: &mut Draw) -> Vec<String> {
    bench::ASKED
        .into_iter()
        .take(11)
        .map(|(element, usual)| format!("{element}={}", draw.size(usual * 0.1, usual * 3.0)))
        .collect()
}

/// A right request of some job.
pub fn sentence(draw: &mut Draw) -> Value {
    let formula = draw.one(&bench::FORMULAS);
    let other = draw.one(&bench::FORMULAS);
    let (book, now) = logbook::sentence(draw);
    let mut asked = match draw.below(20) {
        0 => json!({ "job": "mix", "formula": formula, "also": ["recipe", "figures"] }),
        1 => {
            json!({ "job": "mix", "formula": formula, "salts_at_most": 1 + draw.below(14), "prefer": draw.one(&["cheap", "few", "light"]) })
        }
        2 => {
            json!({ "job": "mix-beside", "formula": formula, "beside": other, "meter_scale": draw.one(&["0.5", "0.64", "0.7"]) })
        }
        3 => {
            json!({ "job": "trade", "formula": formula, "along": draw.one(&["N", "K", "Ca"]), "reached": draw.one(&["Ca", "P", "S"]) })
        }
        4 => json!({ "job": "check", "added": added(draw), "against": formula, "reads": "1.1 mS/cm", "also": ["figures"] }),
        5 => json!({ "job": "check", "analysis": analysis(draw), "against": formula, "also": ["remedy"] }),
        6 => {
            json!({ "job": "check", "recipe": recipe::sentence(draw), "against": formula, "read_at": "18 C", "reads": "0.7 mS/cm" })
        }
        7 => json!({ "job": "switch", "formula": formula, "holding": other, "also": ["recipe", "figures"] }),
        8 => {
            json!({ "job": "switch", "formula": formula, "analysis": analysis(draw), "holding_ph": "6.1", "bucket": "10 L", "level": "50 L" })
        }
        9 => {
            json!({ "job": "switch", "formula": formula, "logbook": book, "now": now, "drain": format!("{} L", draw.size(0.1, 60.0)) })
        }
        10 => {
            json!({ "job": "switch", "formula": formula, "recipe": recipe::sentence(draw), "steps": 2 + draw.below(3), "every_days": 3 })
        }
        11 => {
            json!({ "job": "scale", "recipe": recipe::sentence(draw), "to": bench::volume(draw), "also": ["recipe", "figures"] })
        }
        12 => json!({ "job": "stock", "formula": formula, "strength": draw.one(&["50", "100", "10", "1000"]),
            "bottle": format!("{} L", draw.size(0.01, 100.0)), "dose_for": other, "coldest": "5 C", "also": ["figures"] }),
        13 => json!({ "job": "cycle", "start": "2027-01-04", "best_start": draw.once_in(2), "also": ["figures"] }),
        14 => {
            json!({ "job": "today", "logbooks": [book], "now": now, "start": "2026-09-01", "also": ["recipe", "figures"] })
        }
        15 => json!({ "job": "top-up", "formula": formula, "logbook": book, "now": now, "also": ["recipe", "figures"] }),
        16 => json!({ "job": "logbook-add", "now": now, "logbook": book, "entry": logbook::entry(draw), "confirmed": true }),
        17 => json!({ "job": "bench-edit", "edits": [{ "key": ["tank", "volume"], "value": bench::volume(draw) }] }),
        18 => json!({ "job": "salts", "words": draw.one(&["MKP", "epsom", "CuSO4·5H2O", "nitrate", ""]) }),
        _ => json!({ "job": "new", "tank": bench::volume(draw), "scales": ["0.1 g"],
            "water": { "from": "tap", "report": ["Ca=60", "alkalinity=2 meq/L"] } }),
    };
    if asked["job"] != "new" && !draw.once_in(4) {
        asked["bench"] = json!(bench::sentence(draw).text);
    }
    asked
}
