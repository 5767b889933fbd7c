//! A first bench file, from a few answers.

use serde::{Deserialize, Serialize};

use super::{Answer, Refusal, typed};
use crate::bench::Bench;
use crate::catalogue::{Catalogue, SaltId};
use crate::jobs::{self, NewAnswers};
use crate::quantity::{self, SCALE_STEP_G, TANK_L};

/// What a new grower says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct NewRequest {
    /// Volume of the tank, such as `60 L`.
    pub tank: String,
    /// Where the water comes from.
    pub water: WaterAnswer,
    /// The step that each scale shows, such as `0.1 g`; at least one.
    pub scales: Vec<String>,
    /// Ids or names of the salts that are there; those of the starter where the list is empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shelf: Vec<String>,
}

/// Where the water comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(tag = "from", rename_all = "kebab-case", deny_unknown_fields)]
pub enum WaterAnswer {
    /// Rain, reverse-osmosis or distilled water.
    Rain {},
    /// The tap.
    Tap {
        /// What the supplier's report says, each as `Ca=40` or `alkalinity=120 mg/L CaCO3`, by the keys of `[water]`; empty without one.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        report: Vec<String>,
    },
}

pub(super) fn new(asked: &NewRequest) -> Result<Answer, Refusal> {
    quantity::volume(&asked.tank, &TANK_L).map_err(|error| Refusal::unfit("tank", &asked.tank, &error))?;
    if asked.scales.is_empty() {
        return Err(Refusal::input("usage", "`scales` is empty: without a scale nothing can be weighed", None));
    }
    for step in &asked.scales {
        quantity::mass(step, &SCALE_STEP_G).map_err(|error| Refusal::unfit("scales", step, &error))?;
    }
    let shelf = asked.shelf.iter().map(|typed| salt(typed)).collect::<Result<Vec<SaltId>, _>>()?;
    let report = match &asked.water {
        WaterAnswer::Rain {} => None,
        WaterAnswer::Tap { report } => Some(report.iter().map(|typed| reported(typed)).collect::<Result<Vec<_>, _>>()?),
    };
    let answers = NewAnswers { tank: &asked.tank, tap: report.as_deref(), scales: &asked.scales, shelf: &shelf };
    let text = jobs::new_bench_text(&answers);
    // what is left to be wrong is the water: its keys and values are judged as in any bench file
    let bench = Bench::parse(&text, "bench").map_err(|error| {
        let mut refusal = Refusal::from(error);
        for problem in &mut refusal.problems {
            let key = problem.key.take().unwrap_or_default();
            problem.message = format!("{key}: {}", problem.message);
            (problem.key, problem.file, problem.line, problem.span) = (Some("water".to_owned()), None, None, None);
        }
        refusal
    })?;
    Ok(Answer::New(Box::new(jobs::new_record(&bench, text, &answers)?)))
}

/// A key of `[water]` and its value.
fn reported(typed: &str) -> Result<(String, String), Refusal> {
    let wrong = |message: String| {
        let help = Some("write it as in Ca=40 or alkalinity=120 mg/L CaCO3".to_owned());
        Refusal::input("answer", message, help).about("water", typed, None)
    };
    let (key, value) = typed.split_once('=').ok_or_else(|| wrong(format!("`{typed}` has no `=`")))?;
    let (key, value) = (key.trim(), value.trim());
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    if key.is_empty() || !key.chars().all(plain) || value.is_empty() || value.chars().any(char::is_control) {
        return Err(wrong(format!("`{typed}` is no key and value of a water report")));
    }
    Ok((key.to_owned(), value.to_owned()))
}

/// A salt by its id or one of its names.
fn salt(typed: &str) -> Result<SaltId, Refusal> {
    let (table, wanted) = (Catalogue::standard(), typed.trim());
    if let [one] = table.called(wanted)[..] {
        return Ok(one);
    }
    Err(typed::no_salt(table, "shelf", wanted))
}
