//! A finding: what the grower should know of this mix.

use serde::Serialize;

use super::Code;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Do not mix this as it stands.
    Stop,
    /// Mix it only knowing this.
    Warning,
    /// Good to know.
    Note,
}

/// One finding. The words are made where the rule is, in [`super::findings`].
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Finding {
    /// Which rule fired.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub code: Code,
    /// How much it matters.
    pub severity: Severity,
    /// What was found, with its numbers.
    pub message: String,
    /// What would help, where something would.
    pub remedy: Option<String>,
    /// Source id of the threshold; `None` where the finding is plain arithmetic.
    pub source: Option<String>,
    /// What it is of, for code that asks: id of a salt, or a formula. Not written.
    #[serde(skip)]
    pub about: Option<String>,
    /// Ids of the acids and bases that its remedy has added: what is told to be poured is warned of. Not written.
    #[serde(skip)]
    pub adds: Vec<String>,
}

impl Finding {
    /// A finding without a remedy, by plain arithmetic.
    pub(super) fn new(code: Code, severity: Severity, message: impl Into<String>) -> Self {
        let message = message.into();
        Self { code, severity, message, remedy: None, source: None, about: None, adds: Vec::new() }
    }

    pub(super) fn stop(code: Code, message: impl Into<String>) -> Self {
        Self::new(code, Severity::Stop, message)
    }

    pub(super) fn warning(code: Code, message: impl Into<String>) -> Self {
        Self::new(code, Severity::Warning, message)
    }

    pub(super) fn note(code: Code, message: impl Into<String>) -> Self {
        Self::new(code, Severity::Note, message)
    }

    pub(super) fn remedy(self, remedy: impl Into<String>) -> Self {
        Self { remedy: Some(remedy.into()), ..self }
    }

    /// With the id of its source.
    pub(super) fn source(self, id: impl Into<String>) -> Self {
        Self { source: Some(id.into()), ..self }
    }

    pub(super) fn about(self, what: &str) -> Self {
        Self { about: Some(what.to_owned()), ..self }
    }

    pub(super) fn adds(self, salts: impl IntoIterator<Item = String>) -> Self {
        Self { adds: salts.into_iter().collect(), ..self }
    }
}
