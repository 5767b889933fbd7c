//! The acid or the base that a pH near an edge takes.

use super::made::Made;
use super::reckoned::Reckoned;
use super::souring::{strength, water_to_thin};
use crate::bench::{Basis, Bench, Formula, Stock, Wish};
use crate::catalogue::SaltId;
use crate::jobs::engine::question::holds_urea;
use crate::matter::{Kind, NUTRIENTS, Nutrient, Nutrients, Salt};
use crate::safety::{
    Asked, Correction, FromJug, MILD_BASE, Remedy, STRONG_EC_MS_PER_CM, Substance, Untold, never_in_one_mix, over_usual_ppm,
    ph_remedy,
};
use crate::solution::Air;
use crate::tank::Tank;
use crate::tank::chemistry::{Mixture, ms_per_cm};
use crate::tank::correction::grams_to_reach;
use crate::tank::instrument::{grams_of, measured, smallest};
use crate::tank::parts::{Part, Parts};

/// pH that a base aims at, and an acid where `[acid]` names none: own choice, each no further than the middle of the range.
const AIM_PH: (f64, f64) = (6.0, 6.5);
/// A nutrient that a correction brings is told from so much of it, ppm: own choice.
const WORTH_A_WORD_PPM: f64 = 1.0;
/// No correction brings more than this share of a target: own choice. What asks for more is another water, or a pH misread.
const OF_TARGET: f64 = 0.5;
/// One acid is passed over for another where it brings a target over itself by more than this share: own choice.
const OVER_TARGET: f64 = 0.2;
/// No acid for an aired tank brings it under this right after it is in, before carbon dioxide goes out: own choice, over what roots
/// bear.
const GENTLE_PH: f64 = 5.0;
/// A part of a jug is poured to this step, mL: own choice, what a marked jug shows.
const POURED_ML: f64 = 10.0;
/// The least that is poured of one, and the most that one holds, mL: own choice.
const LEAST_POURED_ML: f64 = 100.0;
const MOST_OF_A_JUG_ML: f64 = 2000.0;
/// Water in it is told to this, mL: own choice.
const JUG_MARK_ML: f64 = 50.0;
/// An acid ready diluted, for a bench that names none.
const MILD_ACID: &str = "phosphoric-acid-10";

/// What an acid would meet in a tank and beside it.
struct Met {
    substances: Vec<Substance>,
    /// True where urea is weighed in, or is in the tank already: what holds both may not dry up.
    urea: bool,
    /// Names of what froths with an acid.
    froths: Vec<String>,
}

impl Met {
    fn of(tank: &Tank, parts: &Parts, per_l: &[f64]) -> Self {
        let catalogue = &parts.bench.catalogue;
        let there = per_l.iter().enumerate().filter(|(_, amount)| **amount > 0.0);
        let salts = there.flat_map(|(at, _)| parts.contents(at).salts);
        let of = |(salt, _)| Substance::of(catalogue.salt(salt), catalogue.ions(), catalogue.salts());
        let substances: Vec<Substance> = salts.map(of).collect();
        let froths = substances.iter().filter(|one| one.carbonate && one.kind != Kind::Acid).map(|one| one.name.clone());
        let urea = holds_urea(&tank.before.ppm) || substances.iter().any(|one| one.urea);
        Self { urea, froths: froths.collect(), substances }
    }

    /// True where an acid may be measured out for this tank: nitric acid never where there is urea, as in a mix.
    fn may_meet(&self, bench: &Bench, acid: &Salt) -> bool {
        let acid = Substance::of(acid, bench.catalogue.ions(), bench.catalogue.salts());
        let of_the_tank = self.urea && acid.nitric_acid;
        !(of_the_tank || self.substances.iter().any(|one| never_in_one_mix(one, &acid)))
    }
}

/// What the pH asks for, at the tank's own buffer; `None` where it asks for nothing or nothing here would do.
pub(super) fn correction(made: &Made, reckoned: &Reckoned) -> Option<Result<Correction, Untold>> {
    let remedy = reckoned.acidity.as_ref().and_then(ph_remedy)?;
    corrected(made.tank, made.parts, &reckoned.weighed, remedy, made.formula, false)
}

/// What a remedy takes in a tank, or why no dose of it is told; `None` where nothing here would do.
///
/// * `per_l`: what is in it beside the content, per litre in the unit of each part
/// * `formula`: what the tank should hold, where one is asked: no dose moves it by more than it may
/// * `aired`: the tank has aired, so that what it does right after is known
pub(in crate::jobs) fn corrected(
    tank: &Tank,
    parts: &Parts,
    per_l: &[f64],
    remedy: Remedy,
    formula: Option<&Formula>,
    aired: bool,
) -> Option<Result<Correction, Untold>> {
    let there = Met::of(tank, parts, per_l);
    let of = Asks { tank, parts, per_l, remedy, formula, there: &there, aired };
    let may = match chosen(&of) {
        Ok(may) => may,
        Err(why) => return Some(Err(why)),
    };
    // the first that does it, where there is one that carries no target far off; where none does it, why the first does not
    let (mut found, mut why_not) = (None, None);
    for stock in may {
        match of.dosed(stock) {
            Some(Ok(one)) if !of.carries_off(stock, &one) => return Some(Ok(one)),
            Some(Ok(one)) => found = found.or(Some(one)),
            Some(Err(why)) => why_not = why_not.or(Some(why)),
            None => {}
        }
    }
    found.map(Ok).or(why_not.map(Err))
}

/// A tank that asks for a remedy, as of [`corrected`].
struct Asks<'a> {
    tank: &'a Tank<'a>,
    parts: &'a Parts<'a>,
    per_l: &'a [f64],
    remedy: Remedy,
    formula: Option<&'a Formula>,
    there: &'a Met,
    aired: bool,
}

impl Asks<'_> {
    /// True where a dose brings a target over itself by more than another acid is taken for.
    fn carries_off(&self, stock: Stock, of: &Correction) -> bool {
        let per_l_g = of.grams / self.tank.litres();
        let brought = self.tank.bench.composition(&stock).nutrients.scaled(per_l_g * 1e3);
        let there = Mixture::new(self.tank, self.parts).ppm(self.per_l);
        let is_over = |wish: &Wish| {
            let [target, ..] = wish.in_ppm();
            let brings = brought[wish.nutrient];
            target.is_some_and(|target| brings > 0.0 && there[wish.nutrient] + brings > (1.0 + OVER_TARGET) * target)
        };
        self.formula.is_some_and(|formula| formula.wishes.iter().any(is_over))
    }

    /// What the remedy takes of one acid or base, or why no dose of it is told; `None` where it does not bring the pH there.
    fn dosed(&self, stock: Stock) -> Option<Result<Correction, Untold>> {
        let Self { tank, parts, per_l, remedy, formula, there, aired } = *self;
        let bench = tank.bench;
        let wish = bench.acid.as_ref().filter(|_| remedy != Remedy::Base);
        let passed_over =
            remedy != Remedy::Base && there.urea && wish.is_some_and(|acid| !acid.salts.contains(&bench.salt(&stock).id));
        let (low, high) = AIM_PH;
        let ph = wish.map_or(if remedy == Remedy::Base { low } else { high }, |acid| acid.target_ph);
        let air = if remedy == Remedy::AcidNow { Air::Closed } else { Air::Open };
        let reach = |ph: f64, air: Air| grams_to_reach(tank, parts, per_l, stock, ph, air).ok().flatten();
        let all = reach(ph, air)?;
        // all at once it would come too low before the carbon dioxide is out: the rest another day
        let gentle = reach(GENTLE_PH, Air::Closed).filter(|gentle| aired && remedy == Remedy::AcidLater && *gentle < all);
        let dose = gentle.unwrap_or(all);
        let salt = bench.salt(&stock);
        let burns = Substance::of(salt, bench.catalogue.ions(), bench.catalogue.salts()).burning_acid;
        let shown = measured(bench, salt.density_kg_per_l, dose * tank.litres());
        let measurable = shown.is_trusted;
        // in a tank that stands, a part of a jug does what no instrument does
        let jug = (aired && !measurable && burns).then(|| from_jug(bench, salt, dose * tank.litres())).flatten();
        // as it is measured, so that what is booked is what is told
        let poured =
            jug.map(|jug| jug.measured_g * jug.pour_ml / jug.whole_ml).or((aired && measurable).then_some(shown.amount));
        let dose = poured.map_or(dose, |grams| grams / tank.litres());
        let comes_to = |basis: Basis| {
            let mut wider = parts.clone();
            wider.list.push(Part::Salt(stock));
            Mixture::new(tank, &wider).ph(&[per_l, &[dose]].concat(), basis).ok()
        };
        let ph = if gentle.is_some() || poured.is_some() { comes_to(Basis::Aired)? } else { ph };
        let brought = bench.composition(&stock).nutrients.scaled(dose * 1e3);
        if let Some(why) = spoils(tank, parts, per_l, (stock, dose), formula) {
            return Some(Err(why));
        }
        let grams = dose * tank.litres();
        let water = match jug {
            Some(jug) => Some(jug.whole_ml - jug.measured_ml.unwrap_or(0.0)),
            None => (remedy != Remedy::Base).then(|| strength(salt)).and_then(|strength| water_to_thin(grams, strength)),
        };
        let fed = [Nutrient::N, Nutrient::P, Nutrient::S].into_iter().map(|nutrient| (nutrient, brought[nutrient]));
        let millilitres =
            shown.millilitres.filter(|_| aired && measurable).or(salt.density_kg_per_l.map(|density| grams / density));
        if !measurable && burns && jug.is_none() {
            return Some(Err(Untold::TooLittle { name: salt.name.clone() }));
        }
        Some(Ok(Correction {
            salt: salt.id.clone(),
            name: salt.name.clone(),
            grams,
            millilitres,
            measurable,
            brings: fed.filter(|(_, ppm)| *ppm >= WORTH_A_WORD_PPM).max_by(|a, b| a.1.total_cmp(&b.1)),
            water_ml: water,
            jug,
            ph,
            fresh_ph: if aired { Some(comes_to(Basis::Fresh)?) } else { None },
            passed_over,
            burns,
            short_g: left(tank, parts, per_l, &stock).filter(|left| *left < jug.map_or(grams, |jug| jug.measured_g)),
            never_onto: if remedy == Remedy::Base { Vec::new() } else { there.froths.clone() },
        }))
    }
}

/// The least of an acid that can be measured, thinned, and the part of it that goes in; `None` where that is next to nothing of it, or
/// the acid is thin already.
fn from_jug(bench: &Bench, salt: &Salt, grams: f64) -> Option<FromJug> {
    let measured_g = smallest(bench, salt.density_kg_per_l);
    let measured_ml = salt.density_kg_per_l.map(|density| measured_g / density);
    // so much of it that a mark of a jug is a tenth of what is poured
    let share = grams / measured_g;
    let thinned_ml =
        water_to_thin(measured_g, strength(salt))?.max((LEAST_POURED_ML / share / JUG_MARK_ML).ceil() * JUG_MARK_ML);
    let whole_ml = thinned_ml + measured_ml.unwrap_or(0.0);
    // by the meter, from below
    let pour_ml = (share * whole_ml / POURED_ML).floor() * POURED_ML;
    (whole_ml <= MOST_OF_A_JUG_ML).then_some(FromJug { measured_g, measured_ml, whole_ml, pour_ml })
}

/// What a remedy may be done with, the best first: the grower's own acids, else one of the shelf, else one that does in any tank; none
/// where nothing here would do.
fn chosen(of: &Asks) -> Result<Vec<Stock>, Untold> {
    let Asks { parts, per_l, there, .. } = *of;
    let bench = parts.bench;
    let by_id = |id: &str| bench.catalogue.find(id).map(|salt| bench.stock(salt));
    if of.remedy == Remedy::Base {
        return Ok(by_id(MILD_BASE).into_iter().collect());
    }
    let named = |id: &String| bench.catalogue.find(id).map(|salt| bench.catalogue.salt(salt));
    // where the grower's own acid cannot be reckoned no other is put in its place
    if let Some(acid) = &bench.acid
        && let Some(first) = acid.salts.iter().find_map(named)
        && !acid.salts.iter().any(|id| named(id).is_none_or(Salt::alkalinity_known))
    {
        return Err(Untold::NotStated { name: first.name.clone() });
    }
    // no acid that nobody has is put in the place of a bottle
    if let Some(acid) = &bench.acid
        && acid.salts.iter().all(|id| bench.helpers.iter().any(|bottle| bottle.id == *id))
        && let Some(first) = acid.salts.first()
    {
        return Err(Untold::OfBottle { name: first.clone() });
    }
    let on_shelf = |stock: &&Stock| {
        let salt = bench.salt(stock);
        salt.kind == Kind::Acid && !salt.law.restricted && salt.alkalinity_known() && there.may_meet(bench, salt)
    };
    let own = bench.acid.as_ref().map_or_else(Vec::new, |acid| acids_of(parts, per_l, &acid.salts, there));
    if own.is_empty() {
        return Ok(bench.shelf.iter().find(on_shelf).copied().or_else(|| by_id(MILD_ACID)).into_iter().collect());
    }
    Ok(own)
}

/// What stays on hand of a salt once the mix is made, g; `None` where it is not stated how much there is.
fn left(tank: &Tank, parts: &Parts, per_l: &[f64], stock: &Stock) -> Option<f64> {
    let is_of_it = |part: &Part| matches!(part, Part::Salt(other) if other.salt == stock.salt);
    let used: f64 = parts.list.iter().zip(per_l).filter(|(part, _)| is_of_it(part)).map(|(_, amount)| amount).sum();
    stock.on_hand.map(|there| (grams_of(there) - used * tank.litres()).max(0.0))
}

/// What a dose does to a tank that the formula does not bear, or that a check of the tank would then speak of.
///
/// * `dose`: what of, and how much a litre
fn spoils(tank: &Tank, parts: &Parts, per_l: &[f64], dose: (Stock, f64), formula: Option<&Formula>) -> Option<Untold> {
    let (stock, grams_per_l) = dose;
    let (bench, name) = (parts.bench, &parts.bench.salt(&stock).name);
    let mut wider = parts.clone();
    wider.list.push(Part::Salt(stock));
    let mixture = Mixture::new(tank, &wider);
    let (before, after) = ([per_l, &[0.0]].concat(), [per_l, &[grams_per_l]].concat());
    let brought = bench.composition(&stock).nutrients.scaled(grams_per_l * 1e3);
    moves_too_far(formula, name, &mixture.ppm(&before), &brought)
        .or_else(|| over_ec(formula, name, mixture.ec(&before), mixture.ec(&after)))
}

/// What a dose brings beyond what a tank bears: more than a limit of the formula, a good part of a target, or more than is called
/// too much in any tank.
fn moves_too_far(formula: Option<&Formula>, name: &str, there: &Nutrients, brought: &Nutrients) -> Option<Untold> {
    NUTRIENTS.into_iter().find_map(|nutrient| {
        let wish = formula.and_then(|formula| formula.wish(nutrient));
        let [target, _, max] = wish.map(Wish::in_ppm).unwrap_or_default();
        let brings_ppm = brought[nutrient];
        let comes_to_ppm = there[nutrient] + brings_ppm;
        let is_over = |most: &f64| comes_to_ppm > *most && brings_ppm >= WORTH_A_WORD_PPM;
        let over = max.filter(is_over).map(Asked::AtMost);
        let of_target = target.filter(|target| brings_ppm > OF_TARGET * target).map(Asked::Target);
        let usual = over_usual_ppm(nutrient).filter(is_over).map(|most_ppm| Asked::Usual {
            most_ppm,
            comes_to_ppm,
            allowed_ppm: max,
        });
        let asked = over.or(of_target).or(usual)?;
        Some(Untold::BringsTooMuch { name: name.to_owned(), nutrient, brings_ppm, asked })
    })
}

/// What a dose brings EC to, where that is over the limit of a formula, or over what is too strong, only with it.
fn over_ec(formula: Option<&Formula>, name: &str, before: f64, after: f64) -> Option<Untold> {
    let of_formula = formula.and_then(|formula| formula.ec.max).map(ms_per_cm);
    let max = of_formula.map_or(STRONG_EC_MS_PER_CM, |max| max.min(STRONG_EC_MS_PER_CM));
    (after > max && before <= max).then(|| Untold::EcOver { name: name.to_owned(), ec_ms_per_cm: after, max_ms_per_cm: max })
}

/// The acids of a bench that may go into a tank: first what goes into it already, then those that no rules restrict, then the others,
/// each as they are listed.
fn acids_of(parts: &Parts, per_l: &[f64], ids: &[String], there: &Met) -> Vec<Stock> {
    let bench = parts.bench;
    let goes_in = |salt: SaltId| {
        let of_it = |at: usize| parts.contents(at).salts.iter().any(|(one, _)| *one == salt);
        per_l.iter().enumerate().any(|(at, amount)| *amount > 0.0 && of_it(at))
    };
    let would_do = |salt: &SaltId| {
        let salt = bench.catalogue.salt(*salt);
        salt.alkalinity_known() && there.may_meet(bench, salt)
    };
    let mut all: Vec<SaltId> = ids.iter().filter_map(|id| bench.catalogue.find(id)).filter(would_do).collect();
    all.sort_by_key(|salt| (!goes_in(*salt), bench.catalogue.salt(*salt).law.restricted));
    all.into_iter().map(|salt| bench.stock(salt)).collect()
}
