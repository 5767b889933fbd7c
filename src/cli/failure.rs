//! Why a run failed: the record of a refusal, printed as text with the place in the file, or as it is.

use std::path::Path;

use anstyle::Style;
use clap::Command;

use super::args::command;
use crate::ask::{Problem, Refusal};
use crate::report::document;

/// Letters of a line that are shown before what is wrong in it, and in all.
const BEFORE: usize = 40;
const SHOWN: usize = 100;

/// A failed run.
pub(super) struct Failure {
    refusal: Refusal,
    /// Text of the bench file, to show lines of.
    bench: Option<String>,
}

impl Failure {
    pub(super) fn own(words: impl Into<String>) -> Self {
        Refusal::own(words).into()
    }

    pub(super) fn input(code: &str, message: impl Into<String>, help: Option<String>) -> Self {
        Refusal::input(code, message, help).into()
    }

    /// A file that cannot be used.
    pub(super) fn file(code: &str, path: &Path, message: &str) -> Self {
        Self::file_with(code, path, message, None)
    }

    /// A file that cannot be used, and what helps.
    pub(super) fn file_with(code: &str, path: &Path, message: &str, help: Option<String>) -> Self {
        Refusal::input(code, message, help).in_file(&path.display().to_string()).into()
    }

    /// A refusal of a request, in the words of the command line: files by their paths, keys as options.
    ///
    /// * `files`: key of the request and path of each file that went into it
    /// * `bench`: text of the bench file
    pub(super) fn of(mut refusal: Refusal, files: &[(&str, &Path)], bench: Option<&str>) -> Self {
        let options = options(&refusal.job);
        for problem in &mut refusal.problems {
            let file = files.iter().find(|(key, _)| Some(*key) == problem.file.as_deref());
            let path = file.map(|(_, path)| path.display().to_string());
            // a bench file has keys of its own
            if problem.span.is_none() {
                let logbook = path.as_deref().unwrap_or("FILE");
                problem.message = typed(&problem.message, problem.read.as_deref(), &options, logbook);
                problem.help = problem.help.as_ref().map(|help| typed(help, problem.read.as_deref(), &options, logbook));
            } else {
                problem.help = problem.help.as_ref().map(|help| help.replace(TABLE.0, TABLE.1));
            }
            if problem.code == "confirm" {
                let help = problem.help.as_ref().map_or_else(String::new, |help| format!("{help} "));
                problem.help = Some(format!("{help}To enter it as it is, add `--yes`."));
            }
            if path.is_some() {
                problem.file = path;
            }
        }
        Self { refusal, bench: bench.map(str::to_owned) }
    }

    pub(super) fn status(&self) -> u8 {
        self.refusal.status
    }

    pub(super) fn text(&self, colour: bool) -> String {
        self.refusal.problems.iter().map(|problem| self.problem(problem, colour)).collect()
    }

    pub(super) fn document(&self, job: &str) -> String {
        document(&self.refusal.clone().of_job(job))
    }

    fn problem(&self, problem: &Problem, colour: bool) -> String {
        let help = problem.help.as_ref().map_or_else(String::new, |help| format!("  help: {help}\n"));
        match (&self.bench, problem.span) {
            (Some(text), Some((start, _))) => {
                let key = problem.key.as_ref().map_or_else(|| "the file is not TOML".to_owned(), |key| format!("`{key}`"));
                let file = problem.file.as_deref().unwrap_or("bench file");
                let line =
                    problem.line.unwrap_or_else(|| 1 + text.bytes().take(start).filter(|byte| *byte == b'\n').count());
                let place = format!("{}, line {line}: {key}", visible(file));
                let message = problem.message.lines().map(visible).collect::<Vec<_>>().join("\n  ");
                format!("{} {place}\n{}  {message}\n{help}\n", mark(colour), in_place(problem, text))
            }
            _ => {
                let file = problem.file.as_ref().map_or_else(String::new, |file| format!("`{file}`: "));
                format!("{} {file}{}\n{help}", mark(colour), problem.message)
            }
        }
    }
}

/// What is said without a file to show is said in the words of the command line all the same.
impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        Self::of(refusal, &[], None)
    }
}

/// How the library and the command line call the table of salts.
const TABLE: (&str, &str) = ("the salt table", "`bloomsalt salts`");

/// Words about a request as words about what is typed: its keys as options, an entry of a logbook as its command.
///
/// * `read`: what was typed, which stays as it is
/// * `options`: those of the command
/// * `logbook`: its path
fn typed(words: &str, read: Option<&str>, options: &[String], logbook: &str) -> String {
    let option = |key: &str| Some(key.replace('_', "-")).filter(|long| Some(key) != read && options.contains(long));
    let quoted = words.split('`').enumerate().map(|(at, part)| match option(part) {
        Some(long) if at % 2 == 1 => format!("--{long}"),
        _ => part.to_owned(),
    });
    let words = quoted.collect::<Vec<_>>().join("`");
    words.replace("enter `", &format!("`bloomsalt logbook add {logbook} ")).replace(TABLE.0, TABLE.1)
}

/// The long options of the command that asks for a job, and of what stands under it.
fn options(job: &str) -> Vec<String> {
    let name = match job {
        "mix-beside" | "trade" => "mix",
        job => job.strip_prefix("logbook-").unwrap_or(job),
    };
    let all = command();
    let logbook = all.find_subcommand("logbook").into_iter().flat_map(Command::get_subcommands);
    let own = all.get_subcommands().chain(logbook).find(|command| command.get_name() == name);
    let under = own.into_iter().flat_map(|own| std::iter::once(own).chain(own.get_subcommands()));
    under.flat_map(Command::get_arguments).filter_map(|argument| argument.get_long().map(str::to_owned)).collect()
}

/// What every problem begins with.
fn mark(colour: bool) -> String {
    let style = if colour { Style::new().bold().fg_color(Some(anstyle::AnsiColor::Red.into())) } else { Style::new() };
    format!("{style}error:{style:#}")
}

/// The line that a problem is in, and a pointer under what is wrong; of a long line the part around it.
fn in_place(problem: &Problem, text: &str) -> String {
    let (start, end) = problem.span.unwrap_or_default();
    let start = boundary(text, start);
    let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let line_end = text[start..].find('\n').map_or(text.len(), |at| start + at);
    let line = text[line_start..line_end].trim_end_matches('\r');
    let before = text[line_start..start].chars().count();
    let wrong = text[start..boundary(text, end).clamp(start, line_end)].trim_end_matches('\r').chars().count();
    let skipped = if line.chars().count() > SHOWN { before.saturating_sub(BEFORE) } else { 0 };
    let shown: String = line.chars().skip(skipped).take(SHOWN).collect();
    let more = line.chars().count() > skipped + SHOWN;
    let (left, right) = (if skipped > 0 { "... " } else { "" }, if more { " ..." } else { "" });
    let at = before - skipped;
    let pointer = "^".repeat(wrong.clamp(1, SHOWN.saturating_sub(at).max(1)));
    format!("    {left}{}{right}\n    {:indent$}{pointer}\n", visible(shown.trim_end()), "", indent = left.len() + at)
}

/// The byte, or the last before it, at which a letter begins.
fn boundary(text: &str, at: usize) -> usize {
    (0..=at.min(text.len())).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0)
}

/// Letters as they can be printed one beside the other: none that moves or turns the others.
fn visible(text: &str) -> String {
    let turns =
        |letter| matches!(letter, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}');
    let shown = |letter: char| match letter {
        '\t' => ' ',
        letter if letter.is_control() || turns(letter) => '\u{fffd}',
        letter => letter,
    };
    text.chars().map(shown).collect()
}
