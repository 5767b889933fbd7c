//! A recipe read again: the bench that it was saved on, and its doses. The one reading that logbook, check, switch and scale
//! have of it: what its products hold is what it says of them, whatever a bench at hand has under their ids.

use std::collections::BTreeMap;

use super::TankError;
use super::parts::{Part, Parts};
use super::recipe::{Recipe, RecipeHelper, RecipeProduct, RecipeWater};
use crate::bench::{Bench, Helper, Ingredient, Stock, Tank};
use crate::catalogue::Catalogue;
use crate::matter::{LabelItem, NUTRIENTS, Nutrient, Nutrients, Salt, Stated, Water};
use crate::quantity::{
    ALKALINITY_MEQ_PER_L, ANALYSIS_PERCENT, Amount, BOTTLE_L, Bound, CARBON_MOL_PER_KG, DENSITY_KG_PER_L,
    EC_WATER_MS_PER_CM, EQUIVALENTS_PER_KG, HELPER_SALT_G, LEFT_L, PH, PLUS_MINUS_L, PURITY, TANK_L, TEMPERATURE_C,
    WATER_PPM, celsius, gram, liter, liter_of, unseen,
};

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

/// Reads the recipe of a fresh tank for a bench.
///
/// * `at_hand`: whose instruments and formulas count
///
/// # Errors
/// [`TankError::NoRecipe`], also for one whose doses go into what a tank holds: it does not say what comes of it.
pub(crate) fn saved(recipe: &Recipe, at_hand: &Bench) -> Result<Saved, TankError> {
    if recipe.into.is_some() {
        let why = "it goes into what a tank holds, and does not say what that is: write it down (enter \
                   `from RECIPE`), and ask the logbook";
        return Err(TankError::NoRecipe { why: why.to_owned() });
    }
    of_job(recipe, at_hand)
}

/// Reads any recipe: its doses, whatever they go into.
///
/// # Errors
/// [`TankError::NoRecipe`].
pub(crate) fn of_job(recipe: &Recipe, at_hand: &Bench) -> Result<Saved, TankError> {
    let wrong = |why: String| TankError::NoRecipe { why };
    if recipe.kind != "recipe" || recipe.version != 1 {
        return Err(wrong("it is no recipe of this version".to_owned()));
    }
    let bench = bench_of(recipe, at_hand).map_err(wrong)?;
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

/// A number within the bound of the bench file's key, or what is wrong with it.
fn checked(key: &str, bound: &Bound, value: f64) -> Result<f64, String> {
    bound.check(value).map_err(|error| format!("`{key}`: {error}"))
}

/// What a recipe says of its bench, every number within the bounds of a bench file.
fn bench_of(recipe: &Recipe, at_hand: &Bench) -> Result<Bench, String> {
    let volume = checked("volume_l", &TANK_L, recipe.volume_l)?;
    let plus_minus = checked("plus_minus_l", &PLUS_MINUS_L, recipe.plus_minus_l)?;
    if plus_minus > 0.5 * volume {
        return Err("`plus_minus_l`: more than half of the tank is no measurement".to_owned());
    }
    let temperature = celsius(checked("temperature_c", &TEMPERATURE_C, recipe.temperature_c)?);
    let mut catalogue = Catalogue::standard().clone();
    for product in &recipe.products {
        let product = own_product(product, &catalogue)?;
        catalogue = catalogue.with_product(product);
    }
    let of_doses = recipe.doses.iter().chain(recipe.helpers.iter().flat_map(|helper| &helper.made_of));
    catalogue = catalogue.with_strengths(of_doses.filter_map(|dose| dose.salt.as_deref()));
    catalogue = catalogue.with_strengths(at_hand.catalogue.salts().iter().map(|salt| salt.id.as_str()));
    // what the bench has beside may be weighed in, and has to be minded
    for product in at_hand.catalogue.salts().iter().filter(|salt| salt.own_product) {
        if catalogue.find(&product.id).is_none() {
            catalogue = catalogue.with_product(product.clone());
        }
    }
    let mut helpers: Vec<Helper> = Vec::new();
    for helper in &recipe.helpers {
        helpers.push(bottle(helper, &catalogue, &helpers)?);
    }
    let mut shelf: Vec<Stock> = Vec::new();
    for dose in recipe.doses.iter().chain(recipe.helpers.iter().flat_map(|helper| &helper.made_of)) {
        let Some(id) = &dose.salt else { continue };
        let salt = catalogue.find(id).ok_or_else(|| format!("`{id}`: there is no salt of that id"))?;
        if !shelf.iter().any(|stock| stock.salt == salt) {
            let purity = dose.purity.map(|purity| checked("purity", &PURITY, purity)).transpose()?;
            shelf.push(Stock { salt, on_hand: None, price_per_g: None, purity });
        }
    }
    shelf.sort_by_key(|stock| stock.salt);
    Ok(Bench {
        name: recipe.bench.clone(),
        tank: Tank { volume: liter(volume), plus_minus: liter(plus_minus), temperature },
        water: water(recipe)?,
        waters: Vec::new(),
        blend: blend(recipe)?,
        catalogue,
        shelf,
        helpers,
        acid: None,
        cycle: None,
        groups: Vec::new(),
        bags: Vec::new(),
        ..at_hand.clone()
    })
}

fn water(recipe: &Recipe) -> Result<Water, String> {
    let mut water = Water::default();
    for (symbol, ppm) in recipe.water_ppm.iter().filter(|(symbol, _)| *symbol != "N") {
        let nutrient = Nutrient::parse(symbol).ok_or_else(|| format!("`water_ppm`: there is no nutrient `{symbol}`"))?;
        water.nutrients[nutrient] = checked("water_ppm", &WATER_PPM, *ppm)?;
    }
    water.nutrients[Nutrient::N] = water.nutrients[Nutrient::NitrateN] + water.nutrients[Nutrient::AmmoniumN];
    let alkalinity = recipe.water_alkalinity_meq_l;
    water.alkalinity_meq_per_l =
        alkalinity.map(|meq| checked("water_alkalinity_meq_l", &ALKALINITY_MEQ_PER_L, meq)).transpose()?;
    let unstated = recipe.water_unstated_ec_ms_cm;
    water.unstated_ms_per_cm = unstated.map_or(Ok(0.0), |ec| checked("water_unstated_ec_ms_cm", &EC_WATER_MS_PER_CM, ec))?;
    water.ph = recipe.water_ph.map(|ph| checked("water_ph", &PH, ph)).transpose()?;
    Ok(water)
}

/// Shares of the waters that a recipe names.
fn blend(recipe: &Recipe) -> Result<Vec<(String, f64)>, String> {
    let all: f64 = recipe.waters.iter().map(|water| water.litres).sum();
    let share = |water: &RecipeWater| {
        let named = !water.id.trim().is_empty() && unseen(&water.id).is_none();
        let share = water.litres / all;
        if !named || !(0.0..=1.0).contains(&share) {
            return Err("`waters`: a water has no name, or no amount that its tank could take".to_owned());
        }
        Ok((water.id.clone(), share))
    };
    recipe.waters.iter().map(share).collect()
}

fn own_product(product: &RecipeProduct, catalogue: &Catalogue) -> Result<Salt, String> {
    let within = |key: &str, bound: &Bound, value: Option<f64>| value.map(|value| checked(key, bound, value)).transpose();
    if catalogue.find(&product.id).is_some() {
        return Err(format!("`{}` is taken", product.id));
    }
    let mut analysis = Vec::new();
    for (key, percent) in &product.analysis_percent {
        analysis.push(LabelItem { key: key.clone(), percent: checked(key, &ANALYSIS_PERCENT, *percent)? });
    }
    let stated = Stated {
        chelate: product.chelate,
        alkalinity_eq_per_kg: within("alkalinity_eq_kg", &EQUIVALENTS_PER_KG, product.alkalinity_eq_kg)?,
        carbon_mol_per_kg: within("carbon_mol_kg", &CARBON_MOL_PER_KG, product.carbon_mol_kg)?,
        named_acid: false,
    };
    let density = within("density_kg_l", &DENSITY_KG_PER_L, product.density_kg_l)?;
    catalogue
        .own_product(&product.id, &product.name, density, &analysis, stated)
        .map_err(|error| format!("`{}`: {error}", product.id))
}

fn bottle(of: &RecipeHelper, catalogue: &Catalogue, before: &[Helper]) -> Result<Helper, String> {
    let volume_l = checked("volume_ml", &BOTTLE_L, of.volume_ml * 1e-3)?;
    let mut made_of = Vec::new();
    let mut poured_ml = 0.0;
    for ingredient in &of.made_of {
        let parent = ingredient.helper.as_ref().and_then(|id| before.iter().position(|helper| helper.id == *id));
        let salt = ingredient.salt.as_ref().and_then(|id| catalogue.find(id));
        made_of.push(match (salt, parent, ingredient.grams, ingredient.millilitres) {
            (Some(salt), _, Some(grams), _) => {
                let grams = checked("grams", &HELPER_SALT_G, grams)?;
                (Ingredient::Salt(salt), Amount::Mass(gram(grams)))
            }
            (None, Some(parent), _, Some(ml)) => {
                poured_ml += ml;
                (Ingredient::Helper(parent), Amount::Volume(liter(checked("millilitres", &LEFT_L, ml * 1e-3)?)))
            }
            _ => return Err(format!("`{}`: it is made of something that the recipe does not describe", of.id)),
        });
    }
    if made_of.is_empty() || poured_ml > of.volume_ml * (1.0 + 1e-9) {
        return Err(format!("`{}`: the bottle holds nothing, or more goes in than it holds", of.id));
    }
    let (id, volume) = (of.id.clone(), liter(volume_l));
    Ok(Helper { id, volume, made_of, made_on: None, left: None, counted_on: None, made_with_pure_water: of.pure_water })
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

    /// What the doses bring, mg.
    pub(crate) fn brought_mg(&self) -> Nutrients {
        let parts = self.parts();
        let mut mg = Nutrients::default();
        for (at, (_, amount)) in self.doses.iter().enumerate() {
            mg.add(&parts.composition(at).nutrients, amount * 1e3);
        }
        mg
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

    /// Millilitres drawn of every bottle by its id.
    pub(crate) fn bottles_ml(&self) -> BTreeMap<String, f64> {
        let mut ml = BTreeMap::new();
        for (part, amount) in &self.doses {
            if let Part::Helper(helper) = part {
                *ml.entry(self.bench.helpers[*helper].id.clone()).or_insert(0.0) += amount;
            }
        }
        ml
    }

    /// A bench with the products of the recipe as the recipe has them.
    pub(crate) fn with_products(&self, at_hand: &Bench) -> Bench {
        let products = self.bench.catalogue.salts().iter().filter(|salt| salt.own_product);
        let catalogue = products.fold(at_hand.catalogue.clone(), |table, product| table.with_product(product.clone()));
        let catalogue = catalogue.with_strengths(self.bench.catalogue.salts().iter().map(|salt| salt.id.as_str()));
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
        liter_of(self.bench.tank.volume)
    }
}
