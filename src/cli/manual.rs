//! Completions and the man page, from the definition of the arguments.

use clap_complete::Shell;

use super::args::command;
use super::failure::Failure;

pub(super) fn completions(shell: Shell) -> String {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut command(), "bloomsalt", &mut text);
    String::from_utf8_lossy(&text).into_owned()
}

pub(super) fn manual() -> Result<String, Failure> {
    let mut text = Vec::new();
    let own = |error: std::io::Error| Failure::own(error.to_string());
    clap_mangen::Man::new(command()).render(&mut text).map_err(own)?;
    Ok(String::from_utf8_lossy(&text).into_owned())
}
