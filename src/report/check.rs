//! A tank already filled: what is in it, what would set it right, what its meter says of it.

use super::mix::{bottles, dose_rows, findings, meter, safety, tank, title, weights};
use super::page::{Page, columns};
use crate::jobs::{Cause, CauseGroup, CheckRecord, Element, ReadingRecord, Remedies, Remedy};
use crate::quantity::{fixed, liter, ppm_text, volume_text};

/// A target missed by more than this after a remedy is told, percent.
const STILL_OFF_PERCENT: f64 = 1.0;

/// The report of a check.
#[must_use]
pub fn check(record: &CheckRecord, colour: bool) -> String {
    let mut page = Page::new(colour);
    let mix = &record.tank;
    title(&mut page, mix);
    if let Some(formula) = &mix.formula {
        page.line(&format!("   held against {formula}"));
    }
    if mix.doses.is_empty() {
        page.line(&format!("   known from {}", record.known_from));
    } else {
        weights(&mut page, mix);
    }
    meter(&mut page, mix);
    if let Some(reading) = &record.reading {
        the_reading(&mut page, reading);
    }
    tank(&mut page, mix);
    if let Some(remedies) = &record.remedies {
        to_set_it_right(&mut page, remedies, mix.formula.as_deref().unwrap_or_default());
    }
    page.heading("WATCH", "");
    findings(&mut page, &mix.findings);
    safety(&mut page, mix);
    page.into_text()
}

fn to_set_it_right(page: &mut Page, remedies: &Remedies, formula: &str) {
    page.heading("TO SET IT RIGHT", &format!("to {formula}, in a full tank"));
    if !remedies.needed {
        page.line("   nothing to do: targets are met within their give or take, limits are kept");
        return;
    }
    for option in &remedies.options {
        way(page, option);
    }
    if remedies.options.iter().all(|option| !option.possible) {
        return;
    }
    page.paragraph("   ", &ways_end(remedies));
}

/// What to do with whichever way is taken.
pub(super) fn ways_end(remedies: &Remedies) -> String {
    let last = if remedies.adding_is_enough {
        "Draining would come no nearer. "
    } else {
        "Adding takes nothing out: what is over comes down only by draining, or as plants take it. "
    };
    format!(
        "{last}Dissolve each salt by itself in a bucket of tank water, add it slowly with the pump on, read EC and pH. \
         `bloomsalt salts ID` prints how to handle a salt."
    )
}

/// What a way is, in words.
pub(super) fn way_words(option: &Remedy) -> String {
    let litres = volume_text(liter(option.drain_l));
    match option.kind.as_str() {
        "add now" => "Add to the tank as it stands".to_owned(),
        "least waste" => format!("Or drain {litres}, refill, and add (the least that comes close)"),
        _ => format!("Or drain {litres}, refill, and add (the best fit)"),
    }
}

fn way(page: &mut Page, option: &Remedy) {
    let what = way_words(option);
    if !option.possible {
        let why = option.why_not.as_deref().unwrap_or_default();
        page.paragraph("   ", &format!("{}: not possible, {why}.", page.bold(&what)));
        return;
    }
    page.line(&format!("   {}:", page.bold(&what)));
    if option.doses.is_empty() {
        page.line("   nothing that would help");
    }
    dose_rows(page, &option.doses);
    let still: Vec<String> = option.after.iter().filter_map(still_off).collect();
    let ec = option.ec_ms_cm.map_or_else(String::new, |ec| format!("EC {} mS/cm then", fixed(ec, 2)));
    let misfit = option.misfit.map_or_else(String::new, |misfit| format!(", misfit {}", fixed(misfit, 3)));
    let off = if still.is_empty() { String::new() } else { format!("; still off: {}", still.join(", ")) };
    page.paragraph("      ", &format!("{ec}{misfit}{off}"));
    bottles(page, &option.helpers);
    if !option.findings.is_empty() {
        findings(page, &option.findings);
    }
}

/// What is still off after a remedy.
pub(super) fn still_off(element: &Element) -> Option<String> {
    let off = element.deviation_percent.filter(|off| off.abs() > STILL_OFF_PERCENT)?;
    let sign = if off > 0.0 { "+" } else { "" };
    Some(format!("{} {} ppm ({sign}{} %)", element.element, ppm_text(element.ppm), fixed(off, 0)))
}

/// What was read, and at which temperature.
pub(super) fn read_at(reading: &ReadingRecord) -> String {
    let at = reading.read_at_c.map_or_else(|| "25".to_owned(), |celsius| fixed(celsius, 1));
    format!("{} mS/cm at {at} C", fixed(reading.ec_ms_cm, 2))
}

/// How far reading and prediction are apart.
pub(super) fn left_open(reading: &ReadingRecord) -> String {
    format!(
        "{} mS/cm predicted; the reading is {} % {}, and {} % is what meter and prediction together leave open.",
        fixed(reading.predicted_ms_cm, 2),
        fixed(reading.apart_percent.abs(), 1),
        if reading.apart_percent < 0.0 { "less" } else { "more" },
        fixed(reading.apart_plus_minus_percent, 1),
    )
}

/// What the reading says of slips.
pub(super) fn verdict(reading: &ReadingRecord) -> &'static str {
    match reading.verdict.as_str() {
        "as-predicted" => "That is as predicted: nothing speaks for a slip.",
        "one-cause" => "One cause explains it clearly better than the others.",
        "no-cause" => "No single slip that is reckoned with here explains it.",
        _ => "The reading alone cannot tell the causes in the first list apart.",
    }
}

/// How likely a cause is.
pub(super) fn likely(cause: &Cause) -> String {
    let percent = 100.0 * cause.probability;
    if percent < 1.0 { "under 1 %".to_owned() } else { format!("{} %", fixed(percent, 0)) }
}

fn the_reading(page: &mut Page, reading: &ReadingRecord) {
    page.heading("THE READING", &read_at(reading));
    page.paragraph("   ", &left_open(reading));
    page.paragraph("   ", verdict(reading));
    for (at, group) in reading.groups.iter().enumerate() {
        causes(page, group, if at == 0 { "likely" } else { "less likely" });
    }
    if !reading.not_seen.is_empty() {
        page.paragraph("   ", &format!("Left out or doubled, EC would not show it: {}.", reading.not_seen.join(", ")));
    }
    page.paragraph(
        "   ",
        &format!(
            "Errors reckoned with (k = 2): meter {} %, volume {} %, model {} %, and weighing and purity as in the tank. \
             How likely a slip is before anything is read is our own choice.",
            fixed(reading.meter_error_percent, 1),
            fixed(reading.volume_plus_minus_percent, 1),
            fixed(reading.model_plus_minus_percent, 1),
        ),
    );
}

fn causes(page: &mut Page, group: &CauseGroup, head: &str) {
    let mut rows = vec![["   ", "", head, "would read", "pH"].map(str::to_owned).to_vec()];
    rows.extend(group.causes.iter().map(|cause| {
        let show = |value: Option<f64>, decimals| value.map_or_else(|| "?".to_owned(), |value| fixed(value, decimals));
        vec!["   ".to_owned(), cause.words.clone(), likely(cause), show(cause.would_read_ms_cm, 2), show(cause.ph, 1)]
    }));
    for line in columns(&rows, &[0, 1]) {
        page.line(&line);
    }
    if group.causes.len() > 1 && !group.tests.is_empty() {
        page.paragraph("      ", &format!("To tell them apart: {}", group.tests.join(" ")));
    }
}
