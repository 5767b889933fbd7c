//! Cautions matched to the salts at hand.

use crate::matter::{Caution, Ions, Salt};

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
