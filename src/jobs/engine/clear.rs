//! Whether what shares a bottle stays clear in it: what must never meet, and beyond it the chemistry of the whole bottle.
//!
//! The trade makes two bottles, one of them acid by its phosphate (Hochmuth and Hochmuth, University of Florida IFAS, CV216).

use std::cell::OnceCell;

use uom::si::thermodynamic_temperature::degree_celsius;

use crate::bench::Bench;
use crate::matter::{Nutrient, Water};
use crate::quantity::{Temperature, fixed, significant};
use crate::safety::{MODEL_REACH_MOL_PER_KG, Stored, kept_apart_without_phosphate};
use crate::solution::{self, Air, InBottles, Speciation, speciate};
use crate::tank::Tank;
use crate::tank::chemistry::Mixture;
use crate::tank::parts::Parts;

/// Phosphate keeps trace metals in a bottle under this pH, and magnesium where the model does not reach: the published
/// bottles have about 4.3.
pub(crate) const ACID_ENOUGH_PH: f64 = 4.8;

/// Judges bottles that are made with the water of a bench, or with pure water, and stand in the cold.
pub(crate) struct Judge<'a> {
    bench: &'a Bench,
    pure: OnceCell<Bench>,
    coldest_c: f64,
}

/// What a bottle is.
pub(crate) struct InBottle {
    pub(crate) fresh: Speciation,
    /// False where products leave the alkalinity open.
    pub(crate) ph_known: bool,
}

impl InBottle {
    /// True where the chemistry model is good for it.
    pub(crate) fn within_reach(&self) -> bool {
        self.fresh.ionic_strength_mol_per_kg <= MODEL_REACH_MOL_PER_KG.1
    }
}

/// Why a bottle does not stay clear.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Clouds {
    /// Two parts of it.
    pub(crate) parts: (usize, usize),
    pub(crate) why: String,
    /// True where acid would keep it clear.
    pub(crate) acid_helps: bool,
}

impl<'a> Judge<'a> {
    pub(crate) fn new(bench: &'a Bench, coldest: Temperature) -> Self {
        Self { bench, pure: OnceCell::new(), coldest_c: coldest.get::<degree_celsius>() }
    }

    /// What these amounts in a litre of bottle come to.
    ///
    /// * `pure`: made with pure water
    pub(crate) fn in_bottle(&self, parts: &Parts, per_l: &[f64], pure: bool) -> Option<InBottle> {
        let bench = if pure {
            self.pure.get_or_init(|| Bench {
                water: Water::default(),
                blend: Vec::new(),
                waters: Vec::new(),
                ..self.bench.clone()
            })
        } else {
            self.bench
        };
        let parts = Parts { bench, room: parts.room, helpers: parts.helpers.clone(), list: parts.list.clone() };
        let mixture = Mixture::new(&Tank::fresh(bench).ok()?, &parts);
        let fresh = mixture.solution(per_l).ok()?.fresh;
        Some(InBottle { fresh, ph_known: mixture.alkalinity_known(per_l) })
    }

    /// Why a bottle of these amounts in a litre clouds, beyond what two of it do to each other by themselves; `None` where it
    /// stays clear.
    pub(crate) fn clouds(&self, parts: &Parts, per_l: &[f64], pure: bool) -> Option<Clouds> {
        let salts: Vec<_> = (0..parts.list.len()).map(|at| (parts.kind(at), parts.composition(at))).collect();
        let stored: Vec<Stored> = salts.iter().map(|(kind, composition)| Stored::new(*kind, composition, false)).collect();
        let first = |of: &dyn Fn(&Stored) -> bool| stored.iter().position(of);
        let Some(phosphate) = first(&|s| s.brings(Nutrient::P)) else {
            let pairs = (0..stored.len()).flat_map(|a| (a + 1..stored.len()).map(move |b| (a, b)));
            return pairs.into_iter().find_map(|(a, b)| {
                let why = kept_apart_without_phosphate(stored[a], stored[b])?.to_owned();
                Some(Clouds { parts: (a, b), why, acid_helps: false })
            });
        };
        let metal = first(&|s| s.bare_metal());
        let other = metal.or_else(|| first(&|s| s.brings(Nutrient::Mg)))?;
        let parts_of = (phosphate, other);
        let Some(bottle) = self.in_bottle(parts, per_l, pure).filter(|bottle| bottle.ph_known) else {
            let why = "how acid phosphate would be with metals and magnesium is not known".to_owned();
            return Some(Clouds { parts: parts_of, why, acid_helps: false });
        };
        let ph = bottle.fresh.ph;
        if ph >= ACID_ENOUGH_PH && (metal.is_some() || !bottle.within_reach()) {
            let why = format!(
                "phosphate takes metals and magnesium out where it is not acid: together they have pH {}, and it takes less \
                 than {ACID_ENOUGH_PH}",
                fixed(ph, 1)
            );
            return Some(Clouds { parts: parts_of, why, acid_helps: true });
        }
        let (name, index) = bottle.within_reach().then(|| self.falls_out(&bottle)).flatten()?;
        let why = format!(
            "{name} would fall out: at pH {} its saturation index is {} at {} C",
            fixed(ph, 1),
            fixed(index, 1),
            significant(self.coldest_c, 2)
        );
        Some(Clouds { parts: parts_of, why, acid_helps: true })
    }

    /// The solid that is furthest above saturation among those that may decide.
    fn falls_out(&self, bottle: &InBottle) -> Option<(&'a str, f64)> {
        let of = |mineral: &'a solution::Mineral| {
            let allowed = match mineral.in_bottles {
                InBottles::Decides => 0.0,
                InBottles::DecidesAgainstCopperAlone => self.copper_alone(mineral, &bottle.fresh)?.max(0.0),
                _ => return None,
            };
            let index = solution::saturation_at(mineral, &bottle.fresh, self.coldest_c)?;
            (index > allowed).then_some((mineral.name.as_str(), index))
        };
        self.bench.catalogue.minerals().iter().filter_map(of).max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The index of a mineral in copper sulfate alone, as much copper as in the bottle.
    fn copper_alone(&self, mineral: &solution::Mineral, bottle: &Speciation) -> Option<f64> {
        let catalogue = &self.bench.catalogue;
        let (ions, chemistry) = (catalogue.ions(), catalogue.chemistry());
        let (copper, sulfate) = (ions.find("Cu+2")?, ions.find("SO4-2")?);
        let master = chemistry.master("Cu+2")?;
        let of = |species: &solution::Species| {
            species.masters.iter().filter(|(one, _)| *one == master).map(|(_, count)| count).sum::<f64>()
        };
        let total: f64 = chemistry.species.iter().zip(&bottle.mol_per_kg).map(|(species, m)| of(species) * m).sum();
        let mut mmol = vec![0.0; ions.rows().len()];
        for ion in [copper, sulfate] {
            mmol[ion.0] = total * 1e3 / solution::LITRES_PER_KG;
        }
        let alone = speciate(chemistry, &chemistry.totals(ions, &mmol), Air::Closed).ok()?;
        solution::saturation_at(mineral, &alone, self.coldest_c)
    }
}
