//! Renderers of the result records: text for people, JSON for programs. No arithmetic beyond rounding.

mod calendar;
mod check;
mod csv;
mod cycle;
mod diary;
mod json;
mod mix;
mod page;
mod renewal;
mod salt;
mod sheet;
mod stock;
mod switch;
mod trade;
mod words;

pub use calendar::calendar;
pub use check::check;
pub use csv::csv;
pub use cycle::cycle;
pub use diary::{diary_added, diary_forecast, diary_now, diary_show};
pub use json::{document, error_document, schema};
pub use mix::{beside, mix};
pub use salt::{salt, salts};
pub use sheet::{check_sheet, cycle_sheet, mix_sheet, stock_sheet, switch_sheet};
pub use stock::stock;
pub use switch::{scale, switch};
pub use trade::trade;
