//! What was poured into a tank, as it was stated.

use super::TankError;
use super::instrument::grams_of;
use super::parts::Part;
use crate::bench::{Bench, Stock};
use crate::catalogue::SaltId;
use crate::quantity::{Amount, Volume, milliliter};

/// A salt and how much of it went in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Added {
    /// Which salt.
    pub salt: SaltId,
    /// How much, weighed or drawn up.
    pub amount: Amount,
}

/// A dilute bottle of the bench and how much of it went in.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// Id of the bottle.
    pub bottle: String,
    /// How much.
    pub volume: Volume,
}

impl Added {
    /// Its grams as sold.
    ///
    /// # Errors
    /// [`TankError::SolidByVolume`].
    pub(crate) fn grams(&self, bench: &Bench) -> Result<f64, TankError> {
        let salt = bench.catalogue.salt(self.salt);
        match (self.amount, salt.density_kg_per_l) {
            (Amount::Mass(mass), _) => Ok(grams_of(mass)),
            (Amount::Volume(volume), Some(density)) => Ok(milliliter(volume) * density),
            (Amount::Volume(_), None) => Err(TankError::SolidByVolume { name: salt.name.clone() }),
        }
    }
}

/// Salts and bottles as parts, in the unit of each.
///
/// # Errors
/// [`TankError::SolidByVolume`], [`TankError::UnknownBottle`].
pub(crate) fn poured(bench: &Bench, salts: &[Added], bottles: &[Drawn]) -> Result<Vec<(Part, f64)>, TankError> {
    let mut doses = Vec::new();
    for added in salts {
        let stock = Stock { on_hand: None, ..bench.stock(added.salt) };
        doses.push((Part::Salt(stock), added.grams(bench)?));
    }
    for drawn in bottles {
        let known = bench.helpers.iter().position(|helper| helper.id == drawn.bottle);
        let Some(helper) = known else { return Err(TankError::UnknownBottle { id: drawn.bottle.clone() }) };
        doses.push((Part::Helper(helper), milliliter(drawn.volume)));
    }
    Ok(doses)
}
