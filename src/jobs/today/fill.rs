//! What fills a tank up and brings it back to its formula.

use super::record::{FillUp, PhCorrection};
use crate::bench::{Bench, Formula};
use crate::jobs::check::remedy::fill_and_add;
use crate::jobs::engine::blend::as_filled;
use crate::jobs::logbook::missed;
use crate::jobs::recipe::filled_up_recipe;
use crate::jobs::record::handling::{salts_of, weighed_out};
use crate::jobs::record::order::{Act, Step};
use crate::jobs::{Content, JobError, MixRecord};
use crate::logbook::{State, Tank as Booked, Track};
use crate::matter::{Kind, Nutrient, Nutrients, Salt};
use crate::quantity::liter_of;
use crate::safety::{Finding, Severity, Substance, chelates_outside};
use crate::solution::{Acidity, Air, PhSpan};
use crate::tank::parts::{Part, Parts};
use crate::tank::{Tank, ec_of};

/// Metals that are sold as chelates.
const METALS: [Nutrient; 4] = [Nutrient::Fe, Nutrient::Mn, Nutrient::Zn, Nutrient::Cu];
/// Less than this share of the full tank need not be filled in (own choice).
const FULL: f64 = 0.005;

/// Water that a tank lacks, L.
pub(super) fn lacks_l(bench: &Bench, tank: &Booked) -> f64 {
    let full = liter_of(bench.tank.volume);
    let level = (tank.volume_l - tank.held_back_l).clamp(0.0, full);
    if full - level < FULL * full { 0.0 } else { full - level }
}

/// The water and the salts, or in words why none.
///
/// * `corrects`: what the pH takes before
pub(super) fn fill_up(
    bench: &Bench,
    formula: &Formula,
    state: &State,
    tank: &Booked,
    corrects: Option<&PhCorrection>,
    with_recipe: bool,
) -> Result<(Option<FillUp>, Option<String>), JobError> {
    let Some(ppm) = tank.ppm_on(Track::Likely) else { return Ok((None, Some("nothing is in it".to_owned()))) };
    // the dose of an acid follows from a pH that was read, and is no part of the formula
    let here = Bench { acid: None, ..bench.clone() };
    let mut holding = Content::of_analysis(&here, &ppm, "the logbook");
    if let Some(ph) = state.standing_ph() {
        holding = holding.at_ph(&here, ph)?;
    }
    if let Some(of) = corrects {
        holding = corrected_by(&here, holding, of, tank.volume_l)?;
    }
    let full = liter_of(bench.tank.volume);
    let level = (tank.volume_l - tank.held_back_l).clamp(0.0, full);
    let water_l = lacks_l(bench, tank);
    let (before, after) = match fill_and_add(&here, formula, &holding, full - water_l, tank.held_back_l) {
        Ok(both) => both,
        Err(error) if error.exit_status() == 1 => return Ok((None, Some(error.in_a_line()))),
        Err(error) => return Err(error),
    };
    if water_l == 0.0 && after.doses.is_empty() {
        return Ok((None, Some("it is full, and as near to its formula as adding brings it".to_owned())));
    }
    let chelates = chelates_after(bench, &ppm, &after);
    let recipe = with_recipe.then(|| filled_up_recipe(&here, &formula.name, &after, water_l, level));
    Ok((
        Some(FillUp {
            formula: formula.name.clone(),
            water_l,
            pure_water: as_filled(bench, &after.waters).water.is_pure(),
            missed: missed(&after),
            misfit_before: before.misfit,
            misfit: after.misfit,
            // as a logbook reckons it, and so what it tells of the tank next
            ec_ms_cm: ec_of(&bench.catalogue, &after.content_ppm()).unwrap_or(after.ec_ms_cm) * state.meter_factor,
            ph: after.ph,
            ph_low: after.ph_low,
            ph_high: after.ph_high,
            ph_aired: after.ph_aired,
            chelates,
            stops: after.findings.iter().filter(|finding| finding.severity == Severity::Stop).cloned().collect(),
            order: with_correction(after.order, corrects),
            doses: after.doses,
            waters: after.waters,
            helpers: after.helpers,
            recipe,
        }),
        None,
    ))
}

/// The order of filling up with the correction of the pH where it belongs: in the water, before the weights.
fn with_correction(mut order: Vec<Step>, corrects: Option<&PhCorrection>) -> Vec<Step> {
    if let Some(of) = corrects {
        let how = if of.water_ml.is_some() { "thinned as told for the pH" } else { "dissolved apart, as told for the pH" };
        let text = format!("Goggles and gloves on: stir in the {}, {how}, slowly.", of.name);
        let step = Step { parts: vec![of.salt.clone()], ..Step::plain(Act::SetPh, None, text) };
        order.insert(order.iter().take_while(|step| matches!(step.act, Act::Drain | Act::Fill)).count(), step);
    }
    order
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
