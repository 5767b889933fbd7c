//! The wishes in their order, each solved with the ones before it held, and every answer verified.

use std::fmt;

use super::conflict::{Conflict, feasible_point};
use super::face::{CERTIFIED, Face};
use super::linear::{Dual, Failure};
use super::model::{Model, Tangent};
use super::problem::{Limit, Problem};

/// EC may exceed its limit by this fraction.
pub(super) const EC_TOLERANCE: f64 = 1e-4;
/// Rounds of EC tangents.
const EC_ROUNDS: usize = 20;
/// A misfit that moves less than this from round to round has settled.
const EC_SETTLED: f64 = 1e-6;
/// Scaled amounts below this are rounding.
const NOTHING: f64 = 1e-8;

/// A wish that was solved, and what it came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// Which wish.
    pub wish: &'static str,
    /// Its value.
    pub value: f64,
    /// Unit of the value; empty for a plain number.
    pub unit: &'static str,
}

/// The amounts that answer a [`Problem`].
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Amount of every column, grams as sold per litre of final volume.
    pub g_per_l: Vec<f64>,
    /// The misfit, dimensionless.
    pub misfit: f64,
    /// Difference between the misfit and the bound that its dual proves; infinite where EC bends so that its tangents do
    /// not settle, and the amounts are the best that were found.
    pub certificate_gap: f64,
    /// What each wish came to, in order.
    pub stages: Vec<Stage>,
    /// What the misfit hangs on.
    pub prices: Prices,
}

/// What the least misfit would gain or lose, by its dual. One-sided where the optimum is degenerate, so whatever is said
/// from a price is confirmed by solving again.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Prices {
    /// For every want: how the misfit grows with its relative miss; 0 without a target.
    pub per_want: Vec<f64>,
    /// For every stated limit that binds: how the misfit would fall if it gave way by its own size.
    pub per_limit: Vec<(Limit, f64)>,
    /// For every column: how the misfit grows with a g/L of it; negative where more of it would help.
    pub per_column: Vec<f64>,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FitError {
    /// No salt brings anything that is asked for.
    NothingToMixFrom,
    /// Stated limits contradict each other.
    Conflict(Conflict),
    /// Limits that hold by a hair only: the solver and the search for a contradiction differ.
    Borderline,
    /// The solver failed in both scalings.
    Solver(String),
    /// An answer that our own arithmetic refuses.
    Unverified(String),
}

impl fmt::Display for FitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NothingToMixFrom => f.write_str("no salt on the shelf brings anything that the formula asks for"),
            Self::Conflict(_) => f.write_str("the stated limits contradict each other"),
            Self::Borderline => f.write_str("limits that hold by a hair were called infeasible"),
            Self::Solver(words) => write!(f, "the solver failed: {words}"),
            Self::Unverified(words) => write!(f, "the result failed its own verification: {words}"),
        }
    }
}

impl std::error::Error for FitError {}

impl From<Failure> for FitError {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::Infeasible => Self::Solver("a stage became infeasible with the earlier wishes held".to_owned()),
            Failure::Solver(words) => Self::Solver(words),
        }
    }
}

/// The tangent to EC at `x`, for one of its limits.
pub(super) fn tangent(problem: &Problem, limit: Limit, x: &[f64]) -> Option<Tangent> {
    let ec = problem.ec.as_ref()?;
    let slope = (ec.slope_ms_per_cm)(x);
    let at_zero = (ec.ec_ms_per_cm)(x) - slope.iter().zip(x).map(|(slope, x)| slope * x).sum::<f64>();
    // far beyond the chemistry there is no EC and so no tangent
    (at_zero.is_finite() && slope.iter().all(|slope| slope.is_finite())).then_some(Tangent { limit, slope, at_zero })
}

/// Solves a problem: least misfit, then least unasked chloride and sodium, then least cost or mass, then the fixed
/// tie-break, and verifies the answer.
///
/// * `problem`: the question; amounts in g/L, nutrients in ppm, EC in mS/cm
///
/// Returns amounts that keep every stated limit (1e-9 relative; EC 1e-4) and whose misfit is proved least by an explicit
/// dual (with an EC limit that binds: least under its last tangent).
///
/// # Errors
/// [`FitError::NothingToMixFrom`], [`FitError::Conflict`] with the smallest contradicting set; [`FitError::Solver`] and
/// [`FitError::Unverified`] are failures of our own.
///
/// # Examples
/// ```
/// use bloomsalt::fit::{Column, Problem, ShareLimits, Want, solve};
/// use bloomsalt::matter::{Nutrient, Nutrients};
/// let mut brings = Nutrients::default();
/// brings[Nutrient::Ca] = 232.8; // gypsum, ppm of Ca for each g/L
/// let problem = Problem {
///     columns: vec![Column { ppm_per_g_per_l: brings, most_g_per_l: None, cost_per_g: 1.0 }],
///     water_ppm: Nutrients::default(),
///     wants: vec![Want { nutrient: Nutrient::Ca, target_ppm: Some(50.0), min_ppm: None, max_ppm: None, weight: 1.0 }],
///     ammonium_share: ShareLimits::default(),
///     ec: None,
///     ph: None,
///     sparing: Vec::new(),
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
/// As [`solve`].
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
    // more salt never lowers EC: water that is over its limit by itself cannot be helped, unless some of it can be drained
    if let Some(ec) = problem.ec.as_ref().filter(|_| problem.sparing.is_empty())
        && let Some(max) = ec.max_ms_per_cm
        && (ec.ec_ms_per_cm)(&vec![0.0; problem.columns.len()]) > max * (1.0 + EC_TOLERANCE)
    {
        return Err(FitError::Conflict(Conflict { limits: vec![Limit::EcAtMost] }));
    }
    // EC limits come in by tangents, renewed until EC holds and the misfit has settled; without them one round is all
    let mut tangents: Vec<Tangent> = Vec::new();
    let mut before: Option<f64> = None;
    // the best point so far at which every limit holds, once one is needed
    let mut safe: Option<Vec<f64>> = None;
    for round in 1..=EC_ROUNDS {
        let Some(solution) = wishes_in_order(&model, &tangents, later_wishes)? else {
            // either the limits contradict, or a tangent cuts too much off: go on from a point where all of them hold
            let point = safe_point(&model, &mut safe)?;
            if tangents.is_empty() {
                return Err(FitError::Borderline);
            }
            // the tangent must not cut off the very point where it touches
            tangents = ec_tangents(&model, &point, &tangents, -ec_off(&model, &point));
            continue;
        };
        let settled = tangents.is_empty() || before.is_some_and(|misfit| (solution.misfit - misfit).abs() < EC_SETTLED);
        let holds = ec_off(&model, &solution.g_per_l) <= EC_TOLERANCE;
        if holds && (settled || round == EC_ROUNDS) {
            verify(&model, &solution)?;
            return Ok(solution);
        }
        before = Some(solution.misfit);
        let mut point = solution.g_per_l;
        // a concave EC keeps below its tangent and settles in a few rounds; where pairing bends it the other way, the
        // way back to a safe point is searched for where EC still holds
        if !holds && round > EC_ROUNDS / 4 {
            let from = safe_point(&model, &mut safe)?;
            point = last_that_holds(&model, &from, &point);
        }
        if safe.is_some() && ec_off(&model, &point) <= EC_TOLERANCE {
            let misfit = |x: &[f64]| problem.misfit(&problem.achieved_ppm(x));
            if safe.as_ref().is_none_or(|safe| misfit(&point) < misfit(safe)) {
                safe = Some(point.clone());
            }
        }
        tangents = ec_tangents(&model, &point, &tangents, -ec_off(&model, &point));
    }
    // EC bends so that its tangents do not settle: the best point that was seen, without a proof
    let g_per_l = safe_point(&model, &mut safe)?;
    let misfit = problem.misfit(&problem.achieved_ppm(&g_per_l));
    let stages = vec![Stage { wish: "least misfit", value: misfit, unit: "" }];
    let prices = Prices::default();
    let solution = Solution { g_per_l, misfit, certificate_gap: f64::INFINITY, stages, prices };
    verify(&model, &solution)?;
    Ok(solution)
}

/// The point in `safe`, or one found now.
fn safe_point(model: &Model, safe: &mut Option<Vec<f64>>) -> Result<Vec<f64>, FitError> {
    if let Some(point) = safe {
        return Ok(point.clone());
    }
    let point = feasible_point(model)?.map_err(FitError::Conflict)?;
    *safe = Some(point.clone());
    Ok(point)
}

/// The last point on the way from `from`, where EC holds, to `to`, where it does not.
fn last_that_holds(model: &Model, from: &[f64], to: &[f64]) -> Vec<f64> {
    let between = |share: f64| -> Vec<f64> { from.iter().zip(to).map(|(a, b)| a + share * (b - a)).collect() };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if ec_off(model, &between(middle)) <= EC_TOLERANCE / 2.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    between(low)
}

/// Tangents at `x`: the newest alone for an upper limit, whose older ones would cut good points off; all of them for a
/// lower limit, where each is a valid cut. `margin` moves them by that share of the limit.
fn ec_tangents(model: &Model, x: &[f64], before: &[Tangent], margin: f64) -> Vec<Tangent> {
    let Some(ec) = &model.problem.ec else { return Vec::new() };
    let mut tangents: Vec<Tangent> = before.iter().filter(|tangent| tangent.limit == Limit::EcAtLeast).cloned().collect();
    let mut add = |limit, level: Option<f64>, sign: f64| {
        if let Some((level, mut tangent)) = level.and_then(|level| Some((level, tangent(model.problem, limit, x)?))) {
            tangent.at_zero += sign * margin * level;
            tangents.push(tangent);
        }
    };
    add(Limit::EcAtLeast, ec.min_ms_per_cm, -1.0);
    add(Limit::EcAtMost, ec.max_ms_per_cm, 1.0);
    tangents
}

/// How far an EC that cannot be reckoned counts as beyond its limits.
pub(super) const NO_EC: f64 = 1e6;

/// How far EC is beyond its limits, relative.
fn ec_off(model: &Model, x: &[f64]) -> f64 {
    let Some(ec) = &model.problem.ec else { return 0.0 };
    let value = (ec.ec_ms_per_cm)(x);
    if !value.is_finite() {
        return NO_EC;
    }
    let over = ec.max_ms_per_cm.map_or(0.0, |max| (value - max) / max.max(1e-9));
    let under = ec.min_ms_per_cm.map_or(0.0, |min| (min - value) / min.max(1e-9));
    over.max(under).max(0.0)
}

/// All wishes in order, each on the face that the ones before it left, the first with its certificate. `None` when the
/// rows cannot all hold.
fn wishes_in_order(model: &Model, tangents: &[Tangent], later_wishes: bool) -> Result<Option<Solution>, FitError> {
    let problem = model.problem;
    let columns = model.columns.len();
    let program = model.misfit_program(tangents);
    let misfit_cost = program.cost.clone();
    let mut face = Face::new(program);
    let least = match face.minimise(|at| misfit_cost[at]) {
        Err(Failure::Infeasible) => return Ok(None),
        result => result?,
    };
    if least.gap > CERTIFIED * (1.0 + least.value.abs()) {
        return Err(FitError::Unverified(format!(
            "the misfit {} is not certified by its dual (gap {:e})",
            least.value, least.gap
        )));
    }
    let mut stages = vec![Stage { wish: "least misfit", value: least.value, unit: "" }];
    let prices = prices(model, tangents, &least.dual);

    // the misfit is proved; should the solver fail at a later wish (seen once in 160 000 random fits), the point stands
    let mut going = true;
    for column in &problem.sparing {
        let Some(at) = model.columns.iter().position(|other| other == column) else { continue };
        if going && face.point[at] > NOTHING && !face.is_a_point() {
            going = face.minimise(|other| if other == at { 1.0 } else { 0.0 }).is_ok();
        }
    }
    going &= later_wishes;
    let unasked = problem.unasked_meq_per_g();
    let cost: Vec<f64> = problem.columns.iter().map(|column| column.cost_per_g).collect();
    for (wish, unit, per_gram) in
        [("least unasked chloride and sodium", "meq/L", unasked), ("least cost or mass", "per litre", cost)]
    {
        let scaled: Vec<f64> =
            model.columns.iter().zip(&model.unit).map(|(&column, unit)| per_gram[column] * unit).collect();
        let largest = scaled.iter().fold(0.0_f64, |most, c| most.max(*c));
        let value = |point: &[f64]| scaled.iter().zip(point).map(|(c, y)| c * y).sum::<f64>();
        if going && largest > 0.0 && !face.is_a_point() {
            going = face.minimise(|at| if at < columns { scaled[at] / largest } else { 0.0 }).is_ok();
        }
        stages.push(Stage { wish, value: value(&face.point), unit });
    }
    for at in 0..columns {
        if !going || face.is_a_point() {
            break;
        }
        if face.point[at] > NOTHING {
            going = face.minimise(|other| if other == at { 1.0 } else { 0.0 }).is_ok();
        } else {
            face.leave_out(at);
        }
    }
    let amounts: Vec<f64> = face.point[..columns].iter().map(|y| if *y > NOTHING { *y } else { 0.0 }).collect();
    let g_per_l = model.amounts(&amounts);
    let misfit = problem.misfit(&problem.achieved_ppm(&g_per_l));
    Ok(Some(Solution { g_per_l, misfit, certificate_gap: least.gap, stages, prices }))
}

/// The dual of the first wish in the terms of the problem: its rows are the limits, then the targets.
fn prices(model: &Model, tangents: &[Tangent], dual: &Dual) -> Prices {
    let problem = model.problem;
    let limits = model.limit_rows(tangents);
    let mut of_targets = dual.multipliers[limits.len()..].iter();
    // columns that take no part are priced too: one that would help has a negative price
    let wide = Model::of_all(problem);
    let mut per_column = vec![0.0; problem.columns.len()];
    for (row, multiplier) in wide.limit_rows(tangents).iter().zip(&dual.multipliers) {
        for (column, a) in &row.terms {
            per_column[*column] -= multiplier * a;
        }
    }
    for (want, multiplier) in problem.wants.iter().filter(|want| want.target_ppm.is_some()).zip(of_targets.clone()) {
        let Some(target) = want.target_ppm else { continue };
        for (price, column) in per_column.iter_mut().zip(&problem.columns) {
            *price -= multiplier * column.ppm_per_g_per_l[want.nutrient] / target;
        }
    }
    Prices {
        per_want: problem
            .wants
            .iter()
            .map(|want| want.target_ppm.and_then(|_| of_targets.next()).map_or(0.0, |price| -price))
            .collect(),
        per_limit: limits
            .iter()
            .zip(&dual.multipliers)
            .filter(|(_, price)| price.abs() > 1e-9)
            .map(|(row, price)| (row.limit, price.abs()))
            .collect(),
        per_column,
    }
}

/// Recomputes everything from the amounts alone.
fn verify(model: &Model, solution: &Solution) -> Result<(), FitError> {
    let problem = model.problem;
    let x = &solution.g_per_l;
    if x.iter().any(|x| !x.is_finite() || *x < 0.0) {
        return Err(FitError::Unverified("an amount is negative or not a number".to_owned()));
    }
    let achieved = problem.achieved_ppm(x);
    let broken = problem.broken_limits(x, &achieved, 1e-7);
    if let Some(limit) = broken.first() {
        return Err(FitError::Unverified(format!("the limit {limit:?} does not hold")));
    }
    let off = ec_off(model, x);
    if off > 2.0 * EC_TOLERANCE {
        return Err(FitError::Unverified(format!("EC is {off:e} beyond its limit")));
    }
    let least = solution.stages.first().map_or(0.0, |stage| stage.value);
    if solution.misfit > least + 1e-6 * (1.0 + least) {
        return Err(FitError::Unverified(format!("the misfit rose from {least} to {}", solution.misfit)));
    }
    Ok(())
}
