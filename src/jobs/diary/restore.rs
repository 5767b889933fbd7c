//! What to add now to bring a tank back to its formula.

use super::content::surplus_meq_per_l;
use super::record::{RestoreDose, RestoreRecord};
use crate::bench::Bench;
use crate::jobs::{JobError, MixOptions, mix};
use crate::matter::{Nutrients, Water};
use crate::quantity::liter;

/// Salts of the shelf that bring a content back to a formula, nothing drained.
///
/// The fit of a fresh tank with the present content in the place of the water; the acid stays out, since its dose follows
/// from a pH and not from a formula.
///
/// * `ppm`: what the tank holds
/// * `volume_l`: how much of it, what is held back included
///
/// # Errors
/// As [`mix`]: among others when the content is over a limit of the formula, which only draining helps.
pub fn restore(bench: &Bench, formula: &str, ppm: &Nutrients, volume_l: f64) -> Result<RestoreRecord, JobError> {
    let alkalinity = surplus_meq_per_l(&bench.catalogue, ppm).max(0.0);
    let water = Water { nutrients: *ppm, alkalinity_meq_per_l: Some(alkalinity), ..Water::default() };
    let here = Bench { water, acid: None, ..bench.clone() }.with_tank(liter(volume_l));
    let mix = mix(&here, formula, &MixOptions::default())?;
    let measured = mix.doses.iter().filter(|dose| dose.grams.or(dose.millilitres).is_some_and(|amount| amount > 0.0));
    let doses = measured.map(|dose| RestoreDose {
        salt: dose.salt.clone(),
        helper: dose.helper.clone(),
        name: dose.name.clone(),
        grams: dose.grams,
        millilitres: dose.millilitres,
    });
    let missed = mix.elements.iter().filter_map(|element| {
        let target = element.target_ppm?;
        ((element.ppm - target).abs() > 0.05 * target).then(|| (element.element.clone(), element.ppm, target))
    });
    Ok(RestoreRecord { volume_l, doses: doses.collect(), helpers: mix.helpers.clone(), missed: missed.collect() })
}
