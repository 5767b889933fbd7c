//! The fewest bottles, and what goes into which.

/// Partial splits that are looked at for one number of bottles: a count and no clock, so that every machine splits alike.
const NODES: u32 = 30_000;
/// Strengths closer than this share count as the same.
const SAME: f64 = 1e-9;

/// What is asked of a split of `count` salts.
pub(super) struct Asked<'f> {
    pub(super) count: usize,
    /// Two that must not meet where there are as many bottles.
    pub(super) apart: &'f dyn Fn(usize, usize, usize) -> bool,
    /// Two that would better not meet.
    pub(super) better_apart: &'f dyn Fn(usize, usize) -> bool,
    /// True for a bottle that stays clear as a whole; asked of whole splits only, since another salt may clear a bottle.
    pub(super) clear: &'f dyn Fn(&[usize]) -> bool,
    /// How strong a bottle of these may be.
    pub(super) limit: &'f dyn Fn(&[usize]) -> f64,
    /// The strength wished for; a bottle that could be stronger counts no more.
    pub(super) strength: f64,
    /// A bottle weaker than this is not worth making.
    pub(super) least: f64,
}

/// How good a split is.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Score {
    /// Strength of the weakest bottle.
    weakest: f64,
    /// Pairs that would better not meet.
    uneasy: usize,
    /// Sum of all strengths.
    sum: f64,
}

impl Score {
    fn beats(&self, other: &Self) -> bool {
        let apart = |a: f64, b: f64| (a / b - 1.0).abs() > SAME;
        if apart(self.weakest, other.weakest) {
            self.weakest > other.weakest
        } else if self.uneasy != other.uneasy {
            self.uneasy < other.uneasy
        } else {
            apart(self.sum, other.sum) && self.sum > other.sum
        }
    }
}

/// Splits the salts over as few bottles as keep apart what must not meet and reach the least strength; among those, the
/// weakest bottle is as strong as can be, then fewest uneasy neighbours meet, then the others are strong.
pub(super) fn split(asked: &Asked) -> Vec<Vec<usize>> {
    let conflicts = |at: usize| (0..asked.count).filter(|&other| other != at && (asked.apart)(at, other, 2)).count();
    let mut order: Vec<usize> = (0..asked.count).collect();
    order.sort_by_key(|&at| (std::cmp::Reverse(conflicts(at)), at));
    let mut found = None;
    for bottles in 1..=asked.count {
        let mut search = Search { asked, order: &order, bottles, nodes: NODES, best: None };
        search.from(0, &mut Vec::new(), 0);
        if let Some((score, split)) = search.best {
            let enough = score.weakest >= asked.least.min(asked.strength) * (1.0 - SAME);
            found = Some(split);
            if enough {
                break;
            }
        }
    }
    let mut split = found.unwrap_or_default();
    for bottle in &mut split {
        bottle.sort_unstable();
    }
    split
}

struct Search<'s> {
    asked: &'s Asked<'s>,
    order: &'s [usize],
    bottles: usize,
    nodes: u32,
    best: Option<(Score, Vec<Vec<usize>>)>,
}

impl Search<'_> {
    fn from(&mut self, at: usize, split: &mut Vec<Vec<usize>>, uneasy: usize) {
        let strengths = split.iter().map(|bottle| (self.asked.limit)(bottle).min(self.asked.strength));
        let (weakest, sum) = strengths.fold((f64::INFINITY, 0.0), |(weakest, sum), s| (f64::min(weakest, s), sum + s));
        let score = Score { weakest, uneasy, sum };
        let Some(&salt) = self.order.get(at) else {
            let better = self.best.as_ref().is_none_or(|(best, _)| score.beats(best));
            if better && split.iter().all(|bottle| (self.asked.clear)(bottle)) {
                self.best = Some((score, split.clone()));
            }
            return;
        };
        // what is still to come makes no bottle stronger and no pair easier
        let hopeless = |best: &Score| {
            best.weakest > weakest * (1.0 + SAME) || (best.weakest >= weakest * (1.0 - SAME) && best.uneasy < uneasy)
        };
        if self.nodes == 0 || self.best.as_ref().is_some_and(|(best, _)| hopeless(best)) {
            return;
        }
        self.nodes -= 1;
        for bottle in 0..split.len() {
            if split[bottle].iter().any(|&other| (self.asked.apart)(salt, other, self.bottles)) {
                continue;
            }
            let more = split[bottle].iter().filter(|&&other| (self.asked.better_apart)(salt, other)).count();
            split[bottle].push(salt);
            self.from(at + 1, split, uneasy + more);
            split[bottle].pop();
        }
        if split.len() < self.bottles {
            split.push(vec![salt]);
            self.from(at + 1, split, uneasy);
            split.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked<'f>(
        count: usize,
        apart: &'f dyn Fn(usize, usize, usize) -> bool,
        limit: &'f dyn Fn(&[usize]) -> f64,
    ) -> Asked<'f> {
        Asked { count, apart, better_apart: &|_, _| false, clear: &|_| true, limit, strength: 100.0, least: 10.0 }
    }

    #[test]
    fn two_that_must_not_meet_take_two_bottles_and_the_third_goes_where_it_is_stronger() {
        let apart = |a: usize, b: usize, _: usize| a.min(b) == 0 && a.max(b) == 1;
        let limit = |bottle: &[usize]| if bottle.contains(&2) && bottle.contains(&0) { 40.0 } else { 200.0 };
        assert_eq!(split(&asked(3, &apart, &limit)), [vec![0], vec![1, 2]]);
    }

    #[test]
    fn a_bottle_too_weak_to_be_worth_it_is_split_further() {
        let limit = |bottle: &[usize]| if bottle.len() > 2 { 5.0 } else { 50.0 };
        assert_eq!(split(&asked(4, &|_, _, _| false, &limit)).len(), 2);
    }

    #[test]
    fn a_bottle_that_another_salt_clears_is_found_and_one_that_nothing_clears_is_not() {
        let limit = |_: &[usize]| 50.0;
        let clear = |bottle: &[usize]| !bottle.contains(&0) || !bottle.contains(&1) || bottle.contains(&2);
        let apart = |_: usize, _: usize, _: usize| false;
        assert_eq!(split(&Asked { clear: &clear, ..asked(3, &apart, &limit) }).len(), 1);
        let cloudy = |bottle: &[usize]| !bottle.contains(&0) || !bottle.contains(&1);
        assert_eq!(split(&Asked { clear: &cloudy, ..asked(3, &apart, &limit) }).len(), 2);
    }

    #[test]
    fn nothing_takes_no_bottle() {
        assert!(split(&asked(0, &|_, _, _| false, &|_| 1.0)).is_empty());
    }
}
