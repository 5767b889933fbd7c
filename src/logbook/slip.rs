//! What does not fit in a logbook.

use super::MeterBy;

/// Something in the logbook that does not fit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Slip {
    /// Something was done to a tank that no entry fills.
    NotFilled {
        /// Number of the entry.
        entry: u64,
    },
    /// A level over what the entries explain.
    LevelHigher {
        /// Number of the entry.
        entry: u64,
        /// What was read, L.
        level_l: f64,
        /// What should be there at the most, L.
        booked_l: f64,
    },
    /// More was drained than there was.
    DrainedMore {
        /// Number of the entry.
        entry: u64,
        /// What was drained, L.
        volume_l: f64,
        /// What could be drained, L.
        booked_l: f64,
    },
    /// A reading that should tell how the meter reads is far from the prediction.
    MeterOff {
        /// What told the content.
        by: MeterBy,
        /// Number of the entry.
        entry: u64,
        /// What was read, mS/cm.
        ec_ms_cm: f64,
        /// What was predicted, mS/cm.
        predicted_ms_cm: f64,
    },
    /// An EC over what is there when plants take nothing.
    EcHigher {
        /// Number of the entry.
        entry: u64,
        /// What was read, mS/cm.
        ec_ms_cm: f64,
        /// What was predicted without any uptake since, mS/cm.
        predicted_ms_cm: f64,
    },
    /// An EC that no uptake explains.
    EcLower {
        /// Number of the entry.
        entry: u64,
        /// What was read, mS/cm.
        ec_ms_cm: f64,
    },
    /// The EC of the content could not be predicted.
    NotPredicted {
        /// Number of the entry.
        entry: u64,
    },
}

impl Slip {
    /// Number of the entry.
    #[must_use]
    pub fn entry(&self) -> u64 {
        match self {
            Self::NotFilled { entry }
            | Self::LevelHigher { entry, .. }
            | Self::DrainedMore { entry, .. }
            | Self::MeterOff { entry, .. }
            | Self::EcHigher { entry, .. }
            | Self::EcLower { entry, .. }
            | Self::NotPredicted { entry } => *entry,
        }
    }
}
