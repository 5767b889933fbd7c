//! The rules: when each finding fires, and its words.
//!
//! A threshold is compared after the plus/minus, so near an edge nothing fires.

use super::{Achieved, Code, Facts, Finding, Measured, Severity, acidity, balance, chelates, strength, together};
use crate::matter::Nutrient;
use crate::quantity::{Limits, ppm_text, significant};

/// Elements that a plant cannot do without and a formula should name, with the low end of the usual range in ppm
/// (from memory).
const NEEDED: [(Nutrient, f64); 12] = [
    (Nutrient::N, 100.0),
    (Nutrient::P, 15.0),
    (Nutrient::K, 100.0),
    (Nutrient::Ca, 70.0),
    (Nutrient::Mg, 20.0),
    (Nutrient::S, 20.0),
    (Nutrient::Fe, 0.5),
    (Nutrient::Mn, 0.1),
    (Nutrient::Zn, 0.02),
    (Nutrient::B, 0.1),
    (Nutrient::Cu, 0.01),
    (Nutrient::Mo, 0.005),
];

/// An exact mix keeps its limits to this fraction: what a linear program leaves open.
const EXACTLY_KEPT: f64 = 1e-6;
/// A miss of a target beyond this fraction is told.
const TARGET_MISS: f64 = 0.05;
/// Nitrogen under this share of the growth formula's, or under this ppm, is low (common practice, no source).
const NITROGEN_LOW: (f64, f64) = (0.45, 40.0);
/// Gypsum dissolves slowly from this concentration, g/L (CRC solubility about 2.6 g/L).
const GYPSUM_G_PER_L: f64 = 1.0;
/// A salt within this fraction of its solubility dissolves slowly.
const NEAR_SOLUBILITY: f64 = 0.80;

/// Every finding that fires, stops first, then warnings, then notes, each in the order of the rules.
///
/// * `facts`: the mix as measured out
///
/// Returns findings whose messages carry their numbers and units.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs, safety::Code};
/// let mix = jobs::mix(&Bench::starter(), "push", &jobs::MixOptions::default())?;
/// assert!(mix.findings.iter().any(|finding| finding.code == Code::NitrogenLow));
/// # Ok::<(), jobs::JobError>(())
/// ```
#[must_use]
pub fn findings(facts: &Facts) -> Vec<Finding> {
    let mut found = Vec::new();
    // of what is as severe, what harms a person stands first
    together::findings(facts, &mut found);
    let limited = limits_missed(facts);
    let told: Vec<(Nutrient, Severity)> = limited.iter().filter(|m| m.over).map(|m| (m.nutrient, m.severity)).collect();
    let mut strong = Vec::new();
    strength::findings(facts, &told, &mut strong);
    // a slip is told once: as what makes the feed too strong, or else beside the limit that it breaks
    let slip_told = strong.iter().any(|finding| finding.code == Code::FeedTooStrong);
    let slip = if slip_told { None } else { strength::likely_slip(facts) };
    found.extend(limit_findings(facts, &limited, slip));
    targets_missed(facts, &limited, &mut found);
    not_named(facts, &mut found);
    absent(facts, &limited, &mut found);
    nitrogen_low(facts, &mut found);
    found.append(&mut strong);
    balance::findings(facts, &mut found);
    ec_outside(facts, &mut found);
    acidity::findings(facts, &mut found);
    chelates::findings(facts, &mut found);
    super::reaction::findings(facts, &mut found);
    for salt in facts.salts {
        of_salt(salt, &mut found);
    }
    super::water::findings(facts, &mut found);
    super::weighing::findings(facts, &mut found);
    found.sort_by_key(|finding| finding.severity);
    if is_unfit(&found) {
        // nothing is added to what is made anew
        for finding in found.iter_mut().filter(|finding| of_content(finding)) {
            finding.remedy = None;
            finding.adds.clear();
        }
    }
    found
}

/// True of a tank that burns, gives off gas, or may do so: none of it stays.
#[must_use]
pub fn is_unfit(found: &[Finding]) -> bool {
    let codes = [Code::PhOutside, Code::MustNotMeet, Code::AlkalinityNotStated];
    found.iter().any(|finding| finding.severity == Severity::Stop && codes.contains(&finding.code))
}

/// True of a tank that holds, or is made of, what must not meet, as a stop.
#[must_use]
pub fn meets_what_it_must_not(found: &[Finding]) -> bool {
    found.iter().any(|finding| finding.severity == Severity::Stop && finding.code == Code::MustNotMeet)
}

/// True for what speaks of too much or too little of something.
fn of_content(finding: &Finding) -> bool {
    [Code::LimitMissed, Code::TargetMissed, Code::ElementAbsent, Code::AmmoniumShare, Code::FeedTooStrong]
        .contains(&finding.code)
}

/// A limit that is missed.
struct Missed {
    nutrient: Nutrient,
    severity: Severity,
    over: bool,
    limit_ppm: f64,
    by_ppm: f64,
}

/// Limits of the formula that the mix does not keep.
fn limits_missed(facts: &Facts) -> Vec<Missed> {
    let missed = |a: &Achieved| {
        let over = a.max_ppm.map(|max| (a.ppm - max, max, true)).filter(|(by, max, _)| *by > 1e-9 * max.max(1.0));
        let under = a.min_ppm.map(|min| (min - a.ppm, min, false)).filter(|(by, min, _)| *by > 1e-9 * min.max(1.0));
        over.or(under).map(|(by_ppm, limit_ppm, over)| Missed {
            nutrient: a.nutrient,
            severity: if by_ppm > a.plus_minus_ppm { Severity::Stop } else { Severity::Warning },
            over,
            limit_ppm,
            by_ppm,
        })
    };
    facts.achieved.iter().filter_map(missed).collect()
}

/// * `slip`: what may have gone wrong, for the first limit that is passed
fn limit_findings(facts: &Facts, missed: &[Missed], mut slip: Option<String>) -> Vec<Finding> {
    let told = |one: &Missed| {
        let a = facts.of(one.nutrient)?;
        let rounded = is_by_rounding(&a);
        let remedy = match (rounded, one.over) {
            (true, _) => "Mix a larger volume at once, or use a finer scale.".to_owned(),
            (false, true) => slip
                .take()
                .unwrap_or_else(|| "Only draining takes it out; else make it anew with less of what brings it.".to_owned()),
            (false, false) => "Add of what brings it.".to_owned(),
        };
        Some(
            Finding::new(
                Code::LimitMissed,
                one.severity,
                format!(
                    "{} comes to {} ppm{}, but the formula wants {} {} ppm: missed by {} ppm, known to {} ppm.",
                    one.nutrient,
                    ppm_text(a.ppm),
                    if rounded { " as measured out" } else { "" },
                    if one.over { "at most" } else { "at least" },
                    ppm_text(one.limit_ppm),
                    ppm_text(one.by_ppm),
                    ppm_text(a.plus_minus_ppm)
                ),
            )
            .remedy(remedy),
        )
    };
    missed.iter().filter_map(told).collect()
}

/// True when only the steps of the instruments break a limit: a scale is to blame for nothing that was so before rounding.
fn is_by_rounding(a: &Achieved) -> bool {
    let kept = |limit: Option<f64>, over: f64| {
        limit.is_none_or(|limit| over * (a.exact_ppm - limit) <= EXACTLY_KEPT * limit.max(1.0))
    };
    kept(a.max_ppm, 1.0) && kept(a.min_ppm, -1.0)
}

/// True when the target is missed by more than is told, the plus/minus apart.
fn misses_target(a: &Achieved) -> bool {
    a.target_ppm.is_some_and(|target| (a.ppm - target).abs() - a.plus_minus_ppm > TARGET_MISS * target)
}

fn targets_missed(facts: &Facts, limited: &[Missed], found: &mut Vec<Finding>) {
    for a in facts.achieved.iter().filter(|a| limited.iter().all(|missed| missed.nutrient != a.nutrient)) {
        let Some(target) = a.target_ppm else { continue };
        if misses_target(a) {
            let off = 100.0 * (a.ppm - target) / target;
            found.push(Finding::warning(
                Code::TargetMissed,
                format!(
                    "{} comes to {} ppm, {} % {} the {} ppm asked.",
                    a.nutrient,
                    ppm_text(a.ppm),
                    significant(off.abs(), 1),
                    if off < 0.0 { "under" } else { "over" },
                    ppm_text(target)
                ),
            ));
        }
    }
}

fn not_named(facts: &Facts, found: &mut Vec<Finding>) {
    let named = |n: Nutrient| facts.of(n).is_some_and(|a| a.target_ppm.is_some() || a.min_ppm.is_some_and(|min| min > 0.0));
    let asked = |a: &Achieved| a.target_ppm.is_some() || a.min_ppm.is_some() || a.max_ppm.is_some();
    if !facts.achieved.iter().any(asked) {
        // a mix that no formula asked for
        return;
    }
    let nitrogen = [Nutrient::N, Nutrient::NitrateN, Nutrient::AmmoniumN].into_iter().any(named);
    let missing: Vec<&str> = NEEDED
        .into_iter()
        .filter(|(n, _)| !(named(*n) || (*n == Nutrient::N && nitrogen)))
        .map(|(n, _)| n.symbol())
        .collect();
    if !missing.is_empty() {
        found.push(
            Finding::note(
                Code::ElementNotNamed,
                format!("The formula gives no target and no minimum for {}.", missing.join(", ")),
            )
            .remedy("Name what the plants need, or leave it to the water and the other salts."),
        );
    }
}

/// Fires for labelled products of which none states sulfur, in a tank that has too little of it: labels often leave it out.
///
/// * `names`: the products, `sulfur`: what is counted
#[must_use]
pub fn label_omits_sulfur(names: &[&str], sulfur: &Achieved) -> Option<Finding> {
    let (_, low) = NEEDED.into_iter().find(|(nutrient, _)| *nutrient == sulfur.nutrient)?;
    let states = if names.len() == 1 { "the label states" } else { "their labels state" };
    (!names.is_empty() && sulfur.ppm + sulfur.plus_minus_ppm < low / 2.0).then(|| {
        Finding::note(
            Code::LabelOmits,
            format!(
                "{}: {states} no {}, so none of it is counted in the {} ppm here.",
                names.join(" and "),
                sulfur.nutrient,
                ppm_text(sulfur.ppm)
            ),
        )
        .remedy("Labels often leave it out: where the maker tells it, add it to `analysis`.")
    })
}

fn absent(facts: &Facts, limited: &[Missed], found: &mut Vec<Finding>) {
    let absent: Vec<String> = NEEDED
        .into_iter()
        .filter_map(|(nutrient, low)| Some((facts.of(nutrient)?, low)))
        // nitrogen that is low on purpose is the business of nitrogen-low
        .filter(|(a, _)| a.nutrient != Nutrient::N || facts.nitrogen_target_ppm.is_none())
        // and a miss that has been told is told once
        .filter(|(a, _)| !limited.iter().any(|missed| !missed.over && missed.nutrient == a.nutrient) && !misses_target(a))
        .filter(|(a, low)| a.ppm + a.plus_minus_ppm < low / 2.0)
        .map(|(a, low)| format!("{} {} ppm (usual from {} ppm)", a.nutrient, ppm_text(a.ppm), ppm_text(low)))
        .collect();
    if !absent.is_empty() {
        found.push(
            Finding::warning(
                Code::ElementAbsent,
                format!("Under half of what usual feeds start at (from memory): {}.", absent.join(", ")),
            )
            .source("memory"),
        );
    }
}

fn nitrogen_low(facts: &Facts, found: &mut Vec<Finding>) {
    let Some(target) = facts.nitrogen_target_ppm else { return };
    let (share, floor) = NITROGEN_LOW;
    let of_growth = facts.growth_nitrogen_ppm.map(|growth| target / growth);
    if of_growth.is_none_or(|of| of >= share * (1.0 - 1e-9)) && target >= floor * (1.0 - 1e-9) {
        return;
    }
    let compared = of_growth.map_or_else(String::new, |of| format!(", {} % of growth", significant(100.0 * of, 0)));
    let held = facts.hold_at_most_days.map(|days| significant(days.floor(), 0));
    found.push(Finding {
        remedy: held.is_none().then(|| "State `hold_at_most` in the formula, by your own experience.".to_owned()),
        ..Finding::new(
            Code::NitrogenLow,
            if held.is_some() { Severity::Note } else { Severity::Warning },
            match &held {
                Some(days) => format!(
                    "N is asked at {} ppm{compared}: low, so feed this for at most {days} days, then back to growth \
                     (common practice, no source).",
                    ppm_text(target)
                ),
                None => format!(
                    "N is asked at {} ppm{compared}: low, and the formula does not say how long it may be fed \
                     (common practice, no source).",
                    ppm_text(target)
                ),
            },
        )
        .source("common-practice")
    });
}

fn ec_outside(facts: &Facts, found: &mut Vec<Finding>) {
    let Limits { min, max } = facts.ec_limits_ms_per_cm;
    let (ec, about) = (facts.ec_ms_per_cm, facts.ec_plus_minus_ms_per_cm);
    let over = max.filter(|max| ec - about > *max).map(|max| ("at most", max));
    let under = min.filter(|min| ec + about < *min).map(|min| ("at least", min));
    if let Some((side, limit)) = over.or(under) {
        found.push(Finding::warning(
            Code::EcOutside,
            format!("EC comes to {} mS/cm; the formula wants {side} {} mS/cm.", significant(ec, 2), significant(limit, 2)),
        ));
    }
}

fn of_salt(salt: &Measured, found: &mut Vec<Finding>) {
    let gypsum = salt.id == "calcium-sulfate-dihydrate" && salt.g_per_l > GYPSUM_G_PER_L;
    let near = salt.soluble_g_per_l.filter(|most| salt.g_per_l > NEAR_SOLUBILITY * most);
    let too_much = salt.soluble_g_per_l.filter(|most| salt.g_per_l > *most);
    if gypsum || near.is_some() {
        found.push(Finding {
            source: salt.solubility_source.clone(),
            ..Finding::new(
                Code::DissolvesSlowly,
                if too_much.is_some() { Severity::Warning } else { Severity::Note },
                match salt.soluble_g_per_l {
                    Some(most) if too_much.is_some() => format!(
                        "{}: {} g/L, more than the {} g that a litre is known to dissolve; the rest would lie on the \
                         bottom.",
                        salt.name,
                        significant(salt.g_per_l, 2),
                        significant(most, 1)
                    ),
                    Some(most) => format!(
                        "{}: {} g/L; a litre dissolves about {} g, and it takes its time.",
                        salt.name,
                        significant(salt.g_per_l, 2),
                        significant(most, 1)
                    ),
                    None => format!("{}: {} g/L dissolves slowly.", salt.name, significant(salt.g_per_l, 2)),
                },
            )
            .remedy(if too_much.is_some() {
                "Ask for less of it, or put a more soluble salt on the shelf.".to_owned()
            } else {
                "Stir for an hour, or overnight, before the other salts.".to_owned()
            })
        });
    }
}
