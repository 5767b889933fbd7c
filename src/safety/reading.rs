//! What a meter shows against what is predicted.

use super::{Code, Finding};
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
/// use bloomsalt::safety::{Code, ReadingFacts, of_reading};
/// let facts = ReadingFacts {
///     reads_ms_per_cm: 1.35,
///     predicted_ms_per_cm: 1.06,
///     apart_percent: 27.4,
///     plus_minus_percent: 5.0,
///     unexplained: false,
///     test: None,
/// };
/// assert_eq!(of_reading(&facts).map(|finding| finding.code), Some(Code::ReadingApart));
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
        Finding::warning(
            Code::ReadingUnexplained,
            format!("{numbers}; no single slip that is reckoned with here explains it."),
        )
        .remedy("Read again with a rinsed probe, then check unit, list of weights and volume.")
        .source("own-choice")
    } else {
        Finding {
            remedy: facts.test.clone(),
            ..Finding::warning(
                Code::ReadingApart,
                format!("{numbers}. The causes that would explain it stand under the reading."),
            )
            .source("own-choice")
        }
    })
}

/// What was read, entered or asked is this many times the last, or the last this many times it: own choice.
const TOO_FAR: f64 = 3.0;
/// Slips that move a reading by a factor.
const SLIPS: [(f64, &str); 2] = [(10.0, "a decimal point"), (1000.0, "uS/cm taken for mS/cm")];
/// A factor this near to that of a slip is it, own choice: a tank is seldom known better.
const SLIP_NEAR: f64 = 1.5;

/// A figure that is far from the last one.
///
/// * `what`: which, in words: `Entry 4: EC`
/// * `reads`, `last`: both in mS/cm
/// * `against`: what the last one is, in words: `what is predicted`
///
/// # Examples
/// ```
/// use bloomsalt::safety::reads_too_far;
/// let slip = reads_too_far("EC", 12.1, 1.2, "what is predicted").unwrap();
/// assert!(slip.remedy.unwrap().contains("decimal point"));
/// assert_eq!(reads_too_far("EC", 3.5, 1.2, "what is predicted"), None);
/// ```
#[must_use]
pub fn reads_too_far(what: &str, reads: f64, last: f64, against: &str) -> Option<Finding> {
    let times = (reads / last).max(last / reads);
    if !(reads > 0.0 && last > 0.0 && times >= TOO_FAR) {
        return None;
    }
    let slip = slipped(times, &SLIPS);
    Some(
        Finding::warning(
            Code::ReadsTooFar,
            format!(
                "{what} is {} mS/cm and {against} {} mS/cm: {} times {}, {} times or more being too far (own choice).",
                significant(reads, 2),
                significant(last, 2),
                significant(times, 1),
                if reads > last { "as much" } else { "less" },
                fixed(TOO_FAR, 0)
            ),
        )
        .remedy(match slip {
            Some(slip) => format!("A slip? It may be {slip}. Read it again before anything is done by it."),
            None => "Read it again, unit and decimal point too, before anything is done by it.".to_owned(),
        })
        .source("own-choice"),
    )
}

/// The slip whose factor a figure is nearest to, where it is near one.
pub(super) fn slipped(times: f64, slips: &[(f64, &'static str)]) -> Option<&'static str> {
    let apart = |factor: f64| (times / factor).max(factor / times);
    let near = slips.iter().filter(|(factor, _)| apart(*factor) < SLIP_NEAR);
    near.min_by(|(a, _), (b, _)| apart(*a).total_cmp(&apart(*b))).map(|(_, slip)| *slip)
}
