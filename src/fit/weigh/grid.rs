//! The question in whole steps: what every rung of every column does to every row.

use super::super::problem::{Limit, phi};
use super::ladder::Ladder;

/// An excess over a limit below this is rounding.
pub(super) const TOLERANCE: f64 = 1e-9;
/// A smaller gain is rounding.
const GAIN: f64 = 1e-12;
/// Slope of a limit that gives way.
const GIVING: f64 = 16.0;
/// A limit that this many steps of every column cannot reach does not tie the columns together.
const REACH_STEPS: f64 = 8.0;

/// What a row stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Kind {
    /// A target, whose relative miss is weighed.
    Target { weight: f64 },
    /// A limit, and how far it may be exceeded when it has to give way.
    Limit { limit: Limit, give: f64 },
}

/// One row of the question in whole steps.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) kind: Kind,
    /// What a unit of every column of the grid adds to the relative miss of a target, or to the excess over a limit.
    pub(super) of: Vec<f64>,
    /// The miss or excess with nothing of them.
    pub(super) base: f64,
    /// What the exact optimum says of it: the slope of the misfit for a target, the multiplier of a limit.
    pub(super) shadow_price: f64,
}

impl Row {
    /// The limit, where it is one.
    pub(super) fn limit(&self) -> Option<Limit> {
        match self.kind {
            Kind::Target { .. } => None,
            Kind::Limit { limit, .. } => Some(limit),
        }
    }
}

/// The question in whole steps: the columns of the exact mix, and what they do to every row.
pub(super) struct Grid<'l> {
    pub(super) ladders: Vec<&'l Ladder>,
    pub(super) exact: Vec<f64>,
    pub(super) rows: Vec<Row>,
    /// The lowest and the highest rung of every column that is looked at.
    pub(super) between: Vec<(i64, i64)>,
    /// True when limits give way.
    pub(super) soft: bool,
}

/// Rungs, and what they leave of every row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Point {
    pub(super) rungs: Vec<i64>,
    pub(super) residual: Vec<f64>,
}

/// Columns that a search settles together, and the rows that tie them.
#[derive(Debug, Clone)]
pub(super) struct Component {
    pub(super) members: Vec<usize>,
    pub(super) rows: Vec<usize>,
}

/// How bad a point is: the excess over limits, then the misfit.
pub(super) type Score = (f64, f64);

pub(super) fn better(a: Score, b: Score) -> bool {
    if (a.0 - b.0).abs() > GAIN { a.0 < b.0 } else { a.1 < b.1 - GAIN }
}

impl Grid<'_> {
    pub(super) fn score(&self, residual: &[f64]) -> Score {
        let (mut excess, mut misfit) = (0.0, 0.0);
        for (row, r) in self.rows.iter().zip(residual) {
            match row.kind {
                Kind::Target { weight } => misfit += weight * phi(*r),
                Kind::Limit { give, .. } if *r > TOLERANCE => {
                    let give = if self.soft { give } else { 0.0 };
                    excess += (r - give - TOLERANCE).max(0.0);
                    misfit += if self.soft { GIVING * r } else { 0.0 };
                }
                Kind::Limit { .. } => {}
            }
        }
        (excess, misfit)
    }

    pub(super) fn point(&self, rungs: Vec<i64>) -> Point {
        let residual = self
            .rows
            .iter()
            .map(|row| {
                let terms = row.of.iter().zip(&self.ladders).zip(&rungs);
                row.base + terms.map(|((of, ladder), rung)| of * ladder.amount(*rung)).sum::<f64>()
            })
            .collect();
        Point { rungs, residual }
    }

    pub(super) fn rounded(&self, to: impl Fn(&Ladder, f64) -> i64) -> Point {
        self.point(self.ladders.iter().zip(&self.exact).map(|(ladder, exact)| to(ladder, *exact)).collect())
    }

    /// Every column and every row.
    pub(super) fn everything(&self) -> Component {
        Component { members: (0..self.ladders.len()).collect(), rows: (0..self.rows.len()).collect() }
    }

    /// Groups of columns that share a target, or a limit within reach.
    pub(super) fn components(&self) -> Vec<Component> {
        let nothing = self.rounded(|_, _| 0);
        let within_reach = |row: &Row, base: f64| {
            let mut most = base;
            for ((of, ladder), amount) in row.of.iter().zip(&self.ladders).zip(&self.exact) {
                let room = REACH_STEPS * ladder.step_at(*amount)
                    + if *amount < ladder.smallest() && ladder.top() > 0 { ladder.smallest() } else { 0.0 };
                most += of * amount + of.abs() * room;
            }
            most > 0.0
        };
        let tying: Vec<usize> = (0..self.rows.len())
            .filter(|&at| self.rows[at].limit().is_none() || within_reach(&self.rows[at], nothing.residual[at]))
            .collect();
        let mut group: Vec<usize> = (0..self.ladders.len()).collect();
        for &row in &tying {
            let touched: Vec<usize> = (0..group.len()).filter(|&at| self.rows[row].of[at] != 0.0).collect();
            if let Some(least) = touched.iter().map(|&at| group[at]).min() {
                let joined: Vec<usize> = touched.iter().map(|&at| group[at]).collect();
                group.iter_mut().filter(|g| joined.contains(g)).for_each(|g| *g = least);
            }
        }
        let mut found: Vec<Component> = Vec::new();
        for least in 0..group.len() {
            let members: Vec<usize> = (0..group.len()).filter(|&at| group[at] == least).collect();
            if !members.is_empty() {
                let ties = |row: &usize| members.iter().any(|&at| self.rows[*row].of[at] != 0.0);
                let rows = tying.iter().copied().filter(ties).collect();
                found.push(Component { members, rows });
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::problem::Limit;
    use super::super::ladder::{Flight, Ladder};
    use super::super::sample::{Numbers, ladders, problem};
    use super::{Grid, Kind, Row};

    fn limit(of: Vec<f64>, base: f64, give: f64) -> Row {
        Row { kind: Kind::Limit { limit: Limit::ShareAtMost, give }, of, base, shadow_price: 0.0 }
    }

    fn grid(ladders: &[Ladder], exact: Vec<f64>, rows: Vec<Row>) -> Grid<'_> {
        let between = ladders.iter().map(|ladder| (0, ladder.top())).collect();
        Grid { ladders: ladders.iter().collect(), exact, rows, between, soft: false }
    }

    /// A limit that holds costs nothing. One that gives way costs 16 times what it is exceeded by, within what it may give and
    /// beyond; beyond that, and wherever none gives way, the excess counts before any misfit. The slope is that of the penalty's
    /// steepest part (docs/fit.md).
    #[test]
    fn a_limit_that_gives_way_costs_sixteen_times_its_excess() {
        let ladders = [Ladder::new(vec![Flight { step: 0.1, first: 1, last: 9 }])];
        let mut grid = grid(&ladders, vec![0.5], vec![limit(vec![1.0], 0.0, 0.02)]);
        for (soft, excess, beyond, misfit) in [
            (false, -0.01, 0.0, 0.0),
            (true, -0.01, 0.0, 0.0),
            (false, 0.01, 0.01, 0.0),
            (true, 0.01, 0.0, 0.16),
            (true, 0.05, 0.03, 0.8),
        ] {
            grid.soft = soft;
            let score = grid.score(&[excess]);
            assert!((score.0 - beyond).abs() < 1e-8 && (score.1 - misfit).abs() < 1e-8, "{soft} {excess}: {score:?}");
        }
    }

    /// Every column stands in one group, columns of one target in the same, and those of two groups have no target in common.
    #[test]
    fn groups_part_the_columns_and_no_target_ties_two_of_them() {
        let mut numbers = Numbers(21);
        let mut counts = [0; 6];
        for case in 0..200 {
            let ladders = ladders(&mut numbers, 5);
            let mut grid = problem(&mut numbers, &ladders, 3);
            for row in &mut grid.rows {
                row.of.iter_mut().for_each(|of| *of = if numbers.chance(0.5) { *of } else { 0.0 });
            }
            let found = grid.components();
            let mut all: Vec<usize> = found.iter().flat_map(|component| component.members.clone()).collect();
            all.sort_unstable();
            assert_eq!(all, [0, 1, 2, 3, 4], "case {case}: {found:?}");
            for (at, row) in grid.rows.iter().enumerate().filter(|(_, row)| row.limit().is_none()) {
                let touches = |members: &[usize]| members.iter().any(|&column| row.of[column] != 0.0);
                let touched: Vec<_> = found.iter().filter(|component| touches(&component.members)).collect();
                assert!(touched.len() <= 1, "case {case}, row {at}: {found:?}");
                assert!(touched.iter().all(|component| component.rows.contains(&at)), "case {case}, row {at}: {found:?}");
            }
            counts[found.len()] += 1;
        }
        assert!(counts[1..].iter().all(|count| *count > 3), "{counts:?}");
    }

    /// Two columns whose exact amounts are less than can be measured and that share nothing but a limit, which only both of them at
    /// their smallest amount break: 1 + 1 over 1.5, where the exact 0.2 + 0.2 and eight steps of 0.01 of each are 0.56.
    #[test]
    fn a_limit_that_two_smallest_amounts_break_ties_them() {
        let ladders = [0, 1].map(|_| Ladder::new(vec![Flight { step: 0.01, first: 100, last: 150 }]));
        for (most, groups) in [(1.5, 1), (2.6, 2)] {
            let grid = grid(&ladders, vec![0.2; 2], vec![limit(vec![1.0; 2], -most, 0.0)]);
            assert_eq!(grid.components().len(), groups, "at most {most}");
        }
    }
}
