//! What a formula can name: elements, and nitrogen by its form.

use std::fmt;
use std::ops::{Index, IndexMut};

/// An element, or a form of nitrogen, that a concentration can be stated for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs, reason = "the symbols are their own documentation")]
pub enum Nutrient {
    N,
    NitrateN,
    AmmoniumN,
    UreaN,
    P,
    K,
    Ca,
    Mg,
    S,
    Cl,
    Na,
    Si,
    Fe,
    Mn,
    Zn,
    B,
    Cu,
    Mo,
}

/// Every nutrient, in the order of reports.
pub const NUTRIENTS: [Nutrient; 18] = [
    Nutrient::N,
    Nutrient::NitrateN,
    Nutrient::AmmoniumN,
    Nutrient::UreaN,
    Nutrient::P,
    Nutrient::K,
    Nutrient::Ca,
    Nutrient::Mg,
    Nutrient::S,
    Nutrient::Cl,
    Nutrient::Na,
    Nutrient::Si,
    Nutrient::Fe,
    Nutrient::Mn,
    Nutrient::Zn,
    Nutrient::B,
    Nutrient::Cu,
    Nutrient::Mo,
];

impl Nutrient {
    /// As written in files and reports: `N`, `NO3-N`, `Ca`.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::N => "N",
            Self::NitrateN => "NO3-N",
            Self::AmmoniumN => "NH4-N",
            Self::UreaN => "urea-N",
            Self::P => "P",
            Self::K => "K",
            Self::Ca => "Ca",
            Self::Mg => "Mg",
            Self::S => "S",
            Self::Cl => "Cl",
            Self::Na => "Na",
            Self::Si => "Si",
            Self::Fe => "Fe",
            Self::Mn => "Mn",
            Self::Zn => "Zn",
            Self::B => "B",
            Self::Cu => "Cu",
            Self::Mo => "Mo",
        }
    }

    /// The nutrient written `symbol`.
    #[must_use]
    pub fn parse(symbol: &str) -> Option<Self> {
        NUTRIENTS.into_iter().find(|n| n.symbol() == symbol)
    }

    /// The element that is weighed: nitrogen for every form of it.
    #[must_use]
    pub fn element(self) -> &'static str {
        match self {
            Self::NitrateN | Self::AmmoniumN | Self::UreaN => "N",
            other => other.symbol(),
        }
    }

    /// The ion that carries it in a water analysis, and in a label that says nothing better.
    #[must_use]
    pub fn usual_ion(self) -> &'static str {
        match self {
            Self::N | Self::NitrateN => "NO3-",
            Self::AmmoniumN => "NH4+",
            Self::UreaN => "CO(NH2)2",
            Self::P => "H2PO4-",
            Self::K => "K+",
            Self::Ca => "Ca+2",
            Self::Mg => "Mg+2",
            Self::S => "SO4-2",
            Self::Cl => "Cl-",
            Self::Na => "Na+",
            Self::Si => "H4SiO4",
            Self::Fe => "Fe+2",
            Self::Mn => "Mn+2",
            Self::Zn => "Zn+2",
            Self::B => "H3BO3",
            Self::Cu => "Cu+2",
            Self::Mo => "MoO4-2",
        }
    }

    /// True for total nitrogen's parts.
    #[must_use]
    pub fn is_nitrogen_form(self) -> bool {
        self.element() == "N" && self != Self::N
    }
}

impl fmt::Display for Nutrient {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// One number for every nutrient; the owner says the unit (ppm, or grams per gram).
///
/// `N` is total nitrogen; what it exceeds its three forms by is nitrogen whose form is not known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Nutrients([f64; NUTRIENTS.len()]);

impl Nutrients {
    /// Nitrogen whose form no label tells.
    #[must_use]
    pub fn unsplit_nitrogen(&self) -> f64 {
        self.unsplit_change().max(0.0)
    }

    /// The same of a change, which may take some away.
    pub(crate) fn unsplit_change(&self) -> f64 {
        let forms = self[Nutrient::NitrateN] + self[Nutrient::AmmoniumN] + self[Nutrient::UreaN];
        // differences of rounding size are nothing
        let rest = self[Nutrient::N] - forms;
        if rest.abs() > 1e-12 * self[Nutrient::N].abs() { rest } else { 0.0 }
    }

    /// Adds `times` of another.
    pub fn add(&mut self, other: &Self, times: f64) {
        for (sum, more) in self.0.iter_mut().zip(other.0) {
            *sum += more * times;
        }
    }

    /// Every number multiplied by `times`.
    #[must_use]
    pub fn scaled(&self, times: f64) -> Self {
        Self(self.0.map(|value| value * times))
    }
}

impl Index<Nutrient> for Nutrients {
    type Output = f64;
    fn index(&self, nutrient: Nutrient) -> &f64 {
        &self.0[nutrient as usize]
    }
}

impl IndexMut<Nutrient> for Nutrients {
    fn index_mut(&mut self, nutrient: Nutrient) -> &mut f64 {
        &mut self.0[nutrient as usize]
    }
}
