//! What a tank holds: nutrients, ions and EC of given amounts in the bench's water, with their uncertainty.

use super::Tank;
use super::parts::{Grams, Parts, Slip};
use crate::bench::{Bench, Stock};
use crate::catalogue::{Catalogue, SaltId};
use crate::matter::{Composition, IonId, Kind, NUTRIENTS, Nutrients, Open, Water};
use crate::quantity::{Conductivity, milliliter};
use crate::solution::{
    self, AIR_CO2_LOG_ACTIVITY, Acidity, Air, EC_MODEL_PLUS_MINUS, LITRES_PER_KG, PhSpan, Speciation, SpeciationError,
    Totals, conductivity_slopes, speciate, speciate_at_ph, speciate_near,
};

/// Standard deviation of a water analysis as a fraction of each figure: own choice, no source.
const WATER_DEVIATION: f64 = 0.025;
/// Half width (k = 2) of the share of EC that an unknown counter-ion carries: own choice.
const UNKNOWN_ION_PLUS_MINUS: f64 = 0.5;

/// Alkalinity that labels may leave open before the pH of a tank is unknown, meq/L either way (own choice).
const OPEN_MEQ_PER_L: f64 = 0.02;

/// No alkalinity is known better than this (k = 2), meq/L: own choice.
const LEAST_ALKALINITY_PLUS_MINUS: f64 = 0.02;
/// What the carbon dioxide of the water may be off by (k = 2), a fraction: as much as 0.1 of its pH, own choice.
const WATER_PH_SHARE: f64 = 0.25;
/// What the strength of an acid may lack where the grower states none, a fraction: own choice.
const ACID_LACKS: f64 = 0.02;

/// Amount at which the charge of a salt that is not in the mix is judged, g/L.
const TRACE_G_PER_L: f64 = 1e-6;
/// As much of every master is there where its slope is asked for, mol/kg.
const TRACE_MOL_PER_KG: f64 = 1e-12;
/// pH taken for a water whose alkalinity is stated without it: own choice, a usual tap water.
pub(crate) const ASSUMED_WATER_PH: f64 = 7.5;

/// Salts in water: the model of a tank that every job shares.
pub(crate) struct Mixture<'a> {
    catalogue: &'a Catalogue,
    compositions: Vec<Composition>,
    water_ppm: Nutrients,
    water_mmol_per_l: Vec<f64>,
    /// Carbon beyond the bicarbonate of the alkalinity, mol/kg; negative in water above pH 8.3.
    water_carbon: f64,
    /// What is held leaves open, meq and mmol per litre.
    water_open: Open,
    /// False where only an analysis by element tells what is held.
    water_known: bool,
}

/// A solution, speciated.
pub(crate) struct Solution {
    /// Right after mixing.
    pub(crate) fresh: Speciation,
    /// EC at 25 C.
    pub(crate) ec: Conductivity,
}

pub(crate) fn ms_per_cm(conductivity: Conductivity) -> f64 {
    conductivity.get::<uom::si::electrical_conductivity::siemens_per_meter>() * 10.0
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
            compositions: (0..parts.list.len()).map(|at| parts.composition(at)).collect(),
            water_ppm: before.ppm,
            water_mmol_per_l,
            water_carbon: before.carbon,
            water_open: before.open,
            water_known: before.alkalinity_known,
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

    /// What the labels of products in it leave open, meq and mmol per litre.
    fn open(&self, g_per_l: &[f64]) -> Open {
        let mut open = self.water_open;
        for (composition, amount) in self.compositions.iter().zip(g_per_l) {
            open.add(&composition.open, amount * 1e3);
        }
        open
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
        let fresh = speciate(self.catalogue.chemistry(), &self.totals(g_per_l), Air::Closed)?;
        let ec = solution::conductivity(self.catalogue.chemistry(), &fresh);
        Ok(Solution { fresh, ec })
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
                1e3 * (surplus(&self.totals_in(&one, air)) - of_water)
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

    /// Alkalinity that ions count, meq/L of what is in mmol/L.
    fn counted(&self, ions: impl Iterator<Item = (usize, f64)>) -> f64 {
        let chemistry = self.catalogue.chemistry();
        ions.map(|(ion, mmol)| mmol * chemistry.species[chemistry.of_ion[ion]].alkalinity).sum()
    }

    /// How well the alkalinity is known (k = 2), meq/L: the analysis of the water, the volume, what moves the salts (their
    /// purity, the strength and the step of the acid), and what labels leave open.
    ///
    /// Returns with it what carbon is likely off by then, mmol/L: a water of known pH with more alkalinity has more of both.
    fn alkalinity_plus_minus(&self, amounts: &[f64], slips: &[Composition], volume: f64) -> (f64, f64) {
        let of_water = self.water_mmol_per_l.iter().enumerate();
        let of_water: f64 = of_water.map(|(ion, mmol)| self.counted([(ion, *mmol)].into_iter()).abs()).sum();
        let all = self.mmol_per_l(amounts);
        let added = all.iter().zip(&self.water_mmol_per_l).map(|(all, water)| all - water).enumerate();
        let analysis = 2.0 * WATER_DEVIATION * of_water;
        let mut square = analysis.powi(2) + (2.0 * volume * self.counted(added)).powi(2);
        for slip in slips {
            square += (2.0 * self.counted(slip.ions.iter().map(|(ion, mol)| (ion.0, mol * 1e3)))).powi(2);
        }
        let all = (square + self.open(amounts).alkalinity_eq.powi(2)).sqrt().max(LEAST_ALKALINITY_PLUS_MINUS);
        let carbon = if of_water > 0.0 { 1.0 + self.water_carbon * 1e3 / LITRES_PER_KG / of_water } else { 0.0 };
        (all, carbon * analysis.powi(2) / all)
    }

    /// Alkalinity of amounts with its give or take (k = 2), where it is known, meq/L.
    ///
    /// * the rest as for [`Mixture::plus_minus_ppm`]
    pub(crate) fn alkalinity(&self, amounts: &[f64], slips: &[Composition], volume: f64) -> Option<(f64, f64)> {
        let meq = self.counted(self.mmol_per_l(amounts).into_iter().enumerate());
        self.alkalinity_known(amounts).then(|| (meq, self.alkalinity_plus_minus(amounts, slips, volume).0))
    }

    /// The pH of amounts with its ends, where it is known: the equilibria with as much alkalinity more and less as it is
    /// known to. Carbon that labels leave open is in the low end of the fresh pH.
    ///
    /// * `fresh`, `aired`: the solution of these amounts
    /// * the rest as for [`Mixture::plus_minus_ppm`]
    pub(crate) fn acidity(
        &self,
        amounts: &[f64],
        fresh: &Speciation,
        aired: &Speciation,
        slips: &[Composition],
        volume: f64,
    ) -> Result<Option<Acidity>, SpeciationError> {
        if !self.alkalinity_known(amounts) {
            return Ok(None);
        }
        let chemistry = self.catalogue.chemistry();
        let (meq, carbon) = self.alkalinity_plus_minus(amounts, slips, volume);
        // a pH of the water that is off moves its carbon dioxide the other way
        let by_ph = WATER_PH_SHARE * self.water_carbon.abs() * 1e3 / LITRES_PER_KG;
        let end = |air: Air, sign: f64, carbon: f64, near: &Speciation| -> Result<f64, SpeciationError> {
            let mut totals = self.with_carbon(self.totals_in(amounts, air), carbon);
            totals.alkalinity_eq_per_kg += sign * meq * 1e-3 * LITRES_PER_KG;
            Ok(speciate_near(chemistry, &totals, air, near)?.ph)
        };
        Ok(Some(Acidity {
            fresh: PhSpan {
                ph: fresh.ph,
                low: end(Air::Closed, -1.0, by_ph - carbon + self.open(amounts).carbon_mol, fresh)?.min(fresh.ph),
                high: end(Air::Closed, 1.0, carbon - by_ph, fresh)?.max(fresh.ph),
            },
            aired: PhSpan { ph: aired.ph, low: end(Air::Open, -1.0, 0.0, aired)?, high: end(Air::Open, 1.0, 0.0, aired)? },
        }))
    }

    /// EC at 25 C in mS/cm; not a number where no equilibrium is found.
    pub(crate) fn ec(&self, g_per_l: &[f64]) -> f64 {
        self.solution(g_per_l).map_or(f64::NAN, |solution| ms_per_cm(solution.ec))
    }

    fn ec_of(&self, totals: &Totals) -> f64 {
        let chemistry = self.catalogue.chemistry();
        speciate(chemistry, totals, Air::Closed)
            .map_or(f64::NAN, |fresh| ms_per_cm(solution::conductivity(chemistry, &fresh)))
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
        let per_mmol = speciate(chemistry, &totals, Air::Closed).ok().map(|fresh| self.ec_per_mmol(&totals, &fresh));
        let Some(per_mmol) = per_mmol else { return vec![f64::NAN; self.compositions.len()] };
        let slope = |composition: &Composition| composition.ions.iter().map(|(ion, mol)| per_mmol[ion.0] * mol * 1e3).sum();
        self.compositions.iter().map(slope).collect()
    }

    /// Uncertainty (k = 2) of every nutrient in ppm, source by source: what moves the salts, the water analysis, the volume.
    ///
    /// * `slips`: what one standard deviation of each source adds to a litre of tank
    /// * `volume`: standard deviation of the tank's volume as a fraction
    pub(crate) fn plus_minus_ppm(&self, amounts: &[f64], slips: &[Composition], volume: f64) -> Nutrients {
        let achieved = self.ppm(amounts);
        let mut ppm = Nutrients::default();
        for nutrient in NUTRIENTS {
            let from_water = self.water_ppm[nutrient];
            let mut variance = (WATER_DEVIATION * from_water).powi(2);
            // the volume moves what the salts bring, not what a litre of water brings
            variance += (volume * (achieved[nutrient] - from_water)).powi(2);
            variance += slips.iter().map(|slip| (slip.nutrients[nutrient] * 1e3).powi(2)).sum::<f64>();
            ppm[nutrient] = 2.0 * variance.sqrt();
        }
        ppm
    }

    /// Uncertainty (k = 2) of EC at 25 C in mS/cm: the same sources, the model itself, and unknown counter-ions.
    ///
    /// * `solution`: the solution of these amounts
    pub(crate) fn plus_minus_ec(&self, amounts: &[f64], solution: &Solution, slips: &[Composition], volume: f64) -> f64 {
        let (mmol, ec) = (self.mmol_per_l(amounts), ms_per_cm(solution.ec));
        let slopes = self.ec_per_mmol(&self.totals_of(&mmol), &solution.fresh);
        let mut variance = (EC_MODEL_PLUS_MINUS / 2.0 * ec).powi(2);
        let of_salts =
            mmol.iter().zip(&self.water_mmol_per_l).zip(&slopes).map(|((all, water), slope)| (all - water) * slope);
        variance += (volume * of_salts.sum::<f64>()).powi(2);
        for slip in slips {
            variance += slip.ions.iter().map(|(ion, mol)| slopes[ion.0] * mol * 1e3).sum::<f64>().powi(2);
        }
        let known = self.with_unknown_ions(&mmol, |_| 0.0);
        if known != mmol {
            let carried = ec - self.ec_of(&self.totals_of(&known));
            variance += (UNKNOWN_ION_PLUS_MINUS / 2.0 * carried).powi(2);
        }
        let open = self.open(amounts);
        if open.alkalinity_eq > 0.0 {
            let end = |meq: f64| (self.ec_of(&self.at_an_end(&mmol, meq)) - ec).abs();
            variance += (end(open.alkalinity_eq).max(end(-open.alkalinity_eq)) / 2.0).powi(2);
        }
        if open.carbon_mol > 0.0 {
            let carbonated = self.with_carbon(self.totals_of(&mmol), open.carbon_mol);
            variance += ((self.ec_of(&carbonated) - ec) / 2.0).powi(2);
        }
        2.0 * variance.sqrt()
    }

    /// The ions with the charge that unknown ones carry, cations less anions in meq/L, changed.
    fn with_unknown_ions(&self, mmol: &[f64], charge: impl Fn(f64) -> f64) -> Vec<f64> {
        let ions = self.catalogue.ions();
        let mut changed = mmol.to_vec();
        if let (Some(cation), Some(anion)) = (ions.find("unknown cation"), ions.find("unknown anion")) {
            let charge = charge(mmol[cation.0] - mmol[anion.0]);
            (changed[cation.0], changed[anion.0]) = (charge.max(0.0), (-charge).max(0.0));
        }
        changed
    }

    /// Totals with `meq` per litre more alkalinity than labels are taken to mean, and as much less of their unknown anions.
    fn at_an_end(&self, mmol: &[f64], meq: f64) -> Totals {
        let mut totals = self.totals_of(&self.with_unknown_ions(mmol, |charge| charge + meq));
        totals.alkalinity_eq_per_kg += meq * 1e-3 * LITRES_PER_KG;
        totals
    }

    /// Totals with `mmol` per litre more carbon.
    fn with_carbon(&self, mut totals: Totals, mmol: f64) -> Totals {
        if let Some(carbonate) = self.catalogue.chemistry().master("CO3-2") {
            let carbon = totals.mol_per_kg[carbonate.0] + mmol * 1e-3 * LITRES_PER_KG;
            totals.mol_per_kg[carbonate.0] = carbon.max(0.0);
        }
        totals
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
    mmol_per_l.iter().for_each(|(ion, of_ion)| mmol[ion.0] += of_ion);
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

/// What one standard deviation of each source of error adds to a litre of tank: how the doses were measured, the purity of
/// every salt wherever it comes from, and how the bottles were made.
///
/// * `amounts`: per litre of tank, in the unit of each part
/// * `deviations`: standard deviation of each amount, per litre of tank
pub(crate) fn slips(parts: &Parts, amounts: &[f64], deviations: &[f64]) -> Vec<Composition> {
    let mut slips: Vec<Grams> = Vec::new();
    let mut of_bottles: Vec<Slip> = Vec::new();
    let mut total: Grams = Vec::new();
    let merge = |into: &mut Grams, salts: &[(SaltId, f64)], times: f64| {
        for (salt, grams) in salts {
            match into.iter_mut().find(|(other, _)| other == salt) {
                Some((_, sum)) => *sum += grams * times,
                None => into.push((*salt, grams * times)),
            }
        }
    };
    for at in (0..parts.list.len()).filter(|&at| amounts[at] > 0.0) {
        let contents = parts.contents(at).salts;
        slips.push(contents.iter().map(|(salt, grams)| (*salt, grams * deviations[at])).collect());
        merge(&mut total, &contents, amounts[at]);
        for (key, salts) in parts.slips(at) {
            match of_bottles.iter_mut().find(|(other, _)| *other == key) {
                Some((_, sum)) => merge(sum, &salts, amounts[at]),
                None => {
                    let mut sum = Vec::new();
                    merge(&mut sum, &salts, amounts[at]);
                    of_bottles.push((key, sum));
                }
            }
        }
    }
    slips.extend(of_bottles.into_iter().map(|(_, salts)| salts));
    // what is sold is between its usual purity and pure: all salts fall short together by half of that in the mean, and
    // each for itself by its own share of the rest
    let lacks = |salt: SaltId| impurity(parts.bench, &parts.bench.stock(salt));
    slips.push(total.iter().map(|(salt, grams)| (*salt, -grams * lacks(*salt) / 2.0)).collect());
    slips.extend(total.into_iter().map(|(salt, grams)| vec![(salt, grams * lacks(salt) / 12.0_f64.sqrt())]));
    slips.iter().map(|salts| parts.of_salts(salts)).collect()
}

/// Standard deviation of the tank's volume as a fraction.
pub(crate) fn volume_deviation(tank: &Tank) -> f64 {
    milliliter(tank.bench.tank.plus_minus) / milliliter(tank.volume) / 2.0
}

/// What a salt may lack to be pure, a fraction: nothing where the grower states its purity, else as much as its usual purity
/// says, and an acid no less than its strength is known to.
fn impurity(bench: &Bench, stock: &Stock) -> f64 {
    let salt = bench.salt(stock);
    let lacks = 1.0 - salt.usual_purity;
    match stock.purity {
        Some(_) => 0.0,
        None if salt.kind == Kind::Acid => lacks.max(ACID_LACKS),
        None => lacks,
    }
}
