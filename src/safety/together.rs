//! What must not meet in one list, and what public rules restrict.

use super::reaction::is_over_wish;
use super::{Code, Facts, Finding, Severity, Substance};
use crate::matter::Kind;
use crate::quantity::fixed;

/// Two kinds of things that must not meet undiluted.
struct Pair {
    severity: Severity,
    one: fn(&Substance) -> bool,
    other: fn(&Substance) -> bool,
    why: &'static str,
    remedy: &'static str,
}

/// The pair of which neither is weighed for a mix of the other.
const EXPLOSIVE: Pair = Pair {
    severity: Severity::Stop,
    one: |substance| substance.urea,
    other: |substance| substance.nitric_acid,
    why: "where they are concentrated or dry, urea and nitric acid make a solid that can explode",
    remedy: "Take another acid, or nitrogen from another salt. Bag and bottle apart, never both in one jug or bottle; what \
                 holds both is never boiled down or left to dry; once it is out, tank and vessels are rinsed with much water.",
};

/// The pair of which a tank over [`GAS_PH`] itself gives off what burns.
const AMMONIA: Pair = Pair {
    severity: Severity::Warning,
    one: |substance| substance.ammonium,
    other: |substance| substance.strong_base || substance.kind == Kind::Silicate,
    why: "a strong base or a silicate sets ammonia free from ammonium, which burns eyes and lungs",
    remedy: "Take a salt without ammonium; thinned and apart they may meet only where the tank stays under pH 8. Over that the tank \
             itself gives it off: out where it smells, air the room, face away.",
};
/// A pH from which a tank that holds ammonium smells of ammonia (from memory).
pub(super) const GAS_PH: f64 = 8.0;

/// The other pairs, the most dangerous first.
const PAIRS: [Pair; 6] = [
    Pair {
        severity: Severity::Warning,
        one: |substance| substance.burning_acid,
        other: |substance| substance.hydroxide,
        why: "a strong base and a strong acid boil and spit where they meet",
        remedy: "Leave one of the two out: they undo each other. Never neat together, nor one after the other in one jug.",
    },
    Pair {
        severity: Severity::Warning,
        one: |substance| substance.nitric_acid && substance.burning_acid,
        other: |substance| substance.burning_acid && substance.chloride && !substance.nitric_acid,
        why: "neat, nitric and hydrochloric acid make chlorine and nitrogen oxides, and eat almost any metal",
        remedy: "Leave one of the two out. Bottles apart; each is thinned in a jug of its own, never one after the other in one.",
    },
    Pair {
        severity: Severity::Warning,
        one: |substance| substance.kind == Kind::Acid,
        other: |substance| substance.carbonate && substance.kind != Kind::Acid,
        why: "acid on a carbonate froths, spits, and gives carbon dioxide",
        remedy: "Leave one of the two out: they undo each other.",
    },
    Pair {
        severity: Severity::Note,
        one: |substance| substance.frees_chlorine,
        other: |substance| substance.chloride && substance.kind != Kind::Acid,
        why: "a chloride and a concentrated nitric or sulfuric acid give off chlorine or hydrogen chloride",
        remedy: "Bag and bottle apart, never one onto the other: the acid goes in only thinned.",
    },
    Pair {
        severity: Severity::Note,
        one: |substance| substance.kind == Kind::Acid,
        other: |substance| substance.kind == Kind::Silicate,
        why: "where they meet undiluted, acid makes a gel of a silicate, and silica falls out",
        remedy: "The silicate first, stirred into most of the water; the acid only after it, thinned, in small parts.",
    },
    Pair {
        severity: Severity::Note,
        one: |substance| substance.dry_urea,
        // what holds both already was made so that it keeps
        other: |substance| substance.damp_with_urea && !substance.urea,
        why: "mixed dry, they draw damp and turn sticky",
        remedy: "Never mix them dry: bag apart, weigh apart, dissolve one after the other.",
    },
];

/// True for urea with nitric acid: neither is weighed for a mix of the other.
#[must_use]
pub fn never_in_one_mix(one: &Substance, other: &Substance) -> bool {
    let is = |a: &Substance, b: &Substance| (EXPLOSIVE.one)(a) && (EXPLOSIVE.other)(b);
    is(one, other) || is(other, one)
}

/// A salt of the shelf that stays out of a mix, since it must not meet the acid.
#[must_use]
pub fn kept_from_acid(names: &[String]) -> Option<Finding> {
    (!names.is_empty()).then(|| {
        Finding::note(Code::KeptFromAcid, format!("{} stays out of this mix: it must not meet the acid.", names.join(", ")))
            .remedy("Another acid, or another salt, would do instead of it.")
            .source("incompatibilities-from-memory")
    })
}

/// Acids that stay out of a mix, since they must not meet a salt of it.
///
/// * `wished`: the wish for a pH and the pH of the mix, where it is known
#[must_use]
pub fn acid_kept_from(acids: &[String], salts: &[String], wished: Option<(f64, f64)>) -> Option<Finding> {
    if salts.is_empty() {
        return None;
    }
    let (acids, salts) = (acids.join(" and "), salts.join(", "));
    let over = wished.filter(|(wish, ph)| is_over_wish(*ph, *wish));
    let found = if let Some((wish, ph)) = over {
        let (ph, wish) = (fixed(ph, 1), fixed(wish, 1));
        let message = format!("pH is {ph}, over the wished {wish}: {acids} stays out, since it must not meet {salts}.");
        Finding::warning(Code::PhWishNotMet, message)
    } else {
        let message = format!("{acids} stays out of this mix: it must not meet {salts}.");
        Finding::note(Code::KeptFromAcid, message)
    };
    let remedy = "Never add it to this tank later. Another acid, or another salt, would do instead.";
    Some(found.remedy(remedy).source("incompatibilities-from-memory"))
}

/// Findings of what is on one list.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    found.extend(on_one_list(facts.substances, &EXPLOSIVE));
    let gas = facts.ph.as_ref().map(|ph| ph.fresh.ph).filter(|ph| *ph > GAS_PH);
    let ammonia = on_one_list(facts.substances, &AMMONIA);
    found.extend(ammonia.map(|told| gas.map_or_else(|| told.clone(), |ph| gives_off_ammonia(&told, ph))));
    found.extend(PAIRS.iter().filter_map(|pair| on_one_list(facts.substances, pair)));
    let urea = facts.substances.iter().any(|one| one.urea);
    // thinner, it would still be what must not meet
    let not_thinner = |(one, told): (&Substance, Finding)| {
        if urea && one.nitric_acid {
            told.remedy("Beside urea never nitric, however thin: another acid, or no urea.")
        } else {
            told
        }
    };
    found.extend(facts.substances.iter().filter_map(|one| Some((one, restricted(one)?))).map(not_thinner));
    found.extend(facts.substances.iter().filter_map(acid_does_not_last));
}

/// A tank that is itself so far up that ammonia goes off from it.
fn gives_off_ammonia(told: &Finding, ph: f64) -> Finding {
    let message = format!("{} This tank, at pH {}, gives it off.", told.message, fixed(ph, 1));
    Finding::new(Code::MustNotMeet, Severity::Stop, message)
        .remedy("Leave the room and air it before hands go near the tank; as it is no plant is fed with it. Pump and lights off, goggles, gloves and apron on, doors and windows open, face away: it is let out into \
             marked plastic vessels, half full, which go into open air, where it first gets ready-diluted acid, a little at a time, down to pH 7. A dust mask holds no gas back. Make it anew without the base.")
        .source("incompatibilities-from-memory")
}

fn acid_does_not_last(substance: &Substance) -> Option<Finding> {
    substance.organic_acid.then(|| {
        Finding::note(
            Code::AcidDoesNotLast,
            format!(
                "{} is eaten by microbes within days, and the alkalinity that it took comes back: it does not \
                 hold a pH (from memory).",
                substance.name
            ),
        )
        .remedy("Read the pH every day or two; a mineral acid lasts.")
        .source("memory")
    })
}

fn on_one_list(substances: &[Substance], pair: &Pair) -> Option<Finding> {
    let named = |is: fn(&Substance) -> bool| -> Vec<&str> {
        substances.iter().filter(|substance| is(substance)).map(|substance| substance.name.as_str()).collect()
    };
    let (one, other) = (named(pair.one), named(pair.other));
    (!one.is_empty() && !other.is_empty()).then(|| {
        Finding::new(
            Code::MustNotMeet,
            pair.severity,
            format!("{} with {} on one list: {}.", one.join(", "), other.join(", "), pair.why),
        )
        .remedy(pair.remedy.to_owned())
        .source("incompatibilities-from-memory")
    })
}

/// True for the finding that public rules restrict who may have a salt.
///
/// * `id`: of the salt
#[must_use]
pub fn restricts(finding: &Finding, id: &str) -> bool {
    finding.code == Code::AcidRestricted && finding.about.as_deref() == Some(id)
}

/// Public rules restrict who may have what goes in.
#[must_use]
pub fn restricted(substance: &Substance) -> Option<Finding> {
    let rules = substance.restricted.as_ref()?;
    let (code, remedy) = if substance.kind == Kind::Acid {
        (
            Code::AcidRestricted,
            "A ready-diluted acid under the limit does the same: [acid] takes it by its strength, and its dose is reckoned.",
        )
    } else {
        (Code::SaltRestricted, "Other nitrates and ammonium salts do the same.")
    };
    let told = format!("{} goes in, and public rules restrict who may have it. {}", substance.name, rules.notes.join(" "));
    Some(Finding { source: rules.source.clone(), ..Finding::warning(code, told).remedy(remedy).about(&substance.id) })
}
