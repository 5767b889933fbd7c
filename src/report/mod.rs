//! Renderers of the result records. What a job says is built once as a page (`page.rs`) from sections that jobs share, and
//! printed as text (`text.rs`) or as a sheet (`sheet.rs`); JSON, iCalendar and CSV stand beside. No arithmetic beyond rounding.

mod answer;
mod bottles;
mod calendar;
mod check;
mod csv;
mod cycle;
mod doses;
mod handling;
mod json;
mod logbook;
mod meter;
mod mix;
mod new;
mod page;
mod pictures;
mod renewal;
mod salt;
mod sheet;
mod stock;
mod switch;
mod tank;
mod text;
mod today;
mod top_up;
mod trade;
mod words;

pub use answer::{Form, render};
pub use calendar::calendar;
pub use check::{check, check_sheet};
pub use csv::csv;
pub use cycle::{cycle, cycle_sheet};
pub use json::{document, line, schema};
pub use logbook::{logbook_added, logbook_forecast, logbook_now, logbook_show};
pub use mix::{beside, mix, mix_sheet};
pub use new::new;
pub use salt::{salt, salts};
pub use stock::{stock, stock_sheet};
pub use switch::{scale, switch, switch_sheet};
pub use today::{today, today_sheet};
pub use top_up::{top_up, top_up_sheet};
pub use trade::trade;
