//! What dissolved salts do: which ions stay free, and how well the solution conducts.
//!
//! First version: pairs of Ca, Mg, K, Na and NH4 with sulfate and phosphate, then an attenuated sum over the ions that
//! are left free. Its accuracy is stated by [`EC_MODEL_PLUS_MINUS`].

mod conductivity;
mod pairing;

pub use conductivity::{EC_MODEL_PLUS_MINUS, METER_SCALES, MeterScale, at_temperature, conductivity};
pub use pairing::{Pair, Speciation, pair_up};
