//! How an acid goes into a tank: diluted first, and into plain water where that is hard.

use super::made::Made;
use super::step::{Act, Step};
use crate::jobs::engine::bottles::is_strong;
use crate::matter::{Kind, Salt};
use crate::quantity::{Volume, liter, liter_of, trimmed, volume_text};
use crate::safety::worn_for_acid;
use crate::tank::chemistry::Mixture;
use crate::tank::{Content, Tank};

/// An acid is diluted to below 5 % by mass before it goes near the tank (ph-correction page of Flowers Australia); with
/// something in hand, since jugs are filled by eye.
const DILUTED: f64 = 0.045;
const DILUTED_ALREADY: f64 = 0.05;
/// Water of more alkalinity than this, meq/L, is soured before phosphate and calcium go in: brushite is over saturation
/// otherwise, until the acid is there.
const HARD_MEQ_PER_L: f64 = 1.5;
/// This share of what the water takes goes in first.
const FIRST: f64 = 0.8;
/// Plain water is never brought under this pH.
const LEAST_PH: f64 = 5.0;
/// A tank of hard water this large gives off carbon dioxide that a room notices, L: own choice.
const LARGE_L: f64 = 200.0;

/// An acid that goes in, from the jug in which it is thinned, or thin as it is.
pub(super) struct Jug {
    at: usize,
    /// Water that goes into it; `None` where the acid is thin already, and goes in from its own bottle.
    water_ml: Option<f64>,
    acid_ml: f64,
    /// True where what is thinned burns, or of its hazards nothing is known.
    burns: bool,
}

impl Jug {
    /// The acids that are poured or weighed in.
    pub(super) fn all(made: &Made, stirred_in: &[usize]) -> Vec<Self> {
        let acids = stirred_in.iter().filter(|&&at| made.parts.kind(at) == Kind::Acid);
        acids.map(|&at| Self::of(made, at)).collect()
    }

    fn of(made: &Made, at: usize) -> Self {
        let (parts, amount) = (made.parts, made.measured[at].amount);
        let catalogue = &parts.bench.catalogue;
        let pure = |(salt, grams): &(_, f64)| {
            let salt = catalogue.salt(*salt);
            if salt.kind == Kind::Acid { grams * strength(salt) } else { 0.0 }
        };
        // a dilute bottle weighs about as much as water
        let of_it: f64 = parts.contents(at).salts.iter().map(pure).sum();
        let acid_ml = made.measured[at].millilitres.unwrap_or(0.0);
        // a dilute bottle burns where its own strength does
        let in_bottle = |of: &(_, f64)| {
            let salt = catalogue.salt(of.0);
            salt.kind == Kind::Acid && catalogue.burns_at(salt, 100.0 * pure(of))
        };
        let burns = is_strong(parts, at) || parts.contents(at).salts.iter().any(in_bottle);
        Self { at, water_ml: water_to_thin(amount, of_it), acid_ml, burns }
    }

    /// True for an acid that is thinned in a jug.
    pub(super) fn thins(&self) -> bool {
        self.water_ml.is_some()
    }

    /// What is kept back for it of the water that the tank is filled with.
    pub(super) fn water(&self) -> Volume {
        liter(self.water_ml.unwrap_or(0.0) * 1e-3)
    }

    /// True when it holds the acid of a part.
    pub(super) fn holds(&self, at: usize) -> bool {
        self.thins() && self.at == at
    }

    /// How it is filled; `None` for an acid that is thin already.
    ///
    /// * `others`: true for the first of several acids, with which it is said once that they stay apart
    pub(super) fn fill(&self, made: &Made, others: bool) -> Option<Step> {
        let measured = &made.measured[self.at];
        let dose = match measured.millilitres {
            Some(ml) => (format!("{} mL", trimmed(ml, 2)), true),
            None => (format!("{} g", trimmed(measured.amount, 3)), false),
        };
        let (id, name) = (made.parts.id(self.at), made.parts.name(self.at));
        let apart = if others { " Each acid has a jug of its own: two acids never meet undiluted." } else { "" };
        let step = dilute((id, name), (&dose.0, dose.1), self.water_ml?, self.burns);
        Some(Step { text: format!("{}{apart}", step.text), ..step })
    }

    /// What of the jugs goes into the plain water, where that is hard: of each the same share, together four fifths of the
    /// acid that the water takes.
    ///
    /// * `filled`: water that is there before anything else goes in
    pub(super) fn first(jugs: &[Self], made: &Made, filled: Volume) -> Vec<Step> {
        let bench = made.tank.bench;
        let Ok(water) = Content::of_water(bench) else { return Vec::new() };
        if water.alkalinity_meq_per_l(bench).is_none_or(|alkalinity| alkalinity <= HARD_MEQ_PER_L) {
            return Vec::new();
        }
        let plain = Tank::full_of(bench, water);
        let mixture = Mixture::new(&plain, made.parts);
        let litres = liter_of(filled);
        let stays_above = |share: f64| {
            let mut per_l = vec![0.0; made.parts.list.len()];
            for jug in jugs {
                per_l[jug.at] = share * made.measured[jug.at].amount / litres;
            }
            mixture.solution(&per_l).is_ok_and(|solution| solution.fresh.ph >= LEAST_PH)
        };
        let share = FIRST * largest_share(stays_above);
        jugs.iter().filter_map(|jug| jug.first_of_it(made, share, litres, jugs.len() > 1)).collect()
    }

    fn first_of_it(&self, made: &Made, share: f64, litres: f64, several: bool) -> Option<Step> {
        let of_jug_ml = self.water_ml.unwrap_or(0.0) + self.acid_ml;
        let first_ml = (share * of_jug_ml / 10.0).floor() * 10.0;
        let air = if litres >= LARGE_L { " Carbon dioxide comes off: air the room." } else { "" };
        let volume = liter(first_ml * 1e-3);
        let (whole, name) = (volume_text(liter(of_jug_ml * 1e-3)), made.parts.name(self.at));
        let of = match (self.thins(), several) {
            (true, false) => format!("the jug's {whole}"),
            (true, true) => format!("the jug's {whole} of {name}"),
            (false, _) => format!("the {whole} of {name}"),
        };
        (first_ml > 0.0).then(|| Step {
            act: Act::Sour,
            parts: vec![made.parts.id(self.at).to_owned()],
            litres: Some(first_ml * 1e-3),
            over: Vec::new(),
            text: format!(
                "The water is alkaline: before phosphate and calcium, stir {} of {of} into it, slowly.{air}",
                volume_text(volume),
            ),
        })
    }
}

/// An acid is thinned in a jug.
///
/// * `acid`: its id and its name
/// * `dose`: how much of it, in words, and true for a liquid
/// * `burns`: true for one that burns, or of whose hazards nothing is known
pub(in crate::jobs) fn dilute(acid: (&str, &str), (dose, is_liquid): (&str, bool), water_ml: f64, burns: bool) -> Step {
    let (id, name) = acid;
    let water = liter(water_ml * 1e-3);
    // what the hands wear is said where they act: SAFETY stands further down
    let worn = capitalized(worn_for_acid(burns));
    Step {
        act: Act::Dilute,
        parts: vec![id.to_owned()],
        litres: Some(liter_of(water)),
        over: Vec::new(),
        text: format!(
            "{worn}: dilute the acid in a marked jug that stands it: {} of water, then slowly {dose} of {name}{}.",
            volume_text(water),
            if is_liquid { ", measured in glass or polypropylene" } else { "" },
        ),
    }
}

/// Words as a sentence begins.
fn capitalized(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Share by mass of acid in one as it is sold: all of a solid, and of one of which no more is known than that it sours.
pub(super) fn strength(salt: &Salt) -> f64 {
    salt.mass_percent.map_or(1.0, |percent| percent / 100.0)
}

/// Water to thin an acid with before it goes near a tank, as a marked jug shows it, mL; `None` where it is thin already.
///
/// * `grams`, `strength`: of the acid as it is sold, and its share by mass
pub(super) fn water_to_thin(grams: f64, strength: f64) -> Option<f64> {
    (strength > DILUTED_ALREADY).then(|| rounded_up(grams * (strength / DILUTED - 1.0)))
}

/// The largest share of a dose for which `holds`, which more of it only breaks.
fn largest_share(holds: impl Fn(f64) -> bool) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    if holds(high) {
        return high;
    }
    for _ in 0..12 {
        let middle = f64::midpoint(low, high);
        if holds(middle) { low = middle } else { high = middle }
    }
    low
}

/// A volume that a marked jug shows, mL.
fn rounded_up(ml: f64) -> f64 {
    let step = match ml {
        ml if ml < 200.0 => 10.0,
        ml if ml < 1000.0 => 50.0,
        _ => 500.0,
    };
    (ml / step).ceil() * step
}
