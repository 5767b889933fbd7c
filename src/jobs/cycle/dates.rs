//! Phases and fresh tanks on the calendar.

use uom::si::time::day;

use super::record::{FillReason, GroupDates, HoldDates, PhaseDates, Window};
use super::renewal_record::{Renewal, RenewalFrom};
use crate::bench::{Bench, Cycle, Group, PhaseKind};
use crate::quantity::{Date, Weekday};

/// A fresh tank, before anything is weighed for it.
pub(super) struct FillDate<'a> {
    pub(super) date: Date,
    pub(super) reason: FillReason,
    pub(super) formula: &'a str,
    pub(super) days: i32,
    pub(super) renew_days: i32,
    pub(super) renew_from: RenewalFrom,
}

/// Days from the start of a cycle to the first day of its push.
pub(super) fn days_to_push(cycle: &Cycle) -> i32 {
    cycle.phases.iter().take_while(|phase| phase.kind < PhaseKind::Push).map(|phase| phase.lasts.0).sum()
}

/// Days from the start of a cycle to the day after its last.
pub(super) fn length(cycle: &Cycle) -> i32 {
    cycle.phases.iter().map(|phase| phase.lasts.0).sum()
}

/// The phases of a tank whose cycle begins on `start`, each with its renewal.
pub(super) fn phases(cycle: &Cycle, start: Date, renewals: Vec<Renewal>) -> Vec<PhaseDates> {
    let mut from = start;
    let dates = cycle.phases.iter().zip(renewals).filter_map(|(phase, renewal)| {
        let days = Window::new(from, from.plus(phase.lasts.0 - 1))?;
        from = from.plus(phase.lasts.0);
        Some(PhaseDates { phase: phase.kind.key().to_owned(), formula: phase.formula.clone(), days, renewal })
    });
    dates.collect()
}

/// The days on which a tank is mixed afresh: at the start, wherever the formula turns, and after the days of its renewal, or before on
/// the last day that is one of `weekdays`. Phases that feed the same formula run on in the same tank.
pub(super) fn fills<'a>(phases: &'a [PhaseDates], weekdays: &[Weekday]) -> Vec<FillDate<'a>> {
    let mut fills: Vec<FillDate> = Vec::new();
    for run in phases.chunk_by(|a, b| a.formula == b.formula) {
        let Some(last_day) = run.last().map(|phase| phase.days.to) else { continue };
        for phase in run {
            let (from, every) = (phase.days.from, phase.renewal.days);
            let (mut due, mut next, mut reason) = match fills.last() {
                None => (from, from, FillReason::Start),
                Some(last) if last.formula != phase.formula => (from, from, FillReason::Turn),
                // a shorter interval than that of the phase before may already be over
                Some(last) => {
                    let due = last.date.plus(every).max(from);
                    (due, on_weekday(last.date.plus(1).max(from), due, weekdays), FillReason::Renewal)
                }
            };
            // what is due after the last day of its formula is not renewed on a day before
            while due <= last_day && next <= phase.days.to {
                let (renew_days, renew_from) = (every, phase.renewal.from);
                fills.push(FillDate { date: next, reason, formula: &phase.formula, days: 0, renew_days, renew_from });
                due = next.plus(every);
                next = on_weekday(next.plus(1), due, weekdays);
                reason = FillReason::Renewal;
            }
        }
    }
    let end = phases.last().map(|phase| phase.days.to.plus(1));
    let ends: Vec<Date> = fills.iter().skip(1).map(|fill| fill.date).chain(end).collect();
    for (fill, end) in fills.iter_mut().zip(ends) {
        fill.days = end.days_since(fill.date);
    }
    fills
}

/// The last of `weekdays` from `from` to `due`; `due` where there is none.
pub(in crate::jobs) fn on_weekday(from: Date, due: Date, weekdays: &[Weekday]) -> Date {
    let mut days = (0..=due.days_since(from)).map(|back| due.plus(-back)).take(7);
    days.find(|on| weekdays.contains(&on.weekday())).unwrap_or(due)
}

/// Runs of days on one formula that states `hold_at_most`.
pub(super) fn holds(bench: &Bench, phases: &[PhaseDates]) -> Vec<HoldDates> {
    let runs = phases.chunk_by(|a, b| a.formula == b.formula);
    runs.filter_map(|run| {
        let (first, last) = (run.first()?, run.last()?);
        let held = bench.formula(&first.formula)?.hold_at_most?.get::<day>();
        // the bound of hold_at_most keeps it far inside an i32
        #[allow(clippy::cast_possible_truncation, reason = "whole and bounded")]
        let hold_at_most_days = held.floor() as i32;
        Some(HoldDates {
            formula: first.formula.clone(),
            days: Window::new(first.days.from, last.days.to)?,
            hold_at_most_days,
            back_by: first.days.from.plus(hold_at_most_days),
        })
    })
    .collect()
}

/// When a group flowers whose cycle begins on `start`.
pub(super) fn flowers(cycle: &Cycle, group: &Group, start: Date) -> Option<GroupDates> {
    let push_from = start.plus(days_to_push(cycle));
    let first = push_from.plus(group.days_to_flower.0);
    let last = first.plus(group.flowers_for.0 - 1);
    let pollen = Window::new(first.plus(group.pollen.from.0), last.plus(group.pollen.to.0))?;
    Some(GroupDates {
        id: group.id.clone(),
        name: group.name.clone(),
        starts_on: start,
        push_from,
        opens: Window::new(first, last)?,
        pollen,
        dry_pollen_to: group.dry_pollen_keeps.map(|keeps| pollen.to.plus(keeps.0)),
        stigma: Window::new(first.plus(group.stigma.from.0), last.plus(group.stigma.to.0))?,
    })
}
