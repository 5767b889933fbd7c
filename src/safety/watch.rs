//! The rules: when each finding fires, and its words.
//!
//! A threshold is compared after the plus/minus, so near an edge nothing fires.

use super::{Achieved, Facts, Finding, Measured, Severity};
use crate::matter::Nutrient;
use crate::quantity::{ppm_text, significant};
use crate::weights::weight;

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

/// A concentration that is too much of something.
struct TooMuch {
    code: &'static str,
    nutrient: Nutrient,
    /// Severity above each threshold in ppm, highest first, with its source.
    steps: &'static [(f64, Severity, &'static str)],
    why: &'static str,
}

const TOO_MUCH: [TooMuch; 7] = [
    TooMuch {
        code: "phosphorus-high",
        nutrient: Nutrient::P,
        steps: &[(60.0, Severity::Warning, "memory")],
        why: "so much hinders the uptake of iron and zinc",
    },
    TooMuch {
        code: "chloride-high",
        nutrient: Nutrient::Cl,
        steps: &[(140.0, Severity::Warning, "okstate-source-water"), (70.0, Severity::Note, "own-choice")],
        why: "sensitive roots suffer",
    },
    TooMuch {
        code: "sodium-high",
        nutrient: Nutrient::Na,
        steps: &[(50.0, Severity::Warning, "okstate-source-water")],
        why: "plants hardly take it up, so it piles up in the tank",
    },
    TooMuch {
        code: "boron-high",
        nutrient: Nutrient::B,
        steps: &[(4.0, Severity::Stop, "memory"), (1.0, Severity::Warning, "memory")],
        why: "leaf edges may burn",
    },
    TooMuch {
        code: "copper-high",
        nutrient: Nutrient::Cu,
        steps: &[(0.5, Severity::Stop, "memory"), (0.2, Severity::Warning, "memory")],
        why: "it may harm roots",
    },
    TooMuch {
        code: "zinc-high",
        nutrient: Nutrient::Zn,
        steps: &[(2.0, Severity::Stop, "memory"), (1.0, Severity::Warning, "memory")],
        why: "it may harm roots and hinder iron",
    },
    TooMuch {
        code: "manganese-high",
        nutrient: Nutrient::Mn,
        steps: &[(5.0, Severity::Stop, "memory"), (3.0, Severity::Warning, "memory")],
        why: "leaves may spot and iron is hindered",
    },
];

/// Share of potassium in K + Ca + Mg by charge above which it crowds the others (Steiner's region, from memory).
const POTASSIUM_SHARE: f64 = 0.5;
/// A miss of a target beyond this fraction is told.
const TARGET_MISS: f64 = 0.05;
/// Ammonium and urea nitrogen as a share of all nitrogen: warning and stop (from memory).
const AMMONIUM_SHARE: (f64, f64) = (0.15, 0.30);
/// Shares closer than this are the same: the third decimal of a share is beyond any scale.
const SHARE_EDGE: f64 = 1e-3;
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
/// use bloomsalt::{bench::Bench, jobs};
/// let mix = jobs::mix(&Bench::starter(), "push", &jobs::MixOptions::default())?;
/// assert!(mix.findings.iter().any(|finding| finding.code == "nitrogen-low"));
/// # Ok::<(), jobs::JobError>(())
/// ```
#[must_use]
pub fn findings(facts: &Facts) -> Vec<Finding> {
    let mut found = Vec::new();
    let limited = limits_missed(facts, &mut found);
    targets_missed(facts, &limited, &mut found);
    not_named(facts, &mut found);
    absent(facts, &limited, &mut found);
    nitrogen_low(facts, &mut found);
    too_much(facts, &limited, &mut found);
    potassium_crowds(facts, &mut found);
    ammonium(facts, &mut found);
    ec_outside(facts, &mut found);
    super::reaction::findings(facts, &mut found);
    for salt in facts.salts {
        of_salt(salt, &mut found);
    }
    super::water::findings(facts, &mut found);
    super::weighing::findings(facts, &mut found);
    found.sort_by_key(|finding| finding.severity);
    found
}

fn achieved(facts: &Facts, nutrient: Nutrient) -> Option<Achieved> {
    facts.achieved.iter().find(|a| a.nutrient == nutrient).copied()
}

/// A limit that is missed.
struct Missed {
    nutrient: Nutrient,
    severity: Severity,
    over: bool,
}

/// Limits of the formula that rounding to the scale has broken.
fn limits_missed(facts: &Facts, found: &mut Vec<Finding>) -> Vec<Missed> {
    let mut missed = Vec::new();
    for a in facts.achieved {
        let over = a.max_ppm.map(|max| (a.ppm - max, max, "at most")).filter(|(by, max, _)| *by > 1e-9 * max.max(1.0));
        let under = a.min_ppm.map(|min| (min - a.ppm, min, "at least")).filter(|(by, min, _)| *by > 1e-9 * min.max(1.0));
        if let Some((by, limit, side)) = over.or(under) {
            let severity = if by > a.plus_minus_ppm { Severity::Stop } else { Severity::Warning };
            missed.push(Missed { nutrient: a.nutrient, severity, over: over.is_some() });
            found.push(Finding {
                code: "limit-missed",
                severity,
                message: format!(
                    "{} comes to {} ppm as measured out, but the formula wants {side} {} ppm: missed by {} ppm, known to {} ppm.",
                    a.nutrient,
                    ppm_text(a.ppm),
                    ppm_text(limit),
                    ppm_text(by),
                    ppm_text(a.plus_minus_ppm)
                ),
                remedy: Some("Mix a larger volume at once, or use a finer scale.".to_owned()),
                source: None,
            });
        }
    }
    missed
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
            found.push(Finding {
                code: "target-missed",
                severity: Severity::Warning,
                message: format!(
                    "{} comes to {} ppm, {} % {} the {} ppm asked.",
                    a.nutrient,
                    ppm_text(a.ppm),
                    significant(off.abs(), 1),
                    if off < 0.0 { "under" } else { "over" },
                    ppm_text(target)
                ),
                remedy: None,
                source: None,
            });
        }
    }
}

fn not_named(facts: &Facts, found: &mut Vec<Finding>) {
    let named =
        |n: Nutrient| achieved(facts, n).is_some_and(|a| a.target_ppm.is_some() || a.min_ppm.is_some_and(|min| min > 0.0));
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
        found.push(Finding {
            code: "element-not-named",
            severity: Severity::Note,
            message: format!("The formula gives no target and no minimum for {}.", missing.join(", ")),
            remedy: Some("Name what the plants need, or leave it to the water and the other salts.".to_owned()),
            source: None,
        });
    }
}

fn absent(facts: &Facts, limited: &[Missed], found: &mut Vec<Finding>) {
    let absent: Vec<String> = NEEDED
        .into_iter()
        .filter_map(|(nutrient, low)| Some((achieved(facts, nutrient)?, low)))
        // nitrogen that is low on purpose is the business of nitrogen-low
        .filter(|(a, _)| a.nutrient != Nutrient::N || facts.nitrogen_target_ppm.is_none())
        // and a miss that has been told is told once
        .filter(|(a, _)| !limited.iter().any(|missed| !missed.over && missed.nutrient == a.nutrient) && !misses_target(a))
        .filter(|(a, low)| a.ppm + a.plus_minus_ppm < low / 2.0)
        .map(|(a, low)| format!("{} {} ppm (usual from {} ppm)", a.nutrient, ppm_text(a.ppm), ppm_text(low)))
        .collect();
    if !absent.is_empty() {
        found.push(Finding {
            code: "element-absent",
            severity: Severity::Warning,
            message: format!("Under half of what usual feeds start at (from memory): {}.", absent.join(", ")),
            remedy: None,
            source: Some("memory".to_owned()),
        });
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
        code: "nitrogen-low",
        severity: if held.is_some() { Severity::Note } else { Severity::Warning },
        message: match &held {
            Some(days) => format!(
                "N is {} ppm{compared}: low, so feed this for at most {days} days, then back to growth (common practice, no source).",
                ppm_text(target)
            ),
            None => format!(
                "N is {} ppm{compared}: low, and the formula does not say how long it may be fed (common practice, no source).",
                ppm_text(target)
            ),
        },
        remedy: held.is_none().then(|| "State `hold_at_most` in the formula, by your own experience.".to_owned()),
        source: Some("common-practice".to_owned()),
    });
}

fn too_much(facts: &Facts, limited: &[Missed], found: &mut Vec<Finding>) {
    for rule in &TOO_MUCH {
        let Some(a) = achieved(facts, rule.nutrient) else { continue };
        let surely = a.ppm - a.plus_minus_ppm;
        if let Some((threshold, severity, source)) = rule.steps.iter().find(|(threshold, _, _)| surely > *threshold) {
            // a missed upper limit says it already, unless this is worse
            if limited.iter().any(|m| m.over && m.nutrient == rule.nutrient && m.severity <= *severity) {
                continue;
            }
            found.push(Finding {
                code: rule.code,
                severity: *severity,
                message: format!(
                    "{} comes to {} ppm, over {} ppm: {}.",
                    rule.nutrient,
                    ppm_text(a.ppm),
                    ppm_text(*threshold),
                    rule.why
                ),
                remedy: None,
                source: Some((*source).to_owned()),
            });
        }
    }
}

fn potassium_crowds(facts: &Facts, found: &mut Vec<Finding>) {
    let of = |n| achieved(facts, n);
    let (Some(k), Some(ca), Some(mg)) = (of(Nutrient::K), of(Nutrient::Ca), of(Nutrient::Mg)) else { return };
    let others = 2.0 * ca.ppm / const { weight("Ca") } + 2.0 * mg.ppm / const { weight("Mg") };
    let charge = |ppm: f64| ppm / const { weight("K") };
    let share = |ppm: f64| if ppm > 0.0 { charge(ppm) / (charge(ppm) + others) } else { 0.0 };
    if share(k.ppm - k.plus_minus_ppm) > POTASSIUM_SHARE {
        found.push(Finding {
            code: "potassium-crowds",
            severity: Severity::Warning,
            message: format!(
                "Potassium is {} % of K + Ca + Mg by charge, over {} %: it crowds calcium and magnesium out (from memory).",
                significant(100.0 * share(k.ppm), 0),
                significant(100.0 * POTASSIUM_SHARE, 0)
            ),
            remedy: Some("Less K, or more Ca and Mg.".to_owned()),
            source: Some("memory".to_owned()),
        });
    }
}

fn ammonium(facts: &Facts, found: &mut Vec<Finding>) {
    let Some((least, most)) = facts.ammonium_share else { return };
    let percent = |share: f64| significant(100.0 * share, 1);
    let range = if most - least > 5e-4 {
        format!("{} to {} %", percent(least), percent(most))
    } else {
        format!("{} %", percent(most))
    };
    let over = facts.ammonium_share_max.filter(|max| most > max + SHARE_EDGE);
    let under = facts.ammonium_share_min.filter(|min| least < min - SHARE_EDGE);
    let (warning, stop) = AMMONIUM_SHARE;
    if let Some(limit) = over.or(under) {
        found.push(Finding {
            code: "limit-missed",
            severity: Severity::Warning,
            message: format!(
                "Ammonium and urea make {range} of the nitrogen as measured out; the formula sets the limit at {} %.",
                percent(limit)
            ),
            remedy: Some("Mix a larger volume at once, or use a finer scale.".to_owned()),
            source: None,
        });
        if over.is_some() && most <= stop + SHARE_EDGE {
            return;
        }
    }
    if most > warning + SHARE_EDGE {
        // nitrogen of unknown form may be nitrate, so it warns and does not stop
        let stops = least > stop + SHARE_EDGE;
        let (severity, threshold) = if stops { (Severity::Stop, stop) } else { (Severity::Warning, warning) };
        found.push(Finding {
            code: "ammonium-share",
            severity,
            message: format!(
                "Ammonium and urea make {range} of the nitrogen, over {} %: roots suffer and pH falls (from memory).",
                percent(threshold)
            ),
            remedy: Some(if facts.ammonium_share_max.is_none() && facts.nitrogen_target_ppm.is_some() {
                "Set `ammonium_share = { max = 0.15 }` in the formula.".to_owned()
            } else {
                "Less ammonium or urea, more nitrate.".to_owned()
            }),
            source: Some("memory".to_owned()),
        });
    }
}

fn ec_outside(facts: &Facts, found: &mut Vec<Finding>) {
    let (min, max) = facts.ec_limits_ms_per_cm;
    let (ec, about) = (facts.ec_ms_per_cm, facts.ec_plus_minus_ms_per_cm);
    let over = max.filter(|max| ec - about > *max).map(|max| ("at most", max));
    let under = min.filter(|min| ec + about < *min).map(|min| ("at least", min));
    if let Some((side, limit)) = over.or(under) {
        found.push(Finding {
            code: "ec-outside",
            severity: Severity::Warning,
            message: format!(
                "EC comes to {} mS/cm; the formula wants {side} {} mS/cm.",
                significant(ec, 2),
                significant(limit, 2)
            ),
            remedy: None,
            source: None,
        });
    }
}

fn of_salt(salt: &Measured, found: &mut Vec<Finding>) {
    let gypsum = salt.id == "calcium-sulfate-dihydrate" && salt.g_per_l > GYPSUM_G_PER_L;
    let near = salt.soluble_g_per_l.filter(|most| salt.g_per_l > NEAR_SOLUBILITY * most);
    let too_much = salt.soluble_g_per_l.filter(|most| salt.g_per_l > *most);
    if gypsum || near.is_some() {
        found.push(Finding {
            code: "dissolves-slowly",
            severity: if too_much.is_some() { Severity::Warning } else { Severity::Note },
            message: match salt.soluble_g_per_l {
                Some(most) if too_much.is_some() => format!(
                    "{}: {} g/L, more than the {} g that a litre is known to dissolve; the rest would lie on the bottom.",
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
            remedy: Some(if too_much.is_some() {
                "Ask for less of it, or put a more soluble salt on the shelf.".to_owned()
            } else {
                "Stir for an hour, or overnight, before the other salts.".to_owned()
            }),
            source: salt.solubility_source.clone(),
        });
    }
}
