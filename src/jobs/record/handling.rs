//! Handling: the cautions of the salts at hand, and where the numbers come from.

use crate::bench::Bench;
use crate::catalogue::{Catalogue, Source};
use crate::jobs::record::{Change, Dose, General, Handling, HelperRecord, MixRecord, ToMind};
use crate::matter::Salt;
use crate::safety::{self, Finding, Severity, spent_ph};
use crate::solution::{Acidity, PhSpan};

/// What is to be minded with salts.
pub(crate) struct Minded<'b> {
    /// The salts: those handled, then those that a finding names to be added.
    pub(crate) salts: Vec<&'b Salt>,
    /// Handling of each.
    pub(crate) handling: Vec<Handling>,
    /// Cautions, most severe first.
    pub(crate) cautions: Vec<General>,
    /// Ids of the sources of the cautions.
    pub(crate) sources: Vec<String>,
}

/// What is to be minded with the salts that are handled and with every acid and base that a finding names to be added: what a
/// report tells to pour it warns of.
///
/// * `spent_ph`: pH, as far as it is known, of solution that will be poured away
pub(crate) fn minded<'b>(bench: &'b Bench, handled: Vec<&'b Salt>, findings: &[&Finding], spent_ph: &[f64]) -> Minded<'b> {
    let mut salts = handled;
    let told_to_add = findings.iter().flat_map(|finding| &finding.adds);
    for salt in salts_of(bench, told_to_add.map(String::as_str)) {
        if !salts.iter().any(|other| other.id == salt.id) {
            salts.push(salt);
        }
    }
    let (handling, cautions, sources) = handling(bench, &salts, spent_ph);
    Minded { salts, handling, cautions, sources }
}

/// The salts of these ids.
pub(crate) fn salts_of<'b, 'i>(bench: &'b Bench, ids: impl IntoIterator<Item = &'i str>) -> Vec<&'b Salt> {
    let mut salts: Vec<&Salt> = Vec::new();
    for salt in ids.into_iter().filter_map(|id| bench.catalogue.find(id)).map(|id| bench.catalogue.salt(id)) {
        if !salts.iter().any(|other| other.id == salt.id) {
            salts.push(salt);
        }
    }
    salts
}

/// Ids of the salts that are measured out, by themselves or in bottles.
pub(crate) fn weighed_out<'r>(doses: &'r [Dose], helpers: &'r [HelperRecord]) -> impl Iterator<Item = &'r str> {
    let bottled = helpers.iter().flat_map(|helper| &helper.made_of).filter_map(|of| of.salt.as_deref());
    doses.iter().filter_map(Dose::salt).chain(bottled)
}

impl MixRecord {
    /// pH by which what the tank holds is judged before it is poured away.
    pub(crate) fn spent_ph(&self) -> Vec<f64> {
        let span = |ph: Option<f64>, low: Option<f64>, high: Option<f64>| Some(PhSpan { ph: ph?, low: low?, high: high? });
        let fresh = span(self.ph, self.ph_low, self.ph_high);
        let aired = span(self.ph_aired, self.ph_aired_low, self.ph_aired_high);
        fresh.zip(aired).map_or_else(Vec::new, |(fresh, aired)| spent_ph(&Acidity { fresh, aired }))
    }

    /// Minds salts beside those that it measures out itself, and what findings beside its own name to be added.
    ///
    /// * `spent`: pH of what is poured away beside it
    pub(crate) fn mind(&mut self, bench: &Bench, also: &[&str], beside: &[Finding], spent: &[f64]) {
        let weighed: Vec<&str> = weighed_out(&self.doses, &self.helpers).collect();
        // in the order in which they stand already
        let told = self.handling.iter().map(|one| one.salt.as_str()).filter(|id| weighed.contains(id));
        let salts = salts_of(bench, told.chain(weighed.iter().copied()).chain(also.iter().copied()));
        let named: Vec<&Finding> = self.findings.iter().chain(beside).collect();
        let spent = [&self.spent_ph()[..], spent].concat();
        let Minded { salts, handling, cautions, sources: ids } = minded(bench, salts, &named, &spent);
        let before: Vec<String> = self.sources.iter().map(|source| source.id.clone()).chain(ids).collect();
        self.sources = sources(bench, &salts, &self.findings, &before);
        (self.handling, self.cautions) = (handling, cautions);
    }
}

impl ToMind {
    /// Of a mix of which only the doses and what stops it are told.
    ///
    /// * `spent_ph`: pH, as far as it is known, of what is in the tank
    pub(crate) fn of(bench: &Bench, mix: &MixRecord, spent_ph: &[f64]) -> Self {
        let stops: Vec<&Finding> = mix.findings.iter().filter(|finding| finding.severity == Severity::Stop).collect();
        let weighed = salts_of(bench, weighed_out(&mix.doses, &mix.helpers));
        let Minded { handling, cautions, .. } = minded(bench, weighed, &stops, spent_ph);
        Self { stops: stops.into_iter().cloned().collect(), handling, cautions }
    }

    /// Of two mixes on one page: what concerns both is told once.
    pub(crate) fn of_both(bench: &Bench, first: &MixRecord, second: &MixRecord) -> Self {
        let both = [first, second];
        let told: Vec<&Finding> = both.iter().flat_map(|mix| &mix.findings).collect();
        let salts = salts_of(bench, both.iter().flat_map(|mix| weighed_out(&mix.doses, &mix.helpers)));
        let Minded { handling, cautions, .. } = minded(bench, salts, &told, &both.map(MixRecord::spent_ph).concat());
        let stops = told.into_iter().filter(|finding| finding.severity == Severity::Stop);
        Self { stops: stops.cloned().collect(), handling, cautions }
    }
}

/// Handling of every salt, the cautions of this mix, and the ids of their sources.
fn handling(bench: &Bench, salts: &[&Salt], spent_ph: &[f64]) -> (Vec<Handling>, Vec<General>, Vec<String>) {
    let catalogue = &bench.catalogue;
    let advice = safety::advice_for(catalogue.cautions(), salts, catalogue.ions());
    let handling = salts
        .iter()
        .enumerate()
        .map(|(at, salt)| {
            let mut words: Vec<String> = advice
                .iter()
                .filter(|advice| advice.salts.contains(&at))
                .map(|advice| advice.caution.text.clone())
                .collect();
            words.extend(salt.law.notes.iter().cloned());
            let mut sources = salt.hazards.sources.clone();
            sources.extend(salt.law.source.clone());
            sources.dedup();
            Handling {
                salt: salt.id.clone(),
                name: salt.name.clone(),
                signal_word: salt.hazards.signal_word.clone(),
                stricter_word: salt.hazards.stricter_word.clone(),
                hazards: salt.hazards.statements.clone(),
                stricter: salt.hazards.stricter.clone(),
                advice: words,
                source: if sources.is_empty() { "own-label".to_owned() } else { sources.join(", ") },
            }
        })
        .collect();
    let general = safety::general_cautions(catalogue.cautions(), spent_ph);
    let mut cautions: Vec<General> = advice
        .iter()
        .map(|advice| General {
            heading: advice.caution.heading.clone(),
            text: advice.caution.text.clone(),
            salts: advice.salts.iter().map(|&at| salts[at].id.clone()).collect(),
            wear: advice.caution.wear.clone(),
        })
        .collect();
    cautions.extend(laws(salts));
    cautions.extend(general.iter().map(|caution| General {
        heading: caution.heading.clone(),
        text: caution.text.clone(),
        salts: Vec::new(),
        wear: caution.wear.clone(),
    }));
    let sources = advice.iter().map(|advice| advice.caution).chain(general).map(|caution| caution.source.clone()).collect();
    (handling, cautions, sources)
}

/// The public rules that concern salts, each once, with the salts that it concerns.
fn laws(salts: &[&Salt]) -> impl Iterator<Item = General> {
    let mut laws: Vec<(&[String], Vec<String>)> = Vec::new();
    for salt in salts.iter().filter(|salt| !salt.law.notes.is_empty()) {
        match laws.iter_mut().find(|(notes, _)| *notes == salt.law.notes) {
            Some((_, ids)) => ids.push(salt.id.clone()),
            None => laws.push((&salt.law.notes, vec![salt.id.clone()])),
        }
    }
    let law = |(notes, salts): (&[String], Vec<String>)| General {
        heading: "Law".to_owned(),
        text: notes.join(" "),
        salts,
        wear: Vec::new(),
    };
    laws.into_iter().map(law)
}

/// What is and is not shown about the way in which a formula differs from growth, with the id of its source.
pub(crate) fn evidence(catalogue: &Catalogue, changes: &[Change]) -> Option<(String, String)> {
    let pushes = |change: &Change| match change.element.as_str() {
        "N" => change.to_ppm < change.from_ppm,
        "P" => change.to_ppm > change.from_ppm,
        _ => false,
    };
    let shown = catalogue.cautions().iter().find(|caution| caution.pushed)?;
    changes.iter().any(pushes).then(|| (shown.text.clone(), shown.source.clone()))
}

/// Every source that this report rests on, in the order of the register.
pub(crate) fn sources(bench: &Bench, salts: &[&Salt], findings: &[Finding], cautions: &[String]) -> Vec<Source> {
    let catalogue = &bench.catalogue;
    let ids: Vec<&str> = salts
        .iter()
        .flat_map(|salt| salt.sources.iter().chain(&salt.hazards.sources))
        .map(String::as_str)
        .chain(findings.iter().filter_map(|finding| finding.source.as_deref()))
        .chain(cautions.iter().map(String::as_str))
        .chain(["ciaaw-abridged-2021", "phreeqc-3.8-dat", "minteq-v4"])
        .collect();
    catalogue.sources().iter().filter(|source| ids.contains(&source.id.as_str())).cloned().collect()
}
