//! A tank already filled: what is in it, what would set it right, what its meter says of it.

use super::bottles::bottles;
use super::doses::{line, waters, weights};
use super::handling::{findings, first_line, how_to, safety, watch_beside};
use super::meter::meter;
use super::mix::{aside, pictured, title};
use super::page::{Block, Leaf, Marks, Medium, Page, Table, bold, left, right, strong};
#[cfg(feature = "sheets")]
use super::sheet::sheet;
use super::tank::tank;
use super::text::text;
use super::words::{litres, numbers, on_meter};
use crate::jobs::{
    Act, Cause, CauseGroup, CheckRecord, Element, HelperRecord, MixRecord, Pictures, ReadingRecord, Remedies, Remedy,
    RemedyKind, souring_steps,
};
use crate::quantity::{fixed, ppm_text};
use crate::safety::{Severity, meets_what_it_must_not};

/// A target missed by more than this after a remedy is told, percent.
const STILL_OFF_PERCENT: f64 = 1.0;

/// The report of a check.
#[must_use]
pub fn check(record: &CheckRecord, colour: bool) -> String {
    text(&check_page(record, None), colour)
}

/// A checked tank as a page of HTML to print.
///
/// * `pictures`: of the same tank, by [`crate::jobs::pictures`]
#[cfg(feature = "sheets")]
#[must_use]
pub fn check_sheet(record: &CheckRecord, pictures: &Pictures) -> String {
    sheet(&check_page(record, Some(pictures)))
}

pub(super) fn check_page(record: &CheckRecord, pictures: Option<&Pictures>) -> Page {
    let mix = &record.tank;
    let mut page = Page::new(title(mix), &aside(mix));
    first_line(&mut page, mix);
    if let Some(formula) = &mix.formula {
        page.line(format!("held against {formula}"));
    }
    if mix.doses.is_empty() {
        page.line(format!("known from {}", record.known_from));
    } else {
        weights(&mut page, mix);
    }
    meter(&mut page, mix, None);
    if let Some(reading) = &record.reading {
        the_reading(&mut page, reading, mix.meter_scale);
    }
    tank(&mut page, mix, None);
    if let Some(remedies) = &record.remedies {
        to_set_it_right(&mut page, remedies, mix);
    }
    watch_beside(&mut page, &mix.findings);
    if !mix.order.is_empty() {
        page.only(Medium::Sheet, |page| {
            how_to(page, mix);
            // it was done so, or should have been
            page.leaf(Leaf::More);
        });
    }
    pictured(&mut page, pictures);
    safety(&mut page, mix, &numbers(mix), pictures);
    page
}

fn to_set_it_right(page: &mut Page, remedies: &Remedies, mix: &MixRecord) {
    let formula = mix.formula.as_deref().unwrap_or_default();
    page.section("To set it right", &format!("to {formula}, in a full tank"));
    if !remedies.needed {
        page.line("nothing to do: targets are met within their give or take, limits are kept");
        return;
    }
    let nothing = |option: &Remedy| option.possible && option.drain_l <= 0.0 && option.doses.is_empty();
    if remedies.options.iter().all(nothing) {
        page.line("nothing to do: what this shelf could add, or draining, brings it no nearer");
        return;
    }
    if remedies.options.iter().any(|option| option.possible) {
        let acid = remedies.options.iter().flat_map(|option| &option.doses).any(|dose| dose.acid && dose.is_measured());
        if meets_what_it_must_not(&mix.findings) {
            page.say("These steps make the tank anew, so that nothing meets what it must not. What the STOPs at the head tell holds while the old solution is there.");
        } else {
            page.say("Pump and lights unplugged first.");
        }
        if acid {
            page.say("The acid is opened and measured when its step below comes.");
        }
    }
    let mut ordered = false;
    for (at, option) in remedies.options.iter().enumerate() {
        way(page, option, (at == 0, ordered), mix.meter_scale);
        ordered |= option.possible && in_order(option);
    }
    if remedies.options.iter().all(|option| !option.possible) {
        return;
    }
    let possible = || remedies.options.iter().filter(|option| option.possible);
    // with nothing of it left there is no water of the tank to take
    let stays = possible().any(|option| option.drain_l < mix.volume_l * (1.0 - 1e-9));
    let last = if !stays {
        ""
    } else if remedies.adding_is_enough {
        "Draining would come no nearer. "
    } else if mix.findings.iter().any(|finding| finding.severity == Severity::Stop) {
        // no plant takes anything from a tank that is stopped
        "Adding takes nothing out: what is over comes down only by draining. "
    } else {
        "Adding takes nothing out: what is over comes down only by draining, or as plants take it. "
    };
    let spent = if possible().all(|option| option.drain_l <= 0.0) {
        ""
    } else {
        "What is let out goes where SAFETY tells. Medium and pipes count as empty: rinse out what they hold. "
    };
    let dissolve = if possible().all(in_order) {
        "`bloomsalt salts ID` prints how to handle a salt."
    } else if possible().any(|option| !option.doses.is_empty()) {
        "Dissolve each salt by itself in a bucket of water dipped out of the tank and stir it in slowly; then, hands out and dry, plug in again, let the pump mix, and read EC and pH. `bloomsalt salts ID` prints how to handle a salt."
    } else {
        "Then, hands out and dry, plug in again, let the pump mix, and read EC and pH."
    };
    page.say(format!("{last}{spent}{dissolve}")).look("quiet");
    // bottles after all ways, else the next way stands under how to make them
    let mut told: Vec<&str> = Vec::new();
    for option in &remedies.options {
        let new: Vec<HelperRecord> =
            option.helpers.iter().filter(|helper| !told.contains(&helper.id.as_str())).cloned().collect();
        told.extend(option.helpers.iter().map(|helper| helper.id.as_str()));
        bottles(page, &new, &option.waters);
    }
}

/// True where what goes in and out has an order of its own to tell: fresh water comes in, or an acid goes in.
fn in_order(option: &Remedy) -> bool {
    option.drain_l > 0.0 || option.doses.iter().any(|dose| dose.acid && dose.is_measured())
}

/// * `first`, `ordered`: it is the first way, and the steps of one that stands above it are told
fn way(page: &mut Page, option: &Remedy, (first, ordered): (bool, bool), meter_scale: Option<f64>) {
    let drained = litres(option.drain_l);
    let (add, drain) = if first { ("Add", "Drain") } else { ("Or add", "Or drain") };
    let and_add = if option.doses.is_empty() { ", refill" } else { ", refill, and add" };
    let what = bold(match option.kind {
        RemedyKind::AddNow => format!("{add} to the tank as it stands"),
        RemedyKind::LeastWaste => format!("{drain} {drained}{and_add} (the least that comes close)"),
        RemedyKind::BestFit => format!("{drain} {drained}{and_add} (the best fit)"),
    });
    if !option.possible {
        let why = option.why_not.as_deref().unwrap_or_default();
        page.say(what.and(format!(": not possible, {why}.")));
        return;
    }
    page.line(what.and(":")).look("way");
    // numbers are those of the list above, which SAFETY speaks of
    page.add(Block::Doses { doses: option.doses.iter().map(line).collect(), is_numbered: false });
    waters(page, &option.waters);
    if in_order(option) && !ordered {
        page.list(Marks::Numbers(4, 2), option.order.iter().map(|step| step.text.as_str()));
    } else if in_order(option) {
        // what lets out, and what an acid asks for, is told with its own volumes
        let drains = option.order.iter().filter(|step| step.act == Act::Drain);
        for step in drains.chain(souring_steps(&option.order, &option.doses)) {
            page.say_after("      ", step.text.clone());
        }
        page.say_after("      ", "Step by step as above, with these amounts.");
    }
    let still: Vec<String> = option.after.iter().filter_map(still_off).collect();
    let ec = option
        .ec_ms_cm
        .map_or_else(String::new, |ec| format!("EC {} mS/cm then{}", fixed(ec, 2), on_meter(ec, meter_scale)));
    let ph = option.ph.map_or_else(String::new, |ph| format!(", pH {}", fixed(ph, 1)));
    let aired =
        option.ph_aired.filter(|_| option.ph.is_some()).map_or_else(String::new, |ph| format!(" ({} in air)", fixed(ph, 1)));
    let misfit = option.misfit.map_or_else(String::new, |misfit| format!(", off in all {}", fixed(misfit, 3)));
    let off = if still.is_empty() { String::new() } else { format!("; still off: {}", still.join(", ")) };
    page.say_after("      ", format!("{ec}{ph}{aired}{misfit}{off}"));
    if !option.findings.is_empty() {
        findings(page, &option.findings);
    }
}

/// What is still off after a remedy.
fn still_off(element: &Element) -> Option<String> {
    let off = element.deviation_percent.filter(|off| off.abs() > STILL_OFF_PERCENT)?;
    let sign = if off > 0.0 { "+" } else { "" };
    Some(format!("{} {} ppm ({sign}{} %)", element.element, ppm_text(element.ppm), fixed(off, 0)))
}

/// What the reading says of slips.
fn verdict(reading: &ReadingRecord) -> &'static str {
    match reading.verdict.as_str() {
        "as-predicted" => "That is as predicted: nothing speaks for a slip.",
        "one-cause" => "One cause explains it clearly better than the others.",
        "no-cause" => "No single slip that is reckoned with here explains it.",
        _ => "The reading alone cannot tell the causes in the first list apart.",
    }
}

/// How likely a cause is.
fn likely(cause: &Cause) -> String {
    let percent = 100.0 * cause.probability;
    if percent < 1.0 { "under 1 %".to_owned() } else { format!("{} %", fixed(percent, 0)) }
}

fn the_reading(page: &mut Page, reading: &ReadingRecord, meter_scale: Option<f64>) {
    let at = reading.read_at_c.map_or_else(|| "25".to_owned(), |celsius| fixed(celsius, 1));
    let shown = on_meter(reading.ec_ms_cm, meter_scale);
    page.section("The reading", &format!("{} mS/cm at {at} C{shown}", fixed(reading.ec_ms_cm, 2)));
    page.say(format!(
        "{} mS/cm predicted{}; the reading is {} % {}, and {} % is what meter and prediction together leave open.",
        fixed(reading.predicted_ms_cm, 2),
        on_meter(reading.predicted_ms_cm, meter_scale),
        fixed(reading.apart_percent.abs(), 1),
        if reading.apart_percent < 0.0 { "less" } else { "more" },
        fixed(reading.apart_plus_minus_percent, 1),
    ));
    page.say(strong(verdict(reading)));
    for (at, group) in reading.groups.iter().enumerate() {
        causes(page, group, if at == 0 { "likely" } else { "less likely" });
    }
    if !reading.not_seen.is_empty() {
        page.say(format!("Left out or doubled, EC would not show it: {}.", reading.not_seen.join(", ")));
    }
    page.say(format!(
        "Errors reckoned with (k = 2): meter {} %, volume {} %, model {} %, and weighing and purity as in the tank. \
         How likely a slip is before anything is read is our own choice.",
        fixed(reading.meter_error_percent, 1),
        fixed(reading.volume_plus_minus_percent, 1),
        fixed(reading.model_plus_minus_percent, 1),
    ))
    .look("quiet");
}

fn causes(page: &mut Page, group: &CauseGroup, head: &str) {
    let mut table = Table::new([
        left("").on_sheet("what would explain it"),
        right(head),
        right("would read").on_sheet("would read, mS/cm"),
        right("pH"),
    ]);
    for cause in &group.causes {
        let show = |value: Option<f64>, decimals| value.map_or_else(|| "?".to_owned(), |value| fixed(value, decimals));
        table.row([cause.words.clone(), likely(cause), show(cause.would_read_ms_cm, 2), show(cause.ph, 1)]);
    }
    page.table(table).look("numbers");
    if group.causes.len() > 1 && !group.tests.is_empty() {
        page.say_after("      ", format!("To tell them apart: {}", group.tests.join(" ")));
    }
}
