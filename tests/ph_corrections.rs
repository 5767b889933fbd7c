//! What is told to bring a pH back, poured in as told: it comes near to what was promised, and the check of the tank then speaks of
//! nothing that the dose has brought. And what keeps a dose from being told at all.

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs::{self, Added, MixRecord};
use bloomsalt::quantity::{Amount, gram};
use bloomsalt::safety::{Code, Finding, Severity};

use crate::random::Random;

fn parsed(text: &str) -> Bench {
    Bench::parse(text, "random").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn checked(bench: &Bench, doses: &[(String, f64)]) -> MixRecord {
    let of = |(id, grams): &(String, f64)| Added {
        salt: bench.catalogue.find(id).expect("a salt"),
        amount: Amount::Mass(gram(*grams)),
    };
    jobs::check(bench, &doses.iter().map(of).collect::<Vec<_>>(), None).unwrap_or_else(|error| panic!("{error}: {doses:?}"))
}

/// The dose of a correction that is told, its salt and g; and the pH that it promises, true where that is in air.
fn told(bench: &Bench, finding: &Finding) -> Option<(String, f64, f64, bool)> {
    let (words, id) = (finding.remedy.as_deref()?, finding.adds.first()?);
    let salt = bench.catalogue.salt(bench.catalogue.find(id)?);
    let amount = words.to_lowercase().split("about ").nth(1)?.split(' ').next()?.parse::<f64>().ok()?;
    let grams = amount * if words.contains(&format!("mL of {}", salt.name)) { salt.density_kg_per_l? } else { 1.0 };
    let to = |before: &str| words.split(before).nth(1)?.split([' ', ',']).next()?.trim_end_matches('.').parse::<f64>().ok();
    let ph = to("brings it to ").or_else(|| to("lifts it to "))?;
    Some((id.clone(), grams, ph, !words.contains(" now, by the meter")))
}

/// Codes of what a check says of too much of something.
const TOO_MUCH: [Code; 8] = [
    Code::PhosphorusHigh,
    Code::ChlorideHigh,
    Code::SodiumHigh,
    Code::FeedTooStrong,
    Code::BoronHigh,
    Code::CopperHigh,
    Code::ZincHigh,
    Code::ManganeseHigh,
];

fn too_much(mix: &MixRecord) -> Vec<Code> {
    mix.findings.iter().map(|finding| finding.code).filter(|code| TOO_MUCH.contains(code)).collect()
}

#[test]
fn a_correction_that_is_told_passes_the_check_itself() {
    let (mut followed, mut refused) = (0, 0);
    for seed in 0..80 {
        let mut random = Random(seed);
        let alkalinity = random.between(0.0, 4.0);
        let acid = ["phosphoric-acid-10", "phosphoric-acid-85", "nitric-acid-60", "citric-acid"][random.below(4)];
        let wish = random.between(5.5, 6.3);
        let text = format!(
            "[tank]\nvolume = \"{:.0} L\"\n[water]\nCa = {:.1}\nalkalinity = \"{alkalinity:.2} meq/L\"\n[acid]\nsalt = \"{acid}\"\n\
             target_pH = {wish:.1}\n[shelf]\npotassium-nitrate = {{}}\n[syringe]\nstep = \"0.1 mL\"\ncapacity = \"60 mL\"\n\
             [[scale]]\nreadability = \"0.01 g\"\n",
            random.between(20.0, 400.0),
            alkalinity * 20.0
        );
        let bench = parsed(&text);
        let litres = f64::from(bench.tank.volume / bloomsalt::quantity::liter(1.0));
        let mut doses = vec![
            ("potassium-nitrate".to_owned(), random.between(0.05, 0.4) * litres),
            ("monopotassium-phosphate".to_owned(), random.between(0.0, 0.2) * litres),
        ];
        if random.chance(0.4) {
            let base = ["potassium-hydroxide", "potassium-carbonate", "potassium-bicarbonate"][random.below(3)];
            doses.push((base.to_owned(), random.between(0.005, 0.25) * litres));
        }
        let before = checked(&bench, &doses);
        refused += usize::from(before.findings.iter().any(|one| {
            one.remedy.iter().any(|words| words.contains("no dose of it") || words.contains("this tank gets none"))
        }));
        let Some((id, grams, ph, aired)) = before.findings.iter().find_map(|finding| told(&bench, finding)) else {
            continue;
        };
        doses.push((id, grams));
        let after = checked(&bench, &doses);
        let new: Vec<Code> = too_much(&after).into_iter().filter(|code| !too_much(&before).contains(code)).collect();
        assert!(new.is_empty(), "{seed}: {new:?} after {doses:?}\n{text}");
        let came = if aired { after.ph_aired } else { after.ph };
        // one figure of a dose is told, and an acid that is eaten is reckoned as it goes in
        assert!(came.is_some_and(|came| (came - ph).abs() < 0.5), "{seed}: {came:?}, {ph} promised, {doses:?}\n{text}");
        followed += 1;
    }
    assert!(followed > 15 && refused > 10, "{followed} followed, {refused} refused");
}

fn stops(mix: &MixRecord) -> bool {
    mix.findings.iter().any(|finding| finding.code == Code::PhOutside && finding.severity == Severity::Stop)
}

/// A lye of the grower's own that is known badly: its low end is mild, and it stops all the same.
#[test]
fn no_give_or_take_makes_a_lye_mild() {
    let product = "[[product]]\nid = \"lye\"\nname = \"the lye\"\nanalysis = { K = 69.7 }\nalkalinity_per_kg = \"17.8 eq\"\n\
                   carbon_per_kg = \"0 mol\"\n";
    let tank = |scale: &str| {
        format!(
            "[tank]\nvolume = \"60 L\"\n[[scale]]\nreadability = \"{scale}\"\ntrust = 0.5\n[shelf]\nlye = {{}}\n{product}"
        )
    };
    let mild_end = checked(&parsed(&tank("0.5 g")), &[("lye".to_owned(), 0.35)]);
    assert!(mild_end.ph_low.is_some_and(|low| low < 9.0) && mild_end.ph.is_some_and(|ph| ph > 9.0), "{:?}", mild_end.ph_low);
    assert!(stops(&mild_end), "{:?}", mild_end.findings);
    // in a feed that takes it up nothing stops
    let taken_up =
        checked(&parsed(&tank("0.5 g")), &[("lye".to_owned(), 0.35), ("monopotassium-phosphate".to_owned(), 10.0)]);
    assert!(taken_up.ph.is_some_and(|ph| ph < 9.0) && !stops(&taken_up), "{:?}", taken_up.ph);
}

/// In a tank nobody can say how sour it is: that stops, whatever `check` was told of the rest; stated, or far too little to matter, it
/// does not.
#[test]
fn an_own_acid_in_a_tank_without_its_alkalinity_stops() {
    let product = |alkalinity: &str| {
        format!(
            "{STARTER}\n[[product]]\nid = \"own\"\nname = \"nitric acid 38 %\"\ndensity = \"1.23 kg/L\"\nanalysis = {{ NO3-N = 8.4 }}\n{alkalinity}"
        )
    };
    let severity = |alkalinity: &str, grams: f64| {
        let mix =
            checked(&parsed(&product(alkalinity)), &[("own".to_owned(), grams), ("potassium-nitrate".to_owned(), 15.0)]);
        mix.findings.iter().find(|finding| finding.code == Code::AlkalinityNotStated).map(|finding| finding.severity)
    };
    assert_eq!(severity("", 36.0), Some(Severity::Stop));
    assert_eq!(severity("alkalinity_per_kg = \"-6.0 eq\"", 36.0), None);
    // 7 eq/kg of doubt, 0.02 meq/L in 60 L: own arithmetic
    assert_eq!([severity("", 0.15), severity("", 0.5)], [None, Some(Severity::Stop)]);
}

/// A correction of which less is on hand says what is left.
#[test]
fn a_correction_says_where_less_is_left_on_hand() {
    let told = |on_hand: &str| {
        let bench = parsed(&format!(
            "[tank]\nvolume = \"60 L\"\n[water]\nCa = 60\nalkalinity = \"3 meq/L\"\n[acid]\nsalt = \"phosphoric-acid-10\"\n\
             target_pH = 6.0\n[shelf]\npotassium-nitrate = {{}}\nphosphoric-acid-10 = {{ on_hand = \"{on_hand}\" }}\n\
             [syringe]\nstep = \"0.5 mL\"\ncapacity = \"60 mL\"\n"
        ));
        let mix = checked(&bench, &[("potassium-nitrate".to_owned(), 10.0)]);
        mix.findings.iter().filter_map(|one| one.remedy.clone()).find(|words| words.contains("of phosphoric acid 10 %"))
    };
    let (enough, short) = (told("2 kg").expect("a dose"), told("50 g").expect("a dose"));
    assert!(!enough.contains("left on hand") && short.contains("left on hand"), "{enough}\n{short}");
}
