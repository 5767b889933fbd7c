//! How EC answers to what a solution holds: every slope at once, from the equations of the equilibrium.

use super::conductivity::slope_by_species;
use super::speciate::system::{System, eliminate};
use super::{Air, Chemistry, Speciation, Totals};

/// Slopes of a number by the totals of a solution.
#[derive(Debug, Clone, PartialEq)]
pub struct Slopes {
    /// By mol/kg of each master; 0 for those that are not there.
    pub by_master: Vec<f64>,
    /// By eq/kg of alkalinity.
    pub by_alkalinity: f64,
}

/// Slope of EC at 25 C by every total of a solution in closed water, mS/cm per mol/kg.
///
/// At the equilibrium F(u, totals) = 0 of the unknowns u, with the Jacobian J of Newton's method and the slopes g of EC by
/// u, the solution of J^T y = g is the slope by every total: one solve in place of two equilibria for each.
///
/// * `totals`: what the solution holds
/// * `solution`: its equilibrium, from [`super::speciate`]
///
/// Returns `None` where the equations are singular.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::{Air, conductivity_slopes, speciate}};
/// let table = Catalogue::standard();
/// let mut mmol = vec![0.0; table.ions().rows().len()];
/// for symbol in ["K+", "Cl-"] {
///     mmol[table.ions().find(symbol).unwrap().index()] = 1.0;
/// }
/// let totals = table.chemistry().totals(table.ions(), &mmol);
/// let solution = speciate(table.chemistry(), &totals, Air::Closed)?;
/// let slopes = conductivity_slopes(table.chemistry(), &totals, &solution).unwrap();
/// let of = |symbol| slopes.by_master[table.chemistry().master(symbol).unwrap().index()] * 1e-3;
/// assert!((of("K+") + of("Cl-") - 0.14).abs() < 0.01, "a mmol of KCl conducts some 0.14 mS/cm");
/// # Ok::<(), bloomsalt::solution::SpeciationError>(())
/// ```
///
/// Reference: the adjoint of an implicit equation; tests/chemistry.rs holds it against differences.
#[must_use]
pub fn conductivity_slopes(chemistry: &Chemistry, totals: &Totals, solution: &Speciation) -> Option<Slopes> {
    let system = System::new(chemistry, totals, Air::Closed);
    let (balances, mut slopes) = system.around(solution, &slope_by_species(chemistry, solution));
    let size = balances.size;
    let mut transposed = vec![0.0; size * size];
    for row in 0..size {
        for column in 0..size {
            transposed[column * size + row] = balances.jacobian[row * size + column] / balances.scale[row];
        }
    }
    let scaled = eliminate(&mut transposed, &mut slopes, size)?;
    let of = |row: usize| scaled[row] / balances.scale[row];
    let mut by_master = vec![0.0; chemistry.masters.len()];
    for (row, master) in system.balanced.iter().enumerate() {
        by_master[master.0] = of(row);
    }
    Some(Slopes { by_master, by_alkalinity: of(system.balanced.len()) })
}
