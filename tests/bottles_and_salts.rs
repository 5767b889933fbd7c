//! Another formula from stock bottles and few salts: what goes in reckoned again, and the choice of salts tried by leaving each
//! of them out.

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{
    self, Dose, Dosed, GoesIn, JobError, MixOptions, MixRecord, Prefer, StockOptions, StockRecord, SwitchOptions,
    VerdictWord, WithSalts,
};
use bloomsalt::quantity::{celsius, liter};
use bloomsalt::safety::Code;
use serde_json::Value;

use crate::program::done;
use crate::random::Random;
use crate::random::benches::USUAL;
use crate::random::judge::Judge;

/// As `AS_GOOD` of the engine, which a test does not see.
const AS_GOOD: f64 = 0.01;
const FEW: usize = 6;
/// What the syringe of the starter bench is trusted with at the least, mL.
const SYRINGE_ML: f64 = 10.0;

/// A bench with a growth and a push near to it.
fn bench(seed: u64) -> String {
    let random = &mut Random(seed ^ 0xB0_7713);
    let shelf: Vec<String> = USUAL.iter().filter(|_| random.chance(0.9)).map(|id| format!("{id} = {{}}\n")).collect();
    let (water, acid) = if random.chance(0.4) {
        let meq = random.between(0.2, 1.5);
        let acid = if random.chance(0.5) { "[acid]\nsalt = \"phosphoric-acid-10\"\ntarget_pH = 5.8\n" } else { "" };
        let (ca, mg) = (random.between(2.0, 20.0), random.between(1.0, 4.0));
        (format!("[water]\nCa = {ca:.2}\nMg = {mg:.2}\nalkalinity = \"{meq:.2} meq/L\"\npH = 7.2\n"), acid)
    } else {
        (String::new(), "")
    };
    let usual = [
        ("N", 90.0, (0.3, 1.1)),
        ("P", 18.0, (0.8, 2.2)),
        ("K", 100.0, (0.8, 1.6)),
        ("Ca", 75.0, (0.7, 1.2)),
        ("Mg", 22.0, (0.8, 1.2)),
        ("Fe", 1.5, (0.9, 1.1)),
        ("Mn", 0.4, (0.95, 1.05)),
        ("Zn", 0.1, (0.95, 1.05)),
        ("B", 0.3, (0.95, 1.05)),
        ("Cu", 0.1, (0.95, 1.05)),
        ("Mo", 0.08, (0.95, 1.05)),
    ];
    let growth: Vec<String> =
        usual.iter().map(|(e, ppm, _)| format!("{e} = {:.3}\n", ppm * random.between(0.7, 1.4))).collect();
    let moved = if random.chance(0.5) { 1.0 } else { 0.3 };
    let times: Vec<String> = usual
        .iter()
        .map(|(e, _, (low, high))| format!("{e} = {{ times = {:.3} }}\n", 1.0 + moved * (random.between(*low, *high) - 1.0)))
        .collect();
    format!(
        "[tank]\nvolume = \"60 L\"\n{water}[[scale]]\nreadability = \"0.1 g\"\n[[scale]]\nreadability = \"0.001 g\"\ntrust = 0.2\n\
         {acid}[shelf]\n{}[formula.growth]\n{}[formula.push]\nfrom = \"growth\"\n{}",
        shelf.concat(),
        growth.concat(),
        times.concat()
    )
}

fn how() -> StockOptions {
    let dose_for = Some("push".to_owned());
    StockOptions { strength: 100.0, bottle: liter(20.0), coldest: celsius(10.0), dose_for }
}

/// The least misfit of a push from these bottles and these salts, by a mix of a bench on which the bottles stand.
fn misfit_with(text: &str, stock: &StockRecord, salts: &[&str]) -> f64 {
    let mut file = String::new();
    let mut of_shelf = false;
    for line in text.lines() {
        of_shelf = if line.starts_with('[') { line == "[shelf]" } else { of_shelf };
        let id = line.split(' ').next().unwrap_or("");
        let stays = !of_shelf || line.starts_with('[') || salts.contains(&id);
        // what is in a bottle alone is none of the shelf's
        let _ = if stays { writeln!(file, "{line}") } else { writeln!(file, "{id} = {{ on_hand = \"0 g\" }}") };
    }
    for helper in &stock.tank.helpers {
        let is_stock = stock.bottles.iter().any(|bottle| bottle.id == helper.id);
        let left = if is_stock { "" } else { "left = \"0 L\"\n" };
        let _ = write!(file, "{}{left}", helper.entry.as_ref().expect("a new bottle"));
    }
    let bench = Bench::parse(&file, "bottles").unwrap_or_else(|error| panic!("{error}\n{file}"));
    let brief = MixOptions { without_reasons: true, ..MixOptions::default() };
    match jobs::mix(&bench, "push", &brief) {
        Ok(mix) => mix.misfit_exact.expect("a misfit"),
        Err(JobError::NothingToMixFrom { .. } | JobError::Conflict { .. } | JobError::NothingMeasurable { .. }) => {
            f64::INFINITY
        }
        Err(error) => panic!("{error:?}\n{file}"),
    }
}

fn is_close(made: &WithSalts) -> bool {
    made.tank.misfit_exact.expect("a misfit") <= made.misfit_of_shelf + AS_GOOD
}

/// What the record says of itself, against its doses.
fn agrees(bench: &Bench, stock: &StockRecord, made: &WithSalts) {
    let judged = Judge { bench }.tank(&serde_json::to_value(&made.tank).expect("JSON"), false);
    assert!(judged.is_empty(), "{judged:?}");
    // the bottles are those that were made
    for helper in &made.tank.helpers {
        if let Some(own) = stock.tank.helpers.iter().find(|own| own.id == helper.id) {
            assert_eq!((&own.made_of, own.volume_ml), (&helper.made_of, helper.volume_ml), "{}", helper.id);
        }
    }
    let acids: &[String] = bench.acid.as_ref().map_or(&[], |acid| &acid.salts);
    let of_acid = |salt: &&str| acids.iter().any(|acid| acid == salt);
    let salts: Vec<&str> = made.tank.doses.iter().filter_map(Dose::salt).filter(|salt| !of_acid(salt)).collect();
    assert_eq!(salts, made.salts.iter().collect::<Vec<_>>());
    let is_stock = |id: &str| stock.bottles.iter().any(|bottle| bottle.id == id);
    let drawn = made.tank.doses.iter().any(|dose| dose.is_measured() && dose.bottle().is_some_and(is_stock));
    let good = is_close(made) || made.tank.verdict.word == VerdictWord::Ready;
    assert_eq!(made.as_good, good && drawn && salts.len() <= FEW);
}

#[test]
fn a_push_from_growth_bottles_and_few_salts_is_what_its_doses_give() {
    let (mut as_good, mut second_set, mut spared, mut of_acid) = (0, 0, 0, 0);
    for seed in 0..80 {
        let text = bench(seed);
        let bench = Bench::parse(&text, "random").unwrap_or_else(|error| panic!("{error}\n{text}"));
        let stock = match jobs::stock(&bench, "growth", &how()) {
            Ok(stock) => stock,
            Err(JobError::NoStock { .. }) => continue,
            Err(error) => panic!("bench {seed}: {error:?}\n{text}"),
        };
        let Some(made) = &stock.with_salts else { panic!("bench {seed}: nothing\n{text}") };
        agrees(&bench, &stock, made);
        let shelf = jobs::mix(&bench, "push", &MixOptions::default()).expect("a mix");
        assert_eq!(shelf.misfit_exact, Some(made.misfit_of_shelf), "bench {seed}");
        of_acid += usize::from(bench.acid.is_some());
        as_good += usize::from(made.as_good);
        second_set += usize::from(!made.as_good);
        let by_hand = shelf.doses.iter().filter(|dose| dose.salt().is_some()).count();
        spared += usize::from(made.as_good && made.salts.len() + 2 < by_hand);
        // the bottles alone are one choice of few salts
        if let (Some(alone), false) = (&stock.dose_for, made.as_good) {
            let alone = alone.misfit_exact.expect("a misfit");
            let few = made.tank.misfit_exact.expect("a misfit");
            assert!(few <= alone + AS_GOOD + 1e-6, "bench {seed}: {few} with salts, {alone} without\n{text}");
        }
        if bench.acid.is_none() && is_close(made) {
            for left_out in &made.salts {
                let rest: Vec<&str> = made.salts.iter().filter(|salt| *salt != left_out).map(String::as_str).collect();
                let misfit = misfit_with(&text, &stock, &rest);
                assert!(
                    misfit > made.misfit_of_shelf + AS_GOOD - 1e-6,
                    "bench {seed}: without {left_out} the misfit is {misfit}, of the shelf {}\n{text}",
                    made.misfit_of_shelf
                );
            }
        }
    }
    assert!(
        as_good > 15 && second_set > 5 && spared > 10 && of_acid > 5,
        "{as_good} as good, {second_set} second sets, {spared} spare three salts and more, {of_acid} with acid"
    );
}

#[test]
fn the_starter_makes_push_from_a_growth_bottle_and_five_salts() {
    let json: Value = serde_json::from_str(&done(&["stock", "growth", "--dose-for", "push", "--json"])).expect("JSON");
    let made = &json["with_salts"];
    assert_eq!(made["as_good"], true);
    assert_eq!(made["salts"].as_array().expect("a list").len(), 5);
    let text = done(&["stock", "growth", "--dose-for", "push"]);
    assert!(text.contains("PUSH FROM THESE BOTTLES  and 5 salts beside them"), "{text}");
    assert!(text.contains("A second set of bottles is not needed."), "{text}");
    let without: Value = serde_json::from_str(&done(&["stock", "growth", "--json"])).expect("JSON");
    assert!(without["with_salts"].is_null());
}

/// The phosphate of these growth bottles is ammonium's, more of it than a push of little nitrogen may have.
/// What is weighed beside bottles has its cautions where it is weighed, whatever is told of the bottles.
#[test]
fn what_is_weighed_beside_bottles_has_its_cautions() {
    let text = done(&["stock", "growth", "--dose-for", "push"]);
    let (_, beside) = text.split_once("FROM THESE BOTTLES").expect("told");
    let (beside, _) = beside.split_once("THE SAME BOTTLES").expect("told");
    for heading in ["Eyes (4)", "Dust (6)", "Fire (4)", "Law (4)", "Clouding (4, 5)", "Danger: 4 "] {
        assert!(beside.contains(heading), "{heading}\n{beside}");
    }
    assert!(!beside.contains("Last word"), "what concerns every mix is said once");
}

#[test]
fn a_second_set_is_told_where_the_bottles_bring_too_much_ammonium() {
    let page = done(&["stock", "growth", "--bench", "examples/streptocarpus.toml", "--dose-for", "push"]);
    assert!(page.contains("monoammonium phosphate"), "{page}");
    assert!(page.contains("Bottles of its own bring push closer: make a second set."), "{page}");
    assert!(!page.contains("not needed"), "{page}");
}

/// The bottles stand on the bench: what `mix` says of them is what it weighs when few salts are preferred.
#[test]
fn a_push_from_bottles_on_the_bench_is_told_where_they_stay_undrawn() {
    let (mut told, mut drawn) = (0, 0);
    for seed in 0..40 {
        let text = bench(seed);
        let made = Bench::parse(&text, "random").expect("valid");
        let without = StockOptions { dose_for: None, ..how() };
        let Ok(stock) = jobs::stock(&made, "growth", &without) else { continue };
        let entries: String = stock.tank.helpers.iter().filter_map(|helper| helper.entry.clone()).collect();
        let bench = Bench::parse(&format!("{text}\n{entries}"), "bottles").expect("valid");
        let Ok(mix) = jobs::mix(&bench, "push", &MixOptions::default()) else { continue };
        let few = MixOptions { prefer: Some(Prefer::Few), without_reasons: true, ..MixOptions::default() };
        let few = jobs::mix(&bench, "push", &few).expect("a mix");
        let bottles = |of: &MixRecord| -> Vec<String> {
            let ids = of.doses.iter().filter(|dose| dose.is_measured()).filter_map(Dose::bottle).map(str::to_owned);
            ids.filter(|id| bench.helpers.iter().any(|helper| helper.id == *id)).collect()
        };
        let salts = |of: &MixRecord| {
            let all = of.doses.iter().filter(|dose| dose.is_measured() && !dose.acid).count();
            all - bottles(of).len()
        };
        let finding = mix.findings.iter().find(|finding| finding.code == Code::BottlesUndrawn);
        let close = few.misfit_exact.expect("fitted") <= mix.misfit_exact.expect("fitted") + AS_GOOD;
        let due = bottles(&mix).is_empty() && !bottles(&few).is_empty() && close && salts(&few) < salts(&mix);
        assert_eq!(finding.is_some(), due, "bench {seed}\n{text}");
        drawn += usize::from(!bottles(&mix).is_empty());
        if let Some(finding) = finding {
            told += 1;
            assert!(bottles(&few).iter().all(|id| finding.message.contains(id)), "{}", finding.message);
            assert!(finding.message.contains(&format!("{} salt", salts(&few))), "{}", finding.message);
        }
    }
    // the starter's growth bottle holds what a push of it wants, and with it less chloride cannot be had
    let stock = jobs::stock(&Bench::starter(), "growth", &StockOptions { dose_for: None, ..how() }).expect("bottles");
    let entries: String = stock.tank.helpers.iter().filter_map(|helper| helper.entry.clone()).collect();
    let bench = Bench::parse(&format!("{}\n{entries}", bloomsalt::bench::STARTER), "starter").expect("valid");
    let mix = jobs::mix(&bench, "push", &MixOptions::default()).expect("a mix");
    let said = mix.findings.iter().find(|finding| finding.code == Code::BottlesUndrawn).expect("told");
    assert!(said.message.starts_with("From growth-b and "), "{}", said.message);
    assert!(told >= 1 && drawn >= 10, "{told} told, {drawn} drawn without a word");
}

/// What is in a bottle on the bench is drawn from it: no second one is made for it, and no syringe is filled nine times for what can
/// be weighed.
#[test]
fn bottles_on_the_bench_are_drawn_from() {
    let mut drawn = 0;
    for seed in 0..60 {
        let random = &mut Random(seed ^ 0xD0_77);
        let salt = ["sodium-molybdate-dihydrate", "copper-sulfate-pentahydrate", "zinc-sulfate-heptahydrate", "iron-dtpa"]
            [(seed % 4) as usize];
        let (grams, share) = (random.between(0.02, 2.0), random.between(0.85, 0.97));
        let helper = format!("\n[[helper]]\nid = \"made\"\nvolume = \"1 L\"\nmade_of = {{ {salt} = \"{grams:.3} g\" }}\n");
        let bench = Bench::parse(&format!("bottles = [\"1 L\"]\n{}{helper}", bloomsalt::bench::STARTER), "bench.toml")
            .expect("a bench");
        let fresh = jobs::mix(&bench, "growth", &MixOptions::default()).expect("a mix");
        let held = jobs::mixed(&bench, "growth").expect("a mix");
        let level = Some(liter(60.0 * share));
        let how = SwitchOptions { level, drain: Some(liter(0.0)), ..SwitchOptions::default() };
        let turned = jobs::switch(&bench, "growth", &held, &how, &MixOptions::default()).expect("a switch");
        for mix in [&fresh, &turned.after] {
            // a new bottle only where the one that is there is too strong to be measured
            let in_bottle = |dose: &Dose| match &dose.what {
                Dosed::Salt { goes_in: GoesIn::InBottle { grams, .. }, .. } => Some(*grams),
                _ => None,
            };
            let in_new = mix.doses.iter().filter(|dose| dose.salt() == Some(salt)).filter_map(in_bottle);
            for needed in in_new {
                let drawn_ml = needed / grams * 1e3;
                assert!(drawn_ml < SYRINGE_ML, "{salt} {grams} {share}: {drawn_ml} mL could be drawn, {:?}", mix.helpers);
            }
            let can_be_drawn = mix.doses.iter().filter(|dose| dose.bottle() == Some("made"));
            let weighable = salt == "iron-dtpa" && mix.job == "mix";
            assert!(
                can_be_drawn.clone().all(|dose| dose.portions().is_none_or(|most| most <= 8) || !weighable),
                "{salt} {grams}"
            );
            drawn += can_be_drawn.count();
        }
    }
    assert!(drawn > 20, "{drawn}");
}
