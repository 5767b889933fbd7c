//! The words of an explanation: why a target is missed, and what would help.

use super::{Code, Finding};
use crate::matter::Nutrient;
use crate::quantity::{ppm_text, significant};

/// What keeps a target from being met.
#[derive(Debug, Clone, PartialEq)]
pub struct Partner {
    /// The other target or limit, in words: `N at 36.0 ppm`.
    pub words: String,
    /// What it would have to be for the target to be met: `N at 52.4 ppm`; `None` where that does not suffice by itself.
    pub would_take: Option<String>,
}

/// A target that the exact mix misses.
#[derive(Debug, Clone, PartialEq)]
pub struct Missed {
    /// Which.
    pub nutrient: Nutrient,
    /// True when there is too little of it.
    pub short: bool,
    /// What the exact mix gives, ppm.
    pub ppm: f64,
    /// What is asked, ppm.
    pub target_ppm: f64,
    /// True when what goes in, or could, brings it.
    pub supplied: bool,
    /// True when a salt or a bottle that is there brings it, also one of which too little is needed to measure it.
    pub there: bool,
    /// True when the tank holds more than is asked before anything goes in.
    pub held: bool,
    /// True when all there is of every such salt goes in.
    pub all_used: bool,
    /// What it hangs on, the one that frees it most first.
    pub partners: Vec<Partner>,
}

/// Salts that would help.
#[derive(Debug, Clone, PartialEq)]
pub struct Helps {
    /// Id of each, and what it would bring beside, ppm.
    pub salts: Vec<(String, Vec<(Nutrient, f64)>)>,
    /// Misfit without them.
    pub before: f64,
    /// Misfit with them.
    pub after: f64,
}

impl Missed {
    fn level(&self) -> String {
        format!("{} of {} ppm", ppm_text(self.ppm), ppm_text(self.target_ppm))
    }

    /// Why, where no other target or limit is told to be behind it.
    pub(crate) fn by_itself(&self) -> Option<&'static str> {
        match &self.partners[..] {
            _ if self.short && !self.supplied && self.there => {
                Some(": what brings it misses other targets by as much, or so little of it is too little to measure here")
            }
            _ if self.short && !self.supplied => Some(" because no salt on the shelf brings it"),
            _ if self.short && self.all_used => Some(" because all there is of the salts that bring it goes in"),
            [] if self.short => Some(": what would bring more of it misses other targets by as much"),
            [] if self.held => Some(": so much of it is in the tank already"),
            [] => Some(": what is needed for other targets, the water or the acid brings it along"),
            _ => None,
        }
    }

    /// True when `other` is missed for the same reason: it hangs on nothing but what this one hangs on, or on this one.
    #[must_use]
    pub fn is_cause_of(&self, other: &Self) -> bool {
        let own = format!("{} at {} ppm", self.nutrient, ppm_text(self.target_ppm));
        let hangs_on = |words: &str| words == own || self.partners.iter().any(|partner| partner.words == words);
        match (self.by_itself(), other.by_itself()) {
            (None, None) => other.partners.iter().all(|partner| hangs_on(&partner.words)),
            (why, same) => why == same,
        }
    }
}

/// Why a target is missed, and those that are missed for the same reason.
#[must_use]
pub fn why_missed(missed: &Missed, likewise: &[Missed]) -> Finding {
    let takes = |missed: &Missed| {
        let takes: Vec<&str> = missed.partners.iter().filter_map(|partner| partner.would_take.as_deref()).collect();
        (!takes.is_empty()).then(|| takes.join(", or with "))
    };
    let why = missed.by_itself().map_or_else(
        || {
            let list: Vec<&str> = missed.partners.iter().map(|partner| partner.words.as_str()).collect();
            let held = if missed.short { "held down" } else { "pushed up" };
            format!(", {held} by {}", list.join(", and by "))
        },
        str::to_owned,
    );
    let others: Vec<String> =
        likewise.iter().map(|other| format!("{} comes to {}", other.nutrient, other.level())).collect();
    let others = if others.is_empty() { String::new() } else { format!(" For the same reason {}.", others.join(", and ")) };
    let first = takes(missed).map(|takes| format!("With {takes} instead it would be met."));
    let rest = likewise.iter().filter_map(|other| Some((takes(other)?, other.nutrient)));
    let rest = rest.map(|(takes, nutrient)| format!("With {takes} instead {nutrient} would be met."));
    let remedy: Vec<String> = first.into_iter().chain(rest).collect();
    Finding {
        remedy: (!remedy.is_empty()).then(|| remedy.join(" ")),
        ..Finding::note(
            Code::WhyMissed,
            format!("{} comes to {} before rounding{why}.{others}", missed.nutrient, missed.level()),
        )
    }
}

/// Which salts of the table would help most.
///
/// * `apart`: true where traces are left aside
#[must_use]
pub fn would_help(found: &[Helps], apart: bool) -> Option<Finding> {
    let first = found.first()?;
    let told: Vec<String> = found
        .iter()
        .map(|helps| {
            let ids: Vec<&str> = helps.salts.iter().map(|(id, _)| id.as_str()).collect();
            let beside = helps.salts.iter().flat_map(|(_, beside)| beside);
            let beside: Vec<String> = beside.map(|(nutrient, ppm)| format!("{} ppm {nutrient}", ppm_text(*ppm))).collect();
            let along = if beside.is_empty() { String::new() } else { format!(", and brings {} along", beside.join(", ")) };
            format!("{} to {}{along}", ids.join(" with "), significant(helps.after, 3))
        })
        .collect();
    let these = if found.len() == 1 { "This, bought, would lower it" } else { "Any of these, bought, would lower it" };
    Some(
        Finding::note(
            Code::WouldHelp,
            format!(
                "Off in all{} by {} before rounding (0 is perfect). {these}: {}.",
                if apart { ", traces left aside," } else { "" },
                significant(first.before, 3),
                told.join("; ")
            ),
        )
        .remedy("The salt table says how to handle it."),
    )
}
