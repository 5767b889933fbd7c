//! `bloomsalt check SALT=AMOUNT …`.

use super::args::CheckArgs;
use super::diary::{analysis_ppm, number};
use super::failure::Failure;
use super::files;
use super::mix::meter_scale;
use super::salts::find;
use super::switch::recipe;
use crate::bench::Bench;
use crate::diary::{Event, nutrients};
use crate::jobs::{self, Added, CheckOptions, Drawn, Known, METER_ERROR, Reading};
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::{self, ADDED_G, ADDED_L, Amount, EC_READING_MS_PER_CM, TANK_L, TEMPERATURE_C};
use crate::{report, suggest};

pub(super) fn run(args: &CheckArgs, colour: bool) -> Result<String, Failure> {
    // a recipe brings its own tank
    let tank = args.tank.as_deref().filter(|_| args.recipe.is_none());
    let bench = files::bench(args.bench.as_deref(), tank)?;
    let reading = args.reads.as_deref().map(|reads| reading(reads, args)).transpose()?;
    let how = CheckOptions {
        against: args.against.as_deref(),
        reading: reading.as_ref(),
        meter: meter_scale(args.meter_scale.as_deref()),
    };
    let checked = if let Some(path) = &args.recipe {
        let made_up_to = args
            .tank
            .as_deref()
            .map(|typed| quantity::volume(typed, &TANK_L).map_err(|error| Failure::unfit("--tank", typed, &error)));
        let recipe = recipe(path)?;
        jobs::check_tank(&bench, &Known::Recipe { recipe: &recipe, made_up_to: made_up_to.transpose()? }, &how)
    } else if args.analysis.is_empty() {
        let (salts, bottles) = went_in(&bench, &args.added)?;
        jobs::check_tank(&bench, &Known::Added { salts: &salts, bottles: &bottles }, &how)
    } else {
        let (ppm, named) = found(&args.analysis)?;
        jobs::check_tank(&bench, &Known::Analysis { ppm: &ppm, named: &named }, &how)
    };
    let checked = checked.map_err(Failure::Job)?;
    let text = if args.json { report::document(&checked) } else { report::check(&checked, colour) };
    let mut files = files::New::default();
    if let Some(path) = &args.save {
        files.add(path, "Saved the recipe to", report::document(&jobs::checked_recipe(&bench, &checked)));
    }
    if let Some(path) = &args.sheet {
        files.add(path, "Wrote", report::check_sheet(&checked, &jobs::pictures(&bench, &checked.tank)));
    }
    files.write(text, args.json)
}

/// What a laboratory found, and what it looked for.
fn found(typed: &[String]) -> Result<(Nutrients, Vec<Nutrient>), Failure> {
    const CODE: &str = "analysis";
    let ppm = analysis_ppm(typed, CODE)?;
    let refused = |why: String| Failure::input(CODE, format!("`--analysis`: {why}"), None);
    // the same rules as for an analysis in a diary
    Event::Analysis { ppm: ppm.clone() }.check().map_err(refused)?;
    let named = ppm.keys().filter_map(|symbol| Nutrient::parse(symbol)).collect();
    Ok((nutrients(&ppm).map_err(refused)?, named))
}

/// What the meter reads, and how.
fn reading(reads: &str, args: &CheckArgs) -> Result<Reading, Failure> {
    let ec =
        quantity::conductivity(reads, &EC_READING_MS_PER_CM).map_err(|error| Failure::unfit("--reads", reads, &error))?;
    let error = args.meter_error.as_deref().map(|typed| number("--meter-error", typed, &quantity::METER_ERROR));
    let read_at = args.read_at.as_deref().map(|typed| {
        quantity::temperature(typed, &TEMPERATURE_C).map_err(|error| Failure::unfit("--read-at", typed, &error))
    });
    Ok(Reading { ec, meter_error: error.transpose()?.unwrap_or(METER_ERROR), read_at: read_at.transpose()? })
}

/// Salts and bottles with their amounts as they were typed, each once.
fn went_in(bench: &Bench, typed: &[String]) -> Result<(Vec<Added>, Vec<Drawn>), Failure> {
    let is_bottle = |typed: &&String| {
        let id = typed.split_once('=').map(|(id, _)| id.trim());
        bench.helpers.iter().any(|helper| Some(helper.id.as_str()) == id)
    };
    let (of_bottles, of_salts): (Vec<&String>, Vec<&String>) = typed.iter().partition(is_bottle);
    // a slip in the id of a bottle is told as such, where no salt is as near
    for typed in &of_salts {
        let id = typed.split_once('=').map_or("", |(id, _)| id.trim());
        let bottles = bench.helpers.iter().map(|helper| helper.id.as_str());
        let salts = bench.catalogue.salts().iter().map(|salt| salt.id.as_str());
        if bench.catalogue.find(id).is_none()
            && let Some(meant) =
                suggest::nearest(id, salts.chain(bottles)).filter(|word| bench.catalogue.find(word).is_none())
        {
            let help = Some(format!("did you mean `{meant}`?"));
            return Err(Failure::input("unknown-salt", format!("there is no salt and no bottle `{id}`"), help));
        }
    }
    let mut bottles: Vec<Drawn> = Vec::new();
    for typed in of_bottles {
        let one = drawn(typed)?;
        if bottles.iter().any(|other| other.bottle == one.bottle) {
            return Err(twice(typed));
        }
        bottles.push(one);
    }
    Ok((salts(bench, of_salts)?, bottles))
}

fn drawn(typed: &str) -> Result<Drawn, Failure> {
    let (id, amount) = typed.split_once('=').unwrap_or((typed, ""));
    match quantity::amount(amount, &ADDED_G, &ADDED_L).map_err(|error| Failure::unfit(typed, amount, &error))? {
        Amount::Volume(volume) => Ok(Drawn { bottle: id.trim().to_owned(), volume }),
        Amount::Mass(_) => {
            let message = format!("`{typed}` weighs a bottle; what a gram of it holds is not known");
            Err(Failure::input("bottle-by-weight", message, Some("state what was drawn up, as in 50mL".to_owned())))
        }
    }
}

fn twice(typed: &str) -> Failure {
    Failure::input("salt-twice", format!("`{typed}` names its salt a second time; add the two up"), None)
}

/// Salts and amounts as they were typed, each salt once.
pub(super) fn salts<'t>(bench: &Bench, typed: impl IntoIterator<Item = &'t String>) -> Result<Vec<Added>, Failure> {
    let mut added: Vec<Added> = Vec::new();
    for typed in typed {
        let one = parse(bench, typed)?;
        if added.iter().any(|other| other.salt == one.salt) {
            return Err(twice(typed));
        }
        added.push(one);
    }
    Ok(added)
}

fn parse(bench: &Bench, typed: &str) -> Result<Added, Failure> {
    let Some((id, amount)) = typed.split_once('=') else {
        let help = Some("write SALT=AMOUNT, as in potassium-nitrate=14.1g".to_owned());
        return Err(Failure::input("salt-amount", format!("`{typed}` has no `=`"), help));
    };
    let salt = find(&bench.catalogue, id.trim())?;
    let amount = quantity::amount(amount, &ADDED_G, &ADDED_L).map_err(|error| Failure::unfit(typed, amount, &error))?;
    Ok(Added { salt, amount })
}
