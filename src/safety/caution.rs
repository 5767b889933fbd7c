//! Cautions of `salts/cautions.toml`, matched to the salts at hand.

use serde::Deserialize;

use crate::matter::{Ions, Salt};

/// One caution and what it applies to.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// Short id.
    pub id: String,
    /// A word or two to find it by.
    pub heading: String,
    /// 1 is printed first.
    pub rank: u8,
    /// Applies to salts with any of these H statements.
    #[serde(default)]
    pub statements: Vec<String>,
    /// Applies to salts that release any of these species.
    #[serde(default)]
    pub species: Vec<String>,
    /// Applies to salts of these kinds.
    #[serde(default)]
    pub kinds: Vec<String>,
    /// Applies to these salts by id.
    #[serde(default)]
    pub salts: Vec<String>,
    /// Applies to every mix, whatever is in it.
    #[serde(default)]
    pub always: bool,
    /// What to do.
    pub text: String,
    /// Source id.
    pub source: String,
}

impl Caution {
    fn concerns(&self, salt: &Salt, ions: &Ions) -> bool {
        self.statements.iter().any(|code| salt.hazards.statements.contains(code))
            || self.kinds.iter().any(|kind| kind == salt.kind.name())
            || self.salts.contains(&salt.id)
            || self.species.iter().any(|symbol| {
                ions.find(symbol).is_some_and(|id| salt.composition.ions.iter().any(|(ion, mol)| *ion == id && *mol > 0.0))
            })
    }
}

/// A caution and the salts of this mix that it concerns.
#[derive(Debug, Clone)]
pub struct Advice<'a> {
    /// The caution.
    pub caution: &'a Caution,
    /// Positions in the list of salts given.
    pub salts: Vec<usize>,
}

/// The cautions that concern any of `salts`, most severe first.
#[must_use]
pub fn advice_for<'a>(cautions: &'a [Caution], salts: &[&Salt], ions: &Ions) -> Vec<Advice<'a>> {
    let mut advice: Vec<Advice> = cautions
        .iter()
        .filter(|caution| !caution.always)
        .map(|caution| Advice { caution, salts: (0..salts.len()).filter(|&at| caution.concerns(salts[at], ions)).collect() })
        .filter(|advice| !advice.salts.is_empty())
        .collect();
    advice.sort_by_key(|advice| advice.caution.rank);
    advice
}

/// The cautions that belong to every mix, in order of rank.
#[must_use]
pub fn general_cautions(cautions: &[Caution]) -> Vec<&Caution> {
    let mut general: Vec<&Caution> = cautions.iter().filter(|caution| caution.always).collect();
    general.sort_by_key(|caution| caution.rank);
    general
}
