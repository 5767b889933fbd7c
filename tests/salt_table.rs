//! The salt table row by row: what it must hold, and mistakes in a row that must be named.

use approx::assert_relative_eq;
use bloomsalt::catalogue::Catalogue;
use bloomsalt::matter::{Kind, NUTRIENTS, Nutrient, Salt};

fn salt(id: &str) -> &'static Salt {
    let catalogue = Catalogue::standard();
    catalogue.salt(catalogue.find(id).unwrap_or_else(|| panic!("{id} is missing")))
}

#[test]
fn every_salt_that_a_grower_expects_is_there() {
    for id in [
        "calcium-nitrate-tetrahydrate ammonium-calcium-nitrate-decahydrate potassium-nitrate monopotassium-phosphate",
        "dipotassium-phosphate potassium-sulfate potassium-chloride magnesium-sulfate-heptahydrate",
        "magnesium-sulfate-monohydrate magnesium-nitrate-hexahydrate monoammonium-phosphate diammonium-phosphate",
        "ammonium-nitrate ammonium-sulfate calcium-chloride-dihydrate calcium-chloride-anhydrous",
        "calcium-sulfate-dihydrate urea potassium-silicate-solution sodium-nitrate sodium-chloride boric-acid borax",
        "manganese-sulfate-monohydrate manganese-chloride-tetrahydrate zinc-sulfate-heptahydrate",
        "zinc-sulfate-monohydrate zinc-chloride copper-sulfate-pentahydrate copper-chloride-dihydrate",
        "iron-sulfate-heptahydrate iron-chloride-hexahydrate sodium-molybdate-dihydrate",
        "ammonium-molybdate-tetrahydrate iron-edta manganese-edta zinc-edta copper-edta iron-dtpa iron-eddha",
        "potassium-carbonate potassium-bicarbonate potassium-hydroxide potassium-hydroxide-10 phosphoric-acid-10",
        "phosphoric-acid-75 phosphoric-acid-85 nitric-acid-60 sulfuric-acid-35 citric-acid acetic-acid",
    ]
    .iter()
    .flat_map(|line| line.split(' '))
    {
        salt(id);
    }
}

#[test]
fn every_row_is_whole() {
    let catalogue = Catalogue::standard();
    for salt in catalogue.salts() {
        let id = &salt.id;
        assert!(!salt.name.is_empty() && salt.name == salt.name.trim(), "{id}: name");
        assert!(salt.cas.is_some(), "{id}: CAS number");
        assert!(!salt.keep_apart.is_empty(), "{id}: keep_apart");
        let nutrients: f64 =
            NUTRIENTS.into_iter().filter(|n| !n.is_nitrogen_form()).map(|n| salt.composition.nutrients[n]).sum();
        assert!((0.0..=1.0).contains(&nutrients), "{id}: nutrients make {nutrients} of a gram");
        let forms: f64 = NUTRIENTS.into_iter().filter(|n| n.is_nitrogen_form()).map(|n| salt.composition.nutrients[n]).sum();
        assert_relative_eq!(forms, salt.composition.nutrients[Nutrient::N], epsilon = 1e-12);
        assert!(salt.composition.charge(catalogue.ions()).abs() < 1e-12, "{id}: charge");
        let solid_formula = salt.formula.is_some() && !salt.is_liquid();
        assert_eq!(salt.solubility.is_some(), solid_formula, "{id}: a solid with a formula has a solubility");
        if let Some(density) = salt.density_kg_per_l {
            assert!((0.9..2.0).contains(&density), "{id}: density {density}");
        }
        if let Some((low, high)) = salt.ph_range {
            assert!(low < high && high <= 14.0, "{id}: pH range");
        }
        assert_eq!(salt.kind == Kind::Chelate, salt.ph_range.is_some(), "{id}: chelates have a pH range");
        if let Some(solubility) = &salt.solubility {
            for (celsius, percent) in &solubility.as_sold_percent {
                assert!((0.0..=100.0).contains(percent), "{id} at {celsius} C: {percent}");
            }
        }
    }
}

#[test]
fn every_source_is_used_and_every_id_resolves() {
    let catalogue = Catalogue::standard();
    let texts: Vec<&str> =
        Catalogue::texts().iter().filter(|(name, _)| *name != "sources.toml").map(|(_, text)| *text).collect();
    let code = [
        include_str!("../src/safety/strength.rs"),
        include_str!("../src/safety/stock.rs"),
        include_str!("../src/catalogue/product.rs"),
    ];
    // these three are cited where units and the project's own choices stand, not in a row
    let cited_in_docs = ["nist-sp-811", "fao-29", "common-practice"];
    for source in catalogue.sources() {
        let quoted = format!("\"{}\"", source.id);
        let used =
            texts.iter().chain(&code).any(|text| text.contains(&quoted)) || cited_in_docs.contains(&source.id.as_str());
        assert!(used, "source `{}` is not used", source.id);
        assert!(source.citation.len() > 20, "source `{}` needs a citation", source.id);
    }
}

/// Mass percent computed beforehand from the abridged weights by an independent script.
#[test]
fn mass_fractions() {
    for (id, symbol, percent) in [
        ("calcium-nitrate-tetrahydrate", "N", 11.863),
        ("calcium-nitrate-tetrahydrate", "Ca", 16.972),
        ("ammonium-calcium-nitrate-decahydrate", "N", 15.554),
        ("ammonium-calcium-nitrate-decahydrate", "Ca", 18.544),
        ("potassium-nitrate", "K", 38.672),
        ("monopotassium-phosphate", "P", 22.761),
        ("dipotassium-phosphate", "K", 44.895),
        ("potassium-sulfate", "S", 18.399),
        ("magnesium-sulfate-heptahydrate", "Mg", 9.861),
        ("magnesium-sulfate-monohydrate", "S", 23.169),
        ("monoammonium-phosphate", "N", 12.177),
        ("diammonium-phosphate", "P", 23.455),
        ("ammonium-nitrate", "N", 34.999),
        ("calcium-chloride-dihydrate", "Cl", 48.229),
        ("calcium-sulfate-dihydrate", "Ca", 23.279),
        ("urea", "N", 46.646),
        ("boric-acid", "B", 17.483),
        ("borax", "B", 11.338),
        ("manganese-sulfate-monohydrate", "Mn", 32.506),
        ("zinc-sulfate-heptahydrate", "Zn", 22.738),
        ("copper-sulfate-pentahydrate", "Cu", 25.451),
        ("sodium-molybdate-dihydrate", "Mo", 39.656),
        ("ammonium-molybdate-tetrahydrate", "Mo", 54.344),
        ("iron-sulfate-heptahydrate", "Fe", 20.088),
    ] {
        let found = 100.0 * salt(id).composition.nutrients[Nutrient::parse(symbol).expect(symbol)];
        assert!((found - percent).abs() < 6e-4, "{id} {symbol}: {found} %, published {percent} %");
    }
}

/// mol/L of the acids from Laliberte 2009 densities, computed beforehand by a library, 0.3 %.
#[test]
fn acids_by_volume() {
    for (id, symbol, mol_per_l) in [
        ("phosphoric-acid-75", "P", 12.06),
        ("phosphoric-acid-85", "P", 14.65),
        ("nitric-acid-60", "N", 13.02),
        ("sulfuric-acid-35", "S", 4.50),
    ] {
        let acid = salt(id);
        let nutrient = Nutrient::parse(symbol).expect(symbol);
        let weight = Catalogue::standard().elements().weight(symbol).expect(symbol);
        let found = acid.composition.nutrients[nutrient] / weight * acid.density_kg_per_l.expect("a liquid") * 1e3;
        assert_relative_eq!(found, mol_per_l, max_relative = 0.003);
    }
}

/// Grams per litre of saturated solution at 20 C (CRC mass percent, densities computed by a library): what
/// we call the least that a litre holds lies under it, and not by more than the density explains.
#[test]
fn solubilities_err_on_the_safe_side() {
    for (id, g_per_l) in [
        ("potassium-nitrate", 282.0),
        ("monopotassium-phosphate", 207.0),
        ("potassium-sulfate", 108.0),
        ("magnesium-sulfate-heptahydrate", 660.0),
        ("calcium-nitrate-tetrahydrate", 1282.0),
        ("ammonium-nitrate", 859.0),
        ("calcium-chloride-dihydrate", 791.0),
        ("copper-sulfate-pentahydrate", 311.0),
        ("calcium-sulfate-dihydrate", 2.6),
    ] {
        let least = salt(id).solubility.as_ref().expect("published").at_least_g_per_l(20.0);
        assert!(least <= g_per_l * 1.001 && least > g_per_l / 1.6, "{id}: {least} of {g_per_l} g/L");
    }
}

#[test]
fn chelates_bring_their_metal_and_sodium_and_no_counted_nitrogen() {
    for (id, symbol, sodium_per_metal) in
        [("iron-edta", "Fe", 1.0), ("iron-dtpa", "Fe", 2.0), ("iron-eddha", "Fe", 1.0), ("copper-edta", "Cu", 2.0)]
    {
        let nutrients = &salt(id).composition.nutrients;
        let mol = |symbol: &str| {
            nutrients[Nutrient::parse(symbol).expect(symbol)]
                / Catalogue::standard().elements().weight(symbol).expect(symbol)
        };
        assert_relative_eq!(mol("Na") / mol(symbol), sodium_per_metal, epsilon = 1e-9);
        assert!(nutrients[Nutrient::N].abs() < 1e-12, "{id}");
    }
}

/// One mistake in one row: the error names the file, the row and what is wrong.
#[test]
fn mistakes_in_a_row_are_named() {
    for (file, old, new, row, says) in [
        ("macro.toml", "cas = \"7757-79-1\"", "cas = \"7757-79-2\"", "potassium-nitrate", "check digit"),
        (
            "macro.toml",
            "\"Ca+2\" = 1, \"NO3-\" = 2",
            "\"Ca+2\" = 1, \"NO3-\" = 1",
            "calcium-nitrate-tetrahydrate",
            "N: the formula",
        ),
        ("macro.toml", "{ \"K+\" = 1, \"NO3-\" = 1 }", "{ \"K+\" = 1, \"NO4-\" = 1 }", "potassium-nitrate", "NO4-"),
        ("macro.toml", "id = \"potassium-nitrate\"", "id = \"urea\"", "urea", "occurs twice"),
        ("macro.toml", "id = \"potassium-nitrate\"", "id = \"Potassium nitrate\"", "Potassium nitrate", "lower case"),
        ("macro.toml", "formula = \"KNO3\"", "formula = \"KNo3\"", "potassium-nitrate", "known element"),
        ("traces.toml", "\"H3BO3\" = 1", "\"B(OH)4-\" = 1", "boric-acid", "charges do not balance"),
        ("chelates.toml", "closed_by = \"Na+\"", "closed_by = \"Na\"", "iron-edta", "not in ions.toml"),
        ("chelates.toml", "Fe = 13.0", "Fi = 13.0", "iron-edta", "not an entry of a label"),
        ("acids.toml", "density_source", "density_sauce", "", "unknown field"),
        ("ions.toml", "symbol = \"OH-\"", "symbol = \"OH\"", "OH", "no row in species.toml"),
        (
            "species.toml",
            "{ \"Ca+2\" = 1, \"SO4-2\" = 1 }",
            "{ \"Ca+3\" = 1, \"SO4-2\" = 1 }",
            "CaSO4",
            "not a master species",
        ),
        ("species.toml", "{ \"Ca+2\" = 1, \"SO4-2\" = 1 }", "{ \"Ca+2\" = 1 }", "CaSO4", "the charge is not"),
        ("species.toml", "source = \"phreeqc-3.8-dat\"", "source = \"phreeqc\"", "H+", "not in the register"),
        ("minerals.toml", "\"SO4-2\" = 1", "\"SO5-2\" = 1", "gypsum", "not a master species"),
        (
            "hazard-statements.toml",
            "code = \"H272\"",
            "code = \"H273\"",
            "calcium-nitrate-tetrahydrate",
            "H272 has no words",
        ),
        ("cautions.toml", "source = \"common-practice\"", "source = \"practice\"", "burns", "not in the register"),
        ("sources.toml", "grade = \"standard\"", "grade = \"rumour\"", "", "rumour"),
    ] {
        let changed: Vec<(&str, String)> = Catalogue::texts()
            .iter()
            .map(|(name, text)| (*name, if *name == file { text.replacen(old, new, 1) } else { (*text).to_owned() }))
            .collect();
        assert!(Catalogue::texts().iter().any(|(name, text)| *name == file && text.contains(old)), "{file}: {old}");
        let texts: Vec<(&str, &str)> = changed.iter().map(|(name, text)| (*name, text.as_str())).collect();
        let error = Catalogue::from_texts(&texts).map(|_| ()).expect_err(old);
        assert_eq!(error.row, row, "{error}");
        assert!(error.to_string().contains(says), "{error}");
    }
}

/// What the program carries is what stands in `salts/`, to the last bit of every number.
#[test]
fn the_prepared_table_is_that_of_the_files() {
    let read = Catalogue::from_texts(Catalogue::texts()).expect("it reads");
    assert!(format!("{:?}", Catalogue::standard()) == format!("{read:?}"));
}
