//! One file a job: each composes the rooms into one result record, which the report renders.
//!
//! Records carry the unit of every number in its name; they are what `--json` prints.

mod acid;
mod beside;
mod bottles;
mod brew;
mod check;
mod cycle;
mod describe;
mod diary;
mod error;
mod explain;
mod fewer;
mod handling;
mod helpers;
mod holding;
mod measure;
mod mix;
mod parts;
mod pictures;
mod question;
mod reading;
mod recipe;
mod record;
mod refuse;
mod remainder;
mod remedy;
mod salts;
mod saved;
mod scale;
mod stock;
mod switch;
mod trade;

pub use beside::mix_beside;
pub use check::{Added, CheckOptions, CheckRecord, Content, Drawn, check, check_tank, checked_recipe};
pub use cycle::{
    Begin, BottlePlan, CycleMix, CycleRecord, Fill, FillReason, FromDiary, GroupDates, HoldDates, LearntRecord, Meeting,
    PhaseDates, Renewal, RenewalEnd, RenewalFrom, SaltTotal, Shift, TankPlan, Window, cycle,
};
pub use diary::{
    AddedRecord, BackRecord, DayRange, DayRecord, ElementNow, EntryRecord, ForecastAsked, ForecastRecord, MissedRecord,
    NowRecord, Range, RestoreDose, RestoreRecord, ShowRecord, TornRecord, ValueAt, added_event, added_record, diary_state,
    ec_of, filled_event, forecast, now, phase_event, recipe_event, restore, show, topped_up_event,
};
pub use error::JobError;
pub use holding::Holding;
pub use mix::{MixOptions, mix};
pub use pictures::{Balance, Course, CoursePoint, Label, Pictures, Worded, balance, compared, course, labels, pictures};
pub use question::Prefer;
pub use reading::{Cause, CauseGroup, CauseKind, METER_ERROR, Reading, ReadingRecord};
pub use recipe::{Recipe, RecipeDose, RecipeHelper, RecipeProduct, RecipeWish, recipe};
pub use record::{
    AcidRecord, Beside, Change, Comparison, Difference, Dose, Element, General, Handling, HelperRecord, Ingredient, Measure,
    MixRecord, Saturation, StageRecord, Step,
};
pub use remedy::{Remedies, Remedy};
pub use salts::{SaltRecord, SaltsRecord, salt_record, salts_record};
pub use scale::{ScaleRecord, scale};
pub use stock::{BottleChemistry, KeptApart, StockBottle, StockOptions, StockRecord, Straight, StrengthLimit, stock};
pub use switch::{Before, Kind as SwitchKind, SwitchOption, SwitchOptions, SwitchRecord, switch};
pub use trade::{TradePoint, TradeRecord, trade};
