//! Concentrated stock bottles of a formula: which salts share one, how strong it may be, how it is made and dosed.

mod bottle;
mod bottles;
mod dissolve;
mod other;
mod record;
mod share;
mod sorted;
mod split;

use std::borrow::Cow;

use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::volume::liter as in_liters;

pub use record::{BottleChemistry, KeptApart, StockBottle, StockRecord, Straight, StrengthLimit, WithSalts};

use self::bottles::{Bottle, Bottles, bottles, holds};
use self::dissolve::Crystals;
use self::other::{Other, possible};
use self::sorted::{Apart, sorted, words};
use crate::bench::Bench;
use crate::catalogue::SaltId;
use crate::jobs::engine::blend::blended;
use crate::jobs::engine::exact::{Exact, exact};
use crate::jobs::engine::kept_apart;
use crate::jobs::engine::ladder::ladder;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::engine::question::formula as formula_called;
use crate::jobs::engine::why::explained;
use crate::jobs::error::JobError;
use crate::jobs::record::describe::describe;
use crate::jobs::record::made::Made;
use crate::jobs::record::{AcidRecord, MixRecord};
use crate::quantity::{Temperature, US_GALLON_L, Volume, milliliter, trimmed, volume_text, whole_steps};
use crate::safety::{self, Finding};
use crate::tank::Tank;
use crate::tank::instrument::{Measured, measured, smallest};
use crate::tank::parts::{Part, Parts};

/// A bottle weaker than this is not worth making: more than a tenth of the tank would come out of it (own choice).
const LEAST_STRENGTH: f64 = 10.0;
/// The bottles together fill no more than this share of the tank: the rest is water to stir them into (own choice).
const OF_TANK: f64 = 0.8;

/// Rounds of fitting the mix to the water that the bottles leave: two or three are enough, since the doses are whole steps.
const ROUNDS: usize = 6;

/// What is asked of stock bottles.
#[derive(Debug, Clone, PartialEq)]
pub struct StockOptions {
    /// How many times as strong as the tank the bottles should be; 10 to 1000.
    pub strength: f64,
    /// What each bottle is made up to.
    pub bottle: Volume,
    /// The lowest temperature at which they stand.
    pub coldest: Temperature,
    /// Another formula to dose from the same bottles.
    pub dose_for: Option<String>,
}

/// Stock bottles of `formula`, as few as keep apart what must not meet, each as strong as asked for or as dissolves at the
/// coldest, and the tank of the bench dosed from them. Bottles already made are not used, and the shelf counts as full.
///
/// # Errors
/// [`JobError`]: no such formula, nothing to mix from, limits that contradict each other, nothing that can be bottled.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, StockOptions}, quantity::{celsius, liter}};
/// let how = StockOptions { strength: 100.0, bottle: liter(1.0), coldest: celsius(10.0), dose_for: None };
/// let stock = jobs::stock(&Bench::starter(), "growth", &how)?;
/// assert!(stock.bottles.iter().all(|bottle| bottle.dose_ml_per_l == 10.0));
/// # Ok::<(), jobs::JobError>(())
/// ```
///
/// Reference: `docs/stock.md`.
pub fn stock(bench: &Bench, formula: &str, how: &StockOptions) -> Result<StockRecord, JobError> {
    // of several waters the blend of a tank of the same formula: bottles are made with it, and it dilutes them
    let bench = &match blended(&shelf_only(bench), formula, &MixOptions::default())? {
        Cow::Borrowed(_) => bench.clone(),
        Cow::Owned(Bench { water, blend, .. }) => Bench { water, blend, ..bench.clone() },
    };
    let shelf = shelf_only(bench);
    let Settled { full, exact, straight, filled } = settled(bench, &shelf, formula, how)?;
    let question = kept_apart::question(Tank::fresh(&full)?, formula_called(&full, formula)?, None)?;
    let mut findings = exact.findings.clone();
    findings.extend(explained(&question, &exact, &MixOptions::default())?);

    findings.extend(acids_left(bench));
    if let Some(why) = overfull(&filled) {
        return Err(JobError::NoStock { why });
    }

    let into = Tank::fresh(bench)?;
    let (parts, exact_per_l) = drawn(bench, &straight, &filled);
    let litres = bench.tank.volume.get::<in_liters>();
    let measured: Vec<Measured> = (0..parts.list.len()).map(|at| dose(&parts, at, exact_per_l[at] * litres)).collect();
    findings.extend(filled.findings.iter().cloned());
    let bottle_ml = milliliter(how.bottle);
    let drawn = (0..parts.list.len()).filter(|&at| matches!(parts.list[at], Part::Helper(_)));
    let drawn = drawn.map(|at| (parts.id(at), measured[at].amount, bottle_ml));
    findings.extend(safety::bottles_run_short(litres, drawn));
    if let Some(why) = not_made(how, &filled, &parts, &exact_per_l, litres) {
        return Err(JobError::NoStock { why });
    }
    let (dose_for, with_salts) = other_formula(bench, &shelf, how, &straight, &filled)?;
    findings.extend(how.dose_for.iter().filter(|_| dose_for.is_none()).map(|other| safety::bottles_cannot_dose(other)));
    let made = Made {
        job: "stock",
        tank: &into,
        formula: Some(question.formula),
        parts: &parts,
        exact_per_l: &exact_per_l,
        measured: &measured,
        proposed: &[],
        misfit_exact: Some((exact.solution.misfit, exact.solution.proof)),
        proved: false,
        stages: Vec::new(),
        acid: exact.acid.into_iter().map(|acid| acid_in_bottle(bench, acid, &filled)).collect(),
        findings,
    };
    let mut tank = describe(&made, None)?;
    let records: Vec<StockBottle> = filled.bottles.iter().map(|bottle| record(&parts, how, bottle)).collect();
    label(&mut tank, &records, formula);
    Ok(StockRecord {
        tank,
        strength_asked: how.strength,
        bottle_ml: milliliter(how.bottle),
        coldest_c: how.coldest.get::<degree_celsius>(),
        smallest_tank_l: smallest(bench, Some(1.0)) / records.iter().map(|b| b.dose_ml_per_l).fold(f64::INFINITY, f64::min),
        bottles: records,
        straight: straight.into_iter().map(|one| one.record(bench)).collect(),
        kept_apart: filled.kept_apart,
        dose_for,
        with_salts,
    })
}

/// The exact mix of a formula, and the bottles that it is drawn from.
struct Settled {
    /// The shelf alone, with the water that the bottles leave.
    full: Bench,
    exact: Exact,
    straight: Vec<Apart>,
    filled: Bottles,
}

/// Bottles of pure water take the place of some of the bench's own, and what that would have brought is then missing: the mix is
/// fitted again for the water that is left, until the bottles stay the same.
fn settled(bench: &Bench, shelf: &Bench, formula: &str, how: &StockOptions) -> Result<Settled, JobError> {
    let crystals = Crystals::new(bench, how.coldest);
    let mut displaced = 0.0;
    let mut rounds = 0;
    loop {
        let full = Bench { water: bench.water.thinned(displaced), ..shelf.clone() };
        let question = kept_apart::question(Tank::fresh(&full)?, formula_called(&full, formula)?, None)?;
        let exact = exact(&question, &MixOptions::default())?;
        let mut sorted = sorted(&question, &exact.solution.g_per_l, &crystals);
        let mut filled = bottles(bench, formula, how, &sorted.bottled, &crystals);
        if filled.bottles.is_empty() {
            // what clouds a bottle of its own, as a product of calcium or magnesium and phosphate does, keeps all from being split
            sorted.take_out_cloudy(bench, how, &crystals);
            filled = bottles(bench, formula, how, &sorted.bottled, &crystals);
        }
        if filled.bottles.is_empty() {
            let why = format!("nothing of `{formula}` can be kept in a stock bottle: {}", words(&sorted.straight));
            return Err(JobError::NoStock { why });
        }
        let pure = filled.pure_water(bench);
        rounds += 1;
        // more water than this is no tank; it is refused by the caller
        if (pure - displaced).abs() < 1e-9 || rounds == ROUNDS || pure > OF_TANK {
            return Ok(Settled { full, exact, straight: sorted.straight, filled });
        }
        displaced = pure;
    }
}

/// Another formula from the same bottles, alone and with salts of the shelf; nothing where none is asked.
fn other_formula(
    bench: &Bench,
    shelf: &Bench,
    how: &StockOptions,
    straight: &[Apart],
    filled: &Bottles,
) -> Result<(Option<MixRecord>, Option<WithSalts>), JobError> {
    let Some(formula) = &how.dose_for else { return Ok((None, None)) };
    let asked = Other { bench, formula, filled };
    let goes_straight: Vec<SaltId> = straight.iter().map(|one| one.stock.salt).collect();
    Ok((possible(asked.alone(&goes_straight))?, possible(asked.with_salts(shelf))?.flatten()))
}

/// Acids that come in a bottle already, and that no stock bottle holds.
fn acids_left(bench: &Bench) -> impl Iterator<Item = Finding> {
    let acids = bench.acid.iter().flat_map(|acid| &acid.salts).filter(|id| comes_in_a_bottle(bench, id));
    acids.map(|id| safety::stock_leaves_acid(id))
}

/// What a tank is made of, the salts that go straight into it first, and how much of each for a litre.
fn drawn<'b>(bench: &'b Bench, straight: &[Apart], filled: &Bottles) -> (Parts<'b>, Vec<f64>) {
    let salts = straight.iter().map(|one| (Part::Salt(one.stock), one.g_per_l));
    let bottles = filled.bottles.iter().map(|bottle| (Part::Helper(bottle.helper), bottle.ml_per_l));
    let (list, per_l) = salts.chain(bottles).unzip();
    (Parts { helpers: filled.helpers.clone(), ..Parts::new(bench, list) }, per_l)
}

/// Why there is no tank left to stir the bottles into; nothing where there is.
fn overfull(filled: &Bottles) -> Option<String> {
    let share: f64 = filled.bottles.iter().map(|bottle| bottle.ml_per_l * 1e-3).sum();
    (share > OF_TANK).then(|| {
        format!(
            "the bottles would fill {} % of the tank: a stronger bottle, or a warmer place for it, takes less",
            trimmed(share * 100.0, 0)
        )
    })
}

/// Why the bottles cannot be made or dosed on this bench: nothing in one can be weighed, or the tank takes too little of one.
fn not_made(how: &StockOptions, filled: &Bottles, parts: &Parts, exact_per_l: &[f64], litres: f64) -> Option<String> {
    let bottle = volume_text(how.bottle);
    if filled.bottles.iter().any(|bottle| filled.helpers[bottle.helper].made_of.is_empty()) {
        return Some(format!("in {bottle} everything of one bottle is too little to weigh: make larger ones"));
    }
    let at = (0..parts.list.len())
        .find(|&at| matches!(parts.list[at], Part::Helper(_)) && parts.too_small(at, exact_per_l[at] * litres))?;
    let smallest = smallest(parts.bench, Some(1.0));
    Some(format!(
        "{} of tank takes less of bottle {} than the {} mL that the syringe can be trusted with: weaker bottles or a larger \
         tank take more",
        volume_text(parts.bench.tank.volume),
        parts.id(at),
        trimmed(smallest, 2)
    ))
}

/// The bench without bottles, its shelf full.
fn shelf_only(bench: &Bench) -> Bench {
    let mut full = Bench { helpers: Vec::new(), ..bench.clone() };
    full.shelf.iter_mut().for_each(|stock| stock.on_hand = None);
    full.acid.iter_mut().for_each(|acid| acid.salts.retain(|id| !comes_in_a_bottle(bench, id)));
    full.acid.take_if(|acid| acid.salts.is_empty());
    full
}

/// True for an acid that is a bottle of the bench.
fn comes_in_a_bottle(bench: &Bench, acid: &str) -> bool {
    bench.helpers.iter().any(|helper| helper.id == acid)
}

/// The dose of a part for the tank, in whole steps.
fn dose(parts: &Parts, at: usize, amount: f64) -> Measured {
    let density = parts.density(at);
    let ladder = ladder(parts.bench, density, None);
    measured(parts.bench, density, ladder.amount(ladder.nearest(amount)))
}

/// The acid as what is dosed: the bottle that holds it, where it was bottled.
fn acid_in_bottle(bench: &Bench, acid: AcidRecord, filled: &Bottles) -> AcidRecord {
    let Some(bottle) = filled.bottles.iter().find(|bottle| holds(bench, bottle, &acid.salt)) else { return acid };
    let g_per_ml: f64 = bottle.g_per_l.iter().map(|(_, grams)| grams * 1e-3).sum();
    let ml = |grams: Option<f64>| grams.map(|grams| grams / g_per_ml);
    AcidRecord {
        salt: filled.helpers[bottle.helper].id.clone(),
        millilitres_fresh: ml(acid.grams_fresh),
        millilitres_aired: ml(acid.grams_aired),
        grams_fresh: None,
        grams_aired: None,
        ..acid
    }
}

/// A bottle as a record.
fn record(parts: &Parts, how: &StockOptions, bottle: &Bottle) -> StockBottle {
    let bench = parts.bench;
    let step = milliliter(bench.syringe.step);
    let of = &parts.helpers[bottle.helper];
    let contents = parts.of_helper(bottle.helper);
    let price = |(salt, per_ml): &(SaltId, f64)| Some(bench.stock(*salt).price_per_g? * per_ml * milliliter(how.bottle));
    StockBottle {
        id: of.id.clone(),
        strength: bottle.strength,
        dose_ml_per_l: bottle.ml_per_l,
        dose_ml_per_us_gal: whole_steps((bottle.ml_per_l * US_GALLON_L / step).round(), step),
        limit: bottle.limit.map(|limit| {
            let salt = bench.catalogue.salt(limit.salt);
            StrengthLimit {
                salt: salt.id.clone(),
                name: salt.name.clone(),
                strength: limit.times,
                solubility_source: salt.solubility.as_ref().map(|solubility| solubility.source.clone()),
            }
        }),
        limited: bottle.limited,
        chemistry: bottle.chemistry.clone(),
        cost: contents.salts.iter().map(price).sum(),
        making: bottle.making.clone(),
        left_out: bottle.left_out.clone(),
    }
}

/// Puts the strength and the doses on the labels.
fn label(tank: &mut MixRecord, bottles: &[StockBottle], formula: &str) {
    for bottle in bottles {
        if let Some(helper) = tank.helpers.iter_mut().find(|helper| helper.id == bottle.id) {
            let strength = format!(
                "{formula}, {} times: {} mL for a litre of tank, {} mL for a US gallon",
                trimmed(bottle.strength, 1),
                trimmed(bottle.dose_ml_per_l, 2),
                trimmed(bottle.dose_ml_per_us_gal, 2),
            );
            helper.label.insert(1, strength);
            if !bottle.left_out.is_empty() {
                helper.label.insert(2, format!("WITHOUT {}, too little to weigh", bottle.left_out.join(", ")));
            }
        }
    }
}
