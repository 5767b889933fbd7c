//! Why a fit has no answer, in the grower's words.

use super::would_help::with_candidates;
use crate::fit::{self, FitError, Limit, Problem};
use crate::jobs::engine::question::Question;
use crate::jobs::error::JobError;
use crate::quantity::{ppm_of, ppm_text, significant};
use crate::tank::chemistry::ms_per_cm;
use crate::tank::parts::Part;

/// A stated limit in words.
pub(crate) fn limit_words(question: &Question, limit: &Limit) -> String {
    let formula = question.formula;
    let level = |nutrient, low: bool| {
        let wish = formula.wish(nutrient);
        let level = wish.and_then(|wish| if low { wish.min } else { wish.max }).map_or(0.0, ppm_of);
        ppm_text(level)
    };
    let percent = |share: Option<f64>| significant(100.0 * share.unwrap_or(0.0), 1);
    let ec = |limit: Option<_>| significant(limit.map_or(0.0, ms_per_cm), 3);
    match limit {
        Limit::AtLeast(nutrient) => format!("{nutrient} at least {} ppm", level(*nutrient, true)),
        Limit::AtMost(nutrient) => format!("{nutrient} at most {} ppm", level(*nutrient, false)),
        Limit::ShareAtLeast => format!("ammonium share at least {} %", percent(formula.ammonium_share.min)),
        Limit::ShareAtMost => format!("ammonium share at most {} %", percent(formula.ammonium_share.max)),
        Limit::OnHand(column) => {
            let unit = if matches!(question.parts.list[*column], Part::Helper(_)) { "mL" } else { "g" };
            let most = question.parts.most(*column).unwrap_or(0.0);
            format!("{}: {} {unit} on hand", question.parts.name(*column), significant(most, 3))
        }
        Limit::EcAtLeast => format!("EC at least {} mS/cm", ec(formula.ec.min)),
        Limit::Ph => "the wished pH".to_owned(),
        Limit::EcAtMost => format!("EC at most {} mS/cm", ec(formula.ec.max)),
    }
}

/// The job's own error for one of the fit.
pub(crate) fn job_error(question: &Question, problem: &Problem, error: FitError) -> JobError {
    let formula = question.formula.name.clone();
    let conflict = match error {
        FitError::NothingToMixFrom => return JobError::NothingToMixFrom { formula },
        FitError::Conflict(conflict) => conflict,
        other => return JobError::Failed { words: other.to_string() },
    };
    let held = !question.tank.is_fresh;
    let why = match conflict.limits[..] {
        [Limit::AtLeast(_)] => ": no salt on the shelf supplies it",
        [Limit::AtMost(_)] if held => ": what stays in the tank and the water alone bring more",
        [Limit::EcAtMost] if held => ": what stays in the tank and the water alone have more",
        [Limit::AtMost(_)] => ": the water alone brings more",
        [Limit::EcAtMost] => ": the water alone has more",
        [_] => ": it cannot be kept by itself",
        _ => "; of these, any may stay if another gives way",
    };
    let mut helps: Vec<String> = conflict.limits.iter().filter_map(|limit| loosened(question, problem, *limit)).collect();
    helps.extend(supplied(question, problem));
    JobError::Conflict {
        formula,
        limits: conflict.limits.iter().map(|limit| limit_words(question, limit)).collect(),
        why: why.to_owned(),
        helps,
    }
}

/// How far one limit would have to give way by itself. With a limit of EC in play that is not linear, and not said.
fn loosened(question: &Question, problem: &Problem, limit: Limit) -> Option<String> {
    if problem.ec.is_some() {
        return None;
    }
    if let Limit::OnHand(column) = limit {
        return Some(format!("more {} on hand", question.parts.name(column)));
    }
    let excess = fit::how_far(problem, limit).ok()??;
    let (Limit::AtLeast(nutrient) | Limit::AtMost(nutrient)) = limit else {
        return Some(format!("`{}` let go", limit_words(question, &limit)));
    };
    let want = problem.wants.iter().find(|want| want.nutrient == nutrient)?;
    let low = matches!(limit, Limit::AtLeast(_));
    let level = if low { want.min_ppm } else { want.max_ppm }?;
    let scale = want.target_ppm.unwrap_or(if level > 0.0 { level } else { 1.0 });
    let (side, level) = if low { ("at least", level - excess * scale) } else { ("at most", level + excess * scale) };
    Some(format!("{nutrient} {side} {} ppm would do", ppm_text(level)))
}

/// Salts of the table, not on the shelf, with any one of which all limits can hold.
fn supplied(question: &Question, problem: &Problem) -> Option<String> {
    const NAMED: usize = 3;
    let wider = with_candidates(question);
    let mut all = wider.problem(&wider.mixture);
    all.wants.clone_from(&problem.wants);
    let own = problem.columns.len();
    all.columns[own..].iter_mut().for_each(fit::Column::forbid);
    let mut found: Vec<&str> = Vec::new();
    for at in own..all.columns.len() {
        all.columns[at].most_g_per_l = None;
        if found.len() < NAMED && fit::can_be_met(&all).unwrap_or(false) {
            found.push(wider.parts.id(at));
        }
        all.columns[at].forbid();
    }
    (!found.is_empty()).then(|| format!("on the shelf would do it: {}", found.join(", or ")))
}
