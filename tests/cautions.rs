//! Cautions, hazard statements and law notes: each applies to the salts that the design's list names, none promises
//! anything, and every salt's signal word and pictograms follow from its H statements.

use std::collections::BTreeSet;

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::catalogue::Catalogue;
use bloomsalt::jobs::{self, MixOptions, MixRecord};
use bloomsalt::matter::{Kind, Salt};
use bloomsalt::safety::{advice_for, general_cautions};

fn salts() -> &'static [Salt] {
    Catalogue::standard().salts()
}

fn salt(id: &str) -> &'static Salt {
    let table = Catalogue::standard();
    table.salt(table.find(id).unwrap_or_else(|| panic!("no salt `{id}`")))
}

fn releases(salt: &Salt, symbols: &[&str]) -> bool {
    let ions = Catalogue::standard().ions();
    salt.composition.ions.iter().any(|(ion, mol)| *mol > 0.0 && symbols.contains(&ions.get(*ion).symbol.as_str()))
}

fn has(salt: &Salt, codes: &[&str]) -> bool {
    salt.hazards.statements.iter().any(|code| codes.contains(&code.as_str()))
}

/// Headings of the cautions for one salt, in the order in which they are printed.
fn headings(salt: &Salt) -> Vec<&'static str> {
    let table = Catalogue::standard();
    advice_for(table.cautions(), &[salt], table.ions()).iter().map(|advice| advice.caution.heading.as_str()).collect()
}

/// A mix of the starter bench.
fn starter(formula: &str) -> MixRecord {
    jobs::mix(&Bench::starter(), formula, &MixOptions::default()).expect("the starter mixes")
}

/// Every salt for which `rule` holds is given the caution.
fn applies(heading: &str, what: &str, rule: impl Fn(&Salt) -> bool) {
    let concerned: Vec<&Salt> = salts().iter().filter(|salt| rule(salt)).collect();
    assert!(!concerned.is_empty(), "{what}: the rule concerns no salt of the table");
    for salt in concerned {
        assert!(headings(salt).contains(&heading), "{} ({what}) is not told of: {heading}", salt.id);
    }
}

/// The caution stays away from `ids`: a warning on everything is read by nobody.
fn spares(heading: &str, ids: &[&str]) {
    for id in ids {
        assert!(!headings(salt(id)).contains(&heading), "{id} is told of: {heading}");
    }
}

const ACIDS: fn(&Salt) -> bool = |salt| salt.kind == Kind::Acid;
const AMMONIUM: fn(&Salt) -> bool = |salt| releases(salt, &["NH4+"]);

#[test]
fn eyes() {
    applies("Eyes", "H314 or H318", |salt| has(salt, &["H314", "H318"]));
    for id in ["calcium-nitrate-tetrahydrate", "copper-sulfate-pentahydrate", "zinc-sulfate-heptahydrate"] {
        applies("Eyes", "named", |salt| salt.id == id);
    }
    for id in ["citric-acid", "nitric-acid-60", "sulfuric-acid-35", "phosphoric-acid-85", "potassium-hydroxide"] {
        applies("Eyes", "named", |salt| salt.id == id);
    }
    applies("Irritates", "H319", |salt| has(salt, &["H319"]));
    spares("Eyes", &["potassium-nitrate", "potassium-sulfate", "boric-acid"]);
}

#[test]
fn dust() {
    applies("Dust", "manganese salt", |salt| releases(salt, &["Mn+2"]));
    applies("Dust", "chelate", |salt| salt.kind == Kind::Chelate);
    applies("Dust", "boron", |salt| ["boric-acid", "borax"].contains(&salt.id.as_str()));
    spares("Dust", &["potassium-nitrate", "magnesium-sulfate-heptahydrate"]);
}

#[test]
fn pregnancy() {
    // the stricter source, the EU's, is taken
    applies("Pregnancy", "boron", |salt| ["boric-acid", "borax"].contains(&salt.id.as_str()));
    applies("Pregnancy", "H360 or H361", |salt| {
        salt.hazards.statements.iter().any(|code| code.starts_with("H360") || code.starts_with("H361"))
    });
    spares("Pregnancy", &["zinc-sulfate-heptahydrate", "iron-edta"]);
}

#[test]
fn fire() {
    // every nitrate is treated as an oxidiser, whether or not its row has H272
    applies("Fire", "nitrate", |salt| releases(salt, &["NO3-"]));
    applies("Fire", "oxidiser", |salt| has(salt, &["H270", "H271", "H272"]));
    applies("Fire", "nitrate without H272", |salt| releases(salt, &["NO3-"]) && !has(salt, &["H272"]));
    spares("Fire", &["ammonium-sulfate", "urea", "potassium-sulfate", "phosphoric-acid-85"]);
}

#[test]
fn burns_and_fumes() {
    applies("Burns", "acid", ACIDS);
    applies("Burns", "base", |salt| salt.kind == Kind::Base);
    applies("Fumes", "H330 or H331", |salt| has(salt, &["H330", "H331"]));
    spares("Burns", &["potassium-nitrate", "boric-acid"]);
    let burns = Catalogue::standard().cautions().iter().find(|caution| caution.heading == "Burns");
    assert!(burns.is_some_and(|burns| burns.text.contains("into water") && burns.text.contains("never the reverse")));
}

#[test]
fn never_together() {
    applies("Bleach", "acid", ACIDS);
    applies("Bleach", "ammonium salt", AMMONIUM);
    applies("Bleach", "urea", |salt| releases(salt, &["CO(NH2)2"]));
    applies("Ammonia", "ammonium salt", AMMONIUM);
    applies("Urea", "urea", |salt| salt.id == "urea");
    applies("Clouding", "calcium salt", |salt| releases(salt, &["Ca+2"]));
    spares("Bleach", &["potassium-nitrate", "calcium-nitrate-tetrahydrate"]);
    spares("Ammonia", &["urea", "potassium-nitrate", "nitric-acid-60"]);
    // what the table says of single salts
    let apart = |id: &str, word: &str| salt(id).keep_apart.iter().any(|entry| entry.contains(word));
    assert!(apart("nitric-acid-60", "urea") && apart("urea", "nitric acid"));
    assert!(salts().iter().filter(|salt| ACIDS(salt)).all(|salt| apart(&salt.id, "bleach")));
    assert!(
        salts().iter().filter(|salt| AMMONIUM(salt)).all(|salt| apart(&salt.id, "bases") && apart(&salt.id, "silicate"))
    );
}

#[test]
fn heat() {
    applies("Heat", "named", |salt| ["calcium-chloride-anhydrous", "potassium-hydroxide"].contains(&salt.id.as_str()));
    spares("Heat", &["calcium-chloride-dihydrate", "potassium-nitrate"]);
}

#[test]
fn water_life() {
    let metals = ["Cu+2", "Zn+2", "Mn+2", "CuEDTA-2", "ZnEDTA-2", "MnEDTA-2"];
    for metal in metals {
        applies("Water life", metal, |salt| releases(salt, &[metal]));
    }
    applies("Water life", "classified", |salt| has(salt, &["H400", "H410", "H411", "H412"]));
    spares("Water life", &["potassium-nitrate", "magnesium-sulfate-heptahydrate", "iron-sulfate-heptahydrate"]);
}

#[test]
fn swallowed() {
    applies("Poison", "H300 or H301", |salt| has(salt, &["H300", "H301"]));
    applies("Swallowed", "H302", |salt| has(salt, &["H302"]));
    spares("Swallowed", &["potassium-sulfate"]);
}

#[test]
fn what_always_applies_says_people_use_and_last_the_supplier() {
    let general = general_cautions(Catalogue::standard().cautions());
    let text = |heading: &str| &general.iter().find(|caution| caution.heading == heading).expect(heading).text;
    for word in ["Children and pets", "drink bottle", "labelled", "Wash hands", "Unplug"] {
        assert!(text("People").contains(word), "{word}");
    }
    assert!(text("Use").contains("ornamental") && text("Use").contains("food crops"));
    assert!(text("Spent solution").contains("Nitrogen and phosphorus"));
    let last = general.last().expect("there are general cautions");
    assert_eq!(last.heading, "Last word");
    for word in ["safety data sheet", "local rules", "no substitute", "licensed practice"] {
        assert!(last.text.contains(word), "{word}");
    }
    assert!(Catalogue::standard().cautions().iter().all(|caution| caution.rank <= last.rank), "nothing ranks after it");
}

#[test]
fn cautions_come_by_rank_and_rank_is_unique() {
    let table = Catalogue::standard();
    let ranks: Vec<u8> = table.cautions().iter().map(|caution| caution.rank).collect();
    assert_eq!(ranks.iter().collect::<BTreeSet<_>>().len(), ranks.len(), "{ranks:?}");
    let all: Vec<&Salt> = salts().iter().collect();
    let advice = advice_for(table.cautions(), &all, table.ions());
    assert!(advice.is_sorted_by_key(|advice| advice.caution.rank));
    assert!(general_cautions(table.cautions()).is_sorted_by_key(|caution| caution.rank));
    assert_eq!(advice_for(table.cautions(), &[], table.ions()).len(), 0);
}

#[test]
fn every_caution_resolves_its_source_and_can_be_reached() {
    let table = Catalogue::standard();
    let known: BTreeSet<&str> = table.ions().rows().iter().map(|ion| ion.symbol.as_str()).collect();
    for caution in table.cautions() {
        let id = &caution.id;
        assert!(table.source(&caution.source).is_some(), "{id}: source {}", caution.source);
        assert!(caution.text.ends_with('.') && !caution.heading.is_empty(), "{id}: {}", caution.text);
        let reached = salts().iter().any(|salt| headings(salt).contains(&caution.heading.as_str()));
        assert!(reached != caution.always, "{id}: either always or for some salt");
        assert!(caution.salts.iter().all(|id| table.find(id).is_some()), "{id}: an unknown salt");
        assert!(caution.species.iter().all(|symbol| known.contains(symbol.as_str())), "{id}: an unknown species");
    }
}

#[test]
fn a_mix_carries_the_cautions_of_its_salts_and_the_last_word() {
    let cautions = Catalogue::standard().cautions();
    let mut text = STARTER.to_owned();
    text = text.replace("monoammonium-phosphate = {}", "monoammonium-phosphate = {}\nurea = {}\nmanganese-edta = {}");
    text = text.replace("ammonium_share = { max = 0.15 }", "ammonium_share = { min = 0.10, max = 0.15 }");
    let bench = Bench::parse(&text, "test").expect("it parses");
    let with_ammonium = jobs::mix(&bench, "growth", &MixOptions::default()).expect("it mixes");
    assert!(with_ammonium.cautions.iter().any(|caution| caution.heading == "Bleach"));
    for mix in [starter("growth"), starter("push"), starter("weak"), with_ammonium] {
        let used: Vec<&str> = mix.doses.iter().filter_map(|dose| dose.salt.as_deref()).collect();
        assert_eq!(mix.cautions.last().map(|caution| caution.heading.as_str()), Some("Last word"));
        let handled: Vec<&str> = mix.handling.iter().map(|handling| handling.salt.as_str()).collect();
        assert_eq!(handled, used, "every salt is handled, in the order in which it goes in");
        // ranks rise; law notes stand between the salts' own cautions and the general ones
        let rank = |heading: &str| cautions.iter().find(|caution| caution.heading == heading).map_or(15, |c| c.rank);
        assert!(mix.cautions.is_sorted_by_key(|caution| rank(&caution.heading)), "{:#?}", mix.cautions);
        for id in &used {
            for heading in headings(salt(id)) {
                let told = mix.cautions.iter().any(|c| c.heading == heading && c.salts.iter().any(|other| other == id));
                assert!(told, "{id}: {heading} is missing from the mix");
            }
            let handling = mix.handling.iter().find(|handling| handling.salt == **id).expect("handled");
            let notes = &salt(id).law.notes;
            assert!(notes.iter().all(|note| handling.advice.contains(note)), "{id}: law");
            assert!(notes.iter().all(|note| mix.cautions.iter().any(|c| c.heading == "Law" && c.text == *note)));
            assert_eq!(handling.hazards, salt(id).hazards.statements);
            assert_eq!(handling.signal_word, salt(id).hazards.signal_word);
            for source in handling.source.split(", ") {
                assert!(mix.sources.iter().any(|listed| listed.id == source), "{id}: {source} is not listed");
            }
        }
        for id in mix.findings.iter().filter_map(|finding| finding.source.as_deref()) {
            assert!(mix.sources.iter().any(|listed| listed.id == id), "{id} of a finding is not listed");
        }
    }
}

#[test]
fn law_names_what_is_restricted() {
    let restricted = ["ammonium-nitrate", "phosphoric-acid-75", "phosphoric-acid-85", "nitric-acid-60", "sulfuric-acid-35"];
    let flagged: Vec<&str> = salts().iter().filter(|salt| salt.law.restricted).map(|salt| salt.id.as_str()).collect();
    assert_eq!(flagged, restricted);
    for id in restricted {
        assert!(!salt(id).law.notes.is_empty(), "{id}");
    }
    for id in ["ammonium-nitrate", "nitric-acid-60", "sulfuric-acid-35"] {
        let notes = salt(id).law.notes.join(" ");
        assert!(notes.contains("2019/1148") && notes.contains("2023/63"), "{id}: {notes}");
    }
    // reported by the seller: the nitrates of Annex II
    for id in ["calcium-nitrate-tetrahydrate", "potassium-nitrate", "sodium-nitrate"] {
        assert!(salt(id).law.notes.join(" ").contains("Annex II"), "{id}");
    }
    for salt in salts() {
        let source = salt.law.source.as_deref().and_then(|id| Catalogue::standard().source(id));
        assert_eq!(source.is_some(), !salt.law.notes.is_empty(), "{}: law and its source", salt.id);
        assert!(salt.law.notes.iter().all(|note| note.ends_with('.')), "{}", salt.id);
    }
}

/// Hazard statements of each pictogram (GHS, from memory), without the precedence of one picture over another.
const PICTURED: [(&str, &[&str]); 5] = [
    ("GHS03", &["H270", "H271", "H272"]),
    ("GHS05", &["H290", "H314", "H318"]),
    ("GHS06", &["H300", "H301", "H310", "H311", "H330", "H331"]),
    ("GHS08", &["H334", "H340", "H341", "H350", "H351", "H360FD", "H361d", "H370", "H371", "H372", "H373"]),
    ("GHS09", &["H400", "H410", "H411"]),
];

#[test]
fn signal_words_follow_from_the_statements() {
    // GHS, from memory; H411 and H412 alone carry no signal word, nor do EU statements
    let danger = ["H300", "H301", "H330", "H331", "H314", "H318", "H340", "H350", "H370", "H372"];
    for salt in salts() {
        let codes = &salt.hazards.statements;
        let expected = if has(salt, &danger) || codes.iter().any(|code| code.starts_with("H360")) {
            Some("Danger")
        } else if codes.iter().any(|code| code.starts_with('H') && !["H411", "H412"].contains(&code.as_str())) {
            Some("Warning")
        } else {
            None
        };
        assert_eq!(salt.hazards.signal_word.as_deref(), expected, "{}: {codes:?}", salt.id);
    }
}

#[test]
fn pictograms_follow_from_the_statements() {
    for salt in salts() {
        let mut expected: Vec<&str> =
            PICTURED.iter().filter(|(_, codes)| has(salt, codes)).map(|(pictogram, _)| *pictogram).collect();
        // the exclamation mark gives way to the skull, and to the corrosion picture of skin and eyes (GHS, from memory)
        let harmful = has(salt, &["H302", "H312", "H317", "H332", "H335", "H336"]);
        let irritant = has(salt, &["H315", "H319"]) && !has(salt, &["H314", "H318"]);
        if (harmful || irritant) && !expected.contains(&"GHS06") {
            expected.push("GHS07");
        }
        expected.sort_unstable();
        assert_eq!(salt.hazards.pictograms, expected, "{}: {:?}", salt.id, salt.hazards.statements);
        for source in &salt.hazards.sources {
            assert!(Catalogue::standard().source(source).is_some(), "{}: {source}", salt.id);
        }
    }
}

#[test]
fn no_text_promises_anything() {
    let table = Catalogue::standard();
    let mut texts: Vec<String> = Vec::new();
    texts.extend(table.cautions().iter().flat_map(|caution| [caution.heading.clone(), caution.text.clone()]));
    for salt in salts() {
        texts.extend(salt.keep_apart.iter().chain(&salt.law.notes).cloned());
        let statements = salt.hazards.statements.iter();
        texts.extend(statements.map(|code| table.statement(code).expect("it has words").text.clone()));
        let pictograms = salt.hazards.pictograms.iter();
        texts.extend(pictograms.map(|code| table.pictogram(code).expect("it has a meaning").means.clone()));
    }
    for formula in ["growth", "push", "weak"] {
        let mix = starter(formula);
        texts.extend(mix.findings.into_iter().flat_map(|finding| [finding.message, finding.remedy.unwrap_or_default()]));
        texts.extend(mix.handling.into_iter().flat_map(|handling| handling.advice));
        texts.extend(mix.order.into_iter().map(|step| step.text));
    }
    let promises = ["safe", "safely", "guarantee", "guarantees", "guaranteed", "harmless"];
    for text in texts {
        let lower = text.to_lowercase();
        let mut words = lower.split(|c: char| !c.is_alphanumeric());
        assert!(!words.any(|word| promises.contains(&word)), "promises: {text}");
        assert!(!lower.contains("bloom will") && !lower.contains("always works"), "promises: {text}");
        assert!(lower.matches("safety").count() == lower.matches("safety data sheet").count(), "{text}");
    }
}
