//! A whole logbook: every line read, every number in its place, what is void; or what is damaged and what can be saved.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::ops::Range;

use super::line::{line, read};
use super::{Entry, Event, Moment};

/// A line that stops in the middle: an entry whose writing was cut off, so that it never counted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Torn {
    /// Its line number, from 1.
    pub line: usize,
    /// What there is of it.
    pub read: String,
}

/// A logbook that reads without a fault.
#[derive(Debug, Clone)]
pub struct Logbook {
    entries: Vec<Entry>,
    torn: Vec<Torn>,
    /// The last line lacks its line end.
    open: bool,
    voided: BTreeMap<u64, u64>,
    /// Numbers that were given up, or that lines given up must have had.
    lost: Vec<Range<u64>>,
    next: u64,
}

/// One fault of a logbook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Its line number, from 1.
    pub line: usize,
    /// In words, what is wrong.
    pub why: String,
    /// The line itself.
    pub read: String,
}

/// A logbook that cannot be trusted as it stands.
#[derive(Debug, Clone)]
pub struct Damage {
    /// Every fault, in the order of the lines; at least one.
    pub faults: Vec<Fault>,
    /// Line number and entry of everything that can be read.
    pub saved: Vec<(usize, Entry)>,
}

impl Damage {
    /// Entries that can be read before and after the first fault.
    #[must_use]
    pub fn saved_around(&self) -> (usize, usize) {
        let first = self.faults.first().map_or(0, |fault| fault.line);
        let before = self.saved.iter().filter(|(line, _)| *line < first).count();
        (before, self.saved.iter().filter(|(line, _)| *line > first).count())
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for fault in &self.faults {
            writeln!(f, "line {}: {}; it reads: {}", fault.line, fault.why, excerpt(&fault.read))?;
        }
        let (before, after) = self.saved_around();
        let entries = if before == 1 { "1 entry".to_owned() } else { format!("{before} entries") };
        write!(f, "{entries} before the first of these and {after} after it can be read")
    }
}

impl std::error::Error for Damage {}

/// Characters of a line that a message shows.
const SHOWN: usize = 120;

/// The start of a text, with control characters made visible.
#[must_use]
pub fn excerpt(text: &str) -> String {
    let shown = text.chars().take(SHOWN);
    let visible: String = shown
        .map(|letter| if letter.is_control() { letter.escape_debug().to_string() } else { letter.to_string() })
        .collect();
    if text.chars().count() > SHOWN { format!("{visible}…") } else { visible }
}

/// A line of the file and what it turned out to be.
enum Kind {
    Entry(Entry),
    /// Given up by a later entry, or cut off at the very end.
    Gone,
    Fault(String),
}

impl Logbook {
    /// A logbook without an entry.
    #[must_use]
    pub fn empty() -> Self {
        Self { entries: Vec::new(), torn: Vec::new(), open: false, voided: BTreeMap::new(), lost: Vec::new(), next: 1 }
    }

    /// Reads the bytes of a whole file.
    ///
    /// A last line that just stops is [`torn`](Self::torn) and no damage: no crash of this program leaves anything else.
    /// `given_up` are line numbers that count as if a `recovered` entry named them: a line that cannot be read is passed
    /// over, of a line that can be read a gap before it is let pass, and an entry that cannot stand there does not count.
    ///
    /// # Errors
    /// [`Damage`] for any other line that is no entry, for a number that is missing or comes twice, and for a `voided`
    /// that voids nothing.
    ///
    /// # Examples
    /// ```
    /// use bloomsalt::logbook::{Logbook, Event, Moment};
    /// let at = Moment::parse("2026-10-03 18:30+02:00")?;
    /// let line = Logbook::empty().append(at, Event::StalksSeen {})?;
    /// let logbook = Logbook::parse(line.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
    /// assert_eq!(logbook.entries().len(), 1);
    /// // the end of the line never reached the disk
    /// let logbook = Logbook::parse(&line.as_bytes()[..40], &[]).map_err(|damage| damage.to_string())?;
    /// assert_eq!((logbook.entries().len(), logbook.torn().len()), (0, 1));
    /// # Ok::<(), String>(())
    /// ```
    pub fn parse(bytes: &[u8], given_up: &[usize]) -> Result<Self, Damage> {
        let open = bytes.last().is_some_and(|byte| *byte != b'\n');
        let lines: Vec<(usize, &[u8])> = bytes
            .split(|byte| *byte == b'\n')
            .enumerate()
            .map(|(at, line)| (at + 1, line.trim_ascii_end()))
            .filter(|(_, line)| !line.is_empty())
            .collect();
        let readings: Vec<_> = lines.iter().map(|(at, line)| (*at, read(line))).collect();
        let mut declared: BTreeSet<usize> = given_up.iter().copied().collect();
        for (at, reading) in &readings {
            if let Ok(Entry { event: Event::Recovered { lines }, .. }) = reading {
                declared.extend(lines.iter().filter(|line| **line < *at));
            }
        }
        let last_entry = readings.iter().rposition(|(_, reading)| reading.is_ok()).map_or(0, |at| at + 1);
        let text = |at: usize| String::from_utf8_lossy(lines[at].1).into_owned();
        let mut torn = Vec::new();
        let mut kinds = Vec::new();
        for (at, (number, reading)) in readings.into_iter().enumerate() {
            kinds.push(match reading {
                Ok(entry) => Kind::Entry(entry),
                Err(_) if declared.contains(&number) => Kind::Gone,
                Err(unreadable) if unreadable.cut_off && at >= last_entry => {
                    torn.push(Torn { line: number, read: text(at) });
                    Kind::Gone
                }
                Err(unreadable) => Kind::Fault(unreadable.why),
            });
        }
        let mut logbook = Self { torn, open, ..Self::empty() };
        let (mut faults, mut saved, mut gone) = (Vec::new(), Vec::new(), 0);
        for (at, kind) in kinds.into_iter().enumerate() {
            let number = lines[at].0;
            let why = match kind {
                Kind::Gone => {
                    gone += 1;
                    continue;
                }
                Kind::Fault(why) => {
                    gone += 1;
                    why
                }
                Kind::Entry(entry) => {
                    let wrong = logbook.take(entry.clone(), std::mem::take(&mut gone), declared.contains(&number));
                    saved.push((number, entry));
                    let Err(why) = wrong else { continue };
                    why
                }
            };
            faults.push(Fault { line: number, why, read: text(at) });
        }
        if faults.is_empty() { Ok(logbook) } else { Err(Damage { faults, saved }) }
    }

    /// Takes the next entry of the file in, after `gone` lines that may each have been one. What is wrong with an entry that
    /// is given up is let pass: a gap before it, or that it does not count.
    fn take(&mut self, entry: Entry, gone: u64, given_up: bool) -> Result<(), String> {
        let (number, next) = (entry.number, self.next);
        if number < next {
            let wrong = format!("this is entry {number}, but entry {next} should stand here");
            return if given_up { Ok(()) } else { Err(wrong) };
        }
        if number > next {
            self.lost.push(next..number);
        }
        self.next = number.saturating_add(1);
        let wrong = self.why_not(&entry.event);
        match (&wrong, &entry.event) {
            (Ok(()), Event::Voided { voids, .. }) => {
                self.voided.insert(*voids, number);
                self.entries.push(entry);
            }
            (Ok(()), _) => self.entries.push(entry),
            (Err(_), _) => self.lost.push(number..self.next),
        }
        if given_up {
            Ok(())
        } else if number - next > gone {
            Err(format!("this is entry {number}, but entry {next} should stand here: something before it is missing"))
        } else {
            wrong
        }
    }

    /// Whether an event can be the next entry.
    ///
    /// # Errors
    /// In words: it voids an entry that is not there, cannot be voided or is void already, or holds a number out of range.
    pub fn why_not(&self, event: &Event) -> Result<(), String> {
        event.check()?;
        if matches!(event, Event::Tank { .. }) && !self.entries.is_empty() {
            return Err("a logbook is bound to its tank by its first entry, and this is a later one".to_owned());
        }
        let Event::Voided { voids, .. } = event else { return Ok(()) };
        let found = self.entries.iter().find(|entry| entry.number == *voids);
        match found {
            None if self.lost.iter().any(|lost| lost.contains(voids)) => Ok(()),
            None => Err(format!("there is no entry {voids} to void")),
            Some(entry) if matches!(entry.event, Event::Voided { .. } | Event::Recovered { .. } | Event::Tank { .. }) => {
                Err(format!("entry {voids} is `{}` and cannot be voided; write down anew what is right", entry.event.name()))
            }
            Some(_) => match self.voided.get(voids) {
                Some(by) => Err(format!("entry {voids} is void already, by entry {by}")),
                None => Ok(()),
            },
        }
    }

    /// Every entry that can be read, in the order of the file.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The tank that it belongs to, where its first entry says so.
    #[must_use]
    pub fn tank(&self) -> Option<&str> {
        match &self.entries.first()?.event {
            Event::Tank { tank } => Some(tank),
            _ => None,
        }
    }

    /// Lines at the end whose writing was cut off; the next [`append`](Self::append) names them in an entry of its own.
    #[must_use]
    pub fn torn(&self) -> &[Torn] {
        &self.torn
    }

    /// The number of the entry that voids entry `number`.
    #[must_use]
    pub fn voided_by(&self, number: u64) -> Option<u64> {
        self.voided.get(&number).copied()
    }

    /// Entries that count, by the time at which they happened; of the same time in the order of the file.
    #[must_use]
    pub fn standing(&self) -> Vec<&Entry> {
        let mut standing: Vec<&Entry> =
            self.entries.iter().filter(|entry| !self.voided.contains_key(&entry.number)).collect();
        standing.sort_by_key(|entry| (entry.at, entry.number));
        standing
    }

    /// The number of the next entry.
    #[must_use]
    pub fn next_number(&self) -> u64 {
        self.next
    }

    /// The text to append for an event, to be written at once: a line end if the last line lacks one, an entry that names
    /// torn lines if there are any, then the entry itself.
    ///
    /// # Errors
    /// As [`why_not`](Self::why_not).
    pub fn append(&self, at: Moment, event: Event) -> Result<String, String> {
        self.why_not(&event)?;
        let (mut text, number) = self.opening(at);
        text.push_str(&line(&Entry { number, at, event }));
        Ok(text)
    }

    /// What stands before the first of the entries that are appended, and the number of that.
    pub(super) fn opening(&self, at: Moment) -> (String, u64) {
        let mut text = if self.open { "\n".to_owned() } else { String::new() };
        let mut number = self.next_number();
        if !self.torn.is_empty() {
            let lines = self.torn.iter().map(|torn| torn.line).collect();
            text.push_str(&line(&Entry { number, at, event: Event::Recovered { lines } }));
            number += 1;
        }
        (text, number)
    }
}
