//! What may fall out.

use serde::Deserialize;

use super::{MasterId, Speciation};

/// What saturation of a mineral says of salts that would share a bottle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum InBottles {
    /// It is not asked.
    #[default]
    Unasked,
    /// Above saturation they are kept apart.
    Decides,
    /// The same, where it is also further above saturation than in copper sulfate alone of the same strength, which stays
    /// clear.
    DecidesAgainstCopperAlone,
    /// It is told and keeps nothing apart: by its constant bottles would cloud that do not.
    MayNotDecide,
}

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
    /// False for what is asked of bottles alone and never told of a tank.
    pub of_tanks: bool,
    /// What it says of salts that would share a bottle.
    pub in_bottles: InBottles,
    /// Enthalpy of dissolving, kJ/mol; `None` where none is known and the constant of 25 C stands for every temperature.
    pub enthalpy_kj_per_mol: Option<f64>,
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

/// Saturation index of a bottle that stands at `celsius`: the constant by its enthalpy of dissolving (van 't Hoff) where one is
/// known, the species as at 25 C.
pub(crate) fn saturation_at(mineral: &Mineral, solution: &Speciation, celsius: f64) -> Option<f64> {
    const GAS_CONSTANT_KJ: f64 = 8.314_462_618e-3;
    let kelvin = |celsius: f64| celsius + 273.15;
    let by = mineral.enthalpy_kj_per_mol.map_or(0.0, |enthalpy| {
        enthalpy / (GAS_CONSTANT_KJ * std::f64::consts::LN_10) * (1.0 / kelvin(25.0) - 1.0 / kelvin(celsius))
    });
    saturation(mineral, solution).map(|index| index - by)
}

#[cfg(test)]
mod tests {
    use super::{saturation, saturation_at};
    use crate::catalogue::Catalogue;
    use crate::solution::{Air, speciate};

    /// Van 't Hoff: log K moves by enthalpy / (R ln 10) (1/298.15 K - 1/T). R ln 10 is 0.0191448 kJ/mol/K, and from 25 to 5 C
    /// the difference of the inverses is -2.41166e-4 per K (by hand): 22.6 kJ/mol lower log K by 0.28469, so the same ions are
    /// further above saturation in the cold, and what gives heat as it dissolves less far. Without an enthalpy nothing moves.
    #[test]
    fn what_takes_up_heat_dissolves_less_in_the_cold() {
        let catalogue = Catalogue::standard();
        let mut mmol = vec![0.0; catalogue.ions().rows().len()];
        for (symbol, of_ion) in [("Mg+2", 2.0), ("NH4+", 2.0), ("H2PO4-", 2.0), ("HCO3-", 2.0), ("Na+", 2.0)] {
            mmol[catalogue.ions().find(symbol).unwrap().index()] = of_ion;
        }
        let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
        let solution = speciate(catalogue.chemistry(), &totals, Air::Closed).unwrap();
        let mut struvite = catalogue.minerals().iter().find(|mineral| mineral.name == "struvite").unwrap().clone();
        let warm = saturation(&struvite, &solution).unwrap();
        for (enthalpy, celsius, by) in
            [(Some(22.6), 5.0, 0.284_69), (Some(22.6), 25.0, 0.0), (Some(-22.6), 5.0, -0.284_69), (None, 5.0, 0.0)]
        {
            struvite.enthalpy_kj_per_mol = enthalpy;
            let there = saturation_at(&struvite, &solution, celsius).unwrap();
            assert!((there - warm - by).abs() < 1e-5, "{enthalpy:?} at {celsius}: {warm} to {there}");
        }
    }
}
