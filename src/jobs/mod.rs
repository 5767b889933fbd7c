//! One file a job: each composes the rooms into one result record, which the report renders.
//!
//! Records carry the unit of every number in its name; they are what `--json` prints.

mod bench;
mod beside;
mod check;
mod cycle;
mod engine;
mod error;
mod logbook;
mod mix;
mod new;
mod pictures;
mod recipe;
mod record;
mod salts;
mod scale;
mod shelf;
mod stock;
mod switch;
mod today;
mod top_up;
mod trade;

pub use crate::tank::{
    Added, Content, Drawn, Recipe, RecipeDose, RecipeHelper, RecipeInto, RecipeJug, RecipeProduct, RecipeWater, RecipeWish,
    TankError,
};
pub use bench::{
    BenchEditRecord, BenchFormula, BenchJug, BenchRecord, BenchSalt, BenchScale, BenchSyringe, BenchTank, BenchWish,
    bench_edit_record, bench_record,
};
pub use beside::mix_beside;
pub use check::{
    Cause, CauseGroup, CauseKind, CheckOptions, CheckRecord, Known, METER_ERROR, Reading, ReadingRecord, Remedies, Remedy,
    RemedyKind, check, check_tank, in_water_of,
};
pub use cycle::{
    Begin, BestStart, BottlePlan, CrossingStep, CrossingWork, CycleMix, CycleRecord, Fill, FillReason, FromLogbooks,
    GroupDates, GroupStart, HoldDates, LearntRecord, Meeting, Meets, PhaseDates, Renewal, RenewalEnd, RenewalFrom,
    SaltTotal, StartsProof, TankPlan, Window, cycle, on_best_start,
};
pub use engine::{MixOptions, Prefer, blended, filled_with};
pub use error::{JobError, LimitKind, LimitRecord, TooLittle};
pub use logbook::{
    AddedRecord, BackRecord, DayRange, DayRecord, DoneOtherwise, ElementNow, Entered, EntryRecord, ForecastAsked,
    ForecastRecord, MergeRecord, MissedRecord, NowRecord, Range, RestoreRecord, ShowRecord, TornRecord, ValueAt,
    added_event, added_record, filled_event, forecast, job_event, logbook_state, merge_record, now, phase_event,
    recipe_event, show, slips_of_last, topped_up_event,
};
pub use mix::{held_at_ph, mix, mixed};
pub use new::{NewAnswers, NewProduct, NewRecord, TakenFor, new_bench_text, new_record};
pub use pictures::{
    Balance, Course, CoursePoint, Label, Pictures, Traded, Worded, balance, compared, course, labels, pictures,
};
pub use recipe::{checked_recipe, recipe, remedy_recipe, switch_recipe};
pub(crate) use record::order::souring_steps;
pub use record::{
    AcidRecord, Act, Beside, Change, Comparison, Difference, Dose, Dosed, DrawnUp, Element, General, GoesIn, Handling,
    HelperRecord, Ingredient, MixRecord, Over, PhOpen, Saturation, StageRecord, Step, ToMind, Verdict, VerdictWord,
    WaterRecord,
};
pub use salts::{SaltCaution, SaltRecord, SaltsRecord, salts_record};
pub use scale::{ScaleRecord, scale};
pub use shelf::drawn_down;
pub use stock::{
    BottleChemistry, KeptApart, StockBottle, StockOptions, StockRecord, Straight, StrengthLimit, WithSalts, stock,
};
pub use switch::{Before, InSteps, Kind as SwitchKind, SwitchOption, SwitchOptions, SwitchRecord, SwitchStep, switch};
pub use today::{
    CrossToday, Due, DueBy, DueKind, FillUp, GroupEvent, GroupNext, Left, PhCorrection, PhToday, RipensToday, TodayAsked,
    TodayGroup, TodayRecord, TodayTank, today,
};
pub use top_up::{BuildsUp, Taken, TopUpAsked, TopUpRecord, top_up};
pub use trade::{TradePoint, TradeRecord, trade};
