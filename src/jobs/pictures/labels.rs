//! Warning labels of salts in words.

use serde::Serialize;

use crate::catalogue::{Catalogue, Source};

/// A code and what it means.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Worded {
    /// `GHS05` or `H318`.
    pub code: String,
    /// Its words.
    pub words: String,
}

/// The warning label of one salt.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Label {
    /// Id of the salt.
    pub salt: String,
    /// Its pictograms.
    pub pictograms: Vec<Worded>,
    /// Its hazard statements.
    pub statements: Vec<Worded>,
    /// Where the words come from.
    pub sources: Vec<Source>,
}

/// The warning labels of salts, in the order given; ids that the catalogue does not know are left out.
#[must_use]
pub fn labels<'s>(catalogue: &Catalogue, salts: impl Iterator<Item = &'s str>) -> Vec<Label> {
    let salts = salts.filter_map(|id| catalogue.find(id)).map(|id| catalogue.salt(id));
    salts
        .map(|salt| {
            let pictograms: Vec<_> = salt.hazards.pictograms.iter().filter_map(|code| catalogue.pictogram(code)).collect();
            let statements: Vec<_> = salt.hazards.statements.iter().filter_map(|code| catalogue.statement(code)).collect();
            let named = |source: &&Source| {
                pictograms.iter().any(|one| one.source == source.id) || statements.iter().any(|one| one.source == source.id)
            };
            Label {
                salt: salt.id.clone(),
                sources: catalogue.sources().iter().filter(named).cloned().collect(),
                pictograms: pictograms
                    .iter()
                    .map(|one| Worded { code: one.code.clone(), words: one.means.clone() })
                    .collect(),
                statements: statements
                    .iter()
                    .map(|one| {
                        let mark = if salt.hazards.stricter.contains(&one.code) { " (stricter source)" } else { "" };
                        Worded { code: one.code.clone(), words: format!("{}{mark}", one.text) }
                    })
                    .collect(),
            }
        })
        .collect()
}
