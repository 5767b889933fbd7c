//! `bloomsalt stock FORMULA`.

use std::path::PathBuf;

use clap::Args;

use super::diary::number;
use super::failure::Failure;
use super::files;
use super::switch::litres;
use crate::jobs::{self, StockOptions};
use crate::quantity::{self, BOTTLE_L, STOCK_STRENGTH, TEMPERATURE_C};
use crate::report;

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

pub(super) fn run(args: &StockArgs, colour: bool) -> Result<String, Failure> {
    let bench = files::bench(args.bench.as_deref(), args.tank.as_deref())?;
    let how = StockOptions {
        strength: number("--strength", &args.strength, &STOCK_STRENGTH)?,
        bottle: litres("--bottle", &args.bottle, &BOTTLE_L)?,
        coldest: quantity::temperature(&args.coldest, &TEMPERATURE_C)
            .map_err(|error| Failure::unfit("--coldest", &args.coldest, &error))?,
        dose_for: args.dose_for.clone(),
    };
    let stock = jobs::stock(&bench, &args.formula, &how).map_err(Failure::Job)?;
    let text = if args.json { report::document(&stock) } else { report::stock(&stock, colour) };
    let mut files = files::New::default();
    if let Some(path) = &args.sheet {
        files.add(path, "Wrote", report::stock_sheet(&stock, &jobs::pictures(&bench, &stock.tank)));
    }
    files.write(text, args.json)
}
