//! The one model of a tank: what can be measured into it, what it holds, and the chemistry of that.

pub(crate) mod chemistry;
pub(crate) mod content;
mod error;
pub(crate) mod instrument;
pub(crate) mod parts;
mod recipe;
pub(crate) mod saved;

pub use content::Holding;
pub use error::TankError;
pub use instrument::Measure;
pub use recipe::{Recipe, RecipeDose, RecipeHelper, RecipeProduct, RecipeWish};
