//! A cycle over time: phases and fillings of each tank, flowers of each group.

use maud::{Markup, html};

use super::course::short;
use super::svg::{Axis, Picture, at, cut, line, text};
use crate::jobs::{CycleRecord, FillReason, GroupDates, TankPlan, Window};
use crate::quantity::Date;
use crate::report::words::tank_name;

const WIDTH: f64 = 720.0;
/// Room for the name of a month with its year.
const MONTH: f64 = 74.0;
/// Left and right end of the days.
const ACROSS: (f64, f64) = (112.0, 712.0);
const TOP: f64 = 30.0;
const TANK: f64 = 46.0;
const LANE: f64 = 23.0;
/// A line for the name of a group, then three lanes.
const GROUP: f64 = 4.0 * LANE + 2.0;
/// Width of a letter, about.
const LETTER: f64 = 7.4;

/// A tank of a cycle over time; those of one cycle are all on one scale.
///
/// * `at`: number of the tank
pub(in crate::report) fn timeline(record: &CycleRecord, tank: &TankPlan, at: usize) -> Markup {
    let windows = record.groups.iter().flat_map(|group| [group.opens.to, group.pollen.to, group.stigma.to]);
    let last = windows.fold(record.end, Date::max);
    let span = f64::from(last.days_since(record.start) + 1);
    let days = Days { start: record.start, last, axis: Axis { from: 0.0, to: span, start: ACROSS.0, end: ACROSS.1 } };
    let groups = fed(tank, record);
    let height = TOP + TANK + GROUP * count(groups.len());
    let told: Vec<String> =
        tank.phases.iter().map(|phase| format!("{} from {}", phase.phase, phase.days.from.long())).collect();
    let flowers: Vec<String> = groups.iter().map(|group| in_words(group)).collect();
    let says = format!("{}. {}", told.join(", "), flowers.join(" "));
    let marks = html! {
        (months(&days, height))
        (tank_lane(tank, &days))
        @for (at, group) in groups.iter().enumerate() { (group_lanes(group, &days, TOP + TANK + GROUP * count(at))) }
    };
    let picture = Picture { id: &format!("timeline-{at}"), title: &tank_name(tank), says: &says, size: (WIDTH, height) };
    html! {
        figure .wide {
            div .scroll { (picture.draw(&marks)) }
            @if at == 1 {
                figcaption .quiet {
                    "Bars: phases; shaded and thick where another formula than growth is fed. Filled triangle: another formula, \
                     open triangle: the same formula afresh."
                }
            }
        }
    }
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
    let narrow = firsts.windows(2).map(|pair| days.place(pair[1]) - days.place(pair[0])).fold(ACROSS.1, f64::min);
    // as many names as there is room for
    let every = (1..firsts.len().max(2)).find(|&months| narrow * count(months) >= MONTH).unwrap_or(firsts.len().max(1));
    let named: Vec<&Date> = firsts.iter().step_by(every).collect();
    html! {
        @if firsts.first().is_none_or(|first| days.place(*first) > ACROSS.0 + 50.0) { (text("start", (ACROSS.0, 15.0), &short(days.start))) }
        @for first in &firsts { (line("grid", (days.place(*first), 20.0), (days.place(*first), height))) }
        @for (at, first) in named.iter().enumerate() {
            @let before = at.checked_sub(1).map(|before| named[before]);
            @if days.place(**first) < ACROSS.1 - 30.0 { (text("start", (days.place(**first) + 3.0, 15.0), &month(**first, before))) }
        }
    }
}

/// The month of a day, with the year where it is another than that of the one named before.
fn month(first: Date, before: Option<&Date>) -> String {
    let month_and_year = |day: Date| day.long().split(' ').skip(2).map(str::to_owned).collect::<Vec<_>>();
    let own = month_and_year(first);
    if before.is_some_and(|before| month_and_year(*before).last() == own.last()) { own[0].clone() } else { own.join(" ") }
}

/// A count of lanes or months.
fn count(many: usize) -> f64 {
    f64::from(u32::try_from(many).unwrap_or(0))
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
