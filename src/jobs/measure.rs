//! From an exact dose to what an instrument can show.

use uom::si::f64::Mass;
use uom::si::mass::gram as in_grams;

use super::record::Measure;
use crate::bench::{Bench, Stock, smallest_steps};
use crate::quantity::milliliter;
use crate::safety::Finest;

/// A dose as measured out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Measured {
    /// With what; `None` when nothing on the bench can be trusted with it.
    pub(super) measure: Option<Measure>,
    /// g; 0 when it cannot be measured.
    pub(super) grams: f64,
    /// mL, for liquids.
    pub(super) millilitres: Option<f64>,
    /// Step of the scale, g.
    pub(super) scale_g: Option<f64>,
    /// Equal portions.
    pub(super) portions: u32,
    /// Standard deviation of `grams`: half a step, rectangular, once for each portion.
    pub(super) deviation_g: f64,
    /// The finest instrument for this salt.
    pub(super) finest: Finest,
}

/// An instrument in grams.
struct Instrument {
    step_g: f64,
    smallest_g: f64,
    capacity_g: Option<f64>,
}

fn grams_of(mass: Mass) -> f64 {
    mass.get::<in_grams>()
}

/// Whole steps without a last-bit tail: 182 x 0.1 is 18.2.
fn steps_to_amount(steps: f64, step: f64) -> f64 {
    let inverse = (1.0 / step).round();
    if (inverse * step - 1.0).abs() < 1e-12 { steps / inverse } else { steps * step }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of portions, at least 1")]
fn portions(amount: f64, capacity: Option<f64>) -> u32 {
    capacity.map_or(1, |capacity| (amount / capacity - 1e-9).ceil().max(1.0) as u32)
}

/// Measures `exact_g` on the coarsest scale that can be trusted with it, liquids by the syringe; never more than what is on hand.
pub(super) fn measure(bench: &Bench, stock: &Stock, exact_g: f64) -> Measured {
    let density = bench.salt(stock).density_kg_per_l;
    let instruments: Vec<Instrument> = match density {
        Some(density) => {
            let step_g = milliliter(bench.syringe.step) * density;
            vec![Instrument {
                step_g,
                smallest_g: smallest_steps(bench.syringe.trust) * step_g,
                capacity_g: bench.syringe.capacity.map(|capacity| milliliter(capacity) * density),
            }]
        }
        None => bench
            .scales
            .iter()
            .map(|scale| {
                let step_g = grams_of(scale.readability);
                Instrument {
                    step_g,
                    smallest_g: steps_to_amount(smallest_steps(scale.trust), step_g),
                    capacity_g: scale.capacity.map(grams_of),
                }
            })
            .collect(),
    };
    let finest = instruments
        .iter()
        .map(|i| Finest { smallest_g: i.smallest_g, step_g: i.step_g, density_g_per_ml: density })
        .reduce(|a, b| if b.smallest_g < a.smallest_g { b } else { a })
        .unwrap_or(Finest { smallest_g: f64::INFINITY, step_g: f64::INFINITY, density_g_per_ml: None });
    let Some(chosen) = instruments.iter().find(|i| exact_g >= i.smallest_g * (1.0 - 1e-9)) else {
        return Measured {
            measure: None,
            grams: 0.0,
            millilitres: None,
            scale_g: None,
            portions: 1,
            deviation_g: 0.0,
            finest,
        };
    };
    let mut steps = (exact_g / chosen.step_g).round();
    if stock.on_hand.is_some_and(|on_hand| steps * chosen.step_g > grams_of(on_hand) * (1.0 + 1e-9)) {
        steps -= 1.0;
    }
    let (grams, millilitres) = match density {
        Some(density) => {
            let volume = steps_to_amount(steps, milliliter(bench.syringe.step));
            (volume * density, Some(volume))
        }
        None => (steps_to_amount(steps, chosen.step_g), None),
    };
    let portions = portions(grams, chosen.capacity_g);
    Measured {
        measure: Some(if density.is_some() { Measure::Syringe } else { Measure::Scale }),
        grams,
        millilitres,
        scale_g: density.is_none().then_some(chosen.step_g),
        portions,
        deviation_g: chosen.step_g / 12.0_f64.sqrt() * f64::from(portions).sqrt(),
        finest,
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
        let of = |grams| measure(&bench, &bench.shelf[0], grams);
        assert_eq!((of(18.206).grams, of(18.206).scale_g), (18.2, Some(0.1)));
        assert_eq!((of(2.0).grams, of(2.0).scale_g), (2.0, Some(0.1)));
        assert_eq!((of(1.999_4).grams, of(1.999_4).portions), (1.999, 2));
        assert_eq!(of(0.02).scale_g, Some(0.001));
        assert_eq!(of(0.019).measure, None);
        // never more than what is on hand
        assert_eq!((of(29.98).grams, of(30.0).grams), (30.0, 30.0));
    }

    #[test]
    fn smallest_weights_are_whole_steps_rounded_up() {
        let bench = bench("[[scale]]\nreadability = \"0.3 g\"\ntrust = 0.07\n");
        // 1 / 0.07 = 14.3, so 15 steps
        assert!((measure(&bench, &bench.shelf[0], 1.0).finest.smallest_g - 4.5).abs() < 1e-12);
    }
}
