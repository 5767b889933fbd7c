//! The one model of a tank: what can be measured into it, what it holds, and the chemistry of that.

pub(crate) mod blend;
mod by_element;
pub(crate) mod chemistry;
pub(crate) mod content;
pub(crate) mod correction;
pub(crate) mod dose;
mod error;
pub(crate) mod instrument;
pub(crate) mod parts;
mod recipe;
pub(crate) mod saved;

pub(crate) use by_element::ec_in;
pub use by_element::ec_of;
pub(crate) use by_element::surplus_meq_per_l;
pub use content::Content;
pub(crate) use content::lacks_alkalinity;
pub use dose::{Added, Drawn};
pub use error::TankError;
pub use recipe::{Recipe, RecipeDose, RecipeHelper, RecipeInto, RecipeJug, RecipeProduct, RecipeWater, RecipeWish};

use crate::bench::Bench;
use crate::quantity::Volume;

/// What is done with what is let out before it goes anywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Spent {
    /// Nothing but what SAFETY tells of every old solution.
    Goes,
    /// It is thinned, since it is too strong.
    Thinned,
    /// It is treated, since it burns or nearly does.
    Treated,
}

/// A tank that is turned over, not filled from empty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turned {
    /// What is let out first, L.
    pub(crate) drain_l: f64,
    /// What stays behind in medium and pipes, L.
    pub(crate) held_back_l: f64,
    /// What is filled in then, L.
    pub(crate) filled_l: f64,
    /// The mark that it is topped up to, L.
    pub(crate) full_l: f64,
    /// What is done with what is let out.
    pub(crate) spent: Spent,
    /// True where what it held must be rinsed out before anything else goes in.
    pub(crate) unfit: bool,
    /// True where what stays behind is rinsed, and so is water when the tank is filled.
    pub(crate) rinsed: bool,
    /// True where it held urea, which must not meet nitric acid.
    pub(crate) urea: bool,
}

/// A tank that is mixed into.
#[derive(Debug, Clone)]
pub(crate) struct Tank<'a> {
    /// Whose shelf, instruments, formulas and water count.
    pub(crate) bench: &'a Bench,
    /// What is in it when it is full and nothing has been measured into it yet.
    pub(crate) before: Content,
    /// True where that is the bench's water alone.
    pub(crate) is_fresh: bool,
    /// All that it holds in the end, what stays behind in medium and pipes included.
    pub(crate) volume: Volume,
    /// What there is room for: all of it in an empty tank.
    pub(crate) room: Volume,
    /// How it is turned over, where it is.
    pub(crate) turned: Option<Turned>,
}

impl<'a> Tank<'a> {
    /// The empty tank of a bench.
    ///
    /// # Errors
    /// [`TankError::NoEquilibrium`] for a water that the chemistry cannot reckon.
    pub(crate) fn fresh(bench: &'a Bench) -> Result<Self, TankError> {
        let (volume, room) = (bench.tank.volume, bench.tank.volume);
        Ok(Self { bench, before: Content::of_water(bench)?, is_fresh: true, volume, room, turned: None })
    }

    /// The tank of a bench, full of `content`.
    pub(crate) fn full_of(bench: &'a Bench, content: Content) -> Self {
        Self { bench, before: content, is_fresh: false, volume: bench.tank.volume, room: bench.tank.volume, turned: None }
    }

    /// The same tank with the shelf of another bench.
    pub(crate) fn with_shelf_of<'b>(&self, bench: &'b Bench) -> Tank<'b> {
        let Self { before, is_fresh, volume, room, turned, .. } = self.clone();
        Tank { bench, before, is_fresh, volume, room, turned }
    }

    /// Water that is filled in, L; none into a tank that is full of something.
    pub(crate) fn filled_l(&self) -> f64 {
        self.turned.map_or(if self.is_fresh { self.litres() } else { 0.0 }, |turned| turned.filled_l)
    }

    /// Its volume, L.
    pub(crate) fn litres(&self) -> f64 {
        self.volume.get::<uom::si::volume::liter>()
    }
}
