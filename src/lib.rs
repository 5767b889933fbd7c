//! Gram weights of salts for a hydroponic reservoir, from target nutrient concentrations.
//!
//! Made for growers who force ornamental plants into flower: a growth formula, a push formula with less nitrogen and
//! more phosphorus and potassium, and back. Data walks one way through the rooms:
//!
//! ```text
//! cli --> ask --> jobs --> report
//!                  |
//!        bench, tank, catalogue, matter, quantity, fit, solution, safety, logbook   (pure: no files, no printing, no clock)
//! ```

pub mod ask;
pub mod bench;
pub mod catalogue;
#[cfg(feature = "cli")]
pub mod cli;
pub mod fit;
pub mod jobs;
pub mod logbook;
pub mod matter;
pub mod quantity;
pub mod report;
pub mod safety;
pub mod solution;
mod suggest;
pub mod tank;
mod weights;

// what the README shows in Rust is compiled and run
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
