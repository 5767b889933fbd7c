//! What a logbook says.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Refusal, typed};
use crate::jobs::{self, ForecastAsked};
use crate::logbook::{self, Logbook};
use crate::quantity::TARGET_PPM;

/// What is asked for every entry of a logbook.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct ShowRequest {
    /// Text of the logbook.
    pub logbook: String,
}

/// What is asked of two logbooks of one tank that were written apart.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct MergeRequest {
    /// Text of the logbook to which is appended; empty for a new one.
    pub logbook: String,
    /// Text of the one whose entries it may lack.
    pub other: String,
}

/// What is asked of a tank as it is.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct NowRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Text of the logbook.
    pub logbook: String,
    /// The moment, as `2026-10-03 18:30+02:00`.
    pub now: String,
    /// Text of another table of uptake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uptake: Option<String>,
}

/// What is asked of what is to come.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct ForecastRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Text of the logbook.
    pub logbook: String,
    /// The moment, as `2026-10-03 18:30+02:00`.
    pub now: String,
    /// Text of another table of uptake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uptake: Option<String>,
    /// Name of a formula to hold the tank against; the one it was filled to without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub formula: Option<String>,
    /// A floor for nitrogen, such as `30 ppm`; half of the formula's target without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub floor: Option<String>,
    /// What else the answer should hold: `recipe`, of what to add.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn show(asked: &ShowRequest) -> Result<Answer, Refusal> {
    Ok(Answer::LogbookShow(Box::new(jobs::show(&typed::logbook(&asked.logbook)?))))
}

pub(super) fn merge(asked: &MergeRequest) -> Result<Answer, Refusal> {
    let here = typed::logbook(&asked.logbook)?;
    let other = typed::logbook(&asked.other).map_err(|refusal| refusal.in_file("other"))?;
    let merge = logbook::merge(&here, &other).map_err(|why| Refusal::input("tank", why, None).in_file("other"))?;
    let whole = Logbook::parse(format!("{}{}", asked.logbook, merge.append).as_bytes(), &[])
        .map_err(|damage| Refusal::own(format!("the two as one cannot be read: {damage}")))?;
    let document = Document::of(jobs::merge_record(&whole, merge)).told_of_all(&[here, other]);
    Ok(Answer::LogbookMerge(Box::new(document)))
}

pub(super) fn now(asked: &NowRequest) -> Result<Answer, Refusal> {
    let read = typed::Read::new(&asked.logbook, Some(&asked.now), asked.uptake.as_ref())?;
    let bench = typed::bench_for(asked.bench.as_deref(), None, Some(&read.logbook))?;
    let record = jobs::now(&bench, &read.logbook, read.at, &read.patterns);
    Ok(Answer::LogbookNow(Box::new(Document::of(record).told_of(Some(&read.logbook)))))
}

pub(super) fn forecast(asked: &ForecastRequest) -> Result<Answer, Refusal> {
    let floor_ppm = typed::maybe(asked.floor.as_ref(), |typed| typed::ppm("floor", "floor", typed, &TARGET_PPM))?;
    let read = typed::Read::new(&asked.logbook, Some(&asked.now), asked.uptake.as_ref())?;
    let bench = typed::bench_for(asked.bench.as_deref(), None, Some(&read.logbook))?;
    let bench = jobs::drawn_down(&bench, &[&read.logbook], read.at);
    let against = ForecastAsked { formula: asked.formula.as_deref(), floor_ppm };
    let (record, adds) = jobs::forecast(&bench, &read.logbook, read.at, &read.patterns, against)?;
    let mut document = Document::of(record).told_of(Some(&read.logbook));
    if asked.also.contains(&Also::Recipe) {
        let nothing = || {
            let why =
                document.record.no_restore.as_deref().unwrap_or("the tank is as near to its formula as adding brings it");
            Refusal::unmet("nothing-to-add", format!("there is nothing to add, and so no recipe: {why}"))
        };
        document.recipe = Some(adds.ok_or_else(nothing)?);
    }
    Ok(Answer::LogbookForecast(Box::new(document)))
}
