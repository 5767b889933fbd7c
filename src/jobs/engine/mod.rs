//! From a formula to measured doses: the way that several jobs share.

pub(crate) mod acid;
pub(crate) mod blend;
pub(crate) mod bottle_names;
pub(crate) mod bottles;
pub(crate) mod clear;
pub(crate) mod exact;
pub(crate) mod few;
pub(crate) mod kept_apart;
pub(crate) mod ladder;
pub(crate) mod question;
pub(crate) mod refuse;
pub(crate) mod remainders;
mod souring;
pub(crate) mod sweep;
pub(crate) mod tangent;
pub(crate) mod too_little;
pub(crate) mod weigh;
pub(crate) mod why;
mod would_help;

/// A misfit this near to another is as good, own choice.
pub(in crate::jobs) const AS_GOOD: f64 = 0.01;

pub use blend::{blended, filled_with};
pub use question::{MixOptions, Prefer};
