//! A [`Problem`] as a scaled linear program.

use super::linear::{Program, Relation};
use super::problem::{KNEES, Limit, Problem, SLOPES};
use crate::matter::Nutrient;

/// A tangent to EC at some point: EC <= value + slope (x - point).
#[derive(Debug, Clone)]
pub(super) struct Tangent {
    pub(super) limit: Limit,
    /// Slope in mS/cm per g/L, for every column.
    pub(super) slope: Vec<f64>,
    /// Value at x = 0, mS/cm.
    pub(super) at_zero: f64,
}

/// A stated limit as a row of the program, scaled so that its violation is relative.
pub(super) struct LimitRow {
    pub(super) limit: Limit,
    pub(super) terms: Vec<(usize, f64)>,
    pub(super) relation: Relation,
    pub(super) right: f64,
}

/// What a limit that contradicts another by rounding alone is loosened by, relative.
pub(super) const LOOSE: f64 = 1e-8;
/// What is on hand beyond this many units is no bound: nothing that is asked for can use it, and numbers so far apart are
/// the solver's undoing.
const FAR: f64 = 1e6;

/// The scaled program's frame: variable `i` is the amount of column `columns[i]` in units of `unit[i]` g/L.
pub(super) struct Model<'p, 'a> {
    pub(super) problem: &'p Problem<'a>,
    pub(super) columns: Vec<usize>,
    pub(super) unit: Vec<f64>,
    /// By how much every limit but that of the pH is loosened, relative.
    loose: f64,
}

impl<'p, 'a> Model<'p, 'a> {
    pub(super) fn new(problem: &'p Problem<'a>) -> Self {
        let columns: Vec<usize> = (0..problem.columns.len()).filter(|&at| problem.takes_part(at)).collect();
        let unit = columns.iter().map(|&at| Self::unit(problem, at)).collect();
        Self { problem, columns, unit, loose: 0.0 }
    }

    /// Every column in g/L, whether it takes part or not: for prices.
    pub(super) fn of_all(problem: &'p Problem<'a>) -> Self {
        let count = problem.columns.len();
        Self { problem, columns: (0..count).collect(), unit: vec![1.0; count], loose: 0.0 }
    }

    /// The same with every limit loosened by rounding.
    pub(super) fn loosened(&self) -> Self {
        Self { problem: self.problem, columns: self.columns.clone(), unit: self.unit.clone(), loose: LOOSE }
    }

    /// The amount that alone meets the salt's tightest target, else its tightest limit, else 1 g/L; of what is spared, which
    /// may take away as well, no more than there is.
    fn unit(problem: &Problem, at: usize) -> f64 {
        let column = &problem.columns[at];
        let tightest = |level: &dyn Fn(&super::Want) -> Option<f64>| {
            problem
                .wants
                .iter()
                .filter_map(|want| level(want).map(|level| level / column.ppm_per_g_per_l[want.nutrient].abs()))
                .filter(|amount| amount.is_finite() && *amount > 0.0)
                .reduce(f64::min)
        };
        let unit =
            tightest(&|want| want.target_ppm).or_else(|| tightest(&|want| want.max_ppm.or(want.min_ppm))).unwrap_or(1.0);
        let most = column.most_g_per_l.filter(|most| *most > 0.0 && problem.sparing.contains(&at));
        most.map_or(unit, |most| unit.min(most))
    }

    /// Amounts of every column in g/L from scaled ones.
    pub(super) fn amounts(&self, scaled: &[f64]) -> Vec<f64> {
        let mut x = vec![0.0; self.problem.columns.len()];
        for ((&column, unit), y) in self.columns.iter().zip(&self.unit).zip(scaled) {
            x[column] = y.max(0.0) * unit;
        }
        x
    }

    /// The coefficients of one nutrient, divided by `scale`.
    fn terms(&self, scale: f64, per_gram: impl Fn(usize) -> f64) -> Vec<(usize, f64)> {
        self.columns
            .iter()
            .enumerate()
            .map(|(at, &column)| (at, per_gram(column) * self.unit[at] / scale))
            .filter(|(_, coefficient)| *coefficient != 0.0)
            .collect()
    }

    /// Every stated limit, except what is on hand, which bounds its variable.
    pub(super) fn limit_rows(&self, tangents: &[Tangent]) -> Vec<LimitRow> {
        let problem = self.problem;
        let mut rows = Vec::new();
        for want in &problem.wants {
            let nutrient = want.nutrient;
            for (limit, level, relation) in [
                (Limit::AtLeast(nutrient), want.min_ppm, Relation::AtLeast),
                (Limit::AtMost(nutrient), want.max_ppm, Relation::AtMost),
            ] {
                let Some(level) = level else { continue };
                let scale = want.target_ppm.unwrap_or(if level > 0.0 { level } else { 1.0 });
                rows.push(LimitRow {
                    limit,
                    terms: self.terms(scale, |column| problem.columns[column].ppm_per_g_per_l[nutrient]),
                    relation,
                    right: (level - problem.water_ppm[nutrient]) / scale,
                });
            }
        }
        let nitrogen = problem
            .wants
            .iter()
            .filter(|want| want.nutrient.element() == "N")
            .filter_map(|want| want.target_ppm)
            .fold(0.0, f64::max);
        let scale = if nitrogen > 0.0 { nitrogen } else { 10.0 };
        for (limit, share, relation) in [
            (Limit::ShareAtLeast, problem.ammonium_share.min, Relation::AtLeast),
            (Limit::ShareAtMost, problem.ammonium_share.max, Relation::AtMost),
        ] {
            let Some(share) = share else { continue };
            // nitrogen of unknown form is taken at its worst for the limit
            let counted = |brings: &crate::matter::Nutrients| {
                let unknown = if relation == Relation::AtMost { brings.unsplit_change() } else { 0.0 };
                brings[Nutrient::AmmoniumN] + brings[Nutrient::UreaN] + unknown - share * brings[Nutrient::N]
            };
            rows.push(LimitRow {
                limit,
                terms: self.terms(scale, |column| counted(&problem.columns[column].ppm_per_g_per_l)),
                relation,
                right: -counted(&problem.water_ppm) / scale,
            });
        }
        if let Some(ph) = &problem.ph {
            let scale = ph.meq_per_g[ph.acid].abs().max(1e-9);
            rows.push(LimitRow {
                limit: Limit::Ph,
                terms: self.terms(scale, |column| ph.meq_per_g[column]),
                relation: Relation::Equal,
                right: ph.meq_per_l / scale,
            });
        }
        for tangent in tangents {
            let limits = problem.ec.as_ref();
            let level =
                limits.and_then(|ec| if tangent.limit == Limit::EcAtMost { ec.max_ms_per_cm } else { ec.min_ms_per_cm });
            let Some(level) = level else { continue };
            let scale = if level > 0.0 { level } else { 1.0 };
            rows.push(LimitRow {
                limit: tangent.limit,
                terms: self.terms(scale, |column| tangent.slope[column]),
                relation: if tangent.limit == Limit::EcAtMost { Relation::AtMost } else { Relation::AtLeast },
                right: (level - tangent.at_zero) / scale,
            });
        }
        for row in &mut rows {
            row.right += match row.relation {
                Relation::AtMost => self.loose,
                Relation::AtLeast => -self.loose,
                Relation::Equal => 0.0,
            };
        }
        rows
    }

    /// The amounts alone, bounded by what is on hand where `bounded` says so.
    pub(super) fn frame(&self, bounded: impl Fn(usize) -> bool) -> Program {
        let mut program = Program::default();
        for (&column, unit) in self.columns.iter().zip(&self.unit) {
            let most = self.problem.columns[column].most_g_per_l.filter(|_| bounded(column));
            // what is drained may have to end at all there is, however little meets the tightest target
            let ends = |most: &f64| *most < FAR || self.problem.sparing.contains(&column);
            program.variable(0.0, most.map(|most| most / unit).filter(ends).unwrap_or(f64::INFINITY));
        }
        program
    }

    /// Stage 1: limits as hard rows, every target with its three segments up and down.
    pub(super) fn misfit_program(&self, tangents: &[Tangent]) -> Program {
        let mut program = self.frame(|_| true);
        for row in self.limit_rows(tangents) {
            program.row(row.terms, row.relation, row.right);
        }
        for want in &self.problem.wants {
            let Some(target) = want.target_ppm else { continue };
            let mut terms = self.terms(target, |column| self.problem.columns[column].ppm_per_g_per_l[want.nutrient]);
            for sign in [-1.0, 1.0] {
                let lengths = [KNEES[0], KNEES[1] - KNEES[0], f64::INFINITY];
                for (slope, length) in SLOPES.iter().zip(lengths) {
                    terms.push((program.variable(want.weight * slope, length), sign));
                }
            }
            program.row(terms, Relation::Equal, 1.0 - self.problem.water_ppm[want.nutrient] / target);
        }
        program
    }
}
