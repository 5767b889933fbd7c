//! The balances of a solution in logarithms of activities, and Newton's method on them.

use super::{AIR_CO2_LOG_ACTIVITY, Air, Speciation};
use crate::solution::activity::{log_activity, log_activity_slope};
use crate::solution::{Chemistry, MasterId, Species, Totals};

const LN_10: f64 = std::f64::consts::LN_10;
/// Newton steps before another way is tried.
const STEPS: usize = 120;
/// Masters that a species may be made of; the table is checked for it.
pub(crate) const MOST_MASTERS: usize = 4;
/// Mass balances close to this, relative.
const CLOSED: f64 = 1e-12;
/// Beyond this relative change the ionic strength is no unknown of the Newton step.
const FOLLOWS: f64 = 0.5;
/// Where activity coefficients change without bound with the ionic strength, mol/kg.
const LEAST_STRENGTH: f64 = 1e-12;
/// A Newton step moves the logarithm of a concentration by this at the most.
const LONGEST_STEP: f64 = 3.0;

/// The species that can exist with the masters at hand, in unknowns.
pub(in crate::solution) struct System<'a> {
    pub(in crate::solution) chemistry: &'a Chemistry,
    pub(in crate::solution) totals: &'a Totals,
    /// Masters with a mass balance of their own.
    pub(in crate::solution) balanced: Vec<MasterId>,
    /// Position among the unknowns by master; `usize::MAX` when it is none.
    unknown: Vec<usize>,
    /// Species that can exist.
    present: Vec<Present<'a>>,
    /// Carbonate, when its activity follows from the air instead of a balance.
    open: Option<(MasterId, f64)>,
}

/// A species in terms of the unknowns.
struct Present<'a> {
    /// Its position in [`Chemistry::species`].
    at: usize,
    species: &'a Species,
    /// ln of its formation constant, what comes from the air included.
    ln_k: f64,
    /// Protons that move with the proton's own activity, those of carbonate from the air included.
    protons: f64,
    /// Unknown and count of each master with a balance of its own.
    rows: [(usize, f64); MOST_MASTERS],
    /// How many of these there are.
    used: usize,
}

/// Where the unknowns stand.
#[derive(Debug, Clone)]
pub(in crate::solution) struct Point {
    /// ln of the activity of each balanced master.
    ln_activity: Vec<f64>,
    ln_proton: f64,
    /// Ionic strength, mol/kg.
    strength: f64,
}

/// The balances at a point: of the masters, of alkalinity unless the proton's activity is given, of the ionic strength.
pub(in crate::solution) struct Balances {
    pub(in crate::solution) size: usize,
    /// Slope of each balance by each unknown, row by row.
    pub(in crate::solution) jacobian: Vec<f64>,
    residual: Vec<f64>,
    /// What each balance is measured against.
    pub(in crate::solution) scale: Vec<f64>,
    /// mol/kg of each species.
    molality: Vec<f64>,
    /// The ionic strength that the species make.
    made: f64,
}

impl<'a> System<'a> {
    pub(in crate::solution) fn new(chemistry: &'a Chemistry, totals: &'a Totals, air: Air) -> Self {
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
        let present = chemistry
            .species
            .iter()
            .enumerate()
            .filter_map(|(at, species)| {
                let mut one = Present {
                    at,
                    species,
                    ln_k: species.log_k * LN_10,
                    protons: species.protons,
                    rows: [(usize::MAX, 0.0); MOST_MASTERS],
                    used: 0,
                };
                for (master, count) in &species.masters {
                    match open {
                        Some((carbonate, offset)) if carbonate == *master => {
                            one.ln_k += count * offset;
                            one.protons -= 2.0 * count;
                        }
                        _ if unknown[master.0] == usize::MAX => return None,
                        _ => {
                            one.rows[one.used] = (unknown[master.0], *count);
                            one.used += 1;
                        }
                    }
                }
                Some(one)
            })
            .collect();
        Self { chemistry, totals, balanced, unknown, present, open }
    }

    /// The balances at a point; with `fixed` the proton's activity is given.
    fn balances(&self, point: &Point, fixed: bool) -> Balances {
        let count = self.balanced.len();
        let size = count + usize::from(!fixed) + 1;
        let last = size - 1;
        let mut found = Balances {
            size,
            jacobian: vec![0.0; size * size],
            residual: vec![0.0; size],
            scale: vec![0.0; size],
            molality: vec![0.0; self.chemistry.species.len()],
            made: 0.0,
        };
        for one in &self.present {
            let species = one.species;
            let rows = &one.rows[..one.used];
            let ln_gamma = log_activity(species, point.strength) * LN_10;
            let mut ln_m = one.ln_k + one.protons * point.ln_proton - ln_gamma;
            for (row, counted) in rows {
                ln_m += counted * point.ln_activity[*row];
            }
            let m = libm::exp(ln_m.min(5.0));
            let by_strength = -m * log_activity_slope(species, point.strength.max(LEAST_STRENGTH)) * LN_10;
            found.molality[one.at] = m;
            let half_square = 0.5 * f64::from(species.charge * species.charge);
            found.made += half_square * m;
            let mut add = |row: usize, counted: f64| {
                found.residual[row] += counted * m;
                found.scale[row] += (counted * m).abs();
                let slopes = &mut found.jacobian[row * size..(row + 1) * size];
                for (column, other) in rows {
                    slopes[*column] += counted * other * m;
                }
                if !fixed {
                    slopes[count] += counted * one.protons * m;
                }
                slopes[last] += counted * by_strength;
            };
            for (row, counted) in rows {
                add(*row, *counted);
            }
            if !fixed && species.alkalinity != 0.0 {
                add(count, species.alkalinity);
            }
            if half_square > 0.0 {
                add(last, half_square);
            }
        }
        let given = self.balanced.iter().map(|master| self.totals.mol_per_kg[master.0]);
        let given = given.chain((!fixed).then_some(self.totals.alkalinity_eq_per_kg)).chain([point.strength]);
        for (row, given) in given.enumerate() {
            found.residual[row] -= given;
            found.scale[row] = found.scale[row].max(given.abs()).max(1e-30);
        }
        found.jacobian[size * size - 1] -= 1.0;
        found
    }

    /// Newton iteration on the logarithms of the activities and on the ionic strength. `fixed` holds the proton's activity.
    pub(in crate::solution) fn newton(&self, mut point: Point, fixed: bool) -> Option<(Point, Vec<f64>)> {
        let count = self.balanced.len();
        for _ in 0..STEPS {
            let Balances { size, mut jacobian, mut residual, scale, molality, made } = self.balances(&point, fixed);
            let last = size - 1;
            let made = made.min(10.0);
            let moved = (made - point.strength).abs() / made.max(1e-7);
            let off = residual[..last].iter().zip(&scale).map(|(r, s)| r.abs() / s).fold(0.0, f64::max);
            if off < CLOSED && moved < CLOSED {
                return Some((point, molality));
            }
            for row in 0..size {
                let factor = 1.0 / scale[row];
                residual[row] *= factor;
                jacobian[row * size..(row + 1) * size].iter_mut().for_each(|value| *value *= factor);
            }
            // far from the solution the strength follows one step behind, and only halfway
            let follows = moved > FOLLOWS;
            if follows {
                (0..last).for_each(|row| jacobian[row * size + last] = 0.0);
            }
            let step = eliminate(&mut jacobian, &mut residual, size)?;
            let longest = step[..last].iter().fold(0.0_f64, |most, s| most.max(s.abs()));
            let factor = if longest > LONGEST_STEP { LONGEST_STEP / longest } else { 1.0 };
            for (value, step) in point.ln_activity.iter_mut().zip(&step) {
                *value -= factor * step;
            }
            if !fixed {
                point.ln_proton = (point.ln_proton - factor * step[count]).clamp(-16.0 * LN_10, 2.0 * LN_10);
            }
            point.strength = if follows {
                0.5 * (point.strength + made.min(1.0))
            } else {
                (point.strength - factor * step[last]).clamp(0.5 * made, 2.0 * made)
            };
        }
        None
    }

    /// A start that lets Newton converge: every master mostly as it is at this pH, judged roughly.
    pub(in crate::solution) fn start(&self, ph: f64) -> Point {
        let of = |master: &MasterId| {
            let shift = match self.chemistry.masters[master.0].as_str() {
                "PO4-3" => -((7.2 - ph).max(0.0) + (12.3 - ph).max(0.0)),
                "CO3-2" => -((6.35 - ph).max(0.0) + (10.3 - ph).max(0.0)),
                "Citrate-3" => -((6.4 - ph).max(0.0) + (4.8 - ph).max(0.0)),
                "CH3COO-" => -(4.8 - ph).max(0.0),
                "Fe+3" => -(2.0 * (ph - 2.2)).max(0.0),
                _ => -0.1,
            };
            libm::log(self.totals.mol_per_kg[master.0]) + shift * LN_10
        };
        Point { ln_activity: self.balanced.iter().map(of).collect(), ln_proton: -ph * LN_10, strength: 0.0 }
    }

    /// A start from a solution that is not far; masters that it lacks as at any start.
    pub(in crate::solution) fn near(&self, other: &Speciation) -> Point {
        let mut point = self.start(other.ph);
        for (ln_activity, master) in point.ln_activity.iter_mut().zip(&self.balanced) {
            let known = other.log_activity[master.0] * LN_10;
            if known.is_finite() {
                *ln_activity = known;
            }
        }
        point.strength = other.ionic_strength_mol_per_kg;
        point
    }

    pub(in crate::solution) fn finish(&self, (point, molality): (Point, Vec<f64>)) -> Speciation {
        let log_activity = (0..self.chemistry.masters.len())
            .map(|at| match self.open {
                Some((carbonate, offset)) if carbonate.0 == at => (offset - 2.0 * point.ln_proton) / LN_10,
                _ if self.chemistry.masters[at] == "H+" => point.ln_proton / LN_10,
                _ if self.unknown[at] == usize::MAX => f64::NEG_INFINITY,
                _ => point.ln_activity[self.unknown[at]] / LN_10,
            })
            .collect();
        let ph = -point.ln_proton / LN_10;
        Speciation { mol_per_kg: molality, log_activity, ph, ionic_strength_mol_per_kg: point.strength }
    }

    /// The balances at a solution, with the slope of a sum over its species by each unknown.
    pub(in crate::solution) fn around(&self, solution: &Speciation, by_species: &[f64]) -> (Balances, Vec<f64>) {
        let point = self.near(solution);
        let balances = self.balances(&point, false);
        let (count, last) = (self.balanced.len(), balances.size - 1);
        let mut slopes = vec![0.0; balances.size];
        for one in self.present.iter().filter(|one| by_species[one.at] != 0.0) {
            let by_ln_m = by_species[one.at] * balances.molality[one.at];
            one.rows[..one.used].iter().for_each(|(row, counted)| slopes[*row] += counted * by_ln_m);
            slopes[count] += one.protons * by_ln_m;
            slopes[last] -= by_ln_m * log_activity_slope(one.species, point.strength.max(LEAST_STRENGTH)) * LN_10;
        }
        (balances, slopes)
    }
}
/// Solves `matrix x = right` with partial pivoting; `None` when it is singular.
pub(in crate::solution) fn eliminate(matrix: &mut [f64], right: &mut [f64], size: usize) -> Option<Vec<f64>> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::solution::speciate_at_ph;

    /// A weak acid in thin solution is nearly what its own constants make of it, and Newton starts from there: within a factor of
    /// 3 of the free ion that is found in the end, which is down to 1e-14 of all.
    #[test]
    fn newton_starts_near_the_free_ion_of_a_weak_acid_at_any_ph() {
        let chemistry = Catalogue::standard().chemistry();
        for symbol in ["PO4-3", "CO3-2", "Citrate-3", "CH3COO-"] {
            let master = chemistry.master(symbol).unwrap();
            let mut totals = Totals { mol_per_kg: vec![0.0; chemistry.masters.len()], alkalinity_eq_per_kg: 0.0 };
            totals.mol_per_kg[master.0] = 1e-6;
            for half_ph in 6..=22 {
                let ph = f64::from(half_ph) / 2.0;
                let start = System::new(chemistry, &totals, Air::Closed).start(ph).ln_activity[0] / LN_10;
                let found = speciate_at_ph(chemistry, &totals, Air::Closed, ph).unwrap().log_activity[master.0];
                assert!((start - found).abs() < f64::log10(3.0), "{symbol} at {ph}: {start} {found}");
            }
        }
    }
}
