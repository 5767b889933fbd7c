//! What to know of stock bottles.

use super::{Code, Finding, Finest};
use crate::quantity::{grams_text, trimmed};

/// A bottle is weaker than asked for, because something in it would crystallise.
///
/// * `strength`, `asked`: times the tank; `coldest`: C
#[must_use]
pub fn stock_weaker(
    bottle: &str,
    strength: f64,
    asked: f64,
    salt: &str,
    coldest: f64,
    solubility_source: Option<&str>,
) -> Finding {
    let unknown = if solubility_source.is_none() { " (no solubility is published; 10 g/L are taken)" } else { "" };
    Finding::note(
        Code::StockWeaker,
        format!(
            "Bottle {bottle} is {} times as strong as the tank, not {}: in one stronger, {salt} comes near to \
             crystallising at {} C{unknown}.",
            trimmed(strength, 1),
            trimmed(asked, 1),
            trimmed(coldest, 1)
        ),
    )
    .remedy("Dose more of it, as stated, or keep it warmer and say so (`coldest`).")
    .source(solubility_source.unwrap_or("own-choice").to_owned())
}

/// A salt is too little to measure into a bottle, and no dilute bottle serves.
#[must_use]
pub fn stock_left_out(bottle: &str, salt: &str, grams: f64, finest: &Finest) -> Finding {
    Finding::stop(
        Code::CannotBeWeighed,
        format!(
            "{salt}: {} belong into bottle {bottle}, and the finest scale is trusted with {} and more; it is left out.",
            grams_text(grams),
            grams_text(finest.smallest_g)
        ),
    )
    .remedy("Make a larger bottle, or use a finer scale.")
}

/// A bottle holds a chelate beside bare metals that may take it over.
///
/// * `chelates`, `bare`: names
#[must_use]
pub fn chelate_exchanges(bottle: &str, chelates: &[&str], bare: &[&str]) -> Finding {
    Finding::note(
        Code::ChelateExchanges,
        format!(
            "Bottle {bottle} holds {} beside {}: in a bottle that stands, copper and zinc may take the chelate, and its own metal \
             falls out (from memory).",
            chelates.join(", "),
            bare.join(", ")
        ),
    )
    .remedy("A bottle each keeps longer; pour out of this one only while it is clear.")
    .source("memory")
}

/// The shelf has less of a salt than the bottles take.
#[must_use]
pub fn stock_runs_short(salt: &str, grams: f64, on_hand: f64) -> Finding {
    Finding::warning(
        Code::ShelfRunsShort,
        format!("{salt}: the bottles take {}, and {} are on hand.", grams_text(grams), grams_text(on_hand)),
    )
    .remedy("Buy more, or make smaller bottles.")
}

/// A tank takes more of bottles than one of each holds; `None` where one is enough.
///
/// * `tank_l`: the tank
/// * `doses`: of each bottle its name, what the tank takes of it and what it holds, mL
#[must_use]
pub fn bottles_run_short<'a>(tank_l: f64, doses: impl Iterator<Item = (&'a str, f64, f64)>) -> Option<Finding> {
    let short: Vec<(&str, f64, f64)> = doses.filter(|(_, ml, holds_ml)| *ml > holds_ml * (1.0 + 1e-9)).collect();
    let most = short.iter().map(|(_, ml, holds_ml)| ml / holds_ml).max_by(f64::total_cmp)?;
    let each: Vec<String> = short
        .iter()
        .map(|(name, ml, holds_ml)| format!("{name} {} of {} mL", trimmed(*ml, 2), trimmed(*holds_ml, 1)))
        .collect();
    let message = format!(
        "One bottle is not enough for {} L of tank: it takes {}. One does for {} L.",
        trimmed(tank_l, 2),
        each.join(", "),
        // what it does for is not rounded up
        trimmed((tank_l / most * 10.0).floor() / 10.0, 1)
    );
    Some(Finding::warning(Code::ShelfRunsShort, message).remedy("Make larger bottles, or several of the same."))
}

/// The bottles cannot be dosed for another formula at all.
#[must_use]
pub fn bottles_cannot_dose(formula: &str) -> Finding {
    Finding::warning(
        Code::BottlesCannotDose,
        format!(
            "These bottles cannot be dosed for `{formula}`: they cannot keep its limits, or bring nothing that it asks for."
        ),
    )
    .remedy(format!("Make bottles of its own for `{formula}`."))
}

/// The acid comes in a bottle already made, and stock bottles are made of the shelf alone.
#[must_use]
pub fn stock_leaves_acid(bottle: &str) -> Finding {
    Finding::note(
        Code::AcidLeftOut,
        format!("The acid in bottle {bottle} is not reckoned with: stock bottles are made of what is on the shelf."),
    )
    .remedy("Correct the pH in the tank, with the acid thinned, in small parts with a meter, last of all.")
}

/// How much acid would make one bottle of two.
#[derive(Debug, Clone, PartialEq)]
pub struct AcidWanted {
    /// Its id.
    pub salt: String,
    /// Its name.
    pub name: String,
    /// How much of it a litre of the bottle takes, in words.
    pub amount: String,
    /// pH of the bottle with it.
    pub ph: f64,
    /// What it brings to a tank beside the formula: symbol and ppm.
    pub brings: Vec<(&'static str, f64)>,
}

/// Two bottles could be one if it were acid enough.
///
/// * `acid`: of the bench; `None` where none of it is enough
#[must_use]
pub fn stock_not_acid(first: &str, second: &str, why: &str, acid: Option<&AcidWanted>) -> Finding {
    Finding::note(Code::StockNotAcid, format!("Bottles {first} and {second} are not one: {why}."))
        .remedy(match acid {
            Some(AcidWanted { name, amount, ph, brings, .. }) => {
                let brings: Vec<String> =
                    brings.iter().map(|(symbol, ppm)| format!("{} ppm {symbol}", trimmed(*ppm, 1))).collect();
                let more = if brings.is_empty() { "little".to_owned() } else { brings.join(", ") };
                format!(
                    "One bottle of both stays clear with about {amount} of {name} in a litre of it, put in first: pH \
                     {}. That brings {more} to the tank beside the formula.",
                    trimmed(*ph, 1)
                )
            }
            None => "One bottle would take an acid, and none of the bench makes it acid enough.".to_owned(),
        })
        .adds(acid.map(|acid| acid.salt.clone()))
        .source("two-bottles-cv216")
}
