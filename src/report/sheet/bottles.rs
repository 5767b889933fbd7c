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
    let (new, there): (Vec<_>, Vec<_>) = helpers.iter().enumerate().partition(|(_, helper)| helper.new);
    let body = html! {
        @for (at, helper) in new { (new_bottle(helper, &format!("{id}-{}", at + 1))) }
        @if !there.is_empty() {
            ul .plain { @for (_, helper) in there { li { b { (helper.id) } ", there already: " (served(helper)) } } }
        }
    };
    Some(section(id, "Bottles to draw from", "dilute, for what is too little to measure", &body))
}

/// What of a bottle goes into the tank, and for how long it lasts.
fn served(helper: &HelperRecord) -> Markup {
    let tanks = fixed(helper.tanks, 0);
    html! {
        @match helper.dose_ml {
            Some(ml) => { b { (trimmed(ml, 2)) " mL" } " goes into the tank; " (if helper.new { "a full bottle" } else { "what is left" }) " serves " (tanks) " such tanks." },
            None => { "only to make the thinner bottle of it; enough for " (tanks) " such tanks." },
        }
    }
}

fn new_bottle(helper: &HelperRecord, id: &str) -> Markup {
    html! {
        div .block {
            h3 { (helper.id) " " span .beside { "to be made first" } }
            p { "Made up to " b { (volume_text(liter(helper.volume_ml * 1e-3))) } " with " (if helper.pure_water { "pure water" } else { "your water" }) ":" }
            (ingredients(&helper.made_of, id))
            p { (served(helper)) }
            p .quiet { "Keep it dark and cool, " (helper.keep_days) " days at most (common practice, no source). On its label:" }
            ul .label { @for line in &helper.label { li { (line) } } }
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
