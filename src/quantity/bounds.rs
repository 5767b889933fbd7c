//! Every limited input is one row here; the row drives the check, the message and the test generators.

use super::bound::Bound;

macro_rules! bounds {
    ($($name:ident: $what:literal, $low:literal, $high:literal, $unit:literal;)*) => {
        $(
            #[doc = concat!("Range of the ", $what, ".")]
            pub const $name: Bound = Bound { what: $what, low: $low, high: $high, unit: $unit };
        )*
        /// Every bound, for messages, docs and tests.
        pub const TABLE: &[Bound] = &[$($name),*];
    };
}

bounds! {
    TANK_L: "tank volume", 0.1, 100_000.0, "L";
    PLUS_MINUS_L: "uncertainty of the tank volume", 0.0, 100_000.0, "L";
    TEMPERATURE_C: "temperature", 0.0, 50.0, "C";
    WATER_PPM: "concentration in the water", 0.0, 5000.0, "ppm";
    ALKALINITY_MEQ_PER_L: "alkalinity", 0.0, 50.0, "meq/L";
    PH: "pH", 0.0, 14.0, "";
    EC_WATER_MS_PER_CM: "EC of the water", 0.0, 50.0, "mS/cm";
    SCALE_STEP_G: "readability of a scale", 0.0001, 100.0, "g";
    SYRINGE_STEP_ML: "step of the syringe", 0.01, 100.0, "mL";
    TRUST: "trust", 0.001, 0.5, "";
    CAPACITY_G: "capacity of a scale", 0.01, 1_000_000.0, "g";
    CAPACITY_ML: "capacity of the syringe", 0.1, 100_000.0, "mL";
    ON_HAND_G: "amount on hand", 0.0, 10_000_000.0, "g";
    ON_HAND_L: "amount on hand", 0.0, 10_000.0, "L";
    WATER_ON_HAND_L: "amount of a water on hand", 0.0, 1_000_000.0, "L";
    BOTTLE_L: "volume of a bottle", 0.001, 10_000.0, "L";
    LEFT_L: "volume left in a bottle", 0.0, 10_000.0, "L";
    ADDED_G: "amount added", 0.000_000_001, 10_000_000.0, "g";
    ADDED_L: "amount added", 0.000_000_001, 10_000.0, "L";
    WEIGHED_G: "amount really weighed", 0.0, 10_000_000.0, "g";
    WEIGHED_L: "amount really measured", 0.0, 10_000.0, "L";
    PRICE: "price", 0.0, 1_000_000.0, "";
    PURITY: "purity", 0.01, 1.0, "";
    DENSITY_KG_PER_L: "density", 0.5, 3.0, "kg/L";
    ANALYSIS_PERCENT: "share by mass", 0.0, 100.0, "%";
    EQUIVALENTS_PER_KG: "alkalinity of a product", -50.0, 50.0, "eq";
    CARBON_MOL_PER_KG: "carbon of a product", 0.0, 50.0, "mol";
    HELPER_SALT_G: "amount of a salt in a bottle", 0.0001, 100_000.0, "g";
    TARGET_PPM: "target", 0.0001, 5000.0, "ppm";
    LIMIT_PPM: "limit", 0.0, 5000.0, "ppm";
    WEIGHT: "weight of a target", 0.001, 1000.0, "";
    TIMES: "factor", 0.0001, 1000.0, "";
    STRENGTH: "strength", 0.001, 100.0, "";
    STOCK_STRENGTH: "strength of a stock bottle, times the tank", 10.0, 1000.0, "";
    SHARE: "share of nitrogen", 0.0, 1.0, "";
    EC_LIMIT_MS_PER_CM: "EC limit", 0.0, 50.0, "mS/cm";
    DAYS: "number of days", 1.0, 3650.0, "days";
    PHASE_DAYS: "length of a phase", 1.0, 1000.0, "days";
    RENEW_DAYS: "time between fresh tanks", 1.0, 1000.0, "days";
    STARTS_AFTER_DAYS: "start of a group after that of the bench", -1000.0, 1000.0, "days";
    FLOWER_DAYS: "time from push to open flower", 1.0, 2000.0, "days";
    FLOWERS_FOR_DAYS: "time of opening flowers", 1.0, 1000.0, "days";
    WINDOW_DAYS: "day counted from the opening of a flower", -100.0, 1000.0, "days";
    KEEPS_DAYS: "time that dry pollen keeps", 0.0, 3650.0, "days";
    RIPE_DAYS: "time from pollination to ripe seed", 1.0, 2000.0, "days";
    BAG_G: "size of a bag", 0.001, 10_000_000.0, "g";
    BAG_L: "size of a bottle as sold", 0.001, 10_000.0, "L";
    LOGBOOK_VOLUME_L: "volume that went in or out", 0.001, 100_000.0, "L";
    BUCKET_L: "size of a bucket", 0.01, 100_000.0, "L";
    DRAIN_L: "volume drained", 0.0, 100_000.0, "L";
    SWITCH_STEPS: "number of steps", 2.0, 4.0, "steps";
    STEP_DAYS: "time between steps", 1.0, 30.0, "days";
    EC_STEP_MS_PER_CM: "change of EC", 0.01, 50.0, "mS/cm";
    HELD_BACK_L: "volume held back", 0.0, 100_000.0, "L";
    LEVEL_L: "level of the tank", 0.0, 100_000.0, "L";
    EC_READING_MS_PER_CM: "EC reading", 0.0, 50.0, "mS/cm";
    METER_SCALE: "scale of a meter that shows ppm", 0.5, 700.0, "";
    METER_ERROR: "error of a meter", 0.001, 0.5, "";
    SOLUTION_PPM: "concentration in a solution", 0.0, 1_000_000.0, "ppm";
    BROUGHT_MG: "mass brought", 0.0, 10_000_000_000.0, "mg";
    UPTAKE: "relative speed of uptake", 0.0, 100.0, "";
}
