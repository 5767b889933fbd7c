//! What the tank holds now.

use super::events::days;
use super::record::{BackRecord, ElementNow, NowRecord, Range, ValueAt};
use crate::bench::{Bench, Formula, Wish};
use crate::jobs::Content;
use crate::jobs::engine::kept_apart::of_urea;
use crate::logbook::{Basis, Feeds, Logbook, Moment, Patterns, Predict, State, TRACKS, Track, state_at};
use crate::matter::{NUTRIENTS, Nutrients};
use crate::quantity::ppm_of;
use crate::safety::{self, Achieved, Finding};
use crate::tank::ec_in;

/// EC in the tank of a bench.
pub(in crate::jobs) struct InTank<'b>(pub(in crate::jobs) &'b Bench);

impl Predict for InTank<'_> {
    fn ec_ms_per_cm(&self, ppm: &Nutrients, water_per_l: f64) -> Option<f64> {
        ec_in(self.0, ppm, water_per_l)
    }
}

/// What a logbook says of its tank at a moment, EC by the chemistry of the bench.
///
/// Reference: docs/logbook.md.
#[must_use]
pub fn logbook_state(bench: &Bench, logbook: &Logbook, at: Moment, patterns: &Patterns) -> State {
    state(bench, logbook, at, patterns)
}

pub(in crate::jobs) fn state(bench: &Bench, logbook: &Logbook, at: Moment, patterns: &Patterns) -> State {
    let mut state = state_at(logbook, at, patterns, &InTank(bench));
    state.follow(&|phase| feeds(bench, phase));
    state
}

/// The formula that a phase feeds, and how long it may: the one that it is called like, else the one that the plan has for it.
pub(super) fn feeds(bench: &Bench, phase: &str) -> Option<Feeds> {
    let planned = || bench.cycle.iter().flat_map(|cycle| &cycle.phases).find(|planned| planned.kind.key() == phase);
    let formula = bench.formula(phase).or_else(|| bench.formula(&planned()?.formula))?;
    Some((formula.name.clone(), formula.hold_at_most.map(days)))
}

/// Low, likely and high of three numbers in the order of the tracks.
pub(in crate::jobs) fn range(of: [f64; 3]) -> Range {
    let [low, likely, high] = of;
    Range { low: low.min(likely).min(high), likely, high: low.max(likely).max(high) }
}

/// EC that the grower's meter should show on each track so many days from now, mS/cm.
pub(in crate::jobs) fn ec_range(
    bench: &Bench,
    state: &State,
    days: f64,
    ppm_on: impl Fn(Track) -> Option<Nutrients>,
) -> Option<[f64; 3]> {
    let mut all = [0.0; 3];
    for track in TRACKS {
        all[track as usize] = ec_in(bench, &ppm_on(track)?, state.water_in(days))? * state.meter_factor;
    }
    Some(all)
}

/// The day to go back from the phase, where it may not last.
pub(in crate::jobs) fn back(state: &State) -> Option<BackRecord> {
    let fed = state.fed.last()?;
    let days = fed.hold_at_most_days?;
    let end = fed.since.plus_days(days);
    Some(BackRecord { hold_at_most_days: days, date: end.date().to_string(), days_left: end.days_since(&state.at) })
}

/// Alkalinity of the likely content by the pH that stands for it, meq/L.
fn alkalinity(bench: &Bench, state: &State) -> Option<f64> {
    let ppm = state.tank?.ppm_on(Track::Likely)?;
    let holding = Content::of_analysis(bench, &ppm, "the logbook").at_ph(bench, state.standing_ph()?).ok()?;
    holding.alkalinity_meq_per_l(bench)
}

/// The floor for nitrogen as a part of the formula's target, where none is stated: own choice.
const FLOOR: f64 = 0.5;

/// The floor for nitrogen of a formula, ppm.
pub(in crate::jobs) fn usual_floor_ppm(formula: Option<&Formula>) -> Option<f64> {
    formula.and_then(Formula::nitrogen_target).map(|target| FLOOR * ppm_of(target))
}

/// The formula of the bench that the plants are fed: what the tank was last brought to, or the phase since feeds.
pub(in crate::jobs) fn fed<'b>(bench: &'b Bench, state: &State) -> Option<&'b Formula> {
    bench.formula(&state.fed.last()?.formula)
}

/// What is to be known of a tank that a logbook tells of, most severe first.
///
/// * `floor_ppm`: nitrogen under which it must not fall
pub(in crate::jobs) fn findings(
    bench: &Bench,
    state: &State,
    formula: Option<&Formula>,
    floor_ppm: Option<f64>,
) -> Vec<Finding> {
    let achieved = NUTRIENTS.into_iter().filter_map(|nutrient| {
        let (low, likely, _) = state.range_ppm(nutrient)?;
        let wish = formula.and_then(|formula| formula.wish(nutrient));
        let [target_ppm, min_ppm, max_ppm] = wish.map(Wish::in_ppm).unwrap_or_default();
        Some(Achieved {
            nutrient,
            ppm: likely,
            exact_ppm: likely,
            plus_minus_ppm: likely - low,
            target_ppm,
            min_ppm,
            max_ppm,
        })
    });
    let ec = state.tank.and_then(|tank| ec_range(bench, state, 0.0, |track| tank.ppm_on(track)));
    let mut found = safety::of_logbook(
        state,
        &safety::InTank {
            achieved: &achieved.collect::<Vec<_>>(),
            ec_ms_per_cm: ec.map(range).map(|ec| (ec.likely, ec.likely - ec.low)),
            formula: formula.map(|formula| formula.name.as_str()),
            floor_ppm,
        },
    );
    found.extend(state.tank.and_then(|tank| tank.ppm_on(Track::Likely)).and_then(|ppm| of_urea(bench, &ppm)));
    found
}

/// What the tank holds at a moment: volume, every nutrient with its range and how it is known, EC predicted and read.
///
/// * `at`: entries dated later do not count
/// * `patterns`: how fast plants take each nutrient
///
/// Returns a record whose concentrations are estimates unless their basis is `measured`; only an analysis knows.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, logbook::{Logbook, Moment, Patterns}, jobs};
/// let text = include_str!("../../../examples/streptocarpus-logbook.jsonl");
/// let logbook = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
/// let at = Moment::parse("2026-10-20 09:00+02:00")?;
/// let now = jobs::now(&Bench::starter(), &logbook, at, &Patterns::standard());
/// assert_eq!(now.phase.as_deref(), Some("push"));
/// # Ok::<(), String>(())
/// ```
#[must_use]
pub fn now(bench: &Bench, logbook: &Logbook, at: Moment, patterns: &Patterns) -> NowRecord {
    let state = state(bench, logbook, at, patterns);
    let formula = fed(bench, &state);
    let value = |read: Option<(Moment, f64)>| read.map(|(at, value)| ValueAt { value, at: at.to_string() });
    let booked = state.tank.and_then(|tank| tank.ppm(&tank.booked_mg));
    let elements = NUTRIENTS.into_iter().filter_map(|nutrient| {
        let (low, likely, high) = state.range_ppm(nutrient)?;
        let booked_ppm = booked.map_or(0.0, |ppm| ppm[nutrient]);
        let basis = state.basis(nutrient);
        let known = basis != Basis::Bookkeeping;
        (high > 0.0 || booked_ppm > 0.0).then(|| ElementNow {
            element: nutrient.symbol().to_owned(),
            ppm: likely,
            low_ppm: known.then_some(low),
            high_ppm: high,
            booked_ppm,
            basis: match basis {
                Basis::Measured => "measured",
                Basis::Bookkeeping => "bookkeeping",
                Basis::Estimate => "estimate",
            }
            .to_owned(),
        })
    });
    NowRecord {
        version: 1,
        job: "logbook-now".to_owned(),
        at: at.to_string(),
        filled: state.filled.map(|at| at.to_string()),
        formula: state.formula.clone(),
        level_l: state.tank.map(|tank| (tank.volume_l - tank.held_back_l).max(0.0)),
        held_back_l: state.tank.map_or(0.0, |tank| tank.held_back_l),
        litres_per_day: state.litres_per_day,
        carried_on_days: state.carried_on_days,
        phase: state.phase.as_ref().map(|phase| phase.name.clone()),
        phase_since: state.phase.as_ref().map(|phase| phase.since.to_string()),
        back: back(&state),
        stalks_seen: state.stalks.map(|at| at.to_string()),
        elements: elements.collect(),
        ec_ms_cm: state.tank.and_then(|tank| ec_range(bench, &state, 0.0, |track| tank.ppm_on(track))).map(range),
        ec_read_ms_cm: value(state.ec),
        meter_scale: bench.meter.map(|meter| meter.factor),
        meter_factor: state.meter_factor,
        meter_by: state.meter_by.map(|by| by.name().to_owned()),
        ph_read: value(state.ph),
        alkalinity_meq_l: alkalinity(bench, &state),
        temperature_read_c: value(state.temperature),
        findings: findings(bench, &state, formula, usual_floor_ppm(formula)),
    }
}
