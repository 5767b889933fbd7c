//! What of one nutrient can be had against another: the trade-off of a shelf.

use serde::Serialize;

use crate::bench::Bench;
use crate::fit::{self, FitError, Problem, Want};
use crate::jobs::engine::blend::blended;
use crate::jobs::engine::kept_apart;
use crate::jobs::engine::question::{MixOptions, Question, formula as formula_called};
use crate::jobs::engine::refuse::job_error;
use crate::jobs::error::JobError;
use crate::matter::Nutrient;
use crate::tank::Tank;

/// One point of a trade-off.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TradePoint {
    /// At which the first nutrient is held, ppm.
    pub along_ppm: f64,
    /// What the second comes to in the best mix there, ppm; null where no mix keeps the limits.
    pub reached_ppm: Option<f64>,
    /// Misfit of that mix against the formula, the first nutrient's own target left out.
    pub misfit: Option<f64>,
}

/// A trade-off.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TradeRecord {
    /// Version of this document.
    pub version: u32,
    /// `trade`.
    pub job: String,
    /// The formula.
    pub formula: String,
    /// Name of the bench.
    pub bench: String,
    /// Symbol of the nutrient that is moved.
    pub along: String,
    /// Symbol of the nutrient that is watched.
    pub reached: String,
    /// What the formula asks of the first, ppm.
    pub along_target_ppm: Option<f64>,
    /// What the formula asks of the second, ppm.
    pub reached_target_ppm: Option<f64>,
    /// What the water alone brings of the second, ppm.
    pub reached_water_ppm: f64,
    /// The lowest level of the first at which the second reaches its target, ppm; null where none of those tried does, or
    /// without a target.
    pub enough_from_ppm: Option<f64>,
    /// From the lowest level tried to the highest.
    pub points: Vec<TradePoint>,
}

/// Levels that are tried, as shares of the target (or of what the best mix brings).
const SHARES: [f64; 15] = [0.25, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5];
/// A target counts as reached within this fraction.
const REACHED: f64 = 1e-4;
/// Halvings of the interval in which the lowest sufficient level lies.
const HALVINGS: usize = 24;

/// What `reached` comes to while `along` is held at one level after another and everything else of the formula is met as
/// well as it can be.
///
/// # Errors
/// As [`crate::jobs::mix`]; [`JobError::NothingToTrade`] where neither a target nor the mix gives a level to start from.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs, matter::Nutrient};
/// let trade = jobs::trade(&Bench::starter(), "push", Nutrient::N, Nutrient::Ca)?;
/// assert!(trade.points.iter().all(|point| point.reached_ppm.is_some()));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn trade(bench: &Bench, formula: &str, along: Nutrient, reached: Nutrient) -> Result<TradeRecord, JobError> {
    let bench = &*blended(bench, formula, &MixOptions::default())?;
    let formula = formula_called(bench, formula)?;
    let question = kept_apart::question(Tank::fresh(bench)?, formula, None)?;
    let mixture = &question.mixture;
    let mut problem = question.problem(mixture);
    // without its acid: what that brings depends on the mix, and the shelf is what is looked at
    for &at in &question.acids {
        problem.columns[at].forbid();
    }
    let plain = fit::solve(&problem).map_err(|error| job_error(&question, &problem, error))?;
    let target = |nutrient| {
        let want = problem.wants.iter().find(|want| want.nutrient == nutrient);
        want.and_then(|want| want.target_ppm)
    };
    let (along_target_ppm, reached_target_ppm) = (target(along), target(reached));
    let center = along_target_ppm.unwrap_or_else(|| problem.achieved_ppm(&plain.g_per_l)[along]);
    if center <= 0.0 {
        return Err(JobError::NothingToTrade { nutrient: along.symbol().to_owned() });
    }
    let mut points = Vec::new();
    for share in SHARES {
        points.push(point(&question, &mut problem, along, reached, center * share)?);
    }
    let enough = |point: &TradePoint| {
        reached_target_ppm.is_some_and(|target| point.reached_ppm.is_some_and(|ppm| ppm >= target * (1.0 - REACHED)))
    };
    let first = points.iter().position(enough);
    let enough_from_ppm = match first {
        None => None,
        Some(0) => Some(points[0].along_ppm),
        Some(first) => {
            let (mut low, mut high) = (points[first - 1].along_ppm, points[first].along_ppm);
            for _ in 0..HALVINGS {
                let middle = f64::midpoint(low, high);
                if enough(&point(&question, &mut problem, along, reached, middle)?) {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            Some(high)
        }
    };
    Ok(TradeRecord {
        version: 1,
        job: "trade".to_owned(),
        formula: formula.name.clone(),
        bench: bench.name.clone(),
        along: along.symbol().to_owned(),
        reached: reached.symbol().to_owned(),
        along_target_ppm,
        reached_target_ppm,
        reached_water_ppm: bench.water.nutrients[reached],
        enough_from_ppm,
        points,
    })
}

/// The best mix with `along` held at a level.
fn point(
    question: &Question,
    problem: &mut Problem,
    along: Nutrient,
    reached: Nutrient,
    level: f64,
) -> Result<TradePoint, JobError> {
    let before = problem.wants.clone();
    let held = Want { nutrient: along, target_ppm: None, min_ppm: Some(level), max_ppm: Some(level), weight: 1.0 };
    problem.wants.retain(|want| want.nutrient != along);
    problem.wants.push(held);
    let answer = fit::solve(problem);
    let point = match answer {
        Ok(solution) => {
            let reached_ppm = Some(problem.achieved_ppm(&solution.g_per_l)[reached]);
            Ok(TradePoint { along_ppm: level, reached_ppm, misfit: Some(solution.misfit) })
        }
        Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => {
            Ok(TradePoint { along_ppm: level, reached_ppm: None, misfit: None })
        }
        Err(error) => Err(job_error(question, problem, error)),
    };
    problem.wants = before;
    point
}
