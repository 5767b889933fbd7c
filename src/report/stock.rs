//! Stock bottles for wet hands: what to weigh into which bottle, then the doses, then the meter, labels and what to watch.

use super::mix;
use super::page::{Page, columns};
use super::words::{bottle_lacks, bottle_limit, bottle_model, dose_table};
use crate::jobs::{HelperRecord, MixRecord, StockBottle, StockRecord};
use crate::quantity::{fixed, liter, trimmed, volume_text};

/// The report of stock bottles.
#[must_use]
pub fn stock(record: &StockRecord, colour: bool) -> String {
    let mut page = Page::new(colour);
    let tank = &record.tank;
    let formula = tank.formula.as_deref().unwrap_or_default();
    let count = if record.bottles.len() == 1 { "1 bottle".to_owned() } else { format!("{} bottles", record.bottles.len()) };
    let title = format!("STOCK FOR {}", formula.to_uppercase());
    page.heading(&title, &format!("{count} of {}, on {}", volume_text(liter(record.bottle_ml * 1e-3)), tank.bench));
    let is_stock = |helper: &HelperRecord| record.bottles.iter().any(|bottle| bottle.id == helper.id);
    let dilute: Vec<HelperRecord> = tank.helpers.iter().filter(|helper| !is_stock(helper)).cloned().collect();
    mix::bottles(&mut page, &dilute);
    for bottle in &record.bottles {
        if let Some(helper) = tank.helpers.iter().find(|helper| helper.id == bottle.id) {
            weigh(&mut page, record, bottle, helper);
        }
    }
    dosing(&mut page, record);
    mix::meter(&mut page, tank);
    mix::tank(&mut page, tank);
    if let Some(other) = &record.dose_for {
        dose_for(&mut page, other);
    }
    apart(&mut page, record);
    making(&mut page, record);
    labels(&mut page, tank.helpers.iter().filter(|helper| is_stock(helper)));
    mix::rest(&mut page, tank);
    page.into_text()
}

/// What goes into one bottle, and how strong it is.
fn weigh(page: &mut Page, record: &StockRecord, bottle: &StockBottle, helper: &HelperRecord) {
    let water = if helper.pure_water { "pure water" } else { "your water" };
    let aside = format!(
        "{} with {water}, {} times as strong as the tank",
        volume_text(liter(helper.volume_ml * 1e-3)),
        trimmed(bottle.strength, 1)
    );
    page.heading(&format!("WEIGH INTO {}", bottle.id), &aside);
    mix::ingredients(page, &helper.made_of);
    if let Some(lacks) = bottle_lacks(bottle) {
        page.paragraph("   ", &lacks);
    }
    if let Some(cost) = bottle.cost {
        page.line(&format!("   cost {}", fixed(cost, 2)));
    }
    page.paragraph("   ", &bottle_limit(record, bottle));
    page.paragraph("   ", &bottle_model(bottle));
    page.paragraph(
        "   ",
        &format!("Keep it dark and cool, {} days at most (common practice, no source).", helper.keep_days),
    );
}

/// How much of each bottle goes into a tank.
fn dosing(page: &mut Page, record: &StockRecord) {
    page.heading("DOSE", "in this order, stirring each in before the next");
    let rows: Vec<Vec<String>> = dose_table(record)
        .into_iter()
        .enumerate()
        .map(|(at, row)| {
            let place = if at == 0 { "   ".to_owned() } else { format!("  {at:>2}.") };
            std::iter::once(place).chain(row).collect()
        })
        .collect();
    for (at, line) in columns(&rows, &[1]).into_iter().enumerate() {
        page.line(&if at == 0 { line } else { page.bold(&line) });
    }
    for one in &record.straight {
        page.paragraph("   ", &format!("{} goes straight into the tank: {}.", one.name, one.why));
    }
    let smallest = record.bottles.iter().map(|bottle| bottle.smallest_tank_l).fold(0.0, f64::max);
    page.paragraph("   ", &format!("The syringe can be trusted with tanks of {} and more.", volume_text(liter(smallest))));
}

/// The same bottles for another formula.
fn dose_for(page: &mut Page, other: &MixRecord) {
    let formula = other.formula.as_deref().unwrap_or_default();
    page.heading(&format!("THE SAME BOTTLES FOR {}", formula.to_uppercase()), "what comes closest");
    mix::dose_rows(page, &other.doses);
    page.line(&format!(
        "   EC {} mS/cm at 25 C, give or take {}",
        fixed(other.ec_ms_cm, 2),
        fixed(other.ec_plus_minus_ms_cm, 2)
    ));
    let off: Vec<String> = other
        .elements
        .iter()
        .filter(|element| element.deviation_percent.is_some_and(|off| off.abs() > 5.0))
        .map(|element| {
            let off = element.deviation_percent.unwrap_or(0.0);
            format!("{} {}{} %", element.element, if off > 0.0 { "+" } else { "" }, fixed(off, 0))
        })
        .collect();
    let words = if off.is_empty() {
        "Every target is met within 5 %.".to_owned()
    } else {
        format!("Off by more than 5 %: {}. The bottles have no more freedom than this.", off.join(", "))
    };
    page.paragraph("   ", &words);
    mix::findings(page, &other.findings);
}

/// Why the bottles cannot be fewer.
fn apart(page: &mut Page, record: &StockRecord) {
    if record.kept_apart.is_empty() {
        return;
    }
    page.heading("WHY NOT ONE BOTTLE", "");
    for two in &record.kept_apart {
        let (first, second) = &two.salts;
        page.paragraph("   - ", &format!("{} and {}: {first} and {second}; {}.", two.first, two.second, two.why));
    }
}

fn making(page: &mut Page, record: &StockRecord) {
    page.heading("HOW TO MAKE THE BOTTLES", "");
    for bottle in &record.bottles {
        let name = page.bold(&bottle.id);
        page.line(&format!("   {name}"));
        for (at, step) in bottle.making.iter().enumerate() {
            page.paragraph(&format!("     {}. ", at + 1), &step.text);
        }
    }
}

fn labels<'h>(page: &mut Page, helpers: impl Iterator<Item = &'h HelperRecord>) {
    page.heading("LABELS", "and the lines for the bench file, from which `mix` then draws");
    for helper in helpers {
        mix::label(page, helper);
    }
}
