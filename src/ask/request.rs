//! What can be asked.

use serde::{Deserialize, Serialize};

use super::document::Also;
use super::refusal::Refusal;
use super::{
    AddRequest, BenchEditRequest, BenchReadRequest, BesideRequest, CheckRequest, CycleRequest, ForecastRequest,
    MergeRequest, MixRequest, NewRequest, NowRequest, SaltsRequest, ScaleRequest, ShowRequest, StockRequest, SwitchRequest,
    TodayRequest, TopUpRequest, TradeRequest,
};

/// One job. In JSON its name stands under `job`, what it takes beside it; unknown keys are refused.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "job", rename_all = "kebab-case")]
pub enum Request {
    /// What to weigh for a fresh tank of a formula.
    Mix(MixRequest),
    /// Two formulas side by side.
    MixBeside(BesideRequest),
    /// What of one element can be had against another.
    Trade(TradeRequest),
    /// What a tank already filled contains.
    Check(CheckRequest),
    /// From what the tank holds to a formula.
    Switch(SwitchRequest),
    /// A saved recipe for another volume.
    Scale(ScaleRequest),
    /// Concentrated stock bottles.
    Stock(StockRequest),
    /// Dates, amounts and shopping.
    Cycle(CycleRequest),
    /// An entry for a logbook.
    LogbookAdd(AddRequest),
    /// Every entry of a logbook.
    LogbookShow(ShowRequest),
    /// Two logbooks of one tank as one.
    LogbookMerge(MergeRequest),
    /// What a logbook says of its tank at a moment.
    LogbookNow(NowRequest),
    /// What is to come of it.
    LogbookForecast(ForecastRequest),
    /// What to do today.
    Today(TodayRequest),
    /// What to pour into a tank that is filled up and not drained.
    TopUp(TopUpRequest),
    /// A first bench file from a few answers.
    New(NewRequest),
    /// A bench file as a form shows it.
    BenchRead(BenchReadRequest),
    /// A bench file changed key by key.
    BenchEdit(BenchEditRequest),
    /// The salt table, or one salt.
    Salts(SaltsRequest),
}

impl Request {
    /// Reads a request from its JSON.
    ///
    /// # Errors
    /// A [`Refusal`] of code `request` with what is wrong and where.
    pub fn parse(json: &str) -> Result<Self, Refusal> {
        serde_json::from_str(json).map_err(|error| {
            let mut refusal = Refusal::input("request", format!("that is no request: {error}"), None);
            refusal.problems[0].line = Some(error.line()).filter(|line| *line > 0);
            refusal
        })
    }

    /// Its name, as it stands under `job`.
    #[must_use]
    pub fn job(&self) -> &'static str {
        match self {
            Self::Mix(_) => "mix",
            Self::MixBeside(_) => "mix-beside",
            Self::Trade(_) => "trade",
            Self::Check(_) => "check",
            Self::Switch(_) => "switch",
            Self::Scale(_) => "scale",
            Self::Stock(_) => "stock",
            Self::Cycle(_) => "cycle",
            Self::LogbookAdd(_) => "logbook-add",
            Self::LogbookShow(_) => "logbook-show",
            Self::LogbookMerge(_) => "logbook-merge",
            Self::LogbookNow(_) => "logbook-now",
            Self::LogbookForecast(_) => "logbook-forecast",
            Self::Today(_) => "today",
            Self::TopUp(_) => "top-up",
            Self::New(_) => "new",
            Self::BenchRead(_) => "bench-read",
            Self::BenchEdit(_) => "bench-edit",
            Self::Salts(_) => "salts",
        }
    }

    /// What the answer should hold beside its document.
    pub(super) fn also(&self) -> &[Also] {
        match self {
            Self::Mix(asked) => &asked.also,
            Self::Check(asked) => &asked.also,
            Self::Switch(asked) => &asked.also,
            Self::Scale(asked) => &asked.also,
            Self::Stock(asked) => &asked.also,
            Self::Cycle(asked) => &asked.also,
            Self::LogbookForecast(asked) => &asked.also,
            Self::Today(asked) => &asked.also,
            Self::TopUp(asked) => &asked.also,
            _ => &[],
        }
    }

    /// The text of the bench file that it brings.
    #[must_use]
    pub fn bench(&self) -> Option<&str> {
        let bench = match self {
            Self::Mix(asked) => &asked.bench,
            Self::MixBeside(asked) => &asked.bench,
            Self::Trade(asked) => &asked.bench,
            Self::Check(asked) => &asked.bench,
            Self::Switch(asked) => &asked.bench,
            Self::Scale(asked) => &asked.bench,
            Self::Stock(asked) => &asked.bench,
            Self::Cycle(asked) => &asked.bench,
            Self::LogbookAdd(asked) => &asked.bench,
            Self::LogbookShow(_) | Self::LogbookMerge(_) | Self::New(_) => &None,
            Self::LogbookNow(asked) => &asked.bench,
            Self::LogbookForecast(asked) => &asked.bench,
            Self::Today(asked) => &asked.bench,
            Self::TopUp(asked) => &asked.bench,
            Self::BenchRead(asked) => &asked.bench,
            Self::BenchEdit(asked) => &asked.bench,
            Self::Salts(asked) => &asked.bench,
        };
        bench.as_deref()
    }
}
