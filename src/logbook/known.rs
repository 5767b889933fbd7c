//! What the state of a tank tells, and how that is known.

use super::meter::FRESH_DAYS;
use super::tank::{TRACKS, Track};
use super::{Moment, State};
use crate::matter::Nutrient;

/// A pH older than this many days tells no alkalinity: plants have moved it since. Own choice.
const PH_DAYS: f64 = 7.0;

/// How a concentration is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// A laboratory found it, and nothing was taken up since as far as is known.
    Measured,
    /// What went in less what was drained: no reading tells what plants took.
    Bookkeeping,
    /// Reckoned by the model of uptake.
    Estimate,
}

impl State {
    /// Low, likely and high concentration of a nutrient, ppm: the least, the middle and the most of the three tracks.
    #[must_use]
    pub fn range_ppm(&self, nutrient: Nutrient) -> Option<(f64, f64, f64)> {
        let tank = self.tank?;
        let mut all = [0.0; 3];
        for track in TRACKS {
            all[track as usize] = tank.ppm_on(track)?[nutrient];
        }
        let likely = all[Track::Likely as usize];
        Some((all.iter().copied().fold(likely, f64::min), likely, all.iter().copied().fold(likely, f64::max)))
    }

    /// The last pH read since the tank was filled, and when: what came after may have changed it.
    #[must_use]
    pub fn read_ph(&self) -> Option<(Moment, f64)> {
        self.ph.filter(|(at, _)| self.filled.is_none_or(|filled| *at >= filled))
    }

    /// The pH of the content, where it was read within a week and since anything went in; draining changes none.
    #[must_use]
    pub fn standing_ph(&self) -> Option<f64> {
        self.ph.filter(|(read, _)| self.ph_stands && self.at.days_since(read) <= PH_DAYS).map(|(_, ph)| ph)
    }

    /// How the concentration of a nutrient is known.
    #[must_use]
    pub fn basis(&self, nutrient: Nutrient) -> Basis {
        let analysed = self.analysed[nutrient as usize];
        let modelled = self.intervals.last().map(|interval| interval.until);
        match (analysed, modelled) {
            (Some(analysed), None) if self.at.days_since(&analysed) <= FRESH_DAYS => Basis::Measured,
            (Some(analysed), Some(until)) if until <= analysed && self.at.days_since(&analysed) <= FRESH_DAYS => {
                Basis::Measured
            }
            (_, Some(_)) => Basis::Estimate,
            (_, None) => Basis::Bookkeeping,
        }
    }
}
