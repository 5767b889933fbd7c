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
    mix::bottles(&mut page, &record.dilute());
    for bottle in &record.bottles {
        if let Some(helper) = record.helper(bottle) {
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
    labels(&mut page, record);
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
        .map(|(at, mut row)| {
            let place = if at == 0 { "   ".to_owned() } else { format!("  {at:>2}.") };
            let dose = record.tank.doses.iter().filter(|dose| dose.measure.is_some()).nth(at.wrapping_sub(1));
            row.push(dose.map_or_else(String::new, |dose| mix::dose_cells(dose)[2].clone()));
            std::iter::once(place).chain(row).collect()
        })
        .collect();
    for (at, line) in columns(&rows, &[1, 5]).into_iter().enumerate() {
        page.line(&if at == 0 { line } else { page.bold(&line) });
    }
    for one in &record.straight {
        page.paragraph("   ", &format!("{} goes straight into the tank: {}.", one.name, one.why));
    }
    let smallest = volume_text(liter(record.smallest_tank_l));
    page.paragraph("   ", &format!("The syringe can be trusted with tanks of {smallest} and more."));
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

fn labels(page: &mut Page, record: &StockRecord) {
    page.heading("LABELS", "and the lines for the bench file, from which `mix` then draws");
    for helper in record.bottles.iter().filter_map(|bottle| record.helper(bottle)) {
        mix::label(page, helper);
    }
}
