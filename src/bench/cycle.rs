//! The cycle of a bench: its phases, the groups of plants and the bags in which salts are sold. Every figure is the
//! grower's own; a figure that is not stated stays unknown.

use super::Tank;
use super::names::{plain_name, well_formed};
use super::reader::{Item, Table, did_you_mean};
use crate::catalogue::{Catalogue, SaltId};
use crate::quantity::{
    self, Amount, BAG_G, BAG_L, Bound, Date, FLOWER_DAYS, FLOWERS_FOR_DAYS, KEEPS_DAYS, Mass, PHASE_DAYS, RENEW_DAYS,
    RIPE_DAYS, STARTS_AFTER_DAYS, TANK_L, Volume, WINDOW_DAYS, Weekday, WholeDays, gram, milliliter,
};

/// More groups than this are refused: every group is set beside every other.
const GROUPS_AT_MOST: usize = 40;

/// What a phase of the cycle is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum PhaseKind {
    /// Leaves are built.
    Growth,
    /// Flowers are forced.
    Push,
    /// The push goes on until flower stalks show.
    Hold,
    /// Back to growth: flowers open and are crossed.
    Back,
    /// Seed ripens.
    Ripening,
}

impl PhaseKind {
    /// Every phase, in the order in which they follow each other.
    pub const ALL: [Self; 5] = [Self::Growth, Self::Push, Self::Hold, Self::Back, Self::Ripening];

    /// Its key in the bench file, which reports use as well.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Growth => "growth",
            Self::Push => "push",
            Self::Hold => "hold",
            Self::Back => "back",
            Self::Ripening => "ripening",
        }
    }
}

/// A phase of the cycle.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Phase {
    /// Which.
    pub kind: PhaseKind,
    /// Name of the formula that it feeds.
    pub formula: String,
    /// How long it lasts.
    pub lasts: WholeDays,
    /// A tank of it is mixed afresh after so many days.
    pub renew_every: WholeDays,
}

/// The phases of the cycle, in their order. A push is always among them.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Cycle {
    /// The phases.
    pub phases: Vec<Phase>,
    /// Days of the week on which tanks are renewed where their `renew_every` allows it; empty for any day.
    pub renew_on: Vec<Weekday>,
    /// The first day of the first phase, where it is stated.
    pub start: Option<Date>,
}

/// The first and the last day of something, counted from the day on which a flower opens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct FlowerDays {
    /// The first day.
    pub from: WholeDays,
    /// The last day, not before the first.
    pub to: WholeDays,
}

/// Plants that are pushed together.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Group {
    /// Its id.
    pub id: String,
    /// What reports call it.
    pub name: String,
    /// The tank of its own; `None` for the tank of the bench, the first where there are several.
    pub tank: Option<Volume>,
    /// The id of that tank, where it is one of several of the bench.
    pub tank_id: Option<String>,
    /// Days by which its cycle starts after that of the bench; negative for before.
    pub starts_after: WholeDays,
    /// Days from the first day of push to the first open flower.
    pub days_to_flower: WholeDays,
    /// Days over which it goes on opening flowers; 1 when all open together.
    pub flowers_for: WholeDays,
    /// When a flower sheds pollen.
    pub pollen: FlowerDays,
    /// When the stigmas of a flower are receptive.
    pub stigma: FlowerDays,
    /// How long dry pollen keeps after it was shed; `None` where none is kept or nothing is known.
    pub dry_pollen_keeps: Option<WholeDays>,
    /// Days from pollination to ripe seed; `None` where nothing is known.
    pub ripe_after: Option<WholeDays>,
}

/// The bag or bottle in which a salt is bought.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Bag {
    /// Which salt.
    pub salt: SaltId,
    /// What it holds.
    pub holds: Mass,
}

/// Reads `[cycle]`.
pub(super) fn cycle(root: &Table) -> Option<Cycle> {
    let table = root.table("cycle", "[cycle]")?;
    let known: Vec<&str> =
        PhaseKind::ALL.map(PhaseKind::key).into_iter().chain(["renew_every", "renew_on", "start"]).collect();
    table.only(&known);
    let renew_every = table
        .require("renew_every", "renew_every = \"14 days\", by your own experience")
        .and_then(|item| days(&item, "14 days", &RENEW_DAYS));
    table.require("push", "push = { formula = \"push\", lasts = \"21 days\" }");
    let phases = PhaseKind::ALL
        .into_iter()
        .filter_map(|kind| {
            let own = table.get(kind.key())?.own_table()?;
            phase(kind, &own, root, renew_every)
        })
        .collect();
    let start = table.get("start").and_then(|item| day(&item));
    let renew_on = table.get("renew_on").map_or_else(Vec::new, |item| weekdays(&item));
    Some(Cycle { phases, renew_on, start })
}

/// Days of the week.
fn weekdays(item: &Item) -> Vec<Weekday> {
    let days = item.list("[\"Wed\", \"Sat\"]");
    let day = |one: &Item| {
        let name = one.text("a day of the week in quotes, such as \"Sat\"")?;
        let day = Weekday::parse(name);
        if day.is_none() {
            let takes = format!("read `{name}`; it takes {}", Weekday::NAMES.join(", "));
            one.wrong(takes, did_you_mean(name, Weekday::NAMES));
        }
        day
    };
    days.iter().filter_map(day).collect()
}

/// A day of the calendar, without quotes.
pub(super) fn day(item: &Item) -> Option<Date> {
    let written = item.date()?;
    Date::parse(&written).map_err(|error| item.wrong(format!("read {written}; {error}"), None)).ok()
}

fn phase(kind: PhaseKind, table: &Table, root: &Table, renew_every: Option<WholeDays>) -> Option<Phase> {
    table.only(&["formula", "lasts", "renew_every"]);
    let formula = table.require("formula", "formula = \"push\"").and_then(|item| known_formula(&item, root));
    let lasts = table.require("lasts", "lasts = \"21 days\"").and_then(|item| days(&item, "21 days", &PHASE_DAYS));
    let renew_every = match table.get("renew_every") {
        Some(item) => days(&item, "14 days", &RENEW_DAYS),
        None => renew_every,
    };
    Some(Phase { kind, formula: formula?.to_owned(), lasts: lasts?, renew_every: renew_every? })
}

fn days(item: &Item, example: &str, bound: &Bound) -> Option<WholeDays> {
    item.quantity(example, |text| quantity::whole_days(text, bound))
}

/// The formula that a phase names, or a problem with what was probably meant.
fn known_formula<'a>(item: &Item<'a>, root: &Table<'a>) -> Option<&'a str> {
    let name = item.text("the name of a formula in quotes")?;
    let table = root.get("formula").and_then(|formulas| formulas.value.as_table());
    let names: Vec<&str> = table.into_iter().flat_map(|table| table.keys()).map(|key| key.get_ref().as_ref()).collect();
    let known = names.contains(&name);
    if !known {
        let has = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
        item.wrong(format!("there is no formula `{name}`; the file has {has}"), did_you_mean(name, names));
    }
    known.then_some(name)
}

/// Reads every `[[group]]`.
pub(super) fn groups(root: &Table, tanks: &[(String, Tank)]) -> Vec<Group> {
    let tables = root.tables("group");
    if let (true, Some(item)) = (tables.len() > GROUPS_AT_MOST, root.get("group")) {
        item.wrong_key(format!("{} groups are more than the {GROUPS_AT_MOST} that are taken", tables.len()), None);
        return Vec::new();
    }
    let mut groups: Vec<Group> = Vec::new();
    for table in tables {
        let Some(group) = group(&table, tanks) else { continue };
        let shares = |other: &Group| group.tank_id.is_some() && other.tank_id == group.tank_id;
        if let (Some(other), Some(item)) = (groups.iter().find(|other| shares(other)), table.get("tank")) {
            let help = Some("groups that share a tank share the first, and name none".to_owned());
            item.wrong(format!("that tank feeds `{}` already", other.id), help);
        }
        if let (true, Some(item)) = (groups.iter().any(|other| other.id == group.id), table.get("id")) {
            item.wrong(format!("`{}` is taken", group.id), Some("choose another id".to_owned()));
        }
        groups.push(group);
    }
    groups
}

fn group(table: &Table, tanks: &[(String, Tank)]) -> Option<Group> {
    table.only(&[
        "id",
        "name",
        "tank",
        "starts_after",
        "days_to_flower",
        "flowers_for",
        "pollen_from",
        "pollen_to",
        "stigma_from",
        "stigma_to",
        "dry_pollen_keeps",
        "ripe_after",
    ]);
    let id = table.require("id", "id = \"early\"").and_then(|item| well_formed(&item));
    let name = match table.get("name") {
        Some(item) => Some(plain_name(&item)?),
        None => id,
    };
    let optional = |key, example, bound| match table.get(key) {
        None => Some(None),
        Some(item) => days(&item, example, bound).map(Some),
    };
    let tank = match table.get("tank") {
        None => Some(None),
        Some(item) => own_tank(&item, tanks),
    };
    let starts_after = optional("starts_after", "10 days", &STARTS_AFTER_DAYS);
    let days_to_flower = table
        .require("days_to_flower", "days_to_flower = \"45 days\", by your own records")
        .and_then(|item| days(&item, "45 days", &FLOWER_DAYS));
    let flowers_for = optional("flowers_for", "21 days", &FLOWERS_FOR_DAYS);
    let pollen = window(table, "pollen_from", "pollen_to");
    let stigma = window(table, "stigma_from", "stigma_to");
    let dry_pollen_keeps = optional("dry_pollen_keeps", "14 days", &KEEPS_DAYS);
    let ripe_after = optional("ripe_after", "51 days", &RIPE_DAYS);
    let apart = starts_after?.unwrap_or(WholeDays(0));
    let on_the_bench = tank.as_ref().is_some_and(Option::is_none);
    if let (true, Some(item)) = (apart != WholeDays(0) && on_the_bench, table.get("starts_after")) {
        item.wrong(
            "a group that starts apart is fed another formula than the bench, so it needs a tank of its own",
            Some("add its volume, as in tank = \"60 L\"".to_owned()),
        );
    }
    Some(Group {
        id: id?.to_owned(),
        name: name?.to_owned(),
        tank: tank.as_ref()?.as_ref().map(|(volume, _)| *volume),
        tank_id: tank?.and_then(|(_, id)| id),
        starts_after: apart,
        days_to_flower: days_to_flower?,
        flowers_for: flowers_for?.unwrap_or(WholeDays(1)),
        pollen: pollen?,
        stigma: stigma?,
        dry_pollen_keeps: dry_pollen_keeps?,
        ripe_after: ripe_after?,
    })
}

/// The tank that a group names: one of the bench by its id, nothing for the first of them, or a volume.
#[allow(clippy::option_option, reason = "a mistake, no tank of its own, or one")]
fn own_tank(item: &Item, tanks: &[(String, Tank)]) -> Option<Option<(Volume, Option<String>)>> {
    let named = item.value.as_str().and_then(|id| tanks.iter().position(|(other, _)| other == id));
    match named {
        Some(0) => Some(None),
        Some(at) => Some(Some((tanks[at].1.volume, Some(tanks[at].0.clone())))),
        None => {
            let ids: Vec<&str> = tanks.iter().map(|(id, _)| id.as_str()).collect();
            if let (false, Some(read)) = (ids.is_empty(), item.value.as_str())
                && quantity::volume(read, &TANK_L).is_err()
            {
                let has = ids.join(", ");
                item.wrong(format!("there is no tank `{read}`; the file has {has}"), did_you_mean(read, ids));
                return None;
            }
            item.quantity("60 L", |text| quantity::volume(text, &TANK_L)).map(|volume| Some((volume, None)))
        }
    }
}

/// The day on which every shelf entry that states it was counted.
pub(super) fn counted(root: &Table, catalogue: &Catalogue) -> Vec<(SaltId, Date)> {
    of_shelf(root, catalogue, |salt, own| {
        let counted = own.get("counted_on")?;
        if own.get("on_hand").is_none() {
            counted.wrong("goes with `on_hand`: it is the day on which that was counted", None);
        }
        Some((salt, day(&counted)?))
    })
}

/// What is read of every shelf entry; one that is no table, or no known salt, is told where the shelf is read.
fn of_shelf<T>(root: &Table, catalogue: &Catalogue, read: impl Fn(SaltId, &Table) -> Option<T>) -> Vec<T> {
    let shelf = root.get("shelf").filter(Item::is_table).and_then(|item| item.as_table("[shelf]"));
    let entries = shelf.iter().flat_map(Table::items).filter(Item::is_table);
    entries.filter_map(|item| read(catalogue.find(item.name)?, &item.own_table()?)).collect()
}

fn window(table: &Table, first: &str, last: &str) -> Option<FlowerDays> {
    let day = |key: &str, example: &str| {
        let item = table.require(key, &format!("{key} = \"{example}\", days after the flower opens"))?;
        days(&item, example, &WINDOW_DAYS)
    };
    let (from, to) = (day(first, "1 day"), day(last, "6 days"));
    let (from, to) = (from?, to?);
    if let (true, Some(item)) = (to < from, table.get(last)) {
        item.wrong(format!("`{last}` is before `{first}`"), None);
    }
    Some(FlowerDays { from, to })
}

/// The `bag` of every shelf entry that states one.
pub(super) fn bags(root: &Table, catalogue: &Catalogue) -> Vec<Bag> {
    of_shelf(root, catalogue, |salt, own| {
        let holds = own.get("bag")?;
        let amount = holds.quantity("1 kg", |text| quantity::amount(text, &BAG_G, &BAG_L))?;
        let holds = match (amount, catalogue.salt(salt).density_kg_per_l) {
            (Amount::Mass(mass), _) => mass,
            (Amount::Volume(volume), Some(density)) => gram(milliliter(volume) * density),
            (Amount::Volume(_), None) => {
                let name = &catalogue.salt(salt).name;
                holds.wrong(format!("{name} is a solid; state its bag in g or kg"), None);
                return None;
            }
        };
        Some(Bag { salt, holds })
    })
}
