//! A line of JSON through `ask`, and some of them together through `batch`.
#![no_main]

use bloomsalt::ask::{Request, ask};
use bloomsalt::report::line;
use bloomsalt_fuzz::count::Count;
use bloomsalt_fuzz::draw::Draw;
use bloomsalt_fuzz::{laws, request};

static COUNT: Count = Count::new();

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let draw = &mut Draw::new(bytes);
    let text = request::sentence(draw).to_string();
    let text = draw.slipped(text).replace('\n', " ");
    let end = match Request::parse(&text) {
        Ok(request) => laws::asked(&request).0,
        Err(refusal) => laws::refused(&refusal, &text),
    };
    // what is empty is no line at the end
    if draw.once_in(16) && !text.is_empty() {
        let alone = match Request::parse(&text).and_then(|request| ask(&request)) {
            Ok(answer) => line(&answer),
            Err(refusal) => line(&refusal),
        };
        let mut out = Vec::new();
        bloomsalt::cli::batch(&mut format!("{text}\n{{}}\n{text}").as_bytes(), &mut out).expect("written");
        let out = String::from_utf8(out).expect("UTF-8");
        let lines: Vec<&str> = out.split_inclusive('\n').collect();
        assert!(lines.len() == 3 && lines[0] == alone && lines[2] == alone, "{text}");
    }
    COUNT.note(end);
});
