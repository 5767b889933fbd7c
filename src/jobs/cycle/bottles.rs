//! Dilute bottles over a whole plan: which are made, on which days, and what is taken of those that are there.

use super::record::{BottlePlan, CycleMix, TankPlan};
use crate::bench::Bench;
use crate::catalogue::SaltId;
use crate::jobs::HelperRecord;
use crate::quantity::{Date, milliliter};
use crate::tank::parts::Parts;

/// Something taken out of a bottle: the day, and mL.
type Draw = (Date, f64);

/// A bottle and what is taken of it.
struct Drawn {
    plan: BottlePlan,
    draws: Vec<Draw>,
}

/// Every bottle that the plan draws from, those first from which others are made.
///
/// A new one is made on the day on which it is first drawn from, and again when it no longer holds a dose or has kept for
/// as long as it may; what is left in it then goes to waste.
pub(super) fn bottles(bench: &Bench, mixes: &[CycleMix], tanks: &[TankPlan]) -> Vec<BottlePlan> {
    let mut all: Vec<Drawn> = Vec::new();
    for (at, mix) in mixes.iter().enumerate() {
        for helper in &mix.helpers {
            let bottle = position(bench, mixes, &mut all, at, helper);
            if !all[bottle].plan.mixes.contains(&at) {
                all[bottle].plan.mixes.push(at);
            }
            let fills = tanks.iter().flat_map(|tank| &tank.fills).filter(|fill| fill.mix == at);
            let doses = helper.dose_ml.into_iter().flat_map(|ml| fills.clone().map(move |fill| (fill.date, ml)));
            all[bottle].draws.extend(doses);
        }
    }
    // what is made of a bottle stands behind it, so its days are known before those of the bottle
    for at in (0..all.len()).rev() {
        let Drawn { plan, draws } = &mut all[at];
        draws.sort_by_key(|(date, _)| *date);
        plan.needed_ml = draws.iter().map(|(_, ml)| ml).sum();
        if !plan.new {
            continue;
        }
        plan.made_on = made_on(plan, draws);
        let plan = plan.clone();
        for of in &plan.made_of {
            let (Some(id), Some(ml)) = (&of.helper, of.millilitres) else { continue };
            let parent = all[..at].iter_mut().rev().find(|other| {
                let together = other.plan.mixes.iter().any(|mix| plan.mixes.contains(mix));
                other.plan.id == *id && (!other.plan.new || together)
            });
            if let Some(parent) = parent {
                parent.draws.extend(plan.made_on.iter().map(|date| (*date, ml)));
            }
        }
    }
    all.into_iter().map(|drawn| drawn.plan).collect()
}

/// Salts in the bottles of the plan that are there already.
pub(super) fn salts_there(bench: &Bench, bottles: &[BottlePlan]) -> Vec<SaltId> {
    let parts = Parts::new(bench, Vec::new());
    let there = bottles.iter().filter(|bottle| !bottle.new);
    let helpers = there.filter_map(|bottle| bench.helpers.iter().position(|helper| helper.id == bottle.id));
    helpers.flat_map(|helper| parts.of_helper(helper).salts).map(|(salt, _)| salt).collect()
}

/// Where a bottle of a mix stands among all; it joins them, behind what it is made of, where no other is the same.
fn position(bench: &Bench, mixes: &[CycleMix], all: &mut Vec<Drawn>, mix: usize, helper: &HelperRecord) -> usize {
    let same = |drawn: &Drawn| {
        let plan = &drawn.plan;
        plan.id == helper.id && plan.new == helper.new && (!plan.new || made_alike(mixes, (plan.mixes[0], mix), &helper.id))
    };
    if let Some(at) = all.iter().position(same) {
        return at;
    }
    // a bottle that is there and only thinned has no record of its own in the mix
    for id in helper.made_of.iter().filter(|_| helper.new).filter_map(|of| of.helper.as_deref()) {
        let there = bench.helpers.iter().any(|other| other.id == id);
        if there && !all.iter().any(|drawn| !drawn.plan.new && drawn.plan.id == id) {
            all.push(Drawn { plan: there_already(bench, id), draws: Vec::new() });
        }
    }
    let plan = if helper.new { to_make(helper) } else { there_already(bench, &helper.id) };
    all.push(Drawn { plan, draws: Vec::new() });
    all.len() - 1
}

/// True when the new bottles of one name in two mixes hold the same, down to the bottles that they are made from.
fn made_alike(mixes: &[CycleMix], (first, second): (usize, usize), id: &str) -> bool {
    let called = |mix: usize| mixes[mix].helpers.iter().find(|helper| helper.new && helper.id == id);
    match (called(first), called(second)) {
        (Some(one), Some(other)) => {
            let parents = one.made_of.iter().filter_map(|of| of.helper.as_deref());
            one.volume_ml.total_cmp(&other.volume_ml).is_eq()
                && one.pure_water == other.pure_water
                && one.made_of == other.made_of
                && parents.into_iter().all(|parent| made_alike(mixes, (first, second), parent))
        }
        // one that is there already is the same for both
        (None, None) => true,
        _ => false,
    }
}

fn to_make(helper: &HelperRecord) -> BottlePlan {
    BottlePlan {
        id: helper.id.clone(),
        new: true,
        volume_ml: helper.volume_ml,
        made_of: helper.made_of.clone(),
        pure_water: helper.pure_water,
        keep_days: Some(helper.keep_days),
        mixes: Vec::new(),
        needed_ml: 0.0,
        left_ml: None,
        made_on: Vec::new(),
    }
}

fn there_already(bench: &Bench, id: &str) -> BottlePlan {
    let helper = bench.helpers.iter().find(|helper| helper.id == id);
    let volume_ml = helper.map_or(0.0, |helper| milliliter(helper.volume));
    BottlePlan {
        id: id.to_owned(),
        new: false,
        volume_ml,
        made_of: Vec::new(),
        pure_water: helper.is_some_and(|helper| helper.made_with_pure_water),
        keep_days: None,
        mixes: Vec::new(),
        needed_ml: 0.0,
        left_ml: helper.map(|helper| helper.left.map_or(volume_ml, milliliter)),
        made_on: Vec::new(),
    }
}

/// The days on which a new bottle is made, for draws in the order of their days.
fn made_on(plan: &BottlePlan, draws: &[Draw]) -> Vec<Date> {
    let keeps = plan.keep_days.and_then(|days| i32::try_from(days).ok()).unwrap_or(i32::MAX);
    let mut made: Vec<Date> = Vec::new();
    let mut left = 0.0;
    for &(date, ml) in draws {
        let stale = made.last().is_none_or(|made| date.days_since(*made) > keeps);
        // the last bit of a sum does not make a bottle
        if stale || left < ml * (1.0 - 1e-9) {
            made.push(date);
            left = plan.volume_ml;
        }
        left -= ml;
    }
    made
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bottle of 100 mL that keeps 60 days.
    fn days(draws: &[(i32, f64)]) -> Vec<i32> {
        let start = Date::parse("2027-01-04").unwrap();
        let plan = BottlePlan {
            id: "b".to_owned(),
            new: true,
            volume_ml: 100.0,
            made_of: Vec::new(),
            pure_water: false,
            keep_days: Some(60),
            mixes: vec![0],
            needed_ml: 0.0,
            left_ml: None,
            made_on: Vec::new(),
        };
        let draws: Vec<Draw> = draws.iter().map(|(day, ml)| (start.plus(*day), *ml)).collect();
        made_on(&plan, &draws).iter().map(|date| date.days_since(start)).collect()
    }

    #[test]
    fn a_bottle_is_made_again_when_it_is_empty_or_old() {
        assert!(days(&[]).is_empty());
        assert_eq!(days(&[(0, 50.0), (14, 50.0)]), [0], "to the last drop");
        assert_eq!(days(&[(0, 50.0), (14, 50.0), (28, 0.1)]), [0, 28]);
        assert_eq!(days(&[(0, 60.0), (14, 60.0)]), [0, 14], "a rest that is no dose goes to waste");
        assert_eq!(days(&[(0, 1.0), (60, 1.0)]), [0], "as long as it keeps");
        assert_eq!(days(&[(0, 1.0), (61, 1.0), (121, 1.0), (122, 1.0)]), [0, 61, 122], "a day longer");
        assert_eq!(days(&[(0, 33.3), (1, 33.3), (2, 33.4), (3, 33.3)]), [0, 3]);
    }
}
