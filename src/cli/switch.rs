//! `bloomsalt switch FORMULA`.

use std::io::Write;

use super::Console;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also, once_done};
use super::switch_args::SwitchArgs;
use super::when::{goes_with_a_logbook, moment};
use crate::ask::{Request, SwitchRequest};

pub(super) fn run(args: &SwitchArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: args.save.as_deref(), sheet: args.sheet.as_deref() };
    let text = out.put(asked(args)?.answer(err)?, console)?;
    Ok(text + &once_done(&out, args.logbook.as_deref(), args.bench.as_deref(), Some(&args.when)))
}

pub(super) fn asked(args: &SwitchArgs) -> Result<Asked<'_>, Failure> {
    let other = Some("--on says the day of the switch");
    goes_with_a_logbook(args.logbook.as_deref(), args.uptake.as_deref(), &args.when, other)?;
    let mut files = Files::default();
    let request = Request::Switch(SwitchRequest {
        bench: files.bench(args.bench.as_deref())?,
        formula: args.formula.clone(),
        holding: args.holding.clone(),
        recipe: files.maybe("recipe", args.recipe.as_deref())?,
        analysis: args.analysis.clone(),
        logbook: files.maybe("logbook", args.logbook.as_deref())?,
        now: args.logbook.as_ref().map(|_| moment(&args.when)).transpose()?.map(|now| now.to_string()),
        uptake: files.maybe("uptake", args.uptake.as_deref())?,
        holding_ph: args.holding_ph.clone(),
        level: args.level.clone(),
        held_back: args.held_back.clone(),
        bucket: args.bucket.clone(),
        drain: args.drain.clone(),
        ec_step: args.ec_step.clone(),
        on: args.on.clone(),
        steps: args.steps,
        every_days: args.every_days,
        tank: args.tank.clone(),
        also: also(args.save.is_some(), args.sheet.is_some()),
    });
    Ok(Asked { request, files })
}
