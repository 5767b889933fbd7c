//! What can be measured into a tank: salts of the shelf, and dilute bottles made of them.

use crate::bench::{Bench, Helper, Ingredient, Stock};
use crate::catalogue::SaltId;
use crate::matter::{Composition, Kind, Salt};
use crate::quantity::{Amount, Volume, milliliter};

use super::instrument::{self, grams_of, measured};

/// Something that is weighed or drawn up. Its unit is the gram for a salt and the millilitre for a bottle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Part {
    /// A salt as sold.
    Salt(Stock),
    /// A dilute bottle, by its position in [`Parts::helpers`].
    Helper(usize),
}

/// How well a bottle is filled to its mark, relative standard deviation: own choice, a marked bottle.
const BOTTLE_DEVIATION: f64 = 0.005;

/// Bottles together take up no more than this share of the room in the tank: own choice, the rest is stirred water.
const OF_ROOM: f64 = 0.8;

/// The parts of a mix. Bottles that are only proposed stand after those that exist.
#[derive(Debug, Clone)]
pub(crate) struct Parts<'a> {
    pub(crate) bench: &'a Bench,
    /// What there is room for in the tank.
    pub(crate) room: Volume,
    pub(crate) helpers: Vec<Helper>,
    pub(crate) list: Vec<Part>,
}

/// What a unit of a part comes to.
#[derive(Debug, Clone, Default)]
pub(crate) struct Contents {
    /// Grams of each salt as sold.
    pub(crate) salts: Vec<(SaltId, f64)>,
    /// Pure water that takes the place of the bench's own, mL.
    pub(crate) pure_water_ml: f64,
}

impl Contents {
    pub(crate) fn add(&mut self, salt: SaltId, grams: f64) {
        match self.salts.iter_mut().find(|(other, _)| *other == salt) {
            Some((_, sum)) => *sum += grams,
            None => self.salts.push((salt, grams)),
        }
    }
}

/// A source of error: which one, and what one standard deviation of it does to the salts, g for a unit of the part.
pub(crate) type Slip = ((usize, usize), Grams);

/// Grams of salts.
pub(crate) type Grams = Vec<(SaltId, f64)>;

impl<'a> Parts<'a> {
    pub(crate) fn new(bench: &'a Bench, list: Vec<Part>) -> Self {
        Self { bench, room: bench.tank.volume, helpers: bench.helpers.clone(), list }
    }

    /// The salt, where the part is one.
    pub(crate) fn salt(&self, at: usize) -> Option<&Salt> {
        match self.list[at] {
            Part::Salt(stock) => Some(self.bench.salt(&stock)),
            Part::Helper(_) => None,
        }
    }

    /// Its id.
    pub(crate) fn id(&self, at: usize) -> &str {
        match self.list[at] {
            Part::Salt(stock) => &self.bench.salt(&stock).id,
            Part::Helper(helper) => &self.helpers[helper].id,
        }
    }

    /// Its name in words.
    pub(crate) fn name(&self, at: usize) -> &str {
        match self.list[at] {
            Part::Salt(stock) => &self.bench.salt(&stock).name,
            Part::Helper(helper) => &self.helpers[helper].id,
        }
    }

    /// g/mL of what the syringe draws up; `None` for what a scale weighs. A bottle counts in mL.
    pub(crate) fn density(&self, at: usize) -> Option<f64> {
        match self.list[at] {
            Part::Salt(stock) => self.bench.salt(&stock).density_kg_per_l,
            Part::Helper(_) => Some(1.0),
        }
    }

    /// What there is of it, in its unit; `None` without a limit.
    pub(crate) fn there_is(&self, at: usize) -> Option<f64> {
        match self.list[at] {
            Part::Salt(stock) => stock.on_hand.map(grams_of),
            Part::Helper(helper) => {
                let helper = &self.helpers[helper];
                Some(milliliter(helper.left.unwrap_or(helper.volume)))
            }
        }
    }

    /// The most that may go in, in its unit: what there is, and of bottles together no more than finds room in the tank.
    pub(crate) fn most(&self, at: usize) -> Option<f64> {
        let there_is = self.there_is(at);
        let Part::Helper(_) = self.list[at] else { return there_is };
        let bottles = self.list.iter().filter(|part| matches!(part, Part::Helper(_))).count();
        #[allow(clippy::cast_precision_loss, reason = "a handful of bottles")]
        let room = OF_ROOM * self.room_ml() / bottles as f64;
        Some(there_is.map_or(room, |there_is| there_is.min(room)))
    }

    /// True for a dose of a part for which no instrument here can be trusted, and which is not rounded up to one that can.
    pub(crate) fn too_small(&self, at: usize, dose: f64) -> bool {
        instrument::too_small(self.bench, self.density(at), dose)
    }

    /// Room in the tank that amounts of bottles take, mL: [`Parts::most`] the other way round.
    pub(crate) fn room_taken_ml(&self, amounts: &[f64]) -> f64 {
        let bottles = || self.list.iter().zip(amounts).filter(|(part, _)| matches!(part, Part::Helper(_)));
        #[allow(clippy::cast_precision_loss, reason = "a handful of bottles")]
        let count = bottles().count() as f64;
        bottles().map(|(_, amount)| amount * count / OF_ROOM).fold(0.0, f64::max)
    }

    /// What there is room for in the tank, mL.
    pub(crate) fn room_ml(&self) -> f64 {
        milliliter(self.room)
    }

    /// What a unit of the part holds.
    pub(crate) fn contents(&self, at: usize) -> Contents {
        match self.list[at] {
            Part::Salt(stock) => Contents { salts: vec![(stock.salt, 1.0)], pure_water_ml: 0.0 },
            Part::Helper(helper) => self.of_helper(helper),
        }
    }

    /// What a millilitre of a bottle holds.
    pub(crate) fn of_helper(&self, at: usize) -> Contents {
        let helper = &self.helpers[at];
        let bottle = milliliter(helper.volume);
        let mut contents = Contents::default();
        let mut own_water = bottle;
        for (ingredient, amount) in &helper.made_of {
            let amount = self.amount(*ingredient, *amount);
            match ingredient {
                Ingredient::Salt(salt) => contents.add(*salt, amount / bottle),
                Ingredient::Helper(parent) => {
                    own_water -= amount;
                    let parent = self.of_helper(*parent);
                    parent.salts.iter().for_each(|(salt, grams)| contents.add(*salt, grams * amount / bottle));
                    contents.pure_water_ml += parent.pure_water_ml * amount / bottle;
                }
            }
        }
        if helper.made_with_pure_water {
            contents.pure_water_ml += own_water / bottle;
        }
        contents
    }

    /// An amount of an ingredient in its unit: g of a salt, mL of a bottle.
    pub(crate) fn amount(&self, ingredient: Ingredient, amount: Amount) -> f64 {
        match (ingredient, amount) {
            (Ingredient::Salt(salt), Amount::Volume(volume)) => {
                milliliter(volume) * self.bench.catalogue.salt(salt).density_kg_per_l.unwrap_or(0.0)
            }
            (_, Amount::Mass(mass)) => grams_of(mass),
            (Ingredient::Helper(_), Amount::Volume(volume)) => milliliter(volume),
        }
    }

    /// Species and nutrients of a unit of the part; the water that a bottle of pure water displaces counts against it.
    pub(crate) fn composition(&self, at: usize) -> Composition {
        match self.list[at] {
            Part::Salt(stock) => self.bench.composition(&stock),
            Part::Helper(helper) => {
                let contents = self.of_helper(helper);
                let mut sum = self.of_salts(&contents.salts);
                if contents.pure_water_ml > 0.0 {
                    let water = &self.bench.water;
                    let litres = contents.pure_water_ml * 1e-3;
                    // what it displaces is the water that is filled in, not what is in the tank already
                    let mmol_per_l = water.ions(self.bench.catalogue.ions(), self.bench.catalogue.elements());
                    sum.ions.extend(mmol_per_l.into_iter().map(|(ion, mmol)| (ion, -mmol * 1e-3 * litres)));
                    sum.nutrients.add(&water.nutrients, -1e-3 * litres);
                }
                sum
            }
        }
    }

    /// Species and nutrients of grams of salts.
    pub(crate) fn of_salts(&self, salts: &[(SaltId, f64)]) -> Composition {
        let mut sum = Composition::default();
        for (salt, grams) in salts {
            let of = self.bench.composition(&self.bench.stock(*salt));
            sum.nutrients.add(&of.nutrients, *grams);
            sum.open.add(&of.open, *grams);
            for (ion, mol) in of.ions {
                match sum.ions.iter_mut().find(|(other, _)| *other == ion) {
                    Some((_, total)) => *total += mol * grams,
                    None => sum.ions.push((ion, mol * grams)),
                }
            }
        }
        sum
    }

    /// What moves the contents of a unit of a bottle beside the purity of its salts: how they were weighed, how well the
    /// bottle was filled, and the same for the bottle that it was made of.
    pub(crate) fn slips(&self, at: usize) -> Vec<Slip> {
        match self.list[at] {
            Part::Salt(_) => Vec::new(),
            Part::Helper(helper) => self.slips_of_helper(helper),
        }
    }

    fn slips_of_helper(&self, at: usize) -> Vec<Slip> {
        let helper = &self.helpers[at];
        let bottle = milliliter(helper.volume);
        let scaled = |salts: Vec<(SaltId, f64)>, by: f64| salts.into_iter().map(|(s, g)| (s, g * by)).collect::<Vec<_>>();
        let mut slips: Vec<Slip> = vec![((at, usize::MAX), scaled(self.of_helper(at).salts, BOTTLE_DEVIATION))];
        for (position, (ingredient, amount)) in helper.made_of.iter().enumerate() {
            let amount = self.amount(*ingredient, *amount);
            let density = match ingredient {
                Ingredient::Salt(salt) => self.bench.catalogue.salt(*salt).density_kg_per_l,
                Ingredient::Helper(_) => Some(1.0),
            };
            let deviation = measured(self.bench, density, amount).deviation;
            match ingredient {
                Ingredient::Salt(salt) => slips.push(((at, position), vec![(*salt, deviation / bottle)])),
                Ingredient::Helper(parent) => {
                    slips.push(((at, position), scaled(self.of_helper(*parent).salts, deviation / bottle)));
                    let of_parent = self.slips_of_helper(*parent).into_iter();
                    slips.extend(of_parent.map(|(key, salts)| (key, scaled(salts, amount / bottle))));
                }
            }
        }
        slips
    }

    /// What the part is to the fit.
    pub(crate) fn kind(&self, at: usize) -> Kind {
        let contents = self.contents(at);
        let kinds = || contents.salts.iter().map(|(salt, _)| self.bench.catalogue.salt(*salt).kind);
        let special = kinds().find(|kind| matches!(kind, Kind::Acid | Kind::Base | Kind::Silicate));
        special.or_else(|| kinds().find(|kind| *kind == Kind::Chelate)).unwrap_or(Kind::Salt)
    }
}
