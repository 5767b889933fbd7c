//! A saved recipe that was done, as an entry for a logbook.

use super::typed::{maybe, volume};
use super::{Happened, Refusal, typed};
use crate::bench::Bench;
use crate::catalogue::Catalogue;
use crate::jobs::{self, DoneOtherwise, Recipe, RecipeDose};
use crate::logbook::Event;
use crate::quantity::{
    self, Amount, HELD_BACK_L, LEVEL_L, LOGBOOK_VOLUME_L, QuantityError, TANK_L, WEIGHED_G, WEIGHED_L, milliliter,
    significant,
};
use crate::suggest;
use uom::si::mass::gram as grams;

/// The key under which what was really weighed stands.
const WEIGHED: &str = "weighed";

/// What a recipe says, with what was really weighed, let out and filled in where it differs.
pub(super) fn done(happened: &Happened, bench: &Bench) -> Result<Event, Refusal> {
    let Happened::From { recipe, weighed, drained, filled, to, held_back } = happened else {
        return Err(Refusal::own("an entry that is of no recipe"));
    };
    let mut recipe = typed::recipe(recipe)?;
    let mut named: Vec<&str> = Vec::new();
    for typed in weighed {
        let id = otherwise(&mut recipe, typed)?;
        if named.contains(&id) {
            let message = format!("`{typed}` names `{id}` a second time; add the two up");
            return Err(Refusal::input("salt-twice", message, None).about(WEIGHED, typed, None));
        }
        named.push(id);
    }
    recipe.doses.retain(|dose| dose.grams.or(dose.millilitres).is_some_and(|amount| amount > 0.0));
    let refused =
        |key: &str, why: &str| Err(Refusal::input("logbook-entry", format!("`{key}`: {why}"), None).about(key, "", None));
    let fresh = recipe.into.is_none();
    if fresh && (drained.is_some() || to.is_some()) {
        let key = if drained.is_some() { "drained" } else { "to" };
        return refused(key, "this recipe makes a fresh tank, which is emptied and filled whole");
    }
    if !fresh && held_back.is_some() {
        return refused(
            "held_back",
            "this recipe goes into what the tank holds, of which the logbook knows what is held back",
        );
    }
    let bound = if fresh { &TANK_L } else { &LOGBOOK_VOLUME_L };
    Ok(jobs::job_event(
        bench,
        &recipe,
        &DoneOtherwise {
            drained: maybe(drained.as_ref(), |typed| volume("drained", typed, &LOGBOOK_VOLUME_L))?,
            filled: maybe(filled.as_ref(), |typed| volume("filled", typed, bound))?,
            level_after: maybe(to.as_ref(), |typed| volume("to", typed, &LEVEL_L))?,
            held_back: maybe(held_back.as_ref(), |typed| volume("held_back", typed, &HELD_BACK_L))?,
        },
    )?)
}

/// A jug is read to this share of what it holds: own choice.
const POURED_OFF: f64 = 0.05;

/// What was really weighed is asked back where it is so many times the recipe's, or as small a part of it (own choice).
const FAR_OFF: f64 = 3.0;

/// What was really weighed far from what the recipe says, with what may have slipped.
pub(super) fn weighed_far_off(happened: &Happened) -> Result<Vec<(String, Option<String>)>, Refusal> {
    let Happened::From { recipe, weighed, .. } = happened else { return Ok(Vec::new()) };
    let asked = typed::recipe(recipe)?;
    let mut really = asked.clone();
    weighed.iter().try_for_each(|typed| otherwise(&mut really, typed).map(drop))?;
    let amount = |dose: &RecipeDose| dose.millilitres.or(dose.grams).filter(|amount| *amount > 0.0);
    let far_off = asked.doses.iter().zip(&really.doses).filter_map(|(asked, really)| {
        let times = amount(really)? / amount(asked)?;
        let name = really.salt.as_deref().or(really.helper.as_deref()).unwrap_or_default();
        (!(1.0 / FAR_OFF..=FAR_OFF).contains(&times)).then(|| {
            let odd = format!("`{name}` is {} times what the recipe weighs.", significant(times, 2));
            let help = match asked.jug {
                Some(_) => "mL of it are of the neat acid; of its jug state what is left, as in 27mL left",
                None => "A decimal point, or another salt? Look at what is left in the bag.",
            };
            (odd, Some(help.to_owned()))
        })
    });
    Ok(far_off.collect())
}

/// Takes what was really weighed into a recipe; returns the salt or bottle.
fn otherwise<'t>(recipe: &mut Recipe, typed: &'t str) -> Result<&'t str, Refusal> {
    let refused = |code: &str, message: String, help: Option<String>| {
        Err(Refusal::input(code, message, help).about(WEIGHED, typed, None))
    };
    let Some((id, read)) = typed.split_once('=').map(|(id, read)| (id.trim(), read.trim())) else {
        let help = "write SALT=AMOUNT, as in potassium-nitrate=14.1g";
        return refused("salt-amount", format!("`{typed}` has no `=`"), Some(help.to_owned()));
    };
    let density = density(recipe, id);
    let named = |dose: &RecipeDose| dose.salt.as_deref().or(dose.helper.as_deref()) == Some(id);
    let Some(dose) = recipe.doses.iter_mut().find(|dose| named(dose)) else {
        let ids: Vec<&str> =
            recipe.doses.iter().filter_map(|dose| dose.salt.as_deref().or(dose.helper.as_deref())).collect();
        let near = suggest::nearest(id, ids.iter().copied()).map(|word| format!("did you mean `{word}`?"));
        let other = "what else went in is an entry of its own: enter `added SALT=AMOUNT`; of a jug of thinned acid state what is left \
                     in it, as in nitric-acid-38=\"27 mL left\""
            .to_owned();
        return refused("not-in-recipe", format!("the recipe has no `{id}`"), Some(near.unwrap_or(other)));
    };
    let unfit = |error: &QuantityError| Refusal::unfit_of(WEIGHED, typed, read, error);
    // of a jug of thinned acid what is left in it tells what went in
    if let Some(left) = read.strip_suffix("left") {
        let left = quantity::volume(left.trim(), &WEIGHED_L).map(milliliter).map_err(|error| unfit(&error))?;
        let Some(jug) = dose.jug.filter(|jug| left <= jug.whole_ml * (1.0 + 1e-9)) else {
            let held = dose
                .jug
                .map_or("it is thinned in none".to_owned(), |jug| format!("it holds {} mL", significant(jug.whole_ml, 1)));
            let help = Some(
                "state what of the neat acid went in, as in 14.5mL, or what is left in its jug, as in 27mL left".to_owned(),
            );
            return refused("jug-left", format!("`{typed}` is not what is left in the jug: {held}"), help);
        };
        // of what was measured off of a jug the rest counts as left in it
        let stays = jug.whole_ml - jug.pour_ml;
        if left < stays - POURED_OFF * jug.whole_ml {
            let [whole, stays, both] = [jug.whole_ml, stays, stays + left].map(|ml| significant(ml, 1));
            let left = significant(left, 1);
            let message = format!(
                "`{typed}`: of the jug's {whole} mL {stays} mL stay in it by what was told, so more than that went in"
            );
            let help = format!(
                "what is left of the part that was measured off counts with it: {id}={both}mL left, where {left} mL of it are left; else state the neat acid"
            );
            return refused("jug-left", message, Some(help));
        }
        let share = (jug.whole_ml - left).max(0.0) / jug.pour_ml;
        for amount in [&mut dose.grams, &mut dose.millilitres] {
            *amount = amount.map(|told| told * share);
        }
        return Ok(id);
    }
    let amount = quantity::amount(read, &WEIGHED_G, &WEIGHED_L).map_err(|error| unfit(&error))?;
    match (amount, dose.helper.is_some(), density) {
        (Amount::Volume(volume), true, _) => dose.millilitres = Some(milliliter(volume)),
        (Amount::Volume(volume), false, Some(density)) => {
            (dose.grams, dose.millilitres) = (Some(milliliter(volume) * density), Some(milliliter(volume)));
        }
        (Amount::Mass(mass), false, _) => {
            let mass = mass.get::<grams>();
            (dose.grams, dose.millilitres) = (Some(mass), density.map(|density| mass / density));
        }
        (Amount::Mass(_), true, _) => {
            let help = Some("state what was drawn up, as in 50mL".to_owned());
            return refused("bottle-by-weight", format!("`{typed}` weighs a bottle"), help);
        }
        (Amount::Volume(_), false, None) => {
            let help = Some("state what was weighed, as in 14.1g".to_owned());
            return refused("solid-by-volume", format!("`{typed}` measures a solid by volume"), help);
        }
    }
    Ok(id)
}

/// Density of a liquid of a recipe, kg/L.
fn density(recipe: &Recipe, id: &str) -> Option<f64> {
    let own = recipe.products.iter().find(|product| product.id == id).map(|product| product.density_kg_l);
    let of_table = || {
        // an acid that is named by its per cent has no row of its own
        let table = Catalogue::standard().clone().with_strengths([id]);
        table.find(id).and_then(|salt| table.salt(salt).density_kg_per_l)
    };
    own.unwrap_or_else(of_table)
}
