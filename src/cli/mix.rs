//! `bloomsalt mix FORMULA`.

use super::Console;
use super::args::MixArgs;
use super::failure::Failure;
use super::files;
use crate::jobs::{self, MixOptions, Prefer};
use crate::matter::{NUTRIENTS, Nutrient};
use crate::{report, solution};

pub(super) fn run(args: &MixArgs, console: Console) -> Result<String, Failure> {
    let colour = console.colour_out;
    let bench = files::bench(args.bench.as_deref(), args.tank.as_deref())?;
    let options = MixOptions {
        meter: meter_scale(args.meter_scale.as_deref()),
        salts_at_most: args.salts_at_most,
        prefer: args.prefer.as_deref().and_then(prefer),
        without_reasons: false,
    };
    if let Some(pair) = &args.trade {
        let (along, reached) = nutrients(pair)?;
        let trade = jobs::trade(&bench, &args.formula, along, reached).map_err(Failure::Job)?;
        return Ok(if args.json { report::document(&trade) } else { report::trade(&trade, colour, console.terminal_out) });
    }
    if let Some(other) = &args.beside {
        let both = jobs::mix_beside(&bench, &args.formula, other, &options).map_err(Failure::Job)?;
        return Ok(if args.json { report::document(&both) } else { report::beside(&both, colour) });
    }
    let mix = jobs::mix(&bench, &args.formula, &options).map_err(Failure::Job)?;
    let text = if args.json { report::document(&mix) } else { report::mix(&mix, colour) };
    let mut files = files::New::default();
    if let Some(path) = &args.save {
        files.add(path, "Saved the recipe to", report::document(&jobs::recipe(&bench, &mix)));
    }
    if let Some(path) = &args.sheet {
        files.add(path, "Wrote", report::mix_sheet(&mix, &jobs::pictures(&bench, &mix)));
    }
    files.write(text, args.json)
}

/// The meter scale that was typed; clap has checked that it is one.
pub(super) fn meter_scale(typed: Option<&str>) -> Option<solution::MeterScale> {
    let factor: f64 = typed?.parse().ok()?;
    solution::METER_SCALES.into_iter().find(|scale| (scale.factor - factor).abs() < 1e-9)
}

/// Two different nutrients, as in N:Ca.
fn nutrients(typed: &str) -> Result<(Nutrient, Nutrient), Failure> {
    let known = || NUTRIENTS.map(Nutrient::symbol).join(", ");
    let refused = |message: String, help: Option<String>| Failure::input("trade", message, help);
    let Some((first, second)) = typed.split_once(':') else {
        return Err(refused(format!("`{typed}` is no pair"), Some("write two elements, as in N:Ca".to_owned())));
    };
    let one = |symbol: &str| {
        let found = Nutrient::parse(symbol.trim());
        let meant = crate::suggest::nearest(symbol.trim(), NUTRIENTS.map(Nutrient::symbol));
        found.ok_or_else(|| {
            let help = meant.map(|word| format!("did you mean `{word}`?"));
            refused(format!("`{typed}`: `{symbol}` is no element here; it takes {}", known()), help)
        })
    };
    let (first, second) = (one(first)?, one(second)?);
    if first == second {
        return Err(refused(format!("`{typed}` names the same element twice"), Some("write two, as in N:Ca".to_owned())));
    }
    Ok((first, second))
}

/// The wish that was typed; clap has checked that it is one.
fn prefer(typed: &str) -> Option<Prefer> {
    [("cheap", Prefer::Cheap), ("few", Prefer::Few), ("light", Prefer::Light)]
        .into_iter()
        .find(|(name, _)| *name == typed)
        .map(|(_, prefer)| prefer)
}
