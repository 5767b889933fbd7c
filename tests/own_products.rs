//! Products of the grower's own: what a label leaves open, and that one that leaves nothing open is the table's salt.

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::catalogue::Catalogue;
use bloomsalt::jobs::{self, Added, JobError, MixOptions, MixRecord};
use bloomsalt::matter::{Kind, NUTRIENTS, Nutrient, Salt};
use bloomsalt::quantity::{Amount, gram};
use bloomsalt::safety::{Code, Severity};

use crate::random::Random;

const WATER: &str = "[tank]\nvolume = \"60 L\"\n[water]\nCa = 50\nMg = 6\nalkalinity = \"2.77 meq/L\"\npH = 7.7\n";

fn bench(text: &str) -> Bench {
    Bench::parse(text, "test").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn checked(bench: &Bench, doses: &[(&str, f64)]) -> MixRecord {
    let added: Vec<Added> = doses
        .iter()
        .map(|(id, grams)| Added { salt: bench.catalogue.find(id).expect(id), amount: Amount::Mass(gram(*grams)) })
        .collect();
    jobs::check(bench, &added, None).unwrap_or_else(|error: JobError| panic!("{error}"))
}

/// The label that a salt of the table would have, with all that can be stated of it; nothing where it holds ions that no
/// label names (chelates, citrate, acetate, iron(III)).
fn label_of(salt: &Salt) -> Option<String> {
    let table = Catalogue::standard();
    let can_be_stated = |symbol: &str| {
        let usual = NUTRIENTS.into_iter().any(|nutrient| nutrient.usual_ion() == symbol);
        usual || matches!(symbol, "H+" | "OH-" | "HCO3-" | "CO3-2" | "HPO4-2" | "B(OH)4-" | "H3SiO4-")
    };
    let ions = || salt.composition.ions.iter().map(|(ion, mol)| (table.ions().get(*ion).symbol.as_str(), *mol));
    if !ions().all(|(symbol, _)| can_be_stated(symbol)) {
        return None;
    }
    // alkalinity by its definition: protons that a mole takes up down to CO2, H2PO4-, H3BO3 and H4SiO4
    let counts = |symbol: &str| match symbol {
        "H+" => -1.0,
        "OH-" | "HCO3-" | "HPO4-2" | "B(OH)4-" | "H3SiO4-" => 1.0,
        "CO3-2" => 2.0,
        _ => 0.0,
    };
    let alkalinity: f64 = ions().map(|(symbol, mol)| counts(symbol) * mol * 1e3).sum();
    let carbon: f64 = ions().filter(|(symbol, _)| symbol.contains("CO3")).map(|(_, mol)| mol * 1e3).sum();
    let analysis: Vec<String> = NUTRIENTS
        .into_iter()
        .filter(|nutrient| *nutrient != Nutrient::N && salt.composition.nutrients[*nutrient] > 0.0)
        .map(|nutrient| format!("{} = {:.13}", nutrient.symbol(), 100.0 * salt.composition.nutrients[nutrient]))
        .collect();
    let density = salt.density_kg_per_l.map_or_else(String::new, |density| format!("density = \"{density} kg/L\"\n"));
    Some(format!(
        "[[product]]\nid = \"own\"\n{density}analysis = {{ {} }}\nalkalinity_per_kg = \"{alkalinity:.13} eq\"\n\
         carbon_per_kg = \"{carbon:.13} mol\"\n",
        analysis.join(", ")
    ))
}

fn near(what: &str, a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1e-3), "{what}: {a} and {b}");
}

/// Everything stated, a product is the table's salt: the same ppm, EC and pH with their give or take, whatever it is mixed
/// with, and the same hand for it. Every acid whose parts a label can name, and all the other salts that can be stated.
#[test]
fn everything_stated_is_the_salt_of_the_table() {
    let (mut acids, mut salts) = (Vec::new(), 0);
    for salt in Catalogue::standard().salts() {
        let Some(label) = label_of(salt) else { continue };
        let text = format!("{WATER}{label}[shelf]\nown = {{ purity = 0.97 }}\n{} = {{ purity = 0.97 }}\n", salt.id);
        let bench = bench(&text);
        let own = bench.catalogue.find("own").map(|id| bench.catalogue.salt(id)).expect("the product");
        assert_eq!(own.kind, salt.kind, "{}", salt.id);
        for (grams, beside) in [(2.0, 0.0), (40.0, 12.0)] {
            let with =
                |id: &str| checked(&bench, &[(id, grams), ("potassium-nitrate", beside), ("citric-acid", beside / 12.0)]);
            let (own, table) = (with("own"), with(&salt.id));
            near(&salt.id, own.ec_ms_cm, table.ec_ms_cm);
            near(&salt.id, own.ec_plus_minus_ms_cm, table.ec_plus_minus_ms_cm);
            near(&salt.id, own.ph.expect("known"), table.ph.expect("known"));
            near(&salt.id, own.ph_aired.expect("known"), table.ph_aired.expect("known"));
            assert_eq!(own.elements.len(), table.elements.len(), "{}", salt.id);
            for (own, table) in own.elements.iter().zip(&table.elements) {
                near(&salt.id, own.ppm, table.ppm);
                near(&salt.id, own.plus_minus_ppm, table.plus_minus_ppm);
            }
        }
        if salt.kind == Kind::Acid { acids.push(salt.id.as_str()) } else { salts += 1 }
    }
    let all = ["phosphoric-acid-10", "phosphoric-acid-75", "phosphoric-acid-85", "nitric-acid-60", "sulfuric-acid-35"];
    assert_eq!(acids, all, "citric and acetic acid hold nothing that a label names");
    assert!(salts >= 20, "{salts}");
}

/// Nitric acid as a product in hard water, against 17.3184 g of the table's 60 %, the same moles: EC 0.589 ± 0.02, aired
/// pH 6.50 (reckoned with the table's acid beforehand; without its protons it was 0.72 ± 6.41 and 6.64).
#[test]
fn an_acid_of_the_growers_own() {
    let text = "[tank]\nvolume = \"60 L\"\n[water]\nCa = 50\nalkalinity = \"2.77 meq/L\"\npH = 7.7\n[[product]]\nid = \"own-acid\"\n\
                density = \"1.178 kg/L\"\nanalysis = { NO3-N = 6.602 }\nalkalinity_per_kg = \"-4.713358 eq\"\n";
    let own = checked(&bench(text), &[("potassium-nitrate", 12.0), ("own-acid", 34.9866)]);
    let table = checked(&bench(text), &[("potassium-nitrate", 12.0), ("nitric-acid-60", 17.3184)]);
    assert!((own.ec_ms_cm - 0.589).abs() < 5e-4 && own.ec_plus_minus_ms_cm < 0.025, "{}", own.ec_plus_minus_ms_cm);
    assert!((own.ph_aired.expect("known") - 6.50).abs() < 6e-3, "{:?}", own.ph_aired);
    for (own, table) in [(own.ec_ms_cm, table.ec_ms_cm), (own.ph.expect("known"), table.ph.expect("known"))] {
        assert!((own - table).abs() < 1e-3, "{own} {table}");
    }
}

const SOFT: &str = "[tank]\nvolume = \"40 L\"\n[water]\nCa = 20\nalkalinity = \"1.2 meq/L\"\npH = 7.4\n";
const ACID: &str = "[[product]]\nid = \"ph-minus\"\ndensity = \"1.24 kg/L\"\nanalysis = { NO3-N = 8.45 }\nalkalinity_per_kg = \"-6.03 eq\"\n";

/// By what it is and not by where it stands: in soft water an acid goes in last (of hard water a part goes in first of all), with the cautions of acids, whether `[acid]` names it or
/// not, and never as a cheap nitrate.
#[test]
fn an_acid_goes_in_last() {
    let bench = bench(&format!(
        "{SOFT}[shelf]\nph-minus = {{}}\npotassium-nitrate = {{}}\n{ACID}[formula.growth]\nN = 60\nK = 60\n"
    ));
    for doses in [[("ph-minus", 20.0), ("potassium-nitrate", 9.0)], [("potassium-nitrate", 9.0), ("ph-minus", 20.0)]] {
        let record = checked(&bench, &doses);
        assert_eq!(record.doses.last().and_then(|dose| dose.salt()), Some("ph-minus"));
        assert!(record.order.iter().any(|step| step.text.starts_with("Last the acid") && step.text.contains("ph-minus")));
        let cautions = |id: &str| -> Vec<String> {
            let of = record.cautions.iter().filter(|caution| caution.salts.iter().any(|salt| salt == id));
            of.map(|caution| caution.heading.clone()).collect()
        };
        let table = checked(&bench, &[("nitric-acid-60", 20.0)]);
        let burns =
            table.cautions.iter().find(|caution| caution.text.to_lowercase().contains("goggles")).expect("a caution");
        assert!(cautions("ph-minus").contains(&burns.heading), "{:?}", cautions("ph-minus"));
    }
    let mix = jobs::mix(&bench, "growth", &MixOptions::default()).expect("solved");
    assert!(mix.doses.iter().all(|dose| dose.salt() != Some("ph-minus")));
}

/// A base is no cheap potassium.
#[test]
fn a_base_is_no_cheap_potassium() {
    let base =
        "[[product]]\nid = \"ph-plus\"\ndensity = \"1.2 kg/L\"\nanalysis = { K2O = 20 }\nalkalinity_per_kg = \"4.2 eq\"\n";
    let bench = bench(&format!(
        "{WATER}[shelf]\nph-plus = {{}}\npotassium-nitrate = {{}}\n{base}[formula.growth]\nN = 20\nK = 90\n"
    ));
    let mix = jobs::mix(&bench, "growth", &MixOptions::default()).expect("solved");
    assert!(mix.doses.iter().all(|dose| dose.salt() != Some("ph-plus")), "{:?}", mix.doses);
}

/// An acid named by `[acid]` meets the wish like the table's, with a product in the mix that states nothing as long as its
/// dose moves less than 0.02 meq/L; a larger dose leaves pH and acid open, and the line that would settle it is named.
#[test]
fn small_doses_without_alkalinity_leave_the_ph_known() {
    let of = |traces: f64| {
        let text = format!(
            "{WATER}[shelf]\npotassium-nitrate = {{}}\ntraces = {{}}\n{ACID}[[product]]\nid = \"traces\"\n\
             analysis = {{ Fe = 5, Mn = 2, SO3 = 9 }}\n[acid]\nsalt = \"ph-minus\"\ntarget_pH = 5.8\n\
             [formula.growth]\nK = 60\nFe = {traces}\n"
        );
        jobs::mix(&bench(&text), "growth", &MixOptions::default()).expect("solved")
    };
    // 5 % iron: 1 ppm takes 0.02 g/L, which leaves 1.0 to 1.3 eq/kg open either way
    let small = of(0.5);
    assert!((small.ph.expect("known") - 5.8).abs() < 0.1, "{:?}", small.ph);
    assert!(small.doses.iter().any(|dose| dose.salt() == Some("ph-minus") && dose.grams() > Some(10.0)));
    assert!(small.findings.iter().all(|finding| finding.code != Code::PhUnknown));
    let large = of(2.0);
    assert_eq!((large.ph, large.ph_aired), (None, None));
    assert!(large.acid.is_empty());
    let told = large.findings.iter().find(|finding| finding.code == Code::PhUnknown).expect("told");
    assert_eq!(told.severity, Severity::Warning);
    assert!(told.remedy.as_ref().is_some_and(|remedy| remedy.contains("alkalinity_per_kg")), "{told:?}");
    // by hand: the label has 2 x 5/55.845 + 2 x 2/54.938 - 2 x 9/80.06 mol per 100 g beyond its anions, 0.27 eq/kg; half of that and the
    // 1 eq/kg that labels omit is 1.135, of which 8 ppm in 0.16 g/L bring 0.18 meq/L
    let told = of(8.0).findings.into_iter().find(|finding| finding.code == Code::PhUnknown).expect("told");
    assert!(told.message.contains("by 0.18 meq/L either way"), "{told:?}");
}

/// Potassium bicarbonate with its carbon is the table's; without it its carbon may be anything from none to all, so it reads
/// as hydroxide and EC is known less well.
#[test]
fn carbon_makes_a_bicarbonate() {
    let product = |carbon: &str| {
        format!(
            "[tank]\nvolume = \"60 L\"\n[[product]]\nid = \"own\"\nanalysis = {{ K = 39.0524 }}\nalkalinity_per_kg = \"9.98841 eq\"\n{carbon}"
        )
    };
    let of = |carbon: &str, id: &str| checked(&bench(&product(carbon)), &[("monopotassium-phosphate", 12.0), (id, 3.0)]);
    let (stated, open) = (of("carbon_per_kg = \"9.98841 mol\"\n", "own"), of("", "own"));
    let (table, hydroxide) = (of("", "potassium-bicarbonate"), of("carbon_per_kg = \"0 mol\"\n", "own"));
    assert!((stated.ph.expect("known") - table.ph.expect("known")).abs() < 1e-4);
    assert!(open.ph.expect("known") > table.ph.expect("known") + 0.1);
    assert!(open.ec_plus_minus_ms_cm > hydroxide.ec_plus_minus_ms_cm);
    assert!((open.ph_aired.expect("known") - table.ph_aired.expect("known")).abs() < 1e-4);
}

/// A recipe says all that was stated of its products, so it reads the same pH.
#[test]
fn a_recipe_carries_what_was_stated() {
    let text = format!(
        "{WATER}[shelf]\npotassium-nitrate = {{}}\nwash = {{}}\n{ACID}[[product]]\nid = \"wash\"\nanalysis = {{ K2O = 30, P2O5 = 20 }}\n\
         alkalinity_per_kg = \"3.2 eq\"\ncarbon_per_kg = \"0.3 mol\"\n[acid]\nsalt = \"ph-minus\"\ntarget_pH = 5.8\n\
         [formula.growth]\nN = 60\nP = 20\nK = 60\n"
    );
    let bench = bench(&text);
    let mix = jobs::mix(&bench, "growth", &MixOptions::default()).expect("solved");
    let again =
        jobs::scale(&bench, false, &jobs::recipe(&bench, &mix), bloomsalt::quantity::liter(60.0)).expect("scaled").0.mix;
    assert!(mix.doses.iter().any(|dose| dose.salt() == Some("wash") && dose.grams() > Some(1.0)), "{:?}", mix.doses);
    let (ph, same) = (mix.ph.expect("known"), again.ph.expect("known"));
    assert!((ph - same).abs() < 1e-9, "{ph} {same}");
}

/// However much of a product that leaves its alkalinity open: EC has a give or take that is a number, no less than what the
/// model has of itself, or no equilibrium is found and the check says so.
#[test]
fn the_give_or_take_of_ec_is_a_number() {
    let mut answered = 0;
    for analysis in ["N = 15", "N = 5, K = 10", "N = 20, P = 1", "N = 1", "K = 10", "P = 5, K = 10", "Fe = 2, N = 3"] {
        let bench = bench(&format!(
            "{WATER}[[scale]]\nreadability = \"1 g\"\n[[product]]\nid = \"own\"\nanalysis = {{ {analysis} }}\n[shelf]\nown = {{}}\n"
        ));
        for kilograms in [0.01, 0.1, 1.0, 5.0, 10.0, 15.0, 20.0, 50.0, 120.0] {
            let added =
                [Added { salt: bench.catalogue.find("own").expect("own"), amount: Amount::Mass(gram(kilograms * 1e3)) }];
            let Ok(record) = jobs::check(&bench, &added, None) else { continue };
            answered += 1;
            let (ec, off) = (record.ec_ms_cm, record.ec_plus_minus_ms_cm);
            assert!(off.is_finite() && off >= 0.0199 * ec, "{analysis}, {kilograms} kg: {ec} ± {off}");
        }
    }
    assert!(answered > 40, "{answered} answered");
}

/// A feed with traces in it holds phosphate, and goes in before calcium; a trace salt goes in after it.
#[test]
fn a_feed_goes_in_before_calcium() {
    let bench = bench(
        "[tank]\nvolume = \"60 L\"\n[[product]]\nid = \"feed\"\nanalysis = { NO3-N = 8, P2O5 = 12, K2O = 36, MgO = 4, Fe = 0.12, B = 0.03 }\n\
         [shelf]\nfeed = {}\ncalcium-nitrate-tetrahydrate = {}\nboric-acid = {}\n",
    );
    let tank = checked(&bench, &[("boric-acid", 0.1), ("calcium-nitrate-tetrahydrate", 20.0), ("feed", 40.0)]);
    let at = |id: &str| {
        let named = |step: &jobs::Step| step.parts.iter().any(|part| part == id);
        tank.order.iter().position(named).unwrap_or_else(|| panic!("{id}: {:#?}", tank.order))
    };
    assert!(at("feed") < at("calcium-nitrate-tetrahydrate") && at("calcium-nitrate-tetrahydrate") < at("boric-acid"));
}

/// A label as shops print it, without its alkalinity: what it is, how much there is of what, whether it is a liquid.
fn unstated(random: &mut Random) -> (Kind, String, f64) {
    let liquid = |density: f64| format!("density = \"{density:.2} kg/L\"\n");
    let purity = random.between(0.85, 1.0);
    match random.below(8) {
        0 => {
            let percent = random.between(12.0, 68.0);
            (Kind::Acid, format!("{}analysis = {{ NO3-N = {} }}", liquid(1.3), percent * 0.222_28), -percent * 10.0 / 63.013)
        }
        1 => {
            let percent = random.between(12.0, 85.0);
            (Kind::Acid, format!("{}analysis = {{ P2O5 = {} }}", liquid(1.4), percent * 0.724_27), -percent * 10.0 / 97.994)
        }
        2 => {
            let percent = random.between(8.0, 50.0);
            (Kind::Acid, format!("{}analysis = {{ S = {} }}", liquid(1.2), percent * 0.326_96), -percent * 20.0 / 98.078)
        }
        // nitric and phosphoric acid in one bottle
        3 => {
            let (nitric, phosphoric) = (random.between(10.0, 30.0), random.between(10.0, 30.0));
            let analysis = format!("NO3-N = {}, P2O5 = {}", nitric * 0.222_28, phosphoric * 0.724_27);
            let eq = -nitric * 10.0 / 63.013 - phosphoric * 10.0 / 97.994;
            (Kind::Acid, format!("{}analysis = {{ {analysis} }}", liquid(1.3)), eq)
        }
        // urea phosphate: no cation is light enough for what is left of its weight
        4 => {
            let purity = random.between(0.97, 1.0);
            (Kind::Acid, format!("analysis = {{ urea-N = {}, P2O5 = {} }}", purity * 17.73, purity * 44.91), -6.33 * purity)
        }
        5 => (Kind::Base, format!("analysis = {{ K = {} }}", purity * 69.69), purity * 17.82),
        6 => {
            let purity = random.between(0.95, 1.0);
            (Kind::Base, format!("analysis = {{ K2O = {} }}", purity * 68.16), purity * 14.47)
        }
        _ => {
            let percent = random.between(25.0, 50.0);
            (Kind::Base, format!("{}analysis = {{ K2O = {} }}", liquid(1.4), percent * 0.839_49), percent * 10.0 / 56.105)
        }
    }
}

/// What must be an acid or a base by its label, or is named in `[acid]`, and does not state its alkalinity: it never goes in, not in a
/// bottle either, no dose of it is told, and what to state is, within what a label rounds.
#[test]
fn an_acid_or_base_that_states_no_alkalinity_is_never_dosed() {
    for seed in 0..60 {
        let mut random = Random(seed);
        let (kind, label, eq) = unstated(&mut random);
        let named = kind == Kind::Acid && random.below(2) == 0;
        let acid = if named { "[acid]\nsalt = \"own\"\ntarget_pH = 5.8\n" } else { "" };
        let water = if random.below(2) == 0 { "[water]\nCa = 100\nalkalinity = \"250 mg/L CaCO3\"\npH = 7.4\n" } else { "" };
        let text = format!(
            "bottles = [\"250 mL\", \"1 L\"]\n[tank]\nvolume = \"{} L\"\n{water}{acid}[[product]]\nid = \"own\"\nname = \"the own one\"\n{label}\n\
             [shelf]\npotassium-nitrate = {{}}\nmonopotassium-phosphate = {{}}\nown = {{}}\n\
             [formula.growth]\nN = 90\nP = 30\nK = 100\nS = {{ max = 100 }}\n",
            [4, 60, 600][random.below(3)]
        );
        let bench = bench(&text);
        let own = bench.catalogue.salt(bench.catalogue.find("own").expect("the product"));
        assert_eq!(own.kind, kind, "{seed}: {label}");
        let mix = jobs::mix(&bench, "growth", &MixOptions::default()).unwrap_or_else(|error| panic!("{error}\n{text}"));
        assert!(mix.doses.iter().all(|dose| dose.salt() != Some("own")), "{seed}: {text}");
        assert!(mix.helpers.iter().flat_map(|helper| &helper.made_of).all(|of| of.salt.as_deref() != Some("own")), "{text}");
        assert!(mix.acid.is_empty());
        let told = mix.findings.iter().find(|finding| finding.code == Code::AlkalinityNotStated).expect("told");
        assert_eq!(told.severity, if named { Severity::Warning } else { Severity::Note });
        let remedy = told.remedy.as_deref().expect("what to state");
        let number = remedy.split("about \"").nth(1).and_then(|rest| rest.split(' ').next()?.parse::<f64>().ok());
        assert!(number.is_some_and(|number| (number / eq - 1.0).abs() < 0.02), "{label}: {eq} {remedy}");
        let doses = |text: &str| text.contains("mL of the own one") || text.contains("g of the own one");
        for finding in &mix.findings {
            assert!(!finding.remedy.as_deref().is_some_and(doses), "{finding:?}");
        }
        assert!(!doses(&bloomsalt::report::mix(&mix, false)), "{text}");
    }
}

/// What a grower has in bags stays a salt, however much its label omits; a lye and vinegar of its own are what is stated.
#[test]
fn labels_that_omit_a_part_stay_salts() {
    for label in [
        "N = 13, K2O = 46",
        "NO3-N = 13.7, K2O = 46",
        "P2O5 = 52, K2O = 34",
        "K2O = 50, SO3 = 45",
        "K2O = 50",
        "K2O = 60",
        "MgO = 16, SO3 = 32",
        "MgO = 16",
        "NO3-N = 14.4, NH4-N = 1.1, CaO = 26.3",
        "N = 15.5, CaO = 26",
        "N = 15.5",
        "N = 12, P2O5 = 61",
        "P2O5 = 46",
        "N = 20, P2O5 = 20, K2O = 20",
        "NO3-N = 5.6, NH4-N = 3.9, urea-N = 10.5, P2O5 = 20, K2O = 20",
        "urea-N = 46",
        "Fe = 13",
        "Fe = 7.7, Mn = 3.4, Zn = 1.8, B = 0.9, Cu = 0.4, Mo = 0.2",
        "Mo = 39",
        "B = 17",
        "CaO = 38, Cl = 48",
    ] {
        let text = format!("{WATER}[[product]]\nid = \"own\"\nanalysis = {{ {label} }}\n");
        let bench = bench(&text);
        let own = bench.catalogue.salt(bench.catalogue.find("own").expect("the product"));
        assert_eq!(own.kind, Kind::Salt, "{label}");
    }
    for label in
        ["N = 8, P2O5 = 3, K2O = 6", "P2O5 = 6.5, K2O = 4.3", "NO3-N = 8.7, CaO = 17", "K2O = 12, P2O5 = 4", "N = 4"]
    {
        let text = format!("{WATER}[[product]]\nid = \"own\"\ndensity = \"1.2 kg/L\"\nanalysis = {{ {label} }}\n");
        let bench = bench(&text);
        let own = bench.catalogue.salt(bench.catalogue.find("own").expect("the product"));
        assert_eq!(own.kind, Kind::Salt, "{label}");
    }
}

/// An acid of the grower's own is thinned with as much water as the table's, burns, fumes and is restricted like it, and its sheet is
/// what to read; under the strength from which a rule holds it does not.
#[test]
fn an_acid_of_the_growers_own_is_handled_as_the_tables() {
    for id in ["phosphoric-acid-85", "phosphoric-acid-75", "nitric-acid-60", "sulfuric-acid-35"] {
        let table = Catalogue::standard();
        let salt = table.salt(table.find(id).expect("an acid"));
        let label = label_of(salt).expect("a label");
        let bench = bench(&format!("{WATER}{label}"));
        let own = bench.catalogue.salt(bench.catalogue.find("own").expect("the product"));
        assert_eq!((&own.law.notes, own.law.restricted), (&salt.law.notes, true), "{id}");
        near(id, own.mass_percent.expect("a strength"), salt.mass_percent.expect("a strength"));
        let of = |id: &str| checked(&bench, &[(id, 40.0)]);
        let (own, table) = (of("own"), of(id));
        let jug = |of: &MixRecord| of.order.iter().find(|step| step.act == jobs::Act::Dilute).map(|step| step.litres);
        assert_eq!(jug(&own), jug(&table), "{id}");
        assert!(jug(&own).is_some());
        let restricted = |of: &MixRecord| of.findings.iter().any(|finding| finding.code == Code::AcidRestricted);
        assert!(restricted(&own) && restricted(&table), "{id}");
        let headings = |of: &MixRecord| of.cautions.iter().map(|one| one.heading.clone()).collect::<Vec<_>>();
        for heading in headings(&table) {
            assert!(headings(&own).contains(&heading), "{id}: {heading} in {:?}", headings(&own));
        }
        for heading in ["Burns", "Swallowed", "Acid spill", "Storage", "Own product"] {
            assert!(headings(&own).iter().any(|one| one == heading), "{id}: {heading}");
        }
    }
    for (analysis, alkalinity, restricted) in [
        ("NO3-N = 0.68", "-0.48 eq", true),
        ("NO3-N = 0.64", "-0.46 eq", false),
        ("S = 5.0", "-3.12 eq", true),
        ("S = 4.8", "-2.99 eq", false),
        ("P2O5 = 22.0", "-3.1 eq", true),
        ("P2O5 = 21.0", "-2.96 eq", false),
    ] {
        let bench = bench(&format!(
            "{WATER}[[product]]\nid = \"own\"\ndensity = \"1.1 kg/L\"\nanalysis = {{ {analysis} }}\nalkalinity_per_kg = \"{alkalinity}\"\n\
             [acid]\nsalt = \"own\"\ntarget_pH = 5.8\n"
        ));
        let own = bench.catalogue.salt(bench.catalogue.find("own").expect("the product"));
        assert_eq!(own.law.restricted, restricted, "{analysis}");
    }
}

/// A base of the grower's own heats, burns, and keeps ammonium off, whether its alkalinity is stated or only must be.
#[test]
fn a_base_of_the_growers_own_is_handled_as_one() {
    for stated in ["", "alkalinity_per_kg = \"16.0 eq\"\ncarbon_per_kg = \"0 mol\"\n"] {
        let bench = bench(&format!("{WATER}[[product]]\nid = \"own\"\nanalysis = {{ K = 62.7 }}\n{stated}"));
        let of = checked(&bench, &[("own", 5.0), ("ammonium-sulfate", 5.0)]);
        let meets = of.findings.iter().any(|finding| finding.code == Code::MustNotMeet);
        assert!(meets, "{stated}: {:?}", of.findings);
        for heading in ["Burns", "Heat", "Base", "Base spill", "Swallowed", "Ammonia", "Storage", "Own product"] {
            assert!(of.cautions.iter().any(|one| one.heading == heading), "{stated}: {heading}");
        }
    }
}

/// Hydrochloric acid of the grower's own: from 10 % a licence is asked in Great Britain (from memory), and neat it must not meet nitric
/// acid (general incompatibilities, from memory).
#[test]
fn hydrochloric_acid_is_known_by_its_label() {
    let of = |percent: f64, acids: &str| {
        let product = format!(
            "[[product]]\nid = \"own-acid\"\nname = \"own acid\"\ndensity = \"1.15 kg/L\"\nanalysis = {{ Cl = {percent} }}\nalkalinity_per_kg = \"-{} eq\"\n",
            percent / 3.545
        );
        let water = "[water]\nCa = 80\nMg = 10\nalkalinity = \"4 meq/L\"\npH = 7.6\n";
        let text = STARTER.replace(
            "[formula.growth]",
            &format!("{product}{water}[acid]\nsalt = {acids}\ntarget_pH = 5.8\n[formula.growth]"),
        );
        let text = text.replace("Cl = { max = 70 }", "");
        bench(&text)
    };
    let mixed = |percent: f64, acids: &str| {
        jobs::mix(&of(percent, acids), "growth", &MixOptions::default()).expect("it mixes").findings
    };
    let has = |found: &[bloomsalt::safety::Finding], code: Code, word: &str| {
        found.iter().any(|one| one.code == code && one.message.contains(word))
    };
    assert!(has(&mixed(29.0, "\"own-acid\""), Code::AcidRestricted, "own acid"));
    assert!(!has(&mixed(5.0, "\"own-acid\""), Code::AcidRestricted, "own acid"));
    let nitric =
        |percent: f64| checked(&of(percent, "\"own-acid\""), &[("own-acid", 30.0), ("nitric-acid-60", 60.0)]).findings;
    assert!(has(&nitric(29.0), Code::MustNotMeet, "hydrochloric"));
    assert!(!has(&mixed(29.0, "\"own-acid\""), Code::MustNotMeet, "hydrochloric"));
}

/// Potassium hydroxide of the grower's own is known by its label: poison, a base in the eye, and the law, which in Great Britain begins
/// above 17 % (from memory). A carbonate is none.
#[test]
fn potassium_hydroxide_is_known_by_its_label() {
    let of = |potassium: f64, alkalinity: f64, carbon: f64| {
        let bench = bench(&format!(
            "{WATER}[[product]]\nid = \"own\"\nanalysis = {{ K = {potassium} }}\nalkalinity_per_kg = \"{alkalinity} eq\"\n\
             carbon_per_kg = \"{carbon} mol\"\n"
        ));
        let told = checked(&bench, &[("own", 2.0)]);
        let law: String = told.cautions.iter().filter(|one| one.heading == "Law").map(|one| one.text.clone()).collect();
        let has = |heading: &str| told.cautions.iter().any(|one| one.heading == heading);
        (has("Poison"), has("Base in the eye"), law)
    };
    let (poison, in_the_eye, law) = of(62.7, 16.0, 0.0);
    assert!(poison && in_the_eye && law.contains("GB Poisons Act 1972: above 17 %"), "{law}");
    // 3.01 mol/kg are 16.9 %, 3.05 are 17.1 %
    assert!(of(11.77, 3.01, 0.0).2.contains("no rule known here at 17 % or less"), "{}", of(11.77, 3.01, 0.0).2);
    assert!(of(11.93, 3.05, 0.0).2.contains("above 17 %"));
    let (poison, in_the_eye, law) = of(56.5, 14.4, 7.2);
    assert!(!poison && in_the_eye && law.is_empty(), "{law}");
}
