//! What is left on the shelf: what was counted, less what logbooks say was weighed since.

use uom::si::mass::gram as in_grams;

use crate::bench::Bench;
use crate::logbook::{Amounts, Event, Logbook, Moment};
use crate::quantity::{Date, gram};

/// A bench of which the shelf is drawn down: of every salt whose shelf entry says on which day it was counted, what entries of
/// that day and later weighed in is taken off, never below nothing.
///
/// What was poured from bottles counts as the salts in it. Entries later than `at` do not count.
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
        let weighed: f64 = logbooks.iter().map(|logbook| weighed_g(logbook, id, *counted, at)).sum();
        for stock in left.shelf.iter_mut().filter(|stock| stock.salt == *salt) {
            stock.on_hand = stock.on_hand.map(|there| gram((there.get::<in_grams>() - weighed).max(0.0)));
        }
    }
    left
}

/// Grams of a salt that entries from a day on weighed in.
fn weighed_g(logbook: &Logbook, salt: &str, from: Date, at: Moment) -> f64 {
    let of = |salts: &Amounts| salts.get(salt).copied().unwrap_or(0.0);
    let entries = logbook.standing().into_iter().filter(|entry| entry.at <= at && entry.at.date() >= from);
    entries
        .map(|entry| match &entry.event {
            Event::Filled { salts_g, .. } | Event::Added { salts_g, .. } | Event::Done { salts_g, .. } => of(salts_g),
            _ => 0.0,
        })
        .sum()
}
