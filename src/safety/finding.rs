//! A finding: what the grower should know of this mix.

use serde::Serialize;

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
    pub code: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// What was found, with its numbers.
    pub message: String,
    /// What would help, where something would.
    pub remedy: Option<String>,
    /// Source id of the threshold; `None` where the finding is plain arithmetic.
    pub source: Option<String>,
}
