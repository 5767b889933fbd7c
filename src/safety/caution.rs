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
    let concerns = |caution: &Caution, salt: &Salt| {
        let stronger = |other: &&Caution| caution.gives_way_to.contains(&other.id);
        caution.concerns(salt, ions) && !cautions.iter().filter(stronger).any(|other| other.concerns(salt, ions))
    };
    let mut advice: Vec<Advice> = cautions
        .iter()
        .filter(|caution| !caution.always)
        .map(|caution| Advice { caution, salts: (0..salts.len()).filter(|&at| concerns(caution, salts[at])).collect() })
        .filter(|advice| !advice.salts.is_empty())
        .collect();
    advice.sort_by_key(|advice| advice.caution.rank);
    advice
}

/// The cautions that belong to every mix, and those about solution of such a pH, in order of rank.
///
/// * `spent_ph`: pH, as far as it is known, of solution that will be poured away
#[must_use]
pub fn general_cautions<'a>(cautions: &'a [Caution], spent_ph: &[f64]) -> Vec<&'a Caution> {
    let of_it = |caution: &&Caution| caution.always || is_of_spent(caution, spent_ph);
    let mut general: Vec<&Caution> = cautions.iter().filter(of_it).collect();
    general.sort_by_key(|caution| caution.rank);
    general
}

fn is_of_spent(caution: &Caution, spent_ph: &[f64]) -> bool {
    let is_of =
        |ph: &f64| caution.spent_under.is_some_and(|least| *ph < least) || caution.spent_over.is_some_and(|most| *ph > most);
    spent_ph.iter().any(is_of)
}

/// True where a caution has solution of such a pH treated before it goes anywhere: a step that lets it out says so too.
///
/// * `spent_ph`: pH, as far as it is known, of what is let out
#[must_use]
pub fn is_treated_first(cautions: &[Caution], spent_ph: &[f64]) -> bool {
    cautions.iter().any(|caution| is_of_spent(caution, spent_ph))
}

/// What is worn for an acid, and where it is thinned.
///
/// * `burns`: true for one that burns, or of whose hazards nothing is known
#[must_use]
pub fn worn_for_acid(burns: bool) -> &'static str {
    if burns { "goggles, gloves and apron on, in open air" } else { "goggles and gloves on" }
}
