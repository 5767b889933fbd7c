//! A tank turned over: drain, refill, weigh in; then the other ways to do it.

use super::mix;
use super::page::{Page, columns};
use crate::jobs::{ScaleRecord, SwitchKind, SwitchOption, SwitchRecord};
use crate::quantity::{bucket_text, fixed, liter, ppm_text, volume_text};

/// The report of a switch.
#[must_use]
pub fn switch(record: &SwitchRecord, colour: bool) -> String {
    let mut page = Page::new(colour);
    let formula = record.after.formula.as_deref().unwrap_or("").to_uppercase();
    let held = if record.before.held_back_l > 0.0 {
        format!(", {} held back", volume_text(liter(record.before.held_back_l)))
    } else {
        String::new()
    };
    page.heading(
        &format!("SWITCH TO {formula}"),
        &format!("{} in the tank{held}, on {}", volume_text(liter(record.before.level_l)), record.after.bench),
    );
    page.heading("DRAIN AND REFILL", told_words(record.told));
    let drain = page.bold(&format!("drain {}", litres(record.drain_l)));
    let refill = page.bold(&format!("fill in {}", litres(record.refill_l)));
    page.line(&format!("   {drain}, then {refill} of water"));
    mix::body(&mut page, &record.after);
    before_and_after(&mut page, record);
    options(&mut page, record);
    mix::rest(&mut page, &record.after);
    page.into_text()
}

/// Litres as a bucket shows them.
pub(super) fn litres(litres: f64) -> String {
    if litres < 1e-6 { "nothing".to_owned() } else { bucket_text(litres) }
}

fn before_and_after(page: &mut Page, record: &SwitchRecord) {
    page.heading("BEFORE AND AFTER", &format!("before: {}", record.before.known_from));
    let mut rows = vec![["   ", "", "before", "after", "unit"].map(str::to_owned).to_vec()];
    for after in &record.after.elements {
        let before = record.before.elements.iter().find(|e| e.element == after.element).map_or(0.0, |e| e.ppm);
        rows.push(vec!["   ".to_owned(), after.element.clone(), ppm_text(before), ppm_text(after.ppm), "ppm".to_owned()]);
    }
    rows.push(vec![
        "   ".to_owned(),
        "EC".to_owned(),
        fixed(record.before.ec_ms_cm, 2),
        fixed(record.after.ec_ms_cm, 2),
        "mS/cm".to_owned(),
    ]);
    for line in columns(&rows, &[0, 1, 4]) {
        page.line(&line);
    }
}

fn options(page: &mut Page, record: &SwitchRecord) {
    page.heading("THE WAYS", "from nothing to all of it; misfit as measured out, 0 is perfect");
    let mut rows = vec![["   ", "drain", "fill in", "misfit", "EC", ""].map(str::to_owned).to_vec()];
    for option in &record.options {
        let number = |value: Option<f64>, places| value.map_or_else(|| "-".to_owned(), |value| fixed(value, places));
        rows.push(vec![
            "   ".to_owned(),
            litres(option.drain_l),
            litres(option.refill_l),
            number(option.misfit, 3),
            number(option.ec_ms_cm, 2),
            words(option),
        ]);
    }
    for line in columns(&rows, &[0, 5]) {
        page.line(&line);
    }
    for option in record.options.iter().filter(|option| !option.possible) {
        if let Some(why) = &option.why_not {
            page.paragraph(
                "   ",
                &format!("Draining {} is not possible: {}.", litres(option.drain_l), why.trim_end_matches('.')),
            );
        }
    }
}

/// What the way that is told is, in words.
pub(super) fn told_words(told: SwitchKind) -> &'static str {
    match told {
        SwitchKind::BestFit => "best fit",
        SwitchKind::LeastWaste => "least waste",
        SwitchKind::Fixed => "as asked",
    }
}

/// What an option is, in words.
pub(super) fn words(option: &SwitchOption) -> String {
    let kind = match option.kind {
        SwitchKind::BestFit => "best fit",
        SwitchKind::LeastWaste => "least waste",
        SwitchKind::Fixed => "",
    };
    let more = match (option.possible, option.told) {
        (false, _) => "not possible",
        (true, true) => "as above",
        (true, false) => "",
    };
    [kind, more].into_iter().filter(|words| !words.is_empty()).collect::<Vec<_>>().join(", ")
}

/// The report of a scaled recipe.
#[must_use]
pub fn scale(record: &ScaleRecord, colour: bool) -> String {
    let mut page = Page::new(colour);
    let formula = record.mix.formula.as_deref().unwrap_or("recipe").to_uppercase();
    page.heading(
        &formula,
        &format!(
            "scaled from {} to {}, on {}",
            volume_text(liter(record.from_l)),
            volume_text(liter(record.mix.volume_l)),
            record.mix.bench
        ),
    );
    mix::body(&mut page, &record.mix);
    let cost = match (&record.worst_element, record.worst_percent) {
        (Some(element), Some(percent)) => {
            format!("Whole steps cost at the most {} % ({element}) against the recipe.", fixed(percent.abs(), 1))
        }
        _ => "Whole steps cost nothing.".to_owned(),
    };
    page.line("");
    page.paragraph("   ", &cost);
    mix::rest(&mut page, &record.mix);
    page.into_text()
}
