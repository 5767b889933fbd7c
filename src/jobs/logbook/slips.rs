//! What about an entry looks like a slip, before it is written.

use crate::catalogue::Catalogue;
use crate::logbook::{Event, Logbook, Patterns, Slip, state_at};
use crate::safety;
use crate::tank::ec_of;

/// What about the last entry of a logbook does not fit what the entries before it say: in words what is odd, and what may
/// have slipped. Of an entry that moves or measures nothing that is never anything.
///
/// Reference: docs/logbook.md.
#[must_use]
pub fn slips_of_last(logbook: &Logbook) -> Vec<(String, Option<String>)> {
    let Some(last) = logbook.entries().last() else { return Vec::new() };
    let measures = matches!(
        last.event,
        Event::Added { .. }
            | Event::ToppedUp { .. }
            | Event::Drained { .. }
            | Event::Done { .. }
            | Event::Reading { .. }
            | Event::Analysis { .. }
    );
    if !measures {
        return Vec::new();
    }
    // products of a grower's own are made of ions of the table, so any bench predicts the same; volumes hang on no EC
    let reads_ec = matches!(last.event, Event::Reading { ec_ms_cm: Some(_), .. });
    let predict = |ppm: &_| if reads_ec { ec_of(Catalogue::standard(), ppm) } else { None };
    let state = state_at(logbook, last.at, &Patterns::standard(), &predict);
    let own = |slip: &&Slip| slip.entry() == last.number;
    state.slips.iter().filter(own).filter_map(safety::asked_back).collect()
}
