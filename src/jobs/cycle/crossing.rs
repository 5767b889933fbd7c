//! Crosses and the best start, as `--json` prints them.

use serde::Serialize;

use super::window::Window;
use crate::quantity::Date;

/// What is done for the crosses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum CrossingWork {
    /// The cycle of a group begins.
    Start,
    /// Pollen is collected, for use on the day or to be put by.
    Collect,
    /// Pollen is kept dry: from the first day whose pollen is still good on the last day of its use, to that day.
    Keep,
    /// Fresh pollen goes on stigmas.
    CrossFresh,
    /// Dry pollen goes on stigmas, when no more is shed.
    CrossDry,
    /// Seed is ripe.
    Harvest,
}

/// One line of the list of crosses.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct CrossingStep {
    /// Its days.
    #[serde(flatten)]
    pub days: Window,
    /// What is done.
    pub work: CrossingWork,
    /// Id of the group that gives the pollen; null for a start.
    pub pollen_of: Option<String>,
    /// Id of the group that bears the seed, or that starts; null where pollen is collected or kept.
    pub stigma_of: Option<String>,
}

/// What groups meet, over all ordered pairs: pollen of one on stigmas of another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Meets {
    /// Pairs that meet with fresh pollen.
    pub fresh_pairs: i32,
    /// Pairs that meet, dry pollen counted in.
    pub pairs: i32,
    /// Days on which they do, added up over the pairs.
    pub days: i32,
}

impl std::ops::Add for Meets {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            fresh_pairs: self.fresh_pairs + other.fresh_pairs,
            pairs: self.pairs + other.pairs,
            days: self.days + other.days,
        }
    }
}

/// How far the search for the best start went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub enum StartsProof {
    /// No choice of starts is better.
    #[serde(rename = "best")]
    Best,
    /// The best that was found: with many starts not every choice is looked at.
    #[serde(rename = "best found")]
    BestFound,
}

/// The start of a group by the best choice.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct GroupStart {
    /// Its id.
    pub group: String,
    /// The first day of its cycle.
    pub starts_on: Date,
    /// Days by which that is later than planned; negative for earlier.
    pub shift_days: i32,
    /// The `starts_after` that does it, days after the start of the tank of the bench, or after the first start where no group is on that.
    pub starts_after_days: i32,
    /// True for a group on the tank of the bench that would need another.
    pub needs_own_tank: bool,
}

/// One choice of starts for all groups: the most pairs that meet fresh, then the most that meet, then the most days, then the
/// least moved.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BestStart {
    /// Every group, in the order of the bench file.
    pub starts: Vec<GroupStart>,
    /// Ordered pairs of groups in all.
    pub pairs: usize,
    /// What they meet as planned.
    pub planned: Meets,
    /// What they meet by this choice.
    pub best: Meets,
    /// Whether every choice was looked at.
    pub proof: StartsProof,
}
