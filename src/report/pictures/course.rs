//! What a logbook tells over its days: EC as read, nitrogen as estimated.

use maud::{Markup, html};

use super::svg::{Axis, Picture, at, cut, line, path, text};
use crate::jobs::{Course, CoursePoint, Range};
use crate::quantity::{Date, fixed, ppm_text};
use crate::report::page::{Block, Leaf, Medium, Page, Table, left, right};

const SIZE: (f64, f64) = (720.0, 380.0);
/// Left and right end of both panels.
const ACROSS: (f64, f64) = (56.0, 706.0);
/// Top and bottom of the panel of EC and of that of nitrogen.
const EC: (f64, f64) = (46.0, 156.0);
const NITROGEN: (f64, f64) = (206.0, 340.0);

/// The course of a logbook; nothing where it says nothing of the tank.
pub(in crate::report) fn course(page: &mut Page, record: &Course) {
    let points = &record.points;
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return };
    let says = format!("{} to {}. {}", first.date.long(), last.date.long(), in_words(last));
    let picture = Picture { id: "course-picture", title: "EC read and nitrogen estimated", says: &says, size: SIZE };
    let body = html! {
        figure .wide {
            div .scroll { (picture.draw(&marks(points, first.date))) }
            figcaption .quiet {
                "Above: EC as read. Below: nitrogen, the likely course as a line, from the low to the high one as a band. Dotted \
                 upright: a filling. Each point is what the logbook told on that day: an estimate, only a laboratory analysis knows."
                @if record.shortened { " Earlier entries are left out." }
            }
        }
    };
    let mut table = Table::new([left("day"), right("EC read, mS/cm"), right("N likely (low to high), ppm"), left("")]);
    let mut last = None;
    for point in points {
        // what happened on one day stands under one date
        let day = if last.replace(point.date) == Some(point.date) { String::new() } else { point.date.long() };
        table.row([
            day,
            point.ec_read_ms_cm.map_or_else(String::new, |ec| fixed(ec, 2)),
            point.nitrogen_ppm.as_ref().map_or_else(|| "empty".to_owned(), range),
            point.filled.as_ref().map_or_else(String::new, |formula| format!("filled, {formula}")),
        ]);
    }
    page.only(Medium::Sheet, |page| {
        page.section("The tank so far, by the logbook", "");
        page.leaf(Leaf::Annex);
        page.add(Block::Picture(body));
        page.table(table).look("numbers");
    });
}

fn in_words(point: &CoursePoint) -> String {
    point
        .nitrogen_ppm
        .map_or_else(|| "The tank is empty.".to_owned(), |n| format!("At the end nitrogen is {} ppm.", range(&n)))
}

fn range(of: &Range) -> String {
    let (low, likely, high) = (ppm_text(of.low), ppm_text(of.likely), ppm_text(of.high));
    if low == high { likely } else { format!("{likely} ({low} to {high})") }
}

/// The day without weekday and year.
pub(super) fn short(date: Date) -> String {
    let long = date.long();
    long.split(' ').skip(1).take(2).collect::<Vec<_>>().join(" ")
}

fn marks(points: &[CoursePoint], start: Date) -> Markup {
    let days = points.last().map_or(1.0, |last| last.days).max(1.0);
    let x = Axis { from: 0.0, to: days, start: ACROSS.0, end: ACROSS.1 };
    let most = |of: &dyn Fn(&CoursePoint) -> Option<f64>| points.iter().filter_map(of).fold(0.0, f64::max).max(0.1) * 1.1;
    let ec = Axis { from: 0.0, to: most(&|point| point.ec_read_ms_cm), start: EC.1, end: EC.0 };
    let nitrogen =
        Axis { from: 0.0, to: most(&|point| point.nitrogen_ppm.map(|n| n.high)), start: NITROGEN.1, end: NITROGEN.0 };
    let read: Vec<Vec<(f64, f64)>> = by_filling(points)
        .iter()
        .map(|part| part.iter().filter_map(|point| Some((x.place(point.days), ec.place(point.ec_read_ms_cm?)))).collect())
        .collect();
    html! {
        (upright(&ec)) (upright(&nitrogen)) (dates(&x, start))
        @for point in points { @if let Some(formula) = &point.filled { (filling(x.place(point.days), formula)) } }
        @for part in by_filling(points) { (band(part, &x, &nitrogen)) }
        @for part in &read {
            (path("curve", part))
            @for place in part { circle .own cx=(at(place.0)) cy=(at(place.1)) r="4.5" {} }
        }
        g .strong { (text("start", (4.0, 16.0), "EC read, mS/cm")) (text("start", (4.0, NITROGEN.0 - 14.0), "N estimated, ppm")) }
    }
}

/// Points parted where the tank was filled.
fn by_filling(points: &[CoursePoint]) -> Vec<&[CoursePoint]> {
    let mut parts = Vec::new();
    let mut from = 0;
    for at in (1..points.len()).filter(|at| points[*at].filled.is_some()).chain([points.len()]) {
        parts.push(&points[from..at]);
        from = at;
    }
    parts
}

fn band(part: &[CoursePoint], x: &Axis, y: &Axis) -> Markup {
    let side = |of: fn(&Range) -> f64| -> Vec<(f64, f64)> {
        part.iter().filter_map(|point| Some((x.place(point.days), y.place(of(point.nitrogen_ppm.as_ref()?))))).collect()
    };
    let (low, likely, high) = (side(|n| n.low), side(|n| n.likely), side(|n| n.high));
    let round: Vec<String> = high.iter().chain(low.iter().rev()).map(|(x, y)| format!("{},{}", at(*x), at(*y))).collect();
    html! {
        polygon .band points=(round.join(" ")) {}
        (path("bound", &low)) (path("bound", &high)) (path("curve", &likely))
    }
}

fn upright(axis: &Axis) -> Markup {
    let (ticks, decimals) = axis.ticks(5);
    html! {
        @for tick in ticks {
            (line("grid", (ACROSS.0, axis.place(tick)), (ACROSS.1, axis.place(tick))))
            (text("end", (ACROSS.0 - 7.0, axis.place(tick) + 4.5), &fixed(tick, decimals)))
        }
        (line("axis", (ACROSS.0, axis.start), (ACROSS.1, axis.start)))
    }
}

fn dates(x: &Axis, start: Date) -> Markup {
    let (ticks, _) = x.ticks(7);
    html! {
        // whole days only: a logbook of one day has its first one
        @for day in ticks.iter().filter(|tick| (tick.round() - **tick).abs() < 1e-9) {
            (line("axis", (x.place(*day), NITROGEN.1), (x.place(*day), NITROGEN.1 + 5.0)))
            (text("middle", (x.place(*day).clamp(ACROSS.0 - 20.0, ACROSS.1 - 20.0), NITROGEN.1 + 21.0), &short(start.plus(whole(*day)))))
        }
    }
}

#[allow(clippy::cast_possible_truncation, reason = "days of a logbook, rounded")]
fn whole(days: f64) -> i32 {
    days.round() as i32
}

fn filling(x: f64, formula: &str) -> Markup {
    let near_the_end = x > ACROSS.1 - 110.0;
    let (anchor, aside) = if near_the_end { ("end", -5.0) } else { ("start", 5.0) };
    html! {
        (line("target dotted", (x, EC.0 - 8.0), (x, EC.1)))
        (line("target dotted", (x, NITROGEN.0), (x, NITROGEN.1)))
        g .small { (text(anchor, (x + aside, EC.0 - 6.0), &cut(formula, 16))) }
    }
}
