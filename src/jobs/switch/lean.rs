//! Whether a turn brings nitrogen down where it is meant to, and not further than it may.

use super::{Before, Turn};
use crate::bench::Bench;
use crate::jobs::record::{Element, MixRecord};
use crate::matter::Nutrient;
use crate::quantity::ppm_of;
use crate::safety::{self, Code, Finding, Turned};

/// A turn to a formula with less nitrogen than growth that hardly brings it down.
pub(super) fn not_lean(bench: &Bench, before: &Before, after: &MixRecord) -> Option<Finding> {
    let growth = bench.formula("growth").filter(|growth| after.formula.as_ref() != Some(&growth.name))?;
    let growth_ppm = ppm_of(growth.nitrogen_target()?);
    let of = |nutrient: Nutrient| {
        let one = |all: &[Element]| all.iter().find(|one| one.element == nutrient.symbol()).cloned();
        let (was, is) = (one(&before.elements)?, one(&after.elements)?);
        let (ppm, plus_minus_ppm) = ((was.ppm, is.ppm), is.plus_minus_ppm);
        Some(Turned { nutrient, ppm, plus_minus_ppm, target_ppm: is.target_ppm? })
    };
    let said = after.findings.iter().any(|finding| finding.code == Code::PushNotLean);
    let others: Vec<Turned> = [Nutrient::P, Nutrient::K].into_iter().filter_map(of).collect();
    safety::turn_not_lean(&of(Nutrient::N)?, &others, growth_ppm).filter(|_| !said)
}

/// Nitrogen of what stays may be less than it is weighed for.
pub(super) fn may_lack(turn: &Turn, drain: f64, low_ppm: Option<f64>, after: &MixRecord) -> Option<Finding> {
    let nitrogen = after.elements.iter().find(|one| one.element == "N")?;
    let stays = 1.0 - turn.refill(drain) / turn.total();
    let lacks = stays * (turn.holding.ppm[Nutrient::N] - low_ppm?).max(0.0);
    safety::may_lack_nitrogen(nitrogen.ppm - lacks, nitrogen.target_ppm?)
}
