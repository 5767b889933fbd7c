//! `bloomsalt salts [ID]`.

use std::io::Write;

use super::Console;
use super::args::SaltsArgs;
use super::asked::{Asked, Files, Out};
use super::failure::Failure;
use super::files;
use crate::ask::{Request, SaltsRequest};
use crate::catalogue::Catalogue;
use crate::report;

pub(super) fn run(args: &SaltsArgs, console: Console, err: &mut dyn Write) -> Result<String, Failure> {
    let answer = asked(args)?.answer(err)?;
    if args.json {
        return Out { json: true, ..Out::default() }.put(answer, console);
    }
    let bench;
    let catalogue = match &args.bench {
        None => Catalogue::standard(),
        Some(path) => {
            bench = files::bench(Some(path))?;
            &bench.catalogue
        }
    };
    let salt = args.id.as_deref().and_then(|id| catalogue.find(id)).map(|id| catalogue.salt(id));
    Ok(match salt {
        Some(salt) => report::salt(catalogue, salt, console.colour_out),
        None => report::salts(catalogue, console.colour_out),
    })
}

pub(super) fn asked(args: &SaltsArgs) -> Result<Asked<'_>, Failure> {
    let mut files = Files::default();
    let request = Request::Salts(SaltsRequest { bench: files.bench(args.bench.as_deref())?, id: args.id.clone() });
    Ok(Asked { request, files })
}
