//! The search for the best of all choices of starts.
//!
//! What is met depends only on how far starts lie apart, so the search goes over the days between the first start and each other, in
//! boxes of whole days. A box is left when its bound, every pair at its best within the box, does not beat what is found.

use super::crossing::{Meets, StartsProof};

/// More starts than this are not searched to the end: own choice, since the work grows by a factor with each.
pub(super) const STARTS_AT_MOST: usize = 12;
/// Boxes looked at before the search is given up.
const BOXES_AT_MOST: usize = 200_000;
/// Rounds of moving one start after the other.
const ROUNDS_AT_MOST: usize = 100;

/// How far a start may move, days.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) earliest: i32,
    pub(super) latest: i32,
}

/// Starts that move, and what they meet.
pub(super) struct Problem<'a> {
    pub(super) places: Vec<Place>,
    /// What the first and the second meet when the first moves so many days more.
    pub(super) pair: &'a dyn Fn(usize, i32, usize) -> Meets,
    /// The moves of the first beside the second, from and to, outside of which they do not meet.
    pub(super) touch: &'a dyn Fn(usize, usize) -> (i32, i32),
}

/// What a choice is worth: what meets, then days moved, less being more.
type Worth = (Meets, i32);

impl Problem<'_> {
    fn pairs(&self) -> impl Iterator<Item = (usize, usize)> + use<> {
        let many = self.places.len();
        (0..many).flat_map(move |one| (one + 1..many).map(move |other| (one, other)))
    }

    /// What meets after moves.
    pub(super) fn meets(&self, moves: &[i32]) -> Meets {
        let each = self.pairs().map(|(one, other)| (self.pair)(one, moves[one] - moves[other], other));
        each.fold(Meets::default(), |sum, one| sum + one)
    }

    fn worth(&self, moves: &[i32]) -> Worth {
        (self.meets(moves), -moves.iter().map(|days| days.abs()).sum::<i32>())
    }

    /// The best that moving one start after the other gives, until no single move is better.
    fn one_by_one(&self) -> Vec<i32> {
        let mut moves = vec![0; self.places.len()];
        for _ in 0..ROUNDS_AT_MOST {
            let before = moves.clone();
            for one in 0..moves.len() {
                moves[one] = self.best_move(one, &moves);
            }
            if moves == before {
                break;
            }
        }
        moves
    }

    /// The best move of one start while the others stay; the one it has where none is better.
    fn best_move(&self, one: usize, moves: &[i32]) -> i32 {
        let Place { earliest, latest } = self.places[one];
        let worth = |days: i32| {
            let others = (0..moves.len()).filter(|other| *other != one);
            let each = others.map(|other| (self.pair)(one, days - moves[other], other));
            (each.fold(Meets::default(), |sum, one| sum + one), -days.abs())
        };
        let other = (earliest..=latest).map(|days| (worth(days), days)).max();
        other.filter(|(other, _)| *other > worth(moves[one])).map_or(moves[one], |(_, days)| days)
    }
}

/// The moves of all starts, days, that are worth the most, and whether every choice was looked at.
pub(super) fn best(problem: &Problem) -> (Vec<i32>, StartsProof) {
    let moves = problem.one_by_one();
    if moves.len() < 2 {
        return (moves, StartsProof::Best);
    }
    if moves.len() > STARTS_AT_MOST {
        return (moves, StartsProof::BestFound);
    }
    let tables = problem.pairs().map(|(one, other)| (one, other, Table::of(problem, one, other))).collect();
    let mut search = Search { places: &problem.places, tables, worth: problem.worth(&moves), moves };
    let proof = search.exhaust();
    (search.moves, proof)
}

/// What a pair meets for every move of the first beside the second, and the most of every run of 2, 4, 8, … of them.
struct Table {
    /// The move of the first entry; before it and after the last nothing meets.
    from: i32,
    most: Vec<Vec<Meets>>,
}

impl Table {
    fn of(problem: &Problem, one: usize, other: usize) -> Self {
        let (from, to) = (problem.touch)(one, other);
        let [first, second] = [one, other].map(|at| problem.places[at]);
        let from = from.max(first.earliest - second.latest);
        let to = to.min(first.latest - second.earliest);
        let mut most = vec![(from..=to).map(|moved| (problem.pair)(one, moved, other)).collect::<Vec<_>>()];
        let mut step = 1;
        while let Some(longer) = most.last().filter(|last| last.len() > step) {
            let longer = longer.iter().zip(&longer[step..]).map(|(a, b)| *a.max(b)).collect();
            most.push(longer);
            step *= 2;
        }
        Self { from, most }
    }

    /// The most for moves of `low` to `high`.
    fn most(&self, low: i32, high: i32) -> Meets {
        let last = self.most[0].len();
        let place = |days: i32| usize::try_from(days - self.from).unwrap_or(0);
        let (low, end) = (place(low), place(high + 1).min(last));
        if high < self.from || low >= end {
            return Meets::default();
        }
        let level = (end - low).ilog2();
        let runs = &self.most[level as usize];
        runs[low].max(runs[end - (1 << level)])
    }
}

/// Starts that lie so many days, at the least and at the most, after the first.
type Apart = Vec<(i32, i32)>;

struct Search<'a> {
    places: &'a [Place],
    tables: Vec<(usize, usize, Table)>,
    /// The best so far.
    moves: Vec<i32>,
    worth: Worth,
}

impl Search<'_> {
    fn exhaust(&mut self) -> StartsProof {
        let first = self.places[0];
        let whole = self.places.iter().map(|place| (place.earliest - first.latest, place.latest - first.earliest));
        let mut whole: Apart = whole.collect();
        whole[0] = (0, 0);
        let mut open: Vec<(Worth, Apart)> = self.bound(&whole).map(|(bound, _)| (bound, whole)).into_iter().collect();
        for _ in 0..BOXES_AT_MOST {
            let Some((bound, apart)) = open.pop() else { return StartsProof::Best };
            if bound <= self.worth {
                continue;
            }
            let widest = (0..apart.len()).max_by_key(|&at| apart[at].1 - apart[at].0).unwrap_or(0);
            let (low, high) = apart[widest];
            let middle = low + (high - low) / 2;
            let mut halves: Vec<(Worth, Apart)> = [(low, middle), (middle + 1, high)]
                .into_iter()
                .filter(|(low, high)| low <= high)
                .filter_map(|half| {
                    let mut apart = apart.clone();
                    apart[widest] = half;
                    let (bound, first) = self.bound(&apart)?;
                    if bound > self.worth && apart.iter().all(|(low, high)| low == high) {
                        self.moves = apart.iter().map(|(low, _)| first + low).collect();
                        self.worth = bound;
                    }
                    (bound > self.worth).then_some((bound, apart))
                })
                .collect();
            // the better half is looked at first
            halves.sort_by_key(|(bound, _)| *bound);
            open.extend(halves);
        }
        StartsProof::BestFound
    }

    /// What no choice of a box beats, and the move of the first start by which the box moves least; of a single choice it is its
    /// worth. `None` where no choice of it is allowed.
    fn bound(&self, apart: &Apart) -> Option<(Worth, i32)> {
        let each = self
            .tables
            .iter()
            .map(|(one, other, table)| table.most(apart[*one].0 - apart[*other].1, apart[*one].1 - apart[*other].0));
        let meets = each.fold(Meets::default(), |sum, one| sum + one);
        let placed = || self.places.iter().zip(apart);
        let earliest = placed().map(|(place, (_, high))| place.earliest - high).max()?;
        let latest = placed().map(|(place, (low, _))| place.latest - low).min()?;
        if earliest > latest {
            return None;
        }
        let moved = |first: i32| -> i32 { apart.iter().map(|(low, high)| (first + low).max(-(first + high)).max(0)).sum() };
        // days moved against the move of the first are convex and turn where a start is not moved
        let turns = apart.iter().flat_map(|(low, high)| [-low, -high]).map(|first| first.clamp(earliest, latest));
        let (days, first) = turns.map(|first| (moved(first), -first)).min()?;
        Some(((meets, -days), -first))
    }
}
