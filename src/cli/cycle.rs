//! `bloomsalt cycle`.

use std::io::Write;
use std::path::PathBuf;

use super::Console;
use super::args::CycleArgs;
use super::failure::Failure;
use super::files::New;
use super::request::{Asked, Files, Out, also, without_what_is_filed};
use super::when::{goes_with_a_logbook, moment};
use crate::ask::{Answer, CycleRequest, Request};
use crate::quantity::{Date, Stamp};
use crate::report;

pub(super) fn run(args: &CycleArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let stamp = match &args.stamp {
        Some(day) => Stamp::midnight(
            Date::parse(day).map_err(|error| Failure::input("date", format!("`--stamp` reads \"{day}\"; {error}"), None))?,
        ),
        None => Stamp::new(jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now())),
    };
    let answer = asked(args)?.answer(err)?;
    let out = Out { json: args.json, save: None, sheet: args.sheet.as_deref() };
    let mut files = New::default();
    if let Answer::Cycle(of) = &answer {
        if let Some(path) = &args.calendar {
            files.add(path, "Wrote", report::calendar(&of.record, stamp));
        }
        if let Some(path) = &args.csv {
            files.add(path, "Wrote", report::csv(&of.record));
        }
    }
    files.extend(out.files(&answer)?);
    files.write(out.text(&without_what_is_filed(answer), console)?, args.json)
}

pub(super) fn asked(args: &CycleArgs) -> Result<Asked<'_>, Failure> {
    goes_with_a_logbook(args.logbook.first().map(PathBuf::as_path), args.uptake.as_deref(), &args.when, None)?;
    let mut files = Files::default();
    let request = Request::Cycle(CycleRequest {
        bench: files.bench(args.bench.as_deref())?,
        tank: args.tank.clone(),
        start: args.start.clone(),
        first_open: args.first_open.clone().filter(|_| args.start.is_none()),
        logbooks: files.logbooks(&args.logbook)?,
        now: args.logbook.first().map(|_| moment(&args.when)).transpose()?.map(|now| now.to_string()),
        uptake: files.maybe("uptake", args.uptake.as_deref())?,
        best_start: args.best_start,
        also: also(false, args.sheet.is_some()),
    });
    Ok(Asked { request, files })
}
