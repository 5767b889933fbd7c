//! A point in time as a logbook writes it: date, time and offset from UTC, all three stated.

use std::fmt;

use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;
use jiff::{SignedDuration, Timestamp};

use crate::quantity::Date;

/// A point in time with the offset of the place where it was noted.
///
/// Moments compare by the instant alone: 18:00+02:00 and 16:00Z are the same.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    at: Timestamp,
    offset: Offset,
}

const SECONDS_A_DAY: f64 = 86_400.0;

impl Moment {
    /// The moment of an instant, seen at an offset; fractions of a second are cut off.
    #[must_use]
    pub fn new(at: Timestamp, offset: Offset) -> Self {
        let whole = Timestamp::from_second(at.as_second()).unwrap_or(at);
        Self { at: whole, offset }
    }

    /// Reads RFC 3339 with an offset, `2026-10-03T18:30:00+02:00`; a space may stand for the `T`, and seconds may be left
    /// out.
    ///
    /// # Errors
    /// In words, what is missing or wrong.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::logbook::Moment;
    /// let moment = Moment::parse("2026-10-03 18:30+02:00")?;
    /// assert_eq!(moment.to_string(), "2026-10-03T18:30:00+02:00");
    /// assert!(Moment::parse("2026-10-03 18:30").is_err(), "no offset");
    /// # Ok::<(), String>(())
    /// ```
    ///
    /// Reference: RFC 3339.
    pub fn parse(text: &str) -> Result<Self, String> {
        let pieces = Pieces::parse(text).map_err(|_| format!("\"{text}\" is no date and time, as in {EXAMPLE}"))?;
        let time = pieces.time().ok_or_else(|| format!("\"{text}\" has no time of day, as in {EXAMPLE}"))?;
        let offset = pieces.to_numeric_offset().ok_or_else(|| format!("\"{text}\" has no offset, as in {EXAMPLE}"))?;
        let at = offset.to_timestamp(pieces.date().to_datetime(time)).map_err(|_| format!("\"{text}\" is out of range"))?;
        Ok(Self::new(at, offset))
    }

    /// Days from `earlier` to this one, negative when it is later: of 86 400 seconds each, whatever a clock was set to.
    #[must_use]
    pub fn days_since(&self, earlier: &Self) -> f64 {
        self.at.duration_since(earlier.at).as_secs_f64() / SECONDS_A_DAY
    }

    /// The moment `days` later, at the same offset; the last that can be written when that is beyond it.
    #[must_use]
    pub fn plus_days(&self, days: f64) -> Self {
        let span = SignedDuration::try_from_secs_f64(days * SECONDS_A_DAY).unwrap_or(SignedDuration::MAX);
        Self::new(self.at.checked_add(span).unwrap_or(Timestamp::MAX), self.offset)
    }

    /// The calendar day at this offset.
    #[must_use]
    pub fn date(&self) -> Date {
        Date::of(self.offset.to_datetime(self.at).date())
    }
}

/// How a moment is written, for messages.
const EXAMPLE: &str = "\"2026-10-03 18:30+02:00\"";

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.at.display_with_offset(self.offset))
    }
}

impl PartialEq for Moment {
    fn eq(&self, other: &Self) -> bool {
        self.at == other.at
    }
}

impl Eq for Moment {}

impl PartialOrd for Moment {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Moment {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.at.cmp(&other.at)
    }
}
