//! A salt of the table as a record.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::matter::{NUTRIENTS, Salt};

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
    /// GHS statements: those of the EU's class, then those of a stricter source.
    pub hazards: Vec<String>,
    /// Those of them that stand in the stricter source alone.
    pub stricter: Vec<String>,
    /// What there is to say of the class.
    pub hazard_note: Option<String>,
    /// GHS pictograms.
    pub pictograms: Vec<String>,
    /// What it must not be stored or mixed with.
    pub keep_apart: Vec<String>,
    /// Public rules.
    pub law: Vec<String>,
    /// True when a rule restricts who may have it.
    pub restricted: bool,
    /// Source ids.
    pub sources: Vec<String>,
}

/// What `salts --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SaltsRecord {
    /// Version of this document.
    pub version: u32,
    /// `salts`.
    pub job: String,
    /// The salts.
    pub salts: Vec<SaltRecord>,
}

/// A list of salts as one document.
#[must_use]
pub fn salts_record(salts: Vec<SaltRecord>) -> SaltsRecord {
    SaltsRecord { version: 1, job: "salts".to_owned(), salts }
}

/// Everything the table knows of a salt.
#[must_use]
pub fn salt_record(catalogue: &Catalogue, salt: &Salt) -> SaltRecord {
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
        hazards: salt.hazards.statements.clone(),
        stricter: salt.hazards.stricter.clone(),
        hazard_note: salt.hazards.note.clone(),
        pictograms: salt.hazards.pictograms.clone(),
        keep_apart: salt.keep_apart.clone(),
        law: salt.law.notes.iter().chain(&salt.law.more).cloned().collect(),
        restricted: salt.law.restricted,
        sources,
    }
}
