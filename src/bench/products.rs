//! Products of the grower's own: from their labels to salts beside those of the table.

use super::names::well_formed;
use super::reader::Table;
use crate::catalogue::Catalogue;
use crate::matter::{CHELATORS, Chelator, LabelError, LabelItem, Salt, Stated};
use crate::quantity::{self, ANALYSIS_PERCENT, CARBON_MOL_PER_KG, DENSITY_KG_PER_L, EQUIVALENTS_PER_KG};

pub(super) fn products(root: &Table, mut catalogue: Catalogue) -> Catalogue {
    let acids = named_acids(root);
    for table in root.tables("product") {
        if let Some(product) = product(&table, &catalogue, &acids) {
            catalogue = catalogue.with_product(product);
        }
    }
    catalogue
}

/// Ids that `[acid]` names: what is named there is an acid, whatever its label leaves out. Its mistakes are noted where it is read.
fn named_acids(root: &Table) -> Vec<String> {
    let acid = root.get("acid").and_then(|item| item.value.as_table()).and_then(|table| table.get("salt"));
    let Some(salt) = acid.map(toml::Spanned::get_ref) else { return Vec::new() };
    let list = salt.as_array().into_iter().flat_map(|list| list.iter().filter_map(|id| id.get_ref().as_str()));
    salt.as_str().into_iter().chain(list).map(str::to_owned).collect()
}

fn product(table: &Table, catalogue: &Catalogue, acids: &[String]) -> Option<Salt> {
    table.only(&["id", "name", "density", "analysis", "alkalinity_per_kg", "carbon_per_kg", "chelate"]);
    let id_item = table.require("id", "id = \"workshop-pk\"")?;
    let id = well_formed(&id_item)?;
    if catalogue.find(id).is_some() {
        id_item.wrong(format!("`{id}` is taken"), Some("choose another id".to_owned()));
        return None;
    }
    let density_kg_per_l = match table.get("density") {
        None => None,
        Some(item) => {
            let density = item.quantity("1.09 kg/L", |text| quantity::density(text, &DENSITY_KG_PER_L))?;
            Some(quantity::gram_per_milliliter_of(density))
        }
    };
    let analysis_item = table.require("analysis", "analysis = { P2O5 = 6.5, K2O = 4.3 }")?;
    let analysis = analysis_item.own_table()?;
    let mut items = Vec::new();
    for item in analysis.items() {
        items.push(LabelItem { key: item.name.to_owned(), percent: item.number(&ANALYSIS_PERCENT)? });
    }
    if items.iter().all(|item| item.percent == 0.0) {
        analysis_item.wrong("the analysis names nothing", None);
        return None;
    }
    let named_acid = acids.iter().any(|acid| acid == id);
    let stated = Stated { chelate: chelate(table, &items, catalogue)?, named_acid, ..stated(table)? };
    let name = table.get("name").map_or(Some(id), |item| item.text("a name in quotes"))?;
    match catalogue.own_product(id, name, density_kg_per_l, &items, stated) {
        Ok(product) => Some(product),
        Err(error) => {
            let help = match &error {
                LabelError::UnknownKey { suggestion, .. } => suggestion.map(|word| format!("did you mean `{word}`?")),
                _ => None,
            };
            analysis_item.wrong(error.to_string(), help);
            None
        }
    }
}

/// What is stated of a product beside its label.
fn stated(table: &Table) -> Option<Stated> {
    let alkalinity_eq_per_kg = match table.get("alkalinity_per_kg") {
        None => None,
        Some(item) => Some(item.quantity("0 eq", |text| quantity::equivalents(text, &EQUIVALENTS_PER_KG))?),
    };
    let carbon_mol_per_kg = match table.get("carbon_per_kg") {
        None => None,
        Some(item) => {
            if alkalinity_eq_per_kg.is_none() {
                item.wrong("how much carbonate says nothing without the alkalinity", {
                    Some("state `alkalinity_per_kg` too".to_owned())
                });
                return None;
            }
            Some(item.quantity("1.2 mol", |text| quantity::moles(text, &CARBON_MOL_PER_KG))?)
        }
    };
    Some(Stated { alkalinity_eq_per_kg, carbon_mol_per_kg, ..Stated::default() })
}

/// The chelate that a product states, where it states one; `None` where it cannot be.
#[allow(clippy::option_option, reason = "the outer one is a mistake that was told")]
fn chelate(table: &Table, label: &[LabelItem], catalogue: &Catalogue) -> Option<Option<Chelator>> {
    let Some(item) = table.get("chelate") else { return Some(None) };
    let text = item.text("\"EDTA\"")?;
    let Some(chelate) = CHELATORS.into_iter().find(|chelate| chelate.symbol() == text) else {
        let all = CHELATORS.map(Chelator::symbol).join(", ");
        item.wrong(format!("read \"{text}\"; a chelate is one of {all}"), None);
        return None;
    };
    if let Some(metal) = catalogue.not_as_chelate(label, chelate).first() {
        let help = "leave `chelate` out, and they count as bare; or enter what is chelated as a product of its own";
        item.wrong(format!("the table knows no {text} of {metal}"), Some(help.to_owned()));
        return None;
    }
    Some(Some(chelate))
}
