//! What is measured out, as a record and as what the rules of the findings look at.

use uom::si::thermodynamic_temperature::degree_celsius;

use super::Dose;
use super::made::Made;
use super::reckoned::Reckoned;
use crate::bench::Bench;
use crate::catalogue::SaltId;
use crate::jobs::engine::ladder::finest;
use crate::matter::Kind;
use crate::safety;
use crate::tank::instrument::{Measured, instruments};
use crate::tank::parts::Part;

/// A dose as a record.
pub(super) fn dose(made: &Made, at: usize, litres: f64) -> Dose {
    let (parts, measured) = (made.parts, &made.measured[at]);
    let done = measured.measure.is_some();
    let exact = made.exact_per_l[at] * litres;
    let bottle_at = made.bottle_of(at);
    let bottle = bottle_at.map(|bottle| parts.id(bottle).to_owned());
    // what the bottle really holds of it, in whole steps of the scale that filled it
    let in_bottle = bottle_at.zip(parts.salt(at)).map(|(bottle, own)| {
        let is_it = |salt: &SaltId| made.tank.bench.catalogue.salt(*salt).id == own.id;
        let of_it = parts.contents(bottle).salts.into_iter().filter(|(salt, _)| is_it(salt));
        of_it.map(|(_, grams)| grams).sum::<f64>() * made.measured[bottle].amount
    });
    let is_helper = matches!(parts.list[at], Part::Helper(_));
    let price = |salt| made.tank.bench.stock(salt).price_per_g;
    // a bottle that exists is paid for
    let exists = |helper: usize| helper < made.tank.bench.helpers.len();
    let cost = match parts.list[at] {
        Part::Helper(helper) if exists(helper) => Some(0.0),
        _ => parts.contents(at).salts.iter().map(|(salt, grams)| Some(price(*salt)? * grams * measured.amount)).sum(),
    };
    Dose {
        salt: (!is_helper).then(|| parts.id(at).to_owned()),
        name: parts.name(at).to_owned(),
        measure: measured.measure,
        grams: (done && !is_helper).then_some(measured.amount),
        grams_in_bottle: in_bottle,
        grams_exact: (!is_helper).then_some(exact),
        millilitres: measured.millilitres,
        millilitres_exact: is_helper.then_some(exact),
        helper: if is_helper { Some(parts.id(at).to_owned()) } else { bottle },
        scale_g: measured.scale_g,
        jug: jug_id(made.tank.bench, measured),
        portions: (measured.portions > 1).then_some(measured.portions),
        acid: parts.kind(at) == Kind::Acid,
        cost: cost.filter(|_| done),
    }
}

/// Id of the jug that measures something.
pub(super) fn jug_id(bench: &Bench, measured: &Measured) -> Option<String> {
    Some(bench.jugs.get(measured.jug?)?.id.clone())
}

/// What the rules look at of everything shown.
pub(super) fn watched(made: &Made, shown: &[usize], weighed: &[f64]) -> Vec<safety::Measured> {
    let Made { tank, parts, exact_per_l, measured, .. } = made;
    let (bench, litres) = (tank.bench, tank.litres());
    let celsius = bench.tank.temperature.get::<degree_celsius>();
    let watch = |at: usize| {
        let solubility = parts.salt(at).and_then(|salt| salt.solubility.as_ref());
        let nothing_measures_it = measured[at].measure.is_none() && made.bottle_of(at).is_none();
        let density = parts.density(at);
        safety::Measured {
            id: parts.id(at).to_owned(),
            name: parts.name(at).to_owned(),
            amount_exact: exact_per_l[at] * litres,
            bottle: matches!(parts.list[at], Part::Helper(_)),
            acid: parts.kind(at) == Kind::Acid,
            too_small_for: nothing_measures_it.then(|| finest(&instruments(bench, density), density)),
            g_per_l: weighed[at],
            soluble_g_per_l: solubility.map(|solubility| solubility.at_least_g_per_l(celsius)),
            solubility_source: solubility.map(|solubility| solubility.source.clone()),
        }
    };
    shown.iter().map(|&at| watch(at)).collect()
}

/// What is too little to measure and comes in a new bottle.
pub(super) fn bottled(made: &Made) -> Vec<safety::Bottled> {
    let litres = made.tank.litres();
    let parts = made.parts;
    made.proposed
        .iter()
        .filter(|one| !one.serves.is_empty())
        .map(|one| safety::Bottled {
            bottle: parts.helpers[one.helper].id.clone(),
            too_little: one
                .serves
                .iter()
                .map(|&at| {
                    let density = parts.density(at);
                    let finest = finest(&instruments(made.tank.bench, density), density);
                    (parts.name(at).to_owned(), made.exact_per_l[at] * litres, finest)
                })
                .collect(),
        })
        .collect()
}

/// Everything that is measured out, by itself or from a bottle.
pub(super) fn substances(made: &Made, reckoned: &Reckoned) -> Vec<safety::Substance> {
    let catalogue = &made.tank.bench.catalogue;
    let mut salts: Vec<SaltId> = Vec::new();
    for at in (0..made.parts.list.len()).filter(|&at| reckoned.weighed[at] > 0.0) {
        let new = made.parts.contents(at).salts.into_iter().map(|(salt, _)| salt);
        salts.extend(new.filter(|salt| !salts.contains(salt)).collect::<Vec<_>>());
    }
    let of = |salt: &SaltId| safety::Substance::of(catalogue.salt(*salt), catalogue.ions(), catalogue.salts());
    salts.iter().map(of).collect()
}
