//! The grower's one file, parsed and then validated into a [`Bench`] that cannot be wrong.

mod cycle;
mod edit;
mod error;
mod formula;
mod formulas;
mod helpers;
mod instruments;
mod names;
mod products;
mod reader;
mod salts;
mod sections;
mod waters;
mod written;

pub use cycle::{Bag, Cycle, FlowerDays, Group, Phase, PhaseKind};
pub use edit::{Edit, EditError, Step, edited};
pub use error::{BenchError, Problem};
pub use formula::{Formula, Wish};
pub use written::written;

use std::fmt;

use serde::Serialize;

use crate::catalogue::{Catalogue, SaltId};
use crate::matter::{Composition, Salt, Water};
use crate::quantity::{Amount, Conductivity, Date, Mass, MeterScale, Temperature, Time, Volume, milliliter};

/// The starter bench file: what `bloomsalt new` writes and what is used where no bench file is named.
pub const STARTER: &str = include_str!("starter.toml");

/// The reservoir.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tank {
    /// Final volume.
    pub volume: Volume,
    /// How well it is known (k = 2).
    pub plus_minus: Volume,
    /// Temperature of the solution.
    pub temperature: Temperature,
}

/// One of several waters.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Source {
    /// Its id.
    pub id: String,
    /// What it brings.
    pub water: Water,
    /// How much of it there is; `None` without a bound.
    pub on_hand: Option<Volume>,
}

/// A scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// The step it shows.
    pub readability: Mass,
    /// How large a step may be against the dose.
    pub trust: f64,
    /// The most it takes at once.
    pub capacity: Option<Mass>,
}

/// The syringe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Syringe {
    /// The step it shows.
    pub step: Volume,
    /// How large a step may be against the dose.
    pub trust: f64,
    /// The most it takes at once.
    pub capacity: Option<Volume>,
}

/// A jug or cylinder for larger volumes than the syringe draws at once.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Jug {
    /// Its id.
    pub id: String,
    /// The step it shows.
    pub step: Volume,
    /// How large a step may be against the dose.
    pub trust: f64,
    /// The most it takes at once: no less than it can be trusted with.
    pub capacity: Volume,
}

/// The fewest whole steps that an instrument of this trust may measure: 1 / trust, rounded up.
#[must_use]
pub fn smallest_steps(trust: f64) -> f64 {
    // 1 / 0.05 is 20 and not 21, whatever the last bit says
    (1.0 / trust - 1e-9).ceil()
}

/// A salt on the shelf.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stock {
    /// Which salt.
    pub salt: SaltId,
    /// How much there is.
    pub on_hand: Option<Mass>,
    /// What a gram costs, in the grower's own money.
    pub price_per_g: Option<f64>,
    /// Its purity, where the grower states one; else it counts as pure.
    pub purity: Option<f64>,
}

/// What goes into a dilute bottle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ingredient {
    /// A salt, weighed or drawn up.
    Salt(SaltId),
    /// Another bottle, by its position among the helpers; one that stands before.
    Helper(usize),
}

/// A new bottle that some mix proposes: its name, and what that stands for.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct NamedBottle {
    /// Its id.
    pub id: String,
    /// Grams of each salt in a millilitre.
    pub salts: Vec<(SaltId, f64)>,
    /// True when it is made up with pure water.
    pub made_with_pure_water: bool,
}

/// A dilute bottle already made.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Helper {
    /// Its id.
    pub id: String,
    /// Volume it was made up to.
    pub volume: Volume,
    /// What is in it; a volume of another bottle, a mass or a volume of a salt.
    pub made_of: Vec<(Ingredient, Amount)>,
    /// The day it was made.
    pub made_on: Option<Date>,
    /// What is left of it.
    pub left: Option<Volume>,
    /// The day on which what is left was looked at.
    pub counted_on: Option<Date>,
    /// True when made with pure water; else with the bench's own.
    pub made_with_pure_water: bool,
}

/// Which pH an acid is dosed for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// Right after mixing.
    Fresh,
    /// After days in air.
    Aired,
}

impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(match self {
            Self::Fresh => "fresh",
            Self::Aired => "aired",
        })
    }
}

/// The acids that the grower uses, and the wish that they meet together.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Acid {
    /// Ids of salts, products or helpers: one to three, none twice.
    pub salts: Vec<String>,
    /// The wished pH.
    pub target_ph: f64,
    /// When it should hold.
    pub basis: Basis,
}

/// A whole bench, validated.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Bench {
    /// Its name.
    pub name: String,
    /// The reservoir; the first of several, or the one that was picked.
    pub tank: Tank,
    /// Every `[[tank]]` by its id, in file order; empty where the file has one `[tank]`.
    pub tanks: Vec<(String, Tank)>,
    /// The water; of several the blend that a job has found, and nothing as long as none has.
    pub water: Water,
    /// Every `[[water]]`, in file order; empty where the file has one `[water]` or none.
    pub waters: Vec<Source>,
    /// What `water` is blended of: id and share of each, the shares summing to 1; empty where it is no blend.
    pub blend: Vec<(String, f64)>,
    /// New bottles that other mixes on the same page propose: a name of theirs stands for the same content here.
    pub named: Vec<NamedBottle>,
    /// Scales, coarsest first.
    pub scales: Vec<Scale>,
    /// The syringe: nothing on the bench is trusted with a smaller volume.
    pub syringe: Syringe,
    /// The scale of an EC meter that shows ppm; nothing for one that shows mS/cm.
    pub meter: Option<MeterScale>,
    /// Jugs and cylinders, in file order; with any the syringe states what it holds.
    pub jugs: Vec<Jug>,
    /// Every salt that can be named: the table, then the grower's products.
    pub catalogue: Catalogue,
    /// The shelf, in the order of the catalogue.
    pub shelf: Vec<Stock>,
    /// Bottles already made.
    pub helpers: Vec<Helper>,
    /// Sizes of the empty bottles that a new helper may be made up in, smallest first.
    pub bottles: Vec<Volume>,
    /// The acid.
    pub acid: Option<Acid>,
    /// Formulas, resolved, by name.
    pub formulas: Vec<Formula>,
    /// The cycle, where the file has one.
    pub cycle: Option<Cycle>,
    /// Groups of plants, in file order.
    pub groups: Vec<Group>,
    /// Bags in which salts of the shelf are bought.
    pub bags: Vec<Bag>,
    /// The day on which what is on hand was counted, where the shelf states it.
    pub counted: Vec<(SaltId, Date)>,
}

impl Bench {
    /// The bench that the program carries.
    #[must_use]
    pub fn starter() -> Self {
        match Self::parse(STARTER, "starter bench") {
            Ok(bench) => bench,
            // part of the build, read by a test
            Err(error) => unreachable!("the starter bench is damaged: {error}"),
        }
    }

    /// Reads a bench file; `file` is its name for messages.
    ///
    /// # Errors
    /// [`BenchError`] with every problem found: line, key, what was read and what is allowed.
    pub fn parse(text: &str, file: &str) -> Result<Self, BenchError> {
        sections::bench(text, file)
    }

    /// The formula called `name`.
    #[must_use]
    pub fn formula(&self, name: &str) -> Option<&Formula> {
        self.formulas.iter().find(|formula| formula.name == name)
    }

    /// The salt of a shelf entry.
    #[must_use]
    pub fn salt(&self, stock: &Stock) -> &Salt {
        self.catalogue.salt(stock.salt)
    }

    /// The shelf entry of a salt, or one that says nothing when the shelf does not list it.
    #[must_use]
    pub fn stock(&self, salt: SaltId) -> Stock {
        let listed = self.shelf.iter().copied().find(|stock| stock.salt == salt);
        listed.unwrap_or(Stock { salt, on_hand: None, price_per_g: None, purity: None })
    }

    /// One gram of a shelf entry as sold, its stated purity counted.
    #[must_use]
    pub fn composition(&self, stock: &Stock) -> Composition {
        self.salt(stock).composition.scaled(stock.purity.unwrap_or(1.0))
    }

    /// This bench with one of its tanks for the reservoir.
    #[must_use]
    pub fn with_tank_of(self, id: &str) -> Option<Self> {
        let (_, tank) = self.tanks.iter().find(|(other, _)| other == id)?;
        Some(Self { tank: *tank, ..self })
    }

    /// This bench with another tank volume; how well it is known keeps its share of the volume.
    #[must_use]
    pub fn with_tank(mut self, volume: Volume) -> Self {
        let share = milliliter(self.tank.plus_minus) / milliliter(self.tank.volume);
        self.tank.volume = volume;
        self.tank.plus_minus = volume * share;
        self
    }
}

/// How long a formula may be fed, and its EC limits, are typed like everything else that carries a unit.
pub(crate) type Hold = Time;
pub(crate) type EcLimit = Conductivity;
