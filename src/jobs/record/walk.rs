//! The order of mixing, walked through the chemistry step by step: what is over its saturation on the way is told in the step.

use super::made::Made;
use super::step::{Act, Over, Step};
use crate::quantity::{Volume, fixed, liter, milliliter};
use crate::solution::{self, Mineral, Speciation};
use crate::tank::chemistry::Mixture;
use crate::tank::{Content, Tank};

/// Tells in every step which solids of a tank, the slow ones aside, are over saturation when everything of it is in.
///
/// * `filled`: water of the bench that is there before the first step
/// * `finished`: the solution of the full tank
///
/// Nothing is told where the alkalinity is not known well enough for a pH, or where the chemistry finds no equilibrium.
pub(super) fn tell(made: &Made, filled: Volume, finished: &Speciation, steps: &mut [Step]) {
    let minerals = made.tank.bench.catalogue.minerals().iter().filter(|mineral| mineral.of_tanks && !mineral.slow);
    let minerals: Vec<&Mineral> = minerals.collect();
    let mut amounts = vec![0.0; made.parts.list.len()];
    let (mut liquids, mut from_jug) = (vec![0.0; amounts.len()], vec![0.0; amounts.len()]);
    for at in 0..steps.len() {
        let shares = shares(made, steps, at);
        if shares.is_empty() {
            continue;
        }
        for (part, share) in shares {
            amounts[part] = share * made.measured[part].amount;
            liquids[part] = share * made.measured[part].millilitres.unwrap_or(0.0);
            from_jug[part] = share * jug_water_ml(made, steps, part).unwrap_or(0.0);
        }
        let topped_up = steps[..at].iter().any(|step| step.act == Act::TopUp);
        let filled_ml = milliliter(filled) + liquids.iter().chain(&from_jug).sum::<f64>();
        let there = there(made, if topped_up { milliliter(made.tank.room) } else { filled_ml });
        let Some(there) = there else { return };
        let mixture = Mixture::new(&there, made.parts);
        let per_l: Vec<f64> = amounts.iter().map(|amount| amount / there.litres()).collect();
        if !mixture.alkalinity_known(&per_l) {
            return;
        }
        let Ok(solution) = mixture.solution(&per_l) else { return };
        let index = |mineral: &Mineral, of: &Speciation| solution::saturation(mineral, of).filter(|index| *index > 0.0);
        let over = minerals.iter().filter_map(|mineral| {
            let stays = index(mineral, finished).is_some();
            Some(Over { mineral: mineral.name.clone(), index: index(mineral, &solution.fresh)?, stays })
        });
        let step = &mut steps[at];
        step.over = over.collect();
    }
    for (at, words) in once(steps) {
        steps[at].text.push_str(&words);
    }
}

/// What is said of each solid, where it is first over saturation: one figure, the highest on the way.
fn once(steps: &[Step]) -> Vec<(usize, String)> {
    let mut told: Vec<(usize, String)> = Vec::new();
    let mut named: Vec<&str> = Vec::new();
    for (at, step) in steps.iter().enumerate() {
        for over in &step.over {
            if named.contains(&over.mineral.as_str()) {
                continue;
            }
            named.push(&over.mineral);
            let again = |step: &Step| step.over.iter().find(|other| other.mineral == over.mineral).map(|other| other.index);
            let highest = steps[at..].iter().filter_map(again).fold(over.index, f64::max);
            let to_the_end = steps.iter().rfind(|step| !step.parts.is_empty()).and_then(again).is_some();
            told.push((at, in_words(&Over { index: highest, ..over.clone() }, to_the_end)));
        }
    }
    told
}

/// The tank on the way, with so many millilitres of its water in it.
fn there<'a>(made: &Made<'a>, filled_ml: f64) -> Option<Tank<'a>> {
    let tank = made.tank;
    let (room, volume) = (milliliter(tank.room), milliliter(tank.volume));
    let now = volume - room + filled_ml;
    if now <= 0.0 {
        return None;
    }
    // what is held stands undiluted by the water that is still to come
    let water = Content::of_water(tank.bench).ok()?;
    let before = tank.before.thinned(tank.bench.catalogue.ions(), &water, volume / now);
    Some(Tank { before, volume: liter(now * 1e-3), ..tank.clone() })
}

/// Water in the jug that a part is diluted in, mL.
fn jug_water_ml(made: &Made, steps: &[Step], part: usize) -> Option<f64> {
    let holds = |step: &&Step| step.act == Act::Dilute && step.parts.iter().any(|id| made.parts.id(part) == id);
    Some(steps.iter().find(holds)?.litres? * 1e3)
}

/// Parts of a step, each with the share of its dose that is in after it.
fn shares(made: &Made, steps: &[Step], at: usize) -> Vec<(usize, f64)> {
    let step = &steps[at];
    let part = |id: &String| (0..made.parts.list.len()).find(|&part| made.parts.id(part) == id);
    let in_jug = |part: usize| {
        let acid = made.measured[part].millilitres.unwrap_or(0.0);
        Some((jug_water_ml(made, steps, part)? + acid) * 1e-3)
    };
    let share = |part: usize| match step.act {
        Act::Sour => step.litres.zip(in_jug(part)).map(|(of, jug)| (of / jug).min(1.0)),
        Act::Dissolve | Act::Pour | Act::SetPh => Some(1.0),
        _ => None,
    };
    step.parts.iter().filter_map(part).filter_map(|part| Some((part, share(part)?))).collect()
}

/// * `to_the_end`: true where it is so until the tank is topped up
fn in_words(over: &Over, to_the_end: bool) -> String {
    let Over { mineral, index, stays } = over;
    let until = match (stays, to_the_end) {
        (true, _) => "From here on",
        (false, true) => "From here until it is topped up",
        (false, false) => "Until the next steps are done",
    };
    let index = fixed(*index, 1);
    format!(
        " {until} {mineral} may fall out (saturation index on the way up to {index}, over 0): stir hard, and go on at once."
    )
}
