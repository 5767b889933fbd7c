//! `bloomsalt salts [WORDS]`.

use std::io::Write;

use super::Console;
use super::args::SaltsArgs;
use super::failure::Failure;
use super::request::{Asked, Files, Out};
use crate::ask::{Request, SaltsRequest};

pub(super) fn run(args: &SaltsArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let answer = asked(args)?.answer(err)?;
    Out { json: args.json, ..Out::default() }.put(answer, console)
}

pub(super) fn asked(args: &SaltsArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let words = (!args.words.is_empty()).then(|| args.words.join(" "));
    let request = Request::Salts(SaltsRequest { bench: files.bench(args.bench.as_deref())?, words });
    Ok(Asked { request, files })
}
