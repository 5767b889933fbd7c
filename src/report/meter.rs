//! THE METER SHOULD READ: EC and pH that a mix should show.

use super::page::{Page, bold};
use super::words::{checked, meter_ppm, ph_ends};
use crate::bench::Basis;
use crate::jobs::{AcidRecord, Dose, Dosed, GoesIn, MixRecord, PhOpen};
use crate::quantity::{fixed, significant};
use crate::safety::{self, Code, Finding};

/// A meter that reads this fraction off what is predicted is told of: own choice, what a second decimal shows.
const METER_TOLD: f64 = 0.005;

/// What the meters should read.
///
/// * `own`: what the grower's meter should read, mS/cm, where a logbook tells it
pub(super) fn meter(page: &mut Page, record: &MixRecord, own: Option<f64>) {
    page.section("The meter should read", "");
    let is_told = |own: &f64| (own - record.ec_ms_cm).abs() > METER_TOLD * record.ec_ms_cm;
    let told = own.filter(is_told);
    let own = told.map_or_else(String::new, |own| format!("; {} on your meter, by the logbook", fixed(own, 2)));
    let give = format!(" at 25 C, give or take {}{own}", fixed(record.ec_plus_minus_ms_cm, 2));
    page.line(bold(format!("EC {} mS/cm", fixed(record.ec_ms_cm, 2))).and(give)).look("reading");
    if (record.temperature_c - 25.0).abs() > 0.05 {
        let ec = fixed(record.ec_at_temperature_ms_cm, 2);
        page.line(format!("{ec} mS/cm on a meter that does not correct for the tank's {} C", record.temperature_c));
    }
    if let (Some(reading), Some(scale)) = (record.meter_reading_ppm, record.meter_scale) {
        page.line(match told {
            None => format!("{} ppm on a meter with the {scale} scale", fixed(reading, 0)),
            Some(own) => format!("{} ppm on yours, with the {scale} scale", meter_ppm(own, scale)),
        });
    }
    match ph_words(record) {
        Ok((ph, later)) => page.line(bold(ph).and(later)).look("reading"),
        Err(why) => page.line(format!("pH not known: {why}; measure it")).look("reading"),
    }
    // once for all of them, with the last that goes in
    let last = record.acid.iter().rposition(goes_in);
    for (at, acid) in record.acid.iter().enumerate() {
        page.say(acid_words(record, acid, last == Some(at)));
    }
    page.line("Predictions; your meter's reading wins.").look("quiet");
}

/// The pH with what to know of it, or why it is not known.
fn ph_words(record: &MixRecord) -> Result<(String, String), &'static str> {
    match (record.ph, record.ph_aired) {
        (Some(fresh), Some(aired)) => {
            let later = if (fresh - aired).abs() > 0.2 {
                let ends = ph_ends(record.ph_aired_low, record.ph_aired_high);
                format!(" right after mixing; {}{ends} after days in air", fixed(aired, 1))
            } else {
                String::new()
            };
            let before = if record.acid.is_empty() && !checked(record) { ", before any acid" } else { "" };
            let ends = ph_ends(record.ph_low, record.ph_high);
            Ok((format!("pH {}", fixed(fresh, 1)), format!("{ends}{later}{before}")))
        }
        _ if record.doses.is_empty() && checked(record) => Err("an analysis does not tell it"),
        _ => Err(match record.ph_open {
            Some(PhOpen::Water) => "the alkalinity of the water is not stated",
            Some(PhOpen::ByElement) => "what the tank holds is known by element only",
            Some(PhOpen::ProductHeld) => "a product in what the tank holds does not state its alkalinity",
            _ => "a product on the list does not state its alkalinity",
        }),
    }
}

fn none(amount: Option<f64>) -> bool {
    amount.is_some_and(|amount| amount <= 0.0)
}

/// False for an acid that neither pH takes.
fn goes_in(acid: &AcidRecord) -> bool {
    let (fresh, aired) = acid.doses();
    !(none(fresh) && none(aired))
}

/// Why an acid that neither pH takes stays out.
fn stays_out(record: &MixRecord, acid: &AcidRecord) -> String {
    let others: Vec<&str> = record.acid.iter().filter(|other| goes_in(other)).map(|other| other.salt.as_str()).collect();
    if others.is_empty() {
        let ph = if acid.basis == Basis::Fresh { record.ph } else { record.ph_aired };
        let over = ph.filter(|ph| safety::is_over_wish(*ph, acid.target_ph));
        let without = format!("the pH is at or under {} without it", acid.target_ph);
        return match over {
            Some(ph) => format!(
                "no {} goes in: before rounding {without}; as the salts can be measured here it is {}",
                acid.salt,
                fixed(ph, 1)
            ),
            None => format!("no {} goes in: {without}", acid.salt),
        };
    }
    let why = if acid.too_little.is_some() {
        "it would come closer, and too little of it would go in to be measured"
    } else {
        "it brings the mix no nearer"
    };
    format!("no {} goes in: the pH is left to {}; {why}", acid.salt, others.join(" and "))
}

/// True where public rules restrict who may have an acid of the list, by itself or in a bottle.
fn is_restricted(record: &MixRecord, dose: &Dose) -> bool {
    let bottle = record.helpers.iter().filter(|bottle| dose.bottle() == Some(&bottle.id));
    let mut salts =
        dose.salt().into_iter().chain(bottle.flat_map(|bottle| &bottle.made_of).filter_map(|of| of.salt.as_deref()));
    salts.any(|id| record.findings.iter().any(|finding| safety::restricts(finding, id)))
}

/// How much acid for which pH, and whether the list of weights has it, by itself or in a bottle.
///
/// * `last`: of several acids the last that goes in; what is to do with the meter stands with it
fn acid_words(record: &MixRecord, acid: &AcidRecord, last: bool) -> String {
    if !goes_in(acid) {
        return stays_out(record, acid);
    }
    let dosed = record.doses.iter().find(|dose| dose.id() == acid.salt);
    let left_out = |dose: &Dose| matches!(dose.what, Dosed::Salt { goes_in: GoesIn::LeftOut, .. });
    let is_listed = dosed.is_some_and(|dose| !left_out(dose));
    let dose = |ml: Option<f64>, grams: Option<f64>| match (ml, grams) {
        _ if none(grams.or(ml)) => "none".to_owned(),
        (Some(ml), _) => format!("{} mL", significant(ml, 1)),
        (None, Some(grams)) => format!("{} g", significant(grams, 2)),
        (None, None) => "no dose that works".to_owned(),
    };
    let listed = match acid.dose() {
        Some(amount) if amount > 0.0 && !is_listed => {
            "none of it can be measured here, so none is in the list above.".to_owned()
        }
        Some(amount) if amount > 0.0 => format!("the list above has the {} dose, as it can be measured here.", acid.basis),
        Some(_) => "none is in the list above.".to_owned(),
        None if !is_listed => "none is in the list above.".to_owned(),
        None => "what the list above has of it falls short of the wish.".to_owned(),
    };
    let is_refused = is_correction_refused(record);
    let meter = match (last, is_refused) {
        (false, _) => "",
        (true, false) => " Measure pH after mixing and again after some days, and correct in small parts.",
        (true, true) => " Measure pH after mixing and again after some days.",
    };
    let restricted = dosed.is_some_and(|dose| is_restricted(record, dose));
    let restricted = dosed
        .filter(|_| restricted)
        .map_or_else(String::new, |dose| format!(" Public rules restrict who may have {}: see below.", dose.name));
    let others = record.acid.iter().filter(|other| other.salt != acid.salt && goes_in(other));
    let others: Vec<&str> = others.map(|other| other.salt.as_str()).collect();
    let together = if others.is_empty() { String::new() } else { format!(", together with {}", others.join(" and ")) };
    // of what is in the list one number is told, that of the list
    let listed_ml = dosed
        .filter(|dose| dose.is_measured() && acid.dose().is_some_and(|amount| amount > 0.0))
        .and_then(Dose::millilitres);
    let of_basis = |basis, ml: Option<f64>| listed_ml.filter(|_| ml.is_some() && acid.basis == basis).or(ml);
    let fresh = dose(of_basis(Basis::Fresh, acid.millilitres_fresh), acid.grams_fresh);
    // one number is not told here and refused in WATCH
    let aired = if is_refused && acid.basis == Basis::Fresh {
        String::new()
    } else {
        format!(", {} to hold it after days in air", dose(of_basis(Basis::Aired, acid.millilitres_aired), acid.grams_aired))
    };
    format!(
        "{} for pH {}{together}: {fresh} for it right after mixing{aired}; {listed}{meter}{restricted}",
        acid.salt, acid.target_ph
    )
}

/// True where WATCH has something to say of the pH and tells no dose for it.
fn is_correction_refused(record: &MixRecord) -> bool {
    let of_ph = |one: &&Finding| [Code::PhOutside, Code::PhNearEdge, Code::AlkalinityLeft].contains(&one.code);
    let mut said = record.findings.iter().filter(of_ph).peekable();
    said.peek().is_some() && said.all(|one| one.adds.is_empty())
}
