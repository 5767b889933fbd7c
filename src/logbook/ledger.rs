//! The ledger of uptake: intervals from one anchor to the next, and what becomes of a content inside of one.
//!
//! An anchor is a filling, an EC reading or an analysis: a moment at which the content is told. Between two of them uptake
//! runs evenly, and what went in or out does so at its own moment.

use super::Moment;
use super::found::Found;
use super::tank::{TRACKS, Track};
use super::uptake::{Patterns, by_form};
use crate::matter::{Nutrient, Nutrients};

/// Days of intervals that must be told together to tell a pace from them. Own choice.
const SHORTEST_DAYS: f64 = 0.5;

/// From one anchor to the next, and how much plants took up in between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// When it began: a filling, a reading or an analysis.
    pub from: Moment,
    /// The reading or analysis that ends it.
    pub until: Moment,
    /// Size of the uptake by [`TRACKS`]; a reading that takes back what an earlier one told too much makes it negative, in all
    /// it never is.
    pub uptake: [f64; 3],
}

/// Sum of the uptake of intervals, by [`TRACKS`].
pub(super) fn uptake(intervals: &[Interval]) -> [f64; 3] {
    TRACKS.map(|track| intervals.iter().map(|interval| interval.uptake[track as usize]).sum())
}

/// Uptake a day, by [`TRACKS`]: the sum of uptake over the sum of days, whatever anchors lie between; none where they are
/// too short to tell.
pub(super) fn pace(intervals: &[Interval]) -> Option<[f64; 3]> {
    let days: f64 = intervals.iter().map(|interval| interval.until.days_since(&interval.from)).sum();
    (days >= SHORTEST_DAYS).then(|| uptake(intervals).map(|uptake| uptake.max(0.0) / days))
}

/// What happens inside of an interval.
#[derive(Debug, Clone)]
enum What {
    /// A share of everything stays, and something comes in, mg.
    Moved { kept: f64, brought_mg: Nutrients },
    /// A laboratory found some of it.
    Found(Found),
}

/// The interval that no anchor has ended yet.
#[derive(Debug, Clone)]
pub(super) struct Open {
    pub(super) from: Moment,
    /// What went in less what was drained, nothing taken up, as it began, mg.
    booked_mg: Nutrients,
    /// What was left on each track as it began, mg.
    left_mg: [Nutrients; 3],
    happened: Vec<(Moment, What)>,
}

impl Open {
    pub(super) fn new(from: Moment, booked_mg: Nutrients, left_mg: &[Nutrients; 3]) -> Self {
        Self { from, booked_mg, left_mg: *left_mg, happened: Vec::new() }
    }

    /// A share of everything stays, and something comes in, mg.
    pub(super) fn moved(&mut self, at: Moment, kept: f64, brought_mg: &Nutrients) {
        self.happened.push((at, What::Moved { kept, brought_mg: *brought_mg }));
    }

    /// Whatever was reckoned, from here on every track holds what was found of it.
    pub(super) fn found(&mut self, at: Moment, found: Found) {
        self.happened.push((at, What::Found(found)));
    }

    /// What is left of a track, mg, when an uptake of that size runs evenly from the beginning to `until`.
    ///
    /// One under 0 gives back, though of nothing more than went in.
    pub(super) fn left_mg(&self, track: Track, until: Moment, uptake: f64, patterns: &Patterns) -> Nutrients {
        let days = until.days_since(&self.from);
        let (mut booked, mut left) = (self.booked_mg, self.left_mg[track as usize]);
        let (mut at, mut rest) = (self.from, uptake);
        for (then, what) in &self.happened {
            let part = if days > 0.0 { uptake * then.days_since(&at) / days } else { 0.0 };
            left = taken(&left, &booked, part, track, patterns);
            (at, rest) = (*then, rest - part);
            match what {
                What::Moved { kept, brought_mg } => {
                    booked = moved(&booked, *kept, brought_mg);
                    left = moved(&left, *kept, brought_mg);
                }
                What::Found(found) => left = found.in_place(track, &left),
            }
        }
        taken(&left, &booked, rest, track, patterns)
    }

    /// The same of every track, for an uptake of each.
    pub(super) fn all_left_mg(&self, until: Moment, uptake: [f64; 3], patterns: &Patterns) -> [Nutrients; 3] {
        TRACKS.map(|track| self.left_mg(track, until, uptake[track as usize], patterns))
    }
}

fn moved(mg: &Nutrients, kept: f64, brought_mg: &Nutrients) -> Nutrients {
    let mut sum = mg.scaled(kept);
    sum.add(brought_mg, 1.0);
    sum
}

fn taken(left: &Nutrients, booked: &Nutrients, uptake: f64, track: Track, patterns: &Patterns) -> Nutrients {
    if uptake >= 0.0 {
        return patterns.left(track, left, uptake);
    }
    by_form(left, |nutrient, mg| {
        let most = if nutrient == Nutrient::N { booked.unsplit_nitrogen() } else { booked[nutrient] };
        (mg * libm::exp(-uptake * patterns.speed(track, nutrient))).min(most.max(mg))
    })
}
