//! What to add now to bring a tank back to its formula.

use super::record::{MissedRecord, RestoreDose, RestoreRecord};
use crate::bench::{Bench, Formula};
use crate::jobs::check::remedy::add_now;
use crate::jobs::record::{Element, MixRecord};
use crate::jobs::{Content, JobError, ToMind};
use crate::matter::Nutrients;
use crate::quantity::liter;

/// A target that is missed by more than this share after it is told, as in a mix.
const MISSED: f64 = 0.05;

/// Salts of the shelf and bottles that bring a content back to a formula, nothing drained: what `check --against` says of a
/// tank as it stands. The acid stays out, since its dose follows from a pH and not from a formula.
///
/// * `ppm`: what the tank holds
/// * `volume_l`: how much of it, what is held back included
/// * `ph`: as measured in it; none where its alkalinity is not known
///
/// # Errors
/// As [`mix`](crate::jobs::mix): among others when the content is over a limit of the formula, which only draining helps.
pub fn restore(
    bench: &Bench,
    formula: &Formula,
    ppm: &Nutrients,
    volume_l: f64,
    ph: Option<f64>,
) -> Result<RestoreRecord, JobError> {
    restored(bench, formula, ppm, volume_l, (ph, ph)).map(|(record, _)| record)
}

/// What to add, and the mix that it makes.
///
/// * `ph`: as measured in what it holds, and as last read since it was filled, by which what is poured away is judged
pub(super) fn restored(
    bench: &Bench,
    formula: &Formula,
    ppm: &Nutrients,
    volume_l: f64,
    (ph, read): (Option<f64>, Option<f64>),
) -> Result<(RestoreRecord, MixRecord), JobError> {
    let here = Bench { acid: None, ..bench.clone() }.with_tank(liter(volume_l));
    let mut holding = Content::of_analysis(&here, ppm, "the logbook");
    if let Some(ph) = ph {
        holding = holding.at_ph(&here, ph)?;
    }
    let (before, after) = add_now(&here, formula, &holding)?;
    let measured = after.doses.iter().filter(|dose| dose.grams().or(dose.millilitres()).is_some_and(|amount| amount > 0.0));
    let doses = measured.map(|dose| RestoreDose {
        salt: dose.salt().map(str::to_owned),
        helper: dose.bottle().map(str::to_owned),
        name: dose.name.clone(),
        grams: dose.grams(),
        millilitres: dose.millilitres(),
    });
    let record = RestoreRecord {
        volume_l,
        misfit_before: before.misfit,
        misfit: after.misfit,
        doses: doses.collect(),
        helpers: after.helpers.clone(),
        mind: ToMind::of(&here, &after, read.as_slice()),
        missed: missed(&after),
    };
    Ok((record, after))
}

/// Targets that a mix misses by more than is let pass.
pub(in crate::jobs) fn missed(mix: &MixRecord) -> Vec<MissedRecord> {
    let of = |element: &Element| {
        let target_ppm = element.target_ppm.filter(|target| (element.ppm - target).abs() > MISSED * target)?;
        let (element, ppm) = (element.element.clone(), element.ppm);
        Some(MissedRecord { element, ppm, target_ppm, topped_up_ppm: None, taken_by: None })
    };
    mix.elements.iter().filter_map(of).collect()
}
