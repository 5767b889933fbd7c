//! What would help a pH, in words, and why no dose is told where none is.

use super::range::{NEAR_EDGE, PH_RANGE, Remedy, ph_remedy};
use crate::matter::Kind;
use crate::quantity::{fixed, ppm_text, significant};
use crate::safety::{Correction, Facts, Untold};
use crate::solution::Acidity;

const STATE_IT: &str = "State `alkalinity_per_kg` in its [[product]]";
const FINER: &str = "A ready-diluted acid, or a finer measure of glass or polypropylene, does it";

/// What would help in words, and the id of what is poured for it.
type Advice = (String, Option<String>);

/// What helps: what mends by itself, what acid did, what is reckoned, and where nothing is there to reckon with.
pub(super) fn remedy(facts: &Facts, ph: &Acidity, left: bool) -> Advice {
    let acid_is_in = facts.substances.iter().any(|substance| substance.kind == Kind::Acid);
    let words = match ph_remedy(ph) {
        // where the low end does not climb the reading decides
        None if ph.fresh.ph < NEAR_EDGE.0 && ph.aired.low < PH_RANGE.0 => format!(
            "Read it: {} climbs to {} by itself, as carbon dioxide goes out within days; what reads {} does not, and is brought up \
             with less acid, or a mild base, before plants meet it.",
            fixed(ph.fresh.ph, 1),
            fixed(ph.aired.ph, 1),
            fixed(ph.fresh.low, 1)
        ),
        None if ph.fresh.ph < NEAR_EDGE.0 => {
            format!("Leave it: carbon dioxide goes out within days, and it climbs to {} by itself.", fixed(ph.aired.ph, 1))
        }
        Some(Remedy::Base) if acid_is_in => {
            "Measure it; made anew with less acid it is higher, and a tank that stands takes a mild base, dissolved apart, in small parts."
                .to_owned()
        },
        Some(Remedy::AcidLater) if left => "Not now: the acid for the days after stands under `alkalinity-left`.".to_owned(),
        None | Some(Remedy::Base) => {
            return corrected_or(facts, ph, "Measure it; some tap water with alkalinity brings it up.");
        }
        Some(Remedy::AcidNow | Remedy::AcidLater) => {
            return corrected_or(facts, ph, "Measure it; ready-diluted acid, in small parts, brings it down.");
        }
    };
    (words, None)
}

/// The correction, or else these words.
pub(super) fn corrected_or(facts: &Facts, ph: &Acidity, words: &str) -> Advice {
    correct(facts, ph).unwrap_or_else(|| (words.to_owned(), None))
}

/// The correction in words.
fn correct(facts: &Facts, ph: &Acidity) -> Option<Advice> {
    let of = match facts.correction? {
        Ok(of) => of,
        Err(why) => return Some((untold_of_mix(why), None)),
    };
    let Correction { name, grams, millilitres, measurable, brings, water_ml, ph: to, .. } = of;
    let digits = |amount: f64| significant(amount, if amount < 0.1 { 3 } else { 1 });
    let amount = match millilitres {
        Some(ml) => format!("{} mL", digits(*ml)),
        None => format!("{} g", digits(*grams)),
    };
    let amount = if *measurable { amount } else { format!("{amount} (roughly: under what this bench measures well)") };
    let brings = brings.map_or_else(String::new, |(nutrient, ppm)| format!(" It brings {} ppm {nutrient}.", ppm_text(ppm)));
    let to = fixed(*to, 1);
    let thinned = water_ml.map_or_else(String::new, thinned_words);
    let apart = kept_apart_words(of);
    let words = match ph_remedy(ph)? {
        Remedy::Base => {
            format!(
                "About {amount} of {name} lifts it to {to} once aired: dissolved apart, in small parts, by the meter.{brings}"
            )
        }
        Remedy::AcidNow => {
            format!("About {amount} of {name}{thinned} in small parts, brings it to {to} now, by the meter.{brings}{apart}")
        }
        Remedy::AcidLater => format!(
            "Not now: in the days after, by the meter, about {amount} of {name}{thinned} in small parts, brings it to {to}.{brings}{apart}"
        ),
    };
    Some((words, Some(of.salt.clone())))
}

/// How an acid is thinned before it goes into a tank.
///
/// * `water_ml`: to thin it with
#[must_use]
pub fn thinned_words(water_ml: f64) -> String {
    format!(", poured into {} mL of water in a marked jug first, never neat into the tank,", significant(water_ml, 0))
}

/// What the acid of a correction is kept from; nothing where it meets nothing of the kind.
#[must_use]
pub fn kept_apart_words(of: &Correction) -> String {
    let other = if of.passed_over { " Not the acid of [acid]: it must never meet urea." } else { "" };
    if of.never_onto.is_empty() {
        return other.to_owned();
    }
    let names = of.never_onto.join(", ");
    format!("{other} Never beside or onto {names} itself: only thinned, into the full tank in which that is dissolved.")
}

/// Why no dose is told, in words.
fn untold_words(why: &Untold) -> String {
    match why {
        Untold::NotStated { name } => format!("{name} does not state its alkalinity, so no dose of it is told"),
        Untold::BringsTooMuch { name, nutrient, brings_ppm, target_ppm, max_ppm } => {
            let asked = match (max_ppm, target_ppm) {
                (Some(max), _) => format!(" more, beyond the limit of {} ppm", ppm_text(*max)),
                (None, Some(target)) => format!(", and {} ppm are asked", ppm_text(*target)),
                (None, None) => String::new(),
            };
            format!("so much {name} would bring {} ppm {nutrient}{asked}: no dose of it is told", ppm_text(*brings_ppm))
        }
        Untold::EcOver { name, ec_ms_per_cm, max_ms_per_cm } => format!(
            "so much {name} would bring EC to {} mS/cm, over the limit of {}: no dose of it is told",
            fixed(*ec_ms_per_cm, 2),
            fixed(*max_ms_per_cm, 2)
        ),
        Untold::TooLittle { name, amount, is_liquid } => format!(
            "of {name} so little is needed ({} {}) that nothing here measures it well: none goes in",
            significant(*amount, 1),
            if *is_liquid { "mL" } else { "g" }
        ),
        Untold::NotByEc { read_ms_per_cm, holds_ms_per_cm } => format!(
            "what holds such a pH would read about EC {} mS/cm, and {} was read: no dose is told",
            fixed(*holds_ms_per_cm, 2),
            fixed(*read_ms_per_cm, 2)
        ),
    }
}

/// The same of a mix, and what helps instead.
fn untold_of_mix(why: &Untold) -> String {
    let helps = match why {
        Untold::NotStated { .. } => STATE_IT,
        Untold::TooLittle { .. } => FINER,
        _ => "Rain water blended in, or another acid that [acid] names, with which the mix then reckons",
    };
    format!("Measure it: {}. {helps}.", untold_words(why))
}

/// The same of a pH that was read, and what helps instead.
#[must_use]
pub fn untold_of_reading(why: &Untold) -> String {
    let helps = match why {
        Untold::NotStated { .. } => STATE_IT,
        Untold::TooLittle { .. } => FINER,
        Untold::BringsTooMuch { .. } | Untold::EcOver { .. } => {
            "Calibrate the pH meter and read it again; where it reads the same, another acid or a fresh tank does it"
        }
        Untold::NotByEc { .. } => {
            "Suspect the pH meter first: calibrate it and read again; a tank that reads the same is made anew"
        }
    };
    format!("{}. {helps}", untold_words(why))
}
