//! Why a target is missed, what would help, how limits that contradict each other could be kept, and the trade-off between
//! two nutrients: every number that is told is taken out of its words and checked by solving again, with a question that is
//! put together here (own arithmetic on the bench, then `fit::solve`).

use std::collections::BTreeMap;
use std::fmt::Write as _;

use bloomsalt::bench::Bench;
use bloomsalt::catalogue::Catalogue;
use bloomsalt::fit::{Column, FitError, Problem, Solution, Want, can_be_met, solve};
use bloomsalt::jobs::{self, JobError, MixOptions, MixRecord};
use bloomsalt::matter::{Kind, Nutrient, Salt};
use bloomsalt::quantity::{milliliter, ppm_decimals, ppm_of, ppm_text};
use bloomsalt::safety::Code;
use uom::si::mass::gram as in_grams;

use crate::random::Random;

/// Every salt that a fit takes by itself, where nothing asks for silicon.
fn fitted() -> Vec<&'static str> {
    let kinds = |salt: &&Salt| matches!(salt.kind, Kind::Salt | Kind::Chelate);
    Catalogue::standard().salts().iter().filter(kinds).map(|salt| salt.id.as_str()).collect()
}

/// A shelf of `count` salts, some of them running out.
fn shelf(random: &mut Random, count: usize) -> String {
    let mut text = format!("[tank]\nvolume = \"{} L\"\n[shelf]\n", [10, 60, 200][random.below(3)]);
    for id in random.some(&fitted(), count) {
        let stock = if random.chance(0.15) {
            format!("{{ on_hand = \"{:.2} g\" }}", random.between(1.0, 60.0))
        } else {
            "{}".to_owned()
        };
        let _ = writeln!(text, "{id} = {stock}");
    }
    text
}

/// The bench and the formula as a question to the fit: the salts of the shelf, then those of `more`.
fn question(bench: &Bench, more: &[&str]) -> Problem<'static> {
    let formula = bench.formula("drawn").expect("drawn");
    let litres = milliliter(bench.tank.volume) * 1e-3;
    let added = more.iter().map(|id| bench.stock(bench.catalogue.find(id).expect("known")));
    let column = |stock: bloomsalt::bench::Stock| Column {
        ppm_per_g_per_l: bench.composition(&stock).nutrients.scaled(1e3),
        most_g_per_l: stock.on_hand.map(|mass| mass.get::<in_grams>() / litres),
        cost_per_g: 1.0,
    };
    Problem {
        columns: bench.shelf.iter().copied().chain(added).map(column).collect(),
        water_ppm: bench.water.nutrients,
        wants: formula
            .wishes
            .iter()
            .map(|wish| Want {
                nutrient: wish.nutrient,
                target_ppm: wish.target.map(ppm_of),
                min_ppm: wish.min.map(ppm_of),
                max_ppm: wish.max.map(ppm_of),
                weight: wish.weight,
            })
            .collect(),
        ammonium_share: formula.ammonium_share,
        ec: None,
        ph: None,
        sparing: Vec::new(),
        waters: Vec::new(),
        near: None,
    }
}

fn want<'p>(problem: &'p mut Problem<'static>, nutrient: Nutrient) -> &'p mut Want {
    problem.wants.iter_mut().find(|want| want.nutrient == nutrient).expect("asked for")
}

/// `N at 36.0 ppm`, `Cl at most 70.0 ppm`, `P at least 5.00 ppm`: which, which side (`None` for a target), and the level.
fn level(words: &str) -> Option<(Nutrient, Option<bool>, f64)> {
    let (symbol, rest) = words.split_once(" at ")?;
    let rest = rest.strip_suffix(" ppm")?;
    let (side, number) = match (rest.strip_prefix("most "), rest.strip_prefix("least ")) {
        (Some(number), _) => (Some(true), number),
        (_, Some(number)) => (Some(false), number),
        _ => (None, rest),
    };
    Some((Nutrient::parse(symbol)?, side, number.parse().ok()?))
}

/// Half of the last digit that is told of a level, ppm.
fn half_a_digit(level: f64) -> f64 {
    0.5 * 10.0_f64.powi(-i32::try_from(ppm_decimals(level)).expect("few"))
}

mod misses {
    use super::*;

    fn text(random: &mut Random) -> String {
        let count = 4 + random.below(12);
        let mut text = shelf(random, count);
        text.push_str("[formula.drawn]\n");
        for (symbol, usual) in
            [("N", 90.0), ("P", 20.0), ("K", 100.0), ("Ca", 75.0), ("Mg", 22.0), ("Fe", 1.5), ("Mn", 0.4), ("B", 0.3)]
        {
            if random.chance(0.75) {
                let target = usual * random.between(0.4, 1.8);
                let max = if random.chance(0.1) { format!(", max = {}", target * 1.02) } else { String::new() };
                let _ = writeln!(text, "{symbol} = {{ target = {target:.3}{max} }}");
            }
        }
        for (symbol, most, share) in [("S", 60.0, 0.5), ("Cl", 50.0, 0.5), ("Na", 20.0, 0.3)] {
            if random.chance(share) {
                let _ = writeln!(text, "{symbol} = {{ max = {:.1} }}", most * random.between(0.3, 1.5));
            }
        }
        if random.chance(0.4) {
            let _ = writeln!(text, "ammonium_share = {{ max = {:.2} }}", random.between(0.05, 0.3));
        }
        text
    }

    /// Mixes with an explanation, until there are `count` explanations of misses.
    fn drawn(count: usize) -> Vec<(String, Bench, MixRecord)> {
        let mut random = Random(31);
        let (mut seen, mut mixes) = (0, Vec::new());
        while seen < count {
            let text = text(&mut random);
            let Ok(bench) = Bench::parse(&text, "drawn") else { continue };
            let mix = match jobs::mix(&bench, "drawn", &MixOptions::default()) {
                Ok(mix) => mix,
                Err(JobError::Conflict { .. } | JobError::NothingToMixFrom { .. } | JobError::NothingMeasurable { .. }) => {
                    continue;
                }
                Err(error) => panic!("{error}\n{text}"),
            };
            seen += mix.findings.iter().filter(|finding| finding.code == Code::WhyMissed).count();
            mixes.push((text, bench, mix));
        }
        mixes
    }

    fn miss(problem: &Problem, solution: &Solution, nutrient: Nutrient, target: f64) -> f64 {
        (problem.achieved_ppm(&solution.g_per_l)[nutrient] - target) / target
    }

    /// A target as it is told to be missed.
    struct Off {
        nutrient: Nutrient,
        target: f64,
        by: f64,
    }

    /// What `Ca comes to 63.1 of 75.0 ppm` says, held against the mix.
    fn off(mix: &MixRecord, words: &str, text: &str) -> Off {
        let (symbol, levels) = words.split_once(" comes to ").expect("worded so");
        let element = mix.elements.iter().find(|element| element.element == symbol).expect("there");
        let target = element.target_ppm.expect("asked for");
        let told = format!("{} of {}", ppm_text(element.ppm_exact), ppm_text(target));
        assert_eq!(levels.trim_end_matches(" ppm"), told, "{text}");
        Off { nutrient: Nutrient::parse(symbol).expect("known"), target, by: (element.ppm_exact - target) / target }
    }

    /// Lets what stands in words go.
    fn let_go(problem: &mut Problem<'static>, words: &str) {
        match level(words) {
            Some((other, None, _)) => want(problem, other).weight *= 1e-4,
            Some((other, Some(true), _)) => want(problem, other).max_ppm = None,
            Some((other, Some(false), _)) => want(problem, other).min_ppm = None,
            None if words.starts_with("ammonium share at most") => problem.ammonium_share.max = None,
            None => panic!("{words}"),
        }
    }

    /// The reason that is told holds for one target: for the first, all of what is named frees it; for another, some of that or the
    /// first itself does.
    #[allow(clippy::too_many_arguments, reason = "one statement and all that it is held against")]
    fn explained(
        bench: &Bench,
        plain: &Solution,
        one: &Off,
        is_first: bool,
        why: &str,
        first: &Off,
        kinds: &mut BTreeMap<&str, usize>,
        text: &str,
    ) {
        let Off { nutrient, target, by } = *one;
        let brings = |column: &Column| column.ppm_per_g_per_l[nutrient] > 0.0;
        let problem = question(bench, &[]);
        if why.contains("no salt on the shelf brings it") {
            *kinds.entry("not supplied").or_default() += 1;
            assert!(!problem.columns.iter().any(brings), "{nutrient}{why}\n{text}");
            return;
        }
        assert!(problem.columns.iter().any(brings), "{nutrient}{why}\n{text}");
        if why.contains("because all there is") {
            *kinds.entry("all used").or_default() += 1;
            for (column, x) in problem.columns.iter().zip(&plain.g_per_l).filter(|(column, _)| brings(column)) {
                assert!(column.most_g_per_l.is_some_and(|most| *x >= most * (1.0 - 1e-6)), "{nutrient}{why}\n{text}");
            }
            return;
        }
        let Some(list) = why.strip_prefix(", held down by ").or(why.strip_prefix(", pushed up by ")) else {
            *kinds.entry("other targets").or_default() += 1;
            return;
        };
        assert_eq!(why.starts_with(", held down"), first.by < 0.0, "{nutrient}{why}");
        let own = format!("{} at {} ppm", first.nutrient, ppm_text(first.target));
        let named = list.trim_end_matches('.').split(", and by ").chain((!is_first).then_some(own.as_str()));
        let frees = named
            .filter(|words| level(words).is_none_or(|(other, side, _)| side.is_some() || other != nutrient))
            .map(|words| {
                let mut problem = question(bench, &[]);
                let_go(&mut problem, words);
                let solution = solve(&problem).expect("looser than before");
                (words, miss(&problem, &solution, nutrient, target).abs() < 0.91 * by.abs())
            });
        let frees: Vec<(&str, bool)> = frees.collect();
        *kinds.entry("partner").or_default() += frees.len();
        let holds = if is_first { frees.iter().all(|(_, frees)| *frees) } else { frees.iter().any(|(_, frees)| *frees) };
        assert!(holds, "{nutrient}{why}: {frees:?}\n{text}");
    }

    /// A target is met at the level that is told.
    fn would_be_met(bench: &Bench, one: &Off, take: &str, text: &str) {
        let (other, side, to) = level(take).expect("a level");
        let mut problem = question(bench, &[]);
        let other_want = want(&mut problem, other);
        let room = half_a_digit(to);
        match side {
            None => {
                other_want.target_ppm = Some(to);
                other_want.max_ppm = other_want.max_ppm.map(|max| max.max(to));
            }
            Some(true) => other_want.max_ppm = Some(to + room),
            Some(false) => other_want.min_ppm = Some((to - room).max(0.0)),
        }
        let left = solve(&problem).map_or(f64::INFINITY, |s| miss(&problem, &s, one.nutrient, one.target).abs());
        // as told, to half a digit
        assert!(left < 1.1e-3 + 2.0 * room / to, "{}: {take}: {left} of {}\n{text}", one.nutrient, one.by);
    }

    /// Own arithmetic, then `fit::solve`: a hundred explanations.
    #[test]
    fn explanations_hold_when_solved_again() {
        let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
        for (text, bench, mix) in drawn(200) {
            let plain = solve(&question(&bench, &[])).expect("solved before");
            assert!((plain.misfit - mix.misfit_exact.expect("fitted")).abs() < 1e-7, "{text}");
            for finding in mix.findings.iter().filter(|finding| finding.code == Code::WhyMissed) {
                let message = &finding.message;
                let (first, rest) = message.split_once(" For the same reason ").unwrap_or((message, ""));
                let (head, why) = first.split_once(" before rounding").expect("worded so");
                let others = rest.trim_end_matches('.').split(", and ").filter(|other| !other.is_empty());
                let missed: Vec<Off> = [head].into_iter().chain(others).map(|words| off(&mix, words, &text)).collect();
                for (at, one) in missed.iter().enumerate() {
                    *kinds.entry(if at == 0 { "first" } else { "likewise" }).or_default() += 1;
                    explained(&bench, &plain, one, at == 0, why, &missed[0], &mut kinds, &text);
                }
                let Some(remedy) = &finding.remedy else { continue };
                for sentence in remedy.split_inclusive(" met.") {
                    let (takes, who) = sentence.trim().split_once(" instead ").expect("worded so");
                    let who = who.strip_suffix(" would be met.").expect("worded so");
                    let who = if who == "it" { head.split(' ').next().expect("a word") } else { who };
                    let one = missed.iter().find(|one| one.nutrient.to_string() == who).expect("one of those missed");
                    for take in takes.strip_prefix("With ").expect("worded so").split(", or with ") {
                        *kinds.entry("level").or_default() += 1;
                        would_be_met(&bench, one, take, &text);
                    }
                }
            }
            let told = |code| mix.findings.iter().filter(move |finding| finding.code == code);
            let levels = told(Code::WhyMissed).filter_map(|finding| finding.remedy.as_ref());
            let levels: usize = levels.map(|remedy| remedy.matches(" at ").count()).sum();
            let salts: usize = told(Code::WouldHelp).map(|finding| finding.message.matches(';').count() + 1).sum();
            assert!(levels <= 2 && levels + salts <= 3, "{levels} levels, {salts} salts\n{text}");
        }
        let enough = |kind, least: usize| assert!(kinds.get(kind).is_some_and(|seen| *seen >= least), "{kind}: {kinds:?}");
        enough("likewise", 20);
        enough("partner", 60);
        enough("level", 40);
        enough("not supplied", 60);
        enough("all used", 1);
    }

    /// Own arithmetic, then `fit::solve`: the salt on the shelf gives the misfit that is told, and may be proposed at all.
    #[test]
    fn salts_that_would_help_do() {
        let (mut singles, mut pairs) = (0, 0);
        for (text, bench, mix) in drawn(100) {
            for finding in mix.findings.iter().filter(|finding| finding.code == Code::WouldHelp) {
                let (before, rest) = finding.message.split_once(" bought, would lower it: ").expect("so");
                let shown = bloomsalt::quantity::significant(mix.misfit_exact.expect("fitted"), 3);
                assert!(before.starts_with(&format!("Off in all by {shown} before rounding (0 is perfect). ")), "{before}");
                for told in rest.trim_end_matches('.').split("; ") {
                    let (salts, rest) = told.split_once(" to ").expect("worded so");
                    let misfit = rest.split(',').next().expect("a number");
                    let ids: Vec<&str> = salts.split(" with ").collect();
                    for id in &ids {
                        let salt =
                            Catalogue::standard().salt(Catalogue::standard().find(id).unwrap_or_else(|| panic!("{id}")));
                        assert!(matches!(salt.kind, Kind::Salt | Kind::Chelate), "{id}");
                        assert!(!salt.law.restricted && !salt.own_product, "{id}");
                        assert!(bench.shelf.iter().all(|stock| bench.salt(stock).id != *id), "{id} is there\n{text}");
                    }
                    let problem = question(&bench, &ids);
                    let solution = solve(&problem).expect("more salts cannot make limits contradict");
                    assert_eq!(bloomsalt::quantity::significant(solution.misfit, 3), misfit, "{told}\n{text}");
                    let first = problem.columns.len() - ids.len();
                    assert!(solution.g_per_l[first..].iter().all(|x| *x > 0.0), "{told} is not used\n{text}");
                    *(if ids.len() == 1 { &mut singles } else { &mut pairs }) += 1;
                }
            }
        }
        assert!(singles > 30 && pairs > 10, "{singles} singles, {pairs} pairs");
    }
}

mod conflicts {
    use super::*;

    fn text(random: &mut Random) -> String {
        let count = 2 + random.below(6);
        let mut text = shelf(random, count);
        text.push_str("[formula.drawn]\n");
        for symbol in random.some(&["N", "P", "K", "Ca", "Mg", "S", "Cl", "Na"], 4) {
            let ppm = random.between(10.0, 120.0);
            let wish = match random.below(4) {
                0 => format!("{{ min = {ppm:.1} }}"),
                1 => format!("{{ max = {ppm:.1} }}"),
                2 => format!("{{ target = {ppm:.1}, min = {:.1}, max = {:.1} }}", ppm * 0.9, ppm * 1.1),
                _ => format!("{{ min = {ppm:.1}, max = {:.1} }}", ppm * 1.3),
            };
            let _ = writeln!(text, "{symbol} = {wish}");
        }
        if random.chance(0.3) {
            let _ = writeln!(text, "ammonium_share = {{ max = {:.2} }}", random.between(0.05, 0.3));
        }
        text
    }

    /// Own arithmetic, then `fit::can_be_met`: a hundred conflicts.
    #[test]
    fn what_would_do_does() {
        let mut random = Random(77);
        let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
        let mut seen = 0;
        while seen < 100 {
            let text = text(&mut random);
            let Ok(bench) = Bench::parse(&text, "drawn") else { continue };
            let error = match jobs::mix(&bench, "drawn", &MixOptions::default()) {
                Err(error @ JobError::Conflict { .. }) => error,
                Ok(_) | Err(JobError::NothingToMixFrom { .. } | JobError::NothingMeasurable { .. }) => continue,
                Err(error) => panic!("{error}\n{text}"),
            };
            seen += 1;
            let JobError::Conflict { helps, limits, .. } = &error else { continue };
            assert!(!can_be_met(&question(&bench, &[])).expect("decided"), "{text}");
            assert!(!limits.is_empty());
            for help in helps {
                let holds = |change: &dyn Fn(&mut Problem<'static>)| {
                    let mut problem = question(&bench, &[]);
                    change(&mut problem);
                    can_be_met(&problem).expect("decided")
                };
                if let Some(words) = help.strip_suffix(" would do") {
                    let (nutrient, side, to) = level(words).expect("a level");
                    let at = |to: f64| {
                        holds(&|problem: &mut Problem<'static>| {
                            let want = want(problem, nutrient);
                            // a minimum does not hold a maximum back, nor the other way round
                            if side == Some(true) { want.max_ppm = Some(to) } else { want.min_ppm = Some(to) }
                        })
                    };
                    *kinds.entry("level").or_default() += 1;
                    let looser = if side == Some(true) { 1.0 } else { -1.0 };
                    let digit = half_a_digit(to) * 1.001;
                    assert!(at((to + looser * digit).max(0.0)), "not enough: {help}\n{error}\n{text}");
                    let less = to - looser * (0.01 * to).max(1.1 * digit);
                    assert!(less < 0.0 || !at(less), "less would do: {help}\n{error}\n{text}");
                } else if let Some(words) = help.strip_prefix("on the shelf would do it: ") {
                    for id in words.split(", or ") {
                        *kinds.entry("salt").or_default() += 1;
                        let salt =
                            Catalogue::standard().salt(Catalogue::standard().find(id).unwrap_or_else(|| panic!("{id}")));
                        assert!(matches!(salt.kind, Kind::Salt | Kind::Chelate) && !salt.law.restricted, "{id}");
                        assert!(can_be_met(&question(&bench, &[id])).expect("decided"), "{id}\n{error}\n{text}");
                    }
                } else if let Some(name) = help.strip_prefix("more ").and_then(|rest| rest.strip_suffix(" on hand")) {
                    *kinds.entry("on hand").or_default() += 1;
                    let at = bench.shelf.iter().position(|stock| bench.salt(stock).name == name).expect("on the shelf");
                    assert!(holds(&|problem| problem.columns[at].most_g_per_l = None), "{help}\n{error}\n{text}");
                } else if help.starts_with("`ammonium share at most") && help.ends_with("let go") {
                    *kinds.entry("share").or_default() += 1;
                    assert!(holds(&|problem| problem.ammonium_share.max = None), "{help}\n{error}\n{text}");
                } else {
                    panic!("{help}");
                }
            }
        }
        for (kind, least) in [("level", 40), ("salt", 80), ("on hand", 1), ("share", 1)] {
            assert!(kinds.get(kind).is_some_and(|seen| *seen >= least), "{kind}: {kinds:?}");
        }
    }
}

mod trades {
    use super::*;

    /// What `reached` comes to with `along` held at a level, and the misfit; nothing where no mix keeps the limits.
    fn held(bench: &Bench, along: Nutrient, reached: Nutrient, ppm: f64) -> Option<(f64, f64)> {
        let mut problem = question(bench, &[]);
        problem.wants.retain(|want| want.nutrient != along);
        let level = Want { nutrient: along, target_ppm: None, min_ppm: Some(ppm), max_ppm: Some(ppm), weight: 1.0 };
        problem.wants.push(level);
        match solve(&problem) {
            Ok(solution) => Some((problem.achieved_ppm(&solution.g_per_l)[reached], solution.misfit)),
            Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => None,
            Err(error) => panic!("{error}"),
        }
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-6 * (1.0 + b.abs())
    }

    /// Own arithmetic, then `fit::solve`: every point, and the lowest level that is enough.
    #[test]
    fn points_hold_when_solved_again() {
        let mut random = Random(5);
        let (mut points, mut enough, mut nowhere, mut impossible) = (0, 0, 0, 0);
        for _ in 0..40 {
            let mut text = "[tank]\nvolume = \"60 L\"\n[shelf]\n".to_owned();
            let all = [
                "calcium-nitrate-tetrahydrate",
                "potassium-nitrate",
                "monopotassium-phosphate",
                "potassium-sulfate",
                "magnesium-sulfate-heptahydrate",
                "calcium-chloride-dihydrate",
                "magnesium-nitrate-hexahydrate",
            ];
            let count = 4 + random.below(4);
            for id in random.some(&all, count) {
                let _ = writeln!(text, "{id} = {{}}");
            }
            text.push_str("[formula.drawn]\n");
            for (symbol, usual) in [("N", 60.0), ("P", 30.0), ("K", 130.0), ("Ca", 75.0), ("Mg", 22.0)] {
                let _ = writeln!(text, "{symbol} = {:.1}", usual * random.between(0.5, 1.5));
            }
            let _ = writeln!(
                text,
                "Cl = {{ max = {:.1} }}\nS = {{ max = {:.1} }}",
                random.between(5.0, 70.0),
                random.between(20.0, 90.0)
            );
            let bench = Bench::parse(&text, "drawn").unwrap_or_else(|error| panic!("{error}\n{text}"));
            let trade = match jobs::trade(&bench, "drawn", Nutrient::N, Nutrient::Ca) {
                Ok(trade) => trade,
                Err(JobError::Conflict { .. } | JobError::NothingToTrade { .. }) => continue,
                Err(error) => panic!("{error}\n{text}"),
            };
            for point in &trade.points {
                let Some((reached, misfit)) = held(&bench, Nutrient::N, Nutrient::Ca, point.along_ppm) else {
                    assert_eq!((point.reached_ppm, point.misfit), (None, None), "{text}");
                    impossible += 1;
                    continue;
                };
                assert!(near(point.reached_ppm.expect("there"), reached), "{point:?} {reached}\n{text}");
                assert!(near(point.misfit.expect("there"), misfit), "{point:?} {misfit}\n{text}");
                points += 1;
            }
            let target = trade.reached_target_ppm.expect("asked for");
            let reaches =
                |ppm| held(&bench, Nutrient::N, Nutrient::Ca, ppm).is_some_and(|(ca, _)| ca >= target * (1.0 - 1e-4));
            let Some(lowest) = trade.enough_from_ppm else {
                assert!(trade.points.iter().all(|point| !reaches(point.along_ppm)), "{text}");
                nowhere += 1;
                continue;
            };
            assert!(reaches(lowest), "{lowest}\n{text}");
            let first = trade.points[0].along_ppm;
            assert!((lowest - first).abs() < 1e-9 || !reaches(0.99 * lowest), "{lowest}\n{text}");
            enough += usize::from(lowest > first);
        }
        assert!(
            points > 400 && enough > 10 && nowhere > 5 && impossible > 5,
            "{points} points, {enough} enough, {nowhere} nowhere, {impossible} impossible"
        );
    }

    /// Where the water brings all that is asked, nothing is said to hang on the other nutrient.
    #[test]
    fn what_the_water_alone_brings_hangs_on_nothing() {
        let text = |calcium: f64| {
            let bench = format!(
                "[tank]\nvolume = \"60 L\"\n[water]\nCa = {calcium}\nalkalinity = \"{} meq/L\"\npH = 7.5\n{}",
                calcium / 20.04,
                SHELF
            );
            let bench = Bench::parse(&bench, "water").unwrap_or_else(|error| panic!("{error}"));
            let trade = jobs::trade(&bench, "drawn", Nutrient::N, Nutrient::Ca).expect("no limits");
            bloomsalt::report::trade(&trade, false, false).split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let (soft, hard) = (text(10.0), text(90.0));
        assert!(hard.contains("The water alone brings 90.0 ppm Ca, no less than the 75.0 asked, whatever N is."), "{hard}");
        assert!(!hard.contains("asked from") && !soft.contains("water alone"), "{hard}\n{soft}");
    }

    const SHELF: &str =
        "[shelf]\ncalcium-nitrate-tetrahydrate = {}\npotassium-nitrate = {}\n[formula.drawn]\nN = 90\nCa = 75\nK = 100\n";
}
