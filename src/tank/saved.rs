//! A recipe read again: the bench that it was saved on, and its doses. The one reading that diary, check, switch and scale
//! have of it: what its products hold is what it says of them, whatever a bench at hand has under their ids.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::error::TankError;
use super::parts::{Part, Parts};
use super::recipe::{Recipe, RecipeDose};
use crate::bench::Bench;
use crate::matter::{NUTRIENTS, Nutrients};
use crate::quantity::milliliter;

/// More grams or millilitres than this in a litre of tank are a damaged recipe.
const MOST_PER_LITRE: f64 = 10_000.0;
/// A bottle of a bench is that of the recipe when it holds the same, but for the rounding of documents.
const JUST_SO: f64 = 1e-7;

/// A recipe read again.
pub(crate) struct Saved {
    /// Tank, water, products and bottles of the recipe; instruments, empty bottles and formulas of the bench at hand.
    pub(crate) bench: Bench,
    /// What went in, in the unit of each part.
    pub(crate) doses: Vec<(Part, f64)>,
}

/// Reads a recipe for a bench.
///
/// * `at_hand`: whose instruments and formulas count
pub(crate) fn saved(recipe: &Recipe, at_hand: &Bench) -> Result<Saved, TankError> {
    let wrong = |why: String| TankError::NoRecipe { why };
    if recipe.kind != "recipe" || recipe.version != 1 {
        return Err(wrong("it is no recipe of this version".to_owned()));
    }
    // as a bench file, so that every number passes the same checks
    let read = Bench::parse(&text(recipe), "the recipe").map_err(|error| wrong(first_line(&error)))?;
    let bench = Bench {
        name: recipe.bench.clone(),
        scales: at_hand.scales.clone(),
        syringe: at_hand.syringe,
        bottles: at_hand.bottles.clone(),
        formulas: at_hand.formulas.clone(),
        ..read
    };
    let mut doses: Vec<(Part, f64)> = Vec::new();
    for dose in &recipe.doses {
        let part = match (&dose.salt, &dose.helper) {
            (Some(id), _) => bench.catalogue.find(id).map(|salt| Part::Salt(bench.stock(salt))),
            (None, Some(id)) => bench.helpers.iter().position(|helper| helper.id == *id).map(Part::Helper),
            (None, None) => None,
        };
        let amount = match part {
            Some(Part::Salt(_)) => dose.grams,
            _ => dose.millilitres,
        };
        match part.zip(amount.filter(|amount| (0.0..=MOST_PER_LITRE * recipe.volume_l).contains(amount))) {
            Some(dose) => doses.push(dose),
            None => {
                return Err(wrong(
                    "a dose names nothing that the recipe describes, or no amount that its tank could take".to_owned(),
                ));
            }
        }
    }
    Ok(Saved { bench, doses })
}

fn first_line(error: &crate::bench::BenchError) -> String {
    error.problems.first().map_or_else(|| error.to_string(), |problem| format!("`{}`: {}", problem.key, problem.message))
}

fn amount(dose: &RecipeDose) -> String {
    match (&dose.salt, dose.grams, dose.millilitres) {
        (Some(_), Some(grams), _) => format!("{grams} g"),
        (_, _, Some(ml)) => format!("{ml} mL"),
        _ => String::new(),
    }
}

/// Quotes as TOML wants them.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// What a recipe says of its bench, as a bench file.
fn text(recipe: &Recipe) -> String {
    // writing to a String cannot fail
    let mut text = String::new();
    let _ = writeln!(
        text,
        "[tank]\nvolume = \"{} L\"\nplus_minus = \"{} L\"\ntemperature = \"{} C\"\n[water]",
        recipe.volume_l, recipe.plus_minus_l, recipe.temperature_c
    );
    for (nutrient, ppm) in recipe.water_ppm.iter().filter(|(nutrient, _)| *nutrient != "N") {
        let _ = writeln!(text, "{} = {}", quoted(nutrient), ppm);
    }
    if let Some(alkalinity) = recipe.water_alkalinity_meq_l {
        let _ = writeln!(text, "alkalinity = \"{alkalinity} meq/L\"");
    }
    if let Some(ph) = recipe.water_ph {
        let _ = writeln!(text, "pH = {ph}");
    }
    for product in &recipe.products {
        let _ = writeln!(text, "[[product]]\nid = {}\nname = {}", quoted(&product.id), quoted(&product.name));
        if let Some(density) = product.density_kg_l {
            let _ = writeln!(text, "density = \"{density} kg/L\"");
        }
        if let Some(alkalinity) = product.alkalinity_eq_kg {
            let _ = writeln!(text, "alkalinity_per_kg = \"{alkalinity} eq\"");
        }
        if let Some(carbon) = product.carbon_mol_kg {
            let _ = writeln!(text, "carbon_per_kg = \"{carbon} mol\"");
        }
        let analysis: Vec<String> =
            product.analysis_percent.iter().map(|(key, percent)| format!("{} = {}", quoted(key), percent)).collect();
        let _ = writeln!(text, "analysis = {{ {} }}", analysis.join(", "));
    }
    for helper in &recipe.helpers {
        let made_of: Vec<String> = helper
            .made_of
            .iter()
            .map(|of| {
                let id = of.salt.as_ref().or(of.helper.as_ref()).map_or("", String::as_str);
                format!("{} = \"{}\"", quoted(id), amount(of))
            })
            .collect();
        let _ = writeln!(
            text,
            "[[helper]]\nid = {}\nvolume = \"{} mL\"\nmade_of = {{ {} }}",
            quoted(&helper.id),
            helper.volume_ml,
            made_of.join(", ")
        );
        if helper.pure_water {
            text.push_str("made_with = \"pure\"\n");
        }
    }
    text.push_str("[shelf]\n");
    let in_bottles = recipe.helpers.iter().flat_map(|helper| &helper.made_of);
    let mut seen: Vec<&str> = Vec::new();
    for dose in recipe.doses.iter().chain(in_bottles) {
        let Some(id) = dose.salt.as_deref().filter(|id| !seen.contains(id)) else { continue };
        seen.push(id);
        let purity = dose.purity.map_or_else(String::new, |purity| format!(" purity = {purity} "));
        let _ = writeln!(text, "{} = {{{purity}}}", quoted(id));
    }
    text
}

impl Saved {
    pub(crate) fn parts(&self) -> Parts<'_> {
        Parts::new(&self.bench, self.doses.iter().map(|(part, _)| *part).collect())
    }

    /// Concentrations when it is made up to so many litres, its water counted, ppm.
    pub(crate) fn ppm(&self, litres: f64) -> Nutrients {
        let parts = self.parts();
        let mut ppm = self.bench.water.nutrients;
        for (at, (_, amount)) in self.doses.iter().enumerate() {
            ppm.add(&parts.composition(at).nutrients, amount * 1e3 / litres);
        }
        ppm
    }

    /// Grams of every salt by its id, bottles counted by what is in them.
    pub(crate) fn grams(&self) -> BTreeMap<String, f64> {
        let parts = self.parts();
        let mut grams = BTreeMap::new();
        for (at, (_, amount)) in self.doses.iter().enumerate() {
            for (salt, of) in parts.contents(at).salts {
                *grams.entry(self.bench.catalogue.salt(salt).id.clone()).or_insert(0.0) += of * amount;
            }
        }
        grams
    }

    /// A bench with the products of the recipe as the recipe has them.
    pub(crate) fn with_products(&self, at_hand: &Bench) -> Bench {
        let products = self.bench.catalogue.salts().iter().filter(|salt| salt.own_product);
        let catalogue = products.fold(at_hand.catalogue.clone(), |table, product| table.with_product(product.clone()));
        Bench { catalogue, ..at_hand.clone() }
    }

    /// The doses on a bench that has the products: bottles that it has just so are drawn from, others are taken apart into
    /// their salts, and of a salt of another purity as much is weighed as brings the same.
    pub(crate) fn on(&self, bench: &Bench) -> Result<Vec<(Part, f64)>, TankError> {
        let (parts, there) = (self.parts(), Parts::new(bench, (0..bench.helpers.len()).map(Part::Helper).collect()));
        let mut doses: Vec<(Part, f64)> = Vec::new();
        let mut add = |part: Part, amount: f64| match doses.iter_mut().find(|(other, _)| *other == part) {
            Some((_, sum)) => *sum += amount,
            None => doses.push((part, amount)),
        };
        for (at, (part, amount)) in self.doses.iter().enumerate() {
            let holds = |parts: &Parts, at: usize| parts.of_salts(&parts.contents(at).salts).nutrients;
            let same = (0..bench.helpers.len()).filter(|_| matches!(part, Part::Helper(_))).find(|&helper| {
                let (a, b) = (holds(&parts, at), holds(&there, helper));
                there.id(helper) == parts.id(at) && NUTRIENTS.into_iter().all(|n| (a[n] - b[n]).abs() <= JUST_SO * a[n])
            });
            if let Some(helper) = same {
                add(Part::Helper(helper), *amount);
                continue;
            }
            for (salt, grams) in parts.contents(at).salts {
                let id = &self.bench.catalogue.salt(salt).id;
                let Some(there) = bench.catalogue.find(id) else {
                    return Err(TankError::NoRecipe { why: format!("it uses `{id}`, which is no salt") });
                };
                let (was, stock) = (self.bench.stock(salt), bench.stock(there));
                let stronger = was.purity.unwrap_or(1.0) / stock.purity.unwrap_or(1.0);
                add(Part::Salt(stock), grams * amount * stronger);
            }
        }
        Ok(doses)
    }

    /// Volume of the tank, L.
    pub(crate) fn litres(&self) -> f64 {
        milliliter(self.bench.tank.volume) * 1e-3
    }
}
