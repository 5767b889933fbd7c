//! What bounds the search of whole steps, and why it loses no better point.
//!
//! **The question.** Columns `j` are measured out in amounts `x_j`, and row `i` stands at `r_i = b_i + sum_j a_ij x_j`. A target
//! costs `w_i phi(r_i)`, the convex penalty of [`phi`](super::super::problem::phi); a limit costs nothing and holds where
//! `r_i <= 0`. The sum of the costs, the misfit `M(x)`, is to be least.
//!
//! **Tilting: the Lagrangian bound.** Let `p_i` be numbers with `sum_i p_i a_ij = 0` for every column that is looked for. Then
//! `sum_i p_i r_i = sum_i p_i b_i` whatever `x` is, and `M(x) = C + sum_i f_i(r_i)`, where `f_i(r) = w_i phi(r) - p_i r - m_i`
//! for a target, `m_i` the least value of the first two terms, and `f_i(r) = -p_i r` for a limit within `r <= 0`. The
//! constant `C = sum_i (p_i b_i + m_i)` is the Lagrangian bound of `M`. The least values exist where `|p_i| <= 16 w_i` for
//! a target (16 is the steepest slope of phi) and `p_i >= 0` for a limit. So every `f_i` is convex, piecewise straight and
//! never negative: 0 on an interval `[l_i, u_i]`, and climbing from its ends in pieces that grow steeper. The shadow prices of the
//! exact optimum are such numbers where its columns are at no bound of theirs, since their reduced costs are 0; else
//! all `p_i = 0`, which always are ([`tilt`] looks). A point `x` is better than the best one known exactly when `sum_i f_i(r_i) < B`, the
//! same sum at that one: what cannot be helped is gone from both sides.
//!
//! **What is left to spend.** Columns are settled one after another. The rows that no open column moves have their last
//! value; `S` is the sum of their `f_i`. None is negative, so whatever completes to a better point keeps
//! `sum f_i(r_i) < B - S` over the rows still moved.
//!
//! **Left null vectors.** Column `k` is next. Let `y` over the rows still moved be a left null vector of the columns behind it:
//! `sum_i y_i a_ij = 0` for each. Then `V = sum_i y_i r_i` is, whatever those become, `V_0 + c x_k`: `V_0` of the settled columns,
//! `c = sum_i y_i a_ik`.
//!
//! **The fractional knapsack bound.** `V` is at most the greatest `sum_i y_i r_i` with `sum_i f_i(r_i) <= B - S`, each `r_i` free of the
//! others. Row `i` reaches `y_i u_i` (`y_i l_i` where `y_i < 0`) for nothing. Beyond, a piece of slope `s` and length `d` gains
//! `|y_i| / s` for each unit spent, for up to `s d` units. Pieces grow steeper outwards, so a row's nearer piece never gains less
//! than a farther one, and taking all pieces of all rows by falling gain takes each row's in their order: this is the
//! fractional knapsack, which greed solves, for to move a unit from a piece of more gain to one of less never adds. A row
//! without an end makes the bound infinite. The same with `-y` bounds `V` from below. Both together hold `x_k` in an interval
//! ([`NullVector::interval`]); a rung outside it completes to no better point.
//!
//! **Rounding.** Null vectors are exact to 1e-9 of a column's largest effect and limits hold to 1e-9, so each interval is
//! wider by 1e-9 on both sides. A point that is better by about that little may be passed over.

use super::super::problem::{KNEES, SLOPES};
use super::grid::{Grid, Kind, Row};

/// Slopes and entries below this are rounding.
const NOTHING: f64 = 1e-9;
/// Shadow prices are orthogonal to a column to this share.
const ORTHOGONAL: f64 = 1e-7;

/// What one row costs, tilted by its shadow price: zero on `flat`, then pieces of growing slope to either side.
pub(super) struct Tilted {
    flat: (f64, f64),
    /// (slope, length) to the left and to the right, from the flat outwards.
    left: Vec<(f64, f64)>,
    right: Vec<(f64, f64)>,
    /// True when nothing to the right is allowed.
    wall: bool,
}

/// The costs of all rows, tilted by their shadow prices where these may tilt `rows` over `members`.
pub(super) fn tilt(grid: &Grid, members: &[usize], rows: &[usize]) -> Vec<Tilted> {
    let orthogonal = members.iter().all(|&at| {
        let (mut sum, mut size) = (0.0, 0.0_f64);
        for row in rows.iter().map(|&row| &grid.rows[row]) {
            sum += row.shadow_price * row.of[at];
            size += (row.shadow_price * row.of[at]).abs();
        }
        sum.abs() <= ORTHOGONAL * size
    });
    let bounded = rows.iter().map(|&row| &grid.rows[row]).all(|row| match row.kind {
        Kind::Target { weight } => row.shadow_price.abs() <= SLOPES[2] * weight + NOTHING,
        Kind::Limit { .. } => row.shadow_price >= 0.0,
    });
    let tilts = orthogonal && bounded;
    grid.rows.iter().map(|row| Tilted::new(row, if tilts { row.shadow_price } else { 0.0 })).collect()
}

impl Tilted {
    /// Of a row, with the shadow price that tilts it.
    fn new(row: &Row, price: f64) -> Self {
        let Kind::Target { weight } = row.kind else {
            let left = if price > NOTHING { vec![(price, f64::INFINITY)] } else { Vec::new() };
            let start = if left.is_empty() { f64::NEG_INFINITY } else { 0.0 };
            return Self { flat: (start, 0.0), left, right: Vec::new(), wall: true };
        };
        let edges = [f64::NEG_INFINITY, -KNEES[1], -KNEES[0], 0.0, KNEES[0], KNEES[1], f64::INFINITY];
        let slopes = [-SLOPES[2], -SLOPES[1], -SLOPES[0], SLOPES[0], SLOPES[1], SLOPES[2]].map(|s| s * weight - price);
        // the pieces before `first` fall, those from `after` on climb, and those between are flat; the last one, which has no
        // end, climbs even where it does so by a rounding
        let first = slopes.iter().position(|slope| *slope > -NOTHING).unwrap_or(slopes.len() - 1);
        let after = slopes.iter().position(|slope| *slope > NOTHING).unwrap_or(if slopes[5] > 0.0 { 5 } else { 6 });
        Self {
            flat: (edges[first], edges[after]),
            left: (0..first).rev().map(|at| (-slopes[at], edges[at + 1] - edges[at])).collect(),
            right: (after..slopes.len()).map(|at| (slopes[at], edges[at + 1] - edges[at])).collect(),
            wall: false,
        }
    }

    /// The tilted cost at `r`.
    pub(super) fn value(&self, r: f64) -> f64 {
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

/// How far a combination of rows can get for what may be spent.
struct Knapsack {
    /// What it reaches for nothing.
    base: f64,
    /// (gain for each unit spent, what may be spent on it), best first.
    pieces: Vec<(f64, f64)>,
}

impl Knapsack {
    /// Of the combination `y` over rows, with `sign` 1 or -1.
    fn new(y: &[(usize, f64)], sign: f64, tilted: &[Tilted]) -> Self {
        let mut knapsack = Self { base: 0.0, pieces: Vec::new() };
        for (row, coefficient) in y {
            let (tilted, c) = (&tilted[*row], sign * coefficient);
            let (end, pieces) = if c > 0.0 { (tilted.flat.1, &tilted.right) } else { (tilted.flat.0, &tilted.left) };
            knapsack.base += c * end;
            knapsack.pieces.extend(pieces.iter().map(|(slope, length)| (c.abs() / slope, slope * length)));
        }
        knapsack.pieces.sort_by(|a, b| b.0.total_cmp(&a.0));
        knapsack
    }

    fn most(&self, spend: f64) -> f64 {
        let (mut most, mut left) = (self.base, spend);
        for (gain, room) in &self.pieces {
            most += gain * left.min(*room);
            left -= room;
            if left <= 0.0 {
                break;
            }
        }
        most
    }
}

/// A left null vector of the columns behind one, and what bounds its value.
pub(super) struct NullVector {
    y: Vec<(usize, f64)>,
    up: Knapsack,
    down: Knapsack,
    /// What a unit of the column before them adds.
    of_column: f64,
}

impl NullVector {
    /// Those over `rows` of the columns `behind` the column `next`.
    pub(super) fn all(grid: &Grid, rows: &[usize], next: usize, behind: &[usize], tilted: &[Tilted]) -> Vec<Self> {
        left_null_vectors(grid, rows, behind)
            .into_iter()
            .map(|y| Self {
                up: Knapsack::new(&y, 1.0, tilted),
                down: Knapsack::new(&y, -1.0, tilted),
                of_column: y.iter().map(|(row, c)| c * grid.rows[*row].of[next]).sum(),
                y,
            })
            .collect()
    }

    /// Between which amounts the column must be for the misfit to stay below what may still be spent, where `residual` is
    /// that of the settled columns; the first is above the second where there are none.
    pub(super) fn interval(&self, residual: &[f64], spend: f64) -> (f64, f64) {
        let here: f64 = self.y.iter().map(|(row, c)| c * residual[*row]).sum();
        // rounding must not cut off what is just as good
        let most = self.up.most(spend) + NOTHING;
        let least = -self.down.most(spend) - NOTHING;
        if self.of_column == 0.0 {
            return if here > most || here < least { (0.0, -1.0) } else { (0.0, f64::INFINITY) };
        }
        let (a, b) = ((least - here) / self.of_column, (most - here) / self.of_column);
        (a.min(b), a.max(b))
    }
}

/// Left null vectors of `columns` over `rows`: what elimination leaves over, for every order of the rows.
pub(super) fn left_null_vectors(grid: &Grid, rows: &[usize], columns: &[usize]) -> Vec<Vec<(usize, f64)>> {
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

/// Keeps a vector once, whatever its length and sign.
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

#[cfg(test)]
mod tests {
    use super::super::super::problem::phi;
    use super::super::sample::{Numbers, ladders, problem};
    use super::*;

    const EDGES: [f64; 5] = [-KNEES[1], -KNEES[0], 0.0, KNEES[0], KNEES[1]];

    fn target(weight: f64) -> Row {
        Row { kind: Kind::Target { weight }, of: Vec::new(), base: 0.0, shadow_price: 0.0 }
    }

    fn limit() -> Row {
        let limit = super::super::super::problem::Limit::ShareAtMost;
        Row { kind: Kind::Limit { limit, give: 0.0 }, of: Vec::new(), base: 0.0, shadow_price: 0.0 }
    }

    /// One row, tilted by a shadow price that it may have: an edge case of its own now and then.
    fn tilted(numbers: &mut Numbers) -> Tilted {
        if numbers.chance(0.25) {
            return Tilted::new(&limit(), if numbers.chance(0.3) { 0.0 } else { numbers.between(0.1, 5.0) });
        }
        let weight = numbers.between(0.3, 2.0);
        let steep = [-SLOPES[2], -SLOPES[1], -SLOPES[0], SLOPES[0], SLOPES[1], SLOPES[2]];
        let price = if numbers.chance(0.3) { steep[numbers.below(6)] } else { numbers.between(-SLOPES[2], SLOPES[2]) };
        Tilted::new(&target(weight), weight * price)
    }

    #[test]
    fn tilting_takes_a_straight_line_and_leaves_nothing_negative() {
        let mut numbers = Numbers(1);
        for _ in 0..200 {
            let (weight, share) = (numbers.between(0.3, 2.0), numbers.between(-SLOPES[2], SLOPES[2]));
            let tilted = Tilted::new(&target(weight), weight * share);
            let plain = |r: f64| weight * (phi(r) - share * r);
            let least = EDGES.into_iter().map(plain).fold(f64::INFINITY, f64::min);
            for _ in 0..20 {
                let r = numbers.between(-1.0, 1.0);
                assert!((tilted.value(r) - (plain(r) - least)).abs() < 1e-9, "{weight} {share} {r}");
                assert!(tilted.value(r) >= 0.0);
            }
            let tilted = Tilted::new(&limit(), share.abs());
            assert!((tilted.value(-0.3) - 0.3 * share.abs()).abs() < 1e-9 && tilted.value(0.01).is_infinite());
        }
    }

    /// How far a row can go in the direction of `sign` for `spend`, by halving: from no end of its own that is taken on trust.
    fn farthest(tilted: &Tilted, sign: f64, spend: f64) -> f64 {
        let (mut near, mut far) = (sign * -1e3, sign * 1e3);
        // from somewhere that costs no more than it may
        for r in EDGES {
            if tilted.value(r) <= spend {
                near = r;
            }
        }
        for _ in 0..200 {
            let middle = f64::midpoint(near, far);
            if tilted.value(middle) <= spend { near = middle } else { far = middle }
        }
        near
    }

    /// The greatest sum of `y_i r_i` for `spend`, without greed: all but one of the rows stand at an edge, where the optimum of a
    /// piecewise straight program has them, and the last one takes what is left.
    fn greatest(y: &[(usize, f64)], tilted: &[Tilted], spend: f64) -> f64 {
        let edges: Vec<f64> = EDGES.into_iter().chain([-1e3, 1e3]).collect();
        let mut best = f64::NEG_INFINITY;
        for last in 0..y.len() {
            for mut number in 0..edges.len().pow(u32::try_from(y.len() - 1).expect("few")) {
                let (mut sum, mut left) = (0.0, spend);
                for (_, (row, c)) in y.iter().enumerate().filter(|(position, _)| *position != last) {
                    let r = edges[number % edges.len()];
                    number /= edges.len();
                    sum += c * r;
                    left -= tilted[*row].value(r);
                }
                if left >= 0.0 {
                    let (row, c) = y[last];
                    best = best.max(sum + c * farthest(&tilted[row], c.signum(), left));
                }
            }
        }
        best
    }

    #[test]
    fn the_knapsack_reaches_as_far_as_can_be_paid_and_no_farther() {
        let mut numbers = Numbers(2);
        let mut bounded = 0;
        for case in 0..300 {
            let rows: Vec<Tilted> = (0..3).map(|_| tilted(&mut numbers)).collect();
            let y: Vec<(usize, f64)> =
                (0..3).map(|row| (row, numbers.between(0.1, 1.0) * if numbers.chance(0.5) { 1.0 } else { -1.0 })).collect();
            for spend in [0.0, 0.02, 0.3, 4.0] {
                let (most, known) = (Knapsack::new(&y, 1.0, &rows).most(spend), greatest(&y, &rows, spend));
                if most.is_finite() && known < 50.0 {
                    assert!((most - known).abs() < 1e-6, "case {case}: {most} for {known} at {spend}");
                    bounded += 1;
                } else {
                    assert!(most > 50.0 && known > 50.0, "case {case}: {most} for {known} at {spend}");
                }
            }
        }
        assert!(bounded > 400, "{bounded}");
    }

    #[test]
    fn null_vectors_are_orthogonal_and_span_all_there_are() {
        let mut numbers = Numbers(3);
        for case in 0..200 {
            let ladders = ladders(&mut numbers, 4);
            let grid = problem(&mut numbers, &ladders, 5);
            let (rows, columns): (Vec<usize>, Vec<usize>) = ((0..5).collect(), (0..numbers.below(5)).collect());
            let found = left_null_vectors(&grid, &rows, &columns);
            for (y, &column) in found.iter().flat_map(|y| columns.iter().map(move |column| (y, column))) {
                let sum: f64 = y.iter().map(|(row, c)| c * grid.rows[*row].of[column]).sum();
                assert!(sum.abs() < 1e-8, "case {case}: {sum}");
            }
            let rank = |matrix: Vec<Vec<f64>>, size| {
                let right = vec![0.0; matrix.len()];
                super::super::super::dense::solve(matrix, right, size).0
            };
            let of_columns =
                rank(grid.rows.iter().map(|row| columns.iter().map(|&c| row.of[c]).collect()).collect(), columns.len());
            let dense = |y: &Vec<(usize, f64)>| {
                let mut line = vec![0.0; 5];
                for (row, c) in y {
                    line[*row] = *c;
                }
                line
            };
            assert_eq!(rank(found.iter().map(dense).collect(), 5), 5 - of_columns, "case {case}");
        }
    }
}
