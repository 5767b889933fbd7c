//! The dose of acid that brings a mix down to a wished pH, found with the rest of the fit.

use crate::bench::{Acid, Basis};
use crate::fit::{FitError, PhRow, Problem, Solution};
use crate::jobs::engine::sweep::sweep;
use crate::jobs::error::JobError;
use crate::tank::chemistry::{Mixture, air};

/// The pH of the full speciation is brought this near to the wish.
pub(crate) const NEAR: f64 = 0.01;
/// A misfit that a renewed row could move by no more than this has settled, own choice.
const SETTLED: f64 = 1e-4;
/// A misfit that is less by this is worth acid that another blend of waters does without, own choice.
const CLOSER: f64 = 1e-3;
/// A misfit that rises by more than this while the acid is held down is other salts at work in its place.
const STOOD_IN_MISFIT: f64 = 1.0;
/// Rounds of renewed mean charges.
const ROUNDS: usize = 10;

/// How a problem is fitted on the way to an answer: with all wishes, or for the misfit alone.
pub(crate) type Fit = fn(&Problem) -> Result<Solution, FitError>;

/// A fit with its wish for a pH.
pub(crate) struct Soured {
    /// The amounts.
    pub(crate) solution: Solution,
    /// False when the mix is at or under the wish without acid.
    pub(crate) needs_acid: bool,
    /// False when limits, or what is on hand, keep the acid from meeting the wish.
    pub(crate) met: bool,
}

/// What brings a mix down to which pH.
#[derive(Clone, Copy)]
pub(crate) struct Souring<'a> {
    pub(crate) mixture: &'a Mixture<'a>,
    pub(crate) acid: &'a Acid,
    pub(crate) basis: Basis,
    /// Columns of the acids that take part.
    pub(crate) acids: &'a [usize],
}

impl Souring<'_> {
    fn ph(&self, x: &[f64]) -> Result<f64, JobError> {
        Ok(self.mixture.ph(x, self.basis)?)
    }

    /// All of the acids together.
    fn all(&self, x: &[f64]) -> f64 {
        self.acids.iter().map(|&at| x[at]).sum()
    }

    /// The row of the pH with mean charges frozen at amounts `x`.
    pub(crate) fn row_at(&self, x: &[f64]) -> Result<PhRow, JobError> {
        let (meq_per_g, meq_per_l) = self.mixture.proton_row(x, self.acid.target_ph, air(self.basis))?;
        Ok(PhRow { meq_per_g, meq_per_l, acids: self.acids.to_vec() })
    }

    /// The fit without the acids.
    fn without(&self, problem: &mut Problem, fit: Fit) -> Result<Solution, FitError> {
        let mosts: Vec<Option<f64>> = self.acids.iter().map(|&at| problem.columns[at].most_g_per_l).collect();
        self.acids.iter().for_each(|&at| problem.columns[at].forbid());
        problem.ph = None;
        let without = fit(problem);
        self.acids.iter().zip(mosts).for_each(|(&at, most)| problem.columns[at].most_g_per_l = most);
        without
    }

    /// The mix that comes nearest to the wish in rounds of renewed charges from `last` on, and how far off it is.
    fn in_rounds(&self, problem: &mut Problem, mut last: Vec<f64>, fit: Fit) -> Result<Option<(f64, Solution)>, JobError> {
        // all that there is of every acid
        let most: Option<f64> = self.acids.iter().map(|&at| problem.columns[at].most_g_per_l).sum();
        let near = problem.near.clone();
        let mut best: Option<(f64, Solution)> = None;
        let mut row = self.row_at(&last)?;
        for _ in 0..ROUNDS {
            problem.ph = Some(row);
            let mut answer = fit(problem);
            // all the acid there is, and still short: no other salt stands in for it
            let short =
                |most: &f64| answer.as_ref().map_or(true, |solution| self.all(&solution.g_per_l) >= most * (1.0 - 1e-9));
            if let Some(most) = most.filter(short) {
                problem.ph = Some(self.all_of_it(most, problem.columns.len()));
                answer = fit(problem);
            }
            let Ok(solution) = answer else { break };
            last.clone_from(&solution.g_per_l);
            // renewed charges move the mix by little
            problem.near = Some(last.clone());
            let off = (self.ph(&last)? - self.acid.target_ph).abs();
            let (misfit, price) = (solution.misfit, solution.shadow_prices.of_ph());
            if best.as_ref().is_none_or(|before| is_nearer((off, misfit), before)) {
                best = Some((off, solution));
            }
            if off <= NEAR && misfit <= SETTLED {
                break;
            }
            row = self.row_at(&last)?;
            if off <= NEAR && price * row.off(&last) <= SETTLED {
                break;
            }
        }
        problem.ph = None;
        problem.near = near;
        Ok(best)
    }

    /// The row by which all of the acids goes in.
    fn all_of_it(&self, most: f64, columns: usize) -> PhRow {
        let mut meq_per_g = vec![0.0; columns];
        self.acids.iter().for_each(|&at| meq_per_g[at] = -1.0);
        PhRow { meq_per_g, meq_per_l: -most, acids: self.acids.to_vec() }
    }

    /// True where a limit that binds the acid has the fit sour the tank with pounds of some other salt: never. Where a target does,
    /// which salt gives way is for the fit to choose.
    fn is_stood_in_for(&self, problem: &Problem, row: &PhRow, without: &Solution, solution: &Solution) -> bool {
        let x = self.acid_alone(problem, row, without, solution);
        let broken = |x: &[f64]| problem.broken_limits(x, &problem.achieved_ppm(x), 1e-6).len();
        self.all(&solution.g_per_l) < 0.97 * self.all(&x)
            && solution.misfit > without.misfit + STOOD_IN_MISFIT
            && broken(&x) > broken(&without.g_per_l)
    }

    /// The mix as it is without, at the drain that the answer takes, with all the acid that it would want, in the shares of the
    /// answer.
    fn acid_alone(&self, problem: &Problem, row: &PhRow, without: &Solution, solution: &Solution) -> Vec<f64> {
        let mut x = without.g_per_l.clone();
        problem.sparing.iter().for_each(|&spared| x[spared] = solution.g_per_l[spared]);
        let there: f64 = row.meq_per_g.iter().zip(&x).map(|(meq, amount)| meq * amount).sum();
        let whole = self.all(&solution.g_per_l);
        let share =
            |at: usize| if whole > 0.0 { solution.g_per_l[at] / whole } else { f64::from(u8::from(at == self.acids[0])) };
        let meq_per_g: f64 = self.acids.iter().map(|&at| row.meq_per_g[at] * share(at)).sum();
        for &at in self.acids {
            x[at] = (row.meq_per_l - there) / meq_per_g * share(at);
        }
        x
    }
}

/// True for a round that is nearer to the wish than the best before. Of rounds that do not come to rest none buys a little pH with
/// other targets.
fn is_nearer((off, misfit): (f64, f64), (least, before): &(f64, Solution)) -> bool {
    match (off <= NEAR, *least <= NEAR) {
        (true, false) => true,
        (false, true) => false,
        _ => misfit < before.misfit - STOOD_IN_MISFIT || off < *least && misfit <= before.misfit + STOOD_IN_MISFIT,
    }
}

/// Fits with the doses of the acids, shared out as the wishes of the fit have it, that bring the pH down to the wish, or without when
/// it is not above it.
///
/// The proton condition is linear for frozen mean charges: they are frozen at the last mix, the fit is solved, the
/// charges renewed, until the pH of the full speciation is within 0.01 of the wish and what the row is still off by could not move
/// the misfit by more than 1e-4 at the price of the pH. The wish is one-sided and never makes a request impossible. Of several
/// waters the blend that needs no acid stays unless one with acid comes closer.
///
/// * `start`: amounts whose mean charges are taken first; without it those of the answer without acid
pub(crate) fn soured(
    problem: &mut Problem,
    souring: &Souring,
    start: Option<&[f64]>,
    fit: Fit,
) -> Result<Result<Soured, FitError>, JobError> {
    let without = souring.without(problem, fit);
    let mut sour_enough = None;
    let from = match &without {
        Ok(without) => {
            if souring.ph(&without.g_per_l)? <= souring.acid.target_ph + NEAR {
                // of several waters more of a hard one, and acid for it, may come closer
                if problem.waters.is_empty() || without.misfit <= CLOSER {
                    return Ok(Ok(Soured { solution: without.clone(), needs_acid: false, met: true }));
                }
                sour_enough = Some(without.misfit);
            }
            without.g_per_l.clone()
        }
        // what the acid brings may be what the limits want
        Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => vec![0.0; problem.columns.len()],
        Err(error) => return Ok(Err(error.clone())),
    };
    let from = start.map_or(from, <[f64]>::to_vec);
    let row = souring.row_at(&from)?;
    let best = souring.in_rounds(problem, from, fit)?;
    let closer =
        |(off, mix): &(f64, Solution)| *off <= NEAR && sour_enough.is_none_or(|misfit| mix.misfit < misfit - CLOSER);
    Ok(match (best, without) {
        (best, Ok(without)) if sour_enough.is_some() && !best.as_ref().is_some_and(closer) => {
            Ok(Soured { solution: without, needs_acid: false, met: true })
        }
        (Some((_, solution)), Ok(without)) if souring.is_stood_in_for(problem, &row, &without, &solution) => {
            Ok(Soured { solution: without, needs_acid: true, met: false })
        }
        (Some((off, mut solution)), _) => {
            // the moving pH row leaves crumbs at its corner
            sweep(problem, &mut solution, souring.acids);
            Ok(Soured { met: off <= 2.0 * NEAR, solution, needs_acid: true })
        }
        (None, without) => without.map(|solution| Soured { solution, needs_acid: true, met: false }),
    })
}
