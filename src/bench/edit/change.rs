//! What a value is made of another, and how a new one gets its place.

use serde_json::{Map, Value};
use toml::de::DeTable;

use super::find::{Found, Inside, find, removed};
use super::write::{bare, block, inline, line, quoted, replaced};
use super::{EditError, Step};
use crate::bench::written::{Shape, json, line_end, lines, mark, own_end};

/// The text with a value at a place, made where there is none.
pub(super) fn set(text: &str, path: &[Step], value: &Value) -> Result<String, EditError> {
    let root = DeTable::parse(text).map_err(|_| EditError::ByHand)?;
    match find(text, root.get_ref(), path) {
        Ok(found) => changed(text, path, &found, value),
        Err(depth) => {
            let (there, missing) = path.split_at(depth);
            let value = wrapped(&missing[1..], value.clone())?;
            match (&missing[0], find(text, root.get_ref(), there)) {
                (Step::Key(key), Err(_)) => under_root(text, root.get_ref(), key, &value),
                (Step::Key(key), Ok(found)) => under(text, there, &found, key, &value),
                (Step::At(at), Ok(found)) => pushed(text, there, &found, *at, &value),
                (Step::At(_), Err(_)) => Err(EditError::NoPlace),
            }
        }
    }
}

/// A value under the keys that lead to it.
fn wrapped(steps: &[Step], value: Value) -> Result<Value, EditError> {
    steps.iter().rev().try_fold(value, |value, step| match step {
        Step::Key(key) => Ok(Value::Object(Map::from_iter([(key.clone(), value)]))),
        Step::At(0) => Ok(Value::Array(vec![value])),
        Step::At(_) => Err(EditError::NoPlace),
    })
}

fn with(path: &[Step], step: Step) -> Vec<Step> {
    path.iter().cloned().chain([step]).collect()
}

/// What stands there is made what is asked for, with as little changed as will do.
fn changed(text: &str, path: &[Step], found: &Found, value: &Value) -> Result<String, EditError> {
    let before = json(found.value.get_ref());
    if before == *value {
        return Ok(text.to_owned());
    }
    let mut new = text.to_owned();
    match (Shape::of(text, found.value), &before, value) {
        (Shape::Braces | Shape::Section | Shape::Named, Value::Object(before), Value::Object(after)) => {
            for key in before.keys().filter(|key| !after.contains_key(*key)) {
                new = removed(&new, &with(path, Step::Key(key.clone())))?;
            }
            for (key, value) in after {
                new = set(&new, &with(path, Step::Key(key.clone())), value)?;
            }
            Ok(new)
        }
        (Shape::Sections, Value::Array(before), Value::Array(after))
            if !after.is_empty() && after.iter().all(Value::is_object) =>
        {
            for at in (after.len()..before.len()).rev() {
                new = removed(&new, &with(path, Step::At(at)))?;
            }
            for (at, value) in after.iter().enumerate() {
                new = set(&new, &with(path, Step::At(at)), value)?;
            }
            Ok(new)
        }
        (Shape::Section | Shape::Sections | Shape::Named, ..) => set(&removed(text, path)?, path, value),
        (_, Value::String(_), Value::String(after)) if found.value.get_ref().is_str() => {
            Ok(replaced(text, found.value.span(), &quoted(after)))
        }
        _ => Ok(replaced(text, found.value.span(), &inline(value).ok_or(EditError::NoValue)?)),
    }
}

/// A key that the file itself gets: a line before the first section, or a section at the end.
fn under_root(text: &str, root: &DeTable, key: &str, value: &Value) -> Result<String, EditError> {
    let header = bare(key);
    let sections = |list: &Vec<Value>| !list.is_empty() && list.iter().all(Value::is_object);
    match value {
        Value::Object(keys) => block(text, text.len(), &format!("[{header}]"), keys),
        Value::Array(list) if sections(list) => {
            list.iter().filter_map(Value::as_object).try_fold(text.to_owned(), |text, keys| {
                let end = text.len();
                block(&text, end, &format!("[[{header}]]"), keys)
            })
        }
        _ => {
            let at = own_end(text, root).map_or_else(|| mark(text), |end| line_end(text, end));
            line(text, at, &header, value)
        }
    }
}

/// A key that a table gets.
fn under(text: &str, path: &[Step], table: &Found, key: &str, value: &Value) -> Result<String, EditError> {
    let Some(keys) = table.value.get_ref().as_table() else { return Err(EditError::NoPlace) };
    let written = inline(value).ok_or(EditError::NoValue)?;
    match (Shape::of(text, table.value), table.inside) {
        (Shape::Braces, _) => {
            let open = table.value.span().start + 1;
            Ok(match own_end(text, keys) {
                Some(end) => replaced(text, end..end, &format!(", {} = {written}", bare(key))),
                None => replaced(text, open..open, &format!(" {} = {written} ", bare(key))),
            })
        }
        (Shape::Section, _) => {
            let end = own_end(text, keys).unwrap_or_default().max(table.value.span().end);
            line(text, line_end(text, end), &bare(key), value)
        }
        (Shape::Named, Inside::Lines) => match (own_end(text, keys), value) {
            // dotted keys: one more of them
            (Some(end), _) => {
                let names = names(&path[path.len() - 1..]).ok_or(EditError::ByHand)?;
                line(text, line_end(text, end), &format!("{names}.{}", bare(key)), value)
            }
            (None, Value::Object(inner)) => {
                let header = names(path).ok_or(EditError::ByHand)?;
                block(text, last_line(text, table), &format!("[{header}.{}]", bare(key)), inner)
            }
            (None, _) => Err(EditError::TakesKeys),
        },
        _ => Err(EditError::ByHand),
    }
}

/// The keys of a path as a header has them: those of a list name its last entry.
fn names(path: &[Step]) -> Option<String> {
    let keys = path.iter().filter_map(|step| if let Step::Key(key) = step { Some(bare(key)) } else { None });
    let keys: Vec<String> = keys.collect();
    (!keys.is_empty()).then(|| keys.join("."))
}

/// Where the last of all lines of an entry ends.
fn last_line(text: &str, entry: &Found) -> usize {
    let mut all = Vec::new();
    lines(text, &entry.key, entry.value, &mut all);
    all.iter().map(|range| range.end).max().unwrap_or(text.len())
}

/// One more entry of a list.
fn pushed(text: &str, path: &[Step], list: &Found, at: usize, value: &Value) -> Result<String, EditError> {
    let entries = list.value.get_ref().as_array().filter(|list| list.len() == at).ok_or(EditError::NoPlace)?;
    if let (Shape::Sections, Value::Object(keys)) = (Shape::of(text, list.value), value) {
        let header = names(path).ok_or(EditError::ByHand)?;
        return block(text, last_line(text, list), &format!("[[{header}]]"), keys);
    }
    let written = inline(value).ok_or(EditError::NoValue)?;
    let open = list.value.span().start + 1;
    Ok(match entries.iter().last() {
        Some(last) => replaced(text, last.span().end..last.span().end, &format!(", {written}")),
        None => replaced(text, open..open, &written),
    })
}
