//! EC from the speciated ions: the conductance equation of PHREEQC 3.8.

use super::activity::RECIPROCAL_LENGTH;
use super::species::LITRES_PER_KG;
use super::{Chemistry, Speciation};
use crate::quantity::{Conductivity, Temperature, millisiemens_per_cm};

/// How far the predicted EC may be off, as a fraction (k = 2): own choice. The model follows PHREEQC 3.8 to 0.5 % on
/// nutrient solutions (tests/chemistry.rs), but no measured nutrient solution with its full composition was found, and
/// measured single salts lie up to several per cent off.
pub const EC_MODEL_PLUS_MINUS: f64 = 0.03;

/// What a mole of ions adds to that, litres: half of what potassium chloride does (27 mL/mol, from memory).
const LITRES_PER_MOL: f64 = 0.0135;

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
///     mmol[catalogue.ions().find(symbol).unwrap().index()] = 10.0 / 1.003;
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
///     mmol[catalogue.ions().find(symbol).unwrap().index()] = 10.0;
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
    let current = Current::of(chemistry, solution, kelvin);
    millisiemens_per_cm(current.map_or(0.0, |current| current.micro() * 1e-3))
}

/// Slope of EC at 25 C by the molality of every species, mS/cm per mol/kg; 0 for those that are not there.
pub(super) fn slope_by_species(chemistry: &Chemistry, solution: &Speciation) -> Vec<f64> {
    let mut slopes = vec![0.0; chemistry.species.len()];
    if let Some(current) = Current::of(chemistry, solution, KELVIN_AT_25_C) {
        for (ion, slope) in current.ions.iter().zip(current.slopes()) {
            slopes[ion.at] = slope * 1e-3;
        }
    }
    slopes
}

/// An ion that carries current.
struct Ion {
    /// Its position among the species.
    at: usize,
    /// mol/kg.
    m: f64,
    /// Charge number.
    charge: f64,
    /// m2/s.
    diffusion: f64,
    /// Angstrom; of an anion before the charge of the cations draws it in.
    size: f64,
}

/// What an ion does among the others.
struct Moving {
    /// Limiting conductivity less electrophoresis.
    drawn: f64,
    /// What relaxation leaves of it.
    left: f64,
    /// 1 + kappa a.
    apart: f64,
}

/// The ions of a solution and what they come to together; pairs are cations, then anions.
struct Current {
    ions: Vec<Ion>,
    m: [f64; 2],
    eq: [f64; 2],
    /// Equivalents times diffusion.
    e: [f64; 2],
    /// Mean charges.
    z: [f64; 2],
    root: f64,
    relaxation: f64,
    electrophoresis: f64,
    kelvin: f64,
}

/// Anions are drawn in by the charge of the cations, angstrom for each charge.
const DRAWN_IN_ANGSTROM: f64 = 0.126;

impl Current {
    /// `None` without cations or without anions.
    fn of(chemistry: &Chemistry, solution: &Speciation, kelvin: f64) -> Option<Self> {
        let thinner = water_viscosity(KELVIN_AT_25_C) / water_viscosity(kelvin);
        let ions: Vec<Ion> = chemistry
            .species
            .iter()
            .zip(&solution.mol_per_kg)
            .enumerate()
            .filter(|(_, (species, m))| species.charge != 0 && **m > 0.0)
            .filter_map(|(at, (species, m))| {
                let mobility = species.mobility?;
                let own = libm::exp(mobility.temperature_k / kelvin - mobility.temperature_k / KELVIN_AT_25_C);
                let diffusion = mobility.diffusion_m2_per_s * own * thinner * kelvin / KELVIN_AT_25_C;
                let size = mobility.relaxation_angstrom.unwrap_or(USUAL_SIZE_ANGSTROM);
                Some(Ion { at, m: *m, charge: f64::from(species.charge), diffusion, size })
            })
            .collect();
        let sums = |of: &dyn Fn(&Ion) -> f64| -> [f64; 2] {
            [1.0, -1.0].map(|sign| ions.iter().filter(|ion| ion.charge * sign > 0.0).map(of).sum())
        };
        let m = sums(&|ion| ion.m);
        if m[0] <= 0.0 || m[1] <= 0.0 {
            return None;
        }
        let eq = sums(&|ion| ion.m * ion.charge.abs());
        let e = sums(&|ion| ion.m * ion.charge.abs() * ion.diffusion);
        let squares = sums(&|ion| ion.m * ion.charge.abs() * ion.charge.abs());
        let z = [eq[0] / m[0], eq[1] / m[1]];
        let q = shared(m, e, z);
        let charge_squared = ELEMENTARY_CHARGE_C * ELEMENTARY_CHARGE_C;
        let electrophoresis = charge_squared / (6.0 * std::f64::consts::PI) * AVOGADRO_PER_MOL / VISCOSITY
            * RECIPROCAL_LENGTH
            * 1e17
            * thinner;
        let root = (0.5 * (squares[0] + squares[1])).sqrt();
        Some(Self { ions, m, eq, e, z, root, relaxation: relaxation(q, z), electrophoresis, kelvin })
    }

    /// How an ion moves among the others.
    fn moving(&self, ion: &Ion) -> Moving {
        let z = ion.charge.abs();
        let size = if ion.charge < 0.0 { ion.size - DRAWN_IN_ANGSTROM * z * (self.z[0] - 1.0) } else { ion.size };
        let apart = 1.0 + RECIPROCAL_LENGTH * size * self.root;
        let faraday = ELEMENTARY_CHARGE_C * AVOGADRO_PER_MOL;
        let gas = BOLTZMANN_J_PER_K * AVOGADRO_PER_MOL;
        let limiting = z * ion.diffusion * 1e4 * faraday * faraday / (gas * self.kelvin);
        Moving {
            drawn: limiting - self.electrophoresis * z * self.root / apart,
            left: 1.0 - self.relaxation * self.root / apart.powi(2),
            apart,
        }
    }

    /// The weight against which ions of one side are set: those of higher charge count for more.
    fn weight(&self, side: usize) -> f64 {
        let crowd = self.m[side] * (3.0 * self.z[side] - 2.0);
        crowd * (self.eq[0] + self.eq[1]) / (2.0 * self.eq[side])
    }

    fn litres(&self) -> f64 {
        LITRES_PER_KG + LITRES_PER_MOL * (self.m[0] + self.m[1])
    }

    /// EC in uS/cm.
    fn micro(&self) -> f64 {
        let weights = [self.weight(0), self.weight(1)];
        let mut total = 0.0;
        for ion in &self.ions {
            let moving = self.moving(ion);
            let (z, weight) = (ion.charge.abs(), weights[usize::from(ion.charge < 0.0)]);
            total += ion.m * z * z * (moving.drawn * moving.left).max(0.0) / weight;
        }
        500.0 * (self.eq[0] + self.eq[1]) / (self.litres() * self.litres()) * total
    }

    /// Slope of [`Current::micro`] by the molality of each ion: the equation differentiated from its end to its beginning.
    fn slopes(&self) -> Vec<f64> {
        let weights = [self.weight(0), self.weight(1)];
        let (all_eq, litres) = (self.eq[0] + self.eq[1], self.litres());
        let factor = 500.0 * all_eq / (litres * litres);
        let (mut total, mut by_weight, mut by_relaxation, mut by_root, mut by_z_plus) = (0.0, [0.0; 2], 0.0, 0.0, 0.0);
        let mut slopes: Vec<f64> = Vec::with_capacity(self.ions.len());
        for ion in &self.ions {
            let (z, side) = (ion.charge.abs(), usize::from(ion.charge < 0.0));
            let Moving { drawn, left, apart } = self.moving(ion);
            let moves = drawn * left;
            if moves <= 0.0 {
                slopes.push(0.0);
                continue;
            }
            let counted = z * z / weights[side];
            total += ion.m * counted * moves;
            by_weight[side] -= ion.m * counted * moves / weights[side];
            by_relaxation -= ion.m * counted * drawn * self.root / apart.powi(2);
            let drawn_by_root = -self.electrophoresis * z / apart.powi(2);
            let left_by_root = -self.relaxation * (2.0 - apart) / apart.powi(3);
            by_root += ion.m * counted * (drawn_by_root * left + drawn * left_by_root);
            if side == 1 {
                let drawn_by_apart = self.electrophoresis * z * self.root / apart.powi(2);
                let left_by_apart = 2.0 * self.relaxation * self.root / apart.powi(3);
                let apart_by_z = -RECIPROCAL_LENGTH * self.root * DRAWN_IN_ANGSTROM * z;
                by_z_plus += ion.m * counted * (drawn_by_apart * left + drawn * left_by_apart) * apart_by_z;
            }
            slopes.push(factor * counted * moves);
        }
        // relaxation = constant * f(q) * z+ * z-, with q of the diffusion and the charges
        let q = shared(self.m, self.e, self.z);
        let of_q = self.relaxation / (q / (1.0 + q.sqrt()));
        let by_q = by_relaxation * of_q * (1.0 + 0.5 * q.sqrt()) / (1.0 + q.sqrt()).powi(2);
        let (d, mean) = ([self.e[0] / self.m[0], self.e[1] / self.m[1]], [self.z[0], self.z[1]]);
        let transport = d[0] / (d[0] + d[1]);
        let (slow, both) = (transport / mean[0] + (1.0 - transport) / mean[1], mean[0] + mean[1]);
        let by_slow = -by_q * q * q * both;
        let by_transport = by_slow * (1.0 / mean[0] - 1.0 / mean[1]);
        let shares = [transport, 1.0 - transport];
        for (at, ion) in self.ions.iter().enumerate() {
            let (z, side) = (ion.charge.abs(), usize::from(ion.charge < 0.0));
            let other = 1 - side;
            let z_slope = (z - mean[side]) / self.m[side];
            let d_slope = (z * ion.diffusion - d[side]) / self.m[side];
            let transport_slope = d_slope * d[other] / (d[0] + d[1]).powi(2) * if side == 0 { 1.0 } else { -1.0 };
            let mut slope = by_transport * transport_slope;
            slope -= by_slow * shares[side] / mean[side].powi(2) * z_slope;
            slope -= by_q * q * q * slow * z_slope;
            slope += by_relaxation * self.relaxation / mean[side] * z_slope;
            slope += by_root * 0.5 * z * z / (2.0 * self.root);
            if side == 0 {
                slope += by_z_plus * z_slope;
            }
            // weight = (3 - 2 m / eq) (eq+ + eq-) / 2
            slope += by_weight[side] * (self.m[side] * z / self.eq[side] - 1.0) / self.eq[side] * all_eq;
            slope += (by_weight[0] * weights[0] + by_weight[1] * weights[1]) * z / all_eq;
            slopes[at] += factor * slope + factor * total * (z / all_eq - 2.0 * LITRES_PER_MOL / litres);
        }
        slopes
    }
}

/// How far the atmosphere of an ion is shared between the ions of both charges.
fn shared(m: [f64; 2], e: [f64; 2], z: [f64; 2]) -> f64 {
    let transport = (e[0] / m[0]) / (e[0] / m[0] + e[1] / m[1]);
    1.0 / ((transport / z[0] + (1.0 - transport) / z[1]) * (z[0] + z[1]))
}

/// The relaxation term for a root of the ionic strength of 1.
fn relaxation(q: f64, z: [f64; 2]) -> f64 {
    let charge_squared = ELEMENTARY_CHARGE_C * ELEMENTARY_CHARGE_C;
    charge_squared
        / (12.0 * std::f64::consts::PI * VACUUM_PERMITTIVITY_F_PER_M * PERMITTIVITY * BOLTZMANN_J_PER_K * KELVIN_AT_25_C)
        * q
        / (1.0 + q.sqrt())
        * RECIPROCAL_LENGTH
        * 1e10
        * z[0]
        * z[1]
}
