//! The sheet of a tank that is turned over.

use maud::{Markup, html};

use super::bottles::bottles;
use super::course::course;
use super::handling::of_mix;
use super::meter::meter;
use super::mix::pictured;
use super::page::{page, section};
use super::tank::tank;
use super::watch::watch;
use super::weights::weights;
use crate::jobs::{Course, Pictures, SwitchRecord};
use crate::quantity::{fixed, liter, volume_text};
use crate::report::switch::{litres, told_words, words};

/// A tank turned over as a page of HTML to print: drain and refill first of all, then as a mix.
///
/// * `pictures`: of the tank after it, by [`crate::jobs::pictures`]
/// * `told`: what the diary tells, where the tank is known from one
#[must_use]
pub fn switch(record: &SwitchRecord, pictures: &Pictures, told: Option<&Course>) -> String {
    let mut sections = vec![steps(record), weights(&record.after)];
    sections.extend(bottles(&record.after.helpers, "bottles"));
    sections.extend([meter(&record.after), watch(&record.after.findings), tank(&record.after, Some(&record.before))]);
    sections.extend(pictured(pictures));
    sections.extend(told.and_then(course));
    sections.push(ways(record));
    sections.extend(of_mix(&record.after, &pictures.labels));
    let formula = record.after.formula.as_deref().unwrap_or_default();
    let held = record.before.held_back_l;
    let held = if held > 0.0 { format!(", {} held back", volume_text(liter(held))) } else { String::new() };
    let aside = format!("{} in the tank{held}, on {}", volume_text(liter(record.before.level_l)), record.after.bench);
    page(&format!("Switch to {formula}"), &aside, &sections)
}

fn steps(record: &SwitchRecord) -> Markup {
    let body = html! {
        ol .steps .first {
            li { "Drain " b { (litres(record.drain_l)) } "." }
            li { "Fill in " b { (litres(record.refill_l)) } " of water." }
            li { "Weigh in what is listed below, each dissolved by itself, pump on." }
            @if let Some(day) = &record.back_by { li { "Turn back by " b { (day) } "." } }
        }
        p .quiet { "Before: " (record.before.known_from) ", EC " (fixed(record.before.ec_ms_cm, 2)) " mS/cm." }
    };
    section("steps", "Drain and refill", told_words(record.told), &body)
}

fn ways(record: &SwitchRecord) -> Markup {
    let number = |value: Option<f64>, places| value.map_or_else(|| "-".to_owned(), |value| fixed(value, places));
    let body = html! {
        div .scroll {
            table .numbers {
                thead { tr { th scope="col" { "drain" } th scope="col" { "fill in" } th scope="col" { "misfit" } th scope="col" { "EC, mS/cm" } th scope="col" { "" } } }
                tbody {
                    @for option in &record.options {
                        tr {
                            th scope="row" { (litres(option.drain_l)) }
                            td { (litres(option.refill_l)) }
                            td { (number(option.misfit, 3)) }
                            td { (number(option.ec_ms_cm, 2)) }
                            td { (words(option)) }
                        }
                    }
                }
            }
        }
        @for option in record.options.iter().filter(|option| !option.possible) {
            @if let Some(why) = &option.why_not { p .quiet { "Draining " (litres(option.drain_l)) " is not possible: " (why.trim_end_matches('.')) "." } }
        }
    };
    section("ways", "Other ways", "misfit as measured out, 0 is perfect", &body)
}
