//! The result of a stock job, as `--json` prints it.

use serde::Serialize;

use crate::jobs::{HelperRecord, MixRecord, Saturation, Step};

/// What would crystallise first from a bottle, and from which strength on.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct StrengthLimit {
    /// Id of the salt.
    pub salt: String,
    /// Its name in words.
    pub name: String,
    /// The strongest that the bottle may be, times the tank.
    pub strength: f64,
    /// Where its solubility is from; null where none is published and 10 g/L are taken.
    pub solubility_source: Option<String>,
}

/// What the chemistry model says of a bottle that is weak enough for it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BottleChemistry {
    /// pH right after mixing.
    pub ph: f64,
    /// Ionic strength, mol/L.
    pub ionic_strength_mol_l: f64,
    /// Saturation of minerals whose ions are there.
    pub saturation: Vec<Saturation>,
}

/// A stock bottle. What goes into it, its label and its entry stand under the same id in `helpers`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct StockBottle {
    /// Its id.
    pub id: String,
    /// How many times as strong as the tank it is.
    pub strength: f64,
    /// Dose for a litre of tank, mL: whole steps of the syringe.
    pub dose_ml_per_l: f64,
    /// Dose for a US gallon of tank, mL: whole steps of the syringe.
    pub dose_ml_per_us_gal: f64,
    /// What limits its strength; null where nothing in it does.
    pub limit: Option<StrengthLimit>,
    /// True when the limit, and not the strength asked for, decided.
    pub limited: bool,
    /// pH and saturation; null for a bottle too strong for the model, where only the solubility of single salts speaks.
    pub chemistry: Option<BottleChemistry>,
    /// What a bottle costs, where everything in it has a price.
    pub cost: Option<f64>,
    /// How to make it.
    pub making: Vec<Step>,
    /// Names of what belongs into it and is too little to weigh.
    pub left_out: Vec<String>,
}

/// What is measured straight into the tank instead.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Straight {
    /// Id of the salt.
    pub salt: String,
    /// Its name in words.
    pub name: String,
    /// Why it is in no bottle.
    pub why: String,
}

/// Two bottles that cannot be one.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct KeptApart {
    /// A bottle.
    pub first: String,
    /// Another.
    pub second: String,
    /// A salt of the first and one of the second.
    pub salts: (String, String),
    /// Why they are kept apart.
    pub why: String,
}

/// Stock bottles of a formula, and the tank that is dosed from them.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct StockRecord {
    /// The tank of the bench, dosed from the bottles; `doses` has them in the order in which they go in.
    #[serde(flatten)]
    pub tank: MixRecord,
    /// The strength asked for, times the tank.
    pub strength_asked: f64,
    /// What each bottle is made up to, mL.
    pub bottle_ml: f64,
    /// The lowest temperature at which the bottles stand, C.
    pub coldest_c: f64,
    /// The smallest tank whose doses the syringe can be trusted with, L.
    pub smallest_tank_l: f64,
    /// The bottles.
    pub bottles: Vec<StockBottle>,
    /// What goes straight into the tank.
    pub straight: Vec<Straight>,
    /// Why the bottles cannot be fewer, one reason for each two that have one.
    pub kept_apart: Vec<KeptApart>,
    /// The same bottles used for another formula; null unless asked for, or where they cannot be, which a finding tells.
    pub dose_for: Option<MixRecord>,
    /// The same bottles with few salts weighed in beside them, for that formula; null likewise.
    pub with_salts: Option<WithSalts>,
}

/// Another formula from the bottles and few salts.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct WithSalts {
    /// The tank of the bench, made so.
    pub tank: MixRecord,
    /// Ids of the salts beside the bottles, acids not counted.
    pub salts: Vec<String>,
    /// The least misfit of the whole shelf, as bottles of the formula's own would have it.
    pub misfit_of_shelf: f64,
    /// True where the bottles with few salts come as close, or meet every target within 5 % and keep every limit: no second set
    /// of bottles is needed.
    pub as_good: bool,
}

impl StockRecord {
    /// What goes into a stock bottle and onto its label.
    #[must_use]
    pub fn helper(&self, bottle: &StockBottle) -> Option<&HelperRecord> {
        self.tank.helpers.iter().find(|helper| helper.id == bottle.id)
    }

    /// Dilute bottles that have to be made before the stock bottles.
    #[must_use]
    pub fn dilute(&self) -> Vec<HelperRecord> {
        let is_stock = |helper: &&HelperRecord| self.bottles.iter().any(|bottle| bottle.id == helper.id);
        self.tank.helpers.iter().filter(|helper| !is_stock(helper)).cloned().collect()
    }
}
