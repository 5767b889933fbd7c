//! What may fall out.

use super::{MasterId, Speciation};

/// A mineral, a row of `salts/minerals.toml`.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Mineral {
    /// Its name.
    pub name: String,
    /// Masters it is made of and how often each occurs, without protons.
    pub masters: Vec<(MasterId, f64)>,
    /// Protons; negative where dissolving takes them up.
    pub protons: f64,
    /// log10 of the solubility product at 25 C.
    pub log_k: f64,
    /// True when it stays far above saturation for days without falling out.
    pub slow: bool,
    /// Source id.
    pub source: String,
}

/// Saturation index: log10 of the ion activity product over the solubility product; `None` when an ion is missing.
///
/// SI = sum of count times log a - log K. Above 0 the mineral may fall out; 0.3 is twice the product.
///
/// * `mineral`: which
/// * `solution`: from [`super::speciate`]
///
/// Returns a dimensionless index at 25 C.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::{Air, saturation, speciate}};
/// let catalogue = Catalogue::standard();
/// let mut mmol = vec![0.0; catalogue.ions().rows().len()];
/// for symbol in ["Ca+2", "SO4-2"] {
///     mmol[catalogue.ions().find(symbol).unwrap().index()] = 15.1;
/// }
/// let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
/// let solution = speciate(catalogue.chemistry(), &totals, Air::Closed)?;
/// let gypsum = catalogue.minerals().iter().find(|mineral| mineral.name == "gypsum").unwrap();
/// assert!(saturation(gypsum, &solution).unwrap().abs() < 0.02, "15.1 mmol/kg is the solubility of gypsum");
/// # Ok::<(), bloomsalt::solution::SpeciationError>(())
/// ```
///
/// Reference: solubility products of phreeqc.dat 3.8 and minteq.v4.
#[must_use]
pub fn saturation(mineral: &Mineral, solution: &Speciation) -> Option<f64> {
    let product: f64 = mineral.masters.iter().map(|(master, count)| count * solution.log_activity[master.0]).sum();
    let index = product - mineral.protons * solution.ph - mineral.log_k;
    index.is_finite().then_some(index)
}
