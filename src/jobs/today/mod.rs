//! What to do today: every tank by its logbook and by the plan, and every group by the plan.

mod fill;
mod groups;
mod ph;
mod record;

pub use record::{
    CrossToday, Due, DueBy, DueKind, FillUp, GroupEvent, GroupNext, PhCorrection, PhToday, RipensToday, TodayGroup,
    TodayRecord, TodayTank,
};

use self::fill::{Poured, fill_up, lacks_l, turned_over};
use self::groups::groups;
use self::ph::ph;
use crate::bench::{Bench, Formula};
use crate::jobs::Content;
use crate::jobs::cycle::{
    Begin, CycleRecord, Fill, FillReason, FromLogbooks, TankPlan, cycle, is_worth_while, on_weekday, renewed,
};
use crate::jobs::engine::blend::usual_blend;
use crate::jobs::logbook::LEAST_L;
use crate::jobs::logbook::{back, ec_range, fed, findings as found, range, runs_out, state, usual_floor_ppm};
use crate::jobs::record::handling::{minded, salts_of, weighed_out};
use crate::jobs::{General, Handling, JobError, Recipe, ValueAt};
use crate::logbook::{Logbook, Moment, Patterns, State, Track};
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::{Date, Weekday, liter, liter_of, milliliter};
use crate::safety::Finding;

/// A reading is due after so many days, own choice: the habit that the estimate of uptake rests on.
const READ_EVERY_DAYS: i32 = 7;
/// So often at most weights and the correction of the pH are reckoned by turns: own choice, each time what is left is some
/// hundredths of what it was.
const SETTLED_IN: usize = 3;

/// What a day is looked at by.
#[derive(Debug, Clone, Copy)]
pub struct TodayAsked<'a> {
    /// The logbooks, one a tank: that which its first entry names, else the first.
    pub logbooks: &'a [&'a Logbook],
    /// The moment; entries dated later do not count.
    pub at: Moment,
    /// How fast plants take each nutrient.
    pub patterns: &'a Patterns,
    /// When the plan begins; else as the bench file says.
    pub begin: Option<Begin>,
    /// True where the recipe of what is poured into a tank is wanted as well.
    pub with_recipe: bool,
}

/// What is in each tank, what is due by plan and by forecast, what fills it up, which acid the last pH asks for; whose pollen
/// to collect, whose stigmas are open, what ripens.
///
/// # Errors
/// [`JobError::NoCycle`] for a beginning of a plan that the bench file does not have; [`JobError::NothingKnown`] where there is
/// neither a logbook nor a plan.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, logbook::{Logbook, Moment, Patterns}, jobs::{self, DueKind, TodayAsked}};
/// let text = include_str!("../../../examples/streptocarpus-logbook.jsonl");
/// let logbook = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
/// let (at, patterns) = (Moment::parse("2026-10-30 09:00+01:00")?, Patterns::standard());
/// let asked = TodayAsked { logbooks: &[&logbook], at, patterns: &patterns, begin: None, with_recipe: false };
/// let today = jobs::today(&Bench::starter(), &asked).map_err(|error| error.to_string())?;
/// assert!(today.tanks[0].due.iter().any(|due| due.what == DueKind::Read && due.days_left < 0));
/// # Ok::<(), String>(())
/// ```
///
/// Reference: `docs/today.md`.
pub fn today(bench: &Bench, asked: &TodayAsked) -> Result<TodayRecord, JobError> {
    let date = asked.at.date();
    let begin = asked.begin.or(bench.cycle.as_ref().and_then(|cycle| cycle.start).map(Begin::On));
    let told = (!asked.logbooks.is_empty()).then_some(FromLogbooks {
        logbooks: asked.logbooks,
        at: asked.at,
        patterns: asked.patterns,
    });
    let (plan, no_plan) = match begin.map(|begin| cycle(bench, begin, told)).transpose() {
        Ok(Some(plan)) => (Some(plan), None),
        Ok(None) if bench.cycle.is_none() => (None, Some("the bench file has no [cycle]".to_owned())),
        Ok(None) => (None, Some("nothing says when it begins: state `start`, here or in [cycle]".to_owned())),
        // a formula that the shelf cannot make stops the plan, and not what the logbook has to say
        Err(error) if error.exit_status() == 1 => (None, Some(error.in_a_line())),
        Err(error) => return Err(error),
    };
    if plan.is_none() && asked.logbooks.is_empty() {
        return Err(JobError::NothingKnown { why: no_plan.unwrap_or_default() });
    }
    let plans: &[TankPlan] = plan.as_ref().map_or(&[], |plan: &CycleRecord| &plan.tanks);
    let tanks = tanks(bench, plans, asked)?;
    Ok(TodayRecord {
        version: 1,
        job: "today".to_owned(),
        bench: bench.name.clone(),
        at: asked.at.to_string(),
        date,
        plan_from: plan.as_ref().map(|plan| plan.start),
        no_plan,
        tanks,
        groups: plan.as_ref().map_or_else(Vec::new, |plan| groups(plan, date)),
    })
}

/// Every tank of the plan, and every other of which a logbook tells, the first of the bench before the others.
fn tanks(bench: &Bench, plans: &[TankPlan], asked: &TodayAsked) -> Result<Vec<TodayTank>, JobError> {
    let first = bench.tanks.first().map(|(id, _)| id.as_str());
    let logbook = |id: Option<&str>| asked.logbooks.iter().copied().find(|logbook| logbook.tank().or(first) == id);
    let own = plans.iter().find(|plan| plan.group.is_none());
    let mut all: Vec<TodayTank> = Vec::new();
    // of a water of which little is left each tank takes what those before it leave
    let left = |all: &[TodayTank]| {
        let mut left = bench.clone();
        for told in all.iter().filter_map(|tank| tank.fill_up.as_ref()).flat_map(|fill| &fill.waters) {
            for source in left.waters.iter_mut().filter(|source| source.id == told.id) {
                source.on_hand = source.on_hand.map(|there| liter((milliliter(there) * 1e-3 - told.litres).max(0.0)));
            }
        }
        left
    };
    if own.is_some() || logbook(first).is_some() {
        all.push(tank(bench, (first, own), logbook(first), asked)?);
    }
    for plan in plans.iter().filter(|plan| plan.group.is_some()) {
        let id = plan.tank.as_deref();
        let there = left(&all);
        let here = there.clone().with_tank(liter(plan.volume_l));
        let here = id.and_then(|id| there.with_tank_of(id)).unwrap_or(here);
        let logbook = id.and_then(|id| logbook(Some(id)));
        all.push(tank(&here, (id, Some(plan)), logbook, asked)?);
    }
    for (id, _) in bench.tanks.iter().skip(1) {
        let planned = plans.iter().any(|plan| plan.tank.as_ref() == Some(id));
        if let (false, Some(logbook), Some(here)) = (planned, logbook(Some(id)), left(&all).with_tank_of(id)) {
            all.push(tank(&here, (Some(id), None), Some(logbook), asked)?);
        }
    }
    Ok(all)
}

/// One tank.
fn tank(
    bench: &Bench,
    (id, plan): (Option<&str>, Option<&TankPlan>),
    logbook: Option<&Logbook>,
    asked: &TodayAsked,
) -> Result<TodayTank, JobError> {
    let date = asked.at.date();
    let state = logbook.map(|logbook| state(bench, logbook, asked.at, asked.patterns));
    let formula = state.as_ref().and_then(|state| fed(bench, state));
    let renewed = logbook.and_then(|logbook| renewed(bench, logbook, asked.at));
    let weekdays = bench.cycle.as_ref().map_or(&[][..], |cycle| &cycle.renew_on);
    let mut due = by_plan(plan, weekdays, state.as_ref(), formula, renewed, date);
    // where no blend of the waters keeps the formula there is no course either
    let usual = match usual_blend(bench, formula.map(|formula| formula.name.as_str())) {
        Ok(usual) => Some(usual),
        Err(error) if error.exit_status() == 3 => return Err(error),
        Err(_) => None,
    };
    let usual = usual.as_deref();
    if let Some(state) = &state {
        due.extend(by_logbook(bench, state, formula, asked.patterns, usual.map(|bench| &bench.water.nutrients)));
    }
    due.sort_by_key(|due| due.on);
    let fresh = fresh(&due);
    let there = state.as_ref().and_then(|state| Some((state, state.tank.filter(|tank| tank.volume_l > 1e-6)?)));
    // what is filled in brings alkalinity of its own, and is in before the acid
    let lacks = there.filter(|_| formula.is_some() && fresh.is_none()).map_or(0.0, |(_, tank)| lacks_l(bench, &tank));
    let water = usual.filter(|_| lacks > 0.0).and_then(|bench| Content::of_water(bench).ok());
    let water = water.filter(|water| water.alkalinity_known);
    let asks = |filled, fill: Option<&FillUp>| {
        there.and_then(|(state, tank)| ph(bench, state, &tank, formula, fresh.is_some(), filled, fill))
    };
    let with_water = water.as_ref().map(|water| (water, lacks));
    let mut ph = asks(with_water, None);
    let pour = |ph: Option<&PhToday>| match (&state, there, formula, fresh) {
        (Some(state), _, _, Some(due)) => match due.formula.as_deref() {
            Some(to) => turned_over(bench, to, state, there.map(|(_, tank)| tank).as_ref(), due.what == DueKind::Renew),
            None => Ok(Poured::nothing("a fresh tank is due")),
        },
        (_, None, ..) => Ok(Poured::nothing("nothing is in it")),
        (_, Some(_), None, _) => Ok(Poured::nothing("no formula is known that it is fed")),
        (_, Some((state, tank)), Some(formula), _) => {
            let believed = state.standing_ph().filter(|_| ph.is_none_or(|ph| !ph.doubted));
            let there = ph.and_then(|ph| ph.correction.as_ref()).filter(|of| of.on_shelf);
            fill_up(bench, formula, state, &tank, (believed, there))
        }
    };
    let mut poured = pour(ph.as_ref())?;
    // the weights move the pH that is corrected, and what corrects it need not be weighed in again
    for _ in 0..SETTLED_IN {
        let again = asks(with_water.filter(|_| poured.fill.is_some()), poured.fill.as_ref().filter(|_| fresh.is_none()));
        if again == ph {
            break;
        }
        poured = pour(again.as_ref())?;
        ph = again;
    }
    let Poured { fill: fill_up, why_not: no_fill_up, recipe } = poured;
    let (handling, cautions) = to_mind(bench, fill_up.as_ref(), ph.as_ref());
    let value = |read: (Moment, f64)| ValueAt { value: read.1, at: read.0.to_string() };
    let of = |of: fn(&State) -> Option<(Moment, f64)>| state.as_ref().and_then(of).map(value);
    let phase = state.as_ref().and_then(|state| state.phase.clone());
    let planned = plan.and_then(|plan| plan.phases.iter().find(|phase| is_within(phase.days, date)));
    Ok(TodayTank {
        tank: id.map(str::to_owned),
        group: plan.and_then(|plan| plan.group.clone()),
        volume_l: liter_of(bench.tank.volume),
        logbook: logbook.is_some(),
        filled: state.as_ref().and_then(|state| state.filled).map(|at| at.to_string()),
        formula: formula.map(|formula| formula.name.clone()),
        phase_since: phase.as_ref().map(|phase| phase.since.to_string()),
        stalks_seen: state
            .as_ref()
            .and_then(|state| state.stalks)
            .filter(|_| state.as_ref().and_then(back).is_some())
            .map(|at| at.to_string()),
        phase: phase.map(|phase| phase.name),
        planned_phase: planned.map(|phase| phase.phase.clone()),
        level_l: there.map(|(_, tank)| (tank.volume_l - tank.held_back_l).max(0.0)),
        held_back_l: there.map_or(0.0, |(_, tank)| tank.held_back_l),
        nitrogen_ppm: there.and_then(|(state, _)| {
            let (low, likely, high) = state.range_ppm(Nutrient::N)?;
            Some(range([low, likely, high]))
        }),
        ec_ms_cm: there.and_then(|(state, tank)| ec_range(bench, state, |track| tank.ppm_on(track))).map(range),
        ec_read_ms_cm: of(|state| state.ec),
        meter_scale: bench.meter.map(|meter| meter.factor),
        due,
        fill_up,
        no_fill_up,
        recipe: recipe.filter(|recipe| asked.with_recipe && does_something(recipe)),
        ph,
        handling,
        cautions,
        findings: state.as_ref().map_or_else(Vec::new, |state| found(bench, state, formula, usual_floor_ppm(formula))),
    })
}

/// False for a recipe by which nothing is let out, filled in or measured in.
fn does_something(recipe: &Recipe) -> bool {
    let moves = recipe.into.is_none_or(|into| into.drained_l + into.filled_l >= LEAST_L);
    moves || !recipe.doses.is_empty()
}

/// That for which the tank is renewed or turned over today: another formula before the same afresh.
fn fresh(due: &[Due]) -> Option<&Due> {
    let now = due.iter().filter(|due| due.what != DueKind::Read && due.by != DueBy::Forecast && due.days_left <= 0);
    now.min_by_key(|due| due.what == DueKind::Renew)
}

/// What to mind with all that a tank is told to be given; nothing where that is water alone.
fn to_mind(bench: &Bench, fill: Option<&FillUp>, ph: Option<&PhToday>) -> (Vec<Handling>, Vec<General>) {
    let corrects = ph.and_then(|ph| ph.correction.as_ref()).map(|of| of.salt.as_str());
    let weighed = fill.into_iter().flat_map(|fill| weighed_out(&fill.doses, &fill.helpers));
    let salts = salts_of(bench, weighed.chain(corrects));
    if salts.is_empty() {
        return (Vec::new(), Vec::new());
    }
    let told: Vec<&Finding> = fill.iter().flat_map(|fill| fill.stops.iter().chain(&fill.chelates)).collect();
    let spent: Vec<f64> = ph.iter().map(|ph| ph.read.value).collect();
    let minded = minded(bench, salts, &told, &spent);
    (minded.handling, minded.cautions)
}

pub(super) fn is_within(days: crate::jobs::Window, date: Date) -> bool {
    days.from <= date && date <= days.to
}

/// What the plan asks of a tank: the formula of its phase, and a fresh tank every so many days, on one of `weekdays` where there
/// are any.
fn by_plan(
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
    let now = plan.phases.iter().position(|phase| is_within(phase.days, date));
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
                let next = on_weekday(renewed.plus(1), renewed.plus(phase.renewal.fixed_days), weekdays);
                // not in the last days of a phase that is followed by another formula
                let ends = plan.phases.iter().find(|later| later.days.from > date && later.formula != formula);
                if is_worth_while(next, ends.map(|ends| ends.days.from), phase.renewal.fixed_days) {
                    all.push(due(DueKind::Renew, formula, next));
                }
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
fn by_logbook(
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
    let last = [state.ec.map(|(at, _)| at), state.filled].into_iter().flatten().max();
    if let Some(last) = last {
        due(DueKind::Read, DueBy::Habit, None, last.date().plus(READ_EVERY_DAYS), None);
    }
    all
}
