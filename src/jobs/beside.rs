//! Two formulas side by side.

use crate::bench::Bench;
use crate::jobs::engine::bottle_names::named;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::error::JobError;
use crate::jobs::mix::mix;
use crate::jobs::record::{Beside, Difference, Dose, MixRecord, ToMind};

/// [`mix`] of two formulas, and what differs.
///
/// # Errors
/// As [`mix`], for either formula.
pub fn mix_beside(bench: &Bench, formula: &str, other: &str, options: &MixOptions) -> Result<Beside, JobError> {
    let first = mix(bench, formula, options)?;
    let bench = Bench { named: named(bench, &first.helpers), ..bench.clone() };
    let beside = mix(&bench, other, options)?;
    let mut weights = Vec::new();
    let same = |dose: &Dose, other: &Dose| (dose.salt(), dose.bottle()) == (other.salt(), other.bottle());
    // in the measure of a mix: a liquid by volume
    let is_drawn = |mix: &MixRecord, wanted: &Dose| {
        mix.doses.iter().any(|dose| same(dose, wanted) && (dose.salt().is_none() || dose.millilitres().is_some()))
    };
    let drawn = |wanted: &Dose| is_drawn(&first, wanted) || is_drawn(&beside, wanted);
    let amount = |mix: &MixRecord, wanted: &Dose| {
        let found = mix.doses.iter().find(|dose| same(dose, wanted))?;
        // by itself, or in a new bottle
        let grams = found.grams().or(found.grams_in_bottle());
        Some(if drawn(wanted) { found.millilitres().or(grams) } else { grams }.unwrap_or(0.0))
    };
    let only_second = beside.doses.iter().filter(|dose| amount(&first, dose).is_none());
    for dose in first.doses.iter().chain(only_second) {
        weights.push(Difference {
            what: dose.name.clone(),
            unit: if drawn(dose) { "mL" } else { "g" }.to_owned(),
            first: amount(&first, dose),
            second: amount(&beside, dose),
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
    if let (Some(shown), Some(beside)) = (first.meter_reading_ppm, beside.meter_reading_ppm) {
        let (what, unit) = ("EC meter".to_owned(), "ppm".to_owned());
        contents.push(Difference { what, unit, first: Some(shown), second: Some(beside) });
    }
    let both = ToMind::of_both(&bench, &first, &beside);
    Ok(Beside { first, beside, weights, contents, both })
}
