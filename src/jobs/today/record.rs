//! What `today` says.

use serde::Serialize;

use crate::jobs::{Dose, General, Handling, HelperRecord, MissedRecord, Range, Recipe, Step, ValueAt, WaterRecord, Window};
use crate::quantity::Date;
use crate::safety::{Finding, FromJug, is_burning_ph};

/// One day of a bench.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct TodayRecord {
    /// Version of this document.
    pub version: u32,
    /// `today`.
    pub job: String,
    /// Name of the bench.
    pub bench: String,
    /// The moment, RFC 3339 with offset.
    pub at: String,
    /// Its day.
    pub date: Date,
    /// The first day of the plan; null where there is none.
    pub plan_from: Option<Date>,
    /// Why there is no plan, in words; null where there is one.
    pub no_plan: Option<String>,
    /// Every tank: that of the bench first, then those of groups.
    pub tanks: Vec<TodayTank>,
    /// Every group of the plan.
    pub groups: Vec<TodayGroup>,
    /// Salts of which the bench file says how much is on hand, and bottles of which it is known: what is left by then.
    pub left: Vec<Left>,
}

/// What is left of a salt or a bottle.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Left {
    /// Id of the salt or bottle.
    pub id: String,
    /// Its name.
    pub name: String,
    /// What is left, g; null for a bottle.
    pub grams: Option<f64>,
    /// What is left of a liquid, mL; null for a solid.
    pub millilitres: Option<f64>,
    /// True for an acid.
    pub acid: bool,
}

/// What is to be done with a tank.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum DueKind {
    /// It is filled for the first time.
    Fill,
    /// It is turned over to another formula.
    Switch,
    /// It is mixed afresh, or turned over to the formula that it has.
    Renew,
    /// EC and level are read.
    Read,
}

/// What says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum DueBy {
    /// The `[cycle]` of the bench file.
    Plan,
    /// The course of the tank: nitrogen under half of its target, or EC out of the formula's range, by the likely course.
    Forecast,
    /// `hold_at_most` of the formula.
    HoldAtMost,
    /// A week since the last reading (own choice).
    Habit,
    /// Filling it up would leave a stop in it.
    Stop,
    /// It has run down, and nothing on the shelf can be added that brings it nearer.
    Lack,
    /// Its pH: nothing is done by the last before it is read again, a fresh tank has aired, or an acid went in the day before.
    Doubt,
}

/// Something that is due.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Due {
    /// What.
    pub what: DueKind,
    /// Who says so.
    pub by: DueBy,
    /// The formula that it is for; null for a reading, and where it is not known.
    pub formula: Option<String>,
    /// The day.
    pub on: Date,
    /// Days until then: 0 today, negative where it is overdue.
    pub days_left: i32,
    /// The day by the least favourable course, where a forecast says so.
    pub earliest: Option<Date>,
}

/// What fills a tank up and brings it back to its formula, or what it is renewed or turned over with.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct FillUp {
    /// Name of the formula.
    pub formula: String,
    /// What can be drained before it, L; null where nothing is in it.
    pub level_l: Option<f64>,
    /// What is let out first, L: nothing where a tank is only filled up.
    pub drain_l: f64,
    /// Water to fill in, L; what bottles bring is part of it.
    pub water_l: f64,
    /// Litres of each of several waters in it, as of a mix.
    pub waters: Vec<WaterRecord>,
    /// True for water that brings nothing.
    pub pure_water: bool,
    /// What to measure out, in the order in which it goes in; empty where water alone comes closest.
    pub doses: Vec<Dose>,
    /// Bottles that this takes.
    pub helpers: Vec<HelperRecord>,
    /// How to fill it up, step by step.
    pub order: Vec<Step>,
    /// What speaks against it.
    pub stops: Vec<Finding>,
    /// Why a target stays off that does not wait, and what would help.
    pub why_off: Vec<Finding>,
    /// Misfit after water alone.
    pub misfit_before: Option<f64>,
    /// Misfit after it.
    pub misfit: Option<f64>,
    /// EC that is predicted after it, at 25 C, mS/cm, by what the logbook learnt of the meter.
    pub ec_ms_cm: f64,
    /// pH after it, right after mixing; null where no pH that stands was read.
    pub ph: Option<f64>,
    /// Its low end (k = 2); null as for `ph`.
    pub ph_low: Option<f64>,
    /// Its high end; null as for `ph`.
    pub ph_high: Option<f64>,
    /// pH after days in air; null as for `ph`.
    pub ph_aired: Option<f64>,
    /// What that pH does to chelates.
    pub chelates: Vec<Finding>,
    /// Targets that stay more than 5 % off.
    pub missed: Vec<MissedRecord>,
    /// What is too little to measure and waits for a later filling up, by name.
    pub waits: Vec<String>,
}

/// The last pH that was read, and what it asks for.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct PhToday {
    /// What was read.
    pub read: ValueAt,
    /// False where something went in since, or it is over a week old: then it is read again before anything is corrected.
    pub stands: bool,
    /// True where a fresh tank or another formula is due: its acid is reckoned with that.
    pub with_fresh_tank: bool,
    /// The acid or the base that it asks for; null where it asks for none, does not stand, nothing is there to reckon with, or a fresh
    /// tank is due.
    /// What fills the tank up is reckoned for a tank that has it in.
    pub correction: Option<PhCorrection>,
    /// Why no dose is told, though the pH asks for one; else null.
    pub untold: Option<String>,
    /// From when it is read again, to the minute, where the tank was not aired when it was read; else null.
    pub again_from: Option<String>,
    /// True where no dose is told since so little is needed that nothing measures it: that can wait.
    pub is_trifle: bool,
    /// True where the EC that was read speaks against the pH, where one that is far out was read only once, or where the tank was not a
    /// day old: then nothing else is reckoned from it.
    pub doubted: bool,
}

impl PhToday {
    /// True where nothing goes in before it is known better: it burns, and no dose of what is there corrects it.
    pub(super) fn burns(&self) -> bool {
        let corrected = self.correction.as_ref().is_some_and(|of| of.on_shelf);
        self.stands && !self.with_fresh_tank && !corrected && is_burning_ph(self.read.value)
    }
}

/// An acid or a base for a tank as it stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct PhCorrection {
    /// True for an acid, false for a base.
    pub acid: bool,
    /// Its id.
    pub salt: String,
    /// Its name.
    pub name: String,
    /// False where less than that is on the shelf: then what is filled up does without it, and no recipe has it.
    pub on_shelf: bool,
    /// How much, g.
    pub grams: f64,
    /// The same of a liquid, mL.
    pub millilitres: Option<f64>,
    /// Water to thin it with first, mL; null where that is not needed.
    pub water_ml: Option<f64>,
    /// Where so little is needed that no instrument measures it: what is thinned in its place, and how much of that goes in; else null.
    pub jug: Option<FromJug>,
    /// The pH that it brings, in air, once what fills the tank up is in as well.
    pub to_ph: f64,
    /// The pH right after it is in, before carbon dioxide goes out or comes in.
    pub fresh_ph: f64,
    /// What it brings most of beside; null where that is under 1 ppm.
    pub brings: Option<Brings>,
    /// What it is kept from, in words; empty where it meets nothing of the kind.
    pub apart: String,
    /// How it goes in; steps of what fills the tank up, where that reckons with it.
    pub order: Vec<Step>,
}

/// A nutrient that something brings.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Brings {
    /// Its symbol.
    pub element: String,
    /// How much, ppm of the tank.
    pub ppm: f64,
    /// What of it is then in the tank, ppm.
    pub comes_to_ppm: f64,
    /// What the formula asks; null where it asks nothing of it.
    pub target_ppm: Option<f64>,
}

/// One tank on this day.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct TodayTank {
    /// Id of the tank, where the bench has several.
    pub tank: Option<String>,
    /// Id of the group that has it for its own; null for the tank of the bench.
    pub group: Option<String>,
    /// What it holds when it is full, L.
    pub volume_l: f64,
    /// False where no logbook tells of it: then the plan alone speaks.
    pub logbook: bool,
    /// When it was last filled, RFC 3339; null when it never was.
    pub filled: Option<String>,
    /// The formula that it is fed.
    pub formula: Option<String>,
    /// The phase by the logbook.
    pub phase: Option<String>,
    /// When it began.
    pub phase_since: Option<String>,
    /// When flower stalks were seen in a phase that may not last; null where none were.
    pub stalks_seen: Option<String>,
    /// The phase by the plan; null before and after it, and without one.
    pub planned_phase: Option<String>,
    /// What can be drained, L, the loss since the last level carried on.
    pub level_l: Option<f64>,
    /// What medium and pipes hold back, L.
    pub held_back_l: f64,
    /// Nitrogen, ppm.
    pub nitrogen_ppm: Option<Range>,
    /// False where no reading and no analysis tells what plants took since the filling: then less may be left than the range says.
    pub uptake_known: bool,
    /// What the meter should show, mS/cm at 25 C.
    pub ec_ms_cm: Option<Range>,
    /// What it showed last.
    pub ec_read_ms_cm: Option<ValueAt>,
    /// The scale of the grower's meter, ppm per uS/cm; null for one that shows mS/cm.
    pub meter_scale: Option<f64>,
    /// What is due, the earliest first.
    pub due: Vec<Due>,
    /// What fills it up, or, where a fresh tank or another formula is due, what it is renewed or turned over with; null where
    /// nothing is to be filled in or added.
    pub fill_up: Option<FillUp>,
    /// Why there is nothing, in words; null where there is.
    pub no_fill_up: Option<String>,
    /// The recipe of all that is poured, what corrects the pH with it, for an entry of a logbook; only where it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recipe: Option<Recipe>,
    /// The last pH; null where none was read since the filling.
    pub ph: Option<PhToday>,
    /// What to know of it, most severe first.
    pub findings: Vec<Finding>,
    /// Handling of all that is to be poured in: what fills it up, and what corrects the pH.
    pub handling: Vec<Handling>,
    /// Cautions, most severe first.
    pub cautions: Vec<General>,
}

impl TodayTank {
    /// True where something is poured in that a logbook would be told of.
    #[must_use]
    pub fn is_poured_into(&self) -> bool {
        let corrects = self.ph.as_ref().and_then(|ph| ph.correction.as_ref()).is_some_and(|of| of.on_shelf);
        self.logbook && (self.fill_up.is_some() || corrects)
    }
}

/// Pollen that can be put on open stigmas today.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct CrossToday {
    /// Id of the group that gives pollen.
    pub pollen_of: String,
    /// False for dry pollen that was kept.
    pub fresh: bool,
}

/// Seed that ripens.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct RipensToday {
    /// Id of the group that gave pollen.
    pub pollen_of: String,
    /// The days on which seed of these crosses is ripe.
    pub days: Window,
}

/// What comes next of a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum GroupEvent {
    /// Its push begins.
    Push,
    /// Its first flowers open.
    Opens,
    /// Its pollen can be collected.
    Pollen,
    /// Its stigmas are receptive.
    Stigmas,
    /// Seed of one of its crosses is ripe.
    Ripe,
}

/// The next day of a group.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct GroupNext {
    /// What begins.
    pub what: GroupEvent,
    /// The day.
    pub on: Date,
    /// Days until then.
    pub days_left: i32,
}

/// One group on this day, by the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct TodayGroup {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// The last day of its pollen, where pollen is to be collected today.
    pub collect_pollen_until: Option<Date>,
    /// Ids of the groups for whose stigmas pollen that is collected today is kept dry; empty where it is used fresh.
    pub keep_dry_for: Vec<String>,
    /// How long dry pollen of it is good, where some is kept today.
    pub dry_pollen_good_until: Option<Date>,
    /// The last day of its stigmas, where they are open today.
    pub stigmas_open_until: Option<Date>,
    /// Whose pollen can be put on them today, its own counted.
    pub crosses: Vec<CrossToday>,
    /// What of its seed is ripe today.
    pub ripens: Vec<RipensToday>,
    /// What begins next.
    pub next: Option<GroupNext>,
}
