//! Events from what was typed: salts to the nutrients that they bring, as reckoned at the time.

use crate::bench::{Bench, Formula, Stock};
use crate::catalogue::SaltId;
use crate::diary::{Amounts, Event, nutrients};
use crate::jobs::{Added, JobError, Recipe, RecipeDose, RecipeHelper};
use crate::matter::{NUTRIENTS, Nutrients};
use crate::quantity::{ADDED_G, Amount, BOTTLE_L, PURITY, TANK_L, Time, Volume, liter, milliliter, nine_digits};

fn amounts(of: &Nutrients) -> Amounts {
    let there = NUTRIENTS.into_iter().filter(|nutrient| of[*nutrient] > 0.0);
    there.map(|nutrient| (nutrient.symbol().to_owned(), nine_digits(of[nutrient]))).collect()
}

fn litres(volume: Volume) -> f64 {
    nine_digits(milliliter(volume) * 1e-3)
}

pub(super) fn days(time: Time) -> f64 {
    time.get::<uom::si::time::day>()
}

/// The formula called `name`.
pub(super) fn formula<'a>(bench: &'a Bench, name: &str) -> Result<&'a Formula, JobError> {
    bench.formula(name).ok_or_else(|| JobError::UnknownFormula {
        name: name.to_owned(),
        known: bench.formulas.iter().map(|formula| formula.name.clone()).collect(),
        suggestion: crate::suggest::nearest(name, bench.formulas.iter().map(|f| f.name.as_str())).map(str::to_owned),
    })
}

/// A salt, how many grams of it, and the purity that counts.
type Weighed = (SaltId, f64, Option<f64>);

fn weighed(bench: &Bench, added: &[Added]) -> Result<Vec<Weighed>, JobError> {
    let one = |added: &Added| {
        let salt = bench.catalogue.salt(added.salt);
        let grams = match (added.amount, salt.density_kg_per_l) {
            (Amount::Mass(mass), _) => mass.get::<uom::si::mass::gram>(),
            (Amount::Volume(volume), Some(density)) => milliliter(volume) * density,
            (Amount::Volume(_), None) => return Err(JobError::SolidByVolume { name: salt.name.clone() }),
        };
        let purity = bench.shelf.iter().find(|stock| stock.salt == added.salt).and_then(|stock| stock.purity);
        Ok((added.salt, grams, purity))
    };
    added.iter().map(one).collect()
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
/// [`JobError::UnknownFormula`]; [`JobError::SolidByVolume`] for millilitres of a solid.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, diary::Event, jobs::{self, Added}, matter::Nutrients, quantity::{Amount, gram, liter}};
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
    Ok(filled(volume, held_back, water_ppm, named.map(|formula| formula.name.clone()), hold, salts_g, &mg))
}

fn filled(
    volume: Volume,
    held_back: Volume,
    water_ppm: &Nutrients,
    formula: Option<String>,
    hold_at_most_days: Option<f64>,
    salts_g: Amounts,
    mg: &Nutrients,
) -> Event {
    let mut ppm = *water_ppm;
    ppm.add(mg, 1e3 / milliliter(volume));
    let (volume_l, held_back_l) = (litres(volume), litres(held_back));
    Event::Filled { volume_l, held_back_l, formula, hold_at_most_days, salts_g, ppm: amounts(&ppm) }
}

/// A tank filled with what a saved recipe weighs, in the water that the recipe was saved with.
///
/// * `volume`: what was filled in; else what the recipe is for
/// * `held_back`: what had stayed behind in medium and pipes
/// * `named`: what it was mixed to; else the formula of the recipe, held for as long as the bench says
///
/// # Errors
/// [`JobError::UnknownFormula`] for a `named` that the bench lacks; in words for a recipe that is none, or that uses a
/// product which the bench lacks.
pub fn recipe_event(
    bench: &Bench,
    recipe: &Recipe,
    volume: Option<Volume>,
    held_back: Volume,
    named: Option<&str>,
) -> Result<Result<Event, String>, JobError> {
    let named = named.map(|name| formula(bench, name)).transpose()?;
    let hold = named.or_else(|| bench.formula(recipe.formula.as_deref()?)).and_then(|formula| formula.hold_at_most);
    let name = named.map(|formula| formula.name.clone()).or_else(|| recipe.formula.clone());
    let read = || -> Result<Event, String> {
        if recipe.kind != "recipe" || recipe.version != 1 {
            return Err("it is no recipe of this version".to_owned());
        }
        let stated = TANK_L.check(recipe.volume_l).map_err(|error| format!("`volume_l`: {error}"))?;
        let water_ppm = nutrients(&recipe.water_ppm)?;
        let mut bottles: Vec<Bottle> = Vec::new();
        for bottle in &recipe.helpers {
            bottles.push(Bottle::of(bench, bottle, &bottles, &water_ppm)?);
        }
        let Part { grams: salts_g, mg } = Part::of(bench, &recipe.doses, &bottles)?;
        let salts_g = salts_g.into_iter().map(|(salt, grams)| (salt, nine_digits(grams))).collect();
        let volume = volume.unwrap_or(liter(stated));
        Ok(filled(volume, held_back, &water_ppm, name, hold.map(days), salts_g, &mg))
    };
    Ok(read())
}

/// Grams by salt, and nutrients beyond those of the tank's water, mg.
#[derive(Default)]
struct Part {
    grams: Amounts,
    mg: Nutrients,
}

/// A bottle of a recipe, by the millilitre.
struct Bottle {
    id: String,
    per_ml: Part,
}

impl Part {
    fn add(&mut self, other: &Self, times: f64) {
        for (salt, grams) in &other.grams {
            *self.grams.entry(salt.clone()).or_insert(0.0) += grams * times;
        }
        self.mg.add(&other.mg, times);
    }

    /// What doses bring, bottles counted by what is in them.
    fn of(bench: &Bench, doses: &[RecipeDose], bottles: &[Bottle]) -> Result<Self, String> {
        let mut sum = Self::default();
        for dose in doses {
            match (&dose.salt, &dose.helper) {
                (Some(id), _) => {
                    let wrong = |error: &dyn std::fmt::Display| format!("`{id}`: {error}");
                    let grams = ADDED_G.check(dose.grams.unwrap_or(f64::NAN)).map_err(|error| wrong(&error))?;
                    let purity =
                        dose.purity.map(|purity| PURITY.check(purity)).transpose().map_err(|error| wrong(&error))?;
                    let salt = bench.catalogue.find(id);
                    let salt =
                        salt.ok_or_else(|| format!("it uses `{id}`: name the bench file that has it with `--bench`"))?;
                    let (grams, mg) = brought(bench, &[(salt, grams, purity)]);
                    sum.add(&Self { grams, mg }, 1.0);
                }
                (None, Some(id)) => {
                    let drawn = dose.millilitres.filter(|ml| ml.is_finite() && *ml >= 0.0);
                    let bottle = bottles.iter().find(|bottle| bottle.id == *id);
                    let (Some(drawn), Some(bottle)) = (drawn, bottle) else {
                        return Err(format!("it draws from a bottle `{id}` that it does not describe"));
                    };
                    sum.add(&bottle.per_ml, drawn);
                }
                (None, None) => return Err("a dose names neither a salt nor a bottle".to_owned()),
            }
        }
        Ok(sum)
    }
}

impl Bottle {
    /// What a millilitre brings. A bottle made with pure water brings less than nothing of what the tank's water holds,
    /// because it takes that water's place.
    fn of(bench: &Bench, bottle: &RecipeHelper, before: &[Self], water_ppm: &Nutrients) -> Result<Self, String> {
        let volume_ml =
            1e3 * BOTTLE_L.check(bottle.volume_ml * 1e-3).map_err(|error| format!("`{}`: {error}", bottle.id))?;
        let mut all = Part::of(bench, &bottle.made_of, before)?;
        if bottle.pure_water {
            let drawn = bottle.made_of.iter().filter(|dose| dose.helper.is_some()).filter_map(|dose| dose.millilitres);
            all.mg.add(water_ppm, -1e-3 * (volume_ml - drawn.sum::<f64>()).max(0.0));
        }
        let mut per_ml = Part::default();
        per_ml.add(&all, 1.0 / volume_ml);
        Ok(Self { id: bottle.id.clone(), per_ml })
    }
}

/// Salts added to a tank.
///
/// # Errors
/// [`JobError::SolidByVolume`] for millilitres of a solid.
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
    Event::ToppedUp { volume_l: litres(volume), level_after_l: level_after.map(litres), ppm: amounts(water_ppm) }
}

/// A phase that begins; one called like a formula of the bench may last as long as that formula.
#[must_use]
pub fn phase_event(bench: &Bench, phase: &str) -> Event {
    let hold_at_most_days = bench.formula(phase).and_then(|formula| formula.hold_at_most).map(days);
    Event::Phase { phase: phase.to_owned(), hold_at_most_days }
}
