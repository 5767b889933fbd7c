//! Small random questions in whole steps, for the tests beside the code.

use super::super::problem::{Limit, SLOPES};
pub(super) use super::super::sample::Numbers;
use super::bound::left_null_vectors;
use super::grid::{Grid, Kind, Row};
use super::ladder::{Flight, Ladder};

/// Ladders of up to some ten rungs, to an amount of about 1.
pub(super) fn ladders(numbers: &mut Numbers, count: usize) -> Vec<Ladder> {
    (0..count)
        .map(|_| {
            let step = numbers.between(0.1, 0.25);
            let first = 1 + i64::from(numbers.chance(0.3));
            Ladder::new(vec![Flight { step, first, last: 4 + i64::from(numbers.chance(0.5)) }])
        })
        .collect()
}

/// A question over these ladders: rows of which each is moved by some of the columns, the last one a limit now and then.
pub(super) fn problem<'l>(numbers: &mut Numbers, ladders: &'l [Ladder], rows: usize) -> Grid<'l> {
    let exact: Vec<f64> = ladders.iter().map(|_| numbers.between(0.2, 0.9)).collect();
    let row = |at: usize, numbers: &mut Numbers| {
        let mut of: Vec<f64> =
            ladders.iter().map(|_| if numbers.chance(0.6) { numbers.between(0.1, 1.0) } else { 0.0 }).collect();
        of[at % ladders.len()] = numbers.between(0.3, 1.0);
        // the exact mix nearly meets a target, and keeps a limit by little
        let there: f64 = of.iter().zip(&exact).map(|(of, amount)| of * amount).sum();
        if at + 1 == rows && numbers.chance(0.5) {
            let limit = Limit::ShareAtMost;
            return Row {
                kind: Kind::Limit { limit, give: 0.0 },
                of,
                base: -there - numbers.between(0.0, 0.1),
                shadow_price: 0.0,
            };
        }
        let base = numbers.between(-0.1, 0.1) - there;
        Row { kind: Kind::Target { weight: numbers.between(0.3, 2.0) }, of, base, shadow_price: 0.0 }
    };
    let rows = (0..rows).map(|at| row(at, numbers)).collect();
    let between = ladders.iter().map(|ladder| (0, ladder.top())).collect();
    Grid { ladders: ladders.iter().collect(), exact, rows, between, soft: false }
}

/// Gives every row the shadow price that one left null vector of all columns has for it, as steep as its penalty allows; false
/// where there is none that a limit allows.
pub(super) fn orthogonal_prices(grid: &mut Grid) -> bool {
    let everything = grid.everything();
    let steepest = |row: &Row| match row.kind {
        Kind::Target { weight } => SLOPES[2] * weight,
        Kind::Limit { .. } => f64::INFINITY,
    };
    for y in left_null_vectors(grid, &everything.rows, &everything.members) {
        let limit = y.iter().find(|(row, _)| grid.rows[*row].limit().is_some());
        let sign = limit.map_or(1.0, |(_, c)| c.signum());
        let scale = y.iter().map(|(row, c)| steepest(&grid.rows[*row]) / c.abs()).fold(f64::INFINITY, f64::min);
        if scale.is_finite() {
            for (row, c) in y {
                grid.rows[row].shadow_price = sign * scale * c;
            }
            return true;
        }
    }
    false
}
