//! The `bloomsalt` program: hands its arguments and its streams to the library.

#![allow(clippy::disallowed_methods, reason = "the program reads its own arguments")]

use std::io::{IsTerminal, stderr, stdout};
use std::process::ExitCode;

fn main() -> ExitCode {
    let colour = |choice| choice != anstream::ColorChoice::Never;
    let console = bloomsalt::cli::Console {
        colour_out: colour(anstream::AutoStream::choice(&stdout())),
        colour_err: colour(anstream::AutoStream::choice(&stderr())),
        terminal_out: stdout().is_terminal(),
    };
    ExitCode::from(bloomsalt::cli::run(std::env::args_os(), &mut stdout().lock(), &mut stderr().lock(), console))
}
