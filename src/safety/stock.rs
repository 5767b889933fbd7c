//! What to know of stock bottles.

use super::weighing::weight_text;
use super::{Finding, Finest, Severity};
use crate::quantity::trimmed;

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
    Finding {
        code: "stock-weaker",
        severity: Severity::Note,
        message: format!(
            "Bottle {bottle} is {} times as strong as the tank, not {}: in one stronger, {salt} comes near to crystallising at \
             {} C{unknown}.",
            trimmed(strength, 1),
            trimmed(asked, 1),
            trimmed(coldest, 1)
        ),
        remedy: Some("Dose more of it, as stated, or keep it warmer and say so (`coldest`).".to_owned()),
        source: Some(solubility_source.unwrap_or("own-choice").to_owned()),
    }
}

/// A salt is too little to measure into a bottle, and no dilute bottle serves.
#[must_use]
pub fn stock_left_out(bottle: &str, salt: &str, grams: f64, finest: &Finest) -> Finding {
    Finding {
        code: "cannot-be-weighed",
        severity: Severity::Stop,
        message: format!(
            "{salt}: {} belong into bottle {bottle}, and the finest scale is trusted with {} and more; it is left out.",
            weight_text(grams),
            weight_text(finest.smallest_g)
        ),
        remedy: Some("Make a larger bottle, or use a finer scale.".to_owned()),
        source: None,
    }
}

/// The shelf has less of a salt than the bottles take.
#[must_use]
pub fn stock_runs_short(salt: &str, grams: f64, on_hand: f64) -> Finding {
    Finding {
        code: "shelf-runs-short",
        severity: Severity::Warning,
        message: format!("{salt}: the bottles take {}, and {} are on hand.", weight_text(grams), weight_text(on_hand)),
        remedy: Some("Buy more, or make smaller bottles.".to_owned()),
        source: None,
    }
}

/// The bottles cannot be dosed for another formula at all.
#[must_use]
pub fn bottles_cannot_dose(formula: &str) -> Finding {
    Finding {
        code: "bottles-cannot-dose",
        severity: Severity::Warning,
        message: format!(
            "These bottles cannot be dosed for `{formula}`: they cannot keep its limits, or bring nothing that it asks for."
        ),
        remedy: Some(format!("Make bottles of its own for `{formula}`.")),
        source: None,
    }
}

/// The acid comes in a bottle already made, and stock bottles are made of the shelf alone.
#[must_use]
pub fn stock_leaves_acid(bottle: &str) -> Finding {
    Finding {
        code: "acid-left-out",
        severity: Severity::Note,
        message: format!(
            "The acid in bottle {bottle} is not reckoned with: stock bottles are made of what is on the shelf."
        ),
        remedy: Some("Correct the pH in the tank, in small parts with a meter, last of all.".to_owned()),
        source: None,
    }
}

/// How much acid would make one bottle of two.
#[derive(Debug, Clone, PartialEq)]
pub struct AcidWanted {
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
    Finding {
        code: "stock-not-acid",
        severity: Severity::Note,
        message: format!("Bottles {first} and {second} are not one: {why}."),
        remedy: Some(match acid {
            Some(AcidWanted { name, amount, ph, brings }) => {
                let brings: Vec<String> =
                    brings.iter().map(|(symbol, ppm)| format!("{} ppm {symbol}", trimmed(*ppm, 1))).collect();
                let more = if brings.is_empty() { "little".to_owned() } else { brings.join(", ") };
                format!(
                    "One bottle of both stays clear with about {amount} of {name} in a litre of it, put in first: pH {}. That \
                     brings {more} to the tank beside the formula.",
                    trimmed(*ph, 1)
                )
            }
            None => "One bottle would take an acid, and none of the bench makes it acid enough.".to_owned(),
        }),
        source: Some("two-bottles-cv216".to_owned()),
    }
}
