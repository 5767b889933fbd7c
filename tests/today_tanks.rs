//! Twelve weeks of two tanks with three groups, looked at on twenty days: what is due in each tank, renewals on their days of the
//! week, whose pollen and whose stigmas, and corrections of pH, each against a calendar that this test keeps.
#![allow(clippy::disallowed_methods, reason = "reads and writes the files of the walk")]

use bloomsalt::quantity::Date;
use serde_json::Value;

use crate::program::done;
use crate::today::PHASES;

/// Day 0 is Friday, the first of January 2027.
const BENCH: &str = r#"
name = "two tanks"
[[tank]]
id = "long bench"
volume = "60 L"
[[tank]]
id = "small bench"
volume = "40 L"
[water]
Ca = 9
Mg = 2
Na = 6
Cl = 7
S = 3
alkalinity = "25 mg/L CaCO3"
[acid]
salt = "phosphoric-acid-10"
target_pH = 5.8
"#;

/// A group by its own figures, in days.
struct Group {
    id: &'static str,
    tank: Option<&'static str>,
    starts: i32,
    to_flower: i32,
    flowers: i32,
    pollen: (i32, i32),
    stigma: (i32, i32),
    dry: Option<i32>,
    ripe: i32,
}

const GROUPS: [Group; 3] = [
    Group {
        id: "early",
        tank: None,
        starts: 0,
        to_flower: 30,
        flowers: 10,
        pollen: (0, 3),
        stigma: (4, 9),
        dry: Some(5),
        ripe: 28,
    },
    Group {
        id: "middle",
        tank: None,
        starts: 0,
        to_flower: 36,
        flowers: 6,
        pollen: (0, 2),
        stigma: (3, 6),
        dry: None,
        ripe: 30,
    },
    Group {
        id: "late",
        tank: Some("small bench"),
        starts: 6,
        to_flower: 30,
        flowers: 8,
        pollen: (1, 4),
        stigma: (4, 8),
        dry: None,
        ripe: 28,
    },
];
/// The days on which the grower looks: twenty.
const DAYS: [i32; 20] = [0, 3, 6, 9, 12, 15, 20, 25, 29, 33, 40, 43, 48, 50, 54, 57, 61, 66, 75, 84];
/// Of these the days on which a pH is read that asks for acid, and for a base.
const HIGH: [i32; 3] = [25, 50, 66];
const LOW: [i32; 2] = [33, 57];

impl Group {
    fn text(&self) -> String {
        let tank = self.tank.map_or_else(String::new, |id| format!("tank = \"{id}\"\n"));
        let dry = self.dry.map_or_else(String::new, |days| format!("dry_pollen_keeps = \"{days} days\"\n"));
        let days = |key: &str, days: i32| format!("{key} = \"{days} days\"\n");
        let starts = if self.tank.is_some() { days("starts_after", self.starts) } else { String::new() };
        [
            format!("[[group]]\nid = \"{}\"\n{tank}{dry}{starts}", self.id),
            days("days_to_flower", self.to_flower),
            days("flowers_for", self.flowers),
            days("pollen_from", self.pollen.0),
            days("pollen_to", self.pollen.1),
            days("stigma_from", self.stigma.0),
            days("stigma_to", self.stigma.1),
            days("ripe_after", self.ripe),
        ]
        .concat()
    }

    /// Days on which something from so many to so many days after opening happens to any flower.
    /// * `pushed`: the first day of push of either tank
    fn window(&self, (from, to): (i32, i32), pushed: [i32; 2]) -> (i32, i32) {
        let first = pushed[usize::from(self.tank.is_some())] + self.to_flower;
        (first + from, first + self.flowers - 1 + to)
    }
}

fn date(day: i32) -> String {
    Date::parse("2027-01-01").expect("a day").plus(day).to_string()
}

fn within(day: i32, (from, to): (i32, i32)) -> bool {
    (from..=to).contains(&day)
}

/// Wednesday or Saturday: day 0 is a Friday.
fn on_its_day(day: i32) -> bool {
    [1, 5].contains(&day.rem_euclid(7))
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// A tank as the grower keeps it.
struct Tank {
    id: &'static str,
    litres: f64,
    /// The first day of its cycle.
    starts: i32,
    /// The formula that it has, and the day on which it was last renewed.
    has: Option<(&'static str, i32)>,
    /// The day on which it was turned over to push: what comes after is counted from it.
    pushed: Option<i32>,
    /// The day of the last filling or reading.
    read: i32,
}

impl Tank {
    fn asked(&self, day: i32) -> Option<&'static str> {
        let pushes = self.pushed.map_or(day >= self.starts + 14, |pushed| day < pushed + 28);
        (day >= self.starts).then_some(if pushes { "push" } else { "growth" })
    }

    /// The first day of push: the planned one, or that on which it is done.
    fn push_from(&self, day: i32) -> i32 {
        self.pushed.unwrap_or((self.starts + 14).max(day))
    }

    /// The day on which the formula changes next.
    fn change(&self, day: i32) -> Option<i32> {
        let from = self.push_from(day);
        [from, from + 28].into_iter().find(|on| *on > day)
    }

    /// What is due by plan and habit, with the days that are left.
    fn due(&self, day: i32) -> Vec<(String, i32)> {
        let mut due = Vec::new();
        let change = self.change(day);
        if let (Some((has, renewed)), Some(asked)) = (self.has, self.asked(day)) {
            if has == asked {
                let next = (renewed + 1..=renewed + 14).rev().find(|on| on_its_day(*on)).expect("two a week");
                if change.is_none_or(|change| next + 2 < change) {
                    due.push(("renew", next - day));
                }
            } else {
                let since = self.pushed.map_or(self.starts + 14, |pushed| pushed + 28);
                due.push(("switch", since - day));
            }
            due.push(("read", self.read + 7 - day));
            due.extend(change.map(|change| ("switch", change - day)));
        }
        let mut due: Vec<(String, i32)> = due.into_iter().map(|(what, left)| (what.to_owned(), left)).collect();
        due.sort();
        due
    }
}

struct Walk(tempfile::TempDir);

impl Walk {
    fn path(&self, name: &str) -> String {
        self.0.path().join(name).display().to_string()
    }

    fn logbook(&self, tank: &Tank) -> String {
        self.path(&format!("{}.jsonl", tank.id.replace(' ', "-")))
    }

    fn today(&self, day: i32, tanks: &[Tank], time: &str) -> Value {
        let (at, bench) = (format!("{} {time}+01:00", date(day)), self.path("bench.toml"));
        let books: Vec<String> = tanks.iter().filter(|tank| tank.has.is_some()).map(|tank| self.logbook(tank)).collect();
        let mut asked = vec!["today", "--bench", &bench, "--at", &at, "--json"];
        for book in &books {
            asked.extend(["--logbook", book.as_str()]);
        }
        serde_json::from_str(&done(&asked)).expect("JSON")
    }

    fn add(&self, day: i32, time: &str, tank: &Tank, event: &[&str]) {
        let (at, bench, book) = (format!("{} {time}+01:00", date(day)), self.path("bench.toml"), self.logbook(tank));
        done(&[&["logbook", "add", &book, "--tank", tank.id, "--at", &at, "--bench", &bench], event].concat());
    }

    /// A fresh tank, or one turned over: mixed, saved and booked.
    fn renew(&self, day: i32, tank: &Tank, formula: &str) {
        let (bench, recipe) = (self.path("bench.toml"), self.path(&format!("{}-{day}.json", tank.litres)));
        if tank.has.is_none() {
            done(&["mix", formula, "--bench", &bench, "--tank", tank.id, "--save", &recipe]);
        } else {
            let (at, book) = (format!("{} 09:30+01:00", date(day)), self.logbook(tank));
            let drain = format!("{} L", tank.litres * 0.8);
            done(&[
                "switch",
                formula,
                "--drain",
                &drain,
                "--logbook",
                &book,
                "--at",
                &at,
                "--bench",
                &bench,
                "--tank",
                tank.id,
                "--save",
                &recipe,
            ]);
        }
        self.add(day, "09:30", tank, &["from", &recipe]);
    }
}

/// What stands under `due` by plan and habit: what a forecast or `hold_at_most` says depends on the model.
fn told(tank: &Value) -> Vec<(String, i32)> {
    let each = tank["due"].as_array().expect("a list").iter();
    let each = each.filter(|due| due["by"] == "plan" || due["by"] == "habit");
    let mut told: Vec<(String, i32)> = each
        .map(|due| {
            let left = i32::try_from(due["days_left"].as_i64().expect("days")).expect("days");
            (due["what"].as_str().expect("a kind").to_owned(), left)
        })
        .collect();
    told.sort();
    told
}

/// The days on which pollen of a group is collected: those on which it goes on stigmas fresh, and those from which on it keeps
/// until its last use; and those on which some of it is kept.
fn collected(giver: &Group, pushed: [i32; 2]) -> [Option<(i32, i32)>; 2] {
    let (sheds, dry) = (giver.window(giver.pollen, pushed), giver.dry.unwrap_or(0));
    let used: Vec<(i32, bool)> = (sheds.0..=sheds.1 + dry)
        .filter(|day| GROUPS.iter().any(|bearer| within(*day, bearer.window(bearer.stigma, pushed))))
        .map(|day| (day, day <= sheds.1))
        .collect();
    let last_dry = used.iter().filter(|(_, fresh)| !fresh).map(|(day, _)| *day).max();
    let kept = last_dry.map(|last| (sheds.0.max(last - dry), last));
    let fresh = used.iter().filter(|(_, fresh)| *fresh).map(|(day, _)| *day);
    let days: Vec<i32> = fresh.chain(kept.into_iter().flat_map(|(from, _)| [from, sheds.1])).collect();
    [days.iter().copied().min().zip(days.iter().copied().max()), kept]
}

/// Whose pollen goes on whose stigmas: fresh, or dry where it is kept.
fn groups_are_as_counted(day: i32, page: &Value, pushed: [i32; 2]) -> usize {
    let mut crosses = 0;
    for (at, group) in GROUPS.iter().enumerate() {
        let said = &page["groups"][at];
        let (pollen, stigma) = (group.window(group.pollen, pushed), group.window(group.stigma, pushed));
        assert_eq!(said["id"], group.id);
        let until = |open: bool, last: i32| if open { Value::from(date(last)) } else { Value::Null };
        let [collect, kept] = collected(group, pushed);
        let collects = collect.filter(|days| within(day, *days));
        let told = until(collects.is_some(), collects.unwrap_or(pollen).1);
        assert_eq!(said["collect_pollen_until"], told, "day {day}: pollen of {}", group.id);
        let dries = collects.is_some() && kept.is_some_and(|days| within(day, days));
        let for_whom = said["keep_dry_for"].as_array().expect("a list");
        assert_eq!(!for_whom.is_empty(), dries, "day {day}: pollen of {} is kept", group.id);
        assert_eq!(said["stigmas_open_until"], until(within(day, stigma), stigma.1), "day {day}: stigmas of {}", group.id);
        let mut expected: Vec<(String, bool)> = Vec::new();
        for giver in GROUPS.iter().filter(|_| within(day, stigma)) {
            let sheds = giver.window(giver.pollen, pushed);
            let kept = (sheds.0, sheds.1 + giver.dry.unwrap_or(0));
            if within(day, kept) {
                expected.push((giver.id.to_owned(), within(day, sheds)));
            }
        }
        crosses += expected.len();
        let is: Vec<(String, bool)> = said["crosses"]
            .as_array()
            .expect("a list")
            .iter()
            .map(|cross| (cross["pollen_of"].as_str().expect("an id").to_owned(), cross["fresh"] == true))
            .collect();
        let [mut is, mut expected] = [is, expected];
        is.sort();
        expected.sort();
        assert_eq!(is, expected, "day {day}: crosses on {}", group.id);
    }
    crosses
}

#[test]
fn twelve_weeks_of_two_tanks_with_three_groups() {
    let walk = Walk(tempfile::tempdir().expect("a folder"));
    let starter = bloomsalt::bench::STARTER;
    let rest = &starter[starter.find("[shelf]").expect("a shelf")..];
    let groups: String = GROUPS.iter().map(Group::text).collect();
    std::fs::write(walk.path("bench.toml"), format!("{BENCH}{PHASES}renew_on = [\"Wed\", \"Sat\"]\n{groups}\n{rest}"))
        .expect("written");
    let mut tanks = [
        Tank { id: "long bench", litres: 60.0, starts: 0, has: None, pushed: None, read: 0 },
        Tank { id: "small bench", litres: 40.0, starts: 6, has: None, pushed: None, read: 0 },
    ];
    let (mut renewed, mut switched, mut crosses, mut corrected) = (0, 0, 0, 0);
    for day in DAYS {
        let page = walk.today(day, &tanks, "08:00");
        crosses += groups_are_as_counted(day, &page, [0, 1].map(|at: usize| tanks[at].push_from(day)));
        for (at, tank) in tanks.iter().enumerate().filter(|(_, tank)| tank.has.is_some()) {
            assert_eq!(page["tanks"][at]["tank"], tank.id);
            assert_eq!(told(&page["tanks"][at]), tank.due(day), "day {day}, {}: {}", tank.id, page["tanks"][at]["due"]);
        }
        // what plants and air took: 1 % of the tank a day since it was renewed, and 1.2 % of EC
        let ph = if HIGH.contains(&day) {
            "6.4"
        } else if LOW.contains(&day) {
            "4.9"
        } else {
            "6.0"
        };
        for (at, tank) in tanks.iter_mut().enumerate().filter(|(_, tank)| tank.has.is_some()) {
            let days = f64::from(day - tank.read);
            let ec = number(&page["tanks"][at]["ec_ms_cm"]["likely"]) * (1.0 - 0.012 * days);
            let lost = 0.01 * f64::from(day - tank.has.map_or(day, |(_, renewed)| renewed));
            let level = format!("{:.1} L", tank.litres * (1.0 - lost));
            walk.add(day, "08:30", tank, &["reading", "--ec", &format!("{ec:.2} mS/cm"), "--ph", ph, "--level", &level]);
            tank.read = day;
        }
        let page = walk.today(day, &tanks, "09:00");
        for (at, tank) in tanks.iter_mut().enumerate() {
            let said = &page["tanks"][at];
            if tank.has.is_some() {
                // own choices of the docs: a base under 5.3, an acid more than 0.3 over the wish of 5.8
                let correction = &said["ph"]["correction"];
                let asked = (ph == "6.4").then_some(true).or((ph == "4.9").then_some(false));
                // what is let out today is not corrected first
                let fresh = tank.due(day).into_iter().any(|(what, left)| what != "read" && left <= 0);
                assert_eq!(said["ph"]["with_fresh_tank"].as_bool(), Some(fresh), "day {day}, {}: {}", tank.id, said["ph"]);
                // nor is told a base beside water that does the same
                let by_water =
                    said["fill_up"]["ph_aired"].as_f64().is_some_and(|aired| asked == Some(false) && aired > 5.29);
                let asked = asked.filter(|_| !(fresh || by_water && correction.is_null()));
                assert_eq!(correction["acid"].as_bool(), asked, "day {day}, {}: {}", tank.id, said["ph"]);
                corrected += u32::from(asked.is_some());
            }
            let Some(asked) = tank.asked(day) else { continue };
            let now = tank.due(day).into_iter().any(|(what, left)| what != "read" && left <= 0);
            if tank.has.is_none() || now {
                renewed += u32::from(tank.has.is_some_and(|(has, _)| has == asked));
                switched += u32::from(tank.has.is_some_and(|(has, _)| has != asked));
                walk.renew(day, tank, asked);
                if tank.has.is_none() {
                    tank.read = day;
                }
                tank.has = Some((asked, day));
                tank.pushed = tank.pushed.or((asked == "push").then_some(day));
            }
        }
    }
    assert!(switched == 4 && renewed >= 4, "{switched} switched, {renewed} renewed");
    assert!(crosses >= 8 && corrected >= 6, "{crosses} crosses, {corrected} corrections");
    // and the plan of both puts every renewal on its day of the week
    let plan: Value = serde_json::from_str(&done(&["cycle", "--bench", &walk.path("bench.toml"), "--json"])).expect("JSON");
    let first = Date::parse("2027-01-01").expect("a day");
    let mut planned = 0;
    for fill in plan["tanks"].as_array().expect("tanks").iter().flat_map(|tank| tank["fills"].as_array().expect("fills")) {
        let on = Date::parse(fill["date"].as_str().expect("a date")).expect("a day").days_since(first);
        planned += usize::from(fill["reason"] == "renewal");
        assert!(fill["reason"] != "renewal" || on_its_day(on), "{fill}");
    }
    assert!(planned >= 8, "{planned} renewals");
}
