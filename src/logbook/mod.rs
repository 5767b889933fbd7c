//! The logbook of a tank: dated entries in an append-only text, what they say of the tank, and what plants took from it.
//!
//! Pure like every room but `cli`: texts and moments come in, texts and numbers go out. How conductive a solution is comes
//! in as a function, so that this room knows no chemistry.

mod analysis;
mod book;
mod booking;
mod entry;
mod fed;
mod found;
mod known;
mod ledger;
mod line;
mod merge;
mod meter;
mod meter_by;
mod model;
mod moment;
mod pace;
mod slip;
mod solve;
mod state;
mod tank;
mod uptake;

pub use book::{Damage, Fault, Logbook, Torn, excerpt};
pub(crate) use booking::is_renewed;
pub use booking::state_at;
pub use entry::{Amounts, Entry, Event, LONGEST_TEXT, nutrients};
pub use known::Basis;
pub use ledger::Interval;
pub(crate) use line::crc32;
pub use line::line;
pub use merge::{Clash, ClashKind, Merge, merge};
pub use meter_by::MeterBy;
pub use model::{METER_PLUS_MINUS, Predict};
pub use moment::Moment;
pub use pace::{Learnt, Pace, learn};
pub use slip::Slip;
pub use state::{Fed, Feeds, Phase, State};
pub use tank::{TRACKS, Tank, Track};
pub use uptake::{Patterns, STANDARD_UPTAKE, UptakeError, UptakeRow};
