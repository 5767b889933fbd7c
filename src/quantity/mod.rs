//! Quantities as growers write them: parsing `"60 L"`, printing, and the one table of input bounds.
//!
//! The types are those of [`uom`]; the unit factors are our own because they must be exact (the pound and
//! the gallon are defined exactly, and a truncated factor would show in a weighed gram).

mod bound;
mod bounds;
mod date;
mod limits;
mod parse;
mod print;
mod units;

pub use bound::{Bound, QuantityError};
pub use bounds::{
    ADDED_G, ADDED_L, ALKALINITY_MEQ_PER_L, ANALYSIS_PERCENT, BAG_G, BAG_L, BOTTLE_L, BROUGHT_MG, BUCKET_L, CAPACITY_G,
    CAPACITY_ML, CARBON_MOL_PER_KG, DAYS, DENSITY_KG_PER_L, DRAIN_L, EC_LIMIT_MS_PER_CM, EC_READING_MS_PER_CM,
    EC_STEP_MS_PER_CM, EC_WATER_MS_PER_CM, EQUIVALENTS_PER_KG, FLOWER_DAYS, FLOWERS_FOR_DAYS, HELD_BACK_L, HELPER_SALT_G,
    KEEPS_DAYS, LEFT_L, LEVEL_L, LIMIT_PPM, LOGBOOK_VOLUME_L, METER_ERROR, METER_SCALE, ON_HAND_G, ON_HAND_L, PH,
    PHASE_DAYS, PLUS_MINUS_L, PRICE, PURITY, RENEW_DAYS, RIPE_DAYS, SCALE_STEP_G, SHARE, SOLUTION_PPM, STARTS_AFTER_DAYS,
    STEP_DAYS, STOCK_STRENGTH, STRENGTH, SWITCH_STEPS, SYRINGE_STEP_ML, TABLE as BOUNDS, TANK_L, TARGET_PPM, TEMPERATURE_C,
    TIMES, TRUST, UPTAKE, WATER_ON_HAND_L, WATER_PPM, WEIGHED_G, WEIGHED_L, WEIGHT, WINDOW_DAYS,
};
pub use date::{Date, DateError, Stamp, Weekday, WholeDays, WrongDate};
pub use limits::Limits;
pub use parse::{
    Alkalinity, Amount, Concentration, alkalinity, amount, concentration, conductivity, density, duration, equivalents,
    mass, moles, temperature, volume, whole_days,
};
pub use print::{
    bucket_text, buckets_text, fixed, grams_text, liters_written, nine_digits, ppm_decimals, ppm_text, round_to,
    significant, trimmed, volume_text, whole_steps,
};
pub(crate) use print::{unseen, visible};
pub(crate) use units::{CACO3_G_PER_EQ, HCO3_G_PER_EQ};
pub use units::{Conductivity, Density, METER_SCALES, Mass, MeterScale, Ppm, Temperature, Time, Volume};
pub use units::{
    US_GALLON_L, celsius, days, gram, gram_per_milliliter_of, kilogram_per_liter, liter, liter_of, milliliter,
    millisiemens_per_cm, ppm, ppm_of,
};
