//! The salt table of `salts/`, embedded at build, and the grower's own products beside it.

mod build;
mod names;
mod product;
mod rows;
mod sources;
mod strength;
mod tables;

use std::sync::{Arc, LazyLock};

pub use build::CatalogueError;
pub use sources::{Grade, Pictogram, Source, Statement};

use crate::matter::{Caution, Elements, Ions, Salt};
use crate::solution::{Chemistry, Mineral};

/// Position of a salt in a [`Catalogue`]: rows of `salts/` first, then products in file order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SaltId(pub(crate) usize);

/// Everything the program knows of substances, validated; a copy shares the rows.
#[derive(Debug, Clone)]
pub struct Catalogue {
    basis: Arc<Basis>,
    salts: Arc<Vec<Salt>>,
    /// Acids that may come in other strengths than those of the rows.
    strengths: Arc<Vec<strength::Strengths>>,
}

/// What salts are made of and speak of.
#[derive(Debug)]
struct Basis {
    elements: Elements,
    ions: Ions,
    chemistry: Chemistry,
    minerals: Vec<Mineral>,
    sources: Vec<Source>,
    statements: Vec<Statement>,
    pictograms: Vec<Pictogram>,
    cautions: Vec<Caution>,
}

static STANDARD: LazyLock<Catalogue> = LazyLock::new(|| match build::embedded() {
    Ok(catalogue) => catalogue,
    // the files are part of the build and a test reads every row
    Err(error) => unreachable!("the embedded salt table is damaged: {error}"),
});

impl Catalogue {
    /// The table that the program carries.
    #[must_use]
    pub fn standard() -> &'static Self {
        &STANDARD
    }

    /// A table read from texts laid out as the files in `salts/`, for tests and for those who keep their own.
    ///
    /// # Errors
    /// [`CatalogueError`] names the file, the row, the key and what is wrong.
    pub fn from_texts(texts: &[(&str, &str)]) -> Result<Self, CatalogueError> {
        build::from_texts(texts)
    }

    /// The embedded files: name and text, in reading order.
    #[must_use]
    pub fn texts() -> &'static [(&'static str, &'static str)] {
        tables::TEXTS
    }

    /// Atomic weights.
    #[must_use]
    pub fn elements(&self) -> &Elements {
        &self.basis.elements
    }

    /// Dissolved species.
    #[must_use]
    pub fn ions(&self) -> &Ions {
        &self.basis.ions
    }

    /// Dissolved species and how they behave.
    #[must_use]
    pub fn chemistry(&self) -> &Chemistry {
        &self.basis.chemistry
    }

    /// What may fall out.
    #[must_use]
    pub fn minerals(&self) -> &[Mineral] {
        &self.basis.minerals
    }

    /// Every salt, in the order that breaks ties.
    #[must_use]
    pub fn salts(&self) -> &[Salt] {
        &self.salts
    }

    /// One salt.
    #[must_use]
    pub fn salt(&self, id: SaltId) -> &Salt {
        &self.salts[id.0]
    }

    /// The salt called `id`.
    #[must_use]
    pub fn find(&self, id: &str) -> Option<SaltId> {
        self.salts.iter().position(|salt| salt.id == id).map(SaltId)
    }

    /// Every source.
    #[must_use]
    pub fn sources(&self) -> &[Source] {
        &self.basis.sources
    }

    /// The source called `id`.
    #[must_use]
    pub fn source(&self, id: &str) -> Option<&Source> {
        self.basis.sources.iter().find(|source| source.id == id)
    }

    /// The words of an H statement.
    #[must_use]
    pub fn statement(&self, code: &str) -> Option<&Statement> {
        self.basis.statements.iter().find(|statement| statement.code == code)
    }

    /// What a GHS pictogram means.
    #[must_use]
    pub fn pictogram(&self, code: &str) -> Option<&Pictogram> {
        self.basis.pictograms.iter().find(|pictogram| pictogram.code == code)
    }

    /// General cautions, in file order.
    #[must_use]
    pub fn cautions(&self) -> &[Caution] {
        &self.basis.cautions
    }

    /// The same table with a product of the grower's own: in the place of one with its id, else at the end.
    #[must_use]
    pub fn with_product(mut self, product: Salt) -> Self {
        let salts = Arc::make_mut(&mut self.salts);
        match salts.iter_mut().find(|salt| salt.own_product && salt.id == product.id) {
            Some(same) => *same = product,
            None => salts.push(product),
        }
        self
    }
}
