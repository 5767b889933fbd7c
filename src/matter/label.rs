//! Guaranteed analyses: percent by mass, as elements or as the oxides that labels use.

use std::fmt;

use super::{Composition, Elements, Formula, IonId, Ions, Nutrient};

/// One entry of a label.
#[derive(Debug, Clone, PartialEq)]
pub struct LabelItem {
    /// As written: `P2O5`, `K2O`, `NO3-N`, `Fe`.
    pub key: String,
    /// Percent by mass.
    pub percent: f64,
}

/// A guaranteed analysis.
#[derive(Debug, Clone, Default)]
pub struct Label {
    items: Vec<(Nutrient, f64)>,
}

/// What is wrong with a label.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum LabelError {
    /// A key that no label of ours has.
    UnknownKey {
        /// The key.
        key: String,
        /// What looks like it.
        suggestion: Option<&'static str>,
    },
    /// The same element twice, as in P and P2O5.
    Twice {
        /// The element.
        nutrient: Nutrient,
        /// The key that repeats it.
        key: String,
    },
    /// The forms of nitrogen add up to more than N.
    NitrogenSplit {
        /// Sum of the forms, percent.
        forms: f64,
        /// N as stated, percent.
        total: f64,
    },
    /// More than everything.
    OverHundred {
        /// The sum as written, percent.
        sum: f64,
    },
}

impl fmt::Display for LabelError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownKey { key, .. } => {
                write!(f, "`{key}` is not an entry of a label; it takes {}", Label::keys().collect::<Vec<_>>().join(", "))
            }
            Self::Twice { nutrient, key } => write!(f, "`{key}` states {nutrient} a second time; state it once"),
            Self::NitrogenSplit { forms, total } => {
                write!(f, "the forms of nitrogen add up to {forms} %, but N is {total} %; they cannot exceed it")
            }
            Self::OverHundred { sum } => write!(f, "the analysis adds up to {sum} %, more than the whole"),
        }
    }
}

impl std::error::Error for LabelError {}

/// Labels round to a tenth of a percent, so the split may exceed N by half of that.
const SPLIT_ROUNDING_PERCENT: f64 = 0.05;

const OXIDES: [(&str, Nutrient); 13] = [
    ("P2O5", Nutrient::P),
    ("K2O", Nutrient::K),
    ("CaO", Nutrient::Ca),
    ("MgO", Nutrient::Mg),
    ("SO3", Nutrient::S),
    ("SiO2", Nutrient::Si),
    ("Na2O", Nutrient::Na),
    ("B2O3", Nutrient::B),
    ("MnO", Nutrient::Mn),
    ("ZnO", Nutrient::Zn),
    ("CuO", Nutrient::Cu),
    ("Fe2O3", Nutrient::Fe),
    ("MoO3", Nutrient::Mo),
];

impl Label {
    /// Every key that a label may use.
    pub fn keys() -> impl Iterator<Item = &'static str> {
        super::NUTRIENTS.into_iter().map(Nutrient::symbol).chain(OXIDES.map(|(key, _)| key))
    }

    /// Reads the entries: oxides become elements, the nitrogen split is checked.
    ///
    /// # Errors
    /// [`LabelError`] where the label contradicts itself.
    pub fn new(items: &[LabelItem], elements: &Elements) -> Result<Self, LabelError> {
        let mut read: Vec<(Nutrient, f64)> = Vec::new();
        for item in items {
            let (nutrient, share) = Self::read_key(&item.key, elements)?;
            if read.iter().any(|(seen, _)| *seen == nutrient) {
                return Err(LabelError::Twice { nutrient, key: item.key.clone() });
            }
            read.push((nutrient, item.percent * share));
        }
        let percent_of = |wanted: Nutrient| read.iter().find(|(n, _)| *n == wanted).map(|(_, p)| *p);
        let forms: f64 = read.iter().filter(|(n, _)| n.is_nitrogen_form()).map(|(_, p)| p).sum();
        let total = percent_of(Nutrient::N);
        if let Some(total) = total.filter(|total| forms > total + SPLIT_ROUNDING_PERCENT) {
            return Err(LabelError::NitrogenSplit { forms, total });
        }
        // forms are part of N where N is stated, so they count once
        let sum: f64 = items
            .iter()
            .filter(|item| total.is_none() || Nutrient::parse(&item.key).is_none_or(|n| !n.is_nitrogen_form()))
            .map(|item| item.percent)
            .sum();
        if sum > 100.0 + SPLIT_ROUNDING_PERCENT {
            return Err(LabelError::OverHundred { sum });
        }
        Ok(Self { items: read })
    }

    fn read_key(key: &str, elements: &Elements) -> Result<(Nutrient, f64), LabelError> {
        if let Some(nutrient) = Nutrient::parse(key) {
            return Ok((nutrient, 1.0));
        }
        let oxide = OXIDES.iter().find(|(name, _)| *name == key);
        oxide
            .and_then(|(name, nutrient)| {
                let formula = Formula::parse(name, elements).ok()?;
                Some((*nutrient, formula.mass_fraction(nutrient.element(), elements)))
            })
            .ok_or_else(|| LabelError::UnknownKey {
                key: key.to_owned(),
                suggestion: crate::suggest::nearest(key, Self::keys()),
            })
    }

    /// True where the label states a nutrient.
    #[must_use]
    pub fn has(&self, nutrient: Nutrient) -> bool {
        self.items.iter().any(|(stated, percent)| *stated == nutrient && *percent > 0.0)
    }

    /// Nitrogen of which the label does not tell the form, percent by mass.
    #[must_use]
    pub fn unsplit_percent(&self) -> f64 {
        let forms: f64 = self.items.iter().filter(|(n, _)| n.is_nitrogen_form()).map(|(_, p)| p).sum();
        let total = self.items.iter().find(|(n, _)| *n == Nutrient::N).map_or(0.0, |(_, percent)| *percent);
        (total - forms).max(0.0)
    }

    /// The composition of one gram.
    ///
    /// `carried_as` names another ion than [`Nutrient::usual_ion`] for an element (a chelate). Nitrogen without a split
    /// is taken as half nitrate and half ammonium for its charge and EC only. `closing` says which moles of which ions
    /// close the charge that is left, equivalents per gram.
    #[must_use]
    pub fn composition(
        &self,
        carried_as: impl Fn(Nutrient) -> Option<IonId>,
        closing: impl FnOnce(f64) -> Vec<(IonId, f64)>,
        ions: &Ions,
        elements: &Elements,
    ) -> Composition {
        let mut moles: Vec<(IonId, f64)> = Vec::new();
        let mut add = |id: Option<IonId>, mol: f64| {
            if let Some(id) = id.filter(|_| mol != 0.0) {
                moles.push((id, mol));
            }
        };
        let mol_of =
            |nutrient: Nutrient, percent: f64| percent / 100.0 / elements.weight(nutrient.element()).unwrap_or(f64::NAN);
        let unsplit_percent = self.unsplit_percent();
        for &(nutrient, percent) in &self.items {
            if nutrient == Nutrient::N {
                let half = mol_of(Nutrient::N, unsplit_percent) / 2.0;
                add(ions.find("NO3-"), half);
                add(ions.find("NH4+"), half);
            } else {
                let id = carried_as(nutrient).or_else(|| ions.find(nutrient.usual_ion()));
                let atoms = id
                    .and_then(|id| ions.get(id).formula.as_ref())
                    .map_or(1, |formula| formula.count(nutrient.element()).max(1));
                add(id, mol_of(nutrient, percent) / f64::from(atoms));
            }
        }
        let charge: f64 = moles.iter().map(|&(id, mol)| mol * f64::from(ions.get(id).charge)).sum();
        moles.extend(closing(charge));
        let mut composition = Composition::of_ions(moles, ions, elements);
        // what was halved above is of unknown form
        let half = unsplit_percent / 200.0;
        composition.nutrients[Nutrient::NitrateN] -= half;
        composition.nutrients[Nutrient::AmmoniumN] -= half;
        composition
    }
}
