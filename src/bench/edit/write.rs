//! Values, keys, lines and sections as they are written into the text.

use std::fmt::Write as _;
use std::ops::Range;

use serde_json::{Map, Value};
use toml::value::Datetime;

use super::EditError;
use crate::bench::written::mark;

/// A value as TOML writes it on one line; nothing for one that it cannot hold.
pub(super) fn inline(value: &Value) -> Option<String> {
    Some(match value {
        Value::Null => return None,
        Value::Bool(yes) => yes.to_string(),
        Value::Number(number) => match (number.as_i64(), number.is_u64()) {
            (Some(whole), _) => whole.to_string(),
            (None, true) => return None,
            (None, false) => toml::Value::Float(number.as_f64()?).to_string(),
        },
        Value::String(day) if is_day(day) => day.clone(),
        Value::String(text) => quoted(text),
        Value::Array(list) => format!("[{}]", list.iter().map(inline).collect::<Option<Vec<_>>>()?.join(", ")),
        Value::Object(keys) if keys.is_empty() => "{}".to_owned(),
        Value::Object(keys) => {
            let each = keys.iter().map(|(key, value)| Some(format!("{} = {}", bare(key), inline(value)?)));
            format!("{{ {} }}", each.collect::<Option<Vec<_>>>()?.join(", "))
        }
    })
}

/// A text in quotes, on one line.
pub(super) fn quoted(text: &str) -> String {
    // what JSON escapes TOML reads, and the one character more that TOML wants escaped
    Value::from(text).to_string().replace('\u{7f}', "\\u007F")
}

/// A key, in quotes where it needs them.
pub(super) fn bare(key: &str) -> String {
    let plain = |letter: u8| letter.is_ascii_alphanumeric() || letter == b'_' || letter == b'-';
    if !key.is_empty() && key.bytes().all(plain) { key.to_owned() } else { quoted(key) }
}

fn is_day(text: &str) -> bool {
    text.len() == 10 && text.parse::<Datetime>().is_ok_and(|day| day.date.is_some() && day.time.is_none())
}

/// The text with another in place of a part of it.
pub(super) fn replaced(text: &str, range: Range<usize>, by: &str) -> String {
    format!("{}{by}{}", &text[..range.start], &text[range.end..])
}

/// How the line before a byte ends; that of the file where there is none.
fn line_ending(text: &str, at: usize) -> &'static str {
    let before = &text[..at];
    if before.ends_with("\r\n") || (!before.ends_with('\n') && text.contains("\r\n")) { "\r\n" } else { "\n" }
}

/// A key and its value as a line of their own, at the beginning of a line or at the end of the text.
pub(super) fn line(text: &str, at: usize, key: &str, value: &Value) -> Result<String, EditError> {
    let (end, written) = (line_ending(text, at), inline(value).ok_or(EditError::NoValue)?);
    let open = at > mark(text) && !text[..at].ends_with('\n');
    let (before, after) = if open { (end, "") } else { ("", end) };
    Ok(replaced(text, at..at, &format!("{before}{key} = {written}{after}")))
}

/// A section, set off by an empty line on both sides.
pub(super) fn block(text: &str, at: usize, header: &str, keys: &Map<String, Value>) -> Result<String, EditError> {
    let end = line_ending(text, at);
    let (before, after) = (&text[..at], &text[at..]);
    let mut new = String::new();
    if at > mark(text) && !before.ends_with('\n') {
        new.push_str(end);
    }
    if !before.trim_start_matches('\u{feff}').is_empty() && !before.ends_with("\n\n") && !before.ends_with("\n\r\n") {
        new.push_str(end);
    }
    new.push_str(header);
    new.push_str(end);
    for (key, value) in keys {
        // a String takes all that is written
        let _ = write!(new, "{} = {}{end}", bare(key), inline(value).ok_or(EditError::NoValue)?);
    }
    if !after.is_empty() && !after.starts_with('\n') && !after.starts_with("\r\n") {
        new.push_str(end);
    }
    Ok(replaced(text, at..at, &new))
}
