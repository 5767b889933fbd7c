//! A moment as it was typed, or the system clock; the offset from UTC is always known.

use std::path::Path;

use jiff::civil::DateTime;
use jiff::fmt::temporal::DateTimeParser;
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{Timestamp, tz};

use super::failure::Failure;
use super::logbook_args::When;
use crate::logbook::Moment;

/// The moment that was typed, or now.
pub(super) fn moment(when: &When) -> Result<Moment, Failure> {
    let zone = when.zone.as_deref().map(zone).transpose()?;
    let Some(typed) = when.at.as_deref() else {
        let (now, zone) = (Timestamp::now(), zone.unwrap_or_else(TimeZone::system));
        return Ok(Moment::new(now, zone.to_offset(now)));
    };
    match (Moment::parse(typed), zone) {
        (Ok(_), Some(_)) => Err(wrong(
            format!("`--at` reads \"{typed}\" with an offset, and `--zone` is stated too"),
            Some("keep one of the two".to_owned()),
        )),
        (Ok(moment), None) => Ok(moment),
        (Err(_), zone) => in_zone(typed, &zone.unwrap_or_else(TimeZone::system)),
    }
}

/// Refuses what only a logbook gives a meaning where none is named; clap forgets `requires` where another source is.
///
/// * `help`: what may have been meant
pub(super) fn goes_with_a_logbook(
    logbook: Option<&Path>,
    uptake: Option<&Path>,
    when: &When,
    help: Option<&str>,
) -> Result<(), Failure> {
    let given = [("--uptake", uptake.is_some()), ("--at", when.at.is_some()), ("--zone", when.zone.is_some())];
    match given.into_iter().find(|(_, given)| *given && logbook.is_none()) {
        None => Ok(()),
        Some((option, _)) => {
            Err(Failure::input("usage", format!("`{option}` goes with --logbook"), help.map(str::to_owned)))
        }
    }
}

fn wrong(message: String, help: Option<String>) -> Failure {
    Failure::input("moment", message, help)
}

/// A wall clock in a zone, a day alone as its noon: an hour that a change of clocks skips or repeats is refused, never guessed.
fn in_zone(typed: &str, zone: &TimeZone) -> Result<Moment, Failure> {
    let help = || Some("write it as in \"2026-10-03 18:30\"".to_owned());
    let clock: DateTime =
        typed.parse().map_err(|_| wrong(format!("`--at` reads \"{typed}\", which is no date and time"), help()))?;
    let clock = if typed.contains(':') { clock } else { clock.date().at(12, 0, 0, 0) };
    let name = zone.iana_name().unwrap_or("that zone");
    let offset = match zone.to_ambiguous_timestamp(clock).offset() {
        AmbiguousOffset::Unambiguous { offset } => offset,
        AmbiguousOffset::Gap { .. } => {
            let message = format!("`--at` reads \"{typed}\", an hour that the clocks of {name} skipped that day");
            return Err(wrong(message, Some("look at the clock again, or state the offset".to_owned())));
        }
        AmbiguousOffset::Fold { before, after } => {
            return Err(wrong(
                format!("`--at` reads \"{typed}\", an hour that the clocks of {name} showed twice that day"),
                Some(format!("state the offset, and no `--zone`: {before} was the first, {after} the second")),
            ));
        }
    };
    let at = offset.to_timestamp(clock).map_err(|_| wrong(format!("`--at` reads \"{typed}\", out of range"), None))?;
    Ok(Moment::new(at, offset))
}

fn zone(typed: &str) -> Result<TimeZone, Failure> {
    DateTimeParser::new().parse_time_zone(typed).map_err(|_| {
        let names: Vec<String> = tz::db().available().map(|name| name.to_string()).collect();
        let help = crate::suggest::nearest(typed, names.iter().map(String::as_str)).map_or_else(
            || "write a name such as Europe/Berlin, or an offset such as +02:00".to_owned(),
            |word| format!("did you mean `{word}`?"),
        );
        wrong(format!("`--zone` reads \"{typed}\", which is no time zone"), Some(help))
    })
}
