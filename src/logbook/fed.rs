//! The course of the plants: phases, the formulas that they are fed, and what was seen.

use super::state::Course;
use super::{Entry, Event, Fed, Feeds, Phase, State};

impl State {
    /// What an entry says of the course of the plants.
    pub(super) fn course(&mut self, entry: &Entry) {
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
}
