//! What is answered: the document of the job.

use serde::Serialize;

use super::document::{Appended, Document, LogbookTorn};
use crate::jobs::{
    BenchEditRecord, BenchRecord, Beside, CheckRecord, CycleRecord, ForecastRecord, MergeRecord, MixRecord, NewRecord,
    NowRecord, Recipe, SaltsRecord, ScaleRecord, ShowRecord, StockRecord, SwitchRecord, TodayRecord, TopUpRecord,
    TradeRecord,
};

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
