//! `bloomsalt stock FORMULA`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::Console;
use super::asked::{Asked, Files, Out, also};
use super::failure::Failure;
use crate::ask::{Request, StockRequest};

#[derive(Debug, Args)]
pub(super) struct StockArgs {
    /// Name of the formula, such as growth or push
    pub(super) formula: String,
    /// How many times as strong as the tank the bottles should be, 10 to 1000
    #[arg(long, value_name = "TIMES", default_value = "100")]
    pub(super) strength: String,
    /// What each bottle is made up to, such as "1 L"
    #[arg(long, value_name = "VOLUME", default_value = "1 L")]
    pub(super) bottle: String,
    /// The lowest temperature at which the bottles stand, such as "10 C"
    #[arg(long, value_name = "TEMPERATURE", default_value = "10 C")]
    pub(super) coldest: String,
    /// Also say which doses of the same bottles come closest to another formula
    #[arg(long, value_name = "FORMULA")]
    pub(super) dose_for: Option<String>,
    /// Volume of the tank, such as "60 L" or "15.9 gal"; overrides the bench file
    #[arg(long, value_name = "VOLUME")]
    pub(super) tank: Option<String>,
    /// Bench file; without it a starter bench is used
    #[arg(long, value_name = "FILE")]
    pub(super) bench: Option<PathBuf>,
    /// Write a sheet to print, a new HTML file
    #[arg(long, value_name = "FILE")]
    pub(super) sheet: Option<PathBuf>,
    /// Print JSON for programs
    #[arg(long)]
    pub(super) json: bool,
}

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
