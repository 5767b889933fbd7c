//! A tank turned over.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, Refusal, typed};
use crate::bench::Bench;
use crate::jobs::{self, Content, InSteps, MixOptions, SwitchOptions, SwitchRecord};
use crate::logbook::{Track, nutrients};
use crate::matter::Nutrient;
use crate::quantity::{
    BUCKET_L, Bound, DRAIN_L, EC_STEP_MS_PER_CM, HELD_BACK_L, LEVEL_L, MeterScale, PH, STEP_DAYS, SWITCH_STEPS, Volume,
    liter,
};

/// What is asked of a switch: one of `holding`, `recipe`, `analysis` and `logbook` says what is in the tank.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct SwitchRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Name of the formula to turn to.
    pub formula: String,
    /// The tank holds this formula, as it is mixed, after days in air.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub holding: Option<String>,
    /// Text of a saved recipe that the tank holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipe: Option<String>,
    /// What a laboratory found in it, each as `N=88`, ppm.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub analysis: Vec<String>,
    /// Text of the logbook of the tank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub logbook: Option<String>,
    /// With a logbook: the moment at which it is read, as `2026-10-03 18:30+02:00`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now: Option<String>,
    /// With a logbook: text of another table of uptake.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uptake: Option<String>,
    /// The pH measured in the tank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub holding_ph: Option<String>,
    /// What can be drained, such as `50 L`; a full tank without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<String>,
    /// What stays behind in medium and pipes, such as `4 L`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub held_back: Option<String>,
    /// Drain in whole buckets of this size; not together with `drain`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bucket: Option<String>,
    /// Drain just this much.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drain: Option<String>,
    /// Warn when EC changes by more than this at once.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ec_step: Option<String>,
    /// The day on which it is done, such as `2027-01-04`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// In so many steps over days, 2 to 4; the day is then that of the first. Not together with `drain`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steps: Option<u32>,
    /// With `steps`: days from one to the next, 1 to 30; 2 without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub every_days: Option<u32>,
    /// Volume of the full tank, such as `60 L`; overrides the bench.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// What else the answer should hold.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn switch(asked: &SwitchRequest) -> Result<Answer, Refusal> {
    one_source(asked)?;
    let mut ph = typed::maybe(asked.holding_ph.as_ref(), |typed| typed::number("holding_ph", typed, &PH))?;
    let read = typed::Read::maybe(asked.logbook.as_ref(), asked.now.as_ref(), asked.uptake.as_ref())?;
    let logbook = read.as_ref().map(|read| &read.logbook);
    let mut bench = typed::bench_for(asked.bench.as_deref(), asked.tank.as_deref(), logbook)?;
    if let Some(read) = &read {
        bench = jobs::drawn_down(&bench, &[&read.logbook], read.at);
    }
    let mut how = options(asked, bench.meter)?;
    let mut holding = match &read {
        Some(read) => {
            let (holding, standing) = of_logbook(read, &bench, &asked.formula, &mut how)?;
            ph = ph.or(standing);
            holding
        }
        None => known(asked, &bench)?,
    };
    how.held_ph = ph.or(how.held_ph);
    if let Some(ph) = ph {
        holding = jobs::held_at_ph(&bench, holding, ph)?;
    }
    let turned = jobs::switch(&bench, &asked.formula, &holding, &how, &MixOptions::default())?;
    let figures = |turned: &SwitchRecord| Figures {
        course: read.as_ref().map(|read| jobs::course(&bench, &read.logbook, read.at, &read.patterns)),
        ..Figures::of(&bench, &turned.after).with_balance(jobs::balance(&bench.catalogue, "this tank before", &holding.ppm))
    };
    let recipe = asked.also.contains(&Also::Recipe).then(|| jobs::switch_recipe(&bench, &turned));
    let mut document = Document::of(turned).told_of(read.as_ref().map(|read| &read.logbook));
    document.recipe = recipe;
    document.figures = asked.also.contains(&Also::Figures).then(|| figures(&document.record));
    Ok(Answer::Switch(Box::new(document)))
}

fn one_source(asked: &SwitchRequest) -> Result<(), Refusal> {
    let known = [asked.holding.is_some(), asked.recipe.is_some(), !asked.analysis.is_empty(), asked.logbook.is_some()];
    if asked.bucket.is_some() && asked.drain.is_some() {
        return Err(Refusal::input("usage", "`bucket` does not go with `drain`", None));
    }
    match known.into_iter().filter(|known| *known).count() {
        0 => {
            let help = "state `holding`, `recipe`, `analysis` or `logbook`; a mix is for an empty tank";
            Err(Refusal::input("holding", "nothing is known of what the tank holds", Some(help.to_owned())))
        }
        1 => Ok(()),
        _ => {
            let message = "what the tank holds is said twice; it takes one of `holding`, `recipe`, `analysis` and `logbook`";
            Err(Refusal::input("usage", message, None))
        }
    }
}

fn options(asked: &SwitchRequest, meter: Option<MeterScale>) -> Result<SwitchOptions, Refusal> {
    let volume = |key: &str, stated: &Option<String>, bound: &Bound| -> Result<Option<Volume>, Refusal> {
        typed::maybe(stated.as_ref(), |typed| typed::volume(key, typed, bound))
    };
    Ok(SwitchOptions {
        level: volume("level", &asked.level, &LEVEL_L)?,
        held_back: volume("held_back", &asked.held_back, &HELD_BACK_L)?,
        bucket: volume("bucket", &asked.bucket, &BUCKET_L)?,
        drain: volume("drain", &asked.drain, &DRAIN_L)?,
        ec_step: typed::maybe(asked.ec_step.as_ref(), |typed| {
            typed::conductivity("ec_step", typed, &EC_STEP_MS_PER_CM, meter)
        })?,
        on: typed::maybe(asked.on.as_ref(), |typed| typed::day("on", typed))?,
        in_steps: in_steps(asked)?,
        ..SwitchOptions::default()
    })
}

fn in_steps(asked: &SwitchRequest) -> Result<Option<InSteps>, Refusal> {
    let within = |key: &str, stated: u32, bound: &Bound| {
        let checked = bound.check(f64::from(stated));
        checked.map(|_| stated).map_err(|error| Refusal::unfit_of(key, key, &stated.to_string(), &error))
    };
    let Some(count) = asked.steps else {
        return match asked.every_days {
            Some(_) => Err(Refusal::input("usage", "`every_days` goes with `steps`", None)),
            None => Ok(None),
        };
    };
    if asked.drain.is_some() {
        let help = Some("each step drains what its own way needs".to_owned());
        return Err(Refusal::input("usage", "`drain` does not go with `steps`", help));
    }
    let count = within("steps", count, &SWITCH_STEPS)?;
    let every_days = within("every_days", asked.every_days.unwrap_or(InSteps::EVERY_DAYS), &STEP_DAYS)?;
    Ok(Some(InSteps { count, every_days }))
}

/// What the tank holds, where that is not known from a logbook.
fn known(asked: &SwitchRequest, bench: &Bench) -> Result<Content, Refusal> {
    const ANALYSIS: &str = "analysis";
    if let Some(formula) = &asked.holding {
        return Ok(jobs::mixed(bench, formula)?);
    }
    if let Some(text) = &asked.recipe {
        return Ok(Content::of_recipe(bench, &typed::recipe(text)?)?);
    }
    let ppm = nutrients(&typed::analysis_ppm(ANALYSIS, &asked.analysis, ANALYSIS)?).map_err(|why| {
        let refusal = Refusal::input(ANALYSIS, format!("`{ANALYSIS}`: {why}"), None);
        refusal.about(ANALYSIS, &asked.analysis.join(" "), None)
    })?;
    Ok(Content::of_analysis(bench, &ppm, "a laboratory analysis"))
}

/// What the logbook says the tank holds, and the pH that stands for it; level, what is held back and the day too, where they
/// are not stated.
fn of_logbook(
    read: &typed::Read,
    bench: &Bench,
    formula: &str,
    how: &mut SwitchOptions,
) -> Result<(Content, Option<f64>), Refusal> {
    let state = jobs::logbook_state(bench, &read.logbook, read.at, &read.patterns);
    let empty = || {
        let help = Some("a mix is for an empty tank".to_owned());
        Refusal::input("holding", "by the logbook the tank is empty", help).in_file("logbook")
    };
    let tank = state.tank.ok_or_else(empty)?;
    let ppm = tank.ppm_on(Track::Likely).ok_or_else(empty)?;
    how.held_back.get_or_insert(liter(tank.held_back_l));
    how.level.get_or_insert(liter((tank.volume_l - tank.held_back_l).max(0.0)));
    how.on.get_or_insert(read.at.date());
    how.held_ph = state.ph_in_it();
    how.low_nitrogen_ppm = state.range_ppm(Nutrient::N).map(|(low, ..)| low);
    how.fed_since = state.fed.last().filter(|fed| fed.formula == formula).map(|fed| fed.since.date());
    how.meter_factor = state.meter_by.map(|_| state.meter_factor);
    Ok((
        Content::of_logbook(bench, &ppm, tank.water_per_l(), "the logbook's likely course, an estimate"),
        state.standing_ph(),
    ))
}
