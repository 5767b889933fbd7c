//! A top-up for wet hands: what to pour, what it brings back, and the day to drain all the same.

use super::handling::{put_on, stops};
use super::mix::{aside, body, rest};
use super::page::{Leaf, Page, Table, left, right};
#[cfg(feature = "sheets")]
use super::sheet::sheet;
use super::text::text;
use crate::jobs::{BuildsUp, Pictures, TopUpRecord};
use crate::quantity::{fixed, ppm_text, significant};

/// The report of a top-up.
#[must_use]
pub fn top_up(record: &TopUpRecord, colour: bool) -> String {
    text(&top_up_page(record, None), colour)
}

/// A top-up as a page of HTML to print.
///
/// * `pictures`: of what is poured, by [`crate::jobs::pictures`]
#[must_use]
#[cfg(feature = "sheets")]
pub fn top_up_sheet(record: &TopUpRecord, pictures: &Pictures) -> String {
    sheet(&top_up_page(record, Some(pictures)))
}

pub(super) fn top_up_page(record: &TopUpRecord, pictures: Option<&Pictures>) -> Page {
    let mut page = Page::new(&format!("Top up, to keep {}", record.keeps), &aside(&record.mix));
    stops(&mut page, &record.mix);
    if let Some(misses) = &record.mix.verdict.misses {
        page.say(misses.as_str());
    }
    put_on(&mut page, &record.mix.cautions);
    page.say(format!(
        "Mix it in a can, of which all that follows tells, and pour about {} L a day into the tank, as much as plants and air take.",
        fixed(record.litres_per_day, 1)
    ));
    match (record.drain_by, record.builds_up.first()) {
        (Some(day), Some(first)) => {
            page.say(format!("Topped up so and drained no more, it is to be drained by {day}: {}.", over(first)));
        }
        _ => {
            page.say(format!("Nothing builds up within {} days by the likely course.", record.horizon_days));
        }
    }
    if let (Some(day), Some(floor)) = (record.nitrogen_short_on, record.floor_ppm) {
        let floor = ppm_text(floor);
        page.say(if record.at.starts_with(&day.to_string()) {
            format!("N is under {floor} ppm already (half of its target, own choice): restore or renew the tank first.")
        } else {
            format!(
                "Renew the tank by {day}: N falls under {floor} ppm (half of its target, own choice), since this shelf does not bring \
                 all of it back."
            )
        });
    }
    body(&mut page, &record.mix, None, None);
    page.section("What it brings back", "by the likely course");
    page.leaf(Leaf::More);
    let mut table =
        Table::new([left(""), right("plants take, mg a day"), right("a litre should hold, ppm"), right("it holds")]);
    for taken in &record.taken {
        let [wanted, poured] = [taken.wanted_ppm, taken.poured_ppm].map(ppm_text);
        table.row([taken.element.clone(), significant(taken.mg_per_day, 3), wanted, poured]);
    }
    page.table(table);
    if record.builds_up.len() > 1 {
        page.section("What builds up", "if it is only topped up");
        page.leaf(Leaf::More);
        for one in &record.builds_up {
            page.line(over(one));
        }
    }
    rest(&mut page, &record.mix, pictures);
    page.gap();
    page.say_after(
        "",
        "What plants take is an estimate by a model of uptake that the EC readings scale; only a laboratory analysis knows. Read \
         EC every week, and reckon it again.",
    );
    page
}

fn over(one: &BuildsUp) -> String {
    let from = match one.limit_from.as_str() {
        "formula" => "the formula's limit",
        "target" => "25 % over its target, own choice",
        _ => "what is called too much in any tank",
    };
    let unit = if one.what == "EC" { "mS/cm" } else { "ppm" };
    let limit = if one.what == "EC" { fixed(one.limit, 2) } else { ppm_text(one.limit) };
    let when = if one.days_left <= 0 { "now".to_owned() } else { format!("from {}", one.on) };
    format!("{} over {limit} {unit} {when} ({from})", one.what)
}
