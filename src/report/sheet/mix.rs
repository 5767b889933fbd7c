//! The sheet of a mix.

use maud::Markup;

use super::balance::balance;
use super::bottles::bottles;
use super::handling::of_mix;
use super::meter::meter;
use super::page::page;
use super::tank::tank;
use super::trade::trade;
use super::watch::watch;
use super::weights::weights;
use crate::jobs::{MixRecord, Pictures};
use crate::quantity::{liter, volume_text};
use crate::report::words::name;

/// A mix as a page of HTML to print: weights first, then bottles, meter, findings, pictures, handling and sources.
///
/// * `pictures`: of the same mix, by [`crate::jobs::pictures`]
#[must_use]
pub fn mix(record: &MixRecord, pictures: &Pictures) -> String {
    let mut sections = vec![weights(record)];
    sections.extend(bottles(&record.helpers, "bottles"));
    sections.extend([meter(record), watch(&record.findings), tank(record, None)]);
    sections.extend(pictured(pictures));
    sections.extend(of_mix(record, &pictures.labels));
    page(name(record), &aside(record), &sections)
}

/// The pictures that every sheet of a tank has.
pub(super) fn pictured(pictures: &Pictures) -> Vec<Markup> {
    let balance = balance(&pictures.balances, true, &pictures.not_compared);
    balance.into_iter().chain(trade(pictures.trade.as_ref())).collect()
}

/// Volume, bench and water in a line.
pub(super) fn aside(record: &MixRecord) -> String {
    let water = if record.pure_water { "water that brings nothing" } else { "its own water" };
    format!("{} on {}, {water}", volume_text(liter(record.volume_l)), record.bench)
}
