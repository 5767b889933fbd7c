//! What is poured into a tank, and what its pH asks for: each by what the other comes to.

use super::fill::{Poured, fill_up, turned_over};
use super::ph::ph;
use super::record::{Due, DueKind, FillUp, PhToday};
use crate::bench::{Bench, Formula};
use crate::jobs::logbook::lacks_l;
use crate::jobs::{Content, JobError};
use crate::logbook::{State, Tank as Booked};

/// So often at most weights and the correction of the pH are reckoned by turns: own choice, each time what is left is some
/// hundredths of what it was.
const SETTLED_IN: usize = 3;

/// A tank of which it is asked what to pour into it.
pub(super) struct AskedOf<'a> {
    pub(super) bench: &'a Bench,
    /// What it is fed.
    pub(super) formula: Option<&'a Formula>,
    pub(super) state: Option<&'a State>,
    /// What is in it, where anything is.
    pub(super) there: Option<(&'a State, Booked)>,
    /// The bench in its usual water.
    pub(super) usual: Option<&'a Bench>,
    /// That for which it is renewed or turned over.
    pub(super) fresh: Option<&'a Due>,
    /// True where that is due tomorrow.
    pub(super) fresh_tomorrow: bool,
}

impl AskedOf<'_> {
    /// What is poured in, and what the pH asks for: each by what the other comes to.
    pub(super) fn poured(&self) -> Result<(Poured, Option<PhToday>), JobError> {
        let Self { bench, formula, state, there, usual, fresh, fresh_tomorrow } = *self;
        // what is filled in brings alkalinity of its own, and is in before the acid
        let lacks = there.filter(|_| formula.is_some() && fresh.is_none()).map_or(0.0, |(_, tank)| lacks_l(bench, &tank));
        let water = usual.filter(|_| lacks > 0.0).and_then(|bench| Content::of_water(bench).ok());
        let water = water.filter(|water| water.alkalinity_known);
        let asks = |filled, fill: Option<&FillUp>| {
            there.and_then(|(state, tank)| ph(bench, state, &tank, formula, fresh.is_some(), filled, fill))
        };
        let with_water = water.as_ref().map(|water| (water, lacks));
        let mut ph = asks(with_water, None);
        let pour = |ph: Option<&PhToday>| match (state, there, formula, fresh) {
            (Some(state), _, _, Some(due)) => match due.formula.as_deref() {
                Some(to) => turned_over(bench, to, state, there.map(|(_, tank)| tank).as_ref(), due.what == DueKind::Renew),
                None => Ok(Poured::nothing("a fresh tank is due")),
            },
            (_, None, ..) => Ok(Poured::nothing("nothing is in it")),
            (_, Some(_), ..) if ph.is_some_and(PhToday::burns) => {
                Ok(Poured::nothing("the pH comes first, as told here; the pump stays off, and no plant is fed with it"))
            }
            (_, Some(_), None, _) => Ok(Poured::nothing("no formula is known that it is fed")),
            (_, Some(_), Some(_), _) if fresh_tomorrow => {
                Ok(Poured::nothing("a fresh tank or a turn is due tomorrow; where the pump runs dry till then, water alone"))
            }
            (_, Some((state, tank)), Some(formula), _) => {
                let believed = state.standing_ph().filter(|_| ph.is_none_or(|ph| !ph.doubted));
                let there = ph.and_then(|ph| ph.correction.as_ref()).filter(|of| of.on_shelf);
                fill_up(bench, formula, state, &tank, (believed, there))
            }
        };
        let mut poured = pour(ph.as_ref())?;
        // the weights move the pH that is corrected, and what corrects it need not be weighed in again
        for _ in 0..SETTLED_IN {
            let again = asks(with_water.filter(|_| poured.fill.is_some()), poured.fill.as_ref().filter(|_| fresh.is_none()));
            if again == ph {
                break;
            }
            poured = pour(again.as_ref())?;
            ph = again;
        }
        Ok((poured, ph))
    }
}
