//! A mix written down: what `--save` writes and what later jobs read.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::record::MixRecord;
use crate::bench::Bench;
use crate::matter::NUTRIENTS;

/// One dose of a recipe.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RecipeDose {
    /// Id of the salt.
    pub salt: String,
    /// What was weighed, g.
    pub grams: f64,
    /// What was drawn up, mL, for liquids.
    pub millilitres: Option<f64>,
    /// Purity that was counted, where the shelf stated one.
    pub purity: Option<f64>,
}

/// A labelled product that the recipe uses.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
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
}

/// A mix with everything that is needed to reckon it again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
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
    /// What the water brings, ppm of each nutrient that it has.
    pub water_ppm: BTreeMap<String, f64>,
    /// Alkalinity of the water, meq/L, where known.
    pub water_alkalinity_meq_l: Option<f64>,
    /// pH of the water, where known.
    pub water_ph: Option<f64>,
    /// Targets of the formula, ppm.
    pub targets_ppm: BTreeMap<String, f64>,
    /// What was measured out.
    pub doses: Vec<RecipeDose>,
    /// Products of the grower's own that it uses.
    pub products: Vec<RecipeProduct>,
}

/// The recipe of a mix: what is measured out, the water it goes into and the products it uses.
#[must_use]
pub fn recipe(bench: &Bench, mix: &MixRecord) -> Recipe {
    let used = |id: &str| mix.doses.iter().any(|dose| dose.salt.as_deref() == Some(id));
    Recipe {
        version: 1,
        kind: "recipe".to_owned(),
        formula: mix.formula.clone(),
        bench: bench.name.clone(),
        volume_l: mix.volume_l,
        water_ppm: NUTRIENTS
            .into_iter()
            .map(|nutrient| (nutrient.symbol().to_owned(), bench.water.nutrients[nutrient]))
            .filter(|(_, ppm)| *ppm > 0.0)
            .collect(),
        water_alkalinity_meq_l: bench.water.alkalinity_meq_per_l,
        water_ph: bench.water.ph,
        targets_ppm: mix
            .elements
            .iter()
            .filter_map(|element| element.target_ppm.map(|target| (element.element.clone(), target)))
            .collect(),
        doses: mix
            .doses
            .iter()
            .filter_map(|dose| {
                let (salt, grams) = (dose.salt.clone()?, dose.grams?);
                let stock = bench.shelf.iter().find(|stock| bench.salt(stock).id == salt);
                Some(RecipeDose { purity: stock.and_then(|stock| stock.purity), salt, grams, millilitres: dose.millilitres })
            })
            .collect(),
        products: bench
            .catalogue
            .salts()
            .iter()
            .filter(|salt| salt.own_product && used(&salt.id))
            .map(|salt| RecipeProduct {
                id: salt.id.clone(),
                name: salt.name.clone(),
                density_kg_l: salt.density_kg_per_l,
                analysis_percent: salt.analysis.iter().cloned().collect(),
            })
            .collect(),
    }
}
