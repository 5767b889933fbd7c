//! What other entries have to say of an entry: that it is booked already, or that its date is off.

use crate::jobs::switch::ALL_BUT;
use crate::logbook::{Amounts, Entry, Event, Logbook};
use crate::safety;

/// In words what is odd, and what may have slipped.
type Odd = (String, Option<String>);

/// An entry is dated off when it is so many days before the first filling, a filling before any entry (own choice).
const BEFORE_DAYS: (f64, f64) = (1.0, 60.0);
/// Or so many days after the last one, a filling after any entry: a bench may rest for a season (own choice).
const AFTER_DAYS: (f64, f64) = (60.0, 300.0);
/// Or so many before the last one: what is entered late is days late and not weeks (own choice).
const BACK_DAYS: f64 = 14.0;
/// Or about a month after the last one, where so many entries never left half as long a gap (own choice).
const MONTH_DAYS: (f64, f64) = (26.0, 45.0);
const USUAL_ENTRIES: usize = 5;

/// An entry of another month or year, as far as the others tell.
pub(super) fn dated_off(before: &Logbook, last: &Entry) -> Option<Odd> {
    let fills = match last.event {
        Event::Filled { .. } => true,
        Event::Added { .. }
        | Event::ToppedUp { .. }
        | Event::Drained { .. }
        | Event::Done { .. }
        | Event::Reading { .. }
        | Event::Analysis { .. }
        | Event::Phase { .. }
        | Event::StalksSeen {} => false,
        Event::Tank { .. } | Event::Note { .. } | Event::Voided { .. } | Event::Recovered { .. } => return None,
    };
    let of = |(other, filling): (f64, f64)| if fills { filling } else { other };
    let standing = before.standing();
    let first = standing.iter().find(|entry| matches!(entry.event, Event::Filled { .. }))?.at;
    let newest = standing.last()?.at;
    if first.days_since(&last.at) > of(BEFORE_DAYS) {
        return Some(safety::dated_before(last.number, last.at, first));
    }
    let after = last.at.days_since(&newest);
    if after > of(AFTER_DAYS) || is_a_month_off(&standing, after) {
        return Some(safety::dated_off_last(last.number, last.at, newest));
    }
    (-after > BACK_DAYS && !mends(before, last)).then(|| safety::dated_off_last(last.number, last.at, newest))
}

/// True for a gap of about a month behind entries that come at a quicker pace.
fn is_a_month_off(standing: &[&Entry], after: f64) -> bool {
    let (from, to) = MONTH_DAYS;
    let quick = standing.windows(2).all(|pair| pair[1].at.days_since(&pair[0].at) < after / 2.0);
    (from..=to).contains(&after) && standing.len() >= USUAL_ENTRIES && quick
}

/// True where an entry of the same day was given up as wrong: this one is in its place.
fn mends(before: &Logbook, last: &Entry) -> bool {
    let of_day = |entry: &&Entry| entry.at.days_since(&last.at).abs() <= 1.0;
    before.entries().iter().filter(of_day).any(|entry| before.voided_by(entry.number).is_some())
}

/// The same weights within so many days are the same job (own choice).
const AGAIN_DAYS: f64 = 1.0;
/// The same water, or the same reading, within so many (own choice: two hours).
const AGAIN_SOON_DAYS: f64 = 1.0 / 12.0;
/// A tank of which little was let out is filled anew with the same only after so many (own choice).
const ANEW_DAYS: f64 = 4.0;
/// From this share of the tank on it was emptied.
const EMPTIED: f64 = 0.5;
/// What was told for one level and one drain, to the digit, is told for one day: so many later it is still that job (own choice).
const ONE_JOB_DAYS: f64 = 60.0;

/// What another entry books already.
pub(super) fn booked_again(before: &Logbook, last: &Entry) -> Option<Odd> {
    let standing = before.standing();
    let days = |entry: &Entry| last.at.days_since(&entry.at);
    let between = |entry: &Entry| {
        let (from, to) = (entry.at.min(last.at), entry.at.max(last.at));
        let number = entry.number;
        standing.iter().filter(move |other| other.number != number && other.at >= from && other.at <= to)
    };
    // a tank that was emptied in between is filled anew, and then runs down as before
    let emptied = |entry: &Entry| {
        let volume_l = match entry.event {
            Event::Filled { volume_l, .. } => volume_l,
            Event::Done { level_before_l: Some(level_l), .. } => level_l,
            _ => return false,
        };
        let out = |other: &&Entry| match other.event {
            Event::Drained { volume_l } | Event::Done { drained_l: volume_l, .. } => volume_l,
            Event::Filled { .. } => f64::INFINITY,
            _ => 0.0,
        };
        between(entry).map(out).sum::<f64>() >= EMPTIED * volume_l
    };
    let same = |entry: &&Entry| {
        let (what, within) = same(&entry.event, &last.event)?;
        let apart = days(entry).abs();
        (apart <= within && (apart <= AGAIN_DAYS || !emptied(entry))).then_some(what)
    };
    let (entry, what) = standing.iter().rev().find_map(|entry| Some((*entry, same(entry)?)))?;
    // a meter is read again where something was done since
    let acts = |entry: &&Entry| !matches!(entry.event, Event::Reading { .. } | Event::Note { .. });
    let since = between(entry).any(acts);
    let reads = matches!(last.event, Event::Reading { .. });
    (!(reads && since)).then(|| safety::booked_twice(entry.number, what, days(entry)))
}

/// What two entries both say, in words, and within how many days that is odd.
fn same(one: &Event, other: &Event) -> Option<(&'static str, f64)> {
    let weights =
        |salts: &Amounts, again: &Amounts, within: f64| (!salts.is_empty() && salts == again).then_some(("weights", within));
    match (one, other) {
        (Event::Filled { salts_g, .. }, Event::Filled { salts_g: again, .. }) => weights(salts_g, again, ANEW_DAYS),
        (Event::Added { salts_g, .. }, Event::Added { salts_g: again, .. }) => weights(salts_g, again, AGAIN_DAYS),
        // what is let out whole is made anew, and then it is the same each time
        (Event::Done { level_before_l: Some(level), drained_l, .. }, Event::Done { .. }) if one == other => {
            Some(("recipe", if *drained_l > (1.0 - ALL_BUT) * level { ANEW_DAYS } else { ONE_JOB_DAYS }))
        }
        (Event::Done { salts_g, formula, .. }, Event::Done { salts_g: again, formula: of, .. }) => {
            let water_alone = salts_g.is_empty() && again.is_empty() && formula == of;
            if water_alone { Some(("recipe", AGAIN_SOON_DAYS)) } else { weights(salts_g, again, AGAIN_DAYS) }
        }
        (Event::ToppedUp { volume_l, .. }, Event::ToppedUp { volume_l: again, .. }) => {
            (volume_l.to_bits() == again.to_bits()).then_some(("water", AGAIN_SOON_DAYS))
        }
        (Event::Reading { .. }, Event::Reading { .. }) => (one == other).then_some(("figures", AGAIN_SOON_DAYS)),
        _ => None,
    }
}
