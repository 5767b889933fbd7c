//! What the pictures and warning labels of a printed sheet show, reckoned from the result of a job.

mod balance;
mod course;
mod labels;

pub use balance::{Balance, balance};
pub use course::{Course, CoursePoint, course};
pub use labels::{Label, Worded, labels};

use serde::Serialize;

use crate::bench::Bench;
use crate::jobs;
use crate::jobs::record::{Element, MixRecord};
use crate::jobs::trade::{TradeRecord, trade};
use crate::matter::Nutrient;

/// The formulas whose balance every sheet shows, for comparison.
const COMPARED: [&str; 2] = ["growth", "push"];

/// A trade-off, or why it is not known.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum Traded {
    /// It is known.
    Known(Box<TradeRecord>),
    /// It is not.
    Not {
        /// Why.
        why_not: String,
    },
}

/// What a sheet shows beside the numbers of its job.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Pictures {
    /// Balances of cations and anions: that of the tank itself first.
    pub balances: Vec<Balance>,
    /// Formulas of the bench that should be compared, and why they cannot be.
    pub not_compared: Vec<(String, String)>,
    /// Calcium against nitrogen on this shelf, or why it is not known; none where the formula does not target both.
    pub trade: Option<Traded>,
    /// Warning labels of the salts.
    pub labels: Vec<Label>,
}

/// The pictures of a mix, of a tank turned over or of one that was checked.
///
/// * `bench`: whose formulas and shelf are compared
/// * `mix`: the result; its elements and nitrate are what counts
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, MixOptions}};
/// let bench = Bench::starter();
/// let push = jobs::mix(&bench, "push", &MixOptions::default())?;
/// let pictures = jobs::pictures(&bench, &push);
/// assert_eq!(pictures.balances[1].name, "growth");
/// # Ok::<(), jobs::JobError>(())
/// ```
#[must_use]
pub fn pictures(bench: &Bench, mix: &MixRecord) -> Pictures {
    // a fresh mix stands for its formula; any other tank beside it
    let fresh = mix.formula.as_deref().filter(|_| mix.job == "mix");
    let own = balance(&bench.catalogue, fresh.unwrap_or("this tank"), &mix.content_ppm());
    let (compared, not_compared) = compared(bench, fresh);
    let asks_both = ["N", "Ca"].iter().all(|symbol| target(&mix.elements, symbol).is_some());
    let calcium = |formula: &String| match trade(bench, formula, Nutrient::N, Nutrient::Ca) {
        Ok(record) => Traded::Known(Box::new(record)),
        Err(error) => Traded::Not { why_not: error.to_string() },
    };
    Pictures {
        balances: std::iter::once(own).chain(compared).collect(),
        not_compared,
        trade: mix.formula.as_ref().filter(|_| asks_both).map(calcium),
        labels: labels(&bench.catalogue, mix.handling.iter().map(|handling| handling.salt.as_str())),
    }
}

/// Balances of the growth and the push formula as this bench weighs them out, `but` one; and what cannot be mixed, with why.
#[must_use]
pub fn compared(bench: &Bench, but: Option<&str>) -> (Vec<Balance>, Vec<(String, String)>) {
    let (mut balances, mut not) = (Vec::new(), Vec::new());
    for name in COMPARED.into_iter().filter(|name| but != Some(*name) && bench.formula(name).is_some()) {
        match jobs::mixed(bench, name) {
            Ok(holding) => balances.push(balance(&bench.catalogue, name, &holding.ppm)),
            Err(error) => not.push((name.to_owned(), error.to_string())),
        }
    }
    (balances, not)
}

fn target(elements: &[Element], symbol: &str) -> Option<f64> {
    elements.iter().find(|element| element.element == symbol)?.target_ppm
}
