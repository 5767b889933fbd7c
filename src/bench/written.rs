//! A bench file as it is written: its values as JSON, and where each part of it stands in the text.

use std::ops::Range;

use serde_json::{Map, Value};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The values of a TOML text as they are written, in the order of the text: tables as objects, lists as lists, days as text
/// such as `2026-10-03`. Nothing where it is no TOML.
///
/// # Examples
/// ```
/// use bloomsalt::bench::written;
/// let file = written("[tank]\nvolume = \"60 L\"   # final volume\n").unwrap();
/// assert_eq!(file["tank"]["volume"], "60 L");
/// ```
#[must_use]
pub fn written(text: &str) -> Option<Value> {
    Some(object(DeTable::parse(text).ok()?.get_ref()))
}

fn object(table: &DeTable) -> Value {
    let mut entries: Vec<_> = table.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    Value::Object(
        entries.into_iter().map(|(key, value)| (key.get_ref().to_string(), json(value.get_ref()))).collect::<Map<_, _>>(),
    )
}

/// A value as JSON; null for a number that JSON cannot hold, which no bench file may.
pub(super) fn json(value: &DeValue) -> Value {
    match value {
        DeValue::String(text) => Value::String(text.to_string()),
        DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).map_or(Value::Null, Value::from),
        DeValue::Float(number) => number.as_str().parse::<f64>().map_or(Value::Null, Value::from),
        DeValue::Boolean(yes) => Value::Bool(*yes),
        DeValue::Datetime(date) => Value::String(date.to_string()),
        DeValue::Array(list) => Value::Array(list.iter().map(|item| json(item.get_ref())).collect()),
        DeValue::Table(table) => object(table),
    }
}

/// How a value is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    /// A text, a number, a day.
    Plain,
    /// A list in brackets.
    List,
    /// A table in braces.
    Braces,
    /// A table under a `[header]` of its own.
    Section,
    /// Tables under a `[[header]]` each.
    Sections,
    /// A table that only longer headers or dotted keys name.
    Named,
}

impl Shape {
    pub(super) fn of(text: &str, value: &Spanned<DeValue>) -> Self {
        match value.get_ref() {
            DeValue::Table(_) => match text.as_bytes().get(value.span().start) {
                Some(b'[') => Self::Section,
                Some(b'{') => Self::Braces,
                _ => Self::Named,
            },
            DeValue::Array(list) => match list.iter().next() {
                Some(first) if Self::of(text, first) == Self::Section => Self::Sections,
                _ => Self::List,
            },
            _ => Self::Plain,
        }
    }
}

/// Where the line that holds a byte begins; a mark of the byte order before the first is no part of it.
pub(super) fn line_start(text: &str, at: usize) -> usize {
    text[..at].rfind('\n').map_or_else(|| mark(text), |end| end + 1)
}

/// Where the line after that of a byte begins, or the text ends.
pub(super) fn line_end(text: &str, at: usize) -> usize {
    text[at..].find('\n').map_or(text.len(), |end| at + end + 1)
}

/// Bytes of a mark of the byte order at the beginning.
pub(super) fn mark(text: &str) -> usize {
    if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 }
}

/// The last byte of a table's own lines: those of its sections are not among them.
pub(super) fn own_end(text: &str, table: &DeTable) -> Option<usize> {
    let end = |value: &Spanned<DeValue>| match (Shape::of(text, value), value.get_ref()) {
        (Shape::Section | Shape::Sections, _) => None,
        (Shape::Named, DeValue::Table(inner)) => own_end(text, inner),
        _ => Some(value.span().end),
    };
    table.iter().filter_map(|(_, value)| end(value)).max()
}

/// The lines of an entry of a section, with every section inside it.
///
/// * `key`: where its key stands
pub(super) fn lines(text: &str, key: &Range<usize>, value: &Spanned<DeValue>, found: &mut Vec<Range<usize>>) {
    match (Shape::of(text, value), value.get_ref()) {
        (Shape::Section, DeValue::Table(table)) => {
            let header = value.span();
            let end = own_end(text, table).unwrap_or(header.end).max(header.end);
            found.push(line_start(text, header.start)..line_end(text, end));
            for (key, inner) in table.iter().filter(|(_, inner)| has_sections(text, inner)) {
                lines(text, &key.span(), inner, found);
            }
        }
        (Shape::Sections, DeValue::Array(list)) => {
            list.iter().for_each(|element| lines(text, &element.span(), element, found));
        }
        (Shape::Named, DeValue::Table(table)) => {
            table.iter().for_each(|(key, inner)| lines(text, &key.span(), inner, found));
        }
        _ => found.push(line_start(text, key.start)..line_end(text, value.span().end)),
    }
}

/// True where a header stands inside a value, or above it.
fn has_sections(text: &str, value: &Spanned<DeValue>) -> bool {
    match (Shape::of(text, value), value.get_ref()) {
        (Shape::Section | Shape::Sections, _) => true,
        (Shape::Named, DeValue::Table(table)) => table.iter().any(|(_, inner)| has_sections(text, inner)),
        _ => false,
    }
}
