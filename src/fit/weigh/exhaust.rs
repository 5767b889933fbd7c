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
    use super::super::super::problem::phi;
    use super::super::grid::{Kind, Row};
    use super::super::ladder::{Flight, Ladder};
    use super::super::sample::{Numbers, ladders, orthogonal_prices, problem};
    use super::*;

    /// The least misfit of all rungs between those that are looked at which keep the limit and `keeps`, by trying every one with
    /// the others as they stand at `start`; and how many there are.
    fn of_all(grid: &Grid, members: &[usize], start: &[i64], keeps: impl Fn(&[i64]) -> bool) -> (Option<f64>, usize) {
        let count = |at: usize| usize::try_from(grid.between[at].1 - grid.between[at].0 + 1).expect("few");
        let all: usize = members.iter().map(|&at| count(at)).product();
        let rungs = |mut number: usize| {
            let mut rungs = start.to_vec();
            for &at in members {
                rungs[at] = grid.between[at].0 + i64::try_from(number % count(at)).expect("few");
                number /= count(at);
            }
            rungs
        };
        let scores = (0..all).map(rungs).filter(|rungs| keeps(rungs)).map(|rungs| grid.score(&grid.point(rungs).residual));
        (scores.filter(|score| score.0 <= 0.0).map(|score| score.1).reduce(f64::min), all)
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
            let everything = grid.everything();
            let (best, all) = of_all(&grid, &everything.members, &vec![0; columns], |_| true);
            let mut budget = Budget::default();
            let mut found = None;
            assert!(search(&grid, &everything, &mut found, &mut budget, &mut |_| true), "case {case}");
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
        assert!(opened * 17 < all_there_are && tilted > 30, "{opened} {all_there_are} {tilted}");
    }

    /// Some columns stand where they are, the others are looked for in a window of theirs from a point that is known, and not
    /// every choice is allowed.
    #[test]
    fn the_search_keeps_to_its_columns_its_windows_and_what_is_allowed() {
        let mut numbers = Numbers(6);
        let (mut better, mut none_better) = (0, 0);
        for case in 0..300 {
            let ladders = ladders(&mut numbers, 4);
            let rows = 5 + numbers.below(2);
            let mut grid = problem(&mut numbers, &ladders, rows);
            for window in &mut grid.between {
                let from = i64::try_from(numbers.below(4)).expect("few");
                *window = (from, (from + i64::try_from(numbers.below(4)).expect("few")).min(window.1));
            }
            let start: Vec<i64> = grid.between.iter().map(|window| window.0).collect();
            let members: Vec<usize> = (0..4).filter(|_| numbers.chance(0.7)).collect();
            let component = Component { members, rows: (0..rows).collect() };
            let odd = |rungs: &[i64]| rungs.iter().sum::<i64>() % 2 == 1;
            let known = grid.score(&grid.point(start.clone()).residual);
            let best = of_all(&grid, &component.members, &start, odd).0.filter(|best| known.0 > 0.0 || *best < known.1);
            let mut point = Some(grid.point(start.clone()));
            assert!(search(&grid, &component, &mut point, &mut Budget::default(), &mut |rungs| odd(rungs)), "case {case}");
            let point = point.expect("it was there");
            let stands = |at: &usize| component.members.contains(at) || point.rungs[*at] == start[*at];
            assert!((0..4).all(|at| stands(&at)), "case {case}: {point:?} from {start:?}");
            if let Some(best) = best {
                let reached = grid.score(&point.residual);
                assert!(odd(&point.rungs) && (reached.1 - best).abs() < 1e-8, "case {case}: {reached:?} for {best}");
                let within = |(rung, window): (&i64, &(i64, i64))| (window.0..=window.1).contains(rung);
                assert!(point.rungs.iter().zip(&grid.between).all(within), "case {case}: {point:?}");
                better += 1;
            } else {
                assert_eq!(point.rungs, start, "case {case}");
                none_better += 1;
            }
        }
        assert!(better > 100 && none_better > 30, "{better} {none_better}");
    }

    fn hundred_rungs() -> Ladder {
        Ladder::new(vec![Flight { step: 0.01, first: 1, last: 100 }])
    }

    fn target(of: Vec<f64>, base: f64) -> Row {
        Row { kind: Kind::Target { weight: 1.0 }, of, base, shadow_price: 0.0 }
    }

    fn grid_of(ladder: &Ladder, rows: Vec<Row>, exact: Vec<f64>) -> Grid<'_> {
        let (ladders, between) = (vec![ladder; exact.len()], vec![(0, ladder.top()); exact.len()]);
        Grid { ladders, exact, rows, between, soft: false }
    }

    /// Sixty rungs to either side are tried and no more, and so many nodes are opened as there were to spend: a search that
    /// left something out says so.
    #[test]
    fn what_was_not_looked_at_is_told() {
        let ladder = hundred_rungs();
        for (exact, from, everywhere) in
            [(0.39, 0, false), (0.40, 0, true), (0.60, 0, true), (0.61, 0, false), (0.61, 1, true), (0.00, 0, false)]
        {
            let mut grid = grid_of(&ladder, vec![target(vec![1.0], -exact)], vec![exact]);
            grid.between[0].0 = from;
            let (mut point, mut budget) = (None, Budget::default());
            let complete = search(&grid, &grid.everything(), &mut point, &mut budget, &mut |_| true);
            assert_eq!((complete, NODES - budget.0), (everywhere, 1), "{exact}");
            assert!((ladder.amount(point.expect("found").rungs[0]) - exact).abs() < 1e-9, "{exact}");
        }
        // two columns with a target each: one node for the first, and one of the second for the best rung of the first
        let grid = || grid_of(&ladder, vec![target(vec![1.0, 0.0], -0.5), target(vec![0.0, 1.0], -0.5)], vec![0.5, 0.5]);
        for (nodes, everywhere) in [(0, false), (1, false), (2, true)] {
            let mut budget = Budget(nodes);
            let grid = grid();
            let complete = search(&grid, &grid.everything(), &mut None, &mut budget, &mut |_| true);
            assert_eq!((complete, budget.0), (everywhere, 0), "{nodes}");
        }
    }

    /// A miss of 0.5 between two targets that one open column moves alike costs 2.9 at the least: 0.05 of each at 1, 0.15 of each at
    /// 4, the 0.1 that is left at 16. The column in front of it moves neither, and no amount of it helps where less can be spent.
    #[test]
    fn a_column_that_moves_nothing_is_cut_off_by_what_it_cannot_mend() {
        let ladder = hundred_rungs();
        for apart in [0.5, -0.5] {
            let grid = grid_of(&ladder, vec![target(vec![0.0, 1.0], apart), target(vec![0.0, 1.0], 0.0)], vec![0.5; 2]);
            let tilted = tilt(&grid, &[0, 1], &[0, 1]);
            let vectors = NullVector::all(&grid, &[0, 1], 0, &[1], &tilted);
            assert_eq!(vectors.len(), 1);
            for (spend, helps) in [(2.89, false), (2.91, true)] {
                let (low, high) = vectors[0].interval(&[apart, 0.0], spend);
                assert_eq!((low <= high, high.is_infinite()), (helps, helps), "{apart} {spend}: {low} {high}");
            }
        }
    }

    /// Prices that tilt change the misfit of every point alike. They tilt where they are orthogonal to every column that is looked
    /// for and no steeper than the penalty, and else nothing does.
    #[test]
    fn tilting_moves_every_misfit_alike_and_other_prices_do_not_tilt() {
        let mut numbers = Numbers(7);
        let mut tried = [0; 4];
        for case in 0..400 {
            let ladders = ladders(&mut numbers, 3);
            let mut grid = problem(&mut numbers, &ladders, 6);
            // prices are those of the first rows: a limit is among them
            grid.rows.swap(0, 5);
            if !orthogonal_prices(&mut grid) {
                continue;
            }
            let (kind, limit) = (case % 4, grid.rows.iter().position(|row| row.limit().is_some()));
            let priced: Vec<usize> = (0..6).filter(|&row| grid.rows[row].shadow_price.abs() > 1e-3).collect();
            match kind {
                1 => grid.rows[priced[numbers.below(priced.len())]].shadow_price *= 0.999,
                2 => grid.rows.iter_mut().for_each(|row| row.shadow_price *= 1.01),
                3 if limit.is_some_and(|row| priced.contains(&row)) => {
                    grid.rows.iter_mut().for_each(|row| row.shadow_price = -row.shadow_price);
                }
                3 => continue,
                _ => {}
            }
            tried[kind] += 1;
            let tilted = tilt(&grid, &[0, 1, 2], &[0, 1, 2, 3, 4, 5]);
            let plain = |row: usize, r: f64| match grid.rows[row].kind {
                Kind::Target { weight } => weight * phi(r),
                Kind::Limit { .. } => 0.0,
            };
            let tilts = (0..6).any(|row| (tilted[row].value(-0.3) - plain(row, -0.3)).abs() > 1e-6);
            assert_eq!(tilts, kind == 0, "case {case}: {kind}");
            let mut moved = Vec::new();
            while moved.len() < 5 {
                let amounts: Vec<f64> = (0..3).map(|_| numbers.between(0.0, 1.0)).collect();
                let stands = |row: &Row| row.base + row.of.iter().zip(&amounts).map(|(of, amount)| of * amount).sum::<f64>();
                let residual: Vec<f64> = grid.rows.iter().map(stands).collect();
                if limit.is_none_or(|row| residual[row] <= 0.0) {
                    moved.push((0..6).map(|row| tilted[row].value(residual[row]) - plain(row, residual[row])).sum::<f64>());
                }
            }
            assert!(moved.iter().all(|by| (by - moved[0]).abs() < 1e-6), "case {case}: {kind}: {moved:?}");
        }
        assert!(tried.iter().all(|count| *count > 15), "{tried:?}");
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
