//! The document of a job, and what it holds on demand.

use serde::{Deserialize, Serialize};

use crate::bench::Bench;
use crate::jobs::{self, AddedRecord, Balance, Course, MixRecord, Pictures, Recipe, TornRecord};
use crate::logbook::Logbook;

/// What an answer holds beside the document of its job, on demand: each is another computation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Also {
    /// The recipe to keep, under `recipe`.
    Recipe,
    /// The recipe of what would set a checked tank right, under `recipe`.
    Remedy,
    /// What the pictures of a sheet show, under `figures`.
    Figures,
}

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

/// What answers an entry.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Appended {
    /// The entry as it stands.
    #[serde(flatten)]
    pub record: AddedRecord,
    /// What to append to the text of the logbook, in one piece.
    pub append: String,
    /// Lines of the logbook whose writing was cut off and that do not count; only where there are some.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub logbook_torn: Option<LogbookTorn>,
}
