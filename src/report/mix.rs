//! A mix for wet hands: weights first, then the meter, then what to watch, then safety.

use super::page::{Page, columns};
use super::words::{
    acid_words, asked, checked, comes_in_a_bottle, dose_decimals, dose_name, ingredient_amount, ingredient_name,
    ingredient_with, measured, name, number_of, ph_words, whom,
};
use crate::fit::Proof;
use crate::jobs::{Beside, Difference, Dose, General, Handling, HelperRecord, Ingredient, MixRecord};
use crate::quantity::{fixed, liter, ppm_decimals, ppm_text, significant, trimmed, volume_text};
use crate::safety::{Finding, Severity};

/// The report of a mix.
#[must_use]
pub fn mix(record: &MixRecord, colour: bool) -> String {
    let mut page = Page::new(colour);
    title(&mut page, record);
    body(&mut page, record);
    rest(&mut page, record);
    page.into_text()
}

/// Weights, new bottles, the meter, and what the tank will hold.
pub(super) fn body(page: &mut Page, record: &MixRecord) {
    weights(page, record);
    bottles(page, &record.helpers);
    meter(page, record);
    tank(page, record);
}

/// What to watch, how to mix, and safety.
pub(super) fn rest(page: &mut Page, record: &MixRecord) {
    page.heading("WATCH", "");
    findings(page, &record.findings);
    how_to(page, record);
    safety(page, record);
}

/// The report of two formulas side by side.
#[must_use]
pub fn beside(record: &Beside, colour: bool) -> String {
    let (first, second) = (&record.first, &record.beside);
    let mut page = Page::new(colour);
    let title = format!("{} beside {}", name(first).to_uppercase(), name(second).to_uppercase());
    page.heading(&title, &format!("{} on {}", volume_text(liter(first.volume_l)), first.bench));
    let table =
        |page: &mut Page, heading: &str, rows: &[Difference], digits: &dyn Fn(&MixRecord, &Difference, f64) -> String| {
            let mut lines = vec![vec![
                "   ".to_owned(),
                String::new(),
                name(first).to_owned(),
                name(second).to_owned(),
                "unit".to_owned(),
                "times".to_owned(),
            ]];
            for row in rows {
                let show = |mix, value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| digits(mix, row, value));
                let times = match (row.first, row.second) {
                    (Some(a), Some(b)) if a > 0.0 && b > 0.0 => significant(b / a, 2),
                    _ => String::new(),
                };
                lines.push(vec![
                    "   ".to_owned(),
                    row.what.clone(),
                    show(first, row.first),
                    show(second, row.second),
                    row.unit.clone(),
                    times,
                ]);
            }
            page.heading(heading, "");
            for line in columns(&lines, &[0, 1, 4]) {
                page.line(&line);
            }
        };
    table(&mut page, "WEIGH", &record.weights, &|mix, row, value| {
        let places = mix.doses.iter().find(|dose| dose.name == row.what).map_or(1, dose_decimals);
        fixed(value, places)
    });
    table(&mut page, "IN THE TANK", &record.contents, &|_, row, value| {
        if row.what == "EC" { fixed(value, 2) } else { ppm_text(value) }
    });
    for record in [first, second] {
        page.heading(&format!("WATCH {}", name(record)), "");
        findings(&mut page, &record.findings);
    }
    page.line("");
    page.paragraph(
        "",
        "Neither way of pushing is proven; both are common practice. `bloomsalt mix` with one of them prints how to make \
         it and how to handle the salts. The supplier's safety data sheet and the local rules decide.",
    );
    page.into_text()
}

pub(super) fn title(page: &mut Page, record: &MixRecord) {
    let water = if record.pure_water { "water that brings nothing" } else { "its own water" };
    let aside = format!("{} on {}, {water}", volume_text(liter(record.volume_l)), record.bench);
    let name = if checked(record) { "your mix" } else { name(record) };
    page.heading(&name.to_uppercase(), &aside);
}

/// A dose in a list of weights: how much, of what, with what.
pub(super) fn dose_cells(dose: &Dose) -> [String; 3] {
    let (amount, with) = measured(dose);
    // the decimal points stand under each other
    let point = amount.find('.').unwrap_or_else(|| amount.find(' ').unwrap_or(amount.len()));
    let amount = format!("{}{amount}", " ".repeat(6_usize.saturating_sub(point)));
    let portions = dose.portions.map_or_else(String::new, |portions| format!(", {portions} parts"));
    let indent = if comes_in_a_bottle(dose) { "   " } else { "" };
    [amount, format!("{indent}{}", dose_name(dose)), format!("{with}{portions}")]
}

pub(super) fn weights(page: &mut Page, record: &MixRecord) {
    if checked(record) {
        page.heading("MADE OF", "in the order in which it should have gone in");
    } else {
        page.heading("WEIGH", "in this order");
    }
    dose_rows(page, &record.doses);
    if record.doses.is_empty() {
        let what = if record.job == "switch" { "what is there already" } else { "the water alone" };
        page.line(&format!("   nothing: {what} comes closest"));
    }
    if let Some(cost) = record.cost {
        page.line(&format!("   cost {}", fixed(cost, 2)));
    }
}

/// Numbered doses, each with what it is measured with.
pub(super) fn dose_rows(page: &mut Page, doses: &[Dose]) {
    let mut rows = Vec::new();
    let mut number = 0;
    for dose in doses {
        let place = if comes_in_a_bottle(dose) {
            String::new()
        } else {
            number += 1;
            format!("  {number:>2}.")
        };
        let [amount, name, with] = dose_cells(dose);
        rows.push(vec![place, amount, name, with]);
    }
    let widest = rows.iter().map(|row| row[1].chars().count()).max().unwrap_or(0);
    for row in &mut rows {
        // bold marks count as no width, so the padding goes in first
        row[1] = page.bold(&format!("{:<widest$}", row[1]));
    }
    for line in columns(&rows, &[1, 2, 3]) {
        page.line(&line);
    }
}

/// How new bottles are made.
pub(super) fn bottles(page: &mut Page, helpers: &[HelperRecord]) {
    let new: Vec<&HelperRecord> = helpers.iter().filter(|helper| helper.new).collect();
    if new.is_empty() {
        return;
    }
    page.heading("MAKE FIRST", "dilute bottles, for what is too little to measure");
    for (at, helper) in new.into_iter().enumerate() {
        if at > 0 {
            page.line("");
        }
        let volume = volume_text(liter(helper.volume_ml * 1e-3));
        let name = page.bold(&helper.id);
        page.line(&format!(
            "   {name}, made up to {volume} with {}",
            if helper.pure_water { "pure water" } else { "your water" }
        ));
        ingredients(page, &helper.made_of);
        let dose = match helper.dose_ml {
            Some(ml) => format!(
                "{} mL goes into the tank; a full bottle serves {} such tanks.",
                trimmed(ml, 2),
                fixed(helper.tanks, 0)
            ),
            None => format!("Only to make the thinner bottle of it; enough for {} such tanks.", fixed(helper.tanks, 0)),
        };
        page.paragraph("     ", &dose);
        page.paragraph(
            "     ",
            &format!("Keep it dark and cool, {} days at most (common practice, no source).", helper.keep_days),
        );
        label(page, helper);
    }
    page.line("");
    page.paragraph(
        "   ",
        "With its lines in the bench file a bottle is used from now on; add `left` and set it as it goes down.",
    );
}

/// What to write on a bottle, and its lines for the bench file.
pub(super) fn label(page: &mut Page, helper: &HelperRecord) {
    page.line("     Label");
    for line in &helper.label {
        page.paragraph("       - ", line);
    }
    page.line("     For the bench file");
    for line in helper.entry.iter().flat_map(|entry| entry.lines()) {
        page.line(&format!("       {line}"));
    }
}

/// What goes into a bottle, and how much it is with which instrument.
pub(super) fn ingredients(page: &mut Page, made_of: &[Ingredient]) {
    let row = |of: &Ingredient| vec!["     ".to_owned(), ingredient_amount(of), ingredient_name(of), ingredient_with(of)];
    let rows: Vec<Vec<String>> = made_of.iter().map(row).collect();
    for line in columns(&rows, &[2, 3]) {
        page.line(&line);
    }
}

pub(super) fn meter(page: &mut Page, record: &MixRecord) {
    page.heading("THE METER SHOULD READ", "");
    let ec = page.bold(&format!("EC {} mS/cm", fixed(record.ec_ms_cm, 2)));
    page.line(&format!("   {ec} at 25 C, give or take {}", fixed(record.ec_plus_minus_ms_cm, 2)));
    if (record.temperature_c - 25.0).abs() > 0.05 {
        page.line(&format!(
            "   {} mS/cm on a meter that does not correct for the tank's {} C",
            fixed(record.ec_at_temperature_ms_cm, 2),
            record.temperature_c
        ));
    }
    if let (Some(reading), Some(scale)) = (record.meter_reading_ppm, record.meter_scale) {
        page.line(&format!("   {} ppm on a meter with the {scale} scale", fixed(reading, 0)));
    }
    match ph_words(record) {
        Ok((ph, later)) => {
            let ph = page.bold(&ph);
            page.line(&format!("   {ph}{later}"));
        }
        Err(why) => page.line(&format!("   pH not known: {why}; measure it")),
    }
    if let Some(acid) = &record.acid {
        page.paragraph("   ", &acid_words(record, acid));
    }
    page.line("   Predictions; your meter's reading wins.");
}

pub(super) fn tank(page: &mut Page, record: &MixRecord) {
    page.heading("IN THE TANK", "ppm = mg/L");
    let from = if record.job == "switch" { "there already" } else { "from water" };
    let head = ["   ", "", "comes to", "asked", "off", "give or take", from];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for e in &record.elements {
        let asked = asked(e);
        let off = e.deviation_percent.map_or_else(|| "-".to_owned(), |off| format!("{} %", fixed(off, 1)));
        let water = if e.water_ppm > 0.0 { ppm_text(e.water_ppm) } else { "-".to_owned() };
        let plus_minus = fixed(e.plus_minus_ppm, ppm_decimals(e.ppm));
        rows.push(vec!["   ".to_owned(), e.element.clone(), ppm_text(e.ppm), asked, off, plus_minus, water]);
    }
    for row in &mut rows {
        if record.pure_water {
            row.truncate(6);
        }
        if record.formula.is_none() {
            // nothing was asked, so nothing is off
            row.drain(3..5);
        }
    }
    for line in columns(&rows, &[0, 1]) {
        page.line(&line);
    }
    if let (Some(least), Some(most)) = (record.ammonium_share_least, record.ammonium_share) {
        let percent = |share: f64| fixed(100.0 * share, 1);
        let range = if most - least > 5e-4 { format!("{} to {}", percent(least), percent(most)) } else { percent(most) };
        page.line(&format!("   ammonium and urea: {range} % of the nitrogen"));
    }
    if let Some(comparison) = record.against_growth.as_ref().filter(|comparison| !comparison.changes.is_empty()) {
        let changes: Vec<String> = comparison
            .changes
            .iter()
            .map(|c| format!("{} {} -> {}", c.element, ppm_text(c.from_ppm), ppm_text(c.to_ppm)))
            .collect();
        page.paragraph("   ", &format!("against {} (ppm asked): {}", comparison.formula, changes.join(", ")));
    }
    match (record.misfit, record.misfit_exact) {
        // the doses of stock bottles are stated, and not sought
        (Some(measured), Some(exact)) if record.job == "stock" => {
            page.line(&format!(
                "   misfit {} as dosed; {} before rounding{}",
                fixed(measured, 3),
                fixed(exact, 3),
                unproved(record)
            ));
        }
        (Some(measured), Some(exact)) => page.line(&format!(
            "   misfit {} as measured out, the {} in whole steps; {} before rounding{}",
            fixed(measured, 3),
            record.proof,
            fixed(exact, 3),
            unproved(record)
        )),
        (Some(misfit), None) => page.line(&format!("   misfit {} (0 is perfect)", fixed(misfit, 3))),
        _ => {}
    }
}

/// What must be said where the exact amounts are not proved least.
fn unproved(record: &MixRecord) -> String {
    match record.proof_exact {
        Some(proof @ Proof::ClosestFound) => format!(", the {proof} under the EC limit"),
        _ => String::new(),
    }
}

pub(super) fn findings(page: &mut Page, findings: &[Finding]) {
    if findings.is_empty() {
        page.line("   nothing to report");
    }
    for one in findings {
        finding(page, one);
    }
}

/// One finding with its severity, remedy and code.
pub(super) fn finding(page: &mut Page, finding: &Finding) {
    let word = match finding.severity {
        Severity::Stop => "   STOP     ",
        Severity::Warning => "   Warning  ",
        Severity::Note => "   Note     ",
    };
    let remedy = finding.remedy.as_ref().map_or_else(String::new, |remedy| format!(" {remedy}"));
    page.paragraph(word, &format!("{}{remedy} [{}]", finding.message, finding.code));
}

fn how_to(page: &mut Page, record: &MixRecord) {
    page.heading("HOW TO MIX", "");
    for (at, step) in record.order.iter().enumerate() {
        page.paragraph(&format!("  {:>2}. ", at + 1), &step.text);
    }
}

pub(super) fn safety(page: &mut Page, record: &MixRecord) {
    let number = |salt: &str| number_of(record, salt);
    let listed: Vec<Handling> = record.handling.iter().filter(|h| number(&h.salt).is_some()).cloned().collect();
    handling(page, &number, &listed, &record.cautions);
}

/// Hazards and cautions of the salts, by their number in the list above; by name what has none there.
pub(super) fn handling(
    page: &mut Page,
    number: &dyn Fn(&str) -> Option<usize>,
    handling: &[Handling],
    cautions: &[General],
) {
    page.heading("SAFETY", "numbers as in the list above; `bloomsalt salts ID` puts H codes in words");
    let classified: Vec<(Vec<String>, String)> = handling
        .iter()
        .filter_map(|h| {
            let (word, place) = (h.signal_word.clone()?, number(&h.salt));
            let place = place.map_or_else(String::new, |place| format!("  {place:>2}."));
            Some((vec![format!("{place:<5}"), word, h.name.clone(), String::new()], h.hazards.join(" ")))
        })
        .collect();
    let rows: Vec<Vec<String>> = classified.iter().map(|(row, _)| row.clone()).collect();
    for (line, (_, codes)) in columns(&rows, &[1, 2]).iter().zip(&classified) {
        page.paragraph(line, codes);
    }
    for caution in cautions {
        let whom = whom(caution, number, handling);
        let whom = if whom.is_empty() { whom } else { format!(" ({whom})") };
        page.paragraph("   ", &format!("{}{whom}: {}", caution.heading, caution.text));
    }
}
