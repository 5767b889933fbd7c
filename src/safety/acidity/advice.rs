//! What would help a pH, in words, and why no dose is told where none is.

use super::range::{NEAR_EDGE, PH_FRESH_LEAST, PH_LEAST, PH_RANGE, Remedy, least, ph_remedy};
use crate::matter::Kind;
use crate::quantity::{fixed, ppm_text, significant};
use crate::safety::together::GAS_PH;
use crate::safety::{Asked, Correction, Facts, Substance, Untold, worn_for_acid};
use crate::solution::Acidity;

/// Id of a base that cannot burn, for a tank whose shelf has no other.
pub const MILD_BASE: &str = "potassium-bicarbonate";
/// What helps where bottles alone are named.
const BESIDE: &str = "An acid of the salt table, named beside it in [acid], is reckoned";
const STATE_IT: &str = "State `alkalinity_per_kg` in its [[product]]";
const FINER: &str =
    "A ready-diluted acid named beside it in [acid], or a finer measure of glass or polypropylene, can measure it";

/// What would help in words, and the id of what is poured for it.
type Advice = (String, Option<String>);

/// What helps: what mends by itself, what acid did, what is reckoned, and where nothing is there to reckon with.
pub(super) fn remedy(facts: &Facts, ph: &Acidity, left: bool) -> Advice {
    let acid_is_in = facts.substances.iter().any(|substance| substance.kind == Kind::Acid);
    let words = match ph_remedy(ph) {
        // where the low end does not climb the reading decides
        None if ph.fresh.ph < NEAR_EDGE.0 && ph.aired.low < PH_RANGE.0 => {
            let words = format!(
                "Read it: {} climbs to {} by itself, as carbon dioxide goes out within days, stirred by hand. What reads under {PH_FRESH_LEAST} a \
                 day later gets a mild base (potassium bicarbonate), goggles and gloves on, dissolved apart, a little at a time, by the \
                 meter, before plants meet it; the next time less acid.",
                fixed(ph.fresh.ph, 1),
                fixed(ph.aired.ph, 1),
            );
            return (words, Some(MILD_BASE.to_owned()));
        }
        None if ph.fresh.ph < NEAR_EDGE.0 => {
            format!("Leave it: carbon dioxide goes out within days, and it climbs to {} by itself.", fixed(ph.aired.ph, 1))
        }
        Some(Remedy::Base) if facts.substances.iter().any(|one| one.urea) && facts.substances.iter().any(|one| one.nitric_acid) => {
            "Measure it; made anew with less acid, and beside urea with another than nitric, it is higher."
                .to_owned()
        }
        Some(Remedy::Base) if acid_is_in => {
            "Measure it; made anew with less acid it is higher, and a tank that stands takes a mild base, dissolved apart, in small parts."
                .to_owned()
        },
        Some(Remedy::AcidLater) if left => "Not now: `alkalinity-left` tells of the days after.".to_owned(),
        None | Some(Remedy::Base) => {
            return corrected_or(facts, ph, "Measure it; some tap water with alkalinity brings it up.");
        }
        Some(Remedy::AcidNow | Remedy::AcidLater) if ph.fresh.ph > GAS_PH && !gives_off_ammonia(facts).is_empty() => format!(
            "It gives off ammonia, and no acid makes it a feed for this tank: feed it to no plant as it is, and make it anew without {}.",
            gives_off_ammonia(facts).join(", ")
        ),
        Some(Remedy::AcidNow | Remedy::AcidLater) => {
            return corrected_or(facts, ph, "Measure it; ready-diluted acid, in small parts, brings it down.");
        }
    };
    (words, None)
}

/// Names of the strong bases that set ammonia free in a mix that holds ammonium.
fn gives_off_ammonia<'f>(facts: &'f Facts) -> Vec<&'f str> {
    if !facts.substances.iter().any(|one| one.ammonium) {
        return Vec::new();
    }
    facts.substances.iter().filter(|one| one.strong_base).map(|one| one.name.as_str()).collect()
}

/// The correction, or else these words.
pub(super) fn corrected_or(facts: &Facts, ph: &Acidity, words: &str) -> Advice {
    correct(facts, ph).unwrap_or_else(|| (words.to_owned(), None))
}

/// The correction in words.
fn correct(facts: &Facts, ph: &Acidity) -> Option<Advice> {
    let of = match facts.correction? {
        Ok(of) => of,
        Err(why) => {
            return Some((untold_of_mix(why, facts, ph_remedy(ph)?), None));
        }
    };
    let Correction { name, grams, millilitres, measurable, brings, ph: to, .. } = of;
    let digits = |amount: f64| significant(amount, if amount < 0.1 { 3 } else { 1 });
    let amount = match millilitres {
        Some(ml) => format!("{} mL", digits(*ml)),
        None => format!("{} g", digits(*grams)),
    };
    let amount = if *measurable { amount } else { format!("{amount} (roughly: under what this bench measures well)") };
    let brings = brings.map_or_else(String::new, |(nutrient, ppm)| format!(" It brings {} ppm {nutrient}.", ppm_text(ppm)));
    let amount = of.short_g.map_or_else(
        || amount.clone(),
        |short| {
            let left = match millilitres {
                Some(ml) => format!("{} mL", digits(ml * short / grams)),
                None => format!("{} g", digits(short)),
            };
            format!("{amount} (more than the {left} that are left on hand)")
        },
    );
    let to = fixed(*to, 1);
    let thinned = thinned_words(of);
    let apart = kept_apart_words(of);
    let words = match ph_remedy(ph)? {
        Remedy::Base => {
            // within the range it is a wish and no need
            let may_stay = ph.fresh.ph >= PH_RANGE.0 && least(ph) >= PH_LEAST;
            format!(
                "{} {amount} of {name} lifts it to {to} once aired: goggles and gloves on, dissolved apart, in small parts, by \
                 the meter.{brings}",
                if may_stay { "It may stay so; about" } else { "About" }
            )
        }
        Remedy::AcidNow => {
            format!("About {amount} of {name}{thinned} in small parts, brings it to {to} now, by the meter.{brings}{apart}")
        }
        Remedy::AcidLater => format!(
            "Not now: in the days after, by the meter, about {amount} of {name}{thinned} in small parts, pump off, brings it to {to}.{brings}{apart}"
        ),
    };
    Some((words, Some(of.salt.clone())))
}

/// What is worn for an acid, and how it is thinned before it goes into a tank.
fn thinned_words(of: &Correction) -> String {
    let worn = worn_for_acid(of.burns);
    let jug = |ml: f64| {
        format!(", poured into {} mL of water in a marked jug first, never neat into the tank", significant(ml, 0))
    };
    format!(" ({worn}{}),", of.water_ml.map_or_else(String::new, jug))
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
        Untold::OfBottle { name } => {
            format!("of the bottle {name} a dose is reckoned with a mix, and none for a tank that is there: no dose is told")
        }
        Untold::NotStated { name } => format!("{name} does not state its alkalinity, so no dose of it is told"),
        Untold::BringsTooMuch { name, nutrient, brings_ppm, asked } => {
            let asked = match asked {
                Asked::AtMost(max) => format!(" more, beyond the limit of {} ppm", ppm_text(*max)),
                Asked::Target(target) => format!(", and {} ppm are asked", ppm_text(*target)),
                Asked::Usual { most_ppm, comes_to_ppm, allowed_ppm } => format!(
                    ", {} in all, and over {} is too much in any tank{}",
                    ppm_text(*comes_to_ppm),
                    ppm_text(*most_ppm),
                    allowed_ppm.map_or_else(String::new, |most| format!(" (the formula's own limit is {})", ppm_text(most)))
                ),
            };
            format!("so much {name} would bring {} ppm {nutrient}{asked}: as it stands this tank gets none", ppm_text(*brings_ppm))
        }
        Untold::EcOver { name, ec_ms_per_cm, max_ms_per_cm } => format!(
            "so much {name} would bring EC to {} mS/cm, over {}: as it stands this tank gets none",
            fixed(*ec_ms_per_cm, 2),
            fixed(*max_ms_per_cm, 2)
        ),
        Untold::TooLittle { name } => {
            format!("of {name} so little is needed that nothing here measures it well: no dose is told")
        }
        Untold::NotAired { .. } => {
            "that was read within a day of the filling, and what carbon dioxide the fresh water holds may still go out and lift it: no \
             dose is told yet"
                .to_owned()
        }
        Untold::NotReckoned { ph } => format!("what the tank holds cannot be reckoned to pH {}: no dose is told", fixed(*ph, 1)),
        Untold::FarOut { ph } => format!("{} is far out, and no dose is told on one such reading", fixed(*ph, 1)),
        Untold::NotByEc { read_ms_per_cm, holds_ms_per_cm } => format!(
            "what holds such a pH for days in air would read about EC {} mS/cm, and {} was read: no dose is told",
            fixed(*holds_ms_per_cm, 2),
            fixed(*read_ms_per_cm, 2)
        ),
    }
}

/// The same of a mix, and what helps instead.
fn untold_of_mix(why: &Untold, facts: &Facts, remedy: Remedy) -> String {
    let any = |is: fn(&Substance) -> bool| facts.substances.iter().any(is);
    let bases: Vec<&str> = facts.substances.iter().filter(|one| one.strong_base).map(|one| one.name.as_str()).collect();
    let helps = match why {
        Untold::OfBottle { .. } => BESIDE.to_owned(),
        Untold::NotStated { .. } => STATE_IT.to_owned(),
        _ if remedy == Remedy::Base && any(|one| one.urea) && any(|one| one.nitric_acid) => {
            "Made anew with less acid, and beside urea with another than nitric, it is higher".to_owned()
        }
        _ if remedy == Remedy::Base && any(|one| one.kind == Kind::Acid) => {
            "Made anew with less acid it is higher".to_owned()
        }
        Untold::TooLittle { .. } => FINER.to_owned(),
        _ if remedy == Remedy::Base => "Some tap water with alkalinity brings it up".to_owned(),
        _ if !bases.is_empty() => format!("Make it anew with less {}", bases.join(", ")),
        _ if any(|one| one.urea) => {
            "Rain water blended in does it, or an acid that urea may meet, named in [acid]".to_owned()
        }
        _ => "Rain water blended in does it, or another acid named in [acid], with which the mix then reckons".to_owned(),
    };
    format!("Measure it: {}. {helps}.", untold_words(why))
}

/// The same of a pH that was read, and what helps instead.
#[must_use]
pub fn untold_of_reading(why: &Untold) -> String {
    let helps = match why {
        Untold::OfBottle { .. } => BESIDE,
        Untold::NotStated { .. } => STATE_IT,
        Untold::TooLittle { .. } => FINER,
        Untold::BringsTooMuch { .. } | Untold::EcOver { .. } => {
            "Goggles and gloves on: calibrate the pH meter and read it again; where it reads the same, another acid does it, or a fresh tank of water with less alkalinity"
        }
        Untold::NotAired { ph, from } => {
            let meanwhile = if *ph < PH_RANGE.0 { ", and give it to no plant meanwhile" } else { "" };
            return format!("{}. Read it again from {from} on{meanwhile}", untold_words(why));
        }
        Untold::FarOut { .. } => {
            "Give it to no plant; gloves and goggles on before anything touches it. Calibrate the pH meter, or take another, and read again: what two \
             readings agree on is corrected (own choice)"
        }
        Untold::NotReckoned { .. } => {
            "Give it to no plant, goggles, gloves and apron on: let all of it out, and make it anew"
        }
        Untold::NotByEc { .. } => {
            "Suspect the pH meter first: calibrate it and read again; a tank that reads the same is let out, goggles, gloves and apron on, doors and \
             windows open, face away, into marked plastic vessels, where it gets what SAFETY tells of old solution, and made anew"
        }
    };
    format!("{}. {helps}", untold_words(why))
}
