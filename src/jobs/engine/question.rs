//! A formula as a question to the fit: which parts may answer it, and what they cost.

use serde::{Deserialize, Serialize};

use crate::bench::{Bench, Formula, Helper, Stock, Wish};
use crate::fit::{Column, Conducts, EcLimits, Problem, Want};
use crate::jobs::error::JobError;
use crate::matter::{Kind, Nutrient, Nutrients, Salt};
use crate::quantity::{MeterScale, milliliter};
use crate::safety::{Substance, never_in_one_mix};
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, ms_per_cm};
use crate::tank::instrument::{grams_of, smallest};
use crate::tank::parts::{Part, Parts};

/// Urea from so much on is in a tank, ppm: own choice.
const UREA_PPM: f64 = 0.01;

/// What the third wish is, after the least misfit and the least unasked chloride and sodium.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Prefer {
    /// The least cost; every salt that may take part needs a price.
    Cheap,
    /// The fewest salts that come as close.
    Few,
    /// The least mass.
    Light,
}

/// What else is wished of a mix.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct MixOptions {
    /// Adds the reading of a meter that shows a dissolved-solids scale instead of EC.
    pub meter: Option<MeterScale>,
    /// The most salts of the shelf that may go in; bottles already made and the acid are not counted.
    pub salts_at_most: Option<usize>,
    /// The third wish.
    pub prefer: Option<Prefer>,
    /// Leaves out why targets are missed, what would help, and the dose of an acid on the basis that is not asked for.
    pub without_reasons: bool,
}

/// A formula, and what may answer it.
pub(crate) struct Question<'a> {
    pub(crate) tank: Tank<'a>,
    pub(crate) formula: &'a Formula,
    pub(crate) parts: Parts<'a>,
    pub(crate) mixture: Mixture<'a>,
    /// Positions of the acids among the parts.
    pub(crate) acids: Vec<usize>,
    /// Names of salts of the shelf that take no part, since they must not meet the acid.
    pub(crate) kept_out: Vec<String>,
    /// True where the acids of the bench take no part.
    pub(crate) is_without_acid: bool,
    /// What is asked of the exact amounts.
    pub(crate) wants: Vec<Want>,
    /// True when cost is the third wish, else mass.
    priced: bool,
}

/// The formula called `name`.
pub(crate) fn formula<'a>(bench: &'a Bench, name: &str) -> Result<&'a Formula, JobError> {
    bench.formula(name).ok_or_else(|| JobError::UnknownFormula {
        name: name.to_owned(),
        known: bench.formulas.iter().map(|formula| formula.name.clone()).collect(),
        suggestion: crate::suggest::nearest(name, bench.formulas.iter().map(|f| f.name.as_str())).map(str::to_owned),
    })
}

impl<'a> Question<'a> {
    /// The shelf, the bottles already made, and the acid, asked for a formula. A salt that must not meet the acid takes no part.
    pub(crate) fn new(tank: Tank<'a>, formula: &'a Formula, prefer: Option<Prefer>) -> Result<Self, JobError> {
        Self::asked(tank, formula, prefer, true)
    }

    /// The same, where the acid takes no part.
    pub(crate) fn without_acid(tank: Tank<'a>, formula: &'a Formula, prefer: Option<Prefer>) -> Result<Self, JobError> {
        Self::asked(tank, formula, prefer, false)
    }

    fn asked(tank: Tank<'a>, formula: &'a Formula, prefer: Option<Prefer>, with_acid: bool) -> Result<Self, JobError> {
        let bench = tank.bench;
        let acid_ids: &[String] = bench.acid.as_ref().filter(|_| with_acid).map_or(&[], |acid| &acid.salts);
        let silicon = formula.wish(Nutrient::Si).is_some_and(|wish| wish.target.is_some() || wish.min.is_some());
        let takes_part = |parts: &Parts, at: usize| match parts.kind(at) {
            _ if acid_ids.iter().any(|id| id == parts.id(at)) => false,
            Kind::Salt | Kind::Chelate => true,
            Kind::Silicate => silicon,
            Kind::Acid | Kind::Base => false,
        };
        // a salt that has run out is none of the shelf's, and may be proposed again
        let is_there = |stock: &Stock| stock.on_hand.is_none_or(|mass| grams_of(mass) > 0.0);
        let meets = |stock: &Stock| with_acid && must_not_meet_acid(bench, bench.salt(stock));
        let kept_out = bench.shelf.iter().filter(|stock| is_there(stock) && meets(stock));
        let kept_out = kept_out.map(|stock| bench.salt(stock).name.clone()).collect();
        let shelf = bench.shelf.iter().copied().filter(|stock| is_there(stock) && !meets(stock)).map(Part::Salt);
        let bottles = (0..bench.helpers.len()).filter(|&at| can_be_drawn(bench, &bench.helpers[at])).map(Part::Helper);
        let everything = Parts::new(bench, shelf.chain(bottles).collect());
        let mut list: Vec<Part> =
            (0..everything.list.len()).filter(|&at| takes_part(&everything, at)).map(|at| everything.list[at]).collect();
        let others = list.len();
        // what is in the tank already cannot be kept out
        let urea = holds_urea(&tank.before.ppm);
        let meets_urea = |part: &Part| match part {
            Part::Salt(stock) => urea && is_nitric(bench, bench.salt(stock)),
            Part::Helper(at) => {
                let of_it = Parts::new(bench, vec![Part::Helper(*at)]);
                let salts = of_it.contents(0).salts;
                urea && salts.iter().any(|(salt, _)| is_nitric(bench, bench.catalogue.salt(*salt)))
            }
        };
        list.extend(acid_ids.iter().filter_map(|id| acid_part(bench, id)).filter(|part| !meets_urea(part)));
        // a dose of what leaves its alkalinity open would be blind
        let all = Parts::new(bench, list);
        let doses = |at: usize| at < others || all.composition(at).open.alkalinity_eq <= 0.0;
        let list: Vec<Part> = (0..all.list.len()).filter(|&at| doses(at)).map(|at| all.list[at]).collect();
        let acids = (others..list.len()).collect();
        let parts = Parts { room: tank.room, ..Parts::new(bench, list) };
        let unpriced: Vec<String> = stocks(&parts)
            .filter(|stock| stock.price_per_g.is_none())
            .map(|stock| bench.salt(&stock).name.clone())
            .collect();
        if prefer == Some(Prefer::Cheap) && !unpriced.is_empty() {
            return Err(JobError::NoPrice { names: unpriced });
        }
        let priced = unpriced.is_empty() && prefer != Some(Prefer::Light);
        let mixture = Mixture::new(&tank, &parts);
        let is_without_acid = !with_acid;
        Ok(Self { tank, formula, parts, mixture, acids, kept_out, is_without_acid, wants: wants(formula), priced })
    }

    /// Just these parts, without acid.
    pub(crate) fn of_parts(tank: Tank<'a>, formula: &'a Formula, parts: Parts<'a>) -> Self {
        let mixture = Mixture::new(&tank, &parts);
        let wants = wants(formula);
        let (acids, kept_out) = (Vec::new(), Vec::new());
        Self { tank, formula, parts, mixture, acids, kept_out, is_without_acid: false, wants, priced: false }
    }

    /// The same question with other parts, asked of what is measured out.
    pub(crate) fn with_parts(&self, parts: Parts<'a>) -> Self {
        let (tank, formula) = (self.tank.clone(), self.formula);
        let mixture = Mixture::new(&tank, &parts);
        Self {
            tank,
            formula,
            parts,
            mixture,
            acids: self.acids.clone(),
            kept_out: self.kept_out.clone(),
            is_without_acid: self.is_without_acid,
            wants: wants(formula),
            priced: self.priced,
        }
    }

    /// The bench whose tank it is.
    pub(crate) fn bench(&self) -> &'a Bench {
        self.tank.bench
    }

    /// Volume of the tank, L.
    pub(crate) fn litres(&self) -> f64 {
        self.tank.litres()
    }

    /// The problem of the fit; `conducts` tells EC: the mixture itself, or its tangent.
    pub(crate) fn problem<'q>(&'q self, conducts: &'q dyn Conducts) -> Problem<'q> {
        let formula = self.formula;
        Problem {
            columns: (0..self.parts.list.len())
                .map(|at| Column {
                    ppm_per_g_per_l: self.mixture.ppm_per_g_per_l(at),
                    most_g_per_l: self.parts.most(at).map(|most| most / self.litres()),
                    cost_per_g: match self.parts.list[at] {
                        Part::Salt(stock) => stock.price_per_g.filter(|_| self.priced).unwrap_or(1.0),
                        // what is made is paid for and weighed already
                        Part::Helper(_) => 0.0,
                    },
                })
                .collect(),
            water_ppm: self.tank.before.ppm,
            wants: self.wants.clone(),
            ammonium_share: formula.ammonium_share,
            ec: formula.ec.is_any().then(|| EcLimits {
                min_ms_per_cm: formula.ec.min.map(ms_per_cm),
                max_ms_per_cm: formula.ec.max.map(ms_per_cm),
                conducts,
            }),
            ph: None,
            sparing: Vec::new(),
            waters: Vec::new(),
            near: None,
        }
    }
}

impl Conducts for Mixture<'_> {
    fn ec_ms_per_cm(&self, g_per_l: &[f64]) -> f64 {
        self.ec(g_per_l)
    }

    fn slope_ms_per_cm(&self, g_per_l: &[f64]) -> Vec<f64> {
        self.ec_slope(g_per_l)
    }
}

fn stocks<'p>(parts: &'p Parts) -> impl Iterator<Item = Stock> + use<'p> {
    parts.list.iter().filter_map(|part| match part {
        Part::Salt(stock) => Some(*stock),
        Part::Helper(_) => None,
    })
}

/// True when as much is left of a bottle as the syringe can be trusted with.
pub(crate) fn can_be_drawn(bench: &Bench, helper: &Helper) -> bool {
    let least = smallest(bench, Some(1.0));
    helper.left.is_none_or(|left| milliliter(left) >= least * (1.0 - 1e-9))
}

/// True for what is kept out of a mix for the acid that the bench names.
pub(crate) fn must_not_meet_acid(bench: &Bench, salt: &Salt) -> bool {
    let catalogue = &bench.catalogue;
    let of = |salt: &Salt| Substance::of(salt, catalogue.ions(), catalogue.salts());
    let acids = bench.acid.iter().flat_map(|acid| &acid.salts).filter_map(|id| catalogue.find(id));
    acids.map(|acid| catalogue.salt(acid)).any(|acid| never_in_one_mix(&of(acid), &of(salt)))
}

/// True for a content with urea in it.
pub(crate) fn holds_urea(ppm: &Nutrients) -> bool {
    ppm[Nutrient::UreaN] > UREA_PPM
}

/// Names of the acids of `[acid]` that must not meet the urea of a content.
pub(crate) fn kept_from_urea(bench: &Bench, ppm: &Nutrients) -> Vec<String> {
    let acids = bench.acid.iter().flat_map(|acid| &acid.salts).filter_map(|id| bench.catalogue.find(id));
    let acids = acids.map(|id| bench.catalogue.salt(id)).filter(|acid| holds_urea(ppm) && is_nitric(bench, acid));
    acids.map(|acid| acid.name.clone()).collect()
}

pub(crate) fn is_nitric(bench: &Bench, salt: &Salt) -> bool {
    Substance::of(salt, bench.catalogue.ions(), bench.catalogue.salts()).nitric_acid
}

/// An acid: a salt, listed on the shelf or not, or a bottle.
pub(crate) fn acid_part(bench: &Bench, id: &str) -> Option<Part> {
    let salt = bench.catalogue.find(id).map(|salt| Part::Salt(bench.stock(salt)));
    salt.or_else(|| bench.helpers.iter().position(|helper| helper.id == id).map(Part::Helper))
}

/// What a formula asks.
pub(crate) fn wants(formula: &Formula) -> Vec<Want> {
    formula.wishes.iter().map(want).collect()
}

fn want(wish: &Wish) -> Want {
    let [target_ppm, min_ppm, max_ppm] = wish.in_ppm();
    Want { nutrient: wish.nutrient, target_ppm, min_ppm, max_ppm, weight: wish.weight }
}
