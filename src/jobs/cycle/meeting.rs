//! Which pollen meets which stigmas, and the start that would make them meet on the most days.

use super::record::{GroupDates, Meeting, Shift, Window};
use crate::bench::Group;

/// A group with its days.
pub(super) type Flowering<'a> = (&'a Group, &'a GroupDates);

/// Days on which pollen of the group is good, fresh or dry.
fn good_pollen(dates: &GroupDates) -> Option<Window> {
    Window::new(dates.pollen.from, dates.dry_pollen_to.unwrap_or(dates.pollen.to))
}

/// Pollen of the first group on stigmas of the second.
pub(super) fn meeting((giver, gives): Flowering, (bearer, bears): Flowering) -> Meeting {
    let good = good_pollen(gives);
    let days = good.and_then(|good| good.shared(bears.stigma));
    let ripe = bearer.ripe_after.and_then(|ripe| Some(days?.moved(ripe.0)));
    let best = good.filter(|_| giver.id != bearer.id).map(|good| best_shift(&[(good, bears.stigma)]));
    Meeting {
        pollen_of: giver.id.clone(),
        stigma_of: bearer.id.clone(),
        fresh: gives.pollen.shared(bears.stigma),
        days,
        ripe,
        best_shift_days: best.map(|(shift, _)| shift),
        best_days: best.map(|(_, days)| days),
    }
}

/// The best start of one of two groups.
pub(super) fn shift(first: Flowering, second: Flowering) -> Option<Shift> {
    // the later one of the file moves, unless only the other has a tank of its own
    let first_moves = first.0.tank.is_some() && second.0.tank.is_none();
    let (moves, stays) = if first_moves { (first, second) } else { (second, first) };
    let (moving, staying) = (good_pollen(moves.1)?, good_pollen(stays.1)?);
    // pollen that moves on stigmas that stay, and stigmas that move under pollen that stays
    let pairs = [(moving, stays.1.stigma), (moves.1.stigma, staying)];
    let (shift_days, meeting_days_then) = best_shift(&pairs);
    let starts_after = moves.0.starts_after.0 + shift_days;
    Some(Shift {
        group: moves.0.id.clone(),
        beside: stays.0.id.clone(),
        shift_days,
        starts_after_days: (starts_after >= 0).then_some(starts_after),
        needs_own_tank: shift_days != 0 && moves.0.tank.is_none() && stays.0.tank.is_none(),
        meeting_days: shared_days(&pairs, 0),
        meeting_days_then,
    })
}

/// Days that the pairs share, added up, when the first of each moves by `shift` days.
fn shared_days(pairs: &[(Window, Window)], shift: i32) -> i32 {
    pairs.iter().filter_map(|(moves, stays)| moves.moved(shift).shared(*stays)).map(|both| both.days).sum()
}

/// The move of the first of each pair that makes the pairs share the most days, and those days.
///
/// Of equally good moves the shortest is taken, of two as short the later start, since an earlier one may be over. Shared
/// days against the move are straight lines, and they turn down only where two windows begin together or end together;
/// so the shortest of the best moves is one of those, or none at all.
fn best_shift(pairs: &[(Window, Window)]) -> (i32, i32) {
    let turns = pairs.iter().flat_map(|(moves, stays)| [stays.from.days_since(moves.from), stays.to.days_since(moves.to)]);
    let tried = turns.chain([0]).map(|shift| (shift, shared_days(pairs, shift)));
    tried.max_by_key(|(shift, days)| (*days, -shift.abs(), *shift)).unwrap_or((0, 0))
}
