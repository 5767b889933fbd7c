//! How strong a bottle of several salts may be before the first of them crystallises in the cold.
//!
//! At these strengths the chemistry model does not reach; what speaks is the published solubility of each salt by itself,
//! with the ions that all salts of the bottle share counted together.

use uom::si::thermodynamic_temperature::degree_celsius;

use crate::bench::Bench;
use crate::catalogue::SaltId;
use crate::jobs::engine::bottles::UNKNOWN_SOLUBILITY;
use crate::matter::IonId;
use crate::quantity::Temperature;
use crate::tank::parts::Parts;

/// A bottle stays under this share of saturation: own choice, for a colder night, water that evaporates and slips of weighing.
const OF_SATURATION: f64 = 0.8;

/// A salt as a solid that may crystallise.
struct Solid {
    salt: SaltId,
    /// Its ions: share of the formula unit, and mol/L in its own saturated solution.
    ions: Vec<(IonId, f64, f64)>,
}

/// What crystallises first, and from which strength on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limit {
    pub(super) salt: SaltId,
    /// How many times as strong as given a solution may be.
    pub(super) times: f64,
}

/// The solids that may crystallise at one temperature.
pub(super) struct Crystals<'a> {
    bench: &'a Bench,
    solids: Vec<Solid>,
}

impl<'a> Crystals<'a> {
    /// Every solid of the table whose solubility is published, whether it is on the shelf or not: potassium nitrate
    /// crystallises from any salts that bring potassium and nitrate.
    pub(super) fn new(bench: &'a Bench, coldest: Temperature) -> Self {
        let ids = (0..bench.catalogue.salts().len()).map(SaltId);
        let solids = ids
            .filter_map(|salt| {
                let of = bench.catalogue.salt(salt);
                let g_per_l = of.solubility.as_ref()?.at_least_g_per_l(coldest.get::<degree_celsius>());
                let mol: f64 = of.composition.ions.iter().map(|(_, mol)| mol).sum();
                let ions = of.composition.ions.iter().map(|(ion, each)| (*ion, each / mol, each * g_per_l)).collect();
                (!of.is_liquid() && mol > 0.0).then_some(Solid { salt, ions })
            })
            .collect();
        Self { bench, solids }
    }

    /// The first solid to crystallise from a solution of these salts, g/L, as it is made stronger.
    ///
    /// The product of the concentrations of a solid's ions, each to the power of its share, stays under [`OF_SATURATION`] of
    /// what it is in the solid's own saturated solution. Activity coefficients fall as other salts are added, so that the
    /// true product may be larger: the rule errs on the safe side, except that it knows nothing of double salts.
    pub(super) fn limit(&self, salts: &[(SaltId, f64)]) -> Option<Limit> {
        let mol_per_l = Parts::new(self.bench, Vec::new()).of_salts(salts).ions;
        let there = |ion: IonId| mol_per_l.iter().find(|(other, _)| *other == ion).map_or(0.0, |(_, mol)| *mol);
        let of_solid = |solid: &Solid| {
            let near: f64 = solid.ions.iter().map(|(ion, share, full)| share * libm::log(there(*ion) / full)).sum();
            Limit { salt: solid.salt, times: OF_SATURATION / libm::exp(near) }
        };
        let published = self.solids.iter().map(of_solid).filter(|limit| limit.times.is_finite());
        let open = salts.iter().filter(|(salt, _)| self.bench.catalogue.salt(*salt).solubility.is_none());
        let open = open.map(|(salt, g_per_l)| Limit { salt: *salt, times: UNKNOWN_SOLUBILITY * 1e3 / g_per_l });
        // a salt that is weighed in is named before another of the same ions
        let elsewhere = |limit: &Limit| !salts.iter().any(|(salt, _)| *salt == limit.salt);
        published.chain(open).min_by(|a, b| {
            let nearly = (a.times / b.times - 1.0).abs() < 1e-9;
            let by_times = if nearly { std::cmp::Ordering::Equal } else { a.times.total_cmp(&b.times) };
            by_times.then(elsewhere(a).cmp(&elsewhere(b)))
        })
    }
}
