//! What cannot be measured, what comes in a bottle instead, and what runs short.

use super::reaction::PH_NEAR;
use super::{Bottled, Code, Facts, Finding, Finest, Measured, Severity};
use crate::quantity::{fixed, grams_text, significant, trimmed};

/// Steps of usual scales, g.
const USUAL_SCALES_G: [f64; 4] = [0.1, 0.01, 0.001, 0.000_1];
/// Chloride that is worth a word, ppm: own choice.
const MORE_CHLORIDE: f64 = 1.0;

fn amount_text(amount: f64, finest: &Finest) -> String {
    match finest.density_g_per_ml {
        Some(density) => format!("{} mL", significant(amount / density, 2)),
        None => grams_text(amount),
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
    let all = if bottle { format!("{} mL left", significant(amount, 1)) } else { format!("{} on hand", grams_text(amount)) };
    Finding::warning(Code::ShelfRunsShort, format!("{name}: all {all} go in, and targets are still missed."))
        .remedy(if bottle { "Make more of it." } else { "Buy more, or mix less at once." }.to_owned())
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
        remedy: (!scales.is_empty()).then(|| scales.join(" ")),
        ..Finding::note(
            Code::CannotBeWeighed,
            format!("Too little to measure, {smallest}: {}. It comes in the bottle `{}`.", doses.join(", "), bottled.bottle),
        )
    }
}

fn left_out(salt: &Measured, finest: &Finest) -> Finding {
    let instrument = if finest.density_g_per_ml.is_some() { "syringe" } else { "finest scale" };
    let least = amount_text(finest.smallest_g, finest);
    if salt.could_be_measured {
        return Finding::note(
            Code::CannotBeWeighed,
            format!(
                "{}: {} is left out: measured from {least} up, the mix comes closer without it.",
                salt.name,
                amount_text(salt.amount_exact, finest)
            ),
        )
        .remedy("A finer scale or a larger volume mixed at once brings it back.");
    }
    Finding::new(
        Code::CannotBeWeighed,
        if salt.acid { Severity::Warning } else { Severity::Stop },
        format!(
            "{}: {} is under the {least} that the {instrument} here can be trusted with, and no bottle \
             brings it; it is left out.",
            salt.name,
            amount_text(salt.amount_exact, finest)
        ),
    )
    .remedy(match finer_scale(salt.amount_exact, finest) {
        Some(step) => format!("A scale that shows {} g would do, or a larger volume mixed at once.", trimmed(step, 4)),
        None if finest.density_g_per_ml.is_some() => {
            "A finer syringe or, for an acid, a finer measure of glass or polypropylene; a ready-diluted \
             one of it, or a larger volume mixed at once."
                .to_owned()
        }
        None => "A larger bottle in `bottles`, or a larger volume mixed at once.".to_owned(),
    })
}

/// From so many times what is asked on a dose that the scale alone makes so large stops a mix: own choice.
const FAR_OVER: f64 = 1.5;

/// A dose that is as large as it is because the instruments cannot be trusted with less.
///
/// * `exact`: what is asked, `amount`: what goes in, g
#[must_use]
pub fn raised_to_floor(name: &str, exact: f64, amount: f64, finest: &Finest) -> Finding {
    let is_liquid = finest.density_g_per_ml.is_some();
    let what = if is_liquid { "syringe" } else { "finest scale" };
    let remedy = match finer_scale(exact, finest) {
        // a strong acid is not thinned at the bench
        _ if is_liquid => {
            "A finer syringe, a ready-diluted one of it, or a larger volume mixed at once would do.".to_owned()
        }
        finer => {
            let share = finest.step_g / exact;
            // so that the dose is trusted by it
            let trust = (100.0 * share * (1.0 + 1e-9)).ceil() / 100.0;
            let looser = format!(
                "or, where a step of {} % of the dose will do, a looser `trust` of the scale in the bench file, {}",
                fixed(100.0 * share, 0),
                trimmed(trust, 2)
            );
            match finer {
                Some(step) => format!("A scale that shows {} g would do; else {BOTTLED}; {looser}.", trimmed(step, 4)),
                None => format!("What helps: {BOTTLED}; {looser}."),
            }
        }
    };
    Finding::new(
        Code::RaisedToFloor,
        if amount >= FAR_OVER * exact { Severity::Stop } else { Severity::Warning },
        format!(
            "{name}: {} is asked, but the {what} here is trusted from {} on (its step is {}), so {} goes in, {} % more.",
            amount_text(exact, finest),
            amount_text(finest.smallest_g, finest),
            amount_text(finest.step_g, finest),
            amount_text(amount, finest),
            fixed(100.0 * (amount / exact - 1.0), 0)
        ),
    )
    .remedy(remedy)
}

/// What lets so little of a salt be dosed.
const BOTTLED: &str = "a larger size in `bottles` (2 L, 5 L, as you have them), for a bottle of it that is dosed by syringe or jug, or a larger volume mixed at once";

/// What lets so little of an acid be drawn up.
const DRAWN_UP: &str = "A ready-diluted acid, a finer measure of glass or polypropylene, or a larger volume mixed at once.";

/// An acid that burns, of which too little is needed to draw up, and which is not thinned at the bench. No stop: whether the tank
/// may be fed as it is then, its pH says.
#[must_use]
pub fn acid_too_little(name: &str, grams: f64, finest: &Finest) -> Finding {
    Finding::warning(
        Code::CannotBeWeighed,
        format!(
            "{name}: {} would bring the pH to the wish, under the {} that the syringe here is trusted with; none goes in.",
            amount_text(grams, finest),
            amount_text(finest.smallest_g, finest)
        ),
    )
    .remedy(DRAWN_UP.to_owned())
}

/// One of several acids, of which too little is needed to draw up.
#[must_use]
pub fn acid_left_to_others(name: &str, grams: f64, finest: &Finest) -> Finding {
    Finding::warning(
        Code::CannotBeWeighed,
        format!(
            "{name}: {} of it beside the other acid would come closer, under the {} that the syringe here is trusted with, \
             so the two are not shared out.",
            amount_text(grams, finest),
            amount_text(finest.smallest_g, finest)
        ),
    )
    .remedy(DRAWN_UP.to_owned())
}

/// An acid that stays out because too little of it is needed to draw up leaves the pH over the wish.
#[must_use]
pub fn acid_stays_out(name: &str, wished_ph: f64, ph: f64) -> Option<Finding> {
    (ph - wished_ph > PH_NEAR).then(|| {
        Finding::warning(
            Code::PhWishNotMet,
            format!(
                "The dose of {name} is under what the syringe here is trusted with and stays out: the pH is {}, \
                 over the wished {}.",
                fixed(ph, 1),
                fixed(wished_ph, 1)
            ),
        )
        .remedy(DRAWN_UP.to_owned())
    })
}

/// Limits that no whole steps keep.
#[must_use]
pub fn limits_gave_way(limits: &[String]) -> Option<Finding> {
    (!limits.is_empty()).then(|| {
        Finding::warning(
            Code::LimitGaveWay,
            format!(
                "No amounts that the instruments here can show were found that keep every limit; these gave way: {}.",
                limits.join(", ")
            ),
        )
        .remedy("Mix a larger volume at once, use a finer scale, or state the limit a little wider.")
    })
}

/// What is measured out comes closer to the formula than the exact amounts.
#[must_use]
pub fn closer_than_exact(measured: f64, exact: f64, reasons: &[&str]) -> Finding {
    Finding::note(
        Code::CloserThanExact,
        format!(
            "As measured out it is off in all by {}, less than the {} of the exact amounts: {}.",
            significant(measured, 3),
            significant(exact, 3),
            reasons.join("; ")
        ),
    )
}

/// What a wish for few salts costs.
#[must_use]
pub fn fewer_salts(most: usize, misfit: f64, all: f64, proved: bool) -> Finding {
    let best = if proved { "the best that is possible" } else { "the best that was found" };
    Finding::note(
        Code::FewerSalts,
        format!(
            "With at most {most} salts of the shelf the mix is off in all by {} before rounding, {best}; \
             with all of them by {}.",
            significant(misfit, 3),
            significant(all, 3)
        ),
    )
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
    Finding::note(
        Code::BottlesUndrawn,
        format!("From {from} and {weighed} beside, in place of {in_place_of}, the tank comes as close{chloride}."),
    )
    .remedy("`bloomsalt mix --prefer few` makes it so; no second set of bottles is needed.")
}

/// A change of EC that is too much at once.
#[must_use]
pub fn in_two_steps(before_ms_per_cm: f64, after_ms_per_cm: f64, step_ms_per_cm: f64) -> Option<Finding> {
    let change = after_ms_per_cm - before_ms_per_cm;
    (change.abs() > step_ms_per_cm).then(|| {
        Finding::warning(
            Code::InTwoSteps,
            format!(
                "EC goes from {} to {} mS/cm at once, by more than {} mS/cm (own choice, no source).",
                significant(before_ms_per_cm, 2),
                significant(after_ms_per_cm, 2),
                significant(step_ms_per_cm, 2)
            ),
        )
        .remedy("Better in two steps over some days: `switch` asked for two tells what goes in with each; half of these weights is not it.")
        .source("own-choice")
    })
}

/// A bottle that is drawn from after the last day on which it keeps.
#[must_use]
pub fn bottle_old(bottle: &str, keeps_until: &str) -> Finding {
    Finding::warning(Code::BottleOld, format!("The bottle {bottle} is older than it keeps: that was until {keeps_until}."))
        .remedy("What grew in it or fell out of it is not what its label says: made anew, with its `made_on` in the bench file, it is.")
        .source("common-practice")
}

/// The day by which a formula is held no longer.
#[must_use]
pub fn back_by(formula: &str, date: &str) -> Finding {
    Finding::note(Code::BackBy, format!("Back from {formula} by {date}, by the `hold_at_most` of the formula."))
}
