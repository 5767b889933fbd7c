//! Why a run failed: the record of a refusal, printed as text with the place in the file, or as it is.

use std::path::Path;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use crate::ask::{Problem, Refusal};
use crate::bench::BenchError;
use crate::report::document;

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
        let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
        self.refusal.problems.iter().map(|problem| self.problem(problem, &renderer)).collect()
    }

    pub(super) fn document(&self, job: &str) -> String {
        document(&self.refusal.clone().of_job(job))
    }

    fn problem(&self, problem: &Problem, renderer: &Renderer) -> String {
        match (&self.bench, problem.span) {
            (Some(text), Some((start, end))) => in_place(problem, text, start, end, renderer),
            _ => {
                let file = problem.file.as_ref().map_or_else(String::new, |file| format!("`{file}`: "));
                simple(renderer, &format!("{file}{}", problem.message), problem.help.as_deref())
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

fn simple(renderer: &Renderer, message: &str, help: Option<&str>) -> String {
    let mut group = Group::with_title(Level::ERROR.primary_title(message));
    if let Some(help) = help {
        group = group.element(Level::HELP.message(help));
    }
    format!("{}\n", renderer.render(&[group]))
}

/// A problem under the line that it is in.
fn in_place(problem: &Problem, text: &str, start: usize, end: usize, renderer: &Renderer) -> String {
    let title = problem.key.as_ref().map_or_else(|| "the file is not TOML".to_owned(), |key| format!("`{key}`"));
    let end = end.min(text.len());
    let span = start.min(end)..end;
    let snippet = Snippet::source(text)
        .path(problem.file.as_deref())
        .annotation(AnnotationKind::Primary.span(span).label(&problem.message));
    let mut group = Group::with_title(Level::ERROR.primary_title(&title)).element(snippet);
    if let Some(help) = &problem.help {
        group = group.element(Level::HELP.message(help));
    }
    format!("{}\n\n", renderer.render(&[group]))
}
