//! A cycle on the calendar: growth, push, hold, back to growth and ripening, for one tank or for groups started apart.
//!
//! Every date rests on the grower's own figures. Nothing here says that a plant keeps to them.

mod bottles;
mod crossing;
mod dates;
mod follow;
mod meeting;
mod record;
mod renewal;
mod renewal_record;
mod search;
mod shopping;
mod starts;
mod watch;
mod window;

use uom::si::volume::liter as in_liters;

pub use crossing::{BestStart, CrossingStep, CrossingWork, GroupStart, Meets, StartsProof};
pub use record::{
    BottlePlan, CycleMix, CycleRecord, Fill, FillReason, GroupDates, HoldDates, Meeting, PhaseDates, SaltTotal, TankPlan,
};
pub use renewal::FromLogbooks;
pub use renewal_record::{LearntRecord, Renewal, RenewalEnd, RenewalFrom};
pub use window::Window;

use self::dates::days_to_push;
pub(super) use self::dates::renewal_day;
use self::follow::Standing;
pub(super) use self::follow::renewed;
use self::renewal::{Fresh, Pacing, renewal};
use self::starts::Flowering;
use crate::bench::{Bench, Cycle, Group, PhaseKind};
use crate::catalogue::SaltId;
use crate::jobs::engine::blend::as_filled;
use crate::jobs::engine::bottle_names::named;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::error::JobError;
use crate::jobs::record::handling::{Minded, minded, sources};
use crate::jobs::souring_steps;
use crate::logbook::Logbook;
use crate::matter::{Nutrients, Salt};
use crate::quantity::{Date, Volume};
use crate::safety::{self, Finding};

/// The day from which a cycle is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Begin {
    /// The first day of the first phase.
    On(Date),
    /// The day on which the first flower of any group should open; the start is counted back from it.
    FlowersOn(Date),
}

/// The plan of a cycle: dates, what to mix when, which pollen meets which stigmas, totals and shopping.
///
/// * `told`: logbooks, by which a tank is renewed before its `renew_every` is over where it would have run down; that of the
///   first tank tells the pace of those that have none. A plan that has begun follows them: what a tank was turned over to, and
///   when, is its phase, and what is still to come is counted from now on
///
/// The mixes are reckoned as though the shelf were full; what it lacks stands in the shopping list.
///
/// # Errors
/// [`JobError`]: no `[cycle]`, no group to count back from, or a mix that cannot be made; of several tanks one of which nothing
/// can be measured is a finding, and the others are planned.
///
/// # Examples
/// ```
/// use bloomsalt::{bench::{Bench, STARTER}, jobs::{self, Begin}, quantity::Date};
/// let plan = "[cycle]\nrenew_every = \"14 days\"\npush = { formula = \"push\", lasts = \"21 days\" }\n";
/// let bench = Bench::parse(&format!("{STARTER}\n{plan}"), "bench.toml")?;
/// let cycle = jobs::cycle(&bench, Begin::On(Date::parse("2027-12-20")?), None)?;
/// assert_eq!(cycle.end.to_string(), "2028-01-09");
/// assert_eq!(cycle.tanks[0].fills.len(), 2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn cycle(bench: &Bench, begin: Begin, told: Option<FromLogbooks>) -> Result<CycleRecord, JobError> {
    let cycle = bench.cycle.as_ref().ok_or(JobError::NoCycle)?;
    let start = start(bench, cycle, begin)?;
    let told = Told::of(bench, cycle, told);
    let mut mixed = Mixed { bench, mixes: Vec::new(), contents: Vec::new(), waters: Vec::new() };
    let (tanks, unplanned) = tanks(cycle, start, &told, &mut mixed)?;
    let mixes = mixed.mixes;
    let feeds = |group: &Group| tanks.iter().find(|tank| tank.feeds.contains(&group.id));
    let pushed = |group: &Group| {
        let push = feeds(group)?.phases.iter().find(|phase| phase.phase == PhaseKind::Push.key());
        push.map(|phase| phase.days.from)
    };
    let dates = |group: &Group| dates::flowers(cycle, group, start.plus(group.starts_after.0), pushed(group));
    let groups: Vec<GroupDates> = bench.groups.iter().filter_map(dates).collect();
    let flowering: Vec<Flowering> = bench.groups.iter().zip(&groups).collect();
    let meetings: Vec<Meeting> =
        flowering.iter().flat_map(|giver| flowering.iter().map(|bearer| meeting::meeting(*giver, *bearer))).collect();
    let (best_start, best_start_own_tanks) = starts::best_starts(&flowering);
    let bottles = bottles::bottles(bench, &mixes, &tanks);
    let salts = shopping::shopping(bench, &mixes, &bottles);
    let end = tanks.iter().filter_map(last_day).max().unwrap_or(start);
    let more = watch::meet_more(best_start.as_ref(), best_start_own_tanks.as_ref());
    let mut findings = unplanned;
    findings.extend(watch::held(&tanks, &mixes));
    findings.extend(watch::groups(&|group| feeds(group).and_then(last_day), &flowering, &meetings, more));
    findings.extend(told.findings());
    let counted_from = told.counted_from(start);
    findings.extend(tanks.iter().flat_map(watch::run_down_sooner));
    findings.sort_by_key(|finding| finding.severity);
    let told: Vec<Finding> = findings.iter().chain(mixes.iter().flat_map(|mix| &mix.findings)).cloned().collect();
    let named: Vec<&Finding> = told.iter().collect();
    let Minded { salts: known, handling, cautions, sources: caution_sources } =
        minded(bench, handled(bench, &salts, &bottles), &named, &[]);
    Ok(CycleRecord {
        version: 1,
        job: "cycle".to_owned(),
        bench: bench.name.clone(),
        start: begins(&tanks, start),
        end,
        counted_from,
        renew_on: cycle.renew_on.iter().map(ToString::to_string).collect(),
        cost: tanks.iter().flat_map(|tank| &tank.fills).map(|fill| fill.cost).sum(),
        shopping_cost: shopping::cost(&salts),
        no_price: shopping::no_price(&salts),
        sources: sources(bench, &known, &told, &caution_sources),
        tanks,
        mixes,
        bottles,
        crossing: meeting::crossing(&flowering, &meetings),
        groups,
        meetings,
        best_start,
        best_start_own_tanks,
        salts,
        findings,
        handling,
        cautions,
    })
}

/// The first day of the plan: a group may start before the tank of the bench.
fn begins(tanks: &[TankPlan], start: Date) -> Date {
    tanks.iter().filter_map(|tank| tank.phases.first()).map(|phase| phase.days.from).fold(start, Date::min)
}

/// Every salt that is handled: weighed, or in a bottle that is there.
fn handled<'b>(bench: &'b Bench, salts: &[SaltTotal], bottles: &[BottlePlan]) -> Vec<&'b Salt> {
    let mut handled: Vec<SaltId> = salts.iter().filter_map(|total| bench.catalogue.find(&total.salt)).collect();
    handled.extend(bottles::salts_there(bench, bottles));
    handled.sort_unstable();
    handled.dedup();
    handled.into_iter().map(|salt| bench.catalogue.salt(salt)).collect()
}

/// The bench and the beginning with which every group starts as is best for all of them, with the tanks that they have.
///
/// # Errors
/// [`JobError`]: no `[cycle]`, or no group to count back from.
///
/// Reference: `docs/cycle.md`.
pub fn on_best_start(bench: &Bench, begin: Begin) -> Result<(Bench, Begin), JobError> {
    let cycle = bench.cycle.as_ref().ok_or(JobError::NoCycle)?;
    let start = start(bench, cycle, begin)?;
    let dates = |group: &Group| dates::flowers(cycle, group, start.plus(group.starts_after.0), None);
    let groups: Vec<GroupDates> = bench.groups.iter().filter_map(dates).collect();
    let flowering: Vec<Flowering> = bench.groups.iter().zip(&groups).collect();
    let Some(best) = starts::best_start(&flowering, false) else { return Ok((bench.clone(), begin)) };
    let groups = starts::started(&bench.groups, &best);
    let counted_from = best.starts.first().map_or(start, |first| first.starts_on.plus(-first.starts_after_days));
    // a day of the first flower stays: the new start is counted back from it
    let begin = if matches!(begin, Begin::On(_)) { Begin::On(counted_from) } else { begin };
    Ok((Bench { groups, ..bench.clone() }, begin))
}

/// The first day of the cycle of the bench.
fn start(bench: &Bench, cycle: &Cycle, begin: Begin) -> Result<Date, JobError> {
    let to_flower = |group: &Group| group.starts_after.0 + days_to_push(cycle) + group.days_to_flower.0;
    match begin {
        Begin::On(day) => Ok(day),
        Begin::FlowersOn(day) => {
            let first = bench.groups.iter().map(to_flower).min().ok_or(JobError::NoFlowering)?;
            Ok(day.plus(-first))
        }
    }
}

/// A tank before anything is planned for it.
struct Tank {
    id: Option<String>,
    group: Option<String>,
    feeds: Vec<String>,
    volume: Volume,
    start: Date,
}

/// The mixes of a plan, one for each formula and volume.
struct Mixed<'a> {
    bench: &'a Bench,
    mixes: Vec<CycleMix>,
    /// What each holds.
    contents: Vec<Nutrients>,
    /// What the water of each brings.
    waters: Vec<Nutrients>,
}

impl Mixed<'_> {
    /// The position of a mix; it joins the others when it is not among them.
    fn of(&mut self, formula: &str, volume: Volume) -> Result<usize, JobError> {
        let volume_l = volume.get::<in_liters>();
        let same = |mix: &CycleMix| mix.formula == formula && mix.volume_l.total_cmp(&volume_l).is_eq();
        if let Some(at) = self.mixes.iter().position(same) {
            return Ok(at);
        }
        // whatever is on hand
        let mut full = self.bench.clone().with_tank(volume);
        for stock in &mut full.shelf {
            stock.on_hand = None;
        }
        for mix in &self.mixes {
            full.named = named(&full, &mix.helpers);
        }
        let mix = super::mix(&full, formula, &MixOptions::default())?;
        self.contents.push(mix.content_ppm());
        self.waters.push(as_filled(&full, &mix.waters).water.nutrients);
        self.mixes.push(CycleMix {
            formula: formula.to_owned(),
            volume_l: mix.volume_l,
            times: 0,
            souring: souring_steps(&mix.order, &mix.doses).into_iter().cloned().collect(),
            doses: mix.doses,
            waters: mix.waters,
            helpers: mix.helpers,
            ec_ms_cm: mix.ec_ms_cm,
            ec_plus_minus_ms_cm: mix.ec_plus_minus_ms_cm,
            meter_scale: mix.meter_scale,
            ph: mix.ph,
            ph_low: mix.ph_low,
            ph_high: mix.ph_high,
            cost: mix.cost,
            findings: mix.findings,
        });
        Ok(self.mixes.len() - 1)
    }

    /// Takes out what joined since there were so many.
    fn forget_from(&mut self, known: usize) {
        self.mixes.truncate(known);
        self.contents.truncate(known);
        self.waters.truncate(known);
    }
}

/// The plan of every tank, that of the bench first. One of which nothing can be measured is told and left out, unless it is
/// so with all of them.
fn tanks(cycle: &Cycle, start: Date, told: &Told, mixed: &mut Mixed) -> Result<(Vec<TankPlan>, Vec<Finding>), JobError> {
    let bench = mixed.bench;
    let mut owned: Vec<Tank> = Vec::new();
    let on_bench: Vec<&Group> = bench.groups.iter().filter(|group| group.tank.is_none()).collect();
    if bench.groups.is_empty() || !on_bench.is_empty() {
        let feeds = on_bench.iter().map(|group| group.id.clone()).collect();
        let id = bench.tanks.iter().find(|(_, tank)| *tank == bench.tank).map(|(id, _)| id.clone());
        owned.push(Tank { id, group: None, feeds, volume: bench.tank.volume, start });
    }
    for group in &bench.groups {
        let Some(volume) = group.tank else { continue };
        let (id, start) = (group.id.clone(), start.plus(group.starts_after.0));
        owned.push(Tank { id: group.tank_id.clone(), group: Some(id.clone()), feeds: vec![id], volume, start });
    }
    let (mut tanks, mut left_out, mut refusal) = (Vec::new(), Vec::new(), None);
    for own in owned {
        let (group, known) = (own.group.clone(), mixed.mixes.len());
        match tank(cycle, own, told, mixed) {
            Ok(plan) => tanks.push(plan),
            Err(error @ JobError::NothingMeasurable { .. }) => {
                mixed.forget_from(known);
                // the doses that are too small are those of its mix
                let why = error.to_string().lines().next().unwrap_or_default().to_owned();
                left_out.push(safety::tank_not_measurable(group.as_deref(), &why, &error.help().unwrap_or_default()));
                refusal.get_or_insert(error);
            }
            Err(error) => return Err(error),
        }
    }
    match refusal {
        Some(error) if tanks.is_empty() => Err(error),
        _ => Ok((tanks, left_out)),
    }
}

/// The plan of one tank.
fn tank(cycle: &Cycle, own: Tank, told: &Told, mixed: &mut Mixed) -> Result<TankPlan, JobError> {
    let Tank { id, group, feeds, volume, start } = own;
    let volume_l = volume.get::<in_liters>();
    let (pacing, is_own) = told.pacing(id.as_deref(), group.is_some());
    let mut renewals: Vec<Renewal> = Vec::new();
    for phase in &cycle.phases {
        let mix = mixed.of(&phase.formula, volume)?;
        let (ppm, water, formula) = (&mixed.contents[mix], &mixed.waters[mix], phase.formula.as_str());
        let fresh = Fresh { formula, ppm, water, volume_l, own_tank: group.is_some() && !is_own };
        renewals.push(renewal(mixed.bench, pacing, fresh, phase.renew_every));
    }
    let planned = dates::phases(cycle, start, renewals);
    let standing = told.standing(id.as_deref(), group.is_some(), volume).filter(|standing| start <= standing.today);
    let (phases, turn_overdue_since) = match &standing {
        Some(standing) => follow::followed(planned, standing),
        None => (planned, None),
    };
    let mut fills: Vec<Fill> = Vec::new();
    let counted_from = told.counted_from(start);
    // of a tank without a logbook what the plan had is taken to be done
    let to_come = |fill: &dates::FillDate| counted_from.is_none_or(|from| from <= fill.date);
    for fill in dates::fills(&phases, &cycle.renew_on, standing.as_ref()).into_iter().filter(to_come) {
        let mix = mixed.of(fill.formula, volume)?;
        mixed.mixes[mix].times += 1;
        fills.push(Fill {
            date: fill.date,
            reason: fill.reason,
            formula: fill.formula.to_owned(),
            mix,
            days: fill.days,
            renew_days: fill.renew_days,
            renew_from: fill.renew_from,
            cost: mixed.mixes[mix].cost,
        });
    }
    let holds = dates::holds(mixed.bench, &phases);
    Ok(TankPlan { tank: id, group, feeds, volume_l, holds, phases, fills, turn_overdue_since })
}

/// What logbooks tell of the tanks of a plan.
struct Told<'a> {
    bench: &'a Bench,
    from: Option<FromLogbooks<'a>>,
    /// The pace of each, the first of the bench first.
    paces: Vec<(Option<&'a str>, Pacing<'a>)>,
}

impl<'a> Told<'a> {
    fn of(bench: &'a Bench, cycle: &Cycle, from: Option<FromLogbooks<'a>>) -> Self {
        let first = bench.tanks.first().map(|(id, _)| id.as_str());
        let of = |logbook: &'a Logbook, from| (logbook.tank().or(first), Pacing::of(bench, cycle, logbook, from));
        let mut paces: Vec<_> =
            from.iter().flat_map(|from| from.logbooks.iter().map(|logbook| of(logbook, *from))).collect();
        paces.sort_by_key(|(id, _)| *id != first);
        Self { bench, from, paces }
    }

    /// True for a logbook of the tank of a plan.
    ///
    /// * `named`: the tank that it is of
    fn is_of(&self, named: Option<&str>, id: Option<&str>, of_group: bool) -> bool {
        let first = self.bench.tanks.first().map(|(id, _)| id.as_str());
        // the tank of a group without an id has no logbook
        if of_group { id.is_some() && named == id } else { named == id.or(first) }
    }

    /// The pace of a tank, and true where it is by its own logbook.
    fn pacing(&self, id: Option<&str>, of_group: bool) -> (Option<&Pacing<'a>>, bool) {
        let tells = |pacing: &Pacing| !pacing.learnt.paces.is_empty();
        let own = self.paces.iter().find(|(named, _)| self.is_of(*named, id, of_group));
        match own.filter(|(_, pacing)| tells(pacing)) {
            Some((_, pacing)) => (Some(pacing), true),
            None => (self.paces.iter().map(|(_, pacing)| pacing).find(|pacing| tells(pacing)), false),
        }
    }

    /// A tank as its own logbook has it.
    fn standing(&self, id: Option<&str>, of_group: bool, volume: Volume) -> Option<Standing> {
        let from = self.from?;
        let first = self.bench.tanks.first().map(|(id, _)| id.as_str());
        let logbook = from.logbooks.iter().find(|logbook| self.is_of(logbook.tank().or(first), id, of_group))?;
        Some(Standing::of(&self.bench.clone().with_tank(volume), logbook, from))
    }

    /// The day from which fresh tanks are counted of a plan that has begun.
    fn counted_from(&self, start: Date) -> Option<Date> {
        self.from.map(|from| from.at.date()).filter(|today| start <= *today)
    }

    fn findings(&self) -> Vec<Finding> {
        let tells = self.paces.iter().any(|(_, pacing)| !pacing.learnt.paces.is_empty());
        let all = self.paces.iter().flat_map(|(_, pacing)| safety::of_learnt(&pacing.learnt, tells));
        let mut findings: Vec<Finding> = Vec::new();
        for finding in all {
            if !findings.contains(&finding) {
                findings.push(finding);
            }
        }
        findings
    }
}

fn last_day(tank: &TankPlan) -> Option<Date> {
    tank.phases.last().map(|phase| phase.days.to)
}
