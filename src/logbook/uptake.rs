//! How fast plants take each nutrient, as a table that anyone may replace.

use std::fmt;

use serde::Deserialize;

use super::tank::Track;
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::UPTAKE;

/// The table that the program carries, `salts/uptake.toml`.
pub const STANDARD_UPTAKE: &str = include_str!("../../salts/uptake.toml");

/// Relative speeds of uptake of one nutrient; only ratios between nutrients matter.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UptakeRow {
    /// Its symbol.
    pub nutrient: String,
    /// In the likely pattern.
    pub likely: f64,
    /// In the pattern that leaves the least nitrogen.
    pub low: f64,
    /// In the pattern that leaves the most nitrogen.
    pub high: f64,
    /// Source id.
    pub source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    uptake: Vec<UptakeRow>,
}

/// The three patterns.
#[derive(Debug, Clone, PartialEq)]
pub struct Patterns {
    rows: Vec<UptakeRow>,
}

/// Why a table of uptake is refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UptakeError {
    /// In words: the row, what it got and what it takes.
    pub words: String,
}

impl fmt::Display for UptakeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.words)
    }
}

impl std::error::Error for UptakeError {}

impl Patterns {
    /// Reads a table laid out as `salts/uptake.toml`: one row for each nutrient, speeds of 0 or more.
    ///
    /// # Errors
    /// [`UptakeError`] for text that is not such a table, a nutrient that is unknown, missing or there twice, a speed out
    /// of range, and a pattern that takes nothing.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::logbook::{Patterns, STANDARD_UPTAKE, Track};
    /// use bloomsalt::matter::Nutrient;
    /// let patterns = Patterns::parse(STANDARD_UPTAKE)?;
    /// assert_eq!(patterns.speed(Track::Low, Nutrient::NitrateN), 1.0);
    /// # Ok::<(), bloomsalt::logbook::UptakeError>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self, UptakeError> {
        let wrong = |words: String| UptakeError { words };
        let File { uptake: rows } = toml::from_str(text).map_err(|error| wrong(error.to_string().trim().to_owned()))?;
        for row in &rows {
            let name = &row.nutrient;
            let known = Nutrient::parse(name).is_some();
            if !known {
                return Err(wrong(format!("`{name}` is no nutrient")));
            }
            if rows.iter().filter(|other| other.nutrient == *name).count() > 1 {
                return Err(wrong(format!("`{name}` has two rows")));
            }
            for (key, speed) in [("likely", row.likely), ("low", row.low), ("high", row.high)] {
                UPTAKE.check(speed).map_err(|error| wrong(format!("`{name}.{key}`: {error}")))?;
            }
        }
        if let Some(missing) = NUTRIENTS.into_iter().find(|n| !rows.iter().any(|row| row.nutrient == n.symbol())) {
            return Err(wrong(format!("`{missing}` has no row")));
        }
        for (key, sum) in [
            ("likely", rows.iter().map(|row| row.likely).sum::<f64>()),
            ("low", rows.iter().map(|row| row.low).sum()),
            ("high", rows.iter().map(|row| row.high).sum()),
        ] {
            if sum <= 0.0 {
                return Err(wrong(format!("the pattern `{key}` takes nothing")));
            }
        }
        Ok(Self { rows })
    }

    /// The table that the program carries.
    #[must_use]
    pub fn standard() -> Self {
        match Self::parse(STANDARD_UPTAKE) {
            Ok(patterns) => patterns,
            // part of the build, read by a test
            Err(error) => unreachable!("the embedded table of uptake is damaged: {error}"),
        }
    }

    /// Every row, in the order of the table.
    #[must_use]
    pub fn rows(&self) -> &[UptakeRow] {
        &self.rows
    }

    /// Relative speed of uptake of a nutrient; `N` stands for nitrogen whose form is not known.
    #[must_use]
    pub fn speed(&self, track: Track, nutrient: Nutrient) -> f64 {
        let row = self.rows.iter().find(|row| row.nutrient == nutrient.symbol());
        row.map_or(0.0, |row| match track {
            Track::Low => row.low,
            Track::Likely => row.likely,
            Track::High => row.high,
        })
    }

    /// What an uptake of size `uptake` leaves of an amount of every nutrient: of each, exp(-uptake · speed).
    #[must_use]
    pub fn left(&self, track: Track, amounts: &Nutrients, uptake: f64) -> Nutrients {
        by_form(amounts, |nutrient, amount| amount * libm::exp(-uptake * self.speed(track, nutrient)))
    }
}

/// Every nutrient changed on its own, nitrogen by its forms and what is not split; `N` is the sum again.
pub(super) fn by_form(amounts: &Nutrients, change: impl Fn(Nutrient, f64) -> f64) -> Nutrients {
    let mut changed = Nutrients::default();
    let mut nitrogen = change(Nutrient::N, amounts.unsplit_nitrogen());
    for nutrient in NUTRIENTS.into_iter().filter(|nutrient| *nutrient != Nutrient::N) {
        changed[nutrient] = change(nutrient, amounts[nutrient]);
        if nutrient.is_nitrogen_form() {
            nitrogen += changed[nutrient];
        }
    }
    changed[Nutrient::N] = nitrogen;
    changed
}
