//! What to measure out, large, each line with a box to tick.

use maud::{Markup, html};

use super::page::section;
use crate::jobs::{Dose, MixRecord};
use crate::quantity::fixed;
use crate::report::words::{checked, comes_in_a_bottle, dose_name, measured};

/// Lists of up to so many lines stay on one page: half a page of A4.
const MOST_WHOLE: usize = 13;

/// The weights of a mix, first of all on its sheet.
pub(super) fn weights(record: &MixRecord) -> Markup {
    let (heading, aside) = if checked(record) {
        ("Made of", "in the order in which it should have gone in")
    } else {
        ("Weigh", "in this order; tick what is in")
    };
    let body = html! {
        @if record.doses.is_empty() {
            p .large { "Nothing: " (if record.job == "switch" { "what is there already" } else { "the water alone" }) " comes closest." }
        } @else {
            (list(&record.doses, "weigh"))
        }
        @if let Some(cost) = record.cost { p .quiet { "Cost " (fixed(cost, 2)) } }
    };
    section("weigh", heading, aside, &body)
}

/// Doses as a list to tick; `id` is unique on the sheet.
pub(super) fn list(doses: &[Dose], id: &str) -> Markup {
    let amounts: Vec<String> = doses.iter().map(|dose| measured(dose).0).collect();
    let places = amounts.iter().map(|amount| places(amount)).max().unwrap_or(0);
    let mut number = 0;
    html! {
        table .weights .whole[doses.len() <= MOST_WHOLE] {
            thead { tr { th scope="col" { span .unseen { "done" } } th scope="col" .amount { "amount" } th scope="col" { "of what, with what" } } }
            tbody {
                @for (dose, amount) in doses.iter().zip(&amounts) {
                    @if comes_in_a_bottle(dose) {
                        tr .within { td {} td {} th scope="row" { (dose.name) " " span .with { (measured(dose).1) } } }
                    } @else {
                        ({ number += 1; row(dose, &points_aligned(amount, places), number, id) })
                    }
                }
            }
        }
    }
}

fn row(dose: &Dose, amount: &Markup, number: usize, id: &str) -> Markup {
    let (_, with) = measured(dose);
    let box_id = format!("{id}-{number}");
    html! {
        tr .out[dose.measure.is_none()] {
            td .box { input type="checkbox" id=(box_id); span .number { (number) "." } }
            td .amount { (amount) }
            th scope="row" {
                div .spread {
                    label for=(box_id) { (dose_name(dose)) }
                    " "
                    span .with { (with) @if let Some(portions) = dose.portions { ", in " (portions) " equal portions" } }
                }
            }
        }
    }
}

/// Decimals of an amount such as `15.5 g`.
fn places(amount: &str) -> usize {
    let number = amount.trim_start_matches('(').split(' ').next().unwrap_or_default();
    number.split_once('.').map_or(0, |(_, decimals)| decimals.len())
}

/// An amount whose point stands under those of the others: what follows it is as wide as `most` decimals.
fn points_aligned(amount: &str, most: usize) -> Markup {
    let (number, unit) = amount.split_once(' ').unwrap_or((amount, ""));
    let (whole, rest) = number.split_at(number.find('.').unwrap_or(number.len()));
    html! {
        b { (whole) span .after .(format!("room-{most}")) { (rest) } } " " span .unit { (unit) }
    }
}
