//! A dilute bottle, as `--json` prints it.

use serde::Serialize;

use crate::quantity::Date;

/// What goes into a dilute bottle.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Ingredient {
    /// Id of the salt; null for another bottle.
    pub salt: Option<String>,
    /// Id of the other bottle; null for a salt.
    pub helper: Option<String>,
    /// Its name in words.
    pub name: String,
    /// What is weighed, g; null for what is drawn up.
    pub grams: Option<f64>,
    /// What is drawn up, mL.
    pub millilitres: Option<f64>,
    /// Step of the scale to use, g.
    pub scale_g: Option<f64>,
    /// Id of the jug to use; null where it is none.
    pub jug: Option<String>,
}

/// A dilute bottle that the mix uses, or from which such a bottle is made.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct HelperRecord {
    /// Its id.
    pub id: String,
    /// True when it has to be made first.
    pub new: bool,
    /// Volume it is made up to, mL.
    pub volume_ml: f64,
    /// What goes into it.
    pub made_of: Vec<Ingredient>,
    /// Id of the bottle that it is made from, where it is made from one.
    pub made_from_helper: Option<String>,
    /// True when it is made up with pure water, false with the bench's own.
    pub pure_water: bool,
    /// What of it goes into the tank, mL; null for one from which only another is made.
    pub dose_ml: Option<f64>,
    /// What is in it before, mL, as the bench states it and logbooks drew from it; null where neither tells, and for a new one.
    pub left_ml: Option<f64>,
    /// How many such tanks a full bottle, or what is left of it, serves.
    pub tanks: f64,
    /// For how many days it keeps, dark and cool: common practice, no source.
    pub keep_days: u32,
    /// The last day on which it keeps; null for a new one, and where the bench does not state `made_on`.
    pub keeps_until: Option<Date>,
    /// What to write on it.
    pub label: Vec<String>,
    /// Its entry for the bench file; null when it is there already.
    pub entry: Option<String>,
}
