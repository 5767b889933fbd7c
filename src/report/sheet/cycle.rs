//! The sheet of a cycle.

use maud::{Markup, html};

use super::balance::balance;
use super::bottles::ingredients;
use super::handling::{handling, sources};
use super::page::{page, section, tick};
use super::shopping::shopping;
use super::timeline::timeline;
use super::watch;
use super::weights;
use crate::jobs::{Balance, BottlePlan, CycleMix, CycleRecord, Fill, GroupDates, Label, TankPlan};
use crate::quantity::{WholeDays, fixed};
use crate::report::cycle::{best_start, lasting, litres, made_for, meets, of_mixes, pair, span, tank_name};
use crate::report::renewal::why_and_from;
use crate::report::words::ph_ends;

/// A cycle as a page of HTML to print: the plan at a glance, what to mix when, what to weigh, flowers, shopping.
///
/// * `compared`: balances of growth and push, and what is left out, by [`crate::jobs::compared`]
/// * `labels`: of its salts, by [`crate::jobs::labels`]
#[must_use]
pub fn cycle(record: &CycleRecord, compared: &(Vec<Balance>, Vec<(String, String)>), labels: &[Label]) -> String {
    let mut sections = vec![timeline(record), mix_on(record)];
    sections.extend(record.mixes.iter().enumerate().map(|(at, mix)| weigh(mix, at + 1)));
    sections.extend(bottles(record));
    sections.extend([flowers(record), shopping(record), watch::watch(&of_mixes(record))]);
    sections.extend(balance(&compared.0, false, &compared.1));
    let number = |salt: &str| record.salts.iter().position(|total| total.salt == salt).map(|at| at + 1);
    sections.push(handling(&number, &record.handling, &record.cautions, labels));
    sections.push(sources(&record.sources, labels));
    let aside = format!("{}, {} to {}", record.bench, record.start.long(), record.end.long());
    page("Cycle", &aside, &sections)
}

fn mix_on(record: &CycleRecord) -> Markup {
    let mut fills: Vec<(&TankPlan, &Fill)> =
        record.tanks.iter().flat_map(|tank| tank.fills.iter().map(move |fill| (tank, fill))).collect();
    fills.sort_by_key(|(_, fill)| fill.date);
    let several = record.tanks.len() > 1;
    let body = html! {
        div .scroll {
            table .fills {
                thead {
                    tr {
                        th scope="col" { span .unseen { "done" } } th scope="col" { "day" } th scope="col" { "formula" } th scope="col" { "volume" }
                        th scope="col" { "why" } th scope="col" { "lasts" } @if several { th scope="col" { "tank" } }
                    }
                }
                tbody {
                    @for (at, (tank, fill)) in fills.iter().enumerate() {
                        @let id = format!("fill-{}", at + 1);
                        tr {
                            td .box { input type="checkbox" id=(id); }
                            th scope="row" { label for=(id) { (fill.date.long()) } }
                            td { b { (fill.formula) } }
                            td { (litres(tank.volume_l)) }
                            td { (why_and_from(fill)) }
                            td { (WholeDays(fill.days)) }
                            @if several { td { (tank_name(tank)) } }
                        }
                    }
                }
            }
        }
        @for hold in record.tanks.iter().flat_map(|tank| &tank.holds) {
            p { b { (hold.formula) } " from " (hold.days.from.long()) ": at most " (WholeDays(hold.hold_at_most_days)) ", so back to growth by " b { (hold.back_by.long()) } "." }
        }
    };
    let body = html! { (body) p .quiet { "`bloomsalt mix FORMULA` says how to make each." } };
    section("mix-on", "What to mix when", "what to weigh for each stands below", &body)
}

fn weigh(mix: &CycleMix, at: usize) -> Markup {
    let times = if mix.times == 1 { "once".to_owned() } else { format!("{} times", mix.times) };
    let body = html! {
        (weights::list(&mix.doses, &format!("weigh-{at}")))
        p {
            "EC " b { (fixed(mix.ec_ms_cm, 2)) } " mS/cm at 25 C, give or take " (fixed(mix.ec_plus_minus_ms_cm, 2)) "; "
            @match mix.ph { Some(ph) => { "pH " b { (fixed(ph, 1)) } (ph_ends(mix.ph_low, mix.ph_high)) " right after mixing" }, None => "pH not known" }
            @if let Some(cost) = mix.cost { "; cost " (fixed(cost, 2)) " each time" }
        }
    };
    section(&format!("mix-{at}"), &format!("Weigh {}", mix.formula), &format!("{}, {times}", litres(mix.volume_l)), &body)
}

fn bottles(record: &CycleRecord) -> Option<Markup> {
    let body = html! { @for (at, bottle) in record.bottles.iter().enumerate() { (one_bottle(record, bottle, at + 1)) } };
    (!record.bottles.is_empty())
        .then(|| section("bottles", "Bottles", "dilute ones, for what is too little to measure", &body))
}

fn one_bottle(record: &CycleRecord, bottle: &BottlePlan, at: usize) -> Markup {
    let ml = |ml: f64| litres(ml * 1e-3);
    html! {
        div .block {
            h3 { (bottle.id) }
            @if let Some(left) = bottle.left_ml {
                p {
                    "There already: " @if bottle.needed_ml > left * (1.0 + 1e-9) { b { "not enough" } ", " }
                    "the plan takes " (ml(bottle.needed_ml)) ", and " (ml(left)) " are left."
                }
            } @else {
                p { "For " (made_for(record, bottle)) ": made up to " b { (ml(bottle.volume_ml)) } " with " (if bottle.pure_water { "pure water" } else { "your water" }) ":" }
                (ingredients(&bottle.made_of, &format!("bottle-{at}")))
                p { "Make it on:" }
                ul .ticks .days {
                    @for (day, date) in bottle.made_on.iter().enumerate() { li { (tick(&format!("bottle-{at}-day-{}", day + 1), &html! { (date.long()) })) } }
                }
                @if let Some(days) = bottle.keep_days { p .quiet { "It keeps " (days) " days at most, dark and cool (common practice, no source)." } }
            }
        }
    }
}

fn flowers(record: &CycleRecord) -> Markup {
    let never: Vec<String> = record.meetings.iter().filter(|meeting| meeting.days.is_none()).map(pair).collect();
    let body = html! {
        div .scroll {
            table .flowers {
                thead { tr { th scope="col" { "group" } th scope="col" { "flowers open" } th scope="col" { "pollen" } th scope="col" { "stigmas" } } }
                tbody { @for group in &record.groups { (flowering(group)) } }
            }
        }
        @if !record.meetings.is_empty() {
            h3 { "Pollen meets stigmas" }
            ul .plain {
                @for meeting in record.meetings.iter().filter(|meeting| meeting.days.is_some()) { li { b { (pair(meeting)) } ": " (meets(meeting)) "." } }
                @if !never.is_empty() { li { b { "Never" } ": " (never.join("; ")) "." } }
            }
        }
        @if !record.shifts.is_empty() {
            h3 { "Best start" }
            ul .plain { @for shift in &record.shifts { li { (best_start(shift)) } } }
        }
    };
    section("flowers", "Flowers", "", &body)
}

fn flowering(group: &GroupDates) -> Markup {
    html! {
        tr {
            th scope="row" { (group.id) @if group.name != group.id { span .with { " " (group.name) } } }
            td { (span(&group.opens)) ", " (lasting(&group.opens)) }
            td { (span(&group.pollen)) ", " (lasting(&group.pollen)) @if let Some(to) = group.dry_pollen_to { "; dry pollen good to " (to.long()) } }
            td { (span(&group.stigma)) ", " (lasting(&group.stigma)) }
        }
    }
}
