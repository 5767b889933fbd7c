//! EC along its tangent.

use crate::bench::Formula;
use crate::fit::Conducts;
use crate::tank::chemistry::Mixture;

/// EC by its tangent at the exact mix: an explanation solves dozens of times, and each speciation of a solution that is
/// only supposed would cost more than the fit.
pub(crate) struct EcTangent {
    at_zero: f64,
    slope: Vec<f64>,
}

impl EcTangent {
    /// At amounts `x` per litre; flat where the formula states no limit of EC.
    pub(crate) fn new(mixture: &Mixture, formula: &Formula, x: &[f64]) -> Self {
        if formula.ec.min.is_none() && formula.ec.max.is_none() {
            return Self { at_zero: 0.0, slope: vec![0.0; x.len()] };
        }
        let slope = mixture.ec_slope(x);
        let of_salts: f64 = slope.iter().zip(x).map(|(slope, x)| slope * x).sum();
        Self { at_zero: mixture.ec(x) - of_salts, slope }
    }
}

impl Conducts for EcTangent {
    fn ec_ms_per_cm(&self, g_per_l: &[f64]) -> f64 {
        self.at_zero + self.slope.iter().zip(g_per_l).map(|(slope, x)| slope * x).sum::<f64>()
    }

    fn slope_ms_per_cm(&self, _: &[f64]) -> Vec<f64> {
        self.slope.clone()
    }

    fn is_straight(&self) -> bool {
        true
    }
}
