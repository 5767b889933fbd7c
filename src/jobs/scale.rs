//! A recipe for another tank size, weighable again.

use std::borrow::Cow;

use serde::Serialize;

use crate::bench::{Bench, Formula, Wish};
use crate::fit::{Proof, ShadowPrices, Solution, phi};
use crate::jobs::engine::blend::filled_with;
use crate::jobs::engine::question::Question;
use crate::jobs::engine::weigh::weigh;
use crate::jobs::error::JobError;
use crate::jobs::record::describe::describe;
use crate::jobs::record::made::Made;
use crate::jobs::record::{MixRecord, StageRecord};
use crate::matter::{Kind, NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::{Limits, TARGET_PPM, Volume, liter_of, ppm, ppm_of};
use crate::safety::{self, Finding};
use crate::tank::parts::{Part, Parts};
use crate::tank::saved::saved;
use crate::tank::{Recipe, Tank};

/// So many times what is on hand of a salt or a bottle is worth a word: a hundredth less misses no target.
const LACKS: f64 = 1.01;

/// A recipe scaled.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct ScaleRecord {
    /// The mix for the new volume; its targets are what the recipe gives.
    #[serde(flatten)]
    pub mix: MixRecord,
    /// Volume of the recipe, L.
    pub from_l: f64,
    /// The new volume over the old.
    pub times: f64,
    /// The largest deviation from the recipe that whole steps cost, percent, and of which element; null where nothing was
    /// asked.
    pub worst_percent: Option<f64>,
    /// Which element that is.
    pub worst_element: Option<String>,
}

/// A recipe for another volume: the same concentrations, in whole steps of the instruments at hand.
///
/// * `at_hand`: the bench whose instruments, empty bottles and formulas count
/// * `own_water`: true to mix with the water, salts and bottles of `at_hand` too; else those that the recipe was saved with
/// * `to`: the new volume
///
/// Returns the record, and the bench that it is for. The misfit is against what the recipe gives, so it is what rounding
/// costs.
///
/// # Errors
/// [`TankError::NoRecipe`](crate::jobs::TankError), or as [`crate::jobs::mix`].
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, MixOptions}, quantity::liter};
/// let bench = Bench::starter();
/// let recipe = jobs::recipe(&bench, &jobs::mix(&bench, "push", &MixOptions::default())?);
/// let (scaled, _) = jobs::scale(&bench, false, &recipe, liter(120.0))?;
/// assert!((scaled.times - 2.0).abs() < 1e-12 && scaled.mix.misfit.is_some_and(|misfit| misfit < 0.01));
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn scale(at_hand: &Bench, own_water: bool, recipe: &Recipe, to: Volume) -> Result<(ScaleRecord, Bench), JobError> {
    let mut saved = saved(recipe, at_hand)?;
    let from_l = saved.litres();
    let here = if own_water { in_the_waters_of(recipe, at_hand, to)? } else { Cow::Borrowed(at_hand) };
    let at_hand = &*here;
    let bench = if own_water { saved.with_products(at_hand) } else { saved.bench.clone() }.with_tank(to);
    // a bottle of the recipe may be empty or never made: its salts are weighed, or put into a new one
    let doses = if own_water { saved.on(&bench)? } else { saved.on(&Bench { helpers: Vec::new(), ..bench.clone() })? };
    let parts = Parts::new(&bench, doses.iter().map(|(part, _)| *part).collect());
    let per_l: Vec<f64> = doses.iter().map(|(_, amount)| amount / from_l).collect();
    saved.bench.water.clone_from(&bench.water);
    let formula = Formula {
        name: recipe.formula.clone().unwrap_or_else(|| "recipe".to_owned()),
        wishes: wishes(recipe, &saved.ppm(from_l), &parts),
        ammonium_share: Limits::default(),
        ec: Limits::default(),
        hold_at_most: recipe.formula.as_deref().and_then(|name| at_hand.formula(name)).and_then(|f| f.hold_at_most),
    };
    let tank = Tank::fresh(&bench)?;
    let question = Question::of_parts(tank.clone(), &formula, parts);
    // a bottle made with pure water took the place of some of the tank's; its salts alone do not
    let exact = question.mixture.ppm(&per_l);
    let off = |wish: &Wish| wish.target.map_or(0.0, |target| phi(exact[wish.nutrient] / ppm_of(target) - 1.0));
    let misfit = formula.wishes.iter().map(off).sum();
    let short = (0..per_l.len()).filter_map(|at| {
        let there_is = question.parts.there_is(at).filter(|there_is| there_is * LACKS < per_l[at] * liter_of(to))?;
        let is_bottle = matches!(question.parts.list[at], Part::Helper(_));
        (there_is > 0.0).then(|| safety::shelf_runs_short(question.parts.name(at), there_is, is_bottle))
    });
    let short: Vec<Finding> = short.collect();
    // of an acid no more goes in than the recipe has: what is too little of it is left out
    let left_out =
        |at: usize| question.parts.kind(at) == Kind::Acid && question.parts.too_small(at, per_l[at] * liter_of(to));
    let weighed_in = per_l.iter().enumerate().map(|(at, amount)| if left_out(at) { 0.0 } else { *amount });
    let solution = Solution {
        g_per_l: weighed_in.collect(),
        misfit,
        proof: Proof::Proved,
        certificate_gap: 0.0,
        stages: Vec::new(),
        shadow_prices: ShadowPrices::default(),
    };
    let weighed = weigh(&question, &solution);
    let mut exact_per_l = per_l;
    exact_per_l.resize(weighed.parts.list.len(), 0.0);
    weighed.spared.iter().for_each(|&at| exact_per_l[at] = 0.0);
    let made = Made {
        job: "scale",
        tank: &tank,
        formula: Some(&formula),
        parts: &weighed.parts,
        exact_per_l: &exact_per_l,
        measured: &weighed.measured,
        proposed: &weighed.proposed,
        misfit_exact: Some((misfit, Proof::Proved)),
        proved: weighed.proved,
        stages: vec![StageRecord { wish: "the recipe's own concentrations".to_owned(), value: 0.0, unit: String::new() }],
        acid: Vec::new(),
        findings: short.into_iter().chain(weighed.findings()).collect(),
    };
    let mix = describe(&made, None)?;
    let times = liter_of(to) / from_l;
    let (worst_element, worst_percent) = worst(&mix).unzip();
    Ok((ScaleRecord { mix, from_l, times, worst_percent, worst_element }, bench.clone()))
}

/// What the recipe gives is what is asked for now; its own limits stay.
///
/// * `gives`: what the tank of the recipe holds, ppm
fn wishes(recipe: &Recipe, gives: &Nutrients, parts: &Parts) -> Vec<Wish> {
    let wish = |nutrient: Nutrient| {
        let before = recipe.wishes.iter().find(|wish| wish.element == nutrient.symbol());
        let target = Some(gives[nutrient]).filter(|ppm| *ppm >= TARGET_PPM.low && brought(parts, nutrient));
        let (min, max) = (before.and_then(|wish| wish.min_ppm), before.and_then(|wish| wish.max_ppm));
        (target.is_some() || min.is_some() || max.is_some()).then(|| Wish {
            nutrient,
            target: target.map(ppm),
            // a limit that the recipe misses already is not kept by scaling it
            min: min.filter(|min| gives[nutrient] >= *min).map(ppm),
            max: max.filter(|max| gives[nutrient] <= *max).map(ppm),
            weight: 1.0,
        })
    };
    NUTRIENTS.into_iter().filter(|nutrient| !nutrient.is_nitrogen_form()).filter_map(wish).collect()
}

/// The element that is furthest off what the recipe gives, and by how much, percent.
fn worst(mix: &MixRecord) -> Option<(String, f64)> {
    let off = mix.elements.iter().filter_map(|e| Some((e.element.clone(), e.deviation_percent?)));
    off.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

/// A bench of several waters with these in the shares of a recipe, as far as each goes.
fn in_the_waters_of<'b>(recipe: &Recipe, bench: &'b Bench, to: Volume) -> Result<Cow<'b, Bench>, JobError> {
    if bench.waters.is_empty() || !bench.blend.is_empty() {
        return Ok(Cow::Borrowed(bench));
    }
    let filled: Vec<(String, f64)> = recipe.waters.iter().map(|water| (water.id.clone(), water.litres)).collect();
    let blended = filled_with(bench, &filled)?;
    let needed = blended.blend.iter().zip(&bench.waters).map(|((_, share), source)| (*share * liter_of(to), source));
    for (needed_l, source) in needed {
        let there_l = source.on_hand.map_or(f64::INFINITY, liter_of);
        if needed_l > there_l * (1.0 + 1e-9) {
            return Err(JobError::NotEnoughWater { needed_l, there_l: vec![(source.id.clone(), there_l)] });
        }
    }
    Ok(Cow::Owned(blended))
}

/// True when a salt brings a nutrient: what only the water brings needs no target.
fn brought(parts: &Parts, nutrient: Nutrient) -> bool {
    (0..parts.list.len()).any(|at| parts.composition(at).nutrients[nutrient] > 0.0)
}
