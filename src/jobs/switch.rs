//! From what a tank holds to a formula: how much to drain, refill and weigh in.

use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;

use super::describe::{Made, describe};
use super::error::JobError;
use super::holding::Holding;
use super::mix::{MixOptions, exact_misfit, mix};
use super::parts::Parts;
use super::question::formula as formula_called;
use super::record::{Dose, Element, HelperRecord, MixRecord, Step};
use crate::bench::Bench;
use crate::quantity::{Conductivity, Volume, bucket_text, liter, milliliter, trimmed, volume_text};
use crate::safety;

/// What is known of a tank that is turned over, and how it may be done.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SwitchOptions {
    /// What can be drained now; the tank's own volume unless stated.
    pub level: Option<Volume>,
    /// What stays behind in medium and pipes, with the same content.
    pub held_back: Option<Volume>,
    /// Drain in whole buckets of this size, or all of it.
    pub bucket: Option<Volume>,
    /// Drain just this much.
    pub drain: Option<Volume>,
    /// A rise or fall of EC by more than this at once is warned of.
    pub ec_step: Option<Conductivity>,
    /// The day on which it is done.
    pub on: Option<Date>,
}

/// Nutrients and EC of the tank before it is turned over.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Before {
    /// What can be drained, L.
    pub level_l: f64,
    /// What stays behind, L.
    pub held_back_l: f64,
    /// Where the content is known from.
    pub known_from: String,
    /// What is in it.
    pub elements: Vec<Element>,
    /// EC at 25 C, mS/cm.
    pub ec_ms_cm: f64,
    /// pH in air; null when a product leaves it open.
    pub ph_aired: Option<f64>,
    /// Its low end (k = 2).
    pub ph_aired_low: Option<f64>,
    /// Its high end.
    pub ph_aired_high: Option<f64>,
}

/// One way of turning a tank over.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SwitchOption {
    /// `best fit`, `least waste` or `fixed`.
    pub kind: String,
    /// What to drain, L.
    pub drain_l: f64,
    /// What to fill in, L.
    pub refill_l: f64,
    /// False where limits of the formula cannot be kept.
    pub possible: bool,
    /// Why not.
    pub why_not: Option<String>,
    /// Misfit as measured out; null where it is not possible.
    pub misfit: Option<f64>,
    /// Misfit before rounding; null where it is not possible.
    pub misfit_exact: Option<f64>,
    /// What to measure out.
    pub doses: Vec<Dose>,
    /// Bottles that it draws from, as of a mix.
    pub helpers: Vec<HelperRecord>,
    /// What the tank will hold.
    pub after: Vec<Element>,
    /// EC at 25 C after it, mS/cm; null where it is not possible.
    pub ec_ms_cm: Option<f64>,
}

/// A tank turned over.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SwitchRecord {
    /// The option that is reported in full.
    #[serde(flatten)]
    pub after: MixRecord,
    /// The tank before.
    pub before: Before,
    /// Every option, least drained first.
    pub options: Vec<SwitchOption>,
    /// Kind of the option that the top-level doses repeat.
    pub told: String,
    /// What it drains, L.
    pub drain_l: f64,
    /// What it fills in, L.
    pub refill_l: f64,
    /// The day by which to turn back, where the formula may only be held for so long and the day of the switch is known.
    pub back_by: Option<String>,
}

/// Least waste may miss by this much more than the best.
pub(super) const AS_GOOD: f64 = 0.01;
/// A misfit this near to another is the same.
const SAME: f64 = 1e-9;
/// Shares of what is there that are always shown.
const SHARES: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
/// Points at which the misfit is first looked at, before the interval is narrowed.
const GRID: u32 = 24;
/// Narrowings of an interval.
const NARROWINGS: usize = 48;
const FEW_NARROWINGS: usize = 10;
/// The most buckets that are counted.
const MOST_BUCKETS: f64 = 400.0;
/// A change of EC at once over which roots may suffer, mS/cm: own choice, no source.
const EC_STEP_MS_PER_CM: f64 = 0.5;

/// A tank that is turned over.
pub(super) struct Turn<'b> {
    bench: &'b Bench,
    formula: &'b str,
    holding: &'b Holding,
    /// What can be drained, what stays behind, and the full tank, L.
    level: f64,
    held_back: f64,
    full: f64,
}

impl<'b> Turn<'b> {
    /// A full tank of which nothing stays behind.
    pub(super) fn full(bench: &'b Bench, formula: &'b str, holding: &'b Holding) -> Self {
        let full = milliliter(bench.tank.volume) * 1e-3;
        Self { bench, formula, holding, level: full, held_back: 0.0, full }
    }

    fn refill(&self, drain: f64) -> f64 {
        (self.full - self.level + drain).max(0.0)
    }

    /// The bench whose water is what the tank holds after draining and refilling.
    pub(super) fn bench_after(&self, drain: f64) -> Result<Bench, JobError> {
        let total = self.full + self.held_back;
        let share = ((self.level - drain + self.held_back) / total).clamp(0.0, 1.0);
        let mut bench = self.bench.clone();
        // nothing of the old is left: this is a fresh tank
        if share > 1e-12 {
            bench.water = self.holding.thinned(self.bench, share)?;
        }
        bench.tank.volume = liter(total);
        bench.tank.room = Some(liter(self.refill(drain)));
        Ok(bench)
    }

    /// How often an interval is narrowed. With a limit of EC every look costs many speciations, and a thousandth of the tank
    /// is as near as a bucket comes.
    fn narrowings(&self) -> usize {
        let ec = self.bench.formula(self.formula).map(|formula| formula.ec).unwrap_or_default();
        if ec.min.is_some() || ec.max.is_some() { FEW_NARROWINGS } else { NARROWINGS }
    }

    /// Misfit before rounding after draining so much; infinite where limits cannot be kept.
    fn misfit(&self, drain: f64) -> Result<f64, JobError> {
        exact_misfit(&self.bench_after(drain)?, self.formula)
    }

    /// The least drain with the least misfit, and the least drain that comes within 0.01 of it. The misfit is convex in the
    /// drain, so an interval round its least value is narrowed.
    pub(super) fn best(&self) -> Result<(f64, f64), JobError> {
        let at = |step: u32| self.level * f64::from(step) / f64::from(GRID);
        let mut points: Vec<(f64, f64)> = Vec::new();
        for step in 0..=GRID {
            points.push((at(step), self.misfit(at(step))?));
        }
        let least = |points: &[(f64, f64)]| points.iter().map(|(_, misfit)| *misfit).fold(f64::INFINITY, f64::min);
        let lowest = least(&points);
        if lowest.is_infinite() {
            return Ok((self.level, self.level));
        }
        let near = points.iter().position(|(_, misfit)| *misfit <= lowest + SAME).unwrap_or(0);
        let possible = points[near].0;
        let (mut low, mut high) = (points[near.saturating_sub(1)].0, points[(near + 1).min(points.len() - 1)].0);
        let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
        for _ in 0..self.narrowings() {
            let (a, b) = (high - golden * (high - low), low + golden * (high - low));
            let (of_a, of_b) = (self.misfit(a)?, self.misfit(b)?);
            points.extend([(a, of_a), (b, of_b)]);
            if of_a.is_infinite() && of_b.is_infinite() {
                // what is possible is an interval round a known drain
                (low, high) = if possible < a {
                    (low, a)
                } else if possible > b {
                    (b, high)
                } else {
                    (a, b)
                };
            } else if of_a <= of_b {
                high = b;
            } else {
                low = a;
            }
        }
        let best = least(&points);
        let good = |allowed: f64| -> Result<f64, JobError> {
            let Some(there) =
                points.iter().filter(|(_, misfit)| *misfit <= allowed).map(|(drain, _)| *drain).reduce(f64::min)
            else {
                return Ok(self.level);
            };
            let below = points.iter().filter(|(drain, misfit)| *drain < there && *misfit > allowed).map(|(drain, _)| *drain);
            let (mut low, mut high) = (below.fold(0.0, f64::max), there);
            if self.misfit(low)? <= allowed {
                return Ok(low);
            }
            for _ in 0..self.narrowings() {
                let middle = f64::midpoint(low, high);
                if self.misfit(middle)? <= allowed { high = middle } else { low = middle }
            }
            Ok(high)
        };
        Ok((good(best + SAME)?, good(best + AS_GOOD)?))
    }

    /// The same over whole buckets, or all of it.
    fn best_of(&self, drains: &[f64]) -> Result<(f64, f64), JobError> {
        let mut points: Vec<(f64, f64)> = Vec::new();
        for &drain in drains {
            points.push((drain, self.misfit(drain)?));
        }
        let best = points.iter().map(|(_, misfit)| *misfit).fold(f64::INFINITY, f64::min);
        let first =
            |allowed: f64| points.iter().find(|(_, misfit)| *misfit <= allowed).map_or(self.level, |(drain, _)| *drain);
        Ok((first(best + SAME), first(best + AS_GOOD)))
    }
}

/// Turns a tank over to a formula: the best fit and the least waste, the rows from nothing to all of what is there, and the
/// full report of the best fit (or of the drain asked for).
///
/// c = ((v - D + h) c0 + R w + sum a G) / (V + h): what is left of the old content, and of the water filled in, counts as
/// the water of a mix for V + h.
///
/// # Errors
/// As [`mix`]; [`JobError::NoSwitch`] for a level over the tank, or more drained than there is.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, Holding, MixOptions, SwitchOptions}};
/// let bench = Bench::starter();
/// let growth = Holding::of_formula(&bench, "growth")?;
/// let turned = jobs::switch(&bench, "push", &growth, &SwitchOptions::default(), &MixOptions::default())?;
/// assert!(turned.drain_l > 0.0 && turned.options.len() >= 5);
/// # Ok::<(), jobs::JobError>(())
/// ```
///
/// Reference: `docs/switch.md`.
pub fn switch(
    bench: &Bench,
    formula: &str,
    holding: &Holding,
    how: &SwitchOptions,
    options: &MixOptions,
) -> Result<SwitchRecord, JobError> {
    let asked = formula_called(bench, formula)?;
    let litres = |volume: Volume| milliliter(volume) * 1e-3;
    let full = litres(bench.tank.volume);
    let level = how.level.map_or(full, litres);
    let no = |why: String| Err(JobError::NoSwitch { why });
    if level > full * (1.0 + 1e-9) {
        return no(format!("a level of {} is over the tank's {}", volume_text(liter(level)), volume_text(liter(full))));
    }
    let turn = Turn { bench, formula, holding, level, held_back: how.held_back.map_or(0.0, litres), full };
    let fixed_drain = how.drain.map(litres);
    if fixed_drain.is_some_and(|drain| drain > level * (1.0 + 1e-9)) {
        let asked = fixed_drain.map_or_else(String::new, |drain| volume_text(liter(drain)));
        return no(format!("{asked} cannot be drained: there are {} that can", volume_text(liter(level))));
    }
    let drains: Option<Vec<f64>> = match how.bucket.map(litres) {
        None => None,
        Some(bucket) if level / bucket > MOST_BUCKETS => {
            return no(format!("more than {} buckets: name a larger one", trimmed(MOST_BUCKETS, 0)));
        }
        Some(bucket) => Some(buckets(level, bucket)),
    };
    let (best, least) = match (&drains, fixed_drain) {
        (_, Some(drain)) => (drain, drain),
        (None, None) => {
            // a narrowed drain within a millionth of nothing, or of all of it, is that
            let tidy = |drain: f64| match drain / level {
                share if share < 1e-6 => 0.0,
                share if share > 1.0 - 1e-6 => level,
                _ => drain,
            };
            let (best, least) = turn.best()?;
            (tidy(best), tidy(least))
        }
        (Some(drains), None) => turn.best_of(drains)?,
    };
    let mut rows: Vec<(&str, f64)> = Vec::new();
    for share in SHARES {
        let drain = share * level;
        let nearest = |drains: &Vec<f64>| {
            drains.iter().copied().min_by(|a, b| (a - drain).abs().total_cmp(&(b - drain).abs())).unwrap_or(drain)
        };
        let drain = drains.as_ref().map_or(drain, nearest);
        if !rows.iter().any(|(_, other)| (other - drain).abs() < 1e-9) {
            rows.push(("fixed", drain));
        }
    }
    let told = if fixed_drain.is_some() { "fixed" } else { "best fit" };
    rows.retain(|(_, drain)| (drain - best).abs() > 1e-9);
    rows.push((told, best));
    if fixed_drain.is_none() && (best - least).abs() > 1e-6 {
        rows.push(("least waste", least));
    }
    rows.sort_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(a.0)));
    let mut shown = Vec::new();
    let mut after = Err(JobError::NoSwitch { why: String::new() });
    for (kind, drain) in rows {
        let is_told = kind == told && (drain - best).abs() < 1e-12;
        let options = MixOptions { without_reasons: options.without_reasons || !is_told, ..*options };
        let made = turn.bench_after(drain).and_then(|bench| mix(&bench, formula, &options));
        shown.push(option(kind, drain, turn.refill(drain), made.as_ref())?);
        if is_told {
            after = made;
        }
    }
    let mut after = after?;
    "switch".clone_into(&mut after.job);
    after.bench.clone_from(&bench.name);
    let before = before(&turn)?;
    let refill = turn.refill(best);
    after.order = order(&after, best, refill, &turn);
    let step = how.ec_step.map_or(EC_STEP_MS_PER_CM, super::brew::ms_per_cm);
    after.findings.extend(safety::in_two_steps(before.ec_ms_cm, after.ec_ms_cm, step));
    let back_by = asked.hold_at_most.zip(how.on).and_then(|(hold, on)| {
        let days = hold.get::<uom::si::time::day>().floor();
        #[allow(clippy::cast_possible_truncation, reason = "bounded by the table of bounds")]
        on.checked_add(jiff::Span::new().try_days(days as i64).ok()?).ok()
    });
    after.findings.extend(back_by.map(|date| safety::back_by(&asked.name, &date.to_string())));
    after.findings.sort_by_key(|finding| finding.severity);
    Ok(SwitchRecord {
        after,
        before,
        options: shown,
        told: told.to_owned(),
        drain_l: best,
        refill_l: refill,
        back_by: back_by.map(|date| date.to_string()),
    })
}

/// Nothing, one bucket, two, and all of it.
fn buckets(level: f64, bucket: f64) -> Vec<f64> {
    let mut drains = Vec::new();
    let mut count = 0.0;
    while count * bucket < level - 1e-9 {
        drains.push(count * bucket);
        count += 1.0;
    }
    drains.push(level);
    drains
}

fn option(kind: &str, drain: f64, refill: f64, made: Result<&MixRecord, &JobError>) -> Result<SwitchOption, JobError> {
    let empty = SwitchOption {
        kind: kind.to_owned(),
        drain_l: drain,
        refill_l: refill,
        possible: false,
        why_not: None,
        misfit: None,
        misfit_exact: None,
        doses: Vec::new(),
        helpers: Vec::new(),
        after: Vec::new(),
        ec_ms_cm: None,
    };
    match made {
        Ok(mix) => Ok(SwitchOption {
            possible: true,
            misfit: mix.misfit,
            misfit_exact: mix.misfit_exact,
            doses: mix.doses.clone(),
            helpers: mix.helpers.clone(),
            after: mix.elements.clone(),
            ec_ms_cm: Some(mix.ec_ms_cm),
            ..empty
        }),
        Err(error @ (JobError::Conflict { .. } | JobError::NothingToMixFrom { .. })) => {
            let why = error.to_string().replace("\n  ", "; ");
            Ok(SwitchOption { why_not: Some(why), ..empty })
        }
        Err(error) => Err(error.clone()),
    }
}

/// The tank before, as a mix of which nothing is weighed in.
fn before(turn: &Turn) -> Result<Before, JobError> {
    let mut bench = turn.bench.clone();
    bench.water = turn.holding.thinned(turn.bench, 1.0)?;
    let parts = Parts::new(&bench, Vec::new());
    let made = Made {
        job: "switch",
        bench: &bench,
        formula: None,
        parts: &parts,
        exact_per_l: &[],
        measured: &[],
        proposed: &[],
        misfit_exact: None,
        proved: false,
        stages: Vec::new(),
        acid: None,
        findings: Vec::new(),
    };
    let record = describe(&made, None)?;
    Ok(Before {
        level_l: turn.level,
        held_back_l: turn.held_back,
        known_from: turn.holding.known_from.clone(),
        elements: record.elements,
        ec_ms_cm: record.ec_ms_cm,
        ph_aired: record.ph_aired,
        ph_aired_low: record.ph_aired_low,
        ph_aired_high: record.ph_aired_high,
    })
}

/// How to turn the tank over: the steps of a mix between draining and topping up.
fn order(after: &MixRecord, drain: f64, refill: f64, turn: &Turn) -> Vec<Step> {
    let step = |text: String| Step { text };
    let mut steps = Vec::new();
    if drain > 1e-9 {
        steps.push(step(format!("Drain {}.", bucket_text(drain))));
    }
    if refill > 1e-9 {
        steps.push(step(format!("Fill in most of {} of water.", bucket_text(refill))));
    }
    let middle = after.order.len().saturating_sub(1);
    steps.extend(after.order.iter().take(middle).skip(1).cloned());
    let full = volume_text(liter(turn.full));
    let behind = if turn.held_back > 0.0 {
        format!(" let the pump mix in the {} that stayed behind,", volume_text(liter(turn.held_back)))
    } else {
        String::new()
    };
    steps.push(step(format!("Top up to {full}, stir,{behind} and read EC and pH.")));
    steps
}
