//! The wishes in their order, each solved with the ones before it held, and every answer verified.

use std::fmt;

use schemars::JsonSchema;
use serde::Serialize;

use super::conflict::{Conflict, contradiction, holding, linear_limits};
use super::ec;
use super::face::Face;
use super::linear::{Dual, Failure};
use super::model::{Model, Tangent};
use super::problem::{Limit, Problem};

/// What may be said of the misfit of exact amounts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Proof {
    /// No amounts of the same salts have a smaller one within the limits: its dual says so.
    #[serde(rename = "proved")]
    Proved,
    /// The smallest that was found: a limit of EC binds, which bends, or the dual does not come near enough.
    #[serde(rename = "closest found")]
    ClosestFound,
}

impl fmt::Display for Proof {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Proved => "proved",
            Self::ClosestFound => "closest found",
        })
    }
}

/// A misfit is called proved where its dual comes this near, relative to 1 + misfit: as a rule to 1e-9, less only where numbers
/// are too far apart for that.
const PROVED: f64 = 1e-6;
/// A limit is kept where it is exceeded by no more than this, relative to the target of its nutrient, else to itself.
const KEPT: f64 = 1e-6;
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
    /// What may be said of it.
    pub proof: Proof,
    /// Difference between the misfit and the bound that its dual proves, under a limit of EC that binds the bound under its last
    /// tangent; infinite where there is none.
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
#[non_exhaustive]
pub enum FitError {
    /// No salt brings anything that is asked for.
    NothingToMixFrom,
    /// Stated limits contradict each other.
    Conflict(Conflict),
    /// The solver failed, and our own with it.
    Solver(String),
    /// An answer that our own arithmetic refuses.
    Unverified(String),
}

impl fmt::Display for FitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NothingToMixFrom => f.write_str("no salt on the shelf brings anything that the formula asks for"),
            Self::Conflict(_) => f.write_str("the stated limits contradict each other"),
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

/// Solves a problem: least misfit, then least unasked chloride and sodium, then least cost or mass, then the fixed
/// tie-break, and verifies the answer.
///
/// * `problem`: the question; amounts in g/L, nutrients in ppm, EC in mS/cm
///
/// Returns amounts that keep every stated limit (1e-6 of the target or limit; EC 1e-4) and whose misfit is proved least by an explicit
/// dual; where a limit of EC binds, the least that was found from several starts.
///
/// # Errors
/// [`FitError::NothingToMixFrom`], [`FitError::Conflict`] with a contradicting set of which none can be spared; [`FitError::Solver`] and
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
    let solution = if ec::holds(problem, &free.g_per_l) { free } else { ec::closest(&model, &free.g_per_l, later_wishes)? };
    verify(&model, &solution)?;
    Ok(solution)
}

/// All wishes in order, each on the face that the ones before it left, the first with its certificate; a later wish whose
/// amounts `keeps` refuses, or that the solver fails at, ends them. `None` when the rows cannot all hold.
pub(super) fn wishes_in_order(
    model: &Model,
    tangents: &[Tangent],
    later_wishes: bool,
    keeps: &dyn Fn(&[f64]) -> bool,
) -> Result<Option<Solution>, FitError> {
    let problem = model.problem;
    let columns = model.columns.len();
    let program = model.misfit_program(tangents);
    let misfit_cost = program.cost.clone();
    let mut face = Face::new(program);
    let least = match face.minimise(|at| misfit_cost[at]) {
        Err(Failure::Infeasible) => return Ok(None),
        result => result?,
    };
    let proved = least.gap <= PROVED * (1.0 + least.value.abs());
    let proof = if proved && tangents.is_empty() { Proof::Proved } else { Proof::ClosestFound };
    let mut stages = vec![Stage { wish: "least misfit", value: least.value, unit: "" }];
    let prices = prices(model, tangents, &least.dual);
    let amounts = |point: &[f64]| {
        let some: Vec<f64> = point[..columns].iter().map(|y| if *y > NOTHING { *y } else { 0.0 }).collect();
        model.amounts(&some)
    };
    // a later wish that fails leaves the point where it was
    let minimise = |face: &mut Face, cost: &dyn Fn(usize) -> f64| {
        let before = face.point.clone();
        let kept = face.minimise(cost).is_ok_and(|minimum| minimum.gap <= PROVED * (1.0 + minimum.value.abs()))
            && keeps(&amounts(&face.point));
        if !kept {
            face.point = before;
        }
        kept
    };
    let mut going = true;
    for column in &problem.sparing {
        let Some(at) = model.columns.iter().position(|other| other == column) else { continue };
        if going && face.point[at] > NOTHING && !face.is_a_point() {
            going = minimise(&mut face, &|other| if other == at { 1.0 } else { 0.0 });
        }
    }
    going &= later_wishes && proved;
    let unasked = problem.unasked_meq_per_g();
    let cost: Vec<f64> = problem.columns.iter().map(|column| column.cost_per_g).collect();
    for (wish, unit, per_gram) in
        [("least unasked chloride and sodium", "meq/L", unasked), ("least cost or mass", "per litre", cost)]
    {
        let scaled: Vec<f64> =
            model.columns.iter().zip(&model.unit).map(|(&column, unit)| per_gram[column] * unit).collect();
        let largest = scaled.iter().fold(0.0_f64, |most, c| most.max(*c));
        if going && largest > 0.0 && !face.is_a_point() {
            going = minimise(&mut face, &|at| if at < columns { scaled[at] / largest } else { 0.0 });
        }
        if going {
            let value = scaled.iter().zip(&face.point).map(|(c, y)| c * y).sum();
            stages.push(Stage { wish, value, unit });
        }
    }
    for at in 0..columns {
        if !going || face.is_a_point() {
            break;
        }
        if face.point[at] > NOTHING {
            going = minimise(&mut face, &|other| if other == at { 1.0 } else { 0.0 });
        } else {
            face.leave_out(at);
        }
    }
    let g_per_l = amounts(&face.point);
    let misfit = problem.misfit(&problem.achieved_ppm(&g_per_l));
    Ok(Some(Solution { g_per_l, misfit, proof, certificate_gap: least.gap, stages, prices }))
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
