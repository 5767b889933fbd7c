//! Can the water analysis be true? Its charges must balance, and its EC must fit its ions.

use super::{Code, EnteredWater, Facts, Finding};
use crate::matter::{Nutrient, Water};
use crate::quantity::{CACO3_G_PER_EQ, HCO3_G_PER_EQ, significant};
use crate::weights::weight;

/// Cations and anions of a water analysis may differ by this fraction of their mean (own choice).
const WATER_IMBALANCE: f64 = 0.10;
/// Water this near to pure is not judged by its balance, meq/L (own choice).
const WATER_TRACE_MEQ_PER_L: f64 = 0.1;
/// Measured and computed EC of the water may differ by this fraction (own choice).
const WATER_EC: f64 = 0.20;
/// Equivalent masses of calcium and magnesium, g/mol.
const CALCIUM: f64 = weight("Ca") / 2.0;
const MAGNESIUM: f64 = weight("Mg") / 2.0;
/// Bicarbonate by the calcium carbonate of the same alkalinity, by mass.
const HCO3_BY_CACO3: f64 = HCO3_G_PER_EQ / CACO3_G_PER_EQ;
/// Sulfur in sulfate and nitrogen in nitrate, fractions by mass.
const S_IN_SO4: f64 = weight("S") / (weight("S") + 4.0 * weight("O"));
const N_IN_NO3: f64 = weight("N") / (weight("N") + 3.0 * weight("O"));

/// What is wrong with the waters as entered.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    for entered in facts.waters.iter().filter(|entered| !entered.water.is_pure()) {
        let before = found.len();
        of_one(entered, found);
        if let Some(id) = entered.id {
            found[before..].iter_mut().for_each(|finding| finding.message = format!("{id}: {}", finding.message));
        }
    }
}

fn of_one(entered: &EnteredWater, found: &mut Vec<Finding>) {
    let analysis = entered.water;
    assumed(entered, found);
    found.extend(unstated(analysis));
    let (cations, anions) = charges(analysis);
    let no_alkalinity = analysis.alkalinity_meq_per_l.is_none();
    // without a single ion there is nothing to check the EC against
    if let Some(stated) = analysis.ec_ms_per_cm.filter(|_| cations + anions > 0.0) {
        let computed = entered.ec_ms_per_cm;
        if (stated - computed).abs() > WATER_EC * stated.max(computed) {
            found.push(
                Finding::warning(
                    Code::WaterCannotBeTrue,
                    format!(
                        "The water's EC is stated as {} mS/cm, but its ions give {} mS/cm.",
                        significant(stated, 2),
                        significant(computed, 2)
                    ),
                )
                .remedy(if no_alkalinity && stated > computed {
                    "Add the alkalinity to the analysis.".to_owned()
                } else {
                    "Measure the EC again, or complete the analysis.".to_owned()
                })
                .source("own-choice"),
            );
        }
    }
    let off = imbalance(analysis);
    // without an alkalinity the missing anions are most likely bicarbonate, which says nothing against the rest
    let explained = no_alkalinity && off > 0.0;
    if off.abs() > WATER_IMBALANCE && (cations - anions).abs() > WATER_TRACE_MEQ_PER_L && !explained {
        let slip = likely_slip(analysis);
        found.push(
            Finding::warning(
                Code::WaterCannotBeTrue,
                format!(
                    "Cations and anions of the water differ by {} % of their mean; they must be equal.",
                    significant(100.0 * off.abs(), 0)
                ),
            )
            .remedy(slip.map_or_else(
                || "Check the analysis: a line is missing or in another unit.".to_owned(),
                |slip| format!("It would fit if {slip}."),
            ))
            .source("own-choice"),
        );
    }
}

/// A water that is not pure, and of which nothing else is known.
fn unstated(water: &Water) -> Option<Finding> {
    let ec = water.unstated_ms_per_cm;
    let reads = match water.ec_ms_per_cm {
        Some(_) => format!("The water reads {} mS/cm, and of what is in it nothing is stated", significant(ec, 2)),
        None => format!("Of the water nothing is stated; tap water reads about {} mS/cm (from memory)", significant(ec, 1)),
    };
    (ec > 0.0).then(|| {
        Finding::warning(
            Code::WaterUnknown,
            format!(
                "{reads}: as much is added to what the meter should read, and may be off by all of it. No ion of it is \
                 counted: the tank holds more calcium, magnesium, sodium, chloride and sulfate than is printed, and its \
                 pH rises with the alkalinity."
            ),
        )
        .remedy(
            "The supplier's report has Ca, Mg, Na, Cl, SO4, NO3 and alkalinity: write them into [water]. Until then \
             rain or reverse-osmosis water is the surer one.",
        )
        .source("own-choice")
    })
}

/// What had to be taken for granted because only half of it was stated.
fn assumed(entered: &EnteredWater, found: &mut Vec<Finding>) {
    let water = entered.water;
    if water.unstated_ms_per_cm > 0.0 {
        return;
    }
    if let Some(meq) = entered.lacks_meq_per_l {
        let told = format!(
            "The water's alkalinity is not stated, and its cations have {} meq/L more than its anions: most likely bicarbonate. The pH is \
             not told, and no acid is reckoned.",
            significant(meq, 2)
        );
        let remedy = "State the alkalinity: it stands in the supplier's report, and a drop test tells it.";
        found.push(Finding::warning(Code::WaterUnknown, told).remedy(remedy).source("own-choice"));
        return;
    }
    let message = match (water.alkalinity_meq_per_l, water.ph) {
        (Some(alkalinity), None) if alkalinity > 0.0 => {
            "The water's alkalinity is stated without its pH; pH 7.5 is taken for it."
        }
        (None, Some(_)) => "The water's pH is stated without its alkalinity; 0 meq/L is taken for it.",
        _ => return,
    };
    found.push(
        Finding::note(Code::WaterAssumed, message.to_owned())
            .remedy("State both: the predicted pH and every acid dose rest on them.")
            .source("own-choice"),
    );
}

/// Cations and anions in meq/L.
fn charges(water: &Water) -> (f64, f64) {
    let of = |n: Nutrient| water.nutrients[n];
    let cations = of(Nutrient::Ca) / CALCIUM
        + of(Nutrient::Mg) / MAGNESIUM
        + of(Nutrient::Na) / const { weight("Na") }
        + of(Nutrient::K) / const { weight("K") }
        + of(Nutrient::AmmoniumN) / const { weight("N") };
    let anions = of(Nutrient::Cl) / const { weight("Cl") }
        + of(Nutrient::S) / const { weight("S") / 2.0 }
        + of(Nutrient::NitrateN) / const { weight("N") }
        + of(Nutrient::P) / const { weight("P") }
        + water.alkalinity_meq_per_l.unwrap_or(0.0);
    (cations, anions)
}

/// (cations - anions) / mean, by charge; 0 for water without ions.
fn imbalance(water: &Water) -> f64 {
    let (cations, anions) = charges(water);
    let mean = f64::midpoint(cations, anions);
    if mean > 0.0 { (cations - anions) / mean } else { 0.0 }
}

/// The misreading, if there is one, that would balance the analysis best and to within half the allowance.
fn likely_slip(water: &Water) -> Option<&'static str> {
    let with = |change: &dyn Fn(&mut Water)| {
        let mut other = water.clone();
        change(&mut other);
        imbalance(&other).abs()
    };
    let times = |nutrient: Nutrient, factor: f64| {
        with(&move |w: &mut Water| {
            w.nutrients[nutrient] *= factor;
        })
    };
    let readings = [
        ("sulfate was entered as S", times(Nutrient::S, S_IN_SO4)),
        ("sulfur was entered as SO4", times(Nutrient::S, 1.0 / S_IN_SO4)),
        ("nitrate was entered as N", times(Nutrient::NitrateN, N_IN_NO3)),
        ("nitrogen was entered as NO3", times(Nutrient::NitrateN, 1.0 / N_IN_NO3)),
        (
            "mg/L CaCO3 was entered as HCO3",
            with(&|w: &mut Water| w.alkalinity_meq_per_l = w.alkalinity_meq_per_l.map(|a| a * HCO3_BY_CACO3)),
        ),
        (
            "calcium and magnesium were entered in meq/L",
            with(&|w: &mut Water| {
                w.nutrients[Nutrient::Ca] *= CALCIUM;
                w.nutrients[Nutrient::Mg] *= MAGNESIUM;
            }),
        ),
    ];
    readings
        .into_iter()
        .filter(|(_, off)| *off < WATER_IMBALANCE / 2.0)
        .min_by(|(_, a), (_, b)| a.total_cmp(b))
        .map(|(slip, _)| slip)
}
