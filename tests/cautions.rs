//! Cautions, hazard statements and law notes: each applies to the salts that the design's list names, none promises
//! anything, and every salt's signal word and pictograms follow from its H statements.

use std::collections::BTreeSet;

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::catalogue::Catalogue;
use bloomsalt::jobs::{self, Act, MixOptions, MixRecord};
use bloomsalt::matter::{Kind, Salt};
use bloomsalt::report;
use bloomsalt::safety::{Code, advice_for, general_cautions};

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

/// All that a caution says.
fn text(id: &str) -> String {
    let caution = Catalogue::standard().cautions().iter().find(|caution| caution.id == id).expect(id);
    format!("{} {}", caution.text, caution.more.as_deref().unwrap_or_default())
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
    applies("Eyes", "H318", |salt| has(salt, &["H318"]) && !has(salt, &["H314"]));
    for id in ["calcium-nitrate-tetrahydrate", "copper-sulfate-pentahydrate", "zinc-sulfate-heptahydrate"] {
        applies("Eyes", "named", |salt| salt.id == id);
    }
    applies("Eyes", "named", |salt| salt.id == "citric-acid");
    for id in ["nitric-acid-60", "sulfuric-acid-35", "phosphoric-acid-85", "potassium-hydroxide"] {
        applies("Burns", "named", |salt| salt.id == id);
    }
    applies("Skin", "H319", |salt| has(salt, &["H319"]));
    applies("Base in the eye", "named", |salt| {
        ["potassium-hydroxide", "potassium-hydroxide-10"].contains(&salt.id.as_str())
    });
    spares("Base in the eye", &["potassium-bicarbonate", "phosphoric-acid-85"]);
    assert!(
        text("base-in-the-eye").contains("emergency number")
            && text("eyes").contains("15 minutes")
            && text("eyes").contains("not glasses")
    );
    spares("Eyes", &["potassium-nitrate", "potassium-sulfate", "boric-acid"]);
}

/// Of what burns only the stronger first aid is told: never 15 minutes beside "on and on".
#[test]
fn what_burns_is_told_no_milder_first_aid() {
    for salt in salts().iter().filter(|salt| has(salt, &["H314"])) {
        for mild in ["Eyes", "Skin"] {
            assert!(!headings(salt).contains(&mild), "{} is told of: {mild}", salt.id);
        }
        assert!(headings(salt).contains(&"Burns"), "{}", salt.id);
    }
    for id in ["burns", "eyes", "irritates"] {
        assert!(text(id).to_lowercase().contains("lenses out"), "{id}: P305+P351+P338");
    }
    assert!(text("burns").contains("on and on") && !text("burns").contains("15"));
    // in a report as of one salt
    let mix = soured(60.0, HARD, "nitric-acid-60");
    let told = |heading: &str| &mix.cautions.iter().find(|one| one.heading == heading).expect(heading).salts;
    assert!(told("Burns").contains(&"nitric-acid-60".to_owned()) && !told("Eyes").contains(&"nitric-acid-60".to_owned()));
}

/// A concentrated acid is taken up before it is thinned, a diluted one thinned at once; bases have a line too.
#[test]
fn spills() {
    let said = |salt: &Salt| -> Vec<String> {
        let table = Catalogue::standard();
        let all = advice_for(table.cautions(), &[salt], table.ions());
        all.into_iter().filter(|one| one.caution.heading.ends_with(" spill")).map(|one| one.caution.id.clone()).collect()
    };
    for acid in salts().iter().filter(|salt| ACIDS(salt)) {
        let strong = has(acid, &["H314", "H331"]);
        assert_eq!(said(acid), [if strong { "strong-acid-spill" } else { "acid-spill" }], "{}", acid.id);
    }
    for base in salts().iter().filter(|salt| salt.kind == Kind::Base) {
        let irritates = has(base, &["H314", "H315"]);
        assert_eq!(said(base).concat(), if irritates { "base-spill" } else { "" }, "{}", base.id);
    }
    for word in [
        "air the room",
        "dry sand or bicarbonate",
        "from the edge",
        "then much water",
        "clear of drains",
        "Never water into",
    ] {
        assert!(text("strong-acid-spill").contains(word), "{word}");
    }
}

#[test]
fn what_burns_is_locked_up() {
    for word in ["locked up (P405", "upright in a tray", "acids apart from bases"] {
        assert!(text("burns").contains(word), "{word}");
    }
}

#[test]
fn dust() {
    applies("Dust", "manganese salt", |salt| releases(salt, &["Mn+2"]));
    applies("Dust", "chelate", |salt| salt.kind == Kind::Chelate);
    applies("Dust", "boron", |salt| ["boric-acid", "borax"].contains(&salt.id.as_str()));
    spares("Dust", &["potassium-nitrate", "magnesium-sulfate-heptahydrate"]);
    assert!(text("dust").contains("FFP2") && text("dust").contains("N95"));
}

/// A caution speaks of the salt that it is printed for: the blood of ammonium nitrate is no dust of manganese.
#[test]
fn blood() {
    applies("Blood", "H371", |salt| has(salt, &["H371"]));
    spares("Dust", &["ammonium-nitrate"]);
    spares("Blood", &["manganese-sulfate-monohydrate", "zinc-sulfate-heptahydrate"]);
}

/// The EU's class stands first, what only a stricter source says is marked, and weighs nothing in the signal word.
#[test]
fn a_stricter_source_stands_beside_the_class_of_the_eu() {
    for (id, class, stricter, word) in [
        ("calcium-nitrate-tetrahydrate", "H302 H318", "H272", Some("Danger")),
        ("citric-acid", "H319 H335", "H318", Some("Warning")),
        ("potassium-nitrate", "H272", "H302 H319", Some("Warning")),
        ("iron-dtpa", "", "H361d H373", None),
        ("boric-acid", "H360FD", "H319", Some("Danger")),
        ("nitric-acid-60", "H290 H314 H331 EUH071", "", Some("Danger")),
    ] {
        let hazards = &salt(id).hazards;
        let all = [class, stricter].into_iter().flat_map(str::split_whitespace).collect::<Vec<_>>();
        assert_eq!(hazards.statements, all, "{id}");
        assert_eq!(hazards.stricter.join(" "), stricter, "{id}");
        assert_eq!(hazards.signal_word.as_deref(), word, "{id}");
    }
    assert!(salt("iron-dtpa").hazards.note.as_ref().is_some_and(|note| note.contains("2017") && note.contains("free acid")));
    assert!(
        salt("iron-dtpa").hazards.note.as_ref().is_some_and(|note| note.contains("H360D") && note.contains("to be checked"))
    );
    let growth = starter("growth");
    let calcium = growth.handling.iter().find(|one| one.salt == "calcium-nitrate-tetrahydrate").expect("handled");
    assert_eq!(calcium.stricter, ["H272"]);
    assert!(report::mix(&growth, false).contains("H302 H318 H272*"));
}

#[test]
fn fertility() {
    // the stricter source, the EU's, is taken
    applies("Unborn, fertility", "boron", |salt| ["boric-acid", "borax"].contains(&salt.id.as_str()));
    applies("Unborn, fertility", "H360 or H361", |salt| {
        salt.hazards.statements.iter().any(|code| code.starts_with("H360") || code.starts_with("H361"))
    });
    spares("Unborn, fertility", &["zinc-sulfate-heptahydrate", "iron-edta"]);
    // H360F is not for women alone
    let (short, long) = (text("fertility"), "fertility of men and women");
    assert!(short.contains("men's too: not in pregnancy") && short.contains(long), "{short}");
}

#[test]
fn fire() {
    for word in ["clean dry metal or plastic bin", "rinse what it soaked"] {
        assert!(text("dry-spill").contains(word), "{word}");
    }
    // a liquid is not swept up
    applies("Spill", "solid nitrate", |salt| releases(salt, &["NO3-"]) && salt.density_kg_per_l.is_none());
    spares("Spill", &["nitric-acid-60", "potassium-sulfate"]);
    // every nitrate is treated as an oxidiser, whether or not its row has H272
    applies("Fire", "nitrate", |salt| releases(salt, &["NO3-"]));
    applies("Fire", "oxidiser", |salt| has(salt, &["H270", "H271", "H272"]));
    applies("Fire", "nitrate without H272", |salt| releases(salt, &["NO3-"]) && !has(salt, &["H272"]));
    spares("Fire", &["ammonium-sulfate", "urea", "potassium-sulfate", "phosphoric-acid-85"]);
}

#[test]
fn burns_and_fumes() {
    // only what burns is said to
    applies("Burns", "H314", |salt| has(salt, &["H314"]));
    spares("Burns", &["potassium-nitrate", "boric-acid", "phosphoric-acid-10", "acetic-acid", "potassium-bicarbonate"]);
    applies("Acid", "acid", ACIDS);
    applies("Base", "base", |salt| salt.kind == Kind::Base);
    applies("Fumes", "H330 or H331", |salt| has(salt, &["H330", "H331"]));
    spares("Acid", &["potassium-nitrate", "potassium-hydroxide"]);
    for word in ["Into water", "never the reverse", "under 5 %", "stands acid", "glass or polypropylene", "Never neat"] {
        assert!(text("acid").contains(word), "{word}");
    }
}

/// A caution that calls for goggles and gloves: an own acid's sheet is not known, so it is taken to burn.
#[test]
fn an_acid_of_ones_own_is_taken_to_burn() {
    let product = "[[product]]\nid = \"ph-minus\"\ndensity = \"1.3 kg/L\"\nanalysis = { P2O5 = 30 }\nalkalinity_per_kg = \"-4.3 eq\"\n";
    let bench = Bench::parse(&format!("{STARTER}\n{product}"), "test").expect("it parses");
    let salt = bench.catalogue.salt(bench.catalogue.find("ph-minus").expect("there"));
    let advice = advice_for(bench.catalogue.cautions(), &[salt], bench.catalogue.ions());
    assert!(advice.iter().any(|one| one.caution.heading == "Burns"), "{:?}", salt.kind);
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
    // from both sides
    for chloride in salts().iter().filter(|salt| releases(salt, &["Cl-"])) {
        assert!(apart(&chloride.id, "sulfuric and nitric acid"), "{}", chloride.id);
    }
    assert!(apart("nitric-acid-60", "chlorides") && apart("sulfuric-acid-35", "chlorides"));
    for id in ["calcium-nitrate-tetrahydrate", "ammonium-calcium-nitrate-decahydrate", "ammonium-nitrate"] {
        assert!(apart(id, "urea (damp mixture)"), "{id}");
    }
    assert!(apart("urea", "calcium nitrate") && apart("urea", "ammonium nitrate"));
    assert!(salts().iter().filter(|salt| ACIDS(salt)).all(|salt| apart(&salt.id, "silicate")));
    assert!(apart("potassium-silicate-solution", "acids"));
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
    spares("Swallowed", &["potassium-sulfate", "sodium-molybdate-dihydrate"]);
    applies("Swallowed", "boron", |salt| ["boric-acid", "borax"].contains(&salt.id.as_str()));
    for id in ["boric-acid", "borax"] {
        let note = salt(id).hazards.note.as_deref().expect(id);
        assert!(note.contains("small children") && note.contains("poison centre") && note.contains("P308+P313"), "{note}");
    }
    let growth = starter("growth");
    let swallowed = growth.cautions.iter().find(|one| one.heading == "Swallowed").expect("told");
    assert!(swallowed.salts.iter().any(|salt| salt == "boric-acid"), "{:?}", swallowed.salts);
    for word in ["Rinse the mouth", "no vomiting", "do not induce vomiting", "poison centre", "label at hand"] {
        assert!(text("swallowed").contains(word), "{word}");
    }
}

#[test]
fn what_always_applies_says_people_use_and_last_the_supplier() {
    let general = general_cautions(Catalogue::standard().cautions(), &[]);
    let text = |heading: &str| &general.iter().find(|caution| caution.heading == heading).expect(heading).text;
    for word in [
        "Children, pets, food away",
        "wash hands",
        "unplug",
        "never cup or drink bottle",
        "content, strength, date, hazards",
    ] {
        assert!(text("People").contains(word), "{word}");
    }
    assert!(text("Use").contains("Ornamentals") && text("Use").contains("food crops"));
    for word in ["Thinned", "ornamentals", "not to food", "drains", "streams"] {
        assert!(text("Old solution").contains(word), "{word}");
    }
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
    assert!(general_cautions(table.cautions(), &[]).is_sorted_by_key(|caution| caution.rank));
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
        let spent = [caution.spent_under.map(|ph| ph - 0.1), caution.spent_over.map(|ph| ph + 0.1)];
        for ph in spent.into_iter().flatten() {
            let ids: Vec<&str> = general_cautions(table.cautions(), &[ph]).iter().map(|one| one.id.as_str()).collect();
            assert!(ids.contains(&id.as_str()), "{id} at pH {ph}");
        }
        // of products of the grower's own none is in the table
        if caution.pushed || caution.own || spent.iter().any(Option::is_some) {
            continue;
        }
        let reached = salts().iter().any(|salt| headings(salt).contains(&caution.heading.as_str()));
        assert!(reached != caution.always, "{id}: either always or for some salt");
        assert!(caution.salts.iter().all(|id| table.find(id).is_some()), "{id}: an unknown salt");
        let is_known = |id: &String| table.cautions().iter().any(|other| other.id == *id);
        assert!(caution.gives_way_to.iter().all(is_known), "{id}: gives way to what is not there");
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
    for mix in [starter("growth"), starter("push"), starter("lean"), starter("weak"), with_ammonium] {
        let used: Vec<&str> = mix.doses.iter().filter_map(|dose| dose.salt()).collect();
        assert_eq!(mix.cautions.last().map(|caution| caution.heading.as_str()), Some("Last word"));
        let handled: Vec<&str> = mix.handling.iter().map(|handling| handling.salt.as_str()).collect();
        // a push in rain water names the base that lifts its pH
        let named: Vec<&str> = ["potassium-bicarbonate"].into_iter().filter(|_| handled.len() > used.len()).collect();
        assert_eq!(handled, [&used[..], &named].concat(), "every salt is handled, in the order in which it goes in");
        // ranks rise; law notes stand between the salts' own cautions and the general ones
        let rank = |heading: &str| cautions.iter().find(|caution| caution.heading == heading).map_or(25, |c| c.rank);
        assert!(mix.cautions.is_sorted_by_key(|caution| rank(&caution.heading)), "{:#?}", mix.cautions);
        for id in &used {
            for heading in headings(salt(id)) {
                let told = mix.cautions.iter().any(|c| c.heading == heading && c.salts.iter().any(|other| other == id));
                assert!(told, "{id}: {heading} is missing from the mix");
            }
            let handling = mix.handling.iter().find(|handling| handling.salt == **id).expect("handled");
            let notes = &salt(id).law.notes;
            assert!(notes.iter().all(|note| handling.advice.contains(note)), "{id}: law");
            let law = |note: &String| mix.cautions.iter().any(|c| c.heading == "Law" && c.text.contains(note.as_str()));
            assert!(notes.iter().all(law), "{id}: law");
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
        assert!(notes.contains("have or use it") && !notes.contains("sold"), "{id}: who may have it: {notes}");
    }
    // reported by the seller: the nitrates of Annex II
    for id in [
        "calcium-nitrate-tetrahydrate",
        "ammonium-calcium-nitrate-decahydrate",
        "potassium-nitrate",
        "sodium-nitrate",
        "magnesium-nitrate-hexahydrate",
    ] {
        let notes = salt(id).law.notes.join(" ");
        assert!(notes.contains("Annex II") && notes.contains("private growers may have it"), "{id}: {notes}");
    }
    let base = |id: &str| salt(id).law.notes.join(" ");
    assert!(base("potassium-hydroxide").contains("Poisons Act 1972") && base("potassium-hydroxide").contains("from memory"));
    assert!(base("potassium-hydroxide-10").contains("17 %"));
    // who may be sold it, to who asks about it: the reports tell who may have it
    for id in ["boric-acid", "borax"] {
        let (notes, more) = (&salt(id).law.notes, salt(id).law.more.as_deref().unwrap_or_default());
        assert!(notes.is_empty() && more.contains("Annex XVII entry 30") && more.contains("from memory"), "{id}: {more}");
        assert!(more.contains("general public") && more.contains("Great Britain"), "{id}: {more}");
    }
    for salt in salts().iter().filter(|salt| !salt.law.notes.is_empty()) {
        let more = salt.law.more.as_deref().unwrap_or_default();
        assert!(more.contains("Northern Ireland"), "{}: {more}", salt.id);
    }
    for (id, percent) in
        [("nitric-acid-60", 3), ("sulfuric-acid-35", 15), ("phosphoric-acid-75", 70), ("phosphoric-acid-85", 70)]
    {
        let more = salt(id).law.more.as_deref().unwrap_or_default();
        assert!(more.contains(&format!("over {percent} % not sold to anyone under 18")), "{id}: {more}");
        assert!(more.contains("bought at a distance, delivered to a home"), "{id}: {more}");
    }
    for salt in salts() {
        let source = salt.law.source.as_deref().and_then(|id| Catalogue::standard().source(id));
        let says = !salt.law.notes.is_empty() || salt.law.more.is_some();
        assert_eq!(source.is_some(), says, "{}: law and its source", salt.id);
        assert!(salt.law.notes.iter().all(|note| note.ends_with('.')), "{}", salt.id);
        let unknown = salt.law.notes.last().is_none_or(|note| note == "Elsewhere: not known here.");
        assert!(unknown, "{}: what is not known is said", salt.id);
    }
}

/// Each caution once, and all of SAFETY on a screen.
#[test]
fn what_is_said_of_a_starter_mix_fits_on_a_screen() {
    for formula in ["growth", "push", "lean", "weak"] {
        let mix = starter(formula);
        let headings: BTreeSet<&str> = mix.cautions.iter().map(|caution| caution.heading.as_str()).collect();
        assert_eq!(headings.len(), mix.cautions.len(), "{formula}: one is said twice");
        let page = report::mix(&mix, false);
        let (_, safety) = page.split_once("SAFETY").expect("it is there");
        assert!(safety.trim_end().lines().count() <= 24, "{formula}:\n{safety}");
    }
}

/// What is and is not shown of pushing, where a formula pushes.
#[test]
fn extra_phosphorus_is_not_called_proven() {
    for formula in ["push", "lean", "weak"] {
        let evidence = starter(formula).evidence.expect(formula);
        for word in ["common practice", "not supported", "North Dakota State University Extension, 2023"] {
            assert!(evidence.contains(word), "{formula}: {word}");
        }
    }
    assert_eq!(starter("growth").evidence, None);
    let (growth, lean) = (starter("growth"), starter("lean"));
    let target = |mix: &MixRecord, of: &str| mix.elements.iter().find(|e| e.element == of).and_then(|e| e.target_ppm);
    assert_eq!(target(&lean, "P"), target(&growth, "P"), "nitrogen is cut alone");
    for (of, ppm) in [("N", 36.0), ("K", 150.0)] {
        assert!(target(&lean, of).is_some_and(|target| (target - ppm).abs() < 1e-9), "{of}");
    }
}

/// A bench with `water`, an acid and a tank.
fn soured(litres: f64, water: &str, acid: &str) -> MixRecord {
    let text = STARTER.replace("volume = \"60 L\"", &format!("volume = \"{litres} L\""));
    let text = text.replace("phosphoric-acid-10 = {}", &format!("{acid} = {{}}"));
    let text = format!("{text}\n[water]\n{water}\n[acid]\nsalt = \"{acid}\"\ntarget_pH = 5.8\n");
    jobs::mix(&Bench::parse(&text, "test").expect("it parses"), "push", &MixOptions::default()).expect("it mixes")
}

const HARD: &str = "Ca = 80\nMg = 10\nalkalinity = \"4 meq/L\"\npH = 7.6";
const SOFT: &str = "Ca = 20\nMg = 3\nalkalinity = \"1.2 meq/L\"\npH = 7.6";

/// Diluted to below 5 % by mass, with the water reckoned for the dose, before it goes near the tank: reckoned here again.
#[test]
fn an_acid_is_diluted_in_a_jug_before_it_goes_in() {
    for (acid, fraction) in [("phosphoric-acid-85", 0.85), ("phosphoric-acid-10", 0.10), ("nitric-acid-60", 0.60)] {
        for (litres, water) in [(60.0, HARD), (400.0, SOFT), (400.0, HARD)] {
            let mix = soured(litres, water, acid);
            let at = |act: Act| mix.order.iter().position(|step| step.act == act);
            let (dilute, dissolve, ph) = (at(Act::Dilute).expect(acid), at(Act::Dissolve).expect(acid), at(Act::SetPh));
            assert!(dilute < dissolve && ph > Some(dissolve), "{:?}", mix.order);
            let step = &mix.order[dilute];
            let dose = mix.doses.iter().find(|dose| dose.salt() == Some(acid)).expect(acid);
            let grams = dose.grams().expect("measured");
            let share = grams * fraction / (grams + 1e3 * step.litres.expect("reckoned"));
            assert!(share < 0.05 && (share > 0.02 || step.litres < Some(0.05)), "{acid}: {share}");
            assert!(step.text.contains("glass or polypropylene") && step.parts == [acid]);
            // what is meant for the full tank goes into the full tank: in a part of it the pH comes lower than told
            let full = at(Act::TopUp).expect("topped up");
            assert!(ph == Some(full + 1) && mix.order.len() == full + 2, "{:?}", mix.order);
            assert!(mix.order[full].text.contains("with room for the acid"), "{}", mix.order[full].text);
        }
    }
    // nothing to dilute where there is no acid
    assert!(starter("push").order.iter().all(|step| step.act != Act::Dilute));
}

/// In hard water most of the acid goes in before phosphate and calcium; in soft water none does.
#[test]
fn hard_water_is_soured_before_phosphate_and_calcium() {
    for litres in [60.0, 400.0] {
        let mix = soured(litres, HARD, "phosphoric-acid-85");
        let at = |act: Act| mix.order.iter().position(|step| step.act == act);
        let (dilute, sour, dissolve) = (at(Act::Dilute), at(Act::Sour), at(Act::Dissolve));
        assert!(dilute < sour && sour < dissolve && sour.is_some(), "{:?}", mix.order);
        let dose = mix.doses.iter().find(|dose| dose.salt() == Some("phosphoric-acid-85")).expect("dosed");
        let jug = mix.order[dilute.expect("diluted")].litres.expect("water") + dose.millilitres().expect("drawn up") * 1e-3;
        let share = mix.order[sour.expect("soured")].litres.expect("reckoned") / jug;
        assert!(share > 0.4 && share <= 0.8, "{share}");
        // four fifths of what the water takes leaves it a fifth of its alkalinity at the least: never under pH 5
        let moles = share * dose.grams().expect("weighed") * 0.85 / 97.994;
        assert!(moles * 1e3 <= 0.85 * 4.0 * 0.85 * litres, "{moles} mol into {litres} L");
        assert!(mix.order.iter().any(|step| step.act == Act::SetPh && step.text.contains("left in the jug")));
        assert_eq!(mix.order[sour.expect("soured")].text.contains("air the room"), litres > 200.0);
    }
    assert!(soured(400.0, SOFT, "phosphoric-acid-85").order.iter().all(|step| step.act != Act::Sour));
}

/// Hazard statements of each pictogram (GHS, from memory), without the precedence of one picture over another.
const PICTURED: [(&str, &[&str]); 5] = [
    ("GHS03", &["H270", "H271", "H272"]),
    ("GHS05", &["H290", "H314", "H318"]),
    ("GHS06", &["H300", "H301", "H310", "H311", "H330", "H331"]),
    ("GHS08", &["H334", "H340", "H341", "H350", "H351", "H360FD", "H361d", "H370", "H371", "H372", "H373"]),
    ("GHS09", &["H400", "H410", "H411"]),
];

/// The statements of the EU's class.
fn class(salt: &Salt) -> Vec<&str> {
    let of = |code: &&String| !salt.hazards.stricter.contains(code);
    salt.hazards.statements.iter().filter(of).map(String::as_str).collect()
}

#[test]
fn signal_words_follow_from_the_statements() {
    // GHS, from memory; H411 and H412 alone carry no signal word, nor do EU statements
    let danger = ["H300", "H301", "H330", "H331", "H314", "H318", "H340", "H350", "H370", "H372"];
    for salt in salts() {
        let codes = &class(salt);
        let expected = if codes.iter().any(|code| danger.contains(code)) || codes.iter().any(|code| code.starts_with("H360"))
        {
            Some("Danger")
        } else if codes.iter().any(|code| code.starts_with('H') && !["H411", "H412"].contains(code)) {
            Some("Warning")
        } else {
            None
        };
        assert_eq!(salt.hazards.signal_word.as_deref(), expected, "{}: {codes:?}", salt.id);
    }
}

/// What only a stricter source says has its word too, marked, and beside that of the EU's class where it says more.
#[test]
fn a_stricter_source_has_its_signal_word() {
    for (id, word) in [
        ("monopotassium-phosphate", Some("Warning")),
        ("iron-dtpa", Some("Warning")),
        ("urea", Some("Warning")),
        ("citric-acid", Some("Danger")),
        ("iron-eddha", None), // H412 carries none
        ("potassium-nitrate", None),
        ("boric-acid", None),
        ("potassium-sulfate", None),
    ] {
        assert_eq!(salt(id).hazards.stricter_word.as_deref(), word, "{id}");
    }
    let danger = ["H300", "H301", "H331", "H314", "H318", "H360FD", "H372"];
    for code in salts().iter().flat_map(|salt| &salt.hazards.statements) {
        let expected = match code.as_str() {
            "H411" | "H412" | "EUH071" => None,
            code if danger.contains(&code) => Some("Danger"),
            _ => Some("Warning"),
        };
        let statement = Catalogue::standard().statement(code).expect("it has words");
        assert_eq!(statement.signal_word.as_deref(), expected, "{code}");
    }
    let said = |with: &str| -> String {
        let bench = Bench::parse("[tank]\nvolume = \"60 L\"\n", "test").expect("valid");
        let salt = bench.catalogue.find(with).expect(with);
        let amount = bloomsalt::quantity::Amount::Mass(bloomsalt::quantity::gram(5.0));
        let checked = jobs::check(&bench, &[jobs::Added { salt, amount }], None).expect("checked");
        report::mix(&checked, false).replace("\n   ", " ")
    };
    assert!(said("monopotassium-phosphate").contains("Warning*: 1 H302* H319*."));
    assert!(said("citric-acid").contains("Warning, Danger*: 1 H319 H335 H318*."));
    assert!(said("potassium-nitrate").contains("Warning: 1 H272 H302* H319*."));
    assert!(said("iron-eddha").contains("No word: 1 H412*."));
    let of = |id: &str| {
        let table = Catalogue::standard();
        report::salts(&jobs::salts_record(table, Some(id.to_owned()), vec![salt(id)]), false)
    };
    assert!(of("iron-dtpa").contains("HAZARDS  Warning (stricter source)"));
    assert!(of("citric-acid").contains("HAZARDS  Warning, Danger (stricter source)"));
    assert!(of("iron-eddha").contains("HAZARDS  no signal word"));
}

#[test]
fn pictograms_follow_from_the_statements() {
    for salt in salts() {
        let has = |codes: &[&str]| class(salt).iter().any(|code| codes.contains(code));
        let mut expected: Vec<&str> =
            PICTURED.iter().filter(|(_, codes)| has(codes)).map(|(pictogram, _)| *pictogram).collect();
        // the exclamation mark gives way to the skull, and to the corrosion picture of skin and eyes (GHS, from memory)
        let harmful = has(&["H302", "H312", "H317", "H332", "H335", "H336"]);
        let irritant = has(&["H315", "H319"]) && !has(&["H314", "H318"]);
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
    texts.extend(table.cautions().iter().flat_map(|caution| [caution.heading.clone(), text(&caution.id)]));
    for salt in salts() {
        texts.extend(salt.keep_apart.iter().chain(&salt.law.notes).cloned());
        let statements = salt.hazards.statements.iter();
        texts.extend(statements.map(|code| table.statement(code).expect("it has words").text.clone()));
        let pictograms = salt.hazards.pictograms.iter();
        texts.extend(pictograms.map(|code| table.pictogram(code).expect("it has a meaning").means.clone()));
    }
    for formula in ["growth", "push", "lean", "weak"] {
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

/// Two formulas on one page: what concerns both is told once, and nothing of either is left out.
#[test]
fn of_two_mixes_cautions_are_told_once() {
    let bench = Bench::starter();
    for (one, other) in [("push", "growth"), ("growth", "push"), ("weak", "lean")] {
        let both = jobs::mix_beside(&bench, one, other, &MixOptions::default()).expect("two mixes");
        let headings: Vec<&str> = both.both.cautions.iter().map(|of| of.heading.as_str()).collect();
        assert_eq!(headings.iter().collect::<BTreeSet<_>>().len(), headings.len(), "{headings:?}");
        for mix in [&both.first, &both.beside] {
            for of in &mix.cautions {
                let told = both.both.cautions.iter().find(|told| told.heading == of.heading).expect("told");
                assert!(of.salts.iter().all(|salt| told.salts.contains(salt)), "{}", of.heading);
            }
            for of in &mix.handling {
                assert!(both.both.handling.iter().any(|told| told.salt == of.salt), "{}", of.salt);
            }
        }
        let text = report::beside(&both, false);
        let (_, safety) = text.split_once("Last word:").expect("the last word");
        assert!(!safety.contains("Fire (") && !safety.contains("Swallowed ("), "{safety}");
    }
}

/// A dose that WATCH refuses no other line tells.
#[test]
fn what_is_refused_is_not_told_elsewhere() {
    let mut refused = 0;
    for water in [SOFT, HARD, "Ca = 90\nMg = 12\nalkalinity = \"4.5 meq/L\"\npH = 7.6"] {
        for acid in ["phosphoric-acid-10", "phosphoric-acid-85", "sulfuric-acid-10"] {
            let mix = soured(60.0, water, acid);
            let of_ph: Vec<_> = mix
                .findings
                .iter()
                .filter(|one| matches!(one.code, Code::PhOutside | Code::PhNearEdge | Code::AlkalinityLeft))
                .collect();
            if !of_ph.is_empty() && of_ph.iter().all(|one| one.adds.is_empty()) {
                let text = report::mix(&mix, false);
                let (_, meter) = text.split_once("THE METER SHOULD READ").expect("a meter");
                let meter = meter.split("IN THE TANK").next().expect("lines");
                assert!(!meter.contains("small parts") && !meter.contains("to hold it"), "{meter}");
                refused += 1;
            }
        }
    }
    assert!(refused >= 2, "{refused}");
}
