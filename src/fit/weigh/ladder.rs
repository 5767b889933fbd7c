//! Amounts that an instrument can show.

use crate::quantity::whole_steps;

/// Whole steps of one instrument: `first` steps, one more, and so on to `last`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flight {
    /// The step, in the unit of the column (g, or mL for a bottle).
    pub step: f64,
    /// The fewest steps that are measured.
    pub first: i64,
    /// The most.
    pub last: i64,
}

/// What can be measured out of one column for the whole tank: nothing, or whole steps of one instrument after another.
///
/// Rung 0 is nothing; there is no rung between it and the smallest trusted amount.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ladder {
    flights: Vec<Flight>,
}

impl Ladder {
    /// From flights in ascending order of amount; empty ones are left out.
    #[must_use]
    pub fn new(flights: Vec<Flight>) -> Self {
        Self { flights: flights.into_iter().filter(|flight| flight.first <= flight.last).collect() }
    }

    /// The highest rung.
    #[must_use]
    pub fn top(&self) -> i64 {
        self.flights.iter().map(|flight| flight.last - flight.first + 1).sum()
    }

    /// The amount at a rung, without a last-bit tail: 182 steps of 0.1 are 18.2.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "steps stay far below 2^52")]
    pub fn amount(&self, rung: i64) -> f64 {
        let mut left = rung - 1;
        for flight in &self.flights {
            let rungs = flight.last - flight.first + 1;
            if left < rungs {
                return if left < 0 { 0.0 } else { whole_steps((flight.first + left) as f64, flight.step) };
            }
            left -= rungs;
        }
        self.flights.last().map_or(0.0, |flight| whole_steps(flight.last as f64, flight.step))
    }

    /// The highest rung whose amount is not above `amount`.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "clamped to the flight")]
    pub fn at_most(&self, amount: f64) -> i64 {
        let mut rung = 0;
        for flight in &self.flights {
            let steps = (amount / flight.step * (1.0 + 1e-12) + 1e-9).floor();
            if steps < flight.first as f64 {
                break;
            }
            rung += steps.min(flight.last as f64) as i64 - flight.first + 1;
        }
        rung
    }

    /// The rung nearest to `amount`.
    #[must_use]
    pub fn nearest(&self, amount: f64) -> i64 {
        let below = self.at_most(amount);
        let above = (below + 1).min(self.top());
        if self.amount(above) - amount < amount - self.amount(below) { above } else { below }
    }

    /// The smallest amount above nothing; infinite where nothing can be measured.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "steps stay far below 2^52")]
    pub fn smallest(&self) -> f64 {
        self.flights.first().map_or(f64::INFINITY, |flight| whole_steps(flight.first as f64, flight.step))
    }

    /// The step of the instrument that measures `amount`.
    pub(super) fn step_at(&self, amount: f64) -> f64 {
        let mut left = self.at_most(amount).max(1);
        let holds = self.flights.iter().find(|flight| {
            left -= flight.last - flight.first + 1;
            left <= 0
        });
        holds.or(self.flights.last()).map_or(0.0, |flight| flight.step)
    }
}

#[cfg(test)]
mod tests {
    use super::{Flight, Ladder};

    /// 2 to 5 steps of 0.1, then 3 to 7 of 0.5: every amount that can be shown has the step of the instrument that shows it, what is
    /// less than can be trusted that of the finest, and what is more than can be shown that of the coarsest.
    #[test]
    fn an_amount_has_the_step_of_the_instrument_that_shows_it() {
        let ladder = Ladder::new(vec![Flight { step: 0.1, first: 2, last: 5 }, Flight { step: 0.5, first: 3, last: 7 }]);
        let shown = [(0.0, 0.1), (0.05, 0.1), (0.2, 0.1), (0.3, 0.1), (0.4, 0.1), (0.5, 0.1)];
        let coarse = [(1.5, 0.5), (2.0, 0.5), (2.5, 0.5), (3.0, 0.5), (3.5, 0.5), (9.0, 0.5)];
        for (amount, step) in shown.into_iter().chain(coarse) {
            assert_eq!(ladder.step_at(amount).to_bits(), f64::to_bits(step), "{amount}");
        }
    }
}
