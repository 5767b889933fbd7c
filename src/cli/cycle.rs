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
    let text = if args.json { report::document(&cycle) } else { report::cycle(&cycle, colour) };
    let mut files = files::New::default();
    if let Some(path) = &args.calendar {
        files.add(path, "Wrote", report::calendar(&cycle, stamp));
    }
    if let Some(path) = &args.csv {
        files.add(path, "Wrote", report::csv(&cycle));
    }
    if let Some(path) = &args.sheet {
        let labels = jobs::labels(&bench.catalogue, cycle.handling.iter().map(|handling| handling.salt.as_str()));
        files.add(path, "Wrote", report::cycle_sheet(&cycle, &jobs::compared(&bench, None), &labels));
    }
    files.write(text, args.json)
}

fn parse(option: &str, text: &str, read: fn(&str) -> Result<Date, DateError>) -> Result<Date, Failure> {
    read(text).map_err(|error| Failure::input("date", format!("`{option}` reads \"{text}\"; {error}"), None))
}
