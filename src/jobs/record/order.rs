//! How a solution is made, step by step: facts first, and their words made here.

use super::Dose;
use super::made::Made;
use super::rank::rank_of;
use super::souring::Jug;
use super::step::{Act, Step};
use super::walk;
use crate::jobs::engine::blend::litres_words;
use crate::jobs::engine::question::is_nitric;
use crate::quantity::{Volume, bucket_text, fixed, liter, liter_of, trimmed, volume_text};
use crate::safety::{PH_FRESH_LEAST, ph_range_words};
use crate::solution::Speciation;
use crate::tank::parts::Part;
use crate::tank::{Spent, Tank};

/// The steps that thin the acid of a list and pour it in; none where the list has no acid.
pub(crate) fn souring_steps<'s>(order: &'s [Step], doses: &[Dose]) -> Vec<&'s Step> {
    let acids: Vec<&str> = doses.iter().filter(|dose| dose.acid && dose.is_measured()).map(Dose::id).collect();
    let is_of_acid = |step: &&Step| step.parts.iter().any(|part| acids.contains(&part.as_str()));
    order.iter().filter(is_of_acid).collect()
}

/// How the work begins: hands are in the tank from here on.
const UNPLUGGED: &str = "Pump and lights unplugged";
/// Where that goes which is treated before it goes anywhere: in the tank it would spoil what stays there.
const TREATED: &str = "into marked plastic vessels, half full, which go into open air and stay there until they have had what SAFETY tells of old solution.";
/// Where what is too strong goes.
const THINNED: &str =
    "into marked vessels, where it is thinned to EC 1 mS/cm or less (own choice) before it goes where SAFETY tells.";
/// Between two bottles.
const RINSE: &str = "Rinse what measures before the next bottle.";
/// A tank is filled to this share before the salts go in.
const FILL_FIRST: f64 = 0.85;
/// A pH no further over the least than this may read as less: own choice, what pH meters of growers are off by.
const READ_AS_LESS: f64 = 0.3;

/// How to make the solution of a tank.
///
/// * `stirred_in`: parts that go in, in the order in which they are measured out
/// * `liquids`: what bottles and other liquids take up
/// * `finished`: the solution of the full tank
pub(crate) fn order(made: &Made, stirred_in: &[usize], liquids: Volume, finished: &Speciation) -> Vec<Step> {
    let (tank, parts) = (made.tank, made.parts);
    let of_rank = |rank: u8, bottles: bool| -> Vec<usize> {
        let is_bottle = |at: usize| matches!(parts.list[at], Part::Helper(_));
        stirred_in.iter().copied().filter(|&at| rank_of(parts, at) == rank && is_bottle(at) == bottles).collect()
    };
    let with = |act: Act, of: &[usize], words: &dyn Fn(String) -> String| {
        let names: Vec<&str> = of.iter().map(|&at| parts.name(at)).collect();
        let ids = of.iter().map(|&at| parts.id(at).to_owned()).collect();
        (!of.is_empty()).then(|| Step { parts: ids, ..Step::plain(act, None, words(names.join(", "))) })
    };
    let jugs = Jug::all(made, stirred_in);
    let thinned = || jugs.iter().filter(|jug| jug.thins());
    let kept_back = jugs.iter().fold(liquids, |sum, jug| sum + jug.water());
    let nitric = |&at: &usize| {
        parts.contents(at).salts.iter().any(|(salt, _)| is_nitric(parts.bench, parts.bench.catalogue.salt(*salt)))
    };
    let (mut steps, filled) = begun(tank, kept_back, stirred_in.iter().any(nitric));
    let mut first = Vec::new();
    for rank in 0..4 {
        if rank == 1 {
            steps.extend(thinned().enumerate().filter_map(|(at, jug)| jug.fill(made, at == 0 && thinned().count() > 1)));
            first = Jug::first(&jugs, made, filled);
            steps.extend(first.clone());
        }
        steps.extend(with(Act::Dissolve, &of_rank(rank, false), &|names| match rank {
            0 => format!("Silicate first, well diluted, and stir: {names}."),
            1 => format!("Dissolve each before the next: {names}."),
            2 => format!("Calcium last of the large ones, dissolved apart and diluted: {names}."),
            _ => format!("Trace elements, each dissolved by itself in a clean jug kept for salts alone: {names}."),
        }));
        let bottles = of_rank(rank, true);
        let drawn = |at: &usize| format!("{} mL of {}", trimmed(made.measured[*at].amount, 2), parts.name(*at));
        let all = bottles.iter().map(drawn).collect::<Vec<_>>().join(", ");
        steps.extend(with(Act::Pour, &bottles, &|_| match bottles.len() {
            1 => format!("Pour in from the bottle: {all}. Stir."),
            _ => format!("Pour in from the bottles, one after the other, stirring in between: {all}. {RINSE}"),
        }));
    }
    let in_jug = |of: &[usize]| of.iter().any(|&at| jugs.iter().any(|jug| jug.holds(at)));
    let last = |names: String, of: &[usize]| {
        let jug = match (in_jug(of), first.is_empty(), thinned().count()) {
            (false, true, _) => "",
            (false, false, _) => ", what is left of it",
            (true, true, 1) => ", from the jug",
            (true, false, 1) => ", what is left in the jug",
            (true, true, _) => ", from their jugs, one after the other",
            (true, false, _) => ", what is left in their jugs, one after the other",
        };
        let comes_to = finished.ph;
        // what stays out of the range is no feed before it has climbed, or has been seen to
        let waits = if comes_to < PH_FRESH_LEAST + READ_AS_LESS {
            format!(
                " Under pH {PH_FRESH_LEAST} the pump stays off and no plant meets it: stir with a stick, read again the next day, and correct it bit by bit where it has not climbed. From there on:"
            )
        } else {
            " Then:".to_owned()
        };
        format!(
            "Last the acid, in small parts, stirring and reading the pH in between: {names}{jug}. Stop at about pH {}; what is then left over is not kept: bicarbonate until it froths no more, then away as old solution. Read EC and pH.{waits} dry hands, plug in, cover it.",
            fixed(comes_to, 1)
        )
    };
    let (weighed, bottled) = (of_rank(4, false), of_rank(4, true));
    let acids = [&weighed[..], &bottled].concat();
    let from_bottle = |at: &usize| format!("from the bottle {}", parts.name(*at));
    let names: Vec<String> =
        weighed.iter().map(|&at| parts.name(at).to_owned()).chain(bottled.iter().map(from_bottle)).collect();
    // what is left of one bottle in the syringe is not carried into the next
    let last_pour = steps.iter().rposition(|step| step.act == Act::Pour).unwrap_or(0);
    for step in steps[..last_pour].iter_mut().filter(|step| step.act == Act::Pour && step.parts.len() == 1) {
        step.text = format!("{} {RINSE}", step.text);
    }
    steps.push(ended(tank, !acids.is_empty()));
    // the full tank decides: what is topped up with moves the pH, and acid meant for all of it is too much for a part
    match with(Act::SetPh, &acids, &|_| last(names.join(", "), &acids)) {
        Some(acid) => steps.push(acid),
        None => {
            let range = ph_range_words();
            let text = format!("pH not {range}: correct it bit by bit, unless told not to. Dry hands, plug in, cover it.");
            steps.push(Step::plain(Act::SetPh, None, text));
        }
    }
    walk::tell(made, filled, finished, &mut steps);
    steps
}

/// The water that the salts go into, and how much of it there is then.
///
/// * `kept_back`: what goes in later, with bottles, other liquids and diluted acid
/// * `nitric`: nitric acid goes in
fn begun(tank: &Tank, kept_back: Volume, nitric: bool) -> (Vec<Step>, Volume) {
    let Some(turned) = tank.turned else {
        let room = if kept_back < tank.volume { tank.volume - kept_back } else { liter(0.0) };
        let first = if room < tank.volume * FILL_FIRST { room } else { tank.volume * FILL_FIRST };
        let text = match litres_words(tank.bench, liter_of(first)) {
            Some(waters) => format!("{UNPLUGGED}: fill in about {} of water: {waters}.", volume_text(first)),
            None => format!("{UNPLUGGED}: fill in about {} of water.", volume_text(first)),
        };
        return (vec![Step::plain(Act::Fill, Some(first), text)], first);
    };
    let mut steps = Vec::new();
    let (drain, refill) = (turned.drain_l, turned.filled_l);
    if drain > 1e-9 {
        let text = if turned.spent == Spent::Treated {
            let rinse = if turned.rinsed {
                " Rinse what stays behind with water until that reads like the water, and let that out into them too."
            } else {
                ""
            };
            format!(
                "{UNPLUGGED}, doors and windows open, goggles, gloves and apron on: drain {} {TREATED}{rinse}",
                bucket_text(drain)
            )
        } else if turned.spent == Spent::Thinned {
            format!("{UNPLUGGED}: drain {} {THINNED}", bucket_text(drain))
        } else {
            format!("{UNPLUGGED}: drain {}.", bucket_text(drain))
        };
        // of what stays in it nitric acid is kept out; of what is let out a film is left
        let urea = if turned.urea && nitric && tank.is_fresh {
            " It held urea, which must not meet nitric acid: rinse the tank with much water, and let that out too."
        } else if turned.unfit && tank.is_fresh && !turned.rinsed {
            " Rinse the tank, and what medium and pipes hold, with much water, and let that out into them too."
        } else {
            ""
        };
        let text = text + urea;
        steps.push(Step::plain(Act::Drain, Some(liter(drain)), text));
    }
    if refill > 1e-9 {
        let begin = if steps.is_empty() { format!("{UNPLUGGED}: fill") } else { "Fill".to_owned() };
        let text = match litres_words(tank.bench, turned.filled_l) {
            Some(waters) => format!("{begin} in most of {} of water, {waters}.", bucket_text(refill)),
            None => format!("{begin} in most of {} of water.", bucket_text(refill)),
        };
        steps.push(Step::plain(Act::Fill, Some(tank.room), text));
    }
    (steps, tank.room * FILL_FIRST)
}

/// The mark that it is topped up to.
///
/// * `acid`: acid goes in after it
fn ended(tank: &Tank, acid: bool) -> Step {
    let with = if tank.bench.blend.is_empty() { "" } else { " in the same shares" };
    let (full, held_back_l) = tank.turned.map_or((tank.volume, 0.0), |turned| (liter(turned.full_l), turned.held_back_l));
    let mut then = vec!["stir".to_owned()];
    if tank.turned.is_some_and(|turned| turned.rinsed) && !acid {
        then.push(format!("read the pH and correct it bit by bit where it is not {}", ph_range_words()));
    }
    if held_back_l > 0.0 {
        let behind = volume_text(liter(held_back_l));
        then.push(format!(
            "plug the pump in again with dry hands out of it until the {behind} that stayed behind have mixed in"
        ));
        then.push("unplug it".to_owned());
    }
    let room = if acid {
        " with room for the acid"
    } else {
        then.push("read EC and pH".to_owned());
        ""
    };
    let last = then.pop().unwrap_or_default();
    let then = then.into_iter().fold(String::new(), |all, one| format!("{all}, {one}"));
    Step::plain(Act::TopUp, Some(full), format!("Top up to {}{with}{room}{then}, and {last}.", volume_text(full)))
}
