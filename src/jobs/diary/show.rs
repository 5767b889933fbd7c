//! The diary as it stands in the file.

use super::record::{AddedRecord, EntryRecord, ShowRecord, TornRecord};
use crate::diary::{Diary, Event, Moment};

/// Every entry, void ones included, and lines that were cut off.
#[must_use]
pub fn show(diary: &Diary) -> ShowRecord {
    let entries = diary.entries().iter().map(|entry| EntryRecord {
        entry: entry.number,
        at: entry.at.to_string(),
        voided_by: diary.voided_by(entry.number),
        what: entry.event.clone(),
    });
    let torn = diary.torn().iter().map(|torn| TornRecord { line: torn.line, read: torn.read.clone() });
    ShowRecord { version: 1, job: "diary-show".to_owned(), entries: entries.collect(), torn: torn.collect() }
}

/// What is appended to a diary with an event: its entry, and lines that were cut off and are named in an entry before it.
#[must_use]
pub fn added_record(diary: &Diary, at: Moment, event: Event) -> AddedRecord {
    let recovered_lines: Vec<usize> = diary.torn().iter().map(|torn| torn.line).collect();
    let entry = diary.next_number() + u64::from(!recovered_lines.is_empty());
    let entry = EntryRecord { entry, at: at.to_string(), voided_by: None, what: event };
    AddedRecord { version: 1, job: "diary-add".to_owned(), added: entry, recovered_lines }
}
