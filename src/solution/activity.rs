//! Activity coefficients at 25 C.

use super::Species;

/// Debye-Hueckel slope of log10 at 25 C, (kg/mol)^0.5; from memory, as phreeqc.dat uses it.
const SLOPE: f64 = 0.509_2;
/// Debye-Hueckel reciprocal length at 25 C, 1/angstrom (kg/mol)^0.5; from memory, as phreeqc.dat uses it.
pub(super) const RECIPROCAL_LENGTH: f64 = 0.328_6;

/// log10 of the activity coefficient: Truesdell-Jones where a size is published, Davies else; for uncharged species the
/// published linear term, or 0.1 I.
pub(super) fn log_activity(species: &Species, strength: f64) -> f64 {
    let square = f64::from(species.charge * species.charge);
    let root = strength.sqrt();
    match species.size_angstrom {
        _ if species.charge == 0 => species.linear_kg_per_mol.unwrap_or(0.1) * strength,
        Some(size) => {
            -SLOPE * square * root / (1.0 + RECIPROCAL_LENGTH * size * root)
                + species.linear_kg_per_mol.unwrap_or(0.0) * strength
        }
        None => -SLOPE * square * (root / (1.0 + root) - 0.3 * strength),
    }
}

/// Slope of [`log_activity`] by the ionic strength, kg/mol; at an ionic strength above 0.
pub(super) fn log_activity_slope(species: &Species, strength: f64) -> f64 {
    let square = f64::from(species.charge * species.charge);
    let root = strength.sqrt();
    match species.size_angstrom {
        _ if species.charge == 0 => species.linear_kg_per_mol.unwrap_or(0.1),
        Some(size) => {
            -SLOPE * square / (2.0 * root * (1.0 + RECIPROCAL_LENGTH * size * root).powi(2))
                + species.linear_kg_per_mol.unwrap_or(0.0)
        }
        None => -SLOPE * square * (1.0 / (2.0 * root * (1.0 + root).powi(2)) - 0.3),
    }
}
