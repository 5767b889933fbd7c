//! What is left on the shelf and in bottles: what was counted, less what logbooks say was weighed and drawn since.

use uom::si::mass::gram as in_grams;

use crate::bench::{Bench, Helper, Ingredient};
use crate::catalogue::SaltId;
use crate::logbook::{Amounts, Entry, Event, Logbook, Moment};
use crate::quantity::{Date, gram, liter, milliliter};
use crate::tank::parts::Parts;

/// A bench of which the shelf is drawn down: of every salt whose shelf entry says on which day it was counted, what entries of
/// that day and later weighed in is taken off, never below nothing.
///
/// A salt leaves the shelf once: in a bottle of the bench on the day on which that was made, whole, and then no more as it is poured;
/// where no such day is stated, as it is poured, unless the bottle was looked at before the shelf was counted.
///
/// Of a bottle of the bench is taken off what was drawn from it: from the day on which its `left` was looked at; where the bench states
/// no `left`, from the day on which it was made, or ever. A `left` without its day stays as it is. Entries later than `at` do not count.
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
        let shelf = Shelf { parts: Parts::new(bench, Vec::new()), salt: *salt, counted: Some(*counted) };
        let weighed: f64 = standing(logbooks, Some(*counted), at).map(|entry| shelf.gives(entry)).sum();
        let gone = weighed + shelf.gave_bottles(*counted, at.date());
        for stock in left.shelf.iter_mut().filter(|stock| stock.salt == *salt) {
            stock.on_hand = stock.on_hand.map(|there| gram((there.get::<in_grams>() - gone).max(0.0)));
        }
    }
    for bottle in &mut left.helpers {
        let from = match (bottle.counted_on, bottle.left) {
            (Some(counted), _) => Some(counted),
            // whoever states what is left, and not when, keeps that up to date
            (None, Some(_)) => continue,
            (None, None) => bottle.made_on,
        };
        let drawn: f64 = standing(logbooks, from, at).filter_map(|entry| bottles_of(&entry.event)?.get(&bottle.id)).sum();
        if drawn > 0.0 {
            let there = milliliter(bottle.left.unwrap_or(bottle.volume));
            bottle.left = Some(liter((there - drawn).max(0.0) * 1e-3));
        }
    }
    left
}

/// Grams of a salt that an entry takes off the shelf: what it weighs in, without what stood in bottles of the bench before.
pub(in crate::jobs) fn taken_off(bench: &Bench, salt: SaltId, entry: &Entry) -> f64 {
    let counted = bench.counted.iter().find(|(of, _)| *of == salt).map(|(_, day)| *day);
    Shelf { parts: Parts::new(bench, Vec::new()), salt, counted }.gives(entry)
}

/// Entries from a day on, of all days without one.
fn standing<'l>(logbooks: &[&'l Logbook], from: Option<Date>, at: Moment) -> impl Iterator<Item = &'l Entry> {
    let all: Vec<&Entry> = logbooks.iter().flat_map(|logbook| logbook.standing()).collect();
    all.into_iter().filter(move |entry| entry.at <= at && from.is_none_or(|from| entry.at.date() >= from))
}

/// What is on the shelf of one salt.
struct Shelf<'b> {
    parts: Parts<'b>,
    salt: SaltId,
    /// The day on which it was counted.
    counted: Option<Date>,
}

impl Shelf<'_> {
    /// Grams that an entry takes off it.
    fn gives(&self, entry: &Entry) -> f64 {
        let id = &self.parts.bench.catalogue.salt(self.salt).id;
        let Some(weighed) = salts_of(&entry.event).and_then(|salts| salts.get(id)) else { return 0.0 };
        let bottled = |(bottle, ml): (&String, &f64)| {
            let at = self.parts.helpers.iter().position(|helper| helper.id == *bottle)?;
            Some(self.stood(at, entry.at.date()) * ml)
        };
        let stood: f64 = bottles_of(&entry.event).into_iter().flatten().filter_map(bottled).sum();
        (weighed - stood).max(0.0)
    }

    /// Grams that bottles made from the day `from` to the day `to` took off it.
    fn gave_bottles(&self, from: Date, to: Date) -> f64 {
        let made = |helper: &Helper| helper.made_on.filter(|made| (from..=to).contains(made));
        let took = |helper: &Helper, made: Date| -> f64 {
            let of = |(what, amount): &(Ingredient, _)| match *what {
                Ingredient::Salt(salt) if salt == self.salt => self.parts.amount(*what, *amount),
                Ingredient::Salt(_) => 0.0,
                Ingredient::Helper(parent) => {
                    self.parts.amount(*what, *amount) * (self.in_a_ml(parent) - self.stood(parent, made))
                }
            };
            helper.made_of.iter().map(of).sum()
        };
        self.parts.helpers.iter().filter_map(|helper| Some(took(helper, made(helper)?))).sum()
    }

    /// Grams in a millilitre of a bottle.
    fn in_a_ml(&self, bottle: usize) -> f64 {
        let salts = self.parts.of_helper(bottle).salts.into_iter();
        salts.filter(|(salt, _)| *salt == self.salt).map(|(_, grams)| grams).sum()
    }

    /// Those of them that were off the shelf before a day: the bottle stood then, or one that it is made from did.
    fn stood(&self, bottle: usize, on: Date) -> f64 {
        let helper = &self.parts.helpers[bottle];
        let stood = match helper.made_on {
            Some(made) => made <= on,
            // one that was looked at by the day of the count is no part of what was counted
            None => helper.counted_on.zip(self.counted).is_some_and(|(seen, counted)| seen <= counted),
        };
        if stood {
            return self.in_a_ml(bottle);
        }
        let of = |(what, amount): &(Ingredient, _)| match *what {
            Ingredient::Helper(parent) => self.parts.amount(*what, *amount) * self.stood(parent, on),
            Ingredient::Salt(_) => 0.0,
        };
        helper.made_of.iter().map(of).sum::<f64>() / milliliter(helper.volume)
    }
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
        Event::Filled { bottles_ml, .. } | Event::Added { bottles_ml, .. } | Event::Done { bottles_ml, .. } => {
            Some(bottles_ml)
        }
        _ => None,
    }
}
