//! Logbooks.

use bloomsalt::logbook::{Entry, Event, Moment, line};
use serde_json::{Map, Value, json};

use crate::bench::{ASKED, FORMULAS};
use crate::draw::Draw;

fn ppm(draw: &mut Draw, times: f64) -> Value {
    let mut all = Map::new();
    for (element, usual) in ASKED {
        if !draw.once_in(4) && element != "NH4-N" {
            all.insert(element.to_owned(), json!(draw.size(usual * times * 0.2, usual * times * 2.0)));
        }
    }
    if all.is_empty() { json!({ "K": 100.0 * times }) } else { Value::Object(all) }
}

fn maybe(draw: &mut Draw, key: &str, low: f64, high: f64) -> Option<(String, Value)> {
    (!draw.once_in(3)).then(|| (key.to_owned(), json!(draw.size(low, high))))
}

/// What happened, as the key of a line say it.
fn happened(draw: &mut Draw, number: u64) -> Value {
    let tank = if draw.once_in(12) { draw.size(0.1, 1e5) } else { 60.0 };
    let part = if draw.once_in(12) { draw.size(0.001, 1e5) } else { draw.size(0.1, 30.0) };
    let salts = json!({ "potassium-nitrate": draw.size(0.1, 100.0), "boric-acid": draw.size(0.001, 1.0) });
    match if number == 1 { 0 } else { draw.below(14) } {
        0 | 11 => {
            json!({ "event": "filled", "volume_l": tank, "held_back_l": draw.one(&[0.0, 4.0, 30.0]), "formula": draw.one(&FORMULAS),
            "salts_g": salts, "ppm": ppm(draw, 1.0) })
        }
        1..=3 => {
            let most = if draw.once_in(8) { 50.0 } else { 2.0 };
            let mut reading = json!({ "event": "reading", "ec_ms_cm": draw.size(0.3, most) });
            let more = [("ph", 4.0, 9.0), ("temperature_c", 5.0, 35.0), ("level_l", 20.0, 70.0)];
            for (key, value) in
                more.into_iter().filter_map(|(key, low, high)| maybe(draw, key, low, high)).collect::<Vec<_>>()
            {
                reading[key] = value;
            }
            reading
        }
        4 => {
            json!({ "event": "topped-up", "volume_l": part, "level_after_l": part + draw.size(0.1, 60.0), "ppm": ppm(draw, 0.1) })
        }
        5 => json!({ "event": "topped-up", "volume_l": part, "ppm": {} }),
        6 => json!({ "event": "drained", "volume_l": part }),
        7 => json!({ "event": "added", "salts_g": salts, "mg": ppm(draw, 10.0) }),
        8 => {
            json!({ "event": "done", "formula": draw.one(&FORMULAS), "level_before_l": draw.size(20.0, 60.0), "drained_l": part,
            "filled_l": part, "water_ppm": ppm(draw, 0.1), "salts_g": salts, "mg": ppm(draw, 10.0) })
        }
        9 => json!({ "event": "analysis", "ppm": ppm(draw, 1.0) }),
        10 => json!({ "event": "phase", "phase": draw.one(&FORMULAS), "hold_at_most_days": 1 + draw.below(40) }),
        12 => json!({ "event": "voided", "voids": 1 + draw.below(usize::try_from(number).unwrap_or(1)) }),
        _ if draw.once_in(2) => json!({ "event": "stalks-seen" }),
        _ => json!({ "event": "note", "text": "first stalk" }),
    }
}

/// A moment so many minutes after the first of September.
fn moment(minutes: usize) -> String {
    let days = minutes / 1440;
    format!("2026-{:02}-{:02}T{:02}:{:02}:00+02:00", 1 + days / 28 % 12, 1 + days % 28, minutes / 60 % 24, minutes % 60)
}

/// The text of a right logbook, and a moment to ask it at.
pub fn sentence(draw: &mut Draw) -> (String, String) {
    let (mut text, mut at) = (String::new(), 600);
    for number in 1..=1 + draw.below(16) as u64 {
        at += draw.one(&[1440, 60, 0, 10_000]) + draw.below(4) * 100;
        // the odd entry is written down later than it happened
        let when = if draw.once_in(10) { at.saturating_sub(draw.below(3000)) } else { at };
        let event = happened(draw, number);
        if draw.once_in(4) {
            // as one that was mended by hand, which has no check
            let mut whole = json!({ "entry": number, "version": 1, "at": moment(when) });
            event.as_object().into_iter().flatten().for_each(|(key, value)| whole[key] = value.clone());
            text.push_str(&format!("{whole}\n"));
        } else {
            let event: Event = serde_json::from_value(event).expect("an event");
            text.push_str(&line(&Entry { number, at: Moment::parse(&moment(when)).expect("a moment"), event }));
        }
    }
    let now = moment(at + draw.one(&[60, 1440, 0, 20_000]));
    (text, now)
}

/// Something to enter.
pub fn entry(draw: &mut Draw) -> Value {
    match draw.below(9) {
        0 | 1 => {
            json!({ "event": "reading", "ec": format!("{} mS/cm", draw.size(0.01, 50.0)), "ph": "5.9", "level": "52 L" })
        }
        2 => json!({ "event": "topped-up", "volume": format!("{} L", draw.size(0.001, 1e5)) }),
        3 => {
            json!({ "event": "filled", "added": ["potassium-nitrate=14.1g", "urea=2 g"], "volume": crate::bench::volume(draw) })
        }
        4 => json!({ "event": "added", "added": [format!("potassium-nitrate={} g", draw.size(1e-6, 1e6))] }),
        5 => json!({ "event": "drained", "volume": format!("{} mL", draw.size(1.0, 1e6)) }),
        6 => json!({ "event": "from", "recipe": crate::recipe::sentence(draw) }),
        7 => json!({ "event": "analysis", "found": ["N=88", format!("Ca={}", draw.size(0.01, 5000.0))] }),
        _ => json!({ "event": "void", "entry": 1 + draw.below(6) }),
    }
}
