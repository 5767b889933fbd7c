//! Words and numbers of a mix that the text page and the printed sheet share.

use crate::jobs::{AcidRecord, Dose, Element, General, Handling, Ingredient, Measure, MixRecord, StockBottle, StockRecord};
use crate::quantity::{fixed, liter, ppm_text, significant, trimmed, volume_text};

/// The formula, or what else the record is of.
pub(super) fn name(record: &MixRecord) -> &str {
    record.formula.as_deref().unwrap_or("your mix")
}

/// True for a tank that was filled already, whatever formula it is held against.
pub(super) fn checked(record: &MixRecord) -> bool {
    record.job == "check"
}

/// Decimals that a scale shows.
pub(super) fn decimals(step: f64) -> usize {
    (0..6).find(|places| fixed(step, *places).parse::<f64>().is_ok_and(|shown| (shown - step).abs() < 1e-9)).unwrap_or(6)
}

/// What the exact mix has of something too little to measure.
pub(super) fn small_amount(dose: &Dose) -> String {
    match dose.grams_exact {
        Some(grams) if grams < 1.0 => format!("{} mg", significant(grams * 1e3, 2)),
        Some(grams) => format!("{} g", significant(grams, 2)),
        None => format!("{} mL", significant(dose.millilitres_exact.unwrap_or(0.0), 2)),
    }
}

pub(super) fn dose_decimals(dose: &Dose) -> usize {
    dose.scale_g.map_or(3, decimals)
}

/// True for a salt that goes in with a bottle, which stands before it.
pub(super) fn comes_in_a_bottle(dose: &Dose) -> bool {
    dose.measure.is_none() && dose.helper.is_some()
}

/// What to measure out, and with what.
pub(super) fn measured(dose: &Dose) -> (String, String) {
    match dose.measure {
        Some(Measure::Syringe | Measure::Helper) => {
            (dose.millilitres.map_or_else(String::new, |ml| format!("{} mL", fixed(ml, 1))), "syringe".to_owned())
        }
        Some(Measure::Scale) => (
            dose.grams.map_or_else(String::new, |grams| format!("{} g", fixed(grams, dose_decimals(dose)))),
            dose.scale_g.map_or_else(String::new, |step| format!("{step} g scale")),
        ),
        None if comes_in_a_bottle(dose) => (String::new(), format!("{} in it", small_amount(dose))),
        None => (format!("({})", small_amount(dose)), "LEFT OUT, see below".to_owned()),
    }
}

/// What a dose is called: a bottle as one.
pub(super) fn dose_name(dose: &Dose) -> String {
    let bottle = if dose.measure == Some(Measure::Helper) { "bottle " } else { "" };
    format!("{bottle}{}", dose.name)
}

/// How much of an ingredient goes into a bottle.
pub(super) fn ingredient_amount(of: &Ingredient) -> String {
    match (of.grams, of.millilitres) {
        (Some(grams), _) => format!("{} g", fixed(grams, of.scale_g.map_or(3, decimals))),
        (None, ml) => format!("{} mL", trimmed(ml.unwrap_or(0.0), 2)),
    }
}

/// What an ingredient is called: a bottle as one.
pub(super) fn ingredient_name(of: &Ingredient) -> String {
    if of.helper.is_some() { format!("bottle {}", of.name) } else { of.name.clone() }
}

/// What an ingredient is measured with.
pub(super) fn ingredient_with(of: &Ingredient) -> String {
    match (of.grams, of.scale_g) {
        (Some(_), Some(step)) => format!("{step} g scale"),
        (Some(_), None) => String::new(),
        (None, _) => "syringe".to_owned(),
    }
}

/// The pH with what to know of it, or why it is not known.
pub(super) fn ph_words(record: &MixRecord) -> Result<(String, String), &'static str> {
    match (record.ph, record.ph_aired) {
        (Some(fresh), Some(aired)) => {
            let later = if (fresh - aired).abs() > 0.2 {
                let ends = ph_ends(record.ph_aired_low, record.ph_aired_high);
                format!(" right after mixing; {}{ends} after days in air", fixed(aired, 1))
            } else {
                String::new()
            };
            let before = if record.acid.is_none() && !checked(record) { ", before any acid" } else { "" };
            let ends = ph_ends(record.ph_low, record.ph_high);
            Ok((format!("pH {}", fixed(fresh, 1)), format!("{ends}{later}{before}")))
        }
        _ if record.doses.is_empty() && checked(record) => Err("an analysis does not tell it"),
        _ if record.job == "switch" => Err("what the tank holds is known by element only"),
        _ => Err("a product on the list does not state its alkalinity"),
    }
}

/// What else a pH may be, where a tenth shows it.
pub(super) fn ph_ends(low: Option<f64>, high: Option<f64>) -> String {
    match (low.map(|low| fixed(low, 1)), high.map(|high| fixed(high, 1))) {
        (Some(low), Some(high)) if low != high => format!(" ({low} to {high})"),
        _ => String::new(),
    }
}

/// How much acid for which pH, and whether the list of weights has it, by itself or in a bottle.
pub(super) fn acid_words(record: &MixRecord, acid: &AcidRecord) -> String {
    let of = |dose: &&Dose| dose.salt.as_ref().or(dose.helper.as_ref()) == Some(&acid.salt);
    let is_listed = record.doses.iter().find(of).is_some_and(|dose| dose.measure.is_some() || dose.helper.is_some());
    // a bottle of the acid counts in mL alone
    let (fresh, aired) = (acid.grams_fresh.or(acid.millilitres_fresh), acid.grams_aired.or(acid.millilitres_aired));
    let none = |amount: Option<f64>| amount.is_some_and(|amount| amount <= 0.0);
    if none(fresh) && none(aired) {
        return format!("no {} goes in: the pH is at or under {} without it", acid.salt, acid.target_ph);
    }
    let dose = |ml: Option<f64>, grams: Option<f64>| match (ml, grams) {
        _ if none(grams.or(ml)) => "none".to_owned(),
        (Some(ml), _) => format!("{} mL", significant(ml, 1)),
        (None, Some(grams)) => format!("{} g", significant(grams, 2)),
        (None, None) => "no dose that works".to_owned(),
    };
    let chosen = if acid.basis == "fresh" { fresh } else { aired };
    let listed = match chosen {
        Some(amount) if amount > 0.0 && !is_listed => {
            "none of it can be measured here, so none is in the list above.".to_owned()
        }
        Some(amount) if amount > 0.0 => format!("the list above has the {} dose, in whole steps.", acid.basis),
        Some(_) => "none is in the list above.".to_owned(),
        None => "what the list above has of it falls short of the wish.".to_owned(),
    };
    format!(
        "{} for pH {}: {} for it right after mixing, {} to hold it after days in air; {listed} Measure pH after mixing \
             and again after some days, and correct in small parts.",
        acid.salt,
        acid.target_ph,
        dose(acid.millilitres_fresh, acid.grams_fresh),
        dose(acid.millilitres_aired, acid.grams_aired),
    )
}

/// What is asked of an element, ppm.
pub(super) fn asked(e: &Element) -> String {
    match (e.target_ppm, e.min_ppm, e.max_ppm) {
        (Some(target), _, _) => ppm_text(target),
        (None, Some(min), Some(max)) => format!("{} to {}", ppm_text(min), ppm_text(max)),
        (None, Some(min), None) => format!("at least {}", ppm_text(min)),
        (None, None, Some(max)) => format!("at most {}", ppm_text(max)),
        (None, None, None) => "-".to_owned(),
    }
}

/// Number in the list of weights of the line that brings a salt: its own, or that of the bottle that it is in.
pub(super) fn number_of(record: &MixRecord, salt: &str) -> Option<usize> {
    let numbered: Vec<&Dose> = record.doses.iter().filter(|dose| dose.measure.is_some() || dose.helper.is_none()).collect();
    let own = numbered.iter().position(|dose| dose.salt.as_deref() == Some(salt));
    let in_bottle = || {
        numbered
            .iter()
            .position(|dose| dose.salt.is_none() && dose.helper.as_ref().is_some_and(|id| holds(record, id, salt)))
    };
    own.or_else(in_bottle).map(|at| at + 1)
}

/// True when a bottle, or one that it is made from, holds a salt.
fn holds(record: &MixRecord, id: &str, salt: &str) -> bool {
    let Some(helper) = record.helpers.iter().find(|helper| helper.id == id) else { return false };
    let own = helper.made_of.iter().any(|of| of.salt.as_deref() == Some(salt));
    own || helper.made_of.iter().filter_map(|of| of.helper.as_deref()).any(|parent| holds(record, parent, salt))
}

/// The salts that a caution concerns: numbers in the list above, names for what has none there.
pub(super) fn whom(caution: &General, number: &dyn Fn(&str) -> Option<usize>, handling: &[Handling]) -> String {
    let mut numbers: Vec<usize> = caution.salts.iter().filter_map(|salt| number(salt)).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let unnumbered = handling.iter().filter(|h| caution.salts.contains(&h.salt) && number(&h.salt).is_none());
    let all: Vec<String> = numbers.iter().map(usize::to_string).chain(unnumbered.map(|h| h.name.clone())).collect();
    all.join(", ")
}

/// Rows of the doses: a head, then a row for each, with what a litre, a US gallon and the tank take.
pub(super) fn dose_table(record: &StockRecord) -> Vec<Vec<String>> {
    let ml = |ml: f64| format!("{} mL", trimmed(ml, 2));
    let head = ["", "a litre", "a US gallon"].map(str::to_owned).into_iter();
    let mut rows = vec![head.chain([volume_text(liter(record.tank.volume_l))]).collect::<Vec<_>>()];
    for dose in record.tank.doses.iter().filter(|dose| dose.measure.is_some()) {
        let bottle = record.bottles.iter().find(|bottle| dose.helper.as_ref() == Some(&bottle.id));
        let (per_l, per_gal) = match bottle {
            Some(bottle) => (ml(bottle.dose_ml_per_l), ml(bottle.dose_ml_per_us_gal)),
            None => ("-".to_owned(), "-".to_owned()),
        };
        let whole = if bottle.is_some() { dose.millilitres.map(ml) } else { None };
        rows.push(vec![dose.name.clone(), per_l, per_gal, whole.unwrap_or_else(|| measured(dose).0)]);
    }
    rows
}

/// How strong a stock bottle may be, and what crystallises first.
pub(super) fn bottle_limit(record: &StockRecord, bottle: &StockBottle) -> String {
    let coldest = trimmed(record.coldest_c, 1);
    match &bottle.limit {
        None => format!("Nothing in it limits its strength at {coldest} C."),
        Some(limit) => {
            let source = limit.solubility_source.as_ref().map_or_else(
                || "of which no solubility is published, so 10 g/L are taken".to_owned(),
                |source| format!("solubility: {source}"),
            );
            format!(
                "At {coldest} C it may be up to {} times as strong as the tank; {} limits it ({source}).",
                significant(limit.strength, 1),
                limit.name
            )
        }
    }
}

/// What belongs into a stock bottle and is not in it; nothing where all is.
pub(super) fn bottle_lacks(bottle: &StockBottle) -> Option<String> {
    let names = bottle.left_out.join(", ");
    (!names.is_empty()).then(|| format!("LEFT OUT, too little to weigh: {names}. See what to watch."))
}

/// How far the chemistry model reaches into a stock bottle.
pub(super) fn bottle_model(bottle: &StockBottle) -> String {
    match &bottle.chemistry {
        Some(chemistry) => format!(
            "The chemistry model reaches it: pH {}, ionic strength {} mol/L.",
            fixed(chemistry.ph, 1),
            significant(chemistry.ionic_strength_mol_l, 2)
        ),
        None => {
            "It is too strong for the chemistry model: only the solubility of each salt by itself speaks, with the ions \
                 they share counted together, and what is kept apart."
                .to_owned()
        }
    }
}
