//! The best mix with few salts.

use super::answer::{FitError, Proof, Solution};
use super::conflict::least_off;
use super::problem::Problem;
use super::solve::{solve, solve_misfit};

/// Fits that the search to the end may solve, and before it the one for a good choice; a count and not a time, so that two machines
/// give the same amounts.
const SOLVES: usize = 250;
const SEEDED: usize = 900;
/// Leaving out one by one goes so many columns further than it must, and comes back: one more is then never worse than one fewer.
const FURTHER: usize = 2;
/// Columns that are tried in exchange, the most promising first.
const TRIED: usize = 12;
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

/// A choice that was fitted: what stays, how far off the limits it is at the least, and its misfit where it keeps them.
struct Choice {
    kept: Vec<usize>,
    off: f64,
    solution: Option<Solution>,
}

impl Choice {
    fn misfit(&self) -> f64 {
        self.solution.as_ref().map_or(f64::INFINITY, |solution| solution.misfit)
    }

    fn is_better_than(&self, other: &Self) -> bool {
        if (self.off - other.off).abs() > GAIN {
            return self.off < other.off;
        }
        self.misfit() < other.misfit() - GAIN
    }
}

/// The choice of at most `most` of the columns `counted` with the least misfit; the others take part freely.
///
/// A good choice first: columns are left out one by one, each time the one that is missed least, and exchanged for others as long
/// as that helps. Then branch and bound: leaving a column out never makes the misfit smaller, so a branch that is no better than the
/// best choice so far is closed. The problem comes back as it was.
///
/// # Errors
/// The error of the fit with every column, and [`FitError::TooFew`] where no choice that was tried keeps the limits.
///
/// Reference: `docs/fit.md`.
pub fn fewest(problem: &mut Problem, counted: &[usize], most: usize) -> Result<Few, FitError> {
    let all = solve(problem)?;
    let complete = all.proof == Proof::Proved;
    let mut search = Search { problem, counted: counted.to_vec(), most, best: None, left: SEEDED, complete };
    search.seed(&all)?;
    search.left = SOLVES;
    search.visit(&mut Vec::new(), &mut Vec::new())?;
    let proved = search.complete;
    let (misfit, left_out) = search.best.ok_or(FitError::TooFew { most })?;
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
    /// Those of the counted columns that a solution uses.
    fn used(&self, solution: &Solution) -> Vec<usize> {
        self.counted.iter().copied().filter(|&at| solution.g_per_l[at] > 0.0).collect()
    }

    fn all_but(&self, kept: &[usize]) -> Vec<usize> {
        self.counted.iter().copied().filter(|at| !kept.contains(at)).collect()
    }

    /// Fits a choice; `None` once all fits are used up.
    fn fitted(&mut self, kept: Vec<usize>) -> Result<Option<Choice>, FitError> {
        if self.left == 0 {
            return Ok(None);
        }
        self.left -= 1;
        let left_out = self.all_but(&kept);
        Ok(Some(match without(self.problem, &left_out, |problem| solve_misfit(problem)) {
            Ok(solution) => Choice { kept, off: 0.0, solution: Some(solution) },
            Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => {
                let off = without(self.problem, &left_out, |problem| least_off(problem))?;
                Choice { kept, off, solution: None }
            }
            Err(error) => return Err(error),
        }))
    }

    /// A good choice to start from, out of what the best mix of all uses.
    fn seed(&mut self, all: &Solution) -> Result<(), FitError> {
        let mut kept = self.used(all);
        let least = self.most.saturating_sub(FURTHER).max(1);
        let mut stages: Vec<Choice> = Vec::new();
        while kept.len() > self.most.max(1) || !stages.is_empty() && kept.len() > least {
            let mut best: Option<Choice> = None;
            for at in 0..kept.len() {
                let mut fewer = kept.clone();
                fewer.remove(at);
                let Some(choice) = self.fitted(fewer)? else { break };
                if best.as_ref().is_none_or(|best| choice.is_better_than(best)) {
                    best = Some(choice);
                }
            }
            let Some(best) = best else { break };
            kept.clone_from(&best.kept);
            if kept.len() <= self.most {
                stages.push(best);
            }
        }
        let mut last: Option<Choice> = None;
        for mut choice in stages.into_iter().rev() {
            for more in last.as_ref().map_or(Ok(Vec::new()), |last| self.with_one_more(last))? {
                if more.is_better_than(&choice) {
                    choice = more;
                }
            }
            self.exchange(&mut choice)?;
            last = Some(choice);
        }
        if let Some(Choice { kept, solution: Some(solution), .. }) = last {
            self.best = Some((solution.misfit, self.all_but(&kept)));
        }
        Ok(())
    }

    /// Exchanges a column that stays for one that is left out as long as that helps.
    fn exchange(&mut self, choice: &mut Choice) -> Result<(), FitError> {
        loop {
            let mut wider = self.with_one_more(choice)?;
            wider.retain(|wide| wide.is_better_than(choice));
            wider.sort_by(|a, b| a.off.total_cmp(&b.off).then(a.misfit().total_cmp(&b.misfit())));
            let mut found: Option<Choice> = None;
            for wide in wider {
                // the last is the one that came in
                for at in 0..wide.kept.len() - 1 {
                    let mut kept = wide.kept.clone();
                    kept.remove(at);
                    let Some(other) = self.fitted(kept)? else { return Ok(()) };
                    if other.is_better_than(found.as_ref().unwrap_or(choice)) {
                        found = Some(other);
                    }
                }
                if found.is_some() {
                    break;
                }
            }
            let Some(found) = found else { return Ok(()) };
            *choice = found;
        }
    }

    /// A choice with one more column, the most promising ones each by itself: by their reduced costs, which say of any other
    /// that it does not help; where limits are broken there are none, and every column may.
    fn with_one_more(&mut self, choice: &Choice) -> Result<Vec<Choice>, FitError> {
        let outside = self.all_but(&choice.kept);
        let gain = |at: usize| {
            let Some(solution) = &choice.solution else { return f64::NEG_INFINITY };
            let column = &self.problem.columns[at].ppm_per_g_per_l;
            let unit = self.problem.wants.iter().filter_map(|want| Some(want.target_ppm? / column[want.nutrient]));
            let cost = solution.shadow_prices.per_column.get(at).copied().unwrap_or(0.0);
            let unit = unit.filter(|unit| *unit > 0.0).fold(f64::INFINITY, f64::min);
            cost * if unit.is_finite() { unit } else { 1.0 }
        };
        let mut promising: Vec<(f64, usize)> = outside.into_iter().map(|at| (gain(at), at)).collect();
        promising.retain(|(gain, _)| *gain < -GAIN);
        promising.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let tried = if choice.solution.is_some() { TRIED } else { usize::MAX };
        let mut found = Vec::new();
        for (_, at) in promising.into_iter().take(tried) {
            let Some(more) = self.fitted(choice.kept.iter().copied().chain([at]).collect())? else { break };
            found.push(more);
        }
        Ok(found)
    }

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
        let used = self.used(&solution);
        if used.len() <= self.most {
            // what is not used now could be used by a later wish
            self.best = Some((solution.misfit, self.all_but(&used)));
            return Ok(());
        }
        if kept.len() == self.most {
            let all = self.all_but(kept);
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
