//! A range that an input is taken in, and why one is refused.

use std::fmt;

use super::units::{CONDUCTIVITY, takes};

/// What an input may be: a closed range in a stated unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// What is limited, as a message says it.
    pub what: &'static str,
    /// The smallest value taken, in `unit`.
    pub low: f64,
    /// The largest value taken, in `unit`.
    pub high: f64,
    /// The unit of `low` and `high`; empty for a plain number.
    pub unit: &'static str,
}

impl Bound {
    /// The value itself when it lies in the range.
    ///
    /// # Errors
    /// [`QuantityError::OutOfRange`] beyond the range, [`QuantityError::NotANumber`] for NaN and infinities.
    pub fn check(&self, value: f64) -> Result<f64, QuantityError> {
        if !value.is_finite() {
            Err(QuantityError::NotANumber { read: value.to_string() })
        } else if (self.low..=self.high).contains(&value) {
            Ok(value)
        } else {
            Err(QuantityError::OutOfRange { bound: *self, value })
        }
    }

    /// The range in words: `0.1 to 100000 L`.
    #[must_use]
    pub fn allowed(&self) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        format!("{} to {}{unit}", self.low, self.high)
    }
}

/// Why a text is not the quantity that was asked for.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum QuantityError {
    /// No finite decimal number where one belongs.
    NotANumber {
        /// What stood there.
        read: String,
    },
    /// A bare number where a unit is needed.
    MissingUnit {
        /// The units taken.
        takes: String,
    },
    /// A unit of another kind, or one that is not known.
    UnknownUnit {
        /// What stood there.
        read: String,
        /// The units taken.
        takes: String,
        /// The unit that looks most like it.
        suggestion: Option<String>,
    },
    /// A conductivity as a meter with a scale of dissolved solids shows it, and the scale is not known.
    ScaleUnknown,
    /// A part of a day where whole days are counted.
    NotWhole {
        /// The days that stood there.
        days: f64,
    },
    /// A number beyond the range taken.
    OutOfRange {
        /// The range.
        bound: Bound,
        /// The value, in the bound's unit.
        value: f64,
    },
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotANumber { read } if read.contains(',') => {
                write!(f, "`{read}` is not a number; write the decimals after a point, as in 1.5")
            }
            Self::NotANumber { read } => write!(f, "`{read}` is not a number"),
            Self::MissingUnit { takes } => write!(f, "the unit is missing; it takes {takes}"),
            Self::UnknownUnit { read, takes, .. } => write!(f, "`{read}` is not a unit for this; it takes {takes}"),
            Self::ScaleUnknown => write!(
                f,
                "ppm of a meter is an EC only by the scale of that meter: give the bench file that is used `[meter]` with `scale = 500` (or 640 or \
                 700, as the meter or its manual says), or state it in mS/cm"
            ),
            Self::NotWhole { days } => write!(f, "it counts whole days, and {days} is none"),
            Self::OutOfRange { bound, value } => {
                let unit = if bound.unit.is_empty() { String::new() } else { format!(" {}", bound.unit) };
                // twelve digits: no noise of the arithmetic, and never the bound itself
                let value: f64 = format!("{value:.11e}").parse().unwrap_or(*value);
                write!(f, "{value}{unit} is out of range; the {} takes {}", bound.what, bound.allowed())
            }
        }
    }
}

impl QuantityError {
    /// What is taken in its place.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::NotANumber { .. } => "a decimal number".to_owned(),
            Self::MissingUnit { takes } | Self::UnknownUnit { takes, .. } => format!("a number with {takes}"),
            Self::ScaleUnknown => format!("a number with {}", takes(CONDUCTIVITY)),
            Self::NotWhole { .. } => "whole days".to_owned(),
            Self::OutOfRange { bound, .. } => bound.allowed(),
        }
    }

    /// The word that was probably meant, where one looks like it.
    #[must_use]
    pub fn suggestion(&self) -> Option<&str> {
        match self {
            Self::UnknownUnit { suggestion, .. } => suggestion.as_deref(),
            _ => None,
        }
    }
}

impl std::error::Error for QuantityError {}
