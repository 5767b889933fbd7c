//! Wishes one after another, each on the face of optima that the ones before it left.
//!
//! A point is optimal exactly when it is complementary to one optimal dual: variables with a positive reduced cost are
//! at zero, rows with a multiplier are tight. So a solved wish is held by fixing those, and the next wish chooses among
//! what is left. (Holding it by a row `value <= z + 1e-9` was tried: the slack let amounts up to 1e-6 of a target appear
//! out of nothing, tie-breaks chased it, and the solver called 1 % of such programs infeasible.)

use super::linear::{Failure, Program, Relation};

/// Reduced costs and multipliers below this are rounding. Costs are scaled to a largest coefficient of 1.
const ROUNDING: f64 = 1e-9;
/// A variable this near to its bound, or a row this near to its right side, is there.
const THERE: f64 = 1e-7;

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
        let x: Vec<f64> = self.program.solve()?.into_iter().map(|x| x.max(0.0)).collect();
        let value: f64 = x.iter().zip(&self.program.cost).map(|(x, c)| x * c).sum();
        let dual = self.program.dual()?;
        for (&at, x) in self.alive.iter().zip(&x) {
            self.point[at] = *x;
        }
        self.narrow(&x, &dual.multipliers, &dual.reduced);
        Ok(Minimum { value: value + settled, gap: (value - dual.bound).abs() })
    }

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
        self.program.upper = upper;
        self.alive = alive;
    }

    /// True when the tight rows leave no freedom: their rank is the number of variables left.
    pub(super) fn is_a_point(&self) -> bool {
        let size = self.alive.len();
        let mut matrix: Vec<Vec<f64>> = self
            .program
            .rows
            .iter()
            .filter(|row| row.relation == Relation::Equal)
            .map(|row| {
                let mut dense = vec![0.0; size];
                row.terms.iter().for_each(|(at, a)| dense[*at] += a);
                dense
            })
            .collect();
        for column in 0..size {
            let pivot = (column..matrix.len()).max_by(|&a, &b| matrix[a][column].abs().total_cmp(&matrix[b][column].abs()));
            let Some(pivot) = pivot.filter(|&row| matrix[row][column].abs() > 1e-7) else { return false };
            matrix.swap(column, pivot);
            let (upper, lower) = matrix.split_at_mut(column + 1);
            let pivot_row = &upper[column];
            for row in lower {
                let factor = row[column] / pivot_row[column];
                if factor != 0.0 {
                    for (value, pivot) in row.iter_mut().zip(pivot_row).skip(column) {
                        *value -= factor * pivot;
                    }
                }
            }
        }
        true
    }
}
