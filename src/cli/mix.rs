//! `bloomsalt mix FORMULA`.

use super::args::MixArgs;
use super::failure::Failure;
use super::files;
use crate::{jobs, report, solution};

pub(super) fn run(args: &MixArgs, colour: bool) -> Result<String, Failure> {
    let bench = files::bench(args.bench.as_deref(), args.tank.as_deref())?;
    let meter = meter_scale(args.meter_scale.as_deref());
    if let Some(other) = &args.beside {
        let both = jobs::mix_beside(&bench, &args.formula, other, meter).map_err(Failure::Job)?;
        return Ok(if args.json { report::document(&both) } else { report::beside(&both, colour) });
    }
    let mix = jobs::mix(&bench, &args.formula, meter).map_err(Failure::Job)?;
    let mut text = if args.json { report::document(&mix) } else { report::mix(&mix, colour) };
    if let Some(path) = &args.save {
        files::write_new(path, &report::document(&jobs::recipe(&bench, &mix)))?;
        if !args.json {
            text = format!("{text}\nSaved the recipe to {}.\n", path.display());
        }
    }
    Ok(text)
}

/// The meter scale that was typed; clap has checked that it is one.
pub(super) fn meter_scale(typed: Option<&str>) -> Option<solution::MeterScale> {
    let factor: f64 = typed?.parse().ok()?;
    solution::METER_SCALES.into_iter().find(|scale| (scale.factor - factor).abs() < 1e-9)
}
