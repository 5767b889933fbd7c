//! What to know of a tank that a logbook tells of.

use super::{Achieved, Code, Facts, Finding, Severity, reads_too_far};
use crate::logbook::{Basis, Learnt, MeterBy, Slip, State, Track};
use crate::matter::Nutrient;
use crate::quantity::{Date, WholeDays, fixed, ppm_text};

/// An estimate carried on for more days than this is told: own choice.
const OLD_DAYS: f64 = 7.0;

/// A rule: everything of its finding but the numbers.
struct Rule {
    code: Code,
    severity: Severity,
    remedy: Option<&'static str>,
    /// Source id of the threshold; none where the finding is plain arithmetic.
    source: Option<&'static str>,
}

impl Rule {
    fn found(&self, message: String) -> Finding {
        Finding {
            remedy: self.remedy.map(str::to_owned),
            source: self.source.map(str::to_owned),
            ..Finding::new(self.code, self.severity, message)
        }
    }
}

const NOT_FILLED: Rule = Rule {
    code: Code::TankNotFilled,
    severity: Severity::Warning,
    remedy: Some("Enter the filling with its own time."),
    source: None,
};
const LEVEL_HIGHER: Rule = Rule {
    code: Code::LevelHigher,
    severity: Severity::Warning,
    remedy: Some("Enter the water that went in with its own time; until then it counts as water that brings nothing."),
    source: Some("own-choice"),
};
const DRAINED_MORE: Rule = Rule {
    code: Code::DrainedMore,
    severity: Severity::Warning,
    remedy: Some("Look for a filling or topping up that was not entered, or void it."),
    source: Some("own-choice"),
};
const FIRST_READING_OFF: Rule = Rule {
    code: Code::FirstReadingOff,
    severity: Severity::Warning,
    remedy: Some("Volume off, a salt left out or doubled, or the meter: measure the depth, calibrate, read again."),
    source: Some("own-choice"),
};
const EC_HIGHER: Rule = Rule {
    code: Code::EcNotExplained,
    severity: Severity::Warning,
    remedy: Some("Water was lost that no level tells, or salts went in that no entry tells: read the level."),
    source: Some("own-choice"),
};
const EC_LOWER: Rule = Rule {
    code: Code::EcNotExplained,
    severity: Severity::Warning,
    remedy: Some("Look for water that went in without an entry, or calibrate the meter and read again."),
    source: Some("own-choice"),
};
const NOT_PREDICTED: Rule = Rule {
    code: Code::EcNotPredicted,
    severity: Severity::Warning,
    remedy: Some("See whether an amount or a volume before it is a slip."),
    source: None,
};
const UNDER_FLOOR: Rule = Rule {
    code: Code::NitrogenUnderFloor,
    severity: Severity::Warning,
    remedy: Some("A fresh tank makes sure of it."),
    source: Some("own-choice"),
};
const MAYBE_UNDER_FLOOR: Rule = Rule {
    code: Code::NitrogenUnderFloor,
    severity: Severity::Note,
    remedy: Some("It was turned or filled by the likely figure, and what plants may have taken before is in the low one."),
    source: Some("own-choice"),
};
const HOLD_OVER: Rule =
    Rule { code: Code::HoldOver, severity: Severity::Warning, remedy: Some("Go back to growth now."), source: None };
const BACK_BY: Rule = Rule { code: Code::BackBy, severity: Severity::Note, remedy: None, source: None };
const UPTAKE_UNKNOWN: Rule = Rule {
    code: Code::UptakeUnknown,
    severity: Severity::Note,
    remedy: Some("Read the EC, and after a day or more again."),
    source: None,
};
const READING_OLD: Rule = Rule {
    code: Code::ReadingOld,
    severity: Severity::Note,
    remedy: Some("Read the EC and the level."),
    source: Some("own-choice"),
};
const LEVEL_UNKNOWN: Rule = Rule {
    code: Code::LevelUnknown,
    severity: Severity::Note,
    remedy: Some("Enter the level, or the level after topping up."),
    source: None,
};
const NOT_LEARNT: Rule = Rule {
    code: Code::RenewalNotLearnt,
    severity: Severity::Note,
    remedy: Some("Read the EC on the day of a filling and a week later, and enter both with the level."),
    source: None,
};
const RUNS_DOWN_SOONER: Rule = Rule {
    code: Code::MayRunDownSooner,
    severity: Severity::Warning,
    remedy: Some("Read the EC by then, or renew the tank on that day; only an analysis knows."),
    source: Some("own-choice"),
};
const DATED_LATER: Rule = Rule { code: Code::DatedLater, severity: Severity::Note, remedy: None, source: None };

const OVER_ITS_LIMIT: Rule = Rule {
    code: Code::OverItsLimit,
    severity: Severity::Warning,
    remedy: Some("Was an amount entered as weighed? If it was, drain and thin it: `switch` says how much."),
    source: None,
};

/// What a tank holds by its logbook, and what it is fed.
#[derive(Debug, Clone, Copy)]
pub struct InTank<'a> {
    /// Every nutrient, with the formula's limits.
    pub achieved: &'a [Achieved],
    /// EC at 25 C with its give or take, mS/cm, where it is known.
    pub ec_ms_per_cm: Option<(f64, f64)>,
    /// The formula that it is fed.
    pub formula: Option<&'a str>,
    /// Nitrogen under which the tank must not fall, ppm, where one is known.
    pub floor_ppm: Option<f64>,
}

/// The findings of a logbook, most severe first.
#[must_use]
pub fn of_logbook(state: &State, held: &InTank) -> Vec<Finding> {
    let mut findings: Vec<Finding> = held.floor_ppm.and_then(|floor| under_floor(state, floor)).into_iter().collect();
    too_much(held, &mut findings);
    findings.extend(state.slips.iter().flat_map(|one| std::iter::once(slip(one)).chain(too_far(one))));
    let stands = state.ph_in_it().or(state.unaired_ph().map(|(ph, _)| ph));
    findings.extend(stands.and_then(super::acidity::of_reading));
    findings.extend(hold(state));
    findings.extend(knowledge(state));
    findings.sort_by_key(|finding| finding.severity);
    findings
}

/// The findings of a plan whose renewal days were looked for in a logbook.
///
/// * `told`: true where this or another logbook tells them
#[must_use]
pub fn of_learnt(learnt: &Learnt, told: bool) -> Vec<Finding> {
    let not_learnt = (!told).then(|| {
        NOT_LEARNT.found(
            "no filling of the logbook has EC readings or analyses half a day or more apart that uptake explains, so tanks are \
             renewed by the `renew_every` of the bench file alone."
                .to_owned(),
        )
    });
    let slips = learnt.slips.iter().map(|one| {
        let found = slip(one);
        Finding { message: format!("logbook: {}", found.message), ..found }
    });
    slips.chain(not_learnt).chain(dated_later(learnt.later)).collect()
}

/// Share of the target under which nitrogen of a turned tank may be before it is told, as the floor of a logbook (own choice).
const LACKS: f64 = 0.5;

/// Fires when a tank that is turned over may hold less nitrogen than half of what is asked: what stays of it is known by an estimate.
#[must_use]
pub fn may_lack_nitrogen(low_ppm: f64, target_ppm: f64) -> Option<Finding> {
    (low_ppm < LACKS * target_ppm).then(|| {
        let text = format!(
            "N may be as low as {} ppm once it is turned, against {} asked: what stays in it is known by an estimate.",
            ppm_text(low_ppm.max(0.0)),
            ppm_text(target_ppm)
        );
        Finding::note(Code::NitrogenUnderFloor, text)
            .remedy("Drained whole it is certain; or have it analysed, and read the EC in the days after.")
            .source("own-choice")
    })
}

/// Fires when a fresh tank of a plan would be past a limit by the pattern that warnings go by before it is renewed.
///
/// * `formula`, `tank`: what it is fed, and which tank it is, in words
/// * `fed_days`: from the filling to its renewal, or to the end of what feeds it, at the longest
/// * `low_days`: whole days for which it stays within its limits by the low pattern
/// * `on`: the first day on which it may be past one
/// * `past`: which, in words
#[must_use]
pub fn runs_down_sooner(
    (formula, tank): (&str, &str),
    fed_days: i32,
    low_days: i32,
    on: Date,
    past: &str,
) -> Option<Finding> {
    (low_days < fed_days).then(|| {
        let after = if low_days == 0 { "within a day".to_owned() } else { format!("after {}", WholeDays(low_days)) };
        RUNS_DOWN_SOONER.found(format!(
            "`{formula}` in {tank} is fed for {} by the likely pattern of uptake, and by the low one maybe {past} {after}, \
             of the fresh tanks to come the first time on {}.",
            WholeDays(fed_days),
            on.long()
        ))
    })
}

pub(super) fn slip(slip: &Slip) -> Finding {
    let litres = |value: &f64| fixed(*value, 1);
    let ec = |value: &f64| fixed(*value, 2);
    match slip {
        Slip::NotFilled { entry } => {
            NOT_FILLED.found(format!("entry {entry} changes a tank that no earlier entry fills; it does not count."))
        }
        Slip::LevelHigher { entry, level_l, booked_l } => LEVEL_HIGHER.found(format!(
            "entry {entry} puts the level at {} L, but the entries before it leave {} L at the most.",
            litres(level_l),
            litres(booked_l)
        )),
        Slip::DrainedMore { entry, volume_l, booked_l } => DRAINED_MORE.found(format!(
            "entry {entry} drains {} L, but {} L could be drained; the tank counts as empty.",
            litres(volume_l),
            litres(booked_l)
        )),
        Slip::MeterOff { by, entry, ec_ms_cm, predicted_ms_cm } => {
            let when = match by {
                MeterBy::Filling => "right after the filling, and",
                MeterBy::Analysis => "within a day of an analysis, and by what that found",
            };
            FIRST_READING_OFF.found(format!(
                "entry {entry} reads EC {} {when} {} is predicted: more than 15 % apart, so nothing is reckoned from it.",
                ec(ec_ms_cm),
                ec(predicted_ms_cm)
            ))
        }
        Slip::EcHigher { entry, ec_ms_cm, predicted_ms_cm } => EC_HIGHER.found(format!(
            "entry {entry} reads EC {}, over the {} that would be there if plants had taken nothing since the last one; \
             nothing is reckoned from it.",
            ec(ec_ms_cm),
            ec(predicted_ms_cm)
        )),
        Slip::EcLower { entry, ec_ms_cm } => EC_LOWER.found(format!(
            "entry {entry} reads EC {}, lower than any uptake explains; nothing is reckoned from it.",
            ec(ec_ms_cm)
        )),
        Slip::NotPredicted { entry } => NOT_PREDICTED
            .found(format!("the EC at entry {entry} cannot be predicted, so nothing is reckoned from its reading.")),
    }
}

/// A reading that is not only off, but off as a slip is.
pub(super) fn too_far(slip: &Slip) -> Option<Finding> {
    let (Slip::MeterOff { entry, ec_ms_cm, predicted_ms_cm, .. } | Slip::EcHigher { entry, ec_ms_cm, predicted_ms_cm }) =
        slip
    else {
        return None;
    };
    reads_too_far(&format!("entry {entry}: EC"), *ec_ms_cm, *predicted_ms_cm, "what is predicted")
}

/// Nutrients surely over what the formula allows, and a tank that is too strong by the rules of any mix.
fn too_much(held: &InTank, found: &mut Vec<Finding>) {
    let formula = held.formula.unwrap_or_default();
    let surely_over = |a: &&Achieved| a.max_ppm.is_some_and(|max| a.ppm - a.plus_minus_ppm > max);
    let over: Vec<&Achieved> = held.achieved.iter().filter(surely_over).collect();
    if !over.is_empty() {
        let one = |a: &&Achieved| {
            format!("{} {} ppm (at most {})", a.nutrient, ppm_text(a.ppm), ppm_text(a.max_ppm.unwrap_or_default()))
        };
        let list: Vec<String> = over.iter().map(one).collect();
        found.push(
            OVER_ITS_LIMIT
                .found(format!("By the entries the tank holds more than `{formula}` allows: {}.", list.join(", "))),
        );
    }
    let told: Vec<(Nutrient, Severity)> = over.iter().map(|a| (a.nutrient, Severity::Warning)).collect();
    let (ec_ms_per_cm, ec_plus_minus_ms_per_cm) = held.ec_ms_per_cm.unwrap_or_default();
    let facts = Facts { achieved: held.achieved, ec_ms_per_cm, ec_plus_minus_ms_per_cm, ..Facts::default() };
    super::strength::findings(&facts, &told, found);
}

fn under_floor(state: &State, floor: f64) -> Option<Finding> {
    let nitrogen = state.tank?.ppm_on(Track::Low)?[Nutrient::N];
    let (_, likely, _) = state.range_ppm(Nutrient::N)?;
    // a turn is weighed by the likely figure: what the low course had less before it is no slip of who turned it
    let as_turned = state.low_since_turned(Nutrient::N).is_some_and(|low| low >= floor);
    let rule = if as_turned { &MAYBE_UNDER_FLOOR } else { &UNDER_FLOOR };
    (nitrogen < floor).then(|| {
        let under = if ppm_text(nitrogen) == ppm_text(floor) { "just under" } else { "under" };
        rule.found(format!(
            "N may be as low as {} ppm, {under} the floor of {} (half of what is asked, where none is stated; likely {}). Only an analysis knows.",
            ppm_text(nitrogen),
            ppm_text(floor),
            ppm_text(likely)
        ))
    })
}

fn hold(state: &State) -> Option<Finding> {
    let fed = state.fed.last()?;
    let days = fed.hold_at_most_days?;
    let end = fed.since.plus_days(days);
    let (name, date, days) = (&fed.formula, end.date(), fixed(days, 0));
    Some(if end < state.at {
        HOLD_OVER.found(format!("{name} may last {days} days, and they were over on {date}."))
    } else {
        BACK_BY.found(format!("back to growth by {date}: {name} may last {days} days."))
    })
}

fn knowledge(state: &State) -> Vec<Finding> {
    let mut findings = Vec::new();
    let filled = state.tank.is_some();
    // phosphorus stands for what no analysis may have told
    let basis = state.basis(Nutrient::P);
    if filled && basis == Basis::Bookkeeping {
        findings.push(UPTAKE_UNKNOWN.found(
            "no EC reading or analysis tells what plants took since the filling: the figures are what went in less what was drained, \
             and less may be left of everything."
                .to_owned(),
        ));
    }
    if state.carried_on_days > OLD_DAYS {
        findings.push(READING_OLD.found(format!(
            "the last EC reading or analysis is {} days old; since then the uptake is carried on at its mean pace.",
            fixed(state.carried_on_days, 0)
        )));
    }
    if filled && state.litres_per_day.is_none() && basis == Basis::Estimate {
        findings.push(
            LEVEL_UNKNOWN.found(
                "no level tells how much water was lost since the filling; lost water raises the EC and hides uptake."
                    .to_owned(),
            ),
        );
    }
    findings.extend(dated_later(state.later));
    findings
}

fn dated_later(entries: usize) -> Option<Finding> {
    let words = if entries == 1 { "1 entry is".to_owned() } else { format!("{entries} entries are") };
    (entries > 0).then(|| DATED_LATER.found(format!("{words} dated later than this moment and not counted.")))
}
