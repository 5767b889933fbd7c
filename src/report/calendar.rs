//! A cycle as an iCalendar file (RFC 5545): all-day events that ordinary calendar programs import.

use super::crossing::{kind, work};
use super::cycle::{OWN_FIGURES, made_for};
use super::renewal::why_and_from;
use super::words::{
    comes_in_a_bottle, dose_name, ec_words, ingredient_amount, ingredient_name, litres, measured, millilitres, tank_name,
};
use crate::jobs::{CrossingStep, CycleMix, CycleRecord, GroupDates, TankPlan, Window};
use crate::quantity::{Stamp, WholeDays, unseen};

/// The longest line in octets, its line end apart (RFC 5545, 3.1).
const LINE_OCTETS: usize = 75;

/// An all-day event.
struct Event {
    /// What tells it from every other event of this cycle, the same on every run.
    key: String,
    days: Window,
    summary: String,
    description: String,
}

/// The cycle as a calendar file.
///
/// * `stamp`: the moment of writing, UTC; the file is the same to the byte for the same record and stamp
///
/// Returns UTF-8 text with lines of at most 75 octets that end in CR LF. Each event lasts whole days, its end is the day
/// after the last, and its UID stays the same for the same bench name, start and place in the plan, so that a file
/// imported again takes the place of the one before.
///
/// # Reference
/// RFC 5545: 3.1 (lines), 3.3.11 (text), 3.6.1 (events).
#[must_use]
pub fn calendar(record: &CycleRecord, stamp: Stamp) -> String {
    let mut text = String::new();
    for property in ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//bloomsalt//cycle//EN", "CALSCALE:GREGORIAN"] {
        push_folded(&mut text, property);
    }
    let (start, bench) = (record.start.compact(), fingerprint(&record.bench));
    for event in events(record) {
        let description = format!("{}\n{OWN_FIGURES} ({})", event.description, record.bench);
        for property in [
            "BEGIN:VEVENT".to_owned(),
            format!("UID:{start}.{}.{bench:016x}@bloomsalt", event.key),
            format!("DTSTAMP:{}", stamp.compact()),
            format!("DTSTART;VALUE=DATE:{}", event.days.from.compact()),
            format!("DTEND;VALUE=DATE:{}", event.days.to.plus(1).compact()),
            format!("SUMMARY:{}", escaped(&event.summary)),
            format!("DESCRIPTION:{}", escaped(description.trim_start())),
            "TRANSP:TRANSPARENT".to_owned(),
            "END:VEVENT".to_owned(),
        ] {
            push_folded(&mut text, &property);
        }
    }
    push_folded(&mut text, "END:VCALENDAR");
    text
}

fn events(record: &CycleRecord) -> Vec<Event> {
    let mut events = Vec::new();
    of_bottles(record, &mut events);
    for tank in &record.tanks {
        of_tank(record, tank, &mut events);
    }
    for group in &record.groups {
        of_group(group, &mut events);
    }
    events.extend(record.crossing.iter().map(of_step));
    events
}

fn of_bottles(record: &CycleRecord, events: &mut Vec<Event>) {
    for (at, bottle) in record.bottles.iter().enumerate() {
        let volume = millilitres(bottle.volume_ml);
        let lines: Vec<String> =
            bottle.made_of.iter().map(|of| format!("{} {}", ingredient_amount(of), ingredient_name(of))).collect();
        let description = format!("for {}\n{}\nmade up to {volume}", made_for(record, bottle), lines.join("\n"));
        let days = bottle.made_on.iter().filter_map(|day| Window::new(*day, *day)).enumerate();
        events.extend(days.map(|(time, days)| Event {
            key: format!("_bottle.{at}.{time}"),
            days,
            summary: format!("make {volume} of bottle {}", bottle.id),
            description: description.clone(),
        }));
    }
}

fn of_tank(record: &CycleRecord, tank: &TankPlan, events: &mut Vec<Event>) {
    let (name, key) = (tank_name(tank), tank.group.as_deref().unwrap_or("_bench"));
    for phase in &tank.phases {
        events.push(Event {
            key: format!("{key}.phase.{}", phase.phase),
            days: phase.days,
            summary: format!("{}: {name}", phase.phase),
            description: format!("feeds {}, {}", phase.formula, WholeDays(phase.days.days)),
        });
    }
    for (at, hold) in tank.holds.iter().enumerate() {
        events.extend(Window::new(hold.back_by, hold.back_by).map(|days| Event {
            key: format!("{key}.back.{at}"),
            days,
            summary: format!("back to growth by today: {name}"),
            description: format!(
                "{} from {}, at most {}",
                hold.formula,
                hold.days.from.long(),
                WholeDays(hold.hold_at_most_days)
            ),
        }));
    }
    for (at, fill) in tank.fills.iter().enumerate() {
        let doses = record.mixes.get(fill.mix).map_or_else(String::new, doses);
        events.extend(Window::new(fill.date, fill.date).map(|days| Event {
            key: format!("{key}.mix.{at}"),
            days,
            summary: format!("mix {} of {}: {name}", litres(tank.volume_l), fill.formula),
            description: format!("{}, for {}\n{doses}", why_and_from(fill), WholeDays(fill.days)),
        }));
    }
}

/// What goes in, a line for each, and what the meter should read.
fn doses(mix: &CycleMix) -> String {
    let mut lines: Vec<String> = mix
        .doses
        .iter()
        .map(|dose| {
            let (amount, _) = measured(dose);
            if comes_in_a_bottle(dose) {
                return format!("- in it {}", dose.name);
            }
            let left_out = if dose.is_measured() { "" } else { ", too little to measure" };
            format!("{amount} {}{left_out}", dose_name(dose))
        })
        .collect();
    lines.push(ec_words(mix.ec_ms_cm, mix.ec_plus_minus_ms_cm, mix.meter_scale));
    lines.join("\n")
}

fn of_group(group: &GroupDates, events: &mut Vec<Event>) {
    let dry = group.dry_pollen_to.and_then(|to| Window::new(group.pollen.to.plus(1), to));
    let days = [
        ("flowers", Some(group.opens), "flowers open"),
        ("pollen", Some(group.pollen), "fresh pollen"),
        ("dry", dry, "dry pollen good"),
        ("stigma", Some(group.stigma), "stigmas receptive"),
    ];
    for (key, days, words) in days {
        events.extend(days.map(|days| Event {
            key: format!("{}.{key}", group.id),
            days,
            summary: format!("{words}: {}", group.name),
            description: format!("{}, push from {}", WholeDays(days.days), group.push_from.long()),
        }));
    }
}

fn of_step(step: &CrossingStep) -> Event {
    let [pollen, stigma] = [&step.pollen_of, &step.stigma_of].map(|id| id.as_deref().unwrap_or("_"));
    Event {
        key: format!("{pollen}.on.{stigma}.{}", kind(step.work).replace(' ', "-")),
        days: step.days,
        summary: work(step),
        description: WholeDays(step.days.days).to_string(),
    }
}

/// FNV-1a, 64 bit: tells the events of one bench from those of another.
fn fingerprint(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3))
}

/// A text value: marks of the format behind a backslash, line ends as `\n`, nothing else that is not seen.
fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '\\' | ';' | ',' => escaped.extend(['\\', character]),
            '\n' => escaped.push_str("\\n"),
            hidden if unseen(hidden.encode_utf8(&mut [0; 4])).is_some() => {}
            other => escaped.push(other),
        }
    }
    escaped
}

/// Adds a property, folded between characters: a line that goes on begins with a space.
fn push_folded(text: &mut String, property: &str) {
    let mut octets = 0;
    for character in property.chars() {
        if octets + character.len_utf8() > LINE_OCTETS {
            text.push_str("\r\n ");
            octets = 1;
        }
        text.push(character);
        octets += character.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_values_are_escaped() {
        assert_eq!(escaped("a, b; c\\d\ne\r\u{7}"), "a\\, b\\; c\\\\d\\ne");
    }

    #[test]
    fn long_lines_fold_between_characters_and_unfold_again() {
        for property in
            ["x".repeat(75), "x".repeat(76), "x".repeat(149), "x".repeat(150), format!("x{}", "\u{1f33a}".repeat(60))]
        {
            let mut text = String::new();
            push_folded(&mut text, &property);
            let lines: Vec<&str> = text.strip_suffix("\r\n").unwrap().split("\r\n").collect();
            assert!(lines.iter().all(|line| line.len() <= 75 && !line.is_empty()), "{text}");
            assert_eq!(text.replace("\r\n ", "").trim_end(), property);
            assert_eq!(lines.len() > 1, property.len() > 75);
        }
    }

    /// The test vectors of the authors of FNV, read in their published list from memory.
    #[test]
    fn fingerprints_are_fnv_1a() {
        assert_eq!(fingerprint(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fingerprint("a"), 0xaf63_dc4c_8601_ec8c);
    }
}
