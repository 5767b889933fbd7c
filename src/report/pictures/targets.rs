//! What the tank comes to against what was asked, as a picture.

use maud::{Markup, html};

use super::svg::{Axis, Form, Picture, at, line, mark, text};
use crate::jobs::Element;
use crate::quantity::{fixed, ppm_text};

const WIDTH: f64 = 360.0;
const ROW: f64 = 24.0;
/// Left and right end of the scale.
const SCALE: (f64, f64) = (44.0, 282.0);
/// Ends of the scale that are tried, percent either way; what is beyond the last stands at the end with an arrow.
const SPANS: [f64; 5] = [5.0, 10.0, 20.0, 50.0, 100.0];

/// Deviations from targets, and where contents stand between limits; nothing where nothing was asked.
pub(in crate::report) fn targets(elements: &[Element]) -> Option<Markup> {
    let targets: Vec<&Element> = elements.iter().filter(|e| e.target_ppm.is_some()).collect();
    let limits: Vec<&Element> =
        elements.iter().filter(|e| e.target_ppm.is_none() && (e.min_ppm.is_some() || e.max_ppm.is_some())).collect();
    (!targets.is_empty() || !limits.is_empty()).then(|| {
        html! {
            @if !targets.is_empty() { (to_targets(&targets)) }
            @if !limits.is_empty() { (within_limits(&limits)) }
        }
    })
}

/// Deviation of an element and its give or take, percent of the target.
fn off(element: &Element) -> (f64, f64) {
    let whole = element.target_ppm.filter(|target| *target > 0.0).unwrap_or(f64::INFINITY);
    (element.deviation_percent.unwrap_or(0.0), 100.0 * element.plus_minus_ppm / whole)
}

/// A deviation with its sign; one that rounds to nothing has none.
fn signed(percent: f64, decimals: usize) -> String {
    let text = fixed(percent, decimals);
    match text.strip_prefix('-') {
        Some(size) => format!("−{size} %"),
        None if text.bytes().any(|byte| (b'1'..=b'9').contains(&byte)) => format!("+{text} %"),
        None => format!("{text} %"),
    }
}

fn to_targets(elements: &[&Element]) -> Markup {
    let widest = elements.iter().map(|e| off(e).0.abs() + off(e).1).fold(0.0, f64::max);
    let span = SPANS.into_iter().find(|span| *span >= widest).unwrap_or(SPANS[SPANS.len() - 1]);
    let axis = Axis { from: -span, to: span, start: SCALE.0, end: SCALE.1 };
    let bottom = 26.0 + ROW * f64::from(u32::try_from(elements.len()).unwrap_or(0));
    let says: Vec<String> = elements
        .iter()
        .map(|e| format!("{} {} %, give or take {} %.", e.element, fixed(off(e).0, 1), fixed(off(e).1, 1)))
        .collect();
    let marks = html! {
        @for tick in [-span, -span / 2.0, 0.0, span / 2.0, span] {
            (line(if tick == 0.0 { "target" } else { "grid" }, (axis.place(tick), 24.0), (axis.place(tick), bottom)))
            @if tick == 0.0 { (text("middle", (axis.place(tick), 15.0), "as asked")) }
            @else if tick.abs() > span * 0.6 { (text("middle", (axis.place(tick), 15.0), &signed(tick, 0))) }
        }
        @for (element, row) in elements.iter().zip(0_u32..) { (deviation(element, &axis, 26.0 + ROW * (f64::from(row) + 0.5))) }
    };
    let picture =
        Picture { id: "asked", title: "Deviation from what was asked", says: &says.join(" "), size: (WIDTH, bottom + 4.0) };
    html! { figure { (picture.draw(&marks)) figcaption .quiet { "Dot: what it comes to. Bar: give or take." } } }
}

fn deviation(element: &Element, axis: &Axis, y: f64) -> Markup {
    let (deviation, give) = off(element);
    let x = axis.place(deviation);
    html! {
        g .strong { (text("start", (4.0, y + 5.0), &element.element)) }
        (line("give", (axis.place(deviation - give), y), (axis.place(deviation + give), y)))
        @if deviation.abs() > axis.to { (arrow(x, y, deviation > 0.0)) } @else { (mark(Form::Disc, x, y)) }
        (text("end", (WIDTH - 4.0, y + 5.0), &signed(deviation, usize::from(deviation.abs() < 100.0))))
    }
}

/// What stands beyond the end of a scale.
fn arrow(x: f64, y: f64, to_the_right: bool) -> Markup {
    let back = if to_the_right { -11.0 } else { 11.0 };
    html! { polygon .own points={ (at(x)) "," (at(y)) " " (at(x + back)) "," (at(y - 7.0)) " " (at(x + back)) "," (at(y + 7.0)) } {} }
}

fn within_limits(elements: &[&Element]) -> Markup {
    let height = 40.0 * f64::from(u32::try_from(elements.len()).unwrap_or(0)) + 4.0;
    let says: Vec<String> = elements
        .iter()
        .map(|e| format!("{} {} ppm, asked {}.", e.element, ppm_text(e.ppm), crate::report::words::asked(e)))
        .collect();
    let marks = html! {
        @for (element, row) in elements.iter().zip(0_u32..) { (limited(element, 40.0 * f64::from(row) + 14.0)) }
    };
    let picture = Picture { id: "limits", title: "Between limits", says: &says.join(" "), size: (WIDTH, height) };
    html! { figure { (picture.draw(&marks)) figcaption .quiet { "Each on a scale of its own: bar from the least to the most allowed, dot what it comes to." } } }
}

fn limited(element: &Element, y: f64) -> Markup {
    let (least, most) = (element.min_ppm.unwrap_or(0.0), element.max_ppm);
    // a little room beyond the limits shows what is outside of them
    let top = most.unwrap_or(2.0 * least).max(element.ppm) * 1.1;
    let axis = Axis { from: 0.0, to: top, start: SCALE.0, end: SCALE.1 };
    let (left, right) = (axis.place(least), axis.place(most.unwrap_or(top)));
    // two numbers side by side lean away from each other
    let outward = if right - left < 50.0 { ("end", "start") } else { ("middle", "middle") };
    html! {
        g .strong { (text("start", (4.0, y + 5.0), &element.element)) }
        (line("axis", (SCALE.0, y), (SCALE.1, y)))
        (line("allowed", (left, y), (right, y)))
        (line("end", (left, y - 7.0), (left, y + 7.0)))
        @if most.is_some() { (line("end", (right, y - 7.0), (right, y + 7.0))) }
        (mark(Form::Disc, axis.place(element.ppm), y))
        g .small {
            (text(outward.0, (left, y + 20.0), &element.min_ppm.map_or_else(|| "0".to_owned(), ppm_text)))
            @if let Some(most) = most { (text(outward.1, (right, y + 20.0), &ppm_text(most))) }
        }
        (text("end", (WIDTH - 4.0, y + 5.0), &ppm_text(element.ppm)))
    }
}
