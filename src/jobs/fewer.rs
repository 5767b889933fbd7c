//! Fewer bags: the salts that a mix may use.

use super::mix::MixOptions;
use super::parts::Part;
use super::question::{Prefer, Question};
use crate::fit::{self, FitError, Problem};
use crate::safety::{self, Finding};

/// A mix with fewer salts comes as close when its misfit is within this of the best.
const AS_CLOSE: f64 = 0.01;

/// Forbids the salts that the wish for few leaves out.
pub(super) fn keep_few(question: &Question, problem: &mut Problem, options: &MixOptions) -> Result<Vec<Finding>, FitError> {
    let counted: Vec<usize> = (0..question.parts.list.len())
        .filter(|&at| matches!(question.parts.list[at], Part::Salt(_)) && question.acid != Some(at))
        .collect();
    let mut found = Vec::new();
    let mut kept = None;
    if let Some(most) = options.salts_at_most {
        let all = fit::solve(problem)?.misfit;
        let few = fit::fewest(problem, &counted, most)?;
        found.push(safety::fewer_salts(most, few.misfit, all, few.proved));
        kept = Some(few);
    }
    if options.prefer == Some(Prefer::Few) {
        let start = kept.as_ref().map_or_else(Vec::new, |few| few.left_out.clone());
        let best = fit::without(problem, &start, |problem| fit::solve(problem))?;
        let mut most = counted.iter().filter(|&&at| best.g_per_l[at] > 0.0).count();
        while most > 1 {
            let few = fit::fewest(problem, &counted, most - 1)?;
            if few.misfit > best.misfit + AS_CLOSE {
                break;
            }
            kept = Some(few);
            most -= 1;
        }
    }
    for at in kept.into_iter().flat_map(|few| few.left_out) {
        problem.columns[at].most_g_per_l = Some(0.0);
    }
    Ok(found)
}
