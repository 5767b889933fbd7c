//! The salt that a key names, and grams of it.

use super::reader::Item;
use crate::catalogue::{Catalogue, SaltId};
use crate::matter::Salt;
use crate::quantity::{Amount, Mass, gram, milliliter};

/// The salt that a key names, or a problem with what was probably meant.
pub(super) fn known_salt(item: &Item, id: &str, catalogue: &Catalogue) -> Option<SaltId> {
    let found = catalogue.find(id);
    if found.is_none() {
        let strengths = catalogue.strengths_of(id).map(|all| format!("it takes {all}"));
        let help = strengths
            .or_else(|| catalogue.meant(id))
            .unwrap_or_else(|| "the salt table lists the ids; a product of your own needs a [[product]]".to_owned());
        let message = format!("there is no salt `{id}`");
        if item.name == id { item.wrong_key(message, Some(help)) } else { item.wrong(message, Some(help)) }
    }
    found
}

/// Grams of an amount; a volume needs the density of a liquid.
pub(super) fn grams(item: &Item, amount: Amount, salt: &Salt) -> Option<Mass> {
    match (amount, salt.density_kg_per_l) {
        (Amount::Mass(mass), _) => Some(mass),
        (Amount::Volume(volume), Some(density)) => Some(gram(milliliter(volume) * density)),
        (Amount::Volume(_), None) => {
            item.wrong(format!("{} is a solid; state its amount in g or kg", salt.name), None);
            None
        }
    }
}
