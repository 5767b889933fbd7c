//! Renderers of the result records: text for people, JSON for programs. No arithmetic beyond rounding.

mod calendar;
mod csv;
mod cycle;
mod json;
mod mix;
mod page;
mod salt;

pub use calendar::calendar;
pub use csv::csv;
pub use cycle::cycle;
pub use json::{document, error_document, schema};
pub use mix::{beside, mix};
pub use salt::{salt, salts};
