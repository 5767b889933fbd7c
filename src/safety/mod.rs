//! Handling notes as sourced data, the findings, and when each applies. No other room words a warning.

mod acidity;
mod analysis;
mod apart;
mod balance;
mod caution;
mod chelates;
mod code;
mod confirm;
mod cycle;
mod explain;
mod facts;
mod finding;
mod logbook;
mod reaction;
mod reading;
mod stock;
mod strength;
mod substance;
mod together;
mod watch;
mod water;
mod weighing;

pub use acidity::{
    Burning, MILD_BASE, PH_FRESH_LEAST, Remedy, burns_as_read, harms, held_burns, is_burning_ph, is_doubted_by_ec,
    is_near_wish, is_ph_out_of_range, kept_apart_words, ph_range_words, ph_remedy, read_ph_remedy, spent_ph,
    untold_of_reading,
};
pub use analysis::of_analysis;
pub use apart::{Stored, better_apart, kept_apart, kept_apart_without_phosphate, may_lose_its_metal, never_together};
pub use balance::{Turned, ammonium_not_bought, nitrogen_form_unknown, push_not_lean, turn_not_lean};
pub use caution::{Advice, advice_for, general_cautions, is_treated_first, worn_for_acid};
pub use chelates::chelates_outside;
pub use code::Code;
pub use confirm::{
    acid_over, asked_back, booked_twice, dated_before, dated_off_last, ec_fell, level_fell, more_than_left,
    more_than_on_hand, nitric_into_urea, of_other_bench, of_other_formula, of_smaller_tank, overfilled, ph_far_out,
    too_strong_after, unknown_phase,
};
pub use cycle::{Held, MeetMore, held_too_long, never_meet, nitrogen_low_until, ripe_after_the_end, tank_not_measurable};
pub use explain::{Helps, Missed, Partner, why_missed, would_help};
pub use facts::{
    Achieved, Asked, Bottled, Correction, EnteredWater, Facts, Finest, FromJug, Measured, Supersaturated, Untold,
};
pub use finding::{Finding, Severity};
pub use logbook::{InTank, may_lack_nitrogen, of_learnt, of_logbook, runs_down_sooner};
pub use reaction::{
    AcidFacts, BaseWanted, MODEL_REACH_MOL_PER_KG, acid_in_steps, acid_not_reckoned, acid_not_reckoned_in_tank,
    alkalinity_not_stated, alkalinity_open, is_over_wish, of_acid, ph_unknown, salts_in_steps, speaks_against,
};
pub use reading::{ReadingFacts, of_reading, reads_too_far};
pub use stock::{
    AcidWanted, bottles_cannot_dose, bottles_run_short, chelate_exchanges, stock_leaves_acid, stock_left_out,
    stock_not_acid, stock_runs_short, stock_weaker,
};
pub use strength::{MOST_EC_MS_PER_CM, SODIUM_TOPPED_UP_PPM, STRONG_EC_MS_PER_CM, over_usual_ppm, too_much_ppm};
pub use substance::{Chelate, Restricted, Substance};
pub use together::{acid_kept_from, kept_from_acid, never_in_one_mix, restricted, restricts};
pub use watch::{findings, is_unfit, label_omits_sulfur, meets_what_it_must_not};
pub use weighing::{
    acid_left_to_others, acid_stays_out, acid_too_little, back_by, bottle_old, bottles_undrawn, closer_than_exact,
    fewer_salts, in_two_steps, limits_gave_way, raised_to_floor, shelf_runs_short,
};
