//! Dust that a solver leaves, swept out.

use crate::fit::{Problem, Solution};
use crate::matter::NUTRIENTS;

/// Under this share of everything that is asked an amount is dust, far under what any purity is known to: own choice. The
/// corner that a solver ends in takes such crumbs to meet a target to its last digit.
const DUST: f64 = 1e-4;
/// Nothing is dust that brings more than this of something that no wish names, ppm: it may be there for the ammonium share.
const DUST_PPM: f64 = 1e-3;

/// Dust is taken out of a mix without acid only where the misfit then rises by no more, so that what is proved stays proved.
const SAME_MISFIT: f64 = 1e-6;

/// Takes the dust out of an answer, the columns of acids and what is spared left alone, as long as no limit hangs on it and the
/// misfit stays what it was to rounding. With an acid, whose moving row leaves crumbs, the misfit is what remains.
pub(crate) fn sweep(problem: &Problem, solution: &mut Solution, acids: &[usize]) {
    let broken = |x: &[f64]| problem.broken_limits(x, &problem.achieved_ppm(x), 1e-9).len();
    let misfit = |x: &[f64]| problem.misfit(&problem.achieved_ppm(x));
    let before = broken(&solution.g_per_l);
    let most = if acids.is_empty() { solution.misfit + SAME_MISFIT * (1.0 + solution.misfit) } else { f64::INFINITY };
    for (at, column) in problem.columns.iter().enumerate() {
        let amount = solution.g_per_l[at];
        if amount == 0.0 || acids.contains(&at) || problem.sparing.contains(&at) {
            continue;
        }
        let is_dust = NUTRIENTS.into_iter().all(|nutrient| {
            let brings = (column.ppm_per_g_per_l[nutrient] * amount).abs();
            let asked = problem.wants.iter().find(|want| want.nutrient == nutrient).map(|want| {
                [want.target_ppm, want.min_ppm, want.max_ppm].into_iter().flatten().fold(f64::INFINITY, f64::min)
            });
            brings <= asked.filter(|asked| asked.is_finite()).map_or(DUST_PPM, |asked| DUST * asked)
        });
        if is_dust {
            solution.g_per_l[at] = 0.0;
            if broken(&solution.g_per_l) > before || misfit(&solution.g_per_l) > most {
                solution.g_per_l[at] = amount;
            }
        }
    }
    solution.misfit = misfit(&solution.g_per_l);
}
