//! A saved recipe as one entry: a fresh tank, or a job done whole in a tank that holds something.

use super::events::{amounts, days, parted, recipe_event};
use crate::bench::Bench;
use crate::jobs::{JobError, Recipe};
use crate::logbook::Event;
use crate::quantity::{Volume, liter, liters_written, nine_digits};
use crate::tank::saved::of_job;

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
    let drained_l = otherwise.drained.map_or(nine_digits(into.drained_l), liters_written);
    let filled_l = otherwise.filled.map_or(nine_digits(into.filled_l), liters_written);
    // what was read after it says what was there before it
    let read = otherwise.level_after.map(|after| nine_digits(liters_written(after) - filled_l + drained_l));
    let (water, mg) = parted(&saved.bench.water.nutrients, filled_l, &saved.brought_mg());
    let water = if filled_l > 0.0 { amounts(&water) } else { [].into() };
    Ok(Event::Done {
        formula: recipe.formula.clone(),
        hold_at_most_days: hold.map(days),
        level_before_l: read.or(into.level_l.map(nine_digits)),
        drained_l,
        filled_l,
        water_ppm: water,
        salts_g: saved.grams().into_iter().map(|(salt, grams)| (salt, nine_digits(grams))).collect(),
        mg: amounts(&mg),
    })
}
