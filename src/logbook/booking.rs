//! The entries of a logbook, booked one after the other.

use super::entry::amounts;
use super::ledger::Open;
use super::model::Predict;
use super::state::Turned;
use super::tank::Tank;
use super::uptake::Patterns;
use super::{Entry, Event, Logbook, MeterBy, Moment, Slip, State};
use crate::matter::{NUTRIENTS, Nutrients};

/// A level this fraction over the bookkeeping is told: own choice, the usual plus/minus of a tank's volume.
const LEVEL_OFF: f64 = 0.02;

/// Volumes within this share are one: a logbook keeps nine digits.
const SAME: f64 = 1e-7;

/// The meter's factor is learnt where no more than this share of the tank was held back: what was held is only as sure as the
/// readings before, and would pull the factor towards theirs. Own choice.
const MOST_HELD: f64 = 0.25;
/// True where so little of a tank was held back that its meter is held against it anew, L.
pub(crate) fn is_renewed(held_l: f64, volume_l: f64) -> bool {
    held_l <= MOST_HELD * volume_l
}

/// So little water, a share of the tank, leaves the pH as it was read: own choice.
const NEXT_TO_NOTHING: f64 = 0.02;

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
///     Event::Filled { volume_l: 60.0, held_back_l: 0.0, formula: None, hold_at_most_days: None, salts_g: [].into(), bottles_ml: [].into(), ppm };
/// let mut text = Logbook::empty().append(at, filled)?;
/// let logbook = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
/// text += &logbook.append(at, Event::ToppedUp { volume_l: 12.0, level_after_l: None, ppm: [].into() })?;
/// let logbook = Logbook::parse(text.as_bytes(), &[]).map_err(|damage| damage.to_string())?;
/// let state = state_at(&logbook, at, &Patterns::standard(), &|_: &bloomsalt::matter::Nutrients| None);
/// let ppm = state.tank.and_then(|tank| tank.ppm_on(Track::Likely)).unwrap();
/// assert!((ppm[Nutrient::N] - 30.0).abs() < 1e-9);
/// # Ok::<(), String>(())
/// ```
#[must_use]
pub fn state_at(logbook: &Logbook, at: Moment, patterns: &Patterns, predict: &dyn Predict) -> State {
    let standing = logbook.standing();
    let entries: Vec<&Entry> = standing.iter().copied().filter(|entry| entry.at <= at).collect();
    State { later: standing.len() - entries.len(), ..state_of(&entries, at, patterns, predict) }
}

/// What entries in the order of their time say of the tank at a moment that none of them is later than.
pub(super) fn state_of(entries: &[&Entry], at: Moment, patterns: &Patterns, predict: &dyn Predict) -> State {
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
        added: None,
        ph_stands: false,
        ph_before: None,
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

impl State {
    /// Volume and masses.
    fn content(&mut self, entry: &Entry, patterns: &Patterns, predict: &dyn Predict) {
        match &entry.event {
            Event::Filled { volume_l, held_back_l, formula, ppm, .. } => {
                self.fill(entry.at, *volume_l, *held_back_l, &amounts(ppm), patterns);
                self.brought(entry.number, formula.as_ref());
                return;
            }
            Event::Reading { .. } => self.read(entry),
            _ => {}
        }
        let Some(tank) = self.tank else {
            if entry.event.is_of_content() && !matches!(entry.event, Event::Reading { .. }) {
                self.slips.push(Slip::NotFilled { entry: entry.number });
            }
            return;
        };
        if matches!(entry.event, Event::Done { .. }) {
            self.job(entry, tank, patterns, predict);
        } else {
            self.step(entry, tank, patterns, predict);
        }
    }

    /// The formula that an entry filled the tank to, or turned it over to.
    fn brought(&mut self, entry: u64, formula: Option<&String>) {
        self.formula = formula.cloned();
        self.begun = Some((entry, formula.cloned()));
    }

    /// What meters showed, kept as the last of its kind.
    fn read(&mut self, entry: &Entry) {
        let Event::Reading { ec_ms_cm, ph, temperature_c, level_l } = &entry.event else { return };
        let read = |value: &Option<f64>, last: &mut Option<(Moment, f64)>| {
            *last = value.map(|value| (entry.at, value)).or(*last);
        };
        if ph.is_some() {
            self.ph_before = self.ph.filter(|_| self.ph_stands);
        }
        read(ec_ms_cm, &mut self.ec);
        read(ph, &mut self.ph);
        read(temperature_c, &mut self.temperature);
        read(level_l, &mut self.level);
        self.ph_stands |= ph.is_some();
    }

    /// A recipe that was done whole, step by step; so much let out and filled in is a filling, whatever the job was called.
    fn job(&mut self, entry: &Entry, mut tank: Tank, patterns: &Patterns, predict: &dyn Predict) {
        let Event::Done { formula, level_before_l, drained_l, filled_l, .. } = &entry.event else { return };
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
        let (Some(done), Some(open)) = (self.tank, &self.open) else { return };
        let held_l = (tank.volume_l - drained_l).max(0.0);
        let left_mg = open.all_left_mg(entry.at, self.carried_on(entry.at), patterns);
        let done = Tank { left_mg, ..done };
        let was = self.turned.as_ref().map(|turned| &turned.formula).or(self.formula.as_ref());
        if is_renewed(held_l, done.volume_l) {
            self.begin_anew(entry.at, &done, held_l);
            self.brought(entry.number, formula.as_ref());
        } else if let Some(formula) = formula.as_ref().filter(|formula| was != Some(formula)) {
            self.turned = Some(Turned { at: entry.at, formula: formula.clone(), tank: done });
            self.begun = Some((entry.number, Some(formula.clone())));
        }
    }

    /// What goes into or out of a tank that was filled, or is read or found in it.
    fn step(&mut self, entry: &Entry, mut tank: Tank, patterns: &Patterns, predict: &dyn Predict) {
        match &entry.event {
            Event::Added { mg, salts_g, .. } => {
                self.ph_stands = false;
                self.added = Some((entry.at, salts_g.keys().cloned().collect()));
                self.moved(entry.at, &mut tank, 1.0, &amounts(mg));
            }
            Event::ToppedUp { volume_l, level_after_l, ppm } => {
                self.ph_stands &= *volume_l <= NEXT_TO_NOTHING * tank.volume_l;
                if let Some(after) = level_after_l {
                    self.level = Some((entry.at, *after));
                    self.set_level(entry, &mut tank, after - volume_l);
                }
                self.moved(entry.at, &mut tank, 1.0, &amounts(ppm).scaled(*volume_l));
                tank.volume_l += volume_l;
                tank.water_l += volume_l;
            }
            Event::Drained { volume_l } => {
                self.evaporate(entry.at, &mut tank);
                let most = (tank.volume_l - tank.held_back_l).max(0.0);
                // as much as the tank and what stays behind: that was rinsed out as well
                let rinsed = (*volume_l - tank.volume_l).abs() <= SAME * tank.volume_l;
                let out = if rinsed { tank.volume_l } else { volume_l.min(most) };
                if !rinsed && *volume_l > most + LEVEL_OFF * tank.volume_l {
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
        // before the first filling medium and pipes hold water that brings nothing
        let nothing = Tank {
            volume_l: 0.0,
            held_back_l: 0.0,
            water_l: 0.0,
            booked_mg: Nutrients::default(),
            left_mg: [Nutrients::default(); 3],
        };
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
            water_l: volume_l + stays * old.water_l,
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
        let renewed = is_renewed(held_l, tank.volume_l);
        self.known = renewed.then_some((at, MeterBy::Filling));
        if renewed {
            (self.meter_factor, self.meter_by) = (1.0, None);
        }
        self.reckoned = None;
        self.ph_stands = false;
        self.added = None;
        (self.lost_l, self.supposed_l, self.lost_until) = (0.0, 0.0, None);
        self.analysed = [None; NUTRIENTS.len()];
    }

    /// A share of everything stays, and something comes in, mg.
    fn moved(&mut self, at: Moment, tank: &mut Tank, kept: f64, brought_mg: &Nutrients) {
        tank.water_l *= kept;
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
}
