//! What a tank holds now, and what it becomes by draining and refilling.

use super::brew::Brew;
use super::describe::failed;
use super::error::JobError;
use super::mix::{MixOptions, weighed_out};
use super::parts::Parts;
use super::recipe::Recipe;
use super::saved::saved;
use crate::bench::{Bench, Stock};
use crate::matter::{Composition, Dissolved, IonId, Kind, NUTRIENTS, Nutrient, Nutrients, Open, Water};

/// The content of a tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Holding {
    /// Concentrations, ppm.
    pub ppm: Nutrients,
    /// Species, mmol/L.
    mmol_per_l: Vec<(IonId, f64)>,
    /// False where the content is known by element only.
    alkalinity_known: bool,
    /// What labels of products in it leave open, meq and mmol per litre.
    open: Open,
    /// Where it is known from, in words.
    pub known_from: String,
}

impl Holding {
    /// The content of a tank freshly mixed to a formula of the bench, as it is weighed out.
    ///
    /// # Errors
    /// As [`super::mix`].
    pub fn of_formula(bench: &Bench, formula: &str) -> Result<Self, JobError> {
        let (parts, amounts) = weighed_out(bench, formula, &MixOptions::default())?;
        Ok(Self::of_parts(bench, &parts, &amounts, format!("{formula}, as weighed out fresh")))
    }

    /// The content of a tank made by a recipe.
    ///
    /// # Errors
    /// [`JobError::NoRecipe`].
    pub fn of_recipe(bench: &Bench, recipe: &Recipe) -> Result<Self, JobError> {
        let saved = saved(recipe, bench)?;
        let parts = Parts::new(&saved.bench, saved.doses.iter().map(|(part, _)| *part).collect());
        let amounts: Vec<f64> = saved.doses.iter().map(|(_, amount)| amount / saved.litres()).collect();
        let name = recipe.formula.as_deref().unwrap_or("your mix");
        Ok(Self::of_parts(&saved.bench, &parts, &amounts, format!("a saved recipe ({name})")))
    }

    /// A content that is known by nutrient only: a laboratory analysis, or what a diary estimates.
    ///
    /// Each nutrient counts as its usual ion, iron as the chelate on the shelf if there is one; cations without an anion are
    /// there as bicarbonate. How much acid or base the solution holds such an analysis does not tell, so the pH stays open.
    #[must_use]
    pub fn of_analysis(bench: &Bench, ppm: &Nutrients, known_from: &str) -> Self {
        let (ions, elements) = (bench.catalogue.ions(), bench.catalogue.elements());
        let mut nutrients = *ppm;
        // nitrogen of unknown form counts as nitrate: ammonium is the first that plants and microbes take
        nutrients[Nutrient::NitrateN] += ppm.unsplit_nitrogen();
        let ppm = nutrients;
        let chelate = bench.shelf.iter().copied().find(|stock: &Stock| {
            let salt = bench.salt(stock);
            salt.kind == Kind::Chelate && salt.composition.nutrients[Nutrient::Fe] > 0.0
        });
        let mut mmol_per_l = Vec::new();
        if let Some(stock) = chelate {
            let of = bench.composition(&stock);
            let grams = nutrients[Nutrient::Fe] * 1e-3 / of.nutrients[Nutrient::Fe];
            mmol_per_l.extend(of.ions.iter().map(|(ion, mol)| (*ion, mol * grams * 1e3)));
            // what else the chelate brings, sodium say, is in the analysis already
            for nutrient in NUTRIENTS {
                let brought = of.nutrients[nutrient] * grams * 1e3;
                nutrients[nutrient] = (nutrients[nutrient] - brought).max(0.0);
            }
        }
        let plain = Water { nutrients, ..Water::default() };
        mmol_per_l.extend(plain.ions(ions, elements));
        let charge: f64 = mmol_per_l.iter().map(|(ion, mmol)| f64::from(ions.get(*ion).charge) * mmol).sum();
        if let Some(ion) = ions.find("HCO3-").filter(|_| charge > 0.0) {
            mmol_per_l.push((ion, charge));
        }
        Self { ppm, mmol_per_l, alkalinity_known: false, open: Open::default(), known_from: known_from.to_owned() }
    }

    /// What parts make of a bench's water, amounts per litre in the unit of each.
    pub(super) fn of_parts(bench: &Bench, parts: &Parts, per_litre: &[f64], known_from: String) -> Self {
        let mut ppm = bench.water.nutrients;
        let mut mmol_per_l = bench.water.ions(bench.catalogue.ions(), bench.catalogue.elements());
        let held = bench.water.dissolved.as_ref();
        let mut open = held.map_or_else(Open::default, |held| held.open);
        for (at, amount) in per_litre.iter().enumerate() {
            let Composition { ions, nutrients, open: of_part } = parts.composition(at);
            ppm.add(&nutrients, amount * 1e3);
            open.add(&of_part, amount * 1e3);
            mmol_per_l.extend(ions.into_iter().map(|(ion, mol)| (ion, mol * amount * 1e3)));
        }
        let alkalinity_known = held.is_none_or(|held| held.alkalinity_known);
        Self { ppm, mmol_per_l, alkalinity_known, open, known_from }
    }

    /// The water of a tank in which `share` of the volume is this content and the rest the bench's water.
    pub(super) fn thinned(&self, bench: &Bench, share: f64) -> Result<Water, JobError> {
        let empty = Parts::new(bench, Vec::new());
        let carbon = Brew::new(&empty).map_err(failed)?.water_carbon();
        let mut nutrients = bench.water.nutrients.scaled(1.0 - share);
        nutrients.add(&self.ppm, share);
        let mut mmol_per_l: Vec<(IonId, f64)> = Vec::new();
        let mut add = |species: Vec<(IonId, f64)>, times: f64| {
            for (ion, mmol) in species {
                match mmol_per_l.iter_mut().find(|(other, _)| *other == ion) {
                    Some((_, sum)) => *sum += mmol * times,
                    None => mmol_per_l.push((ion, mmol * times)),
                }
            }
        };
        add(bench.water.ions(bench.catalogue.ions(), bench.catalogue.elements()), 1.0 - share);
        add(self.mmol_per_l.clone(), share);
        mmol_per_l.retain(|(_, mmol)| *mmol > 0.0);
        let mut open = Open::default();
        open.add(&self.open, share);
        Ok(Water {
            nutrients,
            alkalinity_meq_per_l: bench.water.alkalinity_meq_per_l,
            // both or neither: what is assumed of the water filled in is told as for any mix
            ph: bench.water.ph,
            dissolved: Some(Dissolved {
                mmol_per_l,
                carbon_mol_per_kg: carbon * (1.0 - share),
                alkalinity_known: self.alkalinity_known,
                open,
                refill_ppm: bench.water.nutrients,
                refill_mmol_per_l: bench.water.ions(bench.catalogue.ions(), bench.catalogue.elements()),
                not_known: Vec::new(),
            }),
            ..Water::default()
        })
    }
}
