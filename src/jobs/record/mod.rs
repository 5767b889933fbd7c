//! The result of a mix, as `--json` prints it.

pub(crate) mod bottle;
pub(super) mod correction;
pub(crate) mod describe;
mod dose;
pub(crate) mod handling;
mod helper;
pub(crate) mod made;
pub(crate) mod order;
pub(crate) mod rank;
mod reckoned;
pub(super) mod souring;
mod step;
mod verdict;
mod walk;
mod watch;

pub use crate::jobs::engine::acid::AcidRecord;
pub use dose::{Dose, Dosed, DrawnUp, GoesIn};
pub use helper::{HelperRecord, Ingredient};
pub use step::{Act, Over, Step};
pub use verdict::{Verdict, VerdictWord};

use serde::Serialize;

use crate::catalogue::Source;
use crate::fit::Proof;
use crate::safety::Finding;

/// Why the pH of a tank is not told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum PhOpen {
    /// The alkalinity of the water is not stated, or nothing at all of it.
    Water,
    /// What the tank holds is known by element only.
    ByElement,
    /// A product on the list does not state its alkalinity.
    Product,
    /// A product in what the tank holds already does not.
    ProductHeld,
}

/// One of several waters that are blended.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct WaterRecord {
    /// Its id.
    pub id: String,
    /// How much of it goes in, L.
    pub litres: f64,
}

/// One nutrient of the tank.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Element {
    /// Its symbol.
    pub element: String,
    /// What the tank will hold, ppm.
    pub ppm: f64,
    /// What the exact amounts would give, ppm.
    pub ppm_exact: f64,
    /// What the formula asks, ppm.
    pub target_ppm: Option<f64>,
    /// Its lower limit, ppm.
    pub min_ppm: Option<f64>,
    /// Its upper limit, ppm.
    pub max_ppm: Option<f64>,
    /// What of it the water brings, ppm.
    pub water_ppm: f64,
    /// (ppm - target) / target in percent.
    pub deviation_percent: Option<f64>,
    /// Uncertainty of `ppm` (k = 2).
    pub plus_minus_ppm: f64,
}

/// A wish that was solved, and what it came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct StageRecord {
    /// Which wish.
    pub wish: String,
    /// Its value.
    pub value: f64,
    /// Unit of the value; empty for a plain number.
    pub unit: String,
}

/// A saturation index.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Saturation {
    /// The mineral.
    pub mineral: String,
    /// log10 of ion activity product over solubility product, right after mixing.
    pub index: Option<f64>,
    /// The same after days in air, iron without a chelate rusted to iron(III).
    pub index_aired: Option<f64>,
    /// True when it stays far above saturation for days without falling out.
    pub slow: bool,
}

/// Handling of one salt.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Handling {
    /// Id of the salt.
    pub salt: String,
    /// Its name in words.
    pub name: String,
    /// `Danger`, `Warning` or null.
    pub signal_word: Option<String>,
    /// Signal word by a stricter source, where it says more.
    pub stricter_word: Option<String>,
    /// GHS statements: those of the EU's class, then those of a stricter source.
    pub hazards: Vec<String>,
    /// Those of them that stand in the stricter source alone.
    pub stricter: Vec<String>,
    /// What to do, most severe first, then public rules that concern it.
    pub advice: Vec<String>,
    /// Source ids.
    pub source: String,
}

/// A caution and the salts of this mix that it concerns.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct General {
    /// A word or two to find it by.
    pub heading: String,
    /// What to do.
    pub text: String,
    /// Ids of the salts concerned; empty when it concerns every mix.
    pub salts: Vec<String>,
    /// What is put on before the work: goggles, gloves, apron, dust mask.
    pub wear: Vec<String>,
}

/// What to mind with what is measured out into a tank: a part of the record of the mix that it makes.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ToMind {
    /// What speaks against it.
    pub stops: Vec<Finding>,
    /// Handling of the salts that are weighed.
    pub handling: Vec<Handling>,
    /// Cautions, most severe first.
    pub cautions: Vec<General>,
}

/// A target that differs from the growth formula.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Change {
    /// Symbol of the element.
    pub element: String,
    /// Target of the growth formula, ppm.
    pub from_ppm: f64,
    /// Target of this formula, ppm.
    pub to_ppm: f64,
}

/// How this formula differs from another.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Comparison {
    /// The other formula.
    pub formula: String,
    /// Targets that differ.
    pub changes: Vec<Change>,
}

/// A mix.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct MixRecord {
    /// Version of this document.
    pub version: u32,
    /// `mix` or `check`.
    pub job: String,
    /// What stops it or is missed, before all else.
    pub verdict: Verdict,
    /// Name of the formula; null when nothing is asked for.
    pub formula: Option<String>,
    /// Name of the bench.
    pub bench: String,
    /// True when the water brings nothing.
    pub pure_water: bool,
    /// Final volume of the tank, L.
    pub volume_l: f64,
    /// Temperature of the tank, C.
    pub temperature_c: f64,
    /// What to measure out, in the order in which it goes in.
    pub doses: Vec<Dose>,
    /// Litres of each of several waters, in the order of the bench file, together what is filled in; empty where it is one water.
    pub waters: Vec<WaterRecord>,
    /// What the tank will hold.
    pub elements: Vec<Element>,
    /// Nitrate nitrogen, ppm.
    pub nitrate_n_ppm: f64,
    /// Ammonium nitrogen, ppm.
    pub ammonium_n_ppm: f64,
    /// Urea nitrogen, ppm.
    pub urea_n_ppm: f64,
    /// Ammonium and urea nitrogen as a share of all nitrogen; nitrogen of unknown form counted in. Null without nitrogen.
    pub ammonium_share: Option<f64>,
    /// The same with nitrogen of unknown form left out.
    pub ammonium_share_least: Option<f64>,
    /// Misfit of what is measured out; null without a formula.
    pub misfit: Option<f64>,
    /// Misfit of the exact amounts; null for a mix that was not fitted.
    pub misfit_exact: Option<f64>,
    /// `proved` when it is proved least, `closest found` under a limit of EC that binds; null as for `misfit_exact`.
    pub proof_exact: Option<Proof>,
    /// `best` when the amounts measured out are proved best, else `best found`.
    pub proof: String,
    /// What each wish came to.
    pub stages: Vec<StageRecord>,
    /// The acids and their doses, in the order of `[acid]`.
    pub acid: Vec<AcidRecord>,
    /// EC at 25 C, mS/cm.
    pub ec_ms_cm: f64,
    /// Its uncertainty (k = 2).
    pub ec_plus_minus_ms_cm: f64,
    /// EC at the tank's own temperature, mS/cm.
    pub ec_at_temperature_ms_cm: f64,
    /// The factor of the meter's scale, ppm per uS/cm: the one asked for, else that of the bench; null for a meter that shows mS/cm.
    pub meter_scale: Option<f64>,
    /// What a meter with that scale shows, ppm of dissolved solids.
    pub meter_reading_ppm: Option<f64>,
    /// pH right after mixing; null when products leave the alkalinity open by 0.02 meq/L or more.
    pub ph: Option<f64>,
    /// Its low end (k = 2); null as for `ph`.
    pub ph_low: Option<f64>,
    /// Its high end; null as for `ph`.
    pub ph_high: Option<f64>,
    /// pH after days in air; null as for `ph`.
    pub ph_aired: Option<f64>,
    /// Its low end (k = 2); null as for `ph`.
    pub ph_aired_low: Option<f64>,
    /// Its high end; null as for `ph`.
    pub ph_aired_high: Option<f64>,
    /// Why no pH is told; null where one is.
    pub ph_open: Option<PhOpen>,
    /// Ionic strength, mol per kg of water.
    pub ionic_strength_mol_l: f64,
    /// Saturation indices of minerals whose ions are there.
    pub saturation: Vec<Saturation>,
    /// Cost of the doses, where every one has a price.
    pub cost: Option<f64>,
    /// Dilute bottles, those first from which others are made.
    pub helpers: Vec<HelperRecord>,
    /// How long the formula may be fed, days.
    pub hold_at_most_days: Option<f64>,
    /// How the targets differ from the growth formula.
    pub against_growth: Option<Comparison>,
    /// What is and is not shown about feeding less nitrogen or more phosphorus than growth; null where this does neither.
    pub evidence: Option<String>,
    /// What to know of this mix, most severe first.
    pub findings: Vec<Finding>,
    /// How to make it.
    pub order: Vec<Step>,
    /// How to handle each salt.
    pub handling: Vec<Handling>,
    /// Cautions, most severe first.
    pub cautions: Vec<General>,
    /// Where the numbers come from.
    pub sources: Vec<Source>,
}

/// One line of two mixes side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Difference {
    /// What is compared: a salt, an element or EC.
    pub what: String,
    /// Its unit.
    pub unit: String,
    /// In the first mix; null where it has none.
    pub first: Option<f64>,
    /// In the second mix; null where it has none.
    pub second: Option<f64>,
}

/// Two mixes side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Beside {
    /// The first mix.
    #[serde(flatten)]
    pub first: MixRecord,
    /// The second mix.
    pub beside: MixRecord,
    /// Salts by weight.
    pub weights: Vec<Difference>,
    /// Nutrients and EC.
    pub contents: Vec<Difference>,
    /// What to mind with the salts of both.
    pub both: ToMind,
}
