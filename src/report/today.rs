//! What to do today: one page, what is due first.

use super::bottles::{bottles, on_the_shelf};
use super::doses::{acid_at_its_step, doses};
use super::handling::{findings, handling, put_on, steps};
use super::logbook::{day, minute};
use super::page::{Block, Leaf, Marks, Page, strong};
#[cfg(feature = "sheets")]
use super::pictures;
#[cfg(feature = "sheets")]
use super::sheet::sheet;
use super::text::text;
use super::today_groups::{group_now, group_words, when};
use super::today_ph::{correction_line, ph_now, ph_words};
use super::words::{filled_words, litres, missed, number_of, on_meter, range_on_meter, range_text, tank_called, waiting};
use crate::jobs::{Course, Due, DueBy, DueKind, FillUp, Step, TodayRecord, TodayTank};
use crate::quantity::fixed;
use crate::safety::{Finding, Severity};

/// The report of a day.
#[must_use]
pub fn today(record: &TodayRecord, colour: bool) -> String {
    text(&today_page(record, None), colour)
}

/// A day as a page of HTML to print.
///
/// * `told`: what the logbook tells over its days, where there is one
#[must_use]
#[cfg(feature = "sheets")]
pub fn today_sheet(record: &TodayRecord, told: Option<&Course>) -> String {
    sheet(&today_page(record, told))
}

pub(super) fn today_page(record: &TodayRecord, told: Option<&Course>) -> Page {
    let mut page = Page::new("Today", &format!("{}, on {}", record.date.long(), record.bench));
    let mut now: Vec<String> = Vec::new();
    let stops = |finding: &&Finding| finding.severity == Severity::Stop;
    for tank in &record.tanks {
        // what stops it stands before what there is to do
        let of = ahead(tank, record);
        let named = |finding: &Finding| Finding { message: format!("{of}{}", finding.message), ..finding.clone() };
        let first: Vec<Finding> = tank.findings.iter().filter(stops).map(named).collect();
        if !first.is_empty() {
            findings(&mut page, &first);
        }
    }
    for tank in &record.tanks {
        let of = ahead(tank, record);
        if tank.due.iter().any(|due| due.days_left <= 0 && due.what == DueKind::Read) && tank.fill_up.is_some() {
            now.push(format!(
                "{of}before anything is poured: read, write it down, and ask again: what follows is by the last reading"
            ));
        }
        now.extend(tank.due.iter().filter(|due| due.days_left <= 0).map(|due| format!("{of}{}", due_words(due))));
        let correction = tank.ph.as_ref().and_then(|ph| ph.correction.as_ref());
        now.extend(tank.ph.as_ref().and_then(ph_now).map(|what| format!("{of}{what}")));
        if let Some(fill) = &tank.fill_up {
            now.push(format!("{of}{}", fill_words(fill, correction.is_none())));
        }
    }
    now.extend(record.groups.iter().flat_map(group_now));
    if now.is_empty() {
        page.line("nothing is due").look("large");
    } else {
        page.list(Marks::Dashes(3), now.into_iter().map(strong));
    }
    if let Some(why) = &record.no_plan {
        page.say(format!("No plan: {why}."));
    }
    for tank in &record.tanks {
        of_tank(&mut page, tank, record);
    }
    #[cfg(feature = "sheets")]
    if let Some(told) = told {
        pictures::course(&mut page, told);
    }
    if !record.groups.is_empty() {
        page.section("Groups", "by the plan; a plant need not keep to it");
        for group in &record.groups {
            page.say(strong(&group.name).and(format!(": {}", group_words(group))));
        }
    }
    on_the_shelf(&mut page, &record.left);
    page.gap();
    page.say_after(
        "",
        "Volume and additions are bookkeeping, what plants took is an estimate; only a laboratory analysis knows. Dates of \
         flowers are those of the plan.",
    );
    page
}

/// The name of a tank before what is said of it; nothing where there is only one.
fn ahead(tank: &TodayTank, record: &TodayRecord) -> String {
    if record.tanks.len() == 1 { String::new() } else { format!("{}: ", named(tank)) }
}

fn named(tank: &TodayTank) -> String {
    tank_called(tank.tank.as_deref(), tank.group.as_deref())
}

fn due_words(due: &Due) -> String {
    let formula = due.formula.as_deref().unwrap_or("another formula");
    let what = match due.what {
        DueKind::Fill => format!("fill it with {formula}"),
        DueKind::Switch => format!("turn it over to {formula}"),
        DueKind::Renew if due.by == DueBy::Forecast => {
            format!("made up with water alone it leaves the range of {formula}: add to it, or renew it")
        }
        DueKind::Renew => format!("renew {formula}"),
        DueKind::Read => "read EC, pH and level".to_owned(),
    };
    let by = match due.by {
        DueBy::Plan => "by the plan",
        DueBy::Forecast => "by the likely course",
        DueBy::HoldAtMost => "by hold_at_most",
        DueBy::Habit => "a week since the last reading, own choice",
        DueBy::Doubt => "for its pH",
        DueBy::Stop => "filling it up leaves a STOP",
        DueBy::Lack => "it has run down, and the shelf adds nothing to it",
    };
    let earliest = due.earliest.map_or_else(String::new, |day| format!(", {day} at the earliest"));
    format!("{what}: {}, {} ({by}{earliest})", when(due.days_left), due.on)
}

/// The level at which draining ends, where it is a part of the tank.
fn down_to(fill: &FillUp) -> String {
    fill.level_l
        .map(|level| level - fill.drain_l)
        .filter(|left| *left > 0.05)
        .map_or_else(String::new, |left| format!(", down to {} L", fixed(left, 1)))
}

/// * `alone`: nothing corrects the pH beside it
fn fill_words(fill: &FillUp, alone: bool) -> String {
    let water = filled_words(&fill.waters, fill.pure_water);
    let salts = match fill.doses.iter().filter(|dose| dose.is_measured()).count() {
        0 => "",
        _ => "the weights below",
    };
    let add = if fill.drain_l > 0.0 {
        format!("drain {} L{}, then fill in", fixed(fill.drain_l, 1), down_to(fill))
    } else {
        "add".to_owned()
    };
    match (fill.water_l > 0.0, salts) {
        (true, "") if alone => format!("{add} {} L of {water}, nothing else", fixed(fill.water_l, 1)),
        (true, "") => format!("{add} {} L of {water}", fixed(fill.water_l, 1)),
        (true, salts) => format!("{add} {} L of {water} and {salts}", fixed(fill.water_l, 1)),
        (false, _) => "add the weights below".to_owned(),
    }
}

fn of_tank(page: &mut Page, tank: &TodayTank, record: &TodayRecord) {
    let heading = if record.tanks.len() == 1 { "Tank".to_owned() } else { named(tank) };
    page.section(&heading, &litres(tank.volume_l));
    standing(page, tank);
    for due in tank.due.iter().filter(|due| due.days_left > 0) {
        page.say(format!("next: {}", due_words(due)));
    }
    put_on(page, &tank.cautions);
    if let Some(ph) = &tank.ph {
        let weights = tank.fill_up.as_ref().map(|fill| !fill.doses.is_empty());
        page.say(ph_words(ph, weights));
        if let Some(of) = &ph.correction {
            page.add(Block::Doses { doses: vec![correction_line(of)], is_numbered: false });
            if of.acid {
                page.say("The acid is opened and measured when its step of HOW TO MIX comes.");
            }
        }
    }
    if let Some(fill) = &tank.fill_up {
        let corrected = tank.ph.as_ref().and_then(|ph| ph.correction.as_ref()).is_some_and(|of| of.on_shelf);
        fill_up(page, fill, tank.meter_scale, corrected);
    } else if let (Some(why), Some(_)) = (&tank.no_fill_up, tank.level_l) {
        page.say(format!("nothing to fill up with: {why}"));
    }
    // of several tanks each keeps together what is said of it
    let leaf = if record.tanks.len() == 1 { Leaf::More } else { Leaf::Work };
    let watched: Vec<Finding> = tank.findings.iter().filter(|one| one.severity != Severity::Stop).cloned().collect();
    if !watched.is_empty() {
        page.section("Watch", "");
        page.leaf(leaf);
        findings(page, &watched);
    }
    // of water alone there is nothing to say
    let fill = tank.fill_up.as_ref().filter(|fill| !fill.doses.is_empty());
    let order = how_to(tank);
    if !order.is_empty() {
        steps(page, &order);
        page.leaf(leaf);
    }
    if !tank.cautions.is_empty() {
        let number = |salt: &str| fill.and_then(|fill| number_of(&fill.doses, &fill.helpers, salt));
        handling(page, &number, &tank.handling, &tank.cautions, &[]);
        page.leaf(leaf);
    }
}

/// What is in a tank, and where it is in its plan.
fn standing(page: &mut Page, tank: &TodayTank) {
    match (tank.level_l, &tank.filled) {
        (Some(level), Some(filled)) => {
            let formula = tank.formula.as_ref().map_or_else(String::new, |formula| format!(", fed {formula}"));
            let held =
                if tank.held_back_l > 0.0 { format!(" and {} held back", litres(tank.held_back_l)) } else { String::new() };
            page.say(format!("{} L in it{held}{formula}; filled {}", fixed(level, 1), minute(filled)));
        }
        _ if tank.logbook => {
            page.say("nothing is in it: a mix says what to weigh, and an entry of the logbook writes it down");
        }
        _ => {
            page.line("no logbook tells of it");
        }
    }
    if let (Some(phase), Some(since)) = (&tank.phase, &tank.phase_since) {
        let planned = tank.planned_phase.as_ref().map_or_else(String::new, |phase| format!("; the plan is at {phase}"));
        page.line(format!("{phase} since {}{planned}", day(since)));
    } else if let Some(phase) = &tank.planned_phase {
        page.line(format!("the plan is at {phase}"));
    }
    if let (Some(seen), Some(phase)) = (&tank.stalks_seen, &tank.phase) {
        page.say(format!("stalks seen {}: once most plants show them, turn {phase} back", day(seen)));
    }
    if let Some(nitrogen) = &tank.nitrogen_ppm {
        page.line(if tank.uptake_known {
            format!("N {} ppm", range_text(nitrogen, 1))
        } else {
            format!("N {} ppm as poured, less what plants took, which no reading tells", fixed(nitrogen.likely, 1))
        });
    }
    if let Some(ec) = &tank.ec_ms_cm {
        let read = tank.ec_read_ms_cm.as_ref();
        let read = read.map_or_else(String::new, |read| {
            format!("; it read {}{}, {}", fixed(read.value, 2), on_meter(read.value, tank.meter_scale), minute(&read.at))
        });
        page.say(format!("EC should read {} mS/cm{}{read}", range_text(ec, 2), range_on_meter(ec, tank.meter_scale)));
    }
}

/// How the pH is corrected and the tank filled up; nothing where water alone goes in.
fn how_to(tank: &TodayTank) -> Vec<Step> {
    let correction = tank.ph.as_ref().and_then(|ph| ph.correction.as_ref());
    let fill = tank.fill_up.as_ref();
    let is_in = |fill: &FillUp| correction.is_none_or(|of| of.order.iter().all(|step| fill.order.contains(step)));
    match (correction, fill) {
        (of, Some(fill)) if is_in(fill) && (of.is_some() || !fill.doses.is_empty()) => fill.order.clone(),
        // what is not on the shelf nothing else reckons with: it goes in by itself
        (Some(of), fill) => {
            let weights = fill.filter(|fill| !fill.doses.is_empty());
            Step::behind_the_water(weights.map_or(&[], |fill| &fill.order), &of.order)
        }
        _ => Vec::new(),
    }
}

/// * `corrected`: what the pH comes to stands with what corrects it
fn fill_up(page: &mut Page, fill: &FillUp, meter_scale: Option<f64>, corrected: bool) {
    if fill.drain_l > 0.0 {
        page.section("Drain and refill", &format!("with {}", fill.formula));
    } else {
        page.section("Fill up", &format!("to {}, nothing drained", fill.formula));
    }
    // what is only warned of does not stand before the weights
    let (stops, warnings): (Vec<Finding>, Vec<Finding>) =
        fill.stops.iter().cloned().partition(|finding| finding.severity == Severity::Stop);
    if !stops.is_empty() {
        findings(page, &stops);
    }
    page.line(fill_words(fill, !corrected).replace("below", "here"));
    doses(page, &fill.doses);
    acid_at_its_step(page, &fill.doses, &fill.order);
    let shows = on_meter(fill.ec_ms_cm, meter_scale);
    page.line(format!("EC should then read about {} mS/cm{shows}", fixed(fill.ec_ms_cm, 2)));
    // the reading is no better than its meter, which is not asked how good it is: no range is told
    if let (Some(ph), Some(aired), false) = (fill.ph, fill.ph_aired, corrected) {
        let (fresh, aired) = (fixed(ph, 1), fixed(aired, 1));
        page.line(format!(
            "pH should then read about {fresh}, {}{}",
            if aired == fresh { "and so in air".to_owned() } else { format!("{aired} in air") },
            if fill.drain_l > 0.0 { "" } else { ", by the pH that was read" }
        ));
    }
    let warnings = [warnings, fill.chelates.clone()].concat();
    if !warnings.is_empty() {
        findings(page, &warnings);
    }
    if !fill.missed.is_empty() {
        page.say(format!("stays off (ppm): {}", missed(&fill.missed)));
        if fill.doses.is_empty() {
            page.say("No weights: of what is on the shelf they would bring it next to nothing nearer, or wait.");
        }
    }
    if let Some(line) = waiting(&fill.waits) {
        page.say(line);
    }
    if !fill.why_off.is_empty() {
        findings(page, &fill.why_off);
        if fill.missed.iter().any(|missed| missed.ppm > missed.target_ppm) {
            page.say("What is over comes down as plants take it, or by draining, and no further than the water has it.");
        }
    }
    bottles(page, &fill.helpers, &fill.waters);
}
