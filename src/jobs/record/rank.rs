//! Where in the order of mixing something belongs.

use crate::matter::{Kind, Nutrient, Nutrients, Salt};
use crate::tank::parts::Parts;

/// What brings so many times its trace elements of the large nutrients is a feed, and no trace salt: own choice.
const OF_TRACES: f64 = 10.0;

/// Where in the order of mixing something of this kind that brings these nutrients belongs.
fn mixing_rank(kind: Kind, nutrients: &Nutrients) -> u8 {
    let brings = |nutrient| nutrients[nutrient] > 0.0;
    let sum = |of: &[Nutrient]| of.iter().map(|nutrient| nutrients[*nutrient]).sum::<f64>();
    let traces = sum(&[Nutrient::Fe, Nutrient::Mn, Nutrient::Zn, Nutrient::B, Nutrient::Cu, Nutrient::Mo]);
    let large = sum(&[Nutrient::N, Nutrient::P, Nutrient::K, Nutrient::Ca, Nutrient::Mg]);
    // a feed with traces in it goes in by its large nutrients: its phosphate before calcium
    let trace = traces > 0.0 && large < OF_TRACES * traces;
    match kind {
        Kind::Silicate => 0,
        Kind::Acid | Kind::Base => 4,
        _ if trace => 3,
        _ if brings(Nutrient::Ca) => 2,
        _ => 1,
    }
}

/// Where in the order of mixing a part belongs: a bottle with calcium in it after those that calcium takes out, any other
/// with the first of its salts.
pub(crate) fn rank_of(parts: &Parts, at: usize) -> u8 {
    let contents = parts.contents(at);
    let of = |salt: &Salt| mixing_rank(salt.kind, &salt.composition.nutrients);
    let salts = || contents.salts.iter().map(|(salt, _)| parts.bench.catalogue.salt(*salt));
    let calcium = salts().filter(|salt| salt.composition.nutrients[Nutrient::Ca] > 0.0).map(of).max();
    calcium.or_else(|| salts().map(of).min()).unwrap_or(1)
}
