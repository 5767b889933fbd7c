//! What can be written into a logbook, as a grower says it.

use serde::{Deserialize, Serialize};

/// What is to be written into a logbook. Nothing is written here: the answer has what to append to its text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct AddRequest {
    /// Text of a bench file, for the water, the purities, products of one's own and formulas; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Text of the logbook so far; empty for a new one.
    pub logbook: String,
    /// Id of one of several tanks of the bench: a new logbook is bound to it, one that exists must be its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// When it happened, as `2026-10-03 18:30+02:00`.
    pub now: String,
    /// What happened.
    pub entry: Happened,
    /// True for an entry that was asked back and is as it stands; without it one that looks like a slip is refused.
    #[serde(default)]
    pub confirmed: bool,
}

/// What happened to a tank, as a grower says it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "event", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Happened {
    /// The tank was emptied and filled; without salts or recipe, with water alone.
    Filled {
        /// What went in, each as `potassium-nitrate=14.1g`, or of a bottle of the bench `traces-1=20mL`.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        added: Vec<String>,
        /// How much was filled in, such as `60 L`; a recipe knows it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume: Option<String>,
        /// Text of a saved recipe, in place of the salts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        recipe: Option<String>,
        /// Name of the formula that it was mixed to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        formula: Option<String>,
        /// What had stayed behind in medium and pipes, such as `4 L`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        held_back: Option<String>,
        /// True when the water brought nothing, whatever the bench says.
        #[serde(default)]
        pure: bool,
        /// Which of several waters of the bench went in, each as `rain=40L`; one alone needs no volume.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        water: Vec<String>,
    },
    /// Salts went in.
    Added {
        /// Each as `potassium-nitrate=14.1g`, or of a bottle of the bench `traces-1=20mL`.
        added: Vec<String>,
    },
    /// Water went in.
    ToppedUp {
        /// How much, such as `8 L`; without it from the level that the logbook has up to `to`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume: Option<String>,
        /// The level after it, such as `60 L`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        to: Option<String>,
        /// True when the water brought nothing, whatever the bench says.
        #[serde(default)]
        pure: bool,
        /// Which of several waters of the bench went in, each as `rain=40L`; one alone needs no volume.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        water: Vec<String>,
    },
    /// Solution was let out.
    Drained {
        /// How much, such as `20 L`.
        volume: String,
    },
    /// A saved recipe was done whole: a fresh tank, or let out, filled up and poured into what the tank holds.
    From {
        /// Text of the recipe.
        recipe: String,
        /// What was really weighed where it differs, each as `potassium-nitrate=14.1g`; 0 for what was left out.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        weighed: Vec<String>,
        /// What was really let out, such as `20 L`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        drained: Option<String>,
        /// What was really filled in, such as `28 L`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        filled: Option<String>,
        /// The level after it, such as `60 L`; not of a fresh tank.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        to: Option<String>,
        /// What had stayed behind in medium and pipes, such as `4 L`; of a fresh tank alone.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        held_back: Option<String>,
    },
    /// Meters were read; at least one of them.
    Reading {
        /// EC at 25 C, such as `1.1 mS/cm`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ec: Option<String>,
        /// pH, such as `5.9`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ph: Option<String>,
        /// Temperature of the solution, such as `21 C`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        temperature: Option<String>,
        /// What is in the tank, such as `52 L`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        level: Option<String>,
    },
    /// A laboratory analysed the solution.
    Analysis {
        /// What it found, each as `N=88`, ppm.
        found: Vec<String>,
    },
    /// Anything worth remembering.
    Note {
        /// The words.
        text: String,
    },
    /// A phase began, such as push.
    Phase {
        /// Its name.
        name: String,
    },
    /// Flower stalks were seen.
    Stalks {},
    /// An earlier entry was wrong and no longer counts.
    Void {
        /// Its number.
        entry: u64,
        /// Why.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        why: Option<String>,
    },
    /// Lines of a damaged logbook are given up; they stay in its text.
    Recovered {
        /// Their line numbers, from 1.
        lines: Vec<usize>,
    },
}
