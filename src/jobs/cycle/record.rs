//! The result of a cycle, as `--json` prints it. Days are text such as `2027-01-04`, and a last day is counted in.

use serde::Serialize;

use super::crossing::{BestStart, CrossingStep};
use super::renewal_record::{Renewal, RenewalFrom};
use super::window::Window;
use crate::catalogue::Source;
use crate::jobs::{Dose, General, Handling, HelperRecord, Ingredient, Step, WaterRecord};
use crate::quantity::Date;
use crate::safety::Finding;

/// A phase of a tank.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct PhaseDates {
    /// `growth`, `push`, `hold`, `back` or `ripening`.
    pub phase: String,
    /// The formula that it feeds.
    pub formula: String,
    /// Its days.
    #[serde(flatten)]
    pub days: Window,
    /// How long a fresh tank of it is fed at the most.
    pub renewal: Renewal,
}

/// Days on which one formula is fed without a break, where the formula says how long it may be.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct HoldDates {
    /// The formula.
    pub formula: String,
    /// Its days in this plan.
    #[serde(flatten)]
    pub days: Window,
    /// `hold_at_most` of the formula, whole days.
    pub hold_at_most_days: i32,
    /// The day on which another formula is due at the latest.
    pub back_by: Date,
}

/// Why a tank is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum FillReason {
    /// The cycle begins.
    Start,
    /// Another formula.
    Turn,
    /// The same formula afresh.
    Renewal,
}

/// A tank mixed afresh.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Fill {
    /// The day.
    pub date: Date,
    /// Why.
    pub reason: FillReason,
    /// The formula.
    pub formula: String,
    /// What goes in: position in `mixes`, from 0.
    pub mix: usize,
    /// Days that it is fed.
    pub days: i32,
    /// Days that it may be fed at the most, as the phase has them that it is mixed in.
    pub renew_days: i32,
    /// Where those come from.
    pub renew_from: RenewalFrom,
    /// Cost, where every dose has a price.
    pub cost: Option<f64>,
}

/// What happens to a tank.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct TankPlan {
    /// Id of the tank, where the bench has several; null else.
    pub tank: Option<String>,
    /// Id of the group whose own tank it is; null for the tank of the bench.
    pub group: Option<String>,
    /// Ids of the groups that it feeds.
    pub feeds: Vec<String>,
    /// Its volume, L.
    pub volume_l: f64,
    /// Its phases.
    pub phases: Vec<PhaseDates>,
    /// Formulas that may only be fed for so long.
    pub holds: Vec<HoldDates>,
    /// The days on which it is mixed afresh; by its logbook those from now on.
    pub fills: Vec<Fill>,
    /// The day on which it was to be turned over to what it should be fed now, where its logbook says that it was not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turn_overdue_since: Option<Date>,
}

/// What to weigh for one formula in one volume.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct CycleMix {
    /// The formula.
    pub formula: String,
    /// The volume, L.
    pub volume_l: f64,
    /// How often the plan mixes it.
    pub times: usize,
    /// What to measure out, in the order in which it goes in.
    pub doses: Vec<Dose>,
    /// How its acid is thinned and goes in, as in a mix; empty where it has none.
    pub souring: Vec<Step>,
    /// Litres of each of several waters, as of a mix.
    pub waters: Vec<WaterRecord>,
    /// Dilute bottles that it draws from, and those from which these are made.
    pub helpers: Vec<HelperRecord>,
    /// EC at 25 C, mS/cm.
    pub ec_ms_cm: f64,
    /// Its uncertainty (k = 2).
    pub ec_plus_minus_ms_cm: f64,
    /// The scale of the grower's meter, ppm per uS/cm; null for one that shows mS/cm.
    pub meter_scale: Option<f64>,
    /// pH right after mixing; null when products leave the alkalinity open.
    pub ph: Option<f64>,
    /// Its low end (k = 2).
    pub ph_low: Option<f64>,
    /// Its high end.
    pub ph_high: Option<f64>,
    /// Cost of one tank, where every dose has a price; of a bottle what the tank takes of it.
    pub cost: Option<f64>,
    /// What to know of it.
    pub findings: Vec<Finding>,
}

/// A dilute bottle over the whole plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BottlePlan {
    /// Its id. Bottles of different contents may share one: `mixes` tells them apart.
    pub id: String,
    /// True when it has to be made, false when it is there already.
    pub new: bool,
    /// Volume it is made up to, mL.
    pub volume_ml: f64,
    /// What goes into it each time that it is made; empty for one that is there already.
    pub made_of: Vec<Ingredient>,
    /// True when it is made up with pure water, false with the bench's own.
    pub pure_water: bool,
    /// For how many days it keeps, dark and cool: common practice, no source. Null for one that is there already.
    pub keep_days: Option<u32>,
    /// The mixes that it is for: positions in `mixes`, from 0; empty for one that is there already and only thinned.
    pub mixes: Vec<usize>,
    /// What the plan takes of it, into tanks and into other bottles, mL.
    pub needed_ml: f64,
    /// What is left in it, mL; null for a new one.
    pub left_ml: Option<f64>,
    /// The days on which it is made; empty for one that is there already.
    pub made_on: Vec<Date>,
}

/// When a group flowers.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct GroupDates {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// The first day of its cycle.
    pub starts_on: Date,
    /// The first day of its push.
    pub push_from: Date,
    /// Days on which flowers open.
    pub opens: Window,
    /// Days on which flowers shed pollen.
    pub pollen: Window,
    /// The last day on which dry pollen is good; null where the bench file does not say how long it keeps.
    pub dry_pollen_to: Option<Date>,
    /// Days on which stigmas are receptive.
    pub stigma: Window,
}

/// Pollen of one group and the stigmas of another, or of the same.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Meeting {
    /// Id of the group that gives pollen.
    pub pollen_of: String,
    /// Id of the group that bears the seed.
    pub stigma_of: String,
    /// Days on which fresh pollen meets receptive stigmas; null when it never does.
    pub fresh: Option<Window>,
    /// The same with dry pollen counted in.
    pub days: Option<Window>,
    /// Those of them on which no more is shed, so that it is done with dry pollen; null for none.
    pub dry: Option<Window>,
    /// When seed of these days is ripe; null where no pollen meets, or `ripe_after` is not stated.
    pub ripe: Option<Window>,
}

/// All of one salt that the plan takes, and what the shelf lacks.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct SaltTotal {
    /// Its id.
    pub salt: String,
    /// Its name.
    pub name: String,
    /// What the plan takes, g: weighed into tanks, and into bottles each time that one is made.
    pub needed_g: f64,
    /// The same in mL, for liquids.
    pub needed_ml: Option<f64>,
    /// What is on hand, g; null where the shelf does not say.
    pub on_hand_g: Option<f64>,
    /// The same in mL, for liquids.
    pub on_hand_ml: Option<f64>,
    /// What to buy, g, in whole bags where the shelf states a bag; all that is needed where `on_hand_g` is null.
    pub buy_g: f64,
    /// The same in mL, for liquids.
    pub buy_ml: Option<f64>,
    /// What a bag holds, g; null where the shelf does not say.
    pub bag_g: Option<f64>,
    /// The same in mL, for liquids.
    pub bag_ml: Option<f64>,
    /// Whole bags to buy; null without a bag.
    pub bags: Option<u32>,
    /// What that costs, where the salt has a price.
    pub buy_cost: Option<f64>,
}

/// A cycle: dates, mixes, flowers and shopping, all by the grower's own figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct CycleRecord {
    /// Version of this document.
    pub version: u32,
    /// `cycle`.
    pub job: String,
    /// Name of the bench.
    pub bench: String,
    /// The first day.
    pub start: Date,
    /// The last day on which anything is fed.
    pub end: Date,
    /// The day from which fresh tanks, bottles, cost and shopping are counted, where logbooks tell of a plan that has begun.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub counted_from: Option<Date>,
    /// Days of the week on which tanks are renewed, `Mon` to `Sun`; empty for any.
    pub renew_on: Vec<String>,
    /// Tanks, that of the bench first.
    pub tanks: Vec<TankPlan>,
    /// What to weigh.
    pub mixes: Vec<CycleMix>,
    /// Dilute bottles, those first from which others are made.
    pub bottles: Vec<BottlePlan>,
    /// When each group flowers.
    pub groups: Vec<GroupDates>,
    /// Every group's pollen and every group's stigmas.
    pub meetings: Vec<Meeting>,
    /// What to do for the crosses, by date.
    pub crossing: Vec<CrossingStep>,
    /// The best start of all groups with the tanks that they have; null with fewer than two groups.
    pub best_start: Option<BestStart>,
    /// The best start where groups on the tank of the bench may start apart too, each from a tank of its own; null where that meets no
    /// more.
    pub best_start_own_tanks: Option<BestStart>,
    /// Salts of the whole plan, in the order of the salt table.
    pub salts: Vec<SaltTotal>,
    /// Cost of all tanks, where every dose has a price; of a bottle what they take of it.
    pub cost: Option<f64>,
    /// Cost of what is to be bought, of all that has a price; null where nothing of it has one.
    pub shopping_cost: Option<f64>,
    /// Names of what is to be bought and has no price.
    pub no_price: Vec<String>,
    /// What to know of the plan, most severe first; each mix has its own.
    pub findings: Vec<Finding>,
    /// How to handle each salt.
    pub handling: Vec<Handling>,
    /// Cautions, most severe first.
    pub cautions: Vec<General>,
    /// Where the numbers come from.
    pub sources: Vec<Source>,
}
