//! pH: out of range, near its edge, and climbing later.

mod advice;
mod range;

use super::together::GAS_PH;
use super::{Code, Facts, Finding, Severity};
use crate::quantity::{fixed, significant};
use crate::solution::Acidity;
pub use advice::{MILD_BASE, kept_apart_words, untold_of_reading};
use advice::{corrected_or, remedy};
pub(super) use range::told;
use range::{NEAR_EDGE, PH_AIRED_MOST, PH_RANGE, PH_STOP, is_untold, least};
pub use range::{
    PH_FRESH_LEAST, PH_LEAST, Remedy, is_burning_ph, is_doubted_by_ec, is_near_wish, is_ph_out_of_range, ph_range_words,
    ph_remedy, read_ph_remedy, spent_ph,
};

/// A pH that may be anywhere within so much is loose (own choice).
const LOOSE: f64 = 0.5;
/// Alkalinity that stays over this lets the pH climb, meq/L (the carbonate equilibria in air: it then ends over pH 8).
const ALKALINITY_LEFT: f64 = 1.0;
/// A salt of an acid that microbes eat is alkalinity that shows later: with air each equivalent of citrate or acetate becomes one
/// of bicarbonate (C6H5O7-3 + 4.5 O2 gives 3 HCO3- + 3 CO2 + H2O).
const EATEN: &str = " What of it is citrate or acetate microbes make into bicarbonate: the pH then climbs beyond that, and is read \
                     again.";
/// Alkalinity with this give or take is what acid and base leave of each other, meq/L; own choice, over what nobody knows better
/// of any mix.
const OPEN_MEQ_PER_L: f64 = 0.05;

/// All findings of pH itself.
pub(super) fn findings(facts: &Facts, found: &mut Vec<Finding>) {
    let Some(ph) = &facts.ph else { return };
    // nothing is stirred into a tank that is thinned or made anew
    let too_strong = found.iter().any(|one| one.code == Code::FeedTooStrong && one.severity == Severity::Stop);
    let first_thinned = |mut finding: Finding| {
        if too_strong {
            let thinned = if is_burning_ph(ph.fresh.ph) { "made anew" } else { "thinned or made anew" };
            finding.remedy = Some(format!("First the strength: {thinned} it has another pH."));
            finding.adds.clear();
        }
        finding
    };
    let left = alkalinity_left(facts, ph);
    let of_ph = ph_outside(facts, ph, left.is_some()).or_else(|| ph_near_edge(facts, ph, left.is_some()));
    // what is no feed is not left standing to be read again
    let left = left.filter(|_| of_ph.as_ref().is_none_or(|of| of.severity != Severity::Stop));
    found.extend(of_ph.map(first_thinned));
    found.extend(left.map(first_thinned));
}

/// A pH that was read in a tank is out of range.
pub(super) fn of_reading(ph: f64) -> Option<Finding> {
    let deadly = is_burning_ph(ph);
    let edge = match ph {
        _ if ph < PH_RANGE.0 => format!("under {}", if deadly { PH_STOP.0 } else { PH_RANGE.0 }),
        _ if ph > PH_AIRED_MOST => format!("over {}", if deadly { PH_STOP.1 } else { PH_AIRED_MOST }),
        _ => return None,
    };
    let (severity, fed) = if deadly { (Severity::Stop, " No plant is fed with it.") } else { (Severity::Warning, "") };
    Some(
        Finding::new(
            Code::PhOutside,
            severity,
            format!("pH {} was read, {edge}.{fed} Usual is {} (common practice).", fixed(ph, 1), ph_range_words()),
        )
        .remedy(if deadly {
            "Gloves on before anything touches it. Calibrate the pH meter and read again; `today` says what two readings ask for."
        } else {
            "`today` says what corrects it, or why nothing is told."
        })
        .source("common-practice"),
    )
}

/// What gas a tank gives off, in words; empty where it gives off none.
#[must_use]
pub fn gas_words(ph: f64, ammonium: bool, urea: bool) -> &'static str {
    match (ammonium, urea) {
        _ if ph <= GAS_PH => "",
        (true, _) => {
            " It holds ammonium, and so gives off ammonia, which burns eyes and lungs; a dust mask holds no gas back."
        }
        (false, true) => {
            " It holds urea, which becomes ammonium: then it gives off ammonia, which burns eyes and lungs; a dust mask holds no gas back."
        }
        (false, false) => "",
    }
}

/// pH up to which, and from which on, the EU's rules class a mixture as corrosive where nothing else is known of it (from memory).
const CORROSIVE: (f64, f64) = (2.0, 11.5);

/// What a pH that no plant is fed with does, as a verb.
#[must_use]
pub fn harms(ph: f64) -> &'static str {
    if ph <= CORROSIVE.0 || ph >= CORROSIVE.1 { "burns" } else { "harms roots, eyes and skin" }
}

/// What a tank gives off or burns with by the pH that was read in it; nothing where neither is so.
///
/// * `doubted`: something else speaks against the reading; then gas alone is a warning
#[must_use]
pub fn burns_as_read(ph: f64, doubted: bool, ammonium: bool, urea: bool) -> Option<Finding> {
    let gas = gas_words(ph, ammonium, urea);
    if !is_burning_ph(ph) && gas.is_empty() {
        return None;
    }
    let edge = match ph {
        _ if ph < PH_STOP.0 => format!(", under {}: it {}, and no plant is fed with it", PH_STOP.0, harms(ph)),
        _ if ph > PH_STOP.1 => format!(", over {}: it {}, and no plant is fed with it", PH_STOP.1, harms(ph)),
        _ => String::new(),
    };
    let aired = if gas.is_empty() { "" } else { "Leave the room and air it before hands go near it. " };
    let severity = if doubted && !is_burning_ph(ph) { Severity::Warning } else { Severity::Stop };
    Some(
        Finding::new(Code::PhOutside, severity, format!("pH {} was read{edge}.{gas}", fixed(ph, 1)))
            .remedy(format!("{aired}Pump and lights off; goggles, gloves and apron on before anything touches it."))
            .source(if is_burning_ph(ph) { "own-choice" } else { "incompatibilities-from-memory" }),
    )
}

/// A tank that is turned over, of which what it holds burns.
#[derive(Debug, Clone, Copy)]
pub struct Burning {
    /// Its pH.
    pub ph: f64,
    /// EC of what holds such a pH, mS/cm, where that is far over what was poured in.
    pub ec_ms_per_cm: Option<f64>,
    /// It holds ammonium.
    pub ammonium: bool,
    /// It holds urea, which becomes ammonium.
    pub urea: bool,
    /// What stays behind in medium and pipes is rinsed.
    pub rinsed: bool,
}

/// What a tank that is turned over holds burns: none of it stays.
#[must_use]
pub fn held_burns(of: Burning) -> Finding {
    let (beyond, edge) = if of.ph < PH_STOP.0 { ("under", PH_STOP.0) } else { ("over", PH_STOP.1) };
    let ammonia = gas_words(of.ph, of.ammonium, of.urea);
    let urea = if of.urea { " It holds urea: no nitric acid goes near it." } else { "" };
    let text = format!(
        "What the tank holds is at pH {}, {beyond} {edge} (own choice): it {}, and no plant is fed with it, or with a part of it, as it is.{ammonia}{urea}",
        told(of.ph, edge),
        harms(of.ph)
    );
    let again = "Calibrate the pH meter and read again before anything is let out. ".to_owned();
    let doubted = of.ec_ms_per_cm.map_or(again, |ec| {
        let ec = fixed(ec, 1);
        if of.ph < PH_STOP.0 {
            format!("What holds such a pH reads about EC {ec}: where yours reads far less, a meter is off. Calibrate both and read again before anything is let out. ")
        } else {
            format!(
                "What held such a pH for days in air would read about EC {ec}: where yours reads far less, a base went in within hours, algae in the \
                 light took the carbon dioxide, or the pH meter is off; calibrate it and read again before anything is let out. "
            )
        }
    });
    let aired = if ammonia.is_empty() { "" } else { "Leave the room and air it first. " };
    let rinse = if of.rinsed {
        " Rinse what stays behind with water, pump off, and let that out into them too: here it counts as water."
    } else {
        ""
    };
    // one that gives off gas is not stirred into
    let corrected =
        if ammonia.is_empty() { " Or correct it first, where `today` tells the dose, and turn it then." } else { "" };
    // it stands before the first thing that is let out
    Finding::new(Code::PhOutside, Severity::Stop, text)
        .remedy(format!(
            "{aired}Pump and lights off; goggles, gloves and apron on, doors and windows open, face away. {doubted}Let all of it out into marked plastic \
             vessels, half full, where it first gets what SAFETY tells.{rinse}{corrected}"
        ))
        .source("own-choice")
}

/// The pH is surely out of range, or may well be far too low.
fn ph_outside(facts: &Facts, ph: &Acidity, left: bool) -> Option<Finding> {
    let (low, high) = PH_RANGE;
    let Acidity { fresh, aired } = ph;
    let least = least(ph);
    // neutral salts in pure water hold nothing either way, and what is open of them the first plants and the air settle
    let holds = facts.alkalinity_meq_per_l.is_none_or(|(_, give_or_take)| give_or_take > OPEN_MEQ_PER_L);
    // of what burns no give or take makes light
    let burns = facts.substances.iter().any(|one| one.strong_base || one.burning_acid);
    let likely = if holds || burns { fresh.ph } else { fresh.ph.clamp(PH_STOP.0, PH_STOP.1) };
    let (sour, caustic) = (fresh.high < PH_STOP.0 || likely < PH_STOP.0, fresh.low > PH_STOP.1 || likely > PH_STOP.1);
    let deadly = sour || caustic;
    let untold = is_untold(fresh) && holds;
    let outside = if untold {
        format!(
            "pH may be anything from {} to {} right after mixing: acid and base all but cancel, and how much they hold is not known so \
             well",
            fixed(fresh.low, 1),
            fixed(fresh.high, 1)
        )
    } else if fresh.low > high || caustic {
        format!("pH comes to {} right after mixing and {} after days in air", told(fresh.ph, high), fixed(aired.ph, 1))
    } else if aired.low > PH_AIRED_MOST {
        format!("pH comes to {} after days in air, {} right after mixing", told(aired.ph, PH_AIRED_MOST), fixed(fresh.ph, 1))
    } else if fresh.high < low || sour {
        format!("pH comes to {} right after mixing and {} after days in air", told(fresh.ph, low), fixed(aired.ph, 1))
    } else if least < PH_LEAST {
        format!("pH may come down to {}, by what is known of the mix; under {PH_LEAST} roots suffer", told(least, PH_LEAST))
    } else {
        return None;
    };
    let (words, adds) = if untold {
        ("Measure it; what it then asks for goes in thinned, in small parts, by the meter.".to_owned(), None)
    } else {
        remedy(facts, ph, left)
    };
    Some(
        Finding::new(
            Code::PhOutside,
            if deadly || untold { Severity::Stop } else { Severity::Warning },
            format!(
                "{outside}.{} Usual is {} (common practice).",
                match (deadly, untold) {
                    (true, _) => format!(
                        " No plant is fed with it as it is: it {}, and is handled in goggles, gloves and apron.",
                        harms(if sour { fresh.ph } else { fresh.ph.max(aired.ph) })
                    ),
                    (false, true) => " No plant is fed with it as it is.".to_owned(),
                    (false, false) => String::new(),
                },
                ph_range_words()
            ),
        )
        .remedy(words)
        .adds(adds)
        .source("common-practice"),
    )
}

/// Within the range, and near its end.
fn ph_near_edge(facts: &Facts, ph: &Acidity, left: bool) -> Option<Finding> {
    let (low, high) = NEAR_EDGE;
    let Acidity { fresh, aired } = ph;
    let near = if fresh.ph < low {
        format!("pH comes to {} right after mixing, under {low}", told(fresh.ph, low))
    } else if aired.ph >= high {
        format!("pH comes to {} after days in air, {high} or more", fixed(aired.ph, 1))
    } else {
        return None;
    };
    let span = if fresh.ph < low { fresh } else { aired };
    let loose = if span.high - span.low > LOOSE {
        let (from, to) = (fixed(span.low, 1), fixed(span.high, 1));
        format!("; loose, {from} to {to}, for want of alkalinity")
    } else {
        String::new()
    };
    let (words, adds) = remedy(facts, ph, left);
    Some(
        Finding::note(
            Code::PhNearEdge,
            format!("{near} (own choice){loose}. Usual is {} (common practice).", ph_range_words()),
        )
        .remedy(words)
        .adds(adds)
        .source("own-choice"),
    )
}

fn alkalinity_left(facts: &Facts, ph: &Acidity) -> Option<Finding> {
    let (meq_per_l, plus_minus) = facts.alkalinity_meq_per_l?;
    let (words, adds) = match ph_remedy(ph) {
        Some(Remedy::AcidLater) => {
            corrected_or(facts, ph, "In the days after, by the meter: ready-diluted acid in small parts. Not now.")
        }
        Some(Remedy::AcidNow) => ("Read the pH again in the days after.".to_owned(), None),
        _ => ("Read the pH again in the days after, and correct it then, by the meter.".to_owned(), None),
    };
    let organic = facts.substances.iter().any(|one| one.organic_acid);
    (meq_per_l - plus_minus > ALKALINITY_LEFT).then(|| {
        Finding::note(
            Code::AlkalinityLeft,
            format!(
                "{} meq/L of alkalinity is left, over {ALKALINITY_LEFT}: pH {} to {} in the days after, as \
                 carbon dioxide {}.{}",
                significant(meq_per_l, 2),
                if ph.aired.ph < ph.fresh.ph { "falls" } else { "climbs" },
                fixed(ph.aired.ph, 1),
                if ph.aired.ph < ph.fresh.ph { "of the air goes in" } else { "goes out" },
                if organic { EATEN } else { "" },
            ),
        )
        .remedy(words)
        .adds(adds)
        .source("phreeqc-3.8-dat")
    })
}
