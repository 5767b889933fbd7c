//! What dilute bottles are called: after what is in them, and how strong.

use crate::bench::{Bench, NamedBottle};
use crate::catalogue::SaltId;
use crate::jobs::record::HelperRecord;
use crate::matter::{Kind, Nutrient};
use crate::tank::parts::{Contents, Parts};

/// How strong a bottle is, as a part of its name: two of one salt and another strength are never taken for each other.
pub(super) fn strength(parts: &Parts, helper: usize) -> String {
    let mg_per_l: f64 = parts.of_helper(helper).salts.iter().map(|(_, grams_per_ml)| grams_per_ml * 1e6).sum();
    if mg_per_l < 10.0 { format!("{:.0}-ug-l", 1e3 * mg_per_l) } else { format!("{mg_per_l:.0}-mg-l") }
}

/// What a bottle is called before its strength: after its one ingredient, or after what they have in common.
pub(super) fn name(parts: &Parts, group: &[usize]) -> String {
    if let [one] = group {
        return parts.id(*one).to_owned();
    }
    let trace = |at: &usize| {
        let large = [Nutrient::N, Nutrient::P, Nutrient::K, Nutrient::Ca, Nutrient::Mg];
        large.into_iter().all(|nutrient| parts.composition(*at).nutrients[nutrient] <= 0.0)
    };
    if group.iter().all(|&at| parts.kind(at) == Kind::Chelate) {
        "chelates".to_owned()
    } else if group.iter().all(trace) {
        "traces".to_owned()
    } else {
        "salts".to_owned()
    }
}

/// Shares of salts this near to each other are the same content.
const SAME_CONTENT: f64 = 1e-6;

/// The new bottles of a mix, for the bench of another on the same page.
pub(crate) fn named(bench: &Bench, records: &[HelperRecord]) -> Vec<NamedBottle> {
    let mut found = bench.named.clone();
    let there = Parts::new(bench, Vec::new());
    for record in records.iter().filter(|record| record.new) {
        let mut contents = Contents::default();
        for of in &record.made_of {
            if let Some(salt) = of.salt.as_deref().and_then(|id| bench.catalogue.find(id)) {
                let drawn_up = of.millilitres.zip(bench.catalogue.salt(salt).density_kg_per_l);
                let grams = of.grams.or(drawn_up.map(|(ml, density)| ml * density));
                contents.add(salt, grams.unwrap_or(0.0) / record.volume_ml);
            }
            let Some(id) = of.helper.as_deref() else { continue };
            // a bottle stands before what is made of it
            let new = found.iter().find(|named| named.id == id).map(|named| named.salts.clone());
            let old = || bench.helpers.iter().position(|helper| helper.id == id).map(|at| there.of_helper(at).salts);
            for (salt, grams) in new.or_else(old).unwrap_or_default() {
                contents.add(salt, grams * of.millilitres.unwrap_or(0.0) / record.volume_ml);
            }
        }
        let (id, made_with_pure_water) = (record.id.clone(), record.pure_water);
        if !found.iter().any(|named| named.id == id) {
            found.push(NamedBottle { id, salts: contents.salts, made_with_pure_water });
        }
    }
    found
}

/// A name for a new bottle that no other has, nor any of another content in a mix on the same page.
pub(super) fn new_id(parts: &Parts, helper: usize, id: &str) -> String {
    let (holds, pure) = (parts.of_helper(helper).salts, parts.helpers[helper].made_with_pure_water);
    let amount = |salts: &[(SaltId, f64)], wanted: SaltId| {
        salts.iter().find(|(salt, _)| *salt == wanted).map_or(0.0, |(_, grams)| *grams)
    };
    let is_same = |named: &NamedBottle| {
        let all = holds.iter().chain(&named.salts);
        named.made_with_pure_water == pure
            && all.into_iter().all(|(salt, _)| {
                let (own, other) = (amount(&holds, *salt), amount(&named.salts, *salt));
                (own - other).abs() <= SAME_CONTENT * own.max(other)
            })
    };
    free_id_but(parts, id, |id| parts.bench.named.iter().any(|named| named.id == id && !is_same(named)))
}

/// `id`, or with a number behind it where it is taken.
pub(crate) fn free_id(parts: &Parts, id: &str) -> String {
    free_id_but(parts, id, |_| false)
}

fn free_id_but(parts: &Parts, id: &str, elsewhere: impl Fn(&str) -> bool) -> String {
    let own = |id: &str| parts.helpers.iter().any(|helper| helper.id == id) || parts.bench.catalogue.find(id).is_some();
    let taken = |id: &str| own(id) || elsewhere(id);
    let numbered = (2..).map(|number| format!("{id}-{number}"));
    std::iter::once(id.to_owned()).chain(numbered).find(|id| !taken(id)).unwrap_or_default()
}
