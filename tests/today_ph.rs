//! What a pH that was read asks for, and what it does not yet: one that is far out, one of water that has not aired; and a tank that
//! was turned as told is not scolded for it.

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, DueBy, PhToday, TodayAsked};
use bloomsalt::logbook::{Amounts, Entry, Event, Logbook, Moment, Patterns, line};
use bloomsalt::safety::{Code, Severity};

fn at(text: &str) -> Moment {
    Moment::parse(&format!("{text}+01:00")).expect("a moment")
}

fn reading(ph: Option<f64>, ec_ms_cm: Option<f64>, level_l: Option<f64>) -> Event {
    Event::Reading { ec_ms_cm, ph, temperature_c: None, level_l }
}

fn filled(formula: &str, ppm: &[(&str, f64)]) -> Event {
    Event::Filled {
        volume_l: 60.0,
        held_back_l: 0.0,
        formula: Some(formula.to_owned()),
        hold_at_most_days: None,
        salts_g: Amounts::new(),
        ppm: ppm.iter().map(|(symbol, ppm)| ((*symbol).to_owned(), *ppm)).collect(),
        bottles_ml: Amounts::new(),
    }
}

/// The floor of push, ppm: half of what it asks.
const FLOOR: f64 = 18.0;
const GROWTH: [(&str, f64); 6] = [("NO3-N", 90.0), ("P", 18.0), ("K", 100.0), ("Ca", 75.0), ("Mg", 22.0), ("S", 29.0)];

fn logbook(entries: Vec<(&str, Event)>) -> Logbook {
    let numbered = entries.into_iter().zip(1..);
    let text: String = numbered.map(|((when, event), number)| line(&Entry { number, at: at(when), event }) + "\n").collect();
    Logbook::parse(text.replace("\n\n", "\n").as_bytes(), &[]).expect("a logbook")
}

fn ph(entries: Vec<(&str, Event)>, when: &str) -> PhToday {
    tank_on(&Bench::starter(), entries, when).ph.expect("a pH was read")
}

/// The tank of a logbook on a day.
fn tank_on(bench: &Bench, entries: Vec<(&str, Event)>, when: &str) -> jobs::TodayTank {
    let logbook = logbook(entries);
    let patterns = Patterns::standard();
    let asked = TodayAsked { logbooks: &[&logbook], at: at(when), patterns: &patterns, begin: None, with_recipe: false };
    jobs::today(bench, &asked).expect("a day").tanks.remove(0)
}

/// Under 4 and over 9 (own choice): a second reading within 0.5 of it makes a dose of it.
#[test]
fn one_reading_far_out_sizes_no_dose() {
    let read = |first: f64, second: Option<f64>| {
        let mut entries =
            vec![("2027-01-04 09:00", filled("growth", &GROWTH)), ("2027-01-06 09:00", reading(Some(first), None, None))];
        entries.extend(second.map(|ph| ("2027-01-06 12:00", reading(Some(ph), None, None))));
        ph(entries, "2027-01-06 13:00")
    };
    for (first, second) in [(3.2, None), (3.9, None), (6.0, Some(3.2)), (3.9, Some(3.3)), (9.1, None)] {
        let told = read(first, second);
        assert!(told.correction.is_none() && told.doubted, "{first} {second:?}: {told:?}");
        assert!(told.untold.is_some_and(|why| why.contains("far out") && why.contains("read again")), "{first} {second:?}");
    }
    for (first, second) in [(4.1, None), (3.9, Some(3.8)), (3.2, Some(3.6)), (3.2, Some(4.6))] {
        let told = read(first, second);
        assert!(told.correction.is_some_and(|of| !of.acid && !of.order.is_empty()), "{first} {second:?}");
    }
}

/// Water that is not 20 hours old still gives off carbon dioxide (own choice): what it reads is no pH in air.
#[test]
fn a_fresh_tank_is_read_again_before_it_is_corrected() {
    let read = |when: &str, value: f64, formula: &str| {
        let entries = vec![("2027-01-04 09:00", filled(formula, &GROWTH)), (when, reading(Some(value), None, None))];
        ph(entries, "2027-01-05 12:00")
    };
    for value in [4.6, 5.0, 7.4] {
        let told = read("2027-01-05 04:59", value, "growth");
        let why = told.untold.unwrap_or_else(|| panic!("{value} is corrected at once"));
        assert!(why.contains("2027-01-05 05:00") && why.contains("carbon dioxide"), "{why}");
        assert_eq!(why.contains("no plant"), value < 4.8, "{why}");
        assert!(told.correction.is_none());
        let aired = read("2027-01-05 05:00", value, "growth");
        assert!(aired.correction.is_some() || value > 7.0, "{value}");
        assert!(!aired.untold.is_some_and(|why| why.contains("carbon dioxide")), "{value}");
    }
    let fine = read("2027-01-05 04:59", 5.8, "growth");
    assert!(fine.untold.is_none() && fine.stands, "{fine:?}");
}

/// The page says at its head that the pH is to be seen to.
#[test]
fn what_waits_is_not_called_nothing() {
    let entries =
        vec![("2027-01-04 09:00", filled("growth", &GROWTH)), ("2027-01-04 10:00", reading(Some(5.0), None, None))];
    let (logbook, patterns) = (logbook(entries), Patterns::standard());
    let asked = TodayAsked {
        logbooks: &[&logbook],
        at: at("2027-01-04 11:00"),
        patterns: &patterns,
        begin: None,
        with_recipe: false,
    };
    let text = bloomsalt::report::today(&jobs::today(&Bench::starter(), &asked).expect("a day"), false);
    assert!(!text.contains("nothing is due") && text.contains("read the pH again from 2027-01-05 05:00 on"), "{text}");
}

/// A tank of which the low course is far under the likely one is turned by the likely one: right after it only a note says what may
/// be, and what plants take from then on warns as ever.
#[test]
fn a_tank_turned_as_told_is_not_scolded() {
    let turned = Event::Done {
        formula: Some("push".to_owned()),
        hold_at_most_days: None,
        level_before_l: Some(60.0),
        drained_l: 20.0,
        filled_l: 20.0,
        water_ppm: Amounts::new(),
        salts_g: Amounts::new(),
        mg: Amounts::new(),
        bottles_ml: Amounts::new(),
    };
    let (bench, patterns) = (Bench::starter(), Patterns::standard());
    let told = |entries: Vec<(&str, Event)>, when: &str| {
        let now = jobs::now(&bench, &logbook(entries), at(when), &patterns);
        let nitrogen = now.elements.iter().find(|one| one.element == "N").expect("nitrogen");
        let finding = now.findings.iter().find(|finding| finding.code == Code::NitrogenUnderFloor);
        (nitrogen.low_ppm.expect("read"), nitrogen.ppm, finding.map(|finding| finding.severity))
    };
    let grown = |ec: f64| {
        vec![
            ("2027-01-04 09:00", filled("growth", &GROWTH)),
            ("2027-01-04 10:00", reading(None, Some(1.0), Some(60.0))),
            ("2027-01-20 09:00", reading(None, Some(ec), Some(60.0))),
        ]
    };
    let mut seen = Vec::new();
    for ec in [0.75, 0.7, 0.65, 0.6, 0.55, 0.5, 0.45, 0.4] {
        let with_turn = || [grown(ec), vec![("2027-01-20 10:00", turned.clone())]].concat();
        let (low, likely, severity) = told(with_turn(), "2027-01-20 10:01");
        let expected = match (low < FLOOR, likely < FLOOR) {
            (false, _) => None,
            (true, false) => Some(Severity::Note),
            (true, true) => Some(Severity::Warning),
        };
        assert_eq!(severity, expected, "{ec}: {low} {likely}");
        // weeks later the plants have taken what was there
        assert_eq!(told(with_turn(), "2027-03-20 10:00").2, Some(Severity::Warning), "{ec}");
        // what was turned over by no entry is no turn: the floor of growth is 45 ppm
        let (low, _, severity) = told(grown(ec), "2027-01-20 10:01");
        assert_eq!(severity, (low < 45.0).then_some(Severity::Warning), "{ec}: {low}");
        seen.push(expected);
    }
    for each in [None, Some(Severity::Note), Some(Severity::Warning)] {
        assert!(seen.contains(&each), "{seen:?}");
    }
}

/// A pH out of 4.8 to 7.5 (common practice) is told wherever the tank is, and beyond 4 and 9 (own choice) it stops; of the page of the
/// day its own lines say it.
#[test]
fn a_ph_out_of_range_is_told_wherever_the_tank_is() {
    let (bench, patterns) = (Bench::starter(), Patterns::standard());
    let when = at("2027-01-07 09:00");
    for (read, severity) in [
        (3.1, Some(Severity::Stop)),
        (3.9, Some(Severity::Stop)),
        (4.1, Some(Severity::Warning)),
        (4.7, Some(Severity::Warning)),
        (4.9, None),
        (7.4, None),
        (7.6, Some(Severity::Warning)),
        (8.9, Some(Severity::Warning)),
        (9.2, Some(Severity::Stop)),
    ] {
        let entries =
            vec![("2027-01-04 09:00", filled("growth", &GROWTH)), ("2027-01-06 09:00", reading(Some(read), None, None))];
        let logbook = logbook(entries);
        let of = |found: &[bloomsalt::safety::Finding]| {
            found.iter().find(|one| one.code == Code::PhOutside).map(|one| one.severity)
        };
        assert_eq!(of(&jobs::now(&bench, &logbook, when, &patterns).findings), severity, "{read}");
        let forecast =
            jobs::forecast(&bench, &logbook, when, &patterns, jobs::ForecastAsked::default()).expect("a forecast").0;
        assert_eq!(of(&forecast.findings), severity, "{read}");
        let text = bloomsalt::report::logbook_forecast(&forecast, false);
        let stops = severity == Some(Severity::Stop);
        if stops {
            assert!(text.find("STOP") < text.find("ADD NOW"), "{text}");
        }
        // nothing is poured into what burns
        assert_eq!(forecast.restore.is_none(), stops, "{read}");
        let asked = TodayAsked { logbooks: &[&logbook], at: when, patterns: &patterns, begin: None, with_recipe: false };
        let today = jobs::today(&bench, &asked).expect("a day");
        // the page of a day has words of its own for a pH, and a STOP at its head
        let told = (of(&today.tanks[0].findings), today.tanks[0].ph.is_some());
        assert_eq!(told, (severity.filter(|_| stops), true), "{read}");
        let page = bloomsalt::report::today(&today, false);
        assert_eq!(page.find("STOP").is_some_and(|stop| stop < page.find("TANK").expect("a tank")), stops, "{page}");
        assert!(!stops || today.tanks[0].fill_up.is_none(), "{read}");
    }
}

/// Beyond what can be reckoned nothing is told to be fine; the tank is let out, by `switch` too, and nothing is poured into it.
#[test]
fn what_cannot_be_reckoned_is_not_called_fine() {
    let bench = Bench::starter();
    for value in [9.4, 10.2, 10.6, 11.5, 12.5, 3.4, 2.5] {
        let twice = |ph: f64| {
            vec![
                ("2027-01-04 09:00", filled("growth", &GROWTH)),
                ("2027-01-06 09:00", reading(Some(ph), Some(1.0), Some(50.0))),
                ("2027-01-06 12:00", reading(Some(ph), Some(1.0), Some(50.0))),
            ]
        };
        let told = ph(twice(value), "2027-01-06 13:00");
        assert!(told.correction.is_some() || told.untold.is_some(), "{value}: {told:?}");
        let how = jobs::SwitchOptions { held_ph: Some(value), ..jobs::SwitchOptions::default() };
        let holding = jobs::mixed(&bench, "growth").expect("held");
        let turned = jobs::switch(&bench, "push", &holding, &how, &jobs::MixOptions::default()).expect("turned");
        assert!(turned.drain_l > 59.9, "{value}");
        let part = jobs::SwitchOptions { drain: Some(bloomsalt::quantity::liter(20.0)), ..how };
        let turned = jobs::switch(&bench, "push", &holding, &part, &jobs::MixOptions::default()).expect("turned");
        let told = turned.after.findings.iter().find(|one| one.code == Code::PhOutside).map(|one| one.severity);
        assert_eq!(told, Some(Severity::Stop), "{value}");
    }
}

/// The sourer a tank was read, the more base it takes, whatever hard water fills it up.
#[test]
fn a_sourer_tank_takes_no_less_base() {
    let text = format!("{}\n[water]\nCa = 80\nMg = 10\nalkalinity = \"4 meq/L\"\npH = 7.6\n", bloomsalt::bench::STARTER);
    let bench = Bench::parse(&text, "test").expect("it parses");
    let dose = |value: f64, level: f64| {
        let entries = vec![
            ("2027-01-04 09:00", filled("growth", &GROWTH)),
            ("2027-01-06 09:00", reading(Some(value), None, Some(level))),
            ("2027-01-06 12:00", reading(Some(value), None, Some(level))),
        ];
        let (logbook, patterns) = (logbook(entries), Patterns::standard());
        let asked = TodayAsked {
            logbooks: &[&logbook],
            at: at("2027-01-06 13:00"),
            patterns: &patterns,
            begin: None,
            with_recipe: false,
        };
        let today = jobs::today(&bench, &asked).expect("a day");
        let told = today.tanks[0].ph.clone().expect("a pH was read");
        let refused = if told.untold.is_some() { f64::INFINITY } else { 0.0 };
        told.correction.map_or(refused, |of| if of.acid { 0.0 } else { of.grams })
    };
    let mut told = 0;
    for level in [59.8, 56.0, 54.0, 40.0] {
        let doses: Vec<f64> = (0..20).map(|tenth| dose(2.9 + 0.1 * f64::from(tenth), level)).collect();
        assert!(doses.windows(2).all(|pair| pair[1] <= pair[0] + 0.011), "{level}: {doses:?}");
        told += doses.iter().filter(|grams| **grams > 0.0 && grams.is_finite()).count();
    }
    assert!(told > 10, "{told}");
}

/// What burns is filled up only once what corrects it is there, and what is to be read again is due the same day.
#[test]
fn nothing_is_filled_up_before_what_burns_is_corrected() {
    let today = |bench: &Bench, entries: &[(&str, f64)]| {
        let read = entries.iter().map(|(when, ph)| (*when, reading(Some(*ph), None, Some(55.0))));
        let entries = [("2027-01-04 09:00", filled("growth", &GROWTH))].into_iter().chain(read).collect();
        tank_on(bench, entries, "2027-01-06 13:00")
    };
    let starter = Bench::starter();
    let shelf =
        bloomsalt::bench::STARTER.replace("potassium-nitrate = {}", "potassium-nitrate = {}\npotassium-bicarbonate = {}");
    let with_base = Bench::parse(&shelf, "with a base").expect("valid");
    let doubt = |tank: &jobs::TodayTank| tank.due.iter().find(|due| due.by == DueBy::Doubt).map(|due| due.days_left);
    let mut corrected = 0;
    for ph in [2.6, 3.2, 3.6, 3.9] {
        let twice = [("2027-01-06 09:00", ph), ("2027-01-06 12:00", ph)];
        let tank = today(&starter, &twice);
        let there = |tank: &jobs::TodayTank| tank.ph.as_ref().and_then(|ph| ph.correction.as_ref()).map(|of| of.on_shelf);
        assert_ne!(there(&tank), Some(true), "{ph}");
        assert!(tank.fill_up.is_none() && tank.no_fill_up.is_some_and(|why| why.contains("the pH comes first")), "{ph}");
        let tank = today(&with_base, &twice);
        assert_eq!(tank.fill_up.is_some(), there(&tank) == Some(true), "{ph}: {:?}", tank.no_fill_up);
        corrected += usize::from(tank.fill_up.is_some());
        let once = today(&with_base, &twice[..1]);
        assert_eq!((doubt(&once), doubt(&tank)), (Some(0), Some(0)), "{ph}");
        assert!(once.fill_up.is_none() && once.due.iter().all(|due| due.by != DueBy::Habit), "{ph}: {:?}", once.due);
    }
    assert!(corrected > 1, "{corrected}");
}

/// Of several acids in `[acid]` one that can be measured is told, wherever it stands in the list, and one that carries no target far
/// over itself before one that does.
#[test]
fn of_several_acids_one_does_it() {
    let names = ["nitric-acid-38", "phosphoric-acid-75", "nitric-acid-3", "phosphoric-acid-10", "phosphoric-acid-2"];
    let told = |acids: &[&str], ph: f64, alkaline: f64| {
        let quoted: Vec<String> = acids.iter().map(|id| format!("\"{id}\"")).collect();
        let shelf = acids.iter().fold(String::new(), |all, id| format!("{all}{id} = {{}}\n"));
        let starter = bloomsalt::bench::STARTER
            .replace("phosphoric-acid-10 = {}", "")
            .replace("[syringe]", &format!("[acid]\nsalt = [{}]\ntarget_pH = 5.8\n\n[syringe]", quoted.join(", ")));
        let starter = starter.replace("step = \"0.5 mL\"", "step = \"1 mL\"");
        let bench = Bench::parse(&starter.replace("[shelf]", &format!("[shelf]\n{shelf}")), "acids").expect("valid");
        let mut content = GROWTH.to_vec();
        content[3].1 += alkaline;
        let entries =
            vec![("2027-01-04 09:00", filled("growth", &content)), ("2027-01-07 09:00", reading(Some(ph), None, None))];
        tank_on(&bench, entries, "2027-01-07 10:00").ph.and_then(|ph| ph.correction)
    };
    let (mut by_another, mut none) = (0, 0);
    for (at, ph) in [6.6, 6.8, 7.0, 7.3, 7.6].into_iter().enumerate() {
        for first in 0..names.len() {
            let pair = [names[first], names[(first + 1 + at) % names.len()]];
            if pair[0] == pair[1] {
                continue;
            }
            let alone = pair.map(|id| told(&[id], ph, 5.0));
            let both = told(&pair, ph, 5.0);
            assert_eq!(both.is_some(), alone.iter().any(Option::is_some), "{pair:?} at {ph}");
            by_another += usize::from(alone[0].is_none() && both.is_some());
            none += usize::from(both.is_none());
            let over = |of: &Option<jobs::PhCorrection>| {
                of.as_ref().and_then(|of| of.brings.as_ref()).is_some_and(|brings| {
                    let (_, there) = GROWTH.iter().find(|(id, _)| id.starts_with(&*brings.element)).expect("asked");
                    there + brings.ppm > 1.22 * there
                })
            };
            let spared = alone.iter().any(|one| one.is_some() && !over(one));
            assert!(!spared || !over(&both), "{pair:?} at {ph}: {both:?}");
        }
    }
    assert!(by_another > 2 && none > 0, "{by_another}, {none}");
}

/// What fills a tank up may take its pH to where it asks for an acid, though what was read asks for nothing: then that acid is told, it
/// never brings the tank under what roots bear right after, and the pH is due to be read the day after.
#[test]
fn hard_water_that_is_filled_in_is_reckoned_with() {
    let starter = bloomsalt::bench::STARTER.replace(
        "[syringe]",
        "[water]\nCa = 85\nMg = 12\nalkalinity = \"230 mg/L CaCO3\"\npH = 7.6\n[acid]\nsalt = \"nitric-acid-3\"\ntarget_pH = 5.8\n\n[syringe]",
    );
    let bench = Bench::parse(&starter.replace("step = \"0.5 mL\"", "step = \"0.1 mL\""), "hard").expect("valid");
    let (mut by_water, mut lone, mut none) = (0, 0, 0);
    for ph in [5.4, 5.6, 5.8, 6.0, 6.4, 7.2, 7.9] {
        for level in [50.0, 54.0, 58.0, 60.0] {
            let entries = vec![
                ("2027-01-04 09:00", filled("growth", &GROWTH)),
                ("2027-01-08 09:00", reading(Some(ph), None, Some(level))),
            ];
            let tank = tank_on(&bench, entries, "2027-01-08 10:00");
            let told = tank.ph.as_ref().and_then(|ph| ph.correction.as_ref());
            let Some(of) = told.filter(|of| of.acid) else {
                // without an acid it stays near the wish, filled up or not, or why none is told is told
                let aired = tank.fill_up.as_ref().and_then(|fill| fill.ph_aired).unwrap_or(ph);
                let untold = tank.ph.as_ref().is_some_and(|ph| ph.untold.is_some());
                assert!(aired < 5.8 + 0.65 || untold, "{ph} at {level} L: {aired}");
                none += 1;
                continue;
            };
            assert!(of.fresh_ph > 4.9 && of.to_ph > 5.5, "{ph} at {level} L: {of:?}");
            let again = tank.due.iter().find(|due| due.by == DueBy::Doubt).expect("it is read again");
            assert_eq!(again.days_left, 1, "{ph} at {level} L");
            if ph < 6.0 { by_water += 1 } else { lone += usize::from(level > 59.0) }
        }
    }
    assert!(by_water > 2 && lone > 0 && none > 3, "{by_water}, {lone}, {none}");
}

/// Where so little of a strong acid is needed that nothing measures it, a part of a jug does it: what is measured into the jug can be
/// measured, and the part of it that goes in is the dose.
#[test]
fn too_little_of_an_acid_is_poured_from_a_jug() {
    let acid = "[acid]\nsalt = \"nitric-acid-60\"\ntarget_pH = 5.8\n\n[syringe]";
    let (mut from_jug, mut whole) = (0, 0);
    for step in [0.02, 0.05, 0.1, 0.2, 0.5, 1.0] {
        let text = bloomsalt::bench::STARTER
            .replace("phosphoric-acid-10 = {}", "nitric-acid-60 = {}")
            .replace("[syringe]", acid)
            .replace("step = \"0.5 mL\"", &format!("step = \"{step} mL\""));
        let bench = Bench::parse(&text, "a coarse syringe").expect("valid");
        for ph in [6.5, 6.7, 6.9, 7.1, 7.3, 7.5] {
            let entries = vec![
                ("2027-01-04 09:00", filled("growth", &[GROWTH.as_slice(), &[("Na", 30.0)]].concat())),
                ("2027-01-07 09:00", reading(Some(ph), None, None)),
            ];
            let tank = tank_on(&bench, entries, "2027-01-07 10:00");
            let Some(of) = tank.ph.and_then(|ph| ph.correction) else { continue };
            let smallest_ml = 20.0 * step;
            let Some(jug) = of.jug else {
                assert!(of.millilitres.expect("a liquid") > 0.94 * smallest_ml, "{step} {ph}: {of:?}");
                whole += 1;
                continue;
            };
            let measured_ml = jug.measured_ml.expect("a liquid");
            assert!((measured_ml - smallest_ml).abs() < 1e-9, "{step} {ph}: {jug:?}");
            assert!((jug.measured_g * jug.pour_ml / jug.whole_ml - of.grams).abs() < 1e-9, "{step} {ph}: {of:?}");
            assert!((jug.whole_ml - measured_ml - of.water_ml.expect("thinned")).abs() < 1e-9, "{step} {ph}: {of:?}");
            assert!(jug.pour_ml >= 20.0 && jug.pour_ml < jug.whole_ml, "{step} {ph}: {jug:?}");
            // under 5 % by mass: 60 % of it is acid, and the water weighs 1 g/mL
            assert!(0.6 * jug.measured_g / (jug.measured_g + of.water_ml.unwrap_or(0.0)) < 0.05, "{step} {ph}: {jug:?}");
            assert!(of.order.iter().any(|step| step.text.contains("of the jug's")), "{:?}", of.order);
            from_jug += 1;
        }
    }
    assert!(from_jug > 5 && whole > 5, "{from_jug} from a jug, {whole} measured");
}

/// The day after an acid went in the pH is read, and that stays due until it is; what is no acid asks for no reading.
#[test]
fn the_reading_after_an_acid_stays_due() {
    let acid = "[acid]\nsalt = \"phosphoric-acid-10\"\ntarget_pH = 5.8\n\n[syringe]";
    let bench = Bench::parse(&bloomsalt::bench::STARTER.replace("[syringe]", acid), "with an acid").expect("valid");
    let poured = |salt: &str| Event::Added {
        salts_g: [(salt.to_owned(), 5.0)].into(),
        bottles_ml: Amounts::new(),
        mg: Amounts::new(),
    };
    for (salt, sours) in [("phosphoric-acid-10", true), ("potassium-nitrate", false)] {
        let mut entries = vec![
            ("2027-01-04 09:00", filled("growth", &GROWTH)),
            ("2027-01-08 09:00", reading(Some(6.9), None, None)),
            ("2027-01-08 10:00", poured(salt)),
        ];
        let due = |entries: &[(&str, Event)], when: &str| {
            let tank = tank_on(&bench, entries.to_vec(), when);
            tank.due.iter().find(|due| due.by == DueBy::Doubt).map(|due| due.days_left)
        };
        for (when, left) in [("2027-01-08 11:00", 1), ("2027-01-09 12:00", 0), ("2027-01-11 12:00", -2)] {
            assert_eq!(due(&entries, when), sours.then_some(left), "{salt}, {when}");
        }
        entries.push(("2027-01-11 13:00", reading(Some(6.0), None, None)));
        assert_eq!(due(&entries, "2027-01-11 14:00"), None, "{salt}");
    }
}

/// What filling up leaves a STOP in is made anew where a fresh tank has none, and nothing is poured into it.
#[test]
fn a_tank_that_filling_up_leaves_stopped_is_made_anew() {
    let bench = Bench::starter();
    let (mut anew, mut filled_up) = (0, 0);
    for ammonium in [2.0, 10.0, 40.0, 60.0, 80.0] {
        for level in [40.0, 50.0, 57.0] {
            let mut content = GROWTH.to_vec();
            content[0] = ("NO3-N", 90.0 - ammonium);
            content.push(("NH4-N", ammonium));
            let entries = vec![
                ("2027-01-04 09:00", filled("growth", &content)),
                ("2027-01-06 09:00", reading(None, None, Some(level))),
            ];
            let tank = tank_on(&bench, entries, "2027-01-06 10:00");
            let fill = tank.fill_up.expect("it is filled up, or made anew");
            let stops = fill.stops.iter().filter(|one| one.severity == Severity::Stop).count();
            let renewed = tank.due.iter().any(|due| due.by == DueBy::Stop && due.days_left == 0);
            assert_eq!(stops, 0, "{ammonium} at {level} L: {:?}", fill.stops);
            assert_eq!(renewed, fill.drain_l > 0.0, "{ammonium} at {level} L");
            assert!(!renewed || fill.drain_l > level - 1.0, "{ammonium} at {level} L: {}", fill.drain_l);
            anew += usize::from(renewed);
            filled_up += usize::from(!renewed);
        }
    }
    assert!(anew > 2 && filled_up > 2, "{anew} anew, {filled_up} filled up");
}

/// A tank that has run down, and that nothing of the shelf brings nearer, is made anew; one that the shelf feeds is filled up.
#[test]
fn a_tank_that_nothing_feeds_is_made_anew() {
    // 33 g of the bag make a tank, and 20 g are the least that the kitchen scale is trusted with
    let one_bag = "name = \"Streptocarpus flood bench\"\n[tank]\nvolume = \"120 L\"\n[[scale]]\nreadability = \"1 g\"\n\
                   [shelf]\nfeed = {}\n[[product]]\nid = \"feed\"\nname = \"leaf feed\"\n\
                   analysis = { NO3-N = 5, P2O5 = 15, K2O = 30 }\n[formula.growth]\nN = 13.7\nP = 17.9\nK = 68\n";
    let coarse = Bench::parse(one_bag, "a bag").expect("valid");
    let fine = Bench::parse(&one_bag.replace("1 g", "0.01 g"), "a finer scale").expect("valid");
    let (mut anew, mut fed) = (0, 0);
    for bench in [&coarse, &fine] {
        let fresh = Event::Filled {
            volume_l: 120.0,
            held_back_l: 0.0,
            formula: Some("growth".to_owned()),
            hold_at_most_days: None,
            salts_g: Amounts::new(),
            bottles_ml: Amounts::new(),
            ppm: [("NO3-N", 13.7), ("P", 17.9), ("K", 68.0)].map(|(of, ppm)| (of.to_owned(), ppm)).into(),
        };
        let began = "2027-01-04 09:00";
        // nitrogen alone is gone, and the bag brings the rest with it; or all of it is
        for (left, others) in [(0.9, 1.0), (0.45, 1.0), (0.35, 1.0), (0.35, 0.4), (0.3, 0.2)] {
            for level in [120.0, 112.0] {
                let found = [("NO3-N", 13.7 * left), ("P", 17.9 * others), ("K", 68.0 * others)];
                let found = Event::Analysis { ppm: found.map(|(of, ppm)| (of.to_owned(), ppm)).into() };
                let entries = vec![
                    (began, fresh.clone()),
                    ("2027-01-10 09:00", found),
                    ("2027-01-10 09:00", reading(None, None, Some(level))),
                ];
                let tank = tank_on(bench, entries, "2027-01-10 10:00");
                let lacks = tank.due.iter().any(|due| due.by == DueBy::Lack);
                let run_down = tank.due.iter().any(|due| due.by == DueBy::Forecast && due.days_left <= 0);
                let fill = tank.fill_up.as_ref();
                let feeds = fill.is_some_and(|fill| !fill.doses.is_empty());
                assert!(!run_down || feeds, "{left} {level}: run down and not fed: {:?}", tank.due);
                assert!(!lacks || feeds && fill.is_some_and(|fill| fill.drain_l > 100.0), "{left} {level}: {fill:?}");
                anew += usize::from(lacks);
                fed += usize::from(feeds && !lacks);
            }
        }
    }
    assert!(anew > 0 && fed > 1, "{anew} made anew, {fed} fed");
}

/// Where bottles alone are named as the acid no other is told in their place: the grower may have none.
#[test]
fn no_acid_stands_in_for_a_bottle() {
    for ph_read in [7.2, 7.6, 8.4] {
        let bottle = "[acid]\nsalt = \"thin\"\ntarget_pH = 5.8\n[[helper]]\nid = \"thin\"\nvolume = \"2 L\"\n\
                      made_of = { nitric-acid-38 = \"100 mL\" }\n\n[syringe]";
        let text = bloomsalt::bench::STARTER
            .replace("phosphoric-acid-10 = {}", "nitric-acid-38 = {}")
            .replace("[syringe]", &format!("[water]\nCa = 80\nalkalinity = \"200 mg/L CaCO3\"\npH = 7.5\n{bottle}"));
        let bench = Bench::parse(&text, "bottle").expect("valid");
        let entries = vec![
            ("2027-01-04 09:00", filled("growth", &GROWTH)),
            ("2027-01-08 09:00", reading(Some(ph_read), None, Some(60.0))),
        ];
        let told = tank_on(&bench, entries, "2027-01-08 10:00").ph.expect("read");
        assert!(told.correction.is_none(), "{ph_read}: {told:?}");
        let why = told.untold.unwrap_or_else(|| panic!("{ph_read}: nothing is told"));
        assert!(why.contains("thin") && !why.contains("phosphoric"), "{ph_read}: {why}");
    }
}

/// Where the water that fills a tank up takes its pH to where nothing is asked for, no base is told beside it.
#[test]
fn water_that_does_what_a_base_would() {
    let starter = bloomsalt::bench::STARTER
        .replace("[syringe]", "[water]\nCa = 85\nMg = 12\nalkalinity = \"230 mg/L CaCO3\"\npH = 7.6\n\n[syringe]");
    let hard = Bench::parse(&starter, "hard").expect("valid");
    let (mut by_water, mut by_base) = (0, 0);
    for (bench, level) in [(&hard, 40.0), (&hard, 50.0), (&hard, 56.0), (&hard, 59.9), (&Bench::starter(), 50.0)] {
        for ph_read in [4.9, 5.1, 5.2] {
            let entries = vec![
                ("2027-01-04 09:00", filled("growth", &GROWTH)),
                ("2027-01-08 09:00", reading(Some(ph_read), None, Some(level))),
            ];
            let tank = tank_on(bench, entries, "2027-01-08 10:00");
            let base = tank.ph.as_ref().and_then(|ph| ph.correction.as_ref()).filter(|of| !of.acid);
            let comes_to = tank.fill_up.as_ref().and_then(|fill| fill.ph_aired);
            match (base, comes_to) {
                (Some(_), _) => by_base += 1,
                (None, Some(ph)) => {
                    assert!(ph > 5.29, "{ph_read} at {level} L comes to {ph}, and no base is told");
                    by_water += 1;
                }
                (None, None) => panic!("{ph_read} at {level} L: nothing is told"),
            }
        }
    }
    assert!(by_water > 1 && by_base > 2, "{by_water}, {by_base}");
}
