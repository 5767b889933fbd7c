//! What a logbook tells over its days: EC as read and nitrogen as estimated.

use serde::Serialize;

use crate::bench::Bench;
use crate::jobs::logbook::{Range, logbook_state};
use crate::logbook::{Event, Logbook, Moment, Patterns};
use crate::matter::Nutrient;
use crate::quantity::Date;

/// The most points; of a longer logbook the later part is shown. Every point reckons the tank anew from its last filling.
const MOST_POINTS: usize = 60;

/// A logbook's tank right after one of its entries.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CoursePoint {
    /// Days since the first point.
    pub days: f64,
    /// The day.
    pub date: Date,
    /// Nitrogen, ppm; none while the tank is empty.
    pub nitrogen_ppm: Option<Range>,
    /// EC that was read with this entry, mS/cm.
    pub ec_read_ms_cm: Option<f64>,
    /// The formula or `fresh` where the tank was filled with this entry.
    pub filled: Option<String>,
}

/// A logbook's tank over its days.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Course {
    /// From the first to the last.
    pub points: Vec<CoursePoint>,
    /// True when earlier entries are left out.
    pub shortened: bool,
}

/// EC as read and nitrogen as estimated at every entry up to `at` that concerns the content of the tank, and at `at` itself.
///
/// Each point says what the logbook told at that moment, without what later readings added.
#[must_use]
pub fn course(bench: &Bench, logbook: &Logbook, at: Moment, patterns: &Patterns) -> Course {
    let standing = logbook.standing();
    let mut moments: Vec<(Moment, Option<f64>, Option<String>)> = Vec::new();
    for entry in standing.iter().filter(|entry| entry.at <= at && entry.event.is_of_content()) {
        let (ec, filled) = match &entry.event {
            Event::Reading { ec_ms_cm, .. } => (*ec_ms_cm, None),
            Event::Filled { formula, .. } => (None, Some(formula.clone().unwrap_or_else(|| "fresh".to_owned()))),
            _ => (None, None),
        };
        match moments.last_mut().filter(|(moment, ..)| *moment == entry.at) {
            Some((_, read, fill)) => (*read, *fill) = (ec.or(*read), filled.or(fill.take())),
            None => moments.push((entry.at, ec, filled)),
        }
    }
    if moments.last().is_some_and(|(last, ..)| *last < at) {
        moments.push((at, None, None));
    }
    let shortened = moments.len() > MOST_POINTS;
    moments.drain(..moments.len().saturating_sub(MOST_POINTS));
    let Some((first, ..)) = moments.first().cloned() else { return Course { points: Vec::new(), shortened } };
    let points = moments.into_iter().map(|(moment, ec_read_ms_cm, filled)| {
        let state = logbook_state(bench, logbook, moment, patterns);
        let nitrogen = state.range_ppm(Nutrient::N).map(|(low, likely, high)| Range { low, likely, high });
        CoursePoint { days: moment.days_since(&first), date: moment.date(), nitrogen_ppm: nitrogen, ec_read_ms_cm, filled }
    });
    Course { points: points.collect(), shortened }
}
