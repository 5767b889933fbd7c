//! What is asked of a fit, and the arithmetic that judges an answer without any solver.

use crate::matter::{Nutrient, Nutrients};
use crate::quantity::Limits;
use crate::weights::weight;

/// A salt that may take part.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// ppm of each nutrient that 1 g/L brings.
    pub ppm_per_g_per_l: Nutrients,
    /// The most there is, g per litre of tank; `None` without a limit.
    pub most_g_per_l: Option<f64>,
    /// What a gram costs in the third wish: money, or 1 when mass is to be least.
    pub cost_per_g: f64,
}

impl Column {
    /// Lets nothing of it go in.
    pub fn forbid(&mut self) {
        self.most_g_per_l = Some(0.0);
    }

    /// True where nothing of it may go in, or there is none.
    #[must_use]
    pub fn is_forbidden(&self) -> bool {
        self.most_g_per_l.is_some_and(|most| most <= 0.0)
    }
}

/// What a formula says of one nutrient, in ppm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Want {
    /// Which.
    pub nutrient: Nutrient,
    /// The target, greater than 0.
    pub target_ppm: Option<f64>,
    /// The least allowed.
    pub min_ppm: Option<f64>,
    /// The most allowed.
    pub max_ppm: Option<f64>,
    /// Weight of a miss.
    pub weight: f64,
}

/// What knows the EC of amounts: the chemistry, or a tangent to it.
///
/// The fit follows EC by tangents, which is sound as far as EC is concave in the amounts.
///
/// # Examples
/// ```
/// use bloomsalt::fit::Conducts;
/// /// Every salt adds 1.2 mS/cm for each g/L.
/// struct Straight;
/// impl Conducts for Straight {
///     fn ec_ms_per_cm(&self, g_per_l: &[f64]) -> f64 {
///         1.2 * g_per_l.iter().sum::<f64>()
///     }
///     fn slope_ms_per_cm(&self, g_per_l: &[f64]) -> Vec<f64> {
///         vec![1.2; g_per_l.len()]
///     }
///     fn is_straight(&self) -> bool {
///         true
///     }
/// }
/// assert!((Straight.ec_ms_per_cm(&[0.5, 0.5]) - 1.2).abs() < 1e-12);
/// ```
///
/// Reference: `docs/fit.md`.
pub trait Conducts {
    /// EC in mS/cm at 25 C of amounts in g/L of every column; not a number where none can be reckoned.
    fn ec_ms_per_cm(&self, g_per_l: &[f64]) -> f64;

    /// Its slope in mS/cm per g/L of every column. Salts of the same ions must get the same slope to the last bits, or
    /// the solver tells them apart by noise.
    fn slope_ms_per_cm(&self, g_per_l: &[f64]) -> Vec<f64>;

    /// True where the slope is the same everywhere: then a limit is one row of the program, and nothing needs to be searched.
    fn is_straight(&self) -> bool {
        false
    }
}

/// Limits of EC at 25 C, and what knows the EC of amounts.
#[derive(Clone, Copy)]
pub struct EcLimits<'a> {
    /// The least allowed, mS/cm.
    pub min_ms_per_cm: Option<f64>,
    /// The most allowed, mS/cm.
    pub max_ms_per_cm: Option<f64>,
    /// What knows the EC of amounts.
    pub conducts: &'a dyn Conducts,
}

/// The condition that brings the pH down to a wish, linear for frozen mean charges.
///
/// An equation: an inequality would let the fit take the acid as a cheap nutrient and go far below the wish.
#[derive(Debug, Clone, PartialEq)]
pub struct PhRow {
    /// What a g/L of each column adds, meq/L.
    pub meq_per_g: Vec<f64>,
    /// What the sum comes to at the wish, meq/L.
    pub meq_per_l: f64,
    /// The columns of the acids; they take part whatever they bring.
    pub acids: Vec<usize>,
}

impl PhRow {
    /// What the row is divided by: what a g/L of the strongest acid takes away, meq/L.
    pub(super) fn scale(&self) -> f64 {
        self.acids.iter().map(|&at| self.meq_per_g[at].abs()).fold(1e-9, f64::max)
    }

    /// What amounts are off the row by, as its [`super::ShadowPrices`] count it.
    pub(crate) fn off(&self, g_per_l: &[f64]) -> f64 {
        let sum: f64 = self.meq_per_g.iter().zip(g_per_l).map(|(meq, amount)| meq * amount).sum();
        (sum - self.meq_per_l).abs() / self.scale()
    }
}

/// A bound of how waters share what is filled in: there is only so much of one, and none is less than nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterRow {
    /// Columns, and what a unit of each adds, L for each litre of tank.
    pub terms: Vec<(usize, f64)>,
    /// What the sum comes to at the most, L for each litre of tank.
    pub at_most: f64,
}

/// A whole question.
#[derive(Clone)]
pub struct Problem<'a> {
    /// The salts, in the order that breaks ties.
    pub columns: Vec<Column>,
    /// What the water brings, ppm.
    pub water_ppm: Nutrients,
    /// The formula.
    pub wants: Vec<Want>,
    /// Limits of the share of ammonium and urea in all nitrogen, fractions.
    pub ammonium_share: Limits<f64>,
    /// Limits of EC, where the formula states any.
    pub ec: Option<EcLimits<'a>>,
    /// The wish for a pH, where an acid may meet it.
    pub ph: Option<PhRow>,
    /// Columns of which as little as possible is taken, one after another, directly after the least misfit: what is drained of
    /// a tank, and what is filled in of any but the first of several waters. They take part whatever they bring or take away, and are neither paid for nor counted as unasked.
    pub sparing: Vec<usize>,
    /// How several waters share what is filled in.
    pub waters: Vec<WaterRow>,
    /// The closest mix of a problem much like this one, g/L of every column: under a limit of EC that binds the way is gone on from
    /// there, and not from several starts.
    pub near: Option<Vec<f64>>,
}

/// A stated limit, as a conflict names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Limit {
    /// Lower limit of a nutrient.
    AtLeast(Nutrient),
    /// Upper limit of a nutrient.
    AtMost(Nutrient),
    /// Lower limit of the ammonium share.
    ShareAtLeast,
    /// Upper limit of the ammonium share.
    ShareAtMost,
    /// What is on hand of a column.
    OnHand(usize),
    /// A bound of how waters share what is filled in, by its position.
    Water(usize),
    /// Lower limit of EC.
    EcAtLeast,
    /// Upper limit of EC.
    EcAtMost,
    /// The wish for a pH.
    Ph,
}

/// The penalty of a relative miss: 1 per unit up to 5 %, 4 up to 20 %, 16 beyond.
///
/// phi(r) = |r|; 0.05 + 4 (|r| - 0.05) from 0.05; 0.65 + 16 (|r| - 0.20) from 0.20.
///
/// * `r`: (achieved - target) / target, a fraction
///
/// Returns a dimensionless penalty, 0 for a target that is met. Convex, so that an unavoidable miss is spread over
/// several elements.
///
/// # Examples
/// ```
/// assert!((bloomsalt::fit::phi(-0.10) - 0.25).abs() < 1e-12);
/// ```
///
/// Reference: the project's own choice, see `docs/fit.md`.
#[must_use]
pub fn phi(r: f64) -> f64 {
    let r = r.abs();
    r.min(KNEES[0]) + SLOPES[1] * (r.min(KNEES[1]) - KNEES[0]).max(0.0) + SLOPES[2] * (r - KNEES[1]).max(0.0)
}

/// Where [`phi`] bends.
pub(super) const KNEES: [f64; 2] = [0.05, 0.20];
/// Slopes of [`phi`] between the bends.
pub(super) const SLOPES: [f64; 3] = [1.0, 4.0, 16.0];

/// Equivalent masses of chloride and sodium, g/mol.
const CHLORIDE_G_PER_EQ: f64 = weight("Cl");
const SODIUM_G_PER_EQ: f64 = weight("Na");

impl Problem<'_> {
    /// What amounts `x` (g/L) give, water included, in ppm.
    #[must_use]
    pub fn achieved_ppm(&self, x: &[f64]) -> Nutrients {
        let mut sum = self.water_ppm;
        for (column, amount) in self.columns.iter().zip(x) {
            sum.add(&column.ppm_per_g_per_l, *amount);
        }
        sum
    }

    /// Sum of weight times [`phi`] over the targets, dimensionless.
    #[must_use]
    pub fn misfit(&self, achieved: &Nutrients) -> f64 {
        self.wants
            .iter()
            .filter_map(|want| want.target_ppm.map(|target| want.weight * phi((achieved[want.nutrient] - target) / target)))
            .sum()
    }

    /// Chloride and sodium that no target asks for, meq per gram of each column.
    #[must_use]
    pub fn unasked_meq_per_g(&self) -> Vec<f64> {
        let asked = |nutrient| self.wants.iter().any(|want| want.nutrient == nutrient && want.target_ppm.is_some());
        let (chloride, sodium) = (!asked(Nutrient::Cl), !asked(Nutrient::Na));
        self.columns
            .iter()
            .enumerate()
            .map(|(at, column)| {
                if self.sparing.contains(&at) {
                    return 0.0;
                }
                let of = |counts: bool, nutrient, mass| if counts { column.ppm_per_g_per_l[nutrient] / mass } else { 0.0 };
                of(chloride, Nutrient::Cl, CHLORIDE_G_PER_EQ) + of(sodium, Nutrient::Na, SODIUM_G_PER_EQ)
            })
            .collect()
    }

    /// Least and most ammonium share: they differ by nitrogen whose form is unknown. `None` without nitrogen.
    #[must_use]
    pub fn ammonium_share(achieved: &Nutrients) -> Option<(f64, f64)> {
        let all = achieved[Nutrient::N];
        let counted = achieved[Nutrient::AmmoniumN] + achieved[Nutrient::UreaN];
        (all > 0.0).then(|| (counted / all, ((counted + achieved.unsplit_nitrogen()) / all).min(1.0)))
    }

    /// True for columns of which there is some and that bring something a target or a lower limit asks for; nitrogen counts as asked for where the
    /// ammonium share is limited, since another form of it may keep the share, and everything where a least EC is.
    #[must_use]
    pub fn takes_part(&self, at: usize) -> bool {
        let column = &self.columns[at];
        if self.ph.as_ref().is_some_and(|ph| ph.acids.contains(&at)) || self.sparing.contains(&at) {
            return true;
        }
        if column.is_forbidden() {
            return false;
        }
        // any salt conducts
        if self.ec.as_ref().is_some_and(|ec| ec.min_ms_per_cm.is_some_and(|min| min > 0.0)) {
            return true;
        }
        let share = self.ammonium_share.is_any();
        if share && column.ppm_per_g_per_l[Nutrient::N] > 0.0 {
            return true;
        }
        self.wants
            .iter()
            .filter(|want| want.target_ppm.is_some() || want.min_ppm.is_some_and(|min| min > 0.0))
            .any(|want| column.ppm_per_g_per_l[want.nutrient] > 0.0)
    }

    /// Every limit that `achieved` and `x` break by more than `tolerance`, relative to the limit, to all that is brought and
    /// taken away, or to 1.
    #[must_use]
    pub fn broken_limits(&self, x: &[f64], achieved: &Nutrients, tolerance: f64) -> Vec<Limit> {
        let mut broken = Vec::new();
        // what a drain takes away and leaves are differences of larger numbers, and no surer than those
        let moved = |nutrient: Nutrient| {
            let of = |(column, amount): (&Column, &f64)| (column.ppm_per_g_per_l[nutrient] * amount).abs();
            self.columns.iter().zip(x).map(of).sum::<f64>() + self.water_ppm[nutrient].abs()
        };
        let over = |value: f64, limit: f64, moved: f64| value - limit > tolerance * limit.abs().max(moved).max(1.0);
        for want in &self.wants {
            let (value, moved) = (achieved[want.nutrient], moved(want.nutrient));
            if want.min_ppm.is_some_and(|min| over(min, value, moved)) {
                broken.push(Limit::AtLeast(want.nutrient));
            }
            if want.max_ppm.is_some_and(|max| over(value, max, moved)) {
                broken.push(Limit::AtMost(want.nutrient));
            }
        }
        // as nitrogen and not as a share, which means nothing where there is next to no nitrogen
        let counted = achieved[Nutrient::AmmoniumN] + achieved[Nutrient::UreaN];
        let all = achieved[Nutrient::N];
        if self.ammonium_share.min.is_some_and(|min| over(min * all, counted, moved(Nutrient::N))) {
            broken.push(Limit::ShareAtLeast);
        }
        if self
            .ammonium_share
            .max
            .is_some_and(|max| over(counted + achieved.unsplit_nitrogen(), max * all, moved(Nutrient::N)))
        {
            broken.push(Limit::ShareAtMost);
        }
        for (at, (column, amount)) in self.columns.iter().zip(x).enumerate() {
            if column.most_g_per_l.is_some_and(|most| over(*amount, most, 0.0)) {
                broken.push(Limit::OnHand(at));
            }
        }
        for (at, row) in self.waters.iter().enumerate() {
            let sum: f64 = row.terms.iter().map(|(column, a)| a * x[*column]).sum();
            if over(sum, row.at_most, 0.0) {
                broken.push(Limit::Water(at));
            }
        }
        broken
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::super::sample::{column, problem, target};
    use super::{Limit, Want, phi};
    use crate::matter::Nutrient;
    use crate::quantity::Limits;

    #[test]
    fn phi_bends_where_it_should() {
        for (r, penalty) in [(0.0, 0.0), (0.05, 0.05), (-0.05, 0.05), (0.2, 0.65), (0.3, 2.25), (-1.0, 13.45)] {
            assert_relative_eq!(phi(r), penalty, epsilon = 1e-12);
        }
    }

    /// 100 ppm N of which 30 are ammonium, in 10 ppm of P: each limit is broken beyond the value it has and not at it, and every
    /// one that is broken is named.
    #[test]
    fn limits_are_broken_beyond_their_value() {
        let brings = [(Nutrient::N, 100.0), (Nutrient::AmmoniumN, 30.0), (Nutrient::NitrateN, 70.0), (Nutrient::P, 10.0)];
        let want = |min_ppm, max_ppm| Want { target_ppm: None, min_ppm, max_ppm, ..target(Nutrient::P, 1.0) };
        let broken = |wants: Vec<Want>, ammonium_share: Limits<f64>, most: Option<f64>| {
            let mut of = problem(vec![column(&brings)], wants);
            of.ammonium_share = ammonium_share;
            of.columns[0].most_g_per_l = most;
            of.broken_limits(&[1.0], &of.achieved_ppm(&[1.0]), 1e-6)
        };
        let share = |min, max| broken(Vec::new(), Limits { min, max }, None);
        assert_eq!(share(Some(0.3), Some(0.3)), []);
        assert_eq!(share(None, Some(0.29)), [Limit::ShareAtMost]);
        assert_eq!(share(Some(0.31), None), [Limit::ShareAtLeast]);
        let of_p = |min, max| broken(vec![want(min, max)], Limits::default(), None);
        assert_eq!(of_p(Some(10.0), Some(10.0)), []);
        assert_eq!(of_p(Some(10.1), None), [Limit::AtLeast(Nutrient::P)]);
        assert_eq!(of_p(None, Some(9.9)), [Limit::AtMost(Nutrient::P)]);
        let all = broken(vec![want(None, Some(9.0))], Limits { min: None, max: Some(0.2) }, Some(0.9));
        assert_eq!(all, [Limit::AtMost(Nutrient::P), Limit::ShareAtMost, Limit::OnHand(0)]);
        assert_eq!(broken(Vec::new(), Limits::default(), Some(1.0)), []);
    }
}
