//! What to weigh for a fresh tank of a formula.

use uom::si::mass::gram as in_grams;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::day;
use uom::si::volume::liter as in_liters;

use super::brew::{Brew, ms_per_cm, purity_deviation, volume_deviation};
use super::error::JobError;
use super::handling::{handling, mixing_rank, order, sources};
use super::measure::{Measured, measure};
use super::record::{Change, Comparison, Dose, Element, MixRecord, StageRecord};
use crate::bench::{Bench, Formula, Stock};
use crate::fit::{self, Column, EcLimits, FitError, Limit, Problem, ShareLimits, Want};
use crate::matter::{Kind, NUTRIENTS, Nutrient, Salt};
use crate::quantity::{ppm_of, ppm_text, significant};
use crate::safety::{self, Achieved, Facts};
use crate::solution::{MeterScale, at_temperature};

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
/// assert!(mix.misfit_exact < 1e-9);
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn mix(bench: &Bench, formula: &str, meter: Option<MeterScale>) -> Result<MixRecord, JobError> {
    let formula = bench.formula(formula).ok_or_else(|| JobError::UnknownFormula {
        name: formula.to_owned(),
        known: bench.formulas.iter().map(|formula| formula.name.clone()).collect(),
        suggestion: crate::suggest::nearest(formula, bench.formulas.iter().map(|f| f.name.as_str())).map(str::to_owned),
    })?;
    let stocks: Vec<Stock> =
        bench.shelf.iter().copied().filter(|stock| may_take_part(bench, bench.salt(stock), formula)).collect();
    let brew = Brew::new(bench, &stocks);
    let litres = bench.tank.volume.get::<in_liters>();
    let priced = stocks.iter().all(|stock| stock.price_per_g.is_some());
    let ec_of = |x: &[f64]| ms_per_cm(brew.ec(x).at_25);
    let slope_of = |x: &[f64]| brew.ec_slope(x);
    let problem = Problem {
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
    };
    let solution = fit::solve(&problem).map_err(|error| job_error(bench, formula, &stocks, error))?;
    let used = in_order_of_mixing(bench, &stocks, &solution.g_per_l);
    let measured: Vec<Measured> =
        stocks.iter().zip(&solution.g_per_l).map(|(stock, x)| measure(bench, stock, x * litres)).collect();
    let weighed: Vec<f64> = measured.iter().map(|measured| measured.grams / litres).collect();
    let relative: Vec<f64> = stocks
        .iter()
        .zip(&measured)
        .map(|(stock, m)| {
            let weighing = if m.grams > 0.0 { m.deviation_g / m.grams } else { 0.0 };
            weighing.hypot(purity_deviation(bench, stock))
        })
        .collect();

    let (ppm, exact) = (brew.ppm(&weighed), brew.ppm(&solution.g_per_l));
    let plus_minus = brew.plus_minus_ppm(&weighed, &relative, volume_deviation(bench));
    let ec = brew.ec(&weighed);
    let ec_plus_minus = brew.ec_plus_minus(&weighed, &relative, volume_deviation(bench));
    let temperature = bench.tank.temperature;
    let achieved: Vec<Achieved> = NUTRIENTS
        .into_iter()
        .map(|nutrient| {
            let wish = formula.wish(nutrient);
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
            let most = problem.columns[at].most_g_per_l;
            safety::Measured {
                id: salt.id.clone(),
                name: salt.name.clone(),
                grams_exact: solution.g_per_l[at] * litres,
                too_small_for: m.measure.is_none().then_some(m.finest),
                g_per_l: weighed[at],
                soluble_g_per_l: salt
                    .solubility
                    .as_ref()
                    .map(|solubility| solubility.at_least_g_per_l(temperature.get::<degree_celsius>())),
                solubility_source: salt.solubility.as_ref().map(|solubility| solubility.source.clone()),
                runs_short: most.is_some_and(|most| solution.g_per_l[at] >= most * (1.0 - 1e-9))
                    && achieved.iter().any(|a| {
                        let wanted = a.target_ppm.is_some_and(|target| exact[a.nutrient] < target * (1.0 - 1e-6));
                        wanted && salt.composition.nutrients[a.nutrient] > 0.0
                    }),
            }
        })
        .collect();
    let growth = bench.formula("growth").filter(|growth| growth.name != formula.name);
    let share = Problem::ammonium_share(&ppm);
    let hold_at_most_days = formula.hold_at_most.map(|hold| hold.get::<day>());
    let findings = safety::findings(&Facts {
        nitrogen_target_ppm: formula.nitrogen_target().map(ppm_of),
        growth_nitrogen_ppm: growth.and_then(Formula::nitrogen_target).map(ppm_of),
        hold_at_most_days,
        achieved: &achieved,
        ammonium_share: share,
        ammonium_share_max: formula.ammonium_share.max,
        ammonium_share_min: formula.ammonium_share.min,
        ec_ms_per_cm: ms_per_cm(ec.at_25),
        ec_plus_minus_ms_per_cm: ec_plus_minus,
        ec_limits_ms_per_cm: (formula.ec.min.map(ms_per_cm), formula.ec.max.map(ms_per_cm)),
        salts: &watched,
        water: &bench.water,
        water_ec_ms_per_cm: ms_per_cm(brew.ec(&vec![0.0; stocks.len()]).at_25),
        unused_keys: &unused_keys(bench),
    });
    let doses: Vec<Dose> =
        used.iter().map(|&at| dose(bench, &stocks[at], &measured[at], solution.g_per_l[at] * litres)).collect();
    let salts: Vec<&Salt> = used.iter().map(|&at| bench.salt(&stocks[at])).collect();
    let measurable = used.iter().filter(|&&at| measured[at].measure.is_some());
    let stirred_in: Vec<&Salt> = measurable.map(|&at| bench.salt(&stocks[at])).collect();
    let (handling, cautions, caution_sources) = handling(bench, &salts);
    let sources = sources(bench, &salts, &findings, &caution_sources);
    Ok(MixRecord {
        version: 1,
        job: "mix".to_owned(),
        formula: formula.name.clone(),
        bench: bench.name.clone(),
        pure_water: bench.water.is_pure(),
        volume_l: litres,
        temperature_c: temperature.get::<degree_celsius>(),
        cost: doses.iter().map(|dose| dose.cost).sum::<Option<f64>>().filter(|_| !doses.is_empty()),
        order: order(bench, &stirred_in),
        doses,
        elements: achieved
            .iter()
            .filter(|a| !a.nutrient.is_nitrogen_form() || formula.wish(a.nutrient).is_some())
            .filter(|a| formula.wish(a.nutrient).is_some() || a.ppm > 0.0)
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
        misfit: problem.misfit(&ppm),
        misfit_exact: solution.misfit,
        proof: "best found".to_owned(),
        stages: solution
            .stages
            .iter()
            .map(|stage| StageRecord { wish: stage.wish.to_owned(), value: stage.value, unit: stage.unit.to_owned() })
            .collect(),
        ec_ms_cm: ms_per_cm(ec.at_25),
        ec_plus_minus_ms_cm: ec_plus_minus,
        ec_at_temperature_ms_cm: ms_per_cm(at_temperature(ec.at_25, temperature)),
        meter_scale: meter.map(|scale| scale.factor),
        meter_reading_ppm: meter.map(|scale| ms_per_cm(ec.at_25) * 1e3 * scale.factor),
        ph: None,
        ph_aired: None,
        ionic_strength_mol_l: ec.ionic_strength_mol_per_l,
        saturation: Vec::new(),
        helpers: Vec::new(),
        hold_at_most_days,
        against_growth: growth.map(|growth| compare(growth, formula)),
        findings,
        handling,
        cautions,
        sources,
    })
}

/// Silicates only when silicon is asked for, acids only by `[acid]` (not used yet), caustics never by themselves.
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

fn unused_keys(bench: &Bench) -> Vec<&'static str> {
    let helpers = (!bench.helpers.is_empty()).then_some("[[helper]]");
    let acid = bench.acid.is_some().then_some("[acid]");
    let stated = bench.catalogue.salts().iter().any(|salt| salt.alkalinity_eq_per_kg.is_some());
    helpers.into_iter().chain(acid).chain(stated.then_some("alkalinity_per_kg")).collect()
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
