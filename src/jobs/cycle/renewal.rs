//! How long a fresh tank is fed before it is renewed: by the grower's own figure, or earlier by the logbook.

use super::renewal_record::{LearntRecord, Renewal, RenewalEnd, RenewalFrom};
use crate::bench::{Bench, Cycle, Formula};
use crate::jobs::logbook::{FORECAST_DAYS, InTank, usual_floor_ppm};
use crate::logbook::{Learnt, Logbook, Moment, Pace, Patterns, TRACKS, Track, learn};
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::WholeDays;
use crate::tank::chemistry::ms_per_cm;
use crate::tank::ec_in;

/// The logbooks that a plan follows, and that renewal days are learnt from.
#[derive(Debug, Clone, Copy)]
pub struct FromLogbooks<'a> {
    /// One a tank: that which its first entry names, else the first.
    pub logbooks: &'a [&'a Logbook],
    /// Entries dated later do not count.
    pub at: Moment,
    /// How fast plants take each nutrient.
    pub patterns: &'a Patterns,
}

/// What was learnt, ready for every tank of the plan.
pub(super) struct Pacing<'a> {
    pub(super) learnt: Learnt,
    patterns: &'a Patterns,
}

impl<'a> Pacing<'a> {
    pub(super) fn of(bench: &Bench, cycle: &Cycle, logbook: &Logbook, from: FromLogbooks<'a>) -> Self {
        let wanted: Vec<&str> = cycle.phases.iter().map(|phase| phase.formula.as_str()).collect();
        Self { learnt: learn(logbook, from.at, &wanted, from.patterns, &InTank(bench)), patterns: from.patterns }
    }

    /// The pace for a formula: that of its own latest filling, else that of the latest of all.
    fn pace(&self, formula: &str) -> Option<&Pace> {
        let paces = &self.learnt.paces;
        paces.iter().find(|pace| pace.formula.as_deref() == Some(formula)).or_else(|| paces.first())
    }
}

/// A tank of the plan, filled afresh.
#[derive(Clone, Copy)]
pub(super) struct Fresh<'a> {
    pub(super) formula: &'a str,
    pub(super) ppm: &'a Nutrients,
    /// What the water brings that replaces what evaporates, ppm.
    pub(super) water: &'a Nutrients,
    pub(super) volume_l: f64,
    /// True when it is the tank of a group's own: other plants than those of the logbook.
    pub(super) own_tank: bool,
}

/// When a fresh tank of a phase is renewed: after `fixed`, or earlier where the logbook says that it has run down by then.
pub(super) fn renewal(bench: &Bench, pacing: Option<&Pacing>, fresh: Fresh, fixed: WholeDays) -> Renewal {
    let own = |learnt| Renewal {
        days: fixed.0,
        from: RenewalFrom::Fixed,
        fixed_days: fixed.0,
        logbook_days: None,
        low_days: None,
        low_ends_by: None,
        low_limit: None,
        ends_by: None,
        limit: None,
        learnt,
    };
    let Some((pacing, pace)) = pacing.and_then(|pacing| Some((pacing, pacing.pace(fresh.formula)?))) else {
        return own(None);
    };
    let learnt = own(Some(learnt(pace)));
    let volume_l = fresh.volume_l + pace.fresh.held_back_l;
    // of a group's own plants nothing is known: as many as the logbook's, or as many for each litre if that is more
    let volume_l = if fresh.own_tank { volume_l.min(pace.fresh.volume_l) } else { volume_l };
    let course = |days: f64, track: Track| pace.ppm_in(days, track, pacing.patterns, fresh.water, fresh.ppm, volume_l);
    let water = |days: f64| 1.0 + pace.litres_per_day.unwrap_or(0.0) / volume_l * days;
    let Some(formula) = bench.formula(fresh.formula) else { return learnt };
    let tank = Tank { bench, formula, meter_factor: pace.meter_factor, course: &course, water: &water };
    // as early as it may be: nitrogen by the pattern that warnings go by, EC by whichever leaves its limits first
    let learnt = match tank.runs_down(Track::Low, &TRACKS) {
        Some((day, end, limit)) => {
            Renewal { low_days: Some(day - 1), low_ends_by: Some(end), low_limit: Some(limit), ..learnt }
        }
        None => learnt,
    };
    let Some((day, end, limit)) = tank.runs_down(Track::Likely, &[Track::Likely]) else { return learnt };
    let whole = day - 1;
    let days = whole.max(1).min(fixed.0);
    let from = if whole < fixed.0 { RenewalFrom::Logbook } else { RenewalFrom::Fixed };
    Renewal { days, from, logbook_days: Some(whole), ends_by: Some(end), limit: Some(limit), ..learnt }
}

/// A fresh tank that runs down.
struct Tank<'a> {
    bench: &'a Bench,
    formula: &'a Formula,
    meter_factor: f64,
    /// Its content after so many days, and the water that went in for each litre of it.
    course: &'a dyn Fn(f64, Track) -> Nutrients,
    water: &'a dyn Fn(f64) -> f64,
}

impl Tank<'_> {
    fn ec(&self, days: f64, track: Track) -> Option<f64> {
        Some(ec_in(self.bench, &(self.course)(days, track), (self.water)(days))? * self.meter_factor)
    }

    /// The first whole day on which it is past one of its limits, which, and where that stands.
    ///
    /// A limit that the fresh tank is past already is none that it runs down to, and is left to the findings of its mix.
    fn runs_down(&self, nitrogen: Track, ec: &[Track]) -> Option<(i32, RenewalEnd, f64)> {
        let nitrogen = |days: f64, floor: f64| (self.course)(days, nitrogen)[Nutrient::N] < floor;
        let under = |days: f64, min: f64| ec.iter().any(|track| self.ec(days, *track).is_some_and(|ec| ec < min));
        let over = |days: f64, max: f64| ec.iter().any(|track| self.ec(days, *track).is_some_and(|ec| ec > max));
        let (min, max) = (self.formula.ec.min.map(ms_per_cm), self.formula.ec.max.map(ms_per_cm));
        let floor = usual_floor_ppm(Some(self.formula)).filter(|floor| !nitrogen(0.0, *floor));
        let (min, max) = (min.filter(|min| !under(0.0, *min)), max.filter(|max| !over(0.0, *max)));
        (1..=FORECAST_DAYS).find_map(|day| {
            let at = f64::from(day);
            let past = floor
                .filter(|floor| nitrogen(at, *floor))
                .map(|floor| (RenewalEnd::NitrogenFloor, floor))
                .or_else(|| min.filter(|min| under(at, *min)).map(|min| (RenewalEnd::EcMin, min)))
                .or_else(|| max.filter(|max| over(at, *max)).map(|max| (RenewalEnd::EcMax, max)));
            let (end, limit) = past?;
            Some((i32::try_from(day).ok()?, end, limit))
        })
    }
}

fn learnt(pace: &Pace) -> LearntRecord {
    LearntRecord {
        formula: pace.formula.clone(),
        filled: pace.filled.to_string(),
        volume_l: pace.fresh.volume_l - pace.fresh.held_back_l,
        read_from: pace.from.to_string(),
        read_to: pace.until.to_string(),
        ec_ms_cm: pace.ec_ms_cm,
        meter_factor: pace.meter_factor,
        litres_per_day: pace.litres_per_day,
    }
}
