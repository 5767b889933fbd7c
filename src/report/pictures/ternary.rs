//! A triangle of three shares.

use maud::{Markup, html};

use super::svg::{Form, Picture, line, mark, text};
use crate::quantity::fixed;

/// Width and height of the drawing, and corners of the triangle: left, top, right.
const SIZE: (f64, f64) = (360.0, 322.0);
const CORNERS: [(f64, f64); 3] = [(40.0, 286.0), (180.0, 43.5), (320.0, 286.0)];
/// Lines of the grid, percent.
const GRID: [f64; 4] = [20.0, 40.0, 60.0, 80.0];

/// Where shares in percent stand.
fn place(percent: [f64; 3]) -> (f64, f64) {
    let sum =
        |of: fn((f64, f64)) -> f64| percent.iter().zip(CORNERS).map(|(share, corner)| share * of(corner) / 100.0).sum();
    (sum(|corner| corner.0), sum(|corner| corner.1))
}

/// Three shares of several solutions.
///
/// * `names`: what the corners left, top and right stand for
/// * `points`: shares in percent of each solution and the form of its mark, the most important first
pub(super) fn ternary(id: &str, title: &str, says: &str, names: [&str; 3], points: &[([f64; 3], Form)]) -> Markup {
    let corners = CORNERS.map(|(x, y)| format!("{x},{y}")).join(" ");
    let marks = html! {
        polygon .frame points=(corners) {}
        @for share in GRID { (grid(share)) }
        @for (corner, name) in names.iter().enumerate() { (corner_name(corner, name)) }
        // the most important on top
        @for (shares, form) in points.iter().rev() { ({ let (x, y) = place(*shares); mark(*form, x, y) }) }
    };
    Picture { id, title, says, size: SIZE }.draw(&marks)
}

/// The three lines on which one of the shares is `share`, each with its number where it begins.
fn grid(share: f64) -> Markup {
    let rest = 100.0 - share;
    let number = fixed(share, 0);
    // each number stands at the side on which its share rises towards the corner
    let (left, top, right) = (place([share, rest, 0.0]), place([0.0, share, rest]), place([rest, 0.0, share]));
    html! {
        (line("grid", left, place([share, 0.0, rest])))
        (line("grid", top, place([rest, share, 0.0])))
        (line("grid", right, place([0.0, rest, share])))
        g .small {
            (text("end", (left.0 - 6.0, left.1), &number))
            (text("start", (top.0 + 6.0, top.1), &number))
            (text("middle", (right.0, right.1 + 16.0), &number))
        }
    }
}

fn corner_name(corner: usize, name: &str) -> Markup {
    let (x, y) = CORNERS[corner];
    let (anchor, place) = match corner {
        0 => ("start", (8.0, y + 32.0)),
        1 => ("middle", (x, y - 14.0)),
        _ => ("end", (SIZE.0 - 8.0, y + 32.0)),
    };
    html! { g .strong { (text(anchor, place, &format!("{name} %"))) } }
}
