//! What the meter was held against.

/// What told the content that a reading was held against to learn how the meter reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeterBy {
    /// A filling.
    Filling,
    /// A laboratory.
    Analysis,
}

impl MeterBy {
    /// As JSON and text write it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Filling => "filling",
            Self::Analysis => "analysis",
        }
    }
}
