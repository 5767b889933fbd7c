//! A cycle over time: phases and fillings of each tank, flowers of each group.

use maud::{Markup, html};

use super::course::short;
use super::svg::{Axis, Picture, at, cut, line, text};
use crate::jobs::{CycleRecord, FillReason, GroupDates, TankPlan, Window};
use crate::quantity::Date;
use crate::report::words::tank_name;

const WIDTH: f64 = 720.0;
/// The tallest picture: a sheet of paper has no more room.
const HEIGHT_AT_MOST: f64 = 960.0;
/// Room for the name of a month with its year.
const MONTH: f64 = 74.0;
/// Left and right end of the days.
const ACROSS: (f64, f64) = (112.0, 712.0);
const TOP: f64 = 30.0;
/// A line for the name of a tank, then its lane.
const TANK: f64 = 66.0;
const LANE: f64 = 23.0;
/// A line for the name of a group, then three lanes.
const GROUP: f64 = 4.0 * LANE + 2.0;
/// Width of a letter, about.
const LETTER: f64 = 7.4;

/// What stands under another on a timeline.
enum Row<'r> {
    Tank(&'r TankPlan),
    Group(&'r GroupDates),
}

impl Row<'_> {
    fn height(&self) -> f64 {
        match self {
            Self::Tank(_) => TANK,
            Self::Group(_) => GROUP,
        }
    }

    fn in_words(&self) -> String {
        match self {
            Self::Tank(tank) => {
                let told = tank.phases.iter().map(|phase| format!("{} from {}", phase.phase, phase.days.from.long()));
                format!("{}: {}.", tank_name(tank), told.collect::<Vec<_>>().join(", "))
            }
            Self::Group(group) => in_words(group),
        }
    }
}

/// All tanks and groups of a cycle over time, on one scale; in several pictures where they are too many for a page.
pub(in crate::report) fn timeline(record: &CycleRecord) -> Markup {
    let windows = record.groups.iter().flat_map(|group| [group.opens.to, pollen_to(group), group.stigma.to]);
    let last = windows.fold(record.end, Date::max);
    let span = f64::from(last.days_since(record.start) + 1);
    let days = Days { start: record.start, last, axis: Axis { from: 0.0, to: span, start: ACROSS.0, end: ACROSS.1 } };
    let mut pictures: Vec<(f64, Vec<Row>)> = Vec::new();
    for tank in &record.tanks {
        for row in [Row::Tank(tank)].into_iter().chain(fed(tank, record).into_iter().map(Row::Group)) {
            match pictures.last_mut().filter(|(height, _)| height + row.height() <= HEIGHT_AT_MOST) {
                Some((height, rows)) => {
                    *height += row.height();
                    rows.push(row);
                }
                None => pictures.push((TOP + row.height(), vec![row])),
            }
        }
    }
    html! {
        @for (at, (height, rows)) in pictures.iter().enumerate() { (picture(&days, at + 1, *height, rows)) }
        p .quiet {
            "Bars: phases; shaded and thick where another formula than growth is fed. Filled triangle: another formula, open triangle: \
             the same formula afresh. Pollen: filled while it is shed, dotted while it is good dry."
        }
    }
}

fn picture(days: &Days, at: usize, height: f64, rows: &[Row]) -> Markup {
    let says: Vec<String> = rows.iter().map(Row::in_words).collect();
    let tops = rows.iter().scan(TOP, |top, row| {
        let own = *top;
        *top += row.height();
        Some(own)
    });
    let marks = html! {
        (months(days, height))
        @for (row, top) in rows.iter().zip(tops) {
            @match row {
                Row::Tank(tank) => (tank_lane(tank, days, top)),
                Row::Group(group) => (group_lanes(group, days, top)),
            }
        }
    };
    let id = format!("timeline-{at}");
    let picture = Picture { id: &id, title: "Tanks and groups over time", says: &says.join(" "), size: (WIDTH, height) };
    html! { figure .wide { div .scroll { (picture.draw(&marks)) } } }
}

/// Groups on a tank.
fn fed<'r>(tank: &TankPlan, record: &'r CycleRecord) -> Vec<&'r GroupDates> {
    let own = |group: &&GroupDates| tank.group.as_ref() == Some(&group.id) || tank.feeds.contains(&group.id);
    record.groups.iter().filter(own).collect()
}

/// The last day on which pollen is good, fresh or dry.
fn pollen_to(group: &GroupDates) -> Date {
    group.dry_pollen_to.unwrap_or(group.pollen.to)
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
    let dry = group.dry_pollen_to.map_or_else(String::new, |to| format!(", dry to {}", to.long()));
    format!(
        "{}: flowers open {}, pollen {}{dry}, stigmas {}.",
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

/// A count of letters or months.
fn count(many: usize) -> f64 {
    f64::from(u32::try_from(many).unwrap_or(0))
}

fn tank_lane(tank: &TankPlan, days: &Days, top: f64) -> Markup {
    let y = top + 20.0;
    html! {
        g .strong { (text("start", (4.0, top + 14.0), &cut(&tank_name(tank), 40))) }
        (text("start", (14.0, y + 30.0), "feeding"))
        @for phase in &tank.phases {
            @let (left, right) = days.window(&phase.days);
            rect .phase .fed[phase.formula != "growth"] x=(at(left)) y=(at(y + 12.0)) width=(at(right - left)) height="26" {}
            @if right - left > 8.0 + wide(&phase.phase) { (text("middle", (f64::midpoint(left, right), y + 30.0), &phase.phase)) }
        }
        @for fill in &tank.fills {
            @let x = days.place(fill.date);
            polygon .fill .renewal[fill.reason == FillReason::Renewal]
                points={ (at(x)) "," (at(y + 11.0)) " " (at(x - 5.5)) "," (at(y)) " " (at(x + 5.5)) "," (at(y)) } {}
        }
    }
}

/// About how wide words are.
fn wide(words: &str) -> f64 {
    LETTER * count(words.chars().count())
}

fn group_lanes(group: &GroupDates, days: &Days, y: f64) -> Markup {
    let dry = group.dry_pollen_to.and_then(|to| Window::new(group.pollen.to.plus(1), to));
    let lanes = [("flowers", group.opens, None), ("pollen", group.pollen, dry), ("stigmas", group.stigma, None)];
    html! {
        g .strong { (text("start", (4.0, y + 14.0), &cut(&group.id, 40))) }
        @for ((what, window, dry), lane) in lanes.iter().zip([LANE, 2.0 * LANE, 3.0 * LANE]) {
            @let (left, right) = days.window(window);
            @let end = dry.as_ref().map_or(right, |dry| days.window(dry).1);
            @let until = dry.map_or_else(String::new, |dry| format!(", dry to {}", short(dry.to)));
            @let dates = format!("{} to {}{until}", short(window.from), short(window.to));
            (text("start", (14.0, y + lane + 14.0), what))
            @if dry.is_some() { rect .window .dry x=(at(right)) y=(at(y + lane + 4.0)) width=(at(end - right)) height="11" {} }
            rect .window .(what) x=(at(left)) y=(at(y + lane + 2.0)) width=(at(right - left)) height="15" {}
            @if end + 8.0 + wide(&dates) > ACROSS.1 { (text("end", (left - 6.0, y + lane + 14.0), &dates)) }
            @else { (text("start", (end + 6.0, y + lane + 14.0), &dates)) }
        }
    }
}
