//! From an amount to what an instrument can show.

use uom::si::f64::Mass;
use uom::si::mass::gram as in_grams;

use serde::Serialize;

use crate::bench::{Bench, smallest_steps};
use crate::quantity::{milliliter, whole_steps};

/// How a dose is measured out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Measure {
    /// Weighed.
    Scale,
    /// Drawn up.
    Syringe,
    /// Drawn up from a dilute bottle.
    Helper,
}

/// A dose as measured out, in the unit of its part: g of a salt, mL of a bottle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Measured {
    /// With what; `None` when nothing on the bench can be trusted with it, or nothing of it is needed.
    pub(crate) measure: Option<Measure>,
    /// The amount; 0 when it cannot be measured.
    pub(crate) amount: f64,
    /// mL, for what the syringe draws up.
    pub(crate) millilitres: Option<f64>,
    /// Step of the scale, g.
    pub(crate) scale_g: Option<f64>,
    /// Portions, none of them more than the instrument takes at once.
    pub(crate) portions: u32,
    /// Standard deviation of `amount`: half a step, rectangular, once for each portion; that of the finest instrument where
    /// none can be trusted.
    pub(crate) deviation: f64,
}

/// An instrument, in the unit of what it measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Instrument {
    pub(crate) step: f64,
    pub(crate) smallest_steps: f64,
    capacity: Option<f64>,
}

impl Instrument {
    /// The smallest amount that it can be trusted with.
    pub(crate) fn smallest(&self) -> f64 {
        whole_steps(self.smallest_steps, self.step)
    }
}

pub(crate) fn grams_of(mass: Mass) -> f64 {
    mass.get::<in_grams>()
}

/// The instruments for something of this density (`None`: weighed), coarsest first.
pub(crate) fn instruments(bench: &Bench, density: Option<f64>) -> Vec<Instrument> {
    match density {
        Some(density) => vec![Instrument {
            step: milliliter(bench.syringe.step) * density,
            smallest_steps: smallest_steps(bench.syringe.trust),
            capacity: bench.syringe.capacity.map(|capacity| milliliter(capacity) * density),
        }],
        None => bench
            .scales
            .iter()
            .map(|scale| Instrument {
                step: grams_of(scale.readability),
                smallest_steps: smallest_steps(scale.trust),
                capacity: scale.capacity.map(grams_of),
            })
            .collect(),
    }
}

/// The smallest amount that any instrument can be trusted with, for something of this density (`None`: weighed).
pub(crate) fn smallest(bench: &Bench, density: Option<f64>) -> f64 {
    instruments(bench, density).iter().map(Instrument::smallest).fold(f64::INFINITY, f64::min)
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of portions, at least 1")]
fn portions(amount: f64, capacity: Option<f64>) -> u32 {
    capacity.map_or(1, |capacity| (amount / capacity - 1e-9).ceil().max(1.0) as u32)
}

/// How `amount` is measured.
pub(crate) fn measured(instruments: &[Instrument], density: Option<f64>, amount: f64) -> Measured {
    let trusted = instruments.iter().find(|i| amount >= i.smallest() * (1.0 - 1e-9));
    let Some(chosen) = trusted else {
        let finest = instruments.iter().min_by(|a, b| a.step.total_cmp(&b.step));
        let deviation = finest.map_or(0.0, |finest| finest.step / 12.0_f64.sqrt());
        return Measured { measure: None, amount: 0.0, millilitres: None, scale_g: None, portions: 1, deviation };
    };
    let portions = portions(amount, chosen.capacity);
    let millilitres = density.map(|density| whole_steps((amount / chosen.step).round(), chosen.step / density));
    Measured {
        measure: Some(if density.is_some() { Measure::Syringe } else { Measure::Scale }),
        amount,
        millilitres,
        scale_g: density.is_none().then_some(chosen.step),
        portions,
        deviation: chosen.step / 12.0_f64.sqrt() * f64::from(portions).sqrt(),
    }
}
