//! What the chemistry says of a tank as measured out.

use super::Saturation;
use super::made::Made;
use crate::jobs::error::JobError;
use crate::matter::Nutrients;
use crate::solution::{self, Acidity, Speciation};
use crate::tank::chemistry::{Mixture, Solution, ms_per_cm, slips, volume_deviation};

/// A tank as measured out, reckoned.
pub(super) struct Reckoned<'a> {
    pub(super) mixture: Mixture<'a>,
    /// Amounts per litre, in the unit of each part.
    pub(super) weighed: Vec<f64>,
    pub(super) ppm: Nutrients,
    /// What the exact amounts would give, ppm.
    pub(super) ppm_exact: Nutrients,
    /// Give or take of `ppm` (k = 2).
    pub(super) plus_minus: Nutrients,
    /// Right after mixing, and after days in air.
    pub(super) fresh: Solution,
    pub(super) aired: Speciation,
    /// EC at 25 C with its give or take (k = 2), mS/cm.
    pub(super) ec: f64,
    pub(super) ec_plus_minus: f64,
    /// pH with its ends; `None` where it is not known.
    pub(super) acidity: Option<Acidity>,
    /// Alkalinity with its give or take (k = 2), meq/L; `None` likewise.
    pub(super) alkalinity: Option<(f64, f64)>,
    pub(super) saturation: Vec<Saturation>,
}

impl<'a> Reckoned<'a> {
    pub(super) fn of(made: &Made<'a>) -> Result<Self, JobError> {
        let litres = made.tank.litres();
        let mixture = Mixture::new(made.tank, made.parts);
        let per_litre = |of: &dyn Fn(&crate::tank::instrument::Measured) -> f64| -> Vec<f64> {
            made.measured.iter().map(|measured| of(measured) / litres).collect()
        };
        let (weighed, deviations) = (per_litre(&|measured| measured.amount), per_litre(&|measured| measured.deviation));
        let (slips, volume) = (slips(made.parts, &weighed, &deviations), volume_deviation(made.tank));
        let fresh = mixture.solution(&weighed)?;
        let aired = mixture.aired(&weighed)?;
        let acidity = mixture.acidity(&weighed, &fresh.fresh, &aired, &slips, volume)?;
        Ok(Self {
            alkalinity: mixture.alkalinity(&weighed, &slips, volume),
            ppm: mixture.ppm(&weighed),
            ppm_exact: mixture.ppm(made.exact_per_l),
            plus_minus: mixture.plus_minus_ppm(&weighed, &slips, volume),
            ec: ms_per_cm(fresh.ec),
            ec_plus_minus: mixture.plus_minus_ec(&weighed, &fresh, &slips, volume),
            saturation: if acidity.is_some() { saturation(made, &fresh.fresh, &aired) } else { Vec::new() },
            acidity,
            mixture,
            weighed,
            fresh,
            aired,
        })
    }
}

/// Indices of the minerals whose ions are there.
fn saturation(made: &Made, fresh: &Speciation, aired: &Speciation) -> Vec<Saturation> {
    let of = |mineral: &solution::Mineral| {
        let (index, index_aired) = (solution::saturation(mineral, fresh), solution::saturation(mineral, aired));
        let is_there = index.is_some() || index_aired.is_some();
        is_there.then(|| Saturation { mineral: mineral.name.clone(), index, index_aired, slow: mineral.slow })
    };
    made.tank.bench.catalogue.minerals().iter().filter(|mineral| mineral.of_tanks).filter_map(of).collect()
}
