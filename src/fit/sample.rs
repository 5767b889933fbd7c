//! Small problems, and numbers that never change, for the tests beside the code.

use super::{Column, Problem, Want};
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::Limits;

/// A column without end, by the ppm that 1 g/L of it brings.
pub(super) fn column(brings: &[(Nutrient, f64)]) -> Column {
    let mut ppm_per_g_per_l = Nutrients::default();
    for (nutrient, ppm) in brings {
        ppm_per_g_per_l[*nutrient] = *ppm;
    }
    Column { ppm_per_g_per_l, most_g_per_l: None, cost_per_g: 1.0 }
}

/// A target without limits.
pub(super) fn target(nutrient: Nutrient, ppm: f64) -> Want {
    Want { nutrient, target_ppm: Some(ppm), min_ppm: None, max_ppm: None, weight: 1.0 }
}

/// Columns in pure water.
pub(super) fn problem(columns: Vec<Column>, wants: Vec<Want>) -> Problem<'static> {
    Problem {
        columns,
        water_ppm: Nutrients::default(),
        wants,
        ammonium_share: Limits::default(),
        ec: None,
        ph: None,
        sparing: Vec::new(),
        waters: Vec::new(),
        near: None,
    }
}

/// Numbers that never change: splitmix64 (Steele, Lea and Flood 2014; public domain algorithm).
pub(super) struct Numbers(pub(super) u64);

impl Numbers {
    #[allow(clippy::cast_precision_loss, reason = "53 bits fit")]
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        low + (high - low) * ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "small counts")]
    pub(super) fn below(&mut self, count: usize) -> usize {
        self.between(0.0, count as f64) as usize
    }

    pub(super) fn chance(&mut self, share: f64) -> bool {
        self.between(0.0, 1.0) < share
    }
}
