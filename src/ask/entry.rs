//! An entry for a logbook.

use uom::si::electrical_conductivity::siemens_per_meter;
use uom::si::thermodynamic_temperature::degree_celsius;

use super::done::{done, weighed_far_off};
use super::typed::{analysis_ppm, conductivity, maybe, number, recipe, temperature, volume, went_in};
use super::{AddRequest, Answer, Appended, Happened, LogbookTorn, Refusal, typed};
use crate::bench::Bench;
use crate::jobs::{self, Entered, Recipe};
use crate::logbook::{Event, Logbook, Moment, Patterns};
use crate::matter::Nutrients;
use crate::quantity::{
    self, EC_READING_MS_PER_CM, HELD_BACK_L, LEVEL_L, LOGBOOK_VOLUME_L, MeterScale, TANK_L, Volume, liter, liters_written,
    nine_digits,
};

pub(super) fn add(asked: &AddRequest) -> Result<Answer, Refusal> {
    let at = typed::moment(Some(&asked.now))?;
    let event = event(asked, at)?;
    let refused = |why: String| Refusal::input("logbook-entry", why, None);
    event.check().map_err(refused)?;
    let given_up: &[usize] = if let Event::Recovered { lines } = &event { lines } else { &[] };
    let bytes = asked.logbook.as_bytes();
    if !given_up.is_empty() && Logbook::parse(bytes, &[]).is_ok() {
        return Err(refused("there is nothing to give up: every line of the logbook can be read".to_owned()));
    }
    let logbook = Logbook::parse(bytes, given_up).map_err(|damage| Refusal::damaged(&damage))?;
    let (bound, logbook) = bound(asked, at, logbook)?;
    let append = bound + &logbook.append(at, event.clone()).map_err(refused)?;
    let bench = asked.bench.as_deref().map(|text| typed::bench(Some(text), None)).transpose()?;
    if !asked.confirmed && given_up.is_empty() {
        not_a_slip(asked, bench.as_ref(), &logbook, &append)?;
    }
    let record = jobs::added_record(bench.as_ref(), &logbook, at, event);
    Ok(Answer::LogbookAdd(Box::new(Appended { record, append, logbook_torn: LogbookTorn::of(&logbook) })))
}

/// Asks back where what is to be appended to a logbook looks like a slip, or its weights do.
fn not_a_slip(asked: &AddRequest, bench: Option<&Bench>, before: &Logbook, append: &str) -> Result<(), Refusal> {
    let text = format!("{}{append}", asked.logbook);
    let with = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| Refusal::damaged(&damage))?;
    let (as_told, by_hand) = (is_as_told(&asked.entry), is_by_hand(&asked.entry));
    let followed = followed(&asked.entry)?;
    let made_for = followed.as_ref().map(|recipe| recipe.bench.as_str());
    let how = Entered { bench, as_told, by_hand, made_for };
    let weights = weighed_far_off(&asked.entry)?;
    let asked_back = weights.into_iter().chain(jobs::slips_of_last(before, &with, &how)).map(|(odd, help)| {
        let mut one = Refusal::input("confirm", format!("nothing is written yet: {odd} Is it as it was typed?"), help);
        one.problems[0].key = Some("confirmed".to_owned());
        one
    });
    asked_back.reduce(Refusal::and).map_or(Ok(()), Err)
}

/// True for a recipe that was followed to the letter.
fn is_as_told(happened: &Happened) -> bool {
    match happened {
        Happened::From { weighed, drained, filled, .. } => weighed.is_empty() && drained.is_none() && filled.is_none(),
        Happened::Filled { recipe, volume, .. } => recipe.is_some() && volume.is_none(),
        _ => false,
    }
}

/// The recipe that an entry follows.
fn followed(happened: &Happened) -> Result<Option<Recipe>, Refusal> {
    match happened {
        Happened::From { recipe: text, .. } | Happened::Filled { recipe: Some(text), .. } => recipe(text).map(Some),
        _ => Ok(None),
    }
}

/// True for salts that no recipe names.
fn is_by_hand(happened: &Happened) -> bool {
    matches!(happened, Happened::Added { .. } | Happened::Filled { recipe: None, .. })
}

/// What binds a new logbook to its tank, to stand before its first entry, and the logbook with it.
fn bound(asked: &AddRequest, at: Moment, logbook: Logbook) -> Result<(String, Logbook), Refusal> {
    let Some(id) = &asked.tank else { return Ok((String::new(), logbook)) };
    typed::tank_of(typed::bench(asked.bench.as_deref(), None)?, id)?;
    let wrong = |message: String| Refusal::input("tank", message, None).about("tank", id, None);
    match logbook.tank() {
        Some(own) if own == id => Ok((String::new(), logbook)),
        Some(own) => Err(wrong(format!("this is the logbook of `{own}` and not of `{id}`"))),
        None if logbook.entries().is_empty() && logbook.torn().is_empty() => {
            let text = logbook.append(at, Event::Tank { tank: id.clone() }).map_err(wrong)?;
            let both = format!("{}{text}", asked.logbook);
            let logbook = Logbook::parse(both.as_bytes(), &[]).map_err(|damage| Refusal::damaged(&damage))?;
            Ok((text, logbook))
        }
        None => Err(wrong("this logbook has entries already and names no tank: it is that of the first".to_owned())),
    }
}

fn event(asked: &AddRequest, at: Moment) -> Result<Event, Refusal> {
    let (happened, bench) = (&asked.entry, asked.bench.as_deref());
    let on_bench = match happened {
        Happened::Filled { .. }
        | Happened::Added { .. }
        | Happened::ToppedUp { .. }
        | Happened::From { .. }
        | Happened::Phase { .. } => true,
        // words and readings need no bench, and are written without waiting for one
        _ => bench.is_some(),
    };
    let bench = on_bench.then(|| typed::bench(bench, None)).transpose()?;
    match &bench {
        Some(bench) => of_bench(asked, at, bench),
        None => plain(happened, None),
    }
}

/// An event that a bench has to do with.
fn of_bench(asked: &AddRequest, at: Moment, bench: &Bench) -> Result<Event, Refusal> {
    let happened = &asked.entry;
    Ok(match happened {
        Happened::Filled { .. } => filled(happened, bench)?,
        Happened::Added { added } => {
            let (salts, bottles) = went_in(bench, added)?;
            jobs::added_event(bench, &salts, &bottles)?
        }
        Happened::ToppedUp { volume: typed, to, pure, water: waters } => {
            let after = maybe(to.as_ref(), |typed| volume("to", typed, &LEVEL_L))?;
            let typed = maybe(typed.as_ref(), |typed| volume("volume", typed, &LOGBOOK_VOLUME_L))?;
            let went_in = typed.map_or_else(|| filled_to(&asked.logbook, at, bench, after), Ok)?;
            jobs::topped_up_event(went_in, after, &water(bench, *pure, waters)?)
        }
        Happened::From { .. } => done(happened, bench)?,
        Happened::Phase { name } => jobs::phase_event(bench, name),
        other => plain(other, bench.meter)?,
    })
}

/// What went in where only the level after it is stated: up from the level that the logbook has for that moment.
fn filled_to(logbook: &str, at: Moment, bench: &Bench, after: Option<Volume>) -> Result<Volume, Refusal> {
    let refused = |message: String, help: &str| Err(Refusal::input("logbook-entry", message, Some(help.to_owned())));
    let Some(after) = after else {
        return refused("topped up with how much?".to_owned(), "state `volume`, or the level after it as `to`");
    };
    let logbook = Logbook::parse(logbook.as_bytes(), &[]).map_err(|damage| Refusal::damaged(&damage))?;
    let state = jobs::logbook_state(bench, &logbook, at, &Patterns::standard());
    let Some(tank) = state.tank else {
        return refused("no entry fills the tank, so its level is not known".to_owned(), "state `volume`");
    };
    let (before, after) = (nine_digits(tank.volume_l - tank.held_back_l), liters_written(after));
    if after <= before {
        let message = format!("by the logbook the level is {} L already", quantity::fixed(before, 1));
        return refused(message, "enter a reading of the level as it was before, or state `volume`");
    }
    Ok(liter(after - before))
}

/// What the water of a bench brings, of several those that went in; nothing where it was pure.
fn water(bench: &Bench, pure: bool, waters: &[String]) -> Result<Nutrients, Refusal> {
    if pure && !waters.is_empty() {
        return Err(Refusal::input("logbook-entry", "`pure` does not go with `water`", None));
    }
    if pure {
        return Ok(Nutrients::default());
    }
    Ok(typed::filled_with(bench.clone(), waters)?.water.nutrients)
}

/// An event that no bench is needed for.
///
/// * `meter`: the scale of the grower's meter, by which a reading in ppm counts
fn plain(happened: &Happened, meter: Option<MeterScale>) -> Result<Event, Refusal> {
    Ok(match happened {
        Happened::Drained { volume: typed } => {
            Event::Drained { volume_l: liters_written(volume("volume", typed, &LOGBOOK_VOLUME_L)?) }
        }
        Happened::Reading { ec, ph, temperature: celsius, level } => {
            let ec = maybe(ec.as_ref(), |typed| conductivity("ec", typed, &EC_READING_MS_PER_CM, meter))?;
            let ph = maybe(ph.as_ref(), |typed| number("ph", typed, &quantity::PH))?;
            let celsius = maybe(celsius.as_ref(), |typed| temperature("temperature", typed))?;
            let level = maybe(level.as_ref(), |typed| volume("level", typed, &LEVEL_L))?;
            Event::Reading {
                ec_ms_cm: ec.map(|ec| nine_digits(ec.get::<siemens_per_meter>() * 10.0)),
                ph,
                temperature_c: celsius.map(|celsius| quantity::round_to(celsius.get::<degree_celsius>(), 2)),
                level_l: level.map(liters_written),
            }
        }
        Happened::Analysis { found } => Event::Analysis { ppm: analysis_ppm("found", found, "logbook-entry")? },
        Happened::Note { text } => Event::Note { text: text.clone() },
        Happened::Stalks {} => Event::StalksSeen {},
        Happened::Void { entry, why } => Event::Voided { voids: *entry, why: why.clone() },
        Happened::Recovered { lines } => {
            let mut lines = lines.clone();
            lines.sort_unstable();
            lines.dedup();
            Event::Recovered { lines }
        }
        Happened::Filled { .. }
        | Happened::Added { .. }
        | Happened::ToppedUp { .. }
        | Happened::From { .. }
        | Happened::Phase { .. } => {
            return Err(Refusal::own("an event without its bench"));
        }
    })
}

fn filled(happened: &Happened, bench: &Bench) -> Result<Event, Refusal> {
    let Happened::Filled { added, volume: typed, recipe: text, formula, held_back, pure, water: waters } = happened else {
        return plain(happened, bench.meter);
    };
    let held_back = maybe(held_back.as_ref(), |typed| volume("held_back", typed, &HELD_BACK_L))?.unwrap_or(liter(0.0));
    let litres = maybe(typed.as_ref(), |typed| volume("volume", typed, &TANK_L))?;
    let refused = |message: String, help: &str| Refusal::input("logbook-entry", message, Some(help.to_owned()));
    match (text, litres) {
        (Some(_), _) if !added.is_empty() || *pure || !waters.is_empty() => Err(refused(
            "a recipe says what went in, and in which water".to_owned(),
            "leave out the salts, `pure` and `water`",
        )),
        (Some(text), litres) => Ok(jobs::recipe_event(bench, &recipe(text)?, litres, held_back, formula.as_deref())?),
        (None, None) => Err(refused("a filling without a volume".to_owned(), "state `volume`, or the recipe")),
        (None, Some(litres)) => {
            if let (true, Some(formula)) = (added.is_empty(), formula) {
                return Err(refused(
                    format!("`formula` says what was aimed at, {formula}, but not what went in"),
                    "name the salts as SALT=AMOUNT, or state the saved `recipe`",
                ));
            }
            let water = water(bench, *pure, waters)?;
            let (salts, bottles) = went_in(bench, added)?;
            Ok(jobs::filled_event(bench, litres, held_back, &water, (&salts, &bottles), formula.as_deref())?)
        }
    }
}
