//! How long a fresh tank is fed before it is renewed, as a record.

use serde::Serialize;

use crate::quantity::{fixed, ppm_text};

/// Where the days of a renewal come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum RenewalFrom {
    /// The logbook's estimate of how fast the tank runs down.
    Logbook,
    /// `renew_every` of the bench file.
    Fixed,
}

/// What a tank has run down to when it is to be renewed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum RenewalEnd {
    /// Nitrogen is about to fall under half of the formula's target.
    NitrogenFloor,
    /// EC is about to fall under the least that the formula allows.
    EcMin,
    /// EC is about to rise over the most that the formula allows.
    EcMax,
}

impl RenewalEnd {
    /// That limit passed, in words.
    ///
    /// * `limit`: where it stands, ppm of nitrogen or mS/cm
    #[must_use]
    pub fn words(self, limit: f64) -> String {
        match self {
            Self::NitrogenFloor => format!("N is under its floor of {} ppm", ppm_text(limit)),
            Self::EcMin => format!("EC is under {} mS/cm", fixed(limit, 2)),
            Self::EcMax => format!("EC is over {} mS/cm", fixed(limit, 2)),
        }
    }
}

/// How long a fresh tank is fed before it is renewed.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Renewal {
    /// Whole days, at least 1 and never more than `fixed_days`.
    pub days: i32,
    /// Where they come from: `fixed` where the logbook would allow as many or more.
    pub from: RenewalFrom,
    /// `renew_every` of the bench file: the longest interval.
    pub fixed_days: i32,
    /// Whole days for which a fresh tank stays within its limits by the logbook and the likely pattern of uptake, an estimate; 0
    /// for less than one. Null without a logbook, where its readings do not tell, and where no limit is passed within the days
    /// that are looked at.
    pub logbook_days: Option<i32>,
    /// The same by the pattern that warnings go by: as early as it may be. Told beside; nothing is planned by it.
    pub low_days: Option<i32>,
    /// The limit that is passed on the day after those; null with `low_days`.
    pub low_ends_by: Option<RenewalEnd>,
    /// Where that limit stands, ppm of nitrogen or mS/cm.
    pub low_limit: Option<f64>,
    /// The limit that is passed on the day after; null with `logbook_days`.
    pub ends_by: Option<RenewalEnd>,
    /// Where that limit stands, ppm of nitrogen or mS/cm.
    pub limit: Option<f64>,
    /// The readings and analyses behind it; null without a logbook and where they do not tell.
    pub learnt: Option<LearntRecord>,
}

/// The filling whose readings tell how fast the tank runs down.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct LearntRecord {
    /// The formula that the tank was filled to; where it is not that of the phase, its uptake is carried over.
    pub formula: Option<String>,
    /// When it was filled, RFC 3339 with offset.
    pub filled: String,
    /// What was filled in, L.
    pub volume_l: f64,
    /// From when on uptake counts: the first reading, else the filling.
    pub read_from: String,
    /// The last reading or analysis.
    pub read_to: String,
    /// The EC read then, mS/cm.
    pub ec_ms_cm: Option<f64>,
    /// What the meter shows over what is predicted.
    pub meter_factor: f64,
    /// Water lost to leaves and air, L a day; null where levels do not tell it.
    pub litres_per_day: Option<f64>,
}
