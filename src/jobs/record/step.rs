//! A step of making a solution, as `--json` prints it.

use serde::Serialize;

use crate::quantity::{Volume, liter_of};

/// What is done in a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Act {
    /// Let out of the tank.
    Drain,
    /// Fill in water.
    Fill,
    /// Dilute an acid in a jug.
    Dilute,
    /// Stir diluted acid into plain water, before anything that it could cloud with.
    Sour,
    /// Dissolve and stir in what is weighed.
    Dissolve,
    /// Pour in from bottles.
    Pour,
    /// Read the pH, and set it where an acid or base is there for it.
    SetPh,
    /// Top up to the mark.
    TopUp,
    /// Look at what was made before it is used.
    Look,
}

/// A step of making a solution.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Step {
    /// What is done.
    pub act: Act,
    /// Ids of the salts and bottles that it is done with.
    pub parts: Vec<String>,
    /// How much is let out or filled in, or up to where, L.
    pub litres: Option<f64>,
    /// Solids that may fall out when everything of the step is in.
    pub over: Vec<Over>,
    /// The same in words.
    pub text: String,
}

impl Step {
    /// A step without parts.
    pub(crate) fn plain(act: Act, volume: Option<Volume>, text: String) -> Self {
        let litres = volume.map(liter_of);
        Self { act, parts: Vec::new(), litres, over: Vec::new(), text }
    }

    /// Steps with others among them: behind what drains and fills in, before the weights.
    pub(crate) fn behind_the_water(order: &[Self], others: &[Self]) -> Vec<Self> {
        let water = order.iter().take_while(|step| matches!(step.act, Act::Drain | Act::Fill)).count();
        let (first, then) = order.split_at(water);
        [first, others, then].concat()
    }
}

/// A solid that may fall out while a step is done.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Over {
    /// Its name.
    pub mineral: String,
    /// Its saturation index when everything of the step is in, right after stirring.
    pub index: f64,
    /// False where the finished solution is under saturation.
    pub stays: bool,
}
