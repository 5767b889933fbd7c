//! The sheet of stock bottles.

use maud::{Markup, html};

use super::bottles::{bottles, ingredients};
use super::handling::of_mix;
use super::meter::meter;
use super::mix::{aside, pictured};
use super::page::{page, section};
use super::tank::tank;
use super::watch;
use super::weights;
use crate::jobs::{HelperRecord, MixRecord, Pictures, StockBottle, StockRecord};
use crate::quantity::{fixed, liter, trimmed, volume_text};
use crate::report::words::{bottle_lacks, bottle_limit, bottle_model, dose_table, name};

/// Stock bottles as a page of HTML to print: what to weigh into each, doses, meter, pictures of the dosed tank, handling.
///
/// * `pictures`: of the tank dosed from them, by [`crate::jobs::pictures`]
#[must_use]
pub fn stock(record: &StockRecord, pictures: &Pictures) -> String {
    let mut sections: Vec<Markup> = bottles(&record.dilute(), "bottles").into_iter().collect();
    for (at, bottle) in record.bottles.iter().enumerate() {
        sections.extend(record.helper(bottle).map(|helper| weigh(record, bottle, helper, at + 1)));
    }
    sections.push(dosing(record));
    sections.extend(record.dose_for.as_ref().map(dose_for));
    sections.extend([meter(&record.tank), watch::watch(&record.tank.findings), tank(&record.tank, None)]);
    sections.extend(apart(record));
    sections.extend(pictured(pictures));
    sections.extend(of_mix(&record.tank, &pictures.labels));
    page(&format!("Stock for {}", name(&record.tank)), &aside(&record.tank), &sections)
}

fn weigh(record: &StockRecord, bottle: &StockBottle, helper: &HelperRecord, at: usize) -> Markup {
    let id = format!("stock-{at}");
    let body = html! {
        div .big { (ingredients(&helper.made_of, &id)) }
        @if let Some(lacks) = bottle_lacks(bottle) { p { b { (lacks) } } }
        ol { @for step in &bottle.making { li { (step.text) } } }
        p .quiet { (bottle_limit(record, bottle)) " " (bottle_model(bottle)) }
        div .block {
            p .quiet { "Keep it dark and cool, " (helper.keep_days) " days at most (common practice, no source). On its label:" }
            ul .label { @for line in &helper.label { li { (line) } } }
        }
        @if let Some(cost) = bottle.cost { p .quiet { "Cost " (fixed(cost, 2)) } }
    };
    let water = if helper.pure_water { "pure water" } else { "your water" };
    let volume = volume_text(liter(helper.volume_ml * 1e-3));
    let aside = format!("made up to {volume} with {water}, {} times as strong as the tank", trimmed(bottle.strength, 1));
    section(&format!("{id}-weigh"), &format!("Weigh into {}", bottle.id), &aside, &body)
}

fn dosing(record: &StockRecord) -> Markup {
    let [head, rows @ ..] = &dose_table(record)[..] else { return html! {} };
    let body = html! {
        (weights::list(&record.tank.doses, "dose"))
        table {
            thead { tr { th scope="col" { "for another tank" } @for cell in &head[1..] { th scope="col" { (cell) } } } }
            tbody {
                @for row in rows {
                    tr { th scope="row" { (row[0]) } @for cell in &row[1..] { td { (cell) } } }
                }
            }
        }
        @for one in &record.straight { p { (one.name) " goes straight into the tank: " (one.why) "." } }
    };
    section("dosing", "Dose", "in this order, stirring each in before the next", &body)
}

fn dose_for(other: &MixRecord) -> Markup {
    let body = html! {
        (weights::list(&other.doses, "dose-for"))
        p { "EC " b { (fixed(other.ec_ms_cm, 2)) } " mS/cm at 25 C, give or take " (fixed(other.ec_plus_minus_ms_cm, 2)) }
        (watch::list(&other.findings))
    };
    section("dose-for-other", &format!("The same bottles for {}", name(other)), "what comes closest", &body)
}

fn apart(record: &StockRecord) -> Option<Markup> {
    let body = html! {
        ul .plain {
            @for two in &record.kept_apart {
                li { b { (two.first) " and " (two.second) } ": " (two.salts.0) " and " (two.salts.1) "; " (two.why) "." }
            }
        }
    };
    (!record.kept_apart.is_empty()).then(|| section("apart", "Why not one bottle", "", &body))
}
