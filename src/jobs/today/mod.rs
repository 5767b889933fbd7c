//! What to do today: every tank by its logbook and by the plan, and every group by the plan.

mod due;
mod fill;
mod groups;
mod ph;
mod pour;
mod record;

pub use record::{
    CrossToday, Due, DueBy, DueKind, FillUp, GroupEvent, GroupNext, Left, PhCorrection, PhToday, RipensToday, TodayGroup,
    TodayRecord, TodayTank,
};

use std::borrow::Cow;

use self::due::{by_logbook, by_plan, fresh, is_fresh_tomorrow};
use self::fill::Poured;
use self::groups::groups;
use self::pour::AskedOf;
use crate::bench::{Bench, Formula};
use crate::jobs::cycle::{Begin, CycleRecord, FromLogbooks, TankPlan, cycle, renewed};
use crate::jobs::engine::blend::usual_blend;
use crate::jobs::logbook::LEAST_L;
use crate::jobs::logbook::{back, ec_range, fed, findings as found, range, state, usual_floor_ppm};
use crate::jobs::record::bottle::too_old;
use crate::jobs::record::handling::{minded, salts_of, weighed_out};
use crate::jobs::shelf::{left_over, without};
use crate::jobs::{Act, General, Handling, JobError, Recipe, Step, ValueAt};
use crate::logbook::{Basis, Logbook, Moment, Patterns, State, Track};
use crate::matter::{Nutrient, Salt};
use crate::quantity::{Date, liter, liter_of, milliliter};
use crate::safety::{Code, Finding, Severity, Substance, burns_as_read, ph_range_words, restricted};

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
    let ended = plan
        .as_ref()
        .and_then(|plan| plan.tanks.iter().filter_map(|tank| tank.phases.last()).map(|last| last.days.to).max());
    let no_plan = no_plan.or(ended.filter(|ended| *ended < date).map(|ended| {
        format!("it ended on {ended}; what is due is told by the logbook alone, and a fresh tank every week or two is common practice")
    }));
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
        left: left_over(bench),
    })
}

/// Every tank of the plan, and every other of which a logbook tells, the first of the bench before the others.
fn tanks(bench: &Bench, plans: &[TankPlan], asked: &TodayAsked) -> Result<Vec<TodayTank>, JobError> {
    let first = bench.tanks.first().map(|(id, _)| id.as_str());
    let logbook = |id: Option<&str>| asked.logbooks.iter().copied().find(|logbook| logbook.tank().or(first) == id);
    let own = plans.iter().find(|plan| plan.group.is_none());
    let mut all: Vec<TodayTank> = Vec::new();
    // of what is on hand each tank takes what those before it leave
    let left = |all: &[TodayTank]| {
        let mut left = bench.clone();
        for fill in all.iter().filter_map(|tank| tank.fill_up.as_ref()) {
            without(&mut left, &fill.doses);
        }
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
    let renewed = state.as_ref().and_then(|state| renewed(bench, state));
    let weekdays = bench.cycle.as_ref().map_or(&[][..], |cycle| &cycle.renew_on);
    let mut due = by_plan(plan, weekdays, state.as_ref(), formula, renewed, date);
    let usual = usual(bench, formula)?;
    let usual = usual.as_deref();
    if let Some(state) = &state {
        due.extend(by_logbook(bench, state, formula, asked.patterns, usual.map(|bench| &bench.water.nutrients)));
    }
    // what is turned back today is not turned back again
    let turned_to = fresh(&due).filter(|due| due.what == DueKind::Switch).and_then(|due| due.formula.clone());
    due.retain(|one| one.by != DueBy::HoldAtMost || one.days_left <= 0 || turned_to.is_none() || one.formula != turned_to);
    due.sort_by_key(|due| due.on);
    let there = state.as_ref().and_then(|state| Some((state, state.tank.filter(|tank| tank.volume_l > 1e-6)?)));
    let asked_of = |due: &[Due]| {
        let (fresh, fresh_tomorrow) = (fresh(due), is_fresh_tomorrow(due));
        AskedOf { bench, formula, state: state.as_ref(), there, usual, fresh, fresh_tomorrow }.poured()
    };
    let mut poured = asked_of(&due)?;
    // what filling up leaves a stop in, or lets run down, is made anew, where that has none
    let stopped = |poured: &Poured| poured.fill.as_ref().is_some_and(|fill| fill.stops.iter().any(is_stop));
    let by = match (stopped(&poured.0), poured.0.adds_nothing && has_run_down(&due)) {
        (true, _) => Some(DueBy::Stop),
        (false, true) => Some(DueBy::Lack),
        (false, false) => None,
    };
    if let (Some(by), None, Some(formula)) = (by, fresh(&due), formula) {
        let anew = made_anew(&due, formula, date, by);
        let instead = asked_of(&anew)?;
        if instead.0.fill.is_some() && !stopped(&instead.0) {
            (due, poured) = (anew, instead);
        }
    }
    let poured_turn = fresh(&due).is_some();
    let (Poured { fill: fill_up, why_not: no_fill_up, recipe, .. }, mut ph) = poured;
    ended(ph.as_mut(), fill_up.as_ref());
    read_after_correction(&mut due, date, ph.as_ref());
    let salts = poured_in(bench, fill_up.as_ref(), ph.as_ref());
    let (handling, cautions) = to_mind(bench, &salts, fill_up.as_ref(), ph.as_ref());
    let mut findings = state.as_ref().map_or_else(Vec::new, |state| found_here(bench, state, formula, poured_turn));
    let of = |salt: &&Salt| Substance::of(salt, bench.catalogue.ions(), bench.catalogue.salts());
    findings.extend(salts.iter().map(of).filter_map(|substance| restricted(&substance)));
    findings.extend(fill_up.iter().flat_map(|fill| too_old(&fill.helpers, Some(date))));
    findings.extend(ph.as_ref().filter(|ph| ph.stands).and_then(|ph| {
        let held = there.and_then(|(_, tank)| tank.ppm_on(Track::Likely)).unwrap_or_default();
        burns_as_read(ph.read.value, ph.doubted, held[Nutrient::AmmoniumN] > 0.0, held[Nutrient::UreaN] > 0.0)
    }));
    findings.sort_by_key(|finding| finding.severity);
    let value = |read: (Moment, f64)| ValueAt { value: read.1, at: read.0.to_string() };
    let of = |of: fn(&State) -> Option<(Moment, f64)>| state.as_ref().and_then(of).map(value);
    let phase = state.as_ref().and_then(|state| state.phase.clone());
    let planned = plan.and_then(|plan| plan.phases.iter().find(|phase| phase.days.holds(date)));
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
        uptake_known: there.is_some_and(|(state, _)| state.basis(Nutrient::N) != Basis::Bookkeeping),
        ec_ms_cm: there.and_then(|(state, tank)| ec_range(bench, state, 0.0, |track| tank.ppm_on(track))).map(range),
        ec_read_ms_cm: of(State::read_ec),
        meter_scale: bench.meter.map(|meter| meter.factor),
        due,
        fill_up,
        no_fill_up,
        recipe: recipe.filter(|recipe| asked.with_recipe && does_something(recipe)),
        ph,
        handling,
        cautions,
        findings,
    })
}

/// True for what no plant is fed with; that something is too little to weigh, or is rounded up, is no such thing.
fn is_stop(finding: &Finding) -> bool {
    finding.severity == Severity::Stop && ![Code::CannotBeWeighed, Code::RaisedToFloor].contains(&finding.code)
}

/// True for a tank that has run down.
fn has_run_down(due: &[Due]) -> bool {
    due.iter().any(|due| due.what == DueKind::Renew && due.by == DueBy::Forecast && due.days_left <= 0)
}

/// What is due of a tank that is let out today, since filling it up does not do.
fn made_anew(due: &[Due], formula: &Formula, date: Date, by: DueBy) -> Vec<Due> {
    let anew = Due { what: DueKind::Renew, by, formula: Some(formula.name.clone()), on: date, days_left: 0, earliest: None };
    let mut all: Vec<Due> = due.iter().filter(|due| due.what != DueKind::Renew).cloned().collect();
    all.push(anew);
    all.sort_by_key(|due| due.on);
    all
}

/// What is to be known of a tank but its pH, of which the page has more to say, and its nitrogen where it is turned over today.
fn found_here(bench: &Bench, state: &State, formula: Option<&Formula>, turned: bool) -> Vec<Finding> {
    let mut all = found(bench, state, formula, usual_floor_ppm(formula));
    let of_what_is_let_out = [Code::NitrogenUnderFloor, Code::KeptFromAcid];
    all.retain(|one| one.code != Code::PhOutside && !(turned && of_what_is_let_out.contains(&one.code)));
    all
}

/// What corrects the pH by itself ends as a mix does: the meter decides, and then the pump is plugged in.
fn ended(ph: Option<&mut PhToday>, fill: Option<&FillUp>) {
    let Some(of) = ph.and_then(|ph| ph.correction.as_mut()) else { return };
    let with_it = |fill: &FillUp| !fill.doses.is_empty() || of.order.iter().all(|step| fill.order.contains(step));
    if !fill.is_some_and(with_it) {
        let text = format!(
            "Stir, and read the pH: at {} dry hands, plug in, cover it; else the rest, bit by bit, unless told to stop.",
            ph_range_words()
        );
        of.order.push(Step::plain(Act::Look, None, text));
    }
}

/// The day after an acid or a base the pH is read again: it moves while carbon dioxide goes out or comes in.
fn read_after_correction(due: &mut Vec<Due>, date: Date, ph: Option<&PhToday>) {
    if ph.and_then(|ph| ph.correction.as_ref()).is_some_and(|of| of.acid || of.on_shelf) {
        due.push(Due {
            what: DueKind::Read,
            by: DueBy::Doubt,
            formula: None,
            on: date.plus(1),
            days_left: 1,
            earliest: None,
        });
        due.sort_by_key(|due| due.on);
    }
}

/// The bench in the blend of its waters that is usual for a formula; nothing where none keeps it, and then there is no course either.
fn usual<'b>(bench: &'b Bench, formula: Option<&Formula>) -> Result<Option<Cow<'b, Bench>>, JobError> {
    match usual_blend(bench, formula.map(|formula| formula.name.as_str())) {
        Ok(usual) => Ok(Some(usual)),
        Err(error) if error.exit_status() == 3 => Err(error),
        Err(_) => Ok(None),
    }
}

/// False for a recipe by which nothing is let out, filled in or measured in.
fn does_something(recipe: &Recipe) -> bool {
    let moves = recipe.into.is_none_or(|into| into.drained_l + into.filled_l >= LEAST_L);
    moves || !recipe.doses.is_empty()
}

/// All that a tank is told to be given but water.
fn poured_in<'b>(bench: &'b Bench, fill: Option<&FillUp>, ph: Option<&PhToday>) -> Vec<&'b Salt> {
    let corrects = ph.and_then(|ph| ph.correction.as_ref()).map(|of| of.salt.as_str());
    let weighed = fill.into_iter().flat_map(|fill| weighed_out(&fill.doses, &fill.helpers));
    salts_of(bench, weighed.chain(corrects))
}

/// What to mind with it; nothing where that is water alone.
fn to_mind(bench: &Bench, salts: &[&Salt], fill: Option<&FillUp>, ph: Option<&PhToday>) -> (Vec<Handling>, Vec<General>) {
    let told: Vec<&Finding> = fill.iter().flat_map(|fill| fill.stops.iter().chain(&fill.chelates)).collect();
    // what burns is to be minded though nothing goes in, and so is what a finding tells to pour
    if salts.is_empty() && told.iter().all(|finding| finding.adds.is_empty()) && !ph.is_some_and(PhToday::burns) {
        return (Vec::new(), Vec::new());
    }
    let spent: Vec<f64> = ph.iter().map(|ph| ph.read.value).collect();
    let minded = minded(bench, salts.to_vec(), &told, &spent);
    (minded.handling, minded.cautions)
}
