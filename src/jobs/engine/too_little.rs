//! A mix of which nothing can be measured, and what would do: a larger tank, a finer scale, a finer syringe.

use super::question::Question;
use crate::bench::Wish;
use crate::fit::Solution;
use crate::jobs::error::{JobError, TooLittle};
use crate::quantity::{TANK_L, ppm_of};
use crate::tank::instrument::{Measured, instruments, smallest};

/// A target that the water alone misses by more than this share of it is worth a salt (own choice, as `target-missed`).
const MISSED: f64 = 0.05;
/// Steps of usual scales, g, and syringes, mL.
const USUAL_STEPS: [f64; 5] = [1.0, 0.1, 0.01, 0.001, 0.000_1];
/// The finest step of a syringe, mL.
const FINEST_SYRINGE_ML: f64 = 0.01;

/// The refusal of a fresh tank of which nothing can be measured, though the water alone is not what was asked.
///
/// # Errors
/// [`JobError::NothingMeasurable`].
pub(crate) fn refused(question: &Question, exact: &Solution, measured: &[Measured]) -> Result<(), JobError> {
    let litres = question.litres();
    let parts = &question.parts;
    let needed: Vec<(usize, f64)> = exact
        .g_per_l
        .iter()
        .enumerate()
        .filter(|(at, per_l)| **per_l > 0.0 && !question.acids.contains(at))
        .map(|(at, per_l)| (at, per_l * litres))
        .collect();
    let least = |at: usize| smallest(question.tank.bench, parts.density(at));
    let some_can = needed.iter().any(|(at, amount)| *amount >= least(*at) * (1.0 - 1e-9));
    let some_is = measured.iter().any(|measured| measured.amount > 0.0);
    if !question.tank.is_fresh || needed.is_empty() || some_can || some_is || water_will_do(question) {
        return Ok(());
    }
    let unit = |at: usize| parts.density(at).unwrap_or(1.0);
    // more of what is short cannot go into a larger tank
    let times = needed.iter().map(|(at, amount)| least(*at) / amount).fold(1.0, f64::max);
    let is_there = needed.iter().all(|(at, amount)| parts.most(*at).is_none_or(|most| amount * times <= most));
    let step = |is_liquid: bool| {
        let of = needed.iter().filter(|(at, _)| parts.density(*at).is_some() == is_liquid);
        of.map(|(at, amount)| finest_needed(question, *at, *amount)).reduce(|a, b| Some(a?.min(b?))).flatten()
    };
    let has = |is_liquid: bool| needed.iter().any(|(at, _)| parts.density(*at).is_some() == is_liquid);
    let (scale, syringe) = (step(false), step(true).filter(|step| *step >= FINEST_SYRINGE_ML));
    // one without the other would leave something out
    let both = scale.is_some() == has(false) && syringe.is_some() == has(true);
    let (scale_g, syringe_ml) = if both { (scale, syringe) } else { (None, None) };
    Err(JobError::NothingMeasurable {
        formula: question.formula.name.clone(),
        litres,
        doses: needed
            .iter()
            .map(|&(at, amount)| TooLittle {
                name: parts.name(at).to_owned(),
                amount: amount / unit(at),
                smallest: least(at) / unit(at),
                unit: if parts.density(at).is_some() { "mL" } else { "g" },
            })
            .collect(),
        tank_l: Some(rounded_up(litres * times)).filter(|tank| is_there && *tank <= TANK_L.high),
        scale_g,
        syringe_ml,
    })
}

/// True where the water alone comes as near as a dose could matter.
fn water_will_do(question: &Question) -> bool {
    let there = &question.tank.before.ppm;
    let is_near = |wish: &Wish| {
        let ppm = there[wish.nutrient];
        let target = wish.target.map(ppm_of).is_none_or(|target| (ppm - target).abs() <= MISSED * target);
        target && wish.min.map(ppm_of).is_none_or(|min| ppm >= min)
    };
    question.formula.wishes.iter().all(is_near)
}

/// The coarsest usual step, as far trusted as the finest here, that takes an amount.
fn finest_needed(question: &Question, at: usize, amount: f64) -> Option<f64> {
    let density = question.parts.density(at);
    let all = instruments(question.tank.bench, density);
    // of what draws up a liquid the syringe, since no jug is trusted with less
    let all = if density.is_some() { &all[..1] } else { &all[..] };
    let steps = all.iter().map(|one| one.smallest_steps).fold(f64::INFINITY, f64::min);
    let amount = amount / density.unwrap_or(1.0);
    USUAL_STEPS.into_iter().find(|step| step * steps <= amount * (1.0 + 1e-9))
}

/// Litres rounded up to two digits, so that what is said is enough.
fn rounded_up(litres: f64) -> f64 {
    let unit = libm::pow(10.0, libm::log10(litres).floor() - 1.0);
    (litres / unit - 1e-9).ceil() * unit
}
