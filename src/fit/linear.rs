//! A linear program in plain vectors, its solution by `good_lp`, and its certificate by an explicit dual.

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

/// Minimise cost over variables from 0 to `upper` (infinite where there is no bound).
#[derive(Debug, Clone, Default)]
pub(super) struct Program {
    pub(super) cost: Vec<f64>,
    pub(super) upper: Vec<f64>,
    pub(super) rows: Vec<Row>,
}

/// Why there is no solution.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Failure {
    Infeasible,
    /// The solver's own words, or a number that is none.
    Solver(String),
}

/// A reduced cost below this is a broken dual, not a rounding.
const DUAL_TOLERANCE: f64 = 1e-9;

impl Program {
    pub(super) fn variable(&mut self, cost: f64, upper: f64) -> usize {
        self.cost.push(cost);
        self.upper.push(upper);
        self.cost.len() - 1
    }

    pub(super) fn row(&mut self, terms: Vec<(usize, f64)>, relation: Relation, right: f64) {
        self.rows.push(Row { terms, relation, right });
    }

    /// Solves as it stands; should the solver fail, once more with rows and columns equilibrated. Infeasibility is
    /// asked twice as well: the solver has been seen to claim it falsely next to a held wish.
    pub(super) fn solve(&self) -> Result<Vec<f64>, Failure> {
        if !self.is_finite() {
            return Err(Failure::Solver("a number in the program is not finite".to_owned()));
        }
        match self.solve_once() {
            Err(_) => {
                let (other, columns) = self.equilibrated();
                other.solve_once().map(|x| x.iter().zip(columns).map(|(x, column)| x * column).collect())
            }
            result => result,
        }
    }

    /// The solver answers Ok to NaN and to infinite inputs, so nothing of the kind may reach it.
    fn is_finite(&self) -> bool {
        self.cost.iter().all(|c| c.is_finite())
            && self.upper.iter().all(|u| !u.is_nan() && *u >= 0.0)
            && self.rows.iter().all(|row| row.right.is_finite() && row.terms.iter().all(|(_, a)| a.is_finite()))
    }

    fn solve_once(&self) -> Result<Vec<f64>, Failure> {
        let mut variables = ProblemVariables::new();
        let x: Vec<Variable> = self
            .upper
            .iter()
            .map(|upper| {
                let bounded = variable().min(0.0);
                variables.add(if upper.is_finite() { bounded.max(*upper) } else { bounded })
            })
            .collect();
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
        let upper = self.upper.iter().zip(&columns).map(|(u, column)| u / column).collect();
        (Self { cost, upper, rows }, columns)
    }

    /// The multipliers of an optimum and the lower bound they prove: the explicit dual, solved as a second program and
    /// judged by our own arithmetic (weak duality holds for any multipliers of the right sign).
    pub(super) fn dual(&self) -> Result<Dual, Failure> {
        // a multiplier is the difference of a rising and a falling part; a row that only binds one way has one of them
        let mut dual = Self::default();
        let parts: Vec<(Option<usize>, Option<usize>)> = self
            .rows
            .iter()
            .map(|row| {
                let rising = (row.relation != Relation::AtMost).then(|| dual.variable(-row.right, f64::INFINITY));
                let falling = (row.relation != Relation::AtLeast).then(|| dual.variable(row.right, f64::INFINITY));
                (rising, falling)
            })
            .collect();
        let mut columns: Vec<Vec<(usize, f64)>> = vec![Vec::new(); self.cost.len()];
        for (row, (rising, falling)) in self.rows.iter().zip(&parts) {
            for (at, coefficient) in &row.terms {
                columns[*at].extend(rising.map(|part| (part, *coefficient)));
                columns[*at].extend(falling.map(|part| (part, -coefficient)));
            }
        }
        for ((mut terms, cost), upper) in columns.into_iter().zip(&self.cost).zip(&self.upper) {
            if upper.is_finite() {
                terms.push((dual.variable(*upper, f64::INFINITY), -1.0));
            }
            dual.row(terms, Relation::AtMost, *cost);
        }
        let y = dual.solve()?;
        let multipliers: Vec<f64> = parts
            .iter()
            .map(|(rising, falling)| {
                rising.map_or(0.0, |part| y[part].max(0.0)) - falling.map_or(0.0, |part| y[part].max(0.0))
            })
            .collect();
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
        let x = small().solve().unwrap();
        assert_relative_eq!(x[0], 1.6, epsilon = 1e-12);
        assert_relative_eq!(x[1], 1.2, epsilon = 1e-12);
        assert_relative_eq!(small().dual().unwrap().bound, 2.8, epsilon = 1e-12);
    }

    #[test]
    fn equilibration_changes_nothing() {
        let (other, columns) = small().equilibrated();
        let x: Vec<f64> = other.solve_once().unwrap().iter().zip(columns).map(|(x, c)| x * c).collect();
        assert_relative_eq!(x[0], 1.6, epsilon = 1e-12);
    }

    #[test]
    fn infeasible_and_not_finite_are_told_apart() {
        let mut program = small();
        program.row(vec![(0, 1.0), (1, 1.0)], Relation::AtMost, 1.0);
        assert_eq!(program.solve(), Err(Failure::Infeasible));
        let mut program = small();
        program.rows[0].right = f64::NAN;
        assert!(matches!(program.solve(), Err(Failure::Solver(_))));
    }
}
