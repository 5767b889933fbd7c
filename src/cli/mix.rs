//! `bloomsalt mix FORMULA`.

use std::io::Write;

use super::Console;
use super::args::MixArgs;
use super::failure::Failure;
use super::request::{Asked, Files, Out, also, once_done};
use crate::ask::{BesideRequest, MixRequest, Request, TradeRequest};

pub(super) fn run(args: &MixArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let out = Out { json: args.json, save: args.save.as_deref(), sheet: args.sheet.as_deref() };
    let text = out.put(asked(args)?.answer(err)?, console)?;
    Ok(text + &once_done(&out, None, args.bench.as_deref(), None))
}

pub(super) fn asked(args: &MixArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let bench = files.bench(args.bench.as_deref())?;
    let (formula, tank) = (args.formula.clone(), args.tank.clone());
    let (meter_scale, salts_at_most, prefer) = (args.meter_scale, args.salts_at_most, args.prefer);
    let request = if let Some(pair) = &args.trade {
        let (along, reached) = pair.split_once(':').ok_or_else(|| {
            Failure::input("trade", format!("`{pair}` is no pair"), Some("write two elements, as in N:Ca".to_owned()))
        })?;
        let (along, reached) = (along.to_owned(), reached.to_owned());
        Request::Trade(TradeRequest { bench, formula, along, reached })
    } else if let Some(other) = &args.beside {
        let beside = other.clone();
        Request::MixBeside(BesideRequest { bench, formula, beside, tank, meter_scale, salts_at_most, prefer })
    } else {
        let also = also(args.save.is_some(), args.sheet.is_some());
        Request::Mix(MixRequest { bench, formula, tank, meter_scale, salts_at_most, prefer, also })
    };
    Ok(Asked { request, files })
}
