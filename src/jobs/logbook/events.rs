//! Events from what was typed: salts to the nutrients that they bring, as reckoned at the time.

use crate::bench::Bench;
use crate::jobs::engine::question::formula;
use crate::jobs::{Added, Drawn, JobError, Recipe};
use crate::logbook::{Amounts, Event};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{Time, Volume, liter_of, liters_written, milliliter, nine_digits};
use crate::tank::dose::poured;
use crate::tank::parts::{Part, Parts};
use crate::tank::saved::saved;

pub(super) fn amounts(of: &Nutrients) -> Amounts {
    let there = NUTRIENTS.into_iter().filter(|nutrient| of[*nutrient] > 0.0);
    there.map(|nutrient| (nutrient.symbol().to_owned(), nine_digits(of[nutrient]))).collect()
}

/// Amounts as a logbook has them.
pub(super) fn written(of: Amounts) -> Amounts {
    of.into_iter().map(|(id, amount)| (id, nine_digits(amount))).collect()
}

/// Less than this of a nutrient in a water is rounding, ppm.
const NOTHING_PPM: f64 = 1e-9;

/// What a fill brings, parted into the concentrations of its water and what goes into it, mg: where bottles of purer water take
/// the place of the water, what they keep out counts as missing in the water.
pub(super) fn parted(water_ppm: &Nutrients, filled_l: f64, brought_mg: &Nutrients) -> (Nutrients, Nutrients) {
    let mg = over_nothing(brought_mg);
    let mut kept_out = *brought_mg;
    kept_out.add(&mg, -1.0);
    let mut water = *water_ppm;
    water.add(&kept_out, if filled_l > 0.0 { 1.0 / filled_l } else { 0.0 });
    // what two numbers leave of each other is nothing
    for nutrient in NUTRIENTS {
        if water[nutrient].abs() < NOTHING_PPM {
            water[nutrient] = 0.0;
        }
    }
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

/// Salts and bottles that were poured in.
#[derive(Default)]
struct Brought {
    /// By salt, bottles counted by what is in them.
    grams: Amounts,
    /// By bottle.
    bottles_ml: Amounts,
    /// What the salts bring.
    mg: Nutrients,
    /// Pure water in bottles, which takes the place of what is filled in.
    pure_water_ml: f64,
}

fn brought(bench: &Bench, added: &[Added], drawn: &[Drawn]) -> Result<Brought, JobError> {
    let (list, amounts): (Vec<Part>, Vec<f64>) = poured(bench, added, drawn)?.into_iter().unzip();
    let parts = Parts::new(bench, list);
    let mut all = Brought::default();
    for (at, amount) in amounts.into_iter().enumerate() {
        let contents = parts.contents(at);
        all.mg.add(&parts.of_salts(&contents.salts).nutrients, amount * 1e3);
        all.pure_water_ml += contents.pure_water_ml * amount;
        for (salt, of) in contents.salts {
            *all.grams.entry(bench.catalogue.salt(salt).id.clone()).or_insert(0.0) += of * amount;
        }
        if let Part::Helper(helper) = parts.list[at] {
            all.bottles_ml.insert(bench.helpers[helper].id.clone(), amount);
        }
    }
    Ok(Brought { grams: written(all.grams), bottles_ml: written(all.bottles_ml), ..all })
}

/// A tank filled with salts and bottles in water, or with water alone.
///
/// * `volume`: what was filled in, salts and acid included
/// * `held_back`: what had stayed behind in medium and pipes
/// * `water_ppm`: what the water held
/// * `added`, `drawn`: salts, and what was poured from bottles
/// * `named`: what it was mixed to, a formula of the bench
///
/// # Errors
/// [`JobError::UnknownFormula`]; [`TankError::SolidByVolume`](crate::jobs::TankError) for millilitres of a solid,
/// [`TankError::UnknownBottle`](crate::jobs::TankError).
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, logbook::Event, jobs::{self, Added}, matter::Nutrients, quantity::{Amount, gram, liter}};
/// let bench = Bench::starter();
/// let salt = bench.catalogue.find("potassium-nitrate").unwrap();
/// let added = [Added { salt, amount: Amount::Mass(gram(60.0)) }];
/// let event = jobs::filled_event(&bench, liter(60.0), liter(0.0), &Nutrients::default(), (&added, &[]), None)?;
/// assert!(matches!(event, Event::Filled { ppm, .. } if (ppm["K"] - 386.7).abs() < 0.1));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn filled_event(
    bench: &Bench,
    volume: Volume,
    held_back: Volume,
    water_ppm: &Nutrients,
    (added, drawn): (&[Added], &[Drawn]),
    named: Option<&str>,
) -> Result<Event, JobError> {
    let named = named.map(|name| formula(bench, name)).transpose()?;
    let hold = named.and_then(|formula| formula.hold_at_most).map(days);
    let brought = brought(bench, added, drawn)?;
    let mut ppm = water_ppm.scaled((1.0 - brought.pure_water_ml / milliliter(volume)).max(0.0));
    ppm.add(&brought.mg, 1e3 / milliliter(volume));
    Ok(Event::Filled {
        volume_l: liters_written(volume),
        held_back_l: liters_written(held_back),
        formula: named.map(|formula| formula.name.clone()),
        hold_at_most_days: hold,
        salts_g: brought.grams,
        bottles_ml: brought.bottles_ml,
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

/// Salts, and what was poured from bottles, added to a tank.
///
/// The water of liquids and bottles is left out: what they hold is booked, and no level moves.
///
/// # Errors
/// [`TankError::SolidByVolume`](crate::jobs::TankError) for millilitres of a solid,
/// [`TankError::UnknownBottle`](crate::jobs::TankError).
///
/// # Examples
/// ```
/// use bloomsalt::{bench::{Bench, STARTER}, logbook::Event, jobs::{self, Drawn}, quantity::liter};
/// let bottle = "[[helper]]\nid = \"boron\"\nvolume = \"1 L\"\nmade_of = { boric-acid = \"3.5 g\" }";
/// let bench = Bench::parse(&format!("{STARTER}\n{bottle}"), "bench.toml")?;
/// let event = jobs::added_event(&bench, &[], &[Drawn { bottle: "boron".to_owned(), volume: liter(0.02) }])?;
/// assert!(matches!(event, Event::Added { bottles_ml, .. } if bottles_ml["boron"] == 20.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn added_event(bench: &Bench, added: &[Added], drawn: &[Drawn]) -> Result<Event, JobError> {
    let Brought { grams, bottles_ml, mg, .. } = brought(bench, added, drawn)?;
    Ok(Event::Added { salts_g: grams, bottles_ml, mg: amounts(&mg) })
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
