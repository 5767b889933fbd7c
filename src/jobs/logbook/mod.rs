//! The logbook of a tank: events from what was weighed, the tank as it is, and what is to come.

mod again;
mod events;
mod forecast;
mod job;
mod merge;
mod now;
mod record;
mod restore;
mod show;
mod slips;

pub use events::{added_event, filled_event, phase_event, recipe_event, topped_up_event};
pub(super) use forecast::DAYS as FORECAST_DAYS;
pub use forecast::{ForecastAsked, forecast};
pub(super) use forecast::{ec_limits, first_day, is_ec_outside, runs_out};
pub(super) use job::LEAST_L;
pub use job::{DoneOtherwise, job_event};
pub use merge::{MergeRecord, merge_record};
pub(super) use now::{InTank, back, ec_range, fed, findings, range, state, usual_floor_ppm};
pub use now::{logbook_state, now};
pub use record::{
    AddedRecord, BackRecord, DayRange, DayRecord, ElementNow, EntryRecord, ForecastRecord, MissedRecord, NowRecord, Range,
    RestoreRecord, ShowRecord, TornRecord, ValueAt,
};
pub(super) use restore::{lacks_l, missed};
pub use show::{added_record, show};
pub use slips::{Entered, slips_of_last};
