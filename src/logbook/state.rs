//! What the entries say of the tank: volume and masses by bookkeeping, and what plants took by a model.

use super::ledger::{Interval, Open};
use super::model::Predict;
use super::tank::Tank;
use super::uptake::Patterns;
use super::{Amounts, Entry, Event, Logbook, MeterBy, Moment, Slip, nutrients};
use crate::matter::{NUTRIENTS, Nutrients};

/// A level this fraction over the bookkeeping is told: own choice, the usual plus/minus of a tank's volume.
const LEVEL_OFF: f64 = 0.02;
/// The meter's factor is learnt where no more than this share of the tank was held back: what was held is only as sure as the
/// readings before, and would pull the factor towards theirs. Own choice.
const MOST_HELD: f64 = 0.25;

/// A phase.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// Its name.
    pub name: String,
    /// When it began.
    pub since: Moment,
}

/// A formula that plants are fed without a break, whatever the phases are called that feed it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fed {
    /// Its name.
    pub formula: String,
    /// When they came to be fed it.
    pub since: Moment,
    /// How long they may be, days.
    pub hold_at_most_days: Option<f64>,
}

/// A formula, and how long it may be fed, days.
pub type Feeds = (String, Option<f64>);

/// A tank turned over to another formula without being filled anew.
#[derive(Debug, Clone)]
pub(super) struct Turned {
    pub(super) at: Moment,
    pub(super) formula: String,
    /// The tank right after it.
    pub(super) tank: Tank,
}

/// What an entry says of the course of the plants.
#[derive(Debug, Clone)]
enum Course {
    /// The tank was brought to a formula.
    Brought(String, Option<f64>),
    /// A phase began.
    Began(String, Option<f64>),
    /// Stalks were seen.
    Stalks,
}

/// What a logbook says of a tank at one moment.
#[derive(Debug, Clone)]
pub struct State {
    /// The moment.
    pub at: Moment,
    /// The tank; none before it was first filled.
    pub tank: Option<Tank>,
    /// When it was last filled.
    pub filled: Option<Moment>,
    /// The formula it was then mixed to.
    pub formula: Option<String>,
    /// The phase.
    pub phase: Option<Phase>,
    /// What plants were fed, one formula after the other; the last is what they are fed.
    pub fed: Vec<Fed>,
    /// When stalks were last seen since they are fed it.
    pub stalks: Option<Moment>,
    /// Last EC, mS/cm.
    pub ec: Option<(Moment, f64)>,
    /// Last pH.
    pub ph: Option<(Moment, f64)>,
    /// Last temperature, C.
    pub temperature: Option<(Moment, f64)>,
    /// Last level, L.
    pub level: Option<(Moment, f64)>,
    /// What the meter reads over what is predicted, from the first reading within a day of a filling that renewed three
    /// quarters of the tank at the least, or from a reading within a day of an analysis; 1 without.
    pub meter_factor: f64,
    /// What told the content for that reading.
    pub meter_by: Option<MeterBy>,
    /// Size of the uptake a day, by [`TRACKS`](super::TRACKS), where readings tell it.
    pub uptake_per_day: Option<[f64; 3]>,
    /// Water lost to leaves and air, L a day, where levels tell it.
    pub litres_per_day: Option<f64>,
    /// Days since the last EC reading or analysis for which the uptake is carried on.
    pub carried_on_days: f64,
    /// When a laboratory last found each nutrient, since the filling.
    pub analysed: [Option<Moment>; NUTRIENTS.len()],
    /// The ledger of uptake since the filling; uptake a day is the sum of uptake over the sum of days.
    pub intervals: Vec<Interval>,
    /// What does not fit.
    pub slips: Vec<Slip>,
    /// Entries that are dated later than the moment and do not count.
    pub later: usize,
    /// The tank right after it was last filled.
    pub(super) fresh: Option<Tank>,
    /// The entry that last filled the tank or turned it over, and the formula that it brought it to.
    pub(super) begun: Option<(u64, Option<String>)>,
    /// The last turn to another formula since the filling, where too little was renewed to be one.
    pub(super) turned: Option<Turned>,
    /// True when nothing went in since the last pH was read.
    pub(super) ph_stands: bool,
    /// When the content was last told without the meter, and by what; none where a reading was held against it since.
    pub(super) known: Option<(Moment, MeterBy)>,
    /// The last EC reading since the filling that was reckoned from: its entry, and what it read.
    pub(super) reckoned: Option<(Moment, u64, f64)>,
    /// Since the last anchor; none before the first filling.
    pub(super) open: Option<Open>,
    pub(super) lost_l: f64,
    /// Of that what no level has told yet.
    pub(super) supposed_l: f64,
    pub(super) lost_until: Option<Moment>,
    /// What the entries say of the course of the plants, in the order of their time.
    told: Vec<(Moment, Course)>,
}

/// What the entries up to `at` say of the tank.
///
/// * `patterns`: how fast plants take each nutrient
/// * `predict`: EC in mS/cm at 25 C of concentrations in ppm
///
/// Volume and masses are bookkeeping: every entry moves them linearly, a level sets the volume and moves no mass. Uptake is a
/// ledger of intervals, each from one anchor (the filling, an EC reading, an analysis) to the next: a reading sets the size
/// of the uptake on each track such that the predicted EC meets it, on the low track the reading less
/// [`METER_PLUS_MINUS`](super::METER_PLUS_MINUS), on the high track plus it; an analysis such that what it found is there. After the last anchor
/// uptake and loss of water are carried on at their mean pace since the filling. A first reading within a day of a filling
/// that renewed the tank, or of an analysis, says how the meter reads.
///
/// # Examples
/// ```
/// use bloomsalt::logbook::{Logbook, Event, Moment, Patterns, Track, state_at};
/// use bloomsalt::matter::Nutrient;
/// let at = Moment::parse("2026-10-03 18:30+02:00")?;
/// let ppm = [("N".to_owned(), 36.0)].into();
/// let filled =
///     Event::Filled { volume_l: 60.0, held_back_l: 0.0, formula: None, hold_at_most_days: None, salts_g: [].into(), ppm };
/// let mut text = Logbook::empty().append(at, filled)?;
/// let logbook = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
/// text += &logbook.append(at, Event::ToppedUp { volume_l: 12.0, level_after_l: None, ppm: [].into() })?;
/// let logbook = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
/// let state = state_at(&logbook, at, &Patterns::standard(), &|_| None);
/// let ppm = state.tank.and_then(|tank| tank.ppm_on(Track::Likely)).unwrap();
/// assert!((ppm[Nutrient::N] - 30.0).abs() < 1e-9);
/// # Ok::<(), String>(())
/// ```
#[must_use]
pub fn state_at(logbook: &Logbook, at: Moment, patterns: &Patterns, predict: Predict) -> State {
    let standing = logbook.standing();
    let entries: Vec<&Entry> = standing.iter().copied().filter(|entry| entry.at <= at).collect();
    State { later: standing.len() - entries.len(), ..state_of(&entries, at, patterns, predict) }
}

/// What entries in the order of their time say of the tank at a moment that none of them is later than.
pub(super) fn state_of(entries: &[&Entry], at: Moment, patterns: &Patterns, predict: Predict) -> State {
    let mut state = State {
        at,
        tank: None,
        filled: None,
        formula: None,
        phase: None,
        fed: Vec::new(),
        stalks: None,
        ec: None,
        ph: None,
        temperature: None,
        level: None,
        meter_factor: 1.0,
        meter_by: None,
        uptake_per_day: None,
        litres_per_day: None,
        carried_on_days: 0.0,
        analysed: [None; NUTRIENTS.len()],
        slips: Vec::new(),
        later: 0,
        fresh: None,
        begun: None,
        turned: None,
        ph_stands: false,
        intervals: Vec::new(),
        known: None,
        reckoned: None,
        open: None,
        lost_l: 0.0,
        supposed_l: 0.0,
        lost_until: None,
        told: Vec::new(),
    };
    // a filling that keeps nothing of the old solution makes all that was before it immaterial to the content
    let fresh = |entry: &&Entry| matches!(entry.event, Event::Filled { held_back_l, .. } if held_back_l == 0.0);
    let start = entries.iter().rposition(fresh).unwrap_or(0);
    for (position, entry) in entries.iter().enumerate() {
        state.course(entry);
        if position >= start {
            state.content(entry, patterns, predict);
        }
    }
    state.follow(&|phase| Some((phase.to_owned(), None)));
    state.carry_on(patterns);
    state
}

/// Amounts of an entry; those of a logbook have been checked.
pub(super) fn amounts(of: &Amounts) -> Nutrients {
    nutrients(of).unwrap_or_default()
}

impl State {
    /// What an entry says of the course of the plants.
    fn course(&mut self, entry: &Entry) {
        let told = match &entry.event {
            Event::Phase { phase, hold_at_most_days } => Course::Began(phase.clone(), *hold_at_most_days),
            Event::Filled { formula: Some(formula), hold_at_most_days, .. }
            | Event::Done { formula: Some(formula), hold_at_most_days, .. } => {
                Course::Brought(formula.clone(), *hold_at_most_days)
            }
            Event::StalksSeen {} => Course::Stalks,
            _ => return,
        };
        self.told.push((entry.at, told));
    }

    /// Phases, what is fed in them, and what was seen, reckoned anew.
    ///
    /// * `feeds`: the formula that a phase of that name feeds, and how long it may; none where it goes on with what is fed
    ///
    /// Phases that feed one formula after the other count together, and so do tanks that are brought to it again: how long it
    /// may be fed runs from the day on which plants came to be fed it.
    pub fn follow(&mut self, feeds: &dyn Fn(&str) -> Option<Feeds>) {
        (self.phase, self.stalks) = (None, None);
        self.fed.clear();
        for (at, told) in &self.told {
            let (feeds, begun) = match told {
                Course::Stalks => {
                    self.stalks = Some(*at);
                    continue;
                }
                Course::Brought(formula, hold) => (Some((formula.clone(), *hold)), None),
                Course::Began(phase, hold) => {
                    (feeds(phase).map(|(formula, usual)| (formula, hold.or(usual))), Some(phase.clone()))
                }
            };
            let turned = match (feeds, self.fed.last_mut()) {
                (Some((formula, hold)), Some(fed)) if fed.formula == formula => {
                    fed.hold_at_most_days = fed.hold_at_most_days.or(hold);
                    None
                }
                (Some((formula, hold_at_most_days)), _) => {
                    self.stalks = None;
                    self.fed.push(Fed { formula: formula.clone(), since: *at, hold_at_most_days });
                    Some(formula)
                }
                (None, _) => None,
            };
            // a phase that is called again goes on
            let name = begun.or(turned).filter(|name| self.phase.as_ref().is_none_or(|phase| phase.name != *name));
            if let Some(name) = name {
                self.phase = Some(Phase { name, since: *at });
            }
        }
    }

    /// Volume and masses.
    fn content(&mut self, entry: &Entry, patterns: &Patterns, predict: Predict) {
        match &entry.event {
            Event::Filled { volume_l, held_back_l, formula, ppm, .. } => {
                self.fill(entry.at, *volume_l, *held_back_l, &amounts(ppm), patterns);
                self.formula.clone_from(formula);
                self.begun = Some((entry.number, formula.clone()));
                return;
            }
            Event::Reading { ec_ms_cm, ph, temperature_c, level_l } => {
                let read = |value: &Option<f64>, last: &mut Option<(Moment, f64)>| {
                    *last = value.map(|value| (entry.at, value)).or(*last);
                };
                read(ec_ms_cm, &mut self.ec);
                read(ph, &mut self.ph);
                read(temperature_c, &mut self.temperature);
                read(level_l, &mut self.level);
                self.ph_stands |= ph.is_some();
            }
            _ => {}
        }
        if let (Some(mut tank), Event::Done { formula, level_before_l, drained_l, filled_l, .. }) = (self.tank, &entry.event)
        {
            match level_before_l {
                Some(before) => {
                    self.set_level(entry, &mut tank, *before);
                    self.level = Some((entry.at, before - drained_l + filled_l));
                }
                None => self.evaporate(entry.at, &mut tank),
            }
            self.tank = Some(tank);
            for event in entry.event.steps() {
                self.content(&Entry { number: entry.number, at: entry.at, event }, patterns, predict);
            }
            // so much let out and filled in is a filling, whatever the job was called
            let held_l = (tank.volume_l - drained_l).max(0.0);
            if let (Some(done), Some(open)) = (self.tank, &self.open) {
                let left_mg = open.all_left_mg(entry.at, self.carried_on(entry.at), patterns);
                let done = Tank { left_mg, ..done };
                let was = self.turned.as_ref().map(|turned| &turned.formula).or(self.formula.as_ref());
                if held_l <= MOST_HELD * done.volume_l {
                    self.begin_anew(entry.at, &done, held_l);
                    self.formula.clone_from(formula);
                    self.begun = Some((entry.number, formula.clone()));
                } else if let Some(formula) = formula.as_ref().filter(|formula| was != Some(formula)) {
                    self.turned = Some(Turned { at: entry.at, formula: formula.clone(), tank: done });
                    self.begun = Some((entry.number, Some(formula.clone())));
                }
            }
            return;
        }
        let Some(mut tank) = self.tank else {
            if entry.event.is_of_content() && !matches!(entry.event, Event::Reading { .. }) {
                self.slips.push(Slip::NotFilled { entry: entry.number });
            }
            return;
        };
        match &entry.event {
            Event::Added { mg, .. } => {
                self.ph_stands = false;
                self.moved(entry.at, &mut tank, 1.0, &amounts(mg));
            }
            Event::ToppedUp { volume_l, level_after_l, ppm } => {
                self.ph_stands = false;
                if let Some(after) = level_after_l {
                    self.level = Some((entry.at, *after));
                    self.set_level(entry, &mut tank, after - volume_l);
                }
                self.moved(entry.at, &mut tank, 1.0, &amounts(ppm).scaled(*volume_l));
                tank.volume_l += volume_l;
            }
            Event::Drained { volume_l } => {
                self.evaporate(entry.at, &mut tank);
                let most = (tank.volume_l - tank.held_back_l).max(0.0);
                let out = volume_l.min(most);
                if *volume_l > most + LEVEL_OFF * tank.volume_l {
                    self.slips.push(Slip::DrainedMore { entry: entry.number, volume_l: *volume_l, booked_l: most });
                }
                let kept = if tank.volume_l > 0.0 { 1.0 - out / tank.volume_l } else { 1.0 };
                self.moved(entry.at, &mut tank, kept, &Nutrients::default());
                tank.volume_l -= out;
            }
            Event::Reading { ec_ms_cm, level_l, .. } => {
                if let Some(level) = level_l {
                    self.set_level(entry, &mut tank, *level);
                }
                if let Some(ec) = ec_ms_cm {
                    self.take_up(entry, &tank, *ec, patterns, predict);
                }
            }
            Event::Analysis { ppm } => self.analyse(entry.at, &tank, ppm, patterns, predict),
            _ => {}
        }
        self.tank = Some(tank);
    }

    fn fill(&mut self, at: Moment, volume_l: f64, held_back_l: f64, ppm: &Nutrients, patterns: &Patterns) {
        let nothing =
            Tank { volume_l: 0.0, held_back_l: 0.0, booked_mg: Nutrients::default(), left_mg: [Nutrients::default(); 3] };
        // before the first filling medium and pipes hold water that brings nothing
        let mut old = self.tank.unwrap_or(nothing);
        self.evaporate(at, &mut old);
        let stays = if old.volume_l > 0.0 { (held_back_l / old.volume_l).min(1.0) } else { 0.0 };
        let old_mg = self.open.as_ref().map_or(old.left_mg, |open| open.all_left_mg(at, self.carried_on(at), patterns));
        let refilled = |mg: &Nutrients| {
            let mut mg = mg.scaled(stays);
            mg.add(ppm, volume_l);
            mg
        };
        let tank = Tank {
            volume_l: volume_l + held_back_l,
            held_back_l,
            booked_mg: refilled(&old.booked_mg),
            left_mg: old_mg.map(|mg| refilled(&mg)),
        };
        self.begin_anew(at, &tank, held_back_l);
    }

    /// The tank as filled at `at`: a ledger of its own, and the meter held against it where it was renewed.
    ///
    /// * `held_l`: how much of it is old solution
    fn begin_anew(&mut self, at: Moment, tank: &Tank, held_l: f64) {
        self.open = Some(Open::new(at, tank.booked_mg, &tank.left_mg));
        self.tank = Some(*tank);
        self.fresh = self.tank;
        self.turned = None;
        self.filled = Some(at);
        self.intervals.clear();
        let renewed = held_l <= MOST_HELD * tank.volume_l;
        self.known = renewed.then_some((at, MeterBy::Filling));
        if renewed {
            (self.meter_factor, self.meter_by) = (1.0, None);
        }
        self.reckoned = None;
        self.ph_stands = false;
        (self.lost_l, self.supposed_l, self.lost_until) = (0.0, 0.0, None);
        self.analysed = [None; NUTRIENTS.len()];
    }

    /// A share of everything stays, and something comes in, mg.
    fn moved(&mut self, at: Moment, tank: &mut Tank, kept: f64, brought_mg: &Nutrients) {
        tank.booked_mg = tank.booked_mg.scaled(kept);
        tank.booked_mg.add(brought_mg, 1.0);
        if let Some(open) = &mut self.open {
            open.moved(at, kept, brought_mg);
        }
        // what came in no laboratory has found
        for nutrient in NUTRIENTS.into_iter().filter(|nutrient| brought_mg[*nutrient] > 0.0) {
            self.analysed[nutrient as usize] = None;
        }
    }

    /// What was lost since the last level is lost: solution that is let out then takes a share of what is really there.
    fn evaporate(&mut self, at: Moment, tank: &mut Tank) {
        let litres = self.litres_at(tank, at);
        self.supposed_l += tank.volume_l - litres;
        self.lost_l += tank.volume_l - litres;
        self.lost_until = self.lost_until.map(|until| until.max(at));
        tank.volume_l = litres;
    }

    /// The tank without what is held back stands at `level_l`; the difference was lost as water.
    fn set_level(&mut self, entry: &Entry, tank: &mut Tank, level_l: f64) {
        let volume_l = level_l + tank.held_back_l;
        if volume_l > (tank.volume_l + self.supposed_l) * (1.0 + LEVEL_OFF) {
            let booked_l = (tank.volume_l - tank.held_back_l).max(0.0);
            self.slips.push(Slip::LevelHigher { entry: entry.number, level_l, booked_l });
        }
        self.lost_l += tank.volume_l - volume_l;
        self.lost_until = Some(entry.at);
        self.supposed_l = 0.0;
        tank.volume_l = volume_l;
    }

    /// What could be drained right after the tank was last filled, L.
    #[must_use]
    pub fn fresh_l(&self) -> Option<f64> {
        self.fresh.map(|fresh| fresh.volume_l - fresh.held_back_l)
    }
}
