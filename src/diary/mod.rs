//! The diary of a tank: dated entries in an append-only text, what they say of the tank, and what plants took from it.
//!
//! Pure like every room but `cli`: texts and moments come in, texts and numbers go out. How conductive a solution is comes
//! in as a function, so that this room knows no chemistry.

mod book;
mod entry;
mod line;
mod moment;
mod state;
mod uptake;

pub use book::{Damage, Diary, Fault, Torn, excerpt};
pub use entry::{Amounts, Entry, Event, LONGEST_TEXT, nutrients};
pub use line::line;
pub use moment::Moment;
pub use state::{Basis, METER_PLUS_MINUS, Phase, Slip, State, TRACKS, Tank, Track, state_at};
pub use uptake::{Patterns, STANDARD_UPTAKE, UptakeError, UptakeRow};
