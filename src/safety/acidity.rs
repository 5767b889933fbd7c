//! pH: out of range, near its edge, climbing later, and out of what a chelate bears.

use super::{Code, Correction, Facts, Finding, Severity, Substance, Untold};
use crate::matter::Kind;
use crate::quantity::{fixed, ppm_text, significant, trimmed};
use crate::solution::{Acidity, PhSpan};

/// pH right after mixing that roots and chelates bear (common practice, no source).
const PH_RANGE: (f64, f64) = (4.8, 6.8);
/// pH after days in air from which trace metals are lost to the plants (common practice, no source).
const PH_AIRED_MOST: f64 = 7.5;
/// No low end of a pH may come under this (common practice, no source).
const PH_LEAST: f64 = 4.5;
/// Beyond these right after mixing no plant is fed with it (own choice).
const PH_STOP: (f64, f64) = (4.0, 9.0);
/// Under this right after mixing, and from this after days in air, a pH is near an edge (own choice).
const NEAR_EDGE: (f64, f64) = (5.3, 6.8);
/// A pH that may be anywhere within so much is loose (own choice).
const LOOSE: f64 = 0.5;
/// Alkalinity that stays over this lets the pH climb, meq/L (the carbonate equilibria in air: it then ends over pH 8).
const ALKALINITY_LEFT: f64 = 1.0;

/// What would bring a pH to where it should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remedy {
    /// A mild base; reckoned for the pH after days in air.
    Base,
    /// An acid, right after mixing.
    AcidNow,
    /// An acid in the days after; reckoned for the pH after days in air.
    AcidLater,
}

/// What a pH that is out of range, or near its edge, asks for; `None` where it asks for nothing, or mends by itself.
#[must_use]
pub fn ph_remedy(ph: &Acidity) -> Option<Remedy> {
    if ph.fresh.low > PH_RANGE.1 {
        Some(Remedy::AcidNow)
    } else if ph.fresh.ph < NEAR_EDGE.0 || least(ph) < PH_LEAST {
        (ph.aired.ph < NEAR_EDGE.0).then_some(Remedy::Base)
    } else {
        (ph.aired.ph >= NEAR_EDGE.1).then_some(Remedy::AcidLater)
    }
}

/// By so much a pH that was read may be over the wish before an acid is told (own choice, what pH meters of growers are off by).
const OVER_WISH: f64 = 0.3;

/// A pH that may be anywhere within more than this is not told: own choice.
const UNTOLD: f64 = 3.0;
/// Alkalinity with this give or take is what acid and base leave of each other, meq/L; own choice, over what nobody knows better
/// of any mix.
const OPEN_MEQ_PER_L: f64 = 0.05;

/// What a pH that was read in a tank asks for.
///
/// * `wish`: the pH of `[acid]`
#[must_use]
pub fn read_ph_remedy(ph: f64, wish: Option<f64>) -> Option<Remedy> {
    if ph < NEAR_EDGE.0 {
        Some(Remedy::Base)
    } else {
        (ph > wish.map_or(NEAR_EDGE.1, |wish| wish + OVER_WISH)).then_some(Remedy::AcidLater)
    }
}

/// True where a pH is no further over its wish than one that is read may be before it is corrected.
#[must_use]
pub fn is_near_wish(ph: f64, wish: f64) -> bool {
    (ph - wish).abs() <= OVER_WISH
}

/// pH by which a solution is judged before it is poured away: it has stood in air by then, and over the range it burns
/// from the start.
#[must_use]
pub fn spent_ph(ph: &Acidity) -> Vec<f64> {
    let Acidity { fresh, aired } = ph;
    let mut spent = vec![aired.ph, fresh.ph.max(aired.ph)];
    if is_untold(fresh) {
        spent.extend([fresh.low, fresh.high]);
    }
    spent
}

/// True where acid and base all but cancel, so that the pH may be out of the range on either side.
fn is_untold(ph: &PhSpan) -> bool {
    ph.high - ph.low > UNTOLD && ph.low < PH_RANGE.0 && ph.high > PH_RANGE.1
}

/// The range of pH that is usual, in words.
#[must_use]
pub fn ph_range_words() -> String {
    format!("{} to {} fresh, at most {PH_AIRED_MOST} in air", PH_RANGE.0, PH_RANGE.1)
}

/// All findings of pH.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    let Some(ph) = &facts.ph else { return };
    // nothing is stirred into a tank that is thinned or made anew
    let too_strong = found.iter().any(|one| one.code == Code::FeedTooStrong && one.severity == Severity::Stop);
    let first_thinned = |mut finding: Finding| {
        if too_strong {
            finding.remedy = Some("First the strength: thinned or made anew it has another pH.".to_owned());
            finding.adds.clear();
        }
        finding
    };
    let left = alkalinity_left(facts, ph);
    let of_ph = ph_outside(facts, ph, left.is_some()).or_else(|| ph_near_edge(facts, ph, left.is_some()));
    found.extend(of_ph.map(first_thinned));
    found.extend(left.map(first_thinned));
    found.extend(chelates_outside(facts.substances, ph));
}

fn least(ph: &Acidity) -> f64 {
    ph.fresh.low.min(ph.aired.low)
}

/// A pH with as many places as it takes to tell it from an edge that it is beyond.
fn told(ph: f64, edge: f64) -> String {
    let places = (1..3).find(|places| fixed(ph, *places) != fixed(edge, *places)).unwrap_or(3);
    fixed(ph, places)
}

/// What would help in words, and the id of what is poured for it.
type Advice = (String, Option<String>);

/// The correction, or else these words.
fn corrected_or(facts: &Facts, ph: &Acidity, words: &str) -> Advice {
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

const STATE_IT: &str = "State `alkalinity_per_kg` in its [[product]]";
const FINER: &str = "A ready-diluted acid, or a finer measure of glass or polypropylene, does it";

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

/// What helps: what mends by itself, what acid did, what is reckoned, and where nothing is there to reckon with.
fn remedy(facts: &Facts, ph: &Acidity, left: bool) -> Advice {
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

/// The pH is surely out of range, or may well be far too low.
fn ph_outside(facts: &Facts, ph: &Acidity, left: bool) -> Option<Finding> {
    let (low, high) = PH_RANGE;
    let Acidity { fresh, aired } = ph;
    let least = least(ph);
    let deadly = fresh.high < PH_STOP.0 || fresh.low > PH_STOP.1;
    // neutral salts in pure water hold nothing either way, and what is open of them the first plants and the air settle
    let holds = facts.alkalinity_meq_per_l.is_none_or(|(_, give_or_take)| give_or_take > OPEN_MEQ_PER_L);
    let untold = is_untold(fresh) && holds;
    let outside = if untold {
        format!(
            "pH may be anything from {} to {} right after mixing: acid and base all but cancel, and how much they hold is not known so \
             well",
            fixed(fresh.low, 1),
            fixed(fresh.high, 1)
        )
    } else if fresh.low > high {
        format!("pH comes to {} right after mixing and {} after days in air", told(fresh.ph, high), fixed(aired.ph, 1))
    } else if aired.low > PH_AIRED_MOST {
        format!("pH comes to {} after days in air, {} right after mixing", told(aired.ph, PH_AIRED_MOST), fixed(fresh.ph, 1))
    } else if fresh.high < low {
        format!("pH comes to {} right after mixing and {} after days in air", told(fresh.ph, low), fixed(aired.ph, 1))
    } else if least < PH_LEAST {
        format!("pH may come down to {}, by what is known of the mix; under {PH_LEAST} roots suffer", told(least, PH_LEAST))
    } else {
        return None;
    };
    let (words, adds) = if untold {
        ("Measure it; what it then asks for goes in thinned, in small parts, by the meter.".to_owned(), None)
    } else {
        remedy(facts, ph, left)
    };
    Some(
        Finding::new(
            Code::PhOutside,
            if deadly || untold { Severity::Stop } else { Severity::Warning },
            format!(
                "{outside}.{} Usual is {} (common practice).",
                if deadly || untold { " No plant is fed with it." } else { "" },
                ph_range_words()
            ),
        )
        .remedy(words)
        .adds(adds)
        .source("common-practice"),
    )
}

/// Within the range, and near its end.
fn ph_near_edge(facts: &Facts, ph: &Acidity, left: bool) -> Option<Finding> {
    let (low, high) = NEAR_EDGE;
    let Acidity { fresh, aired } = ph;
    let near = if fresh.ph < low {
        format!("pH comes to {} right after mixing, under {low}", told(fresh.ph, low))
    } else if aired.ph >= high {
        format!("pH comes to {} after days in air, {high} or more", fixed(aired.ph, 1))
    } else {
        return None;
    };
    let span = if fresh.ph < low { fresh } else { aired };
    let loose = if span.high - span.low > LOOSE {
        let (from, to) = (fixed(span.low, 1), fixed(span.high, 1));
        format!("; loose, {from} to {to}, for want of alkalinity")
    } else {
        String::new()
    };
    let (words, adds) = remedy(facts, ph, left);
    Some(
        Finding::note(
            Code::PhNearEdge,
            format!("{near} (own choice){loose}. Usual is {} (common practice).", ph_range_words()),
        )
        .remedy(words)
        .adds(adds)
        .source("own-choice"),
    )
}

fn alkalinity_left(facts: &Facts, ph: &Acidity) -> Option<Finding> {
    let (meq_per_l, plus_minus) = facts.alkalinity_meq_per_l?;
    let (words, adds) = match ph_remedy(ph) {
        Some(Remedy::AcidLater) => {
            corrected_or(facts, ph, "In the days after, by the meter: ready-diluted acid in small parts. Not now.")
        }
        Some(Remedy::AcidNow) => ("Read the pH again in the days after.".to_owned(), None),
        _ => ("Read the pH again in the days after, and correct it then, by the meter.".to_owned(), None),
    };
    (meq_per_l - plus_minus > ALKALINITY_LEFT).then(|| {
        Finding::note(
            Code::AlkalinityLeft,
            format!(
                "{} meq/L of alkalinity is left, over {ALKALINITY_LEFT}: pH {} to {} in the days after, as \
                 carbon dioxide {}.",
                significant(meq_per_l, 2),
                if ph.aired.ph < ph.fresh.ph { "falls" } else { "climbs" },
                fixed(ph.aired.ph, 1),
                if ph.aired.ph < ph.fresh.ph { "of the air goes in" } else { "goes out" },
            ),
        )
        .remedy(words)
        .adds(adds)
        .source("phreeqc-3.8-dat")
    })
}

/// True where a pH is in a range at both of its ends.
fn within(span: &PhSpan, (low, high): (f64, f64)) -> bool {
    span.low >= low && span.high <= high
}

/// Chelates that are surely out of their range at a pH.
#[must_use]
pub fn chelates_outside(substances: &[Substance], ph: &Acidity) -> Vec<Finding> {
    substances.iter().filter_map(|substance| chelate_outside(substance, ph)).collect()
}

fn chelate_outside(substance: &Substance, ph: &Acidity) -> Option<Finding> {
    let chelate = substance.chelate.as_ref()?;
    let (low, high) = chelate.ph_range;
    let outside = |span: &PhSpan| span.low > high || span.high < low;
    let (span, when) =
        [(&ph.fresh, "right after mixing"), (&ph.aired, "after days in air")].into_iter().find(|(span, _)| outside(span))?;
    let range = |(low, high): (f64, f64)| format!("{} to {}", trimmed(low, 1), trimmed(high, 1));
    let everywhere = |of: (f64, f64)| within(&ph.fresh, of) && within(&ph.aired, of);
    let holds = chelate.others.iter().find(|(_, of)| everywhere(*of));
    Some(Finding {
        source: chelate.source.clone(),
        ..Finding::warning(
            Code::ChelateOutside,
            format!(
                "{} holds at pH {}, and pH comes to {} {when}: out of that it lets its metal go.",
                substance.name,
                range(chelate.ph_range),
                told(span.ph, if span.low > high { high } else { low })
            ),
        )
        .remedy(match holds {
            Some((name, of)) => format!("{name} holds there (pH {}).", range(*of)),
            None if span.low > high => "No chelate of the table holds there: bring the pH down.".to_owned(),
            None => "No chelate of the table holds there: bring the pH up.".to_owned(),
        })
    })
}
