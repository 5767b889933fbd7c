//! `bloomsalt check SALT=AMOUNT …`.

use super::args::CheckArgs;
use super::failure::Failure;
use super::files;
use super::mix::meter_scale;
use super::salts::find;
use crate::bench::Bench;
use crate::jobs::{self, Added};
use crate::quantity::{self, ADDED_G, ADDED_L};
use crate::report;

pub(super) fn run(args: &CheckArgs, colour: bool) -> Result<String, Failure> {
    let bench = files::bench(args.bench.as_deref(), args.tank.as_deref())?;
    let added = salts(&bench, &args.added)?;
    let record = jobs::check(&bench, &added, meter_scale(args.meter_scale.as_deref())).map_err(Failure::Job)?;
    Ok(if args.json { report::document(&record) } else { report::mix(&record, colour) })
}

/// Salts and amounts as they were typed, each salt once.
pub(super) fn salts(bench: &Bench, typed: &[String]) -> Result<Vec<Added>, Failure> {
    let mut added: Vec<Added> = Vec::new();
    for typed in typed {
        let one = parse(bench, typed)?;
        if added.iter().any(|other| other.salt == one.salt) {
            return Err(Failure::input(
                "salt-twice",
                format!("`{typed}` names its salt a second time; add the two up"),
                None,
            ));
        }
        added.push(one);
    }
    Ok(added)
}

fn parse(bench: &Bench, typed: &str) -> Result<Added, Failure> {
    let Some((id, amount)) = typed.split_once('=') else {
        let help = Some("write SALT=AMOUNT, as in potassium-nitrate=14.1g".to_owned());
        return Err(Failure::input("salt-amount", format!("`{typed}` has no `=`"), help));
    };
    let salt = find(&bench.catalogue, id.trim())?;
    let amount = quantity::amount(amount, &ADDED_G, &ADDED_L).map_err(|error| {
        let help = error.suggestion().map(|word| format!("did you mean `{word}`?"));
        Failure::input("quantity", format!("`{typed}` reads \"{amount}\"; {error}"), help)
    })?;
    Ok(Added { salt, amount })
}
