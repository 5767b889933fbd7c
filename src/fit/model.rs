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
    /// What 1 of the row is in the unit of the limit.
    pub(super) scale: f64,
    pub(super) terms: Vec<(usize, f64)>,
    pub(super) relation: Relation,
    pub(super) right: f64,
}

/// A target as a row of the program: what all columns bring of it, relative to it, and what that has to come to.
pub(super) struct TargetRow {
    /// Position among the wants.
    pub(super) want: usize,
    pub(super) terms: Vec<(usize, f64)>,
    pub(super) right: f64,
}

/// What a limit that contradicts another by rounding alone is loosened by, relative.
pub(super) const LOOSE: f64 = 1e-8;
/// What is on hand beyond this many units is no bound where nothing that is asked for can use it: numbers so far apart are the
/// solver's undoing.
const FAR: f64 = 1e6;
/// More than so many times what the loosest target takes is enough for any (own choice).
const ENOUGH: f64 = 100.0;

impl LimitRow {
    /// How far the amounts `x` of every column are beyond it, relative.
    pub(super) fn beyond(&self, model: &Model, x: &[f64]) -> f64 {
        let left: f64 = self.terms.iter().map(|(at, a)| a * x[model.columns[*at]] / model.unit[*at]).sum();
        match self.relation {
            Relation::AtMost => (left - self.right).max(0.0),
            Relation::AtLeast => (self.right - left).max(0.0),
            Relation::Equal => (left - self.right).abs(),
        }
    }
}

/// A limit is kept where it is exceeded by no more than this, relative to the target of its nutrient, else to itself.
pub(super) const KEPT: f64 = 1e-6;

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

    /// Every column in g/L, whether it takes part or not: for reduced costs.
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

    /// What a g/L of `column` adds to a row of these terms.
    pub(super) fn per_g_per_l(&self, terms: &[(usize, f64)], column: usize) -> f64 {
        terms.iter().filter(|(at, _)| self.columns[*at] == column).map(|(at, a)| a / self.unit[*at]).sum()
    }

    /// Every target, in the order of the wants.
    pub(super) fn target_rows(&self) -> Vec<TargetRow> {
        let problem = self.problem;
        let row = |(want, of): (usize, &super::Want)| {
            let target = of.target_ppm?;
            let terms = self.terms(target, |column| problem.columns[column].ppm_per_g_per_l[of.nutrient]);
            Some(TargetRow { want, terms, right: 1.0 - problem.water_ppm[of.nutrient] / target })
        };
        problem.wants.iter().enumerate().filter_map(row).collect()
    }

    /// Every stated limit, except what is on hand, which bounds its variable.
    pub(super) fn limit_rows(&self, tangents: &[Tangent]) -> Vec<LimitRow> {
        let mut rows = self.nutrient_rows();
        rows.extend(self.share_rows());
        rows.extend(self.ph_row());
        rows.extend(self.water_rows());
        rows.extend(tangents.iter().filter_map(|tangent| self.ec_row(tangent)));
        for row in &mut rows {
            row.right += match row.relation {
                Relation::AtMost => self.loose,
                Relation::AtLeast => -self.loose,
                Relation::Equal => 0.0,
            };
        }
        rows
    }

    fn nutrient_rows(&self) -> Vec<LimitRow> {
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
                let terms = self.terms(scale, |column| problem.columns[column].ppm_per_g_per_l[nutrient]);
                rows.push(LimitRow { limit, scale, terms, relation, right: (level - problem.water_ppm[nutrient]) / scale });
            }
        }
        rows
    }

    fn share_rows(&self) -> Vec<LimitRow> {
        let problem = self.problem;
        let of_nitrogen = problem.wants.iter().filter(|want| want.nutrient.element() == "N");
        let nitrogen = of_nitrogen.filter_map(|want| want.target_ppm).fold(0.0, f64::max);
        let scale = if nitrogen > 0.0 { nitrogen } else { 10.0 };
        let row = |(limit, share, relation): (Limit, Option<f64>, Relation)| {
            let share = share?;
            // nitrogen of unknown form is taken at its worst for the limit
            let counted = |brings: &crate::matter::Nutrients| {
                let unknown = if relation == Relation::AtMost { brings.unsplit_change() } else { 0.0 };
                brings[Nutrient::AmmoniumN] + brings[Nutrient::UreaN] + unknown - share * brings[Nutrient::N]
            };
            let terms = self.terms(scale, |column| counted(&problem.columns[column].ppm_per_g_per_l));
            Some(LimitRow { limit, scale, terms, relation, right: -counted(&problem.water_ppm) / scale })
        };
        let limits = problem.ammonium_share;
        [(Limit::ShareAtLeast, limits.min, Relation::AtLeast), (Limit::ShareAtMost, limits.max, Relation::AtMost)]
            .into_iter()
            .filter_map(row)
            .collect()
    }

    fn ph_row(&self) -> Option<LimitRow> {
        let ph = self.problem.ph.as_ref()?;
        let scale = ph.scale();
        let terms = self.terms(scale, |column| ph.meq_per_g[column]);
        Some(LimitRow { limit: Limit::Ph, scale, terms, relation: Relation::Equal, right: ph.meq_per_l / scale })
    }

    /// Shares of the waters, in litres for each litre of tank.
    fn water_rows(&self) -> impl Iterator<Item = LimitRow> {
        self.problem.waters.iter().enumerate().map(|(at, row)| {
            let of = |column| row.terms.iter().filter(|(other, _)| *other == column).map(|(_, a)| a).sum();
            let (terms, relation) = (self.terms(1.0, of), Relation::AtMost);
            LimitRow { limit: Limit::Water(at), scale: 1.0, terms, relation, right: row.at_most }
        })
    }

    fn ec_row(&self, tangent: &Tangent) -> Option<LimitRow> {
        let ec = self.problem.ec.as_ref()?;
        let (level, relation) = match tangent.limit {
            Limit::EcAtMost => (ec.max_ms_per_cm?, Relation::AtMost),
            _ => (ec.min_ms_per_cm?, Relation::AtLeast),
        };
        let scale = if level > 0.0 { level } else { 1.0 };
        let terms = self.terms(scale, |column| tangent.slope[column]);
        Some(LimitRow { limit: tangent.limit, scale, terms, relation, right: (level - tangent.at_zero) / scale })
    }

    /// The amounts alone, bounded by what is on hand where `bounded` says so.
    pub(super) fn frame(&self, bounded: impl Fn(usize) -> bool) -> Program {
        let mut program = Program::default();
        for (&column, unit) in self.columns.iter().zip(&self.unit) {
            let most = self.problem.columns[column].most_g_per_l.filter(|_| bounded(column));
            // what is drained may have to end at all there is, however little meets the tightest target
            let is_kept = self.problem.sparing.contains(&column);
            let ends = |most: &f64| *most / unit < FAR || is_kept || *most < ENOUGH * self.largest_use(column);
            program.variable(0.0, most.filter(ends).map_or(f64::INFINITY, |most| most / unit));
        }
        program
    }

    /// The amount that alone meets the loosest of what is asked of anything that it brings, or takes away all that the water has
    /// of it where it thins.
    fn largest_use(&self, column: usize) -> f64 {
        let brings = &self.problem.columns[column].ppm_per_g_per_l;
        let uses = self.problem.wants.iter().filter_map(|want| {
            let asked = want.target_ppm.into_iter().chain(want.min_ppm).chain(want.max_ppm);
            let level = asked.fold(self.problem.water_ppm[want.nutrient], f64::max);
            Some(level / brings[want.nutrient].abs()).filter(|amount| amount.is_finite())
        });
        uses.fold(0.0, f64::max)
    }

    /// Stage 1: limits as hard rows, every target with its three segments up and down.
    pub(super) fn misfit_program(&self, tangents: &[Tangent]) -> Program {
        let mut program = self.frame(|_| true);
        for row in self.limit_rows(tangents) {
            program.row(row.terms, row.relation, row.right);
        }
        for TargetRow { want, mut terms, right } in self.target_rows() {
            for sign in [-1.0, 1.0] {
                let lengths = [KNEES[0], KNEES[1] - KNEES[0], f64::INFINITY];
                for (slope, length) in SLOPES.iter().zip(lengths) {
                    terms.push((program.variable(self.problem.wants[want].weight * slope, length), sign));
                }
            }
            program.row(terms, Relation::Equal, right);
        }
        program
    }
}
