//! Dilute bottles: which to draw from, and how new ones are made.

use maud::{Markup, html};

use super::page::{section, tick};
use crate::jobs::{HelperRecord, Ingredient};
use crate::quantity::{fixed, liter, trimmed, volume_text};
use crate::report::words::{ingredient_amount, ingredient_name, ingredient_with};

/// The bottles of a mix; nothing where it has none. `id` is unique on the sheet.
pub(super) fn bottles(helpers: &[HelperRecord], id: &str) -> Option<Markup> {
    if helpers.is_empty() {
        return None;
    }
    let body = html! {
        @for (at, helper) in helpers.iter().enumerate() { (bottle(helper, &format!("{id}-{}", at + 1))) }
    };
    Some(section(id, "Bottles to draw from", "dilute, for what is too little to measure", &body))
}

fn bottle(helper: &HelperRecord, id: &str) -> Markup {
    html! {
        div .block {
            h3 { (helper.id) @if helper.new { " " span .beside { "to be made first" } } @else { " " span .beside { "there already" } } }
            @match helper.dose_ml {
                Some(ml) => p { b { (trimmed(ml, 2)) " mL" } " goes into the tank; " (if helper.new { "a full bottle" } else { "what is left" }) " serves " (fixed(helper.tanks, 0)) " such tanks." },
                None => p { "Only to make the thinner bottle of it; enough for " (fixed(helper.tanks, 0)) " such tanks." },
            }
            @if helper.new {
                p {
                    "Made up to " b { (volume_text(liter(helper.volume_ml * 1e-3))) } " with "
                    (if helper.pure_water { "pure water" } else { "your water" }) ":"
                }
                (ingredients(&helper.made_of, id))
                p .quiet { "Keep it dark and cool, " (helper.keep_days) " days at most (common practice, no source). On its label:" }
                ul .label { @for line in &helper.label { li { (line) } } }
            }
        }
    }
}

/// What goes into a bottle, to tick; `id` is unique on the sheet.
pub(super) fn ingredients(made_of: &[Ingredient], id: &str) -> Markup {
    html! {
        ul .ticks {
            @for (at, of) in made_of.iter().enumerate() {
                li { (tick(&format!("{id}-{}", at + 1), &ingredient(of))) }
            }
        }
    }
}

fn ingredient(of: &Ingredient) -> Markup {
    html! {
        b { (ingredient_amount(of)) } " " (ingredient_name(of)) " "
        span .with { (ingredient_with(of)) }
    }
}
