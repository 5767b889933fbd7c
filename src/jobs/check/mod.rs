//! What a tank already filled contains, how it stands to a formula, and what its meter says of it.

mod reading;
pub(crate) mod remedy;
mod worth;

pub use reading::{Cause, CauseGroup, CauseKind, METER_ERROR, Reading, ReadingRecord};
pub use remedy::{Remedies, Remedy, RemedyKind};

use serde::Serialize;

use crate::bench::{Bench, Formula};
use crate::jobs::engine::question::formula as formula_called;
use crate::jobs::error::JobError;
use crate::jobs::record::describe::describe;
use crate::jobs::record::handling::weighed_out;
use crate::jobs::record::made::Made;
use crate::jobs::record::{MixRecord, Verdict};
use crate::matter::{NUTRIENTS, Nutrient, Nutrients, Water};
use crate::quantity::{MeterScale, Volume, ppm_of};
use crate::safety::{self, Code, Finding};
use crate::solution::Air;
use crate::tank::chemistry::{Mixture, slips, volume_deviation};
use crate::tank::dose::poured;
use crate::tank::instrument::{Measured, measured};
use crate::tank::parts::{Part, Parts};
use crate::tank::saved::saved;
use crate::tank::{Added, Content, Drawn, Recipe, Tank};
use reading::judge;
use remedy::remedies;

/// What is known of a tank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Known<'a> {
    /// What went into the bench's water.
    Added {
        /// Salts and labelled products.
        salts: &'a [Added],
        /// Dilute bottles.
        bottles: &'a [Drawn],
    },
    /// A saved recipe: its water, its doses.
    Recipe {
        /// The recipe.
        recipe: &'a Recipe,
        /// The volume that it was made up to, where that is not the recipe's own. Nothing is scaled.
        made_up_to: Option<Volume>,
    },
    /// What a laboratory found.
    Analysis {
        /// What it found, ppm.
        ppm: &'a Nutrients,
        /// What it looked for; nothing is known of the rest.
        named: &'a [Nutrient],
    },
}

/// What else is asked of a check.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CheckOptions<'a> {
    /// The formula that the tank is held against.
    pub against: Option<&'a str>,
    /// What the EC meter shows. An analysis predicts no reading.
    pub reading: Option<&'a Reading>,
    /// Adds the reading of a meter that shows a dissolved-solids scale instead of EC.
    pub meter: Option<MeterScale>,
}

/// A tank as it was checked.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CheckRecord {
    /// What is in it; targets, limits and misfit are those of the formula that it was held against.
    #[serde(flatten)]
    pub tank: MixRecord,
    /// Where the content is known from.
    pub known_from: String,
    /// What would set it right; null unless it is held against a formula.
    pub remedies: Option<Remedies>,
    /// A reading held against the prediction; null without one.
    pub reading: Option<ReadingRecord>,
}

/// What a tank holds after `added` went into the bench's water: concentrations, EC, pH, what may fall out, what to watch.
///
/// Every salt, acid and base of the table may be named, on the shelf or not; the shelf's purity counts where it is stated.
/// [`check_tank`] takes more: bottles, recipes, analyses, a formula, a reading.
///
/// # Errors
/// [`TankError::NoEquilibrium`](crate::jobs::TankError) when the solution is beyond the model; [`TankError::SolidByVolume`](crate::jobs::TankError) for millilitres of a solid.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, Added}, quantity::{Amount, gram}};
/// let bench = Bench::starter();
/// let salt = bench.catalogue.find("potassium-nitrate").unwrap();
/// let record = jobs::check(&bench, &[Added { salt, amount: Amount::Mass(gram(60.0)) }], None)?;
/// assert!((record.nitrate_n_ppm - 138.54).abs() < 0.01);
/// # Ok::<(), jobs::JobError>(())
/// ```
pub fn check(bench: &Bench, added: &[Added], meter: Option<MeterScale>) -> Result<MixRecord, JobError> {
    InTank::new(Tank::fresh(bench)?, &poured(bench, added, &[])?).record(None, Vec::new(), meter)
}

/// What a tank holds, held against a formula and a reading where they are given.
///
/// * `bench`: whose formulas and instruments count, and, unless a recipe brings its own, whose water and tank
///
/// Returns the record of the tank, with what would set it right and which slips would explain the reading.
///
/// # Errors
/// As [`check`]; [`JobError::UnknownFormula`], [`TankError::NoRecipe`](crate::jobs::TankError), [`TankError::UnknownBottle`](crate::jobs::TankError).
///
/// # Examples
/// ```
/// use bloomsalt::{bench::Bench, jobs::{self, Added, CheckOptions, Known}, quantity::{Amount, gram}};
/// let bench = Bench::starter();
/// let salt = bench.catalogue.find("potassium-nitrate").unwrap();
/// let content = Known::Added { salts: &[Added { salt, amount: Amount::Mass(gram(15.0)) }], bottles: &[] };
/// let how = CheckOptions { against: Some("growth"), ..CheckOptions::default() };
/// let checked = jobs::check_tank(&bench, &content, &how)?;
/// assert!(checked.remedies.is_some_and(|remedies| remedies.needed));
/// # Ok::<(), jobs::JobError>(())
/// ```
///
/// Reference: `docs/commands.md`, `check`.
pub fn check_tank(bench: &Bench, content: &Known, how: &CheckOptions) -> Result<CheckRecord, JobError> {
    let (filled, doses, known_from) = match *content {
        Known::Analysis { ppm, named } => return analysed(bench, ppm, named, how),
        Known::Added { salts, bottles } => (bench.clone(), poured(bench, salts, bottles)?, "what went in".to_owned()),
        Known::Recipe { recipe, made_up_to } => {
            let saved = saved(recipe, bench)?;
            let name = recipe.formula.as_deref().unwrap_or("your mix");
            // its acid is in it, and the bench's is what a correction of its pH is reckoned with
            let made = Bench { acid: bench.acid.clone(), ..saved.bench };
            let filled = made_up_to.map_or_else(|| made.clone(), |volume| made.clone().with_tank(volume));
            (filled, saved.doses, format!("a saved recipe ({name})"))
        }
    };
    let filled = unlimited(filled);
    let formula = how.against.map(|name| formula_called(&filled, name)).transpose()?;
    let in_tank = InTank::new(Tank::fresh(&filled)?, &doses);
    let (reading, findings) = match how.reading {
        Some(reading) => {
            let (record, findings) = in_tank.judged(reading)?;
            (Some(record), findings)
        }
        None => (None, Vec::new()),
    };
    let tank = in_tank.record(formula, findings, how.meter)?;
    let holding = || Content::of_parts(&in_tank.tank, &in_tank.parts, &in_tank.per_l(), Air::Closed, known_from.clone());
    // what is on the shelf now, into the tank and the water that the content is of
    let shelf = || in_water_of_bench(bench, &filled);
    let remedies = formula.map(|formula| remedies(&shelf(), formula, &holding()?, &tank)).transpose()?;
    let tank = with_what_is_weighed(tank, &filled, remedies.as_ref());
    Ok(CheckRecord { tank, known_from, remedies, reading })
}

/// The record of a tank with the handling of what the remedies weigh and name, beside that of what is in it.
fn with_what_is_weighed(mut tank: MixRecord, bench: &Bench, remedies: Option<&Remedies>) -> MixRecord {
    let options = || remedies.iter().flat_map(|remedies| &remedies.options);
    let weighed: Vec<&str> = options().flat_map(|remedy| weighed_out(&remedy.doses, &remedy.helpers)).collect();
    let told: Vec<Finding> = options().flat_map(|remedy| remedy.findings.iter().cloned()).collect();
    tank.mind(bench, &weighed, &told, &[]);
    tank
}

/// Nitrogen of no stated form up to this share of all is a matter of rounding (own choice).
const NOT_SPLIT: f64 = 0.01;

/// Findings that rest on the charges of a water or on the formula alone: an analysis of a solution leaves the first open,
/// and names what it names whatever the formula does.
const NOT_OF_AN_ANALYSIS: [Code; 5] =
    [Code::WaterCannotBeTrue, Code::WaterAssumed, Code::WaterUnknown, Code::BeyondTheModel, Code::ElementNotNamed];

/// A tank that a laboratory has analysed: the analysis stands in for a water to which nothing is added.
fn analysed(bench: &Bench, ppm: &Nutrients, named: &[Nutrient], how: &CheckOptions) -> Result<CheckRecord, JobError> {
    let known_from = "a laboratory analysis".to_owned();
    let formula = how.against.map(|name| formula_called(bench, name)).transpose()?;
    let nitrogen = named.iter().any(|named| named.element() == Nutrient::N.element());
    let is_known =
        |nutrient: Nutrient| named.contains(&nutrient) || (nitrogen && nutrient.element() == Nutrient::N.element());
    // what is not named is taken to be as the formula asks: adding then leaves it alone, and draining makes it up
    let mut counted = *ppm;
    let mut taken = Vec::new();
    for wish in formula.iter().flat_map(|formula| &formula.wishes).filter(|wish| !is_known(wish.nutrient)) {
        if let Some(asked) = wish.target.or(wish.min).map(ppm_of).filter(|asked| *asked > 0.0) {
            counted[wish.nutrient] = asked;
            taken.push(wish.nutrient);
        }
    }
    let forms = counted[Nutrient::NitrateN] + counted[Nutrient::AmmoniumN] + counted[Nutrient::UreaN];
    counted[Nutrient::N] = counted[Nutrient::N].max(forms);
    let not_split = nitrogen && counted.unsplit_nitrogen() > NOT_SPLIT * counted[Nutrient::N];
    counted[Nutrient::NitrateN] += counted.unsplit_nitrogen();
    let holding = Content::of_analysis(bench, &counted, &known_from);
    let mut filled = Tank::full_of(bench, holding.clone());
    filled.before.not_known = NUTRIENTS.into_iter().filter(|nutrient| !is_known(*nutrient)).collect();
    let mut tank = InTank::new(filled, &[]).record(
        formula,
        safety::of_analysis(&taken, not_split, anions_over(bench, &counted)),
        how.meter,
    )?;
    tank.findings.retain(|finding| !NOT_OF_AN_ANALYSIS.contains(&finding.code));
    tank.verdict = Verdict::of(&tank);
    // of several waters nobody knows how much of each is in it
    tank.pure_water = bench.water.is_pure() && bench.waters.is_empty();
    for element in &mut tank.elements {
        let of_water = Nutrient::parse(&element.element).map_or(0.0, |nutrient| bench.water.nutrients[nutrient]);
        element.water_ppm = of_water.min(element.ppm);
    }
    let remedies = formula.map(|formula| remedies(bench, formula, &holding, &tank)).transpose()?;
    let tank = with_what_is_weighed(tank, bench, remedies.as_ref());
    Ok(CheckRecord { tank, known_from, remedies, reading: None })
}

/// By how much the anions of an analysis outweigh its cations by charge, as a fraction of their mean.
fn anions_over(bench: &Bench, ppm: &Nutrients) -> f64 {
    let ions = bench.catalogue.ions();
    let water = Water { nutrients: *ppm, ..Water::default() };
    let (mut anions, mut cations) = (0.0, 0.0);
    for (ion, mmol) in water.ions(ions, bench.catalogue.elements()) {
        let charge = f64::from(ions.get(ion).charge) * mmol;
        if charge < 0.0 { anions -= charge } else { cations += charge }
    }
    let mean = f64::midpoint(anions, cations);
    if mean > 0.0 { (anions - cations) / mean } else { 0.0 }
}

/// What is in it is in it, whatever is left on the shelf.
fn unlimited(mut bench: Bench) -> Bench {
    for helper in &mut bench.helpers {
        helper.left = None;
    }
    bench
}

/// Doses in the water of a bench.
pub(crate) struct InTank<'a> {
    tank: Tank<'a>,
    parts: Parts<'a>,
    doses: Vec<Measured>,
}

impl<'a> InTank<'a> {
    pub(crate) fn new(tank: Tank<'a>, doses: &[(Part, f64)]) -> Self {
        let bench = tank.bench;
        let parts = Parts::new(bench, doses.iter().map(|(part, _)| *part).collect());
        let doses = doses
            .iter()
            .enumerate()
            .map(|(at, (_, amount))| {
                let density = parts.density(at);
                // as good as the instrument that would have been used; the finest where none could be trusted
                let as_measured = measured(bench, density, *amount);
                Measured {
                    is_trusted: true,
                    amount: *amount,
                    millilitres: density.map(|density| amount / density),
                    scale_g: None,
                    jug: None,
                    portions: 1,
                    ..as_measured
                }
            })
            .collect();
        Self { tank, parts, doses }
    }

    fn per_l(&self) -> Vec<f64> {
        self.doses.iter().map(|dose| dose.amount / self.tank.litres()).collect()
    }

    /// The record of the tank, held against a formula if there is one.
    pub(crate) fn record(
        &self,
        formula: Option<&Formula>,
        findings: Vec<Finding>,
        meter: Option<MeterScale>,
    ) -> Result<MixRecord, JobError> {
        let exact = self.per_l();
        let made = Made { formula, findings, ..Made::unfitted("check", &self.tank, &self.parts, &exact, &self.doses) };
        describe(&made, meter)
    }

    fn judged(&self, reading: &Reading) -> Result<(ReadingRecord, Vec<Finding>), JobError> {
        let (amounts, litres) = (self.per_l(), self.tank.litres());
        let deviations: Vec<f64> = self.doses.iter().map(|dose| dose.deviation / litres).collect();
        let slips = slips(&self.parts, &amounts, &deviations);
        let mixture = Mixture::new(&self.tank, &self.parts);
        let solution = mixture.solution(&amounts)?;
        let plus_minus = mixture.plus_minus_ec(&amounts, &solution, &slips, volume_deviation(&self.tank));
        judge(&self.tank, &self.parts, &amounts, plus_minus, reading)
    }
}

/// A bench with the tank and the water of a recipe: what refills a tank that was made by it.
///
/// # Errors
/// [`TankError::NoRecipe`](crate::jobs::TankError).
pub fn in_water_of(bench: &Bench, recipe: &Recipe) -> Result<Bench, JobError> {
    let saved = saved(recipe, bench)?;
    Ok(in_water_of_bench(bench, &saved.bench))
}

/// A bench with the tank and the water of another.
fn in_water_of_bench(bench: &Bench, filled: &Bench) -> Bench {
    let (water, waters, blend) = (filled.water.clone(), filled.waters.clone(), filled.blend.clone());
    Bench { tank: filled.tank, water, waters, blend, ..bench.clone() }
}
