//! What a logbook says of its tank at one moment.

use super::ledger::{Interval, Open};
use super::tank::Tank;
use super::{MeterBy, Moment, Slip};
use crate::matter::NUTRIENTS;

/// A phase.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// Its name.
    pub name: String,
    /// When it began.
    pub since: Moment,
}

/// A formula that plants are fed without a break, whatever the phases are called that feed it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fed {
    /// Its name.
    pub formula: String,
    /// When they came to be fed it.
    pub since: Moment,
    /// How long they may be, days.
    pub hold_at_most_days: Option<f64>,
}

/// A formula, and how long it may be fed, days.
pub type Feeds = (String, Option<f64>);

/// A tank turned over to another formula without being filled anew.
#[derive(Debug, Clone)]
pub(super) struct Turned {
    pub(super) at: Moment,
    pub(super) formula: String,
    /// The tank right after it.
    pub(super) tank: Tank,
}

/// What an entry says of the course of the plants.
#[derive(Debug, Clone)]
pub(super) enum Course {
    /// The tank was brought to a formula.
    Brought(String, Option<f64>),
    /// A phase began.
    Began(String, Option<f64>),
    /// So much was let out, L; all of it where the tank was filled.
    LetOut(f64),
    /// Stalks were seen.
    Stalks,
}

/// What a logbook says of a tank at one moment.
#[derive(Debug, Clone)]
pub struct State {
    /// The moment.
    pub at: Moment,
    /// The tank; none before it was first filled.
    pub tank: Option<Tank>,
    /// When it was last filled.
    pub filled: Option<Moment>,
    /// The formula it was then mixed to.
    pub formula: Option<String>,
    /// The phase.
    pub phase: Option<Phase>,
    /// What plants were fed, one formula after the other; the last is what they are fed.
    pub fed: Vec<Fed>,
    /// When stalks were last seen since they are fed it.
    pub stalks: Option<Moment>,
    /// Last EC, mS/cm.
    pub ec: Option<(Moment, f64)>,
    /// Last pH.
    pub ph: Option<(Moment, f64)>,
    /// Last temperature, C.
    pub temperature: Option<(Moment, f64)>,
    /// Last level, L.
    pub level: Option<(Moment, f64)>,
    /// What the meter reads over what is predicted, from the first reading within a day of a filling that renewed three
    /// quarters of the tank at the least, or from a reading within a day of an analysis; 1 without.
    pub meter_factor: f64,
    /// What told the content for that reading.
    pub meter_by: Option<MeterBy>,
    /// Size of the uptake a day, by [`TRACKS`](super::TRACKS), where readings tell it.
    pub uptake_per_day: Option<[f64; 3]>,
    /// Water lost to leaves and air, L a day, where levels tell it.
    pub litres_per_day: Option<f64>,
    /// Days since the last EC reading or analysis for which the uptake is carried on.
    pub carried_on_days: f64,
    /// When a laboratory last found each nutrient, since the filling.
    pub analysed: [Option<Moment>; NUTRIENTS.len()],
    /// The ledger of uptake since the filling; uptake a day is the sum of uptake over the sum of days.
    pub intervals: Vec<Interval>,
    /// What does not fit.
    pub slips: Vec<Slip>,
    /// Entries that are dated later than the moment and do not count.
    pub later: usize,
    /// The tank right after it was last filled.
    pub(super) fresh: Option<Tank>,
    /// The entry that last filled the tank or turned it over, and the formula that it brought it to.
    pub(super) begun: Option<(u64, Option<String>)>,
    /// The last turn to another formula since the filling, where too little was renewed to be one.
    pub(super) turned: Option<Turned>,
    /// When something was last measured in since the filling, and its salts.
    pub(super) added: Option<(Moment, Vec<String>)>,
    /// True when nothing went in since the last pH was read.
    pub(super) ph_stands: bool,
    /// The pH read before the last, where nothing went in between.
    pub(super) ph_before: Option<(Moment, f64)>,
    /// When the content was last told without the meter, and by what; none where a reading was held against it since.
    pub(super) known: Option<(Moment, MeterBy)>,
    /// The last EC reading since the filling that was reckoned from: its entry, and what it read.
    pub(super) reckoned: Option<(Moment, u64, f64)>,
    /// Since the last anchor; none before the first filling.
    pub(super) open: Option<Open>,
    pub(super) lost_l: f64,
    /// Of that what no level has told yet.
    pub(super) supposed_l: f64,
    pub(super) lost_until: Option<Moment>,
    /// What the entries say of the course of the plants, in the order of their time.
    pub(super) told: Vec<(Moment, Course)>,
}

impl State {
    /// What could be drained right after the tank was last filled, L.
    #[must_use]
    pub fn fresh_l(&self) -> Option<f64> {
        self.fresh.map(|fresh| fresh.volume_l - fresh.held_back_l)
    }
}
