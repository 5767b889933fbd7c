//! What dissolved salts do: speciation, conductivity, acidity and what may fall out.

mod acidity;
mod activity;
mod conductivity;
mod saturation;
mod slope;
mod speciate;
mod species;

pub use acidity::{Acidity, PhSpan};
pub use conductivity::{EC_MODEL_PLUS_MINUS, conductivity, conductivity_at};
pub(crate) use saturation::saturation_at;
pub use saturation::{InBottles, Mineral, saturation};
pub use slope::{Slopes, conductivity_slopes};
pub(crate) use speciate::speciate_near;
pub(crate) use speciate::system::MOST_MASTERS;
pub use speciate::{AIR_CO2_LOG_ACTIVITY, Air, Speciation, SpeciationError, speciate, speciate_at_ph};
pub(crate) use species::LITRES_PER_KG;
pub(crate) use species::master_alkalinity;
pub use species::{Chemistry, MasterId, Mobility, Species, Totals};
