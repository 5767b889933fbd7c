//! What would bring a tank to a formula: salts to add as it stands, or litres to let out first.

use serde::Serialize;

use crate::bench::{Bench, Formula};
use crate::fit::{self, FitError, Solution, phi};
use crate::jobs::check::InTank;
use crate::jobs::engine::AS_GOOD;
use crate::jobs::engine::acid::answered;
use crate::jobs::engine::exact::exact_misfit;
use crate::jobs::engine::kept_apart;
use crate::jobs::engine::question::MixOptions;
use crate::jobs::engine::refuse::job_error;
use crate::jobs::engine::remainders::settle_bottles;
use crate::jobs::error::JobError;
use crate::jobs::mix::mix_in;
use crate::jobs::record::{Dose, Element, HelperRecord, MixRecord, Step, WaterRecord};
use crate::jobs::switch::Turn;
use crate::quantity::{gram, liter};
use crate::safety::{self, Code, Finding, Severity};
use crate::tank::parts::Part;
use crate::tank::{Content, Tank};

/// Which way of setting a tank right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub enum RemedyKind {
    /// Salts are added to it as it stands.
    #[serde(rename = "add now")]
    AddNow,
    /// The least is drained that comes close.
    #[serde(rename = "least waste")]
    LeastWaste,
    /// So much is drained as comes closest.
    #[serde(rename = "best fit")]
    BestFit,
}

/// One way of setting a tank right.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Remedy {
    /// `add now`, `least waste` or `best fit`.
    #[cfg_attr(feature = "schema", schemars(with = "String"))]
    pub kind: RemedyKind,
    /// What to drain first, L.
    pub drain_l: f64,
    /// What to fill in of the water, L.
    pub refill_l: f64,
    /// False where limits of the formula cannot be kept.
    pub possible: bool,
    /// Why not.
    pub why_not: Option<String>,
    /// Misfit after it, as measured out; null where it is not possible.
    pub misfit: Option<f64>,
    /// What to measure out, in the order in which it goes in.
    pub doses: Vec<Dose>,
    /// How it is done, step by step, as of a mix.
    pub order: Vec<Step>,
    /// Litres of each of several waters in what is filled in, as of a mix.
    pub waters: Vec<WaterRecord>,
    /// Dilute bottles that this takes.
    pub helpers: Vec<HelperRecord>,
    /// What the tank will hold.
    pub after: Vec<Element>,
    /// EC at 25 C after it, mS/cm; null where it is not possible.
    pub ec_ms_cm: Option<f64>,
    /// What speaks against it: stops, and a change of EC that is much at once.
    pub findings: Vec<Finding>,
}

/// What would set a tank right.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Remedies {
    /// False when every target is met within its give or take and every limit is kept: then nothing is proposed.
    pub needed: bool,
    /// True when adding alone comes as near to the formula as any draining would, within a misfit of 0.01.
    pub adding_is_enough: bool,
    /// The ways: where adding alone does not come close those that drain first, else nothing drained first.
    pub options: Vec<Remedy>,
}

/// Salts without which the misfit rises by less than this in all are not fetched (own choice; as near as least waste),
/// and what is gained on targets that are met within their give or take is no gain.
const NOT_WORTH_FETCHING: f64 = AS_GOOD;
/// To keep a limit the misfit may rise by so much: own choice, about a target that is missed by 22 %.
const LIMIT_WORTH: f64 = 1.0;
/// A drain of the best fit is told beside the least one from this share of the tank (own choice, as well as a tank is
/// usually known).
const ANOTHER_DRAIN: f64 = 0.02;
/// What is drained is told in such steps, L (own choice).
const DRAIN_STEP_L: f64 = 0.1;
/// A rise or fall of EC at once that is warned of, mS/cm: own choice, as when a tank is turned over.
const EC_STEP_MS_PER_CM: f64 = 0.5;

/// Ways to bring what a tank holds to a formula, for a full tank of which nothing stays behind.
///
/// * `shelf`: the bench that is weighed from; its water refills
/// * `tank`: the tank held against the formula
pub(crate) fn remedies(shelf: &Bench, formula: &Formula, holding: &Content, tank: &MixRecord) -> Result<Remedies, JobError> {
    if !is_off(tank) {
        return Ok(Remedies { needed: false, adding_is_enough: true, options: Vec::new() });
    }
    let turn = Turn::full(shelf, &formula.name, holding)?;
    let as_it_stands = {
        let here = turn.bench_at(0.0, &[])?;
        exact_misfit(&after(&turn, &here, 0.0)?, &formula.name, &mut None)?
    };
    let unfit = is_unfit(tank);
    let mut ways = if unfit { vec![(RemedyKind::LeastWaste, tank.volume_l)] } else { vec![(RemedyKind::AddNow, 0.0)] };
    // no drain comes nearer than a misfit of 0
    if as_it_stands > AS_GOOD && !unfit {
        let (best, misfit, least) = turn.best()?;
        let (best, least) = (in_steps(best, tank.volume_l), in_steps(least, tank.volume_l));
        if least > 0.0 {
            ways.push((RemedyKind::LeastWaste, least));
        }
        // where adding comes within 5 % of every target, draining may come nearer still
        let nearer = least > 0.0 || misfit < as_it_stands - AS_GOOD;
        if nearer && best - least > ANOTHER_DRAIN * tank.volume_l {
            ways.push((RemedyKind::BestFit, best));
        }
        // where adding leaves too much in it, what takes out stands first
        if least > 0.0 {
            ways.rotate_left(1);
        }
    }
    let mut options =
        ways.into_iter().map(|(kind, drain)| remedy(&turn, formula, kind, drain, tank)).collect::<Result<Vec<_>, _>>()?;
    // what rounding makes no better than the tank as it stands is no remedy
    if !breaks_limits(tank) {
        let now = tank.misfit.unwrap_or(f64::INFINITY);
        options.retain(|one| one.drain_l == 0.0 || one.misfit.is_none_or(|misfit| misfit < now - NOT_WORTH_FETCHING));
    }
    let adding_is_enough = options.len() == 1 && as_it_stands.is_finite() && !unfit;
    Ok(Remedies { needed: true, adding_is_enough, options })
}

/// True for what burns, gives off gas, or may do so: none of it stays.
fn is_unfit(tank: &MixRecord) -> bool {
    let codes = [Code::PhOutside, Code::MustNotMeet, Code::AlkalinityNotStated];
    tank.findings.iter().any(|finding| finding.severity == Severity::Stop && codes.contains(&finding.code))
}

/// True when a target is missed by more than its give or take, or a limit is not kept.
fn is_off(tank: &MixRecord) -> bool {
    let target = |e: &Element| e.target_ppm.is_some_and(|target| (e.ppm - target).abs() > e.plus_minus_ppm);
    tank.elements.iter().any(target) || breaks_limits(tank)
}

fn breaks_limits(tank: &MixRecord) -> bool {
    tank.findings.iter().any(|finding| [Code::LimitMissed, Code::EcOutside].contains(&finding.code))
}

/// Rounded up to what can be measured with a mark; a trifle is nothing.
fn in_steps(litres: f64, most: f64) -> f64 {
    if litres < 1e-6 { 0.0 } else { ((litres / DRAIN_STEP_L - 1e-9).ceil() * DRAIN_STEP_L).min(most) }
}

fn remedy(turn: &Turn, formula: &Formula, kind: RemedyKind, drain: f64, tank: &MixRecord) -> Result<Remedy, JobError> {
    let mut remedy = Remedy {
        kind,
        drain_l: drain,
        refill_l: drain,
        possible: false,
        why_not: None,
        misfit: None,
        doses: Vec::new(),
        order: Vec::new(),
        waters: Vec::new(),
        helpers: Vec::new(),
        after: Vec::new(),
        ec_ms_cm: None,
        findings: Vec::new(),
    };
    let made = || {
        let here = turn.bench_at(drain, &[])?;
        added(&after(turn, &here, drain)?, formula, met_anyway(formula, tank))
    };
    let after = match made() {
        Ok(after) => after,
        Err(
            error @ (JobError::Conflict { .. }
            | JobError::NothingToMixFrom { .. }
            | JobError::NothingMeasurable { .. }
            | JobError::NotEnoughWater { .. }),
        ) => {
            remedy.why_not = Some(error.in_a_line());
            return Ok(remedy);
        }
        Err(error) => return Err(error),
    };
    remedy.possible = true;
    remedy.misfit = after.misfit;
    remedy.findings = after.findings.into_iter().filter(|finding| finding.severity == Severity::Stop).collect();
    // what burns roots is not left half way
    let burns = |finding: &Finding| finding.code == Code::FeedTooStrong;
    if !tank.findings.iter().any(burns) && !is_unfit(tank) {
        remedy.findings.extend(safety::in_two_steps(tank.ec_ms_cm, after.ec_ms_cm, EC_STEP_MS_PER_CM));
    }
    remedy.ec_ms_cm = Some(after.ec_ms_cm);
    (remedy.doses, remedy.order, remedy.waters) = (after.doses, after.order, after.waters);
    (remedy.helpers, remedy.after) = (after.helpers, after.elements);
    Ok(remedy)
}

/// What targets that are met within their give or take add to the misfit of the tank.
fn met_anyway(formula: &Formula, tank: &MixRecord) -> f64 {
    let of = |e: &Element| {
        let target = e.target_ppm.filter(|target| (e.ppm - target).abs() <= e.plus_minus_ppm)?;
        let wish = formula.wishes.iter().find(|wish| wish.nutrient.symbol() == e.element)?;
        Some(wish.weight * phi((e.ppm - target) / target))
    };
    tank.elements.iter().filter_map(of).sum()
}

/// The tank after draining and refilling. There is room in what is filled in, and in a
/// full tank for as much as its volume may be off.
fn after<'x>(turn: &Turn, bench: &'x Bench, drain: f64) -> Result<Tank<'x>, JobError> {
    let mut tank = turn.after(bench, drain)?;
    let least = tank.bench.tank.plus_minus;
    if tank.room < least {
        tank.room = least;
    }
    Ok(tank)
}

/// A tank filled up with water, and what is to be added to it then: with water alone, and after.
///
/// * `level_l`, `held_back_l`: what is in it before, L
pub(crate) fn fill_and_add(
    bench: &Bench,
    formula: &Formula,
    holding: &Content,
    level_l: f64,
    held_back_l: f64,
) -> Result<(MixRecord, MixRecord), JobError> {
    let turn = Turn::full(bench, &formula.name, holding)?.standing_at(level_l, held_back_l);
    let here = turn.bench_at(0.0, &[])?;
    let tank = after(&turn, &here, 0.0)?;
    let before = nothing_added(&tank, formula)?;
    let after = added(&tank, formula, met_anyway(formula, &before))?;
    Ok((before, after))
}

fn nothing_added(tank: &Tank, formula: &Formula) -> Result<MixRecord, JobError> {
    InTank::new(tank.clone(), &[]).record(Some(formula), Vec::new(), None)
}

/// What is worth fetching mixed into a tank; nothing where it is as near to the formula without, limits and pH
/// left alone.
fn added(tank: &Tank, formula: &Formula, met_anyway: f64) -> Result<MixRecord, JobError> {
    let nothing = nothing_added(tank, formula)?;
    let Some(fewer) = worth_fetching(tank, formula, met_anyway)? else { return Ok(nothing) };
    let made = mix_in(&tank.with_shelf_of(&fewer), &formula.name, &MixOptions::default(), &[])?;
    let sours = tank
        .bench
        .acid
        .as_ref()
        .is_some_and(|acid| made.doses.iter().any(|dose| acid.salts.iter().any(|id| id == dose.id())));
    // of the last one that is left nobody asked yet whether it is worth it
    let gain = NOT_WORTH_FETCHING + met_anyway;
    let no_nearer = made.misfit.zip(nothing.misfit).is_none_or(|(made, nothing)| made >= nothing - gain);
    // a limit is not bought with targets that are then missed by far: what breaks it is told
    let far_off = made.misfit.zip(nothing.misfit).is_some_and(|(made, nothing)| made > nothing + LIMIT_WORTH);
    Ok(if far_off || no_nearer && !sours && !breaks_limits(&nothing) { nothing } else { made })
}

/// The bench with only what is worth fetching, so that no milligrams of everything make up for the last tenth of a per
/// cent; `None` when nothing is.
///
/// Of what the exact mix takes, what matters least goes first, as long as the misfit stays near the least. The limit of EC,
/// every look at which costs speciations, is left out until the end; where it does not bear what is left, all is kept.
///
/// * `met_anyway`: misfit of the tank that is within the give or take
fn worth_fetching(tank: &Tank, formula: &Formula, met_anyway: f64) -> Result<Option<Bench>, JobError> {
    let bench = tank.bench;
    let question = kept_apart::question(tank.clone(), formula, None)?;
    let mixture = &question.mixture;
    let closest = |kept: &[bool], limit_ec: bool, start: Option<&[f64]>| -> Result<Option<Solution>, JobError> {
        let mut problem = question.problem(mixture);
        problem.ec = problem.ec.filter(|_| limit_ec);
        for (column, _) in problem.columns.iter_mut().zip(kept).filter(|(_, kept)| !**kept) {
            column.forbid();
        }
        match answered(&question, &mut problem, start, fit::solve)? {
            Ok(answer) => Ok(Some(answer.solution)),
            Err(FitError::Conflict(_) | FitError::NothingToMixFrom) => Ok(None),
            Err(error) => Err(job_error(&question, &problem, error)),
        }
    };
    let mut settled = question.problem(mixture);
    settled.ec = None;
    settle_bottles(&question, &mut settled)?;
    let mut kept: Vec<bool> = settled.columns.iter().map(|column| !column.is_forbidden()).collect();
    let Some(free) = closest(&kept, false, None)? else { return Ok(Some(bench.clone())) };
    let near = |least: &Solution| least.misfit + NOT_WORTH_FETCHING + met_anyway;
    let problem = question.problem(mixture);
    let mut matters: Vec<(f64, usize)> = Vec::new();
    for (at, keep) in kept.iter_mut().enumerate().filter(|(at, _)| !question.acids.contains(at)) {
        // the pH decides on the acid, and what the exact mix leaves out is left out
        *keep = free.g_per_l[at] > 0.0;
        let mut without = free.g_per_l.clone();
        without[at] = 0.0;
        matters.push((problem.misfit(&problem.achieved_ppm(&without)), at));
    }
    matters.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (_, at) in matters {
        if !kept[at] {
            continue;
        }
        kept[at] = false;
        kept[at] = closest(&kept, false, Some(&free.g_per_l))?.is_none_or(|fewer| fewer.misfit > near(&free));
    }
    if problem.ec.is_some() {
        let all = closest(&vec![true; kept.len()], true, None)?;
        let held = closest(&kept, true, None)?;
        if all.is_none_or(|all| held.is_none_or(|held| held.misfit > near(&all))) {
            return Ok(Some(bench.clone()));
        }
    }
    if !kept.iter().enumerate().any(|(at, kept)| *kept && !question.acids.contains(&at)) {
        return Ok(None);
    }
    let mut fewer = bench.clone();
    for (part, _) in question.parts.list.iter().zip(&kept).filter(|(_, kept)| !**kept) {
        match part {
            Part::Salt(stock) => {
                fewer.shelf.iter_mut().filter(|one| one.salt == stock.salt).for_each(|one| one.on_hand = Some(gram(0.0)));
            }
            Part::Helper(helper) => fewer.helpers[*helper].left = Some(liter(0.0)),
        }
    }
    Ok(Some(fewer))
}
