//! The best start of all groups at once against trying every choice, day by day, and laws that it keeps; the list of crosses; renewals on
//! days of the week.

use bloomsalt::bench::Bench;
use bloomsalt::jobs::{self, Begin, BestStart, CrossingWork, CycleRecord, FillReason, StartsProof};
use bloomsalt::quantity::Date;
use bloomsalt::report;

const START: &str = "2027-11-20";

fn day(text: &str) -> Date {
    Date::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// One salt and one formula, so that a mix takes no time.
fn bench(cycle: &str, groups: &str) -> Bench {
    let text = format!(
        "[tank]\nvolume = \"60 L\"\n[shelf]\npotassium-nitrate = {{}}\n[formula.growth]\nK = 100\n[cycle]\nrenew_every = \"14 days\"\n\
         growth = {{ formula = \"growth\", lasts = \"30 days\" }}\npush = {{ formula = \"growth\", lasts = \"40 days\" }}\n{cycle}{groups}"
    );
    Bench::parse(&text, "bench.toml").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn plan(bench: &Bench, start: &str) -> CycleRecord {
    jobs::cycle(bench, Begin::On(day(start)), None).unwrap_or_else(|error| panic!("{error}"))
}

/// A generator of its own (a linear congruential one with the constants of Knuth's MMIX, from memory).
struct Drawing(u64);

impl Drawing {
    fn within(&mut self, from: i32, to: i32) -> i32 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let many = u64::try_from(to - from + 1).expect("a range");
        from + i32::try_from((self.0 >> 33) % many).expect("few")
    }
}

/// A group as drawn, days.
#[derive(Debug, Clone)]
struct Drawn {
    /// Start after the bench; none for a group on the tank of the bench.
    apart: Option<i32>,
    to_flower: i32,
    flowers: i32,
    pollen: (i32, i32),
    stigma: (i32, i32),
    keeps: Option<i32>,
}

fn drawn(from: &mut Drawing, on_the_bench: bool) -> Drawn {
    let mut window = || {
        let first = from.within(-4, 7);
        (first, first + from.within(0, 5))
    };
    let (pollen, stigma) = (window(), window());
    Drawn {
        apart: (!on_the_bench).then(|| from.within(0, 8)),
        to_flower: from.within(1, 9),
        flowers: from.within(1, 4),
        pollen,
        stigma,
        keeps: (from.within(0, 2) > 0).then(|| from.within(0, 6)),
    }
}

fn written(all: &[Drawn]) -> String {
    let one = |(at, drawn): (usize, &Drawn)| {
        let Drawn { apart, to_flower, flowers, pollen, stigma, keeps } = drawn;
        let keeps = keeps.map_or_else(String::new, |keeps| format!("dry_pollen_keeps = \"{keeps} days\"\n"));
        let own = apart.map_or_else(String::new, |apart| format!("tank = \"40 L\"\nstarts_after = \"{apart} days\"\n"));
        format!(
            "[[group]]\nid = \"g{at}\"\n{own}days_to_flower = \"{to_flower} days\"\nflowers_for = \"{flowers} days\"\n\
             pollen_from = \"{} days\"\npollen_to = \"{} days\"\nstigma_from = \"{} days\"\nstigma_to = \"{} days\"\n{keeps}",
            pollen.0, pollen.1, stigma.0, stigma.1
        )
    };
    all.iter().enumerate().map(one).collect()
}

/// A day is a bit: fresh pollen, pollen fresh or dry, receptive stigmas, of a group that starts on day 0; every flower by itself.
fn masks(drawn: &Drawn) -> [u128; 3] {
    let bit = |day: i32| 1_u128 << (day + 16);
    let flowers = || (0..drawn.flowers).map(|later| drawn.to_flower + later);
    let days = |(from, to): (i32, i32)| flowers().flat_map(move |opened| (opened + from..=opened + to).map(bit));
    let fresh = days(drawn.pollen).fold(0, |all, bit| all | bit);
    let good = (0..=drawn.keeps.unwrap_or(0)).fold(0, |all, kept| all | fresh << kept);
    [fresh, good, days(drawn.stigma).fold(0, |all, bit| all | bit)]
}

/// Pairs that meet fresh, pairs that meet, days of meeting, by starts.
fn worth(masks: &[[u128; 3]], starts: &[i32]) -> (i32, i32, i32) {
    let mut all = (0, 0, 0);
    for (giver, [fresh, good, _]) in masks.iter().enumerate() {
        for (bearer, [_, _, stigma]) in masks.iter().enumerate().filter(|(bearer, _)| *bearer != giver) {
            let stigma = stigma << starts[bearer];
            all.0 += i32::from(fresh << starts[giver] & stigma != 0);
            let days = (good << starts[giver] & stigma).count_ones();
            all.1 += i32::from(days > 0);
            all.2 += i32::try_from(days).expect("few");
        }
    }
    all
}

/// The best of every choice of starts from 0 to `latest`: what meets, then days moved, each tank once. Those without a tank of their
/// own start together.
fn every_choice(all: &[Drawn], latest: i32) -> ((i32, i32, i32), i32) {
    let masks: Vec<[u128; 3]> = all.iter().map(masks).collect();
    let planned: Vec<i32> = all.iter().map(|drawn| drawn.apart.unwrap_or(0)).collect();
    let first = *planned.iter().min().expect("groups");
    let bench: Vec<usize> = (0..all.len()).filter(|&at| all[at].apart.is_none()).collect();
    let mut starts = vec![first; all.len()];
    let mut best = ((-1, 0, 0), 0);
    loop {
        let moved = (0..all.len()).filter(|at| !bench.iter().skip(1).any(|other| other == at));
        let moved: i32 = moved.map(|at| (starts[at] - planned[at]).abs()).sum();
        best = best.max((worth(&masks, &starts), -moved));
        // the next choice, counted up like a number whose digits are starts
        let mut at = 0;
        loop {
            if at == all.len() {
                return best;
            }
            let digit: Vec<usize> = if bench.contains(&at) { bench.clone() } else { vec![at] };
            let next = starts[at] + 1;
            let full = next > latest;
            for one in &digit {
                starts[*one] = if full { first } else { next };
            }
            if !full {
                break;
            }
            at += 1;
            while bench.iter().skip(1).any(|other| *other == at) {
                at += 1;
            }
        }
    }
}

fn told(best: &BestStart, all: &[Drawn]) -> ((i32, i32, i32), i32) {
    let bench_moved =
        best.starts.iter().zip(all).find(|(_, drawn)| drawn.apart.is_none()).map_or(0, |(start, _)| start.shift_days.abs());
    let own = best.starts.iter().zip(all).filter(|(_, drawn)| drawn.apart.is_some());
    let moved = own.map(|(start, _)| start.shift_days.abs()).sum::<i32>() + bench_moved;
    ((best.best.fresh_pairs, best.best.pairs, best.best.days), -moved)
}

fn against_every_choice(many: usize, cases: usize, latest: i32, on_the_bench: usize, seed: u64) {
    let mut from = Drawing(seed);
    for case in 0..cases {
        let all: Vec<Drawn> = (0..many).map(|at| drawn(&mut from, at < on_the_bench)).collect();
        let record = plan(&bench("", &written(&all)), START);
        let best = record.best_start.as_ref().expect("several groups");
        assert_eq!(best.proof, StartsProof::Best, "case {case}: {all:?}");
        assert_eq!(told(best, &all), every_choice(&all, latest), "case {case}: {all:?}\n{best:?}");
        // and what is told of the choice is what counting its days gives
        let shifted: Vec<i32> =
            all.iter().zip(&best.starts).map(|(drawn, start)| drawn.apart.unwrap_or(0) + start.shift_days).collect();
        let masks: Vec<[u128; 3]> = all.iter().map(masks).collect();
        assert_eq!(told(best, &all).0, worth(&masks, &shifted), "case {case}: {all:?}");
        let planned: Vec<i32> = all.iter().map(|drawn| drawn.apart.unwrap_or(0)).collect();
        let now = (best.planned.fresh_pairs, best.planned.pairs, best.planned.days);
        assert_eq!(now, worth(&masks, &planned), "case {case}: {all:?}");
        for (start, days) in best.starts.iter().zip(&shifted) {
            assert_eq!(start.starts_on, day(START).plus(*days), "case {case}");
        }
    }
}

#[test]
fn no_choice_of_two_starts_is_better() {
    against_every_choice(2, 1500, 60, 0, 1);
}

#[test]
fn no_choice_of_three_starts_is_better() {
    against_every_choice(3, 600, 50, 0, 2);
}

#[test]
fn no_choice_of_four_starts_is_better() {
    against_every_choice(4, 30, 40, 0, 3);
}

/// Two groups on the tank of the bench and two on their own.
#[test]
fn groups_on_the_tank_of_the_bench_move_together() {
    against_every_choice(4, 300, 50, 2, 4);
}

/// Where each could have a tank of its own, the choice is that of groups which have one.
#[test]
fn tanks_of_their_own_are_told_where_more_meet() {
    let mut from = Drawing(5);
    let mut told_of = 0;
    for case in 0..300 {
        let mut all: Vec<Drawn> = (0..3).map(|at| drawn(&mut from, at < 2)).collect();
        let record = plan(&bench("", &written(&all)), START);
        let together = record.best_start.expect("several groups").best;
        for drawn in &mut all {
            drawn.apart = drawn.apart.or(Some(0));
        }
        let apart = plan(&bench("", &written(&all)), START).best_start.expect("several groups").best;
        assert!(apart >= together, "case {case}: {all:?}");
        let own = record
            .best_start_own_tanks
            .map(|own| (own.best, own.starts.iter().filter(|start| start.needs_own_tank).count()));
        assert_eq!(own.map(|(best, _)| best), (apart > together).then_some(apart), "case {case}: {all:?}");
        if let Some((_, needy)) = own {
            assert_eq!(needy, 1, "the first of the two keeps the tank, case {case}: {all:?}");
            told_of += 1;
        }
    }
    assert!(told_of > 20, "{told_of}");
}

#[test]
fn laws_of_starts() {
    let mut from = Drawing(6);
    for case in 0..300 {
        let many = usize::try_from(from.within(2, 4)).expect("few");
        let mut all: Vec<Drawn> = (0..many).map(|_| drawn(&mut from, false)).collect();
        let bench = self::bench("", &written(&all));
        let record = plan(&bench, START);
        let best = record.best_start.clone().expect("several groups");

        // a week later everything is a week later
        let later = plan(&bench, "2027-11-27");
        let dates = |record: &CycleRecord| record.crossing.iter().map(|step| step.days).collect::<Vec<_>>();
        assert_eq!(dates(&later), dates(&record).iter().map(|days| days.moved(7)).collect::<Vec<_>>(), "case {case}");
        for (one, other) in later.best_start.expect("several groups").starts.iter().zip(&best.starts) {
            assert_eq!((one.starts_on, one.shift_days), (other.starts_on.plus(7), other.shift_days), "case {case}");
        }

        // planned by it, it is as planned
        let (moved, begin) = jobs::on_best_start(&bench, Begin::On(day(START))).expect("a plan");
        let by_it = jobs::cycle(&moved, begin, None).expect("a plan").best_start.expect("several groups");
        assert_eq!((by_it.planned, by_it.best), (best.best, best.best), "case {case}: {all:?}");
        for (start, before) in by_it.starts.iter().zip(&best.starts) {
            assert_eq!((start.shift_days, start.starts_on), (0, before.starts_on), "case {case}: {all:?}");
        }

        // the order of the file makes nothing better or worse
        all.reverse();
        let reversed = plan(&self::bench("", &written(&all)), START).best_start.expect("several groups");
        assert_eq!(reversed.best, best.best, "case {case}: {all:?}");

        // one group more takes no meeting away
        all.push(drawn(&mut from, false));
        let more = plan(&self::bench("", &written(&all)), START).best_start.expect("several groups");
        assert!(more.best.fresh_pairs >= best.best.fresh_pairs, "case {case}: {all:?}");
    }
}

/// With many starts not every choice is tried, and that is said; no start can be moved by itself for a better choice.
#[test]
fn many_starts_are_moved_one_at_a_time() {
    let mut from = Drawing(7);
    for case in 0..5 {
        let all: Vec<Drawn> = (0..14).map(|_| drawn(&mut from, false)).collect();
        let record = plan(&bench("", &written(&all)), START);
        let best = record.best_start.as_ref().expect("several groups");
        assert_eq!(best.proof, StartsProof::BestFound);
        assert!(best.best >= best.planned);
        let text = report::cycle(&record, false);
        assert!(
            text.contains("not every choice is\n   looked at") || text.contains("not every choice is looked at"),
            "{text}"
        );
        let masks: Vec<[u128; 3]> = all.iter().map(masks).collect();
        let planned: Vec<i32> = all.iter().map(|drawn| drawn.apart.expect("own tanks")).collect();
        let starts: Vec<i32> = planned.iter().zip(&best.starts).map(|(planned, start)| planned + start.shift_days).collect();
        let moved = |starts: &[i32]| -starts.iter().zip(&planned).map(|(a, b)| (a - b).abs()).sum::<i32>();
        let own = (worth(&masks, &starts), moved(&starts));
        for at in 0..starts.len() {
            for other in 0..60 {
                let mut starts = starts.clone();
                starts[at] = other;
                assert!((worth(&masks, &starts), moved(&starts)) <= own, "case {case}: group {at} on day {other}");
            }
        }
    }
}

/// Every cross has its pollen: fresh on the day, or collected and kept as the list says, and still good by the group's own figure.
#[test]
fn what_is_crossed_has_been_collected_and_kept() {
    let mut from = Drawing(8);
    let mut dry = 0;
    for case in 0..400 {
        let all: Vec<Drawn> = (0..3).map(|_| drawn(&mut from, false)).collect();
        let record = plan(&bench("", &written(&all)), START);
        assert!(record.crossing.is_sorted_by_key(|step| step.days.from), "case {case}");
        let of = |work, id: &str| {
            let mut steps = record.crossing.iter().filter(|step| step.work == work && step.pollen_of.as_deref() == Some(id));
            let first = steps.next().map(|step| step.days);
            assert!(steps.next().is_none(), "once for each group");
            first
        };
        for step in &record.crossing {
            let Some(giver) = &step.pollen_of else { continue };
            let (collect, keep) = (of(CrossingWork::Collect, giver), of(CrossingWork::Keep, giver));
            let at = giver[1..].parse::<usize>().expect("a number");
            let shed = record.groups[at].pollen;
            let collected = collect.expect("pollen that is used is collected");
            assert!(shed.from <= collected.from && collected.to <= shed.to, "case {case}: {step:?}");
            match step.work {
                CrossingWork::CrossFresh => {
                    assert!(collected.from <= step.days.from && step.days.to <= collected.to, "case {case}: {step:?}");
                }
                CrossingWork::CrossDry => {
                    dry += 1;
                    let keep = keep.expect("kept");
                    assert!(step.days.from > shed.to && step.days.to <= keep.to, "case {case}: {step:?}");
                    assert!(collected.from <= keep.from && collected.to == shed.to, "case {case}: {step:?}");
                    // all that is put by is good on the last day that it is for
                    let keeps = all[at].keeps.expect("some keeps");
                    assert!(keep.to.days_since(keep.from) <= keeps, "case {case}: {step:?}");
                }
                _ => {}
            }
        }
    }
    assert!(dry > 100, "{dry}");
}

/// Counted on a calendar: 4 January 2027 is a Monday.
#[test]
fn tanks_are_renewed_on_the_last_day_of_the_week_that_is_in_time() {
    let on = |renew_on: &str| {
        let record = plan(&bench(renew_on, ""), "2027-01-04");
        record.tanks[0].fills.iter().map(|fill| (fill.date.long(), fill.reason, fill.days)).collect::<Vec<_>>()
    };
    let renewal = |date: &str, days| (date.to_owned(), FillReason::Renewal, days);
    let start = |days| ("Mon 4 Jan 2027".to_owned(), FillReason::Start, days);
    assert_eq!(
        on("renew_on = [\"Sat\"]\n"),
        [
            start(12),
            renewal("Sat 16 Jan 2027", 14),
            renewal("Sat 30 Jan 2027", 14),
            renewal("Sat 13 Feb 2027", 14),
            renewal("Sat 27 Feb 2027", 14),
            // 70 days end on Sunday 14 March: due on Saturday 13 March
            renewal("Sat 13 Mar 2027", 2),
        ]
    );
    let sooner = on("renew_on = [\"Fri\", \"Tue\"]\n");
    assert_eq!(sooner[..3], [start(11), renewal("Fri 15 Jan 2027", 14), renewal("Fri 29 Jan 2027", 14)]);
    assert_eq!(on("")[1], renewal("Mon 18 Jan 2027", 14));
}

#[test]
fn a_renewal_is_on_a_day_of_the_list_or_has_none_in_time() {
    let names = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let mut from = Drawing(9);
    for case in 0..200 {
        let listed: Vec<&str> = names.into_iter().filter(|_| from.within(0, 3) == 0).collect();
        let every = from.within(1, 20);
        let list = if listed.is_empty() { String::new() } else { format!("renew_on = {listed:?}\n") };
        let own = bench(&list, "");
        let text = format!(
            "hold = {{ formula = \"growth\", lasts = \"{} days\", renew_every = \"{every} days\" }}\n",
            from.within(1, 50)
        );
        let record = plan(&bench(&format!("{list}{text}"), ""), START);
        let before = plan(&own, START);
        assert_eq!(record.tanks[0].fills[0], before.tanks[0].fills[0], "case {case}");
        for pair in record.tanks[0].fills.windows(2) {
            let (last, fill) = (&pair[0], &pair[1]);
            let name = |date: Date| date.long()[..3].to_owned();
            assert_eq!(last.days, fill.date.days_since(last.date), "case {case}");
            assert!(last.days <= last.renew_days.max(fill.renew_days), "case {case}: {last:?} {fill:?}");
            let after = (1..=fill.renew_days - last.days).map(|more| fill.date.plus(more));
            let hold_from = record.tanks[0].phases[2].days.from;
            if fill.date == hold_from && last.date.plus(every) <= hold_from {
                continue; // over already when the phase begins
            }
            let on_the_list = listed.contains(&name(fill.date).as_str());
            assert!(on_the_list || last.days == fill.renew_days, "case {case}: {last:?} {fill:?}");
            // no day of the list comes later that would be in time
            assert!(
                !after.into_iter().any(|on| listed.contains(&name(on).as_str())),
                "case {case}: {listed:?} {last:?} {fill:?}"
            );
        }
    }
}

/// Exit status 0, and the JSON of a cycle of the demo bench.
fn demo(arguments: &[&str]) -> serde_json::Value {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let bench = format!("{}/examples/streptocarpus-cycle.toml", env!("CARGO_MANIFEST_DIR"));
    let all = ["bloomsalt", "cycle", "--json", "--bench", &bench].into_iter().chain(arguments.iter().copied());
    let status = bloomsalt::cli::run(all, &mut out, &mut err, bloomsalt::cli::Console::default());
    assert_eq!(status, 0, "{arguments:?}: {}", String::from_utf8_lossy(&err));
    serde_json::from_slice(&out).expect("one JSON document")
}

/// Windows of the demo, counted by hand: with `late` 7 days after `early`, 22 days meet.
#[test]
fn the_option_plans_by_the_best_start() {
    let starts = |json: &serde_json::Value| -> Vec<String> {
        let groups = json["groups"].as_array().expect("groups");
        groups.iter().map(|group| group["starts_on"].as_str().expect("a day").to_owned()).collect()
    };
    let told = demo(&["--start", "2027-01-04"]);
    assert_eq!(starts(&told), ["2027-01-04", "2027-01-16"], "without it nothing moves");
    assert_eq!(told["best_start"]["best"]["days"], 22);
    let planned = demo(&["--start", "2027-01-04", "--best-start"]);
    assert_eq!(starts(&planned), ["2027-01-09", "2027-01-16"]);
    assert_eq!(planned["best_start"]["planned"], told["best_start"]["best"]);
    assert_eq!(planned["tanks"][0]["fills"][0]["date"], "2027-01-09");
    assert_eq!(planned["crossing"][0]["from"], "2027-01-09");
    // counted back from the first flower, that keeps its day
    let from_flower = demo(&["--first-open", "2027-03-29", "--best-start"]);
    assert_eq!(from_flower["groups"][0]["opens"]["from"], "2027-03-29");
    assert_eq!(starts(&from_flower), ["2027-01-02", "2027-01-09"]);
}
