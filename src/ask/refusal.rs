//! Why there is no answer: every problem with its place, and the limits that contradict each other.

use serde::{Deserialize, Serialize};

use crate::bench::BenchError;
use crate::jobs::{JobError, LimitRecord, TankError};
use crate::logbook::Damage;
use crate::quantity::QuantityError;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Problem {
    /// Which kind of problem it is.
    pub code: String,
    /// What is wrong, in words.
    pub message: String,
    /// What was read; null where it is not one thing.
    pub read: Option<String>,
    /// What is taken in its place; null where that cannot be said in short.
    pub allowed: Option<String>,
    /// What would help; null where nothing is known to.
    pub help: Option<String>,
    /// The file that it concerns: the key of the request that has its text, or, from the command line, its path.
    pub file: Option<String>,
    /// Line of that file, or of the request, from 1.
    pub line: Option<usize>,
    /// Key of the bench file in full, `[tank] volume`; without a file, key of the request.
    pub key: Option<String>,
    /// First byte, and the one after the last, of what it concerns in the file.
    pub span: Option<(usize, usize)>,
}

/// A request that is not answered.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Refusal {
    /// Version of this document.
    pub version: u32,
    /// The job that was asked for; `none` where that is not known.
    pub job: String,
    /// 1: it cannot be met. 2: the input is wrong. 3: a failure of our own, or a damaged file.
    #[cfg_attr(feature = "schema", schemars(range(min = 1, max = 3)))]
    pub status: u8,
    /// What is wrong, at least one thing, in the order of the file.
    pub problems: Vec<Problem>,
    /// Limits that contradict each other, of which none can be spared; else empty.
    pub conflict: Vec<LimitRecord>,
}

impl Refusal {
    /// One problem that has a code, words and no place yet.
    fn one(status: u8, code: &str, message: String, help: Option<String>) -> Self {
        let problem = Problem {
            code: code.to_owned(),
            message,
            read: None,
            allowed: None,
            help,
            file: None,
            line: None,
            key: None,
            span: None,
        };
        Self { version: 1, job: "none".to_owned(), status, problems: vec![problem], conflict: Vec::new() }
    }

    /// Input that is wrong.
    pub(crate) fn input(code: &str, message: impl Into<String>, help: Option<String>) -> Self {
        Self::one(2, code, message.into(), help)
    }

    /// What cannot be met.
    pub(crate) fn unmet(code: &str, message: impl Into<String>) -> Self {
        Self::one(1, code, message.into(), None)
    }

    /// A failure of our own.
    pub(crate) fn own(words: impl Into<String>) -> Self {
        Self::one(3, "own-failure", words.into(), None)
    }

    /// The problems of another one behind those of this one.
    pub(crate) fn and(mut self, other: Self) -> Self {
        self.problems.extend(other.problems);
        self
    }

    /// A quantity under a key of the request that does not fit.
    pub(crate) fn unfit(key: &str, typed: &str, error: &QuantityError) -> Self {
        Self::unfit_of(key, key, typed, error)
    }

    /// As [`Refusal::unfit`], for one of several things under a key; `what` is the one.
    pub(crate) fn unfit_of(key: &str, what: &str, typed: &str, error: &QuantityError) -> Self {
        let help = error.suggestion().map(|word| format!("did you mean `{word}`?"));
        let message = format!("`{what}` reads \"{typed}\"; {error}");
        Self::input("quantity", message, help).about(key, typed, Some(error.allowed()))
    }

    /// Adds the key of the request, what stands there and what is taken.
    pub(crate) fn about(mut self, key: &str, read: &str, allowed: Option<String>) -> Self {
        if let [problem, ..] = &mut self.problems[..] {
            problem.key = Some(key.to_owned());
            problem.read = Some(read.to_owned());
            problem.allowed = allowed;
        }
        self
    }

    /// Adds the file that it concerns.
    pub(crate) fn in_file(mut self, file: &str) -> Self {
        for problem in &mut self.problems {
            problem.file = Some(file.to_owned());
        }
        self
    }

    /// A logbook that cannot be trusted as it stands.
    pub(crate) fn damaged(damage: &Damage) -> Self {
        let lines: Vec<String> = damage.faults.iter().map(|fault| fault.line.to_string()).collect();
        let help = format!(
            "nothing was written; keep a copy, and mend the line by hand if you know what it said, leaving out `check`. To \
             give lines up that cannot be read: enter `recovered {}`",
            lines.join(" ")
        );
        let mut refusal = Self::one(3, "logbook-damaged", format!("is damaged\n{damage}"), Some(help)).in_file("logbook");
        if let Some(fault) = damage.faults.first() {
            refusal.problems[0].line = Some(fault.line);
            refusal.problems[0].read = Some(fault.read.clone());
        }
        refusal
    }

    /// Says which job it was.
    #[must_use]
    pub(crate) fn of_job(self, job: &str) -> Self {
        Self { job: job.to_owned(), ..self }
    }
}

impl From<BenchError> for Refusal {
    fn from(error: BenchError) -> Self {
        let problem = |problem: &crate::bench::Problem| Problem {
            code: "bench-file".to_owned(),
            message: problem.message.clone(),
            read: error.read(problem).map(str::to_owned),
            allowed: problem.allowed.clone(),
            help: problem.help.clone(),
            file: Some(error.file.clone()),
            line: Some(error.line(problem)),
            key: Some(problem.key.clone()).filter(|key| !key.is_empty()),
            span: Some((problem.span.start, problem.span.end)),
        };
        let problems = error.problems.iter().map(problem).collect();
        Self { version: 1, job: "none".to_owned(), status: 2, problems, conflict: Vec::new() }
    }
}

impl From<JobError> for Refusal {
    fn from(error: JobError) -> Self {
        let mut refusal = Self::one(error.exit_status(), error.code(), error.to_string(), error.help());
        match error {
            JobError::UnknownFormula { name, known, .. } => {
                refusal.problems[0].read = Some(name);
                refusal.problems[0].allowed = Some(known.join(", ")).filter(|known| !known.is_empty());
            }
            JobError::NothingToTrade { nutrient } => refusal.problems[0].read = Some(nutrient),
            JobError::Tank(TankError::UnknownBottle { id }) => refusal.problems[0].read = Some(id),
            JobError::Conflict { limits, .. } => refusal.conflict = limits,
            _ => {}
        }
        refusal
    }
}

impl From<TankError> for Refusal {
    fn from(error: TankError) -> Self {
        JobError::from(error).into()
    }
}

/// Every problem on a line of its own, with its place before it and its help behind it.
impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (at, problem) in self.problems.iter().enumerate() {
            if at > 0 {
                writeln!(f)?;
            }
            match (&problem.file, problem.line) {
                (Some(file), Some(line)) => write!(f, "{file}:{line}: ")?,
                (Some(file), None) => write!(f, "{file}: ")?,
                _ => {}
            }
            if let Some(key) = problem.key.as_ref().filter(|_| problem.file.is_some()) {
                write!(f, "{key}: ")?;
            }
            f.write_str(&problem.message)?;
            if let Some(help) = &problem.help {
                write!(f, " ({help})")?;
            }
        }
        Ok(())
    }
}

impl std::error::Error for Refusal {}
