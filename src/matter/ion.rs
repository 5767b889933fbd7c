//! The dissolved species that salts give, as rows of `salts/ions.toml`.

use super::{Formula, Nutrient};

/// How the nitrogen of a species counts for a plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NitrogenForm {
    /// Nitrate, ammonium or urea nitrogen.
    Counts(Nutrient),
    /// Nitrogen of a chelating agent, which a label does not count either.
    Bound,
}

/// A dissolved species: an ion, or an uncharged molecule such as boric acid.
#[derive(Debug, Clone)]
pub struct Ion {
    /// Symbol with charge, `SO4-2`.
    pub symbol: String,
    /// Its atoms; `None` for the stand-ins that close the charge of a label.
    pub formula: Option<Formula>,
    /// Charge number.
    pub charge: i32,
    /// How its nitrogen counts, where it holds any.
    pub nitrogen: Option<NitrogenForm>,
}

/// Index of a species in [`Ions`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct IonId(pub(crate) usize);

impl IonId {
    /// Its position in [`Ions::rows`].
    #[must_use]
    pub fn index(self) -> usize {
        self.0
    }
}

/// The table of species.
#[derive(Debug, Clone, Default)]
pub struct Ions {
    rows: Vec<Ion>,
}

impl Ions {
    /// A table from its rows.
    #[must_use]
    pub fn new(rows: Vec<Ion>) -> Self {
        Self { rows }
    }

    /// The index of `symbol`.
    #[must_use]
    pub fn find(&self, symbol: &str) -> Option<IonId> {
        self.rows.iter().position(|ion| ion.symbol == symbol).map(IonId)
    }

    /// The row of an index.
    #[must_use]
    pub fn get(&self, id: IonId) -> &Ion {
        &self.rows[id.0]
    }

    /// All rows in order.
    #[must_use]
    pub fn rows(&self) -> &[Ion] {
        &self.rows
    }
}
