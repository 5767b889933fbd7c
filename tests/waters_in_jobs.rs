//! Several waters in the jobs that come after a mix: what is turned over, scaled, checked, bottled, topped up and booked.

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs::{self, Content, DoneOtherwise, JobError, MixOptions, StockOptions, SwitchOptions, SwitchRecord};
use bloomsalt::logbook::{Event, Logbook, Moment, Patterns};
use bloomsalt::quantity::{Date, celsius, gram, liter, milliliter};

use crate::random::Random;
use crate::waters::{bench, cases, litres, there};

const OPTIONS: MixOptions = MixOptions { meter: None, salts_at_most: None, prefer: None, without_reasons: true };

/// The starter bench with 25 L of rain and a hard tap, and a plan.
fn rain_and_tap() -> Bench {
    let waters = "[[water]]\nid = \"rain\"\non_hand = \"25 L\"\n[[water]]\nid = \"tap\"\nCa = 80\nMg = 12\nNa = 20\nCl = 30\n\
                  S = 20\nalkalinity = \"200 mg/L CaCO3\"\npH = 7.6\n[acid]\nsalt = [\"phosphoric-acid-10\", \"nitric-acid-60\"]\n\
                  target_pH = 5.8\nbasis = \"aired\"\n";
    let plan = "[cycle]\nstart = 2026-10-01\nrenew_every = \"14 days\"\ngrowth = { formula = \"growth\", lasts = \"28 days\" }\n\
                push = { formula = \"push\", lasts = \"21 days\" }\n";
    Bench::parse(&format!("{STARTER}\n{waters}\n{plan}"), "rain and tap").unwrap_or_else(|error| panic!("{error}"))
}

fn sum(waters: &[jobs::WaterRecord]) -> f64 {
    waters.iter().map(|water| water.litres).sum()
}

fn exact(turned: &SwitchRecord) -> f64 {
    turned.after.misfit_exact.expect("fitted")
}

/// At a drain that is stated, every tenth of what is filled in from either water; and over the drains as well.
#[test]
fn no_grid_of_drains_and_litres_comes_closer_than_a_switch() {
    let mut random = Random(0x5eed_0011);
    let (mut turned_over, mut blended) = (0, 0);
    for case in 0..cases(6) {
        let bench = bench(&mut random, 2);
        let full = litres(&bench);
        // what is in it: another strength of the same, mixed with the last water, of which there is enough
        let mut weak = bench.clone();
        weak.formulas = vec![weakened(&bench, random.between(0.3, 1.4))];
        let of_last = jobs::filled_with(&weak, &[("water 1".to_owned(), full)]).expect("a water");
        let Ok(holding) = jobs::mixed(&of_last, "asked") else { continue };
        let level = liter(full * random.between(0.6, 1.0));
        let at = |bench: &Bench, drain: Option<f64>| {
            let how = SwitchOptions { level: Some(level), drain: drain.map(liter), ..SwitchOptions::default() };
            match jobs::switch(bench, "asked", &holding, &how, &OPTIONS) {
                Ok(turned) => Some(turned),
                Err(JobError::Conflict { .. } | JobError::NotEnoughWater { .. }) => None,
                Err(error) => panic!("case {case}: {error}"),
            }
        };
        let best = at(&bench, None);
        turned_over += u32::from(best.is_some());
        if let Some(turned) = &best {
            let refill = turned.refill_l;
            assert!((sum(&turned.after.waters) - refill).abs() < 1e-9 * full, "case {case}: {:?}", turned.after.waters);
            for option in turned.options.iter().filter(|option| option.possible) {
                assert!((sum(&option.waters) - option.refill_l).abs() < 1e-9 * full, "case {case}: {:?}", option.waters);
                for (at, water) in option.waters.iter().enumerate() {
                    assert!(water.litres <= there(&bench, at) * (1.0 + 1e-9), "case {case}: {:?}", option.waters);
                }
            }
        }
        for drain in [0.3, 1.0].map(|share| share * milliliter(level) * 1e-3) {
            let refill = full - milliliter(level) * 1e-3 + drain;
            let here = at(&bench, Some(drain));
            blended += u32::from(here.as_ref().is_some_and(|turned| turned.after.waters.iter().all(|w| w.litres > 1e-6)));
            for step in 0..=5 {
                let first = refill * f64::from(step) / 5.0;
                let poured = [first, refill - first];
                if (0..2).any(|at| poured[at] > there(&bench, at)) {
                    continue;
                }
                let filled: Vec<(String, f64)> = bench.waters.iter().map(|water| water.id.clone()).zip(poured).collect();
                let one = jobs::filled_with(&bench, &filled).expect("a blend");
                let Some(one) = at(&one, Some(drain)) else { continue };
                let Some(here) = &here else { panic!("case {case}: {filled:?} keeps the limits, and nothing was found") };
                assert!(exact(here) <= exact(&one) + 1e-3, "case {case}: {} at {filled:?}, {}", exact(&one), exact(here));
            }
        }
    }
    assert!(turned_over > 3 && blended > 1, "{turned_over} turned over, {blended} blended");
}

/// The formula of a random bench with every target times `strength` and no limits.
fn weakened(bench: &Bench, strength: f64) -> bloomsalt::bench::Formula {
    let mut weak = bench.formula("asked").expect("there").clone();
    weak.wishes.retain(|wish| wish.target.is_some());
    for wish in &mut weak.wishes {
        (wish.min, wish.max) = (None, None);
        wish.target = wish.target.map(|target| target * strength);
    }
    weak.ec = bloomsalt::quantity::Limits::default();
    weak
}

#[test]
fn a_recipe_of_a_blend_is_scaled_checked_and_booked_with_its_waters() {
    let bench = rain_and_tap();
    let mix = jobs::mix(&bench, "growth", &OPTIONS).expect("a mix");
    assert!((mix.waters[0].litres - 25.0).abs() < 1e-6 && (mix.waters[1].litres - 35.0).abs() < 1e-6, "{:?}", mix.waters);
    let recipe = jobs::recipe(&bench, &mix);
    let text = serde_json::to_string(&recipe).expect("JSON");
    let recipe: jobs::Recipe = serde_json::from_str(&text).expect("a recipe");
    assert_eq!(recipe.waters[0].id, "rain");
    // scaled in its own water, and in those at hand as far as they go
    for own_water in [false, true] {
        let (scaled, _) = jobs::scale(&bench, own_water, &recipe, liter(30.0)).expect("a scaled recipe");
        assert!((scaled.mix.waters[0].litres - 12.5).abs() < 1e-6, "{:?}", scaled.mix.waters);
        assert!((scaled.mix.elements[0].water_ppm - mix.elements[0].water_ppm).abs() < 1e-9);
    }
    let error = jobs::scale(&bench, true, &recipe, liter(120.0)).expect_err("50 L of 25 L of rain");
    assert_eq!(error.code(), "not-enough-water");
    assert_eq!(
        jobs::scale(&bench, true, &jobs::Recipe { waters: Vec::new(), ..recipe.clone() }, liter(30.0))
            .expect_err("which?")
            .code(),
        "waters-not-blended"
    );
    // checked
    let known = jobs::Known::Recipe { recipe: &recipe, made_up_to: None };
    let checked = jobs::check_tank(&bench, &known, &jobs::CheckOptions::default()).expect("a check");
    assert_eq!(checked.tank.waters.len(), 2);
    for (a, b) in checked.tank.elements.iter().zip(&mix.elements) {
        assert!((a.ppm - b.ppm).abs() < 1e-9 * (1.0 + b.ppm), "{} {}", a.ppm, b.ppm);
    }
    assert!(checked.tank.ph.zip(mix.ph).is_some_and(|(a, b)| (a - b).abs() < 1e-6));
    // what went in by hand, in the waters that are named
    let salt = bench.catalogue.find("potassium-nitrate").expect("a salt");
    let added = [jobs::Added { salt, amount: bloomsalt::quantity::Amount::Mass(gram(10.0)) }];
    assert_eq!(jobs::check(&bench, &added, None).expect_err("which water?").code(), "waters-not-blended");
    let filled = jobs::filled_with(&bench, &[("rain".to_owned(), 30.0), ("tap".to_owned(), 30.0)]).expect("a blend");
    let by_hand = jobs::check(&filled, &added, None).expect("a check");
    assert!(by_hand.elements.iter().any(|e| e.element == "Ca" && (e.ppm - 40.0).abs() < 1e-9));
    // booked: the water of the blend is in it
    let event = jobs::job_event(&bench, &recipe, &DoneOtherwise::default()).expect("an event");
    let Event::Filled { ppm, volume_l, .. } = event else { panic!("{event:?}") };
    let chloride = 30.0 * 35.0 / 60.0;
    assert!((ppm["Cl"] - chloride).abs() < 1e-6 && (volume_l - 60.0).abs() < 1e-9, "{ppm:?}");
}

#[test]
fn a_tank_turned_over_is_booked_with_the_blend_that_it_was_filled_with() {
    let bench = rain_and_tap();
    let growth = jobs::mixed(&bench, "growth").expect("growth");
    let turned = jobs::switch(&bench, "push", &growth, &SwitchOptions::default(), &MixOptions::default()).expect("a switch");
    let waters = &turned.after.waters;
    assert!((sum(waters) - turned.refill_l).abs() < 1e-6 && waters[0].litres <= 25.0 + 1e-6, "{waters:?}");
    let recipe = jobs::switch_recipe(&bench, &turned);
    let Event::Done { water_ppm, filled_l, .. } = jobs::job_event(&bench, &recipe, &DoneOtherwise::default()).expect("done")
    else {
        panic!("a switch is done")
    };
    let tap = waters[1].litres / turned.refill_l;
    assert!((filled_l - turned.refill_l).abs() < 1e-6 && (water_ppm["Cl"] - 30.0 * tap).abs() < 1e-6, "{water_ppm:?}");
    let analysis = Content::of_analysis(&bench, &growth.ppm, "an analysis");
    let as_it_stands = SwitchOptions { drain: Some(liter(0.0)), ..SwitchOptions::default() };
    let added =
        jobs::switch(&bench, "growth", &analysis, &as_it_stands, &MixOptions::default()).expect("nothing is drained");
    assert!(sum(&added.after.waters) < 1e-9, "nothing is filled in");
}

#[test]
fn bottles_top_ups_days_and_plans_know_the_blend() {
    let bench = rain_and_tap();
    let how = StockOptions { strength: 100.0, bottle: liter(1.0), coldest: celsius(10.0), dose_for: None };
    let stock = jobs::stock(&bench, "growth", &how).expect("bottles");
    assert!((sum(&stock.tank.waters) - 60.0).abs() < 1e-9 && stock.tank.waters[0].litres <= 25.0 + 1e-6);
    // a tank of growth, read twice
    let mix = jobs::mix(&bench, "growth", &MixOptions::default()).expect("a mix");
    let at = |text: &str| Moment::parse(text).expect("a moment");
    let filled = jobs::job_event(&bench, &jobs::recipe(&bench, &mix), &DoneOtherwise::default()).expect("an event");
    let reading =
        |ec: f64, level: f64| Event::Reading { ec_ms_cm: Some(ec), ph: None, temperature_c: None, level_l: Some(level) };
    let mut text = String::new();
    let entries = [
        ("2026-10-03 09:00+02:00", filled),
        ("2026-10-03 10:00+02:00", reading(mix.ec_ms_cm, 60.0)),
        ("2026-10-10 10:00+02:00", reading(mix.ec_ms_cm * 0.93, 50.0)),
    ];
    for (when, event) in entries {
        let logbook = Logbook::parse(text.as_bytes(), &[]).expect("whole");
        text += &logbook.append(at(when), event).expect("an entry");
    }
    let logbook = Logbook::parse(text.as_bytes(), &[]).expect("whole");
    let (now, patterns) = (at("2026-10-10 11:00+02:00"), Patterns::standard());
    let asked = jobs::TopUpAsked { formula: None, logbook: &logbook, at: now, patterns: &patterns, volume: None };
    let (poured, recipe) = jobs::top_up(&bench, &asked).expect("a top-up");
    assert!((sum(&poured.mix.waters) - poured.mix.volume_l).abs() < 1e-9, "{:?}", poured.mix.waters);
    let booked: f64 = recipe.waters.iter().map(|water| water.litres).sum();
    assert!(
        (booked - poured.mix.volume_l).abs() < 1e-9
            && recipe.water_ppm.contains_key("Cl") == (recipe.waters[1].litres > 0.0)
    );
    let (forecast, _) =
        jobs::forecast(&bench, &logbook, now, &patterns, jobs::ForecastAsked::default()).expect("a forecast");
    assert!(!forecast.course.is_empty());
    let asked = jobs::TodayAsked { logbooks: &[&logbook], at: now, patterns: &patterns, begin: None, with_recipe: true };
    let today = jobs::today(&bench, &asked).expect("a day");
    let fill = today.tanks[0].fill_up.as_ref().unwrap_or_else(|| panic!("{:?}", today.tanks[0].no_fill_up));
    assert!(fill.water_l > 5.0 && (sum(&fill.waters) - fill.water_l).abs() < 1e-9, "{:?} of {}", fill.waters, fill.water_l);
    let of_recipe = today.tanks[0].recipe.as_ref().expect("asked for");
    let Event::Done { water_ppm, .. } = jobs::job_event(&bench, of_recipe, &DoneOtherwise::default()).expect("done") else {
        panic!("a fill-up is done")
    };
    let tap = fill.waters[1].litres / fill.water_l;
    assert!(
        (water_ppm.get("Cl").copied().unwrap_or(0.0) - 30.0 * tap).abs() < 1e-6,
        "{water_ppm:?} with {tap} from the tap"
    );
    let plan = jobs::cycle(&bench, jobs::Begin::On(Date::parse("2026-10-01").expect("a day")), None).expect("a plan");
    assert!(plan.mixes.iter().all(|mix| (sum(&mix.waters) - mix.volume_l).abs() < 1e-9));
}
