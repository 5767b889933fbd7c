//! A salt of the table as a record.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::catalogue::{Catalogue, Source};
use crate::matter::{NUTRIENTS, Salt};
use crate::safety;

/// One salt.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SaltRecord {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Other names in the trade.
    pub other_names: Vec<String>,
    /// `salt`, `chelate`, `silicate`, `acid` or `base`.
    pub kind: String,
    /// Chemical formula, where the composition comes from one.
    pub formula: Option<String>,
    /// Molar mass, g/mol.
    pub molar_mass_g_mol: Option<f64>,
    /// Percent by mass of the formula in a solution; null for what is sold as it is.
    pub strength_percent: Option<f64>,
    /// Label, percent by mass, where the composition comes from one.
    pub analysis_percent: BTreeMap<String, f64>,
    /// Nutrients, percent by mass.
    pub nutrients_percent: BTreeMap<String, f64>,
    /// Species that it releases, mol per kg.
    pub species_mol_kg: BTreeMap<String, f64>,
    /// CAS registry number.
    pub cas: Option<String>,
    /// Usual purity, a fraction.
    pub usual_purity: f64,
    /// Density of a liquid, kg/L.
    pub density_kg_l: Option<f64>,
    /// Grams as sold that a litre of solution holds at the least, by temperature in C.
    pub soluble_at_least_g_l: BTreeMap<String, f64>,
    /// pH range in which a chelate holds.
    pub ph_range: Option<(f64, f64)>,
    /// `Danger`, `Warning` or null.
    pub signal_word: Option<String>,
    /// Signal word by a stricter source, where it says more.
    pub stricter_word: Option<String>,
    /// GHS statements: those of the EU's class, then those of a stricter source.
    pub hazards: Vec<String>,
    /// Those of them that stand in the stricter source alone.
    pub stricter: Vec<String>,
    /// Id of that source; null where there is none.
    pub stricter_source: Option<String>,
    /// What there is to say of the class.
    pub hazard_note: Option<String>,
    /// GHS pictograms.
    pub pictograms: Vec<String>,
    /// How to handle it, most severe first.
    pub cautions: Vec<SaltCaution>,
    /// What it must not be stored or mixed with.
    pub keep_apart: Vec<String>,
    /// Public rules.
    pub law: Vec<String>,
    /// True when a rule restricts who may have it.
    pub restricted: bool,
    /// True for a product of the grower's own.
    pub own_product: bool,
    /// Source ids.
    pub sources: Vec<String>,
}

/// How to handle a salt, in one respect.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SaltCaution {
    /// A word or two to find it by.
    pub heading: String,
    /// What to do.
    pub text: String,
    /// What else there is to say; null where that is nothing.
    pub more: Option<String>,
}

/// Salts, and what their codes and sources mean.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SaltsRecord {
    /// Version of this document.
    pub version: u32,
    /// `salts`.
    pub job: String,
    /// The words that were looked for; null for the whole table.
    pub words: Option<String>,
    /// The salts that are meant by them.
    pub salts: Vec<SaltRecord>,
    /// GHS statements and pictograms of these salts, by code, in words.
    pub codes: BTreeMap<String, String>,
    /// Sources of these salts.
    pub sources: Vec<Source>,
}

/// Salts of a table as one document.
#[must_use]
pub fn salts_record(catalogue: &Catalogue, words: Option<String>, salts: Vec<&Salt>) -> SaltsRecord {
    let salts: Vec<SaltRecord> = salts.into_iter().map(|salt| salt_record(catalogue, salt)).collect();
    let hazards = salts.iter().flat_map(|salt| &salt.hazards).filter_map(|code| catalogue.statement(code));
    let pictures = salts.iter().flat_map(|salt| &salt.pictograms).filter_map(|code| catalogue.pictogram(code));
    let codes = hazards
        .map(|statement| (statement.code.clone(), statement.text.clone()))
        .chain(pictures.map(|pictogram| (pictogram.code.clone(), pictogram.means.clone())))
        .collect();
    let named = |source: &&Source| {
        salts.iter().any(|salt| salt.sources.iter().chain(&salt.stricter_source).any(|id| *id == source.id))
    };
    let sources = catalogue.sources().iter().filter(named).cloned().collect();
    SaltsRecord { version: 1, job: "salts".to_owned(), words, salts, codes, sources }
}

/// Everything the table knows of a salt.
fn salt_record(catalogue: &Catalogue, salt: &Salt) -> SaltRecord {
    let mut sources: Vec<String> = salt.sources.iter().chain(&salt.hazards.sources).cloned().collect();
    sources.sort();
    sources.dedup();
    SaltRecord {
        id: salt.id.clone(),
        name: salt.name.clone(),
        other_names: salt.other_names.clone(),
        kind: salt.kind.name().to_owned(),
        formula: salt.formula.as_ref().map(ToString::to_string),
        molar_mass_g_mol: salt.formula.as_ref().map(|formula| formula.molar_mass(catalogue.elements())),
        strength_percent: salt.mass_percent,
        analysis_percent: salt.analysis.iter().cloned().collect(),
        nutrients_percent: NUTRIENTS
            .into_iter()
            .map(|nutrient| (nutrient.symbol().to_owned(), 100.0 * salt.composition.nutrients[nutrient]))
            .filter(|(_, percent)| *percent > 1e-9)
            .collect(),
        species_mol_kg: salt
            .composition
            .ions
            .iter()
            .map(|(ion, mol)| (catalogue.ions().get(*ion).symbol.clone(), mol * 1e3))
            .collect(),
        cas: salt.cas.clone(),
        usual_purity: salt.usual_purity,
        density_kg_l: salt.density_kg_per_l,
        soluble_at_least_g_l: salt
            .solubility
            .iter()
            .flat_map(|solubility| &solubility.as_sold_percent)
            .map(|(celsius, percent)| (celsius.to_string(), percent * 10.0))
            .collect(),
        ph_range: salt.ph_range,
        signal_word: salt.hazards.signal_word.clone(),
        stricter_word: salt.hazards.stricter_word.clone(),
        hazards: salt.hazards.statements.clone(),
        stricter: salt.hazards.stricter.clone(),
        stricter_source: salt.hazards.stricter_source.clone(),
        hazard_note: salt.hazards.note.clone(),
        pictograms: salt.hazards.pictograms.clone(),
        cautions: safety::advice_for(catalogue.cautions(), &[salt], catalogue.ions())
            .into_iter()
            .map(|advice| SaltCaution {
                heading: advice.caution.heading.clone(),
                text: advice.caution.text.clone(),
                more: advice.caution.more.clone(),
            })
            .collect(),
        keep_apart: salt.keep_apart.clone(),
        law: salt.law.notes.iter().chain(&salt.law.more).cloned().collect(),
        restricted: salt.law.restricted,
        own_product: salt.own_product,
        sources,
    }
}
