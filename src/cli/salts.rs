//! `bloomsalt salts [ID]`.

use super::args::SaltsArgs;
use super::failure::Failure;
use super::files;
use crate::catalogue::Catalogue;
use crate::{jobs, report};

pub(super) fn run(args: &SaltsArgs, colour: bool) -> Result<String, Failure> {
    let bench;
    let catalogue = match &args.bench {
        None => Catalogue::standard(),
        Some(path) => {
            bench = files::bench(Some(path), None)?;
            &bench.catalogue
        }
    };
    let Some(id) = &args.id else {
        let all: Vec<_> = catalogue.salts().iter().map(|salt| jobs::salt_record(catalogue, salt)).collect();
        return Ok(if args.json { report::document(&jobs::salts_record(all)) } else { report::salts(catalogue, colour) });
    };
    let Some(found) = catalogue.find(id) else {
        let help = crate::suggest::nearest(id, catalogue.salts().iter().map(|salt| salt.id.as_str()))
            .map_or_else(|| "`bloomsalt salts` lists the ids".to_owned(), |word| format!("did you mean `{word}`?"));
        return Err(Failure::input("unknown-salt", format!("there is no salt `{id}`"), Some(help)));
    };
    let salt = catalogue.salt(found);
    Ok(if args.json {
        report::document(&jobs::salts_record(vec![jobs::salt_record(catalogue, salt)]))
    } else {
        report::salt(catalogue, salt, colour)
    })
}
