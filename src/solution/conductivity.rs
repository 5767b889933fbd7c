//! EC from the speciated ions: the conductance equation of PHREEQC 3.8.

use super::activity::RECIPROCAL_LENGTH;
use super::{Chemistry, Speciation};
use crate::quantity::{Conductivity, Temperature, millisiemens_per_cm};

/// How far the predicted EC may be off, as a fraction (k = 2): own choice. The model follows PHREEQC 3.8 to 0.5 % on
/// nutrient solutions (tests/chemistry.rs), but no measured nutrient solution with its full composition was found, and
/// measured single salts lie up to several per cent off.
pub const EC_MODEL_PLUS_MINUS: f64 = 0.03;

/// Litres of a dilute solution per kilogram of its water, at 25 C.
pub(crate) const LITRES_PER_KG: f64 = 1.003;
/// What a mole of ions adds to that, litres: half of what potassium chloride does (27 mL/mol, from memory).
const LITRES_PER_MOL: f64 = 0.0135;

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

const ELEMENTARY_CHARGE_C: f64 = 1.602_176_634e-19;
const AVOGADRO_PER_MOL: f64 = 6.022_140_76e23;
const BOLTZMANN_J_PER_K: f64 = 1.380_649e-23;
const VACUUM_PERMITTIVITY_F_PER_M: f64 = 8.854_187_812_8e-12;
const KELVIN_AT_25_C: f64 = 298.15;
/// Relative permittivity of water at 25 C.
const PERMITTIVITY: f64 = 78.3;
/// Viscosity of water at 25 C, mPa s.
const VISCOSITY: f64 = 0.891;
/// Ion size where none is published, angstrom.
const USUAL_SIZE_ANGSTROM: f64 = 3.5;

/// EC at 25 C of a speciated solution.
///
/// Every charged species with a mobility: its limiting conductivity from the diffusion coefficient (Nernst-Einstein), less
/// electrophoresis and relaxation (Onsager's terms with a finite ion size), weighted for ions of higher charge. The
/// viscosity factor and the growth of ions with their volume are left out.
///
/// * `solution`: from [`super::speciate`]
///
/// Returns the conductivity at 25 C; 0 for water without ions. Good to about 0.1 mol/kg.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::{Air, conductivity, speciate}};
/// use uom::si::electrical_conductivity::siemens_per_meter;
/// let catalogue = Catalogue::standard();
/// let mut mmol = vec![0.0; catalogue.ions().rows().len()];
/// for symbol in ["K+", "Cl-"] {
///     mmol[catalogue.ions().find(symbol).unwrap().0] = 10.0 / 1.003;
/// }
/// let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
/// let solution = speciate(catalogue.chemistry(), &totals, Air::Closed)?;
/// let ec = conductivity(catalogue.chemistry(), &solution).get::<siemens_per_meter>() * 10.0;
/// assert!((ec / 1.40823 - 1.0).abs() < 0.005, "KCl 0.01 mol/kg conducts 1.40823 mS/cm: {ec}");
/// # Ok::<(), bloomsalt::solution::SpeciationError>(())
/// ```
///
/// Reference: PHREEQC 3.8 (U.S. Geological Survey, public domain), its conductance equation; C. A. J. Appelo, Cement
/// and Concrete Research 101 (2017) 102.
#[must_use]
pub fn conductivity(chemistry: &Chemistry, solution: &Speciation) -> Conductivity {
    conductivity_at(chemistry, solution, crate::quantity::celsius(25.0))
}

/// Viscosity of water in mPa s, 0 to 50 C: Vogel's equation, from memory.
fn water_viscosity(kelvin: f64) -> f64 {
    2.414e-2 * libm::exp(247.8 / (kelvin - 140.0) * std::f64::consts::LN_10)
}

/// EC of a speciated solution at another temperature, by each ion's own dependence.
///
/// Each diffusion coefficient is D exp(d/T - d/298.15) T/298.15 times the ratio of the viscosities of water; the
/// speciation stays that of 25 C.
///
/// * `temperature`: 0 to 50 C
///
/// Otherwise as [`conductivity`].
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, quantity::celsius, solution::{Air, conductivity, conductivity_at, speciate}};
/// let catalogue = Catalogue::standard();
/// let mut mmol = vec![0.0; catalogue.ions().rows().len()];
/// for symbol in ["K+", "Cl-"] {
///     mmol[catalogue.ions().find(symbol).unwrap().0] = 10.0;
/// }
/// let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
/// let solution = speciate(catalogue.chemistry(), &totals, Air::Closed)?;
/// let ratio = conductivity_at(catalogue.chemistry(), &solution, celsius(20.0)) / conductivity(catalogue.chemistry(), &solution);
/// assert!((ratio.get::<uom::si::ratio::ratio>() - 0.905).abs() < 0.01);
/// # Ok::<(), bloomsalt::solution::SpeciationError>(())
/// ```
///
/// Reference: as [`conductivity`].
#[must_use]
pub fn conductivity_at(chemistry: &Chemistry, solution: &Speciation, temperature: Temperature) -> Conductivity {
    let kelvin = temperature.get::<uom::si::thermodynamic_temperature::kelvin>();
    let thinner = water_viscosity(KELVIN_AT_25_C) / water_viscosity(kelvin);
    let ions: Vec<(f64, f64, f64, f64)> = chemistry
        .species
        .iter()
        .zip(&solution.mol_per_kg)
        .filter(|(species, m)| species.charge != 0 && **m > 0.0)
        .filter_map(|(species, m)| {
            let mobility = species.mobility?;
            let own = libm::exp(mobility.temperature_k / kelvin - mobility.temperature_k / KELVIN_AT_25_C);
            let diffusion = mobility.diffusion_m2_per_s * own * thinner * kelvin / KELVIN_AT_25_C;
            let size = mobility.relaxation_angstrom.unwrap_or(USUAL_SIZE_ANGSTROM);
            Some((*m, f64::from(species.charge), diffusion, size))
        })
        .collect();
    let sum = |sign: f64, of: &dyn Fn(f64, f64, f64) -> f64| -> f64 {
        ions.iter().filter(|(_, z, _, _)| z * sign > 0.0).map(|(m, z, d, _)| of(*m, z.abs(), *d)).sum()
    };
    let (m_plus, m_minus) = (sum(1.0, &|m, _, _| m), sum(-1.0, &|m, _, _| m));
    if m_plus <= 0.0 || m_minus <= 0.0 {
        return millisiemens_per_cm(0.0);
    }
    let (eq_plus, eq_minus) = (sum(1.0, &|m, z, _| m * z), sum(-1.0, &|m, z, _| m * z));
    let (e_plus, e_minus) = (sum(1.0, &|m, z, d| m * z * d), sum(-1.0, &|m, z, d| m * z * d));
    let strength = 0.5 * (sum(1.0, &|m, z, _| m * z * z) + sum(-1.0, &|m, z, _| m * z * z));
    let (z_plus, z_minus) = (eq_plus / m_plus, eq_minus / m_minus);
    let transport = (e_plus / m_plus) / (e_plus / m_plus + e_minus / m_minus);
    let q = 1.0 / ((transport / z_plus + (1.0 - transport) / z_minus) * (z_plus + z_minus));

    let charge_squared = ELEMENTARY_CHARGE_C * ELEMENTARY_CHARGE_C;
    let relaxation = charge_squared
        / (12.0 * std::f64::consts::PI * VACUUM_PERMITTIVITY_F_PER_M * PERMITTIVITY * BOLTZMANN_J_PER_K * KELVIN_AT_25_C)
        * q
        / (1.0 + q.sqrt())
        * RECIPROCAL_LENGTH
        * 1e10
        * z_plus
        * z_minus;
    let electrophoresis =
        charge_squared / (6.0 * std::f64::consts::PI) * AVOGADRO_PER_MOL / VISCOSITY * RECIPROCAL_LENGTH * 1e17 * thinner;
    let faraday = ELEMENTARY_CHARGE_C * AVOGADRO_PER_MOL;
    let gas = BOLTZMANN_J_PER_K * AVOGADRO_PER_MOL;
    let root = strength.sqrt();
    let crowd = |m: f64, z: f64| m * (3.0 * z - 2.0);
    let mut total = 0.0;
    for (m, charge, diffusion, size) in &ions {
        let z = charge.abs();
        let size = if *charge < 0.0 { size - 0.126 * z * (z_plus - 1.0) } else { *size };
        let ka = RECIPROCAL_LENGTH * size * root;
        let limiting = z * diffusion * 1e4 * faraday * faraday / (gas * kelvin);
        let moving = (limiting - electrophoresis * z * root / (1.0 + ka)) * (1.0 - relaxation * root / (1.0 + ka).powi(2));
        let share = if *charge > 0.0 {
            crowd(m_plus, z_plus) * (eq_plus + eq_minus) / (2.0 * eq_plus)
        } else {
            crowd(m_minus, z_minus) * (eq_plus + eq_minus) / (2.0 * eq_minus)
        };
        total += m * z * z * moving.max(0.0) / share;
    }
    // uS/cm from mol/kg
    let litres = LITRES_PER_KG + LITRES_PER_MOL * (m_plus + m_minus);
    let micro = 500.0 * (eq_plus + eq_minus) / (litres * litres) * total;
    millisiemens_per_cm(micro * 1e-3)
}
