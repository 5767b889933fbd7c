//! What came of two logbooks made one.

use serde::Serialize;

use super::record::EntryRecord;
use crate::logbook::{Clash, Entry, Logbook, Merge};

/// What answers `logbook-merge`.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct MergeRecord {
    /// Version of this document.
    pub version: u32,
    /// `logbook-merge`.
    pub job: String,
    /// The entries that were missing, by their time, under the numbers that they have now.
    pub added: Vec<EntryRecord>,
    /// How many entries of the other logbook were there already.
    pub shared: usize,
    /// What does not go together.
    pub clashes: Vec<Clash>,
    /// What to append to the text of the logbook, in one piece; empty where nothing was missing.
    pub append: String,
}

/// The record of two logbooks made one.
///
/// * `whole`: the logbook with what was appended
#[must_use]
pub fn merge_record(whole: &Logbook, merge: Merge) -> MergeRecord {
    let record = |entry: &Entry| EntryRecord {
        entry: entry.number,
        at: entry.at.to_string(),
        voided_by: whole.voided_by(entry.number),
        what: entry.event.clone(),
    };
    MergeRecord {
        version: 1,
        job: "logbook-merge".to_owned(),
        added: merge.added.iter().map(record).collect(),
        shared: merge.shared,
        clashes: merge.clashes,
        append: merge.append,
    }
}
