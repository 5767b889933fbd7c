//! The logbook as it stands in the file.

use super::record::{AddedRecord, EntryRecord, ShowRecord, TornRecord};
use crate::logbook::{Event, Logbook, Moment};

/// Every entry, void ones included, and lines that were cut off.
#[must_use]
pub fn show(logbook: &Logbook) -> ShowRecord {
    let entries = logbook.entries().iter().map(|entry| EntryRecord {
        entry: entry.number,
        at: entry.at.to_string(),
        voided_by: logbook.voided_by(entry.number),
        what: entry.event.clone(),
    });
    let torn = logbook.torn().iter().map(|torn| TornRecord { line: torn.line, read: torn.read.clone() });
    ShowRecord { version: 1, job: "logbook-show".to_owned(), entries: entries.collect(), torn: torn.collect() }
}

/// What is appended to a logbook with an event: its entry, and lines that were cut off and are named in an entry before it.
#[must_use]
pub fn added_record(logbook: &Logbook, at: Moment, event: Event) -> AddedRecord {
    let recovered_lines: Vec<usize> = logbook.torn().iter().map(|torn| torn.line).collect();
    let entry = logbook.next_number() + u64::from(!recovered_lines.is_empty());
    let entry = EntryRecord { entry, at: at.to_string(), voided_by: None, what: event };
    AddedRecord { version: 1, job: "logbook-add".to_owned(), added: entry, recovered_lines }
}
