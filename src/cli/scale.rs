//! `bloomsalt scale RECIPE --to VOLUME`.

use super::failure::Failure;
use super::files;
use super::switch::{litres, recipe};
use super::switch_args::ScaleArgs;
use crate::quantity::TANK_L;
use crate::{jobs, report};

pub(super) fn run(args: &ScaleArgs, colour: bool) -> Result<String, Failure> {
    let at_hand = files::bench(args.bench.as_deref(), None)?;
    let to = litres("--to", &args.to, &TANK_L)?;
    let recipe = recipe(&args.recipe)?;
    let (scaled, bench) = jobs::scale(&at_hand, args.bench.is_some(), &recipe, to).map_err(Failure::Job)?;
    let mut text = if args.json { report::document(&scaled) } else { report::scale(&scaled, colour) };
    if let Some(path) = &args.save {
        files::write_new(path, &report::document(&jobs::recipe(&bench, &scaled.mix)))?;
        if !args.json {
            text = format!("{text}\nSaved the recipe to {}.\n", path.display());
        }
    }
    Ok(text)
}
