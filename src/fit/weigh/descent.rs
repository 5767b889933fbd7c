//! Local moves of few columns by few rungs, as long as they help.

use super::grid::{Grid, Point, Score, better};

/// Moves that one descent may make.
const DESCENTS: usize = 300;
/// A local move goes this many rungs up or down.
const RUNGS: [i64; 6] = [-1, 1, -2, 2, -3, 3];

/// A column and by how many rungs it goes.
pub(super) type Move = (usize, i64);
/// What is done with the moves that are tried.
type Seen<'s> = dyn FnMut(Score, &[Move]) + 's;

/// Moves up to three of `members` by up to three rungs as long as that helps: pairs first, triples where pairs end.
pub(super) fn descend(grid: &Grid, point: &mut Point, members: &[usize]) {
    let mut at_once = 2;
    for _ in 0..DESCENTS {
        let mut best: Option<(Score, Vec<Move>)> = None;
        let here = grid.score(&point.residual);
        neighbours(grid, point, members, at_once, &mut |score, moves| {
            if better(score, best.as_ref().map_or(here, |(score, _)| *score)) {
                best = Some((score, moves.to_vec()));
            }
        });
        match best {
            Some((_, moves)) => {
                *point = grid.point(after(point, &moves));
                at_once = 2;
            }
            None if at_once == 2 && members.len() > 2 => at_once = 3,
            None => break,
        }
    }
}

/// The rungs after some moves.
pub(super) fn after(point: &Point, moves: &[Move]) -> Vec<i64> {
    let mut rungs = point.rungs.clone();
    for (at, by) in moves {
        rungs[*at] += by;
    }
    rungs
}

/// Shows `seen` every move of up to `at_once` of `members`, and how good it is.
pub(super) fn neighbours(grid: &Grid, from: &Point, members: &[usize], at_once: usize, seen: &mut Seen) {
    Neighbours { grid, from, moves: Vec::new(), seen }.try_moves(&from.residual, members, at_once);
}

struct Neighbours<'n, 'l> {
    grid: &'n Grid<'l>,
    from: &'n Point,
    /// Those made so far.
    moves: Vec<Move>,
    seen: &'n mut Seen<'n>,
}

impl Neighbours<'_, '_> {
    fn try_moves(&mut self, residual: &[f64], members: &[usize], at_once: usize) {
        for (position, &at) in members.iter().enumerate() {
            for by in RUNGS {
                let Some(next) = self.moved(residual, at, by) else { continue };
                self.moves.push((at, by));
                (self.seen)(self.grid.score(&next), &self.moves);
                if at_once > 1 {
                    self.try_moves(&next, &members[position + 1..], at_once - 1);
                }
                self.moves.pop();
            }
        }
    }

    /// The residuals after column `at` has moved by `rungs`, where its ladder goes that far.
    fn moved(&self, residual: &[f64], at: usize, rungs: i64) -> Option<Vec<f64>> {
        let (ladder, old) = (self.grid.ladders[at], self.from.rungs[at]);
        let new = old + rungs;
        let (low, high) = self.grid.between[at];
        if new < low || new > high {
            return None;
        }
        let change = ladder.amount(new) - ladder.amount(old);
        Some(self.grid.rows.iter().zip(residual).map(|(row, r)| r + row.of[at] * change).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::super::grid::{Grid, Point, better};
    use super::super::ladder::Ladder;
    use super::super::sample::{Numbers, ladders, problem};
    use super::{RUNGS, after, descend, neighbours};

    /// Every move is of different columns, stays on their ladders, and leaves what it is said to leave.
    #[test]
    fn a_move_goes_once_along_each_of_its_columns_and_leaves_what_is_told() {
        let mut numbers = Numbers(11);
        let mut seen = [0; 3];
        for case in 0..40 {
            let ladders = ladders(&mut numbers, 4);
            let mut grid = problem(&mut numbers, &ladders, 5);
            grid.between[case % 4] = (1, 3);
            let from = grid.rounded(|ladder, exact| ladder.nearest(exact).clamp(1, 3));
            neighbours(&grid, &from, &[0, 1, 2, 3], 3, &mut |score, moves| {
                seen[moves.len() - 1] += 1;
                assert!(moves.windows(2).all(|pair| pair[0].0 < pair[1].0), "case {case}: {moves:?}");
                let rungs = after(&from, moves);
                let within = rungs.iter().zip(&grid.between).all(|(rung, (low, high))| (low..=high).contains(&rung));
                assert!(within, "case {case}: {moves:?} to {rungs:?}");
                let there = grid.score(&grid.point(rungs).residual);
                assert!((there.0 - score.0).abs() < 1e-9 && (there.1 - score.1).abs() < 1e-9, "case {case}: {moves:?}");
            });
        }
        assert!(seen.iter().all(|count| *count > 300), "{seen:?}");
    }

    /// The best that any move of up to `at_once` columns reaches, each by its own count of rungs: looked for anew.
    fn best_near(grid: &Grid, point: &Point, from: usize, at_once: usize) -> (f64, f64) {
        let mut best = grid.score(&point.residual);
        for at in (from..grid.ladders.len()).take_while(|_| at_once > 0) {
            for by in RUNGS {
                let mut rungs = point.rungs.clone();
                rungs[at] += by;
                let (low, high) = grid.between[at];
                if (low..=high).contains(&rungs[at]) {
                    let found = best_near(grid, &grid.point(rungs), at + 1, at_once - 1);
                    best = if better(found, best) { found } else { best };
                }
            }
        }
        best
    }

    /// Where a descent ends, no move of three columns helps, and what it began with was no better.
    #[test]
    fn a_descent_ends_where_no_three_columns_help() {
        let mut numbers = Numbers(12);
        for case in 0..150 {
            let ladders = ladders(&mut numbers, 4);
            let grid = problem(&mut numbers, &ladders, 5);
            let start = grid.rounded(Ladder::nearest);
            let mut point = start.clone();
            descend(&grid, &mut point, &[0, 1, 2, 3]);
            let here = grid.score(&point.residual);
            assert!(!better(best_near(&grid, &point, 0, 3), here), "case {case}: {point:?}");
            assert!(!better(grid.score(&start.residual), here), "case {case}: {point:?}");
        }
    }
}
