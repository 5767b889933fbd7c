//! Two formulas side by side.

use super::error::JobError;
use super::mix::mix;
use super::record::{Beside, Difference, MixRecord};
use crate::bench::Bench;
use crate::solution::MeterScale;

/// [`mix`] of two formulas, and what differs.
///
/// # Errors
/// As [`mix`], for either formula.
pub fn mix_beside(bench: &Bench, formula: &str, other: &str, meter: Option<MeterScale>) -> Result<Beside, JobError> {
    let (first, beside) = (mix(bench, formula, meter)?, mix(bench, other, meter)?);
    let mut weights = Vec::new();
    let grams = |mix: &MixRecord, salt: &Option<String>| {
        mix.doses.iter().find(|dose| dose.salt == *salt).map(|dose| dose.grams.unwrap_or(0.0))
    };
    let only_second = beside.doses.iter().filter(|dose| grams(&first, &dose.salt).is_none());
    for dose in first.doses.iter().chain(only_second) {
        weights.push(Difference {
            what: dose.name.clone(),
            unit: "g".to_owned(),
            first: grams(&first, &dose.salt),
            second: grams(&beside, &dose.salt),
        });
    }
    let ppm = |mix: &MixRecord, element: &str| mix.elements.iter().find(|e| e.element == element).map(|e| e.ppm);
    let only_second = beside.elements.iter().filter(|e| ppm(&first, &e.element).is_none());
    let mut contents: Vec<Difference> = first
        .elements
        .iter()
        .chain(only_second)
        .map(|element| Difference {
            what: element.element.clone(),
            unit: "ppm".to_owned(),
            first: ppm(&first, &element.element),
            second: ppm(&beside, &element.element),
        })
        .collect();
    contents.push(Difference {
        what: "EC".to_owned(),
        unit: "mS/cm".to_owned(),
        first: Some(first.ec_ms_cm),
        second: Some(beside.ec_ms_cm),
    });
    Ok(Beside { first, beside, weights, contents })
}
