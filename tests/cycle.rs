//! The cycle: dates against the calendar, meetings and shifts against counting day by day, shopping, findings, and the
//! calendar file and the table as other people's libraries read them.

#![allow(clippy::disallowed_methods, reason = "tests look at the files")]

use std::collections::BTreeSet;
use std::path::Path;

use bloomsalt::bench::Bench;
use bloomsalt::cli::{self, Console};
use bloomsalt::jobs::{
    self, Begin, BottlePlan, CrossingWork, CycleRecord, Fill, FillReason, GroupDates, Ingredient, JobError, TankPlan, Window,
};
use bloomsalt::quantity::{Date, Stamp};
use bloomsalt::report;
use bloomsalt::safety::{Code, Severity};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use serde_json::Value;

fn day(text: &str) -> Date {
    Date::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// One salt, two formulas of potassium, so that a mix takes no time; `plan` is [cycle] and the groups.
fn bench(shelf: &str, plan: &str) -> Bench {
    let text = format!(
        "[tank]\nvolume = \"60 L\"\n[shelf]\npotassium-nitrate = {{ {shelf} }}\n[formula.growth]\nK = 100\n\
         [formula.push]\nK = 150\nhold_at_most = \"28 days\"\n{plan}"
    );
    Bench::parse(&text, "bench.toml").unwrap_or_else(|error| panic!("{error}"))
}

const PHASES: &str = r#"
[cycle]
renew_every = "14 days"
growth = { formula = "growth", lasts = "30 days" }
push = { formula = "push", lasts = "21 days" }
hold = { formula = "push", lasts = "7 days" }
back = { formula = "growth", lasts = "20 days" }
ripening = { formula = "growth", lasts = "40 days", renew_every = "3 weeks" }
"#;

fn group(id: &str, apart: i32, more: &str) -> String {
    let own = if apart > 0 { format!("tank = \"40 L\"\nstarts_after = \"{apart} days\"\n") } else { String::new() };
    format!("[[group]]\nid = \"{id}\"\n{own}{more}\n")
}

const FLOWER: &str = r#"days_to_flower = "35 days"
flowers_for = "3 days"
pollen_from = "0 days"
pollen_to = "2 days"
stigma_from = "3 days"
stigma_to = "6 days"
"#;

fn plan(bench: &Bench, start: &str) -> CycleRecord {
    jobs::cycle(bench, Begin::On(day(start)), None).unwrap_or_else(|error| panic!("{error}"))
}

fn days(window: &Window) -> (String, String, i32) {
    (window.from.to_string(), window.to.to_string(), window.days)
}

/// Counted on a calendar by hand: 2028 is a leap year, so 20 December and 30 + 28 days are 16 February, and 20 more pass
/// the 29th.
#[test]
fn phases_follow_each_other_over_the_year_end_and_the_leap_day() {
    let record = plan(&bench("", PHASES), "2027-12-20");
    let shown: Vec<_> = record.tanks[0].phases.iter().map(|phase| (phase.phase.as_str(), days(&phase.days))).collect();
    let expected = [
        ("growth", "2027-12-20", "2028-01-18", 30),
        ("push", "2028-01-19", "2028-02-08", 21),
        ("hold", "2028-02-09", "2028-02-15", 7),
        ("back", "2028-02-16", "2028-03-06", 20),
        ("ripening", "2028-03-07", "2028-04-15", 40),
    ];
    assert_eq!(shown, expected.map(|(phase, from, to, days)| (phase, (from.to_owned(), to.to_owned(), days))));
    assert_eq!(record.end, day("2028-04-15"));
    // a year without one ends a day later
    assert_eq!(plan(&bench("", PHASES), "2026-12-20").end, day("2027-04-16"));
}

/// Phases of one formula run on in one tank; a longer interval counts from the last fresh tank.
#[test]
fn tanks_are_renewed_on_their_days_and_turned_over_with_the_formula() {
    let record = plan(&bench("", PHASES), "2027-12-20");
    let fills: Vec<_> = record.tanks[0]
        .fills
        .iter()
        .map(|fill| (fill.date.to_string(), fill.reason, fill.formula.as_str(), fill.days))
        .collect();
    let expected = [
        ("2027-12-20", FillReason::Start, "growth", 14),
        // for the two days before the push none is mixed
        ("2028-01-03", FillReason::Renewal, "growth", 16),
        ("2028-01-19", FillReason::Turn, "push", 14),
        ("2028-02-02", FillReason::Renewal, "push", 14),
        ("2028-02-16", FillReason::Turn, "growth", 14),
        ("2028-03-01", FillReason::Renewal, "growth", 21),
        ("2028-03-22", FillReason::Renewal, "growth", 21),
        ("2028-04-12", FillReason::Renewal, "growth", 4),
    ];
    assert_eq!(fills, expected.map(|(date, reason, formula, days)| (date.to_owned(), reason, formula, days)));
    let times: Vec<_> = record.mixes.iter().map(|mix| (mix.formula.as_str(), mix.times)).collect();
    assert_eq!(times, [("growth", 6), ("push", 2)]);
}

/// An interval that is over already when its phase begins is due on the first day of it.
#[test]
fn a_shorter_interval_takes_hold_with_its_phase() {
    let phases = PHASES.replace("\"7 days\" }", "\"7 days\", renew_every = \"2 days\" }").replace("14 days", "30 days");
    let record = plan(&bench("", &phases), "2027-12-20");
    let push = record.tanks[0].fills.iter().filter(|fill| fill.formula == "push");
    let dates: Vec<String> = push.map(|fill| fill.date.to_string()).collect();
    assert_eq!(dates, ["2028-01-19", "2028-02-09", "2028-02-11", "2028-02-13", "2028-02-15"]);
}

#[test]
fn a_flowering_week_counts_back_to_the_first_flower_of_any_group() {
    let bench = bench("", &format!("{PHASES}{}{}", group("a", 0, FLOWER), group("b", 9, FLOWER)));
    let week = day("2028-03-06");
    let record = jobs::cycle(&bench, Begin::FlowersOn(week), None).expect("a plan");
    // 30 days of growth and 35 to the flower before it
    assert_eq!(record.start, day("2028-01-01"));
    assert_eq!(record.groups[0].opens.from, week);
    assert_eq!(record.groups[1].opens.from, week.plus(9));
    assert_eq!(record, plan(&bench, "2028-01-01"));
    let none = jobs::cycle(&self::bench("", PHASES), Begin::FlowersOn(week), None).expect_err("nothing to count back from");
    assert_eq!((none, JobError::NoFlowering.exit_status()), (JobError::NoFlowering, 2));
    assert_eq!(jobs::cycle(&Bench::starter(), Begin::On(week), None), Err(JobError::NoCycle));
}

#[test]
fn groups_with_tanks_of_their_own_leave_the_bench_alone() {
    let own = format!("{PHASES}{}{}", group("a", 4, FLOWER), group("b", 9, FLOWER));
    let record = plan(&bench("", &own), "2027-01-04");
    let tanks: Vec<_> = record.tanks.iter().map(|tank| (tank.group.as_deref(), tank.volume_l)).collect();
    assert_eq!(tanks, [(Some("a"), 40.0), (Some("b"), 40.0)], "no group is fed from the tank of the bench");
    assert_eq!(record.mixes.len(), 2, "tanks of one volume share their mixes");
    assert_eq!(record.mixes[0].times, 12);
}

#[test]
fn shopping_counts_whole_bags_of_what_is_short() {
    let bought = |shelf: &str| {
        let record = plan(&bench(shelf, PHASES), "2027-01-04");
        let [salt] = &record.salts[..] else { panic!("one salt: {:?}", record.salts) };
        let weighed = record
            .tanks
            .iter()
            .flat_map(|tank| &tank.fills)
            .map(|fill| record.mixes[fill.mix].doses.iter().filter_map(jobs::Dose::grams).sum::<f64>());
        approx::assert_relative_eq!(weighed.sum::<f64>(), salt.needed_g, max_relative = 1e-12);
        (salt.needed_g, salt.buy_g, salt.bags, record.shopping_cost, record.cost)
    };
    let (needed, buy, bags, shopping, cost) = bought("");
    // 6 tanks of 15.5 g and 2 of 23.3 g
    approx::assert_relative_eq!(needed, 139.6, max_relative = 1e-9);
    assert_eq!((buy, bags, shopping, cost), (needed, None, None, None));
    let (_, buy, bags, shopping, cost) = bought("on_hand = \"55 g\", price_per_kg = 10, bag = \"50 g\"");
    assert_eq!((buy, bags, shopping), (100.0, Some(2), Some(1.0)));
    approx::assert_relative_eq!(cost.expect("every dose has a price"), 1.396, max_relative = 1e-9);
    // to the gram: no bag is opened for the last bit of a sum
    assert_eq!(bought("on_hand = \"119.2 g\", bag = \"5.1 g\"").2, Some(4));
    assert_eq!(bought("on_hand = \"119.19 g\", bag = \"5.1 g\"").2, Some(5));
    let (_, buy, bags, shopping, _) = bought("on_hand = \"139.7 g\", bag = \"1 kg\", price_per_kg = 10");
    assert_eq!((buy, bags, shopping), (0.0, Some(0), Some(0.0)), "nothing is bought of what is there");
    // what is on hand limits no mix of a plan
    assert!(bought("on_hand = \"1 g\"").0.total_cmp(&needed).is_eq());
}

/// The demo without its fine scale, so that traces, iron and some of the phosphate come in bottles.
fn coarse(more: &str) -> Bench {
    let demo = include_str!("../examples/streptocarpus-cycle.toml");
    let (before, fine) = demo.split_once("[[scale]]\nreadability = \"0.001 g\"").expect("a fine scale");
    let (_, shelf) = fine.split_once("[shelf]").expect("a shelf");
    Bench::parse(&format!("{before}[shelf]{shelf}\n{more}"), "coarse.toml").unwrap_or_else(|error| panic!("{error}"))
}

/// What is taken of a bottle, by a ledger of its own: day and mL, of doses and of the bottles that are made of it.
fn taken(record: &CycleRecord, bottle: &BottlePlan) -> Vec<(Date, f64)> {
    let fills = record.tanks.iter().flat_map(|tank| &tank.fills).filter(|fill| bottle.mixes.contains(&fill.mix));
    let dose = |fill: &Fill| record.mixes[fill.mix].doses.iter().find(|dose| dose.bottle() == Some(&bottle.id));
    let doses = fills.filter_map(|fill| Some((fill.date, dose(fill)?.millilitres()?)));
    let thinner = record.bottles.iter().filter(|other| !bottle.new || other.mixes == bottle.mixes).flat_map(|other| {
        let of = other.made_of.iter().find(|of| of.helper.as_ref() == Some(&bottle.id));
        let ml = of.and_then(|of| of.millilitres);
        ml.into_iter().flat_map(|ml| other.made_on.iter().map(move |day| (*day, ml)))
    });
    let mut taken: Vec<(Date, f64)> = doses.chain(thinner).collect();
    taken.sort_by_key(|(day, _)| *day);
    taken
}

#[test]
fn bottles_are_made_whole_in_time_and_no_oftener() {
    let record = plan(&coarse(""), "2027-01-04");
    let names: Vec<&str> = record.bottles.iter().map(|bottle| bottle.id.as_str()).collect();
    let called = |start: &str| names.iter().filter(|name| name.starts_with(start)).count();
    assert!(called("traces-") >= 2 && called("iron-dtpa-") >= 1, "{names:?}");
    let apart: std::collections::BTreeSet<&&str> = names.iter().collect();
    assert_eq!(apart.len(), names.len(), "bottles of another strength have another name");
    for bottle in &record.bottles {
        assert!(bottle.new && bottle.left_ml.is_none(), "{bottle:?}");
        let keeps = i32::try_from(bottle.keep_days.expect("days")).expect("few");
        let taken = taken(&record, bottle);
        approx::assert_relative_eq!(bottle.needed_ml, taken.iter().map(|(_, ml)| ml).sum::<f64>(), max_relative = 1e-12);
        let mut next = bottle.made_on.iter().peekable();
        let (mut left, mut made) = (0.0, record.start);
        for (day, ml) in taken {
            let due = left < ml - 1e-9 || day.days_since(made) > keeps;
            assert_eq!(next.peek() == Some(&&day) && due, due, "{}: {day}", bottle.id);
            if due {
                (left, made) = (bottle.volume_ml, *next.next().expect("made that day"));
            }
            left -= ml;
        }
        assert_eq!(next.next(), None, "{} is made when nothing is due", bottle.id);
    }
    for total in &record.salts {
        let into = |made_of: &[Ingredient]| {
            made_of.iter().filter(|of| of.salt.as_ref() == Some(&total.salt)).filter_map(|of| of.grams).sum::<f64>()
        };
        let bottled = record.bottles.iter().flat_map(|bottle| bottle.made_on.iter().map(|_| into(&bottle.made_of)));
        let fills = record.tanks.iter().flat_map(|tank| &tank.fills);
        let doses = fills.flat_map(|fill| &record.mixes[fill.mix].doses);
        let weighed = doses.filter(|dose| dose.salt() == Some(&total.salt)).filter_map(jobs::Dose::grams);
        approx::assert_relative_eq!(total.needed_g, weighed.chain(bottled).sum::<f64>(), max_relative = 1e-12);
        assert!(total.needed_g > 0.0, "{total:?}");
    }
    let schemas: Value = serde_json::from_str(&report::schema()).expect("JSON");
    let json: Value = serde_json::from_str(&report::document(&record)).expect("JSON");
    assert!(jsonschema::is_valid(&schemas["cycle"], &json));
    let text = report::cycle(&record, false);
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
    let bottles: Vec<&str> = text.split("\n\n").filter(|section| section.starts_with("BOTTLES")).collect();
    insta::assert_snapshot!("bottles", bottles.concat());
    let calendar = report::calendar(&record, Stamp::midnight(day("2026-11-25"))).replace("\r\n ", "");
    let made: usize = record.bottles.iter().map(|bottle| bottle.made_on.len()).sum();
    assert_eq!(calendar.matches(" of bottle ").count(), made);
    assert!(calendar.contains("- in it boric acid\\n"), "{calendar}");
    let table = report::csv(&record);
    assert_eq!(table.matches(",make bottle,").count(), made);
    assert!(table.contains(",in bottle traces-") && !table.contains("too little to measure"), "{table}");
}

#[test]
fn a_bottle_that_is_there_costs_nothing_and_is_not_bought() {
    let helper = |left: &str| {
        format!("[[helper]]\nid = \"iron\"\nvolume = \"500 mL\"\nleft = \"{left}\"\nmade_of = {{ iron-dtpa = \"20 g\" }}\n")
    };
    let record = plan(&coarse(&helper("500 mL")), "2027-01-04");
    let bottle = record.bottles.iter().find(|bottle| bottle.id == "iron").expect("drawn from");
    assert_eq!((bottle.new, bottle.left_ml, bottle.made_on.len()), (false, Some(500.0), 0));
    let taken = taken(&record, bottle).iter().map(|(_, ml)| ml).sum::<f64>();
    approx::assert_relative_eq!(bottle.needed_ml, taken, max_relative = 1e-12);
    assert!(record.salts.iter().all(|total| total.salt != "iron-dtpa"), "{:?}", record.salts);
    assert!(record.cost < plan(&coarse(""), "2027-01-04").cost);
    // what is in it is handled all the same, and told by name, since it has no number in the shopping list
    assert!(record.handling.iter().any(|handling| handling.salt == "iron-dtpa"));
    let text = report::cycle(&record, false);
    assert!(text.contains("iron(III) DTPA H361d* H373*"), "{text}");
    assert!(!text.contains("NOT ENOUGH"), "{text}");
    let text = report::cycle(&plan(&coarse(&helper("100 mL")), "2027-01-04"), false);
    assert!(text.contains("iron, there already: NOT ENOUGH, the plan takes 408 mL, and 100 mL are left\n"), "{text}");
}

fn codes(record: &CycleRecord) -> Vec<(Code, Severity)> {
    record.findings.iter().map(|finding| (finding.code, finding.severity)).collect()
}

#[test]
fn a_push_of_its_own_length_is_fine_and_a_day_more_is_told() {
    let record = plan(&bench("", PHASES), "2027-12-20");
    assert_eq!(codes(&record), []);
    assert_eq!(record.tanks[0].holds[0].back_by, day("2028-02-16"));
    let longer = plan(&bench("", &PHASES.replace("lasts = \"7 days\"", "lasts = \"8 days\"")), "2027-12-20");
    assert_eq!(codes(&longer), [(Code::HeldTooLong, Severity::Warning)]);
    assert!(longer.findings[0].message.contains("back to growth by Wed 16 Feb 2028"), "{:?}", longer.findings);
}

#[test]
fn low_nitrogen_is_told_again_with_its_date() {
    let demo = include_str!("../examples/streptocarpus-cycle.toml");
    let record = plan(&Bench::parse(demo, "demo").expect("a bench"), "2027-01-04");
    let told: Vec<&str> = record.findings.iter().map(|finding| finding.message.as_str()).collect();
    let [low] = told[..] else { panic!("once for all tanks: {told:?}") };
    let dates = "In this plan: in the bench tank from Mon 15 Feb 2027, back to growth by Mon 15 Mar 2027; in the tank of `late` from \
                 Sat 27 Feb 2027, back to growth by Sat 27 Mar 2027.";
    assert!(low.ends_with(dates), "{low}");
    // and of a mix in two volumes what differs in its numbers alone is told once as well
    let text = report::cycle(&record, false);
    assert_eq!(text.matches("[nitrogen-low]").count(), 1, "{text}");
    assert_eq!(text.matches("[ph-near-edge]").count(), 2, "growth and push, each in two volumes: {text}");
    // a push that is too long is told once, by its own finding
    let longer = demo.replace("lasts = \"7 days\"", "lasts = \"8 days\"");
    let record = plan(&Bench::parse(&longer, "longer").expect("a bench"), "2027-01-04");
    assert!(codes(&record).iter().all(|(code, _)| *code != Code::NitrogenLow), "{:?}", record.findings);
}

/// Counted from the first flower of a group: pollen on days 0 to 4, receptive stigmas on days 3 to 8.
#[test]
fn groups_that_just_meet_are_fine_and_a_day_more_is_told() {
    let apart =
        |days| plan(&bench("", &format!("{PHASES}{}{}", group("a", 0, FLOWER), group("b", days, FLOWER))), "2027-01-04");
    assert_eq!(codes(&apart(8)), []);
    let record = apart(9);
    assert_eq!(codes(&record), [(Code::GroupsNeverMeet, Severity::Warning)]);
    // both ways meet from a start of one a day after or before the other: 8 days of the 9 are the fewest, and a later start is taken
    let best = record.best_start.as_ref().expect("two groups");
    let moved: Vec<i32> = best.starts.iter().map(|start| start.shift_days).collect();
    assert_eq!((best.planned.pairs, best.best.fresh_pairs, best.best.days, moved), (0, 2, 4, vec![8, 0]));
    let remedy = "The best start has more groups meet; `bloomsalt cycle --best-start` plans by it.";
    assert_eq!(record.findings[0].remedy.as_deref(), Some(remedy));
}

#[test]
fn seed_ripe_on_the_last_day_is_fine_and_a_day_more_is_told() {
    let ripe = |days| {
        let flower = format!("{FLOWER}ripe_after = \"{days} days\"\n");
        plan(&bench("", &format!("{PHASES}{}", group("a", 0, &flower))), "2027-01-04")
    };
    // first flower on day 65, pollen to day 69, the plan ends with day 117
    assert_eq!(codes(&ripe(48)), []);
    assert_eq!(codes(&ripe(49)), [(Code::SeedRipensLater, Severity::Note)]);
    assert_eq!(ripe(49).meetings[0].ripe.map(|ripe| ripe.to), Some(day("2027-01-04").plus(118)));
}

/// A group as drawn, in days.
#[derive(Debug, Clone)]
struct Drawn {
    apart: i32,
    to_flower: i32,
    flowers: i32,
    pollen: (i32, i32),
    stigma: (i32, i32),
    keeps: Option<i32>,
}

fn drawn() -> impl Strategy<Value = Drawn> {
    let window = || (-10..15_i32, 0..12_i32).prop_map(|(from, more)| (from, from + more));
    (0..40_i32, 1..60_i32, 1..15_i32, window(), window(), proptest::option::of(0..20_i32)).prop_map(
        |(apart, to_flower, flowers, pollen, stigma, keeps)| Drawn { apart, to_flower, flowers, pollen, stigma, keeps },
    )
}

fn written(at: usize, drawn: &Drawn) -> String {
    let Drawn { apart, to_flower, flowers, pollen, stigma, keeps } = drawn;
    let keeps = keeps.map_or_else(String::new, |keeps| format!("dry_pollen_keeps = \"{keeps} days\"\n"));
    format!(
        "[[group]]\nid = \"g{at}\"\ntank = \"40 L\"\nstarts_after = \"{apart} days\"\ndays_to_flower = \"{to_flower} days\"\n\
         flowers_for = \"{flowers} days\"\npollen_from = \"{} days\"\npollen_to = \"{} days\"\nstigma_from = \"{} days\"\n\
         stigma_to = \"{} days\"\n{keeps}",
        pollen.0, pollen.1, stigma.0, stigma.1
    )
}

/// Days, counted from the start of the plan, that flowers of a group make, each flower by itself.
fn each_flower(drawn: &Drawn, of: impl Fn(i32) -> std::ops::RangeInclusive<i32>) -> BTreeSet<i32> {
    let first = drawn.apart + 30 + drawn.to_flower;
    (first..first + drawn.flowers).flat_map(of).collect()
}

/// Fresh pollen, pollen fresh or dry, receptive stigmas.
fn by_hand(drawn: &Drawn) -> [BTreeSet<i32>; 3] {
    let shed = |opened: i32| opened + drawn.pollen.0..=opened + drawn.pollen.1;
    let fresh = each_flower(drawn, shed);
    let good = fresh.iter().flat_map(|day| *day..=day + drawn.keeps.unwrap_or(0)).collect();
    [fresh, good, each_flower(drawn, |opened| opened + drawn.stigma.0..=opened + drawn.stigma.1)]
}

fn shared(one: &BTreeSet<i32>, other: &BTreeSet<i32>) -> BTreeSet<i32> {
    one.intersection(other).copied().collect()
}

proptest! {
    #![proptest_config(Config { cases: 60, rng_seed: RngSeed::Fixed(20_261_125), failure_persistence: None, ..Config::default() })]

    /// Windows and their meetings are what comes of counting every flower on every day.
    #[test]
    fn meetings_are_those_of_counting_day_by_day(all in proptest::collection::vec(drawn(), 1..=3)) {
        let groups: String = all.iter().enumerate().map(|(at, drawn)| written(at, drawn)).collect();
        let record = plan(&bench("", &format!("{PHASES}{groups}")), "2027-11-20");
        let counted: Vec<_> = all.iter().map(by_hand).collect();
        let start = day("2027-11-20");
        let at = |id: &str| id[1..].parse::<usize>().expect("a number");
        let in_window = |window: Option<Window>| -> BTreeSet<i32> {
            window.map_or_else(BTreeSet::new, |w| (w.from.days_since(start)..=w.to.days_since(start)).collect())
        };
        prop_assert_eq!(record.meetings.len(), all.len() * all.len());
        for meeting in &record.meetings {
            let ([fresh, good, _], [_, _, stigma]) = (&counted[at(&meeting.pollen_of)], &counted[at(&meeting.stigma_of)]);
            prop_assert_eq!(in_window(meeting.fresh), shared(fresh, stigma), "{:?}", meeting);
            prop_assert_eq!(in_window(meeting.days), shared(good, stigma), "{:?}", meeting);
        }
    }

    /// Every day of a tank is fed once, and no tank stands longer than its interval.
    #[test]
    fn fresh_tanks_cover_every_day_once(lasts in proptest::collection::vec(1..60_i32, 5), renew in 1..40_i32) {
        let keys = ["growth", "push", "hold", "back", "ripening"];
        let formula = |key: &str| if key == "push" || key == "hold" { "push" } else { "growth" };
        let phases: Vec<String> = keys
            .iter()
            .zip(&lasts)
            .map(|(key, days)| format!("{key} = {{ formula = \"{}\", lasts = \"{days} days\" }}\n", formula(key)))
            .collect();
        let record = plan(&bench("", &format!("[cycle]\nrenew_every = \"{renew} days\"\n{}", phases.concat())), "2027-11-20");
        let TankPlan { fills, phases, .. } = &record.tanks[0];
        let mut next = record.start;
        for fill in fills {
            prop_assert_eq!(fill.date, next);
            // no tank is mixed for two days before a turn, where that is no more than a quarter of its interval
            let longer = if next.plus(fill.days) < record.end { (renew / 4).min(2) } else { 0 };
            prop_assert!(fill.days >= 1 && fill.days <= renew + longer, "{:?}", fill);
            let phase = phases.iter().find(|phase| phase.days.from <= fill.date && fill.date <= phase.days.to);
            prop_assert_eq!(phase.map(|phase| phase.formula.as_str()), Some(fill.formula.as_str()));
            next = next.plus(fill.days);
        }
        prop_assert_eq!(next, record.end.plus(1));
        prop_assert_eq!(record.end.days_since(record.start) + 1, lasts.iter().sum::<i32>());
    }
}

/// The plan whose calendar and table other people's libraries have read, see tests/oracle/check_calendar.py.
fn recorded() -> (CycleRecord, Value) {
    let bench = Bench::parse(include_str!("oracle/calendar.toml"), "calendar.toml").expect("a bench");
    let read = serde_json::from_str(include_str!("oracle/calendar.json")).expect("JSON");
    (plan(&bench, "2027-12-20"), read)
}

/// First day, day after the last, and a word of the summary, of everything that the record puts on the calendar.
fn events_of(record: &CycleRecord) -> Vec<(Date, Date, String)> {
    let mut events = Vec::new();
    let mut put = |days: Option<Window>, words: String| {
        events.extend(days.map(|days| (days.from, days.to.plus(1), words)));
    };
    let one = |date| Window::new(date, date);
    for bottle in &record.bottles {
        bottle.made_on.iter().for_each(|day| put(one(*day), format!("of bottle {}", bottle.id)));
    }
    for tank in &record.tanks {
        tank.phases.iter().for_each(|phase| put(Some(phase.days), format!("{}: ", phase.phase)));
        tank.holds.iter().for_each(|hold| put(one(hold.back_by), "back to growth by today".to_owned()));
        tank.fills.iter().for_each(|fill| put(one(fill.date), format!("of {}: ", fill.formula)));
    }
    for group in &record.groups {
        let GroupDates { name, opens, pollen, stigma, dry_pollen_to, .. } = group;
        put(Some(*opens), format!("flowers open: {name}"));
        put(Some(*pollen), format!("fresh pollen: {name}"));
        put(dry_pollen_to.and_then(|to| Window::new(pollen.to.plus(1), to)), format!("dry pollen good: {name}"));
        put(Some(*stigma), format!("stigmas receptive: {name}"));
    }
    for step in &record.crossing {
        let [pollen, stigma] = [&step.pollen_of, &step.stigma_of].map(|id| id.as_deref().unwrap_or_default());
        let on = if pollen == stigma { "itself" } else { stigma };
        let words = match step.work {
            CrossingWork::Start => format!("start {stigma}"),
            CrossingWork::Collect => format!("collect pollen of {pollen}"),
            CrossingWork::Keep => format!("keep pollen of {pollen} dry"),
            CrossingWork::CrossFresh => format!("cross: fresh pollen of {pollen} on {on}"),
            CrossingWork::CrossDry => format!("cross: dry pollen of {pollen} on {on}"),
            CrossingWork::Harvest => format!("seed ripe: {pollen} on {on}"),
            other => panic!("{other:?}"),
        };
        put(Some(step.days), words);
    }
    events
}

#[test]
fn an_independent_library_reads_the_calendar_as_it_is_meant() {
    let (record, read) = recorded();
    assert_eq!(Some(report::calendar(&record, Stamp::midnight(day("2026-11-25"))).as_str()), read["calendar"].as_str());
    let events = read["events"].as_array().expect("events");
    let expected = events_of(&record);
    assert_eq!(events.len(), expected.len());
    let mut uids = BTreeSet::new();
    for (event, (from, after, words)) in events.iter().zip(expected) {
        assert_eq!(event["start"], from.to_string(), "{event}");
        assert_eq!(event["end"], after.to_string(), "{event}");
        assert!(event["summary"].as_str().is_some_and(|summary| summary.contains(&words)), "{event}: {words}");
        assert!(uids.insert(event["uid"].as_str()), "{event}: a UID stands twice");
        assert_eq!(event["stamp"], "2026-11-25T00:00:00+00:00");
        let description = event["description"].as_str().expect("text");
        let last = "\nAll dates are by your own figures; a plant may not keep to them. (Streptocarpus; \"crossing\" bench, \\north\\)";
        assert!(description.ends_with(last), "{description}");
    }
    let mixes = events.iter().filter(|event| event["summary"].as_str().is_some_and(|words| words.starts_with("mix ")));
    for mix in mixes {
        assert!(mix["description"].as_str().is_some_and(|words| words.contains(" g potassium nitrate\nEC ")), "{mix}");
    }
}

#[test]
fn an_independent_library_reads_the_table_as_it_is_meant() {
    let (record, read) = recorded();
    assert_eq!(Some(report::csv(&record).as_str()), read["table"].as_str());
    let rows: Vec<Vec<&str>> = read["rows"]
        .as_array()
        .expect("rows")
        .iter()
        .map(|row| row.as_array().expect("cells").iter().map(|cell| cell.as_str().expect("text")).collect())
        .collect();
    assert!(rows.iter().all(|row| row.len() == rows[0].len()));
    let of = |what: &str| rows.iter().filter(|row| row[3] == what).cloned().collect::<Vec<_>>();
    let fills: usize = record.tanks.iter().map(|tank| tank.fills.len()).sum();
    assert_eq!((of("mix").len(), of("measure out").len()), (fills, fills), "one salt in every tank");
    assert_eq!(of("flowers open")[0][10], "early, \"blue\"; the first", "quotes and commas come back");
    assert_eq!(of("back to growth by")[0][0], "2028-02-16");
    // what is weighed out adds up to what is needed, and the rest of it is bought
    let grams = |rows: &[Vec<&str>]| rows.iter().map(|row| row[8].parse::<f64>().expect("grams")).sum::<f64>();
    approx::assert_relative_eq!(grams(&of("measure out")), grams(&of("needed in all")), max_relative = 1e-9);
    assert_eq!((of("buy")[0][8], of("buy")[0][10]), ("500", "1 x 500 g"));
    let dates: Vec<&str> = rows.iter().skip(1).map(|row| row[0]).filter(|date| !date.is_empty()).collect();
    assert!(dates.is_sorted(), "rows stand in the order of their days");
}

/// RFC 5545, 3.1: lines end in CR LF and hold at most 75 octets; taking the folds out again gives whole properties.
#[test]
fn calendar_lines_end_and_fold_as_they_should() {
    let (record, _) = recorded();
    let text = report::calendar(&record, Stamp::midnight(day("2026-11-25")));
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    assert_eq!(text.matches('\r').count(), text.matches("\r\n").count());
    let lines: Vec<&str> = text.strip_suffix("\r\n").expect("a last line end").split("\r\n").collect();
    assert!(lines.iter().all(|line| line.len() <= 75), "{text}");
    assert!(lines.iter().any(|line| line.starts_with(' ')), "something is folded");
    let whole = text.replace("\r\n ", "");
    for property in whole.trim_end().split("\r\n") {
        let name = property.split([':', ';']).next().unwrap_or_default();
        assert!(!name.is_empty() && name.bytes().all(|b| b.is_ascii_uppercase() || b == b'-'), "{property}");
    }
    assert!(whole.contains("SUMMARY:flowers open: später weiß 堇兰 🌺 堇兰"), "{whole}");
    assert!(whole.contains("SUMMARY:flowers open: early\\, \"blue\"\\; the first\r\n"), "{whole}");
    assert_eq!(whole.matches("BEGIN:VEVENT").count(), whole.matches("END:VEVENT").count());
}

/// Exit status, standard output, standard error.
fn bloomsalt(arguments: &[&str]) -> (u8, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let all = ["bloomsalt", "cycle"].iter().chain(arguments).copied();
    let status = cli::run(all, &mut out, &mut err, Console::default());
    (status, String::from_utf8(out).expect("UTF-8"), String::from_utf8(err).expect("UTF-8"))
}

fn demo() -> String {
    format!("{}/examples/streptocarpus-cycle.toml", env!("CARGO_MANIFEST_DIR"))
}

fn text(path: &Path) -> &str {
    path.to_str().expect("UTF-8")
}

#[test]
fn whole_output() {
    let folder = tempfile::tempdir().expect("a folder");
    let (calendar, table) = (folder.path().join("plan.ics"), folder.path().join("plan.csv"));
    let demo = demo();
    let files = ["--calendar", text(&calendar), "--stamp", "2026-11-25", "--csv", text(&table)];
    let arguments = [&["--bench", &demo, "--start", "2027-01-04"][..], &files].concat();
    let (status, out, err) = bloomsalt(&arguments);
    assert_eq!((status, err.as_str()), (0, ""));
    let out = out.replace(text(folder.path()), "FOLDER");
    assert!(out.ends_with("\nWrote FOLDER/plan.ics.\nWrote FOLDER/plan.csv.\n"), "{out}");
    for line in out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    insta::assert_snapshot!("text", out);
    let read = |path: &Path| std::fs::read_to_string(path).expect("readable");
    insta::assert_snapshot!("calendar", read(&calendar).replace("\r\n", "\n"));
    insta::assert_snapshot!("table", read(&table).replace("\r\n", "\n"));
    // again onto the same files: nothing is overwritten, and of two files none is written when one is there
    let before = (read(&calendar), read(&table));
    let (status, out, err) = bloomsalt(&arguments);
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("exists already"), "{err}");
    assert_eq!(before, (read(&calendar), read(&table)));
    let other = folder.path().join("other.ics");
    let both = ["--bench", &demo, "--start", "2027-01-04", "--calendar", text(&other), "--csv", text(&table)];
    assert_eq!(bloomsalt(&both).0, 2);
    let twice = ["--bench", &demo, "--start", "2027-01-04", "--calendar", text(&other), "--csv", text(&other)];
    assert_eq!(bloomsalt(&twice).0, 2);
    assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 2, "nothing else is left");
}

#[test]
fn a_week_and_a_date_give_the_same_plan_and_json_keeps_to_its_schema() {
    let demo = demo();
    let json = |option: &str, date: &str| -> Value {
        let (status, out, err) = bloomsalt(&["--bench", &demo, option, date, "--json"]);
        assert_eq!((status, err.as_str()), (0, ""));
        serde_json::from_str(&out).expect("one JSON document")
    };
    let week = json("--first-open", "2027-W13");
    assert_eq!(week, json("--first-open", "2027-03-29"));
    assert_eq!(week, json("--start", week["start"].as_str().expect("a date")));
    assert_eq!((&week["version"], &week["job"]), (&Value::from(1), &Value::from("cycle")));
    let schemas: Value = serde_json::from_str(&report::schema()).expect("JSON");
    let validator = jsonschema::validator_for(&schemas["cycle"]).expect("a schema");
    let wrong: Vec<String> = validator.iter_errors(&week).map(|error| error.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    for key in week.as_object().expect("an object").keys() {
        assert!(schemas["cycle"]["properties"].get(key).is_some(), "`{key}` is not in the schema");
    }
    // a tank of another volume is that of the bench; the other group keeps its own
    let (_, out, _) = bloomsalt(&["--bench", &demo, "--start", "2027-01-04", "--tank", "120 L", "--json"]);
    let larger: Value = serde_json::from_str(&out).expect("one JSON document");
    let volumes: Vec<&Value> = larger["tanks"].as_array().expect("tanks").iter().map(|tank| &tank["volume_l"]).collect();
    assert_eq!(volumes, [&Value::from(120.0), &Value::from(40.0)]);
}

#[test]
fn wrong_input_exits_2() {
    let demo = demo();
    let plain = format!("{}/examples/streptocarpus.toml", env!("CARGO_MANIFEST_DIR"));
    for (arguments, says) in [
        (&["--bench", &demo][..], "--start"),
        (&["--bench", &demo, "--start", "2027-01-04", "--first-open", "2027-W13"], "cannot be used with"),
        (&["--bench", &demo, "--start", "4 Jan 2027"], "write a day as in 2027-01-04"),
        (&["--bench", &demo, "--start", "2027-02-29"], "no such day"),
        (&["--bench", &demo, "--first-open", "2027-W53"], "no such day"),
        (&["--bench", &demo, "--start", "9999-12-31"], "1900 to 2999"),
        (&["--bench", &demo, "--start", "2027-01-04", "--stamp", "2026-11-25"], "--calendar"),
        (&["--bench", &demo, "--start", "2027-01-04", "--stamp", "now", "--calendar", "x.ics"], "`--stamp` reads"),
        (&["--bench", &demo, "--start", "2027-01-04", "--calendar", "no/such/folder/x.ics"], "the folder does not exist"),
        (&["--start", "2027-01-04"], "no [cycle]"),
        (&["--bench", &plain, "--start", "2027-01-04"], "docs/cycle.md"),
    ] {
        let (status, out, err) = bloomsalt(arguments);
        assert_eq!((status, out.as_str()), (2, ""), "{arguments:?}");
        assert!(err.contains(says), "{arguments:?}: {err}");
    }
}

/// The ends of what is taken: forty groups, the longest phases, the first and the last year.
#[test]
fn the_largest_plans_do_not_fail() {
    let groups: String = (0..40).map(|at| group(&format!("g{at}"), 0, FLOWER)).collect();
    let record = plan(&bench("", &format!("{PHASES}{groups}")), "1900-01-01");
    assert_eq!((record.meetings.len(), record.best_start.map(|best| best.pairs)), (1600, Some(1560)));
    let long = "[cycle]\nrenew_every = \"1 day\"\npush = { formula = \"push\", lasts = \"1000 days\" }\n";
    let record = plan(&bench("", long), "2999-12-31");
    assert_eq!(record.tanks[0].fills.len(), 1000);
    assert_eq!(record.end.to_string(), "3002-09-26");
}
