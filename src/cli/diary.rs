//! `bloomsalt diary …`.

use std::io::Write;
use std::path::Path;

use super::check::salts;
use super::diary_args::{AddArgs, AddEvent, DiaryArgs, DiaryCommand, ForecastArgs, NowArgs, ReadArgs};
use super::failure::Failure;
use super::switch::recipe;
use super::when::moment;
use super::{Console, diary_file, files};
use crate::bench::Bench;
use crate::diary::{Amounts, Diary, Event, Patterns, excerpt};
use crate::jobs::{self, ForecastAsked};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{
    self, Bound, DIARY_VOLUME_L, EC_READING_MS_PER_CM, HELD_BACK_L, LEVEL_L, QuantityError, SOLUTION_PPM, TANK_L,
    TARGET_PPM, TEMPERATURE_C, Volume, liter, nine_digits, ppm_of,
};
use crate::{report, suggest};

pub(super) fn run(args: &DiaryArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    match &args.command {
        DiaryCommand::Add(args) => add(args, err),
        DiaryCommand::Show(args) => show(args, console.colour_out, err),
        DiaryCommand::Now(args) => now(args, console.colour_out, err),
        DiaryCommand::Forecast(args) => forecast(args, console.colour_out, err),
    }
}

/// Reads a diary; lines that were cut off are told on standard error.
fn parse(path: &Path, bytes: &[u8], given_up: &[usize], err: &mut dyn Write) -> Result<Diary, Failure> {
    let file = path.display();
    let diary = Diary::parse(bytes, given_up)
        .map_err(|damage| Failure::Damaged { file: file.to_string(), damage: Box::new(damage) })?;
    for torn in diary.torn() {
        // standard error is the last resort; there is nobody left to tell
        let _ = writeln!(
            err,
            "warning: line {} of `{file}` is torn: its writing was cut off, so it does not count; all {} entries before it \
             are whole. It reads: {}",
            torn.line,
            diary.entries().len(),
            excerpt(&torn.read)
        );
    }
    Ok(diary)
}

/// The diary of a file.
pub(super) fn diary(path: &Path, err: &mut dyn Write) -> Result<Diary, Failure> {
    parse(path, &diary_file::read(path)?, &[], err)
}

fn read(args: &ReadArgs, err: &mut dyn Write) -> Result<Diary, Failure> {
    diary(&args.file, err)
}

fn show(args: &ReadArgs, colour: bool, err: &mut dyn Write) -> Result<String, Failure> {
    let record = jobs::show(&read(args, err)?);
    Ok(if args.json { report::document(&record) } else { report::diary_show(&record, colour) })
}

/// The table of uptake that was named, or the program's own.
pub(super) fn patterns(file: Option<&Path>) -> Result<Patterns, Failure> {
    let Some(path) = file else { return Ok(Patterns::standard()) };
    let text = String::from_utf8_lossy(&diary_file::read(path)?).into_owned();
    Patterns::parse(&text).map_err(|error| Failure::file("uptake-table", path, &error.words))
}

fn now(args: &NowArgs, colour: bool, err: &mut dyn Write) -> Result<String, Failure> {
    let (at, bench) = (moment(&args.when)?, files::bench(args.bench.as_deref(), None)?);
    let patterns = patterns(args.uptake.as_deref())?;
    let record = jobs::now(&bench, &read(&args.read, err)?, at, &patterns);
    Ok(if args.read.json { report::document(&record) } else { report::diary_now(&record, colour) })
}

fn forecast(args: &ForecastArgs, colour: bool, err: &mut dyn Write) -> Result<String, Failure> {
    let now = &args.now;
    let (at, bench) = (moment(&now.when)?, files::bench(now.bench.as_deref(), None)?);
    let patterns = patterns(now.uptake.as_deref())?;
    let floor_ppm = args.floor.as_deref().map(|typed| ppm("--floor", typed, &TARGET_PPM)).transpose()?;
    let asked = ForecastAsked { formula: args.formula.as_deref(), floor_ppm };
    let record = jobs::forecast(&bench, &read(&now.read, err)?, at, &patterns, asked).map_err(Failure::Job)?;
    Ok(if now.read.json { report::document(&record) } else { report::diary_forecast(&record, colour) })
}

fn add(args: &AddArgs, err: &mut dyn Write) -> Result<String, Failure> {
    let at = moment(&args.when)?;
    // words and readings need no bench, and are written without waiting for one
    let event = match (plain(&args.event)?, &args.bench) {
        (Some(event), None) => event,
        _ => event(&args.event, &files::bench(args.bench.as_deref(), None)?)?,
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
        let diary = parse(path, bytes, given_up, err)?;
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
            let held_back = held_back.as_deref().map(|typed| volume("--held-back", typed, &HELD_BACK_L)).transpose()?;
            let held_back = held_back.unwrap_or(liter(0.0));
            let litres = litres.as_deref().map(|typed| volume("--volume", typed, &TANK_L)).transpose()?;
            match (path, litres) {
                (Some(path), litres) => {
                    jobs::recipe_event(bench, &recipe(path)?, litres, held_back, formula.as_deref()).map_err(Failure::Job)?
                }
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
                        .map_err(Failure::Job)?
                }
                // clap asks for one of the two
                (None, None) => return Err(Failure::own("a filling without a volume")),
            }
        }
        AddEvent::Added { salts: typed } => jobs::added_event(bench, &salts(bench, typed)?).map_err(Failure::Job)?,
        AddEvent::ToppedUp { volume: litres, to, pure } => {
            let after = to.as_deref().map(|typed| volume("--to", typed, &LEVEL_L)).transpose()?;
            jobs::topped_up_event(volume("--volume", litres, &DIARY_VOLUME_L)?, after, &water(*pure))
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
            Event::Drained { volume_l: litres(volume("--volume", typed, &DIARY_VOLUME_L)?) }
        }
        AddEvent::Reading { ec, ph, temperature, level } => {
            reading(ec.as_deref(), ph.as_deref(), temperature.as_deref(), level.as_deref())?
        }
        AddEvent::Analysis { found } => Event::Analysis { ppm: analysis_ppm(found, "diary-entry")? },
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

fn reading(ec: Option<&str>, ph: Option<&str>, temperature: Option<&str>, level: Option<&str>) -> Result<Event, Failure> {
    let ec = ec.map(|typed| {
        quantity::conductivity(typed, &EC_READING_MS_PER_CM).map_err(|error| Failure::unfit("--ec", typed, &error))
    });
    let celsius = temperature.map(|typed| {
        quantity::temperature(typed, &TEMPERATURE_C).map_err(|error| Failure::unfit("--temperature", typed, &error))
    });
    let ph = ph.map(|typed| number("--ph", typed, &quantity::PH));
    let level = level.map(|typed| volume("--level", typed, &LEVEL_L).map(litres));
    Ok(Event::Reading {
        ec_ms_cm: ec
            .transpose()?
            .map(|ec| nine_digits(ec.get::<uom::si::electrical_conductivity::siemens_per_meter>() * 10.0)),
        ph: ph.transpose()?,
        temperature_c: celsius
            .transpose()?
            .map(|celsius| quantity::round_to(celsius.get::<uom::si::thermodynamic_temperature::degree_celsius>(), 2)),
        level_l: level.transpose()?,
    })
}

/// Concentrations typed as ELEMENT=PPM, by symbol, each once; `code` is that of a mistake.
pub(super) fn analysis_ppm(found: &[String], code: &'static str) -> Result<Amounts, Failure> {
    let mut ppm_by_symbol = Amounts::new();
    for typed in found {
        let Some((symbol, value)) = typed.split_once('=') else {
            let help = Some("write ELEMENT=PPM, as in N=88".to_owned());
            return Err(Failure::input("salt-amount", format!("`{typed}` has no `=`"), help));
        };
        let symbol = symbol.trim();
        if Nutrient::parse(symbol).is_none() {
            let help = suggest::nearest(symbol, NUTRIENTS.into_iter().map(Nutrient::symbol));
            let help = help.map(|word| format!("did you mean `{word}`?"));
            return Err(Failure::input(code, format!("`{symbol}` is no nutrient of an analysis"), help));
        }
        let bare = value.trim().parse::<f64>().is_ok();
        let value = if bare { number(typed, value.trim(), &SOLUTION_PPM)? } else { ppm(typed, value, &SOLUTION_PPM)? };
        if ppm_by_symbol.insert(symbol.to_owned(), value).is_some() {
            return Err(Failure::input(code, format!("`{typed}` names {symbol} a second time"), None));
        }
    }
    Ok(ppm_by_symbol)
}

fn volume(what: &str, typed: &str, bound: &Bound) -> Result<Volume, Failure> {
    quantity::volume(typed, bound).map_err(|error| Failure::unfit(what, typed, &error))
}

fn litres(volume: Volume) -> f64 {
    nine_digits(quantity::milliliter(volume) * 1e-3)
}

/// A bare number within a bound.
pub(super) fn number(what: &str, typed: &str, bound: &Bound) -> Result<f64, Failure> {
    let value = typed.parse().map_err(|_| QuantityError::NotANumber { read: typed.to_owned() });
    value.and_then(|value| bound.check(value)).map_err(|error| Failure::unfit(what, typed, &error))
}

/// A concentration by mass.
fn ppm(what: &str, typed: &str, bound: &Bound) -> Result<f64, Failure> {
    match quantity::concentration(typed).map_err(|error| Failure::unfit(what, typed, &error))? {
        quantity::Concentration::Mass(mass) => {
            bound.check(nine_digits(ppm_of(mass))).map_err(|error| Failure::unfit(what, typed, &error))
        }
        quantity::Concentration::Amount(_) => {
            Err(Failure::input("quantity", format!("`{what}` reads \"{typed}\"; it takes ppm or mg/L of the element"), None))
        }
    }
}
