//! How many inputs got past the parser.

use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// How an input ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// It was no right input.
    Refused,
    /// It was read, and cannot be met.
    Unmet,
    /// It was read and answered.
    Answered,
}

/// Inputs of a target so far.
pub struct Count {
    runs: AtomicU64,
    past: AtomicU64,
    answered: AtomicU64,
}

impl Count {
    #[must_use]
    pub const fn new() -> Self {
        Self { runs: AtomicU64::new(0), past: AtomicU64::new(0), answered: AtomicU64::new(0) }
    }

    /// Counts one, and says where the count stands after every so many (`BLOOMSALT_FUZZ_COUNT`, else 1000).
    pub fn note(&self, end: End) {
        let runs = self.runs.fetch_add(1, Relaxed) + 1;
        let past = self.past.fetch_add(u64::from(end != End::Refused), Relaxed) + u64::from(end != End::Refused);
        let answered = self.answered.fetch_add(u64::from(end == End::Answered), Relaxed) + u64::from(end == End::Answered);
        let every = std::env::var("BLOOMSALT_FUZZ_COUNT").ok().and_then(|every| every.parse().ok()).unwrap_or(1000_u64);
        if runs.is_multiple_of(every.max(1)) {
            eprintln!(
                "{runs} inputs: {past} past the parser ({:.0} %), {answered} answered",
                1e2 * past as f64 / runs as f64
            );
        }
    }
}

impl Default for Count {
    fn default() -> Self {
        Self::new()
    }
}
