//! A mix for wet hands: weights first, then the meter, then what to watch, then safety.

use super::page::{Page, columns};
use crate::jobs::{AcidRecord, Beside, Difference, Dose, General, Handling, HelperRecord, Ingredient, Measure, MixRecord};
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

/// The formula, or what else the record is of.
fn name(record: &MixRecord) -> &str {
    record.formula.as_deref().unwrap_or("your mix")
}

/// True for a tank that was filled already, whatever formula it is held against.
fn checked(record: &MixRecord) -> bool {
    record.job == "check"
}

pub(super) fn title(page: &mut Page, record: &MixRecord) {
    let water = if record.pure_water { "water that brings nothing" } else { "its own water" };
    let aside = format!("{} on {}, {water}", volume_text(liter(record.volume_l)), record.bench);
    let name = if checked(record) { "your mix" } else { name(record) };
    page.heading(&name.to_uppercase(), &aside);
}

/// Decimals that a scale shows.
fn decimals(step: f64) -> usize {
    (0..6).find(|places| fixed(step, *places).parse::<f64>().is_ok_and(|shown| (shown - step).abs() < 1e-9)).unwrap_or(6)
}

/// What the exact mix has of something too little to measure.
fn small_amount(dose: &Dose) -> String {
    match dose.grams_exact {
        Some(grams) if grams < 1.0 => format!("{} mg", significant(grams * 1e3, 2)),
        Some(grams) => format!("{} g", significant(grams, 2)),
        None => format!("{} mL", significant(dose.millilitres_exact.unwrap_or(0.0), 2)),
    }
}

fn dose_decimals(dose: &Dose) -> usize {
    dose.scale_g.map_or(3, decimals)
}

/// True for a salt that goes in with a bottle, which stands before it.
pub(super) fn comes_in_a_bottle(dose: &Dose) -> bool {
    dose.measure.is_none() && dose.helper.is_some()
}

/// What to measure out, and with what.
pub(super) fn measured(dose: &Dose) -> (String, String) {
    match dose.measure {
        Some(Measure::Syringe | Measure::Helper) => {
            (dose.millilitres.map_or_else(String::new, |ml| format!("{} mL", fixed(ml, 1))), "syringe".to_owned())
        }
        Some(Measure::Scale) => (
            dose.grams.map_or_else(String::new, |grams| format!("{} g", fixed(grams, dose_decimals(dose)))),
            dose.scale_g.map_or_else(String::new, |step| format!("{step} g scale")),
        ),
        None if comes_in_a_bottle(dose) => (String::new(), format!("{} in it", small_amount(dose))),
        None => (format!("({})", small_amount(dose)), "LEFT OUT, see below".to_owned()),
    }
}

/// What a dose is called: a bottle as one.
pub(super) fn dose_name(dose: &Dose) -> String {
    let bottle = if dose.measure == Some(Measure::Helper) { "bottle " } else { "" };
    format!("{bottle}{}", dose.name)
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
        page.line("     Label");
        for line in &helper.label {
            page.paragraph("       - ", line);
        }
        page.line("     For the bench file");
        for line in helper.entry.iter().flat_map(|entry| entry.lines()) {
            page.line(&format!("       {line}"));
        }
    }
    page.line("");
    page.paragraph(
        "   ",
        "With its lines in the bench file a bottle is used from now on; add `left` and set it as it goes down.",
    );
}

/// What goes into a bottle, and how much it is with which instrument.
pub(super) fn ingredients(page: &mut Page, made_of: &[Ingredient]) {
    let row = |of: &Ingredient| {
        let with = match (of.grams, of.scale_g) {
            (Some(_), Some(step)) => format!("{step} g scale"),
            (Some(_), None) => String::new(),
            (None, _) => "syringe".to_owned(),
        };
        vec!["     ".to_owned(), ingredient_amount(of), ingredient_name(of), with]
    };
    let rows: Vec<Vec<String>> = made_of.iter().map(row).collect();
    for line in columns(&rows, &[2, 3]) {
        page.line(&line);
    }
}

/// How much of an ingredient goes into a bottle.
pub(super) fn ingredient_amount(of: &Ingredient) -> String {
    match (of.grams, of.millilitres) {
        (Some(grams), _) => format!("{} g", fixed(grams, of.scale_g.map_or(3, decimals))),
        (None, ml) => format!("{} mL", trimmed(ml.unwrap_or(0.0), 2)),
    }
}

/// What an ingredient is called: a bottle as one.
pub(super) fn ingredient_name(of: &Ingredient) -> String {
    if of.helper.is_some() { format!("bottle {}", of.name) } else { of.name.clone() }
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
    match (record.ph, record.ph_aired) {
        (Some(fresh), Some(aired)) => {
            let ph = page.bold(&format!("pH {}", fixed(fresh, 1)));
            let later = if (fresh - aired).abs() > 0.2 {
                format!(" right after mixing, {} after days in air", fixed(aired, 1))
            } else {
                String::new()
            };
            page.line(&format!(
                "   {ph}{later}{}",
                if record.acid.is_none() && !checked(record) { ", before any acid" } else { "" }
            ));
        }
        _ if record.doses.is_empty() && checked(record) => {
            page.line("   pH not known: an analysis does not tell it; measure it");
        }
        _ if record.job == "switch" => {
            page.line("   pH not known: what the tank holds is known by element only; measure it");
        }
        _ => page.line("   pH not known: a product on the list does not state its alkalinity; measure it"),
    }
    if let Some(acid) = &record.acid {
        let of = |dose: &&Dose| dose.salt.as_ref().or(dose.helper.as_ref()) == Some(&acid.salt);
        let listed = record.doses.iter().find(of).is_some_and(|dose| dose.measure.is_some() || dose.helper.is_some());
        acid_doses(page, acid, listed);
    }
    page.line("   Predictions; your meter's reading wins.");
}

/// `is_listed`: the list of weights has it, by itself or in a bottle.
fn acid_doses(page: &mut Page, acid: &AcidRecord, is_listed: bool) {
    // a bottle of the acid counts in mL alone
    let (fresh, aired) = (acid.grams_fresh.or(acid.millilitres_fresh), acid.grams_aired.or(acid.millilitres_aired));
    let none = |amount: Option<f64>| amount.is_some_and(|amount| amount <= 0.0);
    if none(fresh) && none(aired) {
        page.line(&format!("   no {} goes in: the pH is at or under {} without it", acid.salt, acid.target_ph));
        return;
    }
    let dose = |ml: Option<f64>, grams: Option<f64>| match (ml, grams) {
        _ if none(grams.or(ml)) => "none".to_owned(),
        (Some(ml), _) => format!("{} mL", significant(ml, 1)),
        (None, Some(grams)) => format!("{} g", significant(grams, 2)),
        (None, None) => "no dose that works".to_owned(),
    };
    let chosen = if acid.basis == "fresh" { fresh } else { aired };
    let listed = match chosen {
        Some(amount) if amount > 0.0 && !is_listed => {
            "none of it can be measured here, so none is in the list above.".to_owned()
        }
        Some(amount) if amount > 0.0 => format!("the list above has the {} dose, in whole steps.", acid.basis),
        Some(_) => "none is in the list above.".to_owned(),
        None => "what the list above has of it falls short of the wish.".to_owned(),
    };
    page.paragraph(
        "   ",
        &format!(
            "{} for pH {}: {} for it right after mixing, {} to hold it after days in air; {listed} Measure pH after mixing \
             and again after some days, and correct in small parts.",
            acid.salt,
            acid.target_ph,
            dose(acid.millilitres_fresh, acid.grams_fresh),
            dose(acid.millilitres_aired, acid.grams_aired),
        ),
    );
}

pub(super) fn tank(page: &mut Page, record: &MixRecord) {
    page.heading("IN THE TANK", "ppm = mg/L");
    let from = if record.job == "switch" { "there already" } else { "from water" };
    let head = ["   ", "", "comes to", "asked", "off", "give or take", from];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for e in &record.elements {
        let asked = match (e.target_ppm, e.min_ppm, e.max_ppm) {
            (Some(target), _, _) => ppm_text(target),
            (None, Some(min), Some(max)) => format!("{} to {}", ppm_text(min), ppm_text(max)),
            (None, Some(min), None) => format!("at least {}", ppm_text(min)),
            (None, None, Some(max)) => format!("at most {}", ppm_text(max)),
            (None, None, None) => "-".to_owned(),
        };
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
        (Some(measured), Some(exact)) => page.line(&format!(
            "   misfit {} as measured out, the {} in whole steps; {} before rounding",
            fixed(measured, 3),
            record.proof,
            fixed(exact, 3)
        )),
        (Some(misfit), None) => page.line(&format!("   misfit {} (0 is perfect)", fixed(misfit, 3))),
        _ => {}
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

/// Number in the list of weights of the line that brings a salt: its own, or that of the bottle that it is in.
fn number_of(record: &MixRecord, salt: &str) -> Option<usize> {
    let numbered: Vec<&Dose> = record.doses.iter().filter(|dose| dose.measure.is_some() || dose.helper.is_none()).collect();
    let own = numbered.iter().position(|dose| dose.salt.as_deref() == Some(salt));
    let in_bottle = || {
        numbered
            .iter()
            .position(|dose| dose.salt.is_none() && dose.helper.as_ref().is_some_and(|id| holds(record, id, salt)))
    };
    own.or_else(in_bottle).map(|at| at + 1)
}

/// True when a bottle, or one that it is made from, holds a salt.
fn holds(record: &MixRecord, id: &str, salt: &str) -> bool {
    let Some(helper) = record.helpers.iter().find(|helper| helper.id == id) else { return false };
    let own = helper.made_of.iter().any(|of| of.salt.as_deref() == Some(salt));
    own || helper.made_of.iter().filter_map(|of| of.helper.as_deref()).any(|parent| holds(record, parent, salt))
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
        let mut numbers: Vec<usize> = caution.salts.iter().filter_map(|salt| number(salt)).collect();
        numbers.sort_unstable();
        numbers.dedup();
        let unnumbered = handling.iter().filter(|h| caution.salts.contains(&h.salt) && number(&h.salt).is_none());
        let numbers: Vec<String> = numbers.iter().map(usize::to_string).chain(unnumbered.map(|h| h.name.clone())).collect();
        let whom = if numbers.is_empty() { String::new() } else { format!(" ({})", numbers.join(", ")) };
        page.paragraph("   ", &format!("{}{whom}: {}", caution.heading, caution.text));
    }
}
