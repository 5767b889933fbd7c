//! What a meter shows against what is predicted.

use super::{Finding, Severity};
use crate::quantity::{fixed, significant};

/// What the rules of a reading look at.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingFacts {
    /// What the meter shows, mS/cm.
    pub reads_ms_per_cm: f64,
    /// What it should show, mS/cm.
    pub predicted_ms_per_cm: f64,
    /// How far the reading is over the prediction, percent.
    pub apart_percent: f64,
    /// Give or take of that, meter and prediction together, percent (k = 2).
    pub plus_minus_percent: f64,
    /// True when none of the slips that are reckoned with explains it.
    pub unexplained: bool,
    /// What to do first to find out.
    pub test: Option<String>,
}

/// A reading that the stated errors do not explain.
///
/// * `facts`: reading and prediction
///
/// Returns one finding, or none while the two agree within their give or take.
///
/// # Examples
/// ```
/// use bloomsalt::safety::{ReadingFacts, of_reading};
/// let facts = ReadingFacts {
///     reads_ms_per_cm: 1.35,
///     predicted_ms_per_cm: 1.06,
///     apart_percent: 27.4,
///     plus_minus_percent: 5.0,
///     unexplained: false,
///     test: None,
/// };
/// assert_eq!(of_reading(&facts).map(|finding| finding.code), Some("reading-apart"));
/// ```
#[must_use]
pub fn of_reading(facts: &ReadingFacts) -> Option<Finding> {
    if facts.apart_percent.abs() <= facts.plus_minus_percent {
        return None;
    }
    let numbers = format!(
        "The meter reads {} mS/cm where {} mS/cm is predicted: {} % {}, beyond the {} % that meter, volume, weighing and \
         model explain together",
        significant(facts.reads_ms_per_cm, 3),
        significant(facts.predicted_ms_per_cm, 3),
        fixed(facts.apart_percent.abs(), 1),
        if facts.apart_percent > 0.0 { "more" } else { "less" },
        fixed(facts.plus_minus_percent, 1),
    );
    Some(if facts.unexplained {
        Finding {
            code: "reading-unexplained",
            severity: Severity::Warning,
            message: format!("{numbers}; no single slip that is reckoned with here explains it."),
            remedy: Some("Read again with a rinsed probe, then check unit, list of weights and volume.".to_owned()),
            source: Some("own-choice".to_owned()),
        }
    } else {
        Finding {
            code: "reading-apart",
            severity: Severity::Warning,
            message: format!("{numbers}. The causes that would explain it stand under the reading."),
            remedy: facts.test.clone(),
            source: Some("own-choice".to_owned()),
        }
    })
}
