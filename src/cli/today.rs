//! `bloomsalt today`.

use std::io::Write;

use super::Console;
use super::args::TodayArgs;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also, booked, typed};
use super::when::moment;
use crate::ask::{Answer, Refusal, Request, TodayRequest};
use crate::jobs::{DueKind, TodayTank};
use crate::logbook::Logbook;
use crate::quantity::trimmed;
use crate::suggest;

pub(super) fn run(args: &TodayArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: args.save.as_deref(), sheet: args.sheet.as_deref() };
    let asked = asked(args)?;
    let mut answer = asked.answer(err)?;
    let Answer::Today(of) = &mut answer else { return out.put(answer, console) };
    let tanks = &mut of.record.tanks;
    let entries: Vec<(Option<String>, String)> = tanks
        .iter()
        .filter(|tank| tank.is_poured_into())
        .map(|tank| (tank.tank.clone(), entry(tank, tanks, &asked.request, args)))
        .collect();
    let then = match &args.save {
        // the recipes are an answer's only where they were asked for
        Some(_) => {
            let of = saved(tanks, args)?;
            entries.iter().find(|(id, _)| *id == of).map_or_else(String::new, |(_, entry)| done(of.as_ref(), entry))
        }
        None => to_make(tanks, args) + &to_save(&entries),
    };
    let text = out.put(answer, console)?;
    Ok(if args.json { text } else { text + &then })
}

/// The id of a tank as one types it behind `--tank`.
fn quoted(id: &str) -> String {
    format!("--tank \"{id}\"")
}

/// How what is poured into a tank is written down.
fn entry(tank: &TodayTank, tanks: &[TodayTank], request: &Request, args: &TodayArgs) -> String {
    let texts: &[String] = if let Request::Today(today) = request { &today.logbooks } else { &[] };
    let first = tanks.first().and_then(|tank| tank.tank.clone());
    // one that names no tank is that of the first
    let of = |text: &String| {
        let logbook = Logbook::parse(text.as_bytes(), &[]).ok();
        logbook.and_then(|logbook| logbook.tank().map(str::to_owned)).or_else(|| first.clone())
    };
    let own = texts.iter().zip(&args.logbook).find(|(text, _)| of(text) == tank.tank);
    booked(own.map(|(_, path)| path.as_path()), args.save.as_deref(), args.bench.as_deref(), Some(&args.when))
}

/// What is said once a recipe is saved.
fn done(tank: Option<&String>, entry: &str) -> String {
    let of = tank.map_or_else(String::new, |id| format!("It is that of {id}. "));
    format!("{of}Once it is done: {entry}.\n")
}

/// The commands that a first filling takes, and the turn back once stalks are seen.
fn to_make(tanks: &[TodayTank], args: &TodayArgs) -> String {
    let bench = args.bench.as_deref().map_or_else(String::new, |path| format!(" --bench {}", typed(path)));
    let mut said: Vec<String> = Vec::new();
    for tank in tanks {
        let of = tank.tank.as_ref().filter(|_| tanks.len() > 1).map_or_else(String::new, |id| format!(" {id}"));
        let due = |what| tank.due.iter().find(|due| due.what == what).and_then(|due| due.formula.as_ref());
        let now = |what| tank.due.iter().any(|due| due.what == what && due.days_left <= 0);
        if let (Some(formula), true, None) = (due(DueKind::Fill), now(DueKind::Fill), &tank.fill_up) {
            let volume =
                if tanks.len() > 1 { format!(" --tank \"{} L\"", trimmed(tank.volume_l, 3)) } else { String::new() };
            said.push(format!("To fill{of}: `bloomsalt mix {formula}{volume}{bench} --save FILE` tells the weights.\n"));
        }
        if let (Some(formula), Some(_), false, Some(logbook)) =
            (due(DueKind::Switch), &tank.stalks_seen, now(DueKind::Switch), args.logbook.first())
        {
            let logbook = if args.logbook.len() == 1 { typed(logbook) } else { "LOGBOOK".to_owned() };
            said.push(format!("To turn{of} back: `bloomsalt switch {formula} --logbook {logbook}{bench} --save FILE`.\n"));
        }
    }
    said.concat()
}

/// How what is poured is saved, of several tanks each.
fn to_save(entries: &[(Option<String>, String)]) -> String {
    let each: Vec<String> = entries
        .iter()
        .map(|(id, entry)| {
            let tank = id.as_ref().map_or_else(String::new, |id| quoted(id) + " ");
            format!("the same command with `{tank}--save FILE`, and once it is done\n{entry}")
        })
        .collect();
    if each.is_empty() { String::new() } else { format!("To write down what you pour: {}.\n", each.join(";\n")) }
}

/// Keeps of all recipes that of the one tank that is saved, and returns its id.
fn saved(tanks: &mut [TodayTank], args: &TodayArgs) -> Result<Option<String>, Failure> {
    if let Some(named) = &args.tank {
        let ids: Vec<&str> = tanks.iter().filter_map(|tank| tank.tank.as_deref()).collect();
        if !ids.contains(&named.as_str()) {
            let help = suggest::nearest(named, ids.iter().copied()).map(|id| format!("did you mean `{}`?", quoted(id)));
            return Err(Failure::input("tank", format!("there is no tank `{named}`; today has {}", ids.join(", ")), help));
        }
        tanks.iter_mut().filter(|tank| tank.tank.as_ref() != Some(named)).for_each(|tank| tank.recipe = None);
    } else {
        // what the plan alone tells of a tank has no logbook to go to
        tanks.iter_mut().filter(|tank| !tank.logbook).for_each(|tank| tank.recipe = None);
    }
    let poured: Vec<Option<String>> =
        tanks.iter().filter(|tank| tank.recipe.is_some()).map(|tank| tank.tank.clone()).collect();
    if poured.len() > 1 {
        let each: Vec<String> =
            poured.iter().flatten().map(|id| format!("`{} --save {}.json`", quoted(id), id.replace(' ', "-"))).collect();
        let help = format!("add {}, each to a file of its own", each.join(", then "));
        return Err(Failure::input("usage", "`--save` goes with one tank, and several are poured into", Some(help)));
    }
    poured.into_iter().next().ok_or_else(|| nothing_to_save(tanks, args))
}

/// That nothing is poured, and why: what follows a recipe that is saved finds none.
fn nothing_to_save(tanks: &[TodayTank], args: &TodayArgs) -> Failure {
    let asked = |tank: &&TodayTank| args.tank.is_none() || tank.tank == args.tank;
    let why = tanks.iter().filter(asked).filter_map(|tank| {
        let of = tank.tank.as_ref().map_or_else(String::new, |id| format!("{id}: "));
        Some(format!("{of}{}", tank.no_fill_up.as_ref()?))
    });
    let why: Vec<String> = why.collect();
    let why = if why.is_empty() { String::new() } else { format!(": {}", why.join("; ")) };
    let mut refusal = Refusal::unmet("nothing-to-add", format!("there is nothing to pour today, and so no recipe{why}"));
    refusal.problems[0].help = Some("without `--save` the day is told all the same".to_owned());
    refusal.into()
}

pub(super) fn asked(args: &TodayArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::Today(TodayRequest {
        now: moment(&args.when)?.to_string(),
        bench: files.bench(args.bench.as_deref())?,
        logbooks: files.logbooks(&args.logbook)?,
        uptake: files.maybe("uptake", args.uptake.as_deref())?,
        start: args.start.clone(),
        first_open: args.first_open.clone(),
        also: also(args.save.is_some(), args.sheet.is_some()),
    });
    Ok(Asked { request, files })
}
