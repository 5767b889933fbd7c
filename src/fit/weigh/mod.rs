//! Amounts that instruments can show: the same misfit over whole steps.

mod asked;
mod bound;
mod descent;
mod exhaust;
mod grid;
mod ladder;
#[cfg(test)]
mod sample;
mod under_ec;

use self::asked::Asked;
use self::descent::descend;
use self::exhaust::Budget;
use self::grid::{Grid, Point, better};
pub use self::ladder::{Flight, Ladder};
use super::answer::Solution;
use super::problem::{Limit, Problem};
use crate::matter::Nutrients;

/// An exact answer that is to be weighed out.
#[derive(Clone, Copy)]
pub struct ToWeigh<'q, 'a> {
    /// The question, amounts in its unit per litre.
    pub problem: &'q Problem<'a>,
    /// Its exact answer.
    pub exact: &'q Solution,
    /// What can be measured of every column for the whole tank.
    pub ladders: &'q [Ladder],
    /// Volume of the tank, L.
    pub litres: f64,
    /// Columns whose amount is not looked for but given (the acid, whose dose the pH decides), with it.
    pub settled: &'q [(usize, f64)],
    /// Where the pH is to stay, if anywhere.
    pub ph: Option<&'q PhBand>,
    /// How far a limit of a nutrient may give way where no whole steps keep it, ppm.
    pub plus_minus_ppm: &'q Nutrients,
}

/// Between which bounds whole steps are to leave the pH, linear for frozen mean charges. It is a wish and no limit of the formula: who
/// asks judges what comes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct PhBand {
    /// What a unit per litre of each column adds, meq/L, and what the sum comes to at the highest pH.
    pub at_most: (Vec<f64>, f64),
    /// The same at the lowest pH.
    pub at_least: (Vec<f64>, f64),
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
    /// Limits that had to give way because no whole steps keep them; the pH among them where its bounds did.
    pub gave_way: Vec<Limit>,
}

/// The whole steps that come closest: those of the exact mix's columns, rounded, moved, and then searched to the end as far
/// as a fixed count of nodes goes, so that two machines give the same amounts.
///
/// Returns amounts whose misfit is never above that of plain rounding within the limits. Stated limits hold; only where
/// none of the points looked at keeps them do they give way, at slope 16, and are named.
///
/// Reference: `docs/fit.md`.
#[must_use]
pub fn weigh(to_weigh: &ToWeigh) -> Weighed {
    let asked = Asked::new(to_weigh);
    // limits of EC aside: where they hold at the best of these, there is none better under them
    let mut open = asked.grid(false);
    let (point, proved) = search(&mut open);
    if asked.keeps_ec(&point.rungs) { asked.weighed(&open, &point, proved) } else { under_ec::weigh(&asked) }
}

/// The best whole steps of a grid, and whether there are proved to be none better.
fn search(grid: &mut Grid) -> (Point, bool) {
    let components = grid.components();
    let lower = grid.rounded(Ladder::at_most);
    let upper = grid.rounded(|ladder, exact| (ladder.at_most(exact) + 1).min(ladder.top()));
    let mut point = grid.rounded(Ladder::nearest);
    let descend_all =
        |grid: &Grid, point: &mut Point| components.iter().for_each(|component| descend(grid, point, &component.members));
    descend_all(grid, &mut point);
    // limits: rounding down keeps every upper one, rounding up every lower one, and the way from there may keep all
    for mut other in [lower, upper] {
        if grid.score(&point.residual).0 > 0.0 {
            descend_all(grid, &mut other);
            if better(grid.score(&other.residual), grid.score(&point.residual)) {
                point = other;
            }
        }
    }
    if grid.score(&point.residual).0 > 0.0 {
        grid.soft = true;
        descend(grid, &mut point, &grid.everything().members);
        return (point, false);
    }
    let mut budget = Budget::default();
    let mut searched = Some(point.clone());
    let mut whole = true;
    for component in &components {
        whole &= exhaust::search(grid, component, &mut searched, &mut budget, &mut |_| true);
    }
    // a limit that was thought out of reach tells on the point that breaks it
    match searched.filter(|searched| !better(grid.score(&point.residual), grid.score(&searched.residual))) {
        Some(searched) => (searched, whole),
        None => (point, false),
    }
}
