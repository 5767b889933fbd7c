//! What is weighed out as rows over whole steps, and whole steps as an answer.

use super::super::ec::{EC_TOLERANCE, beyond, tangent};
use super::super::linear::Relation;
use super::super::model::{LimitRow, Model, Tangent};
use super::super::problem::{Limit, Want};
use super::grid::{Grid, Kind, Point, Row, TOLERANCE};
use super::{ToWeigh, Weighed};

/// What the exact mix may be over a limit that does not bend.
const ROUNDING: f64 = 1e-7;
/// What whole steps may be beyond a limit of EC, relative, where the exact mix is not further beyond it. More than the tolerance of
/// an exact mix it never is, though the pure water of new bottles, which that does not know, may thin it by more.
const EC_STEPS: f64 = 1e-6;
/// How far a limit of EC or of the ammonium share may give way, relative: own choice, the model's own error.
const SHARE_GIVES: f64 = 0.03;

/// True for a limit of EC.
pub(super) fn is_ec(limit: Limit) -> bool {
    matches!(limit, Limit::EcAtLeast | Limit::EcAtMost)
}

/// What is to be weighed out, and the columns whose steps are looked for.
pub(super) struct Asked<'q, 'a> {
    to_weigh: ToWeigh<'q, 'a>,
    columns: Vec<usize>,
    /// What whole steps may be beyond a limit of EC, relative.
    ec_off: f64,
}

impl<'q, 'a> Asked<'q, 'a> {
    pub(super) fn new(to_weigh: &ToWeigh<'q, 'a>) -> Self {
        let ToWeigh { problem, exact, settled, .. } = *to_weigh;
        let is_settled = |at: usize| settled.iter().any(|(column, _)| *column == at);
        let looked_for = |at: &usize| exact.g_per_l[*at] > 0.0 && !is_settled(*at);
        Self {
            to_weigh: *to_weigh,
            columns: (0..problem.columns.len()).filter(looked_for).collect(),
            ec_off: beyond(problem, &exact.g_per_l, |_| true).clamp(EC_STEPS, EC_TOLERANCE),
        }
    }

    /// True where the exact amounts keep every limit of EC, with the bottles that they come in.
    pub(super) fn exact_keeps_ec(&self) -> bool {
        beyond(self.to_weigh.problem, &self.to_weigh.exact.g_per_l, |_| true) <= self.ec_off
    }

    /// The amounts of every column for the whole tank.
    fn amounts(&self, rungs: &[i64]) -> Vec<f64> {
        let ToWeigh { problem, ladders, settled, .. } = self.to_weigh;
        let mut amounts = vec![0.0; problem.columns.len()];
        for (column, amount) in settled {
            amounts[*column] = *amount;
        }
        for (&column, rung) in self.columns.iter().zip(rungs) {
            amounts[column] = ladders[column].amount(*rung);
        }
        amounts
    }

    fn per_litre(&self, amounts: &[f64]) -> Vec<f64> {
        amounts.iter().map(|amount| amount / self.to_weigh.litres).collect()
    }

    /// How far EC is beyond those of its limits that `counts` names, relative.
    pub(super) fn ec_beyond(&self, rungs: &[i64], counts: impl Fn(Limit) -> bool) -> f64 {
        beyond(self.to_weigh.problem, &self.per_litre(&self.amounts(rungs)), counts)
    }

    /// True where every limit of EC holds as well as at the exact mix.
    pub(super) fn keeps_ec(&self, rungs: &[i64]) -> bool {
        self.ec_beyond(rungs, |_| true) <= self.ec_off
    }

    /// A point of the grid as the answer; limits of EC by EC itself and not by a tangent.
    pub(super) fn weighed(&self, grid: &Grid, point: &Point, proved: bool) -> Weighed {
        let problem = self.to_weigh.problem;
        let amounts = self.amounts(&point.rungs);
        let misfit = problem.misfit(&problem.achieved_ppm(&self.per_litre(&amounts)));
        let broken = grid.rows.iter().zip(&point.residual).filter(|(_, r)| **r > TOLERANCE);
        let mut gave_way: Vec<Limit> = broken.filter_map(|(row, _)| row.limit()).filter(|limit| !is_ec(*limit)).collect();
        gave_way.dedup();
        let of_ec = [Limit::EcAtLeast, Limit::EcAtMost].into_iter();
        gave_way.extend(of_ec.filter(|limit| self.ec_beyond(&point.rungs, |other| other == *limit) > self.ec_off));
        Weighed { amounts, misfit, proved, gave_way }
    }

    /// The grid, with limits of EC by their tangent at the exact mix where `with_ec` says so.
    pub(super) fn grid(&self, with_ec: bool) -> Grid<'q> {
        let ToWeigh { problem, exact, ladders, litres, .. } = self.to_weigh;
        let columns = &self.columns;
        let tangents: Vec<Tangent> = [Limit::EcAtLeast, Limit::EcAtMost]
            .into_iter()
            .filter(|_| with_ec)
            .filter_map(|limit| tangent(problem, limit, &exact.g_per_l))
            .collect();
        // what is settled counts in every limit, also an acid that brings nothing that is asked for
        let (model, all) = (Model::new(problem), Model::of_all(problem));
        let mut rows = self.target_rows();
        let limits = model.limit_rows(&tangents).into_iter().zip(all.limit_rows(&tangents));
        rows.extend(limits.map(|(row, wide)| {
            let given = |(column, amount): &(usize, f64)| all.per_g_per_l(&wide.terms, *column) * amount / litres;
            self.limit_row(&model, &row, self.to_weigh.settled.iter().map(given).sum())
        }));
        rows.extend(self.ph_rows());
        Grid {
            ladders: columns.iter().map(|&column| &ladders[column]).collect(),
            between: columns.iter().map(|&column| (0, ladders[column].top())).collect(),
            exact: columns.iter().map(|&column| exact.g_per_l[column] * litres).collect(),
            rows,
            soft: false,
        }
    }

    /// The bounds of the pH, in shares of how far they are from the exact mix.
    fn ph_rows(&self) -> Vec<Row> {
        let ToWeigh { exact, litres, settled, ph, .. } = self.to_weigh;
        let Some(band) = ph else { return Vec::new() };
        let ends = [(1.0, &band.at_most), (-1.0, &band.at_least)];
        let there = |meq: &[f64]| meq.iter().zip(&exact.g_per_l).map(|(meq, amount)| meq * amount).sum::<f64>();
        let wide = ends.iter().map(|(_, (meq, end))| (there(meq) - end).abs()).fold(1e-9, f64::max);
        let row = |(sign, (meq, end)): (f64, &(Vec<f64>, f64))| {
            let given: f64 = settled.iter().map(|(column, amount)| meq[*column] * amount / litres).sum();
            Row {
                kind: Kind::Limit { limit: Limit::Ph, give: 0.0 },
                of: self.columns.iter().map(|&column| sign * meq[column] / litres / wide).collect(),
                base: sign * (given - end) / wide,
                shadow_price: 0.0,
            }
        };
        ends.into_iter().map(row).collect()
    }

    /// The targets, by their relative miss: from the problem itself, since a miss thousands of times its target shows the last
    /// bits that another order of factors changes.
    fn target_rows(&self) -> Vec<Row> {
        let ToWeigh { problem, exact, litres, settled, .. } = self.to_weigh;
        let mut given = vec![0.0; problem.columns.len()];
        for (column, amount) in settled {
            given[*column] = amount / litres;
        }
        let base = problem.achieved_ppm(&given);
        let row = |(at, want): (usize, &Want)| {
            let target = want.target_ppm?;
            let brings = |&column: &usize| problem.columns[column].ppm_per_g_per_l[want.nutrient] / litres / target;
            Some(Row {
                kind: Kind::Target { weight: want.weight },
                of: self.columns.iter().map(brings).collect(),
                base: (base[want.nutrient] - target) / target,
                shadow_price: exact.shadow_prices.per_want.get(at).copied().unwrap_or(0.0),
            })
        };
        problem.wants.iter().enumerate().filter_map(row).collect()
    }

    /// A limit, by its relative excess; `given` is what is settled makes of it.
    fn limit_row(&self, model: &Model, row: &LimitRow, given: f64) -> Row {
        let ToWeigh { exact, litres, plus_minus_ppm, .. } = self.to_weigh;
        let sign = if row.relation == Relation::AtLeast { -1.0 } else { 1.0 };
        let of: Vec<f64> =
            self.columns.iter().map(|&column| sign * model.per_g_per_l(&row.terms, column) / litres).collect();
        let base = sign * (given - row.right);
        // the exact mix keeps a limit to within rounding, and EC to within its tolerance: whole steps need do no better
        let tolerance = if is_ec(row.limit) { self.ec_off } else { ROUNDING };
        let amounts = self.columns.iter().map(|&column| exact.g_per_l[column] * litres);
        let there = base + of.iter().zip(amounts).map(|(of, amount)| of * amount).sum::<f64>();
        let give = match row.limit {
            Limit::AtLeast(nutrient) | Limit::AtMost(nutrient) => plus_minus_ppm[nutrient] / row.scale,
            _ => SHARE_GIVES,
        };
        let multiplier = exact.shadow_prices.per_limit.iter().find(|(limit, _)| *limit == row.limit);
        Row {
            kind: Kind::Limit { limit: row.limit, give },
            of,
            base: base - there.clamp(0.0, tolerance),
            shadow_price: multiplier.map_or(0.0, |(_, price)| *price),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::sample::{column, problem, target};
    use super::super::super::{Problem, Want, solve};
    use super::super::{Flight, Ladder, PhBand};
    use super::*;
    use crate::matter::{Nutrient, Nutrients};

    const LITRES: f64 = 10.0;

    /// 100 ppm K for each g/L of the first, 200 ppm N of the second, in whole grams.
    fn asked_of<T>(
        wants: Vec<Want>,
        settled: &[(usize, f64)],
        ph: Option<&PhBand>,
        give: f64,
        job: impl Fn(&Asked) -> T,
    ) -> T {
        let mut of: Problem = problem(vec![column(&[(Nutrient::K, 100.0)]), column(&[(Nutrient::N, 200.0)])], wants);
        of.columns.push(column(&[]));
        let exact = solve(&of).unwrap();
        let mut plus_minus_ppm = Nutrients::default();
        plus_minus_ppm[Nutrient::K] = give;
        let ladders = vec![Ladder::new(vec![Flight { step: 1.0, first: 1, last: 40 }]); 3];
        let to_weigh = ToWeigh {
            problem: &of,
            exact: &exact,
            ladders: &ladders,
            litres: LITRES,
            settled,
            ph,
            plus_minus_ppm: &plus_minus_ppm,
        };
        job(&Asked::new(&to_weigh))
    }

    /// A limit that gives way does so by its give or take in ppm and no further, whatever its target: 10 ppm for each gram in
    /// 10 L, so that 6 g are 60 ppm.
    #[test]
    fn a_limit_gives_way_by_its_give_or_take_in_ppm() {
        for (give, rung, within) in [(4.9, 6, false), (5.1, 6, true), (4.9, 5, true), (14.9, 7, false), (15.1, 7, true)] {
            let k = Want { max_ppm: Some(55.0), ..target(Nutrient::K, 50.0) };
            let excess = asked_of(vec![k, target(Nutrient::N, 40.0)], &[], None, give, |asked| {
                let mut grid = asked.grid(false);
                grid.soft = true;
                grid.score(&grid.point(vec![rung, 2]).residual).0
            });
            assert_eq!(excess <= 0.0, within, "{give} ppm at {rung} g: {excess}");
        }
    }

    /// The bounds of the pH are broken where the alkalinity of all that goes in, the acid that is settled among it, is beyond them,
    /// and by so much in one measure for both.
    #[test]
    fn the_ph_is_out_of_its_bounds_where_the_alkalinity_is() {
        let meq = vec![0.8, 0.3, -2.0];
        let band = PhBand { at_most: (meq.clone(), 0.25), at_least: (meq.clone(), 0.15) };
        // the exact 0.5 and 0.2 g/L are 0.46 meq/L: 1.3 g of the acid in 10 L bring that to 0.2, between the bounds
        for acid in [0.0, 1.3, 4.0] {
            let settled = [(2, acid)];
            let wants = vec![target(Nutrient::K, 50.0), target(Nutrient::N, 40.0)];
            asked_of(wants, &settled, Some(&band), 0.0, |asked| {
                let grid = asked.grid(false);
                let of_ph: Vec<usize> =
                    (0..grid.rows.len()).filter(|&row| grid.rows[row].limit() == Some(Limit::Ph)).collect();
                assert_eq!(of_ph.len(), 2);
                let mut measures = Vec::new();
                for (k, n) in (0..=9_i32).flat_map(|k| (0..=9_i32).map(move |n| (k, n))) {
                    let residual = grid.point(vec![k.into(), n.into()]).residual;
                    let amounts = [f64::from(k), f64::from(n), acid];
                    let there: f64 = amounts.iter().zip(&meq).map(|(amount, meq)| amount * meq / LITRES).sum();
                    for (row, over) in of_ph.iter().zip([there - 0.25, 0.15 - there]) {
                        assert_eq!(residual[*row] > TOLERANCE, over > 1e-9, "{k} {n} {acid}: {over} {}", residual[*row]);
                        measures.extend((over.abs() > 1e-9).then(|| residual[*row] / over));
                    }
                }
                assert!(measures.iter().all(|measure| (measure / measures[0] - 1.0).abs() < 1e-6), "{acid}: {measures:?}");
            });
        }
    }
}
