//! Groups on a day of the plan.

use super::is_within;
use super::record::{CrossToday, GroupEvent, GroupNext, RipensToday, TodayGroup};
use crate::jobs::cycle::{CycleRecord, GroupDates};
use crate::quantity::Date;

/// Every group, in the order of the bench file.
pub(super) fn groups(plan: &CycleRecord, date: Date) -> Vec<TodayGroup> {
    plan.groups.iter().map(|group| of_group(plan, group, date)).collect()
}

fn of_group(plan: &CycleRecord, group: &GroupDates, date: Date) -> TodayGroup {
    let borne = || plan.meetings.iter().filter(|meeting| meeting.stigma_of == group.id);
    let crosses =
        borne().filter(|meeting| meeting.pollen_of != group.id && meeting.days.is_some_and(|days| is_within(days, date)));
    let ripens = borne().filter_map(|meeting| {
        let days = meeting.ripe.filter(|days| is_within(*days, date))?;
        Some(RipensToday { pollen_of: meeting.pollen_of.clone(), days })
    });
    let ripe = borne().filter_map(|meeting| meeting.ripe).map(|days| days.from).min();
    let begins = [
        (GroupEvent::Push, Some(group.push_from)),
        (GroupEvent::Opens, Some(group.opens.from)),
        (GroupEvent::Pollen, Some(group.pollen.from)),
        (GroupEvent::Stigmas, Some(group.stigma.from)),
        (GroupEvent::Ripe, ripe),
    ];
    let next = begins.into_iter().filter_map(|(what, on)| on.filter(|on| *on > date).map(|on| (on, what)));
    let next = next.min_by_key(|(on, _)| *on);
    let sheds = is_within(group.pollen, date);
    TodayGroup {
        id: group.id.clone(),
        name: group.name.clone(),
        collect_pollen_until: sheds.then_some(group.pollen.to),
        dry_pollen_good_until: group.dry_pollen_to.filter(|to| group.pollen.from <= date && date <= *to),
        stigmas_open_until: is_within(group.stigma, date).then_some(group.stigma.to),
        crosses: crosses
            .map(|meeting| CrossToday {
                pollen_of: meeting.pollen_of.clone(),
                fresh: meeting.fresh.is_some_and(|days| is_within(days, date)),
            })
            .collect(),
        ripens: ripens.collect(),
        next: next.map(|(on, what)| GroupNext { what, on, days_left: on.days_since(date) }),
    }
}
