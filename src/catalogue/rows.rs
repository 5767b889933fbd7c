//! The rows as they stand in the files, before anything is derived or checked.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::sources::{Pictogram, Source, Statement};
use crate::matter::Caution;
use crate::solution::InBottles;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ElementFile {
    pub source: String,
    pub weights_g_per_mol: BTreeMap<String, f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct IonFile {
    pub ion: Vec<IonRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct IonRow {
    pub symbol: String,
    pub formula: Option<String>,
    pub charge: i32,
    pub nitrogen: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SpeciesFile {
    pub species: Vec<SpeciesRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SpeciesRow {
    pub symbol: String,
    pub charge: i32,
    pub made_of: BTreeMap<String, f64>,
    pub log_k: f64,
    pub size_angstrom: Option<f64>,
    pub linear_kg_per_mol: Option<f64>,
    pub source: String,
    pub diffusion_m2_per_s: Option<f64>,
    #[serde(default)]
    pub diffusion_temperature_k: f64,
    pub relaxation_angstrom: Option<f64>,
    pub diffusion_source: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MineralFile {
    pub mineral: Vec<MineralRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct MineralRow {
    pub name: String,
    pub made_of: BTreeMap<String, f64>,
    pub log_k: f64,
    #[serde(default)]
    pub slow: bool,
    #[serde(default)]
    pub bottles_only: bool,
    #[serde(default)]
    pub in_bottles: InBottles,
    pub enthalpy_kj_per_mol: Option<f64>,
    pub enthalpy_source: Option<String>,
    pub source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SaltFile {
    pub salt: Vec<SaltRow>,
    #[serde(default)]
    pub strength: Vec<StrengthRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StrengthRow {
    pub of: String,
    pub like: String,
    pub density_kg_per_l: BTreeMap<String, f64>,
    pub density_source: String,
    pub restricted_from: Option<f64>,
    pub class: Vec<ClassRow>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ClassRow {
    pub from: f64,
    pub signal_word: String,
    pub hazards: Vec<String>,
    pub pictograms: Vec<String>,
    pub sources: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SaltRow {
    pub id: String,
    pub name: String,
    pub other_names: Vec<String>,
    pub kind: String,
    pub formula: Option<String>,
    #[serde(default)]
    pub dissolves_into: BTreeMap<String, f64>,
    #[serde(default)]
    pub analysis_percent: BTreeMap<String, f64>,
    #[serde(default)]
    pub carried_as: BTreeMap<String, String>,
    pub closed_by: Option<String>,
    pub ph_range: Option<(f64, f64)>,
    pub cas: Option<String>,
    pub usual_purity: f64,
    pub composition_source: String,
    pub mass_percent: Option<f64>,
    pub density_kg_per_l: Option<f64>,
    pub density_source: Option<String>,
    pub solubility_of: Option<String>,
    #[serde(default)]
    pub solubility_mass_percent: BTreeMap<String, f64>,
    pub solubility_source: Option<String>,
    pub signal_word: String,
    pub hazards: Vec<String>,
    #[serde(default)]
    pub stricter_hazards: Vec<String>,
    pub stricter_source: Option<String>,
    pub hazard_note: Option<String>,
    pub pictograms: Vec<String>,
    pub hazard_sources: Vec<String>,
    pub keep_apart: Vec<String>,
    pub keep_apart_source: String,
    #[serde(default)]
    pub law: Vec<String>,
    pub law_more: Option<String>,
    pub law_source: Option<String>,
    #[serde(default)]
    pub restricted: bool,
    pub law_from_percent: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SourceFile {
    pub source: Vec<Source>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StatementFile {
    pub statement: Vec<Statement>,
    pub pictogram: Vec<Pictogram>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CautionFile {
    pub caution: Vec<Caution>,
}
