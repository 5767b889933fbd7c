//! A formula: targets and limits of a tank.

use super::{EcLimit, Hold};
use crate::matter::Nutrient;
use crate::quantity::{Limits, Ppm, ppm, ppm_of};

/// What a formula says of one nutrient.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Wish {
    /// Which.
    pub nutrient: Nutrient,
    /// The concentration asked for.
    pub target: Option<Ppm>,
    /// The least allowed.
    pub min: Option<Ppm>,
    /// The most allowed.
    pub max: Option<Ppm>,
    /// Weight of a miss; 1 unless stated.
    pub weight: f64,
}

/// A formula, resolved.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Formula {
    /// Its name.
    pub name: String,
    /// What it says, in the order of [`NUTRIENTS`](crate::matter::NUTRIENTS).
    pub wishes: Vec<Wish>,
    /// Share of ammonium and urea in all nitrogen, a fraction.
    pub ammonium_share: Limits<f64>,
    /// EC at 25 C.
    pub ec: Limits<EcLimit>,
    /// How long it may be fed.
    pub hold_at_most: Option<Hold>,
}

impl Wish {
    /// Target, least and most, ppm.
    #[must_use]
    pub fn in_ppm(&self) -> [Option<f64>; 3] {
        [self.target, self.min, self.max].map(|asked| asked.map(ppm_of))
    }
}

impl Formula {
    /// What the formula says of `nutrient`.
    #[must_use]
    pub fn wish(&self, nutrient: Nutrient) -> Option<&Wish> {
        self.wishes.iter().find(|wish| wish.nutrient == nutrient)
    }

    /// Target of total nitrogen: stated, or the sum of the stated forms.
    #[must_use]
    pub fn nitrogen_target(&self) -> Option<Ppm> {
        let of = |nutrient| self.wish(nutrient).and_then(|wish| wish.target);
        of(Nutrient::N).or_else(|| match (of(Nutrient::NitrateN), of(Nutrient::AmmoniumN)) {
            (None, None) => None,
            (nitrate, ammonium) => Some(ppm(nitrate.map_or(0.0, ppm_of) + ammonium.map_or(0.0, ppm_of))),
        })
    }
}
