//! Total concentrations to free ions, complexes and acid-base forms.

use std::fmt;

use super::activity::log_activity;
use super::{Chemistry, MasterId, Species, Totals};

/// Whether carbon dioxide can leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Air {
    /// Right after mixing: what carbon there is stays.
    Closed,
    /// After days of flooding and draining: in equilibrium with the carbon dioxide of the air.
    Open,
}

/// log10 of the activity of dissolved CO2 in equilibrium with air: Henry constant 10^-1.468 (phreeqc.dat) and 420 ppm CO2
/// (10^-3.38, from memory).
pub const AIR_CO2_LOG_ACTIVITY: f64 = -1.468 - 3.38;

/// A solution in equilibrium.
#[derive(Debug, Clone)]
pub struct Speciation {
    /// mol/kg of water of every species, by position in [`Chemistry::species`].
    pub mol_per_kg: Vec<f64>,
    /// log10 of the activity of every master; minus infinity for those that are not there.
    pub log_activity: Vec<f64>,
    /// pH.
    pub ph: f64,
    /// Ionic strength, mol/kg.
    pub ionic_strength_mol_per_kg: f64,
}

/// No equilibrium was found.
#[derive(Debug, Clone, PartialEq)]
pub struct SpeciationError {
    /// What was asked for.
    pub totals: Totals,
}

impl fmt::Display for SpeciationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let most = self.totals.mol_per_kg.iter().fold(0.0_f64, |most, m| most.max(*m));
        write!(
            f,
            "no equilibrium was found for this solution (largest total {most:.3} mol/kg, alkalinity {:.3} eq/kg)",
            self.totals.alkalinity_eq_per_kg
        )
    }
}

impl std::error::Error for SpeciationError {}

const LN_10: f64 = std::f64::consts::LN_10;
/// Newton steps before another way is tried.
const STEPS: usize = 120;
/// Masters that a species may be made of; the table is checked for it.
pub(crate) const MOST_MASTERS: usize = 4;
/// Mass balances close to this, relative.
const CLOSED: f64 = 1e-12;
/// A Newton step moves the logarithm of a concentration by this at the most.
const LONGEST_STEP: f64 = 3.0;

/// The species that can exist with the masters at hand, in unknowns.
struct System<'a> {
    chemistry: &'a Chemistry,
    totals: &'a Totals,
    /// Masters with a mass balance of their own.
    balanced: Vec<MasterId>,
    /// Position among the unknowns by master; `usize::MAX` when it is none.
    unknown: Vec<usize>,
    /// Species that can exist.
    present: Vec<usize>,
    /// Carbonate, when its activity follows from the air instead of a balance.
    open: Option<(MasterId, f64)>,
}

impl<'a> System<'a> {
    fn new(chemistry: &'a Chemistry, totals: &'a Totals, air: Air) -> Self {
        let carbonate = chemistry.master("CO3-2");
        let open = carbonate.filter(|_| air == Air::Open).and_then(|carbonate| {
            let gas = &chemistry.species[chemistry.find("CO2")?];
            // CO2 = CO3-2 + 2 H+, so log a(CO3) = log a(CO2) - log K - 2 log a(H)
            Some((carbonate, (AIR_CO2_LOG_ACTIVITY - gas.log_k) * LN_10))
        });
        let mut unknown = vec![usize::MAX; chemistry.masters.len()];
        let mut balanced = Vec::new();
        for (at, total) in totals.mol_per_kg.iter().enumerate() {
            if *total > 0.0 && open.is_none_or(|(carbonate, _)| carbonate.0 != at) {
                unknown[at] = balanced.len();
                balanced.push(MasterId(at));
            }
        }
        let exists = |master: MasterId| unknown[master.0] != usize::MAX || open.is_some_and(|(c, _)| c == master);
        let present = (0..chemistry.species.len())
            .filter(|&at| chemistry.species[at].masters.iter().all(|(master, _)| exists(*master)))
            .collect();
        Self { chemistry, totals, balanced, unknown, present, open }
    }

    /// ln of the molality of a species from ln activities of the masters and of the proton.
    fn ln_molality(&self, species: &Species, ln_activity: &[f64], ln_proton: f64, ln_gamma: f64) -> f64 {
        let mut sum = species.log_k * LN_10 + species.protons * ln_proton - ln_gamma;
        for (master, count) in &species.masters {
            sum += count
                * match self.open {
                    Some((carbonate, offset)) if carbonate == *master => offset - 2.0 * ln_proton,
                    _ => ln_activity[self.unknown[master.0]],
                };
        }
        sum
    }

    /// Newton iteration on the logarithms of the activities; the ionic strength follows one step behind. `fixed` holds
    /// the proton's.
    fn newton(&self, start: &mut [f64], ln_proton: &mut f64, fixed: bool) -> Option<(Vec<f64>, f64)> {
        let count = self.balanced.len();
        let size = count + usize::from(!fixed);
        let mut strength = 0.0_f64;
        let mut molality = vec![0.0; self.chemistry.species.len()];
        let mut settled = false;
        for _ in 0..STEPS {
            let mut matrix = vec![0.0; size * size];
            let mut residual = vec![0.0; size];
            let mut scale = vec![0.0_f64; size];
            let mut squares = 0.0;
            for &at in &self.present {
                let species = &self.chemistry.species[at];
                let ln_gamma = log_activity(species, strength) * LN_10;
                let m = libm::exp(self.ln_molality(species, start, *ln_proton, ln_gamma).min(5.0));
                molality[at] = m;
                squares += m * f64::from(species.charge * species.charge);
                // protons that move with the proton's own activity, carbonate from the air included
                let mut protons = species.protons;
                let mut rows: [(usize, f64); MOST_MASTERS] = [(usize::MAX, 0.0); MOST_MASTERS];
                let mut used = 0;
                for (master, counted) in &species.masters {
                    if self.open.is_some_and(|(carbonate, _)| carbonate == *master) {
                        protons -= 2.0 * counted;
                    } else if used < rows.len() {
                        rows[used] = (self.unknown[master.0], *counted);
                        used += 1;
                    }
                }
                for (row, counted) in &rows[..used] {
                    residual[*row] += counted * m;
                    scale[*row] += counted * m;
                    for (column, other) in &rows[..used] {
                        matrix[row * size + column] += counted * other * m;
                    }
                    if !fixed {
                        matrix[row * size + count] += counted * protons * m;
                    }
                }
                if !fixed {
                    let alkalinity = species.alkalinity;
                    residual[count] += alkalinity * m;
                    scale[count] += alkalinity.abs() * m;
                    for (column, other) in &rows[..used] {
                        matrix[count * size + column] += alkalinity * other * m;
                    }
                    matrix[count * size + count] += alkalinity * protons * m;
                }
            }
            for (row, master) in self.balanced.iter().enumerate() {
                residual[row] -= self.totals.mol_per_kg[master.0];
                scale[row] = scale[row].max(self.totals.mol_per_kg[master.0]);
            }
            if !fixed {
                residual[count] -= self.totals.alkalinity_eq_per_kg;
                scale[count] = scale[count].max(self.totals.alkalinity_eq_per_kg.abs());
            }
            let new_strength = (0.5 * squares).min(10.0);
            let moved = (new_strength - strength).abs() / new_strength.max(1e-7);
            let off = residual.iter().zip(&scale).map(|(r, s)| r.abs() / s.max(1e-30)).fold(0.0, f64::max);
            if off < CLOSED && moved < CLOSED {
                settled = true;
                break;
            }
            // far from the solution the strength is followed only halfway
            strength = if moved > 0.5 { 0.5 * (strength + new_strength.min(1.0)) } else { new_strength };
            for row in 0..size {
                let factor = 1.0 / scale[row].max(1e-30);
                residual[row] *= factor;
                matrix[row * size..(row + 1) * size].iter_mut().for_each(|value| *value *= factor);
            }
            let step = eliminate(&mut matrix, &mut residual, size)?;
            let longest = step.iter().fold(0.0_f64, |most, s| most.max(s.abs()));
            let factor = if longest > LONGEST_STEP { LONGEST_STEP / longest } else { 1.0 };
            for (value, step) in start.iter_mut().zip(&step) {
                *value -= factor * step;
            }
            if !fixed {
                *ln_proton = (*ln_proton - factor * step[count]).clamp(-16.0 * LN_10, 2.0 * LN_10);
            }
        }
        settled.then_some((molality, strength))
    }

    /// A start that lets Newton converge: every master mostly as it is at this pH, judged roughly.
    fn start(&self, ln_proton: f64) -> Vec<f64> {
        let ph = -ln_proton / LN_10;
        self.balanced
            .iter()
            .map(|master| {
                let total = self.totals.mol_per_kg[master.0].ln();
                let shift = match self.chemistry.masters[master.0].as_str() {
                    "PO4-3" => -((7.2 - ph).max(0.0) + (12.3 - ph).max(0.0)),
                    "CO3-2" => -((6.35 - ph).max(0.0) + (10.3 - ph).max(0.0)),
                    "Citrate-3" => -((6.4 - ph).max(0.0) + (4.8 - ph).max(0.0)),
                    "CH3COO-" => -(4.8 - ph).max(0.0),
                    "Fe+3" => -(2.0 * (ph - 2.2)).max(0.0),
                    _ => -0.1,
                };
                total + shift * LN_10
            })
            .collect()
    }

    fn finish(&self, ln_activity: &[f64], ln_proton: f64, molality: Vec<f64>, strength: f64) -> Speciation {
        let log_activity = (0..self.chemistry.masters.len())
            .map(|at| match self.open {
                Some((carbonate, offset)) if carbonate.0 == at => (offset - 2.0 * ln_proton) / LN_10,
                _ if self.chemistry.masters[at] == "H+" => ln_proton / LN_10,
                _ if self.unknown[at] == usize::MAX => f64::NEG_INFINITY,
                _ => ln_activity[self.unknown[at]] / LN_10,
            })
            .collect();
        Speciation { mol_per_kg: molality, log_activity, ph: -ln_proton / LN_10, ionic_strength_mol_per_kg: strength }
    }
}

/// Solves `matrix x = right` with partial pivoting; `None` when it is singular.
fn eliminate(matrix: &mut [f64], right: &mut [f64], size: usize) -> Option<Vec<f64>> {
    for column in 0..size {
        let pivot =
            (column..size).max_by(|&a, &b| matrix[a * size + column].abs().total_cmp(&matrix[b * size + column].abs()))?;
        let size_of_pivot = matrix[pivot * size + column].abs();
        if size_of_pivot.is_nan() || size_of_pivot <= 1e-300 {
            return None;
        }
        if pivot != column {
            for at in 0..size {
                matrix.swap(pivot * size + at, column * size + at);
            }
            right.swap(pivot, column);
        }
        for row in column + 1..size {
            let factor = matrix[row * size + column] / matrix[column * size + column];
            if factor != 0.0 {
                for at in column..size {
                    matrix[row * size + at] -= factor * matrix[column * size + at];
                }
                right[row] -= factor * right[column];
            }
        }
    }
    let mut x = vec![0.0; size];
    for row in (0..size).rev() {
        let known: f64 = (row + 1..size).map(|at| matrix[row * size + at] * x[at]).sum();
        x[row] = (right[row] - known) / matrix[row * size + row];
    }
    x.iter().all(|x| x.is_finite()).then_some(x)
}

/// The equilibrium of a solution: free ions, complexes, acid-base forms and pH.
///
/// Mass balances of every master and the balance of alkalinity (the proton condition) are solved together by Newton's
/// method on the logarithms of the activities, with the ionic strength renewed at every step, to 1e-12 relative.
///
/// * `totals`: mol/kg of each master and alkalinity in eq/kg, from [`Chemistry::totals`]
/// * `air`: closed, or open to the carbon dioxide of the air
///
/// Returns molalities, activities, pH and ionic strength, at 25 C. The charges of an analysis need not balance: the pH
/// follows from the alkalinity alone. Good to an ionic strength of about 0.5 mol/kg.
///
/// # Errors
/// [`SpeciationError`] when no equilibrium is found.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::{Air, speciate}};
/// let catalogue = Catalogue::standard();
/// let mut mmol = vec![0.0; catalogue.ions().rows().len()];
/// for symbol in ["K+", "H2PO4-"] {
///     mmol[catalogue.ions().find(symbol).unwrap().0] = 10.0;
/// }
/// let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
/// let solution = speciate(catalogue.chemistry(), &totals, Air::Closed)?;
/// assert!((solution.ph - 4.7).abs() < 0.1, "{}", solution.ph);
/// # Ok::<(), bloomsalt::solution::SpeciationError>(())
/// ```
///
/// Reference: constants and activity model of phreeqc.dat 3.8; `docs/chemistry.md`.
pub fn speciate(chemistry: &Chemistry, totals: &Totals, air: Air) -> Result<Speciation, SpeciationError> {
    let system = System::new(chemistry, totals, air);
    for ph in [6.0, 4.0, 8.0, 2.5, 10.5] {
        let mut ln_proton = -ph * LN_10;
        let mut start = system.start(ln_proton);
        if let Some((molality, strength)) = system.newton(&mut start, &mut ln_proton, false) {
            return Ok(system.finish(&start, ln_proton, molality, strength));
        }
    }
    by_bisection(&system).ok_or_else(|| SpeciationError { totals: totals.clone() })
}

/// Alkalinity rises with pH, so where Newton fails the pH is closed in on.
fn by_bisection(system: &System) -> Option<Speciation> {
    let (mut low, mut high) = (-1.0_f64, 15.0_f64);
    let mut last = None;
    for _ in 0..70 {
        let ph = f64::midpoint(low, high);
        let mut ln_proton = -ph * LN_10;
        let mut start = system.start(ln_proton);
        let (molality, strength) = system.newton(&mut start, &mut ln_proton, true)?;
        let alkalinity: f64 = molality.iter().zip(&system.chemistry.species).map(|(m, s)| m * s.alkalinity).sum();
        if alkalinity < system.totals.alkalinity_eq_per_kg {
            low = ph;
        } else {
            high = ph;
        }
        last = Some(system.finish(&start, ln_proton, molality, strength));
    }
    last
}

/// The equilibrium at a given pH, whatever alkalinity that takes.
///
/// * `ph`: -1 to 15
///
/// Otherwise as [`speciate`]; the alkalinity that belongs to it is the sum over the species.
///
/// # Errors
/// As [`speciate`].
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::{Air, speciate_at_ph}};
/// let catalogue = Catalogue::standard();
/// let totals = catalogue.chemistry().totals(catalogue.ions(), &vec![0.0; catalogue.ions().rows().len()]);
/// let water = speciate_at_ph(catalogue.chemistry(), &totals, Air::Closed, 7.0)?;
/// assert!((water.ionic_strength_mol_per_kg - 1e-7).abs() < 1e-8);
/// # Ok::<(), bloomsalt::solution::SpeciationError>(())
/// ```
///
/// Reference: as [`speciate`].
pub fn speciate_at_ph(chemistry: &Chemistry, totals: &Totals, air: Air, ph: f64) -> Result<Speciation, SpeciationError> {
    let system = System::new(chemistry, totals, air);
    let mut ln_proton = -ph * LN_10;
    let mut start = system.start(ln_proton);
    let (molality, strength) =
        system.newton(&mut start, &mut ln_proton, true).ok_or_else(|| SpeciationError { totals: totals.clone() })?;
    Ok(system.finish(&start, ln_proton, molality, strength))
}
