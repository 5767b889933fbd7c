//! EC from the ions that are left free.

use super::{Pair, Speciation};
use crate::matter::Ions;
use crate::quantity::{Conductivity, Temperature, millisiemens_per_cm};

/// How far the predicted EC may be off, as a fraction (k = 2).
///
/// Measured for this form of model against a full speciation: -2.8 to +2.4 % on 100 random complete nutrient
/// solutions; arbitrary mixes of few salts go to 6 %. Model against model: no measured nutrient solution with its full
/// composition was found.
pub const EC_MODEL_PLUS_MINUS: f64 = 0.03;

/// A display scale of some meters: mg/L of dissolved solids claimed per uS/cm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterScale {
    /// Its factor, as printed on the meter.
    pub factor: f64,
    /// What it is called.
    pub name: &'static str,
}

/// The scales in use (manuals of several meters): sodium chloride, irrigation practice, and the 40/40/20 mixture.
pub const METER_SCALES: [MeterScale; 3] = [
    MeterScale { factor: 0.5, name: "0.5 scale (sodium chloride)" },
    MeterScale { factor: 0.64, name: "0.64 scale (irrigation water)" },
    MeterScale { factor: 0.7, name: "0.7 scale (sulfate, bicarbonate and chloride 40:40:20)" },
];

/// EC at 25 C.
///
/// kappa = sum over charged species of c |z| (l - (30.1 |z| + 0.229 |z| l) sqrt(I) / (1 + 1.3 sqrt(I))), with l the
/// limiting equivalent conductivity: an Onsager-type attenuation with a finite ion size.
///
/// * `solution`: free species and pairs in mmol/L, from [`super::pair_up`]
///
/// Returns the conductivity at 25 C. Good to about 50 mmol/L; see [`EC_MODEL_PLUS_MINUS`]. No species conducts less
/// than nothing, so the result is never negative.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::{conductivity, pair_up}};
/// use uom::si::electrical_conductivity::siemens_per_meter;
/// let catalogue = Catalogue::standard();
/// let mut total = vec![0.0; catalogue.ions().rows().len()];
/// for symbol in ["K+", "Cl-"] {
///     total[catalogue.ions().find(symbol).unwrap().0] = 10.0;
/// }
/// let solution = pair_up(catalogue.ions(), catalogue.pairs(), &total);
/// let ec = conductivity(catalogue.ions(), catalogue.pairs(), &solution).get::<siemens_per_meter>() * 10.0;
/// assert!((ec / 1.412 - 1.0).abs() < 0.01, "KCl 0.01 mol/L conducts 1.412 mS/cm");
/// ```
///
/// Reference: `docs/ec.md`; a plain form of our own, compared with PHREEQC 3.8.
#[must_use]
pub fn conductivity(ions: &Ions, pairs: &[Pair], solution: &Speciation) -> Conductivity {
    let root = solution.ionic_strength_mol_per_l.sqrt();
    let attenuation = root / (1.0 + 1.3 * root);
    let term = |charge: i32, limiting_molar: f64, mmol: f64| {
        if charge == 0 {
            return 0.0;
        }
        let z = f64::from(charge.abs());
        let limiting = limiting_molar / z;
        mmol * z * (limiting - (30.1 * z + 0.229 * z * limiting) * attenuation).max(0.0)
    };
    let free: f64 = ions
        .rows()
        .iter()
        .zip(&solution.free_mmol_per_l)
        .map(|(ion, mmol)| term(ion.charge, ion.conductivity_s_cm2_per_mol, *mmol))
        .sum();
    let paired: f64 = pairs
        .iter()
        .zip(&solution.paired_mmol_per_l)
        .filter(|(pair, _)| pair.conductivity_s_cm2_per_mol > 0.0)
        .map(|(pair, mmol)| term(pair.charge, pair.conductivity_s_cm2_per_mol, *mmol))
        .sum();
    millisiemens_per_cm((free + paired) * 1e-3)
}

/// EC at another temperature: kappa25 (1 + 0.02 (t - 25)).
///
/// * `at_25`: EC at 25 C
/// * `temperature`: 0 to 50 C
///
/// Returns what a meter without compensation reads. The 2 % per degree is the customary compensation of meters
/// (several meter manuals; between 10 and 30 C within 1 % of ISO 7888 for natural waters).
///
/// # Examples
/// ```
/// use bloomsalt::{quantity::{celsius, millisiemens_per_cm}, solution::at_temperature};
/// let cool = at_temperature(millisiemens_per_cm(1.0), celsius(20.0));
/// assert!((cool / millisiemens_per_cm(1.0)).get::<uom::si::ratio::ratio>() - 0.9 < 1e-9);
/// ```
///
/// Reference: several meter manuals; ISO 7888 for natural waters.
#[must_use]
pub fn at_temperature(at_25: Conductivity, temperature: Temperature) -> Conductivity {
    let celsius = temperature.get::<uom::si::thermodynamic_temperature::degree_celsius>();
    at_25 * (1.0 + 0.02 * (celsius - 25.0))
}
