//! What the pH of a tank asks for today, in words.

use super::logbook::minute;
use super::page::DoseLine;
use crate::jobs::{PhCorrection, PhToday};
use crate::quantity::{fixed, liter, ppm_text, trimmed, volume_text};
use crate::safety::{harms, is_burning_ph, is_ph_out_of_range};

/// What a correction brings over a target is told from this share of it: own choice.
const WORTH_A_WORD: f64 = 0.05;

/// What the pH asks for today.
pub(super) fn ph_now(ph: &PhToday) -> Option<String> {
    match (&ph.correction, &ph.again_from) {
        (Some(of), _) if of.on_shelf => Some("correct the pH".to_owned()),
        (_, Some(from)) => Some(format!("read the pH again from {from} on, before it is corrected")),
        _ if ph.correction.is_some() || ph.untold.is_some() && !ph.is_trifle => {
            Some("see to the pH, as told below".to_owned())
        }
        _ => None,
    }
}

/// What the pH that was read asks for.
///
/// * `filled_up`: the tank is filled up, true with weights
pub(super) fn ph_words(ph: &PhToday, filled_up: Option<bool>) -> String {
    let read = format!("pH read {}, {}", fixed(ph.read.value, 1), minute(&ph.read.at));
    match &ph.correction {
        None if ph.with_fresh_tank && is_burning_ph(ph.read.value) => {
            format!(
                "{read}: it {}, and no plant is fed with it; goggles, gloves and apron on, let all of it out as SAFETY tells",
                harms(ph.read.value)
            )
        }
        None if ph.with_fresh_tank => {
            format!("{read}: that of the fresh tank, or of the tank turned over, is the one to set")
        }
        None if ph.untold.is_some() => {
            let why = ph.untold.as_deref().unwrap_or_default();
            format!("{read}: {why}")
        }
        None if ph.stands && is_ph_out_of_range(ph.read.value) && filled_up.is_some() => {
            format!("{read}: what fills it up corrects it; read it again then, before plants meet it")
        }
        None if ph.stands => format!("{read}: nothing to correct"),
        None => format!("{read}: something went in since, or it is over a week old; read it again before correcting"),
        Some(of) => {
            let amount = about(of);
            let thinned = match (of.acid, of.water_ml) {
                (true, Some(_)) => ", thinned as HOW TO MIX tells, never neat into the tank,",
                (true, None) => ",",
                (false, _) => ", dissolved apart,",
            };
            let brings = of.brings.as_ref().map_or_else(String::new, |of| {
                let over = of.target_ppm.filter(|target| of.comes_to_ppm > (1.0 + WORTH_A_WORD) * target);
                let over = over.map_or_else(String::new, |target| {
                    format!(", which comes to {} where {} is asked", ppm_text(of.comes_to_ppm), ppm_text(target))
                });
                format!(" It brings {} ppm {}{over}.", ppm_text(of.ppm), of.element)
            });
            let then = match filled_up {
                _ if !of.on_shelf => "; it is not on your shelf, or not so much of it, and nothing here reckons with it",
                Some(true) => ", stirred in once the water is in and before the weights, which reckon with it",
                Some(false) => ", stirred in once the water is in",
                None => "",
            };
            let meanwhile = if is_burning_ph(ph.read.value) {
                " The pump stays off, and no plant is fed with it till then."
            } else {
                ""
            };
            // taken as aired: fresh hard water climbs for days, and then it was the least of it
            let again = if of.acid { " Read it again a day later: fresh hard water climbs further, for days." } else { "" };
            format!(
                "{read}: about {amount} of {}{thinned} in small parts, by the meter, brings it to {} in air, {} right after{then}.{meanwhile}{again}\
                 {brings}{}",
                of.name,
                fixed(of.to_ph, 1),
                fixed(of.fresh_ph, 1),
                of.apart
            )
        }
    }
}

/// About how much.
fn about(of: &PhCorrection) -> String {
    if let Some(jug) = of.jug {
        return format!("{} of a jug", volume_text(liter(jug.pour_ml * 1e-3)));
    }
    of.millilitres.map_or_else(|| format!("{} g", trimmed(of.grams, 3)), |ml| format!("{} mL", trimmed(ml, 2)))
}

/// What corrects the pH, to tick off.
pub(super) fn correction_line(of: &PhCorrection) -> DoseLine {
    DoseLine {
        amount: about(of),
        name: of.name.clone(),
        with: if let Some(jug) = of.jug {
            let measured = jug
                .measured_ml
                .map_or_else(|| format!("{} g", trimmed(jug.measured_g, 3)), |ml| format!("{} mL", trimmed(ml, 2)));
            format!("{measured} thinned to {}", volume_text(liter(jug.whole_ml * 1e-3)))
        } else if of.acid && of.millilitres.is_some() {
            "glass or PP measure".to_owned()
        } else {
            "for the pH".to_owned()
        },
        portions: None,
        is_within: false,
        is_left_out: false,
        is_acid: of.acid,
    }
}
