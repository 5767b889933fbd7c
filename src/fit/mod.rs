//! The linear programs: which amounts of which salts come closest to a formula. Only this room knows `good_lp`.
//!
//! Everything happens in concentrations: amounts are grams per litre of final volume, nutrients are ppm.

mod answer;
mod closest;
mod conflict;
mod dense;
mod ec;
mod face;
mod fewest;
mod linear;
mod model;
mod problem;
#[cfg(test)]
mod sample;
mod simplex;
mod solve;
mod strength;
mod weigh;
mod wishes;

pub use answer::{Conflict, FitError, Proof, ShadowPrices, Solution, Stage};
pub use conflict::{can_be_met, how_far};
pub use fewest::{Few, fewest, without};
pub use problem::{Column, Conducts, EcLimits, Limit, PhRow, Problem, Want, WaterRow, phi};
pub use solve::{solve, solve_misfit};
pub use weigh::{Flight, Ladder, PhBand, ToWeigh, Weighed, weigh};
