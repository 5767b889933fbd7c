//! Which pollen meets which stigmas, and what a grower does for it, in one list by date.

use super::crossing::{CrossingStep, CrossingWork};
use super::record::Meeting;
use super::starts::Flowering;
use super::window::Window;

/// Pollen of the first group on stigmas of the second.
pub(super) fn meeting((giver, gives): Flowering, (bearer, bears): Flowering) -> Meeting {
    let good = Window::new(gives.pollen.from, gives.dry_pollen_to.unwrap_or(gives.pollen.to));
    let days = good.and_then(|good| good.shared(bears.stigma));
    Meeting {
        pollen_of: giver.id.clone(),
        stigma_of: bearer.id.clone(),
        fresh: gives.pollen.shared(bears.stigma),
        days,
        dry: days.and_then(|days| Window::new(days.from.max(gives.pollen.to.plus(1)), days.to)),
        ripe: bearer.ripe_after.and_then(|ripe| Some(days?.moved(ripe.0))),
    }
}

/// What to do for the crosses, by date: start, collect pollen and keep it, cross, harvest.
pub(super) fn crossing(flowering: &[Flowering], meetings: &[Meeting]) -> Vec<CrossingStep> {
    let step = |work, days: Option<Window>, pollen_of: Option<&str>, stigma_of: Option<&str>| {
        let [pollen_of, stigma_of] = [pollen_of, stigma_of].map(|id| id.map(str::to_owned));
        days.map(|days| CrossingStep { days, work, pollen_of, stigma_of })
    };
    let mut steps: Vec<CrossingStep> = Vec::new();
    for (group, dates) in flowering {
        let given = || meetings.iter().filter(|meeting| meeting.pollen_of == group.id);
        let until = given().filter_map(|meeting| meeting.dry).map(|dry| dry.to).max();
        // pollen is good on the last day of its use when it was shed so many days before that at the most
        let keeps = group.dry_pollen_keeps.map_or(0, |keeps| keeps.0);
        let put_by = until.map(|until| dates.pollen.from.max(until.plus(-keeps)));
        let kept = put_by.and_then(|from| Window::new(from, dates.pollen.to));
        let used = || given().filter_map(|meeting| meeting.fresh).chain(kept);
        let (from, to) = (used().map(|days| days.from).min(), used().map(|days| days.to).max());
        let collected = from.zip(to).and_then(|(from, to)| Window::new(from, to));
        let keep = put_by.zip(until).and_then(|(from, to)| Window::new(from, to));
        let id = Some(group.id.as_str());
        steps.extend(step(CrossingWork::Start, Window::new(dates.starts_on, dates.starts_on), None, id));
        steps.extend(step(CrossingWork::Collect, collected, id, None));
        steps.extend(step(CrossingWork::Keep, keep, id, None));
    }
    for meeting in meetings {
        let (pollen, stigma) = (Some(meeting.pollen_of.as_str()), Some(meeting.stigma_of.as_str()));
        steps.extend(step(CrossingWork::CrossFresh, meeting.fresh, pollen, stigma));
        steps.extend(step(CrossingWork::CrossDry, meeting.dry, pollen, stigma));
        steps.extend(step(CrossingWork::Harvest, meeting.ripe, pollen, stigma));
    }
    steps.sort_by_key(|step| (step.days.from, step.work));
    steps
}
