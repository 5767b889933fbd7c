//! What is to be added now, poured into the tank as it is told, comes to what was promised and is no worse than leaving the
//! tank alone: of `check --against` and of the forecast of a logbook, on random benches with bottles.

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, Added, CheckOptions, CheckRecord, Drawn, ForecastAsked, Known, Recipe, RemedyKind, check_tank};
use bloomsalt::logbook::{Amounts, Entry, Event, Logbook, Moment, Patterns, line, nutrients};
use bloomsalt::matter::{NUTRIENTS, Nutrient, Nutrients};
use bloomsalt::quantity::{Amount, gram, liter};
use bloomsalt::safety::Code;

use crate::random::Random;

const SALTS: [&str; 8] = [
    "calcium-nitrate-tetrahydrate",
    "potassium-nitrate",
    "monopotassium-phosphate",
    "magnesium-sulfate-heptahydrate",
    "potassium-sulfate",
    "monoammonium-phosphate",
    "iron-dtpa",
    "boric-acid",
];

/// So many random benches; `BLOOMSALT_CASES` asks for more, as in `tests/laws.rs`.
#[allow(clippy::disallowed_methods, reason = "a test may be told to run longer")]
fn cases(usual: usize) -> usize {
    std::env::var("BLOOMSALT_CASES").ok().and_then(|asked| asked.parse().ok()).unwrap_or(usual)
}

/// A bench of some salts, with bottles for the rest, and the formula `growth`.
fn bench(random: &mut Random) -> String {
    let count = 4 + random.below(5);
    let shelf = random.some(&SALTS, count);
    let mut lines = vec![format!("[tank]\nvolume = \"{:.1} L\"", random.between(8.0, 120.0))];
    if random.chance(0.7) {
        let mut ppm = |most: f64| random.between(0.0, most);
        let (ca, mg, cl) = (ppm(60.0), ppm(15.0), ppm(50.0));
        lines.push(format!("[water]\nCa = {ca:.2}\nMg = {mg:.2}\nNa = 8\nCl = {cl:.2}"));
        lines.push(format!("alkalinity = \"{:.2} meq/L\"", ppm(3.0)));
    }
    let iron = random.between(2.0, 20.0);
    lines.push(format!("[[helper]]\nid = \"iron\"\nvolume = \"1 L\"\nmade_of = {{ iron-dtpa = \"{iron:.2} g\" }}"));
    lines.extend(random.chance(0.5).then(|| "made_with = \"pure\"".to_owned()));
    let boron = random.between(1.0, 4.0);
    lines.push(format!("[[helper]]\nid = \"boron\"\nvolume = \"0.5 L\"\nmade_of = {{ boric-acid = \"{boron:.2} g\" }}"));
    lines.push("[shelf]".to_owned());
    lines.extend(shelf.iter().map(|id| format!("{id} = {{}}")));
    lines.push("[formula.growth]".to_owned());
    for (symbol, low, high) in [
        ("N", 30.0, 120.0),
        ("P", 10.0, 40.0),
        ("K", 60.0, 200.0),
        ("Ca", 40.0, 110.0),
        ("Mg", 10.0, 40.0),
        ("Fe", 0.5, 2.0),
        ("B", 0.1, 0.5),
    ] {
        lines.push(format!("{symbol} = {:.3}", random.between(low, high)));
    }
    if random.chance(0.3) {
        lines.push(format!("EC = {{ max = \"{:.2} mS/cm\" }}", random.between(1.2, 2.5)));
    }
    lines.join("\n")
}

fn parsed(text: &str) -> Bench {
    Bench::parse(text, "random").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// Salts and bottles poured together.
#[derive(Default, Clone)]
struct Poured(Vec<(String, f64)>);

impl Poured {
    fn pour(&mut self, id: &str, amount: f64) {
        match self.0.iter_mut().find(|(other, _)| other == id) {
            Some((_, sum)) => *sum += amount,
            None => self.0.push((id.to_owned(), amount)),
        }
    }

    fn checked(&self, bench: &Bench, against: Option<&str>) -> CheckRecord {
        let (mut salts, mut bottles) = (Vec::new(), Vec::new());
        for (id, amount) in &self.0 {
            match bench.catalogue.find(id) {
                Some(salt) => salts.push(Added { salt, amount: Amount::Mass(gram(*amount)) }),
                None => bottles.push(Drawn { bottle: id.clone(), volume: liter(amount * 1e-3) }),
            }
        }
        let content = Known::Added { salts: &salts, bottles: &bottles };
        check_tank(bench, &content, &CheckOptions { against, ..CheckOptions::default() })
            .unwrap_or_else(|error| panic!("{error}: {:?}", self.0))
    }
}

fn keeps_limits(checked: &CheckRecord) -> bool {
    !checked.tank.findings.iter().any(|finding| [Code::LimitMissed, Code::EcOutside].contains(&finding.code))
}

/// Holds a tank against `growth`, and pours what is to be added now.
///
/// Returns how many doses come from bottles that the bench has; none where adding is not possible.
fn poured_as_told(text: &str, tank: &Poured) -> Option<usize> {
    let before = parsed(text);
    let checked = tank.checked(&before, Some("growth"));
    let remedies = checked.remedies.clone().expect("held against a formula");
    let now = remedies.options.iter().find(|option| option.kind == RemedyKind::AddNow).filter(|option| option.possible)?;
    let (mut all, mut from_bottles) = (tank.clone(), 0);
    for dose in now.doses.iter().filter(|dose| dose.is_measured()) {
        let id = dose.id();
        if dose.bottle().is_some() {
            from_bottles += usize::from(before.helpers.iter().any(|helper| helper.id == id));
            all.pour(id, dose.millilitres().expect("millilitres"));
        } else {
            all.pour(id, dose.grams().expect("grams"));
        }
    }
    let entries: Vec<&str> = now.helpers.iter().filter_map(|helper| helper.entry.as_deref()).collect();
    let (shelf, formula) = text.split_once("[shelf]").expect("a shelf");
    let poured = all.checked(&parsed(&format!("{shelf}{}\n[shelf]{formula}", entries.join("\n"))), Some("growth"));
    let misfit = |checked: &CheckRecord| checked.tank.misfit.expect("targets");
    let told = now.misfit.expect("possible");
    assert!((misfit(&poured) - told).abs() <= 1e-6 * told.max(1.0), "{} for {told}\n{text}", misfit(&poured));
    if keeps_limits(&checked) {
        assert!(told <= misfit(&checked) + 1e-9, "{told} after {}\n{text}", misfit(&checked));
    }
    for promised in &now.after {
        let came = poured.tank.elements.iter().find(|one| one.element == promised.element).map_or(0.0, |one| one.ppm);
        assert!((came - promised.ppm).abs() <= 1e-6 * promised.ppm.max(1e-3), "{}: {came}\n{text}", promised.element);
    }
    Some(from_bottles)
}

#[test]
fn what_check_adds_poured_in_is_no_worse_than_told() {
    let mut random = Random(20_261_125);
    let (mut possible, mut from_bottles) = (0, 0);
    for _ in 0..cases(20) {
        let text = bench(&mut random);
        let litres = f64::from(parsed(&text).tank.volume / liter(1.0));
        let mut tank = Poured::default();
        for id in random.some(&SALTS, 4) {
            let most = if ["iron-dtpa", "boric-acid"].contains(&id) { 0.003 } else { 0.4 };
            tank.pour(id, (random.between(0.0, most) * litres * 1e3).round() / 1e3);
        }
        tank.0.retain(|(_, grams)| *grams > 0.0);
        if let Some(drawn) = poured_as_told(&text, &tank) {
            (possible, from_bottles) = (possible + 1, from_bottles + drawn);
        }
    }
    assert!(possible >= 10 && from_bottles >= 4, "{possible} {from_bottles}");
    // a tank of potassium acetate and hydroxide, and one whose EC is over its limit already: an answer, or why there is none
    let acetate = Poured(vec![("acetic-acid".to_owned(), 8.33333), ("potassium-hydroxide".to_owned(), 8.33333)]);
    poured_as_told(include_str!("cases/limit-does-not-hold.toml"), &acetate);
    let nitrate = Poured(vec![("potassium-nitrate".to_owned(), 10.0), ("magnesium-sulfate-heptahydrate".to_owned(), 20.0)]);
    assert_eq!(
        poured_as_told(include_str!("cases/slow-check.toml"), &nitrate),
        None,
        "the EC of the tank is over its limit"
    );
}

#[test]
fn what_a_forecast_restores_poured_in_is_no_worse_than_told() {
    let mut random = Random(7);
    let (mut from_bottles, mut filled, mut alike) = (0, 0, 0);
    let (at, patterns) = (Moment::parse("2026-10-20 09:00Z").unwrap(), Patterns::standard());
    for case in 0..cases(16) {
        let text = bench(&mut random);
        let bench = parsed(&text);
        let litres = f64::from(bench.tank.volume / liter(1.0)) * random.between(0.7, 1.0);
        let ppm: Amounts =
            [("NO3-N", 120.0), ("P", 40.0), ("K", 200.0), ("Ca", 110.0), ("Mg", 40.0), ("Fe", 2.0), ("B", 0.5)]
                .map(|(symbol, most)| (symbol.to_owned(), (random.between(0.0, most) * 1e3).round() / 1e3))
                .into();
        let named: Vec<Nutrient> = NUTRIENTS.to_vec();
        let there = nutrients(&ppm).unwrap();
        let formula = Some("growth".to_owned());
        let (salts_g, hold_at_most_days) = (Amounts::new(), None);
        let event = Event::Filled {
            volume_l: litres,
            held_back_l: 0.0,
            formula,
            hold_at_most_days,
            salts_g,
            bottles_ml: Amounts::new(),
            ppm,
        };
        let logbook = Logbook::parse(line(&Entry { number: 1, at, event }).as_bytes(), &[]).unwrap();
        let forecast = jobs::forecast(&bench, &logbook, at, &patterns, ForecastAsked::default()).expect("forecast").0;
        let Some(restore) = forecast.restore else { continue };
        // and the page of the day says the same
        let (logbooks, begin) = ([&logbook], None);
        let asked = jobs::TodayAsked { logbooks: &logbooks, at, patterns: &patterns, begin, with_recipe: false };
        let today = jobs::today(&bench, &asked).expect("a page").tanks.into_iter().next().expect("a tank");
        if let Some(fill) = today.fill_up {
            let of_day: Vec<_> = fill.doses.iter().filter(|dose| dose.is_measured()).collect();
            let told: Vec<_> = restore.doses.iter().collect();
            assert_eq!((of_day, fill.water_l.to_bits()), (told, restore.water_l.to_bits()), "case {case}");
            assert_eq!(fill.order, restore.order, "case {case}: the same steps");
            alike += 1;
        }
        let mut poured = Poured::default();
        for dose in &restore.doses {
            match dose.bottle() {
                None => poured.pour(dose.id(), dose.grams().expect("grams")),
                Some(id) => {
                    from_bottles += usize::from(bench.helpers.iter().any(|helper| helper.id == id));
                    poured.pour(id, dose.millilitres().expect("millilitres"));
                }
            }
        }
        let entries: Vec<&str> = restore.helpers.iter().filter_map(|helper| helper.entry.as_deref()).collect();
        let (shelf, formula) = text.split_once("[shelf]").expect("a shelf");
        let here = parsed(&format!("{shelf}{}\n[shelf]{formula}", entries.join("\n"))).with_tank(liter(restore.volume_l));
        // what fills it up thins it first
        assert!((litres + restore.water_l - restore.volume_l).abs() < 1e-6 * litres, "case {case}");
        let mut there = there.scaled(litres / restore.volume_l);
        there.add(&here.water.nutrients, restore.water_l / restore.volume_l);
        filled += usize::from(restore.water_l > 0.0);
        let held = |ppm: &Nutrients| {
            let how = CheckOptions { against: Some("growth"), ..CheckOptions::default() };
            check_tank(&here, &Known::Analysis { ppm, named: &named }, &how).expect("checked")
        };
        let before = held(&there);
        let mut after = there;
        if !poured.0.is_empty() {
            let checked = poured.checked(&here, None);
            let mut brought = Nutrients::default();
            for element in &checked.tank.elements {
                brought[Nutrient::parse(&element.element).unwrap()] = element.ppm;
            }
            (brought[Nutrient::NitrateN], brought[Nutrient::AmmoniumN]) =
                (checked.tank.nitrate_n_ppm, checked.tank.ammonium_n_ppm);
            brought.add(&here.water.nutrients, -1.0);
            after.add(&brought, 1.0);
        }
        let told = restore.misfit.expect("targets");
        let misfit = |checked: &CheckRecord| checked.tank.misfit.expect("targets");
        assert!(
            (misfit(&held(&after)) - told).abs() <= 1e-5 * told.max(1.0),
            "case {case}: {} for {told}",
            misfit(&held(&after))
        );
        assert!((misfit(&before) - restore.misfit_before.expect("targets")).abs() <= 1e-5 * told.max(1.0));
        if keeps_limits(&before) {
            assert!(told <= misfit(&before) + 1e-9, "case {case}: {told} after {}", misfit(&before));
        }
    }
    assert!(from_bottles >= 3 && filled >= 8 && alike >= 8, "{from_bottles} {filled} {alike}");
}

/// A recipe checked again in the tank that it was made for is left alone.
#[test]
fn a_mix_needs_nothing() {
    let mut random = Random(3);
    let mut tried = 0;
    for _ in 0..cases(10) {
        let bench = parsed(&bench(&mut random));
        let Ok(mix) = jobs::mix(&bench, "growth", &jobs::MixOptions::default()) else { continue };
        let recipe: Recipe = jobs::recipe(&bench, &mix);
        let how = CheckOptions { against: Some("growth"), ..CheckOptions::default() };
        let content = Known::Recipe { recipe: &recipe, made_up_to: None };
        let remedies = check_tank(&bench, &content, &how).expect("checked").remedies.expect("held against a formula");
        let before = mix.misfit.expect("targets");
        let now = remedies.options.iter().find(|option| option.kind == RemedyKind::AddNow);
        if let Some(now) = now.filter(|option| option.possible) {
            assert!(now.misfit.expect("possible") <= before + 1e-6);
        }
        tried += 1;
    }
    assert!(tried >= 5);
}

/// Hard tap water and two acids: the pH is within what is a correction of any, the targets are as near as the shelf brings them, so
/// nothing is fetched, nothing stops, and a correction is reckoned with the bench's acids as it is for the mix itself.
#[test]
fn a_mix_of_acids_needs_nothing() {
    let starter = include_str!("../src/bench/starter.toml");
    let water = "[water]\nCa = 85\nMg = 14\nNa = 18\nCl = 30\nSO4 = 45\nalkalinity = \"220 mg/L CaCO3\"\npH = 7.5\n\n[[jug]]\n\
                 id = \"cylinder\"\nstep = \"1 mL\"\ntrust = 0.05\ncapacity = \"100 mL\"\n\n[acid]\n\
                 salt = [\"phosphoric-acid-10\", \"nitric-acid-60\"]\ntarget_pH = 5.9\n\n[shelf]";
    for litres in [60.0, 80.0, 100.0, 120.0, 150.0] {
        let text =
            starter.replacen("volume = \"60 L\"", &format!("volume = \"{litres} L\""), 1).replacen("[shelf]", water, 1);
        let bench = parsed(&text);
        for formula in ["growth", "push"] {
            let mix = jobs::mix(&bench, formula, &jobs::MixOptions::default()).expect("possible");
            let recipe: Recipe = jobs::recipe(&bench, &mix);
            let how = CheckOptions { against: Some(formula), ..CheckOptions::default() };
            let content = Known::Recipe { recipe: &recipe, made_up_to: None };
            let checked = check_tank(&bench, &content, &how).expect("checked");
            let remedies = checked.remedies.expect("held against a formula");
            let now = remedies.options.iter().find(|option| option.kind == RemedyKind::AddNow);
            assert!(
                now.is_none_or(|now| now.doses.is_empty() && now.findings.is_empty()),
                "{litres} L of {formula}: {now:#?}"
            );
            let corrected = |findings: &[bloomsalt::safety::Finding]| {
                let of_ph =
                    findings.iter().filter(|one| one.code.as_str().starts_with("ph-") || one.code == Code::AlkalinityLeft);
                of_ph.map(|one| (one.code, one.remedy.clone())).collect::<Vec<_>>()
            };
            let own: Vec<_> = corrected(&mix.findings).into_iter().filter(|(code, _)| *code != Code::PhWishNotMet).collect();
            assert_eq!(corrected(&checked.tank.findings), own, "{litres} L of {formula}");
        }
    }
}
