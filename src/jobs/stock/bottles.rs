//! The bottles of a formula: which salts share one, how strong each is, and what it is filled with.

use uom::si::thermodynamic_temperature::degree_celsius;

use super::StockOptions;
use super::bottle::{Filled, chemistry, fill, making};
use super::dissolve::{Crystals, Limit};
use super::record::{BottleChemistry, KeptApart};
use super::share::{Portion, Shares};
use crate::bench::{Bench, Helper};
use crate::catalogue::SaltId;
use crate::jobs::engine::clear::Judge;
use crate::jobs::record::Step;
use crate::quantity::{milliliter, whole_steps};
use crate::safety::{self, Finding};
use crate::tank::instrument::grams_of;
use crate::tank::parts::{Contents, Part, Parts};

/// The bottles of a formula.
pub(super) struct Bottles {
    /// Those of the bench, then the new ones in the order in which they are made.
    pub(super) helpers: Vec<Helper>,
    pub(super) bottles: Vec<Bottle>,
    pub(super) kept_apart: Vec<KeptApart>,
    pub(super) findings: Vec<Finding>,
}

impl Bottles {
    /// Pure water that a litre of tank gets from them, L.
    pub(super) fn pure_water(&self, bench: &Bench) -> f64 {
        let parts = Parts { helpers: self.helpers.clone(), ..Parts::new(bench, Vec::new()) };
        let of = |bottle: &Bottle| parts.of_helper(bottle.helper).pure_water_ml * bottle.ml_per_l * 1e-3;
        self.bottles.iter().map(of).sum()
    }
}

pub(super) struct Bottle {
    pub(super) helper: usize,
    /// Salts in it, by position among the bottled.
    salts: Vec<usize>,
    /// Exact contents, g/L of bottle.
    pub(super) g_per_l: Vec<(SaltId, f64)>,
    pub(super) strength: f64,
    pub(super) ml_per_l: f64,
    pub(super) limit: Option<Limit>,
    pub(super) limited: bool,
    pub(super) making: Vec<Step>,
    pub(super) left_out: Vec<String>,
    pub(super) chemistry: Option<BottleChemistry>,
}

/// Splits, sizes and fills the bottles.
pub(super) fn bottles(
    bench: &Bench,
    formula: &str,
    how: &StockOptions,
    bottled: &[Portion],
    crystals: &Crystals,
) -> Bottles {
    let judge = Judge::new(bench, how.coldest);
    let shares = Shares { bench, how, bottled, crystals, judge: &judge };
    let split = shares.split();
    let step = milliliter(bench.syringe.step);
    let mut made =
        Bottles { helpers: bench.helpers.clone(), bottles: Vec::new(), kept_apart: Vec::new(), findings: Vec::new() };
    for (at, salts) in split.iter().enumerate() {
        let limit = shares.limit(salts);
        let strongest = limit.map_or(how.strength, |limit| limit.times.min(how.strength));
        // a litre of tank takes whole steps, so the bottle is a little weaker rather than stronger
        let ml_per_l = whole_steps((1e3 / strongest / step - 1e-9).ceil().max(1.0), step);
        let strength = 1e3 / ml_per_l;
        let g_per_l: Vec<(SaltId, f64)> = shares.of_tank(salts).into_iter().map(|(salt, g)| (salt, g * strength)).collect();
        let Filled { helper, findings, left_out } = fill(bench, &mut made.helpers, &id(formula, at), how.bottle, &g_per_l);
        made.findings.extend(findings);
        let limited = strongest < how.strength * (1.0 - 1e-9);
        let making = making(bench, &made.helpers, helper, how.bottle);
        let chemistry = chemistry(bench, &judge, &made.helpers[helper], &g_per_l);
        let salts = salts.clone();
        made.bottles.push(Bottle {
            helper,
            salts,
            g_per_l,
            strength,
            ml_per_l,
            limit,
            limited,
            making,
            left_out,
            chemistry,
        });
    }
    for (at, first) in made.bottles.iter().enumerate() {
        for second in &made.bottles[at + 1..] {
            let name = |at: usize| bench.salt(&bottled[at].stock).name.clone();
            let ids = (made.helpers[first.helper].id.clone(), made.helpers[second.helper].id.clone());
            made.findings.extend(shares.acid_wanted((&ids.0, &ids.1), &first.salts, &second.salts));
            let reason = shares.apart(&first.salts, &second.salts);
            made.kept_apart.extend(reason.map(|((a, b), why)| KeptApart {
                first: ids.0,
                second: ids.1,
                salts: (name(a), name(b)),
                why,
            }));
        }
    }
    made.findings.extend(told(bench, how, &made));
    made
}

/// What is to be known of the bottles: weaker than asked for, more than is on the shelf.
fn told(bench: &Bench, how: &StockOptions, made: &Bottles) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut needed = Contents::default();
    for bottle in &made.bottles {
        let id = &made.helpers[bottle.helper].id;
        let limit = bottle.limit.filter(|_| bottle.limited);
        found.extend(limit.map(|limit| {
            let salt = bench.catalogue.salt(limit.salt);
            let source = salt.solubility.as_ref().map(|solubility| solubility.source.as_str());
            let coldest = how.coldest.get::<degree_celsius>();
            safety::stock_weaker(id, bottle.strength, how.strength, &salt.name, coldest, source)
        }));
        let parts = Parts { helpers: made.helpers.clone(), ..Parts::new(bench, vec![Part::Helper(bottle.helper)]) };
        for (salt, per_ml) in parts.contents(0).salts {
            needed.add(salt, per_ml * milliliter(how.bottle));
        }
    }
    found.extend(needed.salts.into_iter().filter_map(|(salt, grams)| {
        let on_hand = grams_of(bench.stock(salt).on_hand?);
        (grams > on_hand * (1.0 + 1e-9)).then(|| safety::stock_runs_short(&bench.catalogue.salt(salt).name, grams, on_hand))
    }));
    found
}

/// What a bottle is called: the formula and a letter, or a number beyond them, in the shape that ids of the bench file have.
fn id(formula: &str, at: usize) -> String {
    let letter = ('a'..='z').nth(at).map_or_else(|| (at + 1).to_string(), String::from);
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let name: String = formula.chars().map(plain).collect();
    let words: Vec<&str> = name.split('-').filter(|word| !word.is_empty()).collect();
    let begins_well = words.first().is_some_and(|word| word.starts_with(|c: char| c.is_ascii_lowercase()));
    let name = if begins_well { words.join("-") } else { "stock".to_owned() };
    format!("{name}-{letter}")
}

/// True for the bottle of a salt that goes by itself.
pub(super) fn holds(bench: &Bench, bottle: &Bottle, id: &str) -> bool {
    bottle.g_per_l.iter().any(|(salt, _)| bench.catalogue.salt(*salt).id == id)
}
