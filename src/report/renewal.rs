//! Where the days of a cycle's fresh tanks come from.

use super::page::Page;
use super::words::{litres, tank_name, why};
use crate::jobs::{CycleRecord, Fill, LearntRecord, Renewal, RenewalFrom};
use crate::quantity::{WholeDays, fixed};

/// Where the days of the fresh tanks come from, where a logbook has told anything of them.
pub(super) fn renewals(page: &mut Page, record: &CycleRecord) {
    let phases = || record.tanks.iter().flat_map(|tank| tank.phases.iter().map(move |phase| (tank, phase)));
    if phases().all(|(_, phase)| phase.renewal.learnt.is_none()) {
        return;
    }
    page.section("Renewed after", "by the logbook where that is earlier, an estimate");
    let several = record.tanks.len() > 1;
    let mut told: Vec<String> = Vec::new();
    for (tank, phase) in phases() {
        let name = if several { format!(", {}", tank_name(tank)) } else { String::new() };
        let words = format!("{} {}{name}: {}", phase.formula, litres(tank.volume_l), renewed(&phase.renewal));
        // phases that feed the same formula by the same figures are one line
        if !told.contains(&words) {
            page.say(words.as_str());
            told.push(words);
        }
    }
    let mut learnt: Vec<String> = Vec::new();
    for (_, phase) in phases() {
        let words = phase.renewal.learnt.as_ref().map(|from| learnt_from(from, &phase.formula));
        let words = words.filter(|words| !learnt.contains(words));
        learnt.extend(words);
    }
    for words in learnt {
        page.say(words.as_str());
    }
    page.say("What plants took is reckoned by a model; only a laboratory analysis knows.");
}

/// The days of a renewal, and what they come from.
fn renewed(renewal: &Renewal) -> String {
    let stated = format!("{} (renew_every)", WholeDays(renewal.fixed_days));
    let Some((end, limit)) = renewal.ends_by.zip(renewal.limit) else {
        return format!("{stated}; by the logbook and the likely pattern no limit is passed before{}", early(renewal));
    };
    let end = end.words(limit);
    let then = format!("then {end} by the likely pattern{}", early(renewal));
    match (renewal.from, renewal.logbook_days) {
        (RenewalFrom::Logbook, Some(0)) => {
            format!("1 day, the least that is planned, though {end} sooner by the likely pattern")
        }
        (RenewalFrom::Logbook, _) => format!("{} by the logbook, {then}", WholeDays(renewal.days)),
        (RenewalFrom::Fixed, days) => {
            format!("{stated}; {} by the logbook, {then}", WholeDays(days.unwrap_or(renewal.fixed_days)))
        }
    }
}

/// How early it may be, by the pattern that warnings go by.
fn early(renewal: &Renewal) -> String {
    renewal.low_days.map_or_else(String::new, |days| {
        let days = if days == 0 { "within a day".to_owned() } else { format!("after {}", WholeDays(days)) };
        format!(", by the low one maybe {days}")
    })
}

/// The readings that a pace was learnt from, for a formula that may be another.
fn learnt_from(learnt: &LearntRecord, formula: &str) -> String {
    let day = |moment: &str| moment.get(..10).unwrap_or(moment).to_owned();
    let of = learnt.formula.as_deref().unwrap_or("a mix without a name");
    let ec = learnt.ec_ms_cm.map_or_else(String::new, |ec| format!(", EC {} then", fixed(ec, 2)));
    let head = if learnt.formula.as_deref() == Some(formula) {
        of.to_owned()
    } else {
        format!("{formula} is not told by the logbook, so it goes by {of}")
    };
    format!(
        "{head}: {} filled {}, read {} to {}{ec}",
        litres(learnt.volume_l),
        day(&learnt.filled),
        day(&learnt.read_from),
        day(&learnt.read_to)
    )
}

/// Why a tank is mixed and for how long it may stand, where that is by the logbook.
pub(super) fn why_and_from(fill: &Fill) -> String {
    match fill.renew_from {
        RenewalFrom::Fixed => why(fill.reason).to_owned(),
        RenewalFrom::Logbook => format!("{}, {} at most by the logbook", why(fill.reason), WholeDays(fill.renew_days)),
    }
}
