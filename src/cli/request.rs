//! A request made from arguments, with the files that went into it; answered, printed, and what is saved of it written.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::Console;
use super::failure::Failure;
use super::files::{self, New};
use super::logbook_args::When;
use super::logbook_file;
use crate::ask::{Also, Answer, LOGBOOKS, LogbookTorn, Request, ask};
use crate::logbook::excerpt;
use crate::report::{self, Form};

/// The files of a request: under which key of it the text of each stands.
#[derive(Debug, Default)]
pub(super) struct Files<'a>(Vec<(&'static str, &'a Path)>);

impl<'a> Files<'a> {
    /// Names a file whose text is put in later.
    pub(super) fn name(&mut self, key: &'static str, path: &'a Path) {
        self.0.push((key, path));
    }

    /// The text of a bench file.
    pub(super) fn bench(&mut self, path: Option<&'a Path>) -> Result<Option<String>, Failure> {
        path.map(|path| {
            self.0.push(("bench", path));
            files::read(path)
        })
        .transpose()
    }

    /// The text of another file; bytes that are no text are shown by a mark, and a logbook's checks then tell them.
    pub(super) fn text(&mut self, key: &'static str, path: &'a Path) -> Result<String, Failure> {
        self.0.push((key, path));
        let is_logbook = key == "logbook" || LOGBOOKS.contains(&key);
        if is_logbook && !path.exists() {
            let help = format!(
                "a logbook begins with its first entry, such as the filling of the tank: \
                 `bloomsalt logbook add {} from RECIPE`, of what `bloomsalt mix FORMULA --save RECIPE` wrote",
                path.display()
            );
            return Err(Failure::file_with("file", path, "there is no such file", Some(help)));
        }
        Ok(String::from_utf8_lossy(&logbook_file::read(path)?).into_owned())
    }

    /// Several logbooks.
    pub(super) fn logbooks(&mut self, paths: &'a [PathBuf]) -> Result<Vec<String>, Failure> {
        if paths.len() > LOGBOOKS.len() {
            let message = format!("more than {} logbooks are not taken", LOGBOOKS.len());
            return Err(Failure::input("usage", message, None));
        }
        paths.iter().zip(LOGBOOKS).map(|(path, key)| self.text(key, path)).collect()
    }

    /// As [`Files::text`], where a file is named.
    pub(super) fn maybe(&mut self, key: &'static str, path: Option<&'a Path>) -> Result<Option<String>, Failure> {
        path.map(|path| self.text(key, path)).transpose()
    }
}

/// A request, and the files that it was made from.
#[derive(Debug)]
pub(super) struct Asked<'a> {
    pub(super) request: Request,
    pub(super) files: Files<'a>,
}

impl Asked<'_> {
    /// The answer; lines of a logbook that were cut off are told on standard error.
    pub(super) fn answer(&self, err: &mut dyn Write) -> Result<Answer, Failure> {
        let refused = |refusal| Failure::of(refusal, &self.files.0, self.request.bench());
        let answer = ask(&self.request).map_err(refused)?;
        let torn_of = answer.logbook_torn().map_or(0, |torn| torn.logbook);
        if let Some((_, path)) = self.files.0.iter().find(|(key, _)| *key == LOGBOOKS[torn_of]) {
            match (&answer, answer.logbook_torn()) {
                (_, Some(torn)) => told_torn(path, torn, err),
                (Answer::LogbookShow(show), None) => {
                    told_torn(path, &LogbookTorn { logbook: 0, whole: show.entries.len(), lines: show.torn.clone() }, err);
                }
                _ => {}
            }
        }
        Ok(answer)
    }
}

fn told_torn(path: &Path, torn: &LogbookTorn, err: &mut dyn Write) {
    for line in &torn.lines {
        // standard error is the last resort; there is nobody left to tell
        let _ = writeln!(
            err,
            "warning: line {} of `{}` is torn: its writing was cut off, so it does not count; all {} entries before it \
             are whole. It reads: {}",
            line.line,
            path.display(),
            torn.whole,
            excerpt(&line.read)
        );
    }
}

/// A path as one types it: one with a blank in it in quotes.
pub(super) fn typed(path: &Path) -> String {
    let path = path.display().to_string();
    if path.contains(char::is_whitespace) { format!("\"{path}\"") } else { path }
}

/// How what was saved is written down once it is done.
///
/// * `when`: as of the command that saved it, where it was asked for a moment of its own
pub(super) fn booked(logbook: Option<&Path>, save: Option<&Path>, bench: Option<&Path>, when: Option<&When>) -> String {
    let path = |path: Option<&Path>, none: &str| path.map_or_else(|| none.to_owned(), typed);
    let mut entry = format!("bloomsalt logbook add {} from {}", path(logbook, "LOGBOOK"), path(save, "FILE"));
    let options = [
        ("bench", bench.map(typed)),
        ("at", when.and_then(|when| when.at.as_ref()).map(|at| format!("\"{at}\""))),
        ("zone", when.and_then(|when| when.zone.clone())),
    ];
    for (option, value) in options {
        entry.extend(value.map(|value| format!(" --{option} {value}")));
    }
    format!("`{entry}`")
}

/// What is said behind a report of which the recipe was saved; nothing behind JSON.
pub(super) fn once_done(out: &Out, logbook: Option<&Path>, bench: Option<&Path>, when: Option<&When>) -> String {
    let save = out.save.filter(|_| !out.json);
    save.map_or_else(String::new, |save| format!("Once it is done: {}.\n", booked(logbook, Some(save), bench, when)))
}

/// What else an answer has to hold for the files that are to be written.
pub(super) fn also(save: bool, sheet: bool) -> Vec<Also> {
    [(save, Also::Recipe), (sheet, Also::Figures)].into_iter().filter_map(|(asked, also)| asked.then_some(also)).collect()
}

/// Where and how an answer goes.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Out<'a> {
    pub(super) json: bool,
    pub(super) save: Option<&'a Path>,
    pub(super) sheet: Option<&'a Path>,
}

impl<'a> Out<'a> {
    /// The answer as text, or as JSON.
    pub(super) fn text(&self, answer: &Answer, console: Console) -> Result<String, Failure> {
        let text = Form::Text { colour: console.colour_out, plot: console.terminal_out };
        formed(answer, if self.json { Form::Json } else { text })
    }

    /// The files that are to be written of it.
    pub(super) fn files(&self, answer: &Answer) -> Result<New<'a>, Failure> {
        let mut files = New::default();
        if let (Some(path), Some(recipe)) = (self.save, answer.recipe()) {
            files.add(path, "Saved the recipe to", report::document(recipe));
        }
        if let Some(path) = self.sheet {
            files.add(path, "Wrote", formed(answer, Form::Sheet)?);
        }
        Ok(files)
    }

    /// Writes the files, and returns what is printed.
    ///
    /// What went into files alone is not printed again.
    pub(super) fn put(&self, answer: Answer, console: Console) -> Result<String, Failure> {
        let files = self.files(&answer)?;
        let shown = without_what_is_filed(answer);
        files.write(self.text(&shown, console)?, self.json)
    }
}

/// An answer without the parts that were asked for only to be written into files.
pub(super) fn without_what_is_filed(mut answer: Answer) -> Answer {
    match &mut answer {
        Answer::Mix(of) => (of.recipe, of.figures) = (None, None),
        Answer::Check(of) => (of.recipe, of.figures) = (None, None),
        Answer::Switch(of) => (of.recipe, of.figures) = (None, None),
        Answer::LogbookForecast(of) => of.recipe = None,
        Answer::TopUp(of) => (of.recipe, of.figures) = (None, None),
        Answer::Today(of) => {
            of.figures = None;
            of.record.tanks.iter_mut().for_each(|tank| tank.recipe = None);
        }
        Answer::Scale(of) => of.recipe = None,
        Answer::Stock(of) => of.figures = None,
        Answer::Cycle(of) => of.figures = None,
        _ => {}
    }
    answer
}

fn formed(answer: &Answer, form: Form) -> Result<String, Failure> {
    report::render(answer, form).ok_or_else(|| Failure::own("an answer that has no such form"))
}
