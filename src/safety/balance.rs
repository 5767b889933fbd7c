//! How the nutrients stand to each other.

use super::{Achieved, Code, Facts, Finding, Severity};
use crate::matter::Nutrient;
use crate::quantity::{ppm_text, significant, trimmed};
use crate::weights::weight;

/// Share of potassium in K + Ca + Mg by charge above which it crowds the others (Steiner's region, from memory).
const POTASSIUM_SHARE: f64 = 0.5;
/// Calcium to magnesium, and potassium to magnesium, by charge: under the one and over the other they stand ill (from memory).
const CALCIUM_TO_MAGNESIUM: f64 = 1.0;
const POTASSIUM_TO_MAGNESIUM: f64 = 4.0;
/// Ammonium and urea nitrogen as a share of all nitrogen: warning and stop (from memory).
const AMMONIUM_SHARE: (f64, f64) = (0.15, 0.30);
/// The same in a cold tank (from memory).
const AMMONIUM_SHARE_COLD: (f64, f64) = (0.10, 0.20);
/// A tank under this is cold, C (from memory).
const COLD_C: f64 = 15.0;
/// Shares closer than this are the same: the third decimal of a share is beyond any scale.
const SHARE_EDGE: f64 = 1e-3;

/// All findings of balance.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    potassium_crowds(facts, found);
    found.extend(ratios(facts));
    ammonium(facts, found);
}

/// Calcium, potassium and magnesium by charge.
fn ratios(facts: &Facts) -> Option<Finding> {
    let (k, ca, mg) = (facts.of(Nutrient::K)?, facts.of(Nutrient::Ca)?, facts.of(Nutrient::Mg)?);
    let (of_k, of_ca, of_mg) = (const { weight("K") }, const { weight("Ca") / 2.0 }, const { weight("Mg") / 2.0 });
    let magnesium = mg.ppm / of_mg;
    // without magnesium there is nothing to compare with, and that is told as absent
    if mg.ppm - mg.plus_minus_ppm <= 0.0 {
        return None;
    }
    let little_calcium = (ca.ppm + ca.plus_minus_ppm) / of_ca < CALCIUM_TO_MAGNESIUM * (mg.ppm - mg.plus_minus_ppm) / of_mg;
    let much_potassium = (k.ppm - k.plus_minus_ppm) / of_k > POTASSIUM_TO_MAGNESIUM * (mg.ppm + mg.plus_minus_ppm) / of_mg;
    let ratio = |ppm: f64, of: f64| significant(ppm / of / magnesium, 1);
    let mut told = Vec::new();
    if little_calcium {
        told.push(format!("Ca:Mg is {}, under {}", ratio(ca.ppm, of_ca), significant(CALCIUM_TO_MAGNESIUM, 0)));
    }
    if much_potassium {
        told.push(format!("K:Mg is {}, over {}", ratio(k.ppm, of_k), significant(POTASSIUM_TO_MAGNESIUM, 0)));
    }
    (!told.is_empty()).then(|| {
        Finding::note(
            Code::Ratios,
            format!("By charge {}: the one that is short is taken up less (from memory).", told.join(", and ")),
        )
        .remedy(if little_calcium { "More Ca, or less Mg." } else { "More Mg, or less K." }.to_owned())
        .source("memory")
    })
}

fn potassium_crowds(facts: &Facts, found: &mut Vec<Finding>) {
    let of = |n| facts.of(n);
    let (Some(k), Some(ca), Some(mg)) = (of(Nutrient::K), of(Nutrient::Ca), of(Nutrient::Mg)) else { return };
    let others = 2.0 * ca.ppm / const { weight("Ca") } + 2.0 * mg.ppm / const { weight("Mg") };
    let charge = |ppm: f64| ppm / const { weight("K") };
    let share = |ppm: f64| if ppm > 0.0 { charge(ppm) / (charge(ppm) + others) } else { 0.0 };
    if share(k.ppm - k.plus_minus_ppm) > POTASSIUM_SHARE {
        found.push(
            Finding::warning(
                Code::PotassiumCrowds,
                format!(
                    "Potassium is {} % of K + Ca + Mg by charge, over {} %: it crowds calcium and magnesium out \
                     (from memory).",
                    significant(100.0 * share(k.ppm), 0),
                    significant(100.0 * POTASSIUM_SHARE, 0)
                ),
            )
            .remedy("Less K, or more Ca and Mg.")
            .source("memory"),
        );
    }
}

fn percent(share: f64) -> String {
    significant(100.0 * share, 1)
}

fn share_words(least: f64, most: f64) -> String {
    if most - least > 5e-4 { format!("{} to {} %", percent(least), percent(most)) } else { format!("{} %", percent(most)) }
}

fn beyond_limit(share: &str, limit: f64) -> Finding {
    let message = format!(
        "Ammonium and urea make {share} of the nitrogen as measured out; the formula sets the limit at {} %.",
        percent(limit)
    );
    Finding::warning(Code::LimitMissed, message)
}

/// A limit of the share of ammonium that is given up, since only far too much of another nitrogen would keep it.
///
/// * `share`: the least and the most that it may be
#[must_use]
pub fn ammonium_not_bought(share: (f64, f64), max: f64) -> Option<Finding> {
    (share.1 > max + SHARE_EDGE).then(|| {
        beyond_limit(&share_words(share.0, share.1), max)
            .remedy("Only far too much of another nitrogen would keep it here: drain more, or have a salt of nitrate alone.")
    })
}

fn ammonium(facts: &Facts, found: &mut Vec<Finding>) {
    let Some((least, most)) = facts.ammonium_share else { return };
    let range = share_words(least, most);
    let over = facts.ammonium_share_limits.max.filter(|max| most > max + SHARE_EDGE);
    let under = facts.ammonium_share_limits.min.filter(|min| least < min - SHARE_EDGE);
    // what was weighed already is not rounded
    let by_rounding = facts.achieved.iter().any(|a| (a.ppm - a.exact_ppm).abs() > 1e-9 * a.ppm.max(1e-9));
    let cold = facts.temperature_c < COLD_C;
    let (warning, stop) = if cold { AMMONIUM_SHARE_COLD } else { AMMONIUM_SHARE };
    if let Some(limit) = over.or(under) {
        found.push(beyond_limit(&range, limit).remedy(if by_rounding {
            "Mix a larger volume at once, or use a finer scale."
        } else if over.is_some() {
            "Less of what brings ammonium and urea, or more nitrate beside it."
        } else {
            "More of what brings ammonium, or less nitrate beside it."
        }));
        if over.is_some() && most <= stop + SHARE_EDGE {
            return;
        }
    }
    if most > warning + SHARE_EDGE {
        // nitrogen of unknown form may be nitrate, so it warns and does not stop
        let stops = least > stop + SHARE_EDGE;
        let (severity, threshold) = if stops { (Severity::Stop, stop) } else { (Severity::Warning, warning) };
        found.push(
            Finding::new(
                Code::AmmoniumShare,
                severity,
                format!(
                    "Ammonium and urea make {range} of the nitrogen, over {} %{}: roots suffer and in time pH falls (from memory).",
                    percent(threshold),
                    if cold {
                        format!(" in a tank of {} C, where roots use it slowly", significant(facts.temperature_c, 1))
                    } else {
                        String::new()
                    }
                ),
            )
            .remedy(if facts.ammonium_share_limits.max.is_none() && facts.nitrogen_target_ppm.is_some() {
                format!("Set `ammonium_share = {{ max = {warning:.2} }}` in the formula.")
            } else {
                "Less ammonium or urea, more nitrate.".to_owned()
            })
            .source("memory"),
        );
    }
}

/// Fires where nitrogen whose form a label does not state meets the limit of the ammonium share, all of it being counted as
/// ammonium.
///
/// * `products`: their names, and the N of their labels, percent
/// * `share`: least and most of ammonium and urea in all nitrogen
/// * `limit`: what the formula sets; the share from which a mix is warned of without one
#[must_use]
pub fn nitrogen_form_unknown(products: &[(&str, f64)], share: (f64, f64), limit: Option<f64>) -> Option<Finding> {
    let (least, most) = share;
    let max = limit.unwrap_or(AMMONIUM_SHARE.0);
    if products.is_empty() || most < max - SHARE_EDGE || least > max {
        return None;
    }
    let (states, its) = if products.len() == 1 { ("states", "its") } else { ("state", "their") };
    let names: Vec<&str> = products.iter().map(|(name, _)| *name).collect();
    let message = format!(
        "{} {states} N without {its} forms. All of it counts as ammonium, and so meets the limit of {} % of the nitrogen{}.",
        names.join(" and "),
        significant(100.0 * max, 1),
        if limit.is_some() { ": no more goes in than that allows" } else { "" }
    );
    let each: Vec<String> =
        products.iter().map(|(name, percent)| format!("of {name}, in place of N = {},", trimmed(*percent, 3))).collect();
    Some(Finding::warning(Code::NitrogenFormUnknown, message).remedy(format!(
        "On the `analysis` line {} write NO3-N = , NH4-N = and urea-N = , each with what the bag says. Where it says N alone, ask \
         the maker.",
        each.join(" and ")
    )))
}

/// Over so many times its target nitrogen misses it, as `target-missed` has it.
const MISSED: f64 = 1.05;
/// With so much of the nitrogen that growth asks for a push is none: own choice.
const HARDLY_LEANER: f64 = 0.9;

/// Fires for a formula with less nitrogen than growth in a tank that holds nearly as much as growth asks for, or more.
///
/// * `nitrogen`: what the tank holds, with its target
/// * `growth_ppm`: what growth asks for
#[must_use]
pub fn push_not_lean(nitrogen: &Achieved, growth_ppm: f64) -> Option<Finding> {
    let leaner = nitrogen.target_ppm.is_some_and(|target| target < growth_ppm && nitrogen.ppm > target * MISSED);
    (leaner && nitrogen.ppm >= HARDLY_LEANER * growth_ppm).then(|| {
        Finding::warning(
            Code::PushNotLean,
            format!(
                "This is no push: N comes to {} ppm, and growth asks for {} ppm.",
                ppm_text(nitrogen.ppm),
                ppm_text(growth_ppm)
            ),
        )
        .remedy(LEANER.to_owned())
    })
}

/// A nutrient of a tank that is turned over.
#[derive(Debug, Clone, Copy)]
pub struct Turned {
    /// Which.
    pub nutrient: Nutrient,
    /// Before and after, ppm.
    pub ppm: (f64, f64),
    /// Give or take after it, ppm.
    pub plus_minus_ppm: f64,
    /// What the formula asks for, ppm.
    pub target_ppm: f64,
}

/// Fires for a turn to a formula with less nitrogen than growth that hardly brings it down, and misses its target.
///
/// * `nitrogen`: of the tank; `others`: what of it should rise
/// * `growth_ppm`: nitrogen that growth asks for
#[must_use]
pub fn turn_not_lean(nitrogen: &Turned, others: &[Turned], growth_ppm: f64) -> Option<Finding> {
    let (before, after) = nitrogen.ppm;
    let over = after - nitrogen.plus_minus_ppm > nitrogen.target_ppm * MISSED;
    let fall = if after >= before { "does not fall" } else { "hardly falls" };
    let goes = |of: &Turned| {
        let [from, to, asked] = [of.ppm.0, of.ppm.1, of.target_ppm].map(ppm_text);
        format!("it goes from {from} to {to} ppm where {asked} ppm is asked")
    };
    let falls = others.iter().filter(|of| of.target_ppm > of.ppm.0 && of.ppm.1 < HARDLY_LEANER * of.ppm.0);
    let falls = falls.fold(String::new(), |all, of| format!("{all} {} falls: {}.", of.nutrient, goes(of)));
    // a tank that has as little already is not turned to less
    let has_more = before > nitrogen.target_ppm;
    (nitrogen.target_ppm < growth_ppm && has_more && over && after >= HARDLY_LEANER * before).then(|| {
        Finding::warning(Code::PushNotLean, format!("This is no push: N {fall}, {}.{falls}", goes(nitrogen)))
            .remedy(LEANER.to_owned())
    })
}

/// What makes a push of a shelf that brings nitrogen with everything.
const LEANER: &str = "Where other targets pull N up (`why-missed` names them), a lower `weight` of those in the formula lets it fall. Else salts \
                      without nitrogen would help: monopotassium phosphate and potassium sulfate for P and K, gypsum or calcium chloride for Ca.";
