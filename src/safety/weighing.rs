//! What cannot be measured, what comes in a bottle instead, and what runs short.

use super::reaction::PH_NEAR;
use super::{Bottled, Facts, Finding, Finest, Measured, Severity};
use crate::quantity::{fixed, significant, trimmed};

/// Steps of usual scales, g.
const USUAL_SCALES_G: [f64; 4] = [0.1, 0.01, 0.001, 0.000_1];
/// Chloride that is worth a word, ppm: own choice.
const MORE_CHLORIDE: f64 = 1.0;

/// Grams, or milligrams under a gram, so that no dose reads as 0.
pub(super) fn weight_text(grams: f64) -> String {
    if grams < 1.0 { format!("{} mg", significant(grams * 1e3, 2)) } else { format!("{} g", significant(grams, 2)) }
}

fn amount_text(amount: f64, finest: &Finest) -> String {
    match finest.density_g_per_ml {
        Some(density) => format!("{} mL", significant(amount / density, 2)),
        None => weight_text(amount),
    }
}

/// The coarsest usual scale, finer than what is there, that could be trusted as far.
fn finer_scale(amount: f64, finest: &Finest) -> Option<f64> {
    let trust = finest.step_g / finest.smallest_g;
    USUAL_SCALES_G
        .into_iter()
        .filter(|_| finest.density_g_per_ml.is_none())
        .find(|step| *step < finest.step_g * 0.999 && step / trust <= amount * (1.0 + 1e-9))
}

/// Findings of weighing.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    for bottled in facts.bottled {
        found.push(in_a_bottle(bottled));
    }
    for salt in facts.salts {
        if let Some(finest) = salt.too_small_for {
            found.push(left_out(salt, &finest));
        }
    }
}

/// All there is of something goes in, and more of it would bring the mix nearer.
///
/// * `amount`: g of a salt, mL of a bottle
#[must_use]
pub fn shelf_runs_short(name: &str, amount: f64, bottle: bool) -> Finding {
    let all =
        if bottle { format!("{} mL left", significant(amount, 1)) } else { format!("{} on hand", weight_text(amount)) };
    Finding {
        code: "shelf-runs-short",
        severity: Severity::Warning,
        message: format!("{name}: all {all} go in, and targets are still missed."),
        remedy: Some(if bottle { "Make more of it." } else { "Buy more, or mix less at once." }.to_owned()),
        source: None,
    }
}

fn in_a_bottle(bottled: &Bottled) -> Finding {
    let doses: Vec<String> =
        bottled.too_little.iter().map(|(name, amount, finest)| format!("{name} {}", amount_text(*amount, finest))).collect();
    let smallest = bottled.too_little.first().map_or_else(String::new, |(_, _, finest)| {
        let what = if finest.density_g_per_ml.is_some() { "syringe" } else { "finest scale" };
        format!("under the {} from which the {what} here is trusted", amount_text(finest.smallest_g, finest))
    });
    // the honest answer first: which scale would do without the bottle
    let mut by_scale = USUAL_SCALES_G.map(|step| (step, Vec::new()));
    for (name, amount, finest) in &bottled.too_little {
        let step = finer_scale(*amount, finest);
        if let Some((_, names)) = by_scale.iter_mut().find(|(of, _)| Some(*of) == step) {
            names.push(name.as_str());
        }
    }
    let all = bottled.too_little.len();
    let scales: Vec<String> = by_scale
        .iter()
        .filter(|(_, names)| !names.is_empty())
        .map(|(step, names)| match names.len() {
            one if one == all => format!("A scale that shows {} g would do without it.", trimmed(*step, 4)),
            _ => format!("A scale that shows {} g would weigh {} without it.", trimmed(*step, 4), names.join(", ")),
        })
        .collect();
    Finding {
        code: "cannot-be-weighed",
        severity: Severity::Note,
        message: format!(
            "Too little to measure, {smallest}: {}. It comes in the bottle `{}`.",
            doses.join(", "),
            bottled.bottle
        ),
        remedy: (!scales.is_empty()).then(|| scales.join(" ")),
        source: None,
    }
}

fn left_out(salt: &Measured, finest: &Finest) -> Finding {
    let instrument = if finest.density_g_per_ml.is_some() { "syringe" } else { "finest scale" };
    let least = amount_text(finest.smallest_g, finest);
    if salt.amount_exact >= finest.smallest_g * (1.0 - 1e-9) {
        return Finding {
            code: "cannot-be-weighed",
            severity: Severity::Note,
            message: format!(
                "{}: {} is left out: measured from {least} up, the mix comes closer without it.",
                salt.name,
                amount_text(salt.amount_exact, finest)
            ),
            remedy: Some("A finer scale or a larger volume mixed at once brings it back.".to_owned()),
            source: None,
        };
    }
    Finding {
        code: "cannot-be-weighed",
        severity: if salt.acid { Severity::Warning } else { Severity::Stop },
        message: format!(
            "{}: {} is under the {least} that the {instrument} here can be trusted with, and no bottle brings it; it is left out.",
            salt.name,
            amount_text(salt.amount_exact, finest)
        ),
        remedy: Some(match finer_scale(salt.amount_exact, finest) {
            Some(step) => format!("A scale that shows {} g would do, or a larger volume mixed at once.", trimmed(step, 4)),
            None if finest.density_g_per_ml.is_some() => {
                "A finer syringe or, for an acid, a finer measure of glass or polypropylene; a ready-diluted one of it, or a larger volume mixed at once.".to_owned()
            }
            None => "A larger bottle in `bottles`, or a larger volume mixed at once.".to_owned(),
        }),
        source: None,
    }
}

/// What lets so little of an acid be drawn up.
const DRAWN_UP: &str = "A ready-diluted acid, a finer measure of glass or polypropylene, or a larger volume mixed at once.";

/// An acid that burns, of which too little is needed to draw up, and which is not thinned at the bench. No stop: whether the tank
/// may be fed as it is then, its pH says.
#[must_use]
pub fn acid_too_little(name: &str, grams: f64, finest: &Finest) -> Finding {
    Finding {
        code: "cannot-be-weighed",
        severity: Severity::Warning,
        message: format!(
            "{name}: {} would bring the pH to the wish, under the {} that the syringe here is trusted with; none goes in.",
            amount_text(grams, finest),
            amount_text(finest.smallest_g, finest)
        ),
        remedy: Some(DRAWN_UP.to_owned()),
        source: None,
    }
}

/// One of several acids, of which too little is needed to draw up.
#[must_use]
pub fn acid_left_to_others(name: &str, grams: f64, finest: &Finest) -> Finding {
    Finding {
        code: "cannot-be-weighed",
        severity: Severity::Warning,
        message: format!(
            "{name}: {} of it beside the other acid would come closer, under the {} that the syringe here is trusted with, \
             so the two are not shared out.",
            amount_text(grams, finest),
            amount_text(finest.smallest_g, finest)
        ),
        remedy: Some(DRAWN_UP.to_owned()),
        source: None,
    }
}

/// An acid that stays out because too little of it is needed to draw up leaves the pH over the wish.
#[must_use]
pub fn acid_stays_out(name: &str, wished_ph: f64, ph: f64) -> Option<Finding> {
    (ph - wished_ph > PH_NEAR).then(|| Finding {
        code: "ph-wish-not-met",
        severity: Severity::Warning,
        message: format!(
            "The dose of {name} is under what the syringe here is trusted with and stays out: the pH is {}, over the wished {}.",
            fixed(ph, 1),
            fixed(wished_ph, 1)
        ),
        remedy: Some(DRAWN_UP.to_owned()),
        source: None,
    })
}

/// Limits that no whole steps keep.
#[must_use]
pub fn limits_gave_way(limits: &[String]) -> Option<Finding> {
    (!limits.is_empty()).then(|| Finding {
        code: "limit-gave-way",
        severity: Severity::Warning,
        message: format!(
            "No amounts that the instruments here can show were found that keep every limit; these gave way: {}.",
            limits.join(", ")
        ),
        remedy: Some("Mix a larger volume at once, use a finer scale, or state the limit a little wider.".to_owned()),
        source: None,
    })
}

/// What is measured out comes closer to the formula than the exact amounts.
#[must_use]
pub fn closer_than_exact(measured: f64, exact: f64, reasons: &[&str]) -> Finding {
    Finding {
        code: "closer-than-exact",
        severity: Severity::Note,
        message: format!(
            "As measured out it is off in all by {}, less than the {} of the exact amounts: {}.",
            significant(measured, 3),
            significant(exact, 3),
            reasons.join("; ")
        ),
        remedy: None,
        source: None,
    }
}

/// What a wish for few salts costs.
#[must_use]
pub fn fewer_salts(most: usize, misfit: f64, all: f64, proved: bool) -> Finding {
    let best = if proved { "the best that is possible" } else { "the best that was found" };
    Finding {
        code: "fewer-salts",
        severity: Severity::Note,
        message: format!(
            "With at most {most} salts of the shelf the mix is off in all by {} before rounding, {best}; with all of them by {}.",
            significant(misfit, 3),
            significant(all, 3)
        ),
        remedy: None,
        source: None,
    }
}

/// Bottles on the bench that a mix leaves undrawn, though it would come as close from them with fewer salts to weigh.
///
/// * `bottles`: their ids
/// * `salts`, `in_place_of`: salts to weigh beside them, and without them
/// * `chloride_ppm`: how much more chloride comes in with them
#[must_use]
pub fn bottles_undrawn(bottles: &[&str], salts: usize, in_place_of: usize, chloride_ppm: f64) -> Finding {
    let weighed = if salts == 1 { "1 salt".to_owned() } else { format!("{salts} salts") };
    let chloride = if chloride_ppm < MORE_CHLORIDE {
        String::new()
    } else {
        format!(", with {} ppm more chloride", significant(chloride_ppm, 2))
    };
    let from = bottles.join(" and ");
    Finding {
        code: "bottles-undrawn",
        severity: Severity::Note,
        message: format!("From {from} and {weighed} beside, in place of {in_place_of}, the tank comes as close{chloride}."),
        remedy: Some("`bloomsalt mix --prefer few` makes it so; no second set of bottles is needed.".to_owned()),
        source: None,
    }
}

/// A change of EC that is too much at once.
#[must_use]
pub fn in_two_steps(before_ms_per_cm: f64, after_ms_per_cm: f64, step_ms_per_cm: f64) -> Option<Finding> {
    let change = after_ms_per_cm - before_ms_per_cm;
    (change.abs() > step_ms_per_cm).then(|| Finding {
        code: "in-two-steps",
        severity: Severity::Warning,
        message: format!(
            "EC goes from {} to {} mS/cm at once, by more than {} mS/cm (own choice, no source).",
            significant(before_ms_per_cm, 2),
            significant(after_ms_per_cm, 2),
            significant(step_ms_per_cm, 2)
        ),
        remedy: Some("Go half of the way now and the rest after some days.".to_owned()),
        source: Some("own-choice".to_owned()),
    })
}

/// The day by which a formula is held no longer.
#[must_use]
pub fn back_by(formula: &str, date: &str) -> Finding {
    Finding {
        code: "back-by",
        severity: Severity::Note,
        message: format!("Back from {formula} by {date}, by the `hold_at_most` of the formula."),
        remedy: None,
        source: None,
    }
}
