//! What is to come: when nitrogen falls under a floor, when EC leaves its range, what to add now.

use super::now::{back, ec_range, fed, findings, range, state, usual_floor_ppm};
use super::record::{DayRange, DayRecord, ForecastRecord, MissedRecord, RestoreRecord};
use super::restore::restored;
use crate::bench::{Bench, Formula};
use crate::jobs::engine::blend::usual_water;
use crate::jobs::engine::question::formula;
use crate::jobs::recipe::filled_up_recipe;
use crate::jobs::{JobError, Recipe};
use crate::logbook::{Logbook, Moment, Patterns, State, TRACKS, Tank, Track};
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::{Limits, liter_of};
use crate::safety::is_burning_ph;
use crate::tank::chemistry::ms_per_cm;

/// Days that a forecast looks at: own choice; no plant keeps its pace for longer.
pub(in crate::jobs) const DAYS: u32 = 90;
/// Days between the rows of the course.
const WEEK: usize = 7;

/// What a forecast is held against.
#[derive(Debug, Clone, Copy, Default)]
pub struct ForecastAsked<'a> {
    /// A formula; else the one that the tank was filled to.
    pub formula: Option<&'a str>,
    /// A floor for nitrogen, ppm; else half of the formula's target.
    pub floor_ppm: Option<f64>,
}

/// Limits of EC that a formula states, mS/cm.
pub(in crate::jobs) fn ec_limits(formula: &Formula) -> Limits<f64> {
    formula.ec.map(ms_per_cm)
}

/// True where the meter of a logbook would read an EC outside of limits in such a content so many days from now.
pub(in crate::jobs) fn is_ec_outside(
    bench: &Bench,
    state: &State,
    limits: Limits<f64>,
    (days, ppm): (f64, &Nutrients),
) -> bool {
    let ec = || crate::tank::ec_in(bench, ppm, state.water_in(days)).map(|ec| ec * state.meter_factor);
    let is_outside = |ec| limits.min.is_some_and(|min| ec < min) || limits.max.is_some_and(|max| ec > max);
    limits.is_any() && ec().is_some_and(is_outside)
}

/// The first day, by tenths, on which `holds` is true; days are looked at one by one and the first is halved down.
pub(in crate::jobs) fn first_day(holds: impl Fn(f64) -> bool) -> Option<f64> {
    if holds(0.0) {
        return Some(0.0);
    }
    let day = (1..=DAYS).map(f64::from).find(|day| holds(*day))?;
    let (mut before, mut after) = (day - 1.0, day);
    while after - before > 0.01 {
        let middle = 0.5 * (before + after);
        if holds(middle) { after = middle } else { before = middle }
    }
    Some(after)
}

/// Days until nitrogen is under its floor, or EC out of the formula's range, on the course `after` so many days.
pub(in crate::jobs) fn runs_out(
    bench: &Bench,
    state: &State,
    formula: &Formula,
    after: impl Fn(f64) -> Option<Nutrients>,
) -> Option<f64> {
    let floor = usual_floor_ppm(Some(formula));
    let outside = |days: f64, ppm: &Nutrients| is_ec_outside(bench, state, ec_limits(formula), (days, ppm));
    let under = |ppm: &Nutrients| floor.is_some_and(|floor| ppm[Nutrient::N] < floor);
    first_day(|days| after(days).is_some_and(|ppm| under(&ppm) || outside(days, &ppm)))
}

/// Three dates by track, from the days on which something first holds.
fn days(at: Moment, of: impl Fn(Track) -> Option<f64>) -> DayRange {
    let mut all: Vec<Option<f64>> = TRACKS.into_iter().map(of).collect();
    let date = |day: Option<f64>| day.map(|day| at.plus_days(day).date().to_string());
    let likely = date(all[Track::Likely as usize]);
    // never comes last
    all.sort_by(|a, b| a.unwrap_or(f64::MAX).total_cmp(&b.unwrap_or(f64::MAX)));
    DayRange { earliest: date(all[0]), likely, latest: date(all[2]) }
}

/// What is to come, if uptake and loss of water go on as they did and the loss is made up with the bench's water; of several
/// waters with the blend of a fresh tank of the formula.
///
/// * `at`: where it starts; entries dated later do not count
/// * `patterns`: how fast plants take each nutrient
///
/// Returns dates by the low, the likely and the high pattern, and the salts that would bring the tank back to its formula
/// by the likely one, with their recipe where there is anything to add. All of it is an estimate; only an analysis knows.
///
/// # Errors
/// [`JobError::UnknownFormula`] when a formula is asked for that the bench lacks.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, logbook::{Logbook, Moment, Patterns}, jobs::{self, ForecastAsked}};
/// let text = include_str!("../../../examples/streptocarpus-logbook.jsonl");
/// let logbook = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
/// let at = Moment::parse("2026-10-20 09:00+02:00")?;
/// let forecast = jobs::forecast(&Bench::starter(), &logbook, at, &Patterns::standard(), ForecastAsked::default());
/// let floor = forecast.map_err(|error| error.to_string())?.0.floor_ppm.unwrap();
/// assert!((floor - 18.0).abs() < 1e-9, "half of 36 ppm");
/// # Ok::<(), String>(())
/// ```
pub fn forecast(
    bench: &Bench,
    logbook: &Logbook,
    at: Moment,
    patterns: &Patterns,
    asked: ForecastAsked,
) -> Result<(ForecastRecord, Option<Recipe>), JobError> {
    let state = state(bench, logbook, at, patterns);
    let formula = match asked.formula {
        Some(name) => Some(formula(bench, name)?),
        None => fed(bench, &state),
    };
    let floor_ppm = asked.floor_ppm.or(usual_floor_ppm(formula));
    let floor_from = floor_ppm.map(|_| if asked.floor_ppm.is_some() { "stated" } else { "half of the target" }.to_owned());
    let known = state.tank.is_some() && state.uptake_per_day.is_some();
    let water = usual_water(bench, formula.map(|formula| formula.name.as_str()))?;
    let after = |day: f64, track| state.ppm_in(day, track, patterns, &water);
    let ec_limits = formula.map(ec_limits).unwrap_or_default();
    let outside = |days: f64, ppm: &Nutrients| is_ec_outside(bench, &state, ec_limits, (days, ppm));
    let (to_add, adds, no_restore) = match to_add(bench, formula, &state, &after) {
        Ok((record, recipe)) => (Some(record), recipe, None),
        Err(why) => (None, None, Some(why)),
    };
    let record = ForecastRecord {
        version: 1,
        job: "logbook-forecast".to_owned(),
        at: at.to_string(),
        formula: formula.map(|formula| formula.name.clone()),
        floor_ppm,
        floor_from,
        days: DAYS,
        nitrogen_under_floor: floor_ppm
            .filter(|_| known)
            .map(|floor| days(at, |track| first_day(|day| after(day, track).is_some_and(|ppm| ppm[Nutrient::N] < floor)))),
        ec_min_ms_cm: ec_limits.min,
        ec_max_ms_cm: ec_limits.max,
        meter_scale: bench.meter.map(|meter| meter.factor),
        ec_outside: (known && ec_limits.is_any())
            .then(|| days(at, |track| first_day(|day| after(day, track).is_some_and(|ppm| outside(day, &ppm))))),
        back: back(&state),
        course: if known { course(bench, &state, &after) } else { Vec::new() },
        restore: to_add,
        no_restore,
        findings: findings(bench, &state, formula, floor_ppm),
    };
    Ok((record, adds))
}

/// What to add now, with its recipe where that is anything; or in words why nothing can be said.
fn to_add(
    bench: &Bench,
    formula: Option<&Formula>,
    state: &State,
    after: &dyn Fn(f64, Track) -> Option<Nutrients>,
) -> Result<(RestoreRecord, Option<Recipe>), String> {
    let formula = formula.ok_or("no formula is known: state `formula`")?;
    let tank = state.tank.ok_or("no entry fills the tank")?;
    let ppm = tank.ppm_on(Track::Likely).ok_or("the tank is empty")?;
    let read_ph = state.read_ph().map(|(_, ph)| ph);
    if state.ph_in_it().is_some_and(is_burning_ph) {
        return Err("the pH comes first: `today` says what is known of it; no plant is fed with this".to_owned());
    }
    let (mut record, mix) = restored(bench, formula, &tank, &ppm, (state.standing_ph(), read_ph))
        .map_err(|error| error.to_string().lines().collect::<Vec<_>>().join(";"))?;
    record.missed.iter_mut().for_each(|missed| comes_down(missed, (state, &tank), after));
    let level_l = liter_of(bench.tank.volume) - record.water_l;
    let is_something = !record.doses.is_empty() || record.water_l > 0.0;
    let recipe = is_something.then(|| filled_up_recipe(bench, &formula.name, &mix, record.water_l, level_l, None));
    Ok((record, recipe))
}

/// How what is over its target comes down without draining: by what plants take.
fn comes_down(missed: &mut MissedRecord, (state, tank): (&State, &Tank), after: &dyn Fn(f64, Track) -> Option<Nutrients>) {
    let Some(nutrient) = Nutrient::parse(&missed.element).filter(|_| missed.ppm > missed.target_ppm) else { return };
    // as much as is over goes the way of what was there before anything was added
    let there = tank.ppm_on(Track::Likely).map_or(0.0, |ppm| ppm[nutrient]);
    if state.uptake_per_day.is_some() && there > 0.0 {
        let left = |day: f64| after(day, Track::Likely).map(|ppm| ppm[nutrient] * missed.ppm / there);
        let day = first_day(|day| left(day).is_some_and(|ppm| ppm <= missed.target_ppm));
        missed.taken_by = day.map(|day| state.at.plus_days(day).date().to_string());
    }
}

/// Rows a week apart, over six weeks.
fn course(bench: &Bench, state: &State, after: &dyn Fn(f64, Track) -> Option<Nutrients>) -> Vec<DayRecord> {
    (0..=6 * WEEK)
        .step_by(WEEK)
        .filter_map(|day| {
            let day = f64::from(u32::try_from(day).unwrap_or(DAYS));
            let mut nitrogen = [0.0; 3];
            for track in TRACKS {
                nitrogen[track as usize] = after(day, track)?[Nutrient::N];
            }
            Some(DayRecord {
                date: state.at.plus_days(day).date().to_string(),
                nitrogen_ppm: range(nitrogen),
                ec_ms_cm: ec_range(bench, state, day, |track| after(day, track)).map(range),
            })
        })
        .collect()
}
