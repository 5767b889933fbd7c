//! A trade-off as a small table and, on a terminal, a plot.

use super::page::{Page, Table, left, right};
use super::text::text;
use crate::jobs::{TradePoint, TradeRecord};
use crate::quantity::{fixed, ppm_text};

/// Columns and rows of the plot.
const WIDTH: usize = 56;
const HEIGHT: usize = 12;

/// The report of a trade-off; `plot` adds the picture.
#[must_use]
pub fn trade(record: &TradeRecord, colour: bool, plot: bool) -> String {
    text(&trade_page(record, plot), colour)
}

pub(super) fn trade_page(record: &TradeRecord, plot: bool) -> Page {
    let title = format!("{} AGAINST {} in {}", record.reached, record.along, record.formula.to_uppercase());
    let mut page = Page::new("", "");
    page.section_of("", &title, &format!("with the shelf of {}", record.bench));
    let mut table = Table::new([right(&record.along), right(&record.reached), right("off in all"), left("")]);
    table.row(["ppm", "ppm", "", ""]);
    for point in &record.points {
        table.row([
            ppm_text(point.along_ppm),
            reached(point),
            point.misfit.map_or_else(String::new, |misfit| fixed(misfit, 3)),
            if is_asked(record, point.along_ppm) { "  as asked".to_owned() } else { String::new() },
        ]);
    }
    page.table(table);
    if plot {
        page.gap();
        picture(&mut page, record);
    }
    page.gap();
    let rest = "Everything else of the formula is met as well as the shelf allows, before rounding and without acid.";
    page.say(format!("{} {rest}", told(record)));
    page
}

/// Levels at which the limits can be kept, each with what is reached there, ppm.
pub(super) fn possible(record: &TradeRecord) -> Vec<(f64, f64)> {
    record.points.iter().filter_map(|point| Some((point.along_ppm, point.reached_ppm?))).collect()
}

/// The most that is reached or asked, ppm.
pub(super) fn most(record: &TradeRecord) -> f64 {
    record.points.iter().filter_map(|point| point.reached_ppm).chain(record.reached_target_ppm).fold(0.0, f64::max)
}

/// What is reached at a level, in a cell.
pub(super) fn reached(point: &TradePoint) -> String {
    point.reached_ppm.map_or_else(|| "not possible".to_owned(), ppm_text)
}

/// True for the level that the formula asks for.
pub(super) fn is_asked(record: &TradeRecord, along_ppm: f64) -> bool {
    record.along_target_ppm.is_some_and(|target| (target - along_ppm).abs() < 1e-9 * target)
}

/// From where on the second reaches what is asked of it.
pub(super) fn told(record: &TradeRecord) -> String {
    let TradeRecord { reached, along, .. } = record;
    let of_water = record.reached_target_ppm.filter(|target| record.reached_water_ppm >= *target);
    if let Some(target) = of_water {
        let (water, target) = (ppm_text(record.reached_water_ppm), ppm_text(target));
        return format!(
            "The water alone brings {water} ppm {reached}, no less than the {target} asked, whatever {along} is."
        );
    }
    // under the lowest level that was tried nothing is known
    let lowest = record.points.first().map(|point| point.along_ppm);
    let at_all = record.enough_from_ppm.is_some() && record.enough_from_ppm == lowest;
    match (record.reached_target_ppm.map(ppm_text), record.enough_from_ppm.map(ppm_text)) {
        (Some(target), Some(from)) if at_all => {
            format!("{reached} reaches the {target} ppm asked already at {from} ppm of {along}, the least that was tried.")
        }
        (Some(target), Some(from)) => format!("{reached} reaches the {target} ppm asked from {from} ppm of {along} on."),
        (Some(target), None) => {
            format!("{reached} does not reach the {target} ppm asked at any of these levels of {along}.")
        }
        (None, _) => format!("The formula asks for no level of {reached}."),
    }
}

/// The points, with the target of the second as a line of dashes and that of the first as a column of bars.
fn picture(page: &mut Page, record: &TradeRecord) {
    let points = possible(record);
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return };
    let top = most(record) * 1.05;
    if top <= 0.0 || last.0 <= first.0 {
        return;
    }
    let column = |x: f64| cell((x - first.0) / (last.0 - first.0), WIDTH);
    let row = |y: f64| HEIGHT - 1 - cell(y / top, HEIGHT);
    let mut grid = vec![vec![' '; WIDTH]; HEIGHT];
    if let Some(target) = record.reached_target_ppm {
        grid[row(target)].iter_mut().for_each(|c| *c = '-');
    }
    if let Some(target) = record.along_target_ppm.filter(|target| (first.0..=last.0).contains(target)) {
        for line in &mut grid {
            line[column(target)] = '|';
        }
    }
    // between two points a straight line, one mark a column
    let wide = last.0 - first.0;
    #[allow(clippy::needless_range_loop, reason = "a column of every line, not a line")]
    for at in 0..WIDTH {
        let x = first.0 + wide * share_of(at, WIDTH);
        if let Some(pair) = points.windows(2).find(|pair| (pair[0].0..=pair[1].0).contains(&x)) {
            let y = pair[0].1 + (pair[1].1 - pair[0].1) * (x - pair[0].0) / (pair[1].0 - pair[0].0);
            grid[row(y)][at] = '.';
        }
    }
    for (x, y) in &points {
        grid[row(*y)][column(*x)] = 'o';
    }
    page.line(format!("{} ppm", record.reached));
    for (at, line) in grid.iter().enumerate() {
        let label = if at == 0 { ppm_text(top) } else { String::new() };
        page.line(format!("{label:>7} |{}", line.iter().collect::<String>()));
    }
    page.line(format!("{:>7} +{}", "0.0", "-".repeat(WIDTH)));
    let (low, high) = (ppm_text(first.0), ppm_text(last.0));
    let gap = " ".repeat(WIDTH.saturating_sub(low.len() + high.len()));
    page.line(format!("{:>7}  {low}{gap}{high}  {} ppm", "", record.along));
    page.line("        o tried   - asked of the one   | asked of the other");
}

/// The cell of `count` in which a share from 0 to 1 falls.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "clamped to the picture"
)]
fn cell(share: f64, count: usize) -> usize {
    ((share.clamp(0.0, 1.0) * (count - 1) as f64).round() as usize).min(count - 1)
}

/// Where a cell of `count` stands, from 0 to 1.
#[allow(clippy::cast_precision_loss, reason = "a few dozen cells")]
fn share_of(cell: usize, count: usize) -> f64 {
    cell as f64 / (count - 1) as f64
}
