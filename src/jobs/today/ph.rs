//! The last pH, and the acid or the base that it asks for.

use super::fill::weights;
use super::record::{Brings, FillUp, PhCorrection, PhToday};
use crate::bench::{Basis, Bench, Formula};
use crate::jobs::engine::question::kept_from_urea;
use crate::jobs::record::correction::corrected;
use crate::jobs::record::souring::dilute;
use crate::jobs::{Act, Content, Step, ValueAt};
use crate::logbook::{Moment, State, Tank as Booked, Track};
use crate::matter::Nutrient;
use crate::quantity::{fixed, liter, trimmed, volume_text};
use crate::safety::{
    Correction, Remedy, Untold, is_burning_ph, is_doubted_by_ec, is_ph_out_of_range, kept_apart_words, read_ph_remedy,
    untold_of_reading,
};
use crate::tank::Tank;
use crate::tank::chemistry::Mixture;
use crate::tank::instrument::grams_of;
use crate::tank::parts::Parts;

/// A pH that is reckoned is over the wish once it is so by this much more than one that was read: own choice.
const LOOSER_PH: f64 = 0.3;

/// What the last pH of a tank says.
///
/// * `formula`: what the tank is fed
/// * `with_fresh_tank`: what is in it is let out today
/// * `filled`: water that is filled in before it is corrected, and how much, L
/// * `fill`: what goes in after it, which moves the pH as well
pub(super) fn ph(
    bench: &Bench,
    state: &State,
    tank: &Booked,
    formula: Option<&Formula>,
    with_fresh_tank: bool,
    filled: Option<(&Content, f64)>,
    fill: Option<&FillUp>,
) -> Option<PhToday> {
    let (at, read) = state.read_ph()?;
    let (standing, far_out) = (state.standing_ph(), state.doubtful_ph());
    let wish = bench.acid.as_ref().map(|acid| acid.target_ph);
    let reads = standing.filter(|_| !with_fresh_tank);
    let correction = reads.and_then(|ph| of_tank(bench, state, tank, formula, ph, (filled, fill)));
    let far_out = far_out.map(|ph| Untold::FarOut { ph });
    let unaired = state.unaired_ph().filter(|(ph, _)| read_ph_remedy(*ph, wish).is_some());
    let waits = far_out
        .or(unaired.map(|(ph, from)| Untold::NotAired { ph, from: to_the_minute(from) }))
        .filter(|_| !with_fresh_tank);
    let (correction, untold) = match waits.map(Err).or(correction) {
        Some(Ok(correction)) => (Some(correction), None),
        Some(Err(why)) => (None, Some(why)),
        None => (None, None),
    };
    let held = tank.ppm_on(Track::Likely).unwrap_or_default();
    let kept = match kept_from_urea(bench, &held).join(" and ") {
        kept if !kept.is_empty() => format!(". {kept} never goes into this tank, which holds urea"),
        _ if held[Nutrient::UreaN] > 0.0 => ". It holds urea: never nitric acid".to_owned(),
        none => none,
    };
    Some(PhToday {
        read: ValueAt { value: read, at: at.to_string() },
        stands: standing.is_some() || state.doubtful_ph().is_some() || state.unaired_ph().is_some(),
        with_fresh_tank,
        correction,
        is_trifle: matches!(untold, Some(Untold::TooLittle { .. })) && !is_ph_out_of_range(read),
        again_from: match &untold {
            Some(Untold::NotAired { from, .. }) => Some(from.clone()),
            _ => None,
        },
        doubted: matches!(
            untold,
            Some(Untold::NotByEc { .. } | Untold::NotReckoned { .. } | Untold::FarOut { .. } | Untold::NotAired { .. })
        ),
        untold: untold.as_ref().map(|why| untold_of_reading(why) + &kept),
    })
}

/// A moment as a clock of its place shows it, `2027-01-05 11:00`.
fn to_the_minute(at: Moment) -> String {
    at.to_string().chars().take(16).map(|c| if c == 'T' { ' ' } else { c }).collect()
}

/// What a pH that was read and stands takes, or why no dose of it is told.
///
/// * `ph`: what was read
/// * `filled`, `fill`: water that is filled in before, and what goes in after
fn of_tank(
    bench: &Bench,
    state: &State,
    tank: &Booked,
    formula: Option<&Formula>,
    ph: f64,
    (filled, fill): (Option<(&Content, f64)>, Option<&FillUp>),
) -> Option<Result<PhCorrection, Untold>> {
    let wish = bench.acid.as_ref().map(|acid| acid.target_ph);
    let asks = read_ph_remedy(ph, wish);
    // what is poured in may move it to where it asks for an acid
    if asks.is_none() && (filled.is_none() || wish.is_none()) {
        return None;
    }
    let ppm = tank.ppm_on(Track::Likely)?;
    let full_l = tank.volume_l + filled.map_or(0.0, |(_, litres)| litres);
    let here = bench.clone().with_tank(liter(full_l));
    let Ok(mut holding) = Content::of_logbook(&here, &ppm, tank.water_per_l(), "the logbook").at_ph(&here, ph) else {
        return Some(Err(Untold::NotReckoned { ph }));
    };
    if let Some(why) = is_not_by_ec(&here, state, &holding) {
        return Some(Err(why));
    }
    if let Some((water, _)) = filled {
        holding = holding.thinned(here.catalogue.ions(), water, tank.volume_l / full_l);
    }
    let full = Tank::full_of(&here, holding);
    let (parts, per_l) =
        fill.map_or_else(|| (Parts::new(&here, Vec::new()), Vec::new()), |fill| weights(&here, fill, full_l));
    let aired = || Mixture::new(&full, &parts).ph(&per_l, Basis::Aired).ok();
    // the water that fills it up may do what a base would
    if asks == Some(Remedy::Base) && filled.is_some() && aired().is_some_and(|ph| read_ph_remedy(ph, wish).is_none()) {
        return None;
    }
    let later = || read_ph_remedy(aired()? - LOOSER_PH, wish).filter(|remedy| *remedy == Remedy::AcidLater);
    let remedy = asks.or_else(later)?;
    let there = Mixture::new(&full, &parts).ppm(&per_l);
    let brings = |(nutrient, ppm): (Nutrient, f64)| Brings {
        element: nutrient.symbol().to_owned(),
        ppm,
        comes_to_ppm: there[nutrient] + ppm,
        target_ppm: formula.and_then(|formula| formula.wish(nutrient)).and_then(|wish| wish.in_ppm()[0]),
    };
    Some(corrected(&full, &parts, &per_l, remedy, formula, true)?.map(|of| PhCorrection {
        acid: remedy != Remedy::Base,
        apart: kept_apart_words(&of),
        order: goes_in(&of, remedy != Remedy::Base, is_burning_ph(ph)),
        brings: of.brings.map(brings),
        on_shelf: of.short_g.is_none() && has(&here, &of.salt, of.jug.map_or(of.grams, |jug| jug.measured_g)),
        salt: of.salt,
        name: of.name,
        grams: of.grams,
        millilitres: of.millilitres,
        water_ml: of.water_ml,
        jug: of.jug,
        to_ph: of.ph,
        fresh_ph: of.fresh_ph.unwrap_or(of.ph),
    }))
}

/// How an acid or a base goes into a tank that stands.
///
/// * `burns`: what is in the tank does
fn goes_in(of: &Correction, is_acid: bool, burns: bool) -> Vec<Step> {
    let worn = if burns { "Goggles, gloves and apron" } else { "Goggles and gloves" };
    let stir = |text: String| Step { parts: vec![of.salt.clone()], ..Step::plain(Act::SetPh, None, text) };
    let name = &of.name;
    let stop = format!(
        " Stop where the meter shows about pH {}, also with some left: it climbs to {} as carbon dioxide goes out.",
        fixed(of.fresh_ph.unwrap_or(of.ph), 1),
        fixed(of.ph, 1)
    );
    let (grams, ml) = of.jug.map_or((of.grams, of.millilitres), |jug| (jug.measured_g, jug.measured_ml));
    let amount = ml.map_or_else(|| format!("{} g", trimmed(grams, 3)), |ml| format!("{} mL", trimmed(ml, 2)));
    let from_jug = match of.jug {
        Some(jug) => format!(
            "{} of the jug's {} of thinned {name}, slowly, in small parts.{stop} The rest is not kept: bicarbonate until it froths no more, then away as old solution.",
            volume_text(liter(jug.pour_ml * 1e-3)),
            volume_text(liter(jug.whole_ml * 1e-3))
        ),
        None => format!("the {name} from the jug, slowly, in small parts.{stop}"),
    };
    match of.water_ml {
        Some(water_ml) => vec![
            dilute((&of.salt, name), (&amount, ml.is_some()), water_ml, of.burns),
            stir(format!("Pump and lights unplugged: stir in {from_jug}")),
        ],
        None if is_acid => {
            vec![stir(format!(
                "{worn} on, pump and lights unplugged: stir in {amount} of {name}, slowly, in small parts.{stop}"
            ))]
        }
        None => vec![stir(format!(
            "{worn} on, pump and lights unplugged: dissolve {amount} of {name} apart, and stir it in slowly, in small parts, to about pH {} by the meter.",
            fixed(of.fresh_ph.unwrap_or(of.ph), 1)
        ))],
    }
}

/// True for a dose of which so much is on the shelf, or of what is named as an acid and not on the shelf at all.
fn has(bench: &Bench, id: &str, grams: f64) -> bool {
    match bench.shelf.iter().find(|stock| bench.salt(stock).id == id) {
        Some(stock) => stock.on_hand.is_none_or(|mass| grams_of(mass) >= grams),
        None => bench.acid.iter().flat_map(|acid| &acid.salts).any(|acid| acid == id),
    }
}

/// Set where what would hold the pH that was read conducts more than was read.
fn is_not_by_ec(bench: &Bench, state: &State, holding: &Content) -> Option<Untold> {
    let (_, read) = state.ec?;
    let full = Tank::full_of(bench, holding.clone());
    let holds = Mixture::new(&full, &Parts::new(bench, Vec::new())).ec(&[]) * state.meter_factor;
    is_doubted_by_ec(holds, read).then_some(Untold::NotByEc { read_ms_per_cm: read, holds_ms_per_cm: holds })
}
