//! What is answered: the document of the job, and beside it what else was asked for.

use serde::Serialize;

use super::{Also, Appended};
use crate::bench::Bench;
use crate::jobs::{
    self, Balance, BenchEditRecord, BenchRecord, Beside, CheckRecord, Course, CycleRecord, ForecastRecord, MergeRecord,
    MixRecord, NewRecord, NowRecord, Pictures, Recipe, SaltsRecord, ScaleRecord, ShowRecord, StockRecord, SwitchRecord,
    TodayRecord, TopUpRecord, TornRecord, TradeRecord,
};
use crate::logbook::Logbook;

/// A document of one job.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Document<T> {
    /// What the job says.
    #[serde(flatten)]
    pub record: T,
    /// The recipe to keep; only where it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recipe: Option<Recipe>,
    /// What the pictures of a sheet show; only where they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub figures: Option<Figures>,
    /// Lines of the logbook whose writing was cut off and that do not count; only where there are some.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub logbook_torn: Option<LogbookTorn>,
}

impl<T> Document<T> {
    /// A record and nothing else.
    pub(super) fn of(record: T) -> Self {
        Self { record, recipe: None, figures: None, logbook_torn: None }
    }

    pub(super) fn told_of(self, logbook: Option<&Logbook>) -> Self {
        Self { logbook_torn: logbook.and_then(LogbookTorn::of), ..self }
    }

    /// The same of the first of several that has some.
    pub(super) fn told_of_all(self, logbooks: &[Logbook]) -> Self {
        let mut all = logbooks.iter().enumerate();
        let torn = all.find_map(|(at, logbook)| Some(LogbookTorn { logbook: at, ..LogbookTorn::of(logbook)? }));
        Self { logbook_torn: torn, ..self }
    }

    /// Adds what else was asked for.
    pub(super) fn with(
        mut self,
        also: &[Also],
        recipe: impl FnOnce(&T) -> Recipe,
        figures: impl FnOnce(&T) -> Figures,
    ) -> Self {
        self.recipe = also.contains(&Also::Recipe).then(|| recipe(&self.record));
        self.figures = also.contains(&Also::Figures).then(|| figures(&self.record));
        self
    }
}

/// Whatever a figure shows.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Figures {
    /// Balances by charge, the trade-off of the shelf, warning labels.
    #[serde(flatten)]
    pub pictures: Pictures,
    /// What the logbook tells over its days; null where the tank is not known from one.
    pub course: Option<Course>,
}

impl Figures {
    /// The pictures of a mix, without a course.
    pub(super) fn of(bench: &Bench, mix: &MixRecord) -> Self {
        Self { pictures: jobs::pictures(bench, mix), course: None }
    }

    pub(super) fn with_balance(mut self, balance: Balance) -> Self {
        self.pictures.balances.push(balance);
        self
    }
}

/// Lines of a logbook whose writing was cut off.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct LogbookTorn {
    /// Which of several logbooks, from 0.
    pub logbook: usize,
    /// How many entries are whole.
    pub whole: usize,
    /// The lines.
    pub lines: Vec<TornRecord>,
}

impl LogbookTorn {
    /// Those of a logbook, if there are any.
    pub(super) fn of(logbook: &Logbook) -> Option<Self> {
        let lines: Vec<_> =
            logbook.torn().iter().map(|torn| TornRecord { line: torn.line, read: torn.read.clone() }).collect();
        (!lines.is_empty()).then(|| Self { logbook: 0, whole: logbook.entries().len(), lines })
    }
}

/// What a request is answered with; in JSON the document alone, which names its own `job`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
#[non_exhaustive]
pub enum Answer {
    /// To `mix`.
    Mix(Box<Document<MixRecord>>),
    /// To `mix-beside`.
    MixBeside(Box<Beside>),
    /// To `trade`.
    Trade(Box<TradeRecord>),
    /// To `check`.
    Check(Box<Document<CheckRecord>>),
    /// To `switch`.
    Switch(Box<Document<SwitchRecord>>),
    /// To `scale`.
    Scale(Box<Document<ScaleRecord>>),
    /// To `stock`.
    Stock(Box<Document<StockRecord>>),
    /// To `cycle`.
    Cycle(Box<Document<CycleRecord>>),
    /// To `logbook-add`.
    LogbookAdd(Box<Appended>),
    /// To `logbook-show`.
    LogbookShow(Box<ShowRecord>),
    /// To `logbook-merge`.
    LogbookMerge(Box<Document<MergeRecord>>),
    /// To `logbook-now`.
    LogbookNow(Box<Document<NowRecord>>),
    /// To `logbook-forecast`.
    LogbookForecast(Box<Document<ForecastRecord>>),
    /// To `today`.
    Today(Box<Document<TodayRecord>>),
    /// To `top-up`.
    TopUp(Box<Document<TopUpRecord>>),
    /// To `new`.
    New(Box<NewRecord>),
    /// To `bench-read`.
    BenchRead(Box<BenchRecord>),
    /// To `bench-edit`.
    BenchEdit(Box<BenchEditRecord>),
    /// To `salts`.
    Salts(Box<SaltsRecord>),
}

impl Answer {
    /// The recipe to keep, where it was asked for.
    #[must_use]
    pub fn recipe(&self) -> Option<&Recipe> {
        match self {
            Self::Mix(document) => document.recipe.as_ref(),
            Self::Check(document) => document.recipe.as_ref(),
            Self::Switch(document) => document.recipe.as_ref(),
            Self::Scale(document) => document.recipe.as_ref(),
            Self::LogbookForecast(document) => document.recipe.as_ref(),
            Self::TopUp(document) => document.recipe.as_ref(),
            Self::Today(document) => document.record.tanks.iter().find_map(|tank| tank.recipe.as_ref()),
            _ => None,
        }
    }

    /// Lines of the logbook that do not count.
    #[must_use]
    pub fn logbook_torn(&self) -> Option<&LogbookTorn> {
        match self {
            Self::Switch(document) => document.logbook_torn.as_ref(),
            Self::Cycle(document) => document.logbook_torn.as_ref(),
            Self::LogbookAdd(appended) => appended.logbook_torn.as_ref(),
            Self::LogbookMerge(document) => document.logbook_torn.as_ref(),
            Self::LogbookNow(document) => document.logbook_torn.as_ref(),
            Self::LogbookForecast(document) => document.logbook_torn.as_ref(),
            Self::Today(document) => document.logbook_torn.as_ref(),
            Self::TopUp(document) => document.logbook_torn.as_ref(),
            _ => None,
        }
    }
}
