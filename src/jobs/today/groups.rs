//! Groups on a day of the plan: what its list of crosses has for the day.

use super::record::{CrossToday, GroupEvent, GroupNext, RipensToday, TodayGroup};
use crate::jobs::cycle::{CrossingStep, CrossingWork, CycleRecord, GroupDates};
use crate::quantity::Date;

/// Every group, in the order of the bench file.
pub(super) fn groups(plan: &CycleRecord, date: Date) -> Vec<TodayGroup> {
    plan.groups.iter().map(|group| of_group(plan, group, date)).collect()
}

fn of_group(plan: &CycleRecord, group: &GroupDates, date: Date) -> TodayGroup {
    let of = |id: &Option<String>| id.as_ref() == Some(&group.id);
    let steps = |work: CrossingWork| plan.crossing.iter().filter(move |step| step.work == work);
    let gives = |work| steps(work).find(|step| of(&step.pollen_of)).map(|step| step.days);
    let borne = |work| steps(work).filter(move |step| of(&step.stigma_of));
    let on = |step: &&CrossingStep| step.days.holds(date);
    let pollen_of = |step: &CrossingStep| step.pollen_of.clone().unwrap_or_default();
    let crosses = [(CrossingWork::CrossFresh, true), (CrossingWork::CrossDry, false)]
        .into_iter()
        .flat_map(|(work, fresh)| borne(work).filter(on).map(move |step| CrossToday { pollen_of: pollen_of(step), fresh }));
    let ripens =
        borne(CrossingWork::Harvest).filter(on).map(|step| RipensToday { pollen_of: pollen_of(step), days: step.days });
    let collect = gives(CrossingWork::Collect);
    let collects = collect.filter(|days| days.holds(date));
    // what is shed before it keeps until its use is used fresh, or not at all
    let keep = gives(CrossingWork::Keep).filter(|days| days.holds(date));
    let used_dry = steps(CrossingWork::CrossDry).filter(|step| of(&step.pollen_of) && step.days.to >= date);
    let begins = [
        (GroupEvent::Push, Some(group.push_from)),
        (GroupEvent::Opens, Some(group.opens.from)),
        (GroupEvent::Pollen, collect.map(|days| days.from)),
        (GroupEvent::Stigmas, Some(group.stigma.from)),
        // every cross of a mother ripens by itself
        (GroupEvent::Ripe, borne(CrossingWork::Harvest).map(|step| step.days.from).filter(|from| *from > date).min()),
    ];
    let next = begins.into_iter().filter_map(|(what, on)| on.filter(|on| *on > date).map(|on| (on, what)));
    let next = next.min_by_key(|(on, _)| *on);
    TodayGroup {
        id: group.id.clone(),
        name: group.name.clone(),
        collect_pollen_until: collects.map(|days| days.to),
        keep_dry_for: keep
            .filter(|_| collects.is_some())
            .map_or_else(Vec::new, |_| used_dry.filter_map(|step| step.stigma_of.clone()).collect()),
        dry_pollen_good_until: group.dry_pollen_to.filter(|_| keep.is_some()),
        stigmas_open_until: group.stigma.holds(date).then_some(group.stigma.to),
        crosses: crosses.collect(),
        ripens: ripens.collect(),
        next: next.map(|(on, what)| GroupNext { what, on, days_left: on.days_since(date) }),
    }
}
