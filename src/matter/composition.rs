//! What one gram of a salt, as sold, dissolves into.

use super::{Elements, Formula, IonId, Ions, NitrogenForm, Nutrient, Nutrients};

/// The species and nutrients of one gram of a salt as sold.
#[derive(Debug, Clone, Default)]
pub struct Composition {
    /// Moles of each species per gram.
    pub ions: Vec<(IonId, f64)>,
    /// Grams of each nutrient per gram.
    pub nutrients: Nutrients,
    /// What a label leaves open; nothing for a salt of known formula.
    pub open: Open,
}

/// What the label of a product, or the analysis of a water, does not say.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Open {
    /// Its alkalinity may be more or less than its ions count by as much, equivalents per gram.
    pub alkalinity_eq: f64,
    /// Of its alkalinity as much may be bicarbonate and not hydroxide, moles per gram.
    pub carbon_mol: f64,
    /// EC of ions that nobody names, mS/cm per gram in a litre.
    pub ec_ms_per_cm: f64,
}

impl Open {
    /// Adds `times` of another.
    pub fn add(&mut self, other: &Self, times: f64) {
        self.alkalinity_eq += other.alkalinity_eq * times;
        self.carbon_mol += other.carbon_mol * times;
        self.ec_ms_per_cm += other.ec_ms_per_cm * times;
    }

    /// `times` of it.
    #[must_use]
    pub fn scaled(&self, times: f64) -> Self {
        let mut scaled = Self::default();
        scaled.add(self, times);
        scaled
    }
}

impl Composition {
    /// From a chemical formula and what one formula unit dissolves into; `fraction` is the share of that formula in
    /// the material (1 for a pure solid, 0.10 for a 10 % solution).
    #[must_use]
    pub fn of_formula(formula: &Formula, into: &[(IonId, f64)], fraction: f64, ions: &Ions, elements: &Elements) -> Self {
        let moles_per_gram = fraction / formula.molar_mass(elements);
        Self::of_ions(into.iter().map(|&(ion, count)| (ion, count * moles_per_gram)).collect(), ions, elements)
    }

    /// From moles of species per gram; the nutrients follow from the formulas of the species.
    #[must_use]
    pub fn of_ions(moles: Vec<(IonId, f64)>, ions: &Ions, elements: &Elements) -> Self {
        let mut nutrients = Nutrients::default();
        for &(id, mol) in &moles {
            let ion = ions.get(id);
            let Some(formula) = &ion.formula else { continue };
            for (symbol, count) in formula.counts() {
                let grams = mol * f64::from(count) * elements.weight(symbol).unwrap_or(f64::NAN);
                if symbol == "N" {
                    if let Some(NitrogenForm::Counts(form)) = ion.nitrogen {
                        nutrients[form] += grams;
                        nutrients[Nutrient::N] += grams;
                    }
                } else if let Some(nutrient) = Nutrient::parse(symbol) {
                    nutrients[nutrient] += grams;
                }
            }
        }
        Self { ions: moles, nutrients, open: Open::default() }
    }

    /// Charge of the species, equivalents per gram; 0 for a sound composition.
    #[must_use]
    pub fn charge(&self, ions: &Ions) -> f64 {
        self.ions.iter().map(|&(id, mol)| mol * f64::from(ions.get(id).charge)).sum()
    }

    /// Everything multiplied by `times`, for a purity below 1.
    #[must_use]
    pub fn scaled(&self, times: f64) -> Self {
        Self {
            ions: self.ions.iter().map(|&(id, mol)| (id, mol * times)).collect(),
            nutrients: self.nutrients.scaled(times),
            open: self.open.scaled(times),
        }
    }
}
