//! What to add now to bring a tank back to its formula.

use super::record::{MissedRecord, RestoreRecord};
use crate::bench::{Bench, Formula};
use crate::jobs::check::remedy::{FilledUp, fill_and_add};
use crate::jobs::engine::blend::as_filled;
use crate::jobs::record::{Element, MixRecord};
use crate::jobs::{Content, JobError, ToMind};
use crate::logbook::Tank;
use crate::matter::Nutrients;
use crate::quantity::liter_of;
use crate::safety::read_ph_remedy;

/// A target that is missed by more than this share after it is told, as in a mix.
const MISSED: f64 = 0.05;

/// Less than this share of the full tank need not be filled in (own choice).
const FULL: f64 = 0.005;

/// Water that a tank lacks, L.
pub(in crate::jobs) fn lacks_l(bench: &Bench, tank: &Tank) -> f64 {
    let full = liter_of(bench.tank.volume);
    let level = (tank.volume_l - tank.held_back_l).clamp(0.0, full);
    if full - level < FULL * full { 0.0 } else { full - level }
}

/// Water that fills a tank up, and salts of the shelf and bottles that bring it back to a formula then, nothing drained: what
/// `today` says of it where the pH asks for nothing. The acid stays out, since its dose follows from a pH and not from a formula.
///
/// * `ppm`: what the tank holds
/// * `ph`: as measured in what it holds, and as last read since it was filled, by which what is poured away is judged
///
/// Returns what to add, and the mix that it makes.
///
/// # Errors
/// As [`mix`](crate::jobs::mix): among others when the content is over a limit of the formula, which only draining helps.
pub(super) fn restored(
    bench: &Bench,
    formula: &Formula,
    tank: &Tank,
    ppm: &Nutrients,
    (ph, read): (Option<f64>, Option<f64>),
) -> Result<(RestoreRecord, MixRecord), JobError> {
    let here = Bench { acid: None, ..bench.clone() };
    let mut holding = Content::of_logbook(&here, ppm, tank.water_per_l(), "the logbook");
    if let Some(ph) = ph {
        holding = holding.at_ph(&here, ph)?;
    }
    let water_l = lacks_l(bench, tank);
    let level_l = liter_of(bench.tank.volume) - water_l;
    let FilledUp { before, after, waits, .. } = fill_and_add(&here, formula, &holding, level_l, tank.held_back_l)?;
    let record = RestoreRecord {
        volume_l: after.volume_l,
        ph_first: ph.is_some_and(|ph| read_ph_remedy(ph, bench.acid.as_ref().map(|acid| acid.target_ph)).is_some()),
        water_l,
        waters: after.waters.clone(),
        pure_water: as_filled(bench, &after.waters).water.is_pure(),
        misfit_before: before.misfit,
        misfit: after.misfit,
        doses: after.doses.iter().filter(|dose| dose.is_measured()).cloned().collect(),
        order: after.order.clone(),
        helpers: after.helpers.clone(),
        mind: ToMind::of(&here, &after, read.as_slice()),
        missed: missed(&after),
        waits,
    };
    Ok((record, after))
}

/// Targets that a mix misses by more than is let pass.
pub(in crate::jobs) fn missed(mix: &MixRecord) -> Vec<MissedRecord> {
    let of = |element: &Element| {
        let target_ppm = element.target_ppm.filter(|target| (element.ppm - target).abs() > MISSED * target)?;
        let (element, ppm) = (element.element.clone(), element.ppm);
        Some(MissedRecord { element, ppm, target_ppm, taken_by: None })
    };
    mix.elements.iter().filter_map(of).collect()
}
