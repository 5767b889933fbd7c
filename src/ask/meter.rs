//! The scale of a meter that is asked for.

use serde::{Deserialize, Serialize};

use crate::quantity::{METER_SCALES, MeterScale};

/// The factor of a meter that shows a dissolved-solids scale, ppm per uS/cm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum MeterFactor {
    /// Sodium chloride.
    #[serde(rename = "0.5")]
    Half,
    /// Irrigation water.
    #[serde(rename = "0.64")]
    Irrigation,
    /// Sulfate, bicarbonate and chloride 40:40:20.
    #[serde(rename = "0.7")]
    Mixture,
}

impl MeterFactor {
    /// The scale of it.
    pub(super) fn scale(self) -> MeterScale {
        METER_SCALES[self as usize]
    }
}
