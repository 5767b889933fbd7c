//! What must not meet in one list, and what public rules restrict.

use super::{Facts, Finding, Severity, Substance};
use crate::matter::Kind;

/// Two kinds of things that must not meet undiluted.
struct Pair {
    one: fn(&Substance) -> bool,
    other: fn(&Substance) -> bool,
    why: &'static str,
    remedy: &'static str,
}

/// The pairs, the most dangerous first.
const PAIRS: [Pair; 3] = [
    Pair {
        one: |substance| substance.urea,
        other: |substance| substance.nitric_acid,
        why: "urea and nitric acid make a solid that can explode",
        remedy: "Take another acid, or nitrogen from another salt; never keep, thin or pour the two together.",
    },
    Pair {
        one: |substance| substance.ammonium,
        other: |substance| substance.strong_base || substance.kind == Kind::Silicate,
        why: "a strong base or a silicate sets ammonia free from ammonium, which burns eyes and lungs",
        remedy: "Take a salt without ammonium; else the one well thinned and stirred in before the other is opened, in open air.",
    },
    Pair {
        one: |substance| substance.kind == Kind::Acid,
        other: |substance| substance.carbonate && substance.kind != Kind::Acid,
        why: "acid on a carbonate froths, spits, and gives carbon dioxide",
        remedy: "Leave one of the two out: they undo each other.",
    },
];

/// Findings of what is on one list.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    found.extend(PAIRS.iter().filter_map(|pair| must_not_meet(facts.substances, pair)));
    found.extend(facts.substances.iter().filter_map(acid_restricted));
}

fn must_not_meet(substances: &[Substance], pair: &Pair) -> Option<Finding> {
    let named = |is: fn(&Substance) -> bool| -> Vec<&str> {
        substances.iter().filter(|substance| is(substance)).map(|substance| substance.name.as_str()).collect()
    };
    let (one, other) = (named(pair.one), named(pair.other));
    (!one.is_empty() && !other.is_empty()).then(|| Finding {
        code: "must-not-meet",
        severity: Severity::Warning,
        message: format!("{} with {} on one list: {}.", one.join(", "), other.join(", "), pair.why),
        remedy: Some(pair.remedy.to_owned()),
        source: Some("incompatibilities-from-memory".to_owned()),
    })
}

/// How the message begins.
fn restricted_head(name: &str) -> String {
    format!("{name} goes in, and public rules restrict who may have it.")
}

/// True for the finding that public rules restrict who may have what has this name.
#[must_use]
pub fn restricts(finding: &Finding, name: &str) -> bool {
    finding.code == "acid-restricted" && finding.message.starts_with(&restricted_head(name))
}

fn acid_restricted(substance: &Substance) -> Option<Finding> {
    let rules = substance.restricted.as_ref().filter(|_| substance.kind == Kind::Acid)?;
    Some(Finding {
        code: "acid-restricted",
        severity: Severity::Warning,
        message: format!("{} {}", restricted_head(&substance.name), rules.notes.join(" ")),
        remedy: Some("A ready-diluted acid under the limit does the same.".to_owned()),
        source: rules.source.clone(),
    })
}
