//! IN THE TANK: what it comes to against what was asked.

use super::page::{Leaf, Medium, Page, Table, bold, left, right};
#[cfg(feature = "sheets")]
use super::pictures::targets;
use super::words;
use crate::fit::Proof;
use crate::jobs::{Before, Element, MixRecord};
use crate::quantity::{fixed, ppm_decimals, ppm_text};
use crate::weights::weight;

/// A target off by less than this is met as far as whole steps go, and its miss is not told, percent (own choice).
const OFF_PERCENT: f64 = 1.0;

/// What the tank holds.
///
/// * `before`: the tank before it was turned over; a sheet tells it beside what it comes to
pub(super) fn tank(page: &mut Page, record: &MixRecord, before: Option<&Before>) {
    page.section(if record.job == "top-up" { "In the can" } else { "In the tank" }, "ppm = mg/L");
    page.leaf(Leaf::More);
    #[cfg(not(feature = "sheets"))]
    let picture = None;
    #[cfg(feature = "sheets")]
    let picture = record.formula.is_some().then(|| targets(&record.elements)).flatten();
    page.beside(picture, |page| {
        page.table(contents(record, before)).look("numbers contents");
    });
    below(page, record);
}

fn contents(record: &MixRecord, before: Option<&Before>) -> Table {
    let from = if record.job == "switch" { "there already" } else { "from water" };
    let told = |ppm: f64| if ppm > 0.0 { ppm_text(ppm) } else { "-".to_owned() };
    let was = |e: &Element| before.map(|before| ppm_of(before, &e.element)).map_or_else(String::new, told);
    let off = |e: &Element| e.deviation_percent.filter(|off| off.abs() >= OFF_PERCENT);
    let mut table = Table::new([
        left("").on_sheet("ppm"),
        right("asked"),
        right(from),
        right("before").only(Medium::Sheet),
        right("in all"),
        right("off by"),
    ]);
    for e in &record.elements {
        let in_all = format!("{} ± {}", ppm_text(e.ppm), fixed(e.plus_minus_ppm, ppm_decimals(e.ppm)));
        let off = off(e).map_or_else(String::new, |off| format!("{off:+.0} %"));
        table.cells(vec![
            e.element.as_str().into(),
            words::asked(e).into(),
            told(e.water_ppm).into(),
            was(e).into(),
            bold(in_all),
            off.into(),
        ]);
    }
    if !record.elements.iter().any(|e| off(e).is_some()) {
        table.without(5);
    }
    match before {
        None => table.without(3),
        Some(_) => table.columns[2].only = Some(Medium::Text),
    }
    if record.pure_water {
        table.without(2);
    }
    if record.formula.is_none() {
        table.without(1);
    }
    table
}

/// What a tank held of an element before it was turned over.
pub(super) fn ppm_of(before: &Before, element: &str) -> f64 {
    before.elements.iter().find(|e| e.element == element).map_or(0.0, |e| e.ppm)
}

fn below(page: &mut Page, record: &MixRecord) {
    if let (Some(least), Some(most)) = (record.ammonium_share_least, record.ammonium_share) {
        let percent = |share: f64| fixed(100.0 * share, 1);
        let range = if most - least > 5e-4 { format!("{} to {}", percent(least), percent(most)) } else { percent(most) };
        page.line(format!("ammonium and urea: {range} % of the nitrogen")).look("quiet");
    }
    if let Some(words) = ratios(record) {
        page.line(words).look("quiet");
    }
    if let Some(comparison) = record.against_growth.as_ref().filter(|comparison| !comparison.changes.is_empty()) {
        let changes: Vec<String> = comparison
            .changes
            .iter()
            .map(|c| format!("{} {} -> {}", c.element, ppm_text(c.from_ppm), ppm_text(c.to_ppm)))
            .collect();
        page.say(format!("against {} (ppm asked): {}", comparison.formula, changes.join(", "))).look("quiet");
    }
    if let Some(evidence) = &record.evidence {
        page.say(format!("what is shown: {evidence}")).look("quiet");
    }
    let misfit = match (record.misfit, record.misfit_exact) {
        // the doses of stock bottles are stated, and not sought
        (Some(measured), Some(exact)) if record.job == "stock" => {
            format!("off in all {} as dosed; {} before rounding{}", fixed(measured, 3), fixed(exact, 3), unproved(record))
        }
        (Some(measured), Some(exact)) => format!(
            "off in all {} as measured out, the {} here; {} before rounding{}",
            fixed(measured, 3),
            record.proof,
            fixed(exact, 3),
            unproved(record)
        ),
        (Some(misfit), None) => format!("off in all {} (0 is perfect)", fixed(misfit, 3)),
        _ => return,
    };
    page.line(misfit).look("quiet");
}

/// N:K and N:P by mass, K:Ca:Mg by charge, as shares of a hundred; `None` where one of them is not there.
fn ratios(record: &MixRecord) -> Option<String> {
    let ppm = |symbol: &str| record.elements.iter().find(|e| e.element == symbol).map(|e| e.ppm).filter(|ppm| *ppm > 0.0);
    let (n, p, k, ca, mg) = (ppm("N")?, ppm("P")?, ppm("K")?, ppm("Ca")?, ppm("Mg")?);
    let charges = [k / const { weight("K") }, 2.0 * ca / const { weight("Ca") }, 2.0 * mg / const { weight("Mg") }];
    let all: f64 = charges.iter().sum();
    let shares = charges.map(|charge| fixed(100.0 * charge / all, 0)).join(":");
    Some(format!("N:K 1:{}, N:P 1:{} by mass; K:Ca:Mg {shares} by charge", fixed(k / n, 2), fixed(p / n, 2)))
}

/// What must be said where the exact amounts are not proved least.
fn unproved(record: &MixRecord) -> String {
    match record.proof_exact {
        Some(proof @ Proof::ClosestFound) => format!(", the {proof} under the EC limit"),
        _ => String::new(),
    }
}
