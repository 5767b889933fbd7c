//! Dilute bottles as records: what goes in, what to write on them, their entry for the bench file.

use crate::bench;
use crate::jobs::engine::bottles::keep_days;
use crate::jobs::record::dose::jug_id;
use crate::jobs::record::made::Made;
use crate::jobs::record::{HelperRecord, Ingredient};
use crate::quantity::{Date, liter, milliliter, significant, trimmed, volume_text};
use crate::safety::{Finding, bottle_old};
use crate::tank::instrument::measured;
use crate::tank::parts::{Part, Parts};

/// Every bottle that the mix draws from, and every one that a new one is made from.
pub(crate) fn records(made: &Made, litres: f64) -> Vec<HelperRecord> {
    let parts = made.parts;
    let existing = made.tank.bench.helpers.len();
    let mut found: Vec<HelperRecord> = Vec::new();
    for helper in 0..parts.helpers.len() {
        let dose_ml = dose_of(made, helper);
        let new = helper >= existing;
        let Some(tanks) = dose_ml.map_or_else(|| tanks_by_thinner(made, helper), |dose| Some(served(parts, helper, dose)))
        else {
            continue;
        };
        found.push(record(parts, helper, new, dose_ml, tanks, &purpose(made, dose_ml, litres)));
    }
    found
}

/// What of a bottle goes into the tank, mL.
fn dose_of(made: &Made, helper: usize) -> Option<f64> {
    let at = made.parts.list.iter().position(|part| *part == Part::Helper(helper));
    at.map(|at| made.measured[at].amount).filter(|ml| *ml > 0.0)
}

/// How many times so much can be drawn from a bottle.
fn served(parts: &Parts, helper: usize, ml: f64) -> f64 {
    let of = &parts.helpers[helper];
    (milliliter(of.left.unwrap_or(of.volume)) / ml + 1e-9).floor()
}

/// How many tanks a bottle serves from which only a thinner one is made; `None` for one that this mix does not need.
fn tanks_by_thinner(made: &Made, helper: usize) -> Option<f64> {
    let parts = made.parts;
    (0..parts.helpers.len()).find_map(|thinner| {
        let of = parts.helpers[thinner].made_of.iter().find(|(what, _)| *what == bench::Ingredient::Helper(helper))?;
        let of_thinner = match dose_of(made, thinner) {
            Some(dose) => served(parts, thinner, dose),
            None => tanks_by_thinner(made, thinner)?,
        };
        Some(served(parts, helper, parts.amount(of.0, of.1)) * of_thinner)
    })
}

/// What a bottle is for, as its label says it: the dose of a fresh tank serves every such tank, that of a tank that holds something
/// already no other.
fn purpose(made: &Made, dose_ml: Option<f64>, litres: f64) -> String {
    match (dose_ml, made.formula) {
        (None, _) => "only to make a thinner bottle of it".to_owned(),
        (Some(ml), Some(formula)) if made.tank.is_fresh => {
            format!("{} mL for {} of {}", trimmed(ml, 2), volume_text(liter(litres)), formula.name)
        }
        _ => "so much of it as the report of the day says".to_owned(),
    }
}

/// The bottles of the bench that are drawn from on a day on which they keep no longer.
pub(in crate::jobs) fn too_old(helpers: &[HelperRecord], on: Option<Date>) -> Vec<Finding> {
    let of = |one: &HelperRecord| {
        let until = one.keeps_until.filter(|_| one.dose_ml.is_some())?;
        (on?.days_since(until) > 0).then(|| bottle_old(&one.id, &until.to_string()))
    };
    helpers.iter().filter_map(of).collect()
}

fn record(parts: &Parts, helper: usize, new: bool, dose_ml: Option<f64>, tanks: f64, purpose: &str) -> HelperRecord {
    let of = &parts.helpers[helper];
    let made_of: Vec<Ingredient> = of.made_of.iter().map(|(what, amount)| ingredient(parts, *what, *amount)).collect();
    let made_from_helper = made_of.iter().find_map(|ingredient| ingredient.helper.clone());
    let keep_days = keep_days(parts, helper);
    let mut label = vec![
        format!("{}: {} made up to {}", of.id, list(&made_of), volume_text(of.volume)),
        format!("{purpose}; made on ________, use within {keep_days} days"),
    ];
    if made_from_helper.is_some() {
        label.push(contents(parts, helper));
    }
    let hazards = hazards(parts, helper);
    if !hazards.is_empty() {
        label.push(hazards);
    }
    label.push("Not for drinking. Away from children and light.".to_owned());
    let entry = new.then(|| entry(of, &made_of));
    HelperRecord {
        id: of.id.clone(),
        new,
        volume_ml: round(milliliter(of.volume)),
        made_of,
        made_from_helper,
        pure_water: of.made_with_pure_water,
        dose_ml,
        left_ml: of.left.filter(|_| !new).map(|left| round(milliliter(left))),
        tanks,
        keep_days,
        keeps_until: of.made_on.filter(|_| !new).map(|made| made.plus(i32::try_from(keep_days).unwrap_or(i32::MAX))),
        label,
        entry,
    }
}

/// An amount without the tail that a conversion leaves; whole steps of any instrument stay what they are.
fn round(amount: f64) -> f64 {
    crate::quantity::nine_digits(amount)
}

fn ingredient(parts: &Parts, what: bench::Ingredient, amount: crate::quantity::Amount) -> Ingredient {
    let amount = parts.amount(what, amount);
    let (salt, helper, name, density) = match what {
        bench::Ingredient::Helper(helper) => {
            let id = &parts.helpers[helper].id;
            (None, Some(id.clone()), id.clone(), Some(1.0))
        }
        bench::Ingredient::Salt(salt) => {
            let salt = parts.bench.catalogue.salt(salt);
            (Some(salt.id.clone()), None, salt.name.clone(), salt.density_kg_per_l)
        }
    };
    let with = measured(parts.bench, density, amount);
    Ingredient {
        salt,
        helper,
        name,
        grams: density.is_none().then_some(round(amount)),
        millilitres: density.map(|density| round(amount / density)),
        scale_g: with.scale_g,
        jug: jug_id(parts.bench, &with),
    }
}

fn amount_text(ingredient: &Ingredient) -> String {
    match (ingredient.grams, ingredient.millilitres) {
        (Some(grams), _) => format!("{} g", trimmed(grams, 7)),
        (None, Some(ml)) => format!("{} mL", trimmed(ml, 6)),
        (None, None) => String::new(),
    }
}

fn list(made_of: &[Ingredient]) -> String {
    let items: Vec<String> = made_of.iter().map(|of| format!("{} {}", amount_text(of), of.name)).collect();
    items.join(", ")
}

/// What a litre holds, for a bottle that is made of another.
fn contents(parts: &Parts, helper: usize) -> String {
    let salts = parts.of_helper(helper).salts.into_iter().map(|(salt, grams)| {
        let milligrams = significant(grams * 1e6, 2);
        format!("{} {milligrams} mg", parts.bench.catalogue.salt(salt).name)
    });
    format!("a litre holds {}", salts.collect::<Vec<_>>().join(", "))
}

/// Signal word and statements of what is in a bottle. The bottle is weaker than what it is made of, and how much weaker the
/// classification would be is not reckoned: the label errs on the stricter side.
fn hazards(parts: &Parts, helper: usize) -> String {
    let mut statements: Vec<&str> = Vec::new();
    let mut danger = false;
    let contents = parts.of_helper(helper);
    for (salt, _) in &contents.salts {
        let hazards = &parts.bench.catalogue.salt(*salt).hazards;
        danger |= [&hazards.signal_word, &hazards.stricter_word].into_iter().flatten().any(|word| word == "Danger");
        statements.extend(hazards.statements.iter().map(String::as_str));
    }
    statements.sort_unstable();
    statements.dedup();
    if statements.is_empty() {
        return String::new();
    }
    let strength: f64 = contents.salts.iter().map(|(_, grams)| grams * 1e3).sum();
    format!(
        "{} (as the undiluted salts): {}; {} g/L in all",
        if danger { "Danger" } else { "Warning" },
        statements.join(" "),
        significant(strength, 2)
    )
}

/// The bottle as `[[helper]]` of the bench file.
fn entry(of: &bench::Helper, made_of: &[Ingredient]) -> String {
    let items: Vec<String> = made_of
        .iter()
        .map(|of| {
            format!("{} = \"{}\"", of.salt.as_ref().or(of.helper.as_ref()).map_or("", String::as_str), amount_text(of))
        })
        .collect();
    let pure = if of.made_with_pure_water { "made_with = \"pure\"\n" } else { "" };
    let (id, volume) = (&of.id, volume_text(of.volume));
    // no report knows the day on which it is made
    let day = "# made_on = YYYY-MM-DD    # that day, without quotes\n";
    format!("[[helper]]\nid = \"{id}\"\nvolume = \"{volume}\"\nmade_of = {{ {} }}\n{pure}{day}", items.join(", "))
}
