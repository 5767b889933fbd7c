//! A run of days.

use serde::Serialize;

use crate::quantity::Date;

/// A run of days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Window {
    /// The first day.
    pub from: Date,
    /// The last day.
    pub to: Date,
    /// How many days, both ends counted.
    pub days: i32,
}

impl Window {
    /// The days from `from` to `to`, both counted; `None` when there is none.
    #[must_use]
    pub fn new(from: Date, to: Date) -> Option<Self> {
        let days = to.days_since(from) + 1;
        (days > 0).then_some(Self { from, to, days })
    }

    /// The days that both have.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::{jobs::Window, quantity::Date};
    /// let days = |from, to| Window::new(Date::parse(from).ok()?, Date::parse(to).ok()?);
    /// let (a, b) = (days("2027-12-20", "2027-12-31").unwrap(), days("2027-12-30", "2028-01-10").unwrap());
    /// assert_eq!(a.shared(b).map(|both| both.days), Some(2));
    /// ```
    #[must_use]
    pub fn shared(self, other: Self) -> Option<Self> {
        Self::new(self.from.max(other.from), self.to.min(other.to))
    }

    /// True for a day of them.
    pub(crate) fn holds(self, day: Date) -> bool {
        self.from <= day && day <= self.to
    }

    /// The same days, `days` later.
    #[must_use]
    pub fn moved(self, days: i32) -> Self {
        Self { from: self.from.plus(days), to: self.to.plus(days), ..self }
    }
}
