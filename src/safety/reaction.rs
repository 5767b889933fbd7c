//! What may fall out, where the chemistry ends, and what a wish for a pH came to.

use super::{Code, Facts, Finding, Severity, Supersaturated, worn_for_acid as worn};
use crate::matter::Kind;
use crate::quantity::{fixed, ppm_text, significant};

/// A pH that differs from a wish by less is at the wish: own choice, what a pH meter is good to.
pub(super) const PH_NEAR: f64 = 0.1;

/// A label that leaves less over tells nothing of an alkalinity, eq/kg: own choice.
const LIKELY_EQ_PER_KG: f64 = 0.05;

/// Ionic strength to which EC, and to which pH and saturation, are good (own choice, by the reach of the activity model).
pub const MODEL_REACH_MOL_PER_KG: (f64, f64) = (0.1, 0.5);

/// Findings of precipitation, and of how far the chemistry reaches.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    let (fair, last) = MODEL_REACH_MOL_PER_KG;
    if facts.ionic_strength_mol_per_kg > fair {
        let beyond = facts.ionic_strength_mol_per_kg > last;
        found.push(
            Finding::new(
                Code::BeyondTheModel,
                if beyond { Severity::Warning } else { Severity::Note },
                format!(
                    "The ionic strength is {} mol/kg; EC is good to about {fair}, pH and saturation to about {last} mol/kg.",
                    significant(facts.ionic_strength_mol_per_kg, 2)
                ),
            )
            .remedy(if beyond { "Take EC and pH as rough, or thin it." } else { "Take EC as rough." })
            .source("own-choice"),
        );
    }
    for mineral in facts.supersaturated {
        found.push(precipitate(mineral));
    }
}

fn precipitate(mineral: &Supersaturated) -> Finding {
    let when = if mineral.only_aired { " after days in air" } else { " in the finished tank" };
    let index = fixed(mineral.index, 1);
    if mineral.slow {
        return Finding::note(
            Code::WillPrecipitate,
            format!(
                "{} is above saturation{when} (index {index}), as in almost every nutrient solution above pH 6; it \
                 forms slowly, and brushite is the one to watch.",
                mineral.mineral
            ),
        )
        .source("phreeqc-3.8-dat");
    }
    Finding::warning(
        Code::WillPrecipitate,
        format!("{} may fall out{when}: its saturation index is {index} then, over 0.", mineral.mineral),
    )
    .remedy(
        match mineral.mineral.as_str() {
            "gypsum" => "Less sulfate or less calcium, from the salt that brings most of it.",
            "calcite" => "Less alkalinity in the water, or in the days after a lower pH, by the meter.",
            "brushite" | "struvite" => "Lower pH, less phosphate, and calcium or magnesium last and well diluted.",
            "iron(III) phosphate" => "A chelate in place of the iron salt.",
            _ => "Lower pH, or less of its salts.",
        }
        .to_owned(),
    )
    .source("phreeqc-3.8-dat")
}

/// How much of a base would reach a pH.
#[derive(Debug, Clone, PartialEq)]
pub struct BaseWanted {
    /// Its id.
    pub salt: String,
    /// Its name.
    pub name: String,
    /// How much of it, g.
    pub grams: f64,
    /// True for one that burns, or of whose hazards nothing is known.
    pub burns: bool,
}

/// What a wish for a pH came to.
#[derive(Debug, Clone, PartialEq)]
pub struct AcidFacts {
    /// Names of the acids: of those that go in, or of all where none does.
    pub names: Vec<String>,
    /// The wish.
    pub wished_ph: f64,
    /// pH of the mix on the basis of the wish.
    pub ph: f64,
    /// False when the mix is at or under the wish without acid.
    pub needs_acid: bool,
    /// False when the wish is not met.
    pub met: bool,
    /// A base on the shelf that would reach the wish from below.
    pub base: Option<BaseWanted>,
    /// Nutrients of which the acids alone bring more than is asked: symbol, what they bring, target; ppm.
    pub brings: Vec<(String, f64, f64)>,
}

/// True for a pH that is over its wish by more than is told of.
#[must_use]
pub fn is_over_wish(ph: f64, wish: f64) -> bool {
    ph - wish > PH_NEAR
}

/// Findings of the wish for a pH.
#[must_use]
pub fn of_acid(facts: &AcidFacts) -> Vec<Finding> {
    let mut found = Vec::new();
    let acids = facts.names.join(" and ");
    if !facts.needs_acid && facts.wished_ph - facts.ph > PH_NEAR {
        found.push(
            Finding::note(
                Code::PhUnderWish,
                format!(
                    "pH is {} without acid, under the wished {}; no acid goes in.",
                    fixed(facts.ph, 1),
                    fixed(facts.wished_ph, 1)
                ),
            )
            .remedy(match &facts.base {
                Some(BaseWanted { name, grams, burns, .. }) => format!(
                    "About {} g of {name} would reach it: {}, dissolved apart in plenty of cold water, in small \
                     parts, measuring in between. Either this, or the base that another line tells, never both. It never goes in by \
                     itself.",
                    significant(*grams, 2),
                    worn(*burns)
                ),
                None => "There is no base on the shelf; tap water with alkalinity would bring it up.".to_owned(),
            })
            .adds(facts.base.iter().map(|base| base.salt.clone())),
        );
    }
    if facts.needs_acid && !facts.met {
        found.push(
            Finding::warning(
                Code::PhWishNotMet,
                format!(
                    "{acids} cannot bring the pH to {} within the limits and what is on hand; it stays at {}.",
                    fixed(facts.wished_ph, 1),
                    fixed(facts.ph, 1)
                ),
            )
            .remedy("Another acid, or rain water blended in."),
        );
    }
    for (symbol, brings, target) in &facts.brings {
        found.push(
            Finding::warning(
                Code::AcidBringsMore,
                format!(
                    "{acids} alone {} {} ppm {symbol}, more than the {} ppm asked.",
                    if facts.names.len() > 1 { "bring" } else { "brings" },
                    ppm_text(*brings),
                    ppm_text(*target)
                ),
            )
            .remedy("Another acid, or rain water blended in, so that there is less alkalinity to meet."),
        );
    }
    found
}

/// What speaks against a way of several: stops, and a wish for a pH that is not met. What is too little to weigh and stays out
/// is counted in the misfit already.
pub fn speaks_against(findings: &[Finding]) -> impl Iterator<Item = &Finding> {
    let stops = |finding: &Finding| finding.severity == Severity::Stop && finding.code != Code::CannotBeWeighed;
    findings.iter().filter(move |finding| stops(finding) || finding.code == Code::PhWishNotMet)
}

fn leaves_open(product: &str, meq_per_l: f64) -> String {
    format!(
        "{product} does not state its alkalinity, which leaves that of the tank open by {} meq/L either way",
        significant(meq_per_l, 2)
    )
}

/// A product of the mix leaves the pH open.
#[must_use]
pub fn ph_unknown(product: &str, meq_per_l: f64) -> Finding {
    Finding::note(Code::PhUnknown, format!("{}: its pH is not told.", leaves_open(product, meq_per_l))).remedy(
        "Go by the pH meter. Labels seldom state it; where the maker tells it, put it as `alkalinity_per_kg` into its [[product]].",
    )
}

/// An acid or base of the grower's own leaves open how much alkalinity it has.
///
/// * `likely_eq_per_kg`: what its label leaves over
/// * `named`: true where `[acid]` names it
#[must_use]
pub fn alkalinity_not_stated(name: &str, kind: Kind, likely_eq_per_kg: f64, named: bool) -> Finding {
    let because = if named { "by [acid]" } else { "by what its label leaves over" };
    Finding::new(
        Code::AlkalinityNotStated,
        if named { Severity::Warning } else { Severity::Note },
        format!(
            "{name} is {} {because}, and does not state its alkalinity: no dose of it can be reckoned, and none goes in.",
            called(kind)
        ),
    )
    .remedy(state_it(kind, likely_eq_per_kg, named))
}

/// The same of one that is in a tank all the same: nobody knows how sour or caustic that is.
///
/// * `likely_eq_per_kg`, `named`: as above
/// * `meq_per_l`: what it leaves open
#[must_use]
pub fn alkalinity_open(name: &str, kind: Kind, likely_eq_per_kg: f64, named: bool, meq_per_l: f64) -> Finding {
    Finding::stop(
        Code::AlkalinityNotStated,
        format!(
            "{name} is {}, and does not state its alkalinity, which leaves that of the tank open by {} meq/L either way: no pH is told, and \
             it may burn. Goggles and gloves on; no hand and no plant goes in before the pH is read.",
            called(kind),
            significant(meq_per_l, 2)
        ),
    )
    .remedy(state_it(kind, likely_eq_per_kg, named))
}

fn called(kind: Kind) -> &'static str {
    match kind {
        Kind::Acid => "an acid",
        Kind::Silicate => "a silicate",
        _ => "a base",
    }
}

/// What to state, and what it likely is.
fn state_it(kind: Kind, likely_eq_per_kg: f64, named: bool) -> String {
    let is_likely = likely_eq_per_kg.abs() >= LIKELY_EQ_PER_KG && (likely_eq_per_kg < 0.0) == (kind == Kind::Acid);
    let likely = if is_likely {
        format!(": by its label, were nothing else in it, about \"{} eq\"", significant(likely_eq_per_kg, 2))
    } else {
        " (eq of acid that a kilogram takes up, below 0 for an acid)".to_owned()
    };
    let salt = if named { "" } else { "; \"0 eq\" of a salt whose label omits a part" };
    format!("State `alkalinity_per_kg` in its [[product]]{likely}{salt}.")
}

/// An acid was named, but a product of the mix leaves the pH open.
///
/// * `acids`: ids of those that are left to the meter
/// * `burns`: true where one of them burns, or of its hazards nothing is known
#[must_use]
pub fn acid_not_reckoned(acids: &[String], burns: bool, product: &str, meq_per_l: f64) -> Finding {
    Finding::warning(
        Code::PhUnknown,
        format!("{}: no dose of acid can be reckoned and none goes in.", leaves_open(product, meq_per_l)),
    )
    .remedy(format!(
        "Name an acid by its per cent, as `nitric-acid-38`; of another product state `alkalinity_per_kg`, or add acid thinned, \
         never neat, {}, in small parts with a meter.",
        worn(burns)
    ))
    .adds(acids.iter().cloned())
}

/// The alkalinity of what a tank holds is not known, so no acid can be dosed into it.
///
/// * `acids`, `burns`: as above
#[must_use]
pub fn acid_not_reckoned_in_tank(acids: &[String], burns: bool) -> Finding {
    Finding::warning(
        Code::PhUnknown,
        "The alkalinity of what the tank holds is not known, so no dose of acid can be reckoned and none goes in.",
    )
    .remedy(format!(
        "Add acid last of all, thinned to under 5 % first and never neat, {}, in small parts with a meter.",
        worn(burns)
    ))
    .adds(acids.iter().cloned())
}

/// No acid is dosed, and the salts, as they can be measured, miss the wish.
#[must_use]
pub fn salts_in_steps(wished_ph: f64, ph: f64) -> Option<Finding> {
    let remedy = if ph > wished_ph {
        "Bring it down with thinned acid in small parts, by the meter; or a finer scale, or a larger volume mixed at once."
    } else {
        "Weigh with a finer scale, or mix a larger volume at once, and go by the meter."
    };
    ((ph - wished_ph).abs() > PH_NEAR).then(|| {
        Finding::warning(
            Code::PhInSteps,
            format!(
                "As the salts can be measured here the pH comes to {}, not to the wished {}; before rounding it needs no acid.",
                fixed(ph, 1),
                fixed(wished_ph, 1)
            ),
        )
        .remedy(remedy)
    })
}

/// The dose of acid, as its measure shows it, misses the wish.
#[must_use]
pub fn acid_in_steps(wished_ph: f64, ph: f64) -> Option<Finding> {
    ((ph - wished_ph).abs() > PH_NEAR).then(|| {
        Finding::warning(
            Code::PhInSteps,
            format!(
                "As it can be measured here, in glass or polypropylene, the acid brings the pH to {}, not to \
                 the wished {}.",
                fixed(ph, 1),
                fixed(wished_ph, 1)
            ),
        )
        .remedy(
            "A weaker ready-diluted acid or a finer measure of glass or polypropylene; or stop short of the \
             dose and go on by the meter.",
        )
    })
}
