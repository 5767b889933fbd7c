//! Amounts that an instrument can show: the same misfit over whole steps.

use super::ec::{beyond, tangent};
use super::exhaust::{self, Budget};
use super::model::{Model, Tangent};
use super::problem::{Limit, Problem, phi};
use super::solve::Solution;
use super::steps_ec;
use crate::matter::Nutrients;
use crate::quantity::whole_steps;

/// Whole steps of one instrument: `first` steps, one more, and so on to `last`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flight {
    /// The step, in the unit of the column (g, or mL for a bottle).
    pub step: f64,
    /// The fewest steps that are measured.
    pub first: i64,
    /// The most.
    pub last: i64,
}

/// What can be measured out of one column for the whole tank: nothing, or whole steps of one instrument after another.
///
/// Rung 0 is nothing; there is no rung between it and the smallest trusted amount.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ladder {
    flights: Vec<Flight>,
}

impl Ladder {
    /// From flights in ascending order of amount; empty ones are left out.
    #[must_use]
    pub fn new(flights: Vec<Flight>) -> Self {
        Self { flights: flights.into_iter().filter(|flight| flight.first <= flight.last).collect() }
    }

    /// The highest rung.
    #[must_use]
    pub fn top(&self) -> i64 {
        self.flights.iter().map(|flight| flight.last - flight.first + 1).sum()
    }

    /// The amount at a rung, without a last-bit tail: 182 steps of 0.1 are 18.2.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "steps stay far below 2^52")]
    pub fn amount(&self, rung: i64) -> f64 {
        let mut left = rung - 1;
        for flight in &self.flights {
            let rungs = flight.last - flight.first + 1;
            if left < rungs {
                return if left < 0 { 0.0 } else { whole_steps((flight.first + left) as f64, flight.step) };
            }
            left -= rungs;
        }
        self.flights.last().map_or(0.0, |flight| whole_steps(flight.last as f64, flight.step))
    }

    /// The highest rung whose amount is not above `amount`.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "clamped to the flight")]
    pub fn at_most(&self, amount: f64) -> i64 {
        let mut rung = 0;
        for flight in &self.flights {
            let steps = (amount / flight.step * (1.0 + 1e-12) + 1e-9).floor();
            if steps < flight.first as f64 {
                break;
            }
            rung += steps.min(flight.last as f64) as i64 - flight.first + 1;
        }
        rung
    }

    /// The rung nearest to `amount`.
    #[must_use]
    pub fn nearest(&self, amount: f64) -> i64 {
        let below = self.at_most(amount);
        let above = (below + 1).min(self.top());
        if self.amount(above) - amount < amount - self.amount(below) { above } else { below }
    }

    /// The smallest amount above nothing; infinite where nothing can be measured.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "steps stay far below 2^52")]
    pub fn smallest(&self) -> f64 {
        self.flights.first().map_or(f64::INFINITY, |flight| whole_steps(flight.first as f64, flight.step))
    }

    /// The step of the instrument that measures `amount`.
    pub(super) fn step_at(&self, amount: f64) -> f64 {
        let mut left = self.at_most(amount).max(1);
        let holds = self.flights.iter().find(|flight| {
            left -= flight.last - flight.first + 1;
            left <= 0
        });
        holds.or(self.flights.last()).map_or(0.0, |flight| flight.step)
    }
}

/// Amounts in whole steps.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// Amount of every column for the whole tank, in its unit.
    pub amounts: Vec<f64>,
    /// The misfit of these amounts.
    pub misfit: f64,
    /// True when no other whole steps of the same columns have a smaller misfit within the limits.
    pub proved: bool,
    /// Limits that had to give way because no whole steps keep them.
    pub gave_way: Vec<Limit>,
}

/// One row of the question in whole steps.
pub(super) struct Row {
    /// Weight of a target; a limit has none.
    pub(super) weight: Option<f64>,
    /// The limit, where it is one.
    pub(super) limit: Option<Limit>,
    /// What a unit of every column of the grid adds to the relative miss of a target, or to the excess over a limit.
    pub(super) of: Vec<f64>,
    /// The miss or excess with nothing of them.
    pub(super) base: f64,
    /// How far a limit may be exceeded when it has to give way.
    give: f64,
    /// What the exact optimum says of it: the slope of the misfit for a target, the multiplier of a limit.
    pub(super) price: f64,
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

/// An excess over a limit below this is rounding.
const TOLERANCE: f64 = 1e-9;
/// What the exact mix may be over a limit that does not bend.
const ROUNDING: f64 = 1e-7;
/// What whole steps may be beyond a limit of EC, relative, where the exact mix is not further beyond it.
const EC_STEPS: f64 = 1e-6;
/// A smaller gain is rounding.
const GAIN: f64 = 1e-12;
/// Slope of a limit that gives way.
const GIVING: f64 = 16.0;
/// How far a limit of EC or of the ammonium share may give way, relative: own choice, the model's own error.
const SHARE_GIVES: f64 = 0.03;
/// Moves that one descent may make.
const DESCENTS: usize = 300;
/// A local move goes this many rungs up or down.
const MOVES: [i64; 6] = [-1, 1, -2, 2, -3, 3];
/// A limit that this many steps of every column cannot reach does not tie the columns together.
const REACH_STEPS: f64 = 8.0;

/// True for a limit of EC.
pub(super) fn is_ec(limit: Limit) -> bool {
    matches!(limit, Limit::EcAtLeast | Limit::EcAtMost)
}

/// A column and by how many rungs it goes.
pub(super) type Move = (usize, i64);
/// What is done with a point that is tried.
pub(super) type Seen<'s> = dyn FnMut(Score, &[Move]) + 's;

/// How bad a point is: the excess over limits, then the misfit.
pub(super) type Score = (f64, f64);

pub(super) fn better(a: Score, b: Score) -> bool {
    if (a.0 - b.0).abs() > GAIN { a.0 < b.0 } else { a.1 < b.1 - GAIN }
}

impl Grid<'_> {
    pub(super) fn score(&self, residual: &[f64]) -> Score {
        let (mut excess, mut misfit) = (0.0, 0.0);
        for (row, r) in self.rows.iter().zip(residual) {
            match row.weight {
                Some(weight) => misfit += weight * phi(*r),
                None if *r > TOLERANCE => {
                    let give = if self.soft { row.give } else { 0.0 };
                    excess += (r - give - TOLERANCE).max(0.0);
                    misfit += if self.soft { GIVING * r } else { 0.0 };
                }
                None => {}
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

    /// The residuals after column `at` has moved by `rungs`, where its ladder goes that far.
    fn moved(&self, from: &Point, residual: &[f64], at: usize, rungs: i64) -> Option<Vec<f64>> {
        let (ladder, old) = (self.ladders[at], from.rungs[at]);
        let new = old + rungs;
        let (low, high) = self.between[at];
        if new < low || new > high {
            return None;
        }
        let change = ladder.amount(new) - ladder.amount(old);
        Some(self.rows.iter().zip(residual).map(|(row, r)| r + row.of[at] * change).collect())
    }

    /// Moves up to three of `members` by up to three rungs as long as that helps: pairs first, triples where pairs end.
    fn descend(&self, point: &mut Point, members: &[usize]) {
        let mut at_once = 2;
        for _ in 0..DESCENTS {
            let mut best: Option<(Score, Vec<Move>)> = None;
            let here = self.score(&point.residual);
            self.try_moves(point, &point.residual, members, at_once, &mut Vec::new(), &mut |score, moves| {
                if better(score, best.as_ref().map_or(here, |(score, _)| *score)) {
                    best = Some((score, moves.to_vec()));
                }
            });
            match best {
                Some((_, moves)) => {
                    let mut rungs = point.rungs.clone();
                    for (at, by) in &moves {
                        rungs[*at] += by;
                    }
                    *point = self.point(rungs);
                    at_once = 2;
                }
                None if at_once == 2 && members.len() > 2 => at_once = 3,
                None => break,
            }
        }
    }

    pub(super) fn try_moves(
        &self,
        from: &Point,
        residual: &[f64],
        members: &[usize],
        at_once: usize,
        moves: &mut Vec<Move>,
        seen: &mut Seen,
    ) {
        for (position, &at) in members.iter().enumerate() {
            for by in MOVES {
                let Some(next) = self.moved(from, residual, at, by) else { continue };
                moves.push((at, by));
                seen(self.score(&next), moves);
                if at_once > 1 {
                    self.try_moves(from, &next, &members[position + 1..], at_once - 1, moves, seen);
                }
                moves.pop();
            }
        }
    }

    /// Groups of columns that share a target, or a limit within reach; with the rows that tie them.
    fn components(&self) -> Vec<(Vec<usize>, Vec<usize>)> {
        let exact = self.rounded(|_, _| 0);
        let reach = |row: &Row, base: f64| {
            let mut most = base;
            for ((of, ladder), amount) in row.of.iter().zip(&self.ladders).zip(&self.exact) {
                let room = REACH_STEPS * ladder.step_at(*amount)
                    + if *amount < ladder.smallest() && ladder.top() > 0 { ladder.smallest() } else { 0.0 };
                most += of * amount + of.abs() * room;
            }
            most > 0.0
        };
        let tying: Vec<usize> = (0..self.rows.len())
            .filter(|&at| self.rows[at].weight.is_some() || reach(&self.rows[at], exact.residual[at]))
            .collect();
        let mut group: Vec<usize> = (0..self.ladders.len()).collect();
        for &row in &tying {
            let touched: Vec<usize> = (0..group.len()).filter(|&at| self.rows[row].of[at] != 0.0).collect();
            if let Some(least) = touched.iter().map(|&at| group[at]).min() {
                let joined: Vec<usize> = touched.iter().map(|&at| group[at]).collect();
                group.iter_mut().filter(|g| joined.contains(g)).for_each(|g| *g = least);
            }
        }
        let mut found: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
        for least in 0..group.len() {
            let members: Vec<usize> = (0..group.len()).filter(|&at| group[at] == least).collect();
            if !members.is_empty() {
                let rows =
                    tying.iter().copied().filter(|&row| members.iter().any(|&at| self.rows[row].of[at] != 0.0)).collect();
                found.push((members, rows));
            }
        }
        found
    }
}

/// The whole steps that come closest: those of the exact mix's columns, rounded, moved, and then searched to the end as far
/// as a fixed count of nodes goes, so that two machines give the same amounts.
///
/// * `problem`: the question, amounts in its unit per litre
/// * `exact`: its exact answer
/// * `ladders`: what can be measured of every column for the whole tank
/// * `litres`: volume of the tank, L
/// * `settled`: columns whose amount is not looked for but given (the acid, whose dose the pH decides), with it
/// * `plus_minus_ppm`: how far a limit of a nutrient may give way where no whole steps keep it, ppm
///
/// Returns amounts whose misfit is never above that of plain rounding within the limits. Stated limits hold; only where
/// none of the points looked at keeps them do they give way, at slope 16, and are named.
///
/// Reference: `docs/fit.md`.
#[must_use]
pub fn weigh(
    problem: &Problem,
    exact: &Solution,
    ladders: &[Ladder],
    litres: f64,
    settled: &[(usize, f64)],
    plus_minus_ppm: &Nutrients,
) -> Weighed {
    let is_settled = |at: usize| settled.iter().any(|(column, _)| *column == at);
    let columns: Vec<usize> = (0..problem.columns.len()).filter(|&at| exact.g_per_l[at] > 0.0 && !is_settled(at)).collect();
    let ec_off = beyond(problem, &exact.g_per_l, |_| true).max(EC_STEPS);
    let asked = Asked { problem, exact, ladders, litres, settled, plus_minus_ppm, columns, ec_off };
    // limits of EC aside: where they hold at the best of these, there is none better under them
    let mut open = asked.grid(false);
    let (point, proved) = search(&mut open);
    if asked.keeps_ec(&point.rungs) { asked.weighed(&open, &point, proved) } else { steps_ec::weigh(&asked) }
}

/// What is to be weighed out.
pub(super) struct Asked<'q, 'a> {
    problem: &'q Problem<'a>,
    exact: &'q Solution,
    ladders: &'q [Ladder],
    litres: f64,
    settled: &'q [(usize, f64)],
    plus_minus_ppm: &'q Nutrients,
    /// The columns whose steps are looked for.
    columns: Vec<usize>,
    /// What they may be beyond a limit of EC, relative.
    ec_off: f64,
}

/// The best whole steps of a grid, and whether there are proved to be none better.
pub(super) fn search(grid: &mut Grid) -> (Point, bool) {
    let everyone: Vec<usize> = (0..grid.ladders.len()).collect();
    let components = grid.components();
    let lower = grid.rounded(Ladder::at_most);
    let upper = grid.rounded(|ladder, exact| (ladder.at_most(exact) + 1).min(ladder.top()));
    let mut point = grid.rounded(Ladder::nearest);
    let descend = |grid: &Grid, point: &mut Point| components.iter().for_each(|(who, _)| grid.descend(point, who));
    descend(grid, &mut point);
    // limits: rounding down keeps every upper one, rounding up every lower one, and the way from there may keep all
    for mut other in [lower, upper] {
        if grid.score(&point.residual).0 > 0.0 {
            descend(grid, &mut other);
            if better(grid.score(&other.residual), grid.score(&point.residual)) {
                point = other;
            }
        }
    }
    let mut proved = false;
    if grid.score(&point.residual).0 > 0.0 {
        grid.soft = true;
        grid.descend(&mut point, &everyone);
    } else {
        let mut budget = Budget::default();
        let mut searched = Some(point.clone());
        let mut whole = true;
        for (members, rows) in &components {
            whole &= exhaust::search(grid, members, rows, &mut searched, &mut budget, &mut |_| true);
        }
        // a limit that was thought out of reach tells on the point that breaks it
        let searched = searched.filter(|searched| !better(grid.score(&point.residual), grid.score(&searched.residual)));
        proved = whole && searched.is_some();
        point = searched.unwrap_or(point);
    }
    (point, proved)
}

impl<'q> Asked<'q, '_> {
    /// The amounts of every column for the whole tank.
    fn amounts(&self, rungs: &[i64]) -> Vec<f64> {
        let mut amounts = vec![0.0; self.problem.columns.len()];
        for (column, amount) in self.settled {
            amounts[*column] = *amount;
        }
        for (&column, rung) in self.columns.iter().zip(rungs) {
            amounts[column] = self.ladders[column].amount(*rung);
        }
        amounts
    }

    /// How far EC is beyond those of its limits that `counts` names, relative.
    pub(super) fn ec_beyond(&self, rungs: &[i64], counts: impl Fn(Limit) -> bool) -> f64 {
        let per_litre: Vec<f64> = self.amounts(rungs).iter().map(|amount| amount / self.litres).collect();
        beyond(self.problem, &per_litre, counts)
    }

    /// True where every limit of EC holds as well as at the exact mix.
    pub(super) fn keeps_ec(&self, rungs: &[i64]) -> bool {
        self.ec_beyond(rungs, |_| true) <= self.ec_off
    }

    /// A point of the grid as the answer; limits of EC by EC itself and not by a tangent.
    pub(super) fn weighed(&self, grid: &Grid, point: &Point, proved: bool) -> Weighed {
        let amounts = self.amounts(&point.rungs);
        let per_litre: Vec<f64> = amounts.iter().map(|amount| amount / self.litres).collect();
        let broken = grid.rows.iter().zip(&point.residual).filter(|(_, r)| **r > TOLERANCE);
        let mut gave_way: Vec<Limit> = broken.filter_map(|(row, _)| row.limit).filter(|limit| !is_ec(*limit)).collect();
        let of_ec = [Limit::EcAtLeast, Limit::EcAtMost].into_iter();
        gave_way.extend(of_ec.filter(|limit| self.ec_beyond(&point.rungs, |other| other == *limit) > self.ec_off));
        Weighed { misfit: self.problem.misfit(&self.problem.achieved_ppm(&per_litre)), amounts, proved, gave_way }
    }

    /// The grid, with limits of EC by their tangent at the exact mix where `with_ec` says so.
    pub(super) fn grid(&self, with_ec: bool) -> Grid<'q> {
        let Self { problem, exact, ladders, settled, plus_minus_ppm, .. } = *self;
        let (litres, columns) = (self.litres, &self.columns);
        let mut given = vec![0.0; problem.columns.len()];
        for (column, amount) in settled {
            given[*column] = amount / litres;
        }
        let base = problem.achieved_ppm(&given);
        let mut rows: Vec<Row> = Vec::new();
        for (at, want) in problem.wants.iter().enumerate() {
            let Some(target) = want.target_ppm else { continue };
            let of = columns.iter().map(|&c| problem.columns[c].ppm_per_g_per_l[want.nutrient] / litres / target).collect();
            rows.push(Row {
                weight: Some(want.weight),
                limit: None,
                of,
                base: (base[want.nutrient] - target) / target,
                give: 0.0,
                price: exact.prices.per_want.get(at).copied().unwrap_or(0.0),
            });
        }
        let model = Model::new(problem);
        let tangents: Vec<Tangent> = [Limit::EcAtLeast, Limit::EcAtMost]
            .into_iter()
            .filter(|_| with_ec)
            .filter_map(|limit| tangent(problem, limit, &exact.g_per_l))
            .collect();
        for row in model.limit_rows(&tangents) {
            let sign = if row.relation == super::linear::Relation::AtLeast { -1.0 } else { 1.0 };
            let per_litre = |column: usize| -> f64 {
                let of = row.terms.iter().filter(|(at, _)| model.columns[*at] == column);
                of.map(|(at, a)| sign * a / model.unit[*at]).sum()
            };
            let relative = |nutrient, level: Option<f64>| {
                let scale = problem.wants.iter().find(|want| want.nutrient == nutrient).and_then(|want| want.target_ppm);
                plus_minus_ppm[nutrient] / scale.or(level).filter(|scale| *scale > 0.0).unwrap_or(1.0)
            };
            let level = |nutrient, low: bool| {
                let want = problem.wants.iter().find(|want| want.nutrient == nutrient)?;
                if low { want.min_ppm } else { want.max_ppm }
            };
            let give = match row.limit {
                Limit::AtLeast(nutrient) => relative(nutrient, level(nutrient, true)),
                Limit::AtMost(nutrient) => relative(nutrient, level(nutrient, false)),
                _ => SHARE_GIVES,
            };
            let of_settled: f64 = settled.iter().map(|(column, amount)| per_litre(*column) * amount / litres).sum();
            rows.push(Row {
                weight: None,
                limit: Some(row.limit),
                of: columns.iter().map(|&column| per_litre(column) / litres).collect(),
                base: of_settled - sign * row.right,
                give,
                price: exact.prices.per_limit.iter().find(|(limit, _)| *limit == row.limit).map_or(0.0, |(_, price)| *price),
            });
        }
        // the exact mix keeps a limit to within rounding, and EC to within its tolerance: whole steps need do no better
        for row in rows.iter_mut().filter(|row| row.weight.is_none()) {
            let bends = row.limit.is_some_and(is_ec);
            let tolerance = if bends { self.ec_off } else { ROUNDING };
            let amounts = columns.iter().map(|&column| exact.g_per_l[column] * litres);
            let there = row.base + row.of.iter().zip(amounts).map(|(of, amount)| of * amount).sum::<f64>();
            row.base -= there.clamp(0.0, tolerance);
        }
        Grid {
            ladders: columns.iter().map(|&column| &ladders[column]).collect(),
            between: columns.iter().map(|&column| (0, ladders[column].top())).collect(),
            exact: columns.iter().map(|&column| exact.g_per_l[column] * litres).collect(),
            rows,
            soft: false,
        }
    }
}
