//! What a fit answers, or why it has no answer.

use std::fmt;

use serde::Serialize;

use super::linear::Failure;
use super::problem::Limit;

/// What may be said of the misfit of exact amounts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum Proof {
    /// No amounts of the same salts have a smaller one within the limits: its dual says so.
    #[serde(rename = "proved")]
    Proved,
    /// The smallest that was found: a limit of EC binds, which bends, or the dual does not come near enough.
    #[serde(rename = "closest found")]
    ClosestFound,
}

impl fmt::Display for Proof {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Proved => "proved",
            Self::ClosestFound => "closest found",
        })
    }
}

/// A wish that was solved, and what it came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// Which wish.
    pub wish: &'static str,
    /// Its value.
    pub value: f64,
    /// Unit of the value; empty for a plain number.
    pub unit: &'static str,
}

/// The amounts that answer a [`Problem`](super::Problem).
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Amount of every column, grams as sold per litre of final volume.
    pub g_per_l: Vec<f64>,
    /// The misfit, dimensionless.
    pub misfit: f64,
    /// What may be said of it.
    pub proof: Proof,
    /// Difference between the misfit and the bound that its dual proves, under a limit of EC that binds the bound under its last
    /// tangent; infinite where there is none.
    pub certificate_gap: f64,
    /// What each wish came to, in order.
    pub stages: Vec<Stage>,
    /// What the misfit hangs on.
    pub shadow_prices: ShadowPrices,
}

/// Shadow prices of the least misfit, by its dual. One-sided where the optimum is degenerate, so whatever is said from one is
/// confirmed by solving again.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ShadowPrices {
    /// For every want: how the misfit grows with its relative miss; 0 without a target.
    pub per_want: Vec<f64>,
    /// For every stated limit that binds: how the misfit would fall if it gave way by its own size.
    pub per_limit: Vec<(Limit, f64)>,
    /// For every column its reduced cost: how the misfit grows with a g/L of it; negative where more of it would help.
    pub per_column: Vec<f64>,
}

impl ShadowPrices {
    /// That of the wish for a pH; 0 where it binds nothing.
    pub(crate) fn of_ph(&self) -> f64 {
        self.per_limit.iter().find(|(limit, _)| *limit == Limit::Ph).map_or(0.0, |(_, price)| *price)
    }
}

/// An irreducible infeasible subset of the stated limits: they cannot all hold, and without any one of them the others can.
/// Irreducible, not smallest: another conflict may name fewer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conflict {
    /// The set, in the order of the formula; empty where only the misfit was asked for.
    pub limits: Vec<Limit>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum FitError {
    /// No salt brings anything that is asked for.
    NothingToMixFrom,
    /// Stated limits contradict each other.
    Conflict(Conflict),
    /// None of the choices of so few salts that were tried keeps the limits.
    TooFew {
        /// How many may go in.
        most: usize,
    },
    /// The solver failed, and our own with it.
    Solver(String),
    /// An answer that our own arithmetic refuses.
    Unverified(String),
}

impl fmt::Display for FitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NothingToMixFrom => f.write_str("no salt on the shelf brings anything that the formula asks for"),
            Self::Conflict(_) => f.write_str("the stated limits contradict each other"),
            Self::TooFew { most } => write!(f, "no choice of {most} salts that was tried keeps the stated limits"),
            Self::Solver(words) => write!(f, "the solver failed: {words}"),
            Self::Unverified(words) => write!(f, "the result failed its own verification: {words}"),
        }
    }
}

impl std::error::Error for FitError {}

impl From<Failure> for FitError {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::Infeasible => Self::Solver("a stage became infeasible with the earlier wishes held".to_owned()),
            Failure::Solver(words) => Self::Solver(words),
        }
    }
}
