//! Two logbooks of one tank, written apart, as one: what the one lacks is appended to it.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use serde::Serialize;

use super::line::line;
use super::{Entry, Event, Logbook, Moment};

/// What makes one logbook of two.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Merge {
    /// What to append to the text of the first, in one piece; empty where it lacks nothing.
    pub append: String,
    /// The entries that it lacked, as they stand in it now.
    pub added: Vec<Entry>,
    /// How many entries of the other were there already.
    pub shared: usize,
    /// What does not go together.
    pub clashes: Vec<Clash>,
}

/// What does not go together in two logbooks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Clash {
    /// How.
    pub kind: ClashKind,
    /// Number in the other logbook.
    pub other_entry: u64,
    /// Its number now; null where it was not taken in.
    pub entry: Option<u64>,
    /// The entry that it clashes with; null where there is none.
    pub with: Option<u64>,
}

/// How an entry of another logbook clashes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ClashKind {
    /// Both stand, of the same moment and the same kind, and say something else.
    SameMoment,
    /// It voids an entry that is void here already, and says nothing new.
    VoidAlready,
    /// It voids an entry that the other logbook itself has lost.
    VoidsLost,
}

/// What became of an entry of the other logbook.
#[derive(Clone, Copy)]
enum Place {
    /// It is here, under this number.
    Here(u64),
    /// It is to be added; by its position among all that are.
    New(usize),
}

/// An entry to be added, and the time by which it is placed: a void stands after what it voids.
struct New {
    by: Moment,
    entry: Entry,
    voids: Option<Place>,
}

/// Entries of a logbook that no entry of the other was matched with yet, by all that they say.
type Unmatched = BTreeMap<(Moment, String), VecDeque<u64>>;

/// What a logbook lacks that another one of the same tank has.
///
/// An entry is the same where moment and event are; one that stands twice in either stands twice in both together. What is
/// lacking is added by its time, under new numbers and checks; a void names the number that its entry has now. Lines that the other
/// gave up are its own: what it says of them is not taken over.
///
/// # Errors
/// In words: the two belong to different tanks; or there is no room for what binds this one to its tank.
///
/// # Examples
/// ```
/// use bloomsalt::logbook::{Event, Logbook, Moment, merge};
/// let (early, late) = (Moment::parse("2026-10-03 18:30+02:00")?, Moment::parse("2026-10-04 08:00+02:00")?);
/// let read = |text: &str| Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string());
/// let phone = Logbook::empty().append(late, Event::StalksSeen {})?;
/// let desk = Logbook::empty().append(early, Event::Drained { volume_l: 5.0 })?;
/// let merged = merge(&read(&phone)?, &read(&desk)?)?;
/// let both = read(&(phone + &merged.append))?;
/// assert_eq!((both.entries().len(), both.standing()[0].at), (2, early));
/// # Ok::<(), String>(())
/// ```
pub fn merge(here: &Logbook, other: &Logbook) -> Result<Merge, String> {
    of_one_tank(here, other)?;
    let mut left = unmatched(here);
    let mut places: BTreeMap<u64, Place> = BTreeMap::new();
    let (mut new, mut shared, mut clashes): (Vec<New>, _, _) = (Vec::new(), 0, Vec::new());
    for entry in other.entries() {
        let (mut by, mut voids, mut event) = (entry.at, None, entry.event.clone());
        match &mut event {
            Event::Recovered { .. } => continue,
            Event::Voided { voids: number, .. } => {
                let Some(place) = places.get(number) else {
                    clashes.push(Clash { kind: ClashKind::VoidsLost, other_entry: entry.number, entry: None, with: None });
                    continue;
                };
                voids = Some(*place);
                match place {
                    Place::Here(here) => *number = *here,
                    Place::New(at) => by = by.max(new[*at].by),
                }
            }
            _ => {}
        }
        let same = if matches!(voids, Some(Place::New(_))) { None } else { taken(&mut left, entry.at, &event) };
        if let Some(same) = same {
            places.insert(entry.number, Place::Here(same));
            shared += 1;
        } else if let Some(with) = void_already(here, voids) {
            clashes.push(Clash { kind: ClashKind::VoidAlready, other_entry: entry.number, entry: None, with: Some(with) });
        } else {
            places.insert(entry.number, Place::New(new.len()));
            new.push(New { by, entry: Entry { event, ..entry.clone() }, voids });
        }
    }
    let (append, added, others) = numbered(here, &new);
    clashes.extend(same_moment(here, &added, &others));
    clashes.sort_by_key(|clash| clash.other_entry);
    Ok(Merge { append, added, shared, clashes })
}

/// Both are bound to the same tank, or none is; one without an entry is of any.
fn of_one_tank(here: &Logbook, other: &Logbook) -> Result<(), String> {
    let (ours, theirs) = (here.tank(), other.tank());
    if theirs.is_some() && here.entries().is_empty() && !here.torn().is_empty() {
        return Err(
            "this one has no whole entry and a line that was cut off: merge with an empty one in its place".to_owned()
        );
    }
    if ours == theirs || here.entries().is_empty() || other.entries().is_empty() {
        return Ok(());
    }
    let of = |tank: Option<&str>| tank.map_or_else(|| "names no tank".to_owned(), |id| format!("is that of `{id}`"));
    Err(format!("they are logbooks of different tanks: this one {}, the other {}", of(ours), of(theirs)))
}

/// All that an event says, as text.
fn said(event: &Event) -> String {
    serde_json::to_string(event).unwrap_or_default()
}

fn unmatched(logbook: &Logbook) -> Unmatched {
    let mut all = Unmatched::new();
    for entry in logbook.entries() {
        all.entry((entry.at, said(&entry.event))).or_default().push_back(entry.number);
    }
    all
}

/// The number of an entry that says the same and was not matched yet.
fn taken(left: &mut Unmatched, at: Moment, event: &Event) -> Option<u64> {
    left.get_mut(&(at, said(event)))?.pop_front()
}

/// The entry that has voided already what another entry voids.
fn void_already(here: &Logbook, voids: Option<Place>) -> Option<u64> {
    match voids? {
        Place::Here(number) => here.voided_by(number),
        Place::New(_) => None,
    }
}

/// The text to append, its entries under their numbers, and the number of each in the other logbook.
fn numbered(here: &Logbook, new: &[New]) -> (String, Vec<Entry>, Vec<u64>) {
    let mut order: Vec<usize> = (0..new.len()).collect();
    // what binds a logbook to its tank is its first entry, whatever was entered for an earlier day
    let binds = |new: &New| matches!(new.entry.event, Event::Tank { .. });
    order.sort_by_key(|at| (!binds(&new[*at]), new[*at].by, new[*at].entry.number));
    let Some(first) = order.first() else { return Default::default() };
    let (mut text, start) = here.opening(new[*first].entry.at);
    let numbers: BTreeMap<usize, u64> = order.iter().copied().zip(start..).collect();
    let mut added = Vec::new();
    for at in &order {
        let mut entry = Entry { number: numbers[at], ..new[*at].entry.clone() };
        if let (Event::Voided { voids, .. }, Some(Place::New(of))) = (&mut entry.event, new[*at].voids) {
            *voids = numbers[&of];
        }
        text.push_str(&line(&entry));
        added.push(entry);
    }
    (text, added, order.iter().map(|at| new[*at].entry.number).collect())
}

/// What was added beside an entry of the same moment and kind that says something else, both standing.
fn same_moment(here: &Logbook, added: &[Entry], others: &[u64]) -> Vec<Clash> {
    let mut standing: BTreeMap<(Moment, &str), u64> = BTreeMap::new();
    for entry in here.standing() {
        standing.entry((entry.at, entry.event.name())).or_insert(entry.number);
    }
    let void = |entry: &Entry| if let Event::Voided { voids, .. } = entry.event { Some(voids) } else { None };
    let voided: BTreeSet<u64> = added.iter().filter_map(void).collect();
    let figures = |event: &Event| !matches!(event, Event::Note { .. } | Event::Voided { .. } | Event::StalksSeen {});
    let clash = |(entry, other): (&Entry, &u64)| {
        let with = *standing.get(&(entry.at, entry.event.name())).filter(|_| figures(&entry.event))?;
        (!voided.contains(&entry.number) && !voided.contains(&with)).then_some(Clash {
            kind: ClashKind::SameMoment,
            other_entry: *other,
            entry: Some(entry.number),
            with: Some(with),
        })
    };
    added.iter().zip(others).filter_map(clash).collect()
}
