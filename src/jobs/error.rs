//! Why a job has no result.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::quantity::{liter, significant, trimmed, volume_text};
use crate::solution::SpeciationError;
use crate::tank::TankError;

/// Of what kind a stated limit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum LimitKind {
    /// Lower limit of an element.
    AtLeast,
    /// Upper limit of an element.
    AtMost,
    /// Lower limit of the ammonium share.
    ShareAtLeast,
    /// Upper limit of the ammonium share.
    ShareAtMost,
    /// What is on hand of a salt or a bottle.
    OnHand,
    /// Lower limit of EC.
    EcAtLeast,
    /// Upper limit of EC.
    EcAtMost,
    /// The wish for a pH.
    Ph,
    /// What there is of the waters.
    Waters,
}

/// A stated limit that contradicts others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct LimitRecord {
    /// Its kind.
    pub kind: LimitKind,
    /// Symbol of the element; null where it is of none.
    pub element: Option<String>,
    /// Id of the salt or bottle; null where it is of none.
    pub part: Option<String>,
    /// Where it stands; null for the wish for a pH.
    pub level: Option<f64>,
    /// Unit of the level: `ppm`, `%`, `g`, `mL`, `mS/cm`, or empty.
    pub unit: String,
    /// The level at which all the others could be kept, were it to give way alone; null where that is not known.
    pub enough_at: Option<f64>,
    /// The limit in words.
    pub words: String,
}

/// A dose that nothing on the bench can be trusted with.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct TooLittle {
    /// Name of the salt or bottle.
    pub name: String,
    /// What the mix needs of it.
    pub amount: f64,
    /// The least that can be measured of it here.
    pub smallest: f64,
    /// Unit of both: `g` or `mL`.
    pub unit: &'static str,
}

/// A job that could not be done.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum JobError {
    /// No formula of that name.
    UnknownFormula {
        /// What was asked for.
        name: String,
        /// What there is.
        known: Vec<String>,
        /// What was probably meant.
        suggestion: Option<String>,
    },
    /// Nothing on the shelf brings anything that is asked for.
    NothingToMixFrom {
        /// The formula.
        formula: String,
    },
    /// Every dose of the mix is under what the scales and the syringe can be trusted with.
    NothingMeasurable {
        /// The formula.
        formula: String,
        /// Volume of the tank, L.
        litres: f64,
        /// Each dose.
        doses: Vec<TooLittle>,
        /// The smallest tank in which all of them can be measured, L, where what is on hand is enough for it.
        tank_l: Option<f64>,
        /// Step of a scale that would do for all that is weighed, g.
        scale_g: Option<f64>,
        /// Step of a syringe that would do for all that is drawn up, mL.
        syringe_ml: Option<f64>,
    },
    /// Stated limits contradict each other; a set of them of which none can be spared.
    Conflict {
        /// The formula.
        formula: String,
        /// Each limit.
        limits: Vec<LimitRecord>,
        /// Why, where one limit alone cannot hold.
        why: String,
        /// What would help, each thing confirmed by solving again.
        helps: Vec<String>,
    },
    /// None of the choices of so few salts that were tried keeps the limits.
    TooFewSalts {
        /// The formula.
        formula: String,
        /// How many may go in.
        most: usize,
    },
    /// The least cost was wished for, and some salts have no price.
    NoPrice {
        /// Their names.
        names: Vec<String>,
    },
    /// A trade-off along a nutrient of which there is none.
    NothingToTrade {
        /// Its symbol.
        nutrient: String,
    },
    /// A switch that cannot be figured.
    NoSwitch {
        /// What is missing or does not fit.
        why: String,
    },
    /// No stock bottles can be made.
    NoStock {
        /// Why.
        why: String,
    },
    /// The bench file has no `[cycle]`.
    NoCycle,
    /// A flowering week, and no group that says how long flowers take.
    NoFlowering,
    /// What to top up with cannot be said.
    NoTopUp {
        /// What is not known.
        why: String,
    },
    /// Of all waters together there is less than is to be filled in.
    NotEnoughWater {
        /// What is to be filled in, L.
        needed_l: f64,
        /// Every water, and what there is of it, L.
        there_l: Vec<(String, f64)>,
    },
    /// A day of which neither a logbook nor a plan tells.
    NothingKnown {
        /// Why there is no plan.
        why: String,
    },
    /// What a tank holds cannot be said.
    Tank(TankError),
    /// A result that failed its own verification.
    Failed {
        /// What went wrong.
        words: String,
    },
}

impl JobError {
    /// Its words in one line, for a record that holds them as a reason.
    pub(crate) fn in_a_line(&self) -> String {
        self.to_string().replace("\n  ", "; ")
    }

    /// A short code for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::UnknownFormula { .. } => "unknown-formula",
            Self::NothingToMixFrom { .. } => "nothing-to-mix-from",
            Self::NothingMeasurable { .. } => "nothing-measurable",
            Self::Conflict { .. } => "limits-contradict",
            Self::TooFewSalts { .. } => "too-few-salts",
            Self::NoPrice { .. } => "no-price",
            Self::Tank(TankError::NoRecipe { .. }) => "recipe",
            Self::Tank(TankError::NotBlended { .. }) => "waters-not-blended",
            Self::NotEnoughWater { .. } => "not-enough-water",
            Self::NoSwitch { .. } => "switch",
            Self::NoStock { .. } => "no-stock",
            Self::NothingToTrade { .. } => "nothing-to-trade",
            Self::Tank(TankError::UnknownBottle { .. }) => "unknown-bottle",
            Self::Tank(TankError::SolidByVolume { .. }) => "solid-by-volume",
            Self::Tank(TankError::NoEquilibrium { .. }) => "no-equilibrium",
            Self::NoCycle => "no-cycle",
            Self::NoFlowering => "no-flowering",
            Self::NothingKnown { .. } => "nothing-known",
            Self::NoTopUp { .. } => "no-top-up",
            Self::Failed { .. } => "own-failure",
        }
    }

    /// The exit status that belongs to it.
    #[must_use]
    pub fn exit_status(&self) -> u8 {
        match self {
            Self::NothingToMixFrom { .. }
            | Self::NothingMeasurable { .. }
            | Self::NoTopUp { .. }
            | Self::NotEnoughWater { .. }
            | Self::Conflict { .. }
            | Self::TooFewSalts { .. }
            | Self::NoStock { .. }
            | Self::Tank(TankError::NoEquilibrium { .. }) => 1,
            Self::UnknownFormula { .. }
            | Self::NoPrice { .. }
            | Self::NothingToTrade { .. }
            | Self::NoSwitch { .. }
            | Self::Tank(_)
            | Self::NoCycle
            | Self::NoFlowering
            | Self::NothingKnown { .. } => 2,
            Self::Failed { .. } => 3,
        }
    }

    /// What would help.
    #[must_use]
    pub fn help(&self) -> Option<String> {
        match self {
            Self::UnknownFormula { suggestion, .. } => suggestion.as_ref().map(|name| format!("did you mean `{name}`?")),
            Self::NothingToMixFrom { .. } => Some("add salts to [shelf]; the salt table lists them".to_owned()),
            Self::NothingMeasurable { tank_l, scale_g, syringe_ml, .. } => {
                Some(would_measure(*tank_l, *scale_g, *syringe_ml))
            }
            Self::Conflict { helps, .. } if helps.is_empty() => Some("loosen one of them".to_owned()),
            Self::Conflict { helps, .. } => Some(helps.join("; ")),
            Self::TooFewSalts { .. } => Some("allow more salts, or loosen a limit".to_owned()),
            Self::NoPrice { .. } => Some("state `price_per_kg` or `price_per_l` for each on the shelf".to_owned()),
            Self::NothingToTrade { .. } => Some("name a nutrient that the formula asks for".to_owned()),
            Self::Tank(TankError::NotBlended { .. }) => {
                Some("write the water that is in it as one [water], and the job is done for that".to_owned())
            }
            Self::NotEnoughWater { .. } => Some("a smaller tank, or more under `[[water]] on_hand`".to_owned()),
            Self::Tank(TankError::NoRecipe { .. }) => Some("a recipe is what a mix saves".to_owned()),
            Self::NothingKnown { .. } => Some("name a logbook, or begin one: enter `filled …`".to_owned()),
            Self::NoSwitch { .. } | Self::NoTopUp { .. } | Self::Tank(TankError::UnknownBottle { .. }) => None,
            Self::NoStock { .. } => Some("a mix weighs it straight into the tank".to_owned()),
            Self::Tank(TankError::SolidByVolume { .. }) => Some("weigh it and state grams".to_owned()),
            Self::Tank(TankError::NoEquilibrium { .. }) => Some(
                "the model is for nutrient solutions, up to about 0.5 mol/kg; is the volume or an amount a slip?".to_owned(),
            ),
            Self::NoCycle => Some("write [cycle] with your own figures, as docs/cycle.md shows".to_owned()),
            Self::NoFlowering => Some("write a [[group]] with `days_to_flower`, or state `start`".to_owned()),
            Self::Failed { .. } => Some("this is a fault of the program; please report it with the bench file".to_owned()),
        }
    }
}

impl fmt::Display for JobError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownFormula { name, known, .. } if known.is_empty() => {
                write!(f, "there is no formula `{name}`: the bench file has none")
            }
            Self::UnknownFormula { name, known, .. } => {
                write!(f, "there is no formula `{name}`; the bench file has {}", known.join(", "))
            }
            Self::NothingToMixFrom { formula } => {
                write!(f, "nothing to mix from: no salt on the shelf brings anything that `{formula}` asks for")
            }
            Self::NothingMeasurable { formula, litres, doses, .. } => {
                let volume = volume_text(liter(*litres));
                write!(f, "nothing on the bench can measure any of what {volume} of `{formula}` need")?;
                doses.iter().try_for_each(|of| {
                    let text = |amount: f64| match of.unit {
                        "g" if amount < 1.0 => format!("{} mg", significant(amount * 1e3, 2)),
                        unit => format!("{} {unit}", significant(amount, 2)),
                    };
                    let (amount, least) = (text(of.amount), text(of.smallest));
                    write!(f, "\n  {}: {amount}, and {least} is the least that can be trusted", of.name)
                })
            }
            Self::Conflict { formula, limits, why, .. } => {
                write!(f, "the limits of `{formula}` cannot all be kept{why}")?;
                limits.iter().try_for_each(|limit| write!(f, "\n  {}", limit.words))
            }
            Self::TooFewSalts { formula, most } => {
                let salts = if *most == 1 { "1 salt".to_owned() } else { format!("{most} salts") };
                write!(f, "no choice of at most {salts} that was tried keeps the limits of `{formula}`")
            }
            Self::NoPrice { names } => write!(f, "the cheapest mix cannot be told without a price of {}", names.join(", ")),
            Self::NothingToTrade { nutrient } => write!(f, "the formula neither asks for {nutrient} nor brings any"),
            Self::NoSwitch { why } | Self::NoStock { why } => f.write_str(why),
            Self::NoCycle => write!(f, "the bench file has no [cycle], so there is nothing to put on the calendar"),
            Self::NotEnoughWater { needed_l, there_l } => {
                let there = there_l.iter().map(|(id, litres)| format!("{id} {}", volume_text(liter(*litres))));
                let there: Vec<String> = there.collect();
                write!(f, "{} of water are needed, and there is less: {}", volume_text(liter(*needed_l)), there.join(", "))
            }
            Self::NoTopUp { why } => write!(f, "what to top up with cannot be said: {why}"),
            Self::NothingKnown { why } => write!(f, "neither a logbook nor a plan says what to do: {why}"),
            Self::NoFlowering => write!(f, "no group says how long flowers take, so a start cannot be counted back"),
            Self::Tank(error) => error.fmt(f),
            Self::Failed { words } => f.write_str(words),
        }
    }
}

/// What would measure a mix.
fn would_measure(tank_l: Option<f64>, scale_g: Option<f64>, syringe_ml: Option<f64>) -> String {
    let tank = tank_l.map(|litres| format!("a tank of {} or more", volume_text(liter(litres))));
    let finer = [
        scale_g.map(|step| format!("a scale that shows {} g", trimmed(step, 4))),
        syringe_ml.map(|step| format!("a syringe with steps of {} mL", trimmed(step, 2))),
    ];
    let finer: Vec<String> = finer.into_iter().flatten().collect();
    let ways: Vec<String> = tank.into_iter().chain((!finer.is_empty()).then(|| finer.join(" and "))).collect();
    if ways.is_empty() {
        return "a larger tank would do, or a finer scale or syringe than is usual".to_owned();
    }
    format!("{} would do for all of it", ways.join(", or "))
}

impl std::error::Error for JobError {}

impl From<TankError> for JobError {
    fn from(error: TankError) -> Self {
        Self::Tank(error)
    }
}

impl From<SpeciationError> for JobError {
    fn from(error: SpeciationError) -> Self {
        TankError::from(error).into()
    }
}
