//! From exact amounts to what the instruments can show: bottles for what is too little, then whole steps.

use super::bottles::{self, Proposed};
use super::exact::exact;
use super::question::{Question, formula as formula_called};
use super::refuse::limit_words;
use crate::bench::Bench;
use crate::fit::{self, Ladder, Solution, ToWeigh};
use crate::jobs::engine::ladder::ladder;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::error::JobError;
use crate::safety::{self, Finding};
use crate::tank::Tank;
use crate::tank::chemistry::{slips, volume_deviation};
use crate::tank::instrument::{Measured, measured};
use crate::tank::parts::{Part, Parts};

/// A mix as measured out.
pub(crate) struct Weighed<'a> {
    /// With the bottles that are proposed.
    pub(crate) parts: Parts<'a>,
    pub(crate) measured: Vec<Measured>,
    pub(crate) proposed: Vec<Proposed>,
    pub(crate) proved: bool,
    pub(crate) misfit: f64,
    pub(crate) findings: Vec<Finding>,
}

/// Brings the exact answer to what the instruments can show: bottles for what is too little, then whole steps.
pub(crate) fn weigh<'a>(question: &Question<'a>, exact: &Solution) -> Weighed<'a> {
    let litres = question.litres();
    let doses: Vec<f64> = exact.g_per_l.iter().map(|x| x * litres).collect();
    let mut parts = question.parts.clone();
    let proposed = bottles::propose(&mut parts, &doses);
    let mut start = exact.clone();
    start.g_per_l.resize(parts.list.len(), 0.0);
    for one in proposed.iter().filter(|one| !one.serves.is_empty()) {
        one.serves.iter().for_each(|&served| start.g_per_l[served] = 0.0);
        if let Some(at) = parts.list.iter().position(|part| *part == Part::Helper(one.helper)) {
            start.g_per_l[at] = one.dose_ml / litres;
        }
    }
    let question = question.with_parts(parts);
    let Question { tank, parts, mixture, .. } = &question;
    let bench = tank.bench;
    let ladders: Vec<Ladder> = (0..parts.list.len()).map(|at| ladder(bench, parts.density(at), parts.most(at))).collect();
    // the pH decides the dose of the acid, or of the bottle that stands in for it
    let settled: Vec<(usize, f64)> = question
        .acids
        .iter()
        .copied()
        .flat_map(|acid| {
            let thinned = proposed.iter().find(|one| one.serves.contains(&acid)).map(|one| Part::Helper(one.helper));
            let bottle = thinned.and_then(|part| parts.list.iter().position(|other| *other == part));
            let steps = |at: usize| (at, ladders[at].amount(ladders[at].nearest(start.g_per_l[at] * litres)));
            std::iter::once(steps(acid)).chain(bottle.map(steps))
        })
        .collect();
    let deviations: Vec<f64> = (0..parts.list.len())
        .map(|at| measured(bench, parts.density(at), start.g_per_l[at] * litres).deviation / litres)
        .collect();
    let slips = slips(parts, &start.g_per_l, &deviations);
    let plus_minus = mixture.plus_minus_ppm(&start.g_per_l, &slips, volume_deviation(tank));
    let problem = question.problem(mixture);
    let weighed = fit::weigh(&ToWeigh {
        problem: &problem,
        exact: &start,
        ladders: &ladders,
        litres,
        settled: &settled,
        plus_minus_ppm: &plus_minus,
    });
    // a bottle of which nothing is taken after all is not made
    let drawn = |helper: usize| {
        parts.list.iter().zip(&weighed.amounts).any(|(part, amount)| *part == Part::Helper(helper) && *amount > 0.0)
    };
    let proposed = bottles::needed(parts, proposed, drawn);
    let measured = (0..parts.list.len()).map(|at| measured(bench, parts.density(at), weighed.amounts[at])).collect();
    let gave_way: Vec<String> = weighed.gave_way.iter().map(|limit| limit_words(&question, limit)).collect();
    let findings = safety::limits_gave_way(&gave_way).into_iter().collect();
    Weighed { measured, proposed, proved: weighed.proved, misfit: weighed.misfit, findings, parts: question.parts }
}

/// The parts of a mix as weighed out, and their amounts per litre in the unit of each part.
pub(crate) fn weighed_out<'a>(
    bench: &'a Bench,
    formula: &str,
    options: &MixOptions,
) -> Result<(Parts<'a>, Vec<f64>), JobError> {
    let question = Question::new(Tank::fresh(bench)?, formula_called(bench, formula)?, options.prefer)?;
    let exact = exact(&question, options)?;
    let weighed = weigh(&question, &exact.solution);
    let amounts = weighed.measured.iter().map(|measured| measured.amount / question.litres()).collect();
    Ok((weighed.parts, amounts))
}
