//! CROSSES and BEST START: what to do for the crosses, in one list by date, and the starts that are best for all groups.

use super::page::{Medium, Page, Table, bold, left, right, strong};
use super::words::{aligned, lasting};
use crate::jobs::{BestStart, CrossingStep, CrossingWork, CycleRecord, GroupDates, GroupStart, Meets, StartsProof};
use crate::quantity::WholeDays;

/// What is done, in words: also a calendar's and a table's.
pub(super) fn work(step: &CrossingStep) -> String {
    let [pollen, stigma] = [&step.pollen_of, &step.stigma_of].map(|id| id.as_deref().unwrap_or_default());
    let on = if pollen == stigma { "on itself".to_owned() } else { format!("on {stigma}") };
    match step.work {
        CrossingWork::Start => format!("start {stigma}"),
        CrossingWork::Collect => format!("collect pollen of {pollen}"),
        CrossingWork::Keep => format!("keep pollen of {pollen} dry"),
        CrossingWork::CrossFresh => format!("cross: fresh pollen of {pollen} {on}"),
        CrossingWork::CrossDry => format!("cross: dry pollen of {pollen} {on}"),
        CrossingWork::Harvest => format!("seed ripe: {pollen} {on}"),
    }
}

/// What is done, in a column of a table and in the id of an event.
pub(super) fn kind(work: CrossingWork) -> &'static str {
    match work {
        CrossingWork::Start => "start",
        CrossingWork::Collect => "collect pollen",
        CrossingWork::Keep => "keep pollen dry",
        CrossingWork::CrossFresh => "cross with fresh pollen",
        CrossingWork::CrossDry => "cross with dry pollen",
        CrossingWork::Harvest => "seed ripe",
    }
}

/// The list of crosses, and the best start.
pub(super) fn crossing(page: &mut Page, record: &CycleRecord) {
    if record.groups.is_empty() {
        return;
    }
    page.section("Crosses", "what to do for them, by date");
    let mut table = Table::new([left(""), left(""), right("").only(Medium::Sheet), left("")]).indent(3).ticked("cross");
    for step in &record.crossing {
        let to = if step.days.days == 1 { String::new() } else { format!("to {}", aligned(step.days.to)) };
        let days = if step.work == CrossingWork::Start { String::new() } else { lasting(&step.days) };
        table.cells(vec![bold(aligned(step.days.from)), to.into(), days.into(), strong(work(step))]);
    }
    page.table(table).look("crosses");
    let never = record.meetings.iter().filter(|meeting| meeting.days.is_none() && meeting.pollen_of != meeting.stigma_of);
    let never: Vec<String> = never.map(|meeting| format!("{} on {}", meeting.pollen_of, meeting.stigma_of)).collect();
    if !never.is_empty() {
        page.say(format!("Never meets: pollen of {}.", never.join(", of ")));
    }
    if let Some(best) = &record.best_start {
        page.section("Best start", "of all groups together, with the tanks that they have");
        choice(page, best);
    }
    if let Some(apart) = &record.best_start_own_tanks {
        page.section("Best start", "with a tank of its own for each group that starts apart");
        choice(page, apart);
    }
}

/// A label for the pollen of every group that is collected.
pub(super) fn pollen_labels(record: &CycleRecord) -> Vec<Vec<String>> {
    let blank = "______________";
    let collected = record.groups.iter().filter(|group| {
        let of = |step: &CrossingStep| step.pollen_of.as_ref() == Some(&group.id);
        record.crossing.iter().any(|step| step.work == CrossingWork::Collect && of(step))
    });
    let label = |group: &GroupDates| {
        let keeps = group.dry_pollen_to.map(|to| WholeDays(to.days_since(group.pollen.to)));
        let keeps = keeps.map(|days| format!("good to {blank} (kept dry, {days})"));
        let on = record.meetings.iter().filter(|meeting| meeting.pollen_of == group.id && meeting.days.is_some());
        let on: Vec<&str> = on.map(|meeting| meeting.stigma_of.as_str()).collect();
        let lines = [format!("pollen of {}", group.name), format!("shed on {blank}")].into_iter().chain(keeps);
        lines.chain([format!("for stigmas of {}", on.join(", "))]).collect()
    };
    collected.map(label).collect()
}

/// One choice of starts, and what it gives.
fn choice(page: &mut Page, best: &BestStart) {
    let moves = best.starts.iter().any(|start| start.shift_days != 0);
    let found = match best.proof {
        StartsProof::Best => "",
        StartsProof::BestFound => " The best that was found: with so many starts not every choice is looked at.",
    };
    if !moves {
        page.say(format!("As planned: {}. No other choice is better.{found}", meets(best.best, best.pairs)));
        return;
    }
    let mut table = Table::new([left(""), left(""), left(""), left("")]).indent(3);
    for start in &best.starts {
        table.cells(vec![
            bold(aligned(start.starts_on)),
            strong(format!("start {}", start.group)),
            moved(start).into(),
            format!("starts_after = \"{}\"", WholeDays(start.starts_after_days)).into(),
        ]);
    }
    page.table(table);
    let (then, now) = (meets(best.best, best.pairs), meets(best.planned, best.pairs));
    page.say(format!("Then {then}; as planned {now}.{found}"));
    let needy: Vec<&str> =
        best.starts.iter().filter(|start| start.needs_own_tank).map(|start| start.group.as_str()).collect();
    if let Some(first) = best.starts.first() {
        let start = first.starts_on.plus(-first.starts_after_days);
        page.say(format!("In the bench file: these `starts_after`, and `start = {start}`.")).look("quiet");
    }
    if needy.is_empty() {
        page.say("A plan of the best start goes by it.").look("quiet");
    } else {
        page.say(format!("It takes a tank of its own for {}.", needy.join(", ")));
    }
}

fn moved(start: &GroupStart) -> String {
    match start.shift_days {
        0 => "as planned".to_owned(),
        days => format!("{} {}", WholeDays(days.abs()), if days < 0 { "earlier" } else { "later" }),
    }
}

/// What meets, of so many pairs.
fn meets(meets: Meets, of: usize) -> String {
    let dry = match meets.pairs - meets.fresh_pairs {
        0 => String::new(),
        dry => format!(", {dry} more with dry"),
    };
    format!("{} of {of} ways meet with fresh pollen{dry}, {} in all", meets.fresh_pairs, WholeDays(meets.days))
}
