//! The balance of cations and of anions by charge, as plant nutrition science draws it in two triangles.

use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::matter::{Nutrient, Nutrients};

/// Shares of one solution, by charge.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Balance {
    /// What it is of.
    pub name: String,
    /// K, Ca and Mg in percent of their sum by charge; none where there is none of them.
    pub cations_percent: Option<[f64; 3]>,
    /// Nitrate, dihydrogen phosphate and sulfate in percent of their sum by charge; none where there is none of them.
    pub anions_percent: Option<[f64; 3]>,
}

/// The balance of a solution.
///
/// share = (ppm / atomic weight x charge) / sum of the three, for K+, Ca2+, Mg2+ and for NO3-, H2PO4-, SO4 2-.
///
/// * `name`: what it is of
/// * `ppm`: of the elements, nitrate nitrogen by itself; each 0 or more
///
/// Returns percent. All phosphorus counts as H2PO4- and all sulfur as sulfate, as the usual triangles have it; ammonium, sodium
/// and chloride stand outside of them.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, jobs, matter::{Nutrient, Nutrients}};
/// let mut ppm = Nutrients::default();
/// (ppm[Nutrient::K], ppm[Nutrient::Ca]) = (39.098, 20.039);
/// let shares = jobs::balance(Catalogue::standard(), "one each", &ppm).cations_percent.unwrap();
/// assert!((shares[0] - 50.0).abs() < 0.01 && shares[2] == 0.0);
/// ```
///
/// Reference: the form that is usual in plant nutrition, from memory.
#[must_use]
pub fn balance(catalogue: &Catalogue, name: &str, ppm: &Nutrients) -> Balance {
    let shares = |of: [(Nutrient, f64); 3]| {
        let charge = of.map(|(nutrient, charge)| {
            let weight = catalogue.elements().weight(nutrient.element()).unwrap_or(f64::INFINITY);
            ppm[nutrient].max(0.0) * charge / weight
        });
        let sum: f64 = charge.iter().sum();
        (sum > 0.0).then(|| charge.map(|charge| 100.0 * charge / sum))
    };
    Balance {
        name: name.to_owned(),
        cations_percent: shares([(Nutrient::K, 1.0), (Nutrient::Ca, 2.0), (Nutrient::Mg, 2.0)]),
        anions_percent: shares([(Nutrient::NitrateN, 1.0), (Nutrient::P, 1.0), (Nutrient::S, 2.0)]),
    }
}
