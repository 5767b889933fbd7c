//! Where a value stands in the text, and how it is taken out.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::write::replaced;
use super::{EditError, Step};
use crate::bench::written::{Shape, line_end, line_start, lines};

/// A value, its key, what it stands in, and the keys from the last bracket or brace to it.
pub(super) struct Found<'t> {
    pub(super) key: Range<usize>,
    pub(super) value: &'t Spanned<DeValue<'t>>,
    pub(super) inside: Inside<'t>,
}

/// What an entry stands in.
#[derive(Clone, Copy)]
pub(super) enum Inside<'t> {
    /// Lines of the text: a section, or what stands before the first.
    Lines,
    /// A table in braces.
    Braces(&'t DeTable<'t>),
    /// A list in brackets, and the position in it.
    List(&'t Spanned<DeValue<'t>>, usize),
    /// Dotted keys in braces.
    Dots,
}

/// The entry of a path; without one, how many steps of it there are.
pub(super) fn find<'t>(text: &str, root: &'t DeTable<'t>, path: &[Step]) -> Result<Found<'t>, usize> {
    let mut table = Some(root);
    let mut found: Option<Found<'t>> = None;
    for (depth, step) in path.iter().enumerate() {
        let above = found.as_ref();
        let shape = above.map_or(Shape::Section, |above| Shape::of(text, above.value));
        let next = match step {
            Step::Key(name) => {
                let (key, value) =
                    table.and_then(|table| table.iter().find(|(key, _)| key.get_ref() == name)).ok_or(depth)?;
                let inside = match (shape, above) {
                    (Shape::Braces, Some(Found { value, .. })) => {
                        value.get_ref().as_table().map_or(Inside::Dots, Inside::Braces)
                    }
                    (Shape::Named, Some(Found { inside: Inside::Lines, .. })) | (Shape::Section, _) => Inside::Lines,
                    _ => Inside::Dots,
                };
                Found { key: key.span(), value, inside }
            }
            Step::At(at) => {
                let above = above.ok_or(depth)?;
                let element = above.value.get_ref().as_array().and_then(|list| list.get(*at)).ok_or(depth)?;
                let inside = if shape == Shape::Sections { Inside::Lines } else { Inside::List(above.value, *at) };
                Found { key: element.span(), value: element, inside }
            }
        };
        table = next.value.get_ref().as_table();
        found = Some(next);
    }
    found.ok_or(0)
}

/// The text without what stands at a place.
pub(super) fn removed(text: &str, path: &[Step]) -> Result<String, EditError> {
    let root = DeTable::parse(text).map_err(|_| EditError::ByHand)?;
    let found = find(text, root.get_ref(), path).map_err(|_| EditError::NoPlace)?;
    let (spans, at) = match found.inside {
        Inside::Lines => {
            let mut gone = Vec::new();
            lines(text, &found.key, found.value, &mut gone);
            gone.sort_by_key(|range| range.start);
            let (mut new, mut kept) = (String::new(), 0);
            for range in gone {
                new.push_str(&text[kept..range.start.max(kept)]);
                kept = range.end.max(kept);
            }
            return Ok(new + &text[kept..]);
        }
        Inside::Dots => return Err(EditError::ByHand),
        Inside::Braces(table) => {
            let mut spans: Vec<Range<usize>> = table.iter().map(|(key, value)| key.span().start..value.span().end).collect();
            spans.sort_by_key(|span| span.start);
            let at = spans.iter().position(|span| span.start == found.key.start);
            (spans, at.ok_or(EditError::ByHand)?)
        }
        Inside::List(list, at) => {
            let list = list.get_ref().as_array().ok_or(EditError::ByHand)?;
            (list.iter().map(Spanned::span).collect(), at)
        }
    };
    if let Some(line) = own_line(text, &spans[at]) {
        return Ok(replaced(text, line, ""));
    }
    let gone = match (at.checked_sub(1).map(|before| spans[before].end), spans.get(at + 1)) {
        (_, Some(next)) => spans[at].start..next.start,
        (Some(before), None) => before..spans[at].end,
        (None, None) => spans[at].clone(),
    };
    Ok(replaced(text, gone, ""))
}

/// The whole lines of an entry in brackets, where nothing but its comma and its comment shares them.
fn own_line(text: &str, entry: &Range<usize>) -> Option<Range<usize>> {
    let (start, end) = (line_start(text, entry.start), line_end(text, entry.end));
    let behind = text[entry.end..end].trim_start();
    let behind = behind.strip_prefix(',').unwrap_or(behind).trim();
    let alone = text[start..entry.start].trim().is_empty() && (behind.is_empty() || behind.starts_with('#'));
    alone.then_some(start..end)
}
