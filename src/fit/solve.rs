//! From a problem to its verified answer.

use super::answer::{Conflict, FitError, Solution};
use super::conflict::{contradiction, holding, linear_limits};
use super::model::{KEPT, Model};
use super::problem::Problem;
use super::wishes::wishes_in_order;
use super::{closest, ec};

/// Solves a problem: least misfit, then least unasked chloride and sodium, then least cost or mass, then the fixed
/// tie-break, and verifies the answer.
///
/// * `problem`: the question; amounts in g/L, nutrients in ppm, EC in mS/cm
///
/// Returns amounts that keep every stated limit (1e-6 of the target or limit; EC 1e-4) and whose misfit is proved least by an explicit
/// dual; where a limit of EC binds, the least that was found from several starts.
///
/// # Errors
/// [`FitError::NothingToMixFrom`], [`FitError::Conflict`] with an irreducible infeasible subset of the limits; [`FitError::Solver`] and
/// [`FitError::Unverified`] are failures of our own.
///
/// # Examples
/// ```
/// use bloomsalt::fit::{Column, Problem, Want, solve};
/// use bloomsalt::quantity::Limits;
/// use bloomsalt::matter::{Nutrient, Nutrients};
/// let mut brings = Nutrients::default();
/// brings[Nutrient::Ca] = 232.8; // gypsum, ppm of Ca for each g/L
/// let problem = Problem {
///     columns: vec![Column { ppm_per_g_per_l: brings, most_g_per_l: None, cost_per_g: 1.0 }],
///     water_ppm: Nutrients::default(),
///     wants: vec![Want { nutrient: Nutrient::Ca, target_ppm: Some(50.0), min_ppm: None, max_ppm: None, weight: 1.0 }],
///     ammonium_share: Limits::default(),
///     ec: None,
///     ph: None,
///     sparing: Vec::new(),
///     waters: Vec::new(),
///     near: None,
/// };
/// let solution = solve(&problem)?;
/// assert!((solution.g_per_l[0] - 50.0 / 232.8).abs() < 1e-9);
/// # Ok::<(), bloomsalt::fit::FitError>(())
/// ```
///
/// Reference: `docs/fit.md`; lexicographic linear programming, certified by weak duality.
pub fn solve(problem: &Problem) -> Result<Solution, FitError> {
    wished(problem, true)
}

/// As [`solve`], the first wish alone: for explanations, which ask dozens of times and care for nothing else.
///
/// # Errors
/// As [`solve`], the conflict without its limits.
///
/// Reference: `docs/fit.md`.
pub fn solve_misfit(problem: &Problem) -> Result<Solution, FitError> {
    wished(problem, false)
}

fn wished(problem: &Problem, later_wishes: bool) -> Result<Solution, FitError> {
    let model = Model::new(problem);
    if model.columns.is_empty() {
        return Err(FitError::NothingToMixFrom);
    }
    // of a straight EC the tangents are EC itself; where they leave nothing, what contradicts is for the whole search
    let straight = ec::straight(problem);
    if !straight.is_empty()
        && let Some(solution) = wishes_in_order(&model, &straight, later_wishes, &|_| true)?
        && ec::holds(problem, &solution.g_per_l)
    {
        verify(&model, &solution)?;
        return Ok(solution);
    }
    let free = if let Some(solution) = wishes_in_order(&model, &[], later_wishes, &|_| true)? {
        solution
    } else {
        let limits = linear_limits(&model);
        // what contradicts by rounding alone is held with as much slack
        let near = if holding(&model, &limits)?.is_some() {
            wishes_in_order(&model.loosened(), &[], later_wishes, &|_| true)?
        } else {
            None
        };
        let Some(near) = near else {
            let limits = if later_wishes { contradiction(&model, limits)? } else { Vec::new() };
            return Err(FitError::Conflict(Conflict { limits }));
        };
        near
    };
    let solution =
        if ec::holds(problem, &free.g_per_l) { free } else { closest::under_ec(&model, &free.g_per_l, later_wishes)? };
    verify(&model, &solution)?;
    Ok(solution)
}

/// Recomputes everything from the amounts alone.
fn verify(model: &Model, solution: &Solution) -> Result<(), FitError> {
    let problem = model.problem;
    let x = &solution.g_per_l;
    if x.iter().any(|x| !x.is_finite() || *x < 0.0) {
        return Err(FitError::Unverified("an amount is negative or not a number".to_owned()));
    }
    for row in model.limit_rows(&[]) {
        let off = row.beyond(model, x);
        if off > KEPT {
            return Err(FitError::Unverified(format!("the limit {:?} is exceeded by {off:e}", row.limit)));
        }
    }
    let most = |column: &super::Column| column.most_g_per_l.unwrap_or(f64::INFINITY);
    if problem.columns.iter().zip(x).any(|(column, x)| *x > most(column) * (1.0 + KEPT)) {
        return Err(FitError::Unverified("there is more of a salt than is on hand".to_owned()));
    }
    if !ec::holds(problem, x) {
        return Err(FitError::Unverified("EC is beyond its limit".to_owned()));
    }
    let least = solution.stages.first().map_or(0.0, |stage| stage.value);
    if solution.misfit > least + 1e-6 * (1.0 + least) {
        return Err(FitError::Unverified(format!("the misfit rose from {least} to {}", solution.misfit)));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::sample::{column, problem, target};
    use super::super::{FitError, Want};
    use super::{Model, solve, verify};
    use crate::matter::Nutrient;

    /// 0.5 g/L of something that has 100 ppm K in each, of 0.6 there are, where K is to be 45 to 70: the answer stands, and none
    /// that is not a number, negative, beyond a limit or what is on hand, or worse than its first wish came to.
    #[test]
    fn an_answer_that_its_own_arithmetic_does_not_bear_out_is_refused() {
        let k = Want { min_ppm: Some(45.0), max_ppm: Some(70.0), ..target(Nutrient::K, 50.0) };
        let mut problem = problem(vec![column(&[(Nutrient::K, 100.0)]), column(&[(Nutrient::K, 1.0)])], vec![k]);
        problem.columns[0].most_g_per_l = Some(0.6);
        let (model, found) = (Model::new(&problem), solve(&problem).unwrap());
        assert!((found.g_per_l[0] - 0.5).abs() < 1e-9 && verify(&model, &found).is_ok());
        for (amounts, misfit, stands) in [
            ([0.5, 0.0], 0.0, true),
            ([0.6, 0.0], 0.0, true),
            ([f64::NAN, 0.0], 0.0, false),
            ([f64::INFINITY, 0.0], 0.0, false),
            ([0.5, -0.1], 0.0, false),
            ([0.44, 0.0], 0.0, false),
            ([0.6, 11.0], 0.0, false),
            ([0.61, 0.0], 0.0, false),
            ([0.5, 0.0], 0.01, false),
        ] {
            let mut other = found.clone();
            (other.g_per_l, other.misfit) = (amounts.to_vec(), misfit);
            let refused = matches!(verify(&model, &other), Err(FitError::Unverified(_)));
            assert_eq!(refused, !stands, "{amounts:?}, misfit {misfit}");
        }
    }
}
