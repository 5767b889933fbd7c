//! Renderers of the result records: text for people, JSON for programs. No arithmetic beyond rounding.

mod json;
mod mix;
mod page;
mod salt;
mod trade;

pub use json::{document, error_document, schema};
pub use mix::{beside, mix};
pub use salt::{salt, salts};
pub use trade::trade;
