//! A first bench file, from a few answers.

use std::fmt::Write as _;

use serde::Serialize;

use super::error::JobError;
use super::logbook::missed;
use super::{MissedRecord, MixOptions, mix};
use crate::bench::{Bench, STARTER};
use crate::catalogue::SaltId;

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
    /// What is not known of a tap water and counts as nothing: `alkalinity`, or the symbol of an element. Empty for rain water.
    pub unknown: Vec<String>,
    /// Targets of `growth` that this shelf misses by more than 5 %.
    pub missed: Vec<MissedRecord>,
    /// Why `growth` cannot be mixed on this bench, in words; null where it can.
    pub no_growth: Option<String>,
}

/// What a new grower says, read already.
#[derive(Debug, Clone, PartialEq)]
pub struct NewAnswers<'a> {
    /// The volume of the tank as it was typed.
    pub tank: &'a str,
    /// Of tap water keys and values of its report, each value a number or a quantity with its unit; none for rain water.
    pub tap: Option<&'a [(String, String)]>,
    /// The steps of the scales as they were typed.
    pub scales: &'a [String],
    /// The salts on the shelf; those of the starter where there are none.
    pub shelf: &'a [SaltId],
}

/// A text as TOML has it, in quotes.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// The text of a bench file: the starter with the tank, the water, the scales and the shelf that were answered.
///
/// It is not validated here: what was typed may not fit.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{NewAnswers, new_bench_text}};
/// let answers = NewAnswers { tank: "40 L", tap: None, scales: &["0.1 g".to_owned()], shelf: &[] };
/// assert!(Bench::parse(&new_bench_text(&answers), "new").is_ok());
/// ```
#[must_use]
pub fn new_bench_text(answers: &NewAnswers) -> String {
    let (first, rest) = STARTER.split_at(STARTER.find("[shelf]").unwrap_or(STARTER.len()));
    let head = first.split("[tank]").next().unwrap_or_default();
    let syringe = first.find("[syringe]").map_or("", |at| &first[at..]);
    let mut text =
        format!("{head}[tank]\nvolume = {}            # final volume, salts and acid included\n\n", quoted(answers.tank));
    match answers.tap {
        None => text.push_str("# Rain, reverse-osmosis or distilled water needs no [water].\n\n"),
        Some(report) => {
            let unknown = unknown(report);
            if !unknown.is_empty() {
                let all = unknown.join(", ");
                let _ = write!(
                    text,
                    "# Tap water. Not known, and counted as nothing: {all}.\n# The supplier's report has them; until then the mix holds \
                     more of these than is printed.\n"
                );
            }
            text.push_str(if report.is_empty() {
                "[water]                          # its EC by the meter, as in EC = \"0.5 mS/cm\", then its report\n"
            } else {
                "[water]                          # from the report of the supplier\n"
            });
            for (key, value) in report {
                let value = if value.parse::<f64>().is_ok() { value.clone() } else { quoted(value) };
                let _ = writeln!(text, "{} = {value}", if key.contains('.') { quoted(key) } else { key.clone() });
            }
            text.push('\n');
        }
    }
    for (at, step) in answers.scales.iter().enumerate() {
        let says = if at == 0 { "          # the step it shows" } else { "" };
        let _ = write!(text, "[[scale]]\nreadability = {}{says}\n", quoted(step));
        text.push_str("trust = 0.05                     # the smallest weight taken is readability / trust\n\n");
    }
    text.push_str(syringe);
    if answers.shelf.is_empty() {
        return text + rest;
    }
    let catalogue = crate::catalogue::Catalogue::standard();
    text.push_str("[shelf]                          # the salt table lists every id\n");
    for salt in answers.shelf {
        let _ = writeln!(text, "{} = {{}}", catalogue.salt(*salt).id);
    }
    text.push('\n');
    let formulas = rest.find("# A labelled product").map_or(rest, |at| &rest[at..]);
    text + formulas
}

/// What a report of tap water does not say of what matters.
fn unknown(report: &[(String, String)]) -> Vec<String> {
    let told = |keys: &[&str]| report.iter().any(|(key, _)| keys.contains(&key.as_str()));
    REPORTED.iter().filter(|(_, keys)| !told(keys)).map(|(what, _)| (*what).to_owned()).collect()
}

/// The record of a bench file that was made: what stays unknown, and what its shelf makes of `growth`.
///
/// * `bench`: as its text reads
///
/// # Errors
/// [`JobError`] for a failure of our own.
pub fn new_record(bench: &Bench, text: String, answers: &NewAnswers) -> Result<NewRecord, JobError> {
    let (missed, no_growth) = match mix(bench, "growth", &MixOptions::default()) {
        Ok(mix) => (missed(&mix), None),
        Err(error) if error.exit_status() == 3 => return Err(error),
        Err(error) => (Vec::new(), Some(error.in_a_line())),
    };
    let unknown = answers.tap.map_or_else(Vec::new, unknown);
    Ok(NewRecord { version: 1, job: "new".to_owned(), text, unknown, missed, no_growth })
}
