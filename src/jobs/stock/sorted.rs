//! The exact mix as what can be bottled, and what goes straight into the tank.

use super::dissolve::Crystals;
use super::record::Straight;
use super::share::{Portion, Shares};
use super::{LEAST_STRENGTH, StockOptions};
use crate::bench::{Bench, Stock};
use crate::jobs::engine::clear::Judge;
use crate::jobs::engine::question::Question;
use crate::matter::{Kind, Nutrient};
use crate::quantity::trimmed;
use crate::tank::parts::Part;

/// A salt that goes straight into the tank.
pub(super) struct Apart {
    pub(super) stock: Stock,
    pub(super) g_per_l: f64,
    pub(super) why: String,
}

impl Apart {
    pub(super) fn record(self, bench: &Bench) -> Straight {
        let salt = bench.salt(&self.stock);
        Straight { salt: salt.id.clone(), name: salt.name.clone(), why: self.why }
    }
}

/// The mix as what can be bottled, and what cannot.
pub(super) struct Sorted {
    pub(super) bottled: Vec<Portion>,
    pub(super) straight: Vec<Apart>,
}

impl Sorted {
    /// What is cloudy in a bottle by itself goes straight into the tank.
    pub(super) fn take_out_cloudy(&mut self, bench: &Bench, how: &StockOptions, crystals: &Crystals) {
        let judge = Judge::new(bench, how.coldest);
        let shares = Shares { bench, how, bottled: &self.bottled, crystals, judge: &judge };
        let why: Vec<Option<String>> =
            (0..self.bottled.len()).map(|at| shares.clouds(&[at]).map(|clouds| clouds.why)).collect();
        let (mut bottled, all) = (Vec::new(), std::mem::take(&mut self.bottled));
        for (one, why) in all.into_iter().zip(why) {
            match why {
                Some(why) => {
                    let why = format!("a bottle of it by itself does not stay clear: {why}");
                    self.straight.push(Apart { stock: one.stock, g_per_l: one.g_per_l, why });
                }
                None => bottled.push(one),
            }
        }
        self.bottled = bottled;
    }
}

pub(super) fn sorted(question: &Question, g_per_l: &[f64], crystals: &Crystals) -> Sorted {
    let (mut bottled, mut straight) = (Vec::new(), Vec::new());
    for (part, &g_per_l) in question.parts.list.iter().zip(g_per_l) {
        let Part::Salt(stock) = *part else { continue };
        if g_per_l <= 0.0 {
            continue;
        }
        let salt = question.bench().salt(&stock);
        let limit = crystals.limit(&[(stock.salt, g_per_l)]);
        let brings = |nutrient| salt.composition.nutrients[nutrient] > 0.0;
        let why = if salt.kind == Kind::Acid && salt.is_liquid() {
            Some("an acid stands in no stock bottle, and is thinned in a jug before it goes in, never neat".to_owned())
        } else if salt.is_liquid() {
            Some("a liquid is dosed from the bottle in which it is sold".to_owned())
        } else if brings(Nutrient::Ca) && (brings(Nutrient::S) || brings(Nutrient::P)) {
            Some("no concentrate holds calcium together with sulfate or phosphate".to_owned())
        } else {
            limit
                .filter(|limit| limit.times < LEAST_STRENGTH)
                .map(|limit| format!("no more than {} times as strong as the tank dissolves", trimmed(limit.times, 1)))
        };
        match why {
            Some(why) => straight.push(Apart { stock, g_per_l, why }),
            None => bottled.push(Portion { stock, g_per_l }),
        }
    }
    Sorted { bottled, straight }
}

pub(super) fn words(straight: &[Apart]) -> String {
    if straight.is_empty() {
        return "the water alone comes closest".to_owned();
    }
    straight.iter().map(|one| one.why.as_str()).collect::<Vec<_>>().join("; ")
}
