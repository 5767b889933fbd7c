//! Another formula from the same bottles: by themselves, and with few salts weighed in beside them.

use super::WithSalts;
use super::bottles::{Bottles, holds};
use crate::bench::{Basis, Bench, Stock};
use crate::catalogue::SaltId;
use crate::fit::{self, EcLimits, FitError, Problem};
use crate::jobs::engine::AS_GOOD;
use crate::jobs::engine::kept_apart;
use crate::jobs::engine::question::{MixOptions, formula as formula_called};
use crate::jobs::engine::refuse::job_error;
use crate::jobs::engine::tangent::EcTangent;
use crate::jobs::error::JobError;
use crate::jobs::mix::mix;
use crate::jobs::record::{AcidRecord, Dose, MixRecord, VerdictWord};
use crate::quantity::{gram, liter};
use crate::safety;
use crate::tank::Tank;
use crate::tank::parts::Part;

/// So many salts beside the bottles are few (own choice): about half of what a tank takes without bottles.
const FEW: usize = 6;
/// So often one salt is put in place of another.
const SWAPS: usize = 4;

/// A formula asked of bottles made for another.
pub(super) struct Other<'a> {
    pub(super) bench: &'a Bench,
    pub(super) formula: &'a str,
    pub(super) filled: &'a Bottles,
}

/// Nothing where limits or instruments stand against a mix.
pub(super) fn possible<T>(mixed: Result<T, JobError>) -> Result<Option<T>, JobError> {
    match mixed {
        Err(
            JobError::Conflict { .. }
            | JobError::NothingToMixFrom { .. }
            | JobError::NothingMeasurable { .. }
            | JobError::TooFewSalts { .. },
        ) => Ok(None),
        mixed => mixed.map(Some),
    }
}

impl Other<'_> {
    /// The bottles, and of the shelf only what goes straight into the tank.
    pub(super) fn alone(&self, straight: &[SaltId]) -> Result<MixRecord, JobError> {
        self.mixed(&self.with_bottles(self.bench, |stock| straight.contains(&stock.salt)), &MixOptions::default())
    }

    /// The bottles and the fewest salts of the shelf that come as close as all of it; nothing where even all cannot keep the limits.
    ///
    /// * `shelf`: the bench without bottles, its shelf full
    pub(super) fn with_salts(&self, shelf: &Bench) -> Result<Option<WithSalts>, JobError> {
        let brief = MixOptions { without_reasons: true, ..MixOptions::default() };
        let of_shelf = mix(shelf, self.formula, &brief)?;
        let Some(misfit_of_shelf) = of_shelf.misfit_exact else { return Ok(None) };
        let all = self.with_bottles(shelf, |_| true);
        let kept = self.kept(&all, misfit_of_shelf, &of_shelf.acid)?;
        let tank = self.mixed(&self.with_bottles(shelf, |stock| kept.contains(&stock.salt)), &brief)?;
        let acids: &[String] = all.acid.as_ref().map_or(&[], |acid| &acid.salts);
        let salts: Vec<String> =
            tank.doses.iter().filter_map(Dose::salt).map(str::to_owned).filter(|salt| !acids.contains(salt)).collect();
        let is_stock = |id: &str| self.filled.bottles.iter().any(|one| self.filled.helpers[one.helper].id == *id);
        let drawn = tank.doses.iter().any(|dose| dose.is_measured() && dose.bottle().is_some_and(is_stock));
        let is_close = tank.misfit_exact.is_some_and(|misfit| misfit <= misfit_of_shelf + AS_GOOD);
        let as_good = drawn && (is_close || tank.verdict.word == VerdictWord::Ready) && salts.len() <= FEW;
        Ok(Some(WithSalts { tank, salts, misfit_of_shelf, as_good }))
    }

    /// Salts that stay when one after another is left out, each time the one that is missed the least, as long as the misfit
    /// is as good as that of the shelf or there are more than few.
    ///
    /// * `acids`: as dosed beside the shelf
    fn kept(&self, all: &Bench, misfit_of_shelf: f64, acids: &[AcidRecord]) -> Result<Vec<SaltId>, JobError> {
        let question = kept_apart::question(Tank::fresh(all)?, formula_called(all, self.formula)?, None)?;
        let mut problem = question.problem(&question.mixture);
        // the acid is dosed anew for what stays; until then it brings about what it brings beside the shelf
        question.acids.iter().for_each(|&at| problem.columns[at].forbid());
        for acid in acids {
            let grams = if acid.basis == Basis::Fresh { acid.grams_fresh } else { acid.grams_aired };
            if let (Some(salt), Some(grams)) = (all.catalogue.find(&acid.salt), grams) {
                let brings = all.composition(&all.stock(salt)).nutrients;
                problem.water_ppm.add(&brings, 1e3 * grams / question.litres());
            }
        }
        let exact = fit::solve(&problem).map_err(|error| job_error(&question, &problem, error))?;
        // dozens of fits: EC goes by its tangent
        let tangent = EcTangent::new(&question.mixture, question.formula, &exact.g_per_l);
        let ec = problem.ec.map(|ec| EcLimits { conducts: &tangent, ..ec });
        let mut quick = Problem { ec, ..problem };
        let salt_at = |at: usize| match question.parts.list[at] {
            Part::Salt(stock) => Some(stock.salt),
            Part::Helper(_) => None,
        };
        let counted: Vec<usize> =
            (0..question.parts.list.len()).filter(|at| salt_at(*at).is_some() && !question.acids.contains(at)).collect();
        let used = counted.iter().copied().filter(|&at| exact.g_per_l[at] > 0.0).collect();
        let enough = misfit_of_shelf.max(exact.misfit) + AS_GOOD;
        let kept = few(&mut quick, &counted, used, enough).map_err(|error| job_error(&question, &quick, error))?;
        Ok(kept.into_iter().filter_map(salt_at).collect())
    }

    fn mixed(&self, bench: &Bench, options: &MixOptions) -> Result<MixRecord, JobError> {
        let mut mix = mix(bench, self.formula, options)?;
        for helper in &mut mix.helpers {
            let whole = helper.dose_ml.map(|ml| (helper.volume_ml / ml + 1e-9).floor());
            helper.tanks = whole.unwrap_or(helper.tanks);
        }
        let drawn = mix.helpers.iter().filter_map(|helper| Some((&*helper.id, helper.dose_ml?, helper.volume_ml)));
        let short = safety::bottles_run_short(mix.volume_l, drawn);
        mix.findings.extend(short);
        mix.findings.sort_by_key(|finding| finding.severity);
        Ok(mix)
    }

    /// A bench with the bottles on it, and of its shelf what may go in by itself.
    fn with_bottles(&self, of: &Bench, by_itself: impl Fn(&Stock) -> bool) -> Bench {
        let mut bench = of.clone();
        // what is in the bottles is as pure as the shelf says, and by itself it goes in no more
        for stock in bench.shelf.iter_mut().filter(|stock| !by_itself(stock)) {
            stock.on_hand = Some(gram(0.0));
        }
        bench.helpers.clone_from(&self.filled.helpers);
        let is_stock = |at: usize| self.filled.bottles.iter().any(|bottle| bottle.helper == at);
        for (at, helper) in bench.helpers.iter_mut().enumerate() {
            // as many fillings of a bottle as the tank takes, and none of any other
            helper.left = Some(if is_stock(at) { of.tank.volume } else { liter(0.0) });
        }
        // a solid acid is in one of the bottles now
        for id in bench.acid.iter_mut().flat_map(|acid| &mut acid.salts) {
            if let Some(bottle) = self.filled.bottles.iter().find(|bottle| holds(self.bench, bottle, id)) {
                id.clone_from(&self.filled.helpers[bottle.helper].id);
            }
        }
        bench
    }
}

/// Of the columns `counted` those that stay: as few as come to the misfit `enough`, else [`FEW`] of them.
fn few(problem: &mut Problem, counted: &[usize], used: Vec<usize>, enough: f64) -> Result<Vec<usize>, FitError> {
    let (mut kept, mut now) = (used, enough);
    let less = |kept: &[usize], out: usize| kept.iter().copied().filter(|&at| at != out).collect::<Vec<_>>();
    while let Some((fewer, misfit)) = closest(problem, counted, kept.iter().map(|&out| less(&kept, out)))? {
        if misfit > enough && kept.len() <= FEW {
            break;
        }
        (kept, now) = (fewer, misfit);
    }
    // one that went too early comes back in place of another
    for _ in 0..SWAPS {
        if now <= enough {
            break;
        }
        let others: Vec<usize> = counted.iter().copied().filter(|at| !kept.contains(at)).collect();
        let swapped = |out: usize, other: usize| [less(&kept, out), vec![other]].concat();
        let swaps: Vec<Vec<usize>> = kept
            .iter()
            .flat_map(|&out| others.iter().map(move |&other| (out, other)))
            .map(|(out, other)| swapped(out, other))
            .collect();
        match closest(problem, counted, swaps)? {
            Some((swapped, misfit)) if misfit < now - 1e-9 => (kept, now) = (swapped, misfit),
            _ => break,
        }
    }
    Ok(kept)
}

/// Of several choices of columns the one with the least misfit, and that; nothing where none keeps the limits.
fn closest(
    problem: &mut Problem,
    counted: &[usize],
    choices: impl IntoIterator<Item = Vec<usize>>,
) -> Result<Option<(Vec<usize>, f64)>, FitError> {
    let mut least: Option<(Vec<usize>, f64)> = None;
    for kept in choices {
        let out: Vec<usize> = counted.iter().copied().filter(|at| !kept.contains(at)).collect();
        match fit::without(problem, &out, |problem| fit::solve_misfit(problem)) {
            Ok(solution) if least.as_ref().is_none_or(|(_, misfit)| solution.misfit < *misfit) => {
                least = Some((kept, solution.misfit));
            }
            Ok(_) | Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(least)
}
