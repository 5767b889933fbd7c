//! The course of the plants: phases, the formulas that they are fed, and what was seen.

use super::state::Course;
use super::{Entry, Event, Fed, Feeds, Moment, Phase, State};

impl State {
    /// What an entry says of the course of the plants.
    pub(super) fn course(&mut self, entry: &Entry) {
        let mut told = |course| self.told.push((entry.at, course));
        match &entry.event {
            Event::Filled { .. } => told(Course::LetOut(f64::INFINITY)),
            Event::Done { drained_l: out_l, .. } | Event::Drained { volume_l: out_l } => told(Course::LetOut(*out_l)),
            _ => {}
        }
        match &entry.event {
            Event::Phase { phase, hold_at_most_days } => told(Course::Began(phase.clone(), *hold_at_most_days)),
            Event::Filled { formula: Some(formula), hold_at_most_days, .. }
            | Event::Done { formula: Some(formula), hold_at_most_days, .. } => {
                told(Course::Brought(formula.clone(), *hold_at_most_days));
            }
            Event::StalksSeen {} => told(Course::Stalks),
            _ => {}
        }
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
                Course::LetOut(_) => continue,
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

    /// When the solution was last renewed: filled, turned over to another formula, or so much of it let out.
    ///
    /// * `least_l`: from how much on that renews it, L
    /// * `feeds`: as for [`State::follow`]
    #[must_use]
    pub fn renewed(&self, least_l: f64, feeds: &dyn Fn(&str) -> Option<Feeds>) -> Option<Moment> {
        let (mut renewed, mut fed) = (None, None);
        for (at, told) in &self.told {
            let named = match told {
                Course::LetOut(litres) => {
                    renewed = if *litres >= least_l { Some(*at) } else { renewed };
                    None
                }
                Course::Brought(formula, _) => Some(formula.clone()),
                Course::Began(phase, _) => feeds(phase).map(|(formula, _)| formula),
                Course::Stalks => None,
            };
            if named.is_some() && named != fed {
                (renewed, fed) = (Some(*at), named);
            }
        }
        renewed
    }
}
