//! Total concentrations to free ions, complexes and acid-base forms.

pub(super) mod system;

use std::fmt;

use self::system::System;
use super::{Chemistry, Totals};

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
#[non_exhaustive]
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

/// Masters together beyond which nothing is looked for, mol/kg: far over what the activity model stands for, and under what a
/// kilogram of water dissolves of hardly any salt. Own choice.
const MOST_MOL_PER_KG: f64 = 10.0;

/// No equilibrium was found.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
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

/// The equilibrium of a solution: free ions, complexes, acid-base forms and pH.
///
/// Mass balances of every master and the balance of alkalinity (the proton condition) are solved together by Newton's
/// method on the logarithms of the activities and on the ionic strength, to 1e-12 relative.
///
/// * `totals`: mol/kg of each master and alkalinity in eq/kg, from [`Chemistry::totals`]
/// * `air`: closed, or open to the carbon dioxide of the air
///
/// Returns molalities, activities, pH and ionic strength, at 25 C. The charges of an analysis need not balance: the pH
/// follows from the alkalinity alone. Good to an ionic strength of about 0.5 mol/kg.
///
/// # Errors
/// [`SpeciationError`] when no equilibrium is found, and beyond 10 mol/kg of all masters together.
///
/// # Examples
/// ```
/// use bloomsalt::{catalogue::Catalogue, solution::{Air, speciate}};
/// let catalogue = Catalogue::standard();
/// let mut mmol = vec![0.0; catalogue.ions().rows().len()];
/// for symbol in ["K+", "H2PO4-"] {
///     mmol[catalogue.ions().find(symbol).unwrap().index()] = 10.0;
/// }
/// let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
/// let solution = speciate(catalogue.chemistry(), &totals, Air::Closed)?;
/// assert!((solution.ph - 4.7).abs() < 0.1, "{}", solution.ph);
/// # Ok::<(), bloomsalt::solution::SpeciationError>(())
/// ```
///
/// Reference: constants and activity model of phreeqc.dat 3.8; `docs/chemistry.md`.
pub fn speciate(chemistry: &Chemistry, totals: &Totals, air: Air) -> Result<Speciation, SpeciationError> {
    within_the_model(totals)?;
    let system = System::new(chemistry, totals, air);
    let found = [6.0, 4.0, 8.0, 2.5, 10.5].into_iter().find_map(|ph| system.newton(system.start(ph), false));
    let found = found.map(|found| system.finish(found)).or_else(|| by_bisection(&system));
    found.ok_or_else(|| SpeciationError { totals: totals.clone() })
}

/// As [`speciate`], from a solution that is not far off: the same equilibrium, found sooner.
///
/// # Errors
/// As [`speciate`].
pub(crate) fn speciate_near(
    chemistry: &Chemistry,
    totals: &Totals,
    air: Air,
    other: &Speciation,
) -> Result<Speciation, SpeciationError> {
    within_the_model(totals)?;
    let system = System::new(chemistry, totals, air);
    match system.newton(system.near(other), false) {
        Some(found) => Ok(system.finish(found)),
        None => speciate(chemistry, totals, air),
    }
}

/// So much that no equilibrium stands for it, at once: a search would try every start in vain.
fn within_the_model(totals: &Totals) -> Result<(), SpeciationError> {
    let within = totals.mol_per_kg.iter().sum::<f64>() <= MOST_MOL_PER_KG;
    if within { Ok(()) } else { Err(SpeciationError { totals: totals.clone() }) }
}

/// Alkalinity rises with pH, so where Newton fails the pH is closed in on.
fn by_bisection(system: &System) -> Option<Speciation> {
    let (mut low, mut high) = (-1.0_f64, 15.0_f64);
    let mut last = None;
    for _ in 0..70 {
        let ph = f64::midpoint(low, high);
        let (point, molality) = system.newton(system.start(ph), true)?;
        let alkalinity: f64 = molality.iter().zip(&system.chemistry.species).map(|(m, s)| m * s.alkalinity).sum();
        if alkalinity < system.totals.alkalinity_eq_per_kg {
            low = ph;
        } else {
            high = ph;
        }
        last = Some(system.finish((point, molality)));
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
    let found = system.newton(system.start(ph), true).ok_or_else(|| SpeciationError { totals: totals.clone() })?;
    Ok(system.finish(found))
}

#[cfg(test)]
mod tests {
    use super::{Air, System, by_bisection, speciate};
    use crate::catalogue::Catalogue;

    /// The way where Newton finds nothing comes to the same pH as Newton, of which the alkalinity is that of the totals.
    #[test]
    fn closing_in_on_the_ph_finds_what_newton_finds() {
        let catalogue = Catalogue::standard();
        let chemistry = catalogue.chemistry();
        for salts in [
            &[("K+", 10.0), ("H2PO4-", 10.0)][..],
            &[("Ca+2", 2.0), ("HCO3-", 3.0), ("NO3-", 1.0)],
            &[("K+", 6.0), ("H+", 2.0), ("H2PO4-", 1.0), ("SO4-2", 3.5)],
        ] {
            let mut mmol = vec![0.0; catalogue.ions().rows().len()];
            for (symbol, amount) in salts {
                mmol[catalogue.ions().find(symbol).expect("an ion").index()] = *amount;
            }
            let totals = chemistry.totals(catalogue.ions(), &mmol);
            let newton = speciate(chemistry, &totals, Air::Closed).expect("an equilibrium");
            let found = by_bisection(&System::new(chemistry, &totals, Air::Closed)).expect("an equilibrium");
            assert!((found.ph - newton.ph).abs() < 1e-6, "{salts:?}: {} {}", found.ph, newton.ph);
            let held: f64 = found.mol_per_kg.iter().zip(&chemistry.species).map(|(m, s)| m * s.alkalinity).sum();
            assert!((held - totals.alkalinity_eq_per_kg).abs() < 1e-8, "{salts:?}: {held}");
        }
    }
}
