//! The wishes in their order, each solved with the ones before it held.

use super::answer::{FitError, Proof, ShadowPrices, Solution, Stage};
use super::face::Face;
use super::linear::{Dual, Failure};
use super::model::{KEPT, LimitRow, Model, Tangent};

/// A misfit is called proved where its dual comes this near, relative to 1 + misfit: as a rule to 1e-9, less only where numbers
/// are too far apart for that.
const PROVED: f64 = 1e-6;
/// Scaled amounts that move no row by more than this are rounding.
const NOTHING: f64 = 1e-8;

/// What is left of the columns as close as each other, and whether more is wished of them.
struct Wishing<'m, 'p, 'a> {
    model: &'m Model<'p, 'a>,
    face: Face,
    /// The limits, as the answer is verified by them.
    limits: Vec<LimitRow>,
    /// Scaled amounts up to this are rounding, of every column.
    nothing: Vec<f64>,
    /// Refuses amounts that a later wish comes to.
    keeps: &'m dyn Fn(&[f64]) -> bool,
    going: bool,
}

impl Wishing<'_, '_, '_> {
    fn amounts(&self) -> Vec<f64> {
        let scaled = &self.face.point[..self.model.columns.len()];
        let some: Vec<f64> =
            scaled.iter().zip(&self.nothing).map(|(y, nothing)| if y > nothing { *y } else { 0.0 }).collect();
        let mut amounts = self.model.amounts(&some);
        // the solver's last digit is more than there is of what there is next to nothing of
        for (amount, column) in amounts.iter_mut().zip(&self.model.problem.columns) {
            *amount = column.most_g_per_l.map_or(*amount, |most| amount.min(most));
        }
        amounts
    }

    /// True while there is something to choose.
    fn chooses(&self) -> bool {
        self.going && !self.face.is_a_point()
    }

    /// True where amounts keep every limit.
    fn within(&self, amounts: &[f64]) -> bool {
        self.limits.iter().all(|row| row.beyond(self.model, amounts) <= KEPT)
    }

    /// Makes `cost` least; a wish that fails leaves the point where it was and ends the wishes. So does one whose amounts break a
    /// limit: where numbers are far apart, what is rounding in one row is not in another.
    fn minimise(&mut self, cost: impl Fn(usize) -> f64) {
        let before = self.face.point.clone();
        let minimum = self.face.minimise(cost);
        let amounts = self.amounts();
        self.going = minimum.is_ok_and(|minimum| is_proved(minimum.gap, minimum.value))
            && self.within(&amounts)
            && (self.keeps)(&amounts);
        if !self.going {
            self.face.point = before;
        }
    }

    /// As little as possible of what is spared, one after another.
    fn spare(&mut self) {
        for column in &self.model.problem.sparing {
            let Some(at) = self.model.columns.iter().position(|other| other == column) else { continue };
            if self.face.point[at] > self.nothing[at] && self.chooses() {
                self.minimise(|other| if other == at { 1.0 } else { 0.0 });
            }
        }
    }

    /// The least unasked chloride and sodium, then the least cost or mass.
    fn least_of_all(&mut self, stages: &mut Vec<Stage>) {
        let problem = self.model.problem;
        let unasked = problem.unasked_meq_per_g();
        let cost: Vec<f64> = problem.columns.iter().map(|column| column.cost_per_g).collect();
        for (wish, unit, per_gram) in
            [("least unasked chloride and sodium", "meq/L", unasked), ("least cost or mass", "per litre", cost)]
        {
            let units = self.model.columns.iter().zip(&self.model.unit);
            let scaled: Vec<f64> = units.map(|(&column, unit)| per_gram[column] * unit).collect();
            let largest = scaled.iter().fold(0.0_f64, |most, c| most.max(*c));
            if largest > 0.0 && self.chooses() {
                self.minimise(|at| scaled.get(at).map_or(0.0, |cost| cost / largest));
            }
            if self.going {
                let value = scaled.iter().zip(&self.face.point).map(|(c, y)| c * y).sum();
                stages.push(Stage { wish, value, unit });
            }
        }
    }

    /// The fixed tie-break: as little as possible of the first column, then of the next.
    fn break_ties(&mut self) {
        for at in 0..self.model.columns.len() {
            if !self.chooses() {
                return;
            }
            if self.face.point[at] > self.nothing[at] {
                self.minimise(|other| if other == at { 1.0 } else { 0.0 });
            } else {
                self.face.leave_out(at);
            }
        }
    }
}

fn is_proved(gap: f64, value: f64) -> bool {
    gap <= PROVED * (1.0 + value.abs())
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
    let program = model.misfit_program(tangents);
    let misfit_cost = program.cost.clone();
    let limits = model.limit_rows(&[]);
    let mut nothing = vec![NOTHING; model.columns.len()];
    for (at, a) in limits.iter().flat_map(|row| &row.terms) {
        nothing[*at] = nothing[*at].min(NOTHING / a.abs());
    }
    let mut wishing = Wishing { model, face: Face::new(program), limits, nothing, keeps, going: true };
    let least = match wishing.face.minimise(|at| misfit_cost[at]) {
        Err(Failure::Infeasible) => return Ok(None),
        result => result?,
    };
    let proved = is_proved(least.gap, least.value);
    let proof = if proved && tangents.is_empty() { Proof::Proved } else { Proof::ClosestFound };
    let mut stages = vec![Stage { wish: "least misfit", value: least.value, unit: "" }];
    wishing.spare();
    wishing.going &= later_wishes && proved;
    wishing.least_of_all(&mut stages);
    wishing.break_ties();
    let g_per_l = wishing.amounts();
    let misfit = problem.misfit(&problem.achieved_ppm(&g_per_l));
    let shadow_prices = shadow_prices(model, tangents, &least.dual);
    Ok(Some(Solution { g_per_l, misfit, proof, certificate_gap: least.gap, stages, shadow_prices }))
}

/// The dual of the first wish in the terms of the problem: its rows are the limits, then the targets.
fn shadow_prices(model: &Model, tangents: &[Tangent], dual: &Dual) -> ShadowPrices {
    let problem = model.problem;
    let limits = model.limit_rows(tangents);
    let (of_limits, of_targets) = dual.multipliers.split_at(limits.len());
    let targets = model.target_rows();
    let mut per_want = vec![0.0; problem.wants.len()];
    for (row, multiplier) in targets.iter().zip(of_targets) {
        per_want[row.want] = -multiplier;
    }
    // columns that take no part have a reduced cost too: that of one that would help is negative
    let mut per_column = vec![0.0; problem.columns.len()];
    for (row, multiplier) in Model::of_all(problem).limit_rows(tangents).iter().zip(of_limits) {
        for (column, a) in &row.terms {
            per_column[*column] -= multiplier * a;
        }
    }
    // in this order of factors salts of one effect come out alike, to the last bits that break ties between them
    for (want, multiplier) in targets.iter().map(|row| &problem.wants[row.want]).zip(of_targets) {
        let Some(target) = want.target_ppm else { continue };
        for (cost, column) in per_column.iter_mut().zip(&problem.columns) {
            *cost -= multiplier * column.ppm_per_g_per_l[want.nutrient] / target;
        }
    }
    let binding = limits.iter().zip(of_limits).filter(|(_, multiplier)| multiplier.abs() > 1e-9);
    let per_limit = binding.map(|(row, multiplier)| (row.limit, multiplier.abs())).collect();
    ShadowPrices { per_want, per_limit, per_column }
}
