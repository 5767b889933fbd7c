//! Rules of a cycle on the calendar. Every figure behind them is the grower's own.

use super::{Code, Finding};
use crate::quantity::{Date, WholeDays};

/// A formula that is fed without a break, and how long it may be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// The formula.
    pub formula: String,
    /// Id of the group whose own tank it is; `None` for the tank of the bench.
    pub group: Option<String>,
    /// The first day of it.
    pub from: Date,
    /// Days in the plan.
    pub days: i32,
    /// Days allowed.
    pub at_most_days: i32,
    /// The day on which another formula is due at the latest.
    pub back_by: Date,
}

impl Held {
    fn tank(&self) -> String {
        tank_of(self.group.as_deref())
    }
}

fn tank_of(group: Option<&str>) -> String {
    group.map_or_else(|| "the bench tank".to_owned(), |group| format!("the tank of `{group}`"))
}

/// Fires for a tank of which the scales and the syringe can measure nothing, beside others that are planned.
///
/// * `group`: id of the group whose own tank it is; `None` for the tank of the bench
/// * `why`, `help`: of the refusal of its mix
#[must_use]
pub fn tank_not_measurable(group: Option<&str>, why: &str, help: &str) -> Finding {
    let (first, rest) = help.split_at(help.chars().next().map_or(0, char::len_utf8));
    Finding::warning(
        Code::TankNotMeasurable,
        format!("No fresh tanks, bottles or shopping are planned for {}: {why}.", tank_of(group)),
    )
    .remedy(format!("{}{rest}.", first.to_uppercase()))
}

/// Fires when the plan feeds a formula for more days than its `hold_at_most`.
#[must_use]
pub fn held_too_long(held: &Held) -> Option<Finding> {
    (held.days > held.at_most_days).then(|| {
        Finding::warning(
            Code::HeldTooLong,
            format!(
                "`{}` is in {} for {}, longer than the {} that its own `hold_at_most` allows: back to growth by {}.",
                held.formula,
                held.tank(),
                WholeDays(held.days),
                WholeDays(held.at_most_days),
                held.back_by.long()
            ),
        )
        .remedy("Shorten the phases that feed it, or state a longer `hold_at_most` by your own experience.")
    })
}

/// The finding `nitrogen-low` of a mix again, with the day on which it has to end in every tank that is fed it.
///
/// * `held`: these, all of one formula
#[must_use]
pub fn nitrogen_low_until(low: &Finding, held: &[Held]) -> Finding {
    let each: Vec<String> = held
        .iter()
        .map(|held| format!("in {} from {}, back to growth by {}", held.tank(), held.from.long(), held.back_by.long()))
        .collect();
    let formula = held.first().map_or("", |held| held.formula.as_str());
    let message = format!("`{formula}`: {} In this plan: {}.", low.message, each.join("; "));
    Finding { message, ..low.clone() }.about(formula)
}

/// What would have more pairs of groups meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeetMore {
    /// Other starts, with the tanks that there are.
    Starts,
    /// Tanks of their own for groups on the tank of the bench.
    Tanks,
    /// No choice that was found.
    Neither,
}

/// Fires for groups of which no pollen meets a receptive stigma of the other, either way.
///
/// * `pairs`: their ids
#[must_use]
pub fn never_meet(pairs: &[(&str, &str)], more: MeetMore) -> Option<Finding> {
    let remedy = match more {
        MeetMore::Starts => "The best start has more groups meet; `bloomsalt cycle --best-start` plans by it.",
        MeetMore::Tanks => "From tanks of their own more groups could meet: the best start has it.",
        MeetMore::Neither => "No other choice of starts was found that has more groups meet.",
    };
    let named: Vec<String> = pairs.iter().map(|(one, other)| format!("`{one}` and `{other}`")).collect();
    (!named.is_empty()).then(|| {
        Finding::warning(
            Code::GroupsNeverMeet,
            format!("By your own figures no pollen meets a stigma of the other, either way: {}.", named.join(", ")),
        )
        .remedy(remedy.to_owned())
    })
}

/// Fires when the last seed of a group is ripe after the last day on which the plan feeds it.
#[must_use]
pub fn ripe_after_the_end(group: &str, ripe: Date, fed_to: Date) -> Option<Finding> {
    (ripe > fed_to).then(|| {
        Finding::note(
            Code::SeedRipensLater,
            format!(
                "By your own figures the last seed of `{group}` is ripe on {}, and the plan feeds it to {} only.",
                ripe.long(),
                fed_to.long()
            ),
        )
        .remedy("Make the last phase longer, or pollinate in the first days only.")
    })
}
