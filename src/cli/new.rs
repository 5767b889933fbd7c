//! `bloomsalt new FILE`.

use super::args::NewArgs;
use super::failure::Failure;
use super::files::write_new;
use crate::bench::STARTER;

pub(super) fn run(args: &NewArgs) -> Result<String, Failure> {
    write_new(&args.file, STARTER)?;
    let file = args.file.display();
    Ok(format!("Wrote {file}: a starter bench. Edit it, then run\n   bloomsalt mix push --bench {file}\n"))
}
