//! A linear program in plain vectors, its solution by `good_lp`, and its certificate by an explicit dual.

use super::dense;
use good_lp::{
    Expression, ProblemVariables, ResolutionError, Solution, SolverModel, Variable, constraint, microlp, variable,
};

/// How a row compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Relation {
    AtMost,
    AtLeast,
    Equal,
}

/// One row: sum of coefficient times variable, compared with the right side.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) terms: Vec<(usize, f64)>,
    pub(super) relation: Relation,
    pub(super) right: f64,
}

impl Row {
    /// The coefficients of `size` variables.
    pub(super) fn dense(&self, size: usize) -> Vec<f64> {
        let mut dense = vec![0.0; size];
        for (at, coefficient) in &self.terms {
            dense[*at] += coefficient;
        }
        dense
    }
}

/// Minimise cost over variables from `lower` (0, or less in a dual) to `upper` (infinite where there is no
/// bound).
#[derive(Debug, Clone, Default)]
pub(super) struct Program {
    pub(super) cost: Vec<f64>,
    pub(super) lower: Vec<f64>,
    pub(super) upper: Vec<f64>,
    pub(super) rows: Vec<Row>,
}

/// The ways to hand a program to the solver. It failed on 82 of 20 000 random mixes, deterministically: a singular
/// matrix, a false verdict, a point that is not optimal. Another scaling or another order of the variables leads it along
/// other pivots, and our own arithmetic tells which answer is right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    AsIs,
    Equilibrated,
    Reversed,
    EquilibratedReversed,
}

impl Form {
    /// How steep a multiplier of an equation may be, against the largest cost.
    fn steepest(self) -> f64 {
        match self {
            Self::AsIs => 1e2,
            Self::Equilibrated => 1e4,
            Self::Reversed => 1e3,
            Self::EquilibratedReversed => 1e6,
        }
    }
}

/// Every form, in the order in which they are tried.
pub(super) const FORMS: [Form; 4] = [Form::AsIs, Form::Equilibrated, Form::Reversed, Form::EquilibratedReversed];

/// Why there is no solution.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Failure {
    Infeasible,
    /// The solver's own words, or a number that is none.
    Solver(String),
}

/// A solution that breaks nothing by more than this is taken as it is.
const SHARP: f64 = 1e-11;

/// A variable this near to a bound is meant to be on it, and a row this near to its right side to be tight; the nearest
/// that makes sense of a solution is taken, since an amount of 1e-6 of a target can be meant.
const NEAR: [f64; 4] = [1e-9, 1e-8, 1e-7, 1e-6];

/// A reduced cost below this is a broken dual, not a rounding.
const DUAL_TOLERANCE: f64 = 1e-9;

impl Program {
    pub(super) fn variable(&mut self, cost: f64, upper: f64) -> usize {
        self.cost.push(cost);
        self.lower.push(0.0);
        self.upper.push(upper);
        self.cost.len() - 1
    }

    pub(super) fn row(&mut self, terms: Vec<(usize, f64)>, relation: Relation, right: f64) {
        self.rows.push(Row { terms, relation, right });
    }

    /// Solves it in one of the [`Form`]s.
    pub(super) fn solve(&self, form: Form) -> Result<Vec<f64>, Failure> {
        if !self.is_finite() {
            return Err(Failure::Solver("a number in the program is not finite".to_owned()));
        }
        let x = match form {
            Form::AsIs => self.solve_once(false)?,
            Form::Reversed => self.solve_once(true)?,
            Form::Equilibrated | Form::EquilibratedReversed => {
                let (other, columns) = self.equilibrated();
                let x = other.solve_once(form == Form::EquilibratedReversed)?;
                x.iter().zip(columns).map(|(x, column)| x * column).collect()
            }
        };
        Ok(self.sharpened(x))
    }

    /// The solver answers Ok to NaN and to infinite inputs, so nothing of the kind may reach it.
    fn is_finite(&self) -> bool {
        self.cost.iter().all(|c| c.is_finite())
            && self.upper.iter().all(|u| !u.is_nan() && *u >= 0.0)
            && self.rows.iter().all(|row| row.right.is_finite() && row.terms.iter().all(|(_, a)| a.is_finite()))
    }

    /// Hands it to the solver, with its variables in reverse order where asked.
    fn solve_once(&self, reversed: bool) -> Result<Vec<f64>, Failure> {
        let mut variables = ProblemVariables::new();
        let mut add = |(lower, upper): (&f64, &f64)| {
            let bounded = if lower.is_finite() { variable().min(*lower) } else { variable() };
            variables.add(if upper.is_finite() { bounded.max(*upper) } else { bounded })
        };
        let bounds = self.lower.iter().zip(&self.upper);
        let mut x: Vec<Variable> =
            if reversed { bounds.rev().map(&mut add).collect() } else { bounds.map(&mut add).collect() };
        if reversed {
            x.reverse();
        }
        let sum = |terms: &mut dyn Iterator<Item = (usize, f64)>| -> Expression {
            let mut expression = Expression::default();
            for (at, coefficient) in terms.filter(|(_, coefficient)| *coefficient != 0.0) {
                expression.add_mul(coefficient, x[at]);
            }
            expression
        };
        let mut model = variables.minimise(sum(&mut self.cost.iter().copied().enumerate())).using(microlp);
        for row in &self.rows {
            let left = sum(&mut row.terms.iter().copied());
            model.add_constraint(match row.relation {
                Relation::AtMost => constraint!(left <= row.right),
                Relation::AtLeast => constraint!(left >= row.right),
                Relation::Equal => constraint!(left == row.right),
            });
        }
        match model.solve() {
            Ok(solution) => Ok(x.iter().map(|x| solution.value(*x)).collect()),
            Err(ResolutionError::Infeasible) => Err(Failure::Infeasible),
            Err(other) => Err(Failure::Solver(other.to_string())),
        }
    }

    /// The vertex next to `x`, exactly: the solver has been seen to leave tight rows off by 3e-8, which a certificate to
    /// 1e-9 does not forgive. Variables at a bound are put on it, and the others are solved for from the rows that are tight.
    fn sharpened(&self, x: Vec<f64>) -> Vec<f64> {
        let (mut best, mut violation) = (x, f64::INFINITY);
        let x = best.clone();
        for candidate in std::iter::once(x.clone()).chain(NEAR.iter().map(|near| self.vertex(&x, *near))) {
            let off = self.violation(&candidate);
            if off < violation {
                (best, violation) = (candidate, off);
            }
            if violation < SHARP {
                break;
            }
        }
        best
    }

    /// The vertex that `x` shows when bounds and rows within `near` are met exactly.
    fn vertex(&self, x: &[f64], near: f64) -> Vec<f64> {
        let mut sharp = x.to_vec();
        let mut free: Vec<usize> = Vec::new();
        for (at, value) in sharp.iter_mut().enumerate() {
            if *value - self.lower[at] < near {
                *value = self.lower[at];
            } else if self.upper[at] - *value < near {
                *value = self.upper[at];
            } else {
                free.push(at);
            }
        }
        let tight: Vec<&Row> = self.rows.iter().filter(|row| (Self::left(row, x) - row.right).abs() < near).collect();
        let matrix: Vec<Vec<f64>> = tight
            .iter()
            .map(|row| {
                let dense = row.dense(x.len());
                free.iter().map(|&at| dense[at]).collect()
            })
            .collect();
        let right: Vec<f64> = tight.iter().map(|row| row.right - Self::left(row, &sharp)).collect();
        let (_, step) = dense::solve(matrix, right, free.len());
        for (&at, step) in free.iter().zip(step) {
            sharp[at] += step;
        }
        sharp
    }

    /// The largest violation of any row or bound.
    pub(super) fn violation(&self, x: &[f64]) -> f64 {
        let rows = self.rows.iter().map(|row| {
            let over = Self::left(row, x) - row.right;
            match row.relation {
                Relation::AtMost => over,
                Relation::AtLeast => -over,
                Relation::Equal => over.abs(),
            }
        });
        let bounds = x.iter().zip(self.lower.iter().zip(&self.upper)).map(|(x, (lower, upper))| (lower - x).max(x - upper));
        rows.chain(bounds).fold(0.0, f64::max)
    }

    /// The same program with every column and then every row brought to a largest coefficient of 1; returns what a unit
    /// of each new variable is in old ones.
    fn equilibrated(&self) -> (Self, Vec<f64>) {
        let mut largest = vec![0.0_f64; self.cost.len()];
        for (at, coefficient) in self.rows.iter().flat_map(|row| &row.terms) {
            largest[*at] = largest[*at].max(coefficient.abs());
        }
        let columns: Vec<f64> = largest.iter().map(|l| if *l > 0.0 { 1.0 / l } else { 1.0 }).collect();
        let rows = self
            .rows
            .iter()
            .map(|row| {
                let terms: Vec<(usize, f64)> = row.terms.iter().map(|(at, a)| (*at, a * columns[*at])).collect();
                let most = terms.iter().fold(0.0_f64, |most, (_, a)| most.max(a.abs()));
                let factor = if most > 0.0 { 1.0 / most } else { 1.0 };
                Row {
                    terms: terms.into_iter().map(|(at, a)| (at, a * factor)).collect(),
                    relation: row.relation,
                    right: row.right * factor,
                }
            })
            .collect();
        let cost = self.cost.iter().zip(&columns).map(|(c, column)| c * column).collect();
        let lower = self.lower.iter().zip(&columns).map(|(l, column)| l / column).collect();
        let upper = self.upper.iter().zip(&columns).map(|(u, column)| u / column).collect();
        (Self { cost, lower, upper, rows }, columns)
    }

    /// The multipliers of an optimum and the lower bound they prove: the explicit dual, solved as a second program and
    /// judged by our own arithmetic (weak duality holds for any multipliers of the right sign).
    pub(super) fn dual(&self, form: Form) -> Result<Dual, Failure> {
        // a row that only binds one way has a multiplier of one sign; that of an equation has either, but not without a
        // bound, which the solver cannot handle (a bound too near makes the proof weaker, never wrong)
        let steepest = form.steepest() * self.cost.iter().fold(1.0_f64, |most, cost| most.max(cost.abs()));
        let mut dual = Self::default();
        let signs: Vec<f64> = self
            .rows
            .iter()
            .map(|row| {
                let sign = if row.relation == Relation::AtMost { -1.0 } else { 1.0 };
                let part = dual.variable(-sign * row.right, f64::INFINITY);
                if row.relation == Relation::Equal {
                    dual.lower[part] = -steepest;
                }
                sign
            })
            .collect();
        let mut columns: Vec<Vec<(usize, f64)>> = vec![Vec::new(); self.cost.len()];
        for (part, (row, sign)) in self.rows.iter().zip(&signs).enumerate() {
            for (at, coefficient) in &row.terms {
                columns[*at].push((part, sign * coefficient));
            }
        }
        for ((mut terms, cost), upper) in columns.into_iter().zip(&self.cost).zip(&self.upper) {
            if upper.is_finite() {
                terms.push((dual.variable(*upper, f64::INFINITY), -1.0));
            }
            dual.row(terms, Relation::AtMost, *cost);
        }
        let y = dual.solve(form)?;
        let multipliers: Vec<f64> =
            signs.iter().zip(&y).zip(&dual.lower).map(|((sign, y), lower)| sign * y.max(*lower)).collect();
        let mut reduced = self.cost.clone();
        for (row, multiplier) in self.rows.iter().zip(&multipliers) {
            for (at, coefficient) in &row.terms {
                reduced[*at] -= coefficient * multiplier;
            }
        }
        let mut bound: f64 = self.rows.iter().zip(&multipliers).map(|(row, multiplier)| row.right * multiplier).sum();
        for (reduced, upper) in reduced.iter().zip(&self.upper) {
            if upper.is_finite() {
                bound += reduced.min(0.0) * upper;
            } else if *reduced < -DUAL_TOLERANCE {
                return Err(Failure::Solver("the dual is not feasible".to_owned()));
            }
        }
        Ok(Dual { bound, multipliers, reduced })
    }

    /// Value of the objective.
    pub(super) fn value(&self, x: &[f64]) -> f64 {
        x.iter().zip(&self.cost).map(|(x, cost)| x * cost).sum()
    }

    /// Value of the left side of a row.
    pub(super) fn left(row: &Row, x: &[f64]) -> f64 {
        row.terms.iter().map(|(at, a)| a * x[*at]).sum()
    }
}

/// An optimal dual solution.
pub(super) struct Dual {
    /// What it proves the optimum not to lie under.
    pub(super) bound: f64,
    /// Multiplier of every row.
    pub(super) multipliers: Vec<f64>,
    /// Reduced cost of every variable.
    pub(super) reduced: Vec<f64>,
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
        let x = small().solve(Form::AsIs).unwrap();
        assert_relative_eq!(x[0], 1.6, epsilon = 1e-12);
        assert_relative_eq!(x[1], 1.2, epsilon = 1e-12);
        assert_relative_eq!(small().dual(Form::AsIs).unwrap().bound, 2.8, epsilon = 1e-12);
    }

    #[test]
    fn every_form_finds_the_same() {
        for form in FORMS {
            let x = small().solve(form).unwrap();
            assert_relative_eq!(x[0], 1.6, epsilon = 1e-12);
            assert_relative_eq!(small().dual(form).unwrap().bound, 2.8, epsilon = 1e-12);
        }
    }

    /// min 3x + 5y with x + y = 2, x - y = -1, so x = 0.5, y = 1.5, by hand 9; its dual needs a negative multiplier.
    #[test]
    fn equations_have_multipliers_of_either_sign() {
        let mut program = Program::default();
        let (x, y) = (program.variable(3.0, f64::INFINITY), program.variable(5.0, f64::INFINITY));
        program.row(vec![(x, 1.0), (y, 1.0)], Relation::Equal, 2.0);
        program.row(vec![(x, 1.0), (y, -1.0)], Relation::Equal, -1.0);
        for form in FORMS {
            let dual = program.dual(form).unwrap();
            assert_relative_eq!(dual.bound, 9.0, epsilon = 1e-9);
            assert_relative_eq!(dual.multipliers[1], -1.0, epsilon = 1e-9);
        }
    }

    #[test]
    fn infeasible_and_not_finite_are_told_apart() {
        let mut program = small();
        program.row(vec![(0, 1.0), (1, 1.0)], Relation::AtMost, 1.0);
        assert_eq!(program.solve(Form::AsIs), Err(Failure::Infeasible));
        let mut program = small();
        program.rows[0].right = f64::NAN;
        assert!(matches!(program.solve(Form::AsIs), Err(Failure::Solver(_))));
    }
}
