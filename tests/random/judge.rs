//! Whether a record agrees with itself: everything that it says of a tank, reckoned again from the doses that it prints and
//! the compositions of the salts.
#![allow(clippy::neg_cmp_op_on_partial_ord, reason = "what is not a number is wrong too")]

use bloomsalt::bench::Bench;
use bloomsalt::fit::phi;
use bloomsalt::matter::{Nutrient, Nutrients};
use bloomsalt::quantity::ppm_of;
use serde_json::Value;

/// A document has nine significant digits.
const DIGITS: f64 = 2e-8;

/// Judges records of one bench.
pub struct Judge<'a> {
    pub bench: &'a Bench,
}

/// What a bottle or the tank holds.
#[derive(Default)]
struct Holds {
    grams: Vec<(String, f64)>,
    pure_ml: f64,
}

impl Holds {
    fn add(&mut self, other: &Self, share: f64) {
        self.grams.extend(other.grams.iter().map(|(id, grams)| (id.clone(), grams * share)));
        self.pure_ml += other.pure_ml * share;
    }
}

fn of<'v>(record: &'v Value, key: &str) -> Vec<&'v Value> {
    record[key].as_array().map(|list| list.iter().collect()).unwrap_or_default()
}

fn has(record: &Value, codes: &[&str]) -> bool {
    of(record, "findings").iter().any(|finding| finding["code"].as_str().is_some_and(|code| codes.contains(&code)))
}

impl Judge<'_> {
    /// What is wrong with a mix of a fresh tank, one line each. What bottles hold may be more than is on the shelf where
    /// it is not made `from_shelf`.
    pub fn tank(&self, mix: &Value, from_shelf: bool) -> Vec<String> {
        let mut wrong = self.contents(mix);
        wrong.extend(self.misfit(mix));
        wrong.extend(limits(mix));
        if from_shelf {
            wrong.extend(self.on_hand(mix));
        }
        wrong
    }

    /// The same without what the formula asks: what the doses give, how they are measured and what they cost.
    pub fn contents(&self, mix: &Value) -> Vec<String> {
        let mut wrong = Vec::new();
        let (litres, holds) = (mix["volume_l"].as_f64().unwrap_or(f64::NAN), self.holds(mix));
        let (ppm, size) = self.ppm(&holds, litres);
        for element in of(mix, "elements") {
            let symbol = element["element"].as_str().unwrap_or("");
            let nutrient = Nutrient::parse(symbol).expect("a symbol");
            let told = element["ppm"].as_f64().unwrap_or(f64::NAN);
            // not `>`: NaN must not pass
            if !((told - ppm[nutrient]).abs() <= DIGITS * (size[nutrient] + told.abs()) + 1e-12) {
                wrong.push(format!("{symbol} is told as {told}, its doses give {}", ppm[nutrient]));
            }
        }
        wrong.extend(self.doses(mix));
        wrong.extend(cost(mix));
        wrong
    }

    /// Grams of salts and mL of pure water in the tank, by the doses.
    fn holds(&self, mix: &Value) -> Holds {
        let mut sum = Holds::default();
        for dose in of(mix, "doses").into_iter().filter(|dose| !dose["measure"].is_null()) {
            match dose["salt"].as_str() {
                Some(salt) => sum.grams.push((salt.to_owned(), dose["grams"].as_f64().unwrap_or(f64::NAN))),
                None => sum.add(&self.bottle(mix, &dose["helper"]), dose["millilitres"].as_f64().unwrap_or(f64::NAN)),
            }
        }
        sum
    }

    /// What a millilitre of a bottle holds.
    fn bottle(&self, mix: &Value, id: &Value) -> Holds {
        let Some(helper) = of(mix, "helpers").into_iter().find(|helper| helper["id"] == *id) else {
            return Holds { grams: Vec::new(), pure_ml: f64::NAN };
        };
        let ml = helper["volume_ml"].as_f64().unwrap_or(f64::NAN);
        let (mut sum, mut own) = (Holds::default(), ml);
        for part in of(helper, "made_of") {
            let drawn = part["millilitres"].as_f64();
            match part["salt"].as_str() {
                Some(salt) => {
                    let grams = part["grams"].as_f64().or_else(|| Some(drawn? * self.density(salt)?));
                    sum.grams.push((salt.to_owned(), grams.unwrap_or(f64::NAN) / ml));
                }
                None => {
                    own -= drawn.unwrap_or(f64::NAN);
                    sum.add(&self.bottle(mix, &part["helper"]), drawn.unwrap_or(f64::NAN) / ml);
                }
            }
        }
        if helper["pure_water"] == true {
            sum.pure_ml += own / ml;
        }
        sum
    }

    fn density(&self, salt: &str) -> Option<f64> {
        self.bench.catalogue.find(salt).and_then(|salt| self.bench.catalogue.salt(salt).density_kg_per_l)
    }

    /// Concentrations, and the sum of what adds up to them.
    fn ppm(&self, holds: &Holds, litres: f64) -> (Nutrients, Nutrients) {
        let water = &self.bench.water.nutrients;
        let mut ppm = water.scaled(1.0 - holds.pure_ml * 1e-3 / litres);
        let mut size = *water;
        for (id, grams) in &holds.grams {
            let salt = self.bench.catalogue.find(id).unwrap_or_else(|| panic!("{id} is no salt"));
            let brings = self.bench.composition(&self.bench.stock(salt)).nutrients;
            ppm.add(&brings, 1e3 * grams / litres);
            size.add(&brings, 1e3 * grams / litres);
        }
        (ppm, size)
    }

    fn misfit(&self, mix: &Value) -> Option<String> {
        let formula = self.bench.formula(mix["formula"].as_str()?)?;
        let ppm = |nutrient: Nutrient| {
            let element = of(mix, "elements").into_iter().find(|element| element["element"] == nutrient.symbol());
            element.map_or(0.0, |element| element["ppm"].as_f64().unwrap_or(f64::NAN))
        };
        let own: f64 = formula
            .wishes
            .iter()
            .filter_map(|wish| {
                let target = ppm_of(wish.target?);
                Some(wish.weight * phi((ppm(wish.nutrient) - target) / target))
            })
            .sum();
        let told = mix["misfit"].as_f64().unwrap_or(f64::NAN);
        let near = (told - own).abs() <= 1e-6 * (1.0 + own);
        (!near).then(|| format!("misfit is told as {told}, its table gives {own}"))
    }

    /// Whole steps of a named instrument, and at least what it is trusted with.
    fn doses(&self, mix: &Value) -> Vec<String> {
        let mut wrong = Vec::new();
        let whole = |amount: f64, step: f64| ((amount / step).round() * step - amount).abs() <= DIGITS * amount;
        let syringe = &self.bench.syringe;
        let step_ml = syringe.step.value * 1e6;
        for dose in of(mix, "doses").into_iter().filter(|dose| !dose["measure"].is_null()) {
            let name = dose["name"].as_str().unwrap_or("");
            let (amount, step, trust) = if dose["measure"] == "scale" {
                let step = dose["scale_g"].as_f64().unwrap_or(f64::NAN);
                let scale = self.bench.scales.iter().find(|scale| (scale.readability.value * 1e3 / step - 1.0).abs() < 1e-8);
                let Some(scale) = scale else {
                    wrong.push(format!("{name}: no scale of the bench shows {step} g"));
                    continue;
                };
                (dose["grams"].as_f64().unwrap_or(f64::NAN), step, scale.trust)
            } else {
                let jug = self.bench.jugs.iter().find(|jug| dose["jug"] == jug.id.as_str());
                let (step, trust) = jug.map_or((step_ml, syringe.trust), |jug| (jug.step.value * 1e6, jug.trust));
                (dose["millilitres"].as_f64().unwrap_or(f64::NAN), step, trust)
            };
            if !whole(amount, step) {
                wrong.push(format!("{name}: {amount} is no whole number of steps of {step}"));
            }
            if !(amount >= step / trust * (1.0 - 1e-7)) {
                wrong.push(format!("{name}: {amount} is under what a step of {step} is trusted with"));
            }
        }
        wrong
    }

    /// What goes in, new bottles counted whole, is never more than there is.
    fn on_hand(&self, mix: &Value) -> Vec<String> {
        let mut taken: Vec<(String, f64)> = Vec::new();
        for dose in of(mix, "doses").into_iter().filter(|dose| !dose["measure"].is_null()) {
            if let Some(salt) = dose["salt"].as_str() {
                taken.push((salt.to_owned(), dose["grams"].as_f64().unwrap_or(f64::NAN)));
            }
        }
        for helper in of(mix, "helpers").into_iter().filter(|helper| helper["new"] == true) {
            for part in of(helper, "made_of") {
                if let Some(salt) = part["salt"].as_str() {
                    let grams = part["grams"].as_f64();
                    let grams = grams.or_else(|| Some(part["millilitres"].as_f64()? * self.density(salt)?));
                    taken.push((salt.to_owned(), grams.unwrap_or(f64::NAN)));
                }
            }
        }
        let ids: std::collections::BTreeSet<&String> = taken.iter().map(|(id, _)| id).collect();
        let sum = |id: &String| taken.iter().filter(|(other, _)| other == id).map(|(_, grams)| grams).sum::<f64>();
        let there = |id: &String| {
            let salt = self.bench.catalogue.find(id)?;
            self.bench.stock(salt).on_hand.map(|mass| mass.value * 1e3)
        };
        let mut wrong: Vec<String> = ids
            .into_iter()
            .filter_map(|id| there(id).map(|there| (id, there)))
            .filter(|(id, there)| !(sum(id) <= there * (1.0 + DIGITS)))
            .map(|(id, there)| format!("{id}: {} g go in, {there} g are on hand", sum(id)))
            .collect();
        for helper in of(mix, "helpers").into_iter().filter(|helper| helper["new"] == false) {
            let of_bench =
                self.bench.helpers.iter().find(|of| helper["id"] == of.id.as_str()).expect("a bottle of the bench");
            let left = of_bench.left.unwrap_or(of_bench.volume).value * 1e6;
            if helper["dose_ml"].as_f64().is_some_and(|ml| ml > left * (1.0 + DIGITS)) {
                wrong.push(format!("{} of bottle {} are drawn, {left} mL are left", helper["dose_ml"], helper["id"]));
            }
        }
        wrong
    }
}

/// Limits are kept, or a finding says that they are not.
fn limits(mix: &Value) -> Vec<String> {
    let mut wrong = Vec::new();
    if has(mix, &["limit-gave-way", "limit-missed"]) {
        return wrong;
    }
    for element in of(mix, "elements") {
        let ppm = element["ppm"].as_f64().unwrap_or(f64::NAN);
        let over = element["max_ppm"].as_f64().is_some_and(|max| ppm > max + 2e-9 * max.max(1.0) + DIGITS * ppm);
        let under = element["min_ppm"].as_f64().is_some_and(|min| ppm < min - 2e-9 * min.max(1.0) - DIGITS * ppm);
        if over || under {
            wrong.push(format!("{} {ppm} ppm breaks a limit without a word", element["element"]));
        }
    }
    wrong
}

/// The sum of what the doses cost.
fn cost(mix: &Value) -> Option<String> {
    let told = mix["cost"].as_f64()?;
    let measured = of(mix, "doses").into_iter().filter(|dose| !dose["measure"].is_null());
    let sum: f64 = measured.map(|dose| dose["cost"].as_f64().unwrap_or(f64::NAN)).sum();
    let near = (sum - told).abs() <= 1e-7 * told.abs() + 1e-9;
    (!near).then(|| format!("cost is told as {told}, its doses come to {sum}"))
}
