//! A tank turned over: drain, refill, weigh in; then the other ways to do it. And a recipe in another tank.

use super::doses::doses;
use super::handling::{findings, first_line, how_to, safety, watch_beside};
use super::mix::{body, pictured, rest, turn_back};
use super::page::{Leaf, Marks, Medium, Page, Table, Words, bold, left, right};
#[cfg(feature = "sheets")]
use super::pictures;
#[cfg(feature = "sheets")]
use super::sheet::sheet;
use super::tank::ppm_of;
use super::text::text;
use super::words::{litres, meter_ppm, numbers, on_meter, waters_words};
use crate::jobs::{Course, Pictures, ScaleRecord, SwitchKind, SwitchOption, SwitchRecord, souring_steps};
use crate::quantity::{bucket_text, fixed, ppm_text};
use crate::safety::Severity;

/// The report of a switch.
#[must_use]
pub fn switch(record: &SwitchRecord, colour: bool) -> String {
    text(&switch_page(record, None, None), colour)
}

/// A tank turned over as a page of HTML to print: drain and refill first of all, then as a mix.
///
/// * `pictures`: of the tank after it, by [`crate::jobs::pictures`]
/// * `told`: what the logbook tells, where the tank is known from one
#[cfg(feature = "sheets")]
#[must_use]
pub fn switch_sheet(record: &SwitchRecord, pictures: &Pictures, told: Option<&Course>) -> String {
    sheet(&switch_page(record, Some(pictures), told))
}

pub(super) fn switch_page(record: &SwitchRecord, pictures: Option<&Pictures>, told: Option<&Course>) -> Page {
    let formula = record.after.formula.as_deref().unwrap_or_default();
    let held = record.before.held_back_l;
    let held = if held > 0.0 { format!(", {} held back", litres(held)) } else { String::new() };
    let aside = format!("{} in the tank{held}, on {}", litres(record.before.level_l), record.after.bench);
    let mut page = Page::new(&format!("Switch to {formula}"), &aside);
    first_line(&mut page, &record.after);
    // with a logbook the day is known, and stands with the first steps
    turn_back(&mut page, record.after.hold_at_most_days.filter(|_| record.back_by.is_none()));
    steps(&mut page, record);
    body(&mut page, &record.after, Some(&record.before), record.own_meter_ms_cm);
    page.only(Medium::Text, |page| before_and_after(page, record));
    later_steps(&mut page, record);
    options(&mut page, record);
    watch_beside(&mut page, &record.after.findings);
    how_to(&mut page, &record.after);
    #[cfg(feature = "sheets")]
    if let Some(told) = told {
        pictures::course(&mut page, told);
    }
    pictured(&mut page, pictures);
    safety(&mut page, &record.after, &numbers(&record.after), pictures);
    page
}

/// Litres as a bucket shows them.
fn bucket(litres: f64) -> String {
    if litres < 1e-6 { "nothing".to_owned() } else { bucket_text(litres) }
}

fn steps(page: &mut Page, record: &SwitchRecord) {
    let kind = if record.told == SwitchKind::Fixed { "as asked" } else { kind_words(record.told) };
    let (drain, refill) = (bucket(record.drain_l), bucket(record.refill_l));
    let step = match record.steps.len() {
        0 => String::new(),
        count => format!("step 1 of {count}, "),
    };
    let waters = waters_words(&record.after.waters).map_or_else(String::new, |words| format!(": {words}"));
    page.section("Drain and refill", &format!("{step}{kind}"));
    page.only(Medium::Text, |page| {
        let drain = bold(format!("drain {drain}"));
        page.line(drain.and(", then ").and(bold(format!("fill in {refill}"))).and(format!(" of water{waters}")));
    });
    page.only(Medium::Sheet, |page| {
        let mut steps = vec![
            Words::from("Drain ").and(bold(drain)).and("."),
            Words::from("Fill in ").and(bold(refill)).and(format!(" of water{waters}.")),
        ];
        steps.extend(record.back_by.iter().map(|day| Words::from("Turn back by ").and(bold(day)).and(".")));
        page.list(Marks::Numbers(3, 1), steps).look("first");
        let ec = fixed(record.before.ec_ms_cm, 2);
        let shows = on_meter(record.before.ec_ms_cm, record.after.meter_scale);
        page.say(format!("Before: {}, EC {ec} mS/cm{shows}.", record.before.known_from)).look("quiet");
    });
}

/// What the steps after the first do.
fn later_steps(page: &mut Page, record: &SwitchRecord) {
    let [_, later @ ..] = &record.steps[..] else { return };
    page.section("Later steps", "as if the plants took nothing between: before each, ask again from the logbook");
    for step in later {
        let day = step.on.clone().unwrap_or_else(|| format!("after {} days", step.after_days));
        let waters = waters_words(&step.waters).map_or_else(String::new, |words| format!(": {words}"));
        let way = format!(": drain {}, fill in {} of water{waters}", bucket(step.drain_l), bucket(step.refill_l));
        page.line(bold(format!("step {}, {day}", step.step)).and(way));
        doses(page, &step.doses);
        for how in souring_steps(&step.order, &step.doses) {
            page.say(how.text.as_str());
        }
        let shows = on_meter(step.ec_ms_cm, record.after.meter_scale);
        page.line(format!("the meter should then read EC {} mS/cm{shows}", fixed(step.ec_ms_cm, 2))).look("quiet");
        if !step.findings.is_empty() {
            findings(page, &step.findings);
        }
    }
}

fn before_and_after(page: &mut Page, record: &SwitchRecord) {
    let (before, after) = (&record.before, &record.after);
    page.section("Before and after", &format!("before: {}", before.known_from));
    let mut table = Table::new([left(""), right("before"), right("after"), left("unit")]);
    for e in &after.elements {
        table.row([e.element.as_str(), &ppm_text(ppm_of(before, &e.element)), &ppm_text(e.ppm), "ppm"]);
    }
    table.row(["EC", &fixed(before.ec_ms_cm, 2), &fixed(after.ec_ms_cm, 2), "mS/cm"]);
    if let Some(scale) = after.meter_scale {
        // as the grower's meter shows it, by the logbook
        let before = before.own_meter_ms_cm.unwrap_or(before.ec_ms_cm);
        let [before, after] = [before, record.own_meter_ms_cm.unwrap_or(after.ec_ms_cm)].map(|ec| meter_ppm(ec, scale));
        table.row(["meter", &before, &after, "ppm shown"]);
    }
    page.table(table);
    if let Some(poured) = before.poured_ec_ms_cm {
        page.say(format!(
            "EC before, here and in the ways, is of what holds such a pH for days in air; as poured in it would read {}.",
            fixed(poured, 2)
        ));
    }
}

fn options(page: &mut Page, record: &SwitchRecord) {
    page.section("The ways", "off in all as measured out; best fit: the least that nothing stops");
    page.leaf(Leaf::Annex);
    let mut table = Table::new([
        right("drain"),
        right("fill in"),
        right("off in all"),
        right("EC").on_sheet("EC, mS/cm"),
        right("pH"),
        left(""),
    ]);
    for option in &record.options {
        let number = |value: Option<f64>, places| value.map_or_else(|| "-".to_owned(), |value| fixed(value, places));
        table.row([
            bucket(option.drain_l),
            bucket(option.refill_l),
            number(option.misfit, 3),
            number(option.ec_ms_cm, 2),
            number(option.ph, 1),
            words(option),
        ]);
    }
    page.table(table).look("numbers");
    for option in record.options.iter().filter(|option| !option.possible) {
        if let Some(why) = &option.why_not {
            let why = why.trim_end_matches('.');
            page.say(format!("Draining {} is not possible: {why}.", bucket(option.drain_l))).look("quiet");
        }
    }
}

fn kind_words(kind: SwitchKind) -> &'static str {
    match kind {
        SwitchKind::BestFit => "best fit",
        SwitchKind::LeastWaste => "least waste",
        SwitchKind::Fixed => "",
    }
}

/// What an option is, in words.
fn words(option: &SwitchOption) -> String {
    let more = match (option.possible, option.told) {
        (false, _) => "not possible",
        (true, true) => "as above",
        (true, false) => "",
    };
    let stops = option.against.iter().any(|finding| finding.severity == Severity::Stop);
    let missed = option.against.iter().any(|finding| finding.severity != Severity::Stop);
    let (stop, missed) = (if stops { "STOP" } else { "" }, if missed { "pH not met" } else { "" });
    [kind_words(option.kind), more, stop, missed]
        .into_iter()
        .filter(|words| !words.is_empty())
        .collect::<Vec<_>>()
        .join(", ")
}

/// The report of a scaled recipe.
#[must_use]
pub fn scale(record: &ScaleRecord, colour: bool) -> String {
    text(&scale_page(record), colour)
}

pub(super) fn scale_page(record: &ScaleRecord) -> Page {
    let mix = &record.mix;
    let aside = format!("scaled from {} to {}, on {}", litres(record.from_l), litres(mix.volume_l), mix.bench);
    let mut page = Page::new(mix.formula.as_deref().unwrap_or("recipe"), &aside);
    first_line(&mut page, mix);
    body(&mut page, mix, None, None);
    page.gap();
    page.say(match (&record.worst_element, record.worst_percent) {
        (Some(element), Some(percent)) => {
            format!(
                "Rounding to what your scales show costs at the most {} % ({element}) against the recipe.",
                fixed(percent.abs(), 1)
            )
        }
        _ => "Rounding to what your scales show costs nothing.".to_owned(),
    });
    rest(&mut page, mix, None);
    page
}
