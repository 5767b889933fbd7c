//! The ways to turn a tank over that are shown: those that the exact program finds, shares of what is there, and their names.

use super::Kind;
use super::turn::{ALL_BUT, Drained, Turn, loosened};
use crate::fit::Want;
use crate::jobs::engine::AS_GOOD;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::error::JobError;
use crate::jobs::record::MixRecord;
use crate::safety::{self, Finding, Severity};

/// Shares of what is there that are always shown.
const SHARES: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
/// A wish for a pH that is not met counts so much in the misfit by which ways are compared, own choice: about as a target that is
/// missed by 22 %. A correction afterwards mends it.
const PH_NOT_MET: f64 = 1.0;
/// Targets within this fraction are as good as met by a way that wastes least (docs/switch.md).
const NEAR_TARGET: f64 = 0.05;
/// The row of a pH moves with the charges of the drain: so much may a target then be further off, a fraction.
const ROW_MOVED: f64 = 0.012;
/// A misfit this near to another is the same.
const SAME: f64 = 1e-9;
/// Whole buckets that are looked at to either side of the best drain.
const BUCKETS_BESIDE: i32 = 2;
/// Ways a little further than the exact best fit that are tried where rounding makes it the worse one: own choice.
const FURTHER: i32 = 3;

/// A way to turn the tank over, measured out.
pub(super) struct Way {
    pub(super) kind: Kind,
    pub(super) drain: f64,
    /// True for the least drain that comes as near as least waste has to.
    wastes_least: bool,
    /// True for a share that is shown whatever it is called.
    always: bool,
    /// True when its exact amounts keep limits beside those of the formula.
    pub(super) within: bool,
    pub(super) made: Result<MixRecord, JobError>,
}

impl Way {
    /// True where it is told to stop.
    fn stops(&self) -> bool {
        let stops = |finding: &Finding| finding.severity == Severity::Stop;
        self.made.as_ref().is_ok_and(|made| safety::speaks_against(&made.findings).any(stops))
    }

    /// True where a wish for a pH is not met.
    fn misses_ph(&self) -> bool {
        let missed = |finding: &Finding| finding.severity != Severity::Stop;
        self.made.as_ref().is_ok_and(|made| safety::speaks_against(&made.findings).any(missed))
    }

    /// The misfit by which ways are compared: a wish for a pH that is not met counts as a target that is missed.
    fn weighed_up(&self) -> f64 {
        self.misfit() + if self.misses_ph() { PH_NOT_MET } else { 0.0 }
    }

    /// True where every target comes within 5 % by its exact amounts, or as near as by those of the best way.
    fn keeps_what(&self, best: &Way) -> bool {
        let (Ok(made), Ok(best)) = (&self.made, &best.made) else { return false };
        made.elements.iter().all(|is| {
            let Some(target) = is.target_ppm.filter(|target| *target > 0.0) else { return true };
            let Some(at_best) = best.elements.iter().find(|other| other.element == is.element) else { return true };
            let [miss, at_best] = [is, at_best].map(|element| (element.ppm_exact - target) / target);
            let slack = ROW_MOVED * (1.0 + at_best.abs());
            miss >= at_best.min(-NEAR_TARGET) - slack && miss <= at_best.max(NEAR_TARGET) + slack
        })
    }

    /// Misfit as measured out; infinite where it is not possible.
    fn misfit(&self) -> f64 {
        self.made.as_ref().ok().and_then(|made| made.misfit).unwrap_or(f64::INFINITY)
    }
}

/// A drain to be measured out, and limits that the exact amounts keep there beside those of the formula.
pub(super) struct Drain {
    pub(super) drain: f64,
    pub(super) wastes_least: bool,
    pub(super) within: Vec<Want>,
}

/// The drains that the exact program finds.
pub(super) fn named(turn: &Turn, bucket: Option<f64>) -> Result<Vec<Drain>, JobError> {
    let Some(mut best) = turn.closest()? else { return Ok(Vec::new()) };
    // of all but a trifle the rest is let out as well, where that comes as near
    if best.drain > (turn.level - ALL_BUT * turn.full).max(0.0) {
        // what cannot be reckoned so is left as it is
        let all = turn.at(turn.level).ok().flatten().filter(|all| all.misfit <= best.misfit + AS_GOOD);
        best = all.unwrap_or(best);
    }
    if let Some(bucket) = bucket {
        // the misfit is convex in the drain, so the best number of buckets is next to the best drain
        let at = best.drain / bucket;
        let counts = (-BUCKETS_BESIDE..=BUCKETS_BESIDE + 1).map(|away| (at.floor() + f64::from(away)) * bucket);
        let mut drains: Vec<f64> = counts.filter(|drain| *drain >= 0.0 && *drain < turn.level - 1e-9).collect();
        drains.push(turn.level);
        let mut found: Option<Drained> = None;
        for drain in drains {
            let Some(one) = turn.at(drain)? else { continue };
            if found.as_ref().is_none_or(|found| one.misfit < found.misfit - SAME) {
                found = Some(one);
            }
        }
        match found {
            Some(found) => best = found,
            None => return Ok(Vec::new()),
        }
    }
    let least = turn.least_waste(&best)?;
    let least = bucket.map_or(least, |bucket| ((least / bucket - 1e-9).ceil() * bucket).min(best.drain));
    // where no lesser drain comes as near, the exact best is the one that wastes least
    let mut named = vec![Drain { drain: best.drain, wastes_least: least >= best.drain, within: Vec::new() }];
    if least < best.drain {
        named.push(Drain { drain: least, wastes_least: true, within: turn.bands(&best)? });
    }
    Ok(named)
}

/// The named drains and those that are always shown, each measured out.
pub(super) fn ways(turn: &Turn, options: &MixOptions, named: Vec<Drain>, bucket: Option<f64>) -> Result<Vec<Way>, JobError> {
    let mut drains = named;
    // in whole buckets, or all of it
    let shares = SHARES.map(|share| {
        let drain = share * turn.level;
        bucket.filter(|_| share < 1.0).map_or(drain, |bucket| ((drain / bucket).round() * bucket).min(turn.level))
    });
    for drain in shares {
        if !drains.iter().any(|named| (named.drain - drain).abs() < 1e-9) {
            drains.push(Drain { drain, wastes_least: false, within: Vec::new() });
        }
    }
    let options = MixOptions { without_reasons: true, ..*options };
    let mut ways = Vec::new();
    for drain in drains {
        let always = shares.iter().any(|share| (share - drain.drain).abs() < 1e-9);
        ways.extend(measured_out(turn, &options, drain, always)?);
    }
    Ok(ways)
}

/// A drain measured out; none where the least drain cannot be.
fn measured_out(turn: &Turn, options: &MixOptions, of: Drain, always: bool) -> Result<Option<Way>, JobError> {
    let Drain { drain, wastes_least, within } = of;
    let mut made = turn.made(drain, options, &within);
    // the drain is the least one, so its limits hold by a hair, and the row of a pH moves with the charges
    if !within.is_empty() && made.is_err() {
        made = turn.made(drain, options, &loosened(&within));
        if made.is_err() {
            return Ok(None);
        }
    }
    match made {
        Err(error) if error.exit_status() != 1 => Err(error),
        made => Ok(Some(Way { kind: Kind::Fixed, drain, wastes_least, always, within: !within.is_empty(), made })),
    }
}

/// The drains a little over the exact best fit, where that one as measured out is worse than a way that drains more: what rounding
/// alone has spoilt is as a rule as good a litre or two further on, and the rest of the tank need not be poured away for it.
pub(super) fn a_little_more(
    turn: &Turn,
    options: &MixOptions,
    ways: &[Way],
    exact: f64,
    one_way: f64,
) -> Result<Vec<Way>, JobError> {
    let off = |found: &dyn Fn(&Way) -> bool| {
        ways.iter().filter(|way| found(way)).map(Way::weighed_up).fold(f64::INFINITY, f64::min)
    };
    let least = off(&|_| true) + AS_GOOD;
    let mut more = Vec::new();
    if off(&|way| way.drain <= exact) <= least {
        return Ok(more);
    }
    let options = MixOptions { without_reasons: true, ..*options };
    let as_good = ways.iter().filter(|way| way.weighed_up() <= least).map(|way| way.drain).fold(f64::INFINITY, f64::min);
    for further in 1..=FURTHER {
        let drain = exact + f64::from(further) * one_way;
        if drain > as_good - one_way {
            break;
        }
        let way = measured_out(turn, &options, Drain { drain, wastes_least: false, within: Vec::new() }, false)?;
        let found = way.as_ref().is_some_and(|way| way.weighed_up() <= least);
        more.extend(way);
        if found {
            break;
        }
    }
    Ok(more)
}

/// Names the ways by what they are as measured out, least drained first: the best fit has the least misfit, a wish for a pH that is
/// not met counted in, of those that nothing stops, or of all where something stops each; of ways as good it drains least. What the
/// exact program found best, or to waste least, and is not, is a way of its own only as one of the shares that are always shown; none
/// stands next to one that has a name.
pub(super) fn judged(mut ways: Vec<Way>, one_way: f64) -> Vec<Way> {
    ways.sort_by(|a, b| a.drain.total_cmp(&b.drain));
    loop {
        let clear = ways.iter().any(|way| way.misfit().is_finite() && !way.stops());
        let may_be_best = |way: &&Way| !(clear && way.stops());
        let least = ways.iter().filter(may_be_best).map(Way::weighed_up).fold(f64::INFINITY, f64::min);
        let is_best = |way: &&Way| way.weighed_up() <= least + AS_GOOD && least.is_finite();
        let best = ways.iter().filter(may_be_best).find(is_best);
        let wastes = best.and_then(|best| wastes_least(&ways, best, clear, one_way)).map(|way| way.drain);
        let best = best.map(|way| way.drain);
        let count = ways.len();
        ways.retain_mut(|way| {
            let is_best = best.is_some_and(|best| way.drain.to_bits() == best.to_bits());
            let wastes_least = wastes.is_some_and(|wastes| way.drain.to_bits() == wastes.to_bits());
            way.kind = match (is_best, wastes_least) {
                (true, _) => Kind::BestFit,
                (_, true) => Kind::LeastWaste,
                _ => Kind::Fixed,
            };
            way.kind != Kind::Fixed || way.always
        });
        let has_a_name = |drain: f64| best.is_some_and(|best| best.to_bits() == drain.to_bits()) || wastes == Some(drain);
        let next_to = |drain: f64, name: Option<f64>| name.is_some_and(|name| (name - drain).abs() < one_way);
        ways.retain(|way| has_a_name(way.drain) || !next_to(way.drain, best) && !next_to(way.drain, wastes));
        // fewer ways, and the least of them may be another
        if ways.len() == count {
            return ways;
        }
    }
}

/// The way that wastes least of those shown: it drains less than the best, keeps what that keeps, and no lesser drain comes as near.
fn wastes_least<'w>(ways: &'w [Way], best: &Way, clear: bool, one_way: f64) -> Option<&'w Way> {
    let mut nearest = f64::INFINITY;
    for way in ways.iter().filter(|way| way.drain <= best.drain - one_way) {
        let keeps = !(clear && way.stops()) && (best.misses_ph() || !way.misses_ph()) && way.keeps_what(best);
        if keeps && (way.wastes_least || way.always) && way.weighed_up() < nearest {
            return Some(way);
        }
        nearest = nearest.min(way.weighed_up());
    }
    None
}
