//! What is left on the shelf and in bottles: what was counted, less what logbooks say was weighed and drawn since.

use uom::si::mass::gram as in_grams;

use crate::bench::{Bench, Helper, Ingredient};
use crate::catalogue::SaltId;
use crate::jobs::{Dose, Left};
use crate::logbook::{Amounts, Entry, Event, Logbook, Moment};
use crate::matter::Kind;
use crate::quantity::{Amount, Date, gram, liter, milliliter};
use crate::tank::parts::Parts;

/// A bench of which the shelf is drawn down: of every salt whose shelf entry says on which day it was counted, what entries of
/// that day and later weighed in is taken off, never below nothing.
///
/// A salt leaves the shelf once: in a bottle of the bench on the day on which that was made, whole, and then no more as it is poured;
/// where no such day is stated, as it is poured, unless the bottle was looked at before the shelf was counted.
///
/// Of a bottle of the bench is taken off, in the same way, what was drawn from it, and what bottles were made of it: from the day on
/// which its `left` was looked at; where the bench states no `left`, from the day on which it was made, or ever. A `left` without its day
/// stays as it is. Entries later than `at` do not count.
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
        let gone = Store::new(bench, Ingredient::Salt(*salt), Some(*counted)).lost(logbooks, Some(*counted), at);
        for stock in left.shelf.iter_mut().filter(|stock| stock.salt == *salt) {
            stock.on_hand = stock.on_hand.map(|there| gram((there.get::<in_grams>() - gone).max(0.0)));
        }
    }
    for (number, bottle) in left.helpers.iter_mut().enumerate() {
        let from = match (bottle.counted_on, bottle.left) {
            (Some(counted), _) => Some(counted),
            // whoever states what is left, and not when, keeps that up to date
            (None, Some(_)) => continue,
            (None, None) => bottle.made_on,
        };
        let drawn = Store::new(bench, Ingredient::Helper(number), from).lost(logbooks, from, at);
        if drawn > 0.0 {
            let there = milliliter(bottle.left.unwrap_or(bottle.volume));
            bottle.left = Some(liter((there - drawn).max(0.0) * 1e-3));
        }
    }
    left
}

/// A bench without what is told to be measured out: what one tank is given the next does not find.
pub(in crate::jobs) fn without(bench: &mut Bench, doses: &[Dose]) {
    for dose in doses {
        if let (Some(id), Some(grams)) = (dose.salt(), dose.grams()) {
            let salt = bench.catalogue.find(id);
            for stock in bench.shelf.iter_mut().filter(|stock| Some(stock.salt) == salt) {
                stock.on_hand = stock.on_hand.map(|there| gram((there.get::<in_grams>() - grams).max(0.0)));
            }
        }
        for bottle in bench.helpers.iter_mut().filter(|bottle| dose.bottle() == Some(&bottle.id)) {
            let there = milliliter(bottle.left.unwrap_or(bottle.volume));
            bottle.left = Some(liter((there - dose.millilitres().unwrap_or(0.0)).max(0.0) * 1e-3));
        }
    }
}

/// What is left of every salt of which it is stated how much there is, and of every bottle of which that is known.
pub(in crate::jobs) fn left_over(bench: &Bench) -> Vec<Left> {
    let salts = bench.shelf.iter().filter_map(|stock| {
        let (salt, grams) = (bench.salt(stock), stock.on_hand?.get::<in_grams>());
        let millilitres = salt.density_kg_per_l.map(|density| grams / density);
        let acid = salt.kind == Kind::Acid;
        Some(Left { id: salt.id.clone(), name: salt.name.clone(), grams: Some(grams), millilitres, acid })
    });
    let bottles = bench.helpers.iter().filter_map(|bottle| {
        let (id, name) = (bottle.id.clone(), bottle.id.clone());
        Some(Left { id, name, grams: None, millilitres: Some(milliliter(bottle.left?)), acid: false })
    });
    salts.chain(bottles).collect()
}

/// Grams of a salt that an entry takes off the shelf: what it weighs in, without what stood in bottles of the bench before.
pub(in crate::jobs) fn taken_off(bench: &Bench, salt: SaltId, entry: &Entry) -> f64 {
    let counted = bench.counted.iter().find(|(of, _)| *of == salt).map(|(_, day)| *day);
    Store::new(bench, Ingredient::Salt(salt), counted).gives(entry)
}

/// The shelf of one salt, or one bottle: what is taken from it, in its unit.
struct Store<'b> {
    parts: Parts<'b>,
    of: Ingredient,
    /// The day on which it was counted.
    counted: Option<Date>,
}

impl<'b> Store<'b> {
    fn new(bench: &'b Bench, of: Ingredient, counted: Option<Date>) -> Self {
        Self { parts: Parts::new(bench, Vec::new()), of, counted }
    }

    /// What was taken from it from a day on, of all days without one: by entries, and by bottles that were made of it.
    fn lost(&self, logbooks: &[&Logbook], from: Option<Date>, at: Moment) -> f64 {
        let since = |day: Date| from.is_none_or(|from| day >= from);
        let entries = logbooks.iter().flat_map(|logbook| logbook.standing());
        let entries = entries.filter(|entry| entry.at <= at && since(entry.at.date()));
        let bottles = self.parts.helpers.iter().filter_map(|helper| Some((helper, helper.made_on?)));
        let bottles = bottles.filter(|(_, made)| since(*made) && *made <= at.date());
        entries.map(|entry| self.gives(entry)).sum::<f64>()
            + bottles.map(|(helper, made)| self.took(helper, made)).sum::<f64>()
    }

    /// What an entry takes from it.
    fn gives(&self, entry: &Entry) -> f64 {
        let Some((salts_g, bottles_ml)) = poured(&entry.event) else { return 0.0 };
        let bottles = bottles_ml.iter().filter_map(|(id, ml)| {
            let at = self.parts.helpers.iter().position(|helper| helper.id == *id)?;
            Some((at, *ml))
        });
        let went_in = match self.of {
            // bottles are counted in it
            Ingredient::Salt(salt) => salts_g.get(&self.parts.bench.catalogue.salt(salt).id).copied().unwrap_or(0.0),
            Ingredient::Helper(own) => {
                let of = |(at, ml): (usize, f64)| if at == own { ml } else { self.in_a_ml(at) * ml };
                bottles.clone().map(of).sum()
            }
        };
        (went_in - bottles.map(|(at, ml)| self.stood(at, entry.at.date()) * ml).sum::<f64>()).max(0.0)
    }

    /// What went into a bottle on the day on which it was made, without what stood in those that it is made of.
    fn took(&self, helper: &Helper, made: Date) -> f64 {
        self.sum_of(helper, |parent| self.in_a_ml(parent) - self.stood(parent, made))
    }

    /// What is of it in a millilitre of a bottle.
    fn in_a_ml(&self, bottle: usize) -> f64 {
        let helper = &self.parts.helpers[bottle];
        self.sum_of(helper, |parent| self.in_a_ml(parent)) / milliliter(helper.volume)
    }

    /// What went into a bottle by itself, and with others by what a millilitre of each counts.
    fn sum_of(&self, helper: &Helper, counts: impl Fn(usize) -> f64) -> f64 {
        let of = |(what, amount): &(Ingredient, Amount)| match *what {
            what if what == self.of => self.parts.amount(what, *amount),
            Ingredient::Helper(parent) => self.parts.amount(*what, *amount) * counts(parent),
            Ingredient::Salt(_) => 0.0,
        };
        helper.made_of.iter().map(of).sum()
    }

    /// What of it in a millilitre of a bottle had been taken before a day: the bottle stood then, or one that it is made from did.
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
        let of = |(what, amount): &(Ingredient, Amount)| match *what {
            Ingredient::Helper(parent) if *what != self.of => self.parts.amount(*what, *amount) * self.stood(parent, on),
            _ => 0.0,
        };
        helper.made_of.iter().map(of).sum::<f64>() / milliliter(helper.volume)
    }
}

/// Grams by salt, bottles counted as the salts in them, and millilitres by bottle.
pub(super) fn poured(event: &Event) -> Option<(&Amounts, &Amounts)> {
    match event {
        Event::Filled { salts_g, bottles_ml, .. }
        | Event::Added { salts_g, bottles_ml, .. }
        | Event::Done { salts_g, bottles_ml, .. } => Some((salts_g, bottles_ml)),
        _ => None,
    }
}
