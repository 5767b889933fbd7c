//! The best mix with few salts.

use super::answer::{FitError, Proof, Solution};
use super::problem::Problem;
use super::solve::{solve, solve_misfit};

/// Fits that one search may solve; a count and not a time, so that two machines give the same amounts.
const SOLVES: usize = 250;
/// A smaller gain is rounding.
const GAIN: f64 = 1e-9;

/// Which columns stay.
#[derive(Debug, Clone, PartialEq)]
pub struct Few {
    /// Columns that are left out.
    pub left_out: Vec<usize>,
    /// The misfit that comes of it.
    pub misfit: f64,
    /// True when no other choice of as few has a smaller misfit.
    pub proved: bool,
}

struct Search<'p, 'a> {
    problem: &'p mut Problem<'a>,
    counted: Vec<usize>,
    most: usize,
    best: Option<(f64, Vec<usize>)>,
    left: usize,
    complete: bool,
}

/// The choice of at most `most` of the columns `counted` with the least misfit; the others take part freely.
///
/// Branch and bound: leaving a column out never makes the misfit smaller, so a branch that is no better than the best
/// choice so far is closed. The problem comes back as it was.
///
/// # Errors
/// The error of the fit with every column, and [`FitError::NothingToMixFrom`] where no choice keeps the limits.
///
/// Reference: `docs/fit.md`.
pub fn fewest(problem: &mut Problem, counted: &[usize], most: usize) -> Result<Few, FitError> {
    let complete = solve(problem)?.proof == Proof::Proved;
    let mut search = Search { problem, counted: counted.to_vec(), most, best: None, left: SOLVES, complete };
    search.visit(&mut Vec::new(), &mut Vec::new())?;
    let proved = search.complete;
    let (misfit, left_out) = search.best.ok_or(FitError::NothingToMixFrom)?;
    Ok(Few { left_out, misfit, proved })
}

/// Runs `job` with `left_out` forbidden.
pub fn without<T>(problem: &mut Problem, left_out: &[usize], job: impl FnOnce(&mut Problem) -> T) -> T {
    let before: Vec<Option<f64>> = problem.columns.iter().map(|column| column.most_g_per_l).collect();
    for &at in left_out {
        problem.columns[at].forbid();
    }
    let done = job(problem);
    problem.columns.iter_mut().zip(before).for_each(|(column, most)| column.most_g_per_l = most);
    done
}

impl Search<'_, '_> {
    fn solve(&mut self, left_out: &[usize]) -> Result<Option<Solution>, FitError> {
        if self.left == 0 {
            self.complete = false;
            return Ok(None);
        }
        self.left -= 1;
        match without(self.problem, left_out, |problem| solve_misfit(problem)) {
            Ok(solution) => {
                // what is not proved least closes no branch for certain
                self.complete &= solution.proof == Proof::Proved;
                Ok(Some(solution))
            }
            Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => Ok(None),
            Err(error) => Err(error),
        }
    }

    fn visit(&mut self, left_out: &mut Vec<usize>, kept: &mut Vec<usize>) -> Result<(), FitError> {
        let Some(solution) = self.solve(left_out)? else { return Ok(()) };
        if self.best.as_ref().is_some_and(|(best, _)| solution.misfit >= best - GAIN) {
            return Ok(());
        }
        let used: Vec<usize> = self.counted.iter().copied().filter(|&at| solution.g_per_l[at] > 0.0).collect();
        if used.len() <= self.most {
            // what is not used now could be used by a later wish
            let rest = self.counted.iter().copied().filter(|at| !used.contains(at)).collect();
            self.best = Some((solution.misfit, rest));
            return Ok(());
        }
        if kept.len() == self.most {
            let all: Vec<usize> = self.counted.iter().copied().filter(|at| !kept.contains(at)).collect();
            if let Some(solution) = self.solve(&all)?
                && self.best.as_ref().is_none_or(|(best, _)| solution.misfit < best - GAIN)
            {
                self.best = Some((solution.misfit, all));
            }
            return Ok(());
        }
        // the one that brings the least of what is asked for goes first
        let brings = |at: usize| -> f64 {
            let wants = self.problem.wants.iter();
            let shares = wants.filter_map(|want| {
                let target = want.target_ppm?;
                Some(
                    want.weight
                        * (self.problem.columns[at].ppm_per_g_per_l[want.nutrient] * solution.g_per_l[at] / target).min(1.0),
                )
            });
            shares.sum()
        };
        let open = used.into_iter().filter(|at| !kept.contains(at));
        let Some(next) = open.min_by(|&a, &b| brings(a).total_cmp(&brings(b)).then(a.cmp(&b))) else { return Ok(()) };
        left_out.push(next);
        self.visit(left_out, kept)?;
        left_out.pop();
        kept.push(next);
        self.visit(left_out, kept)?;
        kept.pop();
        Ok(())
    }
}
