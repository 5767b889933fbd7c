//! What to weigh for a fresh tank of a formula.

use uom::si::mass::gram as in_grams;
use uom::si::volume::liter as in_liters;

use super::acid::{Soured, ph, soured};
use super::brew::{Brew, ms_per_cm};
use super::describe::{Made, describe, failed};
use super::error::JobError;
use super::measure::{Measured, measure};
use super::record::{AcidRecord, MixRecord, StageRecord};
use crate::bench::{Acid, Basis, Bench, Formula, Stock};
use crate::fit::{self, Column, EcLimits, FitError, Limit, Problem, ShareLimits, Want};
use crate::matter::{Kind, Nutrient, Salt};
use crate::quantity::{ppm_of, ppm_text, significant};
use crate::safety;
use crate::solution::{Air, MeterScale};

/// What to weigh for a fresh tank of `formula`, what the meter should read, what to watch and how to handle the salts.
///
/// `meter` adds the reading of a meter that shows a dissolved-solids scale instead of EC.
///
/// # Errors
/// [`JobError`]: no such formula, nothing to mix from, limits that contradict each other, or a failure of our own.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs};
/// let mix = jobs::mix(&Bench::starter(), "growth", None)?;
/// assert!(mix.misfit_exact.is_some_and(|misfit| misfit < 1e-9));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn mix(bench: &Bench, formula: &str, meter: Option<MeterScale>) -> Result<MixRecord, JobError> {
    let formula = bench.formula(formula).ok_or_else(|| JobError::UnknownFormula {
        name: formula.to_owned(),
        known: bench.formulas.iter().map(|formula| formula.name.clone()).collect(),
        suggestion: crate::suggest::nearest(formula, bench.formulas.iter().map(|f| f.name.as_str())).map(str::to_owned),
    })?;
    let mut stocks: Vec<Stock> =
        bench.shelf.iter().copied().filter(|stock| may_take_part(bench, bench.salt(stock), formula)).collect();
    let acid = bench.acid.as_ref().and_then(|acid| Some((acid, acid_stock(bench, acid)?)));
    stocks.extend(acid.map(|(_, stock)| stock));
    let brew = Brew::new(bench, &stocks).map_err(failed)?;
    let litres = bench.tank.volume.get::<in_liters>();
    let priced = stocks.iter().all(|stock| stock.price_per_g.is_some());
    let ec_of = |x: &[f64]| brew.ec(x);
    let slope_of = |x: &[f64]| brew.ec_slope(x);
    let mut problem = Problem {
        columns: stocks
            .iter()
            .enumerate()
            .map(|(at, stock)| Column {
                ppm_per_g_per_l: brew.ppm_per_g_per_l(at),
                most_g_per_l: stock.on_hand.map(|mass| mass.get::<in_grams>() / litres),
                cost_per_g: stock.price_per_g.filter(|_| priced).unwrap_or(1.0),
            })
            .collect(),
        water_ppm: bench.water.nutrients,
        wants: formula.wishes.iter().map(want).collect(),
        ammonium_share: ShareLimits { min: formula.ammonium_share.min, max: formula.ammonium_share.max },
        ec: (formula.ec.min.is_some() || formula.ec.max.is_some()).then(|| EcLimits {
            min_ms_per_cm: formula.ec.min.map(ms_per_cm),
            max_ms_per_cm: formula.ec.max.map(ms_per_cm),
            ec_ms_per_cm: &ec_of,
            slope_ms_per_cm: &slope_of,
        }),
        ph: None,
    };
    let refused = |error| job_error(bench, formula, &stocks, error);
    // a product of the mix that leaves its alkalinity open leaves the pH open, and no acid is dosed blind
    let leaves_open = |solution: &fit::Solution| {
        let mut used = stocks.iter().zip(&solution.g_per_l).filter(|(_, x)| **x > 0.0).map(|(stock, _)| bench.salt(stock));
        used.find(|salt| salt.own_product && salt.alkalinity_eq_per_kg.is_none())
    };
    let mut findings = Vec::new();
    let (solution, acid) = match acid {
        None => (fit::solve(&problem).map_err(refused)?, None),
        Some((acid, _)) => {
            let at = stocks.len() - 1;
            let mut on = |basis| soured(&mut problem, &brew, acid, basis, at)?.map_err(refused);
            let (fresh, aired) = (on(Basis::Fresh)?, on(Basis::Aired)?);
            let chosen = if acid.basis == Basis::Fresh { &fresh } else { &aired };
            if let Some(product) = leaves_open(&chosen.solution) {
                findings.push(safety::acid_not_reckoned(&product.name));
                problem.columns[at].most_g_per_l = Some(0.0);
                (fit::solve(&problem).map_err(refused)?, None)
            } else {
                let grams = |soured: &Soured| soured.met.then(|| soured.solution.g_per_l[at] * litres);
                let record = acid_record(bench, acid, &stocks[at], grams(&fresh), grams(&aired));
                let chosen = if acid.basis == Basis::Fresh { fresh } else { aired };
                let solved = &chosen.solution.g_per_l;
                let base = if chosen.needs_acid { None } else { base_that_would(bench, acid, solved, &stocks)? };
                let ph = ph(&brew, solved, acid.basis)?;
                let wish = safety::AcidFacts {
                    name: bench.salt(&stocks[at]).name.clone(),
                    wished_ph: acid.target_ph,
                    ph,
                    needs_acid: chosen.needs_acid,
                    met: chosen.met,
                    base,
                    brings: brings_more(&brew, at, solved[at], formula),
                };
                findings = safety::of_acid(&wish);
                (chosen.solution, Some(record))
            }
        }
    };
    let measured: Vec<Measured> =
        stocks.iter().zip(&solution.g_per_l).map(|(stock, x)| measure(bench, stock, x * litres)).collect();
    let stages = solution
        .stages
        .iter()
        .map(|stage| StageRecord { wish: stage.wish.to_owned(), value: stage.value, unit: stage.unit.to_owned() })
        .collect();
    let made = Made {
        job: "mix",
        bench,
        formula: Some(formula),
        stocks: &stocks,
        exact_g_per_l: &solution.g_per_l,
        measured: &measured,
        misfit_exact: Some(solution.misfit),
        stages,
        acid,
        findings,
    };
    describe(&made, meter)
}

/// The shelf entry of the acid, or one without an amount when the shelf does not list it; `None` for a helper, which this
/// version does not dose.
fn acid_stock(bench: &Bench, acid: &Acid) -> Option<Stock> {
    let salt = bench.catalogue.find(&acid.salt)?;
    let listed = bench.shelf.iter().copied().find(|stock| stock.salt == salt);
    Some(listed.unwrap_or(Stock { salt, on_hand: None, price_per_g: None, purity: None }))
}

fn acid_record(bench: &Bench, acid: &Acid, stock: &Stock, fresh: Option<f64>, aired: Option<f64>) -> AcidRecord {
    let millilitres = |grams: Option<f64>| Some(grams? / bench.salt(stock).density_kg_per_l?);
    AcidRecord {
        salt: acid.salt.clone(),
        target_ph: acid.target_ph,
        basis: if acid.basis == Basis::Fresh { "fresh" } else { "aired" }.to_owned(),
        grams_fresh: fresh,
        grams_aired: aired,
        millilitres_fresh: millilitres(fresh),
        millilitres_aired: millilitres(aired),
    }
}

/// Nutrients of which the acid alone brings more than the formula asks: symbol, what it brings, target; ppm.
fn brings_more(brew: &Brew, at: usize, g_per_l: f64, formula: &Formula) -> Vec<(String, f64, f64)> {
    let brings = brew.ppm_per_g_per_l(at).scaled(g_per_l);
    [Nutrient::N, Nutrient::P, Nutrient::S]
        .into_iter()
        .filter_map(|nutrient| {
            let target = formula.wish(nutrient)?.target.map(ppm_of)?;
            (brings[nutrient] > target * (1.0 + 1e-6)).then(|| (nutrient.symbol().to_owned(), brings[nutrient], target))
        })
        .collect()
}

/// The first base on the shelf and the grams of it that would bring the mix up to the wish, where it is clearly under.
fn base_that_would(
    bench: &Bench,
    acid: &Acid,
    g_per_l: &[f64],
    stocks: &[Stock],
) -> Result<Option<(String, f64)>, JobError> {
    let Some(base) = bench.shelf.iter().find(|stock| bench.salt(stock).kind == Kind::Base) else { return Ok(None) };
    let air = if acid.basis == Basis::Fresh { Air::Closed } else { Air::Open };
    let mut with_base = stocks.to_vec();
    with_base.push(*base);
    let wider = Brew::new(bench, &with_base).map_err(failed)?;
    let mut amounts = g_per_l.to_vec();
    amounts.push(0.0);
    let (meq_per_g, wanted) = wider.proton_row(&amounts, acid.target_ph, air).map_err(failed)?;
    let there: f64 = meq_per_g.iter().zip(&amounts).map(|(meq, grams)| meq * grams).sum();
    let per_gram = meq_per_g.last().copied().unwrap_or(0.0);
    let grams = (wanted - there) / per_gram * bench.tank.volume.get::<in_liters>();
    Ok((per_gram > 0.0 && grams > 0.0).then(|| (bench.salt(base).name.clone(), grams)))
}

/// Silicates only when silicon is asked for, acids only by `[acid]`, caustics never by themselves.
fn may_take_part(bench: &Bench, salt: &Salt, formula: &Formula) -> bool {
    let named_acid = bench.acid.as_ref().is_some_and(|acid| acid.salt == salt.id);
    match salt.kind {
        _ if named_acid => false,
        Kind::Salt | Kind::Chelate => true,
        Kind::Silicate => formula.wish(Nutrient::Si).is_some_and(|wish| wish.target.is_some() || wish.min.is_some()),
        Kind::Acid | Kind::Base => false,
    }
}

fn want(wish: &crate::bench::Wish) -> Want {
    Want {
        nutrient: wish.nutrient,
        target_ppm: wish.target.map(ppm_of),
        min_ppm: wish.min.map(ppm_of),
        max_ppm: wish.max.map(ppm_of),
        weight: wish.weight,
    }
}

fn job_error(bench: &Bench, formula: &Formula, stocks: &[Stock], error: FitError) -> JobError {
    let conflict = match error {
        FitError::NothingToMixFrom => return JobError::NothingToMixFrom { formula: formula.name.clone() },
        FitError::Conflict(conflict) => conflict,
        other => return JobError::Failed { words: other.to_string() },
    };
    let level = |nutrient, low: bool| {
        let wish = formula.wish(nutrient);
        let level = wish.and_then(|wish| if low { wish.min } else { wish.max }).map_or(0.0, ppm_of);
        ppm_text(level)
    };
    let percent = |share: Option<f64>| significant(100.0 * share.unwrap_or(0.0), 1);
    let ec = |limit: Option<_>| significant(limit.map_or(0.0, ms_per_cm), 3);
    let words = |limit: &Limit| match limit {
        Limit::AtLeast(nutrient) => format!("{nutrient} at least {} ppm", level(*nutrient, true)),
        Limit::AtMost(nutrient) => format!("{nutrient} at most {} ppm", level(*nutrient, false)),
        Limit::ShareAtLeast => format!("ammonium share at least {} %", percent(formula.ammonium_share.min)),
        Limit::ShareAtMost => format!("ammonium share at most {} %", percent(formula.ammonium_share.max)),
        Limit::OnHand(column) => {
            let stock = &stocks[*column];
            let grams = stock.on_hand.map_or(0.0, |mass| mass.get::<in_grams>());
            format!("{}: {} g on hand", bench.salt(stock).name, significant(grams, 3))
        }
        Limit::EcAtLeast => format!("EC at least {} mS/cm", ec(formula.ec.min)),
        Limit::Ph => "the wished pH".to_owned(),
        Limit::EcAtMost => format!("EC at most {} mS/cm", ec(formula.ec.max)),
    };
    let why = match conflict.limits[..] {
        [Limit::AtLeast(_)] => ": no salt on the shelf supplies it",
        [Limit::AtMost(_)] => ": the water alone brings more",
        [_] => ": it cannot be kept by itself",
        _ => "; of these, any may stay if another gives way",
    };
    JobError::Conflict {
        formula: formula.name.clone(),
        limits: conflict.limits.iter().map(words).collect(),
        why: why.to_owned(),
    }
}
