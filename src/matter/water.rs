//! What comes from the tap, the butt or the filter.

use super::{Elements, Formula, IonId, Ions, Nutrient, Nutrients};

/// A water analysis in ppm of the element, and what was measured of it as a whole.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Water {
    /// ppm of each nutrient.
    pub nutrients: Nutrients,
    /// Alkalinity in meq/L, where measured.
    pub alkalinity_meq_per_l: Option<f64>,
    /// pH, where measured.
    pub ph: Option<f64>,
    /// EC at 25 C in mS/cm, where measured.
    pub ec_ms_per_cm: Option<f64>,
    /// EC of what is in it and not stated, mS/cm: over 0 for a water of which nothing but perhaps its EC and its pH is known.
    pub unstated_ms_per_cm: f64,
}

/// How a key of a water analysis is read.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum WaterItem {
    /// ppm of a nutrient: the key's number times `factor`.
    Nutrient {
        /// Which.
        nutrient: Nutrient,
        /// Mass of the element in the mass of what the key names.
        factor: f64,
        /// Molar mass of what the key names, g/mol, for amounts in mmol/L.
        molar_mass: f64,
    },
    /// Bicarbonate in mg/L, an alkalinity.
    Bicarbonate {
        /// Its molar mass, g/mol.
        molar_mass: f64,
    },
}

/// Keys that name an ion or an oxide instead of the element.
const SPELLED: [(&str, &str, Nutrient); 8] = [
    ("SO4", "SO4", Nutrient::S),
    ("NO3", "NO3", Nutrient::NitrateN),
    ("NH4", "NH4", Nutrient::AmmoniumN),
    ("PO4", "PO4", Nutrient::P),
    ("SiO2", "SiO2", Nutrient::Si),
    ("NO3-N", "N", Nutrient::NitrateN),
    ("NH4-N", "N", Nutrient::AmmoniumN),
    ("N", "N", Nutrient::NitrateN),
];

impl Water {
    /// Every key of a water analysis.
    pub fn keys() -> impl Iterator<Item = &'static str> {
        let elements = super::NUTRIENTS.into_iter().filter(|n| n.element() != "N").map(Nutrient::symbol);
        elements.chain(SPELLED.map(|(key, _, _)| key)).chain(["HCO3"])
    }

    /// How `key` is read, if it is one of [`Water::keys`].
    #[must_use]
    pub fn item(key: &str, elements: &Elements) -> Option<WaterItem> {
        if key == "HCO3" {
            let molar_mass = Formula::parse("HCO3", elements).ok()?.molar_mass(elements);
            return Some(WaterItem::Bicarbonate { molar_mass });
        }
        let (written, nutrient) = match SPELLED.iter().find(|(name, _, _)| *name == key) {
            Some((_, written, nutrient)) => (*written, *nutrient),
            None => {
                let nutrient = Nutrient::parse(key).filter(|n| n.element() != "N")?;
                (nutrient.symbol(), nutrient)
            }
        };
        let formula = Formula::parse(written, elements).ok()?;
        Some(WaterItem::Nutrient {
            nutrient,
            factor: formula.mass_fraction(nutrient.element(), elements),
            molar_mass: formula.molar_mass(elements),
        })
    }

    /// True for rain, reverse-osmosis or distilled water: nothing was stated.
    #[must_use]
    pub fn is_pure(&self) -> bool {
        *self == Self::default()
    }

    /// The same water with this share of it replaced by pure water.
    #[must_use]
    pub fn thinned(&self, share: f64) -> Self {
        let left = 1.0 - share;
        Self {
            nutrients: self.nutrients.scaled(left),
            alkalinity_meq_per_l: self.alkalinity_meq_per_l.map(|meq| meq * left),
            unstated_ms_per_cm: self.unstated_ms_per_cm * left,
            ..self.clone()
        }
    }

    /// The species of the analysis in mmol/L: every nutrient by its usual ion, alkalinity as bicarbonate. The charges
    /// are left as analysed; an imbalance is a finding and is never closed.
    #[must_use]
    pub fn ions(&self, ions: &Ions, elements: &Elements) -> Vec<(IonId, f64)> {
        let mut moles = Vec::new();
        let mut add = |symbol: &str, mmol: f64| {
            if let Some(id) = ions.find(symbol).filter(|_| mmol > 0.0) {
                moles.push((id, mmol));
            }
        };
        for nutrient in super::NUTRIENTS.into_iter().filter(|n| *n != Nutrient::N) {
            let weight = elements.weight(nutrient.element()).unwrap_or(f64::NAN);
            add(nutrient.usual_ion(), self.nutrients[nutrient] / weight);
        }
        add("HCO3-", self.alkalinity_meq_per_l.unwrap_or(0.0));
        moles
    }
}
