//! A tank that holds too much: of everything, or of one thing.

use super::acidity::is_burning_ph;
use super::{Code, Facts, Finding, Severity};
use crate::matter::Nutrient;
use crate::quantity::{ppm_text, significant, trimmed};

/// Nutrients whose upper limit is told as missed, with the severity of that.
pub(super) type Told = [(Nutrient, Severity)];

fn is_told(told: &Told, nutrient: Nutrient, severity: Severity) -> bool {
    told.iter().any(|(of, as_told)| *of == nutrient && *as_told <= severity)
}

/// EC over which a feed is too strong, mS/cm: warning and stop (from memory).
const EC_STRONG: (f64, f64) = (2.5, 4.0);
/// Concentrations over which it is, ppm: warning and stop (from memory).
const STRONG: [(Nutrient, f64, f64); 7] = [
    (Nutrient::N, 300.0, 600.0),
    (Nutrient::K, 450.0, 900.0),
    (Nutrient::Ca, 300.0, 600.0),
    (Nutrient::Mg, 100.0, 200.0),
    (Nutrient::S, 250.0, 500.0),
    (Nutrient::Fe, 8.0, 20.0),
    (Nutrient::Mo, 0.3, 1.0),
];
/// Slips that move everything by one factor.
const SLIPS: [(f64, &str); 3] = [
    (3.785, "US gallons taken for litres"),
    (10.0, "a decimal point, a wrong unit, or a volume with a digit too few"),
    (1000.0, "a wrong unit, milligrams taken for grams"),
];
/// What a slip moves, with what a usual feed has of it, ppm (from memory; the low ends of the usual ranges).
const USUAL: [(Nutrient, f64); 5] =
    [(Nutrient::N, 100.0), (Nutrient::P, 15.0), (Nutrient::K, 100.0), (Nutrient::Ca, 70.0), (Nutrient::Mg, 20.0)];
/// So many of them tell a slip from a strong feed.
const FEWEST_FOR_A_SLIP: usize = 3;
/// Against what was asked, everything is off by the factor of a slip within this factor; against another feed within that
/// (own choice: formulas differ).
const SPREAD: (f64, f64) = (1.25, 3.0);
/// Sodium over this in a tank that is topped up and not drained, ppm (from memory).
pub const SODIUM_TOPPED_UP_PPM: f64 = 35.0;

/// A concentration that is too much of something.
struct TooMuch {
    code: Code,
    nutrient: Nutrient,
    /// Severity above each threshold in ppm, highest first, with its source.
    steps: &'static [(f64, Severity, &'static str)],
    why: &'static str,
}

const TOO_MUCH: [TooMuch; 7] = [
    TooMuch {
        code: Code::PhosphorusHigh,
        nutrient: Nutrient::P,
        steps: &[(60.0, Severity::Warning, "memory")],
        why: "so much hinders the uptake of iron and zinc",
    },
    TooMuch {
        code: Code::ChlorideHigh,
        nutrient: Nutrient::Cl,
        steps: &[(140.0, Severity::Warning, "okstate-source-water"), (70.0, Severity::Note, "own-choice")],
        why: "sensitive roots suffer",
    },
    TooMuch {
        code: Code::SodiumHigh,
        nutrient: Nutrient::Na,
        steps: &[(50.0, Severity::Warning, "okstate-source-water")],
        why: "plants hardly take it up, so it piles up in the tank",
    },
    TooMuch {
        code: Code::BoronHigh,
        nutrient: Nutrient::B,
        steps: &[(4.0, Severity::Stop, "memory"), (1.0, Severity::Warning, "memory")],
        why: "leaf edges may burn",
    },
    TooMuch {
        code: Code::CopperHigh,
        nutrient: Nutrient::Cu,
        steps: &[(0.5, Severity::Stop, "memory"), (0.2, Severity::Warning, "memory")],
        why: "it may harm roots",
    },
    TooMuch {
        code: Code::ZincHigh,
        nutrient: Nutrient::Zn,
        steps: &[(2.0, Severity::Stop, "memory"), (1.0, Severity::Warning, "memory")],
        why: "it may harm roots and hinder iron",
    },
    TooMuch {
        code: Code::ManganeseHigh,
        nutrient: Nutrient::Mn,
        steps: &[(5.0, Severity::Stop, "memory"), (3.0, Severity::Warning, "memory")],
        why: "leaves may spot and iron is hindered",
    },
];

/// The least concentration that a finding calls too much of a nutrient, ppm.
#[must_use]
pub fn too_much_ppm(nutrient: Nutrient) -> Option<f64> {
    let rule = TOO_MUCH.iter().find(|rule| rule.nutrient == nutrient)?;
    rule.steps.last().map(|(least, ..)| *least)
}

/// EC from which a finding calls a feed too strong, mS/cm.
pub const STRONG_EC_MS_PER_CM: f64 = EC_STRONG.0;
/// EC over which a tank is a stop, mS/cm (from memory).
pub const MOST_EC_MS_PER_CM: f64 = EC_STRONG.1;

/// The least concentration that any finding speaks of, of this nutrient alone or of a feed that is too strong, ppm.
///
/// # Examples
/// ```
/// use bloomsalt::{matter::Nutrient, safety::over_usual_ppm};
/// assert!(over_usual_ppm(Nutrient::P).is_some_and(|most| (most - 60.0).abs() < 1e-9));
/// assert!(over_usual_ppm(Nutrient::K).is_some_and(|most| (most - 450.0).abs() < 1e-9));
/// ```
#[must_use]
pub fn over_usual_ppm(nutrient: Nutrient) -> Option<f64> {
    let strong = || STRONG.into_iter().find(|(of, ..)| *of == nutrient).map(|(_, warning, _)| warning);
    too_much_ppm(nutrient).or_else(strong)
}

/// All findings of strength.
///
/// * `told`: what missed limits say already
pub(super) fn findings(facts: &Facts, told: &Told, found: &mut Vec<Finding>) {
    found.extend(feed_too_strong(facts, told));
    too_much(facts, told, found);
    found.extend(sodium_piles_up(facts));
}

fn feed_too_strong(facts: &Facts, told: &Told) -> Option<Finding> {
    let mut over: Vec<(Severity, String)> = Vec::new();
    let severity = |surely: f64, warning: f64, stop: f64| match surely {
        surely if surely > stop => Some((Severity::Stop, stop)),
        surely if surely > warning => Some((Severity::Warning, warning)),
        _ => None,
    };
    let (warning, stop) = EC_STRONG;
    if let Some((severity, limit)) = severity(facts.ec_ms_per_cm - facts.ec_plus_minus_ms_per_cm, warning, stop) {
        let ec = significant(facts.ec_ms_per_cm, 2);
        over.push((severity, format!("EC {ec} mS/cm (over {})", trimmed(limit, 1))));
    }
    for (nutrient, warning, stop) in STRONG {
        let Some(a) = facts.of(nutrient) else { continue };
        let Some((severity, limit)) = severity(a.ppm - a.plus_minus_ppm, warning, stop) else { continue };
        if !is_told(told, nutrient, severity) {
            over.push((severity, format!("{nutrient} {} ppm (over {})", ppm_text(a.ppm), trimmed(limit, 1))));
        }
    }
    let severity = over.iter().map(|(severity, _)| *severity).min()?;
    // beside what stops it the rest is no news, and its limits are others
    let list: Vec<String> = over.into_iter().filter(|(of, _)| *of == severity).map(|(_, words)| words).collect();
    let slip = likely_slip(facts);
    Some(
        Finding::new(
            Code::FeedTooStrong,
            severity,
            format!("Stronger than any usual feed (from memory): {}. Roots burn.", list.join(", ")),
        )
        .remedy(match slip {
            Some(slip) => format!("{slip} Keep it from plants; drain and thin it, or make it anew."),
            // thinned it would still burn
            None if facts.ph.as_ref().is_some_and(|ph| is_burning_ph(ph.fresh.ph)) => "Make it anew.".to_owned(),
            None => "Make it with less, or thin it with water before plants meet it.".to_owned(),
        })
        .source("memory"),
    )
}

/// The slip that would explain it, where everything is over by the factor of one: first against what this tank was asked, then
/// against the bench's growth formula, then against a usual feed.
pub(super) fn likely_slip(facts: &Facts) -> Option<String> {
    let asked: Vec<(Nutrient, f64)> =
        facts.achieved.iter().filter_map(|a| Some((a.nutrient, a.target_ppm.filter(|target| *target > 0.0)?))).collect();
    let growth = if facts.growth_ppm.is_empty() { (&USUAL[..], "a usual feed") } else { (facts.growth_ppm, "growth") };
    let (near, far) = SPREAD;
    [(&asked[..], "what is asked", near), (growth.0, growth.1, far)].into_iter().find_map(|(beside, words, spread)| {
        let over = |nutrient: Nutrient| {
            let (_, of) = beside.iter().find(|(other, _)| *other == nutrient)?;
            facts.of(nutrient).map(|a| a.ppm / of)
        };
        let mut times: Vec<f64> = USUAL.iter().filter_map(|(nutrient, _)| over(*nutrient)).collect();
        times.sort_by(f64::total_cmp);
        let middle = *times.get(times.len() / 2).filter(|_| times.len() >= FEWEST_FOR_A_SLIP)?;
        let off = |factor: f64, of: f64| (of / factor).max(factor / of);
        let (factor, slip) = SLIPS.into_iter().min_by(|(a, _), (b, _)| off(*a, middle).total_cmp(&off(*b, middle)))?;
        times
            .iter()
            .all(|of| off(factor, *of) < spread)
            .then(|| format!("All of it is about {} times {words}, as by a slip: {slip}.", trimmed(factor, 1)))
    })
}

/// Plants hardly take sodium up: where nothing is drained, all that comes in stays.
fn sodium_piles_up(facts: &Facts) -> Option<Finding> {
    let sodium = facts.of(Nutrient::Na).filter(|_| facts.topped_up)?;
    let surely = sodium.ppm - sodium.plus_minus_ppm;
    let warned = TOO_MUCH.iter().any(|rule| rule.nutrient == Nutrient::Na && surely > rule.steps[0].0);
    (surely > SODIUM_TOPPED_UP_PPM && !warned).then(|| {
        Finding::note(
            Code::SodiumHigh,
            format!(
                "Na comes to {} ppm, over {} ppm in a tank that is topped up and not drained: plants hardly take it \
                 up, so it piles up (from memory).",
                ppm_text(sodium.ppm),
                ppm_text(SODIUM_TOPPED_UP_PPM)
            ),
        )
        .remedy("Drain some of it at the next turn, or top up with rain water.")
        .source("memory")
    })
}

fn too_much(facts: &Facts, told: &Told, found: &mut Vec<Finding>) {
    for rule in &TOO_MUCH {
        let Some(a) = facts.of(rule.nutrient) else { continue };
        let surely = a.ppm - a.plus_minus_ppm;
        if let Some((threshold, severity, source)) = rule.steps.iter().find(|(threshold, _, _)| surely > *threshold) {
            // a missed upper limit says it already, unless this is worse
            if is_told(told, rule.nutrient, *severity) {
                continue;
            }
            found.push(
                Finding::new(
                    rule.code,
                    *severity,
                    format!(
                        "{} comes to {} ppm, over {} ppm: {}{}.",
                        rule.nutrient,
                        ppm_text(a.ppm),
                        ppm_text(*threshold),
                        rule.why,
                        if *source == "memory" { " (from memory)" } else { "" }
                    ),
                )
                .source((*source).to_owned()),
            );
        }
    }
}
