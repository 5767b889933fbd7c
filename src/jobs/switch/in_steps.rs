//! A tank turned over in steps over days: each goes an equal part of the way in composition, so that no root meets all of the
//! change at once.

use serde::Serialize;

use super::{SwitchOptions, SwitchRecord, Turn, at_once, before, turn};
use crate::bench::{Bench, Formula, Wish};
use crate::jobs::engine::question::{MixOptions, formula as formula_called};
use crate::jobs::error::JobError;
use crate::jobs::recipe::switch_recipe;
use crate::jobs::record::handling::weighed_out;
use crate::jobs::record::{Dose, Element, HelperRecord, Step, WaterRecord};
use crate::matter::Nutrient;
use crate::quantity::{Date, Limits, gram, liter, liter_of, ppm, ppm_of};
use crate::safety::{Finding, Severity};
use crate::solution::Air;
use crate::tank::Content;
use crate::tank::chemistry::ms_per_cm;
use crate::tank::instrument::grams_of;
use crate::tank::saved::{Saved, of_job};

/// A switch in steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct InSteps {
    /// How many, 2 or more.
    pub count: u32,
    /// Days from one to the next.
    pub every_days: u32,
}

impl InSteps {
    /// Days from one step to the next where none are stated: own choice, no source.
    pub const EVERY_DAYS: u32 = 2;
}

impl SwitchOptions {
    /// pH by which what is let out is judged: as it is reckoned, and as it was read.
    pub(super) fn spent_ph(&self, aired: Option<f64>) -> Vec<f64> {
        aired.into_iter().chain(self.held_ph).collect()
    }
}

/// One step of a switch.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SwitchStep {
    /// Which, from 1.
    pub step: u32,
    /// Days after the first.
    pub after_days: u32,
    /// Its day, where that of the first is known.
    pub on: Option<String>,
    /// What to drain, L.
    pub drain_l: f64,
    /// What to fill in, L.
    pub refill_l: f64,
    /// Litres of each of several waters in what is filled in, as of a mix.
    pub waters: Vec<WaterRecord>,
    /// What to measure out.
    pub doses: Vec<Dose>,
    /// How it is done, step by step, as of a mix.
    pub order: Vec<Step>,
    /// Bottles that it draws from, as of a mix.
    pub helpers: Vec<HelperRecord>,
    /// What the tank will hold, beside what this step asks for.
    pub after: Vec<Element>,
    /// Misfit against what this step asks for, as measured out.
    pub misfit: Option<f64>,
    /// EC at 25 C after it, mS/cm.
    pub ec_ms_cm: f64,
    /// Stops and warnings of this step that the first does not have.
    pub findings: Vec<Finding>,
}

/// The steps one after another, each into what the one before leaves; plants are reckoned to take nothing between.
pub(super) fn switch(
    bench: &Bench,
    formula: &str,
    holding: &Content,
    how: &SwitchOptions,
    options: &MixOptions,
    in_steps: InSteps,
) -> Result<SwitchRecord, JobError> {
    let asked = formula_called(bench, formula)?;
    let InSteps { count, every_days } = in_steps;
    let ec = before(&turn(bench, formula, holding, how)?, None)?.ec_ms_cm;
    let mut held = holding.clone();
    let mut left = bench.clone();
    let mut first: Option<SwitchRecord> = None;
    let mut steps = Vec::new();
    for step in 1..=count {
        let after_days = (step - 1) * every_days;
        let mut on_the_way = left.clone();
        for one in on_the_way.formulas.iter_mut().filter(|one| one.name == formula) {
            *one = part_of_the_way(asked, holding, ec, f64::from(step) / f64::from(count));
        }
        let on = how.on.map(|on| on.plus(i32::try_from(after_days).unwrap_or(i32::MAX)));
        // a step leaves the tank full
        let level = how.level.filter(|_| step == 1);
        // what was read is of the tank before the first
        let (held_ph, low_nitrogen_ppm) = (how.held_ph.filter(|_| step == 1), how.low_nitrogen_ppm.filter(|_| step == 1));
        let this = SwitchOptions { on, level, held_ph, low_nitrogen_ppm, in_steps: None, ..*how };
        let done = at_once(&on_the_way, formula, &held, &this, options)?;
        let saved = of_job(&switch_recipe(&on_the_way, &done), &on_the_way)?;
        held = left_by(&saved, &turn(&on_the_way, formula, &held, &this)?, &done)?;
        spent(&mut left, &saved, &done);
        steps.push(told(step, after_days, on, &done, first.as_ref()));
        first.get_or_insert(done);
    }
    let too_late =
        first.as_ref().and_then(|first| first.back_by.as_ref()).zip(steps.last().and_then(|last| last.on.as_ref()));
    if let Some((back_by, last)) = too_late.filter(|(back_by, last)| last >= back_by) {
        let why = format!(
            "the last step would fall on {last}, and {formula} may be held until {back_by}: fewer steps, or less days between"
        );
        return Err(JobError::NoSwitch { why });
    }
    match first {
        Some(mut first) => {
            let weighed: Vec<&str> = steps.iter().flat_map(|step| weighed_out(&step.doses, &step.helpers)).collect();
            let told: Vec<Finding> = steps.iter().flat_map(|step| step.findings.iter().cloned()).collect();
            first.after.mind(bench, &weighed, &told, &how.spent_ph(first.before.ph_aired));
            Ok(SwitchRecord { steps, ..first })
        }
        None => Err(JobError::NoSwitch { why: "no steps are no switch".to_owned() }),
    }
}

/// A step as it is told: of what speaks against it what the first has not said.
fn told(step: u32, after_days: u32, on: Option<Date>, done: &SwitchRecord, first: Option<&SwitchRecord>) -> SwitchStep {
    let is_new = |finding: &&Finding| {
        let known = |first: &SwitchRecord| first.after.findings.iter().any(|other| other.code == finding.code);
        finding.severity < Severity::Note && first.is_some_and(|first| !known(first))
    };
    SwitchStep {
        step,
        after_days,
        on: on.map(|on| on.to_string()),
        drain_l: done.drain_l,
        refill_l: done.refill_l,
        waters: done.after.waters.clone(),
        doses: done.after.doses.clone(),
        order: done.after.order.clone(),
        helpers: done.after.helpers.clone(),
        after: done.after.elements.clone(),
        misfit: done.after.misfit,
        ec_ms_cm: done.after.ec_ms_cm,
        findings: done.after.findings.iter().filter(is_new).cloned().collect(),
    }
}

/// A formula `part` of the way from what a tank holds: targets on the straight line between. A limit that is not kept yet comes
/// nearer by as much; one of EC or of ammonium, which are no straight line, waits for the last step where it is not kept.
fn part_of_the_way(formula: &Formula, from: &Content, ec_ms_per_cm: f64, part: f64) -> Formula {
    if part >= 1.0 {
        return formula.clone();
    }
    let way = |wish: &Wish| {
        let known = !from.not_known.contains(&wish.nutrient);
        let there = from.ppm[wish.nutrient];
        let towards = |to: f64| if known { there + part * (to - there) } else { to };
        Wish {
            target: wish.target.map(|target| ppm(towards(ppm_of(target)))),
            min: wish.min.map(|min| if ppm_of(min) > there { ppm(towards(ppm_of(min))) } else { min }),
            max: wish.max.map(|max| if ppm_of(max) < there { ppm(towards(ppm_of(max))) } else { max }),
            ..*wish
        }
    };
    let nitrogen = from.ppm[Nutrient::N];
    let ammonium = (nitrogen > 0.0).then(|| (from.ppm[Nutrient::AmmoniumN] + from.ppm[Nutrient::UreaN]) / nitrogen);
    let kept = |limits: Limits<f64>, there: Option<f64>| Limits {
        min: limits.min.filter(|min| there.is_none_or(|there| there >= *min)),
        max: limits.max.filter(|max| there.is_none_or(|there| there <= *max)),
    };
    Formula {
        wishes: formula.wishes.iter().map(way).collect(),
        ec: Limits {
            min: formula.ec.min.filter(|min| ec_ms_per_cm >= ms_per_cm(*min)),
            max: formula.ec.max.filter(|max| ec_ms_per_cm <= ms_per_cm(*max)),
        },
        ammonium_share: kept(formula.ammonium_share, ammonium),
        ..formula.clone()
    }
}

/// What a step leaves in the tank, after days in air: its recipe, read as every other, poured into what it does not drain.
fn left_by(saved: &Saved, turn: &Turn, done: &SwitchRecord) -> Result<Content, JobError> {
    let tank = turn.after(&saved.bench, done.drain_l)?;
    let per_litre: Vec<f64> = saved.doses.iter().map(|(_, amount)| amount / tank.litres()).collect();
    let known_from = format!("what the step before leaves on the way to {}", turn.formula);
    Ok(Content::of_parts(&tank, &saved.parts(), &per_litre, Air::Open, known_from)?)
}

/// Takes what a step uses from what is on hand: salts, and waters of which there is only so much.
fn spent(bench: &mut Bench, saved: &Saved, done: &SwitchRecord) {
    for (id, grams) in saved.grams() {
        let salt = bench.catalogue.find(&id);
        for stock in bench.shelf.iter_mut().filter(|stock| Some(stock.salt) == salt) {
            stock.on_hand = stock.on_hand.map(|there| gram((grams_of(there) - grams).max(0.0)));
        }
    }
    for used in &done.after.waters {
        for water in bench.waters.iter_mut().filter(|water| water.id == used.id) {
            water.on_hand = water.on_hand.map(|there| liter((liter_of(there) - used.litres).max(0.0)));
        }
    }
}
