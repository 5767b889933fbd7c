//! What the rules of the findings look at in a tank, and what they find.

use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::day;

use super::Saturation;
use super::correction::correction;
use super::made::Made;
use super::reckoned::Reckoned;
use crate::bench::{Basis, Formula, Source, Wish};
use crate::catalogue::SaltId;
use crate::fit::Problem;
use crate::jobs::engine::ladder::finest;
use crate::matter::{Kind, NUTRIENTS, Nutrient, Salt, Water};
use crate::quantity::ppm_of;
use crate::safety::{self, Achieved, Code, EnteredWater, Facts, Finding, Stored, may_lose_its_metal};
use crate::tank::blend::contents;
use crate::tank::chemistry::{Mixture, ms_per_cm};
use crate::tank::instrument::smallest;
use crate::tank::parts::{Part, Parts};
use crate::tank::{Content, Tank, lacks_alkalinity};

/// Nitrogen without a form from so much of a gram on; less is rounding of a label.
const UNSPLIT: f64 = 1e-6;
/// A saturation index is known to about this: pH is known to 0.1 (own choice).
const SATURATION_EDGE: f64 = 0.1;

/// Nutrients of which something is known, with what the formula asks of them.
pub(super) fn achieved(made: &Made, reckoned: &Reckoned) -> Vec<Achieved> {
    let of = |nutrient| {
        let wish = made.formula.and_then(|formula| formula.wish(nutrient));
        let [target_ppm, min_ppm, max_ppm] = wish.map(Wish::in_ppm).unwrap_or_default();
        Achieved {
            nutrient,
            ppm: reckoned.ppm[nutrient],
            exact_ppm: reckoned.ppm_exact[nutrient],
            plus_minus_ppm: reckoned.plus_minus[nutrient],
            target_ppm,
            min_ppm,
            max_ppm,
        }
    };
    NUTRIENTS.into_iter().filter(|nutrient| !made.tank.before.not_known.contains(nutrient)).map(of).collect()
}

/// The growth formula, where the tank is held against another.
pub(super) fn growth<'a>(made: &Made<'a>) -> Option<&'a Formula> {
    made.tank.bench.formula("growth").filter(|growth| made.formula.is_some_and(|formula| growth.name != formula.name))
}

/// How long the formula may be fed, days.
pub(super) fn hold_at_most_days(made: &Made) -> Option<f64> {
    made.formula.and_then(|formula| formula.hold_at_most).map(|hold| hold.get::<day>())
}

/// Everything that is found in the tank, most severe first.
pub(super) fn findings(made: &Made, reckoned: &Reckoned, shown: &[usize], achieved: &[Achieved]) -> Vec<Finding> {
    let Made { tank, formula, parts, .. } = made;
    let growth_ppm: Vec<(Nutrient, f64)> = growth(made)
        .map(|growth| growth.wishes.iter().filter_map(|wish| Some((wish.nutrient, ppm_of(wish.target?)))).collect())
        .unwrap_or_default();
    let correction = correction(made, reckoned);
    let mut findings = safety::findings(&Facts {
        nitrogen_target_ppm: formula.and_then(Formula::nitrogen_target).map(ppm_of),
        growth_nitrogen_ppm: growth(made).and_then(Formula::nitrogen_target).map(ppm_of),
        growth_ppm: &growth_ppm,
        hold_at_most_days: hold_at_most_days(made),
        achieved,
        ammonium_share: Problem::ammonium_share(&reckoned.ppm),
        ammonium_share_limits: formula.map(|formula| formula.ammonium_share).unwrap_or_default(),
        ec_ms_per_cm: reckoned.ec,
        ec_plus_minus_ms_per_cm: reckoned.ec_plus_minus,
        ec_limits_ms_per_cm: formula.map(|formula| formula.ec.map(ms_per_cm)).unwrap_or_default(),
        salts: &watched(made, shown, &reckoned.weighed),
        waters: &entered(made, reckoned),
        ph: reckoned.acidity,
        alkalinity_meq_per_l: reckoned.alkalinity,
        correction: correction.as_ref(),
        temperature_c: tank.bench.tank.temperature.get::<degree_celsius>(),
        topped_up: !tank.is_fresh && tank.turned.is_none_or(|turned| turned.drain_l <= 0.0),
        substances: &substances(made, reckoned),
        ionic_strength_mol_per_kg: reckoned.fresh.fresh.ionic_strength_mol_per_kg,
        supersaturated: &supersaturated(&reckoned.saturation),
        bottled: &bottled(made),
    });
    findings.extend(made.findings.iter().cloned());
    findings.extend(raised_to_floor(made, shown));
    findings.extend(forms_unknown(made, reckoned));
    findings.extend(omitted(made, achieved));
    let growth_target = growth(made).and_then(Formula::nitrogen_target).map(ppm_of);
    let nitrogen = achieved.iter().find(|one| one.nutrient == Nutrient::N);
    if let (Some(growth_ppm), Some(nitrogen)) = (growth_target, nitrogen) {
        findings.extend(safety::push_not_lean(nitrogen, growth_ppm));
    }
    if let Some((at, meq_per_l)) = reckoned.mixture.leaves_alkalinity_open(&reckoned.weighed) {
        let told = findings.iter().any(|finding| finding.code == Code::PhUnknown);
        let open = alkalinity_open(made, reckoned, meq_per_l);
        findings.extend(open.or_else(|| (!told).then(|| safety::ph_unknown(parts.name(at), meq_per_l))));
    }
    findings.extend(exchanging(made, reckoned));
    findings.extend(acid_measured_out(made, reckoned));
    findings.sort_by_key(|finding| finding.severity);
    findings
}

/// An acid or a base in the tank, by itself or in a bottle, that leaves open how much alkalinity it has.
fn alkalinity_open(made: &Made, reckoned: &Reckoned, meq_per_l: f64) -> Option<Finding> {
    let bench = made.tank.bench;
    let there = (0..made.parts.list.len()).filter(|&at| reckoned.weighed[at] > 0.0);
    let mut salts = there.flat_map(|at| made.parts.contents(at).salts).map(|(salt, _)| bench.catalogue.salt(salt));
    let salt = salts.find(|salt| salt.reacts() && !salt.alkalinity_known())?;
    let likely = bench.catalogue.left_over_eq_per_kg(&salt.composition);
    let named = bench.acid.iter().flat_map(|acid| &acid.salts).any(|id| *id == salt.id);
    Some(safety::alkalinity_open(&salt.name, salt.kind, likely, named, meq_per_l))
}

/// Bottles of which something goes in, that hold a chelate beside bare metals.
fn exchanging(made: &Made, reckoned: &Reckoned) -> Vec<Finding> {
    let (parts, catalogue) = (made.parts, &made.tank.bench.catalogue);
    let of = |at: usize| {
        let salts: Vec<&Salt> = parts.contents(at).salts.into_iter().map(|(salt, _)| catalogue.salt(salt)).collect();
        let loses = |one: &&&Salt| salts.iter().any(|other| loses_to(one, other));
        let takes = |one: &&&Salt| salts.iter().any(|other| loses_to(other, one));
        let names = |of: &dyn Fn(&&&Salt) -> bool| -> Vec<&str> {
            salts.iter().filter(|salt| of(salt)).map(|salt| salt.name.as_str()).collect()
        };
        let (chelates, bare) = (names(&loses), names(&takes));
        (!chelates.is_empty()).then(|| safety::chelate_exchanges(parts.name(at), &chelates, &bare))
    };
    let bottles = (0..parts.list.len()).filter(|&at| matches!(parts.list[at], Part::Helper(_)));
    bottles.filter(|&at| reckoned.weighed[at] > 0.0).filter_map(of).collect()
}

fn loses_to(chelate: &Salt, bare: &Salt) -> bool {
    let [chelate, bare] = [chelate, bare].map(|salt| Stored::new(salt.kind, &salt.composition, salt.own_product));
    may_lose_its_metal(chelate, bare)
}

/// What the rules look at of everything shown.
fn watched(made: &Made, shown: &[usize], weighed: &[f64]) -> Vec<safety::Measured> {
    let Made { tank, parts, exact_per_l, measured, .. } = made;
    let (bench, litres) = (tank.bench, tank.litres());
    let celsius = bench.tank.temperature.get::<degree_celsius>();
    let watch = |at: usize| {
        let solubility = parts.salt(at).and_then(|salt| salt.solubility.as_ref());
        let nothing_measures_it = !measured[at].is_trusted && made.bottle_of(at).is_none();
        safety::Measured {
            id: parts.id(at).to_owned(),
            name: parts.name(at).to_owned(),
            amount_exact: exact_per_l[at] * litres,
            bottle: matches!(parts.list[at], Part::Helper(_)),
            acid: parts.kind(at) == Kind::Acid,
            too_small_for: nothing_measures_it.then(|| finest(bench, parts.density(at))),
            could_be_measured: !parts.too_small(at, exact_per_l[at] * litres)
                && parts.most(at).is_none_or(|most| most >= smallest(bench, parts.density(at))),
            g_per_l: weighed[at],
            soluble_g_per_l: solubility.map(|solubility| solubility.at_least_g_per_l(celsius)),
            solubility_source: solubility.map(|solubility| solubility.source.clone()),
        }
    };
    shown.iter().map(|&at| watch(at)).collect()
}

/// What is too little to measure and comes in a new bottle.
fn bottled(made: &Made) -> Vec<safety::Bottled> {
    let litres = made.tank.litres();
    let parts = made.parts;
    made.proposed
        .iter()
        .filter(|one| !one.serves.is_empty())
        .map(|one| safety::Bottled {
            bottle: parts.helpers[one.helper].id.clone(),
            too_little: one
                .serves
                .iter()
                .map(|&at| {
                    let finest = finest(made.tank.bench, parts.density(at));
                    (parts.name(at).to_owned(), made.exact_per_l[at] * litres, finest)
                })
                .collect(),
        })
        .collect()
}

/// Everything that is measured out, by itself or from a bottle.
fn substances(made: &Made, reckoned: &Reckoned) -> Vec<safety::Substance> {
    let catalogue = &made.tank.bench.catalogue;
    let mut salts: Vec<SaltId> = Vec::new();
    for at in (0..made.parts.list.len()).filter(|&at| reckoned.weighed[at] > 0.0) {
        let new = made.parts.contents(at).salts.into_iter().map(|(salt, _)| salt);
        salts.extend(new.filter(|salt| !salts.contains(salt)).collect::<Vec<_>>());
    }
    let of = |salt: &SaltId| safety::Substance::of(catalogue.salt(*salt), catalogue.ions(), catalogue.salts());
    salts.iter().map(of).collect()
}

/// Doses that the instruments made larger than they are asked: what is too small to be trusted, and no bottle brings it.
fn raised_to_floor(made: &Made, shown: &[usize]) -> Vec<Finding> {
    let (parts, litres) = (made.parts, made.tank.litres());
    let of = |at: &usize| {
        let (exact, amount) = (made.exact_per_l[*at] * litres, made.measured[*at].amount);
        let raised = parts.too_small(*at, exact) && amount > exact && made.measured[*at].is_trusted;
        let finest = finest(parts.bench, parts.density(*at));
        raised.then(|| safety::raised_to_floor(parts.name(*at), exact, amount, &finest))
    };
    shown.iter().filter_map(of).collect()
}

/// Labels that say nothing of sulfur, where the tank lacks it.
fn omitted(made: &Made, achieved: &[Achieved]) -> Option<Finding> {
    let parts = made.parts;
    let labelled = |at: &usize| {
        made.measured[*at].amount > 0.0 && parts.salt(*at).is_some_and(|salt| salt.own_product && salt.kind == Kind::Salt)
    };
    let labels: Vec<usize> = (0..parts.list.len()).filter(labelled).collect();
    // one label that states it leaves no doubt of the others
    if labels.iter().any(|&at| parts.composition(at).nutrients[Nutrient::S] > 0.0) {
        return None;
    }
    let names: Vec<&str> = labels.iter().map(|&at| parts.name(at)).collect();
    safety::label_omits_sulfur(&names, achieved.iter().find(|one| one.nutrient == Nutrient::S)?)
}

/// Products whose nitrogen has no stated form, where that meets the limit of the ammonium share.
fn forms_unknown(made: &Made, reckoned: &Reckoned) -> Option<Finding> {
    let parts = made.parts;
    let mut unsplit: Vec<(&str, f64)> = Vec::new();
    for (salt, _) in (0..parts.list.len()).flat_map(|at| parts.contents(at).salts) {
        let salt = parts.bench.catalogue.salt(salt);
        let nutrients = &salt.composition.nutrients;
        if nutrients.unsplit_nitrogen() > UNSPLIT && unsplit.iter().all(|(name, _)| *name != salt.name) {
            unsplit.push((&salt.name, 100.0 * nutrients[Nutrient::N]));
        }
    }
    let limit = made.formula.and_then(|formula| formula.ammonium_share.max);
    // before rounding too: what the limit has kept out altogether is not in the tank
    let shares = [reckoned.ppm, reckoned.ppm_exact].map(|ppm| Problem::ammonium_share(&ppm));
    // where it has kept out every nitrogen there is no share left to tell
    let asks = limit.is_some() && made.formula.is_some_and(|formula| formula.nitrogen_target().is_some());
    let kept_out = (asks && shares.iter().all(Option::is_none)).then_some((0.0, 1.0));
    let shares = [shares[0], shares[1], kept_out];
    shares.into_iter().flatten().find_map(|share| safety::nitrogen_form_unknown(&unsplit, share, limit))
}

/// The waters of a fresh tank as the bench file has them: of several each by itself, since a blend hides what is wrong with one.
fn entered<'a>(made: &Made<'a>, reckoned: &Reckoned) -> Vec<EnteredWater<'a>> {
    let bench = made.tank.bench;
    if !made.tank.is_fresh {
        return Vec::new();
    }
    let lacks = |water: &Water| lacks_alkalinity(&bench.catalogue, water);
    if bench.waters.is_empty() {
        let ec_ms_per_cm = reckoned.mixture.ec(&vec![0.0; made.parts.list.len()]);
        return vec![EnteredWater { id: None, water: &bench.water, ec_ms_per_cm, lacks_meq_per_l: lacks(&bench.water) }];
    }
    let nothing = Parts::new(bench, Vec::new());
    let ec = |content| Mixture::new(&Tank::full_of(bench, content), &nothing).ec(&[]);
    let contents = contents(bench).unwrap_or_default().into_iter();
    let of = |(source, content): (&'a Source, Content)| EnteredWater {
        id: Some(&source.id),
        water: &source.water,
        ec_ms_per_cm: ec(content),
        lacks_meq_per_l: lacks(&source.water),
    };
    bench.waters.iter().zip(contents).map(of).collect()
}

/// What is left of the wish for a pH once the acid is measured out, or is not.
fn acid_measured_out(made: &Made, reckoned: &Reckoned) -> Vec<Finding> {
    let mut found: Vec<Finding> = Vec::new();
    for finding in made.acid.iter().filter_map(|acid| one_acid_measured_out(made, reckoned, acid)) {
        // of several, the same is said once
        if !found.contains(&finding) {
            found.push(finding);
        }
    }
    found
}

fn one_acid_measured_out(made: &Made, reckoned: &Reckoned, acid: &super::AcidRecord) -> Option<Finding> {
    let ph = if acid.basis == Basis::Fresh { reckoned.fresh.fresh.ph } else { reckoned.aired.ph };
    if acid.dose()? <= 0.0 {
        // left to another acid, or under the wish before rounding: that is told already
        let others = made.acid.iter().any(|other| other.dose().is_none_or(|amount| amount > 0.0));
        let told = ph < acid.target_ph && made.findings.iter().any(|finding| finding.code == Code::PhUnderWish);
        return if others || told { None } else { safety::salts_in_steps(acid.target_ph, ph) };
    }
    let at = (0..made.parts.list.len()).find(|&at| made.parts.id(at) == acid.salt)?;
    if made.measured[made.bottle_of(at).unwrap_or(at)].is_trusted {
        safety::acid_in_steps(acid.target_ph, ph)
    } else {
        safety::acid_stays_out(made.parts.name(at), acid.target_ph, ph)
    }
}

/// Minerals above saturation, fresh or aired, by their larger index.
fn supersaturated(saturation: &[Saturation]) -> Vec<safety::Supersaturated> {
    saturation
        .iter()
        .filter_map(|s| {
            let (fresh, aired) = (s.index.unwrap_or(f64::NEG_INFINITY), s.index_aired.unwrap_or(f64::NEG_INFINITY));
            (fresh.max(aired) > SATURATION_EDGE).then(|| safety::Supersaturated {
                mineral: s.mineral.clone(),
                index: fresh.max(aired),
                only_aired: fresh <= SATURATION_EDGE,
                slow: s.slow,
            })
        })
        .collect()
}
