//! What a tank holds: nutrients, ions and EC of given amounts in the bench's water, with their uncertainty.

use crate::bench::{Bench, Stock};
use crate::catalogue::Catalogue;
use crate::matter::{Composition, NUTRIENTS, Nutrients, Water};
use crate::quantity::{Conductivity, milliliter};
use crate::solution::{self, EC_MODEL_PLUS_MINUS};

/// Standard deviation of a water analysis as a fraction of each figure: own choice, no source.
const WATER_DEVIATION: f64 = 0.025;
/// Half width (k = 2) of the share of EC that an unknown counter-ion carries: own choice.
const UNKNOWN_ION_PLUS_MINUS: f64 = 0.5;

/// Salts in water: the model of a tank that every job shares.
pub(super) struct Brew<'a> {
    catalogue: &'a Catalogue,
    compositions: Vec<Composition>,
    water_ppm: Nutrients,
    water_mmol_per_l: Vec<f64>,
}

/// EC and what it rests on.
pub(super) struct Ec {
    /// At 25 C.
    pub(super) at_25: Conductivity,
    /// Ionic strength, mol/L.
    pub(super) ionic_strength_mol_per_l: f64,
}

pub(super) fn ms_per_cm(conductivity: Conductivity) -> f64 {
    conductivity.get::<uom::si::electrical_conductivity::siemens_per_meter>() * 10.0
}

impl<'a> Brew<'a> {
    pub(super) fn new(bench: &'a Bench, stocks: &[Stock]) -> Self {
        let compositions = stocks.iter().map(|stock| bench.composition(stock)).collect();
        Self::of(&bench.catalogue, compositions, &bench.water)
    }

    fn of(catalogue: &'a Catalogue, compositions: Vec<Composition>, water: &Water) -> Self {
        let mut water_mmol_per_l = vec![0.0; catalogue.ions().rows().len()];
        for (ion, mmol) in water.ions(catalogue.ions(), catalogue.elements()) {
            water_mmol_per_l[ion.0] += mmol;
        }
        Self { catalogue, compositions, water_ppm: water.nutrients, water_mmol_per_l }
    }

    /// ppm that 1 g/L of a salt brings.
    pub(super) fn ppm_per_g_per_l(&self, salt: usize) -> Nutrients {
        self.compositions[salt].nutrients.scaled(1e3)
    }

    /// ppm of every nutrient for amounts in g/L.
    pub(super) fn ppm(&self, g_per_l: &[f64]) -> Nutrients {
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

    fn ec_of(&self, mmol_per_l: &[f64]) -> Ec {
        let (ions, pairs) = (self.catalogue.ions(), self.catalogue.pairs());
        let speciation = solution::pair_up(ions, pairs, mmol_per_l);
        Ec {
            at_25: solution::conductivity(ions, pairs, &speciation),
            ionic_strength_mol_per_l: speciation.ionic_strength_mol_per_l,
        }
    }

    /// EC at 25 C for amounts in g/L.
    pub(super) fn ec(&self, g_per_l: &[f64]) -> Ec {
        self.ec_of(&self.mmol_per_l(g_per_l))
    }

    /// Slope of EC in mS/cm per g/L of every salt: central differences ion by ion, so that salts of the same ions agree.
    pub(super) fn ec_slope(&self, g_per_l: &[f64]) -> Vec<f64> {
        let mut mmol = self.mmol_per_l(g_per_l);
        let mut per_mmol: Vec<Option<f64>> = vec![None; mmol.len()];
        self.compositions
            .iter()
            .map(|composition| {
                let slope = composition.ions.iter().map(|(ion, mol)| {
                    let slope = *per_mmol[ion.0].get_or_insert_with(|| {
                        let (at, step) = (mmol[ion.0], 1e-4 * mmol[ion.0].max(0.01));
                        let low = (at - step).max(0.0);
                        mmol[ion.0] = at + step;
                        let above = ms_per_cm(self.ec_of(&mmol).at_25);
                        mmol[ion.0] = low;
                        let below = ms_per_cm(self.ec_of(&mmol).at_25);
                        mmol[ion.0] = at;
                        (above - below) / (at + step - low)
                    });
                    slope * mol * 1e3
                });
                slope.sum()
            })
            .collect()
    }

    /// Uncertainty (k = 2) of every nutrient, ppm: weighing, purity, water analysis and volume, source by source.
    ///
    /// * `relative`: standard deviation of the amount of each salt as a fraction, volume apart
    /// * `volume`: standard deviation of the tank's volume as a fraction
    pub(super) fn plus_minus_ppm(&self, g_per_l: &[f64], relative: &[f64], volume: f64) -> Nutrients {
        let achieved = self.ppm(g_per_l);
        let mut plus_minus = Nutrients::default();
        for nutrient in NUTRIENTS {
            let from_water = self.water_ppm[nutrient];
            let mut variance = (WATER_DEVIATION * from_water).powi(2);
            // the volume moves what the salts bring, not what a litre of water brings
            variance += (volume * (achieved[nutrient] - from_water)).powi(2);
            for ((composition, amount), relative) in self.compositions.iter().zip(g_per_l).zip(relative) {
                variance += (composition.nutrients[nutrient] * amount * 1e3 * relative).powi(2);
            }
            plus_minus[nutrient] = 2.0 * variance.sqrt();
        }
        plus_minus
    }

    /// Uncertainty (k = 2) of EC at 25 C, mS/cm: the model's own, the volume, each salt, and unknown counter-ions.
    pub(super) fn ec_plus_minus(&self, g_per_l: &[f64], relative: &[f64], volume: f64) -> f64 {
        let of = |amounts: &[f64]| ms_per_cm(self.ec(amounts).at_25);
        let ec = of(g_per_l);
        let mut variance = (EC_MODEL_PLUS_MINUS / 2.0 * ec).powi(2);
        let more: Vec<f64> = g_per_l.iter().map(|amount| amount * 1.001).collect();
        variance += (volume * (of(&more) - ec) / 0.001).powi(2);
        let mut one_more = g_per_l.to_vec();
        for (at, relative) in relative.iter().enumerate().filter(|(at, _)| g_per_l[*at] > 0.0) {
            one_more[at] = g_per_l[at] * 1.001;
            variance += (relative * (of(&one_more) - ec) / 0.001).powi(2);
            one_more[at] = g_per_l[at];
        }
        let mut known = self.mmol_per_l(g_per_l);
        for symbol in ["unknown cation", "unknown anion"] {
            if let Some(ion) = self.catalogue.ions().find(symbol) {
                known[ion.0] = 0.0;
            }
        }
        let unknown = ec - ms_per_cm(self.ec_of(&known).at_25);
        2.0 * (variance + (UNKNOWN_ION_PLUS_MINUS / 2.0 * unknown).powi(2)).sqrt()
    }
}

/// Standard deviation of the tank's volume as a fraction.
pub(super) fn volume_deviation(bench: &Bench) -> f64 {
    milliliter(bench.tank.plus_minus) / milliliter(bench.tank.volume) / 2.0
}

/// Standard deviation of a salt's purity as a fraction: none where the grower states it, else rectangular between the
/// usual purity and 1.
pub(super) fn purity_deviation(bench: &Bench, stock: &Stock) -> f64 {
    if stock.purity.is_some() { 0.0 } else { (1.0 - bench.salt(stock).usual_purity) / 3.0_f64.sqrt() }
}
