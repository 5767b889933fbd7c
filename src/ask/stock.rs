//! Stock bottles.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, Refusal, typed};
use crate::jobs::{self, StockOptions};
use crate::quantity::{BOTTLE_L, STOCK_STRENGTH};

/// How many times as strong as the tank, unless stated.
const STRENGTH: &str = "100";
/// What each bottle is made up to, unless stated.
const BOTTLE: &str = "1 L";
/// The lowest temperature at which bottles stand, unless stated.
const COLDEST: &str = "10 C";

/// What is asked of stock bottles.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct StockRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Name of the formula.
    pub formula: String,
    /// How many times as strong as the tank, 10 to 1000; 100 without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<String>,
    /// What each bottle is made up to; 1 L without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bottle: Option<String>,
    /// The lowest temperature at which they stand; 10 C without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub coldest: Option<String>,
    /// Name of another formula to dose from the same bottles.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dose_for: Option<String>,
    /// Volume of the tank, such as `60 L`; overrides the bench.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// What else the answer should hold; no recipe.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn stock(asked: &StockRequest) -> Result<Answer, Refusal> {
    if asked.also.contains(&Also::Recipe) {
        return Err(Refusal::input("usage", "stock bottles have no recipe to keep: their labels say what is in them", None));
    }
    let bench = typed::bench(asked.bench.as_deref(), asked.tank.as_deref())?;
    let how = StockOptions {
        strength: typed::number("strength", asked.strength.as_deref().unwrap_or(STRENGTH), &STOCK_STRENGTH)?,
        bottle: typed::volume("bottle", asked.bottle.as_deref().unwrap_or(BOTTLE), &BOTTLE_L)?,
        coldest: typed::temperature("coldest", asked.coldest.as_deref().unwrap_or(COLDEST))?,
        dose_for: asked.dose_for.clone(),
    };
    let mut document = Document::of(jobs::stock(&bench, &asked.formula, &how)?);
    document.figures = asked.also.contains(&Also::Figures).then(|| Figures::of(&bench, &document.record.tank));
    Ok(Answer::Stock(Box::new(document)))
}
