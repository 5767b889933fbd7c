//! The text of a logbook: shown, asked what it says now, merged, written on.
#![no_main]

use bloomsalt_fuzz::count::{Count, End};
use bloomsalt_fuzz::draw::Draw;
use bloomsalt_fuzz::{laws, logbook};
use serde_json::json;

static COUNT: Count = Count::new();

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let draw = &mut Draw::new(bytes);
    let (text, now) = logbook::sentence(draw);
    let text = draw.slipped(text);
    let (end, shown) = laws::asked(&laws::request(&json!({ "job": "logbook-show", "logbook": text })));
    for job in ["logbook-now", "logbook-forecast", "top-up"] {
        laws::asked(&laws::request(&json!({ "job": job, "logbook": text, "now": now })));
    }
    // the same logbook with fewer lines, as it stands on another machine
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let other =
        lines[..draw.below(lines.len() + 1)].concat() + &lines[lines.len() - draw.below(2).min(lines.len())..].concat();
    laws::asked(&laws::request(&json!({ "job": "logbook-merge", "logbook": text, "other": other })));
    let add = json!({ "job": "logbook-add", "logbook": text, "now": now, "entry": logbook::entry(draw), "confirmed": true });
    if let (_, Some(added)) = laws::asked(&laws::request(&add)) {
        // what was written is read again, and is one entry more; a line that was cut off is given up by another
        let whole = format!("{text}{}", added["append"].as_str().expect("a text"));
        let (again, longer) = laws::asked(&laws::request(&json!({ "job": "logbook-show", "logbook": whole })));
        assert_eq!(again, End::Answered, "{whole}");
        let count = |shown: &serde_json::Value| shown["entries"].as_array().map_or(0, Vec::len);
        let more = longer.as_ref().map_or(0, count) - shown.as_ref().map_or(0, count);
        let torn = shown.as_ref().is_some_and(|shown| shown["torn"].as_array().is_some_and(|torn| !torn.is_empty()));
        assert_eq!(more, 1 + usize::from(torn), "{whole}");
    }
    COUNT.note(end);
});
