//! Days of the calendar and spans of whole days. The arithmetic is `jiff`'s.

use std::fmt;
use std::str::FromStr;

use jiff::SignedDuration;
use jiff::civil::{self, DateTime, ISOWeekDate};
use serde::{Serialize, Serializer};

/// Years taken: a four-digit slip outside them is refused, and no sum of bounded spans leaves the calendar.
const YEARS: std::ops::RangeInclusive<i16> = 1900..=2999;

/// A span of whole days; negative before the day it is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct WholeDays(pub i32);

impl fmt::Display for WholeDays {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.0, if self.0.abs() == 1 { "day" } else { "days" })
    }
}

/// A day of the week. It prints as `Mon`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weekday(civil::Weekday);

impl Weekday {
    /// The names that are taken, Monday first.
    pub const NAMES: [&'static str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];

    /// The day that one of [`Weekday::NAMES`] stands for; `None` for any other text.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::quantity::{Date, Weekday};
    /// assert_eq!(Weekday::parse("Mon"), Some(Date::parse("2027-01-04")?.weekday()));
    /// assert_eq!(Weekday::parse("Monday"), None);
    /// # Ok::<(), bloomsalt::quantity::DateError>(())
    /// ```
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        let at = Self::NAMES.iter().position(|other| *other == name)?;
        civil::Weekday::from_monday_zero_offset(i8::try_from(at).ok()?).ok().map(Self)
    }
}

impl fmt::Display for Weekday {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let at = usize::try_from(self.0.to_monday_zero_offset()).unwrap_or(0);
        f.write_str(Self::NAMES[at])
    }
}

/// A day of the calendar. It prints as 2027-01-04 and is the same text in JSON.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date(civil::Date);

impl Date {
    /// The day written as `2027-01-04`, a year from 1900 to 2999.
    ///
    /// # Errors
    /// [`DateError`] for any other form, and for a day that the calendar does not have.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::quantity::Date;
    /// assert_eq!(Date::parse("2028-02-28")?.plus(2).to_string(), "2028-03-01");
    /// assert!(Date::parse("2027-02-29").is_err() && Date::parse("4 Jan 2027").is_err());
    /// # Ok::<(), bloomsalt::quantity::DateError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, DateError> {
        let wrong = |why| DateError { read: text.to_owned(), why };
        let [year, month, day] = numbers(text, [4, 2, 2]).ok_or_else(|| wrong(WrongDate::Form))?;
        if !YEARS.contains(&year) {
            return Err(wrong(WrongDate::Year));
        }
        let small = |number: i16| i8::try_from(number).unwrap_or(0);
        civil::Date::new(year, small(month), small(day)).map(Self).map_err(|_| wrong(WrongDate::NoSuchDay))
    }

    /// A day of the calendar as `jiff` has it.
    pub(crate) fn of(day: civil::Date) -> Self {
        Self(day)
    }

    /// The first day of a week: the Monday of `2027-W10` (ISO 8601), or the day itself for `2027-03-08`.
    ///
    /// # Errors
    /// As [`Date::parse`].
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::quantity::Date;
    /// assert_eq!(Date::parse_week("2027-W10")?, Date::parse("2027-03-08")?);
    /// # Ok::<(), bloomsalt::quantity::DateError>(())
    /// ```
    pub fn parse_week(text: &str) -> Result<Self, DateError> {
        let Some((year, week)) = text.split_once("-W") else { return Self::parse(text) };
        let wrong = |why| DateError { read: text.to_owned(), why };
        let [year, week] = numbers(&format!("{year}-{week}"), [4, 2]).ok_or_else(|| wrong(WrongDate::Form))?;
        if !YEARS.contains(&year) {
            return Err(wrong(WrongDate::Year));
        }
        let week = i8::try_from(week).unwrap_or(0);
        let monday = ISOWeekDate::new(year, week, civil::Weekday::Monday).map_err(|_| wrong(WrongDate::NoSuchDay))?;
        Ok(Self(monday.date()))
    }

    /// The day `days` days later; earlier when negative.
    #[must_use]
    pub fn plus(self, days: i32) -> Self {
        // a sum of bounded spans stays inside the calendar; the end of it is no reason to panic
        Self(self.0.saturating_add(SignedDuration::from_hours(24 * i64::from(days))))
    }

    /// Days from `earlier` to this day; negative when it is the later one.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::quantity::Date;
    /// assert_eq!(Date::parse("2029-01-01")?.days_since(Date::parse("2028-01-01")?), 366);
    /// # Ok::<(), bloomsalt::quantity::DateError>(())
    /// ```
    #[must_use]
    pub fn days_since(self, earlier: Self) -> i32 {
        i32::try_from(self.0.duration_since(earlier.0).as_hours() / 24).unwrap_or(i32::MAX)
    }

    /// The day of the week that it is.
    #[must_use]
    pub fn weekday(self) -> Weekday {
        Weekday(self.0.weekday())
    }

    /// The day as growers write it: `Mon 4 Jan 2027`.
    #[must_use]
    pub fn long(self) -> String {
        self.0.strftime("%a %-d %b %Y").to_string()
    }

    /// The day without separators, as calendar files write it: `20270104`.
    #[must_use]
    pub fn compact(self) -> String {
        self.0.strftime("%Y%m%d").to_string()
    }
}

impl FromStr for Date {
    type Err = DateError;
    fn from_str(text: &str) -> Result<Self, DateError> {
        Self::parse(text)
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl Serialize for Date {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Date {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Date".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "string", "format": "date" })
    }
}

/// A moment in UTC, to the second, as calendar files stamp it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stamp(DateTime);

impl Stamp {
    /// The moment in UTC.
    #[must_use]
    pub fn new(utc: DateTime) -> Self {
        Self(utc)
    }

    /// The first second of a day in UTC.
    #[must_use]
    pub fn midnight(day: Date) -> Self {
        Self(day.0.to_datetime(civil::Time::midnight()))
    }

    /// The moment as calendar files write it: `20261125T083000Z`.
    #[must_use]
    pub fn compact(self) -> String {
        self.0.strftime("%Y%m%dT%H%M%SZ").to_string()
    }
}

/// Why a text is no day.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct DateError {
    /// What stood there.
    pub read: String,
    /// What is wrong with it.
    pub why: WrongDate,
}

/// What is wrong with a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum WrongDate {
    /// Not written as a day is written here.
    Form,
    /// A year that is not taken.
    Year,
    /// The calendar does not have it.
    NoSuchDay,
}

impl fmt::Display for DateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.why {
            WrongDate::Form => write!(f, "write a day as in 2027-01-04: year, month, day"),
            WrongDate::Year => write!(f, "the year is out of range; it takes {} to {}", YEARS.start(), YEARS.end()),
            WrongDate::NoSuchDay => write!(f, "the calendar has no such day"),
        }
    }
}

impl std::error::Error for DateError {}

/// The numbers of a text such as `2027-01-04`, each of exactly so many digits.
fn numbers<const N: usize>(text: &str, digits: [usize; N]) -> Option<[i16; N]> {
    let parts: Vec<&str> = text.split('-').collect();
    let fits = parts.len() == N && parts.iter().zip(digits).all(|(part, digits)| part.len() == digits);
    let mut numbers = [0; N];
    for (number, part) in numbers.iter_mut().zip(&parts) {
        *number = part.bytes().all(|b| b.is_ascii_digit()).then(|| part.parse().ok())??;
    }
    fits.then_some(numbers)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Date {
        Date::parse(text).unwrap()
    }

    #[test]
    fn days_run_over_leap_days_and_year_ends() {
        for (from, days, to) in [
            ("2028-02-28", 1, "2028-02-29"),
            ("2028-02-29", 1, "2028-03-01"),
            ("2027-02-28", 1, "2027-03-01"),
            ("2000-02-28", 1, "2000-02-29"),
            ("2100-02-28", 1, "2100-03-01"),
            ("2027-12-31", 1, "2028-01-01"),
            ("2028-01-01", -1, "2027-12-31"),
            ("2028-01-01", 366, "2029-01-01"),
            ("2027-01-04", 0, "2027-01-04"),
        ] {
            assert_eq!(day(from).plus(days), day(to), "{from} {days}");
            assert_eq!(day(to).days_since(day(from)), days, "{from} {to}");
        }
        assert_eq!(day("2999-12-31").plus(i32::MAX).plus(i32::MIN).days_since(day("1900-01-01")).signum(), -1);
    }

    /// ISO 8601: week 1 holds the first Thursday, so it may begin in the year before; some years have a week 53.
    #[test]
    fn weeks_begin_on_monday() {
        for (week, monday) in [("2027-W01", "2027-01-04"), ("2026-W01", "2025-12-29"), ("2026-W53", "2026-12-28")] {
            assert_eq!(Date::parse_week(week), Ok(day(monday)), "{week}");
        }
        assert_eq!(Date::parse_week("2027-W53").unwrap_err().why, WrongDate::NoSuchDay);
    }

    #[test]
    fn other_forms_are_refused_with_a_reason() {
        for text in
            ["", "2027", "2027-1-4", "20270104", "2027-01-04T00:00", "04-01-2027", "-027-01-04", "2027-01-0x", "+027-01-04"]
        {
            assert_eq!(Date::parse(text).unwrap_err().why, WrongDate::Form, "{text}");
        }
        for text in ["2027-02-29", "2027-13-01", "2027-00-10", "2027-04-31"] {
            assert_eq!(Date::parse(text).unwrap_err().why, WrongDate::NoSuchDay, "{text}");
        }
        assert_eq!(Date::parse("0207-01-04").unwrap_err().to_string(), "the year is out of range; it takes 1900 to 2999");
        assert_eq!(Date::parse_week("2027-W1").unwrap_err().why, WrongDate::Form);
    }

    #[test]
    fn days_print_in_three_ways() {
        let day = day("2027-01-04");
        assert_eq!(
            (day.to_string(), day.long(), day.compact()),
            ("2027-01-04".into(), "Mon 4 Jan 2027".into(), "20270104".into())
        );
        assert_eq!(Stamp::midnight(day).compact(), "20270104T000000Z");
        assert_eq!((WholeDays(1).to_string(), WholeDays(-3).to_string()), ("1 day".into(), "-3 days".into()));
    }
}
