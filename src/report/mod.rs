//! Renderers of the result records. What a job says is built once as a page (`page.rs`) from sections that jobs share, and
//! printed as text (`text.rs`) or as a sheet (`sheet.rs`); JSON, iCalendar and CSV stand beside. No arithmetic beyond rounding.

#![cfg_attr(not(feature = "sheets"), allow(dead_code, unused_variables, reason = "what a page holds for a sheet alone"))]

mod answer;
mod bottles;
mod calendar;
mod check;
mod crossing;
mod csv;
mod cycle;
mod doses;
mod handling;
mod json;
mod logbook;
mod merged;
mod meter;
mod mix;
mod new;
mod page;
#[cfg(feature = "sheets")]
mod pictures;
mod renewal;
mod salt;
#[cfg(feature = "schema")]
mod schema;
#[cfg(feature = "sheets")]
mod sheet;
mod stock;
mod switch;
mod tank;
mod text;
mod today;
mod today_groups;
mod today_ph;
mod top_up;
mod trade;
mod words;

pub use answer::{Form, render};
pub use calendar::calendar;
pub use check::check;
pub use csv::csv;
pub use cycle::cycle;
pub use json::{document, line};
pub use logbook::{logbook_added, logbook_forecast, logbook_now, logbook_show};
pub use merged::logbook_merged;
pub use mix::{beside, mix};
pub use new::new;
pub use salt::salts;
pub use stock::stock;
pub use switch::{scale, switch};
pub use today::today;
pub use top_up::top_up;
pub use trade::trade;

#[cfg(feature = "schema")]
pub use schema::schema;
#[cfg(feature = "sheets")]
pub use {
    check::check_sheet, cycle::cycle_sheet, mix::mix_sheet, stock::stock_sheet, switch::switch_sheet, today::today_sheet,
    top_up::top_up_sheet,
};
