//! `bloomsalt check SALT=AMOUNT …`.

use std::io::Write;

use super::Console;
use super::args::CheckArgs;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also};
use crate::ask::{Also, CheckRequest, Request};

pub(super) fn run(args: &CheckArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out =
        Out { json: args.json, save: args.save.as_deref().or(args.save_remedy.as_deref()), sheet: args.sheet.as_deref() };
    out.put(asked(args)?.answer(err)?, console)
}

pub(super) fn asked(args: &CheckArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let mut also = also(args.save.is_some(), args.sheet.is_some());
    also.extend(args.save_remedy.is_some().then_some(Also::Remedy));
    let request = Request::Check(CheckRequest {
        bench: files.bench(args.bench.as_deref())?,
        added: args.added.clone(),
        water: args.water.clone(),
        recipe: files.maybe("recipe", args.recipe.as_deref())?,
        analysis: args.analysis.clone(),
        against: args.against.clone(),
        reads: args.reads.clone(),
        meter_error: args.meter_error.clone(),
        read_at: args.read_at.clone(),
        tank: args.tank.clone(),
        meter_scale: args.meter_scale,
        also,
    });
    Ok(Asked { request, files })
}
