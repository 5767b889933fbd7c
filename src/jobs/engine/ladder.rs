//! The instruments as ladders of amounts for the fit, and as what a finding names.

use crate::bench::Bench;
use crate::fit::{Flight, Ladder};
use crate::quantity::whole_steps;
use crate::safety::Finest;
use crate::tank::instrument::{Instrument, chosen, instruments};

/// What can be measured of something of this density: each amount on the instrument that is chosen for it, up to `most`.
pub(crate) fn ladder(bench: &Bench, density: Option<f64>, most: Option<f64>) -> Ladder {
    let instruments = &instruments(bench, density)[..];
    // the choice changes where another can be trusted, and beyond what one holds at once
    let usable = || instruments.iter().filter(|one| one.step > 0.0);
    let mut turns: Vec<f64> = usable().flat_map(|one| [one.smallest(), one.most()]).collect();
    turns.push(f64::INFINITY);
    turns.sort_by(f64::total_cmp);
    turns.dedup();
    let mut flights: Vec<Flight> = Vec::new();
    for ends in turns.windows(2) {
        let (from, to) = (ends[0], ends[1]);
        let between = if to.is_finite() { 0.5 * (from + to) } else { 2.0 * from };
        let Some(one) = chosen(instruments, between) else { continue };
        let Some(flight) = flight(instruments, one, (from, to), most) else { continue };
        match flights.last_mut() {
            Some(last) if last.step.total_cmp(&one.step).is_eq() && last.last + 1 >= flight.first => last.last = flight.last,
            _ => flights.push(flight),
        }
    }
    Ladder::new(flights)
}

/// Whole steps of one instrument from turn to turn; of what stands at a turn itself only what it is chosen for.
#[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "clamped to what a tank can need")]
fn flight(all: &[Instrument], one: &Instrument, (from, to): (f64, f64), most: Option<f64>) -> Option<Flight> {
    // a tank of 100 m3 at 5000 ppm in the finest steps
    const LAST: f64 = 1e13;
    let is_own = |steps: f64| chosen(all, whole_steps(steps, one.step)).is_some_and(|of| of == one);
    let mut first = (from / one.step - 1e-9).ceil().max(one.smallest_steps);
    if !is_own(first) {
        first += 1.0;
    }
    let mut last = (to / one.step + 1e-9).floor().min(LAST);
    if to.is_finite() && !is_own(last) {
        last -= 1.0;
    }
    let there = most.map_or(LAST, |most| (most / one.step * (1.0 + 1e-12) + 1e-9).floor());
    let last = last.min(there);
    (first <= last).then_some(Flight { step: one.step, first: first as i64, last: last as i64 })
}

/// The instrument that can be trusted with the least of something of this density.
pub(crate) fn finest(bench: &Bench, density: Option<f64>) -> Finest {
    let instruments = instruments(bench, density);
    let least = instruments.iter().min_by(|a, b| a.smallest().total_cmp(&b.smallest()));
    least.map_or(Finest { smallest_g: f64::INFINITY, step_g: f64::INFINITY, density_g_per_ml: None }, |i| Finest {
        smallest_g: i.smallest(),
        step_g: i.step,
        density_g_per_ml: density,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tank::instrument::measured;

    fn bench(scales: &str) -> Bench {
        let text = format!("[tank]\nvolume = \"10 L\"\n{scales}\n[shelf]\npotassium-nitrate = {{ on_hand = \"30 g\" }}\n");
        Bench::parse(&text, "test").unwrap()
    }

    #[test]
    fn the_coarsest_trusted_scale_is_used_and_rounded_to_its_step() {
        let bench = bench("[[scale]]\nreadability = \"0.1 g\"\n[[scale]]\nreadability = \"0.001 g\"\ncapacity = \"1 g\"\n");
        let ladder = ladder(&bench, None, Some(30.0));
        let of = |grams| measured(&bench, None, ladder.amount(ladder.nearest(grams)));
        assert_eq!((of(18.206).amount, of(18.206).scale_g), (18.2, Some(0.1)));
        assert_eq!((of(2.0).amount, of(2.0).scale_g), (2.0, Some(0.1)));
        assert_eq!((of(1.999_4).amount, of(1.999_4).portions), (1.999, 2));
        assert_eq!(of(0.02).scale_g, Some(0.001));
        assert_eq!((of(0.009).amount, of(0.009).is_trusted), (0.0, false));
        // never more than what is on hand
        assert_eq!((of(29.98).amount, of(31.0).amount), (30.0, 30.0));
    }

    #[test]
    fn smallest_weights_are_whole_steps_rounded_up() {
        let bench = bench("[[scale]]\nreadability = \"0.3 g\"\ntrust = 0.07\n");
        // 1 / 0.07 = 14.3, so 15 steps
        assert!((finest(&bench, None).smallest_g - 4.5).abs() < 1e-12);
    }

    #[test]
    fn a_finer_scale_serves_up_to_where_the_coarser_can_be_trusted() {
        let bench = bench("[[scale]]\nreadability = \"0.1 g\"\n[[scale]]\nreadability = \"0.001 g\"\n");
        let ladder = ladder(&bench, None, None);
        let at = |amount: f64| ladder.at_most(amount);
        assert!((ladder.amount(1) - 0.02).abs() < 1e-12);
        assert!((ladder.amount(at(1.999_9)) - 1.999).abs() < 1e-12);
        assert!((ladder.amount(at(1.999_9) + 1) - 2.0).abs() < 1e-12);
        assert!((ladder.amount(at(2.05) + 1) - 2.1).abs() < 1e-12);
    }
}
