//! `bloomsalt stock FORMULA`.

use std::io::Write;

use super::Console;
use super::args::StockArgs;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also};
use crate::ask::{Request, StockRequest};

pub(super) fn run(args: &StockArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: None, sheet: args.sheet.as_deref() };
    out.put(asked(args)?.answer(err)?, console)
}

pub(super) fn asked(args: &StockArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::Stock(StockRequest {
        bench: files.bench(args.bench.as_deref())?,
        formula: args.formula.clone(),
        strength: Some(args.strength.clone()),
        bottle: Some(args.bottle.clone()),
        coldest: Some(args.coldest.clone()),
        dose_for: args.dose_for.clone(),
        tank: args.tank.clone(),
        also: also(false, args.sheet.is_some()),
    });
    Ok(Asked { request, files })
}
