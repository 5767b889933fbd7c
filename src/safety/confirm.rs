//! What to ask back before an entry of a logbook is written: what is odd about it, and what may have slipped.

use super::acidity::is_burning_ph;
use super::logbook::{slip, too_far};
use super::reading::slipped;
use crate::logbook::{Moment, Slip};
use crate::quantity::{WholeDays, fixed, significant, trimmed};

/// What is odd, and what may have slipped.
type Odd = (String, Option<String>);

/// Slips that move a volume by a factor.
const VOLUME_SLIPS: [(f64, &str); 3] =
    [(10.0, "a decimal point"), (3.785, "gallons stated for litres"), (1000.0, "L stated for mL")];
/// Slips that make an EC less by a factor.
const EC_SLIPS: [(f64, &str); 3] = [
    (10.0, "a decimal point"),
    (2.0, "ppm of the 500 scale divided by 1000, which is half of it"),
    (1000.0, "mS/cm taken for uS/cm"),
];

fn litres(litres: f64) -> String {
    trimmed(litres, 1)
}

/// What to ask back of an entry that does not fit by the rules of the findings; nothing where it is not the entry that is odd.
#[must_use]
pub fn asked_back(odd: &Slip) -> Option<Odd> {
    let found = slip(odd);
    let likely = match odd {
        Slip::NotPredicted { .. } => return None,
        Slip::LevelHigher { level_l: stated, booked_l, .. } | Slip::DrainedMore { volume_l: stated, booked_l, .. } => {
            slipped(stated / booked_l, &VOLUME_SLIPS)
                .map(|slip| format!("It may be {slip}. Or: {}", found.remedy.as_deref().unwrap_or_default()))
        }
        _ => too_far(odd).and_then(|far| far.remedy),
    };
    Some((found.message, likely.or(found.remedy)))
}

/// A pH that no tank of plants has (own choice: under 4, over 9).
///
/// * `entry`: number of the entry that has it
#[must_use]
pub fn ph_far_out(entry: u64, ph: f64) -> Option<Odd> {
    is_burning_ph(ph).then(|| {
        (
            format!("entry {entry} reads pH {}, with which no plant is fed.", trimmed(ph, 2)),
            Some("A slip? EC typed for pH, or a decimal point. Else calibrate the meter and read again.".to_owned()),
        )
    })
}

/// What to ask back before the same is booked a second time on one day.
///
/// * `entry`: number of the entry that has it already
/// * `what`: what it has, in words
/// * `days`: how long before this one it was, negative where after it
#[must_use]
pub fn booked_twice(entry: u64, what: &str, days: f64) -> Odd {
    let minutes = (days.abs() * 24.0 * 60.0).round();
    let apart = if minutes < 120.0 {
        format!("{} minutes", fixed(minutes, 0))
    } else if minutes < 2.0 * 24.0 * 60.0 {
        format!("{} hours", fixed(minutes / 60.0, 0))
    } else {
        format!("{} days", fixed(minutes / 60.0 / 24.0, 0))
    };
    let side = if days < 0.0 { "after" } else { "before" };
    let odd = format!("entry {entry}, {apart} {side} it, has the same {what} already.");
    (odd, Some("Was it done twice, or is one job entered twice?".to_owned()))
}

/// What to ask back before acid is booked that nothing in the tank buffers.
///
/// * `meq_per_l`: of it, by the charges of what is booked
#[must_use]
pub fn acid_over(meq_per_l: f64) -> Odd {
    let odd = format!(
        "it leaves about {} meq/L of acid that nothing in the tank takes up: pH under 3.",
        significant(meq_per_l, 1)
    );
    (odd, Some("A decimal point, or the acid as it is sold for a thinned one? A pH that is read decides.".to_owned()))
}

/// What to ask back before nitric acid is booked into a tank that holds urea.
#[must_use]
pub fn nitric_into_urea(acid: &str, urea_ppm: f64) -> Odd {
    let odd = format!(
        "{acid} goes into a tank that holds {} ppm of urea nitrogen: the two must never meet.",
        significant(urea_ppm, 1)
    );
    (
        odd,
        Some(
            "Another acid, or a fresh tank. Where it is in already: never boil the solution down, nor let it dry up."
                .to_owned(),
        ),
    )
}

/// What to ask back of a level that fell further than the tank loses.
///
/// * `entry`: its number
/// * `level_l`, `expected_l`: the level, and that which the logbook has for then
/// * `per_day_l`: what the tank lost a day so far, where levels tell it
#[must_use]
pub fn level_fell(entry: u64, level_l: f64, expected_l: f64, per_day_l: Option<f64>) -> Odd {
    let pace = match per_day_l {
        Some(per_day) => format!("it loses about {} L a day", fixed(per_day, 1)),
        None => "leaves and air take no such share of it in that time".to_owned(),
    };
    let odd = format!(
        "entry {entry} puts the level at {} L, where the logbook has {} L for then, and {pace}.",
        litres(level_l),
        litres(expected_l)
    );
    let let_out = "what was let out is an entry of its own, before it";
    let help = match slipped(expected_l / level_l, &VOLUME_SLIPS) {
        Some("a decimal point") => format!("It may be a decimal point: {} L? Or: {let_out}.", litres(level_l * 10.0)),
        Some(slip) => format!("It may be {slip}. Or: {let_out}."),
        None => format!("Read it again; {let_out}."),
    };
    (odd, Some(help))
}

/// What to ask back before a tank is booked fuller than it can be.
///
/// * `after_l`, `holds_l`: what would be in it, and what it holds
#[must_use]
pub fn overfilled(entry: u64, after_l: f64, holds_l: f64, topped_up: bool) -> Odd {
    let odd = format!(
        "entry {entry} leaves {} L in the tank, which holds {} L when it is full.",
        litres(after_l),
        litres(holds_l)
    );
    let help = match slipped(after_l / holds_l, &VOLUME_SLIPS) {
        Some(slip) => format!("It may be {slip}. Or is it that of another tank?"),
        None if topped_up => "Enter the level as it was read before it, or the level after it.".to_owned(),
        None => "Is it that of another tank?".to_owned(),
    };
    (odd, Some(help))
}

/// What to ask back before salts are booked of which less is on hand.
///
/// * `weighed_g`, `on_hand_g`: what is booked, and what is left by the shelf and the logbook
#[must_use]
pub fn more_than_on_hand(name: &str, weighed_g: f64, on_hand_g: f64) -> Odd {
    let grams = |grams: f64| significant(grams, 2);
    let odd = format!("it weighs {} g of {name}, of which {} g are on hand.", grams(weighed_g), grams(on_hand_g));
    let help =
        "A decimal point, kg for g, or another salt? Or the shelf was refilled: count it, and state it in the bench file.";
    (odd, Some(help.to_owned()))
}

/// What to ask back before more is booked from a bottle than is left in it.
#[must_use]
pub fn more_than_left(bottle: &str, poured_ml: f64, left_ml: f64) -> Odd {
    let ml = |ml: f64| significant(ml, 2);
    let odd = format!("it pours {} mL of bottle {bottle}, of which {} mL are left.", ml(poured_ml), ml(left_ml));
    let help = "A decimal point, L for mL, or another bottle? Or it was filled anew: state its `made_on` in the bench file.";
    (odd, Some(help.to_owned()))
}

/// What to ask back before salts are booked with which the tank would be too strong for roots.
///
/// * `why`: the finding that says so
#[must_use]
pub fn too_strong_after(entry: u64, why: &str) -> Odd {
    let odd = format!("with entry {entry} the tank would hold what roots do not stand. {why}");
    (odd, Some("A decimal point, kg for g, or salts of a larger tank?".to_owned()))
}

/// What to ask back of an EC that is lower than plants can have made it.
///
/// * `expected_ms_cm`: by the logbook, for then
#[must_use]
pub fn ec_fell(entry: u64, ec_ms_cm: f64, expected_ms_cm: f64) -> Odd {
    let odd = format!(
        "entry {entry} reads EC {}, where {} is expected: plants do not take so much in that time.",
        fixed(ec_ms_cm, 2),
        fixed(expected_ms_cm, 2)
    );
    let help = match slipped(expected_ms_cm / ec_ms_cm, &EC_SLIPS) {
        Some(slip) => format!("It may be {slip}. Or water went in without an entry."),
        None => "Rinse the probe and read again. Or water went in without an entry.".to_owned(),
    };
    (odd, Some(help))
}

/// What to ask back of an entry that is dated long before the tank was first filled.
#[must_use]
pub fn dated_before(entry: u64, at: Moment, first: Moment) -> Odd {
    let odd = format!("entry {entry} is dated {}, and the tank was first filled on {}.", at.date(), first.date());
    (odd, Some("Is it the year or the month?".to_owned()))
}

/// What to ask back of an entry that is dated long after the last one, or weeks before it.
#[must_use]
pub fn dated_off_last(entry: u64, at: Moment, last: Moment) -> Odd {
    let off = at.days_since(&last);
    #[allow(clippy::cast_possible_truncation, reason = "days between dates of a calendar")]
    let days = WholeDays(off.abs().round() as i32);
    let (side, late) = if off < 0.0 { ("before", " Or is it entered late?") } else { ("after", "") };
    let odd = format!("entry {entry} is dated {}, {days} {side} the last one, of {}.", at.date(), last.date());
    (odd, Some(format!("Is it the year or the month?{late}")))
}

/// What to ask back before a recipe is booked that fills a part of the tank.
///
/// * `fills_l`, `holds_l`: what it fills in, and what the tank holds
#[must_use]
pub fn of_smaller_tank(entry: u64, fills_l: f64, holds_l: f64) -> Odd {
    let odd = format!("entry {entry} is of a recipe for {} L, and the tank holds {} L.", litres(fills_l), litres(holds_l));
    (odd, Some("Is it that of another tank?".to_owned()))
}

/// What to ask back before the first recipe is booked that was made for another bench.
#[must_use]
pub fn of_other_bench(entry: u64, made_for: &str, own: &str) -> Odd {
    let odd = format!("entry {entry} is of a recipe for the bench `{made_for}`, and this is `{own}`.");
    (odd, Some("Is it that of another tank?".to_owned()))
}

/// What to ask back of a phase that nothing is called.
///
/// * `near`: a known one that may be meant
/// * `known`: those that there are
#[must_use]
pub fn unknown_phase(phase: &str, near: Option<&str>, known: &[&str]) -> Odd {
    let odd =
        format!("neither a formula nor a phase is called `{phase}`, so nothing is known of it, nor how long it may last.");
    let help = near.map_or_else(|| format!("There are {}.", known.join(", ")), |near| format!("Did you mean `{near}`?"));
    (odd, Some(help))
}

/// What to ask back of a job that names another formula than the tank is fed and does not bring it there.
#[must_use]
pub fn of_other_formula(entry: u64, named: &str, fed: &str) -> Odd {
    let odd = format!("entry {entry} is of a recipe for `{named}`, but the tank is fed `{fed}` and stays nearer to that.");
    (odd, Some("Is it an old file? What turns a tank over says so when it is saved.".to_owned()))
}
