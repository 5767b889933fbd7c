//! The logbook as it stands in the file.

use super::record::{AddedRecord, EntryRecord, ShowRecord, TornRecord};
use crate::logbook::{Entry, Event, Logbook, Moment};

/// Every entry, void ones included, and lines that were cut off.
#[must_use]
pub fn show(logbook: &Logbook) -> ShowRecord {
    let entries = logbook.entries().iter().map(|entry| record(entry, logbook.voided_by(entry.number)));
    let torn = logbook.torn().iter().map(|torn| TornRecord { line: torn.line, read: torn.read.clone() });
    ShowRecord { version: 1, job: "logbook-show".to_owned(), entries: entries.collect(), torn: torn.collect() }
}

fn record(entry: &Entry, voided_by: Option<u64>) -> EntryRecord {
    EntryRecord { entry: entry.number, at: entry.at.to_string(), voided_by, what: entry.event.clone() }
}

/// What is appended to a logbook with an event: its entry, and lines that were cut off and are named in an entry before it.
#[must_use]
pub fn added_record(logbook: &Logbook, at: Moment, event: Event) -> AddedRecord {
    let recovered_lines: Vec<usize> = logbook.torn().iter().map(|torn| torn.line).collect();
    let entry = logbook.next_number() + u64::from(!recovered_lines.is_empty());
    let of = |number: u64| logbook.entries().iter().find(|entry| entry.number == number);
    let voided = if let Event::Voided { voids, .. } = &event { of(*voids) } else { None };
    let voided = voided.map(|was| record(was, Some(entry)));
    let added = EntryRecord { entry, at: at.to_string(), voided_by: None, what: event };
    AddedRecord { version: 1, job: "logbook-add".to_owned(), added, voided, recovered_lines }
}
