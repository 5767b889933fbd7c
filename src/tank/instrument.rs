//! From an amount to what an instrument can show.

use uom::si::f64::Mass;
use uom::si::mass::gram as in_grams;

use schemars::JsonSchema;
use serde::Serialize;

use crate::bench::{Bench, smallest_steps};
use crate::fit::{Flight, Ladder};
use crate::quantity::{milliliter, whole_steps};
use crate::safety::Finest;

/// How a dose is measured out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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
    /// Equal portions.
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

/// The instrument that can be trusted with the least.
pub(crate) fn finest(instruments: &[Instrument], density: Option<f64>) -> Finest {
    let least = instruments.iter().min_by(|a, b| a.smallest().total_cmp(&b.smallest()));
    least.map_or(Finest { smallest_g: f64::INFINITY, step_g: f64::INFINITY, density_g_per_ml: None }, |i| Finest {
        smallest_g: i.smallest(),
        step_g: i.step,
        density_g_per_ml: density,
    })
}

/// What can be measured: each amount on the coarsest instrument that can be trusted with it, up to `most`.
#[allow(clippy::cast_possible_truncation, reason = "clamped to what a tank can need")]
pub(crate) fn ladder(instruments: &[Instrument], most: Option<f64>) -> Ladder {
    // a tank of 100 m3 at 5000 ppm in the finest steps
    const LAST: f64 = 1e13;
    let mut flights = Vec::new();
    let mut under = f64::INFINITY;
    for instrument in instruments.iter().filter(|i| i.step > 0.0) {
        if instrument.smallest() >= under {
            continue;
        }
        let below = (under / instrument.step - 1e-9).ceil() - 1.0;
        let there = most.map_or(LAST, |most| (most / instrument.step * (1.0 + 1e-12) + 1e-9).floor());
        flights.push(Flight {
            step: instrument.step,
            first: instrument.smallest_steps as i64,
            last: below.min(there).min(LAST) as i64,
        });
        under = instrument.smallest();
    }
    flights.reverse();
    Ladder::new(flights)
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

#[cfg(test)]
mod tests {
    use super::*;

    fn bench(scales: &str) -> Bench {
        let text = format!("[tank]\nvolume = \"10 L\"\n{scales}\n[shelf]\npotassium-nitrate = {{ on_hand = \"30 g\" }}\n");
        Bench::parse(&text, "test").unwrap()
    }

    #[test]
    fn the_coarsest_trusted_scale_is_used_and_rounded_to_its_step() {
        let bench = bench("[[scale]]\nreadability = \"0.1 g\"\n[[scale]]\nreadability = \"0.001 g\"\ncapacity = \"1 g\"\n");
        let scales = instruments(&bench, None);
        let ladder = ladder(&scales, Some(30.0));
        let of = |grams| measured(&scales, None, ladder.amount(ladder.nearest(grams)));
        assert_eq!((of(18.206).amount, of(18.206).scale_g), (18.2, Some(0.1)));
        assert_eq!((of(2.0).amount, of(2.0).scale_g), (2.0, Some(0.1)));
        assert_eq!((of(1.999_4).amount, of(1.999_4).portions), (1.999, 2));
        assert_eq!(of(0.02).scale_g, Some(0.001));
        assert_eq!((of(0.009).amount, of(0.009).measure), (0.0, None));
        // never more than what is on hand
        assert_eq!((of(29.98).amount, of(31.0).amount), (30.0, 30.0));
    }

    #[test]
    fn smallest_weights_are_whole_steps_rounded_up() {
        let bench = bench("[[scale]]\nreadability = \"0.3 g\"\ntrust = 0.07\n");
        // 1 / 0.07 = 14.3, so 15 steps
        assert!((finest(&instruments(&bench, None), None).smallest_g - 4.5).abs() < 1e-12);
    }

    #[test]
    fn a_finer_scale_serves_up_to_where_the_coarser_can_be_trusted() {
        let bench = bench("[[scale]]\nreadability = \"0.1 g\"\n[[scale]]\nreadability = \"0.001 g\"\n");
        let ladder = ladder(&instruments(&bench, None), None);
        let at = |amount: f64| ladder.at_most(amount);
        assert!((ladder.amount(1) - 0.02).abs() < 1e-12);
        assert!((ladder.amount(at(1.999_9)) - 1.999).abs() < 1e-12);
        assert!((ladder.amount(at(1.999_9) + 1) - 2.0).abs() < 1e-12);
        assert!((ladder.amount(at(2.05) + 1) - 2.1).abs() < 1e-12);
    }
}
