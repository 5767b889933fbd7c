//! Calcium that can be had against nitrogen, as a curve.

use maud::{Markup, html};

use super::svg::{Axis, Form, Picture, at, line, mark, path, text};
use crate::jobs::{TradeRecord, Traded};
use crate::quantity::{fixed, ppm_text};
use crate::report::page::{Leaf, Medium, Page, Table, right};
use crate::report::trade::{is_asked, most, possible, reached, told};

const SIZE: (f64, f64) = (360.0, 250.0);
/// The frame: left, top, right, bottom.
const FRAME: (f64, f64, f64, f64) = (40.0, 28.0, 350.0, 202.0);

/// The trade-off of a shelf, or why it is not shown; nothing where there is none.
pub(in crate::report) fn curve(page: &mut Page, record: Option<&Traded>) {
    let Some(record) = record else { return };
    page.only(Medium::Sheet, |page| {
        page.section("Calcium against nitrogen on this shelf", "");
        page.leaf(Leaf::Annex);
        match record {
            Traded::Known(record) => drawn(page, record),
            Traded::Not { why_not: why } => page.say(format!("Not shown: {why}")).look("quiet"),
        }
    });
}

fn drawn(page: &mut Page, record: &TradeRecord) {
    let points = possible(record);
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        page.say("Not shown: at no level of nitrogen can the limits be kept.").look("quiet");
        return;
    };
    let x = Axis { from: first.0.min(record.along_target_ppm.unwrap_or(first.0)), to: last.0, start: FRAME.0, end: FRAME.2 };
    let y = Axis { from: 0.0, to: most(record) * 1.15, start: FRAME.3, end: FRAME.1 };
    let told = format!(
        "{} Everything else of the formula is met as well as the shelf allows, in a fresh tank, before rounding and without acid.",
        told(record)
    );
    let places: Vec<(f64, f64)> = points.iter().map(|point| (x.place(point.0), y.place(point.1))).collect();
    let marks = html! {
        (ticks(&x, &y))
        @if let Some(target) = record.reached_target_ppm { (line("target dashed", (FRAME.0, y.place(target)), (FRAME.2, y.place(target)))) }
        @if let Some(target) = record.along_target_ppm { (line("target dotted", (x.place(target), FRAME.1), (x.place(target), FRAME.3))) }
        (path("curve", &places))
        @for place in &places { circle .dot cx=(at(place.0)) cy=(at(place.1)) r="3" {} }
        @if let Some(own) = points.iter().find(|point| is_asked(record, point.0)) {
            (mark(Form::Disc, x.place(own.0), y.place(own.1)))
        }
    };
    let picture = Picture { id: "trade-curve", title: "Calcium against nitrogen", says: &told, size: SIZE };
    let caption = "Line: calcium reached. Dashed: calcium asked. Dotted: nitrogen asked. Large dot: this formula.";
    let figure = html! { figure { (picture.draw(&marks)) figcaption .quiet { (caption) } } };
    page.beside(Some(figure), |page| {
        let mut table = Table::new([right("N, ppm"), right("Ca reached, ppm")]);
        for point in record.points.iter().skip(1).step_by(2) {
            table.row([ppm_text(point.along_ppm), reached(point)]);
        }
        page.say(told);
        page.table(table).look("numbers");
    });
}

fn ticks(x: &Axis, y: &Axis) -> Markup {
    let ((across, decimals), (up, up_decimals)) = (x.ticks(6), y.ticks(6));
    html! {
        @for tick in up {
            (line("grid", (FRAME.0, y.place(tick)), (FRAME.2, y.place(tick))))
            (text("end", (FRAME.0 - 7.0, y.place(tick) + 4.5), &fixed(tick, up_decimals)))
        }
        (line("axis", (FRAME.0, FRAME.3), (FRAME.2, FRAME.3)))
        @for tick in across {
            (line("axis", (x.place(tick), FRAME.3), (x.place(tick), FRAME.3 + 5.0)))
            (text("middle", (x.place(tick), FRAME.3 + 19.0), &fixed(tick, decimals)))
        }
        g .strong {
            (text("start", (4.0, 16.0), "Ca reached, ppm"))
            (text("end", (FRAME.2, FRAME.3 + 42.0), "N held at, ppm"))
        }
    }
}
