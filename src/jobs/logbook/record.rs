//! What `logbook show`, `logbook now` and `logbook forecast` print with `--json`.

use serde::Serialize;

use crate::jobs::record::WaterRecord;
use crate::jobs::{Dose, HelperRecord, Step, ToMind};
use crate::logbook::Event;
use crate::safety::Finding;

/// An entry and whether it counts.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct EntryRecord {
    /// Its number.
    pub entry: u64,
    /// When it happened, RFC 3339 with offset.
    pub at: String,
    /// The entry that voids it; null when it counts.
    pub voided_by: Option<u64>,
    /// What happened.
    #[serde(flatten)]
    pub what: Event,
}

/// A line whose writing was cut off.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct TornRecord {
    /// Its line number.
    pub line: usize,
    /// What there is of it.
    pub read: String,
}

/// What `logbook add --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct AddedRecord {
    /// Version of this document.
    pub version: u32,
    /// `logbook-add`.
    pub job: String,
    /// The entry that was written.
    pub added: EntryRecord,
    /// Of a `voided` entry that which no longer counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voided: Option<EntryRecord>,
    /// Lines whose writing had been cut off, named in a `recovered` entry just before; empty as a rule.
    pub recovered_lines: Vec<usize>,
    /// Bottles that were poured from and that the stated bench file does not have; empty as a rule.
    pub bottles_not_on_bench: Vec<String>,
}

/// What `logbook show --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ShowRecord {
    /// Version of this document.
    pub version: u32,
    /// `logbook-show`.
    pub job: String,
    /// Every entry, in the order of the file.
    pub entries: Vec<EntryRecord>,
    /// Lines at the end whose writing was cut off.
    pub torn: Vec<TornRecord>,
}

/// A range: the middle is likely, the ends are those of the low and the high pattern of uptake.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// In between.
    pub likely: f64,
    /// Upper end.
    pub high: f64,
}

/// One nutrient of the tank.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ElementNow {
    /// Its symbol.
    pub element: String,
    /// Likely concentration, ppm.
    pub ppm: f64,
    /// Lower end of its range, ppm; null where no reading tells what plants took.
    pub low_ppm: Option<f64>,
    /// Upper end of its range, ppm.
    pub high_ppm: f64,
    /// What went in less what was drained, nothing taken up, ppm.
    pub booked_ppm: f64,
    /// `measured`, `bookkeeping` or `estimate`.
    pub basis: String,
}

/// A reading and when it was taken.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ValueAt {
    /// What was read, in the unit that the key states.
    pub value: f64,
    /// When, RFC 3339 with offset.
    pub at: String,
}

/// The day to go back from a phase that may only last so long.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BackRecord {
    /// How long the phase may last, days.
    pub hold_at_most_days: f64,
    /// The last day of it.
    pub date: String,
    /// Days until then; negative when it is over.
    pub days_left: f64,
}

/// What `logbook now --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct NowRecord {
    /// Version of this document.
    pub version: u32,
    /// `logbook-now`.
    pub job: String,
    /// The moment, RFC 3339 with offset.
    pub at: String,
    /// When the tank was last filled; null when it never was.
    pub filled: Option<String>,
    /// The formula it was mixed to.
    pub formula: Option<String>,
    /// What the tank holds, without what is held back, L.
    pub level_l: Option<f64>,
    /// What medium and pipes hold back, L.
    pub held_back_l: f64,
    /// Water lost to leaves and air, L a day; null where levels do not tell it.
    pub litres_per_day: Option<f64>,
    /// Days since the last EC reading or analysis for which the uptake is carried on.
    pub carried_on_days: f64,
    /// The phase.
    pub phase: Option<String>,
    /// When it began.
    pub phase_since: Option<String>,
    /// The day to go back; null when the phase may last.
    pub back: Option<BackRecord>,
    /// When stalks were seen in this phase.
    pub stalks_seen: Option<String>,
    /// What is in the tank.
    pub elements: Vec<ElementNow>,
    /// EC that a meter should show now, at 25 C, mS/cm; null where it cannot be predicted.
    pub ec_ms_cm: Option<Range>,
    /// Last EC reading, mS/cm.
    pub ec_read_ms_cm: Option<ValueAt>,
    /// The scale of the grower's meter, ppm per uS/cm; null for one that shows mS/cm.
    pub meter_scale: Option<f64>,
    /// What the meter shows over what is predicted, from the first reading within a day of a filling that renewed three quarters
    /// of the tank at the least, or from a reading within a day of an analysis; 1 without.
    pub meter_factor: f64,
    /// What told the content for that reading: `filling` or `analysis`; null without one.
    pub meter_by: Option<String>,
    /// Last pH reading.
    pub ph_read: Option<ValueAt>,
    /// Alkalinity of the likely content that this pH tells, in air, meq/L; null where it is more than a week old or something went
    /// in since.
    pub alkalinity_meq_l: Option<f64>,
    /// Last temperature reading, C.
    pub temperature_read_c: Option<ValueAt>,
    /// What to know, most severe first.
    pub findings: Vec<Finding>,
}

/// Dates in a range: the earliest by the low pattern, the latest by the high one; null within the forecast's days.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct DayRange {
    /// By the low pattern; warnings go by it.
    pub earliest: Option<String>,
    /// By the likely pattern.
    pub likely: Option<String>,
    /// By the high pattern.
    pub latest: Option<String>,
}

/// The tank on a day to come.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct DayRecord {
    /// The day.
    pub date: String,
    /// Nitrogen, ppm.
    pub nitrogen_ppm: Range,
    /// EC that a meter should show, mS/cm; null where it cannot be predicted.
    pub ec_ms_cm: Option<Range>,
}

/// What to add to bring the tank back to its formula.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct RestoreRecord {
    /// The tank filled up, what is held back included, L: what the doses are for.
    pub volume_l: f64,
    /// True where the pH that was read asks to be corrected first: `today` weighs for both.
    pub ph_first: bool,
    /// Water that fills it up with them, L.
    pub water_l: f64,
    /// Of several waters the litres of each; else empty.
    pub waters: Vec<WaterRecord>,
    /// True for rain and other pure water.
    pub pure_water: bool,
    /// Misfit before it; null without a target.
    pub misfit_before: Option<f64>,
    /// Misfit after it, as measured out; never more.
    pub misfit: Option<f64>,
    /// What to measure out, in the order in which it goes in.
    pub doses: Vec<Dose>,
    /// How it is done, step by step, as of a mix.
    pub order: Vec<Step>,
    /// Dilute bottles that it draws from.
    pub helpers: Vec<HelperRecord>,
    /// What to mind with it.
    #[serde(flatten)]
    pub mind: ToMind,
    /// Elements that nothing brings back, or that are over their target.
    pub missed: Vec<MissedRecord>,
    /// What is too little to measure and waits for a later filling up, by name.
    pub waits: Vec<String>,
}

/// An element that stays away from its target by more than 5 %.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct MissedRecord {
    /// Its symbol.
    pub element: String,
    /// What it comes to, ppm.
    pub ppm: f64,
    /// What the formula asks, ppm.
    pub target_ppm: f64,
    /// Of what is over: the day by which plants bring it down to the target by the likely pattern; null where they do not
    /// within the forecast's days, and where no pace is known.
    pub taken_by: Option<String>,
}

/// What `logbook forecast --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct ForecastRecord {
    /// Version of this document.
    pub version: u32,
    /// `logbook-forecast`.
    pub job: String,
    /// The moment it starts from, RFC 3339 with offset.
    pub at: String,
    /// The formula that it is held against.
    pub formula: Option<String>,
    /// The floor for nitrogen, ppm; null where nothing states one.
    pub floor_ppm: Option<f64>,
    /// `stated`, or `half of the target` of the formula, which is an own choice; null without a floor.
    pub floor_from: Option<String>,
    /// Days that were looked at.
    pub days: u32,
    /// When nitrogen falls under the floor.
    pub nitrogen_under_floor: Option<DayRange>,
    /// The least EC of the formula, mS/cm.
    pub ec_min_ms_cm: Option<f64>,
    /// The most EC of the formula, mS/cm.
    pub ec_max_ms_cm: Option<f64>,
    /// The scale of the grower's meter, ppm per uS/cm; null for one that shows mS/cm.
    pub meter_scale: Option<f64>,
    /// When EC leaves the range of the formula; null when it has none.
    pub ec_outside: Option<DayRange>,
    /// The day to go back from the phase; null when it may last.
    pub back: Option<BackRecord>,
    /// Days to come, a week apart; empty where readings do not tell the uptake.
    pub course: Vec<DayRecord>,
    /// What to add now; null where there is no formula, or nothing that could be fitted.
    pub restore: Option<RestoreRecord>,
    /// Why there is nothing to add, in words.
    pub no_restore: Option<String>,
    /// What to know, most severe first.
    pub findings: Vec<Finding>,
}
