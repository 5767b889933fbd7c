//! `bloomsalt switch FORMULA` and what other commands share to say what a tank holds.

use std::io::Write;
use std::path::Path;

use super::diary::{analysis_ppm, diary, patterns};
use super::failure::Failure;
use super::switch_args::SwitchArgs;
use super::when::{goes_with_a_diary, moment};
use super::{Console, diary_file, files};
use crate::bench::Bench;
use crate::diary::{Diary, Moment, Patterns, Track, nutrients};
use crate::jobs::{self, Holding, MixOptions, Recipe, SwitchOptions};
use crate::quantity::{self, BUCKET_L, DRAIN_L, Date, EC_STEP_MS_PER_CM, HELD_BACK_L, LEVEL_L, Volume, liter};
use crate::report;

pub(super) fn run(args: &SwitchArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let bench = files::bench(args.bench.as_deref(), args.tank.as_deref())?;
    let volume = |what: &str, typed: Option<&str>, bound| typed.map(|typed| litres(what, typed, bound)).transpose();
    let mut how = SwitchOptions {
        level: volume("--level", args.level.as_deref(), &LEVEL_L)?,
        held_back: volume("--held-back", args.held_back.as_deref(), &HELD_BACK_L)?,
        bucket: volume("--bucket", args.bucket.as_deref(), &BUCKET_L)?,
        drain: volume("--drain", args.drain.as_deref(), &DRAIN_L)?,
        ec_step: args
            .ec_step
            .as_deref()
            .map(|typed| {
                quantity::conductivity(typed, &EC_STEP_MS_PER_CM).map_err(|error| Failure::unfit("--ec-step", typed, &error))
            })
            .transpose()?,
        on: args.on.as_deref().map(date).transpose()?,
    };
    let mut course = None;
    let holding = match (&args.holding, &args.recipe, &args.diary) {
        (Some(formula), _, _) => jobs::mixed(&bench, formula).map_err(Failure::Job)?,
        (None, Some(path), _) => Holding::of_recipe(&bench, &recipe(path)?).map_err(|error| Failure::Job(error.into()))?,
        (None, None, Some(path)) => {
            let read = of_diary(path, args, &bench, &mut how, err)?;
            course = args.sheet.as_ref().map(|_| jobs::course(&bench, &read.diary, read.at, &read.patterns));
            read.holding
        }
        (None, None, None) if !args.analysis.is_empty() => {
            let ppm = nutrients(&analysis_ppm(&args.analysis, "analysis")?)
                .map_err(|why| Failure::input("analysis", format!("`--analysis`: {why}"), None))?;
            Holding::of_analysis(&bench, &ppm, "a laboratory analysis")
        }
        (None, None, None) => {
            let help = "name it with --holding FORMULA, --recipe FILE, --analysis N=88 …, or --diary FILE; `mix` is for an empty tank";
            return Err(Failure::input(
                "holding",
                "nothing is known of what the tank holds".to_owned(),
                Some(help.to_owned()),
            ));
        }
    };
    let other = Some("--on says the day of the switch");
    goes_with_a_diary(args.diary.as_deref(), args.uptake.as_deref(), &args.when, other)?;
    let turned = jobs::switch(&bench, &args.formula, &holding, &how, &MixOptions::default()).map_err(Failure::Job)?;
    let text = if args.json { report::document(&turned) } else { report::switch(&turned, console.colour_out) };
    let mut files = files::New::default();
    if let Some(path) = &args.sheet {
        let mut pictures = jobs::pictures(&bench, &turned.after);
        pictures.balances.push(jobs::balance(&bench.catalogue, "this tank before", &holding.ppm));
        files.add(path, "Wrote", report::switch_sheet(&turned, &pictures, course.as_ref()));
    }
    files.write(text, args.json)
}

/// A tank known from a diary, and what it was read with.
struct OfDiary {
    holding: Holding,
    diary: Diary,
    at: Moment,
    patterns: Patterns,
}

/// What the diary says the tank holds; level and what is held back too, where they are not stated.
fn of_diary(
    path: &Path,
    args: &SwitchArgs,
    bench: &Bench,
    how: &mut SwitchOptions,
    err: &mut dyn Write,
) -> Result<OfDiary, Failure> {
    let at = moment(&args.when)?;
    let patterns = patterns(args.uptake.as_deref())?;
    let diary = diary(path, err)?;
    let state = jobs::diary_state(bench, &diary, at, &patterns);
    let empty = || {
        let message = format!("by the diary `{}` the tank is empty", path.display());
        Failure::input("holding", message, Some("`bloomsalt mix` is for an empty tank".to_owned()))
    };
    let tank = state.tank.ok_or_else(empty)?;
    let ppm = tank.ppm_on(Track::Likely).ok_or_else(empty)?;
    if how.held_back.is_none() {
        how.held_back = Some(liter(tank.held_back_l));
    }
    if how.level.is_none() {
        how.level = Some(liter((tank.volume_l - tank.held_back_l).max(0.0)));
    }
    if how.on.is_none() {
        how.on = Some(at.date());
    }
    let holding = Holding::of_analysis(bench, &ppm, "the diary's likely course, an estimate");
    Ok(OfDiary { holding, diary, at, patterns })
}

/// A saved recipe.
pub(super) fn recipe(path: &Path) -> Result<Recipe, Failure> {
    serde_json::from_slice(&diary_file::read(path)?)
        .map_err(|error| Failure::file("recipe", path, &format!("is no recipe: {error}")))
}

/// A volume that was typed behind `what`.
pub(super) fn litres(what: &str, typed: &str, bound: &quantity::Bound) -> Result<Volume, Failure> {
    quantity::volume(typed, bound).map_err(|error| Failure::unfit(what, typed, &error))
}

fn date(typed: &str) -> Result<Date, Failure> {
    typed.parse().map(Date::of).map_err(|_| {
        let help = Some("write it as in 2027-01-04".to_owned());
        Failure::input("date", format!("`--on` reads \"{typed}\", which is no date"), help)
    })
}
