//! Whole steps searched to the end: branch and bound by left null vectors of the columns still open.
//!
//! Columns are settled one after another. A left null vector of the columns not yet settled has a value that only the
//! settled ones decide, and a misfit below the best one leaves that value an interval: so it bounds the rungs of the next
//! column without a program to solve. Why that loses nothing is written down in `bound.rs`.

use super::bound::{NullVector, Tilted, tilt};
use super::grid::{Component, Grid, Point};

/// Nodes that one search may open; a count and not a time, so that two machines give the same amounts.
const NODES: usize = 20_000;
/// A smaller gain is rounding.
const GAIN: f64 = 1e-11;
/// Rungs of one column that are tried where nothing bounds it.
const WINDOW: i64 = 60;

/// Nodes left.
pub(super) struct Budget(usize);

impl Default for Budget {
    fn default() -> Self {
        Self(NODES)
    }
}

struct Depth {
    column: usize,
    null_vectors: Vec<NullVector>,
    /// Rows that nothing moves any more once this column is settled.
    settles: Vec<usize>,
}

struct Search<'g, 'l> {
    grid: &'g Grid<'l>,
    depths: Vec<Depth>,
    tilted: Vec<Tilted>,
    rows: Vec<usize>,
    /// The tilted misfit of the best point so far.
    best: f64,
    rungs: Vec<i64>,
    found: Option<Vec<i64>>,
    complete: bool,
    /// What rungs must keep beside the rows.
    keeps: &'g mut dyn FnMut(&[i64]) -> bool,
}

/// Looks for whole steps of a component with a smaller misfit over its rows than those in `point`, or any where there are none,
/// such that `keeps` allows them, and puts them there.
///
/// Returns true when it has looked everywhere.
pub(super) fn search<'g>(
    grid: &'g Grid,
    component: &Component,
    point: &mut Option<Point>,
    budget: &mut Budget,
    keeps: &'g mut dyn FnMut(&[i64]) -> bool,
) -> bool {
    let Component { members, rows } = component;
    let tilted = tilt(grid, members, rows);
    let best =
        point.as_ref().map_or(f64::INFINITY, |point| rows.iter().map(|&row| tilted[row].value(point.residual[row])).sum());
    let start = point.clone().unwrap_or_else(|| grid.point(vec![0; grid.ladders.len()]));
    let order = order(grid, members, rows);
    let depths = (0..order.len()).map(|at| depth(grid, &order, at, rows, &tilted)).collect();
    let mut search = Search {
        grid,
        depths,
        tilted,
        rows: rows.clone(),
        best,
        rungs: start.rungs.clone(),
        found: None,
        complete: true,
        keeps,
    };
    // the residuals without the members
    let mut residual = start.residual.clone();
    for &at in members {
        let amount = grid.ladders[at].amount(start.rungs[at]);
        residual.iter_mut().zip(&grid.rows).for_each(|(r, row)| *r -= row.of[at] * amount);
    }
    search.visit(0, &residual, 0.0, budget);
    if let Some(rungs) = search.found {
        *point = Some(grid.point(rungs));
    }
    search.complete
}

/// The columns whose steps tell most come first.
fn order(grid: &Grid, members: &[usize], rows: &[usize]) -> Vec<usize> {
    let effect = |at: usize| {
        let step = grid.ladders[at].step_at(grid.exact[at]);
        rows.iter().map(|&row| (grid.rows[row].of[at] * step).abs()).fold(0.0, f64::max)
    };
    let mut order = members.to_vec();
    order.sort_by(|&a, &b| effect(b).total_cmp(&effect(a)).then(a.cmp(&b)));
    order
}

fn depth(grid: &Grid, order: &[usize], at: usize, rows: &[usize], tilted: &[Tilted]) -> Depth {
    let column = order[at];
    let moved_by = |row: usize, columns: &[usize]| columns.iter().any(|&c| grid.rows[row].of[c] != 0.0);
    let open: Vec<usize> = rows.iter().copied().filter(|&row| moved_by(row, &order[at..])).collect();
    let null_vectors = NullVector::all(grid, &open, column, &order[at + 1..], tilted);
    let settles = open.into_iter().filter(|&row| !moved_by(row, &order[at + 1..])).collect();
    Depth { column, null_vectors, settles }
}

impl Search<'_, '_> {
    fn visit(&mut self, depth: usize, residual: &[f64], spent: f64, budget: &mut Budget) {
        if depth == self.depths.len() {
            let value: f64 = self.rows.iter().map(|&row| self.tilted[row].value(residual[row])).sum();
            if value < self.best - GAIN && (self.keeps)(&self.rungs) {
                self.best = value;
                self.found = Some(self.rungs.clone());
            }
            return;
        }
        if budget.0 == 0 {
            self.complete = false;
            return;
        }
        budget.0 -= 1;
        let column = self.depths[depth].column;
        let ladder = self.grid.ladders[column];
        let (low, high) = self.interval(depth, residual, self.best - spent);
        let (least, most) = self.grid.between[column];
        let top = ladder.amount(most);
        let (low, high) = (low.max(ladder.amount(least)), high.min(top));
        if low > high {
            return;
        }
        let last = ladder.at_most(high);
        let first = ladder.at_most(low) + i64::from(ladder.amount(ladder.at_most(low)) < low);
        let near = ladder.nearest(if high < top { f64::midpoint(low, high) } else { self.grid.exact[column] });
        let near = near.clamp(first.min(last), last);
        if last - near > WINDOW || near - first > WINDOW {
            self.complete = false;
        }
        // outward from the middle
        for away in 0..=(last - first).min(WINDOW) {
            for rung in [near + away, near - away].into_iter().take(if away == 0 { 1 } else { 2 }) {
                if rung < first || rung > last {
                    continue;
                }
                let amount = ladder.amount(rung);
                let moved = |row: usize| residual[row] + self.grid.rows[row].of[column] * amount;
                let settles = &self.depths[depth].settles;
                let spent = spent + settles.iter().map(|&row| self.tilted[row].value(moved(row))).sum::<f64>();
                if spent < self.best - GAIN {
                    let next: Vec<f64> = (0..residual.len()).map(moved).collect();
                    self.rungs[column] = rung;
                    self.visit(depth + 1, &next, spent, budget);
                }
            }
        }
    }

    /// Between which amounts the column of this depth must be for the misfit to stay below what may still be spent.
    fn interval(&self, depth: usize, residual: &[f64], spend: f64) -> (f64, f64) {
        let of_one = self.depths[depth].null_vectors.iter().map(|vector| vector.interval(residual, spend));
        of_one.fold((0.0, f64::INFINITY), |(low, high), (from, to)| (low.max(from), high.min(to)))
    }
}

#[cfg(test)]
mod tests {
    use super::super::grid::Row;
    use super::super::sample::{Numbers, ladders, orthogonal_prices, problem};
    use super::*;

    /// The least misfit of all rungs that keep the limit, by trying every one; and how many there are.
    fn of_all(grid: &Grid) -> (Option<f64>, usize) {
        let count = |at: usize| usize::try_from(grid.ladders[at].top() + 1).expect("few");
        let all: usize = (0..grid.ladders.len()).map(count).product();
        let score = |mut number: usize| {
            let mut rungs = vec![0; grid.ladders.len()];
            for (at, rung) in rungs.iter_mut().enumerate() {
                *rung = i64::try_from(number % count(at)).expect("few");
                number /= count(at);
            }
            grid.score(&grid.point(rungs).residual)
        };
        ((0..all).map(score).filter(|score| score.0 <= 0.0).map(|score| score.1).reduce(f64::min), all)
    }

    #[test]
    fn the_search_finds_the_best_of_all_whole_steps_and_does_not_look_at_most() {
        let mut numbers = Numbers(4);
        let (mut opened, mut all_there_are, mut tilted) = (0, 0, 0);
        for case in 0..300 {
            let columns = 2 + numbers.below(3);
            let ladders = ladders(&mut numbers, columns);
            let rows = columns + numbers.below(3);
            let mut grid = problem(&mut numbers, &ladders, rows);
            if case % 2 == 0 {
                tilted += usize::from(orthogonal_prices(&mut grid));
            }
            let (best, all) = of_all(&grid);
            let mut budget = Budget::default();
            let mut found = None;
            assert!(search(&grid, &grid.everything(), &mut found, &mut budget, &mut |_| true), "case {case}");
            let reached = found.map(|point| grid.score(&point.residual));
            match (best, reached) {
                (None, None) => {}
                (Some(best), Some((excess, misfit))) => {
                    assert!(excess <= 0.0 && (misfit - best).abs() < 1e-8, "case {case}: {misfit} for {best}");
                }
                other => panic!("case {case}: {other:?}"),
            }
            opened += NODES - budget.0;
            all_there_are += all;
        }
        // nodes are counted above the last column
        assert!(opened * 8 < all_there_are && tilted > 30, "{opened} {all_there_are} {tilted}");
    }
    /// Any point of the box, on rungs or between: each of its amounts lies in every interval that its own cost leaves, and often
    /// in none of those that no cost leaves.
    #[test]
    fn a_point_lies_in_every_interval_that_its_cost_leaves() {
        let mut numbers = Numbers(5);
        let (mut held, mut cut_off) = (0, 0);
        for case in 0..600 {
            let ladders = ladders(&mut numbers, 4);
            let mut grid = problem(&mut numbers, &ladders, 6);
            let tilts = case % 2 == 0 && orthogonal_prices(&mut grid);
            let tilted = tilt(&grid, &[0, 1, 2, 3], &[0, 1, 2, 3, 4, 5]);
            let amounts: Vec<f64> = ladders.iter().map(|ladder| numbers.between(0.0, ladder.amount(ladder.top()))).collect();
            let after = |settled: usize| -> Vec<f64> {
                let of = |row: &Row| row.of.iter().zip(&amounts).take(settled).map(|(of, amount)| of * amount).sum::<f64>();
                grid.rows.iter().map(|row| row.base + of(row)).collect()
            };
            for next in 0..4 {
                let behind: Vec<usize> = (next + 1..4).collect();
                let open: Vec<usize> = (0..6).filter(|&row| grid.rows[row].of[next..].iter().any(|of| *of != 0.0)).collect();
                let cost: f64 = open.iter().map(|&row| tilted[row].value(after(4)[row])).sum();
                if cost.is_infinite() {
                    continue;
                }
                for vector in NullVector::all(&grid, &open, next, &behind, &tilted) {
                    let within = |spend: f64| {
                        let (low, high) = vector.interval(&after(next), spend);
                        (low..=high).contains(&amounts[next])
                    };
                    assert!(within(cost), "case {case}, column {next}, tilts {tilts}: {amounts:?} at {cost}");
                    held += 1;
                    cut_off += usize::from(!within(0.0));
                }
            }
        }
        assert!(held > 3000 && cut_off * 4 > held, "{held} {cut_off}");
    }
}
