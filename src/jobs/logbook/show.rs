//! The logbook as it stands in the file.

use super::record::{AddedRecord, EntryRecord, ShowRecord, TornRecord};
use crate::bench::Bench;
use crate::jobs::shelf::poured;
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
pub fn added_record(bench: Option<&Bench>, logbook: &Logbook, at: Moment, event: Event) -> AddedRecord {
    let recovered_lines: Vec<usize> = logbook.torn().iter().map(|torn| torn.line).collect();
    let entry = logbook.next_number() + u64::from(!recovered_lines.is_empty());
    let of = |number: u64| logbook.entries().iter().find(|entry| entry.number == number);
    let voided = if let Event::Voided { voids, .. } = &event { of(*voids) } else { None };
    let voided = voided.map(|was| record(was, Some(entry)));
    let is_there = |bench: &Bench, id: &String| bench.helpers.iter().any(|bottle| bottle.id == *id);
    let drawn = poured(&event).into_iter().flat_map(|(_, bottles_ml)| bottles_ml.keys());
    let bottles_not_on_bench = drawn.filter(|id| bench.is_some_and(|bench| !is_there(bench, id))).cloned().collect();
    let added = EntryRecord { entry, at: at.to_string(), voided_by: None, what: event };
    let job = "logbook-add".to_owned();
    AddedRecord { version: 1, job, added, voided, recovered_lines, bottles_not_on_bench }
}
