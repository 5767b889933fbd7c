//! What is measured out: every salt and bottle of a mix, and how it goes in.

use serde::Serialize;

use super::made::Made;
use crate::bench::Bench;
use crate::catalogue::SaltId;
use crate::matter::Kind;
use crate::tank::instrument::Measured;
use crate::tank::parts::Part;

/// One salt or bottle of the mix, in the order in which it goes in. In JSON it is one flat record, whatever the case.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(into = "Flat")]
#[non_exhaustive]
pub struct Dose {
    /// Its name in words.
    pub name: String,
    /// What it is, and how much of it goes in in which way.
    pub what: Dosed,
    /// True for an acid, and for a bottle of one: it goes in last, and never undiluted.
    pub acid: bool,
    /// What it costs, in the grower's own money; `None` where it is not measured out, or has no price.
    pub cost: Option<f64>,
}

/// What a dose is of.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Dosed {
    /// A salt.
    Salt {
        /// Its id.
        id: String,
        /// What the linear program gave, g.
        grams_exact: f64,
        /// How it goes in.
        goes_in: GoesIn,
    },
    /// A dilute bottle.
    Bottle {
        /// Its id.
        id: String,
        /// What the exact mix has of it, mL.
        millilitres_exact: f64,
        /// What is drawn from it; `None` where that is too little to measure: it is left out.
        drawn: Option<DrawnUp>,
    },
}

/// How a salt goes in.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum GoesIn {
    /// Weighed.
    Weighed {
        /// What to weigh, g.
        grams: f64,
        /// Step of the scale to use, g; `None` where it was weighed already.
        scale_g: Option<f64>,
        /// Portions to weigh it in.
        portions: u32,
    },
    /// A liquid, measured by volume.
    Drawn {
        /// What that weighs, g.
        grams: f64,
        /// The volume.
        drawn: DrawnUp,
    },
    /// Too little to measure by itself: it comes in a bottle of the mix.
    InBottle {
        /// Id of the bottle.
        bottle: String,
        /// What of it goes in with that, in the steps in which the bottle was filled, g.
        grams: f64,
    },
    /// Too little to measure, and left out.
    LeftOut,
}

/// A volume as measured out.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct DrawnUp {
    /// What to draw up, mL.
    pub millilitres: f64,
    /// Id of the jug to use; `None` for the syringe.
    pub jug: Option<String>,
    /// Portions to measure it in.
    pub portions: u32,
}

impl Dose {
    /// A part of what was made.
    pub(super) fn of(made: &Made, at: usize, litres: f64) -> Self {
        let (bench, parts, measured) = (made.tank.bench, made.parts, &made.measured[at]);
        let (id, exact) = (parts.id(at).to_owned(), made.exact_per_l[at] * litres);
        let drawn = measured.millilitres.map(|millilitres| DrawnUp {
            millilitres,
            jug: jug_id(bench, measured),
            portions: measured.portions,
        });
        let what = match parts.list[at] {
            Part::Helper(_) => Dosed::Bottle { id, millilitres_exact: exact, drawn },
            Part::Salt(_) => Dosed::Salt { id, grams_exact: exact, goes_in: goes_in(made, at, drawn) },
        };
        let price = |salt| bench.stock(salt).price_per_g;
        let cost = match parts.list[at] {
            // a bottle that exists is paid for
            Part::Helper(helper) if helper < bench.helpers.len() => Some(0.0),
            _ => parts.contents(at).salts.iter().map(|(salt, grams)| Some(price(*salt)? * grams * measured.amount)).sum(),
        };
        Self {
            name: parts.name(at).to_owned(),
            what,
            acid: parts.kind(at) == Kind::Acid,
            cost: cost.filter(|_| measured.is_trusted),
        }
    }

    /// Id of the salt or the bottle.
    #[must_use]
    pub fn id(&self) -> &str {
        match &self.what {
            Dosed::Salt { id, .. } | Dosed::Bottle { id, .. } => id,
        }
    }

    /// Id of the salt, where it is one.
    #[must_use]
    pub fn salt(&self) -> Option<&str> {
        match &self.what {
            Dosed::Salt { id, .. } => Some(id),
            Dosed::Bottle { .. } => None,
        }
    }

    /// Id of the bottle, where it is one.
    #[must_use]
    pub fn bottle(&self) -> Option<&str> {
        match &self.what {
            Dosed::Bottle { id, .. } => Some(id),
            Dosed::Salt { .. } => None,
        }
    }

    /// What the linear program gave of a salt, g.
    #[must_use]
    pub fn grams_exact(&self) -> Option<f64> {
        match self.what {
            Dosed::Salt { grams_exact, .. } => Some(grams_exact),
            Dosed::Bottle { .. } => None,
        }
    }

    /// What is measured out of a salt by itself, g.
    #[must_use]
    pub fn grams(&self) -> Option<f64> {
        match self.what {
            Dosed::Salt { goes_in: GoesIn::Weighed { grams, .. } | GoesIn::Drawn { grams, .. }, .. } => Some(grams),
            _ => None,
        }
    }

    /// What goes in of a salt in a new bottle, g.
    #[must_use]
    pub fn grams_in_bottle(&self) -> Option<f64> {
        match self.what {
            Dosed::Salt { goes_in: GoesIn::InBottle { grams, .. }, .. } => Some(grams),
            _ => None,
        }
    }

    /// What is drawn up of a liquid or a bottle.
    #[must_use]
    pub fn drawn(&self) -> Option<&DrawnUp> {
        match &self.what {
            Dosed::Salt { goes_in: GoesIn::Drawn { drawn, .. }, .. } => Some(drawn),
            Dosed::Bottle { drawn, .. } => drawn.as_ref(),
            Dosed::Salt { .. } => None,
        }
    }

    /// The same, mL.
    #[must_use]
    pub fn millilitres(&self) -> Option<f64> {
        self.drawn().map(|drawn| drawn.millilitres)
    }

    /// True where it is measured out by itself.
    #[must_use]
    pub fn is_measured(&self) -> bool {
        self.grams().is_some() || self.drawn().is_some()
    }

    /// Portions to measure it in, where it is more than the instrument takes at once.
    #[must_use]
    pub fn portions(&self) -> Option<u32> {
        let portions = match self.what {
            Dosed::Salt { goes_in: GoesIn::Weighed { portions, .. }, .. } => Some(portions),
            _ => self.drawn().map(|drawn| drawn.portions),
        };
        portions.filter(|portions| *portions > 1)
    }
}

/// How a salt goes in.
///
/// * `drawn`: its volume, where it was measured by that
fn goes_in(made: &Made, at: usize, drawn: Option<DrawnUp>) -> GoesIn {
    let (parts, measured) = (made.parts, &made.measured[at]);
    if let Some(bottle) = made.bottle_of(at) {
        // what the bottle really holds of it, in whole steps of the scale that filled it
        let is_it = |salt: &SaltId| made.tank.bench.catalogue.salt(*salt).id == parts.id(at);
        let of_it = parts.contents(bottle).salts.into_iter().filter(|(salt, _)| is_it(salt));
        let grams = of_it.map(|(_, grams)| grams).sum::<f64>() * made.measured[bottle].amount;
        return GoesIn::InBottle { bottle: parts.id(bottle).to_owned(), grams };
    }
    let Measured { amount: grams, scale_g, portions, .. } = *measured;
    match drawn {
        _ if !measured.is_trusted => GoesIn::LeftOut,
        Some(drawn) => GoesIn::Drawn { grams, drawn },
        None => GoesIn::Weighed { grams, scale_g, portions },
    }
}

/// Id of the jug that measures something.
pub(super) fn jug_id(bench: &Bench, measured: &Measured) -> Option<String> {
    Some(bench.jugs.get(measured.jug?)?.id.clone())
}

/// How a dose is measured out.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
enum Measure {
    /// Weighed.
    Scale,
    /// Drawn up.
    Syringe,
    /// Measured in a jug or cylinder.
    Jug,
    /// Drawn up from a dilute bottle.
    Helper,
}

/// One salt of the mix, in the order in which it goes in.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(rename = "Dose"))]
struct Flat {
    /// Its id; null for a helper.
    salt: Option<String>,
    /// Its name in words.
    name: String,
    /// How it is measured out; null when nothing on the bench can be trusted with it: then it comes in the bottle that
    /// `helper` names, if it names one, else it is left out.
    measure: Option<Measure>,
    /// What to weigh, g; null when it cannot be measured.
    grams: Option<f64>,
    /// What of it goes in with its bottle, g; null where it is measured by itself.
    grams_in_bottle: Option<f64>,
    /// What the linear program gave, g; null for a bottle.
    grams_exact: Option<f64>,
    /// What to draw up, mL, for liquids and bottles.
    millilitres: Option<f64>,
    /// What the exact mix has of a bottle, mL; null for a salt.
    millilitres_exact: Option<f64>,
    /// The bottle that is drawn from, or that a salt comes in.
    helper: Option<String>,
    /// Step of the scale to use, g.
    scale_g: Option<f64>,
    /// Id of the jug to use; null where it is none.
    jug: Option<String>,
    /// Portions to measure it in, where it is more than the instrument takes at once.
    portions: Option<u32>,
    /// True for an acid, and for a bottle of one: it goes in last, and never undiluted.
    acid: bool,
    /// What it costs, in the grower's own money.
    cost: Option<f64>,
}

impl From<Dose> for Flat {
    fn from(dose: Dose) -> Self {
        let (grams, millilitres, portions) = (dose.grams(), dose.millilitres(), dose.portions());
        let jug = dose.drawn().and_then(|drawn| drawn.jug.clone());
        let Dose { name, what, acid, cost } = dose;
        let none = Self {
            salt: None,
            name,
            measure: None,
            grams,
            grams_in_bottle: None,
            grams_exact: None,
            millilitres,
            millilitres_exact: None,
            helper: None,
            scale_g: None,
            jug,
            portions,
            acid,
            cost,
        };
        match what {
            Dosed::Bottle { id, millilitres_exact, drawn } => Self {
                measure: drawn.map(|_| Measure::Helper),
                millilitres_exact: Some(millilitres_exact),
                helper: Some(id),
                ..none
            },
            Dosed::Salt { id, grams_exact, goes_in } => {
                let salt = Self { salt: Some(id), grams_exact: Some(grams_exact), ..none };
                match goes_in {
                    GoesIn::Weighed { scale_g, .. } => Self { measure: Some(Measure::Scale), scale_g, ..salt },
                    GoesIn::Drawn { drawn, .. } => {
                        Self { measure: Some(drawn.jug.map_or(Measure::Syringe, |_| Measure::Jug)), ..salt }
                    }
                    GoesIn::InBottle { bottle, grams } => {
                        Self { helper: Some(bottle), grams_in_bottle: Some(grams), ..salt }
                    }
                    GoesIn::LeftOut => salt,
                }
            }
        }
    }
}

/// What is written is what the schema describes.
#[cfg(feature = "schema")]
impl schemars::JsonSchema for Dose {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        Flat::schema_name()
    }

    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        Flat::json_schema(generator)
    }
}
