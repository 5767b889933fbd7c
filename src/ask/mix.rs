//! A fresh tank of a formula, by itself, beside another, or along a trade-off.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, MeterFactor, Refusal, typed};
use crate::jobs::{self, MixOptions, Prefer};
use crate::matter::{NUTRIENTS, Nutrient};

/// What is asked of a mix.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct MixRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Name of the formula.
    pub formula: String,
    /// Volume of the tank, such as `60 L`; overrides the bench.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// Adds what a meter with a dissolved-solids scale shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_scale: Option<MeterFactor>,
    /// The most salts of the shelf to use.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub salts_at_most: Option<usize>,
    /// What to prefer among mixes that come equally close.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub prefer: Option<Prefer>,
    /// What else the answer should hold.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

/// Two formulas to set side by side.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct BesideRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Name of the first formula.
    pub formula: String,
    /// Name of the other.
    pub beside: String,
    /// Volume of the tank, such as `60 L`; overrides the bench.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// Adds what a meter with a dissolved-solids scale shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_scale: Option<MeterFactor>,
    /// The most salts of the shelf to use.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub salts_at_most: Option<usize>,
    /// What to prefer among mixes that come equally close.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub prefer: Option<Prefer>,
}

/// A trade-off of the shelf.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct TradeRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Name of the formula.
    pub formula: String,
    /// Symbol of the element that is moved.
    pub along: String,
    /// Symbol of the element that is watched.
    pub reached: String,
}

fn options(meter: Option<MeterFactor>, salts_at_most: Option<usize>, prefer: Option<Prefer>) -> Result<MixOptions, Refusal> {
    if salts_at_most == Some(0) {
        let allowed = "a whole number from 1";
        let refusal = Refusal::input("quantity", format!("`salts_at_most` reads 0; it takes {allowed}"), None);
        return Err(refusal.about("salts_at_most", "0", Some(allowed.to_owned())));
    }
    Ok(MixOptions { meter: meter.map(MeterFactor::scale), salts_at_most, prefer, without_reasons: false })
}

pub(super) fn mix(asked: &MixRequest) -> Result<Answer, Refusal> {
    let bench = typed::bench(asked.bench.as_deref(), asked.tank.as_deref())?;
    let options = options(asked.meter_scale, asked.salts_at_most, asked.prefer)?;
    let record = jobs::mix(&bench, &asked.formula, &options)?;
    let recipe = |mix: &_| jobs::recipe(&bench, mix);
    let figures = |mix: &_| Figures::of(&bench, mix);
    Ok(Answer::Mix(Box::new(Document::of(record).with(&asked.also, recipe, figures))))
}

pub(super) fn beside(asked: &BesideRequest) -> Result<Answer, Refusal> {
    let bench = typed::bench(asked.bench.as_deref(), asked.tank.as_deref())?;
    let options = options(asked.meter_scale, asked.salts_at_most, asked.prefer)?;
    Ok(Answer::MixBeside(Box::new(jobs::mix_beside(&bench, &asked.formula, &asked.beside, &options)?)))
}

pub(super) fn trade(asked: &TradeRequest) -> Result<Answer, Refusal> {
    let bench = typed::bench(asked.bench.as_deref(), None)?;
    let pair = format!("{}:{}", asked.along, asked.reached);
    let known = || NUTRIENTS.map(Nutrient::symbol).join(", ");
    let one = |key: &str, symbol: &str| {
        Nutrient::parse(symbol.trim()).ok_or_else(|| {
            let meant = crate::suggest::nearest(symbol.trim(), NUTRIENTS.map(Nutrient::symbol));
            let help = meant.map(|word| format!("did you mean `{word}`?"));
            let message = format!("`{pair}`: `{symbol}` is no element here; it takes {}", known());
            Refusal::input("trade", message, help).about(key, symbol, Some(known()))
        })
    };
    let (along, reached) = (one("along", &asked.along)?, one("reached", &asked.reached)?);
    if along == reached {
        let help = Some("write two, as in N:Ca".to_owned());
        let refusal = Refusal::input("trade", format!("`{pair}` names the same element twice"), help);
        return Err(refusal.about("reached", &asked.reached, None));
    }
    Ok(Answer::Trade(Box::new(jobs::trade(&bench, &asked.formula, along, reached)?)))
}
