//! What is worn stands before the first dose, in every report that tells one, and an acid is thinned before it goes in.
#![allow(clippy::disallowed_methods, reason = "writes the files of a bench")]

use bloomsalt::bench::{Bench, STARTER};
use bloomsalt::jobs::{self, Added, CheckOptions, Known};
use bloomsalt::quantity::{Amount, gram};
use bloomsalt::report;

use crate::program::{bloomsalt, done};

const HARD: &str = "\n[water]\nCa = 90\nMg = 12\nNa = 15\nCl = 25\nS = 15\nalkalinity = \"4.5 meq/L\"\npH = 7.4\n\
                    [acid]\nsalt = \"nitric-acid-60\"\ntarget_pH = 5.8\n";
const PLAN: &str = "\n[cycle]\nstart = 2027-01-01\ngrowth = { formula = \"growth\", lasts = \"14 days\" }\n\
                    push = { formula = \"push\", lasts = \"21 days\" }\nback = { formula = \"growth\", lasts = \"35 days\" }\n\
                    ripening = { formula = \"growth\", lasts = \"30 days\" }\nrenew_every = \"14 days\"\n";

/// Where the first amount to measure out stands: a number with g or mL, in a line of a list or in a correction.
fn first_dose(text: &str) -> Option<usize> {
    let words: Vec<(usize, &str)> = text
        .split_inclusive(char::is_whitespace)
        .scan(0, |at, word| {
            let from = *at;
            *at += word.len();
            Some((from, word.trim()))
        })
        .filter(|(_, word)| !word.is_empty())
        .collect();
    let is_dose = |pair: &&[(usize, &str)]| pair[0].1.parse::<f64>().is_ok() && matches!(pair[1].1, "g" | "mL");
    words.windows(2).find(is_dose).map(|pair| pair[0].0)
}

struct Folder(tempfile::TempDir);

impl Folder {
    fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_str().expect("UTF-8").to_owned()
    }

    /// A bench with a tank filled with growth and read four days later.
    fn new(sections: &str, ph: &str) -> Self {
        let folder = Self(tempfile::tempdir().expect("a folder"));
        let (bench, logbook, saved) = (folder.path("bench.toml"), folder.path("tank.jsonl"), folder.path("growth.json"));
        // a finer syringe than the starter's, for the acid of a day
        let starter = STARTER.replace("step = \"0.5 mL\"", "step = \"0.1 mL\"");
        std::fs::write(&bench, format!("{starter}{sections}")).expect("written");
        bloomsalt(&["mix", "growth", "--bench", &bench, "--save", &saved]);
        let at = |day: &str| format!("2027-01-{day} 09:00+01:00");
        done(&["logbook", "add", &logbook, "--bench", &bench, "--at", &at("01"), "from", &saved]);
        for (day, ec, ph) in [("04", "1.05 mS/cm", "6.0"), ("08", "0.95 mS/cm", ph)] {
            let level = if day == "04" { "56 L" } else { "52 L" };
            let reading = ["reading", "--ec", ec, "--ph", ph, "--level", level, "--yes"];
            done(&[&["logbook", "add", &logbook, "--bench", &bench, "--at", &at(day)][..], &reading].concat());
        }
        folder
    }

    fn says(&self, command: &[&str]) -> String {
        let bench = self.path("bench.toml");
        bloomsalt(&[command, &["--bench", &bench]].concat()).1
    }
}

#[test]
fn what_is_worn_stands_before_the_first_dose() {
    for (sections, ph, acid) in [(format!("{HARD}{PLAN}"), "7.4", true), (PLAN.to_owned(), "6.1", false)] {
        let folder = Folder::new(&sections, ph);
        let (logbook, at) = (folder.path("tank.jsonl"), "2027-01-08 10:00+01:00");
        let of_logbook = ["--logbook", &logbook, "--at", at];
        let with = |command: &[&'static str]| [command, &of_logbook].concat();
        for command in [
            vec!["mix", "growth"],
            vec!["mix", "push", "--beside", "growth"],
            vec!["check", "potassium-nitrate=15g", "potassium-hydroxide=4g"],
            vec!["check", "potassium-nitrate=15g", "--against", "growth"],
            vec!["stock", "growth"],
            vec!["cycle"],
            with(&["today"]),
            with(&["switch", "push"]),
            with(&["top-up"]),
            vec!["logbook", "forecast", &logbook, "--at", at],
        ] {
            let text = folder.says(&command);
            let dose = first_dose(&text).unwrap_or_else(|| panic!("{command:?} tells no dose:\n{text}"));
            let worn = text.find("On before anything is opened: goggles");
            assert!(worn.is_some_and(|worn| worn < dose), "{command:?}:\n{text}");
            // where an acid is told it is thinned with water first, and how much of it stands there
            if acid && text.contains("mL") && text.contains(" nitric acid 60 % ") {
                let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                let by_step = text.contains("Goggles, gloves and apron on, in open air: dilute");
                let in_a_line = text.contains("(goggles, gloves and apron on, in open air, poured into");
                let none_told = text.contains("none goes in")
                    || text.contains("no dose of it is told")
                    || text.contains("this tank gets none");
                assert!(by_step || in_a_line || none_told, "{command:?}:\n{text}");
            }
        }
    }
}

/// Water alone asks for nothing to be worn.
#[test]
fn water_alone_asks_for_nothing() {
    let folder = Folder(tempfile::tempdir().expect("a folder"));
    std::fs::write(folder.path("bench.toml"), "[tank]\nvolume = \"60 L\"\n").expect("written");
    assert!(!folder.says(&["check", "--analysis", "N=40"]).contains("On before anything"));
}

/// An acid in a tank that stands goes in as one of a mix: worn, thinned with a volume, from the jug, before the weights.
#[test]
fn an_acid_of_today_is_thinned_as_in_a_mix() {
    let folder = Folder::new(HARD, "7.4");
    let logbook = folder.path("tank.jsonl");
    let text = folder.says(&["today", "--logbook", &logbook, "--at", "2027-01-08 10:00+01:00"]);
    let steps = text.split("HOW TO MIX\n").nth(1).unwrap_or_else(|| panic!("{text}"));
    let place = |words: &str| steps.find(words).unwrap_or_else(|| panic!("{words}:\n{text}"));
    assert!(place("open air: dilute") < place("from the jug"), "{text}");
    assert!(place("from the jug") < place("Dissolve each"), "{text}");
    assert!(text.contains("never neat"), "{text}");
}

/// A thin acid in hard water: most of it goes in before phosphate too, and it needs no jug; in soft water all of it goes in last.
#[test]
fn a_thin_acid_sours_hard_water_first() {
    let steps = |alkalinity: &str| {
        let folder = Folder(tempfile::tempdir().expect("a folder"));
        let bottle = "\n[[helper]]\nid = \"thin\"\nvolume = \"2 L\"\nmade_of = { nitric-acid-60 = \"120 g\" }\n";
        let water = HARD.replace("4.5 meq/L", alkalinity).replace("nitric-acid-60", "thin");
        let water = water.replace("Ca = 90", if alkalinity == "4.5 meq/L" { "Ca = 90" } else { "Ca = 30" });
        std::fs::write(folder.path("bench.toml"), format!("{STARTER}{water}{bottle}")).expect("written");
        folder.says(&["mix", "growth"]).split("HOW TO MIX\n").nth(1).expect("steps").to_owned()
    };
    let hard = steps("4.5 meq/L");
    let sours = hard.find("The water is alkaline").unwrap_or_else(|| panic!("{hard}"));
    assert!(sours < hard.find("Dissolve each").expect("salts") && !hard.contains("dilute the acid"), "{hard}");
    assert!(hard.contains("of thin into it, slowly") && hard.contains("what is left of it"), "{hard}");
    let soft = steps("1.2 meq/L");
    assert!(!soft.contains("The water is alkaline") && soft.contains("Last the acid"), "{soft}");
}

/// Where the first line of a list of doses stands, or the first correction that is told.
fn first_poured(text: &str) -> Option<usize> {
    let mut at = 0;
    let is_dose = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        let amount = |at: usize| words.get(at).is_some_and(|word| word.parse::<f64>().is_ok());
        let unit = |at: usize| words.get(at).is_some_and(|word| matches!(*word, "g" | "mL"));
        let numbered = words.first().is_some_and(|word| word.ends_with('.') && word[..word.len() - 1].parse::<u8>().is_ok());
        numbered && amount(1) && unit(2)
    };
    let list = text.split_inclusive('\n').find_map(|line| {
        let from = at;
        at += line.len();
        is_dose(line).then_some(from)
    });
    let told = ["About ", "about "].into_iter().filter_map(|word| {
        let from =
            text.find(&format!("{word}0")).or_else(|| (1..=9).filter_map(|n| text.find(&format!("{word}{n}"))).min())?;
        let words: Vec<&str> = text[from..].split_whitespace().take(4).collect();
        (matches!(words.get(2), Some(&("g" | "mL"))) && words.get(3) == Some(&"of")).then_some(from)
    });
    list.into_iter().chain(told).min()
}

type Finds = fn(&str) -> Option<usize>;
/// For a mix, for a check, and for two mixes beside each other, which stand in a table of which every number is a dose.
const FINDS: [Finds; 3] =
    [first_poured, first_poured, |text| Some(text.find("WEIGH\n")? + first_dose(text.split("WEIGH\n").nth(1)?)?)];

/// On random benches: in a mix, beside another, checked with what was weighed.
#[test]
fn what_is_worn_stands_first_on_any_bench() {
    let mut seen = [0; 3];
    for seed in 0..40 {
        let text = crate::random::benches::bench(seed).text;
        let bench = Bench::parse(&text, "random").unwrap_or_else(|error| panic!("{error}\n{text}"));
        let options = jobs::MixOptions::default();
        let mix = jobs::mix(&bench, "growth", &options).ok();
        let doses = mix.iter().flat_map(|mix| &mix.doses);
        let added: Vec<Added> = doses
            .filter_map(|dose| {
                let salt = bench.catalogue.find(dose.salt()?)?;
                Some(Added { salt, amount: Amount::Mass(gram(dose.grams().filter(|grams| *grams > 0.0)?)) })
            })
            .collect();
        let checked = jobs::check_tank(
            &bench,
            &Known::Added { salts: &added, bottles: &[] },
            &CheckOptions { against: Some("growth"), ..CheckOptions::default() },
        );
        let beside = jobs::mix_beside(&bench, "growth", "push", &options).ok();
        let goggles = |cautions: &[jobs::General]| cautions.iter().any(|one| one.wear.iter().any(|what| what == "goggles"));
        let reports = [
            mix.map(|mix| (goggles(&mix.cautions), report::mix(&mix, false))),
            checked.ok().map(|checked| (goggles(&checked.tank.cautions), report::check(&checked, false))),
            beside.map(|two| (goggles(&two.first.cautions) || goggles(&two.beside.cautions), report::beside(&two, false))),
        ];
        for ((of, seen), first) in reports.into_iter().zip(&mut seen).zip(FINDS) {
            let Some((asks, text)) = of else { continue };
            let worn = text.find("On before anything is opened: goggles");
            assert_eq!(worn.is_some(), asks, "{seed}:\n{text}");
            if let (Some(worn), Some(dose)) = (worn, first(&text)) {
                assert!(worn < dose, "{seed}:\n{text}");
                *seen += 1;
            }
        }
    }
    assert!(seen.iter().all(|seen| *seen > 5), "{seen:?}");
}

/// A bottle of nitric acid of 9 % burns, from 5 % on by the EU's class, one of sulfuric acid only from 15 % (both from memory).
#[test]
fn a_dilute_bottle_asks_for_what_its_strength_does() {
    let worn = |acid: &str, grams: f64| {
        let folder = Folder(tempfile::tempdir().expect("a folder"));
        let bottle = format!("\n[[helper]]\nid = \"thin\"\nvolume = \"2 L\"\nmade_of = {{ {acid} = \"{grams} g\" }}\n");
        let water = HARD.replace("nitric-acid-60", "thin");
        std::fs::write(folder.path("bench.toml"), format!("{STARTER}{water}{bottle}")).expect("written");
        let told = folder.says(&["mix", "growth"]);
        let steps = told.split("HOW TO MIX\n").nth(1).unwrap_or_else(|| panic!("{told}"));
        assert!(steps.contains("dilute the acid"), "{told}");
        steps.split_whitespace().collect::<Vec<_>>().join(" ").contains("apron on, in open air: dilute")
    };
    assert!(worn("nitric-acid-60", 300.0) && !worn("sulfuric-acid-35", 514.0) && worn("sulfuric-acid-35", 900.0));
}
