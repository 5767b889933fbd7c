//! `bloomsalt top-up`.

use std::io::Write;

use super::Console;
use super::args::TopUpArgs;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also};
use super::when::moment;
use crate::ask::{Request, TopUpRequest};

pub(super) fn run(args: &TopUpArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: args.save.as_deref(), sheet: args.sheet.as_deref() };
    out.put(asked(args)?.answer(err)?, console)
}

pub(super) fn asked(args: &TopUpArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::TopUp(TopUpRequest {
        now: moment(&args.when)?.to_string(),
        bench: files.bench(args.bench.as_deref())?,
        uptake: files.maybe("uptake", args.uptake.as_deref())?,
        logbook: files.text("logbook", &args.logbook)?,
        formula: args.formula.clone(),
        volume: args.volume.clone(),
        also: also(args.save.is_some(), args.sheet.is_some()),
    });
    Ok(Asked { request, files })
}
