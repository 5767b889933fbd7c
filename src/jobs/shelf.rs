//! What is left on the shelf and in bottles: what was counted, less what logbooks say was weighed and drawn since.

use uom::si::mass::gram as in_grams;

use crate::bench::Bench;
use crate::logbook::{Amounts, Entry, Event, Logbook, Moment};
use crate::quantity::{Date, gram, liter, milliliter};

/// A bench of which the shelf is drawn down: of every salt whose shelf entry says on which day it was counted, what entries of
/// that day and later weighed in is taken off, never below nothing.
///
/// What was poured from bottles counts as the salts in it. Of a bottle of the bench is taken off what was drawn from it: from the
/// day on which its `left` was looked at; where the bench states no `left`, from the day on which it was made, or ever. A `left`
/// without its day stays as it is. Entries later than `at` do not count.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::{Bench, STARTER}, jobs, logbook::{Logbook, Moment}, quantity::gram};
/// let text = STARTER.replace("potassium-nitrate = {", "potassium-nitrate = { counted_on = 2026-09-01, on_hand = \"100 g\",");
/// let bench = Bench::parse(&text, "bench.toml")?;
/// let logbook = Logbook::parse(include_bytes!("../../examples/streptocarpus-logbook.jsonl"), &[])?;
/// let left = jobs::drawn_down(&bench, &[&logbook], Moment::parse("2026-10-20 09:00+02:00")?);
/// let salt = bench.catalogue.find("potassium-nitrate").unwrap();
/// assert!(left.stock(salt).on_hand < Some(gram(100.0)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn drawn_down(bench: &Bench, logbooks: &[&Logbook], at: Moment) -> Bench {
    let mut left = bench.clone();
    for (salt, counted) in &bench.counted {
        let id = &bench.catalogue.salt(*salt).id;
        let weighed = went_in(logbooks, salts_of, id, Some(*counted), at);
        for stock in left.shelf.iter_mut().filter(|stock| stock.salt == *salt) {
            stock.on_hand = stock.on_hand.map(|there| gram((there.get::<in_grams>() - weighed).max(0.0)));
        }
    }
    for bottle in &mut left.helpers {
        let from = match (bottle.counted_on, bottle.left) {
            (Some(counted), _) => Some(counted),
            // whoever states what is left, and not when, keeps that up to date
            (None, Some(_)) => continue,
            (None, None) => bottle.made_on,
        };
        let drawn = went_in(logbooks, bottles_of, &bottle.id, from, at);
        if drawn > 0.0 {
            let there = milliliter(bottle.left.unwrap_or(bottle.volume));
            bottle.left = Some(liter((there - drawn).max(0.0) * 1e-3));
        }
    }
    left
}

/// What entries from a day on, of all days without one, put in of an id.
fn went_in(logbooks: &[&Logbook], of: fn(&Event) -> Option<&Amounts>, id: &str, from: Option<Date>, at: Moment) -> f64 {
    let counts = |entry: &&Entry| entry.at <= at && from.is_none_or(|from| entry.at.date() >= from);
    let entries = logbooks.iter().flat_map(|logbook| logbook.standing()).filter(counts);
    entries.filter_map(|entry| of(&entry.event)?.get(id)).sum()
}

/// Grams by salt.
fn salts_of(event: &Event) -> Option<&Amounts> {
    match event {
        Event::Filled { salts_g, .. } | Event::Added { salts_g, .. } | Event::Done { salts_g, .. } => Some(salts_g),
        _ => None,
    }
}

/// Millilitres by bottle.
fn bottles_of(event: &Event) -> Option<&Amounts> {
    match event {
        Event::Filled { bottles_ml, .. } | Event::Done { bottles_ml, .. } => Some(bottles_ml),
        _ => None,
    }
}
