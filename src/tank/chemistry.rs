//! What a tank holds: nutrients, ions and EC of given amounts in the bench's water, with their uncertainty.

mod sure;

use std::cell::RefCell;

pub(crate) use sure::{slips, volume_deviation};

use super::Tank;
use super::parts::Parts;
use crate::bench::Basis;
use crate::catalogue::Catalogue;
use crate::matter::{Composition, IonId, Nutrients, Open, Water};
use crate::quantity::{Conductivity, Temperature};
use crate::solution::{
    self, AIR_CO2_LOG_ACTIVITY, Air, Chemistry, LITRES_PER_KG, Speciation, SpeciationError, Totals, conductivity_slopes,
    speciate, speciate_at_ph, speciate_near,
};

/// Alkalinity that labels may leave open before the pH of a tank is unknown, meq/L either way (own choice).
const OPEN_MEQ_PER_L: f64 = 0.02;

/// Amount at which the charge of a salt that is not in the mix is judged, g/L.
const TRACE_G_PER_L: f64 = 1e-6;
/// As much is exchanged where it is asked what that does to the alkalinity, litres for each litre of tank.
const LITTLE_EXCHANGED: f64 = 1e-4;
/// As much of every master is there where its slope is asked for, mol/kg.
const TRACE_MOL_PER_KG: f64 = 1e-12;
/// pH taken for a water whose alkalinity is stated without it: own choice, a usual tap water.
pub(crate) const ASSUMED_WATER_PH: f64 = 7.5;

/// Salts in water: the model of a tank that every job shares.
pub(crate) struct Mixture<'a> {
    catalogue: &'a Catalogue,
    compositions: Vec<Composition>,
    /// How many of them are parts; those behind take away as well.
    parts: usize,
    water_ppm: Nutrients,
    water_mmol_per_l: Vec<f64>,
    /// Carbon beyond the bicarbonate of the alkalinity, mol/kg; negative in water above pH 8.3.
    water_carbon: f64,
    /// What is held leaves open, meq and mmol per litre.
    water_open: Open,
    /// False where only an analysis by element tells what is held.
    water_known: bool,
    /// The solution that was found last: the next one asked for is as a rule not far from it.
    last: RefCell<Option<Speciation>>,
}

/// A solution, speciated.
pub(crate) struct Solution {
    /// Right after mixing.
    pub(crate) fresh: Speciation,
    /// EC at 25 C.
    pub(crate) ec: Conductivity,
}

impl Solution {
    /// EC at another temperature: what nobody names in the water conducts as well, and warms up like the rest.
    pub(crate) fn ec_at(&self, chemistry: &Chemistry, temperature: Temperature) -> Conductivity {
        let named = solution::conductivity(chemistry, &self.fresh);
        let all = if ms_per_cm(named) > 0.0 { ms_per_cm(self.ec) / ms_per_cm(named) } else { 1.0 };
        solution::conductivity_at(chemistry, &self.fresh, temperature) * all
    }
}

pub(crate) fn ms_per_cm(conductivity: Conductivity) -> f64 {
    conductivity.get::<uom::si::electrical_conductivity::siemens_per_meter>() * 10.0
}

/// Whether a solution has given its carbon dioxide to the air.
pub(crate) fn air(basis: Basis) -> Air {
    match basis {
        Basis::Fresh => Air::Closed,
        Basis::Aired => Air::Open,
    }
}

impl<'a> Mixture<'a> {
    /// The parts in what the tank holds before; amounts are in the unit of each part per litre of tank.
    pub(crate) fn new(tank: &Tank<'a>, parts: &Parts) -> Self {
        let catalogue = &tank.bench.catalogue;
        let before = &tank.before;
        let mut water_mmol_per_l = vec![0.0; catalogue.ions().rows().len()];
        for (ion, mmol) in &before.mmol_per_l {
            water_mmol_per_l[ion.0] += mmol;
        }
        Self {
            catalogue,
            parts: parts.list.len(),
            compositions: (0..parts.list.len()).map(|at| parts.composition(at)).collect(),
            water_ppm: before.ppm,
            water_mmol_per_l,
            water_carbon: before.carbon,
            water_open: before.open,
            water_known: before.alkalinity_known,
            last: RefCell::default(),
        }
    }

    /// Adds something that is no part: what draining and filling in changes.
    pub(crate) fn push(&mut self, composition: Composition) {
        self.compositions.push(composition);
    }

    /// Carbon of amounts after days in air beyond that of their species, mol/kg.
    pub(crate) fn carbon_beyond_ions_aired(&self, per_l: &[f64]) -> Result<f64, SpeciationError> {
        Ok(self.carbon_beyond_ions(per_l, &self.aired(per_l)?))
    }

    /// Alkalinity and carbon beyond those of the species, mol/kg, of amounts whose pH was measured after days in air.
    pub(crate) fn beyond_ions_at_ph(&self, per_l: &[f64], ph: f64) -> Result<(f64, f64), SpeciationError> {
        let chemistry = self.catalogue.chemistry();
        let totals = self.totals_in(per_l, Air::Open);
        let at = speciate_at_ph(chemistry, &totals, Air::Open, ph)?;
        let found: f64 = at.mol_per_kg.iter().zip(&chemistry.species).map(|(m, s)| m * s.alkalinity).sum();
        Ok((found - totals.alkalinity_eq_per_kg, self.carbon_beyond_ions(per_l, &at)))
    }

    fn carbon_beyond_ions(&self, per_l: &[f64], solution: &Speciation) -> f64 {
        let chemistry = self.catalogue.chemistry();
        let Some(carbonate) = chemistry.master("CO3-2") else { return 0.0 };
        let of = |species: &solution::Species| {
            species.masters.iter().filter(|(master, _)| *master == carbonate).map(|(_, count)| count).sum::<f64>()
        };
        let total: f64 = chemistry.species.iter().zip(&solution.mol_per_kg).map(|(species, m)| of(species) * m).sum();
        total - chemistry.totals(self.catalogue.ions(), &self.mmol_per_l(per_l)).mol_per_kg[carbonate.0]
    }

    /// ppm that 1 g/L of a salt brings.
    pub(crate) fn ppm_per_g_per_l(&self, salt: usize) -> Nutrients {
        self.compositions[salt].nutrients.scaled(1e3)
    }

    /// ppm of every nutrient for amounts in g/L.
    pub(crate) fn ppm(&self, g_per_l: &[f64]) -> Nutrients {
        let mut sum = self.water_ppm;
        for (composition, amount) in self.compositions.iter().zip(g_per_l) {
            sum.add(&composition.nutrients, amount * 1e3);
        }
        sum
    }

    fn mmol_per_l(&self, g_per_l: &[f64]) -> Vec<f64> {
        let mut total = self.water_mmol_per_l.clone();
        for (composition, amount) in self.compositions.iter().zip(g_per_l) {
            for (ion, mol) in &composition.ions {
                total[ion.0] += mol * amount * 1e3;
            }
        }
        total
    }

    fn totals(&self, g_per_l: &[f64]) -> Totals {
        self.totals_of(&self.mmol_per_l(g_per_l))
    }

    /// What is left open: meq and mmol per litre, mS/cm.
    fn open(&self, g_per_l: &[f64]) -> Open {
        let mut open = self.water_open;
        for (composition, amount) in self.compositions.iter().zip(g_per_l) {
            open.add(&composition.open, amount * 1e3);
        }
        open
    }

    /// True where of the water, or of some of it, nothing is known.
    pub(crate) fn water_unstated(&self) -> bool {
        self.water_open.ec_ms_per_cm > 0.0
    }

    /// False where only an analysis by element tells what is held.
    pub(crate) fn content_known(&self) -> bool {
        self.water_known
    }

    /// True where what is held leaves the alkalinity open by itself, whatever goes in.
    pub(crate) fn held_leaves_open(&self) -> bool {
        self.water_open.alkalinity_eq >= OPEN_MEQ_PER_L
    }

    /// True where the alkalinity, and with it the pH, is known well enough to be told and to dose acid by.
    pub(crate) fn alkalinity_known(&self, g_per_l: &[f64]) -> bool {
        self.water_known && self.open(g_per_l).alkalinity_eq < OPEN_MEQ_PER_L
    }

    /// The part that leaves most of the alkalinity open, and by how much either way, meq/L; none where too little is.
    pub(crate) fn leaves_alkalinity_open(&self, g_per_l: &[f64]) -> Option<(usize, f64)> {
        let by = |at: usize| self.compositions[at].open.alkalinity_eq * g_per_l[at] * 1e3;
        let most = (0..g_per_l.len()).max_by(|&a, &b| by(a).total_cmp(&by(b)))?;
        (self.open(g_per_l).alkalinity_eq >= OPEN_MEQ_PER_L && by(most) > 0.0).then(|| (most, by(most)))
    }

    /// Totals as they are in closed or aired water: aired, iron that no chelate holds has rusted to iron(III), which takes
    /// up a proton for each atom.
    fn totals_in(&self, g_per_l: &[f64], air: Air) -> Totals {
        let chemistry = self.catalogue.chemistry();
        let mut totals = self.totals(g_per_l);
        if let (Air::Open, Some(ferrous), Some(ferric)) = (air, chemistry.master("Fe+2"), chemistry.master("Fe+3")) {
            let iron = std::mem::take(&mut totals.mol_per_kg[ferrous.0]);
            totals.mol_per_kg[ferric.0] += iron;
            totals.alkalinity_eq_per_kg += iron;
        }
        totals
    }

    /// Carbon, mol/kg; less than nothing where more is taken away than there is.
    fn carbon(&self, per_l: &[f64]) -> f64 {
        let chemistry = self.catalogue.chemistry();
        let totals = chemistry.totals(self.catalogue.ions(), &self.mmol_per_l(per_l));
        chemistry.master("CO3-2").map_or(0.0, |carbonate| totals.mol_per_kg[carbonate.0] + self.water_carbon)
    }

    fn totals_of(&self, mmol_per_l: &[f64]) -> Totals {
        let chemistry = self.catalogue.chemistry();
        let mut totals = chemistry.totals(self.catalogue.ions(), mmol_per_l);
        if let Some(carbonate) = chemistry.master("CO3-2") {
            totals.mol_per_kg[carbonate.0] = (totals.mol_per_kg[carbonate.0] + self.water_carbon).max(0.0);
        }
        totals
    }

    /// The solution of amounts in g/L, right after mixing.
    pub(crate) fn solution(&self, g_per_l: &[f64]) -> Result<Solution, SpeciationError> {
        let fresh = self.fresh(&self.totals(g_per_l))?;
        let ec = self.conductivity(&fresh);
        Ok(Solution { fresh, ec })
    }

    /// The conductivity of an equilibrium, and of what nobody names in the water: in a thin solution they add up.
    fn conductivity(&self, found: &Speciation) -> Conductivity {
        let unnamed =
            Conductivity::new::<uom::si::electrical_conductivity::siemens_per_meter>(self.water_open.ec_ms_per_cm / 10.0);
        solution::conductivity(self.catalogue.chemistry(), found) + unnamed
    }

    /// The equilibrium right after mixing, looked for from the one found last.
    fn fresh(&self, totals: &Totals) -> Result<Speciation, SpeciationError> {
        let chemistry = self.catalogue.chemistry();
        let mut last = self.last.borrow_mut();
        let fresh = match last.as_ref() {
            Some(near) => speciate_near(chemistry, totals, Air::Closed, near),
            None => speciate(chemistry, totals, Air::Closed),
        }?;
        *last = Some(fresh.clone());
        Ok(fresh)
    }

    /// The proton condition at `ph` as a row that is linear in the amounts: the mean charges of the weak acids, with
    /// activities and complexes, are those of `g_per_l` brought to that pH.
    ///
    /// Returns what a g/L of each salt adds and what there may be at the most, meq/kg.
    pub(crate) fn proton_row(&self, g_per_l: &[f64], ph: f64, air: Air) -> Result<(Vec<f64>, f64), SpeciationError> {
        let chemistry = self.catalogue.chemistry();
        // a trace of every salt: a weak acid that is not in the mix yet would seem to do nothing
        let there: Vec<f64> = g_per_l.iter().map(|grams| grams.max(TRACE_G_PER_L)).collect();
        let totals = self.totals_in(&there, air);
        let at = speciate_at_ph(chemistry, &totals, air, ph)?;
        let carbonate = chemistry.master("CO3-2");
        // alkalinity held by each master at this pH; what belongs to none, or to carbon from the air, is a constant
        let mut held = vec![0.0; chemistry.masters.len()];
        let mut constant = 0.0;
        for (species, m) in chemistry.species.iter().zip(&at.mol_per_kg).filter(|(s, m)| s.alkalinity != 0.0 && **m > 0.0) {
            let weak = |symbol: &str| matches!(symbol, "PO4-3" | "CO3-2" | "Citrate-3" | "CH3COO-");
            let of_weak = species.masters.iter().find(|(master, _)| weak(&chemistry.masters[master.0]));
            match of_weak.or(species.masters.first()) {
                Some((master, _)) if !(air == Air::Open && Some(*master) == carbonate) => {
                    held[master.0] += species.alkalinity * m;
                }
                _ => constant += species.alkalinity * m,
            }
        }
        let mean: Vec<f64> =
            held.iter().zip(&totals.mol_per_kg).map(|(held, total)| if *total > 0.0 { held / total } else { 0.0 }).collect();
        let surplus = |totals: &Totals| -> f64 {
            let kept: f64 = mean.iter().zip(&totals.mol_per_kg).map(|(mean, total)| mean * total).sum();
            totals.alkalinity_eq_per_kg - kept
        };
        let nothing = vec![0.0; g_per_l.len()];
        let of_water = surplus(&self.totals_in(&nothing, air));
        let per_gram = (0..g_per_l.len())
            .map(|at| {
                let mut one = nothing.clone();
                one[at] = 1.0;
                // of what is exchanged for something else there may be no whole litre to take away
                let some = if at >= self.parts && self.carbon(&one) < 0.0 { LITTLE_EXCHANGED } else { 1.0 };
                one[at] = some;
                1e3 * (surplus(&self.totals_in(&one, air)) - of_water) / some
            })
            .collect();
        Ok((per_gram, 1e3 * (constant - of_water)))
    }

    /// The same after days in air: carbon dioxide has come and gone, and bare iron has rusted.
    pub(crate) fn aired(&self, g_per_l: &[f64]) -> Result<Speciation, SpeciationError> {
        let chemistry = self.catalogue.chemistry();
        let totals = self.totals_in(g_per_l, Air::Open);
        speciate(chemistry, &totals, Air::Open)
    }

    /// Its pH, right after mixing or after days in air.
    pub(crate) fn ph(&self, g_per_l: &[f64], basis: Basis) -> Result<f64, SpeciationError> {
        Ok(match basis {
            Basis::Fresh => self.solution(g_per_l)?.fresh.ph,
            Basis::Aired => self.aired(g_per_l)?.ph,
        })
    }

    /// EC at 25 C in mS/cm; not a number where no equilibrium is found.
    pub(crate) fn ec(&self, g_per_l: &[f64]) -> f64 {
        self.solution(g_per_l).map_or(f64::NAN, |solution| ms_per_cm(solution.ec))
    }

    /// EC at 25 C in mS/cm, where there is an equilibrium.
    fn ec_of(&self, totals: &Totals) -> Option<f64> {
        let fresh = self.fresh(totals).ok()?;
        Some(ms_per_cm(self.conductivity(&fresh)))
    }

    /// Slope of EC in mS/cm per g/L of every salt, ion by ion, so that salts of the same ions agree to the last bit.
    pub(crate) fn ec_slope(&self, g_per_l: &[f64]) -> Vec<f64> {
        let chemistry = self.catalogue.chemistry();
        let mut totals = self.totals(g_per_l);
        // a trace of every salt: a master that is not there has no slope
        for (ion, _) in self.compositions.iter().flat_map(|composition| &composition.ions) {
            for (master, _) in &chemistry.species[chemistry.of_ion[ion.0]].masters {
                totals.mol_per_kg[master.0] = totals.mol_per_kg[master.0].max(TRACE_MOL_PER_KG);
            }
        }
        let per_mmol = self.fresh(&totals).ok().map(|fresh| self.ec_per_mmol(&totals, &fresh));
        let Some(per_mmol) = per_mmol else { return vec![f64::NAN; self.compositions.len()] };
        let slope = |composition: &Composition| composition.ions.iter().map(|(ion, mol)| per_mmol[ion.0] * mol * 1e3).sum();
        self.compositions.iter().map(slope).collect()
    }

    /// Slope of EC in mS/cm per mmol/L of every ion; not a number where there is none.
    fn ec_per_mmol(&self, totals: &Totals, fresh: &Speciation) -> Vec<f64> {
        let chemistry = self.catalogue.chemistry();
        let Some(slopes) = conductivity_slopes(chemistry, totals, fresh) else {
            return vec![f64::NAN; chemistry.of_ion.len()];
        };
        let of_ion = |at: &usize| {
            let species = &chemistry.species[*at];
            let of_masters: f64 = species.masters.iter().map(|(master, count)| count * slopes.by_master[master.0]).sum();
            (of_masters + species.alkalinity * slopes.by_alkalinity) * 1e-3 * LITRES_PER_KG
        };
        chemistry.of_ion.iter().map(of_ion).collect()
    }
}

/// Carbon of the water beyond its bicarbonate, mol/kg: what belongs to its pH, or the CO2 of air in rain.
///
/// * `mmol_per_l`: its species
pub(super) fn carbon_of_water(
    catalogue: &Catalogue,
    water: &Water,
    mmol_per_l: &[(IonId, f64)],
) -> Result<f64, SpeciationError> {
    let chemistry = catalogue.chemistry();
    let from_air = libm::exp(AIR_CO2_LOG_ACTIVITY * std::f64::consts::LN_10);
    let (Some(alkalinity), Some(carbonate)) = (water.alkalinity_meq_per_l, chemistry.master("CO3-2")) else {
        return Ok(from_air);
    };
    if alkalinity <= 0.0 {
        return Ok(from_air);
    }
    let mut mmol = vec![0.0; catalogue.ions().rows().len()];
    for (ion, of_ion) in mmol_per_l {
        mmol[ion.0] += of_ion;
    }
    let bare = chemistry.totals(catalogue.ions(), &mmol);
    let ph = water.ph.unwrap_or(ASSUMED_WATER_PH);
    let bicarbonate = bare.mol_per_kg[carbonate.0];
    let beyond = |carbon: f64| -> Result<f64, SpeciationError> {
        let mut totals = bare.clone();
        totals.mol_per_kg[carbonate.0] = carbon;
        let at = speciate_at_ph(chemistry, &totals, Air::Closed, ph)?;
        let found: f64 = at.mol_per_kg.iter().zip(&chemistry.species).map(|(m, s)| m * s.alkalinity).sum();
        Ok(found - bare.alkalinity_eq_per_kg)
    };
    // at a given pH the alkalinity is all but linear in the carbon, so the secant settles in a few steps
    let (mut last, mut carbon) = (0.5 * bicarbonate, bicarbonate);
    let mut off = beyond(last)?;
    for _ in 0..12 {
        let now = beyond(carbon)?;
        if now.abs() < 1e-12 || (now - off).abs() < 1e-18 {
            break;
        }
        let next = (carbon - now * (carbon - last) / (now - off)).max(bicarbonate * 1e-3);
        (last, off, carbon) = (carbon, now, next);
    }
    Ok(carbon - bicarbonate)
}
