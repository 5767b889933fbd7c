//! A cycle over time: phases and fillings of each tank, flowers of each group.

use maud::{Markup, html};

use super::course::short;
use super::page::section;
use super::svg::{Axis, Picture, at, cut, line, text};
use crate::jobs::{CycleRecord, FillReason, GroupDates, PhaseDates, TankPlan, Window};
use crate::quantity::Date;
use crate::report::cycle::{litres, tank_name};

const WIDTH: f64 = 720.0;
/// Left and right end of the days.
const ACROSS: (f64, f64) = (112.0, 712.0);
const TOP: f64 = 30.0;
const TANK: f64 = 46.0;
const LANE: f64 = 23.0;
/// A line for the name of a group, then three lanes.
const GROUP: f64 = 4.0 * LANE + 2.0;
/// Width of a letter, about.
const LETTER: f64 = 7.4;

/// The timeline of a cycle: one drawing for each tank, all on one scale.
pub(super) fn timeline(record: &CycleRecord) -> Markup {
    let windows = record.groups.iter().flat_map(|group| [group.opens.to, group.pollen.to, group.stigma.to]);
    let last = windows.fold(record.end, Date::max);
    let span = f64::from(last.days_since(record.start) + 1);
    let days = Days { start: record.start, last, axis: Axis { from: 0.0, to: span, start: ACROSS.0, end: ACROSS.1 } };
    let body = html! {
        @for (at, tank) in record.tanks.iter().enumerate() { (of_tank(tank, &fed(tank, record), &days, at + 1)) }
        p .quiet {
            "Bars: phases; shaded and thick where another formula than growth is fed. Filled triangle: another formula, open \
             triangle: the same formula afresh."
        }
    };
    section("when", "The plan at a glance", "by your own figures; a plant may not keep to them", &body)
}

fn of_tank(tank: &TankPlan, groups: &[&GroupDates], days: &Days, at: usize) -> Markup {
    let count = |many: usize| f64::from(u32::try_from(many).unwrap_or(0));
    let height = TOP + TANK + GROUP * count(groups.len());
    let name = tank_name(tank);
    let told: Vec<String> =
        tank.phases.iter().map(|phase| format!("{} from {}", phase.phase, phase.days.from.long())).collect();
    let flowers: Vec<String> = groups.iter().map(|group| in_words(group)).collect();
    let says = format!("{}. {}", told.join(", "), flowers.join(" "));
    let marks = html! {
        (months(days, height))
        (tank_lane(tank, days))
        @for (at, group) in groups.iter().enumerate() { (group_lanes(group, days, TOP + TANK + GROUP * count(at))) }
    };
    let picture = Picture { id: &format!("timeline-{at}"), title: &name, says: &says, size: (WIDTH, height) };
    html! {
        figure .wide {
            figcaption { b { (name) } ", " (litres(tank.volume_l)) @if !tank.feeds.is_empty() { ", feeds " (tank.feeds.join(", ")) } }
            div .scroll { (picture.draw(&marks)) }
            p .quiet { (tank.phases.iter().map(phase_in_words).collect::<Vec<_>>().join("; ")) "." }
        }
    }
}

fn phase_in_words(phase: &PhaseDates) -> String {
    let feeds = if phase.formula == phase.phase { String::new() } else { format!(" (feeds {})", phase.formula) };
    format!("{}{feeds} {} to {}", phase.phase, short(phase.days.from), short(phase.days.to))
}

/// Groups on a tank.
fn fed<'r>(tank: &TankPlan, record: &'r CycleRecord) -> Vec<&'r GroupDates> {
    let own = |group: &&GroupDates| tank.group.as_ref() == Some(&group.id) || tank.feeds.contains(&group.id);
    record.groups.iter().filter(own).collect()
}

struct Days {
    start: Date,
    last: Date,
    axis: Axis,
}

impl Days {
    /// Where the morning of a day stands.
    fn place(&self, day: Date) -> f64 {
        self.axis.place(f64::from(day.days_since(self.start)))
    }

    /// Where a run of days begins and ends.
    fn window(&self, days: &Window) -> (f64, f64) {
        (self.place(days.from), self.place(days.to.plus(1)))
    }
}

fn in_words(group: &GroupDates) -> String {
    let days = |window: &Window| format!("{} to {}", window.from.long(), window.to.long());
    format!(
        "{}: flowers open {}, pollen {}, stigmas {}.",
        group.name,
        days(&group.opens),
        days(&group.pollen),
        days(&group.stigma)
    )
}

fn months(days: &Days, height: f64) -> Markup {
    let all = (0..=days.last.days_since(days.start)).map(|day| days.start.plus(day));
    let firsts: Vec<Date> = all.filter(|day| day.to_string().ends_with("-01")).collect();
    // a dozen names are all there is room for
    let every = firsts.len().div_ceil(12).max(1);
    html! {
        @if firsts.first().is_none_or(|first| days.place(*first) > ACROSS.0 + 50.0) { (text("start", (ACROSS.0, 15.0), &short(days.start))) }
        @for (at, first) in firsts.iter().enumerate() {
            @let x = days.place(*first);
            (line("grid", (x, 20.0), (x, height)))
            @if at % every == 0 && x < ACROSS.1 - 30.0 { (text("start", (x + 3.0, 15.0), &month(*first, at == 0))) }
        }
    }
}

fn month(first: Date, with_year: bool) -> String {
    let long = first.long();
    let words: Vec<&str> = long.split(' ').collect();
    match words[..] {
        [_, _, month, year] if with_year || month == "Jan" => format!("{month} {year}"),
        [_, _, month, _] => month.to_owned(),
        _ => long,
    }
}

fn tank_lane(tank: &TankPlan, days: &Days) -> Markup {
    let y = TOP;
    html! {
        (text("start", (4.0, y + 30.0), "feeding"))
        @for phase in &tank.phases {
            @let (left, right) = days.window(&phase.days);
            rect .phase .fed[phase.formula != "growth"] x=(at(left)) y=(at(y + 12.0)) width=(at(right - left)) height="26" {}
            @if right - left > 8.0 + LETTER * f64::from(u32::try_from(phase.phase.chars().count()).unwrap_or(0)) {
                (text("middle", (f64::midpoint(left, right), y + 30.0), &phase.phase))
            }
        }
        @for fill in &tank.fills {
            @let x = days.place(fill.date);
            polygon .fill .renewal[fill.reason == FillReason::Renewal]
                points={ (at(x)) "," (at(y + 11.0)) " " (at(x - 5.5)) "," (at(y)) " " (at(x + 5.5)) "," (at(y)) } {}
        }
    }
}

fn group_lanes(group: &GroupDates, days: &Days, y: f64) -> Markup {
    let lanes = [("flowers", group.opens), ("pollen", group.pollen), ("stigmas", group.stigma)];
    html! {
        g .strong { (text("start", (4.0, y + 14.0), &cut(&group.id, 40))) }
        @for ((what, window), lane) in lanes.iter().zip([LANE, 2.0 * LANE, 3.0 * LANE]) {
            @let (left, right) = days.window(window);
            @let dates = format!("{} to {}", short(window.from), short(window.to));
            (text("start", (14.0, y + lane + 14.0), what))
            rect .window .(what) x=(at(left)) y=(at(y + lane + 2.0)) width=(at(right - left)) height="15" {}
            @if right + 8.0 + LETTER * 16.0 > ACROSS.1 { (text("end", (left - 6.0, y + lane + 14.0), &dates)) }
            @else { (text("start", (right + 6.0, y + lane + 14.0), &dates)) }
        }
    }
}
