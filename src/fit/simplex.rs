//! Our own simplex for the few programs on which the solver fails: dense, plain, and slow (a millisecond).
//!
//! Every variable has bounds, every row a slack, and the basis is inverted anew at every step, so that no error is handed
//! on. Programs have some forty rows and a hundred variables.

use super::linear::{Failure, Program, Relation};

/// A basic variable may be outside its bounds by this, in the equilibrated program.
const FEASIBLE: f64 = 1e-10;
/// A reduced cost below this is rounding.
const OPTIMAL: f64 = 1e-10;
/// A pivot below this is rounding.
const PIVOT: f64 = 1e-9;
/// Steps without progress after which the first candidate is taken instead of the best: that cannot go round in circles.
const PATIENCE: usize = 40;
/// Steps that one program may take.
const STEPS: usize = 2_000;

/// What there is of the tableau between two steps.
struct Simplex {
    /// Dense columns: the variables, then the slacks.
    columns: Vec<Vec<f64>>,
    right: Vec<f64>,
    cost: Vec<f64>,
    lower: Vec<f64>,
    upper: Vec<f64>,
    /// Which column is basic in every row.
    basis: Vec<usize>,
    /// Position in the basis of every column.
    place: Vec<Option<usize>>,
    /// Values of all columns.
    value: Vec<f64>,
    /// Columns that nothing would stop from the basis as it is. No program here has a ray on which it gains, since costs and
    /// what is out of bounds are never less than nothing: what seems to be gained there is rounding.
    endless: Vec<bool>,
}

/// Optimal points of a program, each with the multipliers of its rows, by one scaling after another: in another scale other
/// pivots are safe.
///
/// # Errors
/// [`Failure::Infeasible`]; [`Failure::Solver`] where it does not come to an end.
pub(super) fn solutions(program: &Program) -> impl Iterator<Item = Result<(Vec<f64>, Vec<f64>), Failure>> {
    [false, true].into_iter().map(|balanced| of_scaled(if balanced { program.balanced() } else { program.equilibrated() }))
}

fn of_scaled((scaled, columns, rows): (Program, Vec<f64>, Vec<f64>)) -> Result<(Vec<f64>, Vec<f64>), Failure> {
    let mut simplex = Simplex::new(&scaled);
    let multipliers = simplex.run()?;
    let x = simplex.value.iter().zip(&columns).map(|(value, column)| value * column).collect();
    Ok((x, multipliers.iter().zip(rows).map(|(multiplier, row)| multiplier * row).collect()))
}

impl Simplex {
    fn new(program: &Program) -> Self {
        let (size, rows) = (program.cost.len(), program.rows.len());
        let mut columns = vec![vec![0.0; rows]; size + rows];
        for (at, row) in program.rows.iter().enumerate() {
            for (column, coefficient) in &row.terms {
                columns[*column][at] += coefficient;
            }
            columns[size + at][at] = 1.0;
        }
        let slack = |relation| match relation {
            Relation::AtMost => (0.0, f64::INFINITY),
            Relation::AtLeast => (f64::NEG_INFINITY, 0.0),
            Relation::Equal => (0.0, 0.0),
        };
        let slacks: Vec<(f64, f64)> = program.rows.iter().map(|row| slack(row.relation)).collect();
        let lower: Vec<f64> = program.lower.iter().copied().chain(slacks.iter().map(|slack| slack.0)).collect();
        let upper: Vec<f64> = program.upper.iter().copied().chain(slacks.iter().map(|slack| slack.1)).collect();
        Self {
            right: program.rows.iter().map(|row| row.right).collect(),
            cost: program.cost.iter().copied().chain(vec![0.0; rows]).collect(),
            value: lower.iter().map(|lower| if lower.is_finite() { *lower } else { 0.0 }).collect(),
            basis: (size..size + rows).collect(),
            endless: vec![false; size + rows],
            place: (0..size + rows).map(|at| at.checked_sub(size)).collect(),
            columns,
            lower,
            upper,
        }
    }

    /// Steps to the optimum; returns the multipliers of the rows.
    fn run(&mut self) -> Result<Vec<f64>, Failure> {
        let mut waiting = 0;
        for _ in 0..STEPS {
            let inverse = self.inverse()?;
            self.set_basic(&inverse);
            // how far each basic variable is outside: its cost while there are such
            let outside: Vec<f64> = self.basis.iter().map(|&at| self.outside(at)).collect();
            let feasible = outside.iter().all(|side| *side == 0.0);
            let of_basis: Vec<f64> =
                if feasible { self.basis.iter().map(|&at| self.cost[at]).collect() } else { outside.clone() };
            let multipliers = left_times(&of_basis, &inverse);
            let Some((entering, up)) = self.entering(&multipliers, feasible, waiting > PATIENCE) else {
                return if feasible { Ok(multipliers) } else { Err(Failure::Infeasible) };
            };
            let moves = times(&inverse, &self.columns[entering]);
            match self.step(entering, up, &moves, &outside) {
                Some(step) => {
                    waiting = if step > FEASIBLE { 0 } else { waiting + 1 };
                    self.endless.fill(false);
                }
                None => self.endless[entering] = true,
            }
        }
        Err(Failure::Solver("the simplex did not come to an end".to_owned()))
    }

    /// -1 below the lower bound, 1 above the upper one, else 0.
    fn outside(&self, at: usize) -> f64 {
        let value = self.value[at];
        if value < self.lower[at] - FEASIBLE {
            -1.0
        } else if value > self.upper[at] + FEASIBLE {
            1.0
        } else {
            0.0
        }
    }

    /// The column to move, and whether up: that of steepest descent, or the first that descends.
    fn entering(&self, multipliers: &[f64], feasible: bool, first: bool) -> Option<(usize, bool)> {
        let mut best: Option<(f64, usize, bool)> = None;
        let may = |&at: &usize| self.place[at].is_none() && self.lower[at] < self.upper[at] && !self.endless[at];
        for at in (0..self.columns.len()).filter(may) {
            let cost = if feasible { self.cost[at] } else { 0.0 };
            let reduced = cost - dot(multipliers, &self.columns[at]);
            let up = self.value[at] <= self.lower[at];
            let gain = if up { -reduced } else { reduced };
            if gain > OPTIMAL && best.is_none_or(|(most, ..)| gain > most) {
                best = Some((gain, at, up));
                if first {
                    break;
                }
            }
        }
        best.map(|(_, at, up)| (at, up))
    }

    /// Moves `entering` until something blocks, exchanges it for what blocks, and returns how far it went; nothing where nothing
    /// blocks.
    fn step(&mut self, entering: usize, up: bool, moves: &[f64], outside: &[f64]) -> Option<f64> {
        let sign = if up { 1.0 } else { -1.0 };
        // where the basic variable of every row blocks: the way to there, and the bound
        let blocks: Vec<(usize, f64, f64)> = (0..moves.len())
            .filter(|&row| moves[row].abs() > PIVOT)
            .filter_map(|row| {
                let (at, speed) = (self.basis[row], -sign * moves[row]);
                let (lower, upper) = (self.lower[at], self.upper[at]);
                // one that is outside blocks where it comes in, and not on its way further out
                let bound = match (speed > 0.0, outside[row]) {
                    (true, side) if side < 0.0 => lower,
                    (true, side) if side > 0.0 => return None,
                    (true, _) => upper,
                    (false, side) if side > 0.0 => upper,
                    (false, side) if side < 0.0 => return None,
                    (false, _) => lower,
                };
                bound.is_finite().then(|| (row, (bound - self.value[at]) / speed, bound))
            })
            .collect();
        // of those that block at nearly the same place the largest pivot is the safest
        let near = blocks.iter().map(|(row, way, _)| way + FEASIBLE / moves[*row].abs()).fold(f64::INFINITY, f64::min);
        let leaving = blocks
            .iter()
            .filter(|(_, way, _)| *way <= near)
            .max_by(|a, b| moves[a.0].abs().total_cmp(&moves[b.0].abs()).then(b.0.cmp(&a.0)));
        let room = self.upper[entering] - self.lower[entering];
        let way = leaving.map_or(f64::INFINITY, |(_, way, _)| way.max(0.0));
        if room <= way {
            if room.is_infinite() {
                return None;
            }
            self.value[entering] = if up { self.upper[entering] } else { self.lower[entering] };
            return Some(room);
        }
        if let Some(&(row, _, bound)) = leaving {
            let out = self.basis[row];
            self.value[out] = bound;
            self.place[out] = None;
            self.basis[row] = entering;
            self.place[entering] = Some(row);
        }
        Some(way)
    }

    /// The values of the basic variables from those of the others.
    fn set_basic(&mut self, inverse: &[Vec<f64>]) {
        let mut left = self.right.clone();
        for at in (0..self.columns.len()).filter(|&at| self.place[at].is_none() && self.value[at] != 0.0) {
            for (left, coefficient) in left.iter_mut().zip(&self.columns[at]) {
                *left -= coefficient * self.value[at];
            }
        }
        for (&at, value) in self.basis.iter().zip(times(inverse, &left)) {
            self.value[at] = value;
        }
    }

    /// The inverse of the basis, by elimination with row pivots.
    fn inverse(&self) -> Result<Vec<Vec<f64>>, Failure> {
        let rows = self.basis.len();
        let mut work: Vec<Vec<f64>> = (0..rows)
            .map(|row| {
                let mut line: Vec<f64> = self.basis.iter().map(|&at| self.columns[at][row]).collect();
                line.extend((0..rows).map(|other| if other == row { 1.0 } else { 0.0 }));
                line
            })
            .collect();
        for at in 0..rows {
            let pivot = (at..rows).max_by(|&a, &b| work[a][at].abs().total_cmp(&work[b][at].abs())).unwrap_or(at);
            work.swap(at, pivot);
            let size = work[at][at];
            if size.abs() < 1e-13 {
                return Err(Failure::Solver("a basis is singular".to_owned()));
            }
            work[at].iter_mut().for_each(|value| *value /= size);
            let line = work[at].clone();
            for other in (0..rows).filter(|&other| other != at) {
                let factor = work[other][at];
                if factor != 0.0 {
                    work[other].iter_mut().zip(&line).for_each(|(value, of)| *value -= factor * of);
                }
            }
        }
        Ok(work.into_iter().map(|mut line| line.split_off(rows)).collect())
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn times(matrix: &[Vec<f64>], vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| dot(row, vector)).collect()
}

fn left_times(vector: &[f64], matrix: &[Vec<f64>]) -> Vec<f64> {
    let mut sum = vec![0.0; matrix.first().map_or(0, Vec::len)];
    for (factor, row) in vector.iter().zip(matrix).filter(|(factor, _)| **factor != 0.0) {
        sum.iter_mut().zip(row).for_each(|(sum, value)| *sum += factor * value);
    }
    sum
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    /// min x + y with x + 2y >= 4, 3x + y >= 6: optimum at x = 1.6, y = 1.2 (by hand).
    fn small() -> Program {
        let mut program = Program::default();
        let (x, y) = (program.variable(1.0, f64::INFINITY), program.variable(1.0, 10.0));
        program.row(vec![(x, 1.0), (y, 2.0)], Relation::AtLeast, 4.0);
        program.row(vec![(x, 3.0), (y, 1.0)], Relation::AtLeast, 6.0);
        program
    }

    #[test]
    fn optimum_and_certificate_agree() {
        let (ours, multipliers) = solutions(&small()).next().unwrap().unwrap();
        for x in [small().solve().unwrap(), ours] {
            assert_relative_eq!(x[0], 1.6, epsilon = 1e-12);
            assert_relative_eq!(x[1], 1.2, epsilon = 1e-12);
        }
        assert_relative_eq!(small().dual().unwrap().bound, 2.8, epsilon = 1e-12);
        assert_relative_eq!(small().proof(multipliers).bound, 2.8, epsilon = 1e-12);
    }

    /// min 3x + 5y with x + y = 2, x - y = -1, so x = 0.5, y = 1.5, by hand 9; its dual needs a negative multiplier.
    #[test]
    fn equations_have_multipliers_of_either_sign() {
        let mut program = Program::default();
        let (x, y) = (program.variable(3.0, f64::INFINITY), program.variable(5.0, f64::INFINITY));
        program.row(vec![(x, 1.0), (y, 1.0)], Relation::Equal, 2.0);
        program.row(vec![(x, 1.0), (y, -1.0)], Relation::Equal, -1.0);
        let ours = program.proof(solutions(&program).next().unwrap().unwrap().1);
        for dual in [program.dual().unwrap(), ours] {
            assert_relative_eq!(dual.bound, 9.0, epsilon = 1e-9);
            assert_relative_eq!(dual.multipliers[1], -1.0, epsilon = 1e-9);
        }
    }

    /// min 5x + y with x + 1000y >= 4, 20x + 3y <= 50 and y at most 0.003: y is cheaper and goes to its bound, x = 1, 5.003 in all (by hand). However
    /// the numbers are scaled, the optimum is that, and so is what its multipliers prove.
    #[test]
    fn scaled_programs_have_the_same_optimum() {
        let mut program = Program::default();
        let (x, y) = (program.variable(5.0, f64::INFINITY), program.variable(1.0, 0.003));
        program.row(vec![(x, 1.0), (y, 1e3)], Relation::AtLeast, 4.0);
        program.row(vec![(x, 20.0), (y, 3.0)], Relation::AtMost, 50.0);
        let mut ways = 0;
        for solution in solutions(&program) {
            let (found, multipliers) = solution.unwrap();
            assert_relative_eq!(found[x], 1.0, epsilon = 1e-9);
            assert_relative_eq!(found[y], 0.003, epsilon = 1e-12);
            assert_relative_eq!(program.proof(multipliers).bound, 5.003, epsilon = 1e-9);
            ways += 1;
        }
        assert!(ways > 1);
        let (scaled, columns, rows) = program.equilibrated();
        for row in &scaled.rows {
            assert_relative_eq!(row.terms.iter().map(|(_, a)| a.abs()).fold(0.0, f64::max), 1.0, epsilon = 1e-12);
        }
        let (balanced, of_columns, of_rows) = program.balanced();
        for (scaled, columns, rows) in [(scaled, columns, rows), (balanced, of_columns, of_rows)] {
            for ((ours, row), by) in program.rows.iter().zip(&scaled.rows).zip(rows) {
                for ((at, a), (_, scaled)) in ours.terms.iter().zip(&row.terms) {
                    assert_relative_eq!(*scaled, a * columns[*at] * by, max_relative = 1e-12);
                }
                assert_relative_eq!(row.right, ours.right * by, max_relative = 1e-12);
            }
            assert_relative_eq!(scaled.upper[y] * columns[y], 0.003, max_relative = 1e-12);
            assert_relative_eq!(scaled.cost[x], 5.0 * columns[x], max_relative = 1e-12);
        }
    }

    #[test]
    fn infeasible_and_not_finite_are_told_apart() {
        let mut program = small();
        program.row(vec![(0, 1.0), (1, 1.0)], Relation::AtMost, 1.0);
        assert_eq!(program.solve(), Err(Failure::Infeasible));
        assert!(solutions(&program).all(|solution| solution == Err(Failure::Infeasible)));
        let mut program = small();
        program.rows[0].right = f64::NAN;
        assert!(matches!(program.solve(), Err(Failure::Solver(_))));
    }
}
