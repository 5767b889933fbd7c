//! What to watch in a plan, beside what each of its mixes says.

use super::crossing::BestStart;
use super::record::{CycleMix, Meeting, TankPlan};
use super::renewal_record::Renewal;
use super::starts::Flowering;
use crate::bench::Group;
use crate::quantity::Date;
use crate::safety::{self, Code, Finding, MeetMore};

/// Of formulas that are held: too long, or the day on which low nitrogen has to end.
pub(super) fn held(tanks: &[TankPlan], mixes: &[CycleMix]) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut low: Vec<(&Finding, Vec<safety::Held>)> = Vec::new();
    for tank in tanks {
        for hold in &tank.holds {
            let held = safety::Held {
                formula: hold.formula.clone(),
                group: tank.group.clone(),
                from: hold.days.from,
                days: hold.days.days,
                at_most_days: hold.hold_at_most_days,
                back_by: hold.back_by,
            };
            if let Some(too_long) = safety::held_too_long(&held) {
                found.push(too_long);
                continue;
            }
            let mut of_mix = mixes.iter().filter(|mix| mix.formula == hold.formula).flat_map(|mix| &mix.findings);
            let Some(finding) = of_mix.find(|finding| finding.code == Code::NitrogenLow) else { continue };
            match low.iter_mut().find(|(_, all)| all[0].formula == held.formula) {
                Some((_, all)) => all.push(held),
                None => low.push((finding, vec![held])),
            }
        }
    }
    found.extend(low.iter().map(|(finding, held)| safety::nitrogen_low_until(finding, held)));
    found
}

/// Of groups: those that never meet, and seed that is ripe after the last day of feeding.
///
/// * `fed_to`: the last day on which the plan feeds a group
pub(super) fn groups(
    fed_to: &dyn Fn(&Group) -> Option<Date>,
    flowering: &[Flowering],
    meetings: &[Meeting],
    more: MeetMore,
) -> Vec<Finding> {
    let meets =
        |one: &str, other: &str| meetings.iter().any(|it| it.pollen_of == one && it.stigma_of == other && it.days.is_some());
    let ids: Vec<&str> = flowering.iter().map(|(group, _)| group.id.as_str()).collect();
    let pairs = ids.iter().enumerate().flat_map(|(at, one)| ids[at + 1..].iter().map(move |other| (*one, *other)));
    let apart: Vec<(&str, &str)> = pairs.filter(|(one, other)| !meets(one, other) && !meets(other, one)).collect();
    let mut found: Vec<Finding> = safety::never_meet(&apart, more).into_iter().collect();
    for (group, _) in flowering {
        let Some(fed_to) = fed_to(group) else { continue };
        let ripe = meetings.iter().filter(|meeting| meeting.stigma_of == group.id).filter_map(|meeting| meeting.ripe);
        found.extend(ripe.map(|ripe| ripe.to).max().and_then(|last| safety::ripe_after_the_end(&group.id, last, fed_to)));
    }
    found
}

/// What has more pairs of groups meet than the plan.
pub(super) fn meet_more(best: Option<&BestStart>, own_tanks: Option<&BestStart>) -> MeetMore {
    let gains = |best: Option<&BestStart>| best.is_some_and(|best| best.best.pairs > best.planned.pairs);
    match (gains(best), gains(own_tanks)) {
        (true, _) => MeetMore::Starts,
        (false, true) => MeetMore::Tanks,
        (false, false) => MeetMore::Neither,
    }
}

/// Where a tank may be past a limit before it is renewed, once for each formula.
pub(super) fn run_down_sooner(tank: &TankPlan) -> Vec<Finding> {
    let name = tank.group.as_ref().map_or_else(|| "the bench tank".to_owned(), |group| format!("the tank of `{group}`"));
    let mut found: Vec<(&str, Finding)> = Vec::new();
    for phase in &tank.phases {
        let Renewal { low_days: Some(low), low_ends_by: Some(end), low_limit: Some(limit), .. } = phase.renewal else {
            continue;
        };
        let fills = || tank.fills.iter().filter(|fill| fill.formula == phase.formula);
        let first = fills().find(|fill| fill.days > low);
        let (Some(first), Some(longest)) = (first, fills().map(|fill| fill.days).max()) else { continue };
        if found.iter().all(|(formula, _)| *formula != phase.formula) {
            let (of, on) = ((phase.formula.as_str(), name.as_str()), first.date.plus(low));
            found.extend(safety::runs_down_sooner(of, longest, low, on, &end.words(limit)).map(|one| (of.0, one)));
        }
    }
    found.into_iter().map(|(_, finding)| finding).collect()
}
