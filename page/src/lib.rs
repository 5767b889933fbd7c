//! The library as a WebAssembly module: a request goes in as text, and its document, report, sheet, calendar and table come out.
//!
//! The module imports nothing and exports a few functions on plain numbers, so that no tool stands between the compiler and the
//! browser. A page writes the text of a request to where [`room`] says, calls [`answer`], and reads each part from
//! [`part_at`] for [`part_length`] bytes.

use std::cell::RefCell;

use bloomsalt::ask::{Answer, Refusal, Request, ask};
use bloomsalt::bench::STARTER;
use bloomsalt::quantity::{Date, Stamp};
use bloomsalt::report::{Form, calendar, csv, line, render};

/// Text as a report for people, as bit of the `forms` of [`answer`].
const TEXT: u32 = 1;
/// A page to print, which needs an answer with figures.
const SHEET: u32 = 2;
/// The plan as a calendar and as a table.
const PLAN: u32 = 4;

/// What goes in and what comes out.
#[derive(Default)]
struct Desk {
    asked: Vec<u8>,
    parts: Vec<String>,
}

thread_local! {
    static DESK: RefCell<Desk> = RefCell::default();
}

/// Makes room for the text of a request, and says where.
#[allow(unsafe_code, reason = "the name is what the page calls")]
#[unsafe(no_mangle)]
pub extern "C" fn room(length: usize) -> *const u8 {
    DESK.with_borrow_mut(|desk| {
        desk.asked.clear();
        desk.asked.resize(length, 0);
        desk.asked.as_ptr()
    })
}

/// Answers the request in the room. Five parts come out, empty where there is no such form: the document or the refusal, as
/// `bloomsalt batch` writes it, the report, the sheet, the calendar and the table. `day` is that of the calendar file's stamp, as
/// 20270104. True when it was answered, else refused.
#[allow(unsafe_code, reason = "the name is what the page calls")]
#[unsafe(no_mangle)]
pub extern "C" fn answer(forms: u32, day: u32) -> bool {
    let asked = DESK.with_borrow_mut(|desk| std::mem::take(&mut desk.asked));
    let request = String::from_utf8(asked).unwrap_or_default();
    let answered = Request::parse(&request).and_then(|request| ask(&request));
    let parts = match &answered {
        Ok(answer) => in_forms(answer, forms, day),
        Err(refusal) => refused(refusal),
    };
    DESK.with_borrow_mut(|desk| desk.parts = parts);
    answered.is_ok()
}

/// Puts the text of the starter bench out as the only part.
#[allow(unsafe_code, reason = "the name is what the page calls")]
#[unsafe(no_mangle)]
pub extern "C" fn starter() {
    DESK.with_borrow_mut(|desk| desk.parts = vec![STARTER.to_owned()]);
}

/// Where a part of the last answer stands.
#[allow(unsafe_code, reason = "the name is what the page calls")]
#[unsafe(no_mangle)]
pub extern "C" fn part_at(number: usize) -> *const u8 {
    DESK.with_borrow(|desk| desk.parts.get(number).map_or(std::ptr::null(), |part| part.as_ptr()))
}

/// How many bytes of UTF-8 it has.
#[allow(unsafe_code, reason = "the name is what the page calls")]
#[unsafe(no_mangle)]
pub extern "C" fn part_length(number: usize) -> usize {
    DESK.with_borrow(|desk| desk.parts.get(number).map_or(0, String::len))
}

fn refused(refusal: &Refusal) -> Vec<String> {
    vec![line(refusal)]
}

fn in_forms(answer: &Answer, forms: u32, day: u32) -> Vec<String> {
    let wanted = |form: u32| forms & form != 0;
    let text = wanted(TEXT).then(|| render(answer, Form::Text { colour: false, plot: false })).flatten().unwrap_or_default();
    let sheet = wanted(SHEET).then(|| render(answer, Form::Sheet)).flatten().unwrap_or_default();
    let (ics, table) = match answer {
        Answer::Cycle(of) if wanted(PLAN) => {
            (stamped(day).map_or(String::new(), |stamp| calendar(&of.record, stamp)), csv(&of.record))
        }
        _ => <_>::default(),
    };
    vec![line(answer), text, sheet, ics, table]
}

fn stamped(day: u32) -> Option<Stamp> {
    let day = Date::parse(&format!("{:04}-{:02}-{:02}", day / 10_000, day / 100 % 100, day % 100)).ok()?;
    Some(Stamp::midnight(day))
}
