//! `bloomsalt today`.

use std::io::Write;

use super::Console;
use super::args::TodayArgs;
use super::asked::{Asked, Files, Out, also};
use super::failure::Failure;
use super::when::moment;
use crate::ask::{Answer, Refusal, Request, TodayRequest};

pub(super) fn run(args: &TodayArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: args.save.as_deref(), sheet: args.sheet.as_deref() };
    if args.save.is_some() && args.logbook.len() > 1 {
        let help = "name the one tank that is filled up".to_owned();
        return Err(Failure::input("usage", "`--save` goes with one logbook", Some(help)));
    }
    let answer = asked(args)?.answer(err)?;
    if let (Some(_), Answer::Today(of), None) = (&args.save, &answer, answer.recipe()) {
        let why = of.record.tanks.iter().find_map(|tank| tank.no_fill_up.clone()).unwrap_or_default();
        let message = format!("there is nothing to fill up with, and so no recipe: {why}");
        return Err(Failure::of(Refusal::unmet("nothing-to-add", message).of_job("today"), &[], None));
    }
    out.put(answer, console)
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
