//! Phases and fresh tanks on the calendar.

use uom::si::time::day;

use super::follow::Standing;
use super::record::{FillReason, GroupDates, HoldDates, PhaseDates};
use super::renewal_record::{Renewal, RenewalFrom};
use super::window::Window;
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

/// A tank is not renewed in the last so many days before it is turned over, nor where it then stands no more than a part of its
/// interval longer (own choices).
const EARLY_DAYS: i32 = 2;
const EARLY_PART: i32 = 4;

/// Whether it is worth while to renew a tank on a day, where it is turned over on another.
///
/// * `every`: how long it stands, days
fn is_worth_while(renewed: Date, turned: Option<Date>, every: i32) -> bool {
    let left = turned.map(|turned| turned.days_since(renewed));
    left.is_none_or(|left| left > EARLY_DAYS || left * EARLY_PART > every)
}

/// The day on which a tank is renewed next; `None` where that is not worth while.
///
/// * `renewed`: the day on which it was last
/// * `due`: the day on which it is due, or renewed before on the last that is one of `weekdays`
/// * `turned`: the day on which it is turned over to another formula
/// * `every`: how long it stands, days
pub(in crate::jobs) fn renewal_day(
    renewed: Date,
    due: Date,
    weekdays: &[Weekday],
    turned: Option<Date>,
    every: i32,
) -> Option<Date> {
    Some(on_weekday(renewed.plus(1), due, weekdays)).filter(|on| is_worth_while(*on, turned, every))
}

/// The days on which a tank is mixed afresh: at the start, wherever the formula turns, and after the days of its renewal, or before on
/// the last day that is one of `weekdays`. Phases that feed the same formula run on in the same tank.
///
/// * `standing`: the tank as its logbook has it: what is over is over, and what is in it is renewed when that has run down
pub(super) fn fills<'a>(phases: &'a [PhaseDates], weekdays: &[Weekday], standing: Option<&Standing>) -> Vec<FillDate<'a>> {
    let mut fills: Vec<FillDate> = Vec::new();
    let not_before = |on: Date| standing.map_or(on, |standing| on.max(standing.today));
    let has = standing.and_then(|standing| standing.has.as_ref());
    for run in phases.chunk_by(|a, b| a.formula == b.formula) {
        let Some(last_day) = run.last().map(|phase| phase.days.to) else { continue };
        let turned = phases.last().filter(|last| last.days.to > last_day).map(|_| last_day.plus(1));
        for phase in run.iter().filter(|phase| not_before(phase.days.to) == phase.days.to) {
            let (from, every) = (not_before(phase.days.from), phase.renewal.days);
            let last = fills.last().map(|fill| (fill.formula, fill.date, fill.date.plus(every))).or_else(|| {
                let (formula, renewed) = has?;
                let planned = renewed.plus(phase.renewal.fixed_days);
                let due = standing.and_then(|standing| standing.ends).map_or(planned, |ends| ends.min(planned));
                Some((formula.as_str(), *renewed, due))
            });
            let (mut due, mut next, mut reason) = match last {
                None => (from, Some(from), FillReason::Start),
                Some((formula, ..)) if formula != phase.formula => (from, Some(from), FillReason::Turn),
                // a shorter interval than that of the phase before may already be over
                Some((_, renewed, due)) => {
                    let (renewed, due) = (renewed.max(from.plus(-1)), due.max(from));
                    (due, renewal_day(renewed, due, weekdays, turned, every), FillReason::Renewal)
                }
            };
            // what is due after the last day of its formula is not renewed on a day before
            while let Some(date) = next.filter(|next| due <= last_day && *next <= phase.days.to) {
                let (renew_days, renew_from) = (every, phase.renewal.from);
                fills.push(FillDate { date, reason, formula: &phase.formula, days: 0, renew_days, renew_from });
                due = date.plus(every);
                next = renewal_day(date, due, weekdays, turned, every);
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
fn on_weekday(from: Date, due: Date, weekdays: &[Weekday]) -> Date {
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
///
/// * `pushed`: the first day of its push, where a logbook moved it
pub(super) fn flowers(cycle: &Cycle, group: &Group, start: Date, pushed: Option<Date>) -> Option<GroupDates> {
    let push_from = pushed.unwrap_or(start.plus(days_to_push(cycle)));
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
