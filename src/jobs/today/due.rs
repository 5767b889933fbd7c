//! What is due in a tank: by the plan, and by what its logbook tells.

use super::record::{Due, DueBy, DueKind};
use crate::bench::{Bench, Formula};
use crate::jobs::cycle::{Fill, FillReason, TankPlan, renewal_day};
use crate::jobs::logbook::{back, runs_out};
use crate::logbook::{Patterns, State, Track};
use crate::matter::{Kind, Nutrients};
use crate::quantity::{Date, Weekday};
use crate::safety::{is_burning_ph, read_ph_remedy};

/// A reading is due after so many days, own choice: the habit that the estimate of uptake rests on.
const READ_EVERY_DAYS: i32 = 7;

/// That for which the tank is renewed or turned over today: another formula before the same afresh.
pub(super) fn fresh(due: &[Due]) -> Option<&Due> {
    let now = due.iter().filter(|due| due.what != DueKind::Read && due.by != DueBy::Forecast && due.days_left <= 0);
    now.min_by_key(|due| due.what == DueKind::Renew)
}

/// True where it is mixed afresh, or turned over, tomorrow: what is filled in today is let out then.
pub(super) fn is_fresh_tomorrow(due: &[Due]) -> bool {
    due.iter().any(|due| due.what != DueKind::Read && due.by != DueBy::Forecast && due.days_left == 1)
}

/// What the plan asks of a tank: the formula of its phase, and a fresh tank every so many days, on one of `weekdays` where there
/// are any.
pub(super) fn by_plan(
    plan: Option<&TankPlan>,
    weekdays: &[Weekday],
    state: Option<&State>,
    fed: Option<&Formula>,
    renewed: Option<Date>,
    date: Date,
) -> Vec<Due> {
    let Some(plan) = plan else { return Vec::new() };
    let due = |what, formula: &str, on: Date| Due {
        what,
        by: DueBy::Plan,
        formula: Some(formula.to_owned()),
        on,
        days_left: on.days_since(date),
        earliest: None,
    };
    let mut all = Vec::new();
    let now = plan.phases.iter().position(|phase| phase.days.holds(date));
    let filled = state.is_some_and(|state| state.filled.is_some());
    if let Some(phase) = now.map(|at| &plan.phases[at]) {
        let formula = phase.formula.as_str();
        // phases that feed it one after the other are one
        let mut run = plan.phases.chunk_by(|a, b| a.formula == b.formula);
        let from = run.find(|run| run.contains(phase)).and_then(|run| run.first()).map_or(date, |first| first.days.from);
        let from = plan.turn_overdue_since.unwrap_or(from);
        let has = fed.is_some_and(|fed| fed.name == formula);
        match renewed {
            // without a logbook the plan's own fills are all that is known
            None if state.is_none() => {
                let on = plan.fills.iter().find(|fill| fill.date == date);
                let what = |fill: &Fill| match fill.reason {
                    FillReason::Start => DueKind::Fill,
                    FillReason::Turn => DueKind::Switch,
                    FillReason::Renewal => DueKind::Renew,
                };
                all.extend(on.map(|fill| due(what(fill), &fill.formula, fill.date)));
            }
            _ if !filled => all.push(due(DueKind::Fill, formula, from)),
            Some(_) if !has => all.push(due(DueKind::Switch, formula, from)),
            Some(renewed) => {
                let ends = plan.phases.iter().find(|later| later.days.from > date && later.formula != formula);
                let (turned, every) = (ends.map(|ends| ends.days.from), phase.renewal.fixed_days);
                let next = renewal_day(renewed, renewed.plus(every), weekdays, turned, every);
                let next = next.filter(|next| plan.phases.last().is_some_and(|last| *next <= last.days.to));
                all.extend(next.map(|next| due(DueKind::Renew, formula, next)));
            }
            None => {}
        }
    }
    let current = now.map(|at| plan.phases[at].formula.as_str());
    let later = plan.phases.iter().find(|phase| phase.days.from > date && Some(phase.formula.as_str()) != current);
    let ahead = if filled || now.is_some() { DueKind::Switch } else { DueKind::Fill };
    all.extend(later.map(|phase| due(ahead, &phase.formula, phase.days.from)));
    all
}

/// What the tank itself asks: before nitrogen falls under its floor or EC leaves its range, before the phase lasts too long,
/// and a reading a week.
///
/// * `water`: what brings back what evaporates, ppm
pub(super) fn by_logbook(
    bench: &Bench,
    state: &State,
    formula: Option<&Formula>,
    patterns: &Patterns,
    water: Option<&Nutrients>,
) -> Vec<Due> {
    let date = state.at.date();
    let mut all = Vec::new();
    let mut due = |what, by, formula: Option<&str>, on: Date, earliest: Option<Date>| {
        let days_left = on.days_since(date);
        all.push(Due { what, by, formula: formula.map(str::to_owned), on, days_left, earliest });
    };
    if state.tank.is_none() {
        return all;
    }
    if let Some(hold) = back(state) {
        let on = state.at.plus_days(hold.days_left).date();
        due(DueKind::Switch, DueBy::HoldAtMost, bench.formula("growth").map(|growth| growth.name.as_str()), on, None);
    }
    if let (Some(formula), Some(water), true) = (formula, water, state.uptake_per_day.is_some()) {
        let ends = |track| runs_out(bench, state, formula, |days| state.ppm_in(days, track, patterns, water));
        let day = |days: f64| state.at.plus_days(days).date();
        let [low, likely] = [Track::Low, Track::Likely].map(ends);
        if let Some(on) = likely.map(day) {
            let earliest = low.map(day).filter(|earliest| *earliest < on);
            due(DueKind::Renew, DueBy::Forecast, Some(&formula.name), on, earliest);
        }
    }
    let wish = bench.acid.as_ref().map(|acid| acid.target_ph);
    let unaired = state.unaired_ph().filter(|(ph, _)| read_ph_remedy(*ph, wish).is_some());
    // with an acid on the bench a fresh tank is read once it has aired
    let fresh = state.aired_unread().filter(|_| wish.is_some());
    let burns = state.ph_in_it().filter(|ph| is_burning_ph(*ph));
    let corrects = |id: &String| {
        bench.catalogue.find(id).is_some_and(|salt| matches!(bench.catalogue.salt(salt).kind, Kind::Acid | Kind::Base))
    };
    let soured = state.added_unread().filter(|(_, salts)| salts.iter().any(corrects)).map(|(from, _)| from);
    let from = fresh.or(unaired.map(|(_, from)| from)).or(soured);
    let again = burns.map(|_| date).or_else(|| from.map(|from| from.date()));
    if let Some(on) = again {
        due(DueKind::Read, DueBy::Doubt, None, on, None);
    }
    let last = [state.ec.map(|(at, _)| at), state.filled].into_iter().flatten().max();
    // read again today, the rest is read with it
    if let Some(last) = last.filter(|_| burns.is_none()) {
        due(DueKind::Read, DueBy::Habit, None, last.date().plus(READ_EVERY_DAYS), None);
    }
    all
}
