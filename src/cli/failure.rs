//! Why a run failed: the record of a refusal, printed as text with the place in the file, or as it is.

use std::path::Path;

use anstyle::Style;

use crate::ask::{Problem, Refusal};
use crate::bench::BenchError;
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
        Refusal::input(code, message, None).in_file(&path.display().to_string()).into()
    }

    pub(super) fn bench(error: BenchError) -> Self {
        let bench = Some(error.text.clone());
        Self { bench, ..Refusal::from(error).into() }
    }

    /// A refusal of a request, in the words of the command line: files by their paths, keys as options.
    ///
    /// * `files`: key of the request and path of each file that went into it
    /// * `bench`: text of the bench file
    pub(super) fn of(mut refusal: Refusal, files: &[(&str, &Path)], bench: Option<&str>) -> Self {
        for problem in &mut refusal.problems {
            let file = files.iter().find(|(key, _)| Some(*key) == problem.file.as_deref());
            if let Some((_, path)) = file {
                let path = path.display().to_string();
                problem.help = problem.help.as_ref().map(|help| help.replace("FILE", &path));
                problem.file = Some(path);
            }
            if problem.code == "confirm" {
                let help = problem.help.as_ref().map_or_else(String::new, |help| format!("{help} "));
                problem.help = Some(format!("{help}To enter it as it is, add `--yes`."));
            }
            if let (None, Some(key)) = (&problem.file, &problem.key)
                && let Some(rest) = problem.message.strip_prefix(&format!("`{key}`"))
            {
                problem.message = format!("`--{}`{rest}", key.replace('_', "-"));
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
