//! Laws of labelled bags, on random tanks and scales: a bottle of a bag beside the bag makes no mix worse, and what nobody knows of a
//! water is no reason to leave a tank as it is.

use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, MixOptions, MixRecord, TodayAsked};
use bloomsalt::logbook::{Event, Logbook, Moment, Patterns};
use bloomsalt::safety::Severity;

use crate::random::Random;

const FORMULA: &str = "[formula.growth]\nN = 90\nP = 18\nK = 100\nCa = 75\nMg = 22\nFe = 1.5\nMn = 0.4\nZn = 0.2\nB = 0.3\nCu = 0.05\n\
                       Mo = 0.08\nammonium_share = { max = 0.15 }\n";

/// A bench of two bags and perhaps a third, with another section among the others.
fn bench(random: &mut Random, water: &str, bottle: &str) -> String {
    let litres = random.between(15.0, 200.0).round();
    let step = [0.1, 0.5, 1.0, 2.0][random.below(4)];
    let trust = [0.05, 0.1, 0.2][random.below(3)];
    let label = |random: &mut Random, low: f64, high: f64| (random.between(low, high) * 2.0).round() / 2.0;
    let (nitrate, ammonium, urea) = (label(random, 2.0, 10.0), label(random, 0.5, 4.0), label(random, 0.0, 6.0));
    let (p, k) = (label(random, 3.0, 20.0), label(random, 10.0, 35.0));
    let jug =
        if random.chance(0.5) { "[[jug]]\nid = \"jug\"\nstep = \"50 mL\"\ntrust = 0.05\ncapacity = \"1 L\"\n" } else { "" };
    let mkp = if random.chance(0.5) { "monopotassium-phosphate = {}\n" } else { "" };
    let mut text =
        format!("[tank]\nvolume = \"{litres} L\"\n{water}[[scale]]\nreadability = \"{step} g\"\ntrust = {trust}\n");
    let _ = write!(
        text,
        "[syringe]\nstep = \"1 mL\"\ntrust = 0.05\ncapacity = \"20 mL\"\n{jug}[shelf]\n{mkp}feed = {{}}\nlime = {{}}\n\
         [[product]]\nid = \"feed\"\nname = \"feed\"\nanalysis = {{ NO3-N = {nitrate}, NH4-N = {ammonium}, urea-N = {urea}, P2O5 = {p}, \
         K2O = {k}, MgO = 3, Fe = 0.1, Mn = 0.05, B = 0.02, Zn = 0.015, Cu = 0.005, Mo = 0.003 }}\n\
         [[product]]\nid = \"lime\"\nname = \"lime\"\nanalysis = {{ NO3-N = 14.4, NH4-N = 1.1, CaO = 26.5 }}\n{bottle}{FORMULA}"
    );
    text
}

/// A bag of which a litre holds not enough and what is lacking is too little for the scale, while the bag alone is not.
const TOO_LITTLE_BESIDE: &str = "[tank]\nvolume = \"80 L\"\n[[scale]]\nreadability = \"1 g\"\ntrust = 0.2\n[syringe]\nstep = \"1 mL\"\n\
    capacity = \"20 mL\"\n[[jug]]\nid = \"jug\"\nstep = \"50 mL\"\ntrust = 0.05\ncapacity = \"1 L\"\n[shelf]\nmonopotassium-phosphate = {}\n\
    feed = {}\nlime = {}\n[[product]]\nid = \"feed\"\nanalysis = { NO3-N = 8.5, NH4-N = 1.5, urea-N = 5, P2O5 = 5, K2O = 30, MgO = 3, \
    Fe = 0.1, Mn = 0.05, B = 0.02, Zn = 0.015, Cu = 0.005, Mo = 0.003 }\n[[product]]\nid = \"lime\"\n\
    analysis = { NO3-N = 14.4, NH4-N = 1.1, CaO = 26.5 }\n";

fn mixed(text: &str) -> Option<MixRecord> {
    jobs::mix(&Bench::parse(text, "bags").expect("valid"), "growth", &MixOptions::default()).ok()
}

/// What the misfit may rise by for a bottle that is there: what is left out beside it for its last percent (docs/fit.md).
const REMAINDERS: f64 = 0.1;

#[test]
fn a_bottle_of_a_bag_beside_it_makes_no_mix_worse() {
    let (mut compared, mut drawn) = (0, 0);
    for seed in 0..200 {
        let mut random = Random(1000 + seed);
        let (grams, left) = (random.between(3.0, 30.0).round(), random.between(50.0, 1000.0).round());
        let (grams, left) = if seed == 0 { (8.0, 1000.0) } else { (grams, left) };
        let bottle = format!(
            "[[helper]]\nid = \"made\"\nvolume = \"1 L\"\nmade_of = {{ feed = \"{grams} g\" }}\nleft = \"{left} mL\"\n"
        );
        let [alone, beside] = ["", &bottle].map(|bottle| match seed {
            0 => format!("{TOO_LITTLE_BESIDE}{bottle}{FORMULA}"),
            _ => bench(&mut Random(seed), "", bottle),
        });
        let (Some(alone), with) = (mixed(&alone), mixed(&beside)) else { continue };
        let with = with.unwrap_or_else(|| panic!("{seed}: nothing comes of it with a bottle\n{beside}"));
        let stops = |mix: &MixRecord| mix.findings.iter().filter(|one| one.severity == Severity::Stop).count();
        let misfit = |mix: &MixRecord| mix.misfit.expect("a formula was asked");
        assert!(stops(&with) <= stops(&alone), "{seed}: {:?}, alone {:?}\n{beside}", with.findings, alone.doses);
        assert!(misfit(&with) <= misfit(&alone) + REMAINDERS, "{seed}: {} for {}\n{beside}", misfit(&with), misfit(&alone));
        drawn += usize::from(with.helpers.iter().any(|helper| !helper.new && helper.dose_ml.is_some()));
        compared += 1;
    }
    assert!(compared > 100 && drawn > 10, "{compared}, {drawn}");
}

/// A tank of which plants took a half, filled up on a bench that knows nothing of its water, takes what it takes on one whose water
/// holds nothing: the unknown counts as nothing, and what it may be is no reason to add nothing.
#[test]
fn an_unknown_water_is_no_reason_to_add_nothing() {
    let (mut same, mut fed) = (0, 0);
    for seed in 0..40 {
        let [rain, tap] = ["", "[water]\nEC = \"0.4 mS/cm\"\n"].map(|water| bench(&mut Random(seed), water, ""));
        let (rain, tap) = (Bench::parse(&rain, "rain").expect("valid"), Bench::parse(&tap, "tap").expect("valid"));
        let litres = rain.tank.volume.get::<uom::si::volume::liter>();
        let share = Random(seed).between(0.2, 0.8);
        let ppm = [("NO3-N", 80.0), ("NH4-N", 5.0), ("P", 18.0), ("K", 70.0), ("Ca", 70.0), ("Mg", 3.0), ("Fe", 0.2)];
        let filled = Event::Filled {
            volume_l: litres,
            held_back_l: 0.0,
            formula: Some("growth".to_owned()),
            hold_at_most_days: None,
            salts_g: std::collections::BTreeMap::new(),
            bottles_ml: std::collections::BTreeMap::new(),
            ppm: ppm.map(|(element, ppm)| (element.to_owned(), share * ppm)).into(),
        };
        let level = Event::Reading { ec_ms_cm: None, ph: None, temperature_c: None, level_l: Some(0.9 * litres) };
        let mut logbook = Logbook::empty();
        let mut text = String::new();
        for (when, event) in [("2027-01-04 09:00+01:00", filled), ("2027-01-11 09:00+01:00", level)] {
            text += &logbook.append(Moment::parse(when).expect("a moment"), event).expect("an entry");
            logbook = Logbook::parse(text.as_bytes(), &[]).expect("a logbook");
        }
        let patterns = Patterns::standard();
        let doses = |bench: &Bench| {
            let asked = TodayAsked {
                logbooks: &[&logbook],
                at: Moment::parse("2027-01-11 10:00+01:00").expect("a moment"),
                patterns: &patterns,
                begin: None,
                with_recipe: false,
            };
            let today = jobs::today(bench, &asked).expect("a day");
            let doses = today.tanks[0].fill_up.as_ref().map_or_else(Vec::new, |fill| fill.doses.clone());
            doses.iter().map(|dose| (dose.name.clone(), dose.grams().or(dose.millilitres()))).collect::<Vec<_>>()
        };
        let (of_rain, of_tap) = (doses(&rain), doses(&tap));
        assert_eq!(of_rain, of_tap, "{seed}");
        same += 1;
        fed += usize::from(!of_tap.is_empty());
    }
    assert!(same > 20 && fed > 10, "{same}, {fed}");
}
