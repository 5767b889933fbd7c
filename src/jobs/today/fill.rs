//! What is poured into a tank: what fills it up and brings it back to its formula, or what it is renewed or turned over with.

use super::record::{FillUp, PhCorrection};
use crate::bench::{Bench, Formula};
use crate::jobs::check::remedy::{FilledUp, fill_and_add};
use crate::jobs::engine::blend::as_filled;
use crate::jobs::logbook::{lacks_l, missed};
use crate::jobs::mix::mix;
use crate::jobs::recipe::{filled_up_recipe, recipe, switch_recipe};
use crate::jobs::record::Step;
use crate::jobs::record::handling::{salts_of, weighed_out};
use crate::jobs::switch::switch;
use crate::jobs::{Content, Dose, JobError, MixOptions, MixRecord, Recipe, SwitchOptions, SwitchRecord};
use crate::logbook::{State, Tank as Booked, Track};
use crate::matter::{Kind, Nutrient, Nutrients, Salt};
use crate::quantity::{liter, liter_of};
use crate::safety::{Code, Finding, Severity, Substance, chelates_outside, is_burning_ph};
use crate::solution::{Acidity, Air, PhSpan};
use crate::tank::parts::{Part, Parts};
use crate::tank::{RecipeDose, RecipeJug, Tank, ec_in};

/// Metals that are sold as chelates.
const METALS: [Nutrient; 4] = [Nutrient::Fe, Nutrient::Mn, Nutrient::Zn, Nutrient::Cu];
/// What is poured into a tank: the water and the salts, or in words why none; its recipe, with what corrects the pH.
pub(super) struct Poured {
    pub(super) fill: Option<FillUp>,
    pub(super) why_not: Option<String>,
    pub(super) recipe: Option<Recipe>,
    /// True where nothing of the shelf brings the tank nearer to its formula.
    pub(super) adds_nothing: bool,
}

impl Poured {
    pub(super) fn nothing(why: impl Into<String>) -> Self {
        Self { fill: None, why_not: Some(why.into()), recipe: None, adds_nothing: false }
    }
}

/// The water and the salts that bring a tank back to its formula, nothing drained.
///
/// * `ph`: what was read and stands, and what it takes before
pub(super) fn fill_up(
    bench: &Bench,
    formula: &Formula,
    state: &State,
    tank: &Booked,
    (ph, corrects): (Option<f64>, Option<&PhCorrection>),
) -> Result<Poured, JobError> {
    let Some(ppm) = tank.ppm_on(Track::Likely) else { return Ok(Poured::nothing("nothing is in it")) };
    // the dose of an acid follows from a pH that was read, and is no part of the formula
    let here = Bench { acid: None, ..bench.clone() };
    let mut holding = Content::of_logbook(&here, &ppm, tank.water_per_l(), "the logbook");
    if let Some(ph) = ph {
        holding = holding.at_ph(&here, ph)?;
    }
    if let Some(of) = corrects {
        holding = corrected_by(&here, holding, of, tank.volume_l)?;
    }
    let full = liter_of(bench.tank.volume);
    let level = (tank.volume_l - tank.held_back_l).clamp(0.0, full);
    let water_l = lacks_l(bench, tank);
    let filled_up = fill_and_add(&here, formula, &holding, full - water_l, tank.held_back_l);
    let FilledUp { before, mut after, waits, why_off } = match filled_up {
        Ok(filled_up) => filled_up,
        Err(error) if error.exit_status() == 1 => return Ok(Poured::nothing(error.in_a_line())),
        Err(error) => return Err(error),
    };
    let is_full = water_l == 0.0 && after.doses.is_empty();
    let recipe = (!is_full || corrects.is_some())
        .then(|| filled_up_recipe(&here, &formula.name, &after, water_l, level, corrects.map(as_dose).as_ref()));
    if is_full {
        let why_not = Some("it is full, and as near to its formula as adding brings it".to_owned());
        return Ok(Poured { fill: None, why_not, recipe, adds_nothing: true });
    }
    // the correction of the pH goes into the water
    after.order = Step::behind_the_water(&after.order, corrects.map_or(&[], |of| &of.order));
    let adds_nothing = after.doses.is_empty();
    let amounts = Amounts { drain_l: 0.0, water_l, misfit_before: before.misfit };
    let fill = FillUp { why_off, waits, ..filled(bench, &formula.name, state, after, &amounts) };
    Ok(Poured { fill: Some(fill), why_not: None, recipe, adds_nothing })
}

/// The tank of a formula mixed afresh, or turned over to it.
///
/// * `all`: everything is drained; else as much as brings it closest
pub(super) fn turned_over(
    bench: &Bench,
    formula: &str,
    state: &State,
    tank: Option<&Booked>,
    all: bool,
) -> Result<Poured, JobError> {
    let held = tank.and_then(|tank| Some((tank, tank.ppm_on(Track::Likely)?)));
    let made = match held {
        None => mix(bench, formula, &MixOptions::default()).map(|after| {
            let recipe = recipe(bench, &after);
            (after.volume_l, 0.0, after, recipe)
        }),
        Some((tank, ppm)) => turn(bench, formula, state, tank, &ppm, all).map(|turned| {
            let recipe = switch_recipe(bench, &turned);
            (turned.refill_l, turned.drain_l, turned.after, recipe)
        }),
    };
    match made {
        Ok((water_l, drain_l, after, recipe)) => {
            let amounts = Amounts { drain_l, water_l, misfit_before: None };
            Ok(Poured {
                fill: Some(filled(bench, formula, state, after, &amounts)),
                why_not: None,
                recipe: Some(recipe),
                adds_nothing: false,
            })
        }
        Err(error) if error.exit_status() == 1 => Ok(Poured::nothing(error.in_a_line())),
        Err(error) => Err(error),
    }
}

fn turn(
    bench: &Bench,
    formula: &str,
    state: &State,
    tank: &Booked,
    ppm: &Nutrients,
    all: bool,
) -> Result<SwitchRecord, JobError> {
    let mut holding = Content::of_logbook(bench, ppm, tank.water_per_l(), "the logbook's likely course, an estimate");
    // what burns is let out whole, and may be beyond what can be reckoned
    let held_ph = state.ph_in_it();
    let burns = held_ph.is_some_and(is_burning_ph);
    if let Some(ph) = state.standing_ph().filter(|_| !burns) {
        holding = holding.at_ph(bench, ph)?;
    }
    let level = liter((tank.volume_l - tank.held_back_l).max(0.0));
    let how = SwitchOptions {
        level: Some(level),
        held_back: Some(liter(tank.held_back_l)),
        drain: (all || burns).then_some(level),
        held_ph,
        on: Some(state.at.date()),
        ..SwitchOptions::default()
    };
    switch(bench, formula, &holding, &how, &MixOptions::default())
}

/// What is drained and filled in, L, and how far off the tank is with water alone.
struct Amounts {
    drain_l: f64,
    water_l: f64,
    misfit_before: Option<f64>,
}

fn filled(bench: &Bench, formula: &str, state: &State, after: MixRecord, amounts: &Amounts) -> FillUp {
    let held = state.tank.and_then(|tank| tank.ppm_on(Track::Likely)).unwrap_or_default();
    let water_per_l = state.tank.map_or(1.0, |tank| tank.water_per_l_after(amounts.drain_l, amounts.water_l));
    FillUp {
        formula: formula.to_owned(),
        level_l: state.tank.map(|tank| (tank.volume_l - tank.held_back_l).max(0.0)),
        drain_l: amounts.drain_l,
        water_l: amounts.water_l,
        pure_water: as_filled(bench, &after.waters).water.is_pure(),
        missed: missed(&after),
        waits: Vec::new(),
        why_off: Vec::new(),
        misfit_before: amounts.misfit_before,
        misfit: after.misfit,
        // as a logbook reckons it, and so what it tells of the tank next
        ec_ms_cm: ec_in(bench, &after.content_ppm(), water_per_l).unwrap_or(after.ec_ms_cm)
            * state.meter_factor_after(amounts.drain_l, amounts.water_l),
        ph: after.ph,
        ph_low: after.ph_low,
        ph_high: after.ph_high,
        ph_aired: after.ph_aired,
        chelates: chelates_after(bench, &held, &after),
        stops: after
            .findings
            .iter()
            .filter(|finding| speaks_against(finding, amounts.misfit_before.is_some()))
            .map(|finding| told(finding, amounts.misfit_before.is_some()))
            .collect(),
        order: after.order,
        doses: after.doses,
        waters: after.waters,
        helpers: after.helpers,
    }
}

/// What is told beside the weights: stops, limits that are not kept, and what falls out of the tank; of a fresh tank all that is warned
/// of and stands nowhere else on the page.
fn speaks_against(finding: &Finding, is_filled_up: bool) -> bool {
    let elsewhere = [Code::TargetMissed, Code::AcidRestricted, Code::SaltRestricted, Code::ChelateOutside];
    match finding.severity {
        Severity::Stop => true,
        Severity::Warning if is_filled_up => [Code::WillPrecipitate, Code::LimitMissed].contains(&finding.code),
        Severity::Warning => !elsewhere.contains(&finding.code),
        Severity::Note => !is_filled_up && finding.code == Code::AlkalinityLeft,
    }
}

/// A finding as it is told: what is left out of a fill-up, or rounded up, stops nothing, since the tank is fed as it is.
fn told(finding: &Finding, is_filled_up: bool) -> Finding {
    match finding.code {
        Code::CannotBeWeighed | Code::RaisedToFloor if is_filled_up => {
            Finding { severity: Severity::Warning, ..finding.clone() }
        }
        _ => finding.clone(),
    }
}

fn as_dose(of: &PhCorrection) -> RecipeDose {
    let jug = of.jug.map(|jug| RecipeJug { whole_ml: jug.whole_ml, pour_ml: jug.pour_ml });
    let whole = || of.water_ml.map(|water_ml| water_ml + of.millilitres.unwrap_or(0.0));
    RecipeDose {
        salt: Some(of.salt.clone()),
        helper: None,
        grams: Some(of.grams),
        millilitres: of.millilitres,
        purity: None,
        jug: jug.or_else(|| whole().map(|whole_ml| RecipeJug { whole_ml, pour_ml: whole_ml })),
    }
}

/// What fills a tank up as parts of it, for what corrects its pH; new bottles, which are for traces, left aside.
///
/// * `litres`: of the full tank
pub(super) fn weights<'b>(bench: &'b Bench, fill: &FillUp, litres: f64) -> (Parts<'b>, Vec<f64>) {
    let part = |dose: &Dose| {
        let salt = dose.salt().and_then(|id| bench.catalogue.find(id));
        let bottle = || bench.helpers.iter().position(|helper| Some(&*helper.id) == dose.bottle());
        match salt {
            Some(salt) => Some((Part::Salt(bench.stock(salt)), dose.grams()?)),
            None => Some((Part::Helper(bottle()?), dose.millilitres()?)),
        }
    };
    let (parts, amounts): (Vec<Part>, Vec<f64>) = fill.doses.iter().filter_map(part).unzip();
    (Parts::new(bench, parts), amounts.into_iter().map(|amount| amount / litres).collect())
}

/// What a tank holds once its pH is corrected: what the acid brings need not be weighed in as well.
fn corrected_by(bench: &Bench, holding: Content, of: &PhCorrection, litres: f64) -> Result<Content, JobError> {
    let Some(salt) = bench.catalogue.find(&of.salt) else { return Ok(holding) };
    let (parts, known_from) = (Parts::new(bench, vec![Part::Salt(bench.stock(salt))]), holding.known_from.clone());
    let tank = Tank::full_of(bench, holding);
    Ok(Content::of_parts(&tank, &parts, &[of.grams / litres], Air::Open, known_from)?)
}

/// What the pH after filling does to the chelates that go in, and to those of the shelf that alone can have brought the metal
/// that the tank holds.
fn chelates_after(bench: &Bench, held: &Nutrients, after: &MixRecord) -> Vec<Finding> {
    let spans = [(after.ph, after.ph_low, after.ph_high), (after.ph_aired, after.ph_aired_low, after.ph_aired_high)];
    let [Some(fresh), Some(aired)] = spans.map(|(ph, low, high)| Some(PhSpan { ph: ph?, low: low?, high: high? })) else {
        return Vec::new();
    };
    let catalogue = &bench.catalogue;
    let brings = |salt: &&Salt, metal: Nutrient| salt.composition.nutrients[metal] > 0.0;
    let shelf: Vec<&Salt> = bench.shelf.iter().map(|stock| bench.salt(stock)).collect();
    let there = METALS.into_iter().filter(|metal| held[*metal] > 0.0).flat_map(|metal| {
        let of_metal: Vec<&Salt> = shelf.iter().copied().filter(|salt| brings(salt, metal)).collect();
        if of_metal.iter().all(|salt| salt.kind == Kind::Chelate) { of_metal } else { Vec::new() }
    });
    let mut salts = salts_of(bench, weighed_out(&after.doses, &after.helpers));
    for salt in there {
        if !salts.iter().any(|other| other.id == salt.id) {
            salts.push(salt);
        }
    }
    let of = |salt: &&Salt| Substance::of(salt, catalogue.ions(), catalogue.salts());
    let substances: Vec<Substance> = salts.iter().map(of).collect();
    chelates_outside(&substances, &Acidity { fresh, aired })
}
