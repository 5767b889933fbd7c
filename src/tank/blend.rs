//! Several waters as one: what the shares of each come to.

use super::chemistry::Mixture;
use super::parts::Parts;
use super::{Content, Tank, TankError};
use crate::bench::Bench;
use crate::matter::{Nutrients, Water};

/// The water of a bench.
///
/// # Errors
/// [`TankError::NotBlended`] where there are several and no job has blended them.
pub(crate) fn one_water(bench: &Bench) -> Result<&Water, TankError> {
    if bench.waters.is_empty() || !bench.blend.is_empty() {
        return Ok(&bench.water);
    }
    Err(TankError::NotBlended { ids: bench.waters.iter().map(|source| source.id.clone()).collect() })
}

/// What each of the waters of a bench holds, in file order.
///
/// # Errors
/// [`TankError::NoEquilibrium`].
pub(crate) fn contents(bench: &Bench) -> Result<Vec<Content>, TankError> {
    bench.waters.iter().map(|source| Content::of_one_water(&bench.catalogue, &source.water)).collect()
}

/// The bench with a blend of its waters for its water.
///
/// Concentrations, alkalinity and carbon are those of the waters by their shares; the pH follows from these. Where alkalinity is
/// measured in one water at least, one without counts as 0.
///
/// * `shares`: of each water in file order, summing to 1
///
/// # Errors
/// [`TankError::NoEquilibrium`].
pub(crate) fn with_blend(bench: &Bench, shares: &[f64]) -> Result<Bench, TankError> {
    let blend = bench.waters.iter().zip(shares).map(|(source, share)| (source.id.clone(), *share)).collect();
    let alone = bench.waters.iter().zip(shares).find(|(_, share)| **share >= 1.0);
    let water = match alone {
        Some((source, _)) => source.water.clone(),
        None => blended(bench, shares)?,
    };
    Ok(Bench { water, blend, ..bench.clone() })
}

fn blended(bench: &Bench, shares: &[f64]) -> Result<Water, TankError> {
    let mut nutrients = Nutrients::default();
    let mut alkalinity: Option<f64> = None;
    for (source, share) in bench.waters.iter().zip(shares) {
        nutrients.add(&source.water.nutrients, *share);
        if let Some(meq) = source.water.alkalinity_meq_per_l {
            alkalinity = Some(alkalinity.unwrap_or(0.0) + meq * share);
        }
    }
    let parts: Vec<(Content, f64)> = contents(bench)?.into_iter().zip(shares.iter().copied()).collect();
    let tank = Tank::full_of(bench, Content::blended(bench.catalogue.ions(), &parts));
    let ph = Mixture::new(&tank, &Parts::new(bench, Vec::new())).solution(&[])?.fresh.ph;
    // without alkalinity the carbon of every water is that of air, whatever its pH
    let ph = alkalinity.filter(|meq| *meq > 0.0).map(|_| ph);
    Ok(Water { nutrients, alkalinity_meq_per_l: alkalinity, ph, ec_ms_per_cm: None })
}
