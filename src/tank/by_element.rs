//! EC of a content that is known by element only.

use super::chemistry::ms_per_cm;
use crate::bench::Bench;
use crate::catalogue::Catalogue;
use crate::matter::{NUTRIENTS, Nutrient, Nutrients, Water};
use crate::solution::{Air, conductivity, speciate};

/// Charge that no nutrient balances, meq/L: cations less anions, each nutrient by its usual ion. What is over is bicarbonate,
/// what is short is acid.
pub(crate) fn surplus_meq_per_l(catalogue: &Catalogue, ppm: &Nutrients) -> f64 {
    let ions = catalogue.ions();
    let charged = |nutrient: Nutrient| {
        let charge = ions.find(nutrient.usual_ion()).map_or(0, |ion| ions.get(ion).charge);
        let weight = catalogue.elements().weight(nutrient.element()).unwrap_or(f64::INFINITY);
        f64::from(charge) * ppm[nutrient] / weight
    };
    let plain = NUTRIENTS.into_iter().filter(|nutrient| *nutrient != Nutrient::N).map(charged).sum::<f64>();
    // nitrogen of unknown form counts as nitrate, as its usual ion has it
    plain - ppm.unsplit_nitrogen() / catalogue.elements().weight("N").unwrap_or(f64::INFINITY)
}

/// EC at 25 C of concentrations that are known by nutrient only.
///
/// Every nutrient counts as its usual ion; charge that they leave open is bicarbonate, or acid where anions are over. Roots
/// that take up more of one charge give off as much of another, so the solution stays neutral.
///
/// * `ppm`: each 0 or more
///
/// Returns mS/cm; none where the chemistry finds no equilibrium. Chelates count as bare metal, which moves the EC of an
/// ordinary feed by less than half a per cent.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, matter::{Nutrient, Nutrients}, tank};
/// let mut ppm = Nutrients::default();
/// (ppm[Nutrient::K], ppm[Nutrient::Cl]) = (391.0, 354.5);
/// let ec = tank::ec_of(&Bench::starter().catalogue, &ppm).unwrap();
/// assert!((ec - 1.408).abs() < 0.02, "KCl 0.01 mol/L: {ec}");
/// ```
///
/// Reference: docs/logbook.md; [`crate::solution::conductivity`].
#[must_use]
pub fn ec_of(catalogue: &Catalogue, ppm: &Nutrients) -> Option<f64> {
    let surplus = surplus_meq_per_l(catalogue, ppm);
    let mut nutrients = *ppm;
    nutrients[Nutrient::NitrateN] += ppm.unsplit_nitrogen();
    let water = Water { nutrients, alkalinity_meq_per_l: Some(surplus.max(0.0)), ..Water::default() };
    let mut mmol = vec![0.0; catalogue.ions().rows().len()];
    for (ion, amount) in water.ions(catalogue.ions(), catalogue.elements()) {
        mmol[ion.0] += amount;
    }
    let chemistry = catalogue.chemistry();
    let mut totals = chemistry.totals(catalogue.ions(), &mmol);
    totals.alkalinity_eq_per_kg += surplus.min(0.0) * 1e-3;
    let found = speciate(chemistry, &totals, Air::Closed).ok()?;
    Some(ms_per_cm(conductivity(chemistry, &found))).filter(|ec| ec.is_finite())
}

/// The same in a tank of a bench, with what nobody names in its water.
///
/// * `ppm`: as of [`ec_of`]
/// * `water_per_l`: water that went in for each litre that is there: what nobody names stays when it evaporates. Of several waters
///   nobody tells which it was, and each litre counts once
#[must_use]
pub(crate) fn ec_in(bench: &Bench, ppm: &Nutrients, water_per_l: f64) -> Option<f64> {
    ec_of(&bench.catalogue, ppm).map(|ec| ec + unnamed_in(bench, water_per_l))
}

/// EC of what nobody names in the water, mS/cm, as of [`ec_in`].
pub(super) fn unnamed_in(bench: &Bench, water_per_l: f64) -> f64 {
    let times = if bench.waters.is_empty() { water_per_l } else { 1.0 };
    times * bench.water.unstated_ms_per_cm
}
