//! Speciation, pH, EC and saturation against PHREEQC 3.8 with its own database, recorded by
//! `tests/oracle/make_chemistry.py`. Model against model: the constants are shared, the solvers are not.

#![allow(clippy::print_stdout, reason = "the error figures are printed for the docs")]

use bloomsalt::catalogue::Catalogue;
use bloomsalt::quantity::celsius;
use bloomsalt::solution::{
    Air, Speciation, Totals, conductivity, conductivity_at, conductivity_slopes, saturation, speciate, speciate_at_ph,
};
use serde_json::Value;
use uom::si::electrical_conductivity::siemens_per_meter;

fn recorded() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("oracle/chemistry.json")).expect("valid JSON");
    all["cases"].as_array().expect("cases").clone()
}

/// Molal totals of a recorded case.
fn totals(case: &Value) -> Totals {
    let chemistry = Catalogue::standard().chemistry();
    let mut totals = Totals {
        mol_per_kg: vec![0.0; chemistry.masters.len()],
        alkalinity_eq_per_kg: case["alkalinity_meq_per_kgw"].as_f64().expect("a number") * 1e-3,
    };
    for (key, mmol) in case["totals_mmol_per_kgw"].as_object().expect("totals") {
        let master = match key.as_str() {
            "PO4" => "PO4-3",
            "C" => "CO3-2",
            "B" => "H3BO3",
            "Si" => "H4SiO4",
            other => other,
        };
        let at = chemistry.master(master).unwrap_or_else(|| panic!("{master}"));
        totals.mol_per_kg[at.index()] = mmol.as_f64().expect("a number") * 1e-3;
    }
    totals
}

fn solved(case: &Value) -> Speciation {
    speciate(Catalogue::standard().chemistry(), &totals(case), Air::Closed).unwrap_or_else(|e| panic!("{}: {e}", case["id"]))
}

fn ec_us_per_cm(solution: &Speciation) -> f64 {
    conductivity(Catalogue::standard().chemistry(), solution).get::<siemens_per_meter>() * 1e4
}

/// Prints median, 95th percentile and worst of absolute values; returns the worst.
fn told(what: &str, mut errors: Vec<f64>, unit: &str) -> f64 {
    for error in &mut errors {
        *error = error.abs();
    }
    errors.sort_by(f64::total_cmp);
    let at = |share: usize| errors[(errors.len() * share / 100).min(errors.len() - 1)];
    println!("{what}: {} cases, median {:.3}, 95 % {:.3}, worst {:.3} {unit}", errors.len(), at(50), at(95), at(100));
    at(100)
}

fn of_kind(kind: &str) -> Vec<Value> {
    let cases: Vec<Value> = recorded().into_iter().filter(|case| case["kind"] == kind).collect();
    assert!(cases.len() >= 10, "{kind}");
    cases
}

fn ec_errors(kind: &str) -> Vec<f64> {
    let off = |case: &Value| 100.0 * (ec_us_per_cm(&solved(case)) / case["sc_us_cm"].as_f64().expect("a number") - 1.0);
    of_kind(kind).iter().map(off).collect()
}

#[test]
fn ec_of_nutrient_solutions() {
    let errors = ec_errors("nutrient");
    assert!(errors.len() >= 200);
    assert!(told("EC, nutrient solutions", errors, "%") < 0.5);
}

#[test]
fn ec_of_arbitrary_mixes() {
    let errors = ec_errors("arbitrary");
    assert!(errors.len() >= 200);
    assert!(told("EC, arbitrary mixes", errors, "%") < 1.5);
}

/// pH within 0.02 where the solution is buffered at all (a microequivalent of slip moves an unbuffered one).
#[test]
fn ph() {
    for kind in ["nutrient", "arbitrary"] {
        let errors = of_kind(kind).iter().map(|case| solved(case).ph - case["pH"].as_f64().expect("a number")).collect();
        assert!(told(&format!("pH, {kind}"), errors, "") < 0.02, "{kind}");
    }
}

#[test]
fn saturation_indices() {
    let catalogue = Catalogue::standard();
    for (mineral, tolerance) in [("gypsum", 0.02), ("calcite", 0.05), ("brushite", 0.05), ("hydroxyapatite", 0.2)] {
        let row = catalogue.minerals().iter().find(|row| row.name == mineral).expect(mineral);
        let mut errors = Vec::new();
        for case in of_kind("nutrient").iter().chain(&of_kind("arbitrary")) {
            let Some(theirs) = case["si"][mineral].as_f64().filter(|index| *index > -50.0) else { continue };
            let ours = saturation(row, &solved(case)).expect("its ions are there");
            errors.push(ours - theirs);
        }
        assert!(told(&format!("saturation, {mineral}"), errors, "") < tolerance, "{mineral}");
    }
}

/// Mass of every master and the proton condition close to 1e-10.
#[test]
fn balances_close() {
    let chemistry = Catalogue::standard().chemistry();
    for case in recorded() {
        let (wanted, solution) = (totals(&case), solved(&case));
        for (at, total) in wanted.mol_per_kg.iter().enumerate() {
            let held: f64 = chemistry
                .species
                .iter()
                .zip(&solution.mol_per_kg)
                .flat_map(|(species, m)| species.masters.iter().map(move |(master, count)| (master, count * m)))
                .filter(|(master, _)| master.index() == at)
                .map(|(_, m)| m)
                .sum();
            assert!((held - total).abs() <= 1e-10 * total, "{}: {}", case["id"], chemistry.masters[at]);
        }
        let alkalinity: f64 = chemistry.species.iter().zip(&solution.mol_per_kg).map(|(s, m)| s.alkalinity * m).sum();
        let counted: f64 = chemistry.species.iter().zip(&solution.mol_per_kg).map(|(s, m)| s.alkalinity.abs() * m).sum();
        assert!((alkalinity - wanted.alkalinity_eq_per_kg).abs() <= 1e-10 * counted, "{}", case["id"]);
    }
}

/// Pure water, very dilute, half a mole, pH 2 and pH 11: an equilibrium near the other engine's.
#[test]
fn extremes_converge() {
    for case in of_kind("extreme") {
        let (solution, theirs) = (solved(&case), case["pH"].as_f64().expect("a number"));
        println!(
            "extreme {}: pH {:.3} against {theirs:.3}, EC {:.1} against {} uS/cm",
            case["id"],
            solution.ph,
            ec_us_per_cm(&solution),
            case["sc_us_cm"]
        );
        assert!((solution.ph - theirs).abs() < 0.1, "{}: pH {} against {theirs}", case["id"], solution.ph);
    }
}

/// The slope of EC by every total against central differences of the whole model (Richardson's, from two steps), on every
/// recorded solution thinned and thickened at random: some hundred solutions, a dozen totals each, to 1e-6.
#[test]
fn slopes_are_those_of_differences() {
    let chemistry = Catalogue::standard().chemistry();
    let ec = |totals: &Totals| 1e-3 * ec_us_per_cm(&speciate(chemistry, totals, Air::Closed).expect("an equilibrium"));
    let mut seed = 0x5eed_u64;
    let mut random = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(seed >> 40).expect("24 bits")) / f64::from(1 << 24)
    };
    let (mut worst, mut slopes) = (0.0_f64, 0);
    for case in recorded().iter().filter(|case| case["kind"] != "extreme") {
        let mut totals = totals(case);
        let thinned = 0.3 + 1.5 * random();
        totals.mol_per_kg.iter_mut().for_each(|m| *m *= thinned * (0.8 + 0.4 * random()));
        totals.alkalinity_eq_per_kg *= thinned * (0.8 + 0.4 * random());
        let solution = speciate(chemistry, &totals, Air::Closed).expect("an equilibrium");
        let found = conductivity_slopes(chemistry, &totals, &solution).expect("regular");
        let by_difference = |step: f64, moved: &dyn Fn(&mut Totals, f64)| {
            let at = |by: f64| {
                let mut other = totals.clone();
                moved(&mut other, by);
                ec(&other)
            };
            let over = |step: f64| (at(step) - at(-step)) / (2.0 * step);
            (4.0 * over(step) - over(2.0 * step)) / 3.0
        };
        let mut compare = |found: f64, differences: f64| {
            // 40 mS/cm per mol/kg is what a weakly mobile ion adds
            worst = worst.max((found - differences).abs() / differences.abs().max(40.0));
            slopes += 1;
        };
        for (at, total) in totals.mol_per_kg.iter().enumerate().filter(|(_, total)| **total > 0.0) {
            let moved = |other: &mut Totals, by: f64| other.mol_per_kg[at] += by;
            compare(found.by_master[at], by_difference(1e-3 * total.min(1e-3), &moved));
        }
        let moved = |other: &mut Totals, by: f64| other.alkalinity_eq_per_kg += by;
        compare(found.by_alkalinity, by_difference(1e-7, &moved));
    }
    println!("slopes: {slopes}, worst {worst:e}");
    assert!(slopes > 1000 && worst < 1e-6, "{slopes} slopes, worst {worst:e}");
}

fn at_20_us_per_cm(solution: &Speciation) -> f64 {
    let ec = conductivity_at(Catalogue::standard().chemistry(), solution, celsius(20.0));
    ec.get::<siemens_per_meter>() * 1e4
}

/// Measured EC at 20 C of 34 natural waters (Stuyfzand 1987). The other engine lies about 5 % above them in the median, so
/// what is asserted is that we do no worse; the distribution is printed for the docs. Brines (31 to 34) apart.
#[test]
fn measured_natural_waters() {
    let catalogue = Catalogue::standard();
    let all: Value = serde_json::from_str(include_str!("oracle/waters.json")).expect("valid JSON");
    let mut errors = Vec::new();
    // brines are beyond what the activity model can do, and a clear error is all that is asked there
    let fresh = |water: &&Value| water["number"].as_u64().is_some_and(|number| number <= 30);
    for water in all["waters"].as_array().expect("waters").iter().filter(fresh) {
        let of = |key: &str, equivalent: f64| water["mg_per_l"][key].as_f64().unwrap_or(0.0) / equivalent;
        let mut mmol = vec![0.0; catalogue.ions().rows().len()];
        for (key, mass, symbol) in [
            ("Cl", 35.45, "Cl-"),
            ("SO4", 96.056, "SO4-2"),
            ("HCO3", 61.016, "HCO3-"),
            ("CO3", 60.008, "CO3-2"),
            ("NO3", 62.004, "NO3-"),
            ("Na", 22.990, "Na+"),
            ("K", 39.098, "K+"),
            ("Ca", 40.078, "Ca+2"),
            ("Mg", 24.305, "Mg+2"),
            ("NH4", 18.039, "NH4+"),
        ] {
            mmol[catalogue.ions().find(symbol).expect(symbol).index()] = of(key, mass);
        }
        let ph = water["pH"].as_f64().unwrap_or(7.5);
        let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
        let solution = speciate_at_ph(catalogue.chemistry(), &totals, Air::Closed, ph).expect("an equilibrium");
        let measured = water["ec20_us_cm"].as_f64().expect("measured");
        errors.push(100.0 * (at_20_us_per_cm(&solution) / measured - 1.0));
    }
    let mean = errors.iter().sum::<f64>() / errors.iter().map(|_| 1.0).sum::<f64>();
    println!("measured waters: mean {mean:+.1} %");
    assert!(mean.abs() < 8.0, "{mean}");
    assert!(told("measured waters", errors, "%") < 25.0);
}

/// Measured EC at 20 C of single salts at the lowest percentage listed (CRC handbook, read or remembered as printed). Simple salts
/// within 8 %; sulfates of copper and manganese are far too high in this model, as in the engine it follows.
#[test]
fn measured_single_salts() {
    let catalogue = Catalogue::standard();
    let all: Value = serde_json::from_str(include_str!("oracle/single_salts.json")).expect("valid JSON");
    let mut seen = 0;
    for (solute, ions, mass) in [
        ("KCl", &[("K+", 1.0), ("Cl-", 1.0)][..], 74.548),
        ("NaCl", &[("Na+", 1.0), ("Cl-", 1.0)], 58.44),
        ("CaCl2", &[("Ca+2", 1.0), ("Cl-", 2.0)], 110.978),
        ("KH2PO4", &[("K+", 1.0), ("H2PO4-", 1.0)], 136.084),
        ("K2HPO4", &[("K+", 2.0), ("HPO4-2", 1.0)], 174.174),
        ("MgSO4", &[("Mg+2", 1.0), ("SO4-2", 1.0)], 120.361),
        ("CuSO4", &[("Cu+2", 1.0), ("SO4-2", 1.0)], 159.602),
        ("MnSO4", &[("Mn+2", 1.0), ("SO4-2", 1.0)], 150.994),
        ("(NH4)2SO4", &[("NH4+", 2.0), ("SO4-2", 1.0)], 132.134),
        ("K2SO4", &[("K+", 2.0), ("SO4-2", 1.0)], 174.252),
        ("NH4Cl", &[("NH4+", 1.0), ("Cl-", 1.0)], 53.489),
        ("KHCO3", &[("K+", 1.0), ("HCO3-", 1.0)], 100.114),
        ("HNO3", &[("H+", 1.0), ("NO3-", 1.0)], 63.012),
        ("KOH", &[("K+", 1.0), ("OH-", 1.0)], 56.105),
        ("H3PO4", &[("H+", 1.0), ("H2PO4-", 1.0)], 97.994),
    ] {
        let row = all["solutes"].as_array().expect("solutes").iter().find(|row| row["solute"] == solute);
        let Some(row) = row else { continue };
        let point = &row["points"][0];
        let (percent, measured) =
            (point["mass_percent"].as_f64().expect("percent"), point["ec20_ms_cm"].as_f64().expect("EC"));
        let mut mmol = vec![0.0; catalogue.ions().rows().len()];
        let molal = percent / (100.0 - percent) / mass * 1e6;
        for (symbol, count) in ions {
            mmol[catalogue.ions().find(symbol).expect(symbol).index()] = count * molal / 1.003;
        }
        let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
        let solution = speciate(catalogue.chemistry(), &totals, Air::Closed).expect("an equilibrium");
        let off = 100.0 * (at_20_us_per_cm(&solution) * 1e-3 / measured - 1.0);
        println!("measured {solute} {percent} % ({}): {off:+.1} %", row["how"].as_str().unwrap_or("-"));
        seen += 1;
        let simple = !matches!(solute, "CuSO4" | "MnSO4");
        assert!(off.abs() < if simple { 9.0 } else { 40.0 }, "{solute}: {off} %");
    }
    assert!(seen >= 5, "{seen}");
}

/// KCl 0.01 mol/kg from 0 to 50 C against the certified series (CRC handbook, NIST), 2 %: each ion's own dependence.
#[test]
fn temperature_by_each_ion() {
    let catalogue = Catalogue::standard();
    let mut mmol = vec![0.0; catalogue.ions().rows().len()];
    for symbol in ["K+", "Cl-"] {
        mmol[catalogue.ions().find(symbol).expect(symbol).index()] = 10.0 / 1.003;
    }
    let totals = catalogue.chemistry().totals(catalogue.ions(), &mmol);
    let solution = speciate(catalogue.chemistry(), &totals, Air::Closed).expect("an equilibrium");
    for (degrees, certified) in
        [(0.0, 772.92), (10.0, 1013.95), (20.0, 1273.03), (25.0, 1408.23), (30.0, 1546.63), (40.0, 1831.27), (50.0, 2123.43)]
    {
        let ec = conductivity_at(catalogue.chemistry(), &solution, celsius(degrees)).get::<siemens_per_meter>() * 1e4;
        let off = 100.0 * (ec / certified - 1.0);
        println!("KCl 0.01 mol/kg at {degrees} C: {off:+.2} %");
        assert!(off.abs() < 2.0, "{degrees} C: {ec} against {certified}");
    }
}

/// Each constant of species.toml that the other database holds is the one it uses: spot values of the reference, at 25 C.
#[test]
fn constants_are_the_published_ones() {
    let chemistry = Catalogue::standard().chemistry();
    let log_k = |symbol: &str| chemistry.species[chemistry.find(symbol).unwrap_or_else(|| panic!("{symbol}"))].log_k;
    for (what, ours, published, tolerance) in [
        ("pKw", -log_k("OH-"), 13.995, 1e-3),
        ("phosphoric pK1", log_k("H3PO4") - log_k("H2PO4-"), 2.168, 1e-3),
        ("phosphoric pK2", log_k("H2PO4-") - log_k("HPO4-2"), 7.207, 1e-3),
        ("phosphoric pK3", log_k("HPO4-2"), 12.346, 1e-3),
        ("carbonic pK1", log_k("CO2") - log_k("HCO3-"), 6.352, 1e-3),
        ("carbonic pK2", log_k("HCO3-"), 10.329, 1e-3),
        ("ammonium", -log_k("NH3"), 9.244, 1e-3),
        ("boric", -log_k("B(OH)4-"), 9.24, 1e-3),
        ("silicic", -log_k("H3SiO4-"), 9.83, 2e-3),
        ("bisulfate", log_k("HSO4-"), 1.988, 1e-3),
        ("CaSO4", log_k("CaSO4"), 2.25, 1e-3),
        ("MgSO4", log_k("MgSO4"), 2.418, 1e-3),
        ("KSO4-", log_k("KSO4-"), 1.182, 1e-3),
        ("NaSO4-", log_k("NaSO4-"), 1.212, 1e-3),
        ("NH4SO4-", log_k("NH4SO4-"), 1.211, 1e-3),
        ("CaHPO4", log_k("CaHPO4") - log_k("HPO4-2"), 2.739, 1e-3),
        ("CaH2PO4+", log_k("CaH2PO4+") - log_k("H2PO4-"), 1.408, 1e-3),
        ("MgHPO4", log_k("MgHPO4") - log_k("HPO4-2"), 2.87, 1e-3),
        ("citric pK1", log_k("H3Citrate") - log_k("H2Citrate-"), 3.128, 1e-3),
        ("citric pK2", log_k("H2Citrate-") - log_k("HCitrate-2"), 4.761, 1e-3),
        ("citric pK3", log_k("HCitrate-2"), 6.396, 1e-3),
    ] {
        assert!((ours - published).abs() < tolerance, "{what}: {ours}, published {published}");
    }
}
