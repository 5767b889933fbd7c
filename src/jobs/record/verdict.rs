//! What a grower should know of a tank before all else: ready, off by something, or not to be made as it stands.

use serde::Serialize;

use super::{Element, MixRecord};
use crate::quantity::{fixed, ppm_text};
use crate::safety::{Code, Severity};

/// A target off by more than this is told in the verdict, percent (own choice).
const WORTH_A_WORD_PERCENT: f64 = 5.0;

/// What a tank comes to, in a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum VerdictWord {
    /// Nothing stops it, every target is met within 5 % and every limit is kept.
    Ready,
    /// A target is off by more than 5 %, or a limit is not kept.
    Misses,
    /// A finding says not to make it as it stands.
    Stop,
}

/// The first line of a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Verdict {
    /// The worst that is true of it.
    pub word: VerdictWord,
    /// The same in a line.
    pub line: String,
    /// What it misses in a line, also beside what stops it; null where it misses nothing.
    pub misses: Option<String>,
}

impl Verdict {
    /// Of what is in a record already: its elements, its EC and its findings.
    pub(crate) fn of(record: &MixRecord) -> Self {
        let mut missed: Vec<String> = record.elements.iter().filter_map(off).collect();
        if record.findings.iter().any(|finding| finding.code == Code::EcOutside) {
            missed.push(format!("EC {} mS/cm is outside its limit", fixed(record.ec_ms_cm, 2)));
        }
        if record.findings.iter().any(|finding| finding.code == Code::AmmoniumShare) {
            missed.push("the share of ammonium is outside what is stated or usual".to_owned());
        }
        let misses = (!missed.is_empty()).then(|| format!("Misses: {}.", missed.join("; ")));
        let stops: Vec<&str> = record
            .findings
            .iter()
            .filter(|finding| finding.severity == Severity::Stop)
            .map(|finding| finding.message.as_str())
            .collect();
        let (word, line) = match (&stops[..], &misses) {
            ([], Some(misses)) => (VerdictWord::Misses, misses.clone()),
            ([], None) => {
                let unknown = record.findings.iter().any(|finding| finding.code == Code::WaterUnknown);
                (VerdictWord::Ready, ready(&record.elements, if unknown { ", as far as the water is known" } else { "" }))
            }
            _ => (VerdictWord::Stop, format!("STOP: {}", stops.join(" "))),
        };
        Self { word, line, misses }
    }
}

/// A nutrient that is off by enough for a word.
fn off(e: &Element) -> Option<String> {
    const ROUNDED_OFF: f64 = 1e-3;
    let asked = if let (Some(target), Some(off)) = (e.target_ppm, e.deviation_percent)
        && off.abs() > WORTH_A_WORD_PERCENT
    {
        format!("of {}", ppm_text(target))
    } else if let Some(most) = e.max_ppm.filter(|most| e.ppm > most * (1.0 + ROUNDED_OFF)) {
        format!("of at most {}", ppm_text(most))
    } else if let Some(least) = e.min_ppm.filter(|least| e.ppm < least * (1.0 - ROUNDED_OFF)) {
        format!("of at least {}", ppm_text(least))
    } else {
        return None;
    };
    Some(format!("{} {} {asked} ppm", e.element, ppm_text(e.ppm)))
}

/// How well every target is met, in whole percent rounded up.
///
/// * `but`: on what condition
fn ready(elements: &[Element], but: &str) -> String {
    let furthest = elements.iter().filter_map(|e| e.deviation_percent).map(f64::abs).reduce(f64::max);
    match furthest {
        Some(furthest) => format!("Every target is met within {} %{but}.", fixed((furthest - 1e-9).ceil().max(1.0), 0)),
        None => "Nothing stops it; no target was asked.".to_owned(),
    }
}
