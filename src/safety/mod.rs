//! Handling notes as sourced data, the findings, and when each applies. No other room words a warning.

mod caution;
mod diary;
mod facts;
mod finding;
mod reaction;
mod watch;
mod water;

pub use caution::{Advice, Caution, advice_for, general_cautions};
pub use diary::of_diary;
pub use facts::{Achieved, Facts, Finest, Measured, Supersaturated};
pub use finding::{Finding, Severity};
pub use reaction::{AcidFacts, acid_in_steps, acid_not_reckoned, of_acid};
pub use watch::findings;
