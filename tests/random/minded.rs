//! Whether a report minds all that it tells to pour: every acid and base that is measured out, or that a remedy or a correction
//! names to be added, has its handling, its cautions and its law in the same report.

use std::collections::BTreeSet;

use bloomsalt::catalogue::Catalogue;
use bloomsalt::matter::{Kind, Salt};
use bloomsalt::safety::advice_for;
use serde_json::Value;

/// What the reports of a document name to be added and do not mind.
pub fn not_minded(catalogue: &Catalogue, document: &Value) -> Vec<String> {
    let mut wrong = Vec::new();
    walk(catalogue, document, None, &mut wrong);
    wrong.sort();
    wrong.dedup();
    wrong
}

/// * `report`: the nearest object around it that has a handling
fn walk<'v>(catalogue: &Catalogue, value: &'v Value, report: Option<&'v Value>, wrong: &mut Vec<String>) {
    match value {
        Value::Array(all) => all.iter().for_each(|one| walk(catalogue, one, report, wrong)),
        Value::Object(fields) => {
            let report = if value["handling"].is_array() { Some(value) } else { report };
            for salt in named(catalogue, value) {
                wrong.extend(misses(catalogue, report, salt));
            }
            fields.values().for_each(|one| walk(catalogue, one, report, wrong));
        }
        _ => {}
    }
}

/// Acids and bases that an object names to be added: as a dose, as a correction, or by an amount in a remedy.
fn named<'c>(catalogue: &'c Catalogue, object: &Value) -> Vec<&'c Salt> {
    let sours = catalogue.salts().iter().filter(|salt| matches!(salt.kind, Kind::Acid | Kind::Base));
    let remedy = object["remedy"].as_str().unwrap_or_default();
    let is_named = |salt: &&Salt| {
        let by_id = object["salt"] == salt.id.as_str() && (object["grams"].is_number() || object["millilitres"].is_number());
        let poured = ["mL", "g"].iter().any(|unit| {
            let words = format!("{unit} of {}", salt.name);
            // "potassium hydroxide" is not "potassium hydroxide 10 %"
            remedy.match_indices(&words).any(|(at, _)| !remedy[at + words.len()..].starts_with(" 1"))
        });
        by_id || poured
    };
    sours.filter(is_named).collect()
}

fn misses(catalogue: &Catalogue, report: Option<&Value>, salt: &Salt) -> Vec<String> {
    let id = salt.id.as_str();
    let Some(report) = report else { return vec![format!("{id} is named where nothing is minded")] };
    let list = |key: &str| report[key].as_array().cloned().unwrap_or_default();
    let mut wrong = Vec::new();
    if !list("handling").iter().any(|one| one["salt"] == id) {
        wrong.push(format!("{id} is named and has no handling"));
    }
    let of_it = |heading: &str, text: &str| {
        list("cautions").iter().any(|one| {
            let concerns = one["salts"].as_array().is_some_and(|salts| salts.iter().any(|other| other == id));
            one["heading"] == heading && concerns && one["text"].as_str().is_some_and(|words| words.contains(text))
        })
    };
    let advice = advice_for(catalogue.cautions(), &[salt], catalogue.ions());
    let headings: BTreeSet<(&str, &str)> =
        advice.iter().map(|one| (one.caution.heading.as_str(), one.caution.text.as_str())).collect();
    wrong.extend(
        headings
            .iter()
            .filter(|(heading, text)| !of_it(heading, text))
            .map(|(heading, _)| format!("{id} is named without its caution {heading}")),
    );
    wrong.extend(
        salt.law.notes.iter().filter(|note| !of_it("Law", note)).map(|note| format!("{id} is named without {note}")),
    );
    wrong
}
