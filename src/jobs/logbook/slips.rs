//! What about an entry looks like a slip, before it is written.

use crate::catalogue::Catalogue;
use crate::logbook::{Entry, Event, Logbook, Patterns, Slip, State, Track, nutrients, state_at};
use crate::matter::Nutrients;
use crate::safety;
use crate::tank::{ec_of, surplus_meq_per_l};

/// What about the last entry of a logbook does not fit what the entries before it say: in words what is odd, and what may
/// have slipped. Of an entry that moves or measures nothing that is never anything.
///
/// Reference: docs/logbook.md.
#[must_use]
pub fn slips_of_last(logbook: &Logbook) -> Vec<(String, Option<String>)> {
    let Some(last) = logbook.entries().last() else { return Vec::new() };
    let twice = logbook.standing().into_iter().find(|entry| entry.number != last.number && booked_again(entry, last));
    let twice = twice.map(|before| safety::booked_twice(before.number, last.at.days_since(&before.at)));
    let mut odd: Vec<(String, Option<String>)> = twice.into_iter().collect();
    if !last.event.is_of_content() || matches!(last.event, Event::Filled { .. }) {
        return odd;
    }
    // products of a grower's own are made of ions of the table, so any bench predicts the same; volumes hang on no EC
    let reads_ec = matches!(last.event, Event::Reading { ec_ms_cm: Some(_), .. });
    let predict = |ppm: &_| if reads_ec { ec_of(Catalogue::standard(), ppm) } else { None };
    let state = state_at(logbook, last.at, &Patterns::standard(), &predict);
    let own = |slip: &&Slip| slip.entry() == last.number;
    odd.extend(state.slips.iter().filter(own).filter_map(safety::asked_back));
    odd.extend(acid_over(&state, &last.event).map(safety::acid_over));
    odd
}

/// Free acid, meq/L, that an addition leaves in the tank by the charges of what is booked; none where it is no acid, or little of one.
fn acid_over(state: &State, event: &Event) -> Option<f64> {
    let (Event::Added { mg, .. }, Some(tank)) = (event, state.tank) else { return None };
    let meq = |ppm: &Nutrients| -surplus_meq_per_l(Catalogue::standard(), ppm);
    let brings = meq(&nutrients(mg).ok()?.scaled(1.0 / tank.volume_l));
    let left = meq(&tank.ppm_on(Track::Likely)?);
    (brings > ACID_MEQ_PER_L && left > ACID_MEQ_PER_L).then_some(left)
}

/// Free acid from so much on brings a tank to pH 3, meq/L.
const ACID_MEQ_PER_L: f64 = 1.0;
/// The same weights within so many days are the same job (own choice).
const AGAIN_DAYS: f64 = 1.0;

/// True where two entries book the same weights on the same day.
fn booked_again(one: &Entry, other: &Entry) -> bool {
    let same = match (&one.event, &other.event) {
        (Event::Filled { salts_g, volume_l, .. }, Event::Filled { salts_g: again, volume_l: litres, .. }) => {
            !salts_g.is_empty() && salts_g == again && volume_l.to_bits() == litres.to_bits()
        }
        (Event::Added { salts_g, .. }, Event::Added { salts_g: again, .. }) => salts_g == again,
        (Event::Done { salts_g, filled_l, .. }, Event::Done { salts_g: again, filled_l: litres, .. }) => {
            !salts_g.is_empty() && salts_g == again && filled_l.to_bits() == litres.to_bits()
        }
        _ => false,
    };
    same && one.at.days_since(&other.at).abs() <= AGAIN_DAYS
}
