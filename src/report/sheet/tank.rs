//! What the tank holds: the picture against what was asked, and the numbers.

use maud::{Markup, html};

use super::asked::asked;
use super::page::section;
use crate::jobs::{Before, Element, MixRecord};
use crate::quantity::{fixed, ppm_decimals, ppm_text};
use crate::report::words;

/// Achieved against asked.
///
/// * `before`: the tank before it was turned over; else what the water brings is told
pub(super) fn tank(record: &MixRecord, before: Option<&Before>) -> Markup {
    let is_asked = record.formula.is_some();
    let told = before.is_some() || !record.pure_water;
    let other = |e: &Element| {
        let ppm = match before {
            Some(before) => before.elements.iter().find(|other| other.element == e.element).map_or(0.0, |other| other.ppm),
            None => e.water_ppm,
        };
        if ppm > 0.0 { ppm_text(ppm) } else { "-".to_owned() }
    };
    let body = html! {
        div .beside-numbers {
            @if is_asked { @if let Some(pictures) = asked(&record.elements) { div { (pictures) } } }
            div {
                table .numbers {
                    thead {
                        tr {
                            th scope="col" { "ppm" }
                            th scope="col" { "comes to" }
                            @if is_asked { th scope="col" { "asked" } }
                            th scope="col" { "give or take" }
                            @if told { th scope="col" { (if before.is_some() { "before" } else { "from water" }) } }
                        }
                    }
                    tbody {
                        @for e in &record.elements {
                            tr {
                                th scope="row" { (e.element) }
                                td { b { (ppm_text(e.ppm)) } }
                                @if is_asked { td { (words::asked(e)) } }
                                td { (fixed(e.plus_minus_ppm, ppm_decimals(e.ppm))) }
                                @if told { td { (other(e)) } }
                            }
                        }
                    }
                }
                (below(record))
            }
        }
    };
    section("tank", if is_asked { "In the tank, against what was asked" } else { "In the tank" }, "", &body)
}

fn below(record: &MixRecord) -> Markup {
    let percent = |share: f64| fixed(100.0 * share, 1);
    html! {
        @if let (Some(least), Some(most)) = (record.ammonium_share_least, record.ammonium_share) {
            p .quiet {
                "Ammonium and urea: "
                @if most - least > 5e-4 { (percent(least)) " to " }
                (percent(most)) " % of the nitrogen."
            }
        }
        @if let Some(misfit) = record.misfit { p .quiet { "Misfit " (fixed(misfit, 3)) " as measured out; 0 is perfect." } }
    }
}
