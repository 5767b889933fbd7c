//! The salt table, and one salt with all that is known of it.

use super::page::{Marks, Page, Table, left};
use super::text::text;
use crate::catalogue::Catalogue;
use crate::matter::{NUTRIENTS, Salt};
use crate::quantity::{fixed, significant};
use crate::safety;

fn percents(salt: &Salt) -> Vec<(&'static str, f64)> {
    NUTRIENTS
        .into_iter()
        .map(|nutrient| (nutrient.symbol(), 100.0 * salt.composition.nutrients[nutrient]))
        .filter(|(_, percent)| *percent > 1e-9)
        .collect()
}

/// Every salt, one line each.
#[must_use]
pub fn salts(catalogue: &Catalogue, colour: bool) -> String {
    let mut page = Page::new("Salts", "percent by mass; `bloomsalt salts ID` tells all of one");
    let mut table = Table::new([left(""), left("")]).indent(3);
    for salt in catalogue.salts() {
        let contents: Vec<String> = percents(salt)
            .into_iter()
            // the forms say more than their sum, and where there is one form the sum is the same
            .filter(|(symbol, _)| *symbol != "N")
            .map(|(symbol, percent)| format!("{symbol} {}", significant(percent, 1)))
            .collect();
        table.row([salt.id.clone(), if contents.is_empty() { "-".to_owned() } else { contents.join(", ") }]);
    }
    page.table(table);
    text(&page, colour)
}

/// One salt: composition, solubility, hazards, handling, law and sources.
#[must_use]
pub fn salt(catalogue: &Catalogue, salt: &Salt, colour: bool) -> String {
    let mut page = Page::new(&salt.name, &salt.id);
    if !salt.other_names.is_empty() {
        page.say(format!("also called {}", salt.other_names.join(", ")));
    }
    composition(&mut page, catalogue, salt);
    hazards(&mut page, catalogue, salt);
    page.section("Sources", "");
    let mut ids: Vec<&String> = salt.sources.iter().chain(&salt.hazards.sources).collect();
    ids.sort();
    ids.dedup();
    let sources = ids.iter().filter_map(|id| catalogue.source(id));
    page.list(Marks::Nothing(3), sources.map(|source| format!("[{}] {}", source.grade.words(), source.citation)));
    page.gap();
    page.say_after("", "The supplier's safety data sheet and the local rules decide. This is no substitute for either.");
    text(&page, colour)
}

fn composition(page: &mut Page, catalogue: &Catalogue, salt: &Salt) {
    page.section("Composition", "");
    let mut rows: Vec<(String, String)> = Vec::new();
    if let Some(formula) = &salt.formula {
        let strength = salt.mass_percent.map_or_else(String::new, |percent| format!(", {percent} % by mass in water"));
        let mass = fixed(formula.molar_mass(catalogue.elements()), 3);
        rows.push(("formula".to_owned(), format!("{formula}, {mass} g/mol{strength}")));
    }
    if !salt.analysis.is_empty() {
        let label: Vec<String> = salt.analysis.iter().map(|(key, percent)| format!("{key} {percent} %")).collect();
        rows.push(("label".to_owned(), label.join(", ")));
    }
    let contents: Vec<String> =
        percents(salt).iter().map(|(symbol, percent)| format!("{symbol} {} %", fixed(*percent, 2))).collect();
    rows.push(("brings".to_owned(), if contents.is_empty() { "no nutrient".to_owned() } else { contents.join(", ") }));
    let ions: Vec<&str> = salt.composition.ions.iter().map(|(ion, _)| catalogue.ions().get(*ion).symbol.as_str()).collect();
    rows.push(("dissolves into".to_owned(), ions.join(", ")));
    if let Some(cas) = &salt.cas {
        rows.push(("CAS number".to_owned(), cas.clone()));
    }
    rows.push(("usual purity".to_owned(), format!("{} %", significant(100.0 * salt.usual_purity, 1))));
    if let Some(density) = salt.density_kg_per_l {
        rows.push(("density".to_owned(), format!("{density} kg/L")));
    }
    if let Some((low, high)) = salt.ph_range {
        rows.push(("holds at pH".to_owned(), format!("{low} to {high}")));
    }
    if let Some(solubility) = &salt.solubility {
        let points: Vec<String> = solubility
            .as_sold_percent
            .iter()
            .map(|(celsius, percent)| format!("{} g/L at {celsius} C", significant(percent * 10.0, 1)))
            .collect();
        rows.push(("dissolves at least".to_owned(), points.join(", ")));
    }
    let fit = match salt.kind {
        crate::matter::Kind::Salt | crate::matter::Kind::Chelate => "takes part in every mix when it is on the shelf",
        crate::matter::Kind::Silicate => "only when a formula asks for Si",
        crate::matter::Kind::Acid => "only when [acid] names it",
        crate::matter::Kind::Base => "never by itself",
    };
    rows.push(("in a mix".to_owned(), fit.to_owned()));
    for (key, value) in rows {
        page.say_after(&format!("   {key:<20}"), value);
    }
}

fn hazards(page: &mut Page, catalogue: &Catalogue, salt: &Salt) {
    page.section("Hazards", salt.hazards.signal_word.as_deref().unwrap_or("no signal word"));
    for code in &salt.hazards.statements {
        let words = catalogue.statement(code).map_or("", |statement| statement.text.as_str());
        let mark = if salt.hazards.stricter.contains(code) { " (stricter source)" } else { "" };
        page.say_after(&format!("   {code:<8}"), format!("{words}{mark}"));
    }
    for code in &salt.hazards.pictograms {
        let words = catalogue.pictogram(code).map_or("", |pictogram| pictogram.means.as_str());
        page.say_after(&format!("   {code:<8}"), words);
    }
    if salt.hazards.statements.is_empty() {
        page.line(if salt.own_product { "not known: see the label" } else { "not classified" });
    }
    if let Some(source) = salt.hazards.stricter_source.as_ref().and_then(|id| catalogue.source(id)) {
        page.say(format!("stricter source: {}; the rest is the EU's class or the usual supplier's", source.citation));
    }
    if let Some(note) = &salt.hazards.note {
        page.say(note.as_str());
    }
    let advice = safety::advice_for(catalogue.cautions(), &[salt], catalogue.ions());
    if !advice.is_empty() {
        page.section("Handle it so", "");
        for advice in advice {
            let more = advice.caution.more.as_ref().map_or_else(String::new, |more| format!(" {more}"));
            page.say(format!("{}: {}{more}", advice.caution.heading, advice.caution.text));
        }
    }
    if !salt.keep_apart.is_empty() {
        page.section("Keep it away from", "");
        page.say(salt.keep_apart.join("; "));
    }
    page.section("Law", "who may have it");
    if salt.law.notes.is_empty() {
        page.say("no rule of the EU or of Great Britain known here; elsewhere: not known here");
    } else {
        page.list(Marks::Nothing(3), salt.law.notes.iter().chain(&salt.law.more).map(String::as_str));
    }
}
