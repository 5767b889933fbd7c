//! A saved recipe as one entry: a fresh tank, or a job done whole in a tank that holds something.

use super::events::{amounts, days, parted, recipe_event, written};
use crate::bench::Bench;
use crate::jobs::{JobError, Recipe};
use crate::logbook::Event;
use crate::quantity::{Volume, liter, liters_written, nine_digits};
use crate::tank::saved::of_job;

/// Less than this nobody lets out or fills in, L: what a solver leaves.
pub(in crate::jobs) const LEAST_L: f64 = 1e-3;

/// What was really done where a recipe is not followed to the letter; weights are changed in the recipe itself.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct DoneOtherwise {
    /// What was let out; only where the recipe goes into what a tank holds.
    pub drained: Option<Volume>,
    /// What was filled in.
    pub filled: Option<Volume>,
    /// The level that was read after it.
    pub level_after: Option<Volume>,
    /// What had stayed behind in medium and pipes; only for a fresh tank.
    pub held_back: Option<Volume>,
}

/// What a recipe does to a tank, whole: `filled` where it makes a fresh tank, else `done`.
///
/// * `otherwise`: what was really let out and filled in; where nothing is stated, what the recipe says
///
/// The doses bring what they bring in the recipe, and the water is the one that it was saved with.
///
/// # Errors
/// [`TankError::NoRecipe`](crate::jobs::TankError) for a recipe that cannot be read.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, logbook::Event, jobs::{self, DoneOtherwise, MixOptions, SwitchOptions}};
/// let bench = Bench::starter();
/// let growth = jobs::mixed(&bench, "growth")?;
/// let turned = jobs::switch(&bench, "push", &growth, &SwitchOptions::default(), &MixOptions::default())?;
/// let recipe = jobs::switch_recipe(&bench, &turned);
/// let event = jobs::job_event(&bench, &recipe, &DoneOtherwise::default())?;
/// assert!(matches!(event, Event::Done { drained_l, .. } if (drained_l - turned.drain_l).abs() < 1e-6));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn job_event(bench: &Bench, recipe: &Recipe, otherwise: &DoneOtherwise) -> Result<Event, JobError> {
    let Some(into) = recipe.into else {
        return recipe_event(bench, recipe, otherwise.filled, otherwise.held_back.unwrap_or(liter(0.0)), None);
    };
    let saved = of_job(recipe, bench)?;
    let hold = bench.formula(recipe.formula.as_deref().unwrap_or_default()).and_then(|formula| formula.hold_at_most);
    let told = |told_l: f64| if told_l < LEAST_L { 0.0 } else { nine_digits(told_l) };
    let drained_l = otherwise.drained.map_or(told(into.drained_l), liters_written);
    let (level_before_l, filled_l) =
        match (otherwise.level_after.map(liters_written), otherwise.filled.map(liters_written), into.level_l) {
            // filled up to another level than told
            (Some(after), None, Some(before)) if after >= before - drained_l => {
                (Some(nine_digits(before)), told(after - before + drained_l))
            }
            // what was read after it says what was there before it
            (Some(after), filled, _) => {
                let filled_l = filled.unwrap_or(told(into.filled_l));
                (Some(nine_digits(after - filled_l + drained_l)), filled_l)
            }
            (None, filled, before) => (before.map(nine_digits), filled.unwrap_or(told(into.filled_l))),
        };
    let (water, mg) = parted(&saved.bench.water.nutrients, filled_l, &saved.brought_mg());
    let water = if filled_l > 0.0 { amounts(&water) } else { [].into() };
    Ok(Event::Done {
        formula: recipe.formula.clone(),
        hold_at_most_days: hold.map(days),
        level_before_l,
        drained_l,
        filled_l,
        water_ppm: water,
        salts_g: written(saved.grams()),
        bottles_ml: written(saved.bottles_ml()),
        mg: amounts(&mg),
    })
}
