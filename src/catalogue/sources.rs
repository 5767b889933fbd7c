//! Where values come from, and how far they can be trusted.

use serde::{Deserialize, Serialize};

/// How a value was obtained, from best to weakest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub enum Grade {
    /// An adopted standard.
    #[serde(rename = "standard")]
    Standard,
    /// Measured and published.
    #[serde(rename = "measured")]
    Measured,
    /// A compilation of published values.
    #[serde(rename = "compilation")]
    Compilation,
    /// A supplier's label or data sheet.
    #[serde(rename = "label")]
    Label,
    /// What people of the trade do; no source.
    #[serde(rename = "common practice")]
    CommonPractice,
    /// Not seen in any source.
    #[serde(rename = "from memory")]
    FromMemory,
}

impl Grade {
    /// The grade as it is printed.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Standard => "standard",
            Self::Measured => "measured",
            Self::Compilation => "compilation",
            Self::Label => "label",
            Self::CommonPractice => "common practice",
            Self::FromMemory => "from memory",
        }
    }
}

/// One source of the register.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Source {
    /// Short id that rows refer to.
    pub id: String,
    /// What it is, in full.
    pub citation: String,
    /// How it was obtained.
    pub grade: Grade,
}

/// A GHS hazard statement.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Statement {
    /// `H318`.
    pub code: String,
    /// Its words.
    pub text: String,
    /// 1 is the most severe.
    pub severity: u8,
    /// `Danger` or `Warning`; none where it carries neither.
    pub signal_word: Option<String>,
    /// Source id.
    pub source: String,
}

/// A GHS pictogram.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Pictogram {
    /// `GHS05`.
    pub code: String,
    /// What the picture shows and means.
    pub means: String,
    /// Source id.
    pub source: String,
}
