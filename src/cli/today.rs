//! `bloomsalt today`.

use std::io::Write;

use super::Console;
use super::args::TodayArgs;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also};
use super::when::moment;
use crate::ask::{Answer, Request, TodayRequest};
use crate::jobs::TodayTank;

pub(super) fn run(args: &TodayArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: args.save.as_deref(), sheet: args.sheet.as_deref() };
    if args.save.is_some() && args.logbook.len() > 1 {
        let help = "name the one tank that is filled up".to_owned();
        return Err(Failure::input("usage", "`--save` goes with one logbook", Some(help)));
    }
    let answer = asked(args)?.answer(err)?;
    let Answer::Today(of) = &answer else { return out.put(answer, console) };
    // the recipe is an answer's only where it was asked for
    let pours = of.record.tanks.iter().any(TodayTank::is_poured_into);
    let then = match (&args.save, answer.recipe()) {
        (Some(path), None) => format!("Nothing is to be poured, so no recipe went to {}.\n", path.display()),
        (None, _) if pours => "To write down what you pour: the same command with `--save FILE`, and once it is done\n\
             `bloomsalt logbook add LOGBOOK from FILE`.\n"
            .to_owned(),
        _ => String::new(),
    };
    let text = out.put(answer, console)?;
    Ok(if args.json { text } else { text + &then })
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
