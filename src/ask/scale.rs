//! A recipe for another volume.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, Refusal, typed};
use crate::jobs::{self, ScaleRecord};
use crate::quantity::TANK_L;

/// What is asked of a scaling.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct ScaleRequest {
    /// Text of a bench file, for its water, instruments, bottles and prices; without it the water of the recipe.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Text of a saved recipe.
    pub recipe: String,
    /// The volume to scale it to, such as `10 L`.
    pub to: String,
    /// What else the answer should hold.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn scale(asked: &ScaleRequest) -> Result<Answer, Refusal> {
    let at_hand = typed::bench(asked.bench.as_deref(), None)?;
    let to = typed::volume("to", &asked.to, &TANK_L)?;
    let recipe = typed::recipe(&asked.recipe)?;
    let (record, bench) = jobs::scale(&at_hand, asked.bench.is_some(), &recipe, to)?;
    let recipe = |scaled: &ScaleRecord| jobs::recipe(&bench, &scaled.mix);
    let figures = |scaled: &ScaleRecord| Figures::of(&bench, &scaled.mix);
    Ok(Answer::Scale(Box::new(Document::of(record).with(&asked.also, recipe, figures))))
}
