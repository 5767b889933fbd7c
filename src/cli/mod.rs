//! The command line: clap definitions and everything that touches files.

#![allow(clippy::disallowed_methods, reason = "the only room that reads and writes files")]

mod args;
mod batch;
mod check;
mod cycle;
mod failure;
mod files;
mod logbook;
mod logbook_args;
mod logbook_file;
mod manual;
mod mix;
mod new;
mod request;
mod salts;
mod scale;
mod stock;
mod switch;
mod switch_args;
mod today;
mod top_up;
mod when;

use std::ffi::OsString;
use std::io::{BufReader, ErrorKind, Write};

use clap::Parser;

pub use args::command;
use args::{Arguments, Command};
pub use batch::batch;
use failure::Failure;

use crate::ask::Request;

/// What the streams can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Console {
    /// Colour on standard output.
    pub colour_out: bool,
    /// Colour on standard error.
    pub colour_err: bool,
    /// True when standard output is a terminal, which may show a plot.
    pub terminal_out: bool,
}

/// Runs the program: reads `arguments` (the program's own name first), writes to `out` and `err`.
///
/// Returns the exit status: 0 done, 1 the request cannot be met, 2 the input is wrong, 3 a failure of our own. A closed
/// pipe is no error.
pub fn run<A>(arguments: A, out: &mut dyn Write, err: &mut dyn Write, console: Console) -> u8
where
    A: IntoIterator,
    A::Item: Into<OsString> + Clone,
{
    let arguments: Vec<OsString> = arguments.into_iter().map(Into::into).collect();
    let parsed = match Arguments::try_parse_from(&arguments) {
        Ok(parsed) => parsed,
        Err(error) => return usage(&error, &arguments, out, err, console),
    };
    let (job, json) = parsed.command.job();
    let done = match &parsed.command {
        Command::New(args) => new::run(args, &mut BufReader::new(std::io::stdin()), console, err),
        Command::Mix(args) => mix::run(args, console, err),
        Command::Check(args) => check::run(args, console, err),
        Command::Cycle(args) => cycle::run(args, console, err),
        Command::Logbook(args) => logbook::run(args, console, err),
        Command::Switch(args) => switch::run(args, console, err),
        Command::Scale(args) => scale::run(args, console, err),
        Command::Stock(args) => stock::run(args, console, err),
        Command::Today(args) => today::run(args, console, err),
        Command::TopUp(args) => top_up::run(args, console, err),
        Command::Salts(args) => salts::run(args, console, err),
        Command::Batch => return answer_lines(out, err),
        Command::Completions { shell } => Ok(manual::completions(*shell)),
        Command::Man => manual::manual(),
        Command::Schema => Ok(crate::report::schema()),
    };
    match done {
        Ok(text) if parsed.command.has_written() => {
            if write_out(&text, out, err) != 0 {
                let _ = writeln!(err, "what was asked is done all the same, and stands in the file");
            }
            0
        }
        Ok(text) => write_out(&text, out, err),
        Err(failure) => report(&failure, job, json, out, err, console),
    }
}

/// What arguments ask of the library, with the text of every file in it; nothing where they ask for no job.
///
/// # Errors
/// The document of the refusal, where a file cannot be read or the arguments fit no job.
pub fn request<A>(arguments: A) -> Result<Option<Request>, String>
where
    A: IntoIterator,
    A::Item: Into<OsString> + Clone,
{
    let parsed = Arguments::try_parse_from(arguments).map_err(|error| error.to_string())?;
    let (job, _) = parsed.command.job();
    let asked = match &parsed.command {
        Command::Mix(args) => mix::asked(args),
        Command::Check(args) => check::asked(args),
        Command::Cycle(args) => cycle::asked(args),
        Command::Switch(args) => switch::asked(args),
        Command::Scale(args) => scale::asked(args),
        Command::Stock(args) => stock::asked(args),
        Command::Today(args) => today::asked(args),
        Command::TopUp(args) => top_up::asked(args),
        Command::Salts(args) => salts::asked(args),
        Command::Logbook(args) => logbook::asked(args),
        Command::New(_) | Command::Batch | Command::Completions { .. } | Command::Man | Command::Schema => return Ok(None),
    };
    asked.map(|asked| Some(asked.request)).map_err(|failure| failure.document(job))
}

fn report(failure: &Failure, job: &str, json: bool, out: &mut dyn Write, err: &mut dyn Write, console: Console) -> u8 {
    // standard error is the last resort; there is nobody left to tell
    let _ = err.write_all(failure.text(console.colour_err).as_bytes());
    if json {
        let _ = out.write_all(failure.document(job).as_bytes());
    }
    failure.status()
}

/// Requests of standard input, answered line by line.
fn answer_lines(out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    match batch(&mut BufReader::new(std::io::stdin()), out) {
        Ok(()) => 0,
        Err(error) if error.kind() == ErrorKind::BrokenPipe => 0,
        Err(error) => {
            // standard error is the last resort; there is nobody left to tell
            let _ = writeln!(err, "error: standard input or output failed: {error}");
            3
        }
    }
}

fn write_out(text: &str, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => 0,
        Err(error) if error.kind() == ErrorKind::BrokenPipe => 0,
        Err(error) => {
            let _ = writeln!(err, "error: the output cannot be written: {error}");
            3
        }
    }
}

/// Help and version go to standard output, mistakes to standard error; a mistake under `--json` has its document too.
fn usage(error: &clap::Error, arguments: &[OsString], out: &mut dyn Write, err: &mut dyn Write, console: Console) -> u8 {
    let colour = if error.use_stderr() { console.colour_err } else { console.colour_out };
    let text = if colour { error.render().ansi().to_string() } else { error.render().to_string() };
    if !error.use_stderr() {
        return write_out(&text, out, err);
    }
    if arguments.iter().any(|argument| argument == "--json") {
        let job = arguments.get(1).and_then(|name| name.to_str()).filter(|name| !name.starts_with('-')).unwrap_or("none");
        let plain = error.render().to_string();
        let message = plain.lines().next().unwrap_or_default().trim_start_matches("error: ");
        let _ = out.write_all(Failure::input("usage", message, None).document(job).as_bytes());
    }
    let _ = err.write_all(text.as_bytes());
    2
}
