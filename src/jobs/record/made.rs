//! What a job has made, before anything is reckoned from it.

use super::rank::rank_of;
use super::step::{Act, Step};
use crate::bench::Formula;
use crate::fit::Proof;
use crate::jobs::engine::acid::AcidRecord;
use crate::jobs::engine::bottles::Proposed;
use crate::jobs::record::StageRecord;
use crate::matter::Salt;
use crate::safety::Finding;
use crate::tank::Tank;
use crate::tank::instrument::Measured;
use crate::tank::parts::{Part, Parts};

/// What a job has made, before anything is reckoned from it.
pub(crate) struct Made<'a> {
    pub(crate) job: &'static str,
    pub(crate) tank: &'a Tank<'a>,
    /// The formula it is judged by.
    pub(crate) formula: Option<&'a Formula>,
    /// Everything that may be in it.
    pub(crate) parts: &'a Parts<'a>,
    /// Exact amounts per litre, in the unit of each part.
    pub(crate) exact_per_l: &'a [f64],
    /// What is measured out.
    pub(crate) measured: &'a [Measured],
    /// New bottles.
    pub(crate) proposed: &'a [Proposed],
    /// Misfit of the exact amounts, and what may be said of it.
    pub(crate) misfit_exact: Option<(f64, Proof)>,
    /// True when no other whole steps come closer.
    pub(crate) proved: bool,
    /// What each wish came to.
    pub(crate) stages: Vec<StageRecord>,
    /// The acids and their doses.
    pub(crate) acid: Vec<AcidRecord>,
    /// Findings of the job itself.
    pub(crate) findings: Vec<Finding>,
}

impl<'a> Made<'a> {
    /// What was measured out and never fitted.
    pub(crate) fn unfitted(
        job: &'static str,
        tank: &'a Tank<'a>,
        parts: &'a Parts<'a>,
        exact_per_l: &'a [f64],
        measured: &'a [Measured],
    ) -> Self {
        Self {
            job,
            tank,
            formula: None,
            parts,
            exact_per_l,
            measured,
            proposed: &[],
            misfit_exact: None,
            proved: false,
            stages: Vec::new(),
            acid: Vec::new(),
            findings: Vec::new(),
        }
    }

    /// Position of the bottle that a part comes in, where it is a new one.
    pub(super) fn bottle_of(&self, at: usize) -> Option<usize> {
        let one = self.proposed.iter().find(|one| one.serves.contains(&at))?;
        self.parts.list.iter().position(|part| *part == Part::Helper(one.helper))
    }

    /// Positions of what is used, in the order in which it goes into the tank: silicate, large salts, calcium, traces. What
    /// comes in a new bottle stands behind it.
    pub(super) fn in_order_of_mixing(&self) -> Vec<usize> {
        let parts = self.parts;
        let mut used: Vec<usize> = (0..parts.list.len())
            .filter(|&at| self.exact_per_l[at] > 0.0 || self.measured[at].amount > 0.0)
            .filter(|&at| self.bottle_of(at).is_none())
            .collect();
        used.sort_by_key(|&at| rank_of(parts, at));
        // a bottle that is thinned into a new one is told where that is made
        let is_salt = |served: &usize| matches!(parts.list[*served], Part::Salt(_));
        let behind =
            |at: usize| (0..parts.list.len()).filter(is_salt).filter(move |&served| self.bottle_of(served) == Some(at));
        used.into_iter().flat_map(|at| std::iter::once(at).chain(behind(at))).collect()
    }

    /// What is shown in the order in which the steps do it: an acid of which a part goes into the plain water stands where that
    /// is done, after a silicate and before all else.
    pub(super) fn in_order_of(&self, steps: &[Step], shown: Vec<usize>) -> Vec<usize> {
        let soured: Vec<&String> = steps.iter().filter(|step| step.act == Act::Sour).flat_map(|step| &step.parts).collect();
        let rank = |at: usize| {
            let own = self.bottle_of(at).unwrap_or(at);
            let is_soured = soured.iter().any(|id| *id == self.parts.id(own));
            if rank_of(self.parts, own) == 0 { 0 } else { u8::from(!is_soured) + 1 }
        };
        let mut shown = shown;
        shown.sort_by_key(|&at| rank(at));
        shown
    }

    /// Every salt that is handled: weighed into the tank, or into a new bottle.
    pub(super) fn salts_handled(&self, shown: &[usize]) -> Vec<&'a Salt> {
        let mut salts: Vec<&Salt> = Vec::new();
        for &at in shown {
            for (salt, _) in self.parts.contents(at).salts {
                let salt = self.tank.bench.catalogue.salt(salt);
                if !salts.iter().any(|other| other.id == salt.id) {
                    salts.push(salt);
                }
            }
        }
        salts
    }
}
