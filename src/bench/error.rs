//! What is wrong with a bench file: the facts. The command line draws them.

use std::fmt;
use std::ops::Range;

/// One mistake.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Problem {
    /// The key in full, `[tank] volume`; empty when the file is no TOML at all.
    pub key: String,
    /// Bytes of the file that it concerns.
    pub span: Range<usize>,
    /// What was read and what is allowed.
    pub message: String,
    /// What is taken there, where that can be said in short.
    pub allowed: Option<String>,
    /// A way out, "did you mean" among them.
    pub help: Option<String>,
}

/// A bench file that was refused.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct BenchError {
    /// Name of the file.
    pub file: String,
    /// Its text.
    pub text: String,
    /// Every mistake found, in file order.
    pub problems: Vec<Problem>,
}

impl BenchError {
    /// What the file has at the place of a problem.
    #[must_use]
    pub fn read(&self, problem: &Problem) -> Option<&str> {
        self.text.get(problem.span.clone()).filter(|read| !read.is_empty())
    }

    /// The line of a problem, from 1.
    #[must_use]
    pub fn line(&self, problem: &Problem) -> usize {
        1 + self.text.as_bytes().iter().take(problem.span.start).filter(|byte| **byte == b'\n').count()
    }
}

impl fmt::Display for BenchError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, problem) in self.problems.iter().enumerate() {
            if at > 0 {
                writeln!(f)?;
            }
            write!(f, "{}:{}: ", self.file, self.line(problem))?;
            if !problem.key.is_empty() {
                write!(f, "{}: ", problem.key)?;
            }
            write!(f, "{}", problem.message)?;
            if let Some(help) = &problem.help {
                write!(f, " ({help})")?;
            }
        }
        Ok(())
    }
}

impl std::error::Error for BenchError {}
