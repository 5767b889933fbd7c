//! What a laboratory found.

use super::Amounts;
use super::entry::amounts;
use super::tank::Track;
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};

/// How far a figure of a laboratory may be off (k = 2), a fraction, as for the water. Own choice.
const ANALYSIS_PLUS_MINUS: f64 = 0.05;

/// What a laboratory found of some nutrients.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) named: Vec<Nutrient>,
    pub(super) mg: Nutrients,
}

impl Found {
    /// * `litres`: what the tank held then, what is held back included
    pub(super) fn new(ppm: &Amounts, litres: f64) -> Self {
        let named = ppm.keys().filter_map(|symbol| Nutrient::parse(symbol)).collect();
        Self { named, mg: amounts(ppm).scaled(litres) }
    }

    pub(super) fn names_nitrogen(&self) -> bool {
        self.named.iter().any(|nutrient| nutrient.element() == "N")
    }

    /// What was reckoned, mg, with what was found in the place of what is named, give or take.
    pub(super) fn in_place(&self, track: Track, reckoned: &Nutrients) -> Nutrients {
        let off = match track {
            Track::Low => -ANALYSIS_PLUS_MINUS,
            Track::Likely => 0.0,
            Track::High => ANALYSIS_PLUS_MINUS,
        };
        let mut mg = *reckoned;
        for nutrient in &self.named {
            mg[*nutrient] = self.mg[*nutrient] * (1.0 + off);
        }
        let forms = || NUTRIENTS.into_iter().filter(|nutrient| nutrient.is_nitrogen_form());
        if self.named.contains(&Nutrient::N) {
            // the forms keep their shares
            let nitrogen = reckoned[Nutrient::N];
            let times = if nitrogen > 0.0 { mg[Nutrient::N] / nitrogen } else { 0.0 };
            forms().for_each(|form| mg[form] *= times);
        } else if self.names_nitrogen() {
            mg[Nutrient::N] = reckoned.unsplit_nitrogen() + forms().map(|form| mg[form]).sum::<f64>();
        }
        mg
    }
}
