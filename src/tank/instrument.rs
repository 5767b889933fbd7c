//! From an amount to what an instrument can show.

use uom::si::f64::Mass;
use uom::si::mass::gram as in_grams;

use crate::bench::{Bench, Scale, smallest_steps};
use crate::quantity::{Volume, milliliter, whole_steps};

/// A dose as measured out, in the unit of its part: g of a salt, mL of a bottle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Measured {
    /// False when nothing on the bench can be trusted with it, or nothing of it is needed.
    pub(crate) is_trusted: bool,
    /// The amount; 0 when it cannot be measured.
    pub(crate) amount: f64,
    /// mL, for what the syringe draws up.
    pub(crate) millilitres: Option<f64>,
    /// Step of the scale, g.
    pub(crate) scale_g: Option<f64>,
    /// Position of the jug on the bench.
    pub(crate) jug: Option<usize>,
    /// Portions, none of them more than the instrument takes at once.
    pub(crate) portions: u32,
    /// Standard deviation of `amount`: half a step, rectangular, once for each portion; that of the finest instrument where
    /// none can be trusted.
    pub(crate) deviation: f64,
}

/// Which instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tool {
    Scale,
    Syringe,
    /// By its position on the bench.
    Jug(usize),
}

/// An instrument, in the unit of what it measures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Instrument {
    tool: Tool,
    pub(crate) step: f64,
    pub(crate) smallest_steps: f64,
    capacity: Option<f64>,
}

impl Instrument {
    /// The smallest amount that it can be trusted with.
    pub(crate) fn smallest(&self) -> f64 {
        whole_steps(self.smallest_steps, self.step)
    }

    /// The most that it takes at once.
    pub(crate) fn most(&self) -> f64 {
        self.capacity.unwrap_or(f64::INFINITY)
    }

    /// True where it takes an amount at once, as the count of portions has it.
    fn holds(&self, amount: f64) -> bool {
        portions(amount, self.capacity) == 1
    }
}

pub(crate) fn grams_of(mass: Mass) -> f64 {
    mass.get::<in_grams>()
}

/// The instruments for something of this density: scales, coarsest first (`None`), or the syringe and then the jugs.
pub(crate) fn instruments(bench: &Bench, density: Option<f64>) -> Vec<Instrument> {
    let Some(density) = density else {
        let of = |scale: &Scale| Instrument {
            tool: Tool::Scale,
            step: grams_of(scale.readability),
            smallest_steps: smallest_steps(scale.trust),
            capacity: scale.capacity.map(grams_of),
        };
        return bench.scales.iter().map(of).collect();
    };
    let of = |tool: Tool, step: Volume, trust: f64, capacity: Option<Volume>| Instrument {
        tool,
        step: milliliter(step) * density,
        smallest_steps: smallest_steps(trust),
        capacity: capacity.map(|capacity| milliliter(capacity) * density),
    };
    let syringe = &bench.syringe;
    let jugs = bench.jugs.iter().enumerate();
    std::iter::once(of(Tool::Syringe, syringe.step, syringe.trust, syringe.capacity))
        .chain(jugs.map(|(at, jug)| of(Tool::Jug(at), jug.step, jug.trust, Some(jug.capacity))))
        .collect()
}

/// The smallest amount that any instrument can be trusted with, for something of this density (`None`: weighed).
pub(crate) fn smallest(bench: &Bench, density: Option<f64>) -> f64 {
    instruments(bench, density).iter().map(Instrument::smallest).fold(f64::INFINITY, f64::min)
}

/// A dose this near under the smallest trusted amount is rounded up to it instead.
const ROUNDED_UP: f64 = 0.95;

/// True when a dose is so far under the smallest trusted amount that it is not rounded up to it.
pub(crate) fn too_small(bench: &Bench, density: Option<f64>, dose: f64) -> bool {
    dose > 0.0 && dose < smallest(bench, density) * ROUNDED_UP
}

/// Which of the instruments measures an amount; `None` where none can be trusted with it.
///
/// A solid goes on the coarsest trusted scale. A liquid goes by what holds it at once with the finest step, and what nothing
/// holds at once by what holds the most, so in the fewest portions.
pub(crate) fn chosen(instruments: &[Instrument], amount: f64) -> Option<&Instrument> {
    let mut trusted = instruments.iter().filter(|one| amount >= one.smallest() * (1.0 - 1e-9));
    if instruments.first().is_some_and(|one| one.tool == Tool::Scale) {
        return trusted.next();
    }
    trusted.reduce(|best, one| {
        let (now, then) = (one.holds(amount), best.holds(amount));
        let is_better = match (now, then) {
            (true, true) => one.step < best.step,
            (false, false) => one.most() > best.most(),
            _ => now,
        };
        if is_better { one } else { best }
    })
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of portions, at least 1")]
fn portions(amount: f64, capacity: Option<f64>) -> u32 {
    capacity.map_or(1, |capacity| (amount / capacity - 1e-9).ceil().max(1.0) as u32)
}

/// How an amount of something of this density is measured.
pub(crate) fn measured(bench: &Bench, density: Option<f64>, amount: f64) -> Measured {
    let instruments = instruments(bench, density);
    let Some(chosen) = chosen(&instruments, amount) else {
        let finest = instruments.iter().min_by(|a, b| a.step.total_cmp(&b.step));
        let deviation = finest.map_or(0.0, |finest| finest.step / 12.0_f64.sqrt());
        let none =
            Measured { is_trusted: false, amount: 0.0, millilitres: None, scale_g: None, jug: None, portions: 1, deviation };
        return none;
    };
    let portions = portions(amount, chosen.capacity);
    let millilitres = density.map(|density| whole_steps((amount / chosen.step).round(), chosen.step / density));
    let jug = match chosen.tool {
        Tool::Scale | Tool::Syringe => None,
        Tool::Jug(at) => Some(at),
    };
    Measured {
        is_trusted: true,
        amount,
        millilitres,
        scale_g: density.is_none().then_some(chosen.step),
        jug,
        portions,
        deviation: chosen.step / 12.0_f64.sqrt() * f64::from(portions).sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::measured;
    use crate::bench::Bench;

    /// A reading is off by half a step at the most, and by as much as likely as by less: a standard deviation of 0.29 steps
    /// (JCGM 100:2008, F.2.2.1; from memory). That holds of a dose that is measured, and of one that is too little for the finest
    /// instrument and would be measured with it if at all. 1 / sqrt(12) is 0.288675 (by hand).
    #[test]
    fn half_a_step_either_way_is_a_deviation_of_a_step_over_the_root_of_twelve() {
        let bench = Bench::starter();
        let finest = bench.scales.iter().map(|scale| super::grams_of(scale.readability)).fold(f64::INFINITY, f64::min);
        for (amount, is_trusted) in [(1e-5, false), (1.0, true)] {
            let found = measured(&bench, None, amount);
            assert_eq!(found.is_trusted, is_trusted, "{amount}");
            let step = found.scale_g.unwrap_or(finest);
            assert!((found.deviation - step * 0.288_675).abs() < 1e-6 * step, "{amount}: {found:?}");
        }
    }
}
