//! Which salts share a bottle, why two bottles are not one, and how much acid would make them one.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;

use super::bottle::wants_pure_water;
use super::dissolve::{Crystals, Limit};
use super::split::{Asked, split};
use super::{LEAST_STRENGTH, StockOptions};
use crate::bench::{Bench, Stock};
use crate::catalogue::SaltId;
use crate::jobs::engine::clear::{Clouds, Judge};
use crate::matter::{Composition, Kind, NUTRIENTS, Nutrient};
use crate::quantity::significant;
use crate::safety::{self, AcidWanted, Finding, Stored, better_apart, kept_apart, never_together};
use crate::tank::parts::{Part, Parts};

/// Bottles whose chemistry is reckoned in one split: a count and no clock, so that every machine splits alike.
const MOST_JUDGED: usize = 1_000;
/// No more acid than this goes into a litre of bottle, g: own choice.
const MOST_ACID_G_PER_L: f64 = 200.0;
/// Halvings of what the acid may be.
const HALVINGS: u32 = 30;

/// A salt of the exact mix, in grams for a litre of tank.
#[derive(Clone, Copy)]
pub(super) struct Portion {
    pub(super) stock: Stock,
    pub(super) g_per_l: f64,
}

/// The salts of a formula, to be shared out over bottles.
pub(super) struct Shares<'a> {
    pub(super) bench: &'a Bench,
    pub(super) how: &'a StockOptions,
    pub(super) bottled: &'a [Portion],
    pub(super) crystals: &'a Crystals<'a>,
    pub(super) judge: &'a Judge<'a>,
}

impl Shares<'_> {
    fn stored(&self, at: usize) -> Stored<'_> {
        let salt = self.bench.salt(&self.bottled[at].stock);
        Stored::new(salt.kind, &salt.composition, salt.own_product)
    }

    /// Grams of salts for a litre of tank.
    pub(super) fn of_tank(&self, salts: &[usize]) -> Vec<(SaltId, f64)> {
        salts.iter().map(|&at| (self.bottled[at].stock.salt, self.bottled[at].g_per_l)).collect()
    }

    pub(super) fn limit(&self, salts: &[usize]) -> Option<Limit> {
        self.crystals.limit(&self.of_tank(salts))
    }

    fn strength(&self, salts: &[usize]) -> f64 {
        self.limit(salts).map_or(self.how.strength, |limit| limit.times.min(self.how.strength))
    }

    /// The split into the fewest bottles that stay clear.
    pub(super) fn split(&self) -> Vec<Vec<usize>> {
        let stored: Vec<Stored> = (0..self.bottled.len()).map(|at| self.stored(at)).collect();
        let left = Cell::new(MOST_JUDGED);
        let clear = asked_once(|salts| {
            let more = left.get() > 0;
            left.set(left.get().saturating_sub(1));
            more && self.clouds(salts).is_none()
        });
        // the search meets the same bottle in thousands of splits
        let limit = asked_once(|salts| self.limit(salts).map_or(f64::INFINITY, |limit| limit.times));
        let mut split = split(&Asked {
            count: stored.len(),
            apart: &|a, b, bottles| {
                let rule = if bottles == 1 { never_together } else { kept_apart };
                rule(stored[a], stored[b]).is_some()
            },
            better_apart: &|a, b| better_apart(stored[a], stored[b]),
            clear: &clear,
            limit: &limit,
            strength: self.how.strength,
            least: LEAST_STRENGTH,
        });
        // the bottle with the calcium first, as the trade has it
        let calcium = |at: &usize| stored[*at].brings(Nutrient::Ca);
        split.sort_by_key(|salts| (!salts.iter().any(calcium), salts.first().copied()));
        split
    }

    /// Why a bottle of these clouds, at the strength that it would have.
    pub(super) fn clouds(&self, salts: &[usize]) -> Option<Clouds> {
        self.clouds_with(salts, None)
    }

    /// The same with grams of an acid in a litre of it.
    fn clouds_with(&self, salts: &[usize], acid: Option<(Stock, f64)>) -> Option<Clouds> {
        let (parts, per_l) = self.bottle(salts, acid);
        self.judge.clouds(&parts, &per_l, wants_pure_water(self.bench, &parts))
    }

    fn bottle(&self, salts: &[usize], acid: Option<(Stock, f64)>) -> (Parts<'_>, Vec<f64>) {
        let strength = self.strength(salts);
        let portions = salts.iter().map(|&at| self.bottled[at]);
        let (mut list, mut per_l): (Vec<Part>, Vec<f64>) =
            portions.map(|one| (Part::Salt(one.stock), one.g_per_l * strength)).unzip();
        list.extend(acid.map(|(stock, _)| Part::Salt(stock)));
        per_l.extend(acid.map(|(_, grams)| grams));
        (Parts::new(self.bench, list), per_l)
    }

    /// Two salts that keep two bottles from being one, and why; `None` where only their strength does.
    pub(super) fn apart(&self, first: &[usize], second: &[usize]) -> Option<((usize, usize), String)> {
        let mut pairs = first.iter().flat_map(|&a| second.iter().map(move |&b| (a, b)));
        let by_pair = pairs.find_map(|(a, b)| Some(((a, b), kept_apart(self.stored(a), self.stored(b))?.to_owned())));
        by_pair.or_else(|| {
            let both = [first, second].concat();
            let clouds = self.clouds(&both)?;
            let (a, b) = (both[clouds.parts.0], both[clouds.parts.1]);
            Some((if first.contains(&a) { (a, b) } else { (b, a) }, clouds.why))
        })
    }

    /// How much acid would make one bottle of two that are only not acid enough for it.
    ///
    /// * `ids`: of the two bottles
    pub(super) fn acid_wanted(&self, ids: (&str, &str), first: &[usize], second: &[usize]) -> Option<Finding> {
        let mut pairs = first.iter().flat_map(|&a| second.iter().map(move |&b| (a, b)));
        if pairs.any(|(a, b)| kept_apart(self.stored(a), self.stored(b)).is_some()) {
            return None;
        }
        let both = [first, second].concat();
        let clouds = self.clouds(&both).filter(|clouds| clouds.acid_helps)?;
        let found = self.acids().find_map(|acid| Some((acid, self.least_acid(&both, acid)?)));
        let told = found.and_then(|(acid, grams)| {
            let salt = self.bench.salt(&acid);
            let (parts, per_l) = self.bottle(&both, Some((acid, grams)));
            let ph = self.judge.in_bottle(&parts, &per_l, wants_pure_water(self.bench, &parts))?.fresh.ph;
            let amount = match salt.density_kg_per_l {
                Some(density) => format!("{} mL", significant(grams / density, 2)),
                None => format!("{} g", significant(grams, 2)),
            };
            let to_tank = grams / self.strength(&both) * 1e3;
            let brings = |composition: &Composition| {
                let of = |nutrient: Nutrient| (nutrient.symbol(), composition.nutrients[nutrient] * to_tank);
                let counts = NUTRIENTS.into_iter().filter(|nutrient| !nutrient.is_nitrogen_form()).map(of);
                counts.filter(|(_, ppm)| *ppm >= 0.05).collect::<Vec<_>>()
            };
            let brings = brings(&self.bench.composition(&acid));
            Some(AcidWanted { salt: salt.id.clone(), name: salt.name.clone(), amount, ph, brings })
        });
        Some(safety::stock_not_acid(ids.0, ids.1, &clouds.why, told.as_ref()))
    }

    /// The acids of the bench, those that `[acid]` names first.
    fn acids(&self) -> impl Iterator<Item = Stock> {
        let named = self.bench.acid.iter().flat_map(|acid| &acid.salts).filter_map(|id| self.bench.catalogue.find(id));
        let named = named.map(|salt| self.bench.stock(salt));
        let is_acid = |stock: &Stock| {
            let salt = self.bench.salt(stock);
            salt.kind == Kind::Acid && !salt.own_product
        };
        named.chain(self.bench.shelf.iter().copied()).filter(is_acid)
    }

    /// The least grams of an acid in a litre that keep a bottle clear.
    fn least_acid(&self, salts: &[usize], acid: Stock) -> Option<f64> {
        let clear = |grams: f64| self.clouds_with(salts, Some((acid, grams))).is_none();
        if !clear(MOST_ACID_G_PER_L) {
            return None;
        }
        let (mut low, mut high) = (0.0, MOST_ACID_G_PER_L);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if clear(middle) { high = middle } else { low = middle }
        }
        // rounded up to what is printed
        Some(high * 1.05)
    }
}

/// What is asked of a bottle, asked once of each, whatever the order of its salts.
fn asked_once<T: Copy>(ask: impl Fn(&[usize]) -> T) -> impl Fn(&[usize]) -> T {
    let known: RefCell<BTreeMap<Vec<usize>, T>> = RefCell::default();
    move |salts| {
        let mut key = salts.to_vec();
        key.sort_unstable();
        if let Some(known) = known.borrow().get(&key) {
            return *known;
        }
        let found = ask(&key);
        known.borrow_mut().insert(key, found);
        found
    }
}
