//! Events from what was typed: salts to the nutrients that they bring, as reckoned at the time.

use crate::bench::{Bench, Stock};
use crate::catalogue::SaltId;
use crate::jobs::engine::question::formula;
use crate::jobs::{Added, JobError, Recipe};
use crate::logbook::{Amounts, Event};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{Time, Volume, liter_of, liters_written, milliliter, nine_digits};
use crate::tank::saved::saved;

pub(super) fn amounts(of: &Nutrients) -> Amounts {
    let there = NUTRIENTS.into_iter().filter(|nutrient| of[*nutrient] > 0.0);
    there.map(|nutrient| (nutrient.symbol().to_owned(), nine_digits(of[nutrient]))).collect()
}

/// Amounts as a logbook has them.
pub(super) fn written(of: Amounts) -> Amounts {
    of.into_iter().map(|(id, amount)| (id, nine_digits(amount))).collect()
}

/// What a fill brings, parted into the concentrations of its water and what goes into it, mg: where bottles of purer water take
/// the place of the water, what they keep out counts as missing in the water.
pub(super) fn parted(water_ppm: &Nutrients, filled_l: f64, brought_mg: &Nutrients) -> (Nutrients, Nutrients) {
    let mg = over_nothing(brought_mg);
    let mut kept_out = *brought_mg;
    kept_out.add(&mg, -1.0);
    let mut water = *water_ppm;
    water.add(&kept_out, if filled_l > 0.0 { 1.0 / filled_l } else { 0.0 });
    (over_nothing(&water), mg)
}

/// What is over nothing; all nitrogen is its forms, and what no label tells.
fn over_nothing(of: &Nutrients) -> Nutrients {
    let mut over = Nutrients::default();
    for nutrient in NUTRIENTS {
        over[nutrient] = of[nutrient].max(0.0);
    }
    let forms = NUTRIENTS.into_iter().filter(|nutrient| nutrient.is_nitrogen_form()).map(|form| over[form]);
    over[Nutrient::N] = forms.sum::<f64>() + of.unsplit_nitrogen();
    over
}

pub(super) fn days(time: Time) -> f64 {
    time.get::<uom::si::time::day>()
}

/// A salt, how many grams of it, and the purity that counts.
type Weighed = (SaltId, f64, Option<f64>);

fn weighed(bench: &Bench, added: &[Added]) -> Result<Vec<Weighed>, JobError> {
    let purity = |salt| bench.shelf.iter().find(|stock| stock.salt == salt).and_then(|stock| stock.purity);
    added.iter().map(|added| Ok((added.salt, added.grams(bench)?, purity(added.salt)))).collect()
}

/// Grams by salt, and the nutrients that they bring, mg.
fn brought(bench: &Bench, weighed: &[Weighed]) -> (Amounts, Nutrients) {
    let (mut grams_by_id, mut mg) = (Amounts::new(), Nutrients::default());
    for (salt, grams, purity) in weighed {
        let stock = Stock { salt: *salt, on_hand: None, price_per_g: None, purity: *purity };
        mg.add(&bench.composition(&stock).nutrients, grams * 1e3);
        *grams_by_id.entry(bench.catalogue.salt(*salt).id.clone()).or_insert(0.0) += nine_digits(*grams);
    }
    (grams_by_id, mg)
}

/// A tank filled with salts in water, or with water alone.
///
/// * `volume`: what was filled in, salts and acid included
/// * `held_back`: what had stayed behind in medium and pipes
/// * `water_ppm`: what the water held
/// * `formula`: what it was mixed to, a formula of the bench
///
/// # Errors
/// [`JobError::UnknownFormula`]; [`TankError::SolidByVolume`](crate::jobs::TankError) for millilitres of a solid.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, logbook::Event, jobs::{self, Added}, matter::Nutrients, quantity::{Amount, gram, liter}};
/// let bench = Bench::starter();
/// let salt = bench.catalogue.find("potassium-nitrate").unwrap();
/// let added = [Added { salt, amount: Amount::Mass(gram(60.0)) }];
/// let event = jobs::filled_event(&bench, liter(60.0), liter(0.0), &Nutrients::default(), &added, None)?;
/// assert!(matches!(event, Event::Filled { ppm, .. } if (ppm["K"] - 386.7).abs() < 0.1));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn filled_event(
    bench: &Bench,
    volume: Volume,
    held_back: Volume,
    water_ppm: &Nutrients,
    added: &[Added],
    named: Option<&str>,
) -> Result<Event, JobError> {
    let named = named.map(|name| formula(bench, name)).transpose()?;
    let hold = named.and_then(|formula| formula.hold_at_most).map(days);
    let (salts_g, mg) = brought(bench, &weighed(bench, added)?);
    let mut ppm = *water_ppm;
    ppm.add(&mg, 1e3 / milliliter(volume));
    Ok(Event::Filled {
        volume_l: liters_written(volume),
        held_back_l: liters_written(held_back),
        formula: named.map(|formula| formula.name.clone()),
        hold_at_most_days: hold,
        salts_g,
        bottles_ml: Amounts::new(),
        ppm: amounts(&ppm),
    })
}

/// A tank filled with what a saved recipe weighs, in the water that the recipe was saved with.
///
/// * `volume`: what was filled in; else what the recipe is for
/// * `held_back`: what had stayed behind in medium and pipes
/// * `named`: what it was mixed to; else the formula of the recipe, held for as long as the bench says
///
/// # Errors
/// [`JobError::UnknownFormula`] for a `named` that the bench lacks; [`TankError::NoRecipe`](crate::jobs::TankError).
pub fn recipe_event(
    bench: &Bench,
    recipe: &Recipe,
    volume: Option<Volume>,
    held_back: Volume,
    named: Option<&str>,
) -> Result<Event, JobError> {
    let named = named.map(|name| formula(bench, name)).transpose()?;
    let hold = named.or_else(|| bench.formula(recipe.formula.as_deref()?)).and_then(|formula| formula.hold_at_most);
    let saved = saved(recipe, bench)?;
    let volume = volume.unwrap_or(saved.bench.tank.volume);
    Ok(Event::Filled {
        volume_l: liters_written(volume),
        held_back_l: liters_written(held_back),
        formula: named.map(|formula| formula.name.clone()).or_else(|| recipe.formula.clone()),
        hold_at_most_days: hold.map(days),
        salts_g: written(saved.grams()),
        bottles_ml: written(saved.bottles_ml()),
        ppm: amounts(&saved.ppm(liter_of(volume))),
    })
}

/// Salts added to a tank.
///
/// # Errors
/// [`TankError::SolidByVolume`](crate::jobs::TankError) for millilitres of a solid.
pub fn added_event(bench: &Bench, added: &[Added]) -> Result<Event, JobError> {
    let (salts_g, mg) = brought(bench, &weighed(bench, added)?);
    Ok(Event::Added { salts_g, mg: amounts(&mg) })
}

/// A tank topped up with water.
///
/// * `volume`: what went in
/// * `level_after`: the level read after it
/// * `water_ppm`: what the water held
#[must_use]
pub fn topped_up_event(volume: Volume, level_after: Option<Volume>, water_ppm: &Nutrients) -> Event {
    Event::ToppedUp {
        volume_l: liters_written(volume),
        level_after_l: level_after.map(liters_written),
        ppm: amounts(water_ppm),
    }
}

/// A phase that begins; one called like a formula of the bench may last as long as that formula.
#[must_use]
pub fn phase_event(bench: &Bench, phase: &str) -> Event {
    let hold_at_most_days = bench.formula(phase).and_then(|formula| formula.hold_at_most).map(days);
    Event::Phase { phase: phase.to_owned(), hold_at_most_days }
}
