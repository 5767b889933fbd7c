//! The sheet of a tank that was checked.

use maud::{Markup, html};

use super::bottles::bottles;
use super::handling::of_mix;
use super::meter::meter;
use super::mix::{aside, pictured};
use super::page::{page, section};
use super::tank::tank;
use super::watch::{list, watch};
use super::weights::{self, weights};
use crate::jobs::{CheckRecord, Pictures, ReadingRecord, Remedies, Remedy};
use crate::quantity::fixed;
use crate::report::check::{left_open, likely, read_at, still_off, verdict, way_words, ways_end};

/// A checked tank as a page of HTML to print.
///
/// * `pictures`: of the same tank, by [`crate::jobs::pictures`]
#[must_use]
pub fn check(record: &CheckRecord, pictures: &Pictures) -> String {
    let mix = &record.tank;
    let mut sections = Vec::new();
    if !mix.doses.is_empty() {
        sections.push(weights(mix));
    }
    sections.push(meter(mix));
    sections.extend(record.reading.as_ref().map(reading));
    sections.extend([watch(&mix.findings), tank(mix, None)]);
    sections.extend(
        record.remedies.as_ref().map(|remedies| to_set_it_right(remedies, mix.formula.as_deref().unwrap_or_default())),
    );
    sections.extend(pictured(pictures));
    sections.extend(of_mix(mix, &pictures.labels));
    let against = mix.formula.as_ref().map_or_else(String::new, |formula| format!(", held against {formula}"));
    page("Your mix", &format!("{}; known from {}{against}", aside(mix), record.known_from), &sections)
}

fn to_set_it_right(remedies: &Remedies, formula: &str) -> Markup {
    let body = html! {
        @if remedies.needed {
            @for (at, option) in remedies.options.iter().enumerate() { (way(option, at + 1)) }
            @if remedies.options.iter().any(|option| option.possible) { p .quiet { (ways_end(remedies)) } }
        } @else {
            p { "Nothing to do: targets are met within their give or take, limits are kept." }
        }
    };
    section("right", "To set it right", &format!("to {formula}, in a full tank"), &body)
}

fn way(option: &Remedy, at: usize) -> Markup {
    let still: Vec<String> = option.after.iter().filter_map(still_off).collect();
    html! {
        div .way {
            h3 { (way_words(option)) }
            @if option.possible {
                @if option.doses.is_empty() { p { "Nothing that would help." } } @else { (weights::list(&option.doses, &format!("way-{at}"))) }
                p {
                    @if let Some(ec) = option.ec_ms_cm { "EC " b { (fixed(ec, 2)) } " mS/cm then" }
                    @if let Some(misfit) = option.misfit { ", misfit " (fixed(misfit, 3)) }
                    @if !still.is_empty() { "; still off: " (still.join(", ")) }
                    "."
                }
                @if let Some(made) = bottles(&option.helpers, &format!("way-{at}-bottles")) { (made) }
                @if !option.findings.is_empty() { (list(&option.findings)) }
            } @else {
                p { "Not possible: " (option.why_not.as_deref().unwrap_or_default()) "." }
            }
        }
    }
}

fn reading(reading: &ReadingRecord) -> Markup {
    let body = html! {
        p { (left_open(reading)) " " b { (verdict(reading)) } }
        @for (at, group) in reading.groups.iter().enumerate() {
            table .numbers {
                thead { tr { th scope="col" { (if at == 0 { "what would explain it" } else { "less likely" }) } th scope="col" { "how likely" } th scope="col" { "would read, mS/cm" } th scope="col" { "pH" } } }
                tbody {
                    @for cause in &group.causes {
                        tr {
                            th scope="row" { (cause.words) }
                            td { (likely(cause)) }
                            td { (cause.would_read_ms_cm.map_or_else(|| "?".to_owned(), |ec| fixed(ec, 2))) }
                            td { (cause.ph.map_or_else(|| "?".to_owned(), |ph| fixed(ph, 1))) }
                        }
                    }
                }
            }
            @if group.causes.len() > 1 && !group.tests.is_empty() { p { "To tell them apart: " (group.tests.join(" ")) } }
        }
    };
    section("reading", "The reading", &read_at(reading), &body)
}
