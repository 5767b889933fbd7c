//! Wishes one after another, each on the face of optima that the ones before it left.
//!
//! A point is optimal exactly when it is complementary to one optimal dual: variables with a positive reduced cost are
//! at zero, rows with a multiplier are tight. So a solved wish is held by fixing those, and the next wish chooses among
//! what is left. (Content it by a row `value <= z + 1e-9` was tried: the slack let amounts up to 1e-6 of a target appear
//! out of nothing, tie-breaks chased it, and 8 of the 680 recorded programs failed.)

use super::dense;
use super::linear::{Dual, Failure, Program, Relation};
use super::simplex;

/// Reduced costs and multipliers below this are rounding. Costs are scaled to a largest coefficient of 1.
const ROUNDING: f64 = 1e-9;
/// A variable this near to its bound, or a row this near to its right side, is there.
const THERE: f64 = 1e-7;

/// Primal and dual may differ by this, relative to 1 + |value|.
const CERTIFIED: f64 = 1e-9;
/// A point that breaks a row by more than this is no solution.
const FEASIBLE: f64 = 1e-9;

/// A program that shrinks with every wish.
pub(super) struct Face {
    program: Program,
    /// Index in the original program of every variable that is left.
    alive: Vec<usize>,
    /// The current point, in original variables.
    pub(super) point: Vec<f64>,
}

/// What a wish came to.
pub(super) struct Minimum {
    /// The least value.
    pub(super) value: f64,
    /// How far its proof is from it.
    pub(super) gap: f64,
    /// The dual that proves it: multipliers of the rows and reduced costs of the variables that were left.
    pub(super) dual: Dual,
}

/// An optimum with the dual that proves it: the solver's, or our own where the proof of that does not close.
fn certified(program: &Program) -> Result<(Vec<f64>, Dual), Failure> {
    program.checked()?;
    let positive = |x: Vec<f64>| -> Vec<f64> { x.into_iter().map(|x| x.max(0.0)).collect() };
    let closes = |(x, dual): &(Vec<f64>, Dual)| {
        let value = program.value(x);
        program.violation(x) < FEASIBLE && gap(value, dual) <= CERTIFIED * (1.0 + value.abs())
    };
    let quick = program.solve().and_then(|x| {
        let x = positive(x);
        // where the vertex leaves one dual only, it is read off it, and no second program needs to be solved
        match program.dual_at(&x).map(|dual| (x.clone(), dual)).filter(closes) {
            Some(proved) => Ok(proved),
            None => Ok((x, program.dual()?)),
        }
    });
    if quick.as_ref().is_ok_and(closes) {
        return quick;
    }
    // the first of our own that is proved; else the one that breaks its rows least, with the gap that it has
    let mut best: Option<(f64, (Vec<f64>, Dual))> = None;
    let mut failure = None;
    for solution in simplex::solutions(program) {
        match solution {
            Ok((x, multipliers)) => {
                let found = (positive(program.sharpened(x)), program.proof(multipliers));
                if closes(&found) {
                    return Ok(found);
                }
                let off = program.violation(&found.0);
                if best.as_ref().is_none_or(|(least, _)| off < *least) {
                    best = Some((off, found));
                }
            }
            Err(Failure::Infeasible) if best.is_none() => return Err(Failure::Infeasible),
            Err(other) => failure = Some(other),
        }
    }
    if let Ok(quick) = quick {
        let off = program.violation(&quick.0);
        if best.as_ref().is_none_or(|(least, _)| off < *least) {
            best = Some((off, quick));
        }
    }
    match (best, failure) {
        (Some((_, found)), _) => Ok(found),
        (None, failure) => Err(failure.unwrap_or(Failure::Infeasible)),
    }
}

/// How far a value is from the bound that is proved.
fn gap(value: f64, dual: &Dual) -> f64 {
    (value - dual.bound).abs()
}

impl Face {
    pub(super) fn new(program: Program) -> Self {
        let size = program.cost.len();
        Self { program, alive: (0..size).collect(), point: vec![0.0; size] }
    }

    /// Minimises the sum of `cost` over what is left, moves to the optimum, and narrows the face to all optima.
    pub(super) fn minimise(&mut self, cost: impl Fn(usize) -> f64) -> Result<Minimum, Failure> {
        self.program.cost = self.alive.iter().map(|&at| cost(at)).collect();
        let size = self.point.len();
        let settled: f64 = {
            let mut left = vec![false; size];
            self.alive.iter().for_each(|&at| left[at] = true);
            (0..size).filter(|&at| !left[at]).map(|at| cost(at) * self.point[at]).sum()
        };
        let (x, dual) = certified(&self.program)?;
        let value = self.program.value(&x);
        for (&at, x) in self.alive.iter().zip(&x) {
            self.point[at] = *x;
        }
        self.narrow(&x, &dual.multipliers, &dual.reduced);
        Ok(Minimum { value: value + settled, gap: gap(value, &dual), dual })
    }

    /// Fixes what the multipliers settle.
    fn narrow(&mut self, x: &[f64], multipliers: &[f64], reduced: &[f64]) {
        for (row, multiplier) in self.program.rows.iter_mut().zip(multipliers) {
            if multiplier.abs() > ROUNDING && (Program::left(row, x) - row.right).abs() < THERE {
                row.relation = Relation::Equal;
            }
        }
        // the value at which a variable is settled, if it is
        let settled: Vec<Option<f64>> = (0..x.len())
            .map(|at| {
                let upper = self.program.upper[at];
                if reduced[at] > ROUNDING && x[at] < THERE {
                    Some(0.0)
                } else if reduced[at] < -ROUNDING && (upper - x[at]).abs() < THERE {
                    Some(upper)
                } else {
                    None
                }
            })
            .collect();
        self.remove(&settled);
    }

    /// Settles a variable that stands at zero there.
    pub(super) fn leave_out(&mut self, original: usize) {
        let settled: Vec<Option<f64>> = self.alive.iter().map(|&at| (at == original).then_some(0.0)).collect();
        self.remove(&settled);
    }

    /// Takes settled variables out of the program.
    fn remove(&mut self, settled: &[Option<f64>]) {
        let mut new_index = vec![usize::MAX; settled.len()];
        let (mut alive, mut upper) = (Vec::new(), Vec::new());
        for (at, value) in settled.iter().enumerate() {
            let original = self.alive[at];
            if let Some(value) = value {
                self.point[original] = *value;
            } else {
                new_index[at] = alive.len();
                alive.push(original);
                upper.push(self.program.upper[at]);
            }
        }
        for row in &mut self.program.rows {
            row.right -= row.terms.iter().filter_map(|(at, a)| settled[*at].map(|value| a * value)).sum::<f64>();
            row.terms.retain_mut(|(at, _)| {
                *at = new_index[*at];
                *at != usize::MAX
            });
        }
        self.program.rows.retain(|row| !row.terms.is_empty());
        self.program.cost = vec![0.0; alive.len()];
        self.program.lower = vec![0.0; alive.len()];
        self.program.upper = upper;
        self.alive = alive;
    }

    /// True when the tight rows leave no freedom: their rank is the number of variables left.
    pub(super) fn is_a_point(&self) -> bool {
        let size = self.alive.len();
        let tight = self.program.rows.iter().filter(|row| row.relation == Relation::Equal);
        let matrix: Vec<Vec<f64>> = tight.map(|row| row.dense(size)).collect();
        let right = vec![0.0; matrix.len()];
        matrix.len() >= size && dense::solve(matrix, right, size).0 == size
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// x + y + z >= 3 with x at most 1. Where x is cheapest it is settled at its end, and what the next wish comes to counts it:
    /// 7 x + 2 y + 3 z is at the least 7 + 4 with it (by hand).
    #[test]
    fn what_a_wish_comes_to_counts_what_is_settled() {
        let mut program = Program::default();
        let (x, y, z) =
            (program.variable(0.0, 1.0), program.variable(0.0, f64::INFINITY), program.variable(0.0, f64::INFINITY));
        program.row(vec![(x, 1.0), (y, 1.0), (z, 1.0)], Relation::AtLeast, 3.0);
        let mut face = Face::new(program);
        let (first, second) = ([1.0, 2.0, 2.0], [7.0, 2.0, 3.0]);
        assert!((face.minimise(|at| first[at]).unwrap().value - 5.0).abs() < 1e-9);
        assert!(!face.is_a_point());
        assert!((face.minimise(|at| second[at]).unwrap().value - 11.0).abs() < 1e-9, "{:?}", face.point);
        assert!(face.point.iter().zip([1.0, 2.0, 0.0]).all(|(found, by_hand)| (found - by_hand).abs() < 1e-9));
        assert!(face.is_a_point());
    }
}
