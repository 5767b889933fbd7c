//! Whole steps where a limit of EC ties: EC bends, so every point that is taken is judged by EC itself.

use super::asked::{Asked, is_ec};
use super::descent::{Move, after, neighbours};
use super::exhaust::{self, Budget};
use super::grid::{Grid, Point, Score, better};
use super::ladder::Ladder;
use super::{Weighed, search};

/// Rounds in which the tangent's steps are brought under the limit, and how near to the exact mix they look, rungs.
const ROUNDS: usize = 6;
const NEAR_RUNGS: i64 = 3;
/// Moves that one descent may make, and points whose EC it may try at each.
const DESCENTS: usize = 20;
const TRIES: usize = 10;
/// Points whose EC the search to the end may try: a count and not a time.
const SEARCH_TRIES: usize = 150;

/// The best whole steps that are found; proved only where the whole range was searched.
pub(super) fn weigh(asked: &Asked) -> Weighed {
    let open = asked.grid(false);
    let mut tied = asked.grid(true);
    let keeps = |point: &Point| open.score(&point.residual).0 <= 0.0 && asked.keeps_ec(&point.rungs);
    let mut best: Option<Point> = None;
    let mut take = |point: Point| {
        let nearer = best.as_ref().is_none_or(|best| better(open.score(&point.residual), open.score(&best.residual)));
        if nearer && keeps(&point) {
            best = Some(point);
        }
    };
    for round in 0..ROUNDS {
        let (point, _) = search(&mut tied);
        take(open.point(point.rungs.clone()));
        if asked.keeps_ec(&point.rungs) || tied.soft {
            break;
        }
        let off = asked.ec_beyond(&point.rungs, |_| true);
        // the search went too far along the tangent: it looks nearer to the exact mix and keeps a margin
        for row in tied.rows.iter_mut().filter(|row| row.limit().is_some_and(is_ec)) {
            row.base += off;
        }
        if round == 0 {
            // or to these steps, where the bottles have thinned the exact mix beyond a limit
            let from_exact = asked.exact_keeps_ec();
            let starts = tied.exact.iter().zip(&point.rungs);
            for ((between, ladder), (exact, rung)) in tied.between.iter_mut().zip(&tied.ladders).zip(starts) {
                let near = if from_exact { ladder.nearest(*exact) } else { *rung };
                *between = ((near - NEAR_RUNGS).max(0), (near + NEAR_RUNGS).min(ladder.top()));
            }
        }
    }
    for to in [Ladder::nearest, Ladder::at_most] {
        take(open.rounded(to));
    }
    take(open.rounded(|ladder, exact| (ladder.at_most(exact) + 1).min(ladder.top())));
    let mut left = SEARCH_TRIES;
    let mut keeps = |rungs: &[i64]| {
        left = left.saturating_sub(1);
        left > 0 && asked.keeps_ec(rungs)
    };
    if let Some(best) = &mut best {
        descend(asked, &open, best);
    }
    // with none to beat yet, the first that keeps every limit is one
    let complete = exhaust::search(&open, &open.everything(), &mut best, &mut Budget::default(), &mut keeps);
    if let Some(best) = best {
        return asked.weighed(&open, &best, complete && left > 0);
    }
    // none that was tried keeps every limit: the tangent's, and what gave way for it
    let mut soft = asked.grid(true);
    let (point, _) = search(&mut soft);
    asked.weighed(&soft, &point, false)
}

/// Moves up to two columns by up to three rungs as long as that helps and EC holds.
fn descend(asked: &Asked, open: &Grid, point: &mut Point) {
    let everyone = open.everything().members;
    for _ in 0..DESCENTS {
        let here = open.score(&point.residual);
        let mut found: Vec<(Score, Vec<Move>)> = Vec::new();
        neighbours(open, point, &everyone, 2, &mut |score, moves| {
            if score.0 <= 0.0 && better(score, here) {
                found.push((score, moves.to_vec()));
            }
        });
        found.sort_by(|a, b| a.0.1.total_cmp(&b.0.1).then_with(|| a.1.cmp(&b.1)));
        let mut tried = found.iter().take(TRIES).map(|(_, moves)| after(point, moves));
        let Some(next) = tried.find(|rungs| asked.keeps_ec(rungs)) else {
            return;
        };
        *point = open.point(next);
    }
}
