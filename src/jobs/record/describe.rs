//! The record of a tank of solution: what it holds, what the meter should read, what to watch, how to make and handle it.
//! Shared by every job that ends in one.

use uom::si::thermodynamic_temperature::degree_celsius;

use super::handling::{Minded, evidence, minded, sources};
use super::made::Made;
use super::order::order;
use super::reckoned::Reckoned;
use super::watch::{achieved, findings, growth, hold_at_most_days};
use super::{Change, Comparison, Dose, Element, MixRecord, PhOpen, Verdict, VerdictWord, WaterRecord, bottle};
use crate::bench::Formula;
use crate::fit::{Problem, phi};
use crate::jobs::engine::blend::litres_of;
use crate::jobs::error::JobError;
use crate::matter::{NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{MeterScale, liter, ppm_of};
use crate::safety::{Achieved, Finding, spent_ph};
use crate::tank::Tank;
use crate::tank::chemistry::ms_per_cm;

/// The record of what was made.
///
/// * `meter`: the scale of a meter that is asked for; else that of the bench counts
pub(crate) fn describe(made: &Made, meter: Option<MeterScale>) -> Result<MixRecord, JobError> {
    // long, and flat: one line a key of the record
    let Made { tank, formula, measured, .. } = made;
    let (bench, litres) = (tank.bench, tank.litres());
    let meter = meter.or(bench.meter);
    let reckoned = Reckoned::of(made)?;
    let shown = made.in_order_of_mixing();
    let stirred_in: Vec<usize> = shown.iter().copied().filter(|&at| measured[at].is_trusted).collect();
    let liquids = liter(measured.iter().filter_map(|m| m.millilitres).sum::<f64>() * 1e-3);
    let order = order(made, &stirred_in, liquids, &reckoned.fresh.fresh);
    let shown = made.in_order_of(&order, shown);
    let achieved = achieved(made, &reckoned);
    let findings = findings(made, &reckoned, &shown, &achieved);
    let doses: Vec<Dose> = shown.iter().map(|&at| Dose::of(made, at, litres)).collect();
    let named: Vec<&Finding> = findings.iter().collect();
    let spent = reckoned.acidity.as_ref().map_or_else(Vec::new, spent_ph);
    let Minded { salts, handling, cautions, sources: mut caution_sources } =
        minded(bench, made.salts_handled(&shown), &named, &spent);
    // a recipe's own figures differ from any formula's in the last digits
    let against_growth =
        growth(made).filter(|_| made.job != "scale").zip(*formula).map(|(growth, formula)| compare(growth, formula));
    let evidence =
        against_growth.as_ref().and_then(|with| evidence(&bench.catalogue, &with.changes)).map(|(text, source)| {
            caution_sources.push(source);
            text
        });
    let Reckoned { ppm, fresh, acidity, ec, .. } = &reckoned;
    let share = Problem::ammonium_share(ppm);
    let mut record = MixRecord {
        version: 1,
        job: made.job.to_owned(),
        // told of the record once it is whole
        verdict: Verdict { word: VerdictWord::Ready, line: String::new(), misses: None },
        formula: formula.map(|formula| formula.name.clone()),
        bench: bench.name.clone(),
        pure_water: tank.is_fresh && bench.water.is_pure(),
        volume_l: litres,
        temperature_c: bench.tank.temperature.get::<degree_celsius>(),
        cost: cost(&doses),
        order,
        doses,
        waters: waters(tank),
        elements: elements(made, &reckoned, &achieved),
        nitrate_n_ppm: ppm[Nutrient::NitrateN],
        ammonium_n_ppm: ppm[Nutrient::AmmoniumN],
        urea_n_ppm: ppm[Nutrient::UreaN],
        ammonium_share: share.map(|(_, most)| most),
        ammonium_share_least: share.map(|(least, _)| least),
        misfit: formula.map(|formula| misfit(formula, ppm)),
        misfit_exact: made.misfit_exact.map(|(misfit, _)| misfit),
        proof_exact: made.misfit_exact.map(|(_, proof)| proof),
        proof: if made.proved { "best" } else { "best found" }.to_owned(),
        stages: made.stages.clone(),
        acid: made.acid.clone(),
        ec_ms_cm: *ec,
        ec_plus_minus_ms_cm: reckoned.ec_plus_minus,
        ec_at_temperature_ms_cm: ms_per_cm(fresh.ec_at(bench.catalogue.chemistry(), bench.tank.temperature)),
        meter_scale: meter.map(|scale| scale.factor),
        meter_reading_ppm: meter.map(|scale| ec * 1e3 * scale.factor),
        ph: acidity.map(|acidity| acidity.fresh.ph),
        ph_low: acidity.map(|acidity| acidity.fresh.low),
        ph_high: acidity.map(|acidity| acidity.fresh.high),
        ph_aired: acidity.map(|acidity| acidity.aired.ph),
        ph_aired_low: acidity.map(|acidity| acidity.aired.low),
        ph_aired_high: acidity.map(|acidity| acidity.aired.high),
        ph_open: acidity.is_none().then(|| ph_open(made.tank, &reckoned)),
        ionic_strength_mol_l: fresh.fresh.ionic_strength_mol_per_kg,
        helpers: bottle::records(made, litres),
        hold_at_most_days: hold_at_most_days(made),
        against_growth,
        evidence,
        sources: sources(bench, &salts, &findings, &caution_sources),
        saturation: reckoned.saturation,
        findings,
        handling,
        cautions,
    };
    record.verdict = Verdict::of(&record);
    Ok(record)
}

impl MixRecord {
    /// What the tank holds by nutrient, as a filling of a logbook would have it, ppm.
    pub(in crate::jobs) fn content_ppm(&self) -> Nutrients {
        let mut ppm = Nutrients::default();
        for element in &self.elements {
            if let Some(nutrient) = Nutrient::parse(&element.element) {
                ppm[nutrient] = element.ppm;
            }
        }
        ppm[Nutrient::NitrateN] = self.nitrate_n_ppm;
        ppm[Nutrient::AmmoniumN] = self.ammonium_n_ppm;
        ppm[Nutrient::UreaN] = self.urea_n_ppm;
        ppm
    }
}

/// Litres of each water of a blend.
fn waters(tank: &Tank) -> Vec<WaterRecord> {
    litres_of(tank.bench, tank.filled_l()).map(|(id, litres)| WaterRecord { id: id.to_owned(), litres }).collect()
}

/// Why the pH is not known.
fn ph_open(tank: &Tank, reckoned: &Reckoned) -> PhOpen {
    let of_water = tank.is_fresh && !reckoned.mixture.content_known();
    if reckoned.mixture.water_unstated() || of_water {
        PhOpen::Water
    } else if !reckoned.mixture.content_known() {
        PhOpen::ByElement
    } else if reckoned.mixture.held_leaves_open() {
        PhOpen::ProductHeld
    } else {
        PhOpen::Product
    }
}

/// What everything measured out costs, where all of it has a price.
fn cost(doses: &[Dose]) -> Option<f64> {
    let measured: Vec<&Dose> = doses.iter().filter(|dose| dose.is_measured()).collect();
    measured.iter().map(|dose| dose.cost).sum::<Option<f64>>().filter(|_| !measured.is_empty())
}

/// What the tank holds of everything that is named or there.
fn elements(made: &Made, reckoned: &Reckoned, achieved: &[Achieved]) -> Vec<Element> {
    let named = |nutrient| made.formula.is_some_and(|formula| formula.wish(nutrient).is_some());
    let shown = achieved
        .iter()
        .filter(|a| !a.nutrient.is_nitrogen_form() || named(a.nutrient))
        .filter(|a| named(a.nutrient) || a.ppm > 0.0);
    let element = |a: &Achieved| Element {
        element: a.nutrient.symbol().to_owned(),
        ppm: a.ppm,
        ppm_exact: reckoned.ppm_exact[a.nutrient],
        target_ppm: a.target_ppm,
        min_ppm: a.min_ppm,
        max_ppm: a.max_ppm,
        water_ppm: made.tank.before.ppm[a.nutrient],
        deviation_percent: a.target_ppm.map(|target| 100.0 * (a.ppm - target) / target),
        plus_minus_ppm: a.plus_minus_ppm,
    };
    shown.map(element).collect()
}

/// Sum of weight times price over the targets.
fn misfit(formula: &Formula, ppm: &Nutrients) -> f64 {
    let of = |wish: &crate::bench::Wish| {
        wish.target.map(ppm_of).map_or(0.0, |target| wish.weight * phi((ppm[wish.nutrient] - target) / target))
    };
    formula.wishes.iter().map(of).sum()
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
