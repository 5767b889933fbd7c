//! What to do today.

use serde::{Deserialize, Serialize};

use super::cycle::begin;
use super::{Also, Answer, Document, Figures, Refusal, typed};
use crate::jobs::{self, Pictures, TodayAsked};
use crate::logbook::Logbook;

/// What is asked of a day.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct TodayRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Texts of the logbooks, one a tank: that which its first entry names, else the first. Of other tanks the plan alone speaks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub logbooks: Vec<String>,
    /// The moment, as `2026-10-03 18:30+02:00`.
    pub now: String,
    /// First day of the plan, such as `2027-01-04`; else the `start` of the bench file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<String>,
    /// The week in which the first flower should open, its first day or `2027-W10`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_open: Option<String>,
    /// Text of another table of uptake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uptake: Option<String>,
    /// What else the answer should hold: `recipe`, of every tank; `figures`, without which there is no sheet.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn today(asked: &TodayRequest) -> Result<Answer, Refusal> {
    let bench = typed::bench(asked.bench.as_deref(), None)?;
    let begin = begin(asked.start.as_ref(), asked.first_open.as_ref())?;
    let (at, patterns) = (typed::moment(Some(&asked.now))?, typed::patterns(asked.uptake.as_deref())?);
    let logbooks = typed::logbooks(&asked.logbooks, &bench)?;
    let all: Vec<&Logbook> = logbooks.iter().collect();
    let bench = jobs::drawn_down(&bench, &all, at);
    let with_recipe = asked.also.contains(&Also::Recipe);
    let record = jobs::today(&bench, &TodayAsked { logbooks: &all, at, patterns: &patterns, begin, with_recipe })?;
    let figures = || Figures {
        pictures: Pictures { balances: Vec::new(), not_compared: Vec::new(), trade: None, labels: Vec::new() },
        course: all.first().filter(|_| all.len() == 1).map(|logbook| jobs::course(&bench, logbook, at, &patterns)),
    };
    let mut document = Document::of(record).told_of_all(&logbooks);
    document.figures = asked.also.contains(&Also::Figures).then(figures);
    Ok(Answer::Today(Box::new(document)))
}
