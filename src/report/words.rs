//! Words and numbers of a mix that the text page and the printed sheet share.

use crate::jobs::{
    Dose, Dosed, Element, FillReason, General, GoesIn, Handling, HelperRecord, Ingredient, MissedRecord, MixRecord, Range,
    TankPlan, WaterRecord, Window,
};
use crate::quantity::{
    Date, WholeDays, buckets_text, fixed, grams_text, liter, ppm_text, significant, trimmed, volume_text,
};

/// `60 L`.
pub(super) fn litres(volume_l: f64) -> String {
    volume_text(liter(volume_l))
}

/// `100 mL`.
pub(super) fn millilitres(volume_ml: f64) -> String {
    litres(volume_ml * 1e-3)
}

/// What a bottle is made up with.
///
/// * `waters`: of the tank that it is for
pub(super) fn water_words(is_pure: bool, waters: &[WaterRecord]) -> String {
    let there: Vec<&WaterRecord> = waters.iter().filter(|water| water.litres > 0.0).collect();
    match there[..] {
        _ if is_pure => "pure water (rain, distilled; yours takes metals out)".to_owned(),
        [] => "your water".to_owned(),
        [one] => one.id.clone(),
        _ => "your waters, shared as in the tank".to_owned(),
    }
}

/// `40 L of rain, 20 L of tap`; nothing where the water is one, or nothing is filled in.
pub(super) fn waters_words(waters: &[WaterRecord]) -> Option<String> {
    buckets_text(waters.iter().map(|water| (water.id.as_str(), water.litres)))
}

/// `rain or other pure water`, or which of several waters is filled in.
pub(super) fn filled_words(waters: &[WaterRecord], pure: bool) -> String {
    match waters_words(waters) {
        // of one alone its litres are those of the whole
        Some(words) => match &waters.iter().filter(|water| water.litres > 0.0).collect::<Vec<_>>()[..] {
            [one] => one.id.clone(),
            _ => format!("water ({words})"),
        },
        None if pure => "rain or other pure water".to_owned(),
        None => "your water".to_owned(),
    }
}

/// `EC 1.06 mS/cm at 25 C, give or take 0.04`, and what the grower's meter shows.
pub(super) fn ec_words(ec_ms_cm: f64, plus_minus_ms_cm: f64, meter_scale: Option<f64>) -> String {
    let shows = on_meter(ec_ms_cm, meter_scale);
    format!("EC {} mS/cm at 25 C, give or take {}{shows}", fixed(ec_ms_cm, 2), fixed(plus_minus_ms_cm, 2))
}

/// `, 530 ppm on your meter`, for an EC in mS/cm; nothing where the meter shows mS/cm itself.
///
/// * `meter_scale`: ppm per uS/cm
pub(super) fn on_meter(ec_ms_cm: f64, meter_scale: Option<f64>) -> String {
    meter_scale.map_or_else(String::new, |scale| format!(", {} ppm on your meter", meter_ppm(ec_ms_cm, scale)))
}

/// What a meter with a scale of ppm per uS/cm shows of an EC in mS/cm.
pub(super) fn meter_ppm(ec_ms_cm: f64, scale: f64) -> String {
    fixed(ec_ms_cm * 1e3 * scale, 0)
}

/// The same of an EC in a range: `, 520 ppm (505 to 540) on your meter`.
pub(super) fn range_on_meter(ec_ms_cm: &Range, meter_scale: Option<f64>) -> String {
    meter_scale.map_or_else(String::new, |scale| {
        let per = 1e3 * scale;
        let ppm = Range { low: ec_ms_cm.low * per, likely: ec_ms_cm.likely * per, high: ec_ms_cm.high * per };
        format!(", {} ppm on your meter", range_text(&ppm, 0))
    })
}

/// The formula, or what else the record is of.
pub(super) fn name(record: &MixRecord) -> &str {
    record.formula.as_deref().unwrap_or("your mix")
}

/// True for a tank that was filled already, whatever formula it is held against.
pub(super) fn checked(record: &MixRecord) -> bool {
    record.job == "check"
}

/// Decimals that a scale shows.
pub(super) fn decimals(step: f64) -> usize {
    (0..6).find(|places| fixed(step, *places).parse::<f64>().is_ok_and(|shown| (shown - step).abs() < 1e-9)).unwrap_or(6)
}

/// Decimals of a dose in grams.
pub(super) fn dose_decimals(dose: &Dose) -> usize {
    match dose.what {
        Dosed::Salt { goes_in: GoesIn::Weighed { scale_g: Some(step), .. }, .. } => decimals(step),
        _ => 3,
    }
}

/// True for a salt that goes in with a bottle, which stands before it.
pub(super) fn comes_in_a_bottle(dose: &Dose) -> bool {
    matches!(dose.what, Dosed::Salt { goes_in: GoesIn::InBottle { .. }, .. })
}

/// What to measure out, and with what.
pub(super) fn measured(dose: &Dose) -> (String, String) {
    let left_out = |amount: String| (format!("({amount})"), "LEFT OUT, see below".to_owned());
    match &dose.what {
        Dosed::Salt { goes_in: GoesIn::Weighed { grams, scale_g, .. }, .. } => (
            format!("{} g", fixed(*grams, dose_decimals(dose))),
            scale_g.map_or_else(String::new, |step| format!("{step} g scale")),
        ),
        Dosed::Salt { goes_in: GoesIn::Drawn { drawn, .. }, .. } | Dosed::Bottle { drawn: Some(drawn), .. } => {
            // the rubber of a syringe fails in strong acid
            let with = match (&drawn.jug, dose.acid) {
                (Some(jug), false) => jug.clone(),
                (Some(jug), true) => format!("{jug}, glass or PP"),
                (None, false) => "syringe".to_owned(),
                (None, true) => "glass or PP measure".to_owned(),
            };
            (format!("{} mL", fixed(drawn.millilitres, 1)), with)
        }
        Dosed::Salt { goes_in: GoesIn::InBottle { grams, .. }, .. } => {
            (String::new(), format!("{} in it", grams_text(*grams)))
        }
        Dosed::Salt { goes_in: GoesIn::LeftOut, grams_exact, .. } => left_out(grams_text(*grams_exact)),
        Dosed::Bottle { drawn: None, millilitres_exact, .. } => {
            left_out(format!("{} mL", significant(*millilitres_exact, 2)))
        }
    }
}

/// What a dose is called: a bottle as one.
pub(super) fn dose_name(dose: &Dose) -> String {
    let bottle = if matches!(dose.what, Dosed::Bottle { drawn: Some(_), .. }) { "bottle " } else { "" };
    format!("{bottle}{}", dose.name)
}

/// How much of an ingredient goes into a bottle.
pub(super) fn ingredient_amount(of: &Ingredient) -> String {
    match (of.grams, of.millilitres) {
        (Some(grams), _) => format!("{} g", fixed(grams, of.scale_g.map_or(3, decimals))),
        (None, ml) => format!("{} mL", trimmed(ml.unwrap_or(0.0), 2)),
    }
}

/// What an ingredient is called: a bottle as one.
pub(super) fn ingredient_name(of: &Ingredient) -> String {
    if of.helper.is_some() { format!("bottle {}", of.name) } else { of.name.clone() }
}

/// What an ingredient is measured with.
pub(super) fn ingredient_with(of: &Ingredient) -> String {
    match (of.grams, of.scale_g) {
        (Some(_), Some(step)) => format!("{step} g scale"),
        (Some(_), None) => String::new(),
        (None, _) => of.jug.clone().unwrap_or_else(|| "syringe".to_owned()),
    }
}

/// What else a pH may be, where a tenth shows it.
pub(super) fn ph_ends(low: Option<f64>, high: Option<f64>) -> String {
    match (low.map(|low| fixed(low, 1)), high.map(|high| fixed(high, 1))) {
        (Some(low), Some(high)) if low != high => format!(" ({low} to {high})"),
        _ => String::new(),
    }
}

/// What waits for a later filling up.
pub(super) fn waiting(names: &[String]) -> Option<String> {
    let list = names.join(", ");
    (!names.is_empty()).then(|| {
        format!("waits until more is missing, too little to measure today (no target is a third short without): {list}")
    })
}

/// Targets that are missed: what each comes to, of what.
pub(super) fn missed(each: &[MissedRecord]) -> String {
    let each = each.iter().map(|one| format!("{} {} of {}", one.element, ppm_text(one.ppm), ppm_text(one.target_ppm)));
    each.collect::<Vec<_>>().join(", ")
}

/// What is asked of an element, ppm.
pub(super) fn asked(e: &Element) -> String {
    match (e.target_ppm, e.min_ppm, e.max_ppm) {
        (Some(target), _, _) => ppm_text(target),
        (None, Some(min), Some(max)) => format!("{} to {}", ppm_text(min), ppm_text(max)),
        (None, Some(min), None) => format!("at least {}", ppm_text(min)),
        (None, None, Some(max)) => format!("at most {}", ppm_text(max)),
        (None, None, None) => "-".to_owned(),
    }
}

/// Number in the list of weights of the line that brings a salt: its own, or that of the bottle that it is in.
pub(super) fn number_of(doses: &[Dose], helpers: &[HelperRecord], salt: &str) -> Option<usize> {
    let in_list = |dose: &&Dose| !comes_in_a_bottle(dose) && !matches!(dose.what, Dosed::Bottle { drawn: None, .. });
    let numbered: Vec<&Dose> = doses.iter().filter(in_list).collect();
    let own = numbered.iter().position(|dose| dose.salt() == Some(salt));
    let in_bottle = || numbered.iter().position(|dose| dose.bottle().is_some_and(|id| holds(helpers, id, salt)));
    own.or_else(in_bottle).map(|at| at + 1)
}

/// [`number_of`] in the list of a mix.
pub(super) fn numbers(mix: &MixRecord) -> impl Fn(&str) -> Option<usize> + '_ {
    |salt| number_of(&mix.doses, &mix.helpers, salt)
}

/// True when a bottle, or one that it is made from, holds a salt.
fn holds(helpers: &[HelperRecord], id: &str, salt: &str) -> bool {
    let Some(helper) = helpers.iter().find(|helper| helper.id == id) else { return false };
    let own = helper.made_of.iter().any(|of| of.salt.as_deref() == Some(salt));
    own || helper.made_of.iter().filter_map(|of| of.helper.as_deref()).any(|parent| holds(helpers, parent, salt))
}

/// The salts that a caution concerns: numbers in the list above, names for what has none there.
pub(super) fn whom(caution: &General, number: &dyn Fn(&str) -> Option<usize>, handling: &[Handling]) -> String {
    let mut numbers: Vec<usize> = caution.salts.iter().filter_map(|salt| number(salt)).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let unnumbered = handling.iter().filter(|h| caution.salts.contains(&h.salt) && number(&h.salt).is_none());
    let all: Vec<String> = numbers
        .chunk_by(|a, b| a + 1 == *b)
        .flat_map(|run| match run {
            [first, _, .., last] => vec![format!("{first}-{last}")],
            few => few.iter().map(usize::to_string).collect(),
        })
        .chain(unnumbered.map(|h| h.name.clone()))
        .collect();
    all.join(", ")
}

/// What a tank of a cycle is called.
pub(super) fn tank_name(tank: &TankPlan) -> String {
    tank_called(tank.tank.as_deref(), tank.group.as_deref())
}

/// A tank by its id, by the group that it is for, or as that of the bench.
pub(super) fn tank_called(id: Option<&str>, group: Option<&str>) -> String {
    match (id, group) {
        (Some(id), _) => format!("tank {id}"),
        (None, Some(group)) => format!("tank of {group}"),
        (None, None) => "bench tank".to_owned(),
    }
}

/// Why a tank is mixed, in a word or two.
pub(super) fn why(reason: FillReason) -> &'static str {
    match reason {
        FillReason::Start => "start",
        FillReason::Turn => "turn over",
        FillReason::Renewal => "renew",
    }
}

pub(super) fn range_text(range: &Range, decimals: usize) -> String {
    let text = |value: f64| fixed(value, decimals);
    if text(range.low) == text(range.high) {
        return text(range.likely);
    }
    format!("{} ({} to {})", text(range.likely), text(range.low), text(range.high))
}

/// A day in a column: the day of the month right-aligned.
pub(super) fn aligned(date: Date) -> String {
    let long = date.long();
    // "Mon 4 Jan 2027" and "Mon 14 Jan 2027" stand under each other
    if long.len() < 15 { long.replacen(' ', "  ", 1) } else { long }
}

/// How long it is.
pub(super) fn lasting(window: &Window) -> String {
    WholeDays(window.days).to_string()
}

/// An amount as it is bought: a liquid in mL or L, a solid in g or kg.
pub(super) fn stuff(grams: f64, millilitres: Option<f64>) -> String {
    let (amount, small, large) = millilitres.map_or((grams, "g", "kg"), |ml| (ml, "mL", "L"));
    let shown = |value: f64| {
        let text = significant(value, 3);
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
    };
    if amount < 999.5 { format!("{} {small}", shown(amount)) } else { format!("{} {large}", shown(amount / 1e3)) }
}
