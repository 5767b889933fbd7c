//! One recipe read by the logbook, by check, by switch and by scale gives one and the same concentrations, whatever the bench at
//! hand has under the ids of its products and bottles.

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs::{self, Added, CheckOptions, Drawn, Known, Recipe, check_tank};
use bloomsalt::logbook::{Event, nutrients};
use bloomsalt::matter::{NUTRIENTS, Nutrient, Nutrients};
use bloomsalt::quantity::{Amount, gram, liter};
use bloomsalt::tank::Content;

use crate::random::Random;

const SALTS: [&str; 8] = [
    "calcium-nitrate-tetrahydrate",
    "potassium-nitrate",
    "monopotassium-phosphate",
    "magnesium-sulfate-heptahydrate",
    "ammonium-sulfate",
    "iron-dtpa",
    "boric-acid",
    "urea",
];

/// Water, a shelf with purities, two products, a bottle with tap water and a thinner one of it with pure water.
fn bench(random: &mut Random) -> Bench {
    // amounts as they are typed; a document tells a bottle to a millionth of a gram
    let mut one = |low: f64, high: f64| (random.between(low, high) * 1e4).round() / 1e4;
    let text = format!(
        "[tank]\nvolume = \"{} L\"\n[water]\nCa = {}\nMg = {}\nNa = 4\nCl = {}\nNO3-N = {}\nalkalinity = \"{} meq/L\"\n\
         [[product]]\nid = \"pk\"\ndensity = \"{} kg/L\"\nanalysis = {{ P2O5 = {}, K2O = {} }}\n\
         [[product]]\nid = \"npk\"\nanalysis = {{ NO3-N = {}, NH4-N = 2, P2O5 = 5, K2O = {}, Fe = 0.1 }}\nalkalinity_per_kg = \"0 eq\"\n\
         [[helper]]\nid = \"strong\"\nvolume = \"1 L\"\nmade_of = {{ boric-acid = \"{} g\", pk = \"{} mL\" }}\n\
         [[helper]]\nid = \"thin\"\nvolume = \"2 L\"\nmade_with = \"pure\"\nmade_of = {{ strong = \"{} mL\", iron-dtpa = \"{} g\" }}\n\
         [shelf]\npotassium-nitrate = {{ purity = {} }}\niron-dtpa = {{ purity = {} }}\nnpk = {{ purity = {} }}\npk = {{}}\n\
         calcium-nitrate-tetrahydrate = {{}}\nmagnesium-sulfate-heptahydrate = {{}}\nmonopotassium-phosphate = {{}}\n",
        one(10.0, 200.0),
        one(1.0, 60.0),
        one(1.0, 15.0),
        one(1.0, 40.0),
        one(0.0, 9.0),
        one(0.1, 2.0),
        one(1.02, 1.4),
        one(1.0, 8.0),
        one(1.0, 8.0),
        one(1.0, 9.0),
        one(1.0, 9.0),
        one(1.0, 4.0),
        one(10.0, 90.0),
        one(20.0, 200.0),
        one(1.0, 9.0),
        one(0.9, 1.0),
        one(0.8, 1.0),
        one(0.9, 1.0),
    );
    Bench::parse(&text, "random").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// So many random benches; `BLOOMSALT_CASES` asks for more, as in `tests/laws.rs`.
#[allow(clippy::disallowed_methods, reason = "a test may be told to run longer")]
fn cases(usual: usize) -> usize {
    std::env::var("BLOOMSALT_CASES").ok().and_then(|asked| asked.parse().ok()).unwrap_or(usual)
}

fn concentrations<'a>(elements: impl Iterator<Item = (&'a str, f64)>) -> Nutrients {
    let mut ppm = Nutrients::default();
    elements.for_each(|(symbol, value)| ppm[Nutrient::parse(symbol).expect("a nutrient")] = value);
    ppm
}

fn same(a: &Nutrients, b: &Nutrients, within: f64, what: &str) {
    for nutrient in NUTRIENTS.into_iter().filter(|nutrient| !nutrient.is_nitrogen_form()) {
        let (a, b) = (a[nutrient], b[nutrient]);
        assert!((a - b).abs() <= within * a.max(b).max(1e-6), "{what}, {nutrient}: {a} and {b}");
    }
}

/// What went into a tank, with its concentrations.
fn mixed(bench: &Bench, random: &mut Random) -> (Recipe, Nutrients) {
    let mut salts: Vec<Added> = random
        .some(&SALTS, 4)
        .into_iter()
        .map(|id| {
            let salt = bench.catalogue.find(id).expect("a salt");
            Added { salt, amount: Amount::Mass(gram(random.between(0.5, 20.0))) }
        })
        .collect();
    let mut bottles = Vec::new();
    for id in ["pk", "npk"] {
        if random.chance(0.7) {
            let salt = bench.catalogue.find(id).expect("a product");
            salts.push(Added { salt, amount: Amount::Mass(gram(random.between(1.0, 30.0))) });
        }
    }
    for id in ["strong", "thin"] {
        if random.chance(0.7) {
            bottles.push(Drawn { bottle: id.to_owned(), volume: liter(random.between(0.005, 0.4)) });
        }
    }
    let checked = check_tank(bench, &Known::Added { salts: &salts, bottles: &bottles }, &CheckOptions::default());
    let checked = checked.expect("checked");
    let ppm = concentrations(checked.tank.elements.iter().map(|element| (element.element.as_str(), element.ppm)));
    (jobs::checked_recipe(bench, &checked), ppm)
}

#[test]
fn logbook_check_switch_and_scale_read_the_same() {
    let mut random = Random(20_261_125);
    for case in 0..cases(30) {
        let made_on = bench(&mut random);
        let (recipe, ppm) = mixed(&made_on, &mut random);
        // the same bench, one without products and bottles, one whose labels, purities and bottles are others
        let other = bench(&mut random);
        for (at_hand, which) in [(&made_on, "its own"), (&Bench::starter(), "the starter"), (&other, "another")] {
            let what = |job: &str| format!("case {case}, {job} on {which} bench");
            let content = Known::Recipe { recipe: &recipe, made_up_to: None };
            let checked = check_tank(at_hand, &content, &CheckOptions::default()).expect("checked");
            let elements = checked.tank.elements.iter().map(|element| (element.element.as_str(), element.ppm));
            same(&concentrations(elements), &ppm, 1e-9, &what("check"));
            same(&Content::of_recipe(at_hand, &recipe).expect("read").ppm, &ppm, 1e-9, &what("switch"));
            let event = jobs::recipe_event(at_hand, &recipe, None, liter(0.0), None).expect("read");
            let Event::Filled { ppm: filled, volume_l, .. } = event else { panic!("a filling") };
            assert!((volume_l - recipe.volume_l).abs() < 1e-8 * volume_l);
            // an entry has nine digits
            same(&nutrients(&filled).expect("nutrients"), &ppm, 5.1e-9, &what("logbook"));
            for own_water in [false, true] {
                let mut here = at_hand.clone();
                here.water = made_on.water.clone();
                let (scaled, _) = jobs::scale(&here, own_water, &recipe, liter(10.0 * recipe.volume_l)).expect("scaled");
                let targets = scaled.mix.elements.iter().filter_map(|e| Some((e.element.as_str(), e.target_ppm?)));
                let targets = concentrations(targets);
                let mut asked = ppm;
                NUTRIENTS.into_iter().filter(|n| targets[*n] == 0.0).for_each(|n| asked[n] = 0.0);
                same(&targets, &asked, 1e-9, &what(if own_water { "scale, own water" } else { "scale" }));
                assert!(NUTRIENTS.into_iter().any(|n| targets[n] > 0.0));
            }
        }
    }
}

/// In a tank that was filled to another volume, too.
#[test]
fn made_up_to_another_volume() {
    let mut random = Random(11);
    for _ in 0..20 {
        let (recipe, _) = mixed(&bench(&mut random), &mut random);
        let litres = recipe.volume_l * random.between(0.5, 2.0);
        let content = Known::Recipe { recipe: &recipe, made_up_to: Some(liter(litres)) };
        let checked = check_tank(&Bench::starter(), &content, &CheckOptions::default()).expect("checked");
        let elements = checked.tank.elements.iter().map(|element| (element.element.as_str(), element.ppm));
        let event = jobs::recipe_event(&Bench::starter(), &recipe, Some(liter(litres)), liter(3.0), None).expect("read");
        let Event::Filled { ppm, volume_l, held_back_l, .. } = event else { panic!("a filling") };
        assert!((volume_l / litres - 1.0).abs() < 1e-8 && (held_back_l - 3.0).abs() < 1e-9);
        same(&nutrients(&ppm).expect("nutrients"), &concentrations(elements), 5.1e-9, "filled otherwise");
    }
}

/// A bench of several waters, none of them chosen, reads a recipe of one: what was filled in is the recipe's to say.
#[test]
fn a_recipe_of_one_water_is_read_on_a_bench_of_several() {
    let waters = "[[water]]\nid = \"rain\"\n[[water]]\nid = \"tap\"\nCa = 80\nalkalinity = \"4 meq/L\"\npH = 7.6\n";
    let several = Bench::parse(&format!("{STARTER}\n{waters}"), "rain and tap").expect("a bench");
    let mut random = Random(12);
    for case in 0..10 {
        let (recipe, ppm) = mixed(&bench(&mut random), &mut random);
        let content = Known::Recipe { recipe: &recipe, made_up_to: None };
        let checked = check_tank(&several, &content, &CheckOptions::default()).expect("checked");
        let elements = checked.tank.elements.iter().map(|element| (element.element.as_str(), element.ppm));
        same(&concentrations(elements), &ppm, 1e-9, &format!("case {case}, check"));
        same(&Content::of_recipe(&several, &recipe).expect("read").ppm, &ppm, 1e-9, &format!("case {case}, switch"));
        let event = jobs::recipe_event(&several, &recipe, None, liter(0.0), None).expect("read");
        let Event::Filled { ppm: filled, .. } = event else { panic!("a filling") };
        same(&nutrients(&filled).expect("nutrients"), &ppm, 5.1e-9, &format!("case {case}, logbook"));
    }
}
