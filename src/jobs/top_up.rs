//! What to pour into a tank that is filled up and not drained: what plants took comes back with the water that they lost.

use serde::Serialize;

use super::engine::blend::blended;
use super::engine::question::{MixOptions, formula as formula_called};
use super::error::JobError;
use super::logbook::{FORECAST_DAYS, ec_limits, fed, first_day, is_ec_outside, state, usual_floor_ppm};
use super::mix::mix;
use super::recipe::filled_up_recipe;
use super::record::MixRecord;
use super::{Recipe, RecipeInto};
use crate::bench::{Bench, Formula, Wish};
use crate::logbook::{self, Logbook, Moment, Patterns, State, Track};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{Date, Limits, TARGET_PPM, Volume, fixed, liter, liter_of, ppm, ppm_of};
use crate::safety::{self, Code, Severity, is_burning_ph};

/// Poured over so many days where no volume is stated (own choice).
const DAYS_OF_POURING: f64 = 7.0;
/// Poured beyond what plants take by this factor at the most (own choice: what whole steps of a scale leave open).
const OVER: f64 = 1.05;
/// What is over its target by this share has built up (own choice).
const BUILT_UP: f64 = 0.25;
/// Findings of the mix that hold for what is poured; the others judge what stands in a tank.
const OF_POURING: [Code; 5] =
    [Code::CannotBeWeighed, Code::TargetMissed, Code::WillPrecipitate, Code::WhyMissed, Code::WouldHelp];

/// What is asked of a top-up.
#[derive(Debug, Clone, Copy)]
pub struct TopUpAsked<'a> {
    /// The formula that the tank should keep; else the one that it is fed.
    pub formula: Option<&'a str>,
    /// The logbook, which tells what plants take and how much water goes.
    pub logbook: &'a Logbook,
    /// The moment; entries dated later do not count.
    pub at: Moment,
    /// How fast plants take each nutrient.
    pub patterns: &'a Patterns,
    /// How much is mixed; else what a week loses.
    pub volume: Option<Volume>,
}

/// What plants take of one nutrient, and what brings it back.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Taken {
    /// Its symbol.
    pub element: String,
    /// What they take a day from a tank that is as its formula asks, mg.
    pub mg_per_day: f64,
    /// What every litre that is poured has to hold for that, ppm.
    pub wanted_ppm: f64,
    /// What it holds as measured out, its water counted, ppm.
    pub poured_ppm: f64,
}

/// Something that builds up.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct BuildsUp {
    /// Its symbol; `EC` for the meter.
    pub what: String,
    /// What it is under until then: ppm, or mS/cm of the meter.
    pub limit: f64,
    /// Where the limit comes from: `formula`, `finding` (what is called too much in any tank) or `target` (25 % over, own choice).
    pub limit_from: String,
    /// The day on which it is over, by the likely course.
    pub on: Date,
    /// Days until then.
    pub days_left: i32,
}

/// What to pour.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TopUpRecord {
    /// What is poured, as a mix of its own formula.
    #[serde(flatten)]
    pub mix: MixRecord,
    /// The moment, RFC 3339 with offset.
    pub at: String,
    /// The formula that the tank keeps.
    pub keeps: String,
    /// Water that goes a day, which is as much as is poured, L.
    pub litres_per_day: f64,
    /// What plants take, and what brings it back.
    pub taken: Vec<Taken>,
    /// What builds up all the same, the first first; empty where nothing does within `horizon_days`.
    pub builds_up: Vec<BuildsUp>,
    /// The day to drain all the same: that of the first of them.
    pub drain_by: Option<Date>,
    /// The floor of nitrogen, half of its target (own choice), ppm; null where the formula names none.
    pub floor_ppm: Option<f64>,
    /// The day on which nitrogen falls under it all the same, by the likely course: the shelf does not bring all of it back.
    pub nitrogen_short_on: Option<Date>,
    /// Days that were looked at.
    pub horizon_days: u32,
}

/// The top-up of a tank: of each nutrient that the formula names as much in every litre as plants take while they lose a litre.
///
/// With uptake k a day on the likely pattern, speed s, target c and volume V of the full tank, what is held back included, plants take
/// k s c V a day; with L litres lost a day each litre that is poured holds k s c V / L of it. What else the water and the salts bring stays:
/// the course of the tank under that pouring (`dc/dt = -k s c + (L / V) p`) says when something is over.
///
/// # Errors
/// [`JobError::NoTopUp`] where the logbook does not tell uptake or loss; else as [`mix`].
///
/// Reference: `docs/top-up.md`.
pub fn top_up(bench: &Bench, asked: &TopUpAsked) -> Result<(TopUpRecord, Recipe), JobError> {
    let state = state(bench, asked.logbook, asked.at, asked.patterns);
    let formula = match asked.formula {
        Some(name) => formula_called(bench, name)?,
        None => fed(bench, &state).ok_or_else(|| no("no formula is known that the tank is fed"))?,
    };
    let (tank, per_day, lost) = known(&state)?;
    let full = liter_of(bench.tank.volume) + tank.held_back_l;
    let takes = |nutrient, target_ppm: f64| per_day * asked.patterns.speed(Track::Likely, nutrient) * target_ppm * full;
    let targets: Vec<(&Wish, f64)> = formula.wishes.iter().filter_map(|wish| Some((wish, ppm_of(wish.target?)))).collect();
    let litres = asked.volume.map_or(DAYS_OF_POURING * lost, liter_of);
    let can = |water: Option<&Nutrients>| {
        let wanted = targets.iter().map(|(wish, target)| (**wish, takes(wish.nutrient, *target) / lost));
        let poured = pouring(formula, water, wanted)?;
        let name = poured.name.clone();
        let mut can = Bench { formulas: vec![poured], ..bench.clone() }.with_tank(liter(litres));
        can.formulas.extend(bench.formulas.iter().cloned());
        Ok::<_, JobError>((can, name))
    };
    // several waters are blended for the targets alone; what the blend brings then loosens the limits, as of one water
    let (free, name) = can(None)?;
    let Bench { water, blend, .. } = blended(&free, &name, &MixOptions::default())?.into_owned();
    let (can, name) = can(Some(&water.nutrients))?;
    let can = Bench { water, blend, ..can };
    let mut made = mix(&can, &name, &MixOptions::default())?;
    "top-up".clone_into(&mut made.job);
    (made.against_growth, made.evidence, made.hold_at_most_days) = (None, None, None);
    made.findings.retain(|finding| finding.severity == Severity::Stop || OF_POURING.contains(&finding.code));
    made.mind(&can, &[], &[], &[]);
    let brings = made.content_ppm();
    let after = |days: f64| state.ppm_in(days, Track::Likely, asked.patterns, &brings);
    let floor_ppm = usual_floor_ppm(Some(formula));
    let short = floor_ppm.and_then(|floor| first_day(|days| after(days).is_some_and(|ppm| ppm[Nutrient::N] < floor)));
    let over = builds_up(bench, formula, &state, &after);
    let taken = targets.iter().map(|(wish, target)| Taken {
        element: wish.nutrient.symbol().to_owned(),
        mg_per_day: takes(wish.nutrient, *target),
        wanted_ppm: takes(wish.nutrient, *target) / lost,
        poured_ppm: brings[wish.nutrient],
    });
    let recipe = filled_up_recipe(&can, &formula.name, &made, litres, 0.0, None);
    let recipe = Recipe { into: recipe.into.map(|into| RecipeInto { level_l: None, ..into }), ..recipe };
    let record = TopUpRecord {
        at: state.at.to_string(),
        keeps: formula.name.clone(),
        litres_per_day: lost,
        taken: taken.collect(),
        drain_by: over.first().map(|one| one.on),
        builds_up: over,
        floor_ppm,
        nitrogen_short_on: short.map(|days| state.at.plus_days(days).date()),
        horizon_days: FORECAST_DAYS,
        mix: made,
    };
    Ok((record, recipe))
}

fn no(why: &str) -> JobError {
    JobError::NoTopUp { why: why.to_owned() }
}

/// The tank, the likely uptake a day, and the water that goes a day, L.
fn known(state: &State) -> Result<(logbook::Tank, f64, f64), JobError> {
    let tank = state.tank.filter(|tank| tank.volume_l > 1e-6).ok_or_else(|| no("by the logbook the tank is empty"))?;
    if let Some(ph) = state.ph_in_it().filter(|ph| is_burning_ph(*ph)) {
        let why = format!("pH {} was read, with which no plant is fed: `today` says what is known of it", fixed(ph, 1));
        return Err(JobError::NoTopUp { why });
    }
    let per_day = state.uptake_per_day.map(|all| all[Track::Likely as usize]).filter(|uptake| *uptake > 0.0);
    let per_day = per_day.ok_or_else(|| no("no readings tell what plants take: it needs EC, and again some days later"))?;
    let lost = state.litres_per_day.filter(|lost| *lost > 0.0);
    let lost = lost.ok_or_else(|| no("no levels tell how much water goes: read the level before each filling up"))?;
    Ok((tank, per_day, lost))
}

/// The formula of what is poured: the targets, the share of ammonium, and, where a water is told, no more than the targets but
/// for what it brings.
fn pouring(
    formula: &Formula,
    water: Option<&Nutrients>,
    wanted: impl Iterator<Item = (Wish, f64)>,
) -> Result<Formula, JobError> {
    let mut wishes = Vec::new();
    for (wish, wanted) in wanted.filter(|(_, wanted)| *wanted >= TARGET_PPM.low) {
        if TARGET_PPM.check(wanted).is_err() {
            let why = format!(
                "so little water goes that each litre would have to hold {wanted:.0} ppm {}",
                wish.nutrient.symbol()
            );
            return Err(JobError::NoTopUp { why });
        }
        // what is poured beyond what plants take stays in the tank, so no nutrient makes up for another that falls short
        let max = water.map(|water| ppm(OVER * wanted.max(water[wish.nutrient])));
        wishes.push(Wish { target: Some(ppm(wanted)), min: None, max, ..wish });
    }
    if wishes.is_empty() {
        return Err(JobError::NoTopUp { why: format!("`{}` has no target that plants take", formula.name) });
    }
    let share = Limits { min: None, max: formula.ammonium_share.max };
    let name = format!("{} top-up", formula.name);
    Ok(Formula { name, wishes, ammonium_share: share, ec: Limits::default(), hold_at_most: None })
}

/// What is over a limit within the days that are looked at, the first first.
fn builds_up(bench: &Bench, formula: &Formula, state: &State, after: &dyn Fn(f64) -> Option<Nutrients>) -> Vec<BuildsUp> {
    let told = |what: &str, limit: f64, limit_from: &str, days: f64| {
        let on = state.at.plus_days(days).date();
        let days_left = on.days_since(state.at.date());
        BuildsUp { what: what.to_owned(), limit, limit_from: limit_from.to_owned(), on, days_left }
    };
    let mut all = Vec::new();
    for nutrient in NUTRIENTS.into_iter().filter(|nutrient| !nutrient.is_nitrogen_form()) {
        let wish = formula.wish(nutrient);
        let max = wish.and_then(|wish| wish.max).map(|max| (ppm_of(max), "formula"));
        let target = wish.and_then(|wish| wish.target).map(|target| (ppm_of(target) * (1.0 + BUILT_UP), "target"));
        let too_much = safety::too_much_ppm(nutrient).map(|most| (most, "finding"));
        let limits = [max, target, too_much].into_iter().flatten();
        let Some((limit, from)) = limits.min_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
        let day = first_day(|days| after(days).is_some_and(|ppm| ppm[nutrient] > limit));
        all.extend(day.map(|days| told(nutrient.symbol(), limit, from, days)));
    }
    if let Some(limit) = ec_limits(formula).max {
        let most = Limits { min: None, max: Some(limit) };
        let is_over = |days: f64, ppm: &Nutrients| is_ec_outside(bench, state, most, (days, ppm));
        let day = first_day(|days| after(days).is_some_and(|ppm| is_over(days, &ppm)));
        all.extend(day.map(|days| told("EC", limit, "formula", days)));
    }
    all.sort_by_key(|one: &BuildsUp| one.on);
    all
}
