//! Elements, ions, chemical formulas, salts, labelled products and water.
//!
//! Only primary facts come in (a chemical formula, a guaranteed analysis); masses and fractions are derived here.

mod caution;
mod composition;
mod element;
mod formula;
mod ion;
mod label;
mod nutrient;
mod salt;
mod water;

pub use caution::Caution;
pub use composition::{Composition, Open};
pub use element::Elements;
pub use formula::{Formula, FormulaError};
pub use ion::{Ion, IonId, Ions, NitrogenForm};
pub use label::{Label, LabelError, LabelItem};
pub use nutrient::{NUTRIENTS, Nutrient, Nutrients};
pub use salt::{CHELATORS, Chelator, Hazards, Kind, Law, Salt, Solubility, Stated};
pub use water::{Water, WaterItem};
