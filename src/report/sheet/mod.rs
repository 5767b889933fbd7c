//! The printed sheet: one page of HTML without script or outside resource, for the wall above the tank.
//!
//! A job's sheet is one file here (`mix.rs`, `switch.rs`, …) that lists sections in their order. Sections (`weights.rs`,
//! `meter.rs`, …) and pictures (`ternary.rs`, `asked.rs`, …) are shared; a picture places marks and reckons nothing.

mod asked;
mod balance;
mod bottles;
mod check;
mod course;
mod cycle;
mod handling;
mod meter;
mod mix;
mod page;
mod shopping;
mod stock;
mod svg;
mod switch;
mod tank;
mod ternary;
mod timeline;
mod trade;
mod watch;
mod weights;

pub use check::check as check_sheet;
pub use cycle::cycle as cycle_sheet;
pub use mix::mix as mix_sheet;
pub use stock::stock as stock_sheet;
pub use switch::switch as switch_sheet;
