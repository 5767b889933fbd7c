//! A mix as a record: what the tank holds, what the meter should read, what to watch, how to make and handle it. Shared by
//! every job that ends in a tank of solution.

use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::day;

use crate::bench::Formula;
use crate::fit::{Problem, Proof, phi};
use crate::jobs::engine::bottles::Proposed;
use crate::jobs::engine::ladder::finest;
use crate::jobs::error::JobError;
use crate::jobs::record::handling::{handling, sources};
use crate::jobs::record::order::{order, rank_of};
use crate::jobs::record::{AcidRecord, Change, Comparison, Dose, Element, MixRecord, Saturation, StageRecord};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients, Salt};
use crate::quantity::{liter, ppm_of};
use crate::safety::{self, Achieved, Facts, Finding};
use crate::solution::{self, MeterScale, conductivity_at};
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, ms_per_cm, slips, volume_deviation};
use crate::tank::instrument::{Measured, instruments};
use crate::tank::parts::{Part, Parts};

/// A saturation index is known to about this: pH is known to 0.1 (own choice).
const SATURATION_EDGE: f64 = 0.1;

/// What a job has made, before anything is reckoned from it.
pub(crate) struct Made<'a> {
    pub(crate) job: &'static str,
    pub(crate) tank: &'a Tank<'a>,
    /// The formula it is judged by.
    pub(crate) formula: Option<&'a Formula>,
    /// Everything that may be in it.
    pub(crate) parts: &'a Parts<'a>,
    /// Exact amounts per litre, in the unit of each part.
    pub(crate) exact_per_l: &'a [f64],
    /// What is measured out.
    pub(crate) measured: &'a [Measured],
    /// New bottles.
    pub(crate) proposed: &'a [Proposed],
    /// Misfit of the exact amounts, and what may be said of it.
    pub(crate) misfit_exact: Option<(f64, Proof)>,
    /// True when no other whole steps come closer.
    pub(crate) proved: bool,
    /// What each wish came to.
    pub(crate) stages: Vec<StageRecord>,
    /// The acid and its doses.
    pub(crate) acid: Option<AcidRecord>,
    /// Findings of the job itself.
    pub(crate) findings: Vec<Finding>,
}

impl Made<'_> {
    /// Position of the bottle that a part comes in, where it is a new one.
    fn bottle_of(&self, at: usize) -> Option<usize> {
        let one = self.proposed.iter().find(|one| one.serves.contains(&at))?;
        self.parts.list.iter().position(|part| *part == Part::Helper(one.helper))
    }
}

/// The record of what was made.
pub(crate) fn describe(made: &Made, meter: Option<MeterScale>) -> Result<MixRecord, JobError> {
    let Made { tank: into, formula, parts, exact_per_l, measured, .. } = made;
    let (bench, formula) = (into.bench, *formula);
    let shown = in_order_of_mixing(made);
    let litres = into.litres();
    let mixture = Mixture::new(into, parts);
    let weighed: Vec<f64> = measured.iter().map(|measured| measured.amount / litres).collect();
    let deviations: Vec<f64> = measured.iter().map(|measured| measured.deviation / litres).collect();

    let (ppm, exact) = (mixture.ppm(&weighed), mixture.ppm(exact_per_l));
    let slips = slips(parts, &weighed, &deviations);
    let plus_minus = mixture.plus_minus_ppm(&weighed, &slips, volume_deviation(into));
    let tank = mixture.solution(&weighed)?;
    let ec = tank.ec;
    let aired = mixture.aired(&weighed)?;
    let ec_plus_minus = mixture.plus_minus_ec(&weighed, &tank, &slips, volume_deviation(into));
    let acidity = mixture.acidity(&weighed, &tank.fresh, &aired, &slips, volume_deviation(into))?;
    let saturation: Vec<Saturation> = bench
        .catalogue
        .minerals()
        .iter()
        .filter(|_| acidity.is_some())
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
    let not_known = &into.before.not_known;
    let achieved: Vec<Achieved> = NUTRIENTS
        .into_iter()
        .filter(|nutrient| !not_known.contains(nutrient))
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
    let watched = watched(made, &shown, &weighed);
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
        water: into.is_fresh.then_some(&bench.water),
        water_ec_ms_per_cm: mixture.ec(&vec![0.0; parts.list.len()]),
        ph: acidity,
        ionic_strength_mol_per_kg: tank.fresh.ionic_strength_mol_per_kg,
        supersaturated: &supersaturated(&saturation),
        bottled: &bottled(made),
    });
    findings.extend(made.findings.iter().cloned());
    let told = findings.iter().any(|finding| finding.code == safety::PH_UNKNOWN);
    if let Some((at, meq_per_l)) = mixture.leaves_alkalinity_open(&weighed).filter(|_| !told) {
        findings.push(safety::ph_unknown(parts.name(at), meq_per_l));
    }
    if let Some(acid) = &made.acid {
        let fresh = acid.basis == "fresh";
        let (dose, ph) = if fresh {
            (acid.grams_fresh.or(acid.millilitres_fresh), tank.fresh.ph)
        } else {
            (acid.grams_aired.or(acid.millilitres_aired), aired.ph)
        };
        let acid_at = (0..parts.list.len()).find(|&at| parts.id(at) == acid.salt);
        let measured_out = acid_at.is_some_and(|at| measured[made.bottle_of(at).unwrap_or(at)].measure.is_some());
        if dose.is_some_and(|amount| amount > 0.0) {
            findings.extend(match acid_at.filter(|_| !measured_out) {
                Some(at) => safety::acid_stays_out(parts.name(at), acid.target_ph, ph),
                None if measured_out => safety::acid_in_steps(acid.target_ph, ph),
                None => None,
            });
        }
    }
    findings.sort_by_key(|finding| finding.severity);
    let doses: Vec<Dose> = shown.iter().map(|&at| dose(made, at, litres)).collect();
    let salts = salts_handled(made, &shown);
    let stirred_in: Vec<usize> = shown.iter().copied().filter(|&at| measured[at].measure.is_some()).collect();
    let (handling, cautions, caution_sources) = handling(bench, &salts);
    let sources = sources(bench, &salts, &findings, &caution_sources);
    let named = |nutrient| formula.is_some_and(|formula| formula.wish(nutrient).is_some());
    Ok(MixRecord {
        version: 1,
        job: made.job.to_owned(),
        formula: formula.map(|formula| formula.name.clone()),
        bench: bench.name.clone(),
        pure_water: into.is_fresh && bench.water.is_pure(),
        volume_l: litres,
        temperature_c: temperature.get::<degree_celsius>(),
        cost: doses
            .iter()
            .filter(|dose| dose.measure.is_some())
            .map(|dose| dose.cost)
            .sum::<Option<f64>>()
            .filter(|_| !doses.is_empty()),
        order: order(into, parts, &stirred_in, liter(measured.iter().filter_map(|m| m.millilitres).sum::<f64>() * 1e-3)),
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
                water_ppm: into.before.ppm[a.nutrient],
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
        misfit_exact: made.misfit_exact.map(|(misfit, _)| misfit),
        proof_exact: made.misfit_exact.map(|(_, proof)| proof),
        proof: if made.proved { "best" } else { "best found" }.to_owned(),
        stages: made.stages.clone(),
        acid: made.acid.clone(),
        ec_ms_cm: ms_per_cm(ec),
        ec_plus_minus_ms_cm: ec_plus_minus,
        ec_at_temperature_ms_cm: ms_per_cm(conductivity_at(bench.catalogue.chemistry(), &tank.fresh, temperature)),
        meter_scale: meter.map(|scale| scale.factor),
        meter_reading_ppm: meter.map(|scale| ms_per_cm(ec) * 1e3 * scale.factor),
        ph: acidity.map(|acidity| acidity.fresh.ph),
        ph_low: acidity.map(|acidity| acidity.fresh.low),
        ph_high: acidity.map(|acidity| acidity.fresh.high),
        ph_aired: acidity.map(|acidity| acidity.aired.ph),
        ph_aired_low: acidity.map(|acidity| acidity.aired.low),
        ph_aired_high: acidity.map(|acidity| acidity.aired.high),
        ionic_strength_mol_l: tank.fresh.ionic_strength_mol_per_kg,
        saturation,
        helpers: crate::jobs::record::bottle::records(made, litres),
        hold_at_most_days,
        // a recipe's own figures differ from any formula's in the last digits
        against_growth: growth
            .filter(|_| made.job != "scale")
            .zip(formula)
            .map(|(growth, formula)| compare(growth, formula)),
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

/// Positions of what is used, in the order in which it goes into the tank: silicate, large salts, calcium, traces. What
/// comes in a new bottle stands behind it.
fn in_order_of_mixing(made: &Made) -> Vec<usize> {
    let parts = made.parts;
    let mut used: Vec<usize> = (0..parts.list.len())
        .filter(|&at| made.exact_per_l[at] > 0.0 || made.measured[at].amount > 0.0)
        .filter(|&at| made.bottle_of(at).is_none())
        .collect();
    used.sort_by_key(|&at| rank_of(parts, at));
    let behind = |at: usize| (0..parts.list.len()).filter(move |&served| made.bottle_of(served) == Some(at));
    used.into_iter().flat_map(|at| std::iter::once(at).chain(behind(at))).collect()
}

/// Every salt that is handled: weighed into the tank, or into a new bottle.
fn salts_handled<'a>(made: &Made<'a>, shown: &[usize]) -> Vec<&'a Salt> {
    let mut salts: Vec<&Salt> = Vec::new();
    for &at in shown {
        for (salt, _) in made.parts.contents(at).salts {
            let salt = made.tank.bench.catalogue.salt(salt);
            if !salts.iter().any(|other| other.id == salt.id) {
                salts.push(salt);
            }
        }
    }
    salts
}

/// What the rules look at of everything shown.
fn watched(made: &Made, shown: &[usize], weighed: &[f64]) -> Vec<safety::Measured> {
    let Made { tank, parts, exact_per_l, measured, .. } = made;
    let (bench, litres) = (tank.bench, tank.litres());
    let celsius = bench.tank.temperature.get::<degree_celsius>();
    let watch = |at: usize| {
        let solubility = parts.salt(at).and_then(|salt| salt.solubility.as_ref());
        let nothing_measures_it = measured[at].measure.is_none() && made.bottle_of(at).is_none();
        let density = parts.density(at);
        safety::Measured {
            id: parts.id(at).to_owned(),
            name: parts.name(at).to_owned(),
            amount_exact: exact_per_l[at] * litres,
            bottle: matches!(parts.list[at], Part::Helper(_)),
            too_small_for: nothing_measures_it.then(|| finest(&instruments(bench, density), density)),
            g_per_l: weighed[at],
            soluble_g_per_l: solubility.map(|solubility| solubility.at_least_g_per_l(celsius)),
            solubility_source: solubility.map(|solubility| solubility.source.clone()),
        }
    };
    shown.iter().map(|&at| watch(at)).collect()
}

/// What is too little to measure and comes in a new bottle.
fn bottled(made: &Made) -> Vec<safety::Bottled> {
    let litres = made.tank.litres();
    let parts = made.parts;
    made.proposed
        .iter()
        .filter(|one| !one.serves.is_empty())
        .map(|one| safety::Bottled {
            bottle: parts.helpers[one.helper].id.clone(),
            too_little: one
                .serves
                .iter()
                .map(|&at| {
                    let density = parts.density(at);
                    let finest = finest(&instruments(made.tank.bench, density), density);
                    (parts.name(at).to_owned(), made.exact_per_l[at] * litres, finest)
                })
                .collect(),
        })
        .collect()
}

fn dose(made: &Made, at: usize, litres: f64) -> Dose {
    let (parts, measured) = (made.parts, &made.measured[at]);
    let done = measured.measure.is_some();
    let exact = made.exact_per_l[at] * litres;
    let bottle = made.bottle_of(at).map(|bottle| parts.id(bottle).to_owned());
    let is_helper = matches!(parts.list[at], Part::Helper(_));
    let price = |salt| made.tank.bench.stock(salt).price_per_g;
    // a bottle that exists is paid for
    let exists = |helper: usize| helper < made.tank.bench.helpers.len();
    let cost = match parts.list[at] {
        Part::Helper(helper) if exists(helper) => Some(0.0),
        _ => parts.contents(at).salts.iter().map(|(salt, grams)| Some(price(*salt)? * grams * measured.amount)).sum(),
    };
    Dose {
        salt: (!is_helper).then(|| parts.id(at).to_owned()),
        name: parts.name(at).to_owned(),
        measure: measured.measure,
        grams: (done && !is_helper).then_some(measured.amount),
        grams_exact: (!is_helper).then_some(exact),
        millilitres: measured.millilitres,
        millilitres_exact: is_helper.then_some(exact),
        helper: if is_helper { Some(parts.id(at).to_owned()) } else { bottle },
        scale_g: measured.scale_g,
        portions: (measured.portions > 1).then_some(measured.portions),
        cost: cost.filter(|_| done),
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
