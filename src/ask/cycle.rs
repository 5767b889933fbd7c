//! A cycle on the calendar.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, Refusal, typed};
use crate::bench::Bench;
use crate::jobs::{self, Begin, CycleRecord, FromLogbooks, Pictures};
use crate::logbook::{Logbook, Moment, Patterns};
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
    /// First day of the cycle, such as `2027-01-04`; else the `start` of the bench file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<String>,
    /// The week in which the first flower should open, its first day or `2027-W10`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_open: Option<String>,
    /// Texts of the logbooks of the tanks: by that of the first, tanks are renewed earlier where they run down; by all of them
    /// the shelf is drawn down.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub logbooks: Vec<String>,
    /// With a logbook: the moment at which it is read, as `2026-10-03 18:30+02:00`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now: Option<String>,
    /// With a logbook: text of another table of uptake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uptake: Option<String>,
    /// True to start the groups as is best for all of them together, and not as the bench file says.
    #[serde(default)]
    pub best_start: bool,
    /// What else the answer should hold; no recipe.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn cycle(asked: &CycleRequest) -> Result<Answer, Refusal> {
    if asked.also.contains(&Also::Recipe) {
        return Err(Refusal::input("usage", "a cycle has no recipe to keep; a mix has one of each formula", None));
    }
    let bench = typed::bench(asked.bench.as_deref(), asked.tank.as_deref())?;
    let stated = bench.cycle.as_ref().and_then(|cycle| cycle.start).map(Begin::On);
    let begin = begin(asked.start.as_ref(), asked.first_open.as_ref())?.or(stated).ok_or_else(|| {
        let help = "state one, or write `start = 2027-01-04` in [cycle]".to_owned();
        Refusal::input("usage", "it takes one of `start` and `first_open`", Some(help))
    })?;
    let (logbooks, at, patterns) = read(asked, &bench)?;
    let bench = at.map_or(bench.clone(), |at| jobs::drawn_down(&bench, &logbooks.iter().collect::<Vec<_>>(), at));
    let all: Vec<&Logbook> = logbooks.iter().collect();
    let told = at.map(|at| FromLogbooks { logbooks: &all, at, patterns: &patterns });
    let (bench, begin) = if asked.best_start { jobs::on_best_start(&bench, begin)? } else { (bench, begin) };
    let record = jobs::cycle(&bench, begin, told)?;
    let figures = |cycle: &CycleRecord| {
        let (balances, not_compared) = jobs::compared(&bench, None);
        let labels = jobs::labels(&bench.catalogue, cycle.handling.iter().map(|handling| handling.salt.as_str()));
        Figures { pictures: Pictures { balances, not_compared, trade: None, labels }, course: None }
    };
    let mut document = Document::of(record).told_of_all(&logbooks);
    document.figures = asked.also.contains(&Also::Figures).then(|| figures(&document.record));
    Ok(Answer::Cycle(Box::new(document)))
}

/// The logbooks, the moment and the table of uptake; what only a logbook gives a meaning is refused without one.
fn read(asked: &CycleRequest, bench: &Bench) -> Result<(Vec<Logbook>, Option<Moment>, Patterns), Refusal> {
    let given = [("now", &asked.now), ("uptake", &asked.uptake)];
    if asked.logbooks.is_empty() {
        if let Some((key, Some(given))) = given.into_iter().find(|(_, given)| given.is_some()) {
            return Err(Refusal::input("usage", format!("`{key}` goes with a logbook"), None).about(key, given, None));
        }
        return Ok((Vec::new(), None, Patterns::standard()));
    }
    let at = typed::moment(asked.now.as_deref())?;
    let patterns = typed::patterns(asked.uptake.as_deref())?;
    Ok((typed::logbooks(&asked.logbooks, bench)?, Some(at), patterns))
}

/// When a plan begins, where that is asked; not twice.
pub(super) fn begin(start: Option<&String>, first_open: Option<&String>) -> Result<Option<Begin>, Refusal> {
    match (start, first_open) {
        (Some(day), None) => typed::day("start", day).map(|day| Some(Begin::On(day))),
        (None, Some(week)) => Date::parse_week(week).map(|day| Some(Begin::FlowersOn(day))).map_err(|error| {
            let allowed = Some("a day as in 2027-01-04, or a week as in 2027-W10".to_owned());
            let message = format!("`first_open` reads \"{week}\"; {error}");
            Refusal::input("date", message, None).about("first_open", week, allowed)
        }),
        (None, None) => Ok(None),
        (Some(_), Some(_)) => Err(Refusal::input("usage", "it takes one of `start` and `first_open`", None)),
    }
}
