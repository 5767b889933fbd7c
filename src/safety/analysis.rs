//! What a laboratory analysis of a tank leaves open.

use super::{Code, Finding};
use crate::matter::Nutrient;
use crate::quantity::significant;

/// Anions may outweigh cations by this fraction of their mean (own choice, as for water).
const IMBALANCE: f64 = 0.10;

/// Notes on an analysis of a tank.
///
/// * `not_named`: what the formula gives a target or a minimum and the analysis does not name
/// * `nitrogen_not_split`: true when only the sum of nitrogen is stated
///
/// * `anions_over`: by how much anions outweigh cations by charge, as a fraction of their mean; negative for the reverse,
///   which bicarbonate may explain
///
/// Returns at most three findings.
///
/// # Examples
/// ```
/// use bloomsalt::{matter::Nutrient, safety::{Code, of_analysis}};
/// let found = of_analysis(&[Nutrient::Mo], false, 0.02);
/// assert_eq!(found[0].code, Code::NotAnalysed);
/// ```
#[must_use]
pub fn of_analysis(not_named: &[Nutrient], nitrogen_not_split: bool, anions_over: f64) -> Vec<Finding> {
    let mut found = Vec::new();
    if !not_named.is_empty() {
        let symbols: Vec<&str> = not_named.iter().map(|nutrient| nutrient.symbol()).collect();
        found.push(Finding::note(
            Code::NotAnalysed,
            format!(
                "The analysis does not name {}; what would set the tank right takes them to be as the formula asks.",
                symbols.join(", ")
            ),
        ));
    }
    if nitrogen_not_split {
        found.push(
            Finding::note(
                Code::NitrogenNotSplit,
                "The analysis states nitrogen without its forms; it is counted as nitrate.",
            )
            .remedy("State NO3-N and NH4-N where the laboratory does."),
        );
    }
    if anions_over > IMBALANCE {
        found.push(
            Finding::warning(
                Code::AnalysisUnbalanced,
                format!(
                    "Anions of the analysis outweigh its cations by {} % of their mean; they must be equal, and the \
                     predicted EC counts acid for what is missing.",
                    significant(100.0 * anions_over, 0)
                ),
            )
            .remedy("Look for a cation that is not named, ammonium among the nitrogen, or a slip in a unit.")
            .source("own-choice"),
        );
    }
    found
}
