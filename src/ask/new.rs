//! A first bench file, from a few answers.

use serde::{Deserialize, Serialize};

use super::label::{pair, product};
use super::{Answer, Refusal, typed};
use crate::bench::{Bench, BenchError};
use crate::catalogue::{Catalogue, SaltId};
use crate::jobs::{self, NewAnswers, NewProduct, TakenFor};
use crate::matter::Kind;
use crate::quantity::{
    self, CAPACITY_G, CAPACITY_ML, PH, SCALE_STEP_G, SYRINGE_STEP_ML, TANK_L, TEMPERATURE_C, WATER_ON_HAND_L,
};

/// What a new grower says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct NewRequest {
    /// Volume of the tank, such as `60 L`.
    pub tank: String,
    /// Temperature of the tank, such as `21 C`; 25 C without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<String>,
    /// The scale of an EC meter that shows ppm: `500`, `640` or `700`; without it the meter shows mS/cm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_scale: Option<String>,
    /// Where the water comes from.
    pub water: WaterAnswer,
    /// The step that each scale shows, such as `0.1 g`, with the most it takes where that is known, as `0.1 g to 2 kg`; at least one.
    pub scales: Vec<String>,
    /// The syringe; that of the starter without it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub syringe: Option<SyringeAnswer>,
    /// Jugs and cylinders for larger volumes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub jugs: Vec<SyringeAnswer>,
    /// Ids or names of the salts that are there; those of the starter where the list is empty, and `none` for products alone. An acid with its per cent, as
    /// `nitric acid 38 %`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shelf: Vec<String>,
    /// Labelled products, each as `complete feed: NO3-N 8, NH4-N 2, P2O5 10, K2O 30`; a liquid with `density 1.09 kg/L`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub products: Vec<String>,
    /// The acid that brings the pH down, or two or three that share it out, and the pH wished, as `nitric acid 38 %, 5.8` or
    /// `nitric acid 38 %, phosphoric acid 10 %, 5.8`; 5.8 where no pH is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acid: Option<String>,
}

/// What a syringe or a jug shows and holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct SyringeAnswer {
    /// Its step, such as `0.5 mL`.
    pub step: String,
    /// What it holds, such as `60 mL`.
    pub capacity: String,
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
        /// What the supplier's report says, each as `Ca=40` or `alkalinity=120 mg/L CaCO3`, by the keys of `[water]`; without one the
        /// `EC` that a meter reads, or nothing.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        report: Vec<String>,
    },
    /// Rain as far as there is some, and the tap.
    RainAndTap {
        /// How much rain there is for a tank, such as `25 L`; without it as much as is needed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rain: Option<String>,
        /// As of the tap.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        report: Vec<String>,
    },
}

impl WaterAnswer {
    /// What the tap's report says; nothing where all is rain.
    #[must_use]
    pub fn report(&self) -> Option<&[String]> {
        match self {
            Self::Rain {} => None,
            Self::Tap { report } | Self::RainAndTap { report, .. } => Some(report),
        }
    }
}

/// The pH that is usual where none is stated: common practice, no source.
const USUAL_PH: &str = "5.8";

pub(super) fn new(asked: &NewRequest) -> Result<Answer, Refusal> {
    let mut wrong = unfit(asked);
    let mut each = |of: Result<Found, Refusal>| of.map_err(|refusal| wrong.push(refusal)).ok();
    let is_none = matches!(&asked.shelf[..], [one] if one.trim().eq_ignore_ascii_case("none"));
    let named = asked.shelf.iter().filter(|_| !is_none);
    let shelf: Vec<Found> = named.filter_map(|typed| each(salt("shelf", typed))).collect();
    let (acids, ph) = asked.acid.as_deref().map_or((Vec::new(), USUAL_PH), acids_and_ph);
    let acids: Vec<Found> = acids.into_iter().filter_map(|name| each(acid(name))).collect();
    wrong.extend(wished(ph).err());
    let mut each = |of: Result<NewProduct, Refusal>| of.map_err(|refusal| wrong.push(refusal)).ok();
    let products: Vec<NewProduct> = asked.products.iter().filter_map(|typed| each(product(typed))).collect();
    let mut each = |of: Result<(String, String), Refusal>| of.map_err(|refusal| wrong.push(refusal)).ok();
    let report: Option<Vec<_>> =
        asked.water.report().map(|report| report.iter().filter_map(|typed| each(reported(typed))).collect());
    if let Some(refused) = wrong.into_iter().reduce(Refusal::and) {
        return Err(refused);
    }
    let mut ids: Vec<String> = Vec::new();
    for found in &shelf {
        if !ids.contains(&found.id) {
            ids.push(found.id.clone());
        }
    }
    let rain_beside = match &asked.water {
        WaterAnswer::RainAndTap { rain, .. } => Some(rain.as_deref().unwrap_or_default()),
        _ => None,
    };
    let answers = NewAnswers {
        tank: &asked.tank,
        temperature: asked.temperature.as_deref(),
        meter_scale: asked.meter_scale.as_deref(),
        tap: report.as_deref(),
        rain_beside,
        scales: asked.scales.iter().map(|typed| step_and_most(typed)).collect(),
        syringe: asked.syringe.as_ref().map(|syringe| (syringe.step.as_str(), syringe.capacity.as_str())),
        jugs: asked.jugs.iter().map(|jug| (jug.step.as_str(), jug.capacity.as_str())).collect(),
        shelf: (is_none || !ids.is_empty()).then_some(&ids[..]),
        products: &products,
        acid: (!acids.is_empty()).then(|| (acids.iter().map(|found| found.id.as_str()).collect(), ph)),
    };
    let text = jobs::new_bench_text(&answers);
    let bench = Bench::parse(&text, "bench").map_err(of_answers)?;
    let taken = shelf.into_iter().filter_map(|found| found.taken).collect();
    Ok(Answer::New(Box::new(jobs::new_record(&bench, text, &answers, taken)?)))
}

/// What of the answers is no quantity of its kind, or beyond what is taken.
fn unfit(asked: &NewRequest) -> Vec<Refusal> {
    let mut wrong: Vec<Refusal> = Vec::new();
    let mut note = |of: Result<(), Refusal>| wrong.extend(of.err());
    let unfit = |key: &str, text: &str, error: &quantity::QuantityError| Refusal::unfit(key, text, error);
    let volume =
        |key: &str, text: &str, bound| quantity::volume(text, bound).map(|_| ()).map_err(|error| unfit(key, text, &error));
    note(volume("tank", &asked.tank, &TANK_L));
    if let Some(warm) = &asked.temperature {
        note(quantity::temperature(warm, &TEMPERATURE_C).map(|_| ()).map_err(|error| unfit("temperature", warm, &error)));
    }
    if let Some(scale) = asked.meter_scale.as_ref().filter(|scale| !["500", "640", "700"].contains(&scale.as_str())) {
        let takes = Some("500, 640 or 700, as the meter or its manual says".to_owned());
        let message = format!("`{scale}` is no scale of a meter; it takes 500, 640 or 700");
        let help = "the meter, its box or its manual says it (0.5 is 500); a calibration solution of 1.413 mS/cm shows about 707, 904 or 989 ppm";
        note(Err(Refusal::input("answer", message, Some(help.to_owned())).about("meter_scale", scale, takes)));
    }
    if let WaterAnswer::RainAndTap { rain: Some(rain), .. } = &asked.water {
        note(volume("water", rain, &WATER_ON_HAND_L));
    }
    if asked.scales.is_empty() {
        note(Err(Refusal::input("usage", "`scales` is empty: without a scale nothing can be weighed", None)));
    }
    for typed in &asked.scales {
        let (step, most) = step_and_most(typed);
        note(quantity::mass(step, &SCALE_STEP_G).map(|_| ()).map_err(|error| unfit("scales", step, &error)));
        let most =
            most.map(|most| quantity::mass(most, &CAPACITY_G).map(|_| ()).map_err(|error| unfit("scales", most, &error)));
        most.into_iter().for_each(&mut note);
    }
    let syringe = asked.syringe.iter().map(|syringe| ("syringe", syringe));
    for (key, SyringeAnswer { step, capacity }) in syringe.chain(asked.jugs.iter().map(|jug| ("jugs", jug))) {
        note(volume(key, step, &SYRINGE_STEP_ML));
        note(volume(key, capacity, &CAPACITY_ML));
    }
    wrong
}

/// What is left to be wrong are keys and values of the water, of labels, of jugs and of acids, judged as in any bench file.
fn of_answers(error: BenchError) -> Refusal {
    let mut refusal = Refusal::from(error);
    for problem in &mut refusal.problems {
        let key = problem.key.take().unwrap_or_default();
        let of = match key.trim_start_matches('[').split(']').next().unwrap_or_default() {
            "water" => "water",
            "syringe" => "syringe",
            "jug" => "jugs",
            "acid" => "acid",
            _ => "products",
        };
        problem.message = format!("{key}: {}", problem.message);
        (problem.key, problem.file, problem.line, problem.span) = (Some(of.to_owned()), None, None, None);
    }
    refusal
}

/// The step of a scale, and the most it takes: `0.1 g to 2 kg`.
fn step_and_most(typed: &str) -> (&str, Option<&str>) {
    match typed.split_once(" to ") {
        Some((step, most)) => (step.trim().trim_end_matches(" up"), Some(most.trim())),
        None => (typed.trim(), None),
    }
}

/// Names of what a report tells, beside the symbols that are keys of `[water]`.
const REPORTED_BY_NAME: [(&str, &str); 16] = [
    ("KH", "alkalinity"),
    ("calcium", "Ca"),
    ("magnesium", "Mg"),
    ("sodium", "Na"),
    ("potassium", "K"),
    ("chloride", "Cl"),
    ("sulfate", "SO4"),
    ("sulphate", "SO4"),
    ("nitrate", "NO3"),
    ("ammonium", "NH4"),
    ("bicarbonate", "HCO3"),
    ("phosphate", "PO4"),
    ("silica", "SiO2"),
    ("iron", "Fe"),
    ("manganese", "Mn"),
    ("boron", "B"),
];

/// A key of `[water]` and its value.
fn reported(typed: &str) -> Result<(String, String), Refusal> {
    let word = typed.trim().to_lowercase();
    let is_hardness = ["gh", "dgh", "th"].iter().any(|key| pair(&word).is_some_and(|(named, _)| named == *key));
    if is_hardness || word.contains("hardness") || word.starts_with(|first: char| first.is_ascii_digit()) {
        let help =
            "Ca and Mg of the report; its carbonate hardness, and that alone, as alkalinity=8 dH; without either, Enter";
        let message = format!("`{typed}`: hardness by itself does not say how much Ca, Mg and alkalinity there is");
        return Err(Refusal::input("answer", message, Some(help.to_owned())).about("water", typed, None));
    }
    let found = pair(typed).ok_or_else(|| {
        let help = Some("write it as in Ca=40 or alkalinity=120 mg/L CaCO3".to_owned());
        Refusal::input("answer", format!("`{typed}` is no key and value of a water report"), help)
            .about("water", typed, None)
    })?;
    let named = REPORTED_BY_NAME.iter().find(|(name, _)| name.eq_ignore_ascii_case(found.0)).map(|(_, key)| *key);
    let key = named.unwrap_or(found.0);
    // "12 mg/L as NO3" is what the key says already
    let value = match found.1.split_once(" as ") {
        Some((amount, of)) if of.trim().eq_ignore_ascii_case(key) => amount.to_owned(),
        _ => found.1.replace(" as ", " "),
    };
    Ok((key.to_owned(), value))
}

/// A salt as it was found, and what else its name may be.
struct Found {
    id: String,
    kind: Kind,
    taken: Option<TakenFor>,
}

/// A salt by its id or one of its names; an acid by its per cent; of several of one name the usual one.
fn salt(key: &str, typed: &str) -> Result<Found, Refusal> {
    let (table, wanted) = (Catalogue::standard(), typed.trim());
    let of = |salt: SaltId| (table.salt(salt).id.clone(), table.salt(salt).kind);
    let called = table.called(wanted);
    let is_id = table.find(wanted).is_some();
    let found = if is_id { called.clone() } else { table.beginning_with(wanted) };
    let found = if found.is_empty() { table.search(wanted) } else { found };
    if let [one] = found[..] {
        let (id, kind) = of(one);
        // nitric acid alone is no nitric acid of 60 %
        let strength = table.salt(one).mass_percent.filter(|percent| !wanted.contains(&percent.to_string()));
        if is_id || kind != Kind::Acid || strength.is_none() {
            return Ok(Found { id, kind, taken: None });
        }
    }
    if let Some(acid) = strength_of(wanted).and_then(|id| table.of_strength(&id)) {
        return Ok(Found { id: acid.id.clone(), kind: acid.kind, taken: None });
    }
    if let Some(stem) = found.first().map(|salt| table.salt(*salt)).filter(|salt| salt.mass_percent.is_some()) {
        let message = format!("`{wanted}` comes in many strengths");
        let name = stem.name.trim_end_matches(|letter: char| letter.is_ascii_digit() || " .%".contains(letter));
        let help = Some(format!("say its per cent, as the bottle does: {name} 38 %"));
        return Err(Refusal::input("answer", message, help).about(key, typed, None));
    }
    let usual = Bench::starter();
    let is_usual = |salt: &&SaltId| usual.shelf.iter().any(|stock| usual.salt(stock).id == table.salt(**salt).id);
    let usual: Vec<&SaltId> = found.iter().filter(is_usual).collect();
    if let [one] = usual[..] {
        let (id, kind) = of(*one);
        let others = found.iter().filter(|other| *other != one).map(|other| table.salt(*other).id.clone()).collect();
        let taken = Some(TakenFor { typed: wanted.to_owned(), salt: id.clone(), others });
        return Ok(Found { id, kind, taken });
    }
    Err(typed::no_salt(table, key, wanted))
}

/// The id of an acid that is named with its per cent: `nitric acid 38 %` is `nitric-acid-38`.
fn strength_of(typed: &str) -> Option<String> {
    let lower = typed.to_lowercase().replace("sulph", "sulf").replace('%', " ");
    let words: Vec<&str> =
        lower.split(|letter: char| !letter.is_alphanumeric() && letter != '.').filter(|word| !word.is_empty()).collect();
    let (numbers, names): (Vec<&str>, Vec<&str>) = words.into_iter().partition(|word| word.parse::<f64>().is_ok());
    let [percent] = numbers[..] else { return None };
    Some(format!("{}-{}", names.join("-"), percent.parse::<f64>().ok()?))
}

/// The names of acids, and the pH wished behind them.
fn acids_and_ph(typed: &str) -> (Vec<&str>, &str) {
    let mut parts: Vec<&str> = typed.split(',').map(str::trim).filter(|part| !part.is_empty()).collect();
    let ph = parts.last().and_then(|last| {
        let number = last.trim_start_matches(|letter: char| letter.is_alphabetic() || letter == ' ');
        let before = last[..last.len() - number.len()].trim().to_lowercase();
        let is_ph =
            parts.len() > 1 && !number.is_empty() && ["", "ph", "to", "to ph", "at", "at ph"].contains(&before.as_str());
        is_ph.then_some(number)
    });
    if ph.is_some() {
        parts.pop();
    }
    (parts, ph.unwrap_or(USUAL_PH))
}

fn wished(ph: &str) -> Result<f64, Refusal> {
    let wished = ph.parse::<f64>().map_err(|_| quantity::QuantityError::NotANumber { read: ph.to_owned() });
    wished.and_then(|ph| PH.check(ph)).map_err(|error| Refusal::unfit_of("acid", "the pH wished", ph, &error))
}

/// An acid that brings the pH down.
fn acid(name: &str) -> Result<Found, Refusal> {
    let found = salt("acid", name)?;
    if found.kind != Kind::Acid {
        let message = format!("`{}` is no acid", name.trim());
        return Err(Refusal::input("answer", message, None).about("acid", name, None));
    }
    Ok(found)
}
