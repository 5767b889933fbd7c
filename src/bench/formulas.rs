//! Formulas: targets and limits, with `from`, `strength` and `times` resolved.

use std::collections::BTreeMap;
use std::ops::Range;

use super::formula::{Formula, Wish};
use super::reader::{Item, Problems, Table, did_you_mean};
use super::{EcLimit, Hold};
use crate::matter::{Elements, NUTRIENTS, Nutrient};
use crate::quantity::{
    self, Concentration, DAYS, EC_LIMIT_MS_PER_CM, LIMIT_PPM, Limits, MeterScale, SHARE, STRENGTH, TARGET_PPM, TIMES,
    WEIGHT, ppm, ppm_of, ppm_text,
};

/// Keys of a formula that are no nutrient.
const OTHER_KEYS: [&str; 5] = ["from", "strength", "hold_at_most", "ammonium_share", "EC"];

fn nameable() -> impl Iterator<Item = Nutrient> {
    NUTRIENTS.into_iter().filter(|nutrient| *nutrient != Nutrient::UreaN)
}

/// An entry as written.
struct Entry<'a> {
    target: Option<f64>,
    times: Option<(f64, Item<'a>)>,
    limits: Limits<f64>,
    weight: Option<f64>,
}

/// A formula as written.
struct Written<'a> {
    table: Table<'a>,
    from: Option<(&'a str, Item<'a>)>,
    strength: Option<(f64, Item<'a>)>,
    entries: Vec<(Nutrient, Entry<'a>, Item<'a>)>,
    /// False when something in it was refused already: what would follow from that is not complained of.
    sound: bool,
    ammonium_share: Option<Limits<f64>>,
    ec: Option<Limits<EcLimit>>,
    hold_at_most: Option<Hold>,
}

/// Reads `[formula.…]` and resolves every chain.
pub(super) fn formulas(table: &Table, elements: &Elements, problems: &Problems, meter: Option<MeterScale>) -> Vec<Formula> {
    let mut written: BTreeMap<&str, Written> = BTreeMap::new();
    for item in table.items() {
        if item.is_plain(item.name)
            && let Some(own) = item.as_table(&format!("[formula.{}]", item.name))
        {
            written.insert(item.name, read(&own, elements, meter));
        }
    }
    let mut resolved: BTreeMap<&str, Option<Formula>> = BTreeMap::new();
    for name in written.keys().copied() {
        resolve(name, &written, &mut Vec::new(), &mut resolved, problems);
    }
    resolved.into_values().flatten().collect()
}

fn read<'a>(table: &Table<'a>, elements: &Elements, meter: Option<MeterScale>) -> Written<'a> {
    let noted = table.problems.count();
    let known: Vec<&str> = nameable().map(Nutrient::symbol).chain(OTHER_KEYS).collect();
    table.only(&known);
    let entries = table
        .items()
        .filter_map(|item| {
            let nutrient = nameable().find(|nutrient| nutrient.symbol() == item.name)?;
            entry(&item, nutrient, elements).map(|entry| (nutrient, entry, item))
        })
        .collect();
    let share = |item: Item<'a>| limits(&item, |limit| limit.number(&SHARE));
    let ec = |item: Item<'a>| {
        let read = |text: &str| quantity::conductivity(text, &EC_LIMIT_MS_PER_CM, meter);
        limits(&item, |limit| limit.quantity("1.3 mS/cm", read))
    };
    let mut written = Written {
        from: table.get("from").and_then(|item| item.text("the name of another formula").map(|name| (name, item.clone()))),
        strength: table.get("strength").and_then(|item| item.number(&STRENGTH).map(|strength| (strength, item))),
        entries,
        ammonium_share: table.get("ammonium_share").and_then(share),
        ec: table.get("EC").and_then(ec),
        hold_at_most: table
            .get("hold_at_most")
            .and_then(|item| item.quantity("28 days", |text| quantity::duration(text, &DAYS))),
        table: table.clone(),
        sound: true,
    };
    written.sound = table.problems.count() == noted;
    written
}

/// `{ min = …, max = … }` of anything that compares.
fn limits<'a, T: PartialOrd + Copy>(item: &Item<'a>, parse: impl Fn(&Item<'a>) -> Option<T>) -> Option<Limits<T>> {
    if !item.is_table() {
        let message = format!("read {}; it takes limits, as in {{ max = … }} or {{ min = …, max = … }}", item.read());
        item.wrong(message, None);
        return None;
    }
    let table = item.own_table()?;
    table.only(&["min", "max"]);
    let read = Limits {
        min: table.get("min").and_then(|limit| parse(&limit)),
        max: table.get("max").and_then(|limit| parse(&limit)),
    };
    if read.min.is_none() && read.max.is_none() {
        // a limit that was refused has been told already
        if table.get("min").is_none() && table.get("max").is_none() {
            item.wrong("it says neither `min` nor `max`", Some("write { max = … }, or leave it out".to_owned()));
        }
        return None;
    }
    in_order(item, &read).then_some(read)
}

fn in_order<T: PartialOrd + Copy>(item: &Item, limits: &Limits<T>) -> bool {
    let crossed = matches!((limits.min, limits.max), (Some(min), Some(max)) if min > max);
    if crossed {
        item.wrong("`min` is larger than `max`", None);
    }
    !crossed
}

/// ppm from a bare number, or from text with a unit of mass or amount concentration.
fn concentration(item: &Item, bound: &quantity::Bound, nutrient: Nutrient, elements: &Elements) -> Option<f64> {
    if item.is_number() {
        return item.number(bound);
    }
    let value = item.is_concentration_text().then(|| item.quantity("90 ppm", quantity::concentration))??;
    item.checked(bound.check(match value {
        Concentration::Mass(mass) => ppm_of(mass),
        Concentration::Amount(amount) => {
            amount.get::<uom::si::molar_concentration::mole_per_cubic_meter>()
                * elements.weight(nutrient.element()).unwrap_or(f64::NAN)
        }
    }))
}

fn entry<'a>(item: &Item<'a>, nutrient: Nutrient, elements: &Elements) -> Option<Entry<'a>> {
    let noted = item.problems.count();
    let target = |item: &Item| {
        if item.is_zero() {
            item.wrong(
                "read 0; a target is larger than 0, because a miss is counted in per cent of it",
                Some(format!("write {nutrient} = {{ max = 5 }}")),
            );
            return None;
        }
        concentration(item, &TARGET_PPM, nutrient, elements)
    };
    if !item.is_table() {
        return target(item).map(|t| Entry { target: Some(t), times: None, limits: Limits::default(), weight: None });
    }
    let table = item.own_table()?;
    table.only(&["target", "times", "min", "max", "weight"]);
    let limit = |key: &str| table.get(key).and_then(|limit| concentration(&limit, &LIMIT_PPM, nutrient, elements));
    let times = table.get("times").and_then(|item| {
        if item.is_zero() {
            item.wrong("`times = 0` would ask for nothing", Some(format!("write {nutrient} = {{ max = 5 }}")));
            return None;
        }
        item.number(&TIMES).map(|times| (times, item))
    });
    let read = Entry {
        target: table.get("target").and_then(|item| target(&item)),
        times,
        limits: Limits { min: limit("min"), max: limit("max") },
        weight: table.get("weight").and_then(|item| item.number(&WEIGHT)),
    };
    if item.problems.count() > noted || !in_order(item, &read.limits) {
        return None;
    }
    if read.target.is_some() && read.times.is_some() {
        item.wrong("`target` and `times` exclude each other", Some("keep the one you mean".to_owned()));
        return None;
    }
    if let Some(target) = read.target {
        let (low, high) = (read.limits.min.unwrap_or(0.0), read.limits.max.unwrap_or(f64::MAX));
        if !(low..=high).contains(&target) {
            item.wrong("`target` lies outside its own `min` and `max`", None);
            return None;
        }
    }
    if read.weight.is_some() && read.target.is_none() && read.times.is_none() {
        item.wrong("`weight` weighs a target, and there is none", None);
        return None;
    }
    Some(read)
}

/// Resolves one formula and what it is made from; `path` are the names that led here.
fn resolve<'a>(
    name: &'a str,
    written: &BTreeMap<&'a str, Written<'a>>,
    path: &mut Vec<&'a str>,
    resolved: &mut BTreeMap<&'a str, Option<Formula>>,
    problems: &Problems,
) -> Option<Formula> {
    if let Some(done) = resolved.get(name) {
        return done.clone();
    }
    let own = written.get(name)?;
    path.push(name);
    let nothing = || Formula {
        name: name.to_owned(),
        wishes: Vec::new(),
        ammonium_share: Limits::default(),
        ec: Limits::default(),
        hold_at_most: None,
    };
    let mut sound = own.sound;
    let base = match &own.from {
        Some(from) => inherited(name, from, written, path, resolved, problems),
        None => Some(nothing()),
    };
    if let (None, Some((_, item))) = (&own.from, &own.strength) {
        item.wrong(
            "`strength` scales inherited targets, and there is no `from`",
            Some("name a formula with `from`".to_owned()),
        );
        sound = false;
    }
    sound &= base.is_some();
    let mut formula = base.unwrap_or_else(nothing);
    path.pop();
    sound = sound && apply(own, &mut formula);
    if sound && formula.wishes.is_empty() {
        problems.note(format!("[formula.{name}]"), start_of(&own.table.span), "this formula names no nutrient", None);
        sound = false;
    }
    let result = sound.then_some(formula);
    resolved.insert(name, result.clone());
    result
}

/// The formula that another is made from, under the name of that; `None`, and told, where there is none.
fn inherited<'a>(
    name: &'a str,
    (from, item): &(&'a str, Item<'a>),
    written: &BTreeMap<&'a str, Written<'a>>,
    path: &mut Vec<&'a str>,
    resolved: &mut BTreeMap<&'a str, Option<Formula>>,
    problems: &Problems,
) -> Option<Formula> {
    let others = || written.keys().copied().filter(|other| *other != name);
    if path.len() > LONGEST_CHAIN {
        item.wrong(format!("the chain of `from` is longer than {LONGEST_CHAIN} formulas"), None);
        None
    } else if path.contains(from) {
        item.wrong(
            format!("the chain returns to itself: {} -> {from}", path.join(" -> ")),
            Some("write the targets out in one of them".to_owned()),
        );
        None
    } else if written.contains_key(from) {
        let base = resolve(from, written, path, resolved, problems)?;
        Some(Formula { name: name.to_owned(), ..base })
    } else {
        let names = others().collect::<Vec<_>>().join(", ");
        item.wrong(format!("read \"{from}\"; there is no formula of that name, only {names}"), did_you_mean(from, others()));
        None
    }
}

/// A chain of `from` longer than this is no bench file, and resolving it must not exhaust the stack.
const LONGEST_CHAIN: usize = 32;

/// A target made from an inherited one, by `strength` or `times`; false when it leaves the range.
fn in_range(item: &Item, nutrient: Nutrient, target: f64) -> bool {
    let checked = TARGET_PPM.check(target);
    if let Err(error) = &checked {
        item.wrong(format!("it takes {nutrient} too far: {error}"), None);
    }
    checked.is_ok()
}

fn start_of(span: &Range<usize>) -> Range<usize> {
    span.start..span.start
}

/// `strength` first, then the formula's own entries. False when something was refused.
fn apply(own: &Written, formula: &mut Formula) -> bool {
    let mut sound = strengthened(own, formula);
    for (nutrient, entry, item) in &own.entries {
        let inherited = formula.wish(*nutrient).copied();
        let Some(wish) = own_wish(*nutrient, entry, inherited, item, &mut sound) else { continue };
        if wish.target.is_none() && wish.min.is_none() && wish.max.is_none() {
            item.wrong(
                "says neither a target nor a limit",
                Some(format!("give {nutrient} a target in ppm, or {{ min = …, max = … }}")),
            );
            sound = false;
        }
        formula.wishes.retain(|other| other.nutrient != *nutrient);
        formula.wishes.push(wish);
    }
    formula.wishes.sort_by_key(|wish| wish.nutrient);
    formula.ammonium_share = own.ammonium_share.unwrap_or(formula.ammonium_share);
    formula.ec = own.ec.unwrap_or(formula.ec);
    formula.hold_at_most = own.hold_at_most.or(formula.hold_at_most);
    !asks_nitrogen_twice(own, formula) && sound
}

/// Inherited targets by the `strength` of the formula; false when one leaves the range.
fn strengthened(own: &Written, formula: &mut Formula) -> bool {
    let Some((strength, item)) = &own.strength else { return true };
    let mut sound = true;
    for wish in &mut formula.wishes {
        if let Some(target) = wish.target {
            let scaled = ppm_of(target) * strength;
            sound = sound && in_range(item, wish.nutrient, scaled);
            wish.target = Some(ppm(scaled));
        }
    }
    sound
}

/// What an entry asks of its nutrient; `None` where `times` has nothing to multiply.
///
/// * `sound`: made false when something is refused
fn own_wish(nutrient: Nutrient, entry: &Entry, inherited: Option<Wish>, item: &Item, sound: &mut bool) -> Option<Wish> {
    let wish = Wish {
        nutrient,
        target: entry.target.map(ppm),
        min: entry.limits.min.map(ppm),
        max: entry.limits.max.map(ppm),
        weight: entry.weight.unwrap_or(1.0),
    };
    let Some((times, times_item)) = &entry.times else { return Some(wish) };
    let Some((base, target)) = inherited.and_then(|wish| wish.target.map(|target| (wish, target))) else {
        item.wrong(
            format!("`times` multiplies an inherited target, and there is none for {nutrient}"),
            Some(format!("give {nutrient} a target of its own, in ppm, or leave it out")),
        );
        *sound = false;
        return None;
    };
    let scaled = ppm_of(target) * *times;
    *sound &= in_range(times_item, nutrient, scaled);
    // limits that were inherited stay as they are, and the fit says what they cost
    let (low, high) = (entry.limits.min.unwrap_or(0.0), entry.limits.max.unwrap_or(f64::MAX));
    if *sound && !(low..=high).contains(&scaled) {
        item.wrong(format!("`times` makes the target {} ppm, outside its own `min` and `max`", ppm_text(scaled)), None);
        *sound = false;
    }
    Some(Wish {
        target: Some(ppm(scaled)),
        min: wish.min.or(base.min),
        max: wish.max.or(base.max),
        weight: entry.weight.unwrap_or(base.weight),
        ..wish
    })
}

/// True, and told, where nitrogen and both of its forms are targets.
fn asks_nitrogen_twice(own: &Written, formula: &Formula) -> bool {
    let targeted = |nutrient| formula.wish(nutrient).is_some_and(|wish| wish.target.is_some());
    let twice = [Nutrient::N, Nutrient::NitrateN, Nutrient::AmmoniumN].into_iter().all(targeted);
    if twice && let Some((_, _, item)) = own.entries.iter().find(|(nutrient, _, _)| nutrient.element() == "N") {
        item.wrong(
            format!(
                "N, NO3-N and NH4-N are all targets, but N is the sum of the other two ({} ppm asked)",
                ppm_text(formula.nitrogen_target().map_or(0.0, ppm_of))
            ),
            Some("leave one of the three out".to_owned()),
        );
    }
    twice
}
