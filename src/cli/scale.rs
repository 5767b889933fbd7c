//! `bloomsalt scale RECIPE --to VOLUME`.

use std::io::Write;

use super::Console;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also};
use super::switch_args::ScaleArgs;
use crate::ask::{Request, ScaleRequest};

pub(super) fn run(args: &ScaleArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: args.save.as_deref(), sheet: None };
    out.put(asked(args)?.answer(err)?, console)
}

pub(super) fn asked(args: &ScaleArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::Scale(ScaleRequest {
        bench: files.bench(args.bench.as_deref())?,
        recipe: files.text("recipe", &args.recipe)?,
        to: args.to.clone(),
        also: also(args.save.is_some(), false),
    });
    Ok(Asked { request, files })
}
