//! What a mix already made contains.

use uom::si::volume::liter as in_liters;

use super::describe::{Made, describe};
use super::error::JobError;
use super::measure::{Measured, grams_of, instruments, measured};
use super::parts::Parts;
use super::record::{Measure, MixRecord};
use crate::bench::{Bench, Stock};
use crate::catalogue::SaltId;
use crate::quantity::{Amount, milliliter};
use crate::solution::MeterScale;

/// A salt and how much of it went in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Added {
    /// Which salt.
    pub salt: SaltId,
    /// How much, weighed or drawn up.
    pub amount: Amount,
}

/// What a tank holds after `added` went into the bench's water: concentrations, EC, pH, what may fall out, what to watch.
///
/// Every salt, acid and base of the table may be named, on the shelf or not; the shelf's purity counts where it is stated.
///
/// # Errors
/// [`JobError::NoEquilibrium`] when the solution is beyond the model; [`JobError::SolidByVolume`] for millilitres of a solid.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, Added}, quantity::{Amount, gram}};
/// let bench = Bench::starter();
/// let salt = bench.catalogue.find("potassium-nitrate").unwrap();
/// let record = jobs::check(&bench, &[Added { salt, amount: Amount::Mass(gram(60.0)) }], None)?;
/// assert!((record.nitrate_n_ppm - 138.54).abs() < 0.01);
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn check(bench: &Bench, added: &[Added], meter: Option<MeterScale>) -> Result<MixRecord, JobError> {
    let litres = bench.tank.volume.get::<in_liters>();
    let mut stocks: Vec<Stock> = Vec::new();
    let mut doses: Vec<Measured> = Vec::new();
    for added in added {
        let salt = bench.catalogue.salt(added.salt);
        let density = salt.density_kg_per_l;
        let grams = match (added.amount, density) {
            (Amount::Mass(mass), _) => grams_of(mass),
            (Amount::Volume(volume), Some(density)) => milliliter(volume) * density,
            (Amount::Volume(_), None) => return Err(JobError::SolidByVolume { name: salt.name.clone() }),
        };
        // as good as the instrument that would have been used; the finest where none could be trusted
        let as_measured = measured(&instruments(bench, density), density, grams);
        doses.push(Measured {
            measure: Some(if salt.is_liquid() { Measure::Syringe } else { Measure::Scale }),
            amount: grams,
            millilitres: density.map(|density| grams / density),
            scale_g: None,
            portions: 1,
            ..as_measured
        });
        stocks.push(Stock { on_hand: None, ..bench.stock(added.salt) });
    }
    let exact: Vec<f64> = doses.iter().map(|m| m.amount / litres).collect();
    let parts = Parts::of_stocks(bench, &stocks);
    let made = Made {
        job: "check",
        bench,
        formula: None,
        parts: &parts,
        exact_per_l: &exact,
        measured: &doses,
        proposed: &[],
        misfit_exact: None,
        proved: false,
        stages: Vec::new(),
        acid: None,
        findings: Vec::new(),
    };
    describe(&made, meter)
}
