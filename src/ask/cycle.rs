//! A cycle on the calendar.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, Refusal, typed};
use crate::jobs::{self, Begin, CycleRecord, FromLogbook, Pictures};
use crate::quantity::Date;

/// What is asked of a cycle: `start` or `first_open` says when it begins.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct CycleRequest {
    /// Text of a bench file with a `[cycle]`; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Volume of the tank of the bench, such as `60 L`; overrides the bench.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// First day of the cycle, such as `2027-01-04`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<String>,
    /// The week in which the first flower should open, its first day or `2027-W10`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_open: Option<String>,
    /// Text of a logbook by which tanks are renewed earlier where they run down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub logbook: Option<String>,
    /// With a logbook: the moment at which it is read, as `2026-10-03 18:30+02:00`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now: Option<String>,
    /// With a logbook: text of another table of uptake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uptake: Option<String>,
    /// What else the answer should hold; no recipe.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn cycle(asked: &CycleRequest) -> Result<Answer, Refusal> {
    if asked.also.contains(&Also::Recipe) {
        return Err(Refusal::input("usage", "a cycle has no recipe to keep; `mix` writes one of each formula", None));
    }
    let bench = typed::bench(asked.bench.as_deref(), asked.tank.as_deref())?;
    let begin = begin(asked)?;
    let read = typed::Read::maybe(asked.logbook.as_ref(), asked.now.as_ref(), asked.uptake.as_ref())?;
    let learnt = read.as_ref().map(|read| FromLogbook { logbook: &read.logbook, at: read.at, patterns: &read.patterns });
    let record = jobs::cycle(&bench, begin, learnt)?;
    let figures = |cycle: &CycleRecord| {
        let (balances, not_compared) = jobs::compared(&bench, None);
        let labels = jobs::labels(&bench.catalogue, cycle.handling.iter().map(|handling| handling.salt.as_str()));
        Figures { pictures: Pictures { balances, not_compared, trade: None, labels }, course: None }
    };
    let mut document = Document::of(record).told_of(read.as_ref().map(|read| &read.logbook));
    document.figures = asked.also.contains(&Also::Figures).then(|| figures(&document.record));
    Ok(Answer::Cycle(Box::new(document)))
}

fn begin(asked: &CycleRequest) -> Result<Begin, Refusal> {
    match (&asked.start, &asked.first_open) {
        (Some(day), None) => Ok(Begin::On(typed::day("start", day)?)),
        (None, Some(week)) => Date::parse_week(week).map(Begin::FlowersOn).map_err(|error| {
            let allowed = Some("a day as in 2027-01-04, or a week as in 2027-W10".to_owned());
            let message = format!("`first_open` reads \"{week}\"; {error}");
            Refusal::input("date", message, None).about("first_open", week, allowed)
        }),
        _ => Err(Refusal::input("usage", "it takes one of `start` and `first_open`", None)),
    }
}
