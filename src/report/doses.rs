//! WEIGH: what to measure out, and with what.

use super::page::{Block, DoseLine, Page, bold};
use super::words::{checked, comes_in_a_bottle, dose_name, measured, waters_words};
use crate::jobs::{Act, Dose, MixRecord, Step, WaterRecord};
use crate::quantity::fixed;
use crate::safety::{Code, Severity};

/// The weights of a mix.
pub(super) fn weights(page: &mut Page, record: &MixRecord) {
    if checked(record) {
        // there is no right order of what must not meet
        let apart = record.findings.iter().any(|one| one.code == Code::MustNotMeet && one.severity != Severity::Note);
        page.section(
            "Made of",
            if apart { "some of it must not meet" } else { "in the order in which it should have gone in" },
        );
    } else {
        page.section("Weigh", "in this order");
    }
    if record.doses.is_empty() {
        let what = if record.job == "switch" { "what is there already" } else { "the water alone" };
        page.line(format!("nothing: {what} comes closest")).look("large");
    } else {
        doses(page, &record.doses);
        if !checked(record) {
            acid_at_its_step(page, &record.doses, &record.order);
        }
    }
    waters(page, &record.waters);
    if let Some(cost) = record.cost {
        page.line(format!("cost {}", fixed(cost, 2))).look("quiet");
    }
}

/// When an acid of the list is measured: nobody opens it with the first bag.
pub(super) fn acid_at_its_step(page: &mut Page, doses: &[Dose], order: &[Step]) {
    if doses.iter().any(|dose| dose.acid && dose.is_measured()) {
        let sours = order.iter().any(|step| step.act == Act::Sour);
        let when = if sours { ": most of it goes in first, the rest last" } else { "" };
        page.say(format!("The acid is opened and measured when its step of HOW TO MIX comes{when}."));
    }
}

/// Litres of each of several waters.
pub(super) fn waters(page: &mut Page, waters: &[WaterRecord]) {
    if let Some(words) = waters_words(waters) {
        page.line(bold(format!("water: {words}")));
    }
}

/// Numbered doses.
pub(super) fn doses(page: &mut Page, doses: &[Dose]) {
    page.add(Block::Doses { doses: doses.iter().map(line).collect(), is_numbered: true });
}

/// A dose in a list.
pub(super) fn line(dose: &Dose) -> DoseLine {
    let (amount, with) = measured(dose);
    DoseLine {
        amount,
        name: dose_name(dose),
        with,
        portions: dose.portions(),
        is_within: comes_in_a_bottle(dose),
        is_left_out: !dose.is_measured(),
        is_acid: dose.acid,
    }
}
