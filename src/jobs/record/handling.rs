//! Handling: the cautions of the salts at hand, and where the numbers come from.

use crate::bench::Bench;
use crate::catalogue::{Catalogue, Source};
use crate::jobs::record::{Change, General, Handling};
use crate::matter::Salt;
use crate::safety;

/// Handling of every salt, the cautions of this mix, and the ids of their sources.
pub(crate) fn handling(bench: &Bench, salts: &[&Salt]) -> (Vec<Handling>, Vec<General>, Vec<String>) {
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
            if salt.own_product {
                words.push("A product of your own: its label and safety data sheet say what to watch.".to_owned());
            }
            let mut sources = salt.hazards.sources.clone();
            sources.extend(salt.law.source.clone());
            sources.dedup();
            Handling {
                salt: salt.id.clone(),
                name: salt.name.clone(),
                signal_word: salt.hazards.signal_word.clone(),
                hazards: salt.hazards.statements.clone(),
                stricter: salt.hazards.stricter.clone(),
                advice: words,
                source: if sources.is_empty() { "own-label".to_owned() } else { sources.join(", ") },
            }
        })
        .collect();
    let general = safety::general_cautions(catalogue.cautions());
    let mut cautions: Vec<General> = advice
        .iter()
        .map(|advice| General {
            heading: advice.caution.heading.clone(),
            text: advice.caution.text.clone(),
            salts: advice.salts.iter().map(|&at| salts[at].id.clone()).collect(),
        })
        .collect();
    cautions.extend(laws(salts));
    cautions.extend(general.iter().map(|caution| General {
        heading: caution.heading.clone(),
        text: caution.text.clone(),
        salts: Vec::new(),
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
    laws.into_iter().map(|(notes, salts)| General { heading: "Law".to_owned(), text: notes.join(" "), salts })
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
pub(crate) fn sources(bench: &Bench, salts: &[&Salt], findings: &[safety::Finding], cautions: &[String]) -> Vec<Source> {
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
