//! Which pH is borne, and what one that is not asks for.

use crate::quantity::fixed;
use crate::solution::{Acidity, PhSpan};

/// pH right after mixing that roots and chelates bear (common practice, no source).
pub(super) const PH_RANGE: (f64, f64) = (PH_FRESH_LEAST, 6.8);
/// The low end of it.
pub const PH_FRESH_LEAST: f64 = 4.8;
/// pH after days in air from which trace metals are lost to the plants (common practice, no source).
pub(super) const PH_AIRED_MOST: f64 = 7.5;
/// No low end of a pH may come under this (common practice, no source).
pub const PH_LEAST: f64 = 4.5;
/// Beyond these right after mixing no plant is fed with it (own choice).
pub(super) const PH_STOP: (f64, f64) = (4.0, 9.0);
/// Under this right after mixing, and from this after days in air, a pH is near an edge (own choice).
pub(super) const NEAR_EDGE: (f64, f64) = (5.3, 6.8);
/// By so much a pH that was read may be over the wish before an acid is told (own choice, what pH meters of growers are off by).
const OVER_WISH: f64 = 0.3;
/// A pH that may be anywhere within more than this is not told: own choice.
const UNTOLD: f64 = 3.0;

/// What would bring a pH to where it should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remedy {
    /// A mild base; reckoned for the pH after days in air.
    Base,
    /// An acid, right after mixing.
    AcidNow,
    /// An acid in the days after; reckoned for the pH after days in air.
    AcidLater,
}

/// What a pH that is out of range, or near its edge, asks for; `None` where it asks for nothing, or mends by itself.
#[must_use]
pub fn ph_remedy(ph: &Acidity) -> Option<Remedy> {
    if ph.fresh.low > PH_RANGE.1 || ph.fresh.ph > PH_STOP.1 {
        Some(Remedy::AcidNow)
    } else if ph.fresh.ph < NEAR_EDGE.0 || least(ph) < PH_LEAST {
        (ph.aired.ph < NEAR_EDGE.0).then_some(Remedy::Base)
    } else {
        (ph.aired.ph >= NEAR_EDGE.1).then_some(Remedy::AcidLater)
    }
}

/// What a pH that was read in a tank asks for.
///
/// * `wish`: the pH of `[acid]`
#[must_use]
pub fn read_ph_remedy(ph: f64, wish: Option<f64>) -> Option<Remedy> {
    if ph < NEAR_EDGE.0 {
        Some(Remedy::Base)
    } else {
        (ph > wish.map_or(NEAR_EDGE.1, |wish| wish + OVER_WISH)).then_some(Remedy::AcidLater)
    }
}

/// True where a pH is no further over its wish than one that is read may be before it is corrected.
#[must_use]
pub fn is_near_wish(ph: f64, wish: f64) -> bool {
    (ph - wish).abs() <= OVER_WISH
}

/// pH by which a solution is judged before it is poured away: it has stood in air by then, and over the range it burns
/// from the start.
#[must_use]
pub fn spent_ph(ph: &Acidity) -> Vec<f64> {
    let Acidity { fresh, aired } = ph;
    let mut spent = vec![aired.ph, fresh.ph.max(aired.ph)];
    if is_untold(fresh) {
        spent.extend([fresh.low, fresh.high]);
    }
    spent
}

/// True where acid and base all but cancel, so that the pH may be out of the range on either side.
pub(super) fn is_untold(ph: &PhSpan) -> bool {
    ph.high - ph.low > UNTOLD && ph.low < PH_RANGE.0 && ph.high > PH_RANGE.1
}

/// True where what holds a pH that was read conducts so much more than what was read, or was poured in, that the pH is doubted:
/// a quarter more, own choice, two meters and an estimate.
///
/// * `holds`, `other`: mS/cm
#[must_use]
pub fn is_doubted_by_ec(holds: f64, other: f64) -> bool {
    holds > 1.25 * other
}

/// True for a pH with which no plant is fed, and at which bare hands stay out.
#[must_use]
pub fn is_burning_ph(ph: f64) -> bool {
    ph < PH_STOP.0 || ph > PH_STOP.1
}

/// True for a pH that was read in a tank and is no longer usual.
#[must_use]
pub fn is_ph_out_of_range(ph: f64) -> bool {
    ph < PH_RANGE.0 || ph > PH_AIRED_MOST
}

pub(super) fn least(ph: &Acidity) -> f64 {
    ph.fresh.low.min(ph.aired.low)
}

/// The range of pH that is usual, in words.
#[must_use]
pub fn ph_range_words() -> String {
    format!("{} to {} fresh, at most {PH_AIRED_MOST} in air", PH_RANGE.0, PH_RANGE.1)
}

/// A pH with as many places as it takes to tell it from an edge that it is beyond.
pub(in crate::safety) fn told(ph: f64, edge: f64) -> String {
    let places = (1..3).find(|places| fixed(ph, *places) != fixed(edge, *places)).unwrap_or(3);
    fixed(ph, places)
}
