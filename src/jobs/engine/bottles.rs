//! New dilute bottles for what is too little to measure: how much into which bottle, and what of it goes into the tank.

use uom::si::mass::gram as in_grams;

use super::bottle_names;
use crate::bench::{Helper, Ingredient};
use crate::fit::Ladder;
use crate::jobs::engine::clear::Judge;
use crate::jobs::engine::ladder::ladder;
use crate::matter::{Composition, IonId, Kind, Nutrient, Water};
use crate::quantity::{Amount, Mass, Volume, celsius, liter, milliliter};
use crate::safety::{Stored, better_apart, kept_apart};
use crate::tank::instrument::smallest;
use crate::tank::parts::{Part, Parts};

/// About how many tanks a bottle should serve: own choice, some months of use.
const TANKS: f64 = 20.0;
/// A bottle holds no more of a salt than this share of what dissolves in the cold: own choice.
const OF_SOLUBILITY: f64 = 0.5;
/// How cold a bottle may stand, C: own choice.
const COLDEST_C: f64 = 10.0;
/// The most of a salt without a published solubility, g/mL: own choice.
pub(crate) const UNKNOWN_SOLUBILITY: f64 = 0.01;
/// The most that a bottle holds of everything together, g/mL: own choice. Stronger ones burn, fall out and are dosed in drops.
const STRONGEST: f64 = 0.1;
/// The most tanks that a bottle may serve: own choice, nobody mixes that many before it is too old.
const MOST_TANKS: f64 = 5_000.0;
/// Bottles are made up with pure water where the bench's own has more alkalinity than this, meq/L: own choice. It takes
/// metals and phosphate out.
const HARD_MEQ_PER_L: f64 = 0.5;
/// What is drawn up of liquids fills no more than this share of a bottle: the rest is water (own choice).
const OF_BOTTLE: f64 = 0.8;
/// A dose from a bottle stays under this share of the tank.
const OF_TANK: f64 = 0.1;

/// A bottle that is proposed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Proposed {
    /// Position among the helpers of the parts.
    pub(crate) helper: usize,
    /// Parts that it stands in for; none for a bottle from which only another is made.
    pub(crate) serves: Vec<usize>,
    /// About what of it goes into the tank, mL; or into the bottle that is made of it.
    pub(crate) dose_ml: f64,
}

/// Something too small to measure.
#[derive(Debug, Clone)]
struct Small {
    part: usize,
    /// For the whole tank, in the unit of the part.
    dose: f64,
    smallest: f64,
    composition: Composition,
    kind: Kind,
    own_product: bool,
    /// What a millilitre of a bottle may hold of it, in its unit.
    dissolves: f64,
    most: Option<f64>,
}

/// How a group of them is made up.
#[derive(Debug, Clone, PartialEq)]
struct Design {
    /// Volume of the bottle that is dosed from, and of the one before it where it takes two.
    bottle_ml: f64,
    before: Option<Before>,
    dose_ml: f64,
    /// Amounts in the first bottle, in whole steps.
    amounts: Vec<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Before {
    bottle_ml: f64,
    /// What of it goes into the second bottle, mL.
    dose_ml: f64,
}

/// Bottles for every part whose dose is too small; they are added to the helpers of `parts` and to its list.
///
/// * `doses`: for the whole tank, in the unit of each part
pub(crate) fn propose(parts: &mut Parts, doses: &[f64]) -> Vec<Proposed> {
    let small: Vec<Small> = (0..doses.len())
        .filter(|&at| parts.too_small(at, doses[at]) && !is_strong(parts, at))
        .map(|at| small(parts, at, doses[at]))
        .collect();
    let mut groups: Vec<(Vec<Small>, Design)> = Vec::new();
    // the smallest first: they decide how far a bottle must be diluted
    let mut order = small;
    order.sort_by(|a, b| (b.smallest / b.dose).total_cmp(&(a.smallest / a.dose)).then(a.part.cmp(&b.part)));
    let judge = Judge::new(parts.bench, celsius(COLDEST_C));
    for one in order {
        let Some(alone) = design(parts, std::slice::from_ref(&one)) else { continue };
        let may_join = |(group, design_of): &(Vec<Small>, Design)| {
            let mut all = group.clone();
            all.push(one.clone());
            let fits = group.iter().all(|other| kept_apart(stored(other), stored(&one)).is_none());
            // sharing must not take a second bottle that neither takes by itself
            let two = design_of.before.is_some() || alone.before.is_some();
            let shared = fits.then(|| design(parts, &all)).flatten().filter(|shared| shared.before.is_none() || two);
            shared.is_some_and(|shared| stays_clear(&judge, parts, &all, &shared))
        };
        let easy = |group: &[Small]| !group.iter().any(|other| better_apart(stored(other), stored(&one)));
        // the last that it may join: copper opens a bottle beside molybdate, and the other metals go with copper
        let joined =
            groups.iter().rposition(|group| easy(&group.0) && may_join(group)).or_else(|| groups.iter().rposition(may_join));
        match joined {
            Some(at) => {
                groups[at].0.push(one);
                if let Some(shared) = design(parts, &groups[at].0) {
                    groups[at].1 = shared;
                }
            }
            None => groups.push((vec![one], alone)),
        }
    }
    let mut proposed = Vec::new();
    for (group, design) in groups {
        add(parts, &group, &design, &mut proposed);
    }
    proposed
}

/// Of the proposed bottles those that are drawn from, and those from which these are made.
pub(crate) fn needed(parts: &Parts, proposed: Vec<Proposed>, drawn: impl Fn(usize) -> bool) -> Vec<Proposed> {
    let source_of = |helper: usize| parts.helpers[helper].made_of.iter().map(|(ingredient, _)| *ingredient);
    let kept: Vec<usize> = proposed.iter().map(|one| one.helper).filter(|&helper| drawn(helper)).collect();
    let is_source = |helper: usize| kept.iter().any(|&other| source_of(other).any(|of| of == Ingredient::Helper(helper)));
    proposed.into_iter().filter(|one| kept.contains(&one.helper) || is_source(one.helper)).collect()
}

/// True for an acid or base that burns, or may: thinning it is not proposed, a ready-diluted one is bought.
pub(crate) fn is_strong(parts: &Parts, at: usize) -> bool {
    parts.salt(at).is_some_and(|salt| {
        let unknown = salt.own_product && matches!(salt.kind, Kind::Acid | Kind::Base);
        unknown || salt.hazards.burns()
    })
}

fn stored(small: &Small) -> Stored<'_> {
    Stored::new(small.kind, &small.composition, small.own_product)
}

/// True where a group stays clear in the bottle that it is weighed into, and in the thinner one made of that.
fn stays_clear(judge: &Judge, parts: &Parts, group: &[Small], design: &Design) -> bool {
    let of = Parts { list: group.iter().map(|small| parts.list[small.part]).collect(), ..parts.clone() };
    let in_bottle = |ml: f64, share: f64| {
        let per_l: Vec<f64> = design.amounts.iter().map(|amount| amount * share / ml * 1e3).collect();
        judge.clouds(&of, &per_l, wants_pure(parts)).is_none()
    };
    match design.before {
        None => in_bottle(design.bottle_ml, 1.0),
        Some(before) => in_bottle(before.bottle_ml, 1.0) && in_bottle(design.bottle_ml, before.dose_ml / before.bottle_ml),
    }
}

/// True for water that is hard, or may be.
pub(crate) fn is_hard(water: &Water) -> bool {
    water.unstated_ms_per_cm > 0.0 || water.alkalinity_meq_per_l.is_some_and(|meq| meq > HARD_MEQ_PER_L)
}

/// True where dilute bottles are made with pure water.
fn wants_pure(parts: &Parts) -> bool {
    is_hard(&parts.bench.water)
}

fn small(parts: &Parts, at: usize, dose: f64) -> Small {
    let density = parts.density(at);
    let smallest = smallest(parts.bench, density);
    let dissolves = match parts.salt(at) {
        None => f64::INFINITY,
        Some(salt) if salt.is_liquid() => f64::INFINITY,
        Some(salt) => {
            salt.solubility.as_ref().map_or(UNKNOWN_SOLUBILITY, |s| OF_SOLUBILITY * s.at_least_g_per_l(COLDEST_C) * 1e-3)
        }
    };
    Small {
        part: at,
        dose,
        smallest,
        composition: parts.composition(at),
        kind: parts.kind(at),
        own_product: parts.salt(at).is_some_and(|salt| salt.own_product),
        dissolves,
        most: parts.most(at),
    }
}

/// Volumes that read well on a syringe or jug, mL.
fn round_volumes(drawn: &Ladder, most: f64) -> Vec<f64> {
    let mut volumes = Vec::new();
    let mut ten = 0.1;
    while ten <= most {
        volumes.extend([1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0].map(|times| times * ten));
        ten *= 10.0;
    }
    volumes.retain(|volume| *volume <= most && (drawn.amount(drawn.nearest(*volume)) - volume).abs() < 1e-9);
    volumes
}

/// The volume in whole steps between `low` and `high` that is nearest to `wished`, a round one where there is one.
fn volume_between(drawn: &Ladder, low: f64, high: f64, wished: f64) -> Option<f64> {
    if low > high * (1.0 + 1e-9) {
        return None;
    }
    let nearness = |volume: f64| libm::log(volume / wished).abs();
    let inside = |volume: &f64| *volume >= low * (1.0 - 1e-9) && *volume <= high * (1.0 + 1e-9);
    let round = round_volumes(drawn, high).into_iter().filter(inside).min_by(|a, b| nearness(*a).total_cmp(&nearness(*b)));
    let plain = drawn.at_most(wished.clamp(low, high.max(low)));
    let above = drawn.at_most(low * (1.0 - 1e-9)) + 1;
    let steps = [plain, above].into_iter().map(|rung| drawn.amount(rung)).find(inside);
    round.or(steps)
}

/// How a group is made up: in one bottle where that can be, else in two.
fn design(parts: &Parts, group: &[Small]) -> Option<Design> {
    let drawn = ladder(parts.bench, Some(1.0), None);
    let bottles = parts.bench.bottles.iter().map(|bottle| milliliter(*bottle)).collect();
    let sought = Sought { parts, group, drawn, bottles, most_ml: OF_TANK * parts.room_ml() };
    sought.in_one().or_else(|| sought.in_two())
}

/// A group that is to be made up, and with what.
struct Sought<'s, 'a> {
    parts: &'s Parts<'a>,
    group: &'s [Small],
    /// What draws up doses.
    drawn: Ladder,
    /// Sizes of bottles, mL.
    bottles: Vec<f64>,
    /// The most that a dose may be, mL.
    most_ml: f64,
}

impl Sought<'_, '_> {
    /// The least dose of a bottle of so many mL, thinned by `times` more before it reaches the tank: no more is in it than dissolves,
    /// or is on hand.
    fn lowest(&self, bottle_ml: f64, times: f64) -> f64 {
        let solid = |small: &&Small| self.parts.density(small.part).is_none();
        let solids: f64 = self.group.iter().filter(solid).map(|small| small.dose).sum();
        let of = |small: &Small| {
            let there_is = small.most.map_or(0.0, |most| small.dose * bottle_ml * times / most);
            (small.dose * times / small.dissolves).max(there_is)
        };
        let least = self.group.iter().map(of).fold(solids * times / STRONGEST, f64::max);
        least.max(self.drawn.smallest())
    }

    /// The largest dose: every amount in the bottle is large enough to measure.
    fn highest(&self, bottle_ml: f64, times: f64) -> f64 {
        let of = |small: &Small| small.dose * bottle_ml * times / small.smallest;
        self.group.iter().map(of).fold(bottle_ml, f64::min)
    }

    /// What is measured into it, in whole steps.
    fn amounts(&self, bottle_ml: f64, dose_ml: f64, times: f64) -> Option<Vec<f64>> {
        let of = |small: &Small| {
            let ladder = ladder(self.parts.bench, self.parts.density(small.part), small.most);
            let amount = ladder.amount(ladder.nearest(small.dose * bottle_ml * times / dose_ml));
            (amount > 0.0).then_some(amount)
        };
        self.group.iter().map(of).collect()
    }

    fn in_one(&self) -> Option<Design> {
        self.bottles.iter().find_map(|&bottle_ml| {
            let (low, high) = (self.lowest(bottle_ml, 1.0), self.highest(bottle_ml, 1.0).min(self.most_ml));
            let dose_ml = volume_between(&self.drawn, low, high, bottle_ml / TANKS)?;
            let amounts = self.amounts(bottle_ml, dose_ml, 1.0)?;
            self.sound(Design { bottle_ml, before: None, dose_ml, amounts })
        })
    }

    fn in_two(&self) -> Option<Design> {
        let pairs =
            self.bottles.iter().flat_map(|&first_ml| self.bottles.iter().map(move |&bottle_ml| (first_ml, bottle_ml)));
        let least = self.drawn.smallest();
        pairs
            .flat_map(|(first_ml, bottle_ml)| {
                // some twenty tanks to a bottle, or as many as the syringe allows, or as few as it takes to dissolve
                [bottle_ml / TANKS, least, 2.0 * least, 3.0 * least, 4.0 * least, 6.0 * least]
                    .map(|wished| (first_ml, bottle_ml, wished))
            })
            .find_map(|(first_ml, bottle_ml, wished)| {
                let dose_ml = volume_between(&self.drawn, least, self.most_ml.min(bottle_ml), wished)?;
                let times = bottle_ml / dose_ml;
                let (low, high) = (self.lowest(first_ml, times), self.highest(first_ml, times).min(0.5 * bottle_ml));
                let between = volume_between(&self.drawn, low, high, first_ml / TANKS)?;
                let amounts = self.amounts(first_ml, between, times)?;
                let before = Some(Before { bottle_ml: first_ml, dose_ml: between });
                self.sound(Design { bottle_ml, before, dose_ml, amounts })
            })
    }

    fn sound(&self, design: Design) -> Option<Design> {
        sound(self.parts, self.group, &design).then_some(design)
    }
}

/// True for a bottle that keeps under the strongest, dissolves whole, has room for its liquids and is not for more tanks than
/// anyone mixes.
fn sound(parts: &Parts, group: &[Small], design: &Design) -> bool {
    let first_ml = design.before.map_or(design.bottle_ml, |before| before.bottle_ml);
    let solids = group.iter().zip(&design.amounts).filter(|(small, _)| parts.density(small.part).is_none());
    let solids: Vec<(&Small, f64)> = solids.map(|(small, amount)| (small, amount / first_ml)).collect();
    let strength: f64 = solids.iter().map(|(_, per_ml)| per_ml).sum();
    // salts that share an ion hold each other back: together no more than one of them alone; a step of weighing over is none
    let has = |one: &Small, of: IonId| one.composition.ions.iter().any(|(ion, _)| *ion == of);
    let shares = |a: &Small, b: &Small| a.composition.ions.iter().any(|(ion, _)| has(b, *ion));
    let dissolved = |one: &Small| -> f64 {
        solids.iter().filter(|(other, _)| shares(one, other)).map(|(other, per_ml)| per_ml / other.dissolves).sum()
    };
    let liquids = group.iter().zip(&design.amounts).filter_map(|(small, amount)| Some(amount / parts.density(small.part)?));
    let has_room = liquids.sum::<f64>() <= OF_BOTTLE * first_ml;
    let first_tanks = design.before.map_or(1.0, |before| before.bottle_ml / before.dose_ml);
    let tanks = first_tanks * design.bottle_ml / design.dose_ml;
    has_room && strength <= STRONGEST * 1.05 && solids.iter().all(|(one, _)| dissolved(one) <= 1.05) && tanks <= MOST_TANKS
}

fn add(parts: &mut Parts, group: &[Small], design: &Design, proposed: &mut Vec<Proposed>) {
    let mut made_of: Vec<(Ingredient, Amount)> = Vec::new();
    for (small, amount) in group.iter().zip(&design.amounts) {
        made_of.push(match parts.list[small.part] {
            Part::Helper(helper) => (Ingredient::Helper(helper), Amount::Volume(millilitres(*amount))),
            Part::Salt(stock) => {
                let density = parts.bench.salt(&stock).density_kg_per_l;
                let amount = match density {
                    Some(density) => Amount::Volume(millilitres(amount / density)),
                    None => Amount::Mass(Mass::new::<in_grams>(*amount)),
                };
                (Ingredient::Salt(stock.salt), amount)
            }
        });
    }
    // in the order of the table, as every list of salts
    made_of.sort_by_key(|(ingredient, _)| match ingredient {
        Ingredient::Helper(at) => (0, *at),
        Ingredient::Salt(salt) => (1, salt.0),
    });
    let serves: Vec<usize> = group.iter().map(|small| small.part).collect();
    let name = bottle_names::name(parts, &serves);
    let helper = |parts: &mut Parts, ml: f64, made_of| {
        let volume = millilitres(ml);
        let made_with_pure_water = wants_pure(parts);
        let id = String::new();
        parts.helpers.push(Helper {
            id,
            volume,
            made_of,
            made_on: None,
            left: None,
            counted_on: None,
            made_with_pure_water,
        });
        let at = parts.helpers.len() - 1;
        parts.helpers[at].id = bottle_names::new_id(parts, at, &format!("{name}-{}", bottle_names::strength(parts, at)));
        at
    };
    if let Some(before) = design.before {
        let first = helper(parts, before.bottle_ml, made_of);
        proposed.push(Proposed { helper: first, serves: Vec::new(), dose_ml: before.dose_ml });
        made_of = vec![(Ingredient::Helper(first), Amount::Volume(millilitres(before.dose_ml)))];
    }
    let at = helper(parts, design.bottle_ml, made_of);
    parts.list.push(Part::Helper(at));
    proposed.push(Proposed { helper: at, serves, dose_ml: design.dose_ml });
}

fn millilitres(ml: f64) -> Volume {
    liter(ml * 1e-3)
}

/// For how many days a bottle keeps in the dark: common practice, no source.
pub(crate) fn keep_days(parts: &Parts, helper: usize) -> u32 {
    let contents = parts.of_helper(helper);
    let days = contents.salts.iter().map(|(salt, _)| {
        let salt = parts.bench.catalogue.salt(*salt);
        let of = |nutrient| salt.composition.nutrients[nutrient] > 0.0;
        match salt.kind {
            Kind::Acid => 365,
            // bare iron rusts and falls out within days
            Kind::Salt if of(Nutrient::Fe) => 7,
            Kind::Chelate => 90,
            Kind::Salt if salt.own_product => 30,
            // what feeds algae and microbes
            Kind::Salt if of(Nutrient::P) || of(Nutrient::N) || of(Nutrient::K) => 60,
            _ => 180,
        }
    });
    days.min().unwrap_or(30)
}
