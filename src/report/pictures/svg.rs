//! The few shapes that the pictures are drawn with. Colours come from the style sheet, so that both schemes and print fit.

use maud::{Markup, html};

use crate::quantity::trimmed;

/// A number of a drawing: a tenth of a unit is finer than any printer's dot here.
pub(super) fn at(value: f64) -> String {
    trimmed(value, 1)
}

/// A drawing with its name and what it shows in words, for those who cannot see it.
pub(super) struct Picture<'a> {
    /// Unique on the sheet.
    pub(super) id: &'a str,
    /// Its name.
    pub(super) title: &'a str,
    /// What it shows, in words.
    pub(super) says: &'a str,
    /// Its size in units of about a pixel.
    pub(super) size: (f64, f64),
}

impl Picture<'_> {
    /// The drawing.
    pub(super) fn draw(&self, marks: &Markup) -> Markup {
        let (title, says) = (format!("{}-title", self.id), format!("{}-says", self.id));
        let (width, height) = self.size;
        html! {
            svg role="img" aria-labelledby={ (title) " " (says) } viewBox={ "0 0 " (at(width)) " " (at(height)) } {
                title id=(title) { (self.title) }
                desc id=(says) { (self.says) }
                (marks)
            }
        }
    }
}

/// A scale: numbers from `from` to `to` stand between `start` and `end`.
#[derive(Clone, Copy)]
pub(super) struct Axis {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) start: f64,
    pub(super) end: f64,
}

impl Axis {
    /// Where a number stands; one beyond the scale stands at its end.
    pub(super) fn place(&self, value: f64) -> f64 {
        let share = if self.to > self.from { (value - self.from) / (self.to - self.from) } else { 0.5 };
        self.start + share.clamp(0.0, 1.0) * (self.end - self.start)
    }

    /// Round numbers on the scale, `most` at the most, and how many decimals they need.
    pub(super) fn ticks(&self, most: u32) -> (Vec<f64>, usize) {
        let span = self.to - self.from;
        let (mut step, mut decimals) = (1e-3, 3_usize);
        // 1, 2, 5, 10, …
        for factor in [2.0, 2.5, 2.0].into_iter().cycle().take(30) {
            if span / step <= f64::from(most) {
                break;
            }
            step *= factor;
            decimals = (0..=3)
                .find(|&places| (trimmed(step, places).parse::<f64>().unwrap_or(0.0) - step).abs() < step * 1e-6)
                .unwrap_or(3);
        }
        let first = (self.from / step - 1e-9).ceil();
        let count = 1 + most.max(1);
        let all = (0..=count).map(|at| (first + f64::from(at)) * step);
        (all.take_while(|tick| *tick <= self.to + step * 1e-9).collect(), decimals)
    }
}

/// Form of a mark: forms differ, so that no colour is needed to tell marks apart.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Disc,
    Square,
    Triangle,
    Diamond,
}

/// A mark round a place.
pub(super) fn mark(form: Form, x: f64, y: f64) -> Markup {
    let corners = |all: &[(f64, f64)]| {
        all.iter().map(|(dx, dy)| format!("{},{}", at(x + dx), at(y + dy))).collect::<Vec<_>>().join(" ")
    };
    html! {
        @match form {
            Form::Disc => circle .own cx=(at(x)) cy=(at(y)) r="6" {},
            Form::Square => polygon .mark points=(corners(&[(-5.5, -5.5), (5.5, -5.5), (5.5, 5.5), (-5.5, 5.5)])) {},
            Form::Triangle => polygon .mark points=(corners(&[(0.0, -7.5), (7.0, 5.0), (-7.0, 5.0)])) {},
            Form::Diamond => polygon .mark points=(corners(&[(0.0, -8.0), (8.0, 0.0), (0.0, 8.0), (-8.0, 0.0)])) {},
        }
    }
}

/// A mark by itself, for a legend. What it stands for is said beside it.
pub(super) fn legend(form: Form) -> Markup {
    html! { svg .legend aria-hidden="true" viewBox="0 0 20 20" { (mark(form, 10.0, 10.5)) } }
}

/// A straight line.
pub(super) fn line(class: &str, from: (f64, f64), to: (f64, f64)) -> Markup {
    html! { line class=(class) x1=(at(from.0)) y1=(at(from.1)) x2=(at(to.0)) y2=(at(to.1)) {} }
}

/// Words in a drawing.
pub(super) fn text(anchor: &str, place: (f64, f64), words: &str) -> Markup {
    html! { text text-anchor=(anchor) x=(at(place.0)) y=(at(place.1)) { (words) } }
}

/// A line through places.
pub(super) fn path(class: &str, places: &[(f64, f64)]) -> Markup {
    let all: Vec<String> = places.iter().map(|(x, y)| format!("{},{}", at(*x), at(*y))).collect();
    html! { polyline class=(class) points=(all.join(" ")) {} }
}

/// The first `most` letters of a name, so that it stays in its place; the whole of it stands in a table.
pub(super) fn cut(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        return name.to_owned();
    }
    name.chars().take(most - 1).chain(['…']).collect()
}
