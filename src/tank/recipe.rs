//! A mix written down, as a document.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::matter::Chelator;

/// One dose of a recipe, or one thing that went into a bottle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RecipeDose {
    /// Id of the salt; null for a bottle.
    pub salt: Option<String>,
    /// Id of the bottle; null for a salt.
    pub helper: Option<String>,
    /// What was weighed, g; for liquids what was drawn up weighs this.
    pub grams: Option<f64>,
    /// What was drawn up, mL, for liquids and bottles.
    pub millilitres: Option<f64>,
    /// Purity that was counted, where the shelf stated one.
    pub purity: Option<f64>,
    /// The jug in which it is thinned first; absent where it is in none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jug: Option<RecipeJug>,
}

/// A jug of thinned acid.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RecipeJug {
    /// What it holds, mL.
    pub whole_ml: f64,
    /// What of it goes in, mL: the dose.
    pub pour_ml: f64,
}

/// A dilute bottle that the recipe draws from, or from which such a bottle was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RecipeHelper {
    /// Its id.
    pub id: String,
    /// Volume it was made up to, mL.
    pub volume_ml: f64,
    /// What went into it; a bottle named here stands before this one.
    pub made_of: Vec<RecipeDose>,
    /// True when it was made up with pure water, false with the bench's own.
    pub pure_water: bool,
}

/// What the formula asked of one nutrient.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RecipeWish {
    /// Its symbol.
    pub element: String,
    /// The target, ppm.
    pub target_ppm: Option<f64>,
    /// The lower limit, ppm.
    pub min_ppm: Option<f64>,
    /// The upper limit, ppm.
    pub max_ppm: Option<f64>,
}

/// A labelled product that the recipe uses.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RecipeProduct {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// Density of a liquid, kg/L.
    pub density_kg_l: Option<f64>,
    /// Its label, percent by mass.
    pub analysis_percent: BTreeMap<String, f64>,
    /// Acid-neutralising capacity, eq/kg, where stated.
    pub alkalinity_eq_kg: Option<f64>,
    /// Its carbonate carbon, mol/kg, where stated.
    pub carbon_mol_kg: Option<f64>,
    /// The chelate as which its metals come, where stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chelate: Option<Chelator>,
}

/// What is done to a tank that holds something before the doses go in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RecipeInto {
    /// What is let out first, L.
    pub drained_l: f64,
    /// How much of the water is then filled in, L.
    pub filled_l: f64,
    /// The level before it, where the job knows it, L.
    pub level_l: Option<f64>,
}

/// One of several waters of a blend.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct RecipeWater {
    /// Its id.
    pub id: String,
    /// How much of it is filled in, L.
    pub litres: f64,
}

/// A mix with everything that is needed to reckon it again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// Version of this document.
    pub version: u32,
    /// `recipe`.
    pub kind: String,
    /// Name of the formula, where one was asked for.
    pub formula: Option<String>,
    /// Name of the bench.
    pub bench: String,
    /// Final volume, L.
    pub volume_l: f64,
    /// How well it is known, L (k = 2).
    pub plus_minus_l: f64,
    /// Temperature of the tank, C.
    pub temperature_c: f64,
    /// What the water brings, ppm of each nutrient that it has.
    pub water_ppm: BTreeMap<String, f64>,
    /// Alkalinity of the water, meq/L, where known.
    pub water_alkalinity_meq_l: Option<f64>,
    /// pH of the water, where known.
    pub water_ph: Option<f64>,
    /// EC of what is in the water and stated nowhere, mS/cm. Absent where its analysis is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_unstated_ec_ms_cm: Option<f64>,
    /// What the water is blended of: then the four above are those of the blend. Absent where it is one water.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub waters: Vec<RecipeWater>,
    /// What the formula asked.
    pub wishes: Vec<RecipeWish>,
    /// What is done to the tank before: the doses go into what it holds. Absent where they make a fresh tank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub into: Option<RecipeInto>,
    /// What was measured out.
    pub doses: Vec<RecipeDose>,
    /// Bottles that were drawn from, those first from which others were made.
    pub helpers: Vec<RecipeHelper>,
    /// Products of the grower's own that it uses.
    pub products: Vec<RecipeProduct>,
}
