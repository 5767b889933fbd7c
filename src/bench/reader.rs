//! Typed access to a parsed TOML table. Every mistake is noted with its place, and reading goes on.

use std::cell::RefCell;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::Problem;
use crate::quantity::{Bound, QuantityError, unseen};

/// Collects problems while a file is read.
#[derive(Default)]
pub(super) struct Problems(RefCell<Vec<Problem>>);

impl Problems {
    pub(super) fn note(&self, key: String, span: Range<usize>, message: impl Into<String>, help: Option<String>) {
        self.note_what_is_taken(key, span, message, None, help);
    }

    fn note_what_is_taken(
        &self,
        key: String,
        span: Range<usize>,
        message: impl Into<String>,
        allowed: Option<String>,
        help: Option<String>,
    ) {
        // what a file holds is shown, never sent to the terminal as a command
        let plain = |text: String| {
            let shown = |letter: char| if unseen(letter.encode_utf8(&mut [0; 4])).is_some() { '\u{fffd}' } else { letter };
            text.chars().map(shown).collect::<String>()
        };
        let (key, message) = (plain(key), plain(message.into()));
        self.0.borrow_mut().push(Problem { key, span, message, allowed: allowed.map(plain), help: help.map(plain) });
    }

    /// How many are noted so far.
    pub(super) fn count(&self) -> usize {
        self.0.borrow().len()
    }

    pub(super) fn into_sorted(self) -> Vec<Problem> {
        let mut problems = self.0.into_inner();
        problems.sort_by_key(|problem| problem.span.start);
        problems
    }
}

/// A table and where it stands.
#[derive(Clone)]
pub(super) struct Table<'a> {
    table: &'a DeTable<'a>,
    /// `[tank]`, `[[scale]]`, `[formula.push]`.
    path: String,
    pub(super) span: Range<usize>,
    pub(super) problems: &'a Problems,
}

/// A value, its key and its place.
#[derive(Clone)]
pub(super) struct Item<'a> {
    pub(super) value: &'a DeValue<'a>,
    pub(super) name: &'a str,
    key: String,
    pub(super) span: Range<usize>,
    key_span: Range<usize>,
    pub(super) problems: &'a Problems,
}

pub(super) fn did_you_mean<'a>(typed: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    crate::suggest::nearest(typed, known).map(|word| format!("did you mean `{word}`?"))
}

impl<'a> Table<'a> {
    pub(super) fn new(table: &'a Spanned<DeTable<'a>>, problems: &'a Problems) -> Self {
        Self { table: table.get_ref(), path: String::new(), span: table.span(), problems }
    }

    /// Notes every key that is not in `known`.
    pub(super) fn only(&self, known: &[&str]) {
        for (key, _) in self.table {
            let name: &str = key.get_ref();
            if !known.contains(&name) {
                let place = if self.path.is_empty() { "a bench file".to_owned() } else { format!("`{}`", self.path) };
                self.problems.note_what_is_taken(
                    self.key_of(name),
                    key.span(),
                    format!("`{name}` is not a key of {place}; it takes {}", known.join(", ")),
                    Some(known.join(", ")),
                    did_you_mean(name, known.iter().copied()),
                );
            }
        }
    }

    fn key_of(&self, name: &str) -> String {
        if self.path.is_empty() { name.to_owned() } else { format!("{} {name}", self.path) }
    }

    pub(super) fn items(&self) -> impl Iterator<Item = Item<'a>> + use<'a> {
        let (path, problems) = (self.path.clone(), self.problems);
        self.table.iter().map(move |(key, value)| Item {
            value: value.get_ref(),
            name: key.get_ref(),
            key: if path.is_empty() { key.get_ref().to_string() } else { format!("{path} {}", key.get_ref()) },
            span: value.span(),
            key_span: key.span(),
            problems,
        })
    }

    pub(super) fn get(&self, name: &str) -> Option<Item<'a>> {
        self.items().find(|item| item.name == name)
    }

    /// A key that must be there.
    pub(super) fn require(&self, name: &str, example: &str) -> Option<Item<'a>> {
        let item = self.get(name);
        if item.is_none() && !self.suggested(name) {
            let place = if self.path.is_empty() { "the bench file".to_owned() } else { format!("`{}`", self.path) };
            let span = self.span.start..self.span.end.min(self.span.start + 1).max(self.span.start);
            self.problems.note(
                self.key_of(name),
                span,
                format!("`{name}` is missing in {place}"),
                Some(format!("write, for instance, {example}")),
            );
        }
        item
    }

    /// True when a misspelt key of this table was already answered with `name`.
    fn suggested(&self, name: &str) -> bool {
        let answer = format!("did you mean `{name}`?");
        let noted = self.problems.0.borrow();
        let spans = || self.table.iter().map(|(key, _)| key.span());
        noted.iter().any(|problem| problem.help.as_deref() == Some(&answer) && spans().any(|span| span == problem.span))
    }

    /// A sub-table, called `path` in messages.
    pub(super) fn table(&self, name: &str, path: &str) -> Option<Self> {
        self.get(name)?.as_table(path)
    }

    /// The tables of an array such as `[[scale]]`.
    pub(super) fn tables(&self, name: &str) -> Vec<Self> {
        let Some(item) = self.get(name) else { return Vec::new() };
        let path = format!("[[{name}]]");
        let Some(array) = item.value.as_array() else {
            item.wrong(format!("`{name}` is written as `{path}`, once for each"), None);
            return Vec::new();
        };
        array
            .iter()
            .filter_map(|value| {
                let element = Item { value: value.get_ref(), span: value.span(), ..item.clone() };
                element.as_table(&path)
            })
            .collect()
    }
}

impl<'a> Item<'a> {
    pub(super) fn wrong(&self, message: impl Into<String>, help: Option<String>) {
        self.wrong_of(message, None, help);
    }

    fn wrong_of(&self, message: impl Into<String>, allowed: Option<String>, help: Option<String>) {
        self.problems.note_what_is_taken(self.key.clone(), self.span.clone(), message, allowed, help);
    }

    /// Something else is taken here.
    fn takes(&self, what: &str) {
        self.wrong_of(format!("read {}; it takes {what}", self.read()), Some(what.to_owned()), None);
    }

    /// As [`Item::wrong`], with the place of the key: the key is what is wrong.
    pub(super) fn wrong_key(&self, message: impl Into<String>, help: Option<String>) {
        self.problems.note(self.key.clone(), self.key_span.clone(), message, help);
    }

    /// What was read, short, for messages.
    pub(super) fn read(&self) -> String {
        match self.value {
            DeValue::String(text) => format!("\"{text}\""),
            DeValue::Integer(number) => number.as_str().to_owned(),
            DeValue::Float(number) => number.as_str().to_owned(),
            DeValue::Array(_) => "a list".to_owned(),
            DeValue::Table(_) => "a table".to_owned(),
            DeValue::Boolean(yes) => yes.to_string(),
            DeValue::Datetime(date) => date.to_string(),
        }
    }

    pub(super) fn as_table(&self, path: &str) -> Option<Table<'a>> {
        if let Some(table) = self.value.as_table() {
            Some(Table { table, path: path.to_owned(), span: self.span.clone(), problems: self.problems })
        } else if self.value.is_array() && path.starts_with('[') && !path.starts_with("[[") && !path.contains(' ') {
            self.wrong(format!("`{}` is written as `{path}`, in single brackets, and once", self.name), None);
            None
        } else {
            let help = "a table is keys in braces, { … }, or lines under a [section]";
            self.wrong(format!("read {}; a table belongs here", self.read()), Some(help.to_owned()));
            None
        }
    }

    /// The table of this very key, `[formula.growth] EC`.
    pub(super) fn own_table(&self) -> Option<Table<'a>> {
        self.as_table(&self.key)
    }

    pub(super) fn is_table(&self) -> bool {
        self.value.is_table()
    }

    pub(super) fn is_number(&self) -> bool {
        self.value.is_integer() || self.value.is_float()
    }

    pub(super) fn text(&self, takes: &str) -> Option<&'a str> {
        let text = self.value.as_str();
        if text.is_none() {
            self.takes(takes);
        }
        text.filter(|text| self.is_plain(text))
    }

    /// True for a text of which every letter is seen; else that is noted.
    pub(super) fn is_plain(&self, text: &str) -> bool {
        let unseen = unseen(text);
        if let Some(letter) = unseen {
            self.wrong(format!("holds a character that is not seen (U+{:04X}); take it out", u32::from(letter)), None);
        }
        unseen.is_none()
    }

    /// A bare 0, whatever its spelling.
    pub(super) fn is_zero(&self) -> bool {
        self.plain_number() == Some(0.0)
    }

    fn plain_number(&self) -> Option<f64> {
        match self.value {
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok().map(|whole| {
                #[allow(clippy::cast_precision_loss, reason = "bounds refuse anything near 2^53")]
                let number = whole as f64;
                number
            }),
            DeValue::Float(number) => number.as_str().parse().ok(),
            _ => None,
        }
    }

    /// A bare number inside `bound`.
    pub(super) fn number(&self, bound: &Bound) -> Option<f64> {
        let Some(number) = self.plain_number() else {
            let quotes = if self.value.is_str() { ", without quotes" } else { "" };
            self.takes(&format!("a number from {}{quotes}", bound.allowed()));
            return None;
        };
        if bound.unit.is_empty() && bound.high <= 1.0 && (1.0..=100.0).contains(&number) && number > bound.high {
            let help = format!("a fraction is meant: {number} % is {}", number / 100.0);
            let message = format!("read {}; the {} takes {}", self.read(), bound.what, bound.allowed());
            self.wrong_of(message, Some(bound.allowed()), Some(help));
            return None;
        }
        self.checked(bound.check(number))
    }

    /// Notes a quantity error with what was read.
    pub(super) fn checked<T>(&self, result: Result<T, QuantityError>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(error) => {
                let help = error.suggestion().map(|word| format!("did you mean `{word}`?"));
                self.wrong_of(format!("read {}; {error}", self.read()), Some(error.allowed()), help);
                None
            }
        }
    }

    /// A quantity written as text with its unit.
    pub(super) fn quantity<T>(&self, example: &str, parse: impl FnOnce(&str) -> Result<T, QuantityError>) -> Option<T> {
        let text = self.text(&format!("a number and its unit in quotes, such as \"{example}\""))?;
        self.checked(parse(text))
    }

    /// The entries of a list, such as `["250 mL", "1 L"]`.
    pub(super) fn list(&self, example: &str) -> Vec<Self> {
        let Some(array) = self.value.as_array().filter(|array| !array.is_empty()) else {
            let read = if self.value.is_array() { "an empty list".to_owned() } else { self.read() };
            self.wrong(format!("read {read}; it takes a list, such as {example}"), None);
            return Vec::new();
        };
        array.iter().map(|value| Item { value: value.get_ref(), span: value.span(), ..self.clone() }).collect()
    }

    /// True for text; else notes what a concentration may be.
    pub(super) fn is_concentration_text(&self) -> bool {
        if !self.value.is_str() {
            self.takes("ppm as a plain number, or a unit in quotes, such as \"90 ppm\"");
        }
        self.value.is_str()
    }

    pub(super) fn date(&self) -> Option<String> {
        match self.value {
            DeValue::Datetime(date) if date.date.is_some() && date.time.is_none() => Some(date.to_string()),
            _ => {
                self.takes("a date such as 2026-10-03, without quotes");
                None
            }
        }
    }
}
