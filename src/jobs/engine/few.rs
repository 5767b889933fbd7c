//! Fewer bags: the salts that a mix may use.

use super::acid::{answered, frozen, frozen_by_choice};
use super::refuse::job_error;
use super::souring::Soured;
use crate::fit::{self, EcLimits, Few, FitError, Problem, Solution};
use crate::jobs::engine::question::MixOptions;
use crate::jobs::engine::question::{Prefer, Question};
use crate::jobs::engine::tangent::EcTangent;
use crate::jobs::error::JobError;
use crate::safety::{self, Finding};
use crate::tank::parts::Part;

/// A mix with fewer salts comes as close when its misfit is within this of the best.
const AS_CLOSE: f64 = 0.01;
/// A smaller gain is not looked for among fewer salts or other acids.
const GAIN: f64 = 1e-4;

/// Forbids the salts that the wish for few leaves out.
pub(crate) fn keep_few(question: &Question, problem: &mut Problem, options: &MixOptions) -> Result<Vec<Finding>, JobError> {
    if options.salts_at_most.is_none() && options.prefer != Some(Prefer::Few) {
        return Ok(Vec::new());
    }
    let failed = |problem: &Problem, error| job_error(question, problem, error);
    // which of the limits contradict each other is told by the whole fit
    let of_all = fit::solve(&frozen(question, problem)?).map_err(|error| failed(problem, error))?;
    let all = answered(question, &mut problem.clone(), None, fit::solve)?.map_err(|error| failed(problem, error))?;
    let mut choices = Choices {
        question,
        ways: frozen_by_choice(question, problem)?,
        counted: (0..question.parts.list.len())
            .filter(|&at| matches!(question.parts.list[at], Part::Salt(_)) && !question.acids.contains(&at))
            .collect(),
        all: Chosen {
            few: Few { left_out: Vec::new(), misfit: all.solution.misfit, proved: false },
            met: all.met,
            quick: 0.0,
        },
        problem,
    };
    let kept = choices.kept(options, &of_all)?.map_err(|error| failed(choices.problem, error))?;
    let all = choices.all.few.misfit;
    let Some(few) = kept else { return Ok(Vec::new()) };
    for &at in &few.left_out {
        problem.columns[at].forbid();
    }
    let told = options.salts_at_most.map(|most| safety::fewer_salts(most, few.misfit, all, few.proved));
    Ok(told.into_iter().collect())
}

/// A choice as the answer has it.
#[derive(Clone)]
struct Chosen {
    few: Few,
    /// False where the wish for a pH is given up.
    met: bool,
    /// The misfit by which it was chosen.
    quick: f64,
}

impl Chosen {
    fn is_better_than(&self, other: &Self) -> bool {
        if self.met == other.met { self.few.misfit < other.few.misfit - GAIN * GAIN } else { self.met }
    }
}

/// What choices of salts come to.
struct Choices<'q, 'a, 'p> {
    question: &'q Question<'a>,
    problem: &'q mut Problem<'p>,
    /// The problem as a search sees it, with each choice of acids.
    ways: Vec<Problem<'p>>,
    counted: Vec<usize>,
    /// All salts.
    all: Chosen,
}

impl Choices<'_, '_, '_> {
    /// The few salts that a wish leaves; `None` where the best mix has no more than that.
    fn kept(&mut self, options: &MixOptions, of_all: &Solution) -> Result<Result<Option<Few>, FitError>, JobError> {
        let mut kept = match options.salts_at_most.map(|most| self.at_most(most)).transpose()? {
            Some(Err(error)) => return Ok(Err(error)),
            Some(Ok(chosen)) => Some(chosen),
            None => None,
        };
        if options.prefer == Some(Prefer::Few) {
            let best = kept.clone().unwrap_or_else(|| self.all.clone());
            let used = self.counted.iter().filter(|&&at| of_all.g_per_l[at] > 0.0).count();
            let mut most = kept.as_ref().map_or(used, |few| used.min(self.counted.len() - few.few.left_out.len()));
            while most > 1 {
                let few = match self.at_most(most - 1)? {
                    Ok(few) if few.few.misfit <= best.few.misfit + AS_CLOSE && few.met >= best.met => few,
                    // farther off, or too few for the limits
                    Ok(_) | Err(FitError::Conflict(_) | FitError::NothingToMixFrom | FitError::TooFew { .. }) => break,
                    Err(error) => return Ok(Err(error)),
                };
                most = (most - 1).min(self.counted.len() - few.few.left_out.len());
                kept = Some(few);
            }
        }
        Ok(Ok(kept.map(|chosen| chosen.few)))
    }

    /// The best of at most `most` salts that is found, by what the answer makes of it: with the acids that can be measured.
    ///
    /// A search fits hundreds of times, with the charges of the acids frozen and EC by its tangent. Where the answer is worse than that
    /// promises, other acids and fewer salts may come closer.
    fn at_most(&mut self, most: usize) -> Result<Result<Chosen, FitError>, JobError> {
        let mut best: Option<Chosen> = None;
        for most in (1..=most).rev() {
            let mut promise = f64::INFINITY;
            for way in 0..self.ways.len() {
                let chosen = match self.of_way(way, most)? {
                    Ok(Some(chosen)) => chosen,
                    Ok(None) | Err(FitError::Conflict(_) | FitError::NothingToMixFrom | FitError::TooFew { .. }) => continue,
                    Err(error) => return Ok(Err(error)),
                };
                promise = promise.min(chosen.quick);
                if best.as_ref().is_none_or(|best| chosen.is_better_than(best)) {
                    best = Some(chosen);
                }
                if best.as_ref().is_some_and(|best| self.is_as_good_as(best, self.all.few.misfit)) {
                    break;
                }
            }
            if best.as_ref().is_none_or(|best| self.is_as_good_as(best, promise)) {
                break;
            }
        }
        if let Some(best) = best {
            return Ok(Ok(best));
        }
        if self.problem.ec.is_none() && self.question.acids.is_empty() {
            return Ok(Err(FitError::TooFew { most }));
        }
        // without the acid, and limits of EC by EC itself
        let mut plain = self.problem.clone();
        self.question.acids.iter().for_each(|&at| plain.columns[at].forbid());
        Ok(match fit::fewest(&mut plain, &self.counted, most) {
            Ok(few) => Ok(self.confirmed(&few)?.unwrap_or(Chosen { quick: few.misfit, met: false, few })),
            Err(error) => Err(error),
        })
    }

    /// True where nothing that misses by `misfit` or more would be better.
    fn is_as_good_as(&self, chosen: &Chosen, misfit: f64) -> bool {
        chosen.met >= self.all.met && chosen.few.misfit <= misfit + GAIN
    }

    fn of_way(&mut self, way: usize, most: usize) -> Result<Result<Option<Chosen>, FitError>, JobError> {
        let mut quick = self.ways[way].clone();
        let tangent = match (&quick.ec, fit::solve(&quick)) {
            (None, _) => None,
            (Some(_), Ok(all)) => Some(EcTangent::new(&self.question.mixture, self.question.formula, &all.g_per_l)),
            (Some(_), Err(error)) => return Ok(Err(error)),
        };
        if let Some(tangent) = &tangent {
            quick.ec = quick.ec.map(|ec| EcLimits { conducts: tangent, ..ec });
        }
        Ok(match fit::fewest(&mut quick, &self.counted, most) {
            Ok(few) => Ok(self.confirmed(&few)?),
            Err(error) => Err(error),
        })
    }

    /// A choice with its misfit by the chemistry; `None` where that keeps no limit.
    fn confirmed(&mut self, few: &Few) -> Result<Option<Chosen>, JobError> {
        let quick = few.misfit;
        if self.problem.ec.is_none() && self.question.acids.is_empty() {
            return Ok(Some(Chosen { few: few.clone(), met: true, quick }));
        }
        let question = self.question;
        Ok(match fit::without(self.problem, &few.left_out, |problem| answered(question, problem, None, fit::solve))? {
            Ok(Soured { solution, met, .. }) => {
                let few = Few { misfit: solution.misfit, proved: false, ..few.clone() };
                Some(Chosen { few, met, quick })
            }
            Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => None,
            Err(error) => return Err(job_error(question, self.problem, error)),
        })
    }
}
