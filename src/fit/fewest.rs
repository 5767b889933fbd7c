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

#[cfg(test)]
mod tests {
    use super::super::sample::{Numbers, column, problem, target};
    use super::*;
    use crate::matter::Nutrient;

    const ASKED: [(Nutrient, f64); 5] =
        [(Nutrient::NitrateN, 90.0), (Nutrient::K, 150.0), (Nutrient::Ca, 80.0), (Nutrient::Mg, 30.0), (Nutrient::S, 40.0)];

    /// Six to eight columns that each bring two or three of what is asked.
    fn random(numbers: &mut Numbers) -> Problem<'static> {
        let mut columns = Vec::new();
        for _ in 0..6 + numbers.below(3) {
            let mut brings = ASKED.to_vec();
            brings.retain(|_| numbers.chance(0.5));
            brings.iter_mut().for_each(|(_, ppm)| *ppm *= numbers.between(0.2, 2.0));
            columns.push(column(&brings));
        }
        problem(columns, ASKED.into_iter().map(|(nutrient, ppm)| target(nutrient, ppm)).collect())
    }

    /// The good choice to start from is one that no exchange of a column for another makes better; often the search to the end
    /// then finds nothing better either, and never anything worse.
    #[test]
    fn no_exchange_of_one_column_makes_the_first_choice_better() {
        let mut numbers = Numbers(31);
        let (mut tried, mut best_at_once) = (0, 0);
        for case in 0..60 {
            let mut problem = random(&mut numbers);
            let counted: Vec<usize> = (0..problem.columns.len()).collect();
            let (all, most) = (solve(&problem).unwrap(), 2 + case % 2);
            let mut search =
                Search { problem: &mut problem, counted: counted.clone(), most, best: None, left: SEEDED, complete: true };
            search.seed(&all).unwrap();
            assert!(search.left > 0, "case {case}");
            let Some((misfit, left_out)) = search.best else { continue };
            let kept: Vec<usize> = counted.iter().copied().filter(|at| !left_out.contains(at)).collect();
            assert!(kept.len() <= most, "case {case}: {kept:?}");
            for (&comes, &goes) in left_out.iter().flat_map(|comes| kept.iter().map(move |goes| (comes, goes))) {
                let others: Vec<usize> = left_out.iter().copied().filter(|at| *at != comes).chain([goes]).collect();
                let other = without(&mut problem, &others, |problem| solve_misfit(problem)).unwrap();
                assert!(other.misfit > misfit - 1e-6, "case {case}: {comes} for {goes} makes {misfit} {}", other.misfit);
                tried += 1;
            }
            let few = fewest(&mut problem, &counted, most).unwrap();
            assert!(few.proved && few.misfit <= misfit + 1e-9, "case {case}: {few:?} {misfit}");
            best_at_once += usize::from(few.misfit > misfit - 1e-6);
        }
        assert!(tried > 500 && best_at_once > 30, "{tried} {best_at_once}");
    }

    /// What keeps the limits before what does not, of two that do not the one that is less far off, and of two as far off the
    /// one with the smaller misfit.
    #[test]
    fn a_choice_is_better_by_its_limits_and_then_by_its_misfit() {
        let solution = solve(&problem(vec![column(&[(Nutrient::K, 100.0)])], vec![target(Nutrient::K, 50.0)])).unwrap();
        let keeps = |misfit| {
            let solution = Solution { misfit, ..solution.clone() };
            Choice { kept: Vec::new(), off: 0.0, solution: Some(solution) }
        };
        let breaks = |off| Choice { kept: Vec::new(), off, solution: None };
        let in_order = [keeps(0.1), keeps(3.0), breaks(0.02), breaks(0.5), breaks(f64::INFINITY)];
        for (at, choice) in in_order.iter().enumerate() {
            for (other, than) in in_order.iter().enumerate() {
                assert_eq!(choice.is_better_than(than), at < other, "{at} {other}");
            }
        }
    }
}
