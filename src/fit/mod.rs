//! The linear programs: which amounts of which salts come closest to a formula. Only this room knows `good_lp`.
//!
//! Everything happens in concentrations: amounts are grams per litre of final volume, nutrients are ppm.

mod conflict;
mod dense;
mod face;
mod linear;
mod model;
mod problem;
mod solve;

pub use conflict::Conflict;
pub use problem::{Column, EcLimits, Limit, PhRow, Problem, ShareLimits, Want, phi};
pub use solve::{FitError, Solution, Stage, solve};
