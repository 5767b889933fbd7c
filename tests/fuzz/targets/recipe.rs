//! A saved recipe, read by every job that reads one.
#![no_main]

use bloomsalt_fuzz::count::{Count, End};
use bloomsalt_fuzz::draw::Draw;
use bloomsalt_fuzz::{bench, laws, recipe};
use serde_json::json;

static COUNT: Count = Count::new();

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let draw = &mut Draw::new(bytes);
    let text = recipe::sentence(draw);
    let text = draw.slipped(text);
    let to = bench::volume(draw);
    let formula = draw.one(&bench::FORMULAS);
    let jobs = [
        json!({ "job": "scale", "recipe": text, "to": to, "also": ["recipe"] }),
        json!({ "job": "check", "recipe": text, "against": formula }),
        json!({ "job": "logbook-add", "logbook": "", "now": "2026-10-03 18:30+02:00", "confirmed": true,
            "entry": { "event": "from", "recipe": text } }),
    ];
    let ends = jobs.map(|job| laws::asked(&laws::request(&job)).0);
    if draw.once_in(4) {
        laws::asked(&laws::request(&json!({ "job": "switch", "recipe": text, "formula": formula })));
    }
    COUNT.note(if ends.contains(&End::Answered) { End::Answered } else { ends[0] });
});
