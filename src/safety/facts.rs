//! What the rules look at. A job fills this in; the rules compute nothing but comparisons.

use serde::Serialize;

use super::Substance;
use crate::matter::{Nutrient, Water};
use crate::quantity::Limits;
use crate::solution::Acidity;

/// One nutrient of the mix as measured out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Achieved {
    /// Which.
    pub nutrient: Nutrient,
    /// What the tank will hold, ppm.
    pub ppm: f64,
    /// What it would hold before anything was rounded to what the instruments show, ppm; `ppm` where nothing was.
    pub exact_ppm: f64,
    /// Its uncertainty (k = 2), ppm.
    pub plus_minus_ppm: f64,
    /// What the formula asks, ppm.
    pub target_ppm: Option<f64>,
    /// Its lower limit, ppm.
    pub min_ppm: Option<f64>,
    /// Its upper limit, ppm.
    pub max_ppm: Option<f64>,
}

/// The finest instrument of the bench for a salt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finest {
    /// The smallest amount it can be trusted with, g.
    pub smallest_g: f64,
    /// Its step, g.
    pub step_g: f64,
    /// Density of a liquid, g/mL: then the instrument is the syringe.
    pub density_g_per_ml: Option<f64>,
}

/// One salt of the mix.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Id.
    pub id: String,
    /// Name.
    pub name: String,
    /// What the fit asks for the whole tank: g of a salt, mL of a bottle.
    pub amount_exact: f64,
    /// True for a bottle.
    pub bottle: bool,
    /// True for an acid: without it the mix is what it is but for its pH.
    pub acid: bool,
    /// Set when no instrument of the bench can be trusted with the dose, or what could be measured stays out.
    pub too_small_for: Option<Finest>,
    /// True where the dose, or the smallest it is rounded up to, could be measured: without it the mix comes closer.
    pub could_be_measured: bool,
    /// Its concentration in the tank, g/L.
    pub g_per_l: f64,
    /// What a litre dissolves at the least at the tank's temperature, g/L, where published.
    pub soluble_g_per_l: Option<f64>,
    /// Source id of the solubility.
    pub solubility_source: Option<String>,
}

/// A new bottle and what comes in it because it is too little to measure.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottled {
    /// Id of the bottle.
    pub bottle: String,
    /// Name, exact amount (g, or mL of a bottle) and the finest instrument for it.
    pub too_little: Vec<(String, f64, Finest)>,
}

/// A mineral above saturation.
#[derive(Debug, Clone, PartialEq)]
pub struct Supersaturated {
    /// Which.
    pub mineral: String,
    /// The larger of its indices, fresh and aired.
    pub index: f64,
    /// True when it is so only after days in air.
    pub only_aired: bool,
    /// True when it stays far above saturation for days without falling out.
    pub slow: bool,
}

/// What would bring the pH to where it should be, at the tank's own buffer.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// Id of the acid or the base.
    pub salt: String,
    /// Name of the acid or the base.
    pub name: String,
    /// How much of it, g.
    pub grams: f64,
    /// The same of a liquid, mL.
    pub millilitres: Option<f64>,
    /// False where no instrument of the bench measures so little of it.
    pub measurable: bool,
    /// What it brings most of beside, and how much, ppm.
    pub brings: Option<(Nutrient, f64)>,
    /// Water to thin an acid with before it goes in, to under 5 % by mass, mL; `None` where that is not needed, or its strength
    /// is not known.
    pub water_ml: Option<f64>,
    /// Where so little of an acid is needed that no instrument measures it: what is thinned in its place, and how much of that goes in.
    pub jug: Option<FromJug>,
    /// The pH that it brings.
    pub ph: f64,
    /// The pH right after it is in, of a tank that has aired; `None` of one that is still to.
    pub fresh_ph: Option<f64>,
    /// True where an acid that was named for this must not meet the urea in it, and this is another.
    pub passed_over: bool,
    /// True for an acid that burns, or of whose hazards nothing is known.
    pub burns: bool,
    /// What is left of it on hand once the mix is made, g, where that is less.
    pub short_g: Option<f64>,
    /// Names of what is in the mix and froths with an acid that meets it undissolved.
    pub never_onto: Vec<String>,
}

/// An acid of which more is thinned than is needed, and a part of that goes in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct FromJug {
    /// What is measured into the jug, g.
    pub measured_g: f64,
    /// The same of a liquid, mL.
    pub measured_ml: Option<f64>,
    /// What the jug then holds, mL.
    pub whole_ml: f64,
    /// What of it goes into the tank, mL.
    pub pour_ml: f64,
}

/// What a dose may not bring a nutrient beyond, ppm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Asked {
    /// A limit of the formula.
    AtMost(f64),
    /// A target of which it would be a good part.
    Target(f64),
    /// What a finding calls too much in any tank.
    Usual {
        /// The most that no finding speaks of.
        most_ppm: f64,
        /// What the tank would hold.
        comes_to_ppm: f64,
        /// A limit of the formula, which is higher, ppm.
        allowed_ppm: Option<f64>,
    },
}

/// Why no dose is told that would bring a pH to where it should be.
#[derive(Debug, Clone, PartialEq)]
pub enum Untold {
    /// What is named is a bottle, of which doses are reckoned for a mix alone.
    OfBottle {
        /// Id of the first.
        name: String,
    },
    /// Every acid that is named leaves open how much alkalinity it has.
    NotStated {
        /// Name of the first.
        name: String,
    },
    /// It would bring more of a nutrient than may be.
    BringsTooMuch {
        /// Name of the acid or the base.
        name: String,
        /// Of what.
        nutrient: Nutrient,
        /// How much, ppm.
        brings_ppm: f64,
        /// What that is too much for.
        asked: Asked,
    },
    /// EC would come over what the formula allows, or over what is called too strong.
    EcOver {
        /// Name of the acid or the base.
        name: String,
        /// What EC would come to, mS/cm.
        ec_ms_per_cm: f64,
        /// The limit, mS/cm.
        max_ms_per_cm: f64,
    },
    /// Nothing here measures so little of an acid that burns.
    TooLittle {
        /// Its name.
        name: String,
    },
    /// A pH so far out that one reading of it is not enough.
    FarOut {
        /// What was read.
        ph: f64,
    },
    /// A pH of which the chemistry finds no content of the tank that has it.
    NotReckoned {
        /// What was read.
        ph: f64,
    },
    /// A pH of a fresh tank that was read while carbon dioxide still went out.
    NotAired {
        /// What was read.
        ph: f64,
        /// From when it is read again, to the minute.
        from: String,
    },
    /// What holds such a pH conducts more than was read.
    NotByEc {
        /// EC that was read, mS/cm.
        read_ms_per_cm: f64,
        /// EC of what would hold the pH, mS/cm.
        holds_ms_per_cm: f64,
    },
}

/// A water as entered.
#[derive(Debug, Clone, Copy)]
pub struct EnteredWater<'a> {
    /// Its id, where there are several.
    pub id: Option<&'a str>,
    /// The analysis.
    pub water: &'a Water,
    /// What its ions give, mS/cm.
    pub ec_ms_per_cm: f64,
    /// Cations over anions, meq/L, where its alkalinity is not stated and they tell that it has some.
    pub lacks_meq_per_l: Option<f64>,
}

/// Everything that the findings of a mix depend on; nothing of it is known by default.
#[derive(Debug, Clone, Default)]
pub struct Facts<'a> {
    /// Nitrogen target of this formula, ppm.
    pub nitrogen_target_ppm: Option<f64>,
    /// Nitrogen target of the formula called `growth`, ppm.
    pub growth_nitrogen_ppm: Option<f64>,
    /// Targets of the formula called `growth` where the tank is held against another, ppm.
    pub growth_ppm: &'a [(Nutrient, f64)],
    /// How long the formula may be fed.
    pub hold_at_most_days: Option<f64>,
    /// Every nutrient.
    pub achieved: &'a [Achieved],
    /// Ammonium share, least and most (they differ when a label does not split its nitrogen).
    pub ammonium_share: Option<(f64, f64)>,
    /// Limits of the share.
    pub ammonium_share_limits: Limits<f64>,
    /// EC at 25 C, mS/cm.
    pub ec_ms_per_cm: f64,
    /// Its uncertainty (k = 2).
    pub ec_plus_minus_ms_per_cm: f64,
    /// Limits of the formula, mS/cm.
    pub ec_limits_ms_per_cm: Limits<f64>,
    /// Its pH, where it is known.
    pub ph: Option<Acidity>,
    /// Alkalinity that is left with its give or take (k = 2), where it is known, meq/L.
    pub alkalinity_meq_per_l: Option<(f64, f64)>,
    /// What [`ph_remedy`](super::ph_remedy) asks for, where it asks and something is there for it, or why no dose is told.
    pub correction: Option<&'a Result<Correction, Untold>>,
    /// Temperature of the tank, C.
    pub temperature_c: f64,
    /// True for a tank that is topped up and not drained, in which what plants leave piles up.
    pub topped_up: bool,
    /// Everything that goes in, by itself or from a bottle.
    pub substances: &'a [Substance],
    /// Ionic strength, mol per kg of water.
    pub ionic_strength_mol_per_kg: f64,
    /// Minerals above saturation.
    pub supersaturated: &'a [Supersaturated],
    /// The salts.
    pub salts: &'a [Measured],
    /// The waters as entered; none where the tank holds more than that already.
    pub waters: &'a [EnteredWater<'a>],
    /// What is too little to measure and comes in new bottles.
    pub bottled: &'a [Bottled],
}

impl Facts<'_> {
    /// What is known of a nutrient.
    pub(super) fn of(&self, nutrient: Nutrient) -> Option<Achieved> {
        self.achieved.iter().find(|a| a.nutrient == nutrient).copied()
    }
}
