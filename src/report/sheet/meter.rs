//! What the meters should read.

use maud::{Markup, html};

use super::page::section;
use crate::jobs::MixRecord;
use crate::quantity::fixed;
use crate::report::words::{acid_words, ph_words};

/// EC and pH that a mix should show.
pub(super) fn meter(record: &MixRecord) -> Markup {
    let body = html! {
        div .readings {
            p { b .reading { "EC " (fixed(record.ec_ms_cm, 2)) } " mS/cm at 25 C, give or take " (fixed(record.ec_plus_minus_ms_cm, 2)) }
            @match ph_words(record) {
                Ok((ph, later)) => p { b .reading { (ph) } (later) },
                Err(why) => p { b .reading { "pH ?" } " not known: " (why) "; measure it" },
            }
        }
        @if (record.temperature_c - 25.0).abs() > 0.05 {
            p {
                b { (fixed(record.ec_at_temperature_ms_cm, 2)) " mS/cm" } " on a meter that does not correct for the tank's "
                (record.temperature_c) " C"
            }
        }
        @if let (Some(reading), Some(scale)) = (record.meter_reading_ppm, record.meter_scale) {
            p { b { (fixed(reading, 0)) " ppm" } " on a meter with the " (scale) " scale" }
        }
        @if let Some(acid) = &record.acid { p { (acid_words(record, acid)) } }
        p .quiet { "Predictions; your meter's reading wins." }
    };
    section("meter", "The meter should read", "", &body)
}
