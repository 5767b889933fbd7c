//! `bloomsalt cycle`.

use std::io::Write;

use super::args::CycleArgs;
use super::diary::{diary, patterns};
use super::failure::Failure;
use super::files;
use super::when::{goes_with_a_diary, moment};
use crate::jobs::{self, Begin, FromDiary};
use crate::quantity::{Date, DateError, Stamp};
use crate::report;

pub(super) fn run(args: &CycleArgs, colour: bool, err: &mut dyn Write) -> Result<String, Failure> {
    let bench = files::bench(args.bench.as_deref(), args.tank.as_deref())?;
    let begin = match (&args.start, &args.flower_week) {
        (Some(day), _) => Begin::On(parse("--start", day, Date::parse)?),
        (None, week) => Begin::FlowersOn(parse("--flower-week", week.as_deref().unwrap_or_default(), Date::parse_week)?),
    };
    let stamp = match &args.stamp {
        Some(day) => Stamp::midnight(parse("--stamp", day, Date::parse)?),
        None => Stamp::new(jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now())),
    };
    goes_with_a_diary(args.diary.as_deref(), args.uptake.as_deref(), &args.when, None)?;
    let cycle = match &args.diary {
        None => jobs::cycle(&bench, begin, None),
        Some(path) => {
            let (at, patterns) = (moment(&args.when)?, patterns(args.uptake.as_deref())?);
            let diary = diary(path, err)?;
            jobs::cycle(&bench, begin, Some(FromDiary { diary: &diary, at, patterns: &patterns }))
        }
    }
    .map_err(Failure::Job)?;
    let calendar = args.calendar.as_ref().map(|path| (path.as_path(), report::calendar(&cycle, stamp)));
    let table = args.csv.as_ref().map(|path| (path.as_path(), report::csv(&cycle)));
    let written: Vec<_> = calendar.into_iter().chain(table).collect();
    files::write_all_new(&written)?;
    if args.json {
        return Ok(report::document(&cycle));
    }
    let wrote: Vec<String> = written.iter().map(|(path, _)| format!("Wrote {}.\n", path.display())).collect();
    let gap = if wrote.is_empty() { "" } else { "\n" };
    Ok(format!("{}{gap}{}", report::cycle(&cycle, colour), wrote.concat()))
}

fn parse(option: &str, text: &str, read: fn(&str) -> Result<Date, DateError>) -> Result<Date, Failure> {
    read(text).map_err(|error| Failure::input("date", format!("`{option}` reads \"{text}\"; {error}"), None))
}
