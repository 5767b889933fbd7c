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

/// Why there is no solution.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Failure {
    Infeasible,
    /// The solver's own words, or a number that is none.
    Solver(String),
}

/// A solution that breaks nothing by more than this is taken as it is.
const SHARP: f64 = 1e-11;

/// A distance from a bound or a right side above this is one.
const CLEAR: f64 = 1e-6;

/// A variable this near to a bound is meant to be on it, and a row this near to its right side to be tight; the nearest
/// that makes sense of a solution is taken, since an amount of 1e-6 of a target can be meant.
const NEAR: [f64; 4] = [1e-9, 1e-8, 1e-7, 1e-6];

/// Passes over columns and rows that balance a program.
const BALANCINGS: usize = 4;

/// How steep a multiplier of an equation may be, against the largest cost.
const STEEPEST: f64 = 1e2;

/// A reduced cost below this, against the terms that it is the sum of, is a broken dual, not a rounding.
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

    /// Refuses numbers that are none: the solver answers Ok to NaN and to infinite inputs.
    pub(super) fn checked(&self) -> Result<(), Failure> {
        let finite = self.cost.iter().all(|c| c.is_finite())
            && self.upper.iter().all(|u| !u.is_nan() && *u >= 0.0)
            && self.rows.iter().all(|row| row.right.is_finite() && row.terms.iter().all(|(_, a)| a.is_finite()));
        if finite { Ok(()) } else { Err(Failure::Solver("a number in the program is not finite".to_owned())) }
    }

    /// Hands it to the solver.
    pub(super) fn solve(&self) -> Result<Vec<f64>, Failure> {
        self.checked()?;
        let mut variables = ProblemVariables::new();
        let mut add = |(lower, upper): (&f64, &f64)| {
            let bounded = if lower.is_finite() { variable().min(*lower) } else { variable() };
            variables.add(if upper.is_finite() { bounded.max(*upper) } else { bounded })
        };
        let x: Vec<Variable> = self.lower.iter().zip(&self.upper).map(&mut add).collect();
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
            Ok(solution) => Ok(self.sharpened(x.iter().map(|x| solution.value(*x)).collect())),
            Err(ResolutionError::Infeasible) => Err(Failure::Infeasible),
            Err(other) => Err(Failure::Solver(other.to_string())),
        }
    }

    /// The vertex next to `x`, exactly: the solver has been seen to leave tight rows off by 3e-8, which a certificate to
    /// 1e-9 does not forgive. Variables at a bound are put on it, and the others are solved for from the rows that are tight.
    pub(super) fn sharpened(&self, x: Vec<f64>) -> Vec<f64> {
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
    /// of each new variable is in old ones, and by what each row was multiplied.
    pub(super) fn equilibrated(&self) -> (Self, Vec<f64>, Vec<f64>) {
        self.rescaled(|_, most| most)
    }

    /// The same with every column and then every row brought to coefficients of which the least and the largest lie as far from
    /// 1, a few times over: for coefficients that spread over many powers of ten.
    pub(super) fn balanced(&self) -> (Self, Vec<f64>, Vec<f64>) {
        let (mut columns, mut rows) = (vec![1.0; self.cost.len()], vec![1.0; self.rows.len()]);
        let mut program = self.clone();
        for _ in 0..BALANCINGS {
            let (next, of_columns, of_rows) = program.rescaled(|least, most| (least * most).sqrt());
            columns.iter_mut().zip(of_columns).for_each(|(all, column)| *all *= column);
            rows.iter_mut().zip(of_rows).for_each(|(all, row)| *all *= row);
            program = next;
        }
        (program, columns, rows)
    }

    /// Every column and then every row divided by what `size` says of its least and its largest coefficient.
    fn rescaled(&self, size: impl Fn(f64, f64) -> f64) -> (Self, Vec<f64>, Vec<f64>) {
        const NONE: (f64, f64) = (f64::INFINITY, 0.0);
        let wider = |(least, most): (f64, f64), a: f64| if a == 0.0 { (least, most) } else { (least.min(a), most.max(a)) };
        let factor = |(least, most): (f64, f64)| if most > 0.0 { 1.0 / size(least, most) } else { 1.0 };
        let mut of_columns = vec![NONE; self.cost.len()];
        for (at, coefficient) in self.rows.iter().flat_map(|row| &row.terms) {
            of_columns[*at] = wider(of_columns[*at], coefficient.abs());
        }
        let columns: Vec<f64> = of_columns.into_iter().map(factor).collect();
        let of_row = |row: &Row| factor(row.terms.iter().fold(NONE, |ends, (at, a)| wider(ends, (a * columns[*at]).abs())));
        let factors: Vec<f64> = self.rows.iter().map(of_row).collect();
        let rows = self.rows.iter().zip(&factors).map(|(row, factor)| Row {
            terms: row.terms.iter().map(|(at, a)| (*at, a * columns[*at] * factor)).collect(),
            relation: row.relation,
            right: row.right * factor,
        });
        let rows = rows.collect();
        let cost = self.cost.iter().zip(&columns).map(|(c, column)| c * column).collect();
        let lower = self.lower.iter().zip(&columns).map(|(l, column)| l / column).collect();
        let upper = self.upper.iter().zip(&columns).map(|(u, column)| u / column).collect();
        (Self { cost, lower, upper, rows }, columns, factors)
    }

    /// The dual of an optimal vertex where it is the only one: as many tight rows as variables between their bounds, whose
    /// reduced costs are then zero. Nothing where the vertex is degenerate or not sharp enough to tell.
    pub(super) fn dual_at(&self, x: &[f64]) -> Option<Dual> {
        let split = |distance: f64| if distance < SHARP { Some(true) } else { (distance > CLEAR).then_some(false) };
        let mut free: Vec<usize> = Vec::new();
        for (at, value) in x.iter().enumerate() {
            if !split((value - self.lower[at]).min(self.upper[at] - value))? {
                free.push(at);
            }
        }
        let mut tight: Vec<usize> = Vec::new();
        for (at, row) in self.rows.iter().enumerate() {
            if split((Self::left(row, x) - row.right).abs())? {
                tight.push(at);
            }
        }
        if tight.len() != free.len() {
            return None;
        }
        let columns: Vec<Vec<f64>> = tight.iter().map(|&at| self.rows[at].dense(x.len())).collect();
        let matrix = free.iter().map(|&at| columns.iter().map(|row| row[at]).collect()).collect();
        let (rank, solved) = dense::solve(matrix, free.iter().map(|&at| self.cost[at]).collect(), tight.len());
        let mut multipliers = vec![0.0; self.rows.len()];
        tight.iter().zip(solved).for_each(|(&at, multiplier)| multipliers[at] = multiplier);
        (rank == free.len()).then(|| self.proof(multipliers))
    }

    /// The multipliers of an optimum and the lower bound they prove: the explicit dual, solved as a second program and
    /// judged by our own arithmetic.
    pub(super) fn dual(&self) -> Result<Dual, Failure> {
        // a row that only binds one way has a multiplier of one sign; that of an equation has either, but not without a
        // bound, which the solver cannot handle (a bound too near makes the proof weaker, never wrong)
        let steepest = STEEPEST * self.cost.iter().fold(1.0_f64, |most, cost| most.max(cost.abs()));
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
        let y = dual.solve()?;
        let multipliers = signs.iter().zip(&y).zip(&dual.lower).map(|((sign, y), lower)| sign * y.max(*lower)).collect();
        Ok(self.proof(multipliers))
    }

    /// What multipliers prove: weak duality holds for any of the right sign, so those of the wrong one count as 0. Without
    /// a bound on a variable whose reduced cost is negative they prove nothing.
    pub(super) fn proof(&self, mut multipliers: Vec<f64>) -> Dual {
        let mut reduced = self.cost.clone();
        let mut size: Vec<f64> = self.cost.iter().map(|cost| 1.0 + cost.abs()).collect();
        for (row, multiplier) in self.rows.iter().zip(&mut multipliers) {
            match row.relation {
                Relation::AtMost => *multiplier = multiplier.min(0.0),
                Relation::AtLeast => *multiplier = multiplier.max(0.0),
                Relation::Equal => {}
            }
            for (at, coefficient) in &row.terms {
                reduced[*at] -= coefficient * *multiplier;
                size[*at] += (coefficient * *multiplier).abs();
            }
        }
        let mut bound: f64 = self.rows.iter().zip(&multipliers).map(|(row, multiplier)| row.right * multiplier).sum();
        for ((reduced, upper), size) in reduced.iter().zip(&self.upper).zip(size) {
            if upper.is_finite() {
                bound += reduced.min(0.0) * upper;
            } else if *reduced < -DUAL_TOLERANCE * size {
                bound = f64::NEG_INFINITY;
            }
        }
        Dual { bound, multipliers, reduced }
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
