//! Pictures of a sheet, in SVG: a picture places marks and reckons nothing. What it shows stands in numbers beside it.

mod balance;
mod course;
mod curve;
mod svg;
mod targets;
mod ternary;
mod timeline;

pub(super) use balance::balance;
pub(super) use course::course;
pub(super) use curve::curve;
pub(super) use targets::targets;
pub(super) use timeline::timeline;
