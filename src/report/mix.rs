//! A mix for wet hands: weights first, then the meter, then what to watch, then safety.

use super::bottles::bottles;
use super::doses::weights;
use super::handling::{findings, first_line, handling, how_to, put_on, safety, watch_beside};
use super::meter::meter;
use super::page::{Medium, Page, Table, left, right, strong};
#[cfg(feature = "sheets")]
use super::pictures;
#[cfg(feature = "sheets")]
use super::sheet::sheet;
use super::tank::tank;
use super::text::text;
use super::words::{checked, dose_decimals, litres, name, numbers};
use crate::jobs::{Before, Beside, Difference, MixRecord, Pictures, souring_steps};
use crate::quantity::{fixed, ppm_text, significant};

/// The report of a mix.
#[must_use]
pub fn mix(record: &MixRecord, colour: bool) -> String {
    text(&mix_page(record, None), colour)
}

/// A mix as a page of HTML to print.
///
/// * `pictures`: of the same mix, by [`crate::jobs::pictures`]
#[cfg(feature = "sheets")]
#[must_use]
pub fn mix_sheet(record: &MixRecord, pictures: &Pictures) -> String {
    sheet(&mix_page(record, Some(pictures)))
}

pub(super) fn mix_page(record: &MixRecord, pictures: Option<&Pictures>) -> Page {
    let mut page = Page::new(title(record), &aside(record));
    first_line(&mut page, record);
    turn_back(&mut page, record.hold_at_most_days);
    body(&mut page, record, None, None);
    rest(&mut page, record, pictures);
    page
}

/// On a sheet the day on which another formula is due, to be filled in.
pub(super) fn turn_back(page: &mut Page, hold_at_most_days: Option<f64>) {
    let Some(days) = hold_at_most_days else { return };
    page.only(Medium::Sheet, |page| {
        let blank = "________________";
        let words = format!("Mixed on {blank} Turn back {} days later at the latest, by {blank}", fixed(days, 0));
        page.say(words).look("back");
    });
}

pub(super) fn title(record: &MixRecord) -> &str {
    if checked(record) { "Your mix" } else { name(record) }
}

/// Volume, bench and water in a line.
pub(super) fn aside(record: &MixRecord) -> String {
    let water = match (record.pure_water, record.waters.is_empty()) {
        (true, _) => "water that brings nothing",
        (false, true) => "its own water",
        (false, false) => "its own waters",
    };
    format!("{} on {}, {water}", litres(record.volume_l), record.bench)
}

/// Weights, new bottles, the meter, and what the tank will hold.
///
/// * `before`: the tank before it was turned over
/// * `own_meter`: what the grower's meter should read, mS/cm, where a logbook tells it
pub(super) fn body(page: &mut Page, record: &MixRecord, before: Option<&Before>, own_meter: Option<f64>) {
    weights(page, record);
    bottles(page, &record.helpers, &record.waters);
    meter(page, record, own_meter);
    tank(page, record, before);
}

/// What to watch, how to mix, pictures of what is in the tank, and safety.
pub(super) fn rest(page: &mut Page, record: &MixRecord, pictures: Option<&Pictures>) {
    rest_by(page, record, &numbers(record), pictures);
}

/// As [`rest`], salts called by the number of a list, where it has one for them, and else by name.
pub(super) fn rest_by(
    page: &mut Page,
    record: &MixRecord,
    number: &dyn Fn(&str) -> Option<usize>,
    pictures: Option<&Pictures>,
) {
    watch_beside(page, &record.findings);
    how_to(page, record);
    pictured(page, pictures);
    safety(page, record, number, pictures);
}

/// The pictures that every sheet of a tank has.
pub(super) fn pictured(page: &mut Page, of: Option<&Pictures>) {
    #[cfg(feature = "sheets")]
    if let Some(of) = of {
        pictures::balance(page, &of.balances, true, &of.not_compared);
        pictures::curve(page, of.trade.as_ref());
    }
}

/// The report of two formulas side by side.
#[must_use]
pub fn beside(record: &Beside, colour: bool) -> String {
    text(&beside_page(record), colour)
}

/// In place of an amount that nobody weighs by itself.
const IN_A_BOTTLE: &str = "in a bottle";

pub(super) fn beside_page(record: &Beside) -> Page {
    let (first, second) = (&record.first, &record.beside);
    let mut page = Page::new("", "");
    let title = format!("{} beside {}", name(first).to_uppercase(), name(second).to_uppercase());
    page.section_of("", &title, &format!("{} on {}", litres(first.volume_l), first.bench));
    put_on(&mut page, &record.both.cautions);
    page.section("Weigh", "");
    page.table(differences(record, &record.weights, &|mix, row, value| match mix
        .doses
        .iter()
        .find(|dose| dose.name == row.what)
    {
        Some(dose) if dose.grams_in_bottle().is_some() => IN_A_BOTTLE.to_owned(),
        dose => fixed(value, dose.filter(|_| row.unit == "g").map_or(1, dose_decimals)),
    }));
    for of in [first, second] {
        for step in souring_steps(&of.order, &of.doses) {
            page.say(strong(name(of)).and(format!(": {}", step.text)));
        }
    }
    page.section("In the tank", "");
    page.table(differences(record, &record.contents, &|_, row, value| {
        if row.what == "EC" { fixed(value, 2) } else { ppm_text(value) }
    }));
    for record in [first, second] {
        page.section_of("Watch", name(record), "");
        findings(&mut page, &record.findings);
    }
    handling(&mut page, &|_| None, &record.both.handling, &record.both.cautions, &[]);
    page.gap();
    page.say_after(
        "",
        "No way of pushing plants into flower is proven; what is asked here is common practice. `bloomsalt mix` with one of \
         them prints how to make it. The supplier's safety data sheet and the local rules decide.",
    );
    page
}

fn differences(record: &Beside, rows: &[Difference], digits: &dyn Fn(&MixRecord, &Difference, f64) -> String) -> Table {
    let (first, second) = (&record.first, &record.beside);
    let mut table = Table::new([left(""), right(name(first)), right(name(second)), left("unit"), right("times")]);
    for row in rows {
        let show = |mix, value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| digits(mix, row, value));
        let (one, other) = (show(first, row.first), show(second, row.second));
        let times = match (row.first, row.second) {
            (Some(a), Some(b)) if a > 0.0 && b > 0.0 && one != IN_A_BOTTLE && other != IN_A_BOTTLE => significant(b / a, 2),
            _ => String::new(),
        };
        table.row([row.what.clone(), one, other, row.unit.clone(), times]);
    }
    table
}
