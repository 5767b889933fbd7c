//! One choice of starts for all groups at once.
//!
//! Groups on the tank of the bench start together; each with a tank of its own starts by itself. Of all choices that one is taken
//! by which, in this order, the most ordered pairs meet with fresh pollen, the most meet at all, dry pollen counted in, they meet on the most days, and
//! starts move the least.

use super::crossing::{BestStart, GroupStart, Meets};
use super::record::GroupDates;
use super::search::{Place, Problem, best};
use crate::bench::Group;
use crate::quantity::{Date, STARTS_AFTER_DAYS, WholeDays};

/// A group with its days.
pub(super) type Flowering<'a> = (&'a Group, &'a GroupDates);

/// A run of days, counted from the first day of the plan.
type Run = (i32, i32);

/// What a group has to give and to take, by its starts as planned.
struct Offers {
    shed: Run,
    good: Run,
    receptive: Run,
}

impl Offers {
    fn of(dates: &GroupDates, start: Date) -> Self {
        let run = |from: Date, to: Date| (from.days_since(start), to.days_since(start));
        let pollen = dates.pollen;
        Self {
            shed: run(pollen.from, pollen.to),
            good: run(pollen.from, dates.dry_pollen_to.unwrap_or(pollen.to)),
            receptive: run(dates.stigma.from, dates.stigma.to),
        }
    }
}

/// Days that two runs share when the first is `moved` days later.
fn shared(one: Run, moved: i32, other: Run) -> i32 {
    ((one.1 + moved).min(other.1) - (one.0 + moved).max(other.0) + 1).max(0)
}

/// Pollen of the first on stigmas of the second, the first `moved` days later than planned beside it.
fn one_way(giver: &Offers, moved: i32, bearer: &Offers) -> Meets {
    let fresh = shared(giver.shed, moved, bearer.receptive);
    let days = shared(giver.good, moved, bearer.receptive);
    Meets { fresh_pairs: fresh.min(1), pairs: days.min(1), days }
}

fn both_ways(one: &Offers, moved: i32, other: &Offers) -> Meets {
    one_way(one, moved, other) + one_way(other, -moved, one)
}

/// The best start of all groups with the tanks that they have; and with a tank of its own for each that starts apart, where that
/// meets more.
pub(super) fn best_starts(flowering: &[Flowering]) -> (Option<BestStart>, Option<BestStart>) {
    let together = best_start(flowering, false);
    let share = flowering.iter().filter(|(group, _)| group.tank.is_none()).count() > 1;
    let apart = share.then(|| best_start(flowering, true)).flatten();
    let apart = apart.filter(|apart| together.as_ref().is_some_and(|together| apart.best > together.best));
    (together, apart)
}

/// The best start of all groups; `None` with fewer than two.
///
/// * `own_tanks`: true to let those on the tank of the bench start apart as well, each from a tank of its own
pub(super) fn best_start(flowering: &[Flowering], own_tanks: bool) -> Option<BestStart> {
    let apart = |group: &Group| own_tanks || group.tank.is_some();
    let start = flowering.iter().map(|(_, dates)| dates.starts_on).min().filter(|_| flowering.len() > 1)?;
    let offers: Vec<Offers> = flowering.iter().map(|(_, dates)| Offers::of(dates, start)).collect();
    let together: Vec<usize> = (0..flowering.len()).filter(|&at| !apart(flowering[at].0)).collect();
    let alone = (0..flowering.len()).filter(|&at| apart(flowering[at].0)).map(|at| vec![at]);
    let blocks: Vec<Vec<usize>> = [together].into_iter().filter(|block| !block.is_empty()).chain(alone).collect();
    let pairs = |one: &[usize], moved: i32, other: &[usize]| {
        let with = |&at: &usize| other.iter().map(move |&beside| (at, beside));
        let each = one.iter().flat_map(with).map(|(at, beside)| both_ways(&offers[at], moved, &offers[beside]));
        each.fold(Meets::default(), |sum, one| sum + one)
    };
    // none starts before the plan does, which may be today, nor later than a bench file takes
    #[allow(clippy::cast_possible_truncation, reason = "a bound of whole days")]
    let latest = STARTS_AFTER_DAYS.high as i32;
    let room = |block: &Vec<usize>| {
        let after = flowering[block[0]].1.starts_on.days_since(start);
        Place { earliest: -after, latest: (latest - after).max(0) }
    };
    let reach = |block: &[usize]| {
        let ends = |at: &usize| [offers[*at].good, offers[*at].receptive];
        let all = || block.iter().flat_map(ends);
        (all().map(|run| run.0).min().unwrap_or(0), all().map(|run| run.1).max().unwrap_or(0))
    };
    let problem = Problem {
        places: blocks.iter().map(room).collect(),
        pair: &|one, moved, other| pairs(&blocks[one], moved, &blocks[other]),
        touch: &|one, other| {
            let ((from, to), (other_from, other_to)) = (reach(&blocks[one]), reach(&blocks[other]));
            (other_from - to, other_to - from)
        },
    };
    let within = blocks.iter().flat_map(|block| (1..block.len()).map(|at| pairs(&block[at..=at], 0, &block[..at])));
    let within = within.fold(Meets::default(), |sum, one| sum + one);
    let (moves, proof) = best(&problem);
    let moved = |at: usize| blocks.iter().position(|block| block.contains(&at)).map_or(0, |block| moves[block]);
    let days: Vec<i32> = (0..flowering.len()).map(moved).collect();
    let zero = vec![0; moves.len()];
    Some(BestStart {
        starts: starts(flowering, &days),
        pairs: flowering.len() * (flowering.len() - 1),
        planned: within + problem.meets(&zero),
        best: within + problem.meets(&moves),
        proof,
    })
}

/// The start of every group that moves so many days.
fn starts(flowering: &[Flowering], days: &[i32]) -> Vec<GroupStart> {
    let on = |at: usize| flowering[at].1.starts_on.plus(days[at]);
    let first = (0..flowering.len()).map(on).min();
    // a bench file counts from the tank of the bench, whose first group keeps it; without one from the first start
    let bench = (0..flowering.len()).find(|&at| flowering[at].0.tank.is_none()).map(on);
    let counted_from = bench.or(first);
    let each = flowering.iter().enumerate().map(|(at, (group, _))| {
        let after = counted_from.map_or(0, |from| on(at).days_since(from));
        GroupStart {
            group: group.id.clone(),
            starts_on: on(at),
            shift_days: days[at],
            starts_after_days: after,
            needs_own_tank: group.tank.is_none() && after != 0,
        }
    });
    each.collect()
}

/// The groups as they start by `best`.
pub(super) fn started(groups: &[Group], best: &BestStart) -> Vec<Group> {
    let after =
        |group: &Group| best.starts.iter().find(|start| start.group == group.id).map(|start| start.starts_after_days);
    let moved = |group: &Group| Group { starts_after: after(group).map_or(group.starts_after, WholeDays), ..group.clone() };
    groups.iter().map(moved).collect()
}
