//! `bloomsalt diary …`.

use std::io::Write;
use std::path::Path;

use super::asked::{Asked, Files, Out, told_torn};
use super::diary_args::{AddArgs, AddEvent, DiaryArgs, DiaryCommand, ForecastArgs, NowArgs, ReadArgs};
use super::failure::Failure;
use super::when::moment;
use super::{Console, diary_file, files};
use crate::ask::typed::{analysis_ppm, conductivity, number, recipe, salts, temperature, volume};
use crate::ask::{DiaryTorn, ForecastRequest, NowRequest, Refusal, Request, ShowRequest};
use crate::bench::Bench;
use crate::diary::{Diary, Event};
use crate::jobs::{self, Recipe};
use crate::matter::Nutrients;
use crate::quantity::{
    self, DIARY_VOLUME_L, EC_READING_MS_PER_CM, HELD_BACK_L, LEVEL_L, TANK_L, Volume, liter, nine_digits,
};
use crate::report;

pub(super) fn run(args: &DiaryArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    match (&args.command, asked(args)) {
        (DiaryCommand::Add(args), _) => add(args, err),
        (command, Some(asked)) => Out { json: command.job().1, ..Out::default() }.put(asked?.answer(err)?, console),
        (_, None) => Err(Failure::own("a command that asks for nothing")),
    }
}

/// What is asked of the library; nothing where an entry is written.
pub(super) fn asked(args: &DiaryArgs) -> Option<Result<Asked<'_>, Failure>> {
    match &args.command {
        DiaryCommand::Add(_) => None,
        DiaryCommand::Show(args) => Some(show(args)),
        DiaryCommand::Now(args) => Some(now(args)),
        DiaryCommand::Forecast(args) => Some(forecast(args)),
    }
}

fn show(args: &ReadArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::DiaryShow(ShowRequest { diary: files.text("diary", &args.file)? });
    Ok(Asked { request, files })
}

fn now(args: &NowArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::DiaryNow(NowRequest {
        now: moment(&args.when)?.to_string(),
        bench: files.bench(args.bench.as_deref())?,
        uptake: files.maybe("uptake", args.uptake.as_deref())?,
        diary: files.text("diary", &args.read.file)?,
    });
    Ok(Asked { request, files })
}

fn forecast(args: &ForecastArgs) -> Result<Asked<'_>, Failure> {
    let (mut files, of) = (Files::default(), &args.now);
    let request = Request::DiaryForecast(ForecastRequest {
        now: moment(&of.when)?.to_string(),
        bench: files.bench(of.bench.as_deref())?,
        uptake: files.maybe("uptake", of.uptake.as_deref())?,
        diary: files.text("diary", &of.read.file)?,
        formula: args.formula.clone(),
        floor: args.floor.clone(),
    });
    Ok(Asked { request, files })
}

fn add(args: &AddArgs, err: &mut dyn Write) -> Result<String, Failure> {
    let at = moment(&args.when)?;
    // words and readings need no bench, and are written without waiting for one
    let event = match (plain(&args.event)?, &args.bench) {
        (Some(event), None) => event,
        _ => event(&args.event, &files::bench(args.bench.as_deref())?)?,
    };
    let refused = |why: String| Failure::input("diary-entry", why, None);
    event.check().map_err(refused)?;
    let given_up: &[usize] = if let Event::Recovered { lines } = &event { lines } else { &[] };
    // what only makes sense in a diary that exists does not make one
    let create = !matches!(event, Event::Voided { .. } | Event::Recovered { .. });
    let path = &args.file;
    let record = diary_file::append(path, create, |bytes| {
        if !given_up.is_empty() && Diary::parse(bytes, &[]).is_ok() {
            return Err(refused("there is nothing to give up: every line of the diary can be read".to_owned()));
        }
        let damaged = |damage| Failure::of(Refusal::damaged(&damage), &[("diary", path)], None);
        let diary = Diary::parse(bytes, given_up).map_err(damaged)?;
        if let Some(torn) = DiaryTorn::of(&diary) {
            told_torn(path, &torn, err);
        }
        let text = diary.append(at, event.clone()).map_err(refused)?;
        let record = jobs::added_record(&diary, at, event.clone());
        Ok((text, record))
    })?;
    Ok(if args.json { report::document(&record) } else { report::diary_added(&record) })
}

fn event(typed: &AddEvent, bench: &Bench) -> Result<Event, Failure> {
    let water = |pure: bool| if pure { Nutrients::default() } else { bench.water.nutrients };
    Ok(match typed {
        AddEvent::Filled { salts: typed, volume: litres, recipe: path, formula, held_back, pure } => {
            let held_back = held_back.as_deref().map(|typed| volume("held_back", typed, &HELD_BACK_L)).transpose()?;
            let held_back = held_back.unwrap_or(liter(0.0));
            let litres = litres.as_deref().map(|typed| volume("volume", typed, &TANK_L)).transpose()?;
            match (path, litres) {
                (Some(path), litres) => jobs::recipe_event(bench, &recipe_of(path)?, litres, held_back, formula.as_deref())
                    .map_err(Failure::job)?,
                (None, Some(litres)) => {
                    if typed.is_empty()
                        && let Some(formula) = formula
                    {
                        return Err(Failure::input(
                            "diary-entry",
                            format!("`--formula {formula}` says what was aimed at, but not what went in"),
                            Some("name the salts as SALT=AMOUNT, or the saved recipe with `--recipe FILE`".to_owned()),
                        ));
                    }
                    let added = salts(bench, typed)?;
                    jobs::filled_event(bench, litres, held_back, &water(*pure), &added, formula.as_deref())
                        .map_err(Failure::job)?
                }
                // clap asks for one of the two
                (None, None) => return Err(Failure::own("a filling without a volume")),
            }
        }
        AddEvent::Added { salts: typed } => jobs::added_event(bench, &salts(bench, typed)?).map_err(Failure::job)?,
        AddEvent::ToppedUp { volume: litres, to, pure } => {
            let after = to.as_deref().map(|typed| volume("to", typed, &LEVEL_L)).transpose()?;
            jobs::topped_up_event(volume("volume", litres, &DIARY_VOLUME_L)?, after, &water(*pure))
        }
        AddEvent::Phase { name } => jobs::phase_event(bench, name),
        other => return plain(other)?.ok_or_else(|| Failure::own("an event that nothing reads")),
    })
}

/// An event that no bench is needed for.
fn plain(typed: &AddEvent) -> Result<Option<Event>, Failure> {
    Ok(Some(match typed {
        AddEvent::Filled { .. } | AddEvent::Added { .. } | AddEvent::ToppedUp { .. } | AddEvent::Phase { .. } => {
            return Ok(None);
        }
        AddEvent::Drained { volume: typed } => {
            Event::Drained { volume_l: litres(volume("volume", typed, &DIARY_VOLUME_L)?) }
        }
        AddEvent::Reading { ec, ph, temperature, level } => {
            reading(ec.as_deref(), ph.as_deref(), temperature.as_deref(), level.as_deref())?
        }
        AddEvent::Analysis { found } => Event::Analysis { ppm: analysis_ppm("found", found, "diary-entry")? },
        AddEvent::Note { text } => Event::Note { text: text.clone() },
        AddEvent::Stalks => Event::StalksSeen {},
        AddEvent::Void { entry, why } => Event::Voided { voids: *entry, why: why.clone() },
        AddEvent::Recovered { lines } => {
            let mut lines = lines.clone();
            lines.sort_unstable();
            lines.dedup();
            Event::Recovered { lines }
        }
    }))
}

fn reading(ec: Option<&str>, ph: Option<&str>, celsius: Option<&str>, level: Option<&str>) -> Result<Event, Failure> {
    use uom::si::electrical_conductivity::siemens_per_meter;
    use uom::si::thermodynamic_temperature::degree_celsius;
    let ec = ec.map(|typed| conductivity("ec", typed, &EC_READING_MS_PER_CM)).transpose()?;
    let ph = ph.map(|typed| number("ph", typed, &quantity::PH)).transpose()?;
    let celsius = celsius.map(|typed| temperature("temperature", typed)).transpose()?;
    let level = level.map(|typed| volume("level", typed, &LEVEL_L)).transpose()?;
    Ok(Event::Reading {
        ec_ms_cm: ec.map(|ec| nine_digits(ec.get::<siemens_per_meter>() * 10.0)),
        ph,
        temperature_c: celsius.map(|celsius| quantity::round_to(celsius.get::<degree_celsius>(), 2)),
        level_l: level.map(litres),
    })
}

/// A saved recipe of a file.
fn recipe_of(path: &Path) -> Result<Recipe, Failure> {
    let mut files = Files::default();
    recipe(&files.text("recipe", path)?).map_err(|refusal| files.failure(refusal))
}

fn litres(volume: Volume) -> f64 {
    nine_digits(quantity::milliliter(volume) * 1e-3)
}
