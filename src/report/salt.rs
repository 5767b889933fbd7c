//! The salt table, and one salt with all that is known of it.

use super::page::{Marks, Page, Table, left};
use super::text::text;
use crate::jobs::{SaltRecord, SaltsRecord};
use crate::matter::NUTRIENTS;
use crate::quantity::{fixed, significant};

/// Salts as text: the only one that was looked for in full, several one line each.
#[must_use]
pub fn salts(record: &SaltsRecord, colour: bool) -> String {
    text(&salts_page(record), colour)
}

pub(super) fn salts_page(record: &SaltsRecord) -> Page {
    match (&record.words, &record.salts[..]) {
        (Some(_), [salt]) => whole(record, salt),
        (words, salts) => list(words.as_deref(), salts),
    }
}

/// Nutrients in the order of the trade.
fn percents(salt: &SaltRecord) -> impl Iterator<Item = (&'static str, f64)> {
    NUTRIENTS.into_iter().filter_map(|nutrient| Some((nutrient.symbol(), *salt.nutrients_percent.get(nutrient.symbol())?)))
}

/// Several salts, one line each.
fn list(words: Option<&str>, salts: &[SaltRecord]) -> Page {
    let aside = "percent by mass; the id, or another name, tells all of one";
    let mut page = Page::new("Salts", aside);
    if let Some(words) = words {
        page.say(format!("{} of them may be meant by \"{words}\":", salts.len()));
    }
    let mut table = Table::new([left(""), left("")]).indent(3);
    for salt in salts {
        let contents: Vec<String> = percents(salt)
            // the forms say more than their sum, and where there is one form the sum is the same
            .filter(|(symbol, _)| *symbol != "N")
            .map(|(symbol, percent)| format!("{symbol} {}", significant(percent, 1)))
            .collect();
        table.row([salt.id.clone(), if contents.is_empty() { "-".to_owned() } else { contents.join(", ") }]);
    }
    page.table(table);
    page
}

/// One salt: composition, solubility, hazards, handling, law and sources.
fn whole(record: &SaltsRecord, salt: &SaltRecord) -> Page {
    let mut page = Page::new(&salt.name, &salt.id);
    if !salt.other_names.is_empty() {
        page.say(format!("also called {}", salt.other_names.join(", ")));
    }
    page.section("Composition", "");
    for (key, value) in composition(salt) {
        page.say_after(&format!("   {key:<20}"), value);
    }
    hazards(&mut page, record, salt);
    handling(&mut page, salt);
    page.section("Sources", "");
    let sources = salt.sources.iter().filter_map(|id| record.sources.iter().find(|source| source.id == *id));
    page.list(Marks::Nothing(3), sources.map(|source| format!("[{}] {}", source.grade.words(), source.citation)));
    page.gap();
    page.say_after("", "The supplier's safety data sheet and the local rules decide. This is no substitute for either.");
    page
}

fn composition(salt: &SaltRecord) -> Vec<(&'static str, String)> {
    let mut rows = Vec::new();
    if let (Some(formula), Some(mass)) = (&salt.formula, salt.molar_mass_g_mol) {
        let strength = salt.strength_percent.map_or_else(String::new, |percent| format!(", {percent} % by mass in water"));
        rows.push(("formula", format!("{formula}, {} g/mol{strength}", fixed(mass, 3))));
    }
    if !salt.analysis_percent.is_empty() {
        let label = salt.analysis_percent.iter().map(|(key, percent)| format!("{key} {percent} %"));
        rows.push(("label", label.collect::<Vec<_>>().join(", ")));
    }
    let contents: Vec<String> =
        percents(salt).map(|(symbol, percent)| format!("{symbol} {} %", fixed(percent, 2))).collect();
    rows.push(("brings", if contents.is_empty() { "no nutrient".to_owned() } else { contents.join(", ") }));
    let mut species: Vec<&str> = salt.species_mol_kg.keys().map(String::as_str).collect();
    species.sort_by_key(|symbol| !symbol.contains('+'));
    rows.push(("dissolves into", species.join(", ")));
    if let Some(cas) = &salt.cas {
        rows.push(("CAS number", cas.clone()));
    }
    rows.push(("usual purity", format!("{} %", significant(100.0 * salt.usual_purity, 1))));
    if let Some(density) = salt.density_kg_l {
        rows.push(("density", format!("{density} kg/L")));
    }
    if let Some((low, high)) = salt.ph_range {
        rows.push(("holds at pH", format!("{low} to {high}")));
    }
    let mut points: Vec<(f64, f64)> =
        salt.soluble_at_least_g_l.iter().filter_map(|(celsius, grams)| Some((celsius.parse().ok()?, *grams))).collect();
    points.sort_by(|one, other| one.0.total_cmp(&other.0));
    if !points.is_empty() {
        let points = points.iter().map(|(celsius, grams)| format!("{} g/L at {celsius} C", significant(*grams, 1)));
        rows.push(("dissolves at least", points.collect::<Vec<_>>().join(", ")));
    }
    let fit = match salt.kind.as_str() {
        "silicate" => "only when a formula asks for Si",
        "acid" => "only when [acid] names it",
        "base" => "never by itself",
        _ => "takes part in every mix when it is on the shelf",
    };
    rows.push(("in a mix", fit.to_owned()));
    rows
}

fn hazards(page: &mut Page, record: &SaltsRecord, salt: &SaltRecord) {
    let stricter_word = salt.stricter_word.as_ref().map(|word| format!("{word} (stricter source)"));
    let words: Vec<&str> = salt.signal_word.as_deref().into_iter().chain(stricter_word.as_deref()).collect();
    page.section("Hazards", &if words.is_empty() { "no signal word".to_owned() } else { words.join(", ") });
    for code in salt.hazards.iter().chain(&salt.pictograms) {
        let words = record.codes.get(code).map_or("", String::as_str);
        let mark = if salt.stricter.contains(code) { " (stricter source)" } else { "" };
        page.say_after(&format!("   {code:<8}"), format!("{words}{mark}"));
    }
    if salt.hazards.is_empty() {
        page.line(if salt.own_product { "not known: see the label" } else { "not classified" });
    }
    let stricter = |id: &String| record.sources.iter().find(|source| source.id == *id);
    if let Some(source) = salt.stricter_source.as_ref().and_then(stricter) {
        page.say(format!("stricter source: {}; the rest is the EU's class or the usual supplier's", source.citation));
    }
    if let Some(note) = &salt.hazard_note {
        page.say(note.as_str());
    }
}

fn handling(page: &mut Page, salt: &SaltRecord) {
    if !salt.cautions.is_empty() {
        page.section("Handle it so", "");
        for caution in &salt.cautions {
            let more = caution.more.as_ref().map_or_else(String::new, |more| format!(" {more}"));
            page.say(format!("{}: {}{more}", caution.heading, caution.text));
        }
    }
    if !salt.keep_apart.is_empty() {
        page.section("Keep it away from", "");
        page.say(salt.keep_apart.join("; "));
    }
    page.section("Law", "who may have it");
    if salt.law.is_empty() {
        page.say("no rule of the EU or of Great Britain known here; elsewhere: not known here");
    } else {
        page.list(Marks::Nothing(3), salt.law.iter().map(String::as_str));
    }
}
