//! A bench file to its mixes.
#![no_main]

use bloomsalt_fuzz::count::{Count, End};
use bloomsalt_fuzz::draw::Draw;
use bloomsalt_fuzz::{bench, laws};
use serde_json::json;

static COUNT: Count = Count::new();

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let draw = &mut Draw::new(bytes);
    let sentence = bench::sentence(draw);
    let formula = draw.one(&sentence.formulas);
    let text = draw.slipped(sentence.text);
    let (read, _) = laws::asked(&laws::request(&json!({ "job": "bench-read", "bench": text })));
    let mix = json!({ "job": "mix", "formula": formula, "bench": text, "also": ["recipe"] });
    let (end, mix) = laws::asked(&laws::request(&mix));
    if let Some(mix) = mix {
        assert_eq!(read, End::Answered, "a bench that is mixed from can be read: {text}");
        laws::recipe_agrees(&text, &mix);
    }
    COUNT.note(end);
});
