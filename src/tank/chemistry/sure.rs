//! How sure a content is: the give or take (k = 2) of every ppm, of EC and of pH, source by source.

use super::{Mixture, Solution, ms_per_cm};
use crate::bench::{Bench, Stock};
use crate::catalogue::SaltId;
use crate::matter::{Composition, Kind, NUTRIENTS, Nutrient, Nutrients};
use crate::quantity::milliliter;
use crate::solution::{
    Acidity, Air, EC_MODEL_PLUS_MINUS, LITRES_PER_KG, PhSpan, Speciation, SpeciationError, Totals, speciate_near,
};
use crate::tank::Tank;
use crate::tank::parts::{Grams, Parts, Slip};
use crate::weights::weight;

/// Standard deviation of a water analysis as a fraction of each figure: own choice, no source.
const WATER_DEVIATION: f64 = 0.025;
/// Half width (k = 2) of the share of EC that an unknown counter-ion carries: own choice.
const UNKNOWN_ION_PLUS_MINUS: f64 = 0.5;
/// No alkalinity is known better than this (k = 2), meq/L: own choice.
const LEAST_ALKALINITY_PLUS_MINUS: f64 = 0.02;
/// What the carbon dioxide of the water may be off by (k = 2), a fraction: as much as 0.1 of its pH, own choice.
const WATER_PH_SHARE: f64 = 0.25;
/// What the strength of an acid may lack where the grower states none, a fraction: own choice.
const ACID_LACKS: f64 = 0.02;

/// Cations, and anions, of a water by its EC, meq/L per mS/cm: from memory, a usual rule of water laboratories.
const MEQ_PER_MS_PER_CM: f64 = 10.0;
/// What tap water holds most of, mg/meq.
const OF_TAP: [(Nutrient, f64); 5] = [
    (Nutrient::Ca, weight("Ca") / 2.0),
    (Nutrient::Mg, weight("Mg") / 2.0),
    (Nutrient::Na, weight("Na")),
    (Nutrient::Cl, weight("Cl")),
    (Nutrient::S, weight("S") / 2.0),
];

impl Mixture<'_> {
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

    /// Uncertainty (k = 2) of every nutrient in ppm, source by source: what moves the salts, the water analysis, the volume.
    ///
    /// * `slips`: what one standard deviation of each source adds to a litre of tank
    /// * `volume`: standard deviation of the tank's volume as a fraction
    pub(crate) fn plus_minus_ppm(&self, amounts: &[f64], slips: &[Composition], volume: f64) -> Nutrients {
        let achieved = self.ppm(amounts);
        let unstated_meq = MEQ_PER_MS_PER_CM * self.open(amounts).ec_ms_per_cm;
        let mut ppm = Nutrients::default();
        for nutrient in NUTRIENTS {
            let from_water = self.water_ppm[nutrient];
            let mut variance = (WATER_DEVIATION * from_water).powi(2);
            // the volume moves what the salts bring, not what a litre of water brings
            variance += (volume * (achieved[nutrient] - from_water)).powi(2);
            variance += slips.iter().map(|slip| (slip.nutrients[nutrient] * 1e3).powi(2)).sum::<f64>();
            // half of what nobody states may be this one, k = 2
            let of_tap = OF_TAP.iter().find(|(other, _)| *other == nutrient);
            variance += of_tap.map_or(0.0, |(_, mg_per_meq)| (0.25 * unstated_meq * mg_per_meq).powi(2));
            ppm[nutrient] = 2.0 * variance.sqrt();
        }
        ppm
    }

    /// Uncertainty (k = 2) of EC at 25 C in mS/cm: the same sources, the model itself, unknown counter-ions, and what nobody
    /// states of the water.
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
        // where another reading of the labels has no equilibrium nothing is known of it: it may be off by all of EC
        let away = |totals: &Totals| self.ec_of(totals).map_or(ec, |other| (other - ec).abs());
        let known = self.with_unknown_ions(&mmol, |_| 0.0);
        if known != mmol {
            let carried = away(&self.totals_of(&known));
            variance += (UNKNOWN_ION_PLUS_MINUS / 2.0 * carried).powi(2);
        }
        let open = self.open(amounts);
        variance += (open.ec_ms_per_cm / 2.0).powi(2);
        if open.alkalinity_eq > 0.0 {
            let end = |meq: f64| away(&self.at_an_end(&mmol, meq));
            variance += (end(open.alkalinity_eq).max(end(-open.alkalinity_eq)) / 2.0).powi(2);
        }
        if open.carbon_mol > 0.0 {
            let carbonated = self.with_carbon(self.totals_of(&mmol), open.carbon_mol);
            variance += (away(&carbonated) / 2.0).powi(2);
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
