//! One file a job: each composes the rooms into one result record, which the report renders.
//!
//! Records carry the unit of every number in its name; they are what `--json` prints.

mod acid;
mod beside;
mod brew;
mod check;
mod cycle;
mod describe;
mod error;
mod handling;
mod measure;
mod mix;
mod recipe;
mod record;
mod salts;

pub use beside::mix_beside;
pub use check::{Added, check};
pub use cycle::{
    Begin, CycleMix, CycleRecord, Fill, FillReason, GroupDates, HoldDates, Meeting, PhaseDates, SaltTotal, Shift, TankPlan,
    Window, cycle,
};
pub use error::JobError;
pub use mix::mix;
pub use recipe::{Recipe, RecipeDose, RecipeProduct, recipe};
pub use record::{
    AcidRecord, Beside, Change, Comparison, Difference, Dose, Element, General, Handling, HelperRecord, Measure, MixRecord,
    Saturation, StageRecord, Step,
};
pub use salts::{SaltRecord, SaltsRecord, salt_record, salts_record};
