//! A first bench file, from a few answers.

use std::fmt::Write as _;

use serde::Serialize;

use super::error::JobError;
use super::logbook::missed;
use super::{MissedRecord, MixOptions, mix};
use crate::bench::{Bench, STARTER, smallest_steps};
use crate::catalogue::Catalogue;
use crate::matter::{Label, LabelItem, Nutrient};
use crate::quantity::{SCALE_STEP_G, mass, trimmed, whole_steps};
use crate::tank::instrument::{grams_of, smallest};

/// A quantity of the water report that matters, and the keys of `[water]` of which any tells it.
const REPORTED: [(&str, &[&str]); 7] = [
    ("alkalinity", &["alkalinity", "HCO3"]),
    ("Ca", &["Ca"]),
    ("Mg", &["Mg"]),
    ("Na", &["Na"]),
    ("Cl", &["Cl"]),
    ("S", &["S", "SO4"]),
    ("N", &["N", "NO3", "NO3-N"]),
];

/// A bench file that was written from answers, and what it is worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct NewRecord {
    /// Version of this document.
    pub version: u32,
    /// `new`.
    pub job: String,
    /// The bench file, with comments, for a person to edit.
    pub text: String,
    /// Names that several salts go by, and which of them was taken.
    pub taken: Vec<TakenFor>,
    /// The least that the finest scale is trusted with, g.
    pub smallest_g: f64,
    /// What is not known of a tap water and counts as nothing: `alkalinity`, or the symbol of an element. Empty for rain water.
    pub unknown: Vec<String>,
    /// Targets of `growth` that this shelf misses by more than 5 %.
    pub missed: Vec<MissedRecord>,
    /// Why `growth` cannot be mixed on this bench, in words; null where it can.
    pub no_growth: Option<String>,
    /// Names of labelled products that state nitrogen and not, or not for all of it, in which forms.
    pub nitrogen_unsplit: Vec<String>,
}

/// A name that several salts go by, and the usual one of them, that was taken for it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct TakenFor {
    /// What was typed.
    pub typed: String,
    /// Id of the salt that was taken.
    pub salt: String,
    /// Ids of the others that it may be.
    pub others: Vec<String>,
}

/// A labelled product as a new grower states it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewProduct {
    /// What it is called.
    pub name: String,
    /// Its id.
    pub id: String,
    /// Its density as it was typed, for a liquid.
    pub density: Option<String>,
    /// Keys and per cents of its label.
    pub label: Vec<(String, String)>,
}

impl NewProduct {
    /// Nitrogen of which the label does not tell the form, percent; nothing where it tells all, or cannot be read.
    fn unsplit_percent(&self) -> Option<f64> {
        let item = |(key, percent): &(String, String)| Some(LabelItem { key: key.clone(), percent: percent.parse().ok()? });
        let items: Option<Vec<LabelItem>> = self.label.iter().map(item).collect();
        let label = Label::new(&items?, Catalogue::standard().elements()).ok()?;
        Some(label.unsplit_percent()).filter(|percent| *percent > LABEL_ROUNDS_PERCENT)
    }
}

/// Labels round to a tenth of a percent: less than half of that is no nitrogen of another form.
const LABEL_ROUNDS_PERCENT: f64 = 0.05;

/// What a new grower says, read already; texts of quantities as they were typed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NewAnswers<'a> {
    /// The volume of the tank.
    pub tank: &'a str,
    /// Its temperature; that of the program where there is none.
    pub temperature: Option<&'a str>,
    /// The scale of an EC meter that shows ppm.
    pub meter_scale: Option<&'a str>,
    /// Of tap water keys and values of its report, each value a number or a quantity with its unit; none for rain water.
    pub tap: Option<&'a [(String, String)]>,
    /// Where there is rain beside the tap: how much for a tank, empty without a bound.
    pub rain_beside: Option<&'a str>,
    /// The step of each scale, and the most it takes where that is said.
    pub scales: Vec<(&'a str, Option<&'a str>)>,
    /// The step of the syringe and how much it holds; those of the starter where there are none.
    pub syringe: Option<(&'a str, &'a str)>,
    /// Jugs and cylinders: the step of each and how much it holds.
    pub jugs: Vec<(&'a str, &'a str)>,
    /// Ids of the salts on the shelf; without them those of the starter.
    pub shelf: Option<&'a [String]>,
    /// Labelled products.
    pub products: &'a [NewProduct],
    /// Ids of the acid, or of those that share it out, and the pH wished.
    pub acid: Option<(Vec<&'a str>, &'a str)>,
}

/// What the fewest steps of a scale that are trusted weigh, g, and that trust.
fn floor_g(step: &str) -> Option<(f64, f64)> {
    let step = grams_of(mass(step, &SCALE_STEP_G).ok()?);
    let trust = if step <= FINE_G { FINE_TRUST } else { USUAL_TRUST };
    Some((whole_steps(smallest_steps(trust), step), trust))
}

/// `trust` of the scales that are written.
const USUAL_TRUST: f64 = 0.05;
/// A scale of this step, g, or a finer one weighs traces, and is trusted as that of the starter is: their useful range is wide.
const FINE_G: f64 = 0.001;
const FINE_TRUST: f64 = 0.2;
/// The limits of sulfur in the starter.
const SULFUR: &str = "S = { min = 10, max = 100 }      # a limit";

/// A text as TOML has it, in quotes.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A key as TOML has it: one with a point in it, such as that of an acid of 53.5 %, in quotes.
fn key_text(key: &str) -> String {
    if key.contains('.') { quoted(key) } else { key.to_owned() }
}

/// The text of a bench file: the starter with what was answered.
///
/// It is not validated here: what was typed may not fit.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{NewAnswers, new_bench_text}};
/// let answers = NewAnswers { tank: "40 L", scales: vec![("0.1 g", None)], ..NewAnswers::default() };
/// assert!(Bench::parse(&new_bench_text(&answers), "new").is_ok());
/// ```
#[must_use]
pub fn new_bench_text(answers: &NewAnswers) -> String {
    let (first, rest) = STARTER.split_at(STARTER.find("[shelf]").unwrap_or(STARTER.len()));
    let head = first.split("[tank]").next().unwrap_or_default();
    let syringe = first.find("[syringe]").map_or("", |at| &first[at..]);
    let mut text =
        format!("{head}[tank]\nvolume = {}            # final volume, salts and acid included\n", quoted(answers.tank));
    if let Some(temperature) = answers.temperature {
        let _ = writeln!(text, "temperature = {}", quoted(temperature));
    }
    text.push('\n');
    if let Some(scale) = answers.meter_scale {
        let _ = write!(text, "[meter]\nscale = {scale}                      # the EC meter shows ppm by this scale\n\n");
    }
    waters(&mut text, answers);
    instruments(&mut text, answers, syringe);
    let (usual, formulas) = rest.split_at(rest.find("# A labelled product").unwrap_or(rest.len()));
    if let Some(shelf) = answers.shelf {
        text.push_str("[shelf]                          # the salt table lists every id\n");
        for salt in shelf {
            let _ = writeln!(text, "{} = {{}}", key_text(salt));
        }
    } else {
        text.push_str(usual.trim_end());
        text.push('\n');
    }
    for product in answers.products {
        let _ = writeln!(text, "{} = {{}}", product.id);
    }
    text.push('\n');
    labels(&mut text, answers);
    if let Some((salts, ph)) = &answers.acid {
        let salt = match &salts[..] {
            [one] => quoted(one),
            several => format!("[{}]", several.iter().map(|id| quoted(id)).collect::<Vec<_>>().join(", ")),
        };
        let _ = write!(text, "[acid]\nsalt = {salt}\ntarget_pH = {ph}\n\n");
    }
    let formulas = if states_sulfur(answers) { formulas.to_owned() } else { formulas.replace(SULFUR, NO_SULFUR) };
    text + &formulas
}

/// Scales, syringe and jugs.
///
/// * `usual`: the syringe of the starter
fn instruments(text: &mut String, answers: &NewAnswers, usual: &str) {
    for (step, most) in &answers.scales {
        let floor = floor_g(step);
        let trust = floor.map_or(USUAL_TRUST, |(_, trust)| trust);
        let least = floor.map_or_else(String::new, |(grams, _)| format!(", here {} g", trimmed(grams, 4)));
        let percent = trimmed(100.0 * trust, 0);
        let _ = write!(
            text,
            "[[scale]]\nreadability = {}          # the step it shows\n\
             trust = {trust}                     # nothing under readability / trust is weighed on it{least}: one step is then {percent} %\n",
            quoted(step)
        );
        if let Some(most) = most {
            let _ = writeln!(text, "capacity = {}              # the most it takes at once", quoted(most));
        }
        text.push('\n');
    }
    match answers.syringe {
        None => text.push_str(usual),
        Some((step, capacity)) => {
            let _ = write!(
                text,
                "[syringe]                        # for liquids\nstep = {}\ntrust = {USUAL_TRUST}                     # nothing under step / \
                 trust is drawn up\ncapacity = {}\n\n",
                quoted(step),
                quoted(capacity)
            );
        }
    }
    for (number, (step, capacity)) in answers.jugs.iter().enumerate() {
        let id = if number == 0 { "jug".to_owned() } else { format!("jug {}", number + 1) };
        let _ = write!(
            text,
            "[[jug]]                          # for what the syringe would be filled for many times; acids want glass or PP\n\
             id = {}\nstep = {}\ntrust = {USUAL_TRUST}\ncapacity = {}\n\n",
            quoted(&id),
            quoted(step),
            quoted(capacity)
        );
    }
}

/// Products by their labels.
fn labels(text: &mut String, answers: &NewAnswers) {
    for product in answers.products {
        let label: Vec<String> = product.label.iter().map(|(key, percent)| format!("{key} = {percent}")).collect();
        let density =
            product.density.as_ref().map_or_else(String::new, |density| format!("density = {}\n", quoted(density)));
        if let Some(percent) = product.unsplit_percent() {
            let _ = writeln!(
                text,
                "# The forms of {} % N in it are not known, so that counts as ammonium. State NO3-N, NH4-N and urea-N in place of N.",
                trimmed(percent, 2)
            );
        }
        let _ = write!(
            text,
            "[[product]]\nid = {}\nname = {}\n{density}analysis = {{ {} }}   # percent by mass, as on its label\n\n",
            quoted(&product.id),
            quoted(&product.name),
            label.join(", ")
        );
    }
}

/// What stands for the limits of sulfur where nothing on the shelf states any: a least would refuse every mix.
const NO_SULFUR: &str = "S = { max = 100 }                # no bag here states sulfur on its label, so no least is asked";

/// True where something on the shelf is known to bring sulfur.
fn states_sulfur(answers: &NewAnswers) -> bool {
    let Some(shelf) = answers.shelf else { return true };
    let table = Catalogue::standard().clone().with_strengths(shelf.iter().map(String::as_str));
    let brings = |id: &String| table.find(id).is_some_and(|salt| table.salt(salt).composition.nutrients[Nutrient::S] > 0.0);
    let stated = |(key, _): &(String, String)| matches!(key.as_str(), "S" | "SO3");
    shelf.iter().any(brings) || answers.products.iter().any(|product| product.label.iter().any(stated))
}

/// The water, or rain and tap.
fn waters(text: &mut String, answers: &NewAnswers) {
    let Some(report) = answers.tap else {
        text.push_str("# Rain, reverse-osmosis or distilled water needs no [water].\n\n");
        return;
    };
    let unknown = unknown(report);
    if !unknown.is_empty() {
        let all = unknown.join(", ");
        let _ = write!(
            text,
            "# Tap water. Not known, and counted as nothing: {all}.\n# The supplier's report has them; until then the mix holds \
             more of these than is printed.\n"
        );
    }
    if let Some(on_hand) = answers.rain_beside {
        text.push_str("[[water]]                        # the first is preferred\nid = \"rain\"\n");
        if !on_hand.is_empty() {
            let _ = writeln!(text, "on_hand = {}                # for one tank", quoted(on_hand));
        }
        text.push_str("\n[[water]]\nid = \"tap\"\n");
    }
    text.push_str(match (report.is_empty(), answers.rain_beside) {
        (_, Some(_)) => "",
        (true, None) => {
            "[water]                          # its EC by the meter, as in EC = \"0.5 mS/cm\", then its report\n"
        }
        (false, None) => "[water]                          # from the report of the supplier\n",
    });
    for (key, value) in report {
        let value = if value.parse::<f64>().is_ok() { value.clone() } else { quoted(value) };
        let _ = writeln!(text, "{} = {value}", key_text(key));
    }
    text.push('\n');
}

/// What a report of tap water does not say of what matters.
fn unknown(report: &[(String, String)]) -> Vec<String> {
    let told = |keys: &[&str]| report.iter().any(|(key, _)| keys.contains(&key.as_str()));
    REPORTED.iter().filter(|(_, keys)| !told(keys)).map(|(what, _)| (*what).to_owned()).collect()
}

/// The record of a bench file that was made: what stays unknown, and what its shelf makes of `growth`.
///
/// * `bench`: as its text reads
/// * `taken`: names that several salts go by
///
/// # Errors
/// [`JobError`] for a failure of our own.
pub fn new_record(bench: &Bench, text: String, answers: &NewAnswers, taken: Vec<TakenFor>) -> Result<NewRecord, JobError> {
    let (missed, no_growth) = match mix(bench, "growth", &MixOptions::default()) {
        Ok(mix) => (missed(&mix), None),
        Err(error) if error.exit_status() == 3 => return Err(error),
        Err(error) => (Vec::new(), Some(error.in_a_line())),
    };
    let unknown = answers.tap.map_or_else(Vec::new, unknown);
    let smallest_g = smallest(bench, None);
    let unsplit = answers.products.iter().filter(|product| product.unsplit_percent().is_some());
    let nitrogen_unsplit = unsplit.map(|product| product.name.clone()).collect();
    let (version, job) = (1, "new".to_owned());
    Ok(NewRecord { version, job, text, taken, smallest_g, unknown, missed, no_growth, nitrogen_unsplit })
}
