//! The frame of a sheet: head, look, one heading, sections, and the line that always closes it.

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// The look: colours of both schemes, sizes, page breaks.
const STYLE: &str = include_str!("sheet.css");

/// A whole sheet.
///
/// * `title`: the one heading, a word or two
/// * `aside`: what it is for, in a line
pub(super) fn page(title: &str, aside: &str, sections: &[Markup]) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) ", " (aside) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    header {
                        h1 { (title) }
                        p .aside { (aside) }
                    }
                    @for section in sections { (section) }
                    footer { p { "The supplier's safety data sheet and the local rules decide." } }
                }
            }
        }
    }
    .into_string()
        + "\n"
}

/// A section with its heading.
///
/// * `id`: unique on the sheet
/// * `aside`: said beside the heading; may be empty
pub(super) fn section(id: &str, heading: &str, aside: &str, body: &Markup) -> Markup {
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) {
                (heading)
                @if !aside.is_empty() { " " span .beside { (aside) } }
            }
            (body)
        }
    }
}

/// A box to tick and what it stands for.
pub(super) fn tick(id: &str, label: &Markup) -> Markup {
    html! { input type="checkbox" id=(id); " " label for=(id) { (label) } }
}
