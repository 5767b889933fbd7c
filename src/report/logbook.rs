//! A logbook for people: what was written down, what is in the tank now, what is to come.

use super::bottles::bottles;
use super::doses::doses;
use super::handling::{findings, handling, put_on, steps, watch, watch_of};
use super::page::{Page, Table, left, right};
use super::text::text;
use super::words::{filled_words, litres, on_meter, range_on_meter, range_text, waiting};
use crate::jobs::{
    AddedRecord, BackRecord, DayRange, ElementNow, ForecastRecord, MissedRecord, NowRecord, Range, RestoreRecord,
    ShowRecord, ValueAt,
};
use crate::logbook::{Amounts, Event};
use crate::quantity::{fixed, ppm_decimals, ppm_text, significant, visible};
use crate::safety::{Finding, Severity};

/// Always last: what an estimate is.
const ONLY_AN_ANALYSIS_KNOWS: &str = "Volume and additions are bookkeeping. What plants took is an estimate by a model of \
                                      uptake that the EC readings scale; only a laboratory analysis knows.";

/// The day and time of RFC 3339 text, to the minute, with its offset.
pub(super) fn minute(at: &str) -> String {
    match (at.get(..10), at.get(11..16), at.get(19..)) {
        (Some(day), Some(time), Some(offset)) => format!("{day} {time} {offset}"),
        _ => at.to_owned(),
    }
}

pub(super) fn day(at: &str) -> &str {
    at.get(..10).unwrap_or(at)
}

fn grams(salts: &Amounts) -> String {
    let each: Vec<String> = salts.iter().map(|(salt, grams)| format!("{salt} {} g", significant(*grams, 3))).collect();
    if each.is_empty() { "water alone".to_owned() } else { each.join(", ") }
}

/// What came from bottles, behind the salts in which it is counted.
fn drawn(bottles_ml: &Amounts) -> String {
    let each: Vec<String> =
        bottles_ml.iter().map(|(id, ml)| format!("{} mL of {}", significant(*ml, 3), visible(id))).collect();
    if each.is_empty() { String::new() } else { format!("; counted in it, from bottles: {}", each.join(", ")) }
}

fn ppm_list(ppm: &Amounts) -> String {
    let each: Vec<String> = ppm.iter().map(|(symbol, ppm)| format!("{symbol} {}", ppm_text(*ppm))).collect();
    each.join(", ")
}

fn hold(days: Option<f64>) -> String {
    days.map_or_else(String::new, |days| format!(", for at most {} days", fixed(days, 0)))
}

/// An event in words.
pub(super) fn words(event: &Event) -> String {
    match event {
        Event::Filled { volume_l, held_back_l, formula, hold_at_most_days, salts_g, bottles_ml, .. } => {
            let formula = formula.as_ref().map_or_else(String::new, |formula| format!(" to {formula}"));
            let held = if *held_back_l > 0.0 { format!(", {} held back", litres(*held_back_l)) } else { String::new() };
            let hold = hold(*hold_at_most_days);
            let drawn = drawn(bottles_ml);
            format!("filled with {}{formula}{held}{hold}: {}{drawn}", litres(*volume_l), grams(salts_g))
        }
        Event::Tank { tank } => format!("logbook of {}", visible(tank)),
        Event::Added { salts_g, bottles_ml, .. } => format!("added {}{}", grams(salts_g), drawn(bottles_ml)),
        Event::ToppedUp { volume_l, level_after_l, ppm } => {
            let to = level_after_l.map_or_else(String::new, |level| format!(" to {}", litres(level)));
            let water = if ppm.is_empty() { "water of which nothing is counted" } else { "the bench's water" };
            format!("topped up with {} of {water}{to}", litres(*volume_l))
        }
        Event::Drained { volume_l } => format!("drained {}", litres(*volume_l)),
        Event::Done { formula, hold_at_most_days, bottles_ml, .. } => {
            let steps: Vec<String> = event.steps().iter().map(words).collect();
            let formula = formula
                .as_ref()
                .map_or_else(String::new, |formula| format!("to {}{}: ", visible(formula), hold(*hold_at_most_days)));
            format!("{formula}{}{}", steps.join("; "), drawn(bottles_ml))
        }
        Event::Reading { ec_ms_cm, ph, temperature_c, level_l } => {
            let each = [
                ec_ms_cm.map(|ec| format!("EC {} mS/cm", fixed(ec, 2))),
                ph.map(|ph| format!("pH {}", fixed(ph, 1))),
                temperature_c.map(|celsius| format!("{} C", fixed(celsius, 1))),
                level_l.map(|level| format!("level {}", litres(level))),
            ];
            format!("read {}", each.into_iter().flatten().collect::<Vec<_>>().join(", "))
        }
        Event::Analysis { ppm } => format!("analysed (ppm): {}", ppm_list(ppm)),
        Event::Note { text } => format!("note: {}", visible(text)),
        Event::Phase { phase, hold_at_most_days } => format!("{} begun{}", visible(phase), hold(*hold_at_most_days)),
        Event::StalksSeen {} => "stalks seen".to_owned(),
        Event::Voided { voids, why } => {
            let why = why.as_ref().map_or_else(String::new, |why| format!(": {}", visible(why)));
            format!("entry {voids} is void{why}")
        }
        Event::Recovered { lines } => {
            let lines: Vec<String> = lines.iter().map(ToString::to_string).collect();
            format!("gave up what cannot be read of line {}", lines.join(", "))
        }
    }
}

/// What was written down, in a line or two.
#[must_use]
pub fn logbook_added(record: &AddedRecord) -> String {
    let mut page = Page::new("", "");
    if !record.recovered_lines.is_empty() {
        let lines: Vec<String> = record.recovered_lines.iter().map(ToString::to_string).collect();
        let words = format!("Line {} was torn; an entry now says so, and the line stays.", lines.join(", "));
        page.say_after("", words);
    }
    let added = &record.added;
    page.say_after("", format!("Entry {}, {}: {}.", added.entry, minute(&added.at), words(&added.what)));
    if let Some(was) = &record.voided {
        page.say_after("", format!("It was entry {}, {}: {}.", was.entry, minute(&was.at), words(&was.what)));
    }
    let bottles: Vec<String> = record.bottles_not_on_bench.iter().map(|id| visible(id)).collect();
    if !bottles.is_empty() {
        let (which, are, them) =
            if bottles.len() == 1 { ("this bottle", "is", "it") } else { ("these bottles", "are", "them") };
        page.say_after(
            "",
            format!(
                "Not in the bench file {are} {which}: {}. Put there the lines that the report told to make {them} with, and later reports pour from {them} and tell what is left; else they tell to make {them} again.",
                bottles.join(", ")
            ),
        );
    }
    text(&page, false)
}

/// Every entry, void ones marked.
#[must_use]
pub fn logbook_show(record: &ShowRecord, colour: bool) -> String {
    text(&logbook_show_page(record), colour)
}

pub(super) fn logbook_show_page(record: &ShowRecord) -> Page {
    let count = record.entries.len();
    let mut page = Page::new("Logbook", &if count == 1 { "1 entry".to_owned() } else { format!("{count} entries") });
    for entry in &record.entries {
        let first = format!("{:>4}  {}  ", entry.entry, minute(&entry.at));
        let void = entry.voided_by.map_or_else(String::new, |by| format!("(void, by entry {by}) "));
        page.say_after(&first, format!("{void}{}", words(&entry.what)));
    }
    for torn in &record.torn {
        page.say_after("   ?  ", format!("line {} is torn and does not count", torn.line));
    }
    page
}

fn back_text(back: &BackRecord) -> String {
    if back.days_left < 0.0 {
        format!("back to growth was due on {}, {} days ago", back.date, fixed(-back.days_left, 0))
    } else {
        format!("back to growth by {}, {} days from now", back.date, fixed(back.days_left, 0))
    }
}

/// What is in the tank now.
#[must_use]
pub fn logbook_now(record: &NowRecord, colour: bool) -> String {
    text(&logbook_now_page(record), colour)
}

pub(super) fn logbook_now_page(record: &NowRecord) -> Page {
    let mut page = Page::new("Tank", &minute(&record.at));
    match (&record.filled, record.level_l) {
        (Some(filled), Some(level)) => {
            let formula = record.formula.as_ref().map_or_else(String::new, |formula| format!(" to {formula}"));
            let held = if record.held_back_l > 0.0 {
                format!(", and {} held back in medium and pipes", litres(record.held_back_l))
            } else {
                String::new()
            };
            page.say(format!("{} L in it{held}; filled{formula} {}", fixed(level, 1), minute(filled)));
        }
        _ => {
            page.line("no entry fills it");
        }
    }
    if let Some(lost) = record.litres_per_day {
        page.line(format!("about {} L of water a day lost to leaves and air", fixed(lost, 1)));
    }
    if let Some(phase) = &record.phase {
        let since = record.phase_since.as_deref().map_or("", day);
        let back = record.back.as_ref().map_or_else(String::new, |back| format!("; {}", back_text(back)));
        page.say(format!("{} since {since}{back}", visible(phase)));
    }
    if let Some(seen) = &record.stalks_seen {
        page.line(format!("stalks seen {}", day(seen)));
    }
    contents(&mut page, record);
    meters(&mut page, record);
    watch(&mut page, &record.findings);
    page.gap();
    page.say_after("", ONLY_AN_ANALYSIS_KNOWS);
    page
}

fn contents(page: &mut Page, record: &NowRecord) {
    if record.elements.is_empty() {
        return;
    }
    page.section("In it", "ppm");
    let mut table =
        Table::new([left(""), right("likely"), right("least"), right("most"), right("went in"), left("known by")]);
    for element in &record.elements {
        let ElementNow { element, ppm, low_ppm, high_ppm, booked_ppm, basis } = element;
        let places = ppm_decimals(*ppm);
        table.row([
            element.clone(),
            fixed(*ppm, places),
            low_ppm.map_or_else(|| "?".to_owned(), |low| fixed(low, places)),
            fixed(*high_ppm, places),
            fixed(*booked_ppm, places),
            basis.clone(),
        ]);
    }
    page.table(table);
    if record.carried_on_days >= 0.05 {
        let days = fixed(record.carried_on_days, 1);
        page.say(format!("carried on over the {days} days since the last EC reading or analysis at the mean pace"));
    }
}

fn meters(page: &mut Page, record: &NowRecord) {
    let nothing = record.ec_read_ms_cm.is_none() && record.ph_read.is_none() && record.temperature_read_c.is_none();
    if record.ec_ms_cm.is_none() && nothing {
        return;
    }
    page.section("Meter", "");
    if let Some(ec) = &record.ec_ms_cm {
        let shows = range_on_meter(ec, record.meter_scale);
        page.line(format!("EC should read {} mS/cm at 25 C{shows}", range_text(ec, 2)));
    }
    let read = |read: &Option<ValueAt>, what: &str, decimals: usize, unit: &str| {
        read.as_ref().map(|read| format!("{what} read {}{unit}, {}", fixed(read.value, decimals), minute(&read.at)))
    };
    let shown = record.ec_read_ms_cm.as_ref().map_or_else(String::new, |read| on_meter(read.value, record.meter_scale));
    let lines = [
        read(&record.ec_read_ms_cm, "EC", 2, &format!(" mS/cm{shown}")),
        read(&record.ph_read, "pH", 1, ""),
        read(&record.temperature_read_c, "temperature", 1, " C"),
    ];
    for line in lines.into_iter().flatten() {
        page.line(line);
    }
    if let Some(alkalinity) = record.alkalinity_meq_l {
        page.line(format!("by that pH its alkalinity is {} meq/L in air", fixed(alkalinity, 2)));
    }
    if (record.meter_factor - 1.0).abs() > 5e-4 {
        let by = record.meter_by.as_deref().unwrap_or("filling");
        let percent = fixed(100.0 * (record.meter_factor - 1.0).abs(), 1);
        let over = if record.meter_factor > 1.0 { "more" } else { "less" };
        page.say(format!("right after the {by} the meter showed {percent} % {over} than predicted; that is allowed for"));
    }
}

fn dates(page: &mut Page, what: &str, range: &DayRange, record: &ForecastRecord) {
    let date = |date: &Option<String>| match date {
        Some(date) if date == day(&record.at) => format!("{date}, today or before"),
        Some(date) => date.clone(),
        None => format!("not within {} days", record.days),
    };
    page.line(what);
    page.line(format!("   earliest  {}", date(&range.earliest)));
    page.line(format!("   likely    {}", date(&range.likely)));
    page.line(format!("   latest    {}", date(&range.latest)));
}

/// What is to come.
#[must_use]
pub fn logbook_forecast(record: &ForecastRecord, colour: bool) -> String {
    text(&logbook_forecast_page(record), colour)
}

pub(super) fn logbook_forecast_page(record: &ForecastRecord) -> Page {
    let formula = record.formula.as_ref().map_or_else(String::new, |formula| format!(", held against {formula}"));
    let mut page = Page::new("Forecast", &format!("from {}{formula}", minute(&record.at)));
    // what stops it stands over what is weighed
    let (stops, watched): (Vec<Finding>, Vec<Finding>) =
        record.findings.iter().cloned().partition(|one| one.severity == Severity::Stop);
    if !stops.is_empty() {
        findings(&mut page, &stops);
    }
    if let Some(back) = &record.back {
        page.line(back_text(back));
    }
    if let (Some(floor), Some(from)) = (record.floor_ppm, &record.floor_from) {
        let from = if from == "stated" { "as stated" } else { "half of the formula's target, own choice" };
        let what = format!("N falls under {} ppm ({from})", ppm_text(floor));
        match &record.nitrogen_under_floor {
            Some(range) => dates(&mut page, &what, range, record),
            None => {
                page.say(format!("when {what} is not known: no readings tell the uptake"));
            }
        }
    }
    if let Some(range) = &record.ec_outside {
        let limit = |value: Option<f64>, word: &str| value.map(|ec| format!("{word} {}", fixed(ec, 2)));
        let limits = [limit(record.ec_min_ms_cm, "under"), limit(record.ec_max_ms_cm, "over")];
        let limits: Vec<String> = limits.into_iter().flatten().collect();
        dates(&mut page, &format!("EC goes {} mS/cm", limits.join(" or ")), range, record);
    }
    if !record.course.is_empty() {
        page.section("Course", "if it goes on like this and lost water is made up day by day");
        let mut table = Table::new([left(""), right("N ppm"), right("EC mS/cm")]);
        for day in &record.course {
            let shown = |ec: &Range| range_text(ec, 2) + &on_meter(ec.likely, record.meter_scale);
            let ec = day.ec_ms_cm.as_ref().map_or_else(|| "?".to_owned(), shown);
            table.row([day.date.clone(), range_text(&day.nitrogen_ppm, 1), ec]);
        }
        page.table(table);
    }
    restoring(&mut page, record.restore.as_ref(), record.no_restore.as_deref(), record.formula.as_deref());
    watch_of(&mut page, &watched, "of the tank as it stands, before anything is added");
    if let Some(restore) = record.restore.as_ref().filter(|restore| !restore.doses.is_empty()) {
        steps(&mut page, &restore.order);
        handling(&mut page, &|_| None, &restore.mind.handling, &restore.mind.cautions, &[]);
    }
    page.gap();
    page.say_after("", ONLY_AN_ANALYSIS_KNOWS);
    page
}

fn restoring(page: &mut Page, restore: Option<&RestoreRecord>, why_not: Option<&str>, formula: Option<&str>) {
    let Some(record) = restore else {
        page.section("Add now", "");
        page.say(format!("nothing can be said: {}", why_not.unwrap_or_default()));
        return;
    };
    let aside =
        format!("to bring {} L back to {}, by the likely figures", fixed(record.volume_l, 1), formula.unwrap_or_default());
    page.section("Add now", &aside);
    if !record.doses.is_empty() {
        put_on(page, &record.mind.cautions);
    }
    if !record.mind.stops.is_empty() {
        findings(page, &record.mind.stops);
    }
    if record.water_l > 0.0 {
        let what = if record.doses.is_empty() { "nothing else" } else { "the weights here" };
        let water = filled_words(&record.waters, record.pure_water);
        page.line(format!("{} L of {water}, and {what}", fixed(record.water_l, 1)));
    } else if record.doses.is_empty() {
        page.line("nothing");
    }
    if record.ph_first {
        page.say("The pH that was read asks to be corrected first: `today` says how, and weighs for both.");
    }
    if !record.doses.is_empty() {
        doses(page, &record.doses);
    }
    let each = |of: &dyn Fn(&&MissedRecord) -> bool| {
        let text =
            |one: &MissedRecord| format!("{} {} against {}", one.element, ppm_text(one.ppm), ppm_text(one.target_ppm));
        record.missed.iter().filter(of).map(text).collect::<Vec<_>>().join(", ")
    };
    let over = |one: &MissedRecord| one.ppm > one.target_ppm;
    // what is told below is of the tank that this makes, and not of the one that stands
    let is_left = record.doses.is_empty() && record.water_l <= 0.0;
    let when = if is_left { "over as it stands" } else { "over once that is in" };
    for one in record.missed.iter().filter(|one| over(one)) {
        if let Some(day) = &one.taken_by {
            let amounts = format!("{} {} against {} ppm", one.element, ppm_text(one.ppm), ppm_text(one.target_ppm));
            page.say(format!("{when}, {amounts}: plants take it down by {day} at the likely pace"));
        }
    }
    let stays = each(&|one| over(one) && one.taken_by.is_none());
    if !stays.is_empty() {
        page.say(format!("stays over, since only draining takes out (ppm): {stays}"));
    }
    let short = each(&|one| !over(one));
    if !short.is_empty() {
        page.say(format!("stays short: nothing on the shelf brings it without taking something else over, or too little to weigh (ppm): {short}"));
    }
    if let Some(line) = waiting(&record.waits) {
        page.say(line);
    }
    bottles(page, &record.helpers, &record.waters);
}
