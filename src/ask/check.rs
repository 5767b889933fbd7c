//! A tank already filled.

use serde::{Deserialize, Serialize};

use super::{Also, Answer, Document, Figures, MeterFactor, Refusal, typed};
use crate::bench::Bench;
use crate::jobs::{self, CheckOptions, CheckRecord, Known, METER_ERROR, Reading, Recipe};
use crate::logbook::{Event, nutrients};
use crate::matter::{Nutrient, Nutrients};
use crate::quantity::{self, EC_READING_MS_PER_CM, MeterScale, TANK_L};

/// What is asked of a check: one of `added`, `recipe` and `analysis` says what is in the tank.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct CheckRequest {
    /// Text of a bench file; the starter bench without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// What went in, each as `potassium-nitrate=14.1g`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub added: Vec<String>,
    /// Which of several waters the tank was filled with, each as `rain=40L`; one alone needs no volume.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub water: Vec<String>,
    /// Text of a saved recipe.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipe: Option<String>,
    /// What a laboratory found, each as `N=88`, ppm.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub analysis: Vec<String>,
    /// Name of the formula to hold it against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub against: Option<String>,
    /// What the EC meter reads, such as `1.35 mS/cm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reads: Option<String>,
    /// How far the meter may be off, as a fraction of what it reads (k = 2).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_error: Option<String>,
    /// Temperature at which a meter without correction was read, such as `18 C`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_at: Option<String>,
    /// What it was made up to, such as `60 L`; overrides bench and recipe.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tank: Option<String>,
    /// Adds what a meter with a dissolved-solids scale shows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_scale: Option<MeterFactor>,
    /// What else the answer should hold.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<Also>,
}

pub(super) fn check(asked: &CheckRequest) -> Result<Answer, Refusal> {
    one_source(asked)?;
    // a recipe brings its own tank
    let tank = asked.tank.as_deref().filter(|_| asked.recipe.is_none());
    let mut bench = typed::bench(asked.bench.as_deref(), tank)?;
    if !asked.added.is_empty() {
        bench = typed::filled_with(bench, &asked.water)?;
    } else if !asked.water.is_empty() {
        return Err(Refusal::input("usage", "`water` goes with `added`: a recipe knows its own", None));
    }
    let meter = asked.meter_scale.map(MeterFactor::scale).or(bench.meter);
    let reading = reading(asked, meter)?;
    let how = CheckOptions { against: asked.against.as_deref(), reading: reading.as_ref(), meter };
    let record = checked(asked, &bench, &how)?;
    let remedy = asked.also.contains(&Also::Remedy).then(|| remedy(asked, &bench, &record)).transpose()?;
    let recipe = |checked: &_| jobs::checked_recipe(&bench, checked);
    let figures = |checked: &CheckRecord| Figures::of(&bench, &checked.tank);
    let mut document = Document::of(record).with(&asked.also, recipe, figures);
    document.recipe = remedy.or(document.recipe);
    Ok(Answer::Check(Box::new(document)))
}

/// The recipe of what would set the tank right.
fn remedy(asked: &CheckRequest, bench: &Bench, checked: &CheckRecord) -> Result<Recipe, Refusal> {
    let wrong = |message: &str| Refusal::input("usage", message, None);
    let against = asked.against.as_deref().ok_or_else(|| wrong("a remedy goes with `against`: it needs a formula"))?;
    if asked.also.contains(&Also::Recipe) {
        return Err(wrong("one answer holds one recipe: `recipe` or `remedy`"));
    }
    let of = checked_bench(asked, bench)?;
    jobs::remedy_recipe(&of, against, checked).ok_or_else(|| {
        let needed = checked.remedies.as_ref().is_some_and(|remedies| remedies.needed);
        let why = if needed { "nothing that can be added or let out brings it nearer" } else { "it is as asked" };
        Refusal::unmet("no-remedy", format!("there is no remedy to save against `{against}`: {why}"))
    })
}

/// The bench of which the water refills: that of a recipe is its own.
fn checked_bench(asked: &CheckRequest, bench: &Bench) -> Result<Bench, Refusal> {
    let Some(text) = &asked.recipe else { return Ok(bench.clone()) };
    Ok(jobs::in_water_of(bench, &typed::recipe(text)?)?)
}

fn one_source(asked: &CheckRequest) -> Result<(), Refusal> {
    const TAKES: &str = "one of `added`, `recipe` and `analysis`";
    let known = [!asked.added.is_empty(), asked.recipe.is_some(), !asked.analysis.is_empty()];
    let message = match known.into_iter().filter(|known| *known).count() {
        0 => format!("nothing is known of what the tank holds; it takes {TAKES}"),
        1 if asked.reads.is_some() && !asked.analysis.is_empty() => {
            "`reads` does not go with `analysis`: an analysis predicts no reading".to_owned()
        }
        1 if asked.reads.is_none() && (asked.meter_error.is_some() || asked.read_at.is_some()) => {
            "`meter_error` and `read_at` go with `reads`".to_owned()
        }
        1 => return Ok(()),
        _ => format!("what the tank holds is said twice; it takes {TAKES}"),
    };
    Err(Refusal::input("usage", message, None))
}

fn checked(asked: &CheckRequest, bench: &Bench, how: &CheckOptions) -> Result<CheckRecord, Refusal> {
    Ok(if let Some(text) = &asked.recipe {
        let made_up_to = typed::maybe(asked.tank.as_ref(), |typed| typed::volume("tank", typed, &TANK_L))?;
        jobs::check_tank(bench, &Known::Recipe { recipe: &typed::recipe(text)?, made_up_to }, how)?
    } else if asked.analysis.is_empty() {
        let (salts, bottles) = typed::went_in(bench, &asked.added)?;
        jobs::check_tank(bench, &Known::Added { salts: &salts, bottles: &bottles }, how)?
    } else {
        let (ppm, named) = found(&asked.analysis)?;
        jobs::check_tank(bench, &Known::Analysis { ppm: &ppm, named: &named }, how)?
    })
}

/// What a laboratory found, and what it looked for.
fn found(typed: &[String]) -> Result<(Nutrients, Vec<Nutrient>), Refusal> {
    const KEY: &str = "analysis";
    let ppm = typed::analysis_ppm(KEY, typed, KEY)?;
    let refused = |why: String| Refusal::input(KEY, format!("`{KEY}`: {why}"), None).about(KEY, &typed.join(" "), None);
    // the same rules as for an analysis in a logbook
    Event::Analysis { ppm: ppm.clone() }.check().map_err(refused)?;
    let named = ppm.keys().filter_map(|symbol| Nutrient::parse(symbol)).collect();
    Ok((nutrients(&ppm).map_err(refused)?, named))
}

/// What the meter reads, and how.
fn reading(asked: &CheckRequest, meter: Option<MeterScale>) -> Result<Option<Reading>, Refusal> {
    let Some(reads) = &asked.reads else { return Ok(None) };
    let ec = typed::conductivity("reads", reads, &EC_READING_MS_PER_CM, meter)?;
    let error = |typed: &str| typed::number("meter_error", typed, &quantity::METER_ERROR);
    let meter_error = typed::maybe(asked.meter_error.as_ref(), error)?.unwrap_or(METER_ERROR);
    let read_at = typed::maybe(asked.read_at.as_ref(), |typed| typed::temperature("read_at", typed))?;
    Ok(Some(Reading { ec, meter_error, read_at }))
}
