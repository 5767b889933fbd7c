//! Whole steps searched to the end: branch and bound by directions that the columns still free cannot move.
//!
//! Columns are settled one after another. A combination `y` of rows that is orthogonal to every column not yet settled
//! has a value that only the settled ones decide, and a misfit below the best one leaves that value an interval: so it
//! bounds the rungs of the next column without a program to solve. The misfit is first tilted by the dual of the exact
//! optimum, which takes the unavoidable part out of it and leaves the interval narrow.

use super::problem::{KNEES, SLOPES};
use super::steps::{Grid, Point, Row};

/// Nodes that one search may open; a count and not a time, so that two machines give the same amounts.
const NODES: usize = 20_000;
/// A smaller gain is rounding.
const GAIN: f64 = 1e-11;
/// Slopes and entries below this are rounding.
const NOTHING: f64 = 1e-9;
/// Rungs of one column that are tried where nothing bounds it.
const WINDOW: i64 = 60;

/// Nodes left.
pub(super) struct Budget(usize);

impl Default for Budget {
    fn default() -> Self {
        Self(NODES)
    }
}

/// The misfit of one row, tilted by the exact optimum: zero on `flat`, then pieces of growing slope to either side.
struct Tilted {
    flat: (f64, f64),
    /// (slope, length) to the left and to the right.
    left: Vec<(f64, f64)>,
    right: Vec<(f64, f64)>,
    /// True when nothing to the right is allowed.
    wall: bool,
}

impl Tilted {
    /// Of a row, with the price that the exact optimum gives it.
    fn new(row: &Row, price: f64) -> Self {
        let Some(weight) = row.weight else {
            let left = if price > NOTHING { vec![(price, f64::INFINITY)] } else { Vec::new() };
            let start = if left.is_empty() { f64::NEG_INFINITY } else { 0.0 };
            return Self { flat: (start, 0.0), left, right: Vec::new(), wall: true };
        };
        let edges = [f64::NEG_INFINITY, -KNEES[1], -KNEES[0], 0.0, KNEES[0], KNEES[1], f64::INFINITY];
        let slopes = [-SLOPES[2], -SLOPES[1], -SLOPES[0], SLOPES[0], SLOPES[1], SLOPES[2]].map(|s| s * weight - price);
        let first = slopes.iter().position(|slope| *slope > -NOTHING).unwrap_or(slopes.len() - 1);
        let after = slopes.iter().position(|slope| *slope > NOTHING).unwrap_or(slopes.len() - 1);
        Self {
            flat: (edges[first], edges[after]),
            left: (0..first).rev().map(|at| (-slopes[at], edges[at + 1] - edges[at])).collect(),
            right: (after..slopes.len()).map(|at| (slopes[at], edges[at + 1] - edges[at])).collect(),
            wall: false,
        }
    }

    fn value(&self, r: f64) -> f64 {
        let climb = |mut way: f64, pieces: &[(f64, f64)]| {
            let mut sum = 0.0;
            for (slope, length) in pieces {
                sum += slope * way.min(*length);
                way = (way - length).max(0.0);
                if way <= 0.0 {
                    break;
                }
            }
            sum
        };
        if r > self.flat.1 {
            return if self.wall {
                if r > NOTHING { f64::INFINITY } else { 0.0 }
            } else {
                climb(r - self.flat.1, &self.right)
            };
        }
        if r < self.flat.0 { climb(self.flat.0 - r, &self.left) } else { 0.0 }
    }
}

/// How far a combination of rows can get for what may be spent: a greedy purchase of the cheapest pieces.
struct Reach {
    base: f64,
    /// (gain for each unit spent, what may be spent on it), best first.
    pieces: Vec<(f64, f64)>,
}

impl Reach {
    /// Of the direction `y` over `rows`, with `sign` 1 or -1.
    fn new(y: &[(usize, f64)], sign: f64, tilted: &[Tilted]) -> Self {
        let mut reach = Self { base: 0.0, pieces: Vec::new() };
        for (row, coefficient) in y {
            let (tilted, c) = (&tilted[*row], sign * coefficient);
            let (end, pieces) = if c > 0.0 { (tilted.flat.1, &tilted.right) } else { (tilted.flat.0, &tilted.left) };
            reach.base += c * end;
            reach.pieces.extend(pieces.iter().map(|(slope, length)| (c.abs() / slope, slope * length)));
        }
        reach.pieces.sort_by(|a, b| b.0.total_cmp(&a.0));
        reach
    }

    fn most(&self, spend: f64) -> f64 {
        let (mut most, mut left) = (self.base, spend);
        for (gain, price) in &self.pieces {
            most += gain * left.min(*price);
            left -= price;
            if left <= 0.0 {
                break;
            }
        }
        most
    }
}

struct Direction {
    y: Vec<(usize, f64)>,
    up: Reach,
    down: Reach,
    /// What a unit of the column that is settled at this depth adds.
    of_column: f64,
}

struct Depth {
    column: usize,
    directions: Vec<Direction>,
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

/// Looks for whole steps of `members` with a smaller misfit over `rows` than those in `point`, or any where there are none, such that `keeps` allows them,
/// and puts them there.
///
/// Returns true when it has looked everywhere.
pub(super) fn search<'g>(
    grid: &'g Grid,
    members: &[usize],
    rows: &[usize],
    point: &mut Option<Point>,
    budget: &mut Budget,
    keeps: &'g mut dyn FnMut(&[i64]) -> bool,
) -> bool {
    let orthogonal = members.iter().all(|&at| {
        let (mut sum, mut size) = (0.0, 0.0_f64);
        for row in rows.iter().map(|&row| &grid.rows[row]) {
            sum += row.price * row.of[at];
            size += (row.price * row.of[at]).abs();
        }
        sum.abs() <= 1e-7 * size
    });
    let tilted: Vec<Tilted> =
        grid.rows.iter().map(|row| Tilted::new(row, if orthogonal { row.price } else { 0.0 })).collect();
    let best =
        point.as_ref().map_or(f64::INFINITY, |point| rows.iter().map(|&row| tilted[row].value(point.residual[row])).sum());
    let start = point.clone().unwrap_or_else(|| grid.point(vec![0; grid.ladders.len()]));
    let order = order(grid, members, rows);
    let depths = (0..order.len()).map(|at| depth(grid, &order, at, rows, &tilted)).collect();
    let mut search = Search {
        grid,
        depths,
        tilted,
        rows: rows.to_vec(),
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
    let directions = dependencies(grid, &open, &order[at + 1..])
        .into_iter()
        .map(|y| Direction {
            up: Reach::new(&y, 1.0, tilted),
            down: Reach::new(&y, -1.0, tilted),
            of_column: y.iter().map(|(row, c)| c * grid.rows[*row].of[column]).sum(),
            y,
        })
        .collect();
    let settles = open.into_iter().filter(|&row| !moved_by(row, &order[at + 1..])).collect();
    Depth { column, directions, settles }
}

/// Combinations of `rows` that none of `columns` moves: what elimination leaves over, for every order of the rows.
fn dependencies(grid: &Grid, rows: &[usize], columns: &[usize]) -> Vec<Vec<(usize, f64)>> {
    let scale: Vec<f64> = columns
        .iter()
        .map(|&c| rows.iter().map(|&row| grid.rows[row].of[c].abs()).fold(0.0, f64::max).max(f64::MIN_POSITIVE))
        .collect();
    let mut found: Vec<Vec<f64>> = Vec::new();
    for turn in 0..rows.len() {
        // (what is left of the row, the combination that leaves it), and the column that it removes from later ones
        let mut pivots: Vec<(Vec<f64>, Vec<f64>, usize)> = Vec::new();
        for offset in 0..rows.len() {
            let row = (turn + offset) % rows.len();
            let mut left: Vec<f64> =
                columns.iter().zip(&scale).map(|(&c, scale)| grid.rows[rows[row]].of[c] / scale).collect();
            let mut made = vec![0.0; rows.len()];
            made[row] = 1.0;
            for (pivot, combination, column) in &pivots {
                let factor = left[*column] / pivot[*column];
                if factor != 0.0 {
                    left.iter_mut().zip(pivot).for_each(|(l, p)| *l -= factor * p);
                    made.iter_mut().zip(combination).for_each(|(m, c)| *m -= factor * c);
                    left[*column] = 0.0;
                }
            }
            let largest = (0..left.len()).max_by(|&a, &b| left[a].abs().total_cmp(&left[b].abs()));
            match largest.filter(|&column| left[column].abs() > NOTHING) {
                Some(column) => pivots.push((left, made, column)),
                None => keep(&mut found, made),
            }
        }
    }
    found.into_iter().map(|made| rows.iter().copied().zip(made).filter(|(_, c)| c.abs() > NOTHING).collect()).collect()
}

/// Keeps a direction once, whatever its length and sign.
fn keep(found: &mut Vec<Vec<f64>>, mut made: Vec<f64>) {
    let first = made.iter().copied().find(|c| c.abs() > NOTHING).unwrap_or(1.0);
    let most = made.iter().map(|c| c.abs()).fold(0.0, f64::max);
    for c in &mut made {
        *c /= most * first.signum();
    }
    if !found.iter().any(|other| other.iter().zip(&made).all(|(a, b)| (a - b).abs() < NOTHING)) {
        found.push(made);
    }
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
                let next: Vec<f64> =
                    residual.iter().zip(&self.grid.rows).map(|(r, row)| r + row.of[column] * amount).collect();
                let settles = &self.depths[depth].settles;
                let spent = spent + settles.iter().map(|&row| self.tilted[row].value(next[row])).sum::<f64>();
                if spent < self.best - GAIN {
                    self.rungs[column] = rung;
                    self.visit(depth + 1, &next, spent, budget);
                }
            }
        }
    }

    /// Between which amounts the column of this depth must be for the misfit to stay below what may still be spent.
    fn interval(&self, depth: usize, residual: &[f64], spend: f64) -> (f64, f64) {
        let (mut low, mut high) = (0.0_f64, f64::INFINITY);
        for direction in &self.depths[depth].directions {
            let here: f64 = direction.y.iter().map(|(row, c)| c * residual[*row]).sum();
            // rounding must not cut off what is just as good
            let most = direction.up.most(spend) + NOTHING;
            let least = -direction.down.most(spend) - NOTHING;
            let of = direction.of_column;
            if of == 0.0 {
                if here > most || here < least {
                    return (0.0, -1.0);
                }
                continue;
            }
            let (a, b) = ((least - here) / of, (most - here) / of);
            low = low.max(a.min(b));
            high = high.min(a.max(b));
        }
        (low, high)
    }
}
