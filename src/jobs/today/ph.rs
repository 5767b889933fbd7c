//! The last pH, and the acid or the base that it asks for.

use super::fill::weights;
use super::record::{Brings, FillUp, PhCorrection, PhToday};
use crate::bench::Bench;
use crate::jobs::record::correction::corrected;
use crate::jobs::{Content, ValueAt};
use crate::logbook::{State, Tank as Booked, Track};
use crate::quantity::liter;
use crate::safety::{Remedy, kept_apart_words, read_ph_remedy};
use crate::tank::Tank;
use crate::tank::parts::Parts;

/// What the last pH of a tank says.
///
/// * `with_fresh_tank`: what is in it is let out today
/// * `filled`: water that is filled in before it is corrected, and how much, L
/// * `fill`: what goes in after it, which moves the pH as well
pub(super) fn ph(
    bench: &Bench,
    state: &State,
    tank: &Booked,
    with_fresh_tank: bool,
    filled: Option<(&Content, f64)>,
    fill: Option<&FillUp>,
) -> Option<PhToday> {
    let (at, read) = state.read_ph()?;
    let standing = state.standing_ph();
    let wish = bench.acid.as_ref().map(|acid| acid.target_ph);
    let correction = standing.filter(|_| !with_fresh_tank).and_then(|ph| Some((ph, read_ph_remedy(ph, wish)?))).and_then(
        |(ph, remedy)| {
            let ppm = tank.ppm_on(Track::Likely)?;
            let full_l = tank.volume_l + filled.map_or(0.0, |(_, litres)| litres);
            let here = bench.clone().with_tank(liter(full_l));
            let mut holding = Content::of_analysis(&here, &ppm, "the logbook").at_ph(&here, ph).ok()?;
            if let Some((water, _)) = filled {
                holding = holding.thinned(here.catalogue.ions(), water, tank.volume_l / full_l);
            }
            let full = Tank::full_of(&here, holding);
            let (parts, per_l) =
                fill.map_or_else(|| (Parts::new(&here, Vec::new()), Vec::new()), |fill| weights(&here, fill, full_l));
            let of = corrected(&full, &parts, &per_l, remedy)?;
            Some(PhCorrection {
                acid: remedy != Remedy::Base,
                apart: kept_apart_words(&of),
                brings: of.brings.map(|(nutrient, ppm)| Brings { element: nutrient.symbol().to_owned(), ppm }),
                salt: of.salt,
                name: of.name,
                grams: of.grams,
                millilitres: of.millilitres,
                water_ml: of.water_ml,
                to_ph: of.ph,
            })
        },
    );
    Some(PhToday {
        read: ValueAt { value: read, at: at.to_string() },
        stands: standing.is_some(),
        with_fresh_tank,
        correction,
    })
}
