//! What to pour into a tank that is filled up and not drained.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, Refusal, typed};
use crate::jobs::{self, TopUpAsked, TopUpRecord};
use crate::quantity::TANK_L;

/// What is asked of a top-up.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct TopUpRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Name of the formula that the tank should keep; the one that it is fed without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formula: Option<String>,
    /// Text of the logbook of the tank.
    pub logbook: String,
    /// The moment, as `2026-10-03 18:30+02:00`.
    pub now: String,
    /// Text of another table of uptake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uptake: Option<String>,
    /// How much is mixed, such as `6 L`; what a week loses without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume: Option<String>,
    /// What else the answer should hold.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn top_up(asked: &TopUpRequest) -> Result<Answer, Refusal> {
    let volume = typed::maybe(asked.volume.as_ref(), |typed| typed::volume("volume", typed, &TANK_L))?;
    let read = typed::Read::new(&asked.logbook, Some(&asked.now), asked.uptake.as_ref())?;
    let bench = typed::bench_for(asked.bench.as_deref(), None, Some(&read.logbook))?;
    let bench = jobs::drawn_down(&bench, &[&read.logbook], read.at);
    let (formula, logbook) = (asked.formula.as_deref(), &read.logbook);
    let of = TopUpAsked { formula, logbook, at: read.at, patterns: &read.patterns, volume };
    let (record, recipe) = jobs::top_up(&bench, &of)?;
    let figures = |poured: &TopUpRecord| Figures::of(&bench, &poured.mix);
    let document = Document::of(record).told_of(Some(&read.logbook)).with(&asked.also, |_| recipe, figures);
    Ok(Answer::TopUp(Box::new(document)))
}
