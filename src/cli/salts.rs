//! `bloomsalt salts [ID]`.

use super::args::SaltsArgs;
use super::failure::Failure;
use super::files;
use crate::catalogue::{Catalogue, SaltId};
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
    let found = find(catalogue, id)?;
    let salt = catalogue.salt(found);
    Ok(if args.json {
        report::document(&jobs::salts_record(vec![jobs::salt_record(catalogue, salt)]))
    } else {
        report::salt(catalogue, salt, colour)
    })
}

/// The salt called `id`, or what was probably meant.
pub(super) fn find(catalogue: &Catalogue, id: &str) -> Result<SaltId, Failure> {
    catalogue.find(id).ok_or_else(|| {
        let help = crate::suggest::nearest(id, catalogue.salts().iter().map(|salt| salt.id.as_str()))
            .map_or_else(|| "`bloomsalt salts` lists the ids".to_owned(), |word| format!("did you mean `{word}`?"));
        Failure::input("unknown-salt", format!("there is no salt `{id}`"), Some(help))
    })
}
