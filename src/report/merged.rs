//! Two logbooks made one: what came in, and what does not go together.

use super::logbook::{minute, words};
use super::page::Page;
use super::text::text;
use crate::jobs::MergeRecord;
use crate::logbook::{Clash, ClashKind};

/// What was missing, a line an entry, and what to look at.
#[must_use]
pub fn logbook_merged(record: &MergeRecord) -> String {
    let mut page = Page::new("", "");
    let were = |count: usize| if count == 1 { "1 entry was".to_owned() } else { format!("{count} entries were") };
    let (missing, shared) = (were(record.added.len()), were(record.shared));
    page.say_after("", format!("{missing} missing; {shared} in both."));
    for entry in &record.added {
        let void = entry.voided_by.map_or_else(String::new, |by| format!("(void, by entry {by}) "));
        page.say_after(&format!("{:>4}  {}  ", entry.entry, minute(&entry.at)), format!("{void}{}", words(&entry.what)));
    }
    for clash in &record.clashes {
        page.say_after("", clash_words(clash));
    }
    text(&page, false)
}

fn clash_words(clash: &Clash) -> String {
    let (other, with) = (clash.other_entry, clash.with.unwrap_or_default());
    match clash.kind {
        ClashKind::SameMoment => format!(
            "Entry {} and entry {with} are of the same moment and say something else: void the one that is wrong.",
            clash.entry.unwrap_or(other)
        ),
        ClashKind::VoidAlready => {
            format!("Entry {other} of the other logbook voids what entry {with} of this one voids already; it was left out.")
        }
        ClashKind::VoidsLost => {
            format!("Entry {other} of the other logbook voids an entry that it has lost; it was left out.")
        }
    }
}
