//! Why a fit has no answer, in the grower's words.

use super::would_help::with_candidates;
use crate::fit::{self, FitError, Limit, Problem};
use crate::jobs::engine::question::Question;
use crate::jobs::error::{JobError, LimitKind, LimitRecord};
use crate::matter::Nutrient;
use crate::quantity::{ppm_of, ppm_text, significant};
use crate::tank::chemistry::ms_per_cm;
use crate::tank::parts::Part;

/// A stated limit as a record; `enough_at` is left open.
fn limit_record(question: &Question, limit: &Limit) -> LimitRecord {
    let formula = question.formula;
    let record = |kind, level: Option<f64>, unit: &str, words: String| LimitRecord {
        kind,
        element: None,
        part: None,
        level,
        unit: unit.to_owned(),
        enough_at: None,
        words,
    };
    let of_nutrient = |kind, nutrient: Nutrient, side: &str, level: Option<_>| {
        let level = level.map(ppm_of);
        let words = format!("{nutrient} {side} {} ppm", ppm_text(level.unwrap_or(0.0)));
        LimitRecord { element: Some(nutrient.symbol().to_owned()), ..record(kind, level, "ppm", words) }
    };
    let of_share = |kind, side: &str, share: Option<f64>| {
        let percent = share.map(|share| 100.0 * share);
        record(kind, percent, "%", format!("ammonium share {side} {} %", significant(percent.unwrap_or(0.0), 1)))
    };
    let of_ec = |kind, side: &str, level: Option<_>| {
        let level = level.map(ms_per_cm);
        record(kind, level, "mS/cm", format!("EC {side} {} mS/cm", significant(level.unwrap_or(0.0), 3)))
    };
    match limit {
        Limit::AtLeast(nutrient) => {
            let level = formula.wish(*nutrient).and_then(|wish| wish.min);
            of_nutrient(LimitKind::AtLeast, *nutrient, "at least", level)
        }
        Limit::AtMost(nutrient) => {
            let level = formula.wish(*nutrient).and_then(|wish| wish.max);
            of_nutrient(LimitKind::AtMost, *nutrient, "at most", level)
        }
        Limit::ShareAtLeast => of_share(LimitKind::ShareAtLeast, "at least", formula.ammonium_share.min),
        Limit::ShareAtMost => of_share(LimitKind::ShareAtMost, "at most", formula.ammonium_share.max),
        Limit::Water(_) => record(LimitKind::Waters, None, "", "the waters that there are".to_owned()),
        // a column behind the parts is a water
        Limit::OnHand(column) if *column >= question.parts.list.len() => limit_record(question, &Limit::Water(0)),
        Limit::OnHand(column) => {
            let unit = if matches!(question.parts.list[*column], Part::Helper(_)) { "mL" } else { "g" };
            let most = question.parts.most(*column);
            let (name, shown) = (question.parts.name(*column), significant(most.unwrap_or(0.0), 3));
            let words = format!("{name}: {shown} {unit} on hand");
            let part = Some(question.parts.id(*column).to_owned());
            LimitRecord { part, ..record(LimitKind::OnHand, most, unit, words) }
        }
        Limit::EcAtLeast => of_ec(LimitKind::EcAtLeast, "at least", formula.ec.min),
        Limit::Ph => record(LimitKind::Ph, None, "", "the wished pH".to_owned()),
        Limit::EcAtMost => of_ec(LimitKind::EcAtMost, "at most", formula.ec.max),
    }
}

/// A stated limit in words.
pub(crate) fn limit_words(question: &Question, limit: &Limit) -> String {
    limit_record(question, limit).words
}

/// The job's own error for one of the fit.
pub(crate) fn job_error(question: &Question, problem: &Problem, error: FitError) -> JobError {
    let formula = question.formula.name.clone();
    let conflict = match error {
        FitError::NothingToMixFrom => return JobError::NothingToMixFrom { formula },
        FitError::Conflict(conflict) => conflict,
        FitError::TooFew { most } => return JobError::TooFewSalts { formula, most },
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
    let mut helps = Vec::new();
    let mut limits = Vec::new();
    for limit in &conflict.limits {
        let told = limit_record(question, limit);
        if limits.contains(&told) {
            continue;
        }
        let way = loosened(question, problem, *limit);
        let enough_at = way.as_ref().and_then(|(_, level)| *level);
        helps.extend(way.map(|(words, _)| words));
        limits.push(LimitRecord { enough_at, ..told });
    }
    if let [Limit::AtLeast(nutrient)] = conflict.limits[..] {
        helps.extend(omitted(question, nutrient));
    }
    // what the shelf lacks is asked for one water
    if problem.waters.is_empty() {
        helps.extend(supplied(question, problem));
    }
    JobError::Conflict { formula, limits, why: why.to_owned(), helps }
}

/// Labels on the shelf that say nothing of a nutrient, which they may hold all the same.
fn omitted(question: &Question, nutrient: Nutrient) -> Option<String> {
    let parts = &question.parts;
    let silent =
        |at: &usize| parts.salt(*at).is_some_and(|salt| salt.own_product && salt.composition.nutrients[nutrient] <= 0.0);
    let names: Vec<&str> = (0..parts.list.len()).filter(silent).map(|at| parts.name(at)).collect();
    let has = if names.len() == 1 { "its label states" } else { "their labels state" };
    (!names.is_empty()).then(|| {
        format!(
            "{}: {has} no {nutrient}; where the bag has some, add it to `analysis`, else take `min` of {nutrient} out of the formula",
            names.join(" and ")
        )
    })
}

/// How far one limit would have to give way by itself, in words and as a level. With a limit of EC in play that is not
/// linear, and not said.
fn loosened(question: &Question, problem: &Problem, limit: Limit) -> Option<(String, Option<f64>)> {
    if problem.ec.is_some() {
        return None;
    }
    if let Limit::Water(_) = limit {
        return None;
    }
    if let Limit::OnHand(column) = limit {
        if column >= question.parts.list.len() {
            return None;
        }
        return Some((format!("more {} on hand", question.parts.name(column)), None));
    }
    let excess = fit::how_far(problem, limit).ok()??;
    let (Limit::AtLeast(nutrient) | Limit::AtMost(nutrient)) = limit else {
        return Some((format!("`{}` let go", limit_words(question, &limit)), None));
    };
    let want = problem.wants.iter().find(|want| want.nutrient == nutrient)?;
    let low = matches!(limit, Limit::AtLeast(_));
    let level = if low { want.min_ppm } else { want.max_ppm }?;
    let scale = want.target_ppm.unwrap_or(if level > 0.0 { level } else { 1.0 });
    let (side, level) = if low { ("at least", level - excess * scale) } else { ("at most", level + excess * scale) };
    Some((format!("{nutrient} {side} {} ppm would do", ppm_text(level)), Some(level)))
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
