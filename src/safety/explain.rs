//! The words of an explanation: why a target is missed, and what would help.

use super::{Finding, Severity};
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
    /// True when a salt on the shelf brings it.
    pub supplied: bool,
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

/// Why a target is missed.
#[must_use]
pub fn why_missed(missed: &Missed) -> Finding {
    let Missed { nutrient, ppm, target_ppm, .. } = missed;
    let level = format!("{nutrient} comes to {} of {} ppm before rounding", ppm_text(*ppm), ppm_text(*target_ppm));
    let (why, remedy) = match &missed.partners[..] {
        _ if missed.short && !missed.supplied => (" because no salt on the shelf brings it".to_owned(), None),
        _ if missed.short && missed.all_used => {
            (" because all there is of the salts that bring it goes in".to_owned(), None)
        }
        [] if missed.short => (": what would bring more of it misses other targets by as much".to_owned(), None),
        [] => (": what is needed for other targets, the water or the acid brings it along".to_owned(), None),
        partners => {
            let list: Vec<&str> = partners.iter().map(|partner| partner.words.as_str()).collect();
            let held = if missed.short { "held down" } else { "pushed up" };
            let takes: Vec<&str> = partners.iter().filter_map(|partner| partner.would_take.as_deref()).collect();
            let remedy = (!takes.is_empty()).then(|| format!("With {} instead it would be met.", takes.join(", or with ")));
            (format!(", {held} by {}", list.join(", and by ")), remedy)
        }
    };
    Finding { code: "why-missed", severity: Severity::Note, message: format!("{level}{why}."), remedy, source: None }
}

/// Which salts of the table would help most.
#[must_use]
pub fn would_help(found: &[Helps]) -> Option<Finding> {
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
    let these =
        if found.len() == 1 { "This on the shelf would lower it" } else { "Any of these on the shelf would lower it" };
    Some(Finding {
        code: "would-help",
        severity: Severity::Note,
        message: format!("The misfit before rounding is {}. {these}: {}.", significant(first.before, 3), told.join("; ")),
        remedy: Some("The salt table says how to handle it.".to_owned()),
        source: None,
    })
}
