//! Why a run failed, as text with the place in the file, or as a document.

use std::path::Path;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use crate::bench::BenchError;
use crate::diary::Damage;
use crate::jobs::JobError;
use crate::quantity::QuantityError;
use crate::report::error_document;

/// A failed run.
pub(super) enum Failure {
    /// The bench file was refused.
    Bench(BenchError),
    /// The job has no result.
    Job(JobError),
    /// Anything else that was typed or named wrongly.
    Input { code: &'static str, message: String, help: Option<String>, file: Option<String> },
    /// A diary that cannot be trusted as it stands.
    Damaged { file: String, damage: Box<Damage> },
    /// A failure of our own.
    Own(String),
}

impl Failure {
    pub(super) fn own(words: impl Into<String>) -> Self {
        Self::Own(words.into())
    }

    pub(super) fn input(code: &'static str, message: impl Into<String>, help: Option<String>) -> Self {
        Self::Input { code, message: message.into(), help, file: None }
    }

    /// A quantity that does not fit, typed behind `what`, with what is taken.
    pub(super) fn unfit(what: &str, typed: &str, error: &QuantityError) -> Self {
        let help = error.suggestion().map(|word| format!("did you mean `{word}`?"));
        Self::input("quantity", format!("`{what}` reads \"{typed}\"; {error}"), help)
    }

    pub(super) fn file(code: &'static str, path: &Path, message: &str) -> Self {
        let file = path.display().to_string();
        Self::Input { code, message: format!("`{file}`: {message}"), help: None, file: Some(file) }
    }

    pub(super) fn status(&self) -> u8 {
        match self {
            Self::Bench(_) | Self::Input { .. } => 2,
            Self::Job(error) => error.exit_status(),
            Self::Damaged { .. } | Self::Own(_) => 3,
        }
    }

    pub(super) fn text(&self, colour: bool) -> String {
        let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
        match self {
            Self::Bench(error) => bench_text(error, &renderer),
            Self::Job(error) => simple(&renderer, &error.to_string(), error.help().as_deref()),
            Self::Input { message, help, .. } => simple(&renderer, message, help.as_deref()),
            Self::Damaged { file, damage } => {
                let lines: Vec<String> = damage.faults.iter().map(|fault| fault.line.to_string()).collect();
                let help = format!(
                    "nothing was written; keep a copy, and mend the line by hand if you know what it said, leaving out \
                     `check`. To give lines up that cannot be read: `bloomsalt diary add {file} recovered {}`",
                    lines.join(" ")
                );
                simple(&renderer, &format!("`{file}` is damaged\n{damage}"), Some(&help))
            }
            Self::Own(words) => simple(&renderer, words, None),
        }
    }

    pub(super) fn document(&self, job: &str) -> String {
        match self {
            Self::Bench(error) => match error.problems.first() {
                Some(first) => {
                    let key = Some(first.key.as_str()).filter(|key| !key.is_empty());
                    error_document(job, "bench-file", &first.message, Some(&error.file), Some(error.line(first)), key, &[])
                }
                None => error_document(job, "bench-file", "refused", Some(&error.file), None, None, &[]),
            },
            Self::Job(error) => {
                let limits = if let JobError::Conflict { limits, .. } = error { limits.clone() } else { Vec::new() };
                let text = error.to_string();
                let message = text.lines().next().unwrap_or_default();
                error_document(job, error.code(), message, None, None, None, &limits)
            }
            Self::Input { code, message, file, .. } => error_document(job, code, message, file.as_deref(), None, None, &[]),
            Self::Damaged { file, damage } => {
                let line = damage.faults.first().map(|fault| fault.line);
                error_document(job, "diary-damaged", &damage.to_string(), Some(file), line, None, &[])
            }
            Self::Own(words) => error_document(job, "own-failure", words, None, None, None, &[]),
        }
    }
}

fn simple(renderer: &Renderer, message: &str, help: Option<&str>) -> String {
    let mut group = Group::with_title(Level::ERROR.primary_title(message));
    if let Some(help) = help {
        group = group.element(Level::HELP.message(help));
    }
    format!("{}\n", renderer.render(&[group]))
}

fn bench_text(error: &BenchError, renderer: &Renderer) -> String {
    let mut text = String::new();
    for problem in &error.problems {
        let title = if problem.key.is_empty() { "the file is not TOML".to_owned() } else { format!("`{}`", problem.key) };
        let end = problem.span.end.min(error.text.len());
        let span = problem.span.start.min(end)..end;
        let snippet = Snippet::source(&error.text)
            .path(&error.file)
            .annotation(AnnotationKind::Primary.span(span).label(&problem.message));
        let mut group = Group::with_title(Level::ERROR.primary_title(&title)).element(snippet);
        if let Some(help) = &problem.help {
            group = group.element(Level::HELP.message(help));
        }
        text.push_str(&renderer.render(&[group]));
        text.push_str("\n\n");
    }
    text
}
