//! From a formula to measured doses: the way that several jobs share.

pub(crate) mod acid;
pub(crate) mod bottles;
pub(crate) mod explain;
pub(crate) mod few;
pub(crate) mod question;
pub(crate) mod refuse;
pub(crate) mod sweep;

pub use question::Prefer;
