//! Making and handling: the order of mixing, the cautions of the salts at hand, and where the numbers come from.

use crate::bench::Bench;
use crate::catalogue::Source;
use crate::jobs::record::{General, Handling, Step};
use crate::matter::{Kind, Nutrient, Nutrients, Salt};
use crate::quantity::{Volume, volume_text};
use crate::safety;
use crate::tank::Tank;
use crate::tank::parts::Parts;

/// A tank is filled to this share before the salts go in.
const FILL_FIRST: f64 = 0.85;

/// Where in the order of mixing something of this kind that brings these nutrients belongs.
fn mixing_rank(kind: Kind, nutrients: &Nutrients) -> u8 {
    let brings = |nutrient| nutrients[nutrient] > 0.0;
    let trace = [Nutrient::Fe, Nutrient::Mn, Nutrient::Zn, Nutrient::B, Nutrient::Cu, Nutrient::Mo].into_iter().any(brings);
    match kind {
        Kind::Silicate => 0,
        Kind::Acid | Kind::Base => 4,
        _ if trace => 3,
        _ if brings(Nutrient::Ca) => 2,
        _ => 1,
    }
}

/// Where in the order of mixing a part belongs: a bottle with calcium in it after those that calcium takes out, any other
/// with the first of its salts.
pub(crate) fn rank_of(parts: &Parts, at: usize) -> u8 {
    let contents = parts.contents(at);
    let of = |salt: &Salt| mixing_rank(salt.kind, &salt.composition.nutrients);
    let salts = || contents.salts.iter().map(|(salt, _)| parts.bench.catalogue.salt(*salt));
    let calcium = salts().filter(|salt| salt.composition.nutrients[Nutrient::Ca] > 0.0).map(of).max();
    calcium.or_else(|| salts().map(of).min()).unwrap_or(1)
}

/// Something that goes into the tank.
pub(crate) struct StirredIn<'n> {
    /// Where in the order it belongs.
    pub(crate) rank: u8,
    pub(crate) name: &'n str,
    /// True for what is poured from a dilute bottle.
    pub(crate) bottle: bool,
}

/// How to make the solution of what is stirred in, of which bottles and other liquids take up a volume of their own.
pub(crate) fn order(tank: &Tank, stirred_in: &[StirredIn], liquids: Volume) -> Vec<Step> {
    let of_kind = |rank: u8, bottle: bool| {
        let of = |one: &&StirredIn| one.rank == rank && one.bottle == bottle;
        let names: Vec<&str> = stirred_in.iter().filter(of).map(|one| one.name).collect();
        (!names.is_empty()).then(|| names.join(", "))
    };
    let named = |rank: u8| of_kind(rank, false);
    let poured = |rank: u8| of_kind(rank, true).map(|names| format!("Pour in from the bottles: {names}. Stir."));
    let volume = tank.volume;
    let room = volume - liquids;
    let first = if room < volume * FILL_FIRST { room } else { volume * FILL_FIRST };
    let mut steps = vec![format!("Fill the tank to about {} with water.", volume_text(first))];
    steps.extend(named(0).map(|names| format!("Silicate first, well diluted, and stir: {names}.")));
    steps.extend(poured(0));
    steps.extend(named(1).map(|names| format!("Dissolve each before the next: {names}.")));
    steps.extend(poured(1));
    steps.extend(named(2).map(|names| format!("Calcium last of the large ones, dissolved apart and diluted: {names}.")));
    steps.extend(poured(2));
    steps.extend(named(3).map(|names| format!("Trace elements, each dissolved in a cup of water first: {names}.")));
    steps.extend(poured(3));
    steps.push(match named(4).or_else(|| of_kind(4, true).map(|names| format!("from the bottle {names}"))) {
        Some(names) => format!("Last the pH, in small parts, stirring in between: {names}."),
        None => "Last read the pH; where it is out of range, correct it in small parts, stirring in between.".to_owned(),
    });
    steps.push(format!("Top up to {}, stir, and read EC and pH.", volume_text(volume)));
    steps.into_iter().map(|text| Step { text }).collect()
}

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
    let mut laws: Vec<(String, Vec<String>)> = Vec::new();
    for salt in salts {
        for note in &salt.law.notes {
            match laws.iter_mut().find(|(text, _)| text == note) {
                Some((_, ids)) => ids.push(salt.id.clone()),
                None => laws.push((note.clone(), vec![salt.id.clone()])),
            }
        }
    }
    cautions.extend(laws.into_iter().map(|(text, salts)| General { heading: "Law".to_owned(), text, salts }));
    cautions.extend(general.iter().map(|caution| General {
        heading: caution.heading.clone(),
        text: caution.text.clone(),
        salts: Vec::new(),
    }));
    let sources = advice.iter().map(|advice| advice.caution).chain(general).map(|caution| caution.source.clone()).collect();
    (handling, cautions, sources)
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
