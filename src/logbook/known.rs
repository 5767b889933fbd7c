//! What the state of a tank tells, and how that is known.

use super::booking::is_renewed;
use super::meter::FRESH_DAYS;
use super::tank::{TRACKS, Tank, Track};
use super::{Moment, State};
use crate::matter::Nutrient;

/// A pH older than this many days tells no alkalinity: plants have moved it since. Own choice.
const PH_DAYS: f64 = 7.0;

/// A pH beyond these is a meter's slip more often than a tank's: own choice.
const FAR_OUT: (f64, f64) = (4.0, 9.0);
/// Carbon dioxide goes out of fresh water for about so long: a pH read sooner is not that in air. Own choice.
const AIRED_DAYS: f64 = 20.0 / 24.0;
/// Two readings that say the same are no further apart: own choice.
const AGREES: f64 = 0.5;

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

    /// The last EC read since most of the tank came in, and when.
    #[must_use]
    pub fn read_ec(&self) -> Option<(Moment, f64)> {
        self.ec.filter(|(at, _)| self.made_fresh().is_none_or(|from| *at >= from))
    }

    /// The pH of the content, where it was read within a week and since anything went in; draining changes none. One that is far
    /// out counts once a second reading says the same, and one of a fresh tank once that has aired.
    #[must_use]
    pub fn standing_ph(&self) -> Option<f64> {
        let counts = |(read, ph): &(Moment, f64)| !self.is_doubtful(*ph) && !self.is_before_air(*read);
        self.latest_ph().filter(counts).map(|(_, ph)| ph)
    }

    /// The pH of a fresh tank that was read while carbon dioxide still went out, and from when it is read again.
    #[must_use]
    pub fn unaired_ph(&self) -> Option<(f64, Moment)> {
        let (read, ph) = self.latest_ph()?;
        let from = self.made_fresh()?.plus_days(AIRED_DAYS);
        self.is_before_air(read).then_some((ph, from))
    }

    /// From when the pH of a fresh tank is read, where it was not read since that has aired.
    #[must_use]
    pub fn aired_unread(&self) -> Option<Moment> {
        let from = self.made_fresh()?.plus_days(AIRED_DAYS);
        self.ph.is_none_or(|(read, _)| read < from).then_some(from)
    }

    /// From when the pH is read again after what was last measured in, and the salts of that; nothing where it was read since.
    #[must_use]
    pub fn added_unread(&self) -> Option<(Moment, &[String])> {
        let (at, salts) = self.added.as_ref()?;
        let from = at.plus_days(AIRED_DAYS);
        // one that was read right after it is no reading of what it comes to in air
        self.ph.is_none_or(|(read, _)| read < from).then_some((from, salts))
    }

    /// The pH of the content where it is far out, and no second reading says the same.
    #[must_use]
    pub fn doubtful_ph(&self) -> Option<f64> {
        self.latest_ph().map(|(_, ph)| ph).filter(|ph| self.is_doubtful(*ph))
    }

    /// The pH of the content as it was read last, far out or not; that of a fresh tank once it has aired.
    #[must_use]
    pub fn ph_in_it(&self) -> Option<f64> {
        self.standing_ph().or(self.doubtful_ph())
    }

    fn latest_ph(&self) -> Option<(Moment, f64)> {
        self.ph.filter(|(read, _)| self.ph_stands && self.at.days_since(read) <= PH_DAYS)
    }

    /// What the meter is taken to show over what is predicted after so much is let out, and so much filled in, L: nothing is known of that in
    /// a tank that is renewed.
    #[must_use]
    pub fn meter_factor_after(&self, drained_l: f64, filled_l: f64) -> f64 {
        let held_l = self.tank.map_or(0.0, |tank| (tank.volume_l - drained_l).max(0.0));
        if is_renewed(held_l, held_l + filled_l) { 1.0 } else { self.meter_factor }
    }

    /// When most of the water in the tank came in: the filling, or a turn since.
    fn made_fresh(&self) -> Option<Moment> {
        self.turned.as_ref().map(|turned| turned.at).or(self.filled)
    }

    fn is_before_air(&self, read: Moment) -> bool {
        self.made_fresh().is_some_and(|from| read >= from && read.days_since(&from) < AIRED_DAYS)
    }

    /// The low figure of a nutrient, ppm, were the likely one true of the moment at which the tank was turned or filled, which is weighed
    /// by that: what the low course had taken before does not count.
    #[must_use]
    pub fn low_since_turned(&self, nutrient: Nutrient) -> Option<f64> {
        let ppm = |tank: Tank, track| tank.ppm_on(track).map(|ppm| ppm[nutrient]);
        let (low, likely) = (ppm(self.tank?, Track::Low)?, ppm(self.tank?, Track::Likely)?);
        let then = self.turned.as_ref().map(|turned| turned.tank).or(self.fresh)?;
        let (low_then, likely_then) = (ppm(then, Track::Low)?, ppm(then, Track::Likely)?);
        let share = if low_then < likely_then { likely_then / low_then } else { 1.0 };
        Some((low * share).min(low.max(likely)))
    }

    fn is_doubtful(&self, ph: f64) -> bool {
        let before = self.ph_before.filter(|(read, _)| self.at.days_since(read) <= PH_DAYS);
        (ph < FAR_OUT.0 || ph > FAR_OUT.1) && before.is_none_or(|(_, before)| (before - ph).abs() > AGREES)
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
