//! The plan of a tank as its logbook has it: what is in the tank ends a phase and begins the next.

use super::record::PhaseDates;
use super::renewal::FromLogbooks;
use super::window::Window;
use crate::bench::{Bench, Formula};
use crate::jobs::engine::blend::usual_water;
use crate::jobs::logbook::{fed, runs_out, state};
use crate::logbook::{Logbook, State, Track};
use crate::quantity::{Date, milliliter};

/// Solution of which so much was let out and made up at once was renewed (own choice).
const RENEWED: f64 = 0.25;
/// A turn so many days before the plan has it is that of the plan (own choice).
const AHEAD_DAYS: i32 = 14;

/// A tank as its logbook has it at a moment.
pub(super) struct Standing {
    pub(super) today: Date,
    /// What plants were fed, one formula after the other, each with its first day.
    fed: Vec<(String, Date)>,
    /// What they are fed, and the day on which the tank was last renewed.
    pub(super) has: Option<(String, Date)>,
    /// The day on which what is in it leaves its limits, by the likely course.
    pub(super) ends: Option<Date>,
}

impl Standing {
    /// * `bench`: with the tank that the logbook is of
    pub(super) fn of(bench: &Bench, logbook: &Logbook, from: FromLogbooks) -> Self {
        let state = state(bench, logbook, from.at, from.patterns);
        let fed_now = fed(bench, &state).filter(|_| state.tank.is_some());
        let renewed = renewed(bench, &state);
        Self {
            today: from.at.date(),
            fed: state.fed.iter().map(|fed| (fed.formula.clone(), fed.since.date())).collect(),
            has: fed_now.zip(renewed).map(|(formula, renewed)| (formula.name.clone(), renewed)),
            ends: fed_now.and_then(|formula| ends(bench, &state, formula, from)),
        }
    }
}

/// The day on which a tank leaves its limits by the likely course, as `today` has it.
fn ends(bench: &Bench, state: &State, formula: &Formula, from: FromLogbooks) -> Option<Date> {
    let water = usual_water(bench, Some(&formula.name)).ok()?;
    state.uptake_per_day?;
    let days = runs_out(bench, state, formula, |days| state.ppm_in(days, Track::Likely, from.patterns, &water))?;
    Some(state.at.plus_days(days).date())
}

/// The day on which the solution was last renewed: filled, turned over to another formula, or a good part of it let out and made up.
pub(in crate::jobs) fn renewed(bench: &Bench, state: &State) -> Option<Date> {
    let least_l = RENEWED * milliliter(bench.tank.volume) * 1e-3;
    // a phase that goes on with what is fed turns nothing over
    let feeds = |phase: &str| bench.formula(phase).map(|formula| (formula.name.clone(), None));
    state.renewed(least_l, &feeds).map(|at| at.date())
}

/// The phases of a tank as its logbook has them, and the day on which it was to be turned over to what it should be fed today,
/// where that is overdue.
///
/// What the tank was turned over to, on the day on which it was, is the next phase of the plan, and all that follows moves with
/// it. What the plan does not have stays out of it; a turn that is overdue is planned for today.
pub(super) fn followed(planned: Vec<PhaseDates>, standing: &Standing) -> (Vec<PhaseDates>, Option<Date>) {
    let Some(start) = planned.first().map(|phase| phase.days.from).filter(|start| *start <= standing.today) else {
        return (planned, None);
    };
    let runs: Vec<&[PhaseDates]> = planned.chunk_by(|a, b| a.formula == b.formula).collect();
    let Some((at, entered)) = entered(&runs, start, &standing.fed) else { return (planned, None) };
    let (mut phases, mut overdue, mut next) = (Vec::new(), None, start);
    for (number, run) in runs.iter().enumerate() {
        let mut from = entered[number].unwrap_or(next);
        let ended = entered.get(number + 1).copied().flatten().map(|next| next.plus(-1));
        let planned_to = from.plus(run.iter().map(|phase| phase.days.days).sum::<i32>() - 1);
        // what is still in the tank goes on until it is turned over, which is overdue then
        let goes_on = Some(standing.today.plus(-1)).filter(|to| number == at && number + 1 < runs.len() && planned_to < *to);
        overdue = overdue.or(goes_on.map(|_| planned_to.plus(1)));
        let to = ended.or(goes_on).unwrap_or(planned_to);
        next = to.plus(1);
        for (position, phase) in run.iter().enumerate() {
            let is_last = position + 1 == run.len();
            let until = if is_last { to } else { from.plus(phase.days.days - 1).min(to) };
            if let Some(days) = Window::new(from, until) {
                phases.push(PhaseDates { days, ..phase.clone() });
                from = until.plus(1);
            }
        }
    }
    (phases, overdue)
}

/// The run of phases on one formula that a tank is in, and the day on which each was entered, as far as it was.
fn entered(runs: &[&[PhaseDates]], start: Date, fed: &[(String, Date)]) -> Option<(usize, Vec<Option<Date>>)> {
    let mut entered: Vec<Option<Date>> = vec![None; runs.len()];
    let mut at: Option<usize> = None;
    for (number, (formula, since)) in fed.iter().enumerate() {
        // over before the plan begins
        if fed.get(number + 1).is_some_and(|(_, next)| *next <= start) {
            continue;
        }
        let feeds =
            |run: &usize| runs.get(*run).is_some_and(|run| run.first().is_some_and(|phase| phase.formula == *formula));
        let since = (*since).max(start);
        match at {
            None => {
                let near = |run: &usize| {
                    let (first, last) = (runs[*run].first()?.days.from, runs[*run].last()?.days.to);
                    (since <= last && first <= since.plus(AHEAD_DAYS)).then_some(first)
                };
                let found = (0..runs.len()).filter(feeds).find_map(|run| Some((run, near(&run)?)));
                if let Some((run, first)) = found {
                    // in the midst of a phase the plan keeps its days
                    entered[run] = Some(first.min(since));
                    at = Some(run);
                }
            }
            Some(run) if feeds(&run) => {}
            Some(run) if feeds(&(run + 1)) => {
                entered[run + 1] = Some(since);
                at = Some(run + 1);
            }
            // turned back to what it was: the phase goes on
            Some(run) if run > 0 && feeds(&(run - 1)) => {
                entered[run] = None;
                at = Some(run - 1);
            }
            Some(_) => {}
        }
    }
    at.map(|at| (at, entered))
}
