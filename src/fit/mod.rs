//! The linear programs: which amounts of which salts come closest to a formula. Only this room knows `good_lp`.
//!
//! Everything happens in concentrations: amounts are grams per litre of final volume, nutrients are ppm.

mod conflict;
mod dense;
mod ec;
mod exhaust;
mod face;
mod fewest;
mod linear;
mod model;
mod problem;
mod simplex;
mod solve;
mod steps;
mod steps_ec;

pub use conflict::{Conflict, can_be_met, how_far};
pub use fewest::{Few, fewest, without};
pub use problem::{Column, Conducts, EcLimits, Limit, PhRow, Problem, ShareLimits, Want, phi};
pub use solve::{FitError, Prices, Proof, Solution, Stage, solve, solve_misfit};
pub use steps::{Flight, Ladder, Weighed, weigh};
