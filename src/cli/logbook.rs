//! `bloomsalt logbook …`.

use std::io::Write;

use super::failure::Failure;
use super::logbook_args::{AddArgs, AddEvent, ForecastArgs, LogbookArgs, LogbookCommand, NowArgs, ReadArgs};
use super::request::{Asked, Files, Out, also};
use super::when::moment;
use super::{Console, logbook_file};
use crate::ask::{AddRequest, Answer, ForecastRequest, Happened, NowRequest, Request, ShowRequest};

pub(super) fn run(args: &LogbookArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    if let LogbookCommand::Add(args) = &args.command {
        return add(args, console, err);
    }
    let save = if let LogbookCommand::Forecast(args) = &args.command { args.save.as_deref() } else { None };
    Out { json: args.command.job().1, save, sheet: None }.put(asked(args)?.answer(err)?, console)
}

/// What is asked of the library.
pub(super) fn asked(args: &LogbookArgs) -> Result<Asked<'_>, Failure> {
    match &args.command {
        LogbookCommand::Add(args) => entry(args),
        LogbookCommand::Show(args) => show(args),
        LogbookCommand::Now(args) => now(args),
        LogbookCommand::Forecast(args) => forecast(args),
    }
}

fn show(args: &ReadArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::LogbookShow(ShowRequest { logbook: files.text("logbook", &args.file)? });
    Ok(Asked { request, files })
}

fn now(args: &NowArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::LogbookNow(NowRequest {
        now: moment(&args.when)?.to_string(),
        bench: files.bench(args.bench.as_deref())?,
        uptake: files.maybe("uptake", args.uptake.as_deref())?,
        logbook: files.text("logbook", &args.read.file)?,
    });
    Ok(Asked { request, files })
}

fn forecast(args: &ForecastArgs) -> Result<Asked<'_>, Failure> {
    let (mut files, of) = (Files::default(), &args.now);
    let request = Request::LogbookForecast(ForecastRequest {
        now: moment(&of.when)?.to_string(),
        bench: files.bench(of.bench.as_deref())?,
        uptake: files.maybe("uptake", of.uptake.as_deref())?,
        logbook: files.text("logbook", &of.read.file)?,
        formula: args.formula.clone(),
        floor: args.floor.clone(),
        also: also(args.save.is_some(), false),
    });
    Ok(Asked { request, files })
}

/// What is asked for an entry, the logbook's text left empty.
fn entry(args: &AddArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::LogbookAdd(AddRequest {
        now: moment(&args.when)?.to_string(),
        bench: files.bench(args.bench.as_deref())?,
        logbook: String::new(),
        tank: args.tank.clone(),
        entry: happened(&args.event, &mut files)?,
        confirmed: args.yes,
    });
    files.name("logbook", &args.file);
    Ok(Asked { request, files })
}

fn happened<'a>(typed: &'a AddEvent, files: &mut Files<'a>) -> Result<Happened, Failure> {
    Ok(match typed.clone() {
        AddEvent::Filled { salts: added, volume, recipe: _, formula, held_back, pure, water } => {
            let recipe = if let AddEvent::Filled { recipe, .. } = typed { recipe.as_deref() } else { None };
            let recipe = files.maybe("recipe", recipe)?;
            Happened::Filled { added, volume, recipe, formula, held_back, pure, water }
        }
        AddEvent::Added { salts: added } => Happened::Added { added },
        AddEvent::ToppedUp { volume, to, pure, water } => Happened::ToppedUp { volume, to, pure, water },
        AddEvent::From { recipe: _, weighed, drained, filled, to, held_back } => {
            let path = if let AddEvent::From { recipe, .. } = typed { Some(recipe.as_path()) } else { None };
            let recipe = files.maybe("recipe", path)?.unwrap_or_default();
            Happened::From { recipe, weighed, drained, filled, to, held_back }
        }
        AddEvent::Drained { volume } => Happened::Drained { volume },
        AddEvent::Reading { ec, ph, temperature, level } => Happened::Reading { ec, ph, temperature, level },
        AddEvent::Analysis { found } => Happened::Analysis { found },
        AddEvent::Note { text } => Happened::Note { text },
        AddEvent::Phase { name } => Happened::Phase { name },
        AddEvent::Stalks => Happened::Stalks {},
        AddEvent::Void { entry, why } => Happened::Void { entry, why },
        AddEvent::Recovered { lines } => Happened::Recovered { lines },
    })
}

fn add(args: &AddArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let mut asked = entry(args)?;
    // what only makes sense in a logbook that exists does not make one
    let create = !matches!(args.event, AddEvent::Void { .. } | AddEvent::Recovered { .. });
    if create && !args.file.exists() {
        // nor does an entry that is refused
        asked.answer(err)?;
    }
    let answer = logbook_file::append(&args.file, create, |bytes| {
        if let Request::LogbookAdd(entry) = &mut asked.request {
            entry.logbook = String::from_utf8_lossy(bytes).into_owned();
        }
        match asked.answer(err)? {
            Answer::LogbookAdd(appended) => Ok((appended.append.clone(), Answer::LogbookAdd(appended))),
            _ => Err(Failure::own("an entry that is answered otherwise")),
        }
    })?;
    Out { json: args.json, ..Out::default() }.put(answer, console)
}
