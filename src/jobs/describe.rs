//! A mix as a record: what the tank holds, what the meter should read, what to watch, how to make and handle it. Shared by
//! every job that ends in a tank of solution.

use uom::si::mass::gram as in_grams;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::day;
use uom::si::volume::liter as in_liters;

use super::brew::{Brew, ms_per_cm, purity_deviation, volume_deviation};
use super::error::JobError;
use super::handling::{handling, mixing_rank, order, sources};
use super::measure::Measured;
use super::record::{AcidRecord, Change, Comparison, Dose, Element, MixRecord, Saturation, StageRecord};
use crate::bench::{Bench, Formula, Stock};
use crate::fit::{Problem, phi};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients, Salt};
use crate::quantity::ppm_of;
use crate::safety::{self, Achieved, Facts, Finding};
use crate::solution::{self, MeterScale, SpeciationError, conductivity_at};

/// A saturation index is known to about this: pH is known to 0.1 (own choice).
const SATURATION_EDGE: f64 = 0.1;

/// What a job has made, before anything is reckoned from it.
pub(super) struct Made<'a> {
    pub(super) job: &'static str,
    pub(super) bench: &'a Bench,
    /// The formula it is judged by.
    pub(super) formula: Option<&'a Formula>,
    /// Every salt that may be in it.
    pub(super) stocks: &'a [Stock],
    /// Exact amounts, g/L.
    pub(super) exact_g_per_l: &'a [f64],
    /// What is measured out.
    pub(super) measured: &'a [Measured],
    /// Misfit of the exact amounts.
    pub(super) misfit_exact: Option<f64>,
    /// What each wish came to.
    pub(super) stages: Vec<StageRecord>,
    /// The acid and its doses.
    pub(super) acid: Option<AcidRecord>,
    /// Findings of the job itself.
    pub(super) findings: Vec<Finding>,
}

/// The record of what was made.
pub(super) fn describe(made: &Made, meter: Option<MeterScale>) -> Result<MixRecord, JobError> {
    let Made { bench, formula, stocks, exact_g_per_l, measured, .. } = made;
    let formula = *formula;
    let used = in_order_of_mixing(bench, stocks, exact_g_per_l);
    let litres = bench.tank.volume.get::<in_liters>();
    let brew = Brew::new(bench, stocks).map_err(failed)?;
    let weighed: Vec<f64> = measured.iter().map(|measured| measured.grams / litres).collect();
    let relative: Vec<f64> = stocks
        .iter()
        .zip(*measured)
        .map(|(stock, m)| {
            let weighing = if m.grams > 0.0 { m.deviation_g / m.grams } else { 0.0 };
            weighing.hypot(purity_deviation(bench, stock))
        })
        .collect();

    let (ppm, exact) = (brew.ppm(&weighed), brew.ppm(exact_g_per_l));
    let plus_minus = brew.plus_minus_ppm(&weighed, &relative, volume_deviation(bench));
    let tank = brew.solution(&weighed).map_err(failed)?;
    let ec = tank.ec;
    let aired = brew.aired(&weighed).map_err(failed)?;
    let ec_plus_minus = brew.ec_plus_minus(&weighed, &relative, volume_deviation(bench));
    // a product that does not state its alkalinity leaves the pH open
    let ph_known = used.iter().all(|&at| {
        let salt = bench.salt(&stocks[at]);
        !salt.own_product || salt.alkalinity_eq_per_kg.is_some()
    });
    let saturation: Vec<Saturation> = bench
        .catalogue
        .minerals()
        .iter()
        .filter(|_| ph_known)
        .filter_map(|mineral| {
            let fresh = solution::saturation(mineral, &tank.fresh);
            let aired = solution::saturation(mineral, &aired);
            (fresh.is_some() || aired.is_some()).then(|| Saturation {
                mineral: mineral.name.clone(),
                index: fresh,
                index_aired: aired,
                slow: mineral.slow,
            })
        })
        .collect();
    let temperature = bench.tank.temperature;
    let achieved: Vec<Achieved> = NUTRIENTS
        .into_iter()
        .map(|nutrient| {
            let wish = formula.and_then(|formula| formula.wish(nutrient));
            Achieved {
                nutrient,
                ppm: ppm[nutrient],
                plus_minus_ppm: plus_minus[nutrient],
                target_ppm: wish.and_then(|wish| wish.target).map(ppm_of),
                min_ppm: wish.and_then(|wish| wish.min).map(ppm_of),
                max_ppm: wish.and_then(|wish| wish.max).map(ppm_of),
            }
        })
        .collect();
    let watched: Vec<safety::Measured> = used
        .iter()
        .map(|&at| {
            let (salt, m) = (bench.salt(&stocks[at]), &measured[at]);
            let most = stocks[at].on_hand.map(|mass| mass.get::<in_grams>() / litres);
            safety::Measured {
                id: salt.id.clone(),
                name: salt.name.clone(),
                grams_exact: exact_g_per_l[at] * litres,
                too_small_for: m.measure.is_none().then_some(m.finest),
                g_per_l: weighed[at],
                soluble_g_per_l: salt
                    .solubility
                    .as_ref()
                    .map(|solubility| solubility.at_least_g_per_l(temperature.get::<degree_celsius>())),
                solubility_source: salt.solubility.as_ref().map(|solubility| solubility.source.clone()),
                runs_short: most.is_some_and(|most| exact_g_per_l[at] >= most * (1.0 - 1e-9))
                    && achieved.iter().any(|a| {
                        let wanted = a.target_ppm.is_some_and(|target| exact[a.nutrient] < target * (1.0 - 1e-6));
                        wanted && salt.composition.nutrients[a.nutrient] > 0.0
                    }),
            }
        })
        .collect();
    let growth = bench.formula("growth").filter(|growth| formula.is_some_and(|formula| growth.name != formula.name));
    let share = Problem::ammonium_share(&ppm);
    let share_limits = formula.map(|formula| formula.ammonium_share).unwrap_or_default();
    let ec_limits = formula.map(|formula| formula.ec).unwrap_or_default();
    let hold_at_most_days = formula.and_then(|formula| formula.hold_at_most).map(|hold| hold.get::<day>());
    let mut findings = safety::findings(&Facts {
        nitrogen_target_ppm: formula.and_then(Formula::nitrogen_target).map(ppm_of),
        growth_nitrogen_ppm: growth.and_then(Formula::nitrogen_target).map(ppm_of),
        hold_at_most_days,
        achieved: &achieved,
        ammonium_share: share,
        ammonium_share_max: share_limits.max,
        ammonium_share_min: share_limits.min,
        ec_ms_per_cm: ms_per_cm(ec),
        ec_plus_minus_ms_per_cm: ec_plus_minus,
        ec_limits_ms_per_cm: (ec_limits.min.map(ms_per_cm), ec_limits.max.map(ms_per_cm)),
        salts: &watched,
        water: &bench.water,
        water_ec_ms_per_cm: brew.ec(&vec![0.0; stocks.len()]),
        ph: ph_known.then_some((tank.fresh.ph, aired.ph)),
        ionic_strength_mol_per_kg: tank.fresh.ionic_strength_mol_per_kg,
        supersaturated: &supersaturated(&saturation),
        unused_keys: &unused_keys(bench),
    });
    findings.extend(made.findings.iter().cloned());
    if let Some(acid) = &made.acid {
        let fresh = acid.basis == "fresh";
        let (dose, ph) = if fresh { (acid.grams_fresh, tank.fresh.ph) } else { (acid.grams_aired, aired.ph) };
        // a dose that was left out altogether is told as such
        let measured_out = measured.last().is_some_and(|m| m.measure.is_some());
        if dose.is_some_and(|grams| grams > 0.0) && measured_out {
            findings.extend(safety::acid_in_steps(acid.target_ph, ph));
        }
    }
    findings.sort_by_key(|finding| finding.severity);
    let doses: Vec<Dose> =
        used.iter().map(|&at| dose(bench, &stocks[at], &measured[at], exact_g_per_l[at] * litres)).collect();
    let salts: Vec<&Salt> = used.iter().map(|&at| bench.salt(&stocks[at])).collect();
    let measurable = used.iter().filter(|&&at| measured[at].measure.is_some());
    let stirred_in: Vec<&Salt> = measurable.map(|&at| bench.salt(&stocks[at])).collect();
    let (handling, cautions, caution_sources) = handling(bench, &salts);
    let sources = sources(bench, &salts, &findings, &caution_sources);
    let named = |nutrient| formula.is_some_and(|formula| formula.wish(nutrient).is_some());
    Ok(MixRecord {
        version: 1,
        job: made.job.to_owned(),
        formula: formula.map(|formula| formula.name.clone()),
        bench: bench.name.clone(),
        pure_water: bench.water.is_pure(),
        volume_l: litres,
        temperature_c: temperature.get::<degree_celsius>(),
        cost: doses.iter().map(|dose| dose.cost).sum::<Option<f64>>().filter(|_| !doses.is_empty()),
        order: order(bench, &stirred_in),
        doses,
        elements: achieved
            .iter()
            .filter(|a| !a.nutrient.is_nitrogen_form() || named(a.nutrient))
            .filter(|a| named(a.nutrient) || a.ppm > 0.0)
            .map(|a| Element {
                element: a.nutrient.symbol().to_owned(),
                ppm: a.ppm,
                ppm_exact: exact[a.nutrient],
                target_ppm: a.target_ppm,
                min_ppm: a.min_ppm,
                max_ppm: a.max_ppm,
                water_ppm: bench.water.nutrients[a.nutrient],
                deviation_percent: a.target_ppm.map(|target| 100.0 * (a.ppm - target) / target),
                plus_minus_ppm: a.plus_minus_ppm,
            })
            .collect(),
        nitrate_n_ppm: ppm[Nutrient::NitrateN],
        ammonium_n_ppm: ppm[Nutrient::AmmoniumN],
        urea_n_ppm: ppm[Nutrient::UreaN],
        ammonium_share: share.map(|(_, most)| most),
        ammonium_share_least: share.map(|(least, _)| least),
        misfit: formula.map(|formula| misfit(formula, &ppm)),
        misfit_exact: made.misfit_exact,
        proof: "best found".to_owned(),
        stages: made.stages.clone(),
        acid: made.acid.clone(),
        ec_ms_cm: ms_per_cm(ec),
        ec_plus_minus_ms_cm: ec_plus_minus,
        ec_at_temperature_ms_cm: ms_per_cm(conductivity_at(bench.catalogue.chemistry(), &tank.fresh, temperature)),
        meter_scale: meter.map(|scale| scale.factor),
        meter_reading_ppm: meter.map(|scale| ms_per_cm(ec) * 1e3 * scale.factor),
        ph: ph_known.then_some(tank.fresh.ph),
        ph_aired: ph_known.then_some(aired.ph),
        ionic_strength_mol_l: tank.fresh.ionic_strength_mol_per_kg,
        saturation,
        helpers: Vec::new(),
        hold_at_most_days,
        against_growth: growth.zip(formula).map(|(growth, formula)| compare(growth, formula)),
        findings,
        handling,
        cautions,
        sources,
    })
}

/// Sum of weight times price over the targets.
fn misfit(formula: &Formula, ppm: &Nutrients) -> f64 {
    let of = |wish: &crate::bench::Wish| {
        wish.target.map(ppm_of).map_or(0.0, |target| wish.weight * phi((ppm[wish.nutrient] - target) / target))
    };
    formula.wishes.iter().map(of).sum()
}

/// Minerals above saturation, fresh or aired, by their larger index.
fn supersaturated(saturation: &[Saturation]) -> Vec<safety::Supersaturated> {
    saturation
        .iter()
        .filter_map(|s| {
            let (fresh, aired) = (s.index.unwrap_or(f64::NEG_INFINITY), s.index_aired.unwrap_or(f64::NEG_INFINITY));
            (fresh.max(aired) > SATURATION_EDGE).then(|| safety::Supersaturated {
                mineral: s.mineral.clone(),
                index: fresh.max(aired),
                only_aired: fresh <= SATURATION_EDGE,
                slow: s.slow,
            })
        })
        .collect()
}

/// A solution beyond the model, as the job's own error.
#[allow(clippy::needless_pass_by_value, reason = "the shape that map_err wants")]
pub(super) fn failed(error: SpeciationError) -> JobError {
    JobError::NoEquilibrium { words: error.to_string() }
}

fn unused_keys(bench: &Bench) -> Vec<&'static str> {
    let helpers = (!bench.helpers.is_empty()).then_some("[[helper]]");
    let helper_acid = bench.acid.as_ref().filter(|acid| bench.catalogue.find(&acid.salt).is_none());
    helpers.into_iter().chain(helper_acid.map(|_| "[acid]")).collect()
}

/// Positions of the salts used, in the order in which they go into the tank: silicate, large salts, calcium, traces.
fn in_order_of_mixing(bench: &Bench, stocks: &[Stock], g_per_l: &[f64]) -> Vec<usize> {
    let mut used: Vec<usize> = (0..stocks.len()).filter(|&at| g_per_l[at] > 0.0).collect();
    used.sort_by_key(|&at| mixing_rank(bench.salt(&stocks[at])));
    used
}

fn dose(bench: &Bench, stock: &Stock, measured: &Measured, exact_g: f64) -> Dose {
    let salt = bench.salt(stock);
    let done = measured.measure.is_some();
    Dose {
        salt: Some(salt.id.clone()),
        name: salt.name.clone(),
        measure: measured.measure,
        grams: done.then_some(measured.grams),
        grams_exact: exact_g,
        millilitres: measured.millilitres,
        helper: None,
        scale_g: measured.scale_g,
        portions: (measured.portions > 1).then_some(measured.portions),
        cost: stock.price_per_g.filter(|_| done).map(|price| price * measured.grams),
    }
}

fn compare(growth: &Formula, formula: &Formula) -> Comparison {
    let target = |formula: &Formula, nutrient| formula.wish(nutrient).and_then(|wish| wish.target).map(ppm_of);
    Comparison {
        formula: growth.name.clone(),
        changes: NUTRIENTS
            .into_iter()
            .filter_map(|nutrient| {
                let (from_ppm, to_ppm) = (target(growth, nutrient)?, target(formula, nutrient)?);
                ((to_ppm - from_ppm).abs() > 1e-9 * from_ppm).then(|| Change {
                    element: nutrient.symbol().to_owned(),
                    from_ppm,
                    to_ppm,
                })
            })
            .collect(),
    }
}
