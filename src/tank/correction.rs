//! How much of an acid or a base a tank takes, at its own buffer.

use super::Tank;
use super::chemistry::Mixture;
use super::parts::{Part, Parts};
use crate::bench::Stock;
use crate::solution::{Air, SpeciationError};

/// Grams of a salt per litre that bring what amounts make to `ph`; `None` where it moves the pH the other way, is not needed, or
/// is a product that leaves open how much alkalinity it has: then no amount of it can be told.
///
/// * `per_l`: amounts per litre, in the unit of each part
///
/// # Errors
/// [`SpeciationError`] where the chemistry finds no equilibrium.
pub(crate) fn grams_to_reach(
    tank: &Tank,
    parts: &Parts,
    per_l: &[f64],
    stock: Stock,
    ph: f64,
    air: Air,
) -> Result<Option<f64>, SpeciationError> {
    if !tank.bench.salt(&stock).alkalinity_known() {
        return Ok(None);
    }
    let mut wider = parts.clone();
    wider.list.push(Part::Salt(stock));
    let mut amounts = per_l.to_vec();
    amounts.push(0.0);
    let (meq_per_g, wanted) = Mixture::new(tank, &wider).proton_row(&amounts, ph, air)?;
    let there: f64 = meq_per_g.iter().zip(&amounts).map(|(meq, grams)| meq * grams).sum();
    let per_gram = meq_per_g.last().copied().unwrap_or(0.0);
    let grams = (wanted - there) / per_gram;
    Ok(Some(grams).filter(|grams| grams.is_finite() && *grams > 0.0))
}
