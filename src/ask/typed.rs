//! What stands in a request as text, read: benches, quantities, salts with their amounts, logbooks.

use super::Refusal;
use crate::bench::Bench;
use crate::catalogue::{Catalogue, SaltId};
use crate::jobs::{self, Added, Drawn, Recipe};
use crate::logbook::{Amounts, Logbook, Moment, Patterns};
use crate::matter::{NUTRIENTS, Nutrient};
use crate::quantity::{
    self, ADDED_G, ADDED_L, Amount, Bound, Conductivity, Date, MeterScale, QuantityError, SOLUTION_PPM, TANK_L,
    TEMPERATURE_C, Temperature, Volume, nine_digits, ppm_of,
};
use crate::suggest;

/// The bench of a text, or the starter; with another tank volume where one is stated.
pub(super) fn bench(text: Option<&str>, tank: Option<&str>) -> Result<Bench, Refusal> {
    let bench = match text {
        None => Bench::starter(),
        Some(text) => Bench::parse(text, "bench")?,
    };
    match tank {
        None => Ok(bench),
        Some(typed) => with_tank(bench, typed),
    }
}

/// The bench with the tank that was typed: one of its own by the id, or another volume.
fn with_tank(bench: Bench, typed: &str) -> Result<Bench, Refusal> {
    if let Some(picked) = bench.clone().with_tank_of(typed) {
        return Ok(picked);
    }
    let ids: Vec<&str> = bench.tanks.iter().map(|(id, _)| id.as_str()).collect();
    match quantity::volume(typed, &TANK_L) {
        Ok(volume) => Ok(bench.with_tank(volume)),
        Err(error) if ids.is_empty() => Err(Refusal::unfit("tank", typed, &error)),
        Err(error) => {
            let help = suggest::nearest(typed, ids.iter().copied()).map(|word| format!("did you mean `{word}`?"));
            let allowed = format!("{}, or {}", ids.join(", "), error.allowed());
            let message = format!("`tank` reads \"{typed}\"; it takes {allowed}");
            Err(Refusal::input("quantity", message, help).about("tank", typed, Some(allowed)))
        }
    }
}

/// The bench with the waters that a tank was filled with, each as `rain=40L`; one alone needs no volume.
///
/// A bench with one water is left as it is, and takes none.
pub(super) fn filled_with(bench: Bench, typed: &[String]) -> Result<Bench, Refusal> {
    const KEY: &str = "water";
    let ids = || bench.waters.iter().map(|source| source.id.as_str());
    let all = ids().collect::<Vec<_>>().join(", ");
    let wrong = |message: String, help: Option<String>| Refusal::input("waters", message, help);
    if bench.waters.is_empty() {
        let message = "the bench has one water, so `water` has nothing to tell apart";
        return if typed.is_empty() { Ok(bench) } else { Err(wrong(message.to_owned(), None)) };
    }
    let help = || Some("name what was filled in: `--water rain=40L --water tap=20L`, or one alone".to_owned());
    let mut filled: Vec<(String, f64)> = Vec::new();
    for text in typed {
        let (id, litres) = match text.rsplit_once('=') {
            Some((id, volume)) => (id.trim(), self::volume(KEY, volume.trim(), &TANK_L)?),
            None if typed.len() == 1 => (text.trim(), quantity::liter(1.0)),
            None => return Err(wrong(format!("`{KEY}` reads \"{text}\"; of several it takes ID=VOLUME"), help())),
        };
        if !ids().any(|known| known == id) {
            let help = suggest::nearest(id, ids()).map(|word| format!("did you mean `{word}`?"));
            return Err(wrong(format!("there is no water `{id}`; the bench file has {all}"), help).about(
                KEY,
                text,
                Some(all),
            ));
        }
        filled.push((id.to_owned(), quantity::liter_of(litres)));
    }
    if filled.is_empty() {
        return Err(wrong(format!("the bench has several waters ({all}), and which went in is not said"), help()));
    }
    Ok(jobs::filled_with(&bench, &filled)?)
}

/// The bench with the tank to which a logbook is bound, unless another is asked for.
///
/// * `tank`: as it was typed; another tank of the bench is refused
pub(super) fn bench_for(text: Option<&str>, tank: Option<&str>, logbook: Option<&Logbook>) -> Result<Bench, Refusal> {
    let plain = bench(text, None)?;
    let Some(id) = logbook.and_then(Logbook::tank) else { return bench(text, tank) };
    if let Some(typed) = tank.filter(|typed| *typed != id && plain.tanks.iter().any(|(other, _)| other == typed)) {
        let message = format!("this is the logbook of `{id}` and not of `{typed}`");
        return Err(Refusal::input("tank", message, None).about("tank", typed, None));
    }
    let own = tank_of(plain, id)?;
    match tank.filter(|typed| *typed != id) {
        None => Ok(own),
        Some(typed) => with_tank(own, typed),
    }
}

/// The bench with one of its tanks, which a logbook is bound to.
pub(super) fn tank_of(bench: Bench, id: &str) -> Result<Bench, Refusal> {
    let ids: Vec<String> = bench.tanks.iter().map(|(id, _)| format!("`{id}`")).collect();
    bench.with_tank_of(id).ok_or_else(|| {
        let has = if ids.is_empty() { "no [[tank]]".to_owned() } else { ids.join(", ") };
        let message = format!("it is the logbook of the tank `{id}`, and the bench has {has}");
        Refusal::input("tank", message, Some("name the bench file that has it".to_owned())).in_file("logbook")
    })
}

/// A value read where there is a text.
pub(super) fn maybe<T>(typed: Option<&String>, read: impl FnOnce(&str) -> Result<T, Refusal>) -> Result<Option<T>, Refusal> {
    typed.map(|typed| read(typed)).transpose()
}

pub(super) fn volume(key: &str, typed: &str, bound: &Bound) -> Result<Volume, Refusal> {
    quantity::volume(typed, bound).map_err(|error| Refusal::unfit(key, typed, &error))
}

pub(super) fn temperature(key: &str, typed: &str) -> Result<Temperature, Refusal> {
    quantity::temperature(typed, &TEMPERATURE_C).map_err(|error| Refusal::unfit(key, typed, &error))
}

/// An EC, also as the grower's own meter shows it.
///
/// * `meter`: its scale, where it shows ppm
pub(super) fn conductivity(
    key: &str,
    typed: &str,
    bound: &Bound,
    meter: Option<MeterScale>,
) -> Result<Conductivity, Refusal> {
    quantity::conductivity(typed, bound, meter).map_err(|error| Refusal::unfit(key, typed, &error))
}

/// A bare number within a bound.
pub(super) fn number(key: &str, typed: &str, bound: &Bound) -> Result<f64, Refusal> {
    number_of(key, key, typed, bound)
}

fn number_of(key: &str, what: &str, typed: &str, bound: &Bound) -> Result<f64, Refusal> {
    let value = typed.parse().map_err(|_| QuantityError::NotANumber { read: typed.to_owned() });
    value.and_then(|value| bound.check(value)).map_err(|error| Refusal::unfit_of(key, what, typed, &error))
}

/// A concentration by mass; `what` is the one of several things under `key`.
pub(super) fn ppm(key: &str, what: &str, typed: &str, bound: &Bound) -> Result<f64, Refusal> {
    let unfit = |error: &QuantityError| Refusal::unfit_of(key, what, typed, error);
    match quantity::concentration(typed).map_err(|error| unfit(&error))? {
        quantity::Concentration::Mass(mass) => bound.check(nine_digits(ppm_of(mass))).map_err(|error| unfit(&error)),
        quantity::Concentration::Amount(_) => {
            let takes = "ppm or mg/L of the element";
            let message = format!("`{what}` reads \"{typed}\"; it takes {takes}");
            Err(Refusal::input("quantity", message, None).about(key, typed, Some(takes.to_owned())))
        }
    }
}

/// Concentrations typed as ELEMENT=PPM, by symbol, each once; `code` is that of a mistake.
pub(super) fn analysis_ppm(key: &str, found: &[String], code: &str) -> Result<Amounts, Refusal> {
    let mut ppm_by_symbol = Amounts::new();
    for typed in found {
        let Some((symbol, value)) = typed.split_once('=') else {
            let help = Some("write ELEMENT=PPM, as in N=88".to_owned());
            return Err(Refusal::input("salt-amount", format!("`{typed}` has no `=`"), help).about(key, typed, None));
        };
        let symbol = symbol.trim();
        if Nutrient::parse(symbol).is_none() {
            let symbols = NUTRIENTS.map(Nutrient::symbol);
            let help = suggest::nearest(symbol, symbols).map(|word| format!("did you mean `{word}`?"));
            let refusal = Refusal::input(code, format!("`{symbol}` is no nutrient of an analysis"), help);
            return Err(refusal.about(key, symbol, Some(symbols.join(", "))));
        }
        let bare = value.trim().parse::<f64>().is_ok();
        let value =
            if bare { number_of(key, typed, value.trim(), &SOLUTION_PPM)? } else { ppm(key, typed, value, &SOLUTION_PPM)? };
        if ppm_by_symbol.insert(symbol.to_owned(), value).is_some() {
            let message = format!("`{typed}` names {symbol} a second time");
            return Err(Refusal::input(code, message, None).about(key, typed, None));
        }
    }
    Ok(ppm_by_symbol)
}

/// The salt of an id or a name, of several of one name that of the shelf; or what was probably meant.
pub(super) fn find(bench: &Bench, key: &str, name: &str) -> Result<SaltId, Refusal> {
    let table = &bench.catalogue;
    let called = table.called(name);
    // one word alone begins too many names
    let is_begun = called.is_empty() && name.split([' ', '-']).count() > 1;
    let found = if is_begun { table.beginning_with(name) } else { called };
    let there: Vec<SaltId> =
        found.iter().copied().filter(|salt| bench.shelf.iter().any(|stock| stock.salt == *salt)).collect();
    match (&found[..], &there[..]) {
        ([one], _) | (_, [one]) => Ok(*one),
        ([], _) => Err(no_salt(table, key, name)),
        (several, _) => {
            let ids: Vec<&str> = several.iter().map(|salt| table.salt(*salt).id.as_str()).collect();
            let help = Some(format!("name the one on the bag: {}", ids.join(", ")));
            Err(Refusal::input("unknown-salt", format!("`{name}` is the name of several salts"), help)
                .about(key, name, None))
        }
    }
}

/// Nothing has this name.
pub(super) fn no_salt(catalogue: &Catalogue, key: &str, name: &str) -> Refusal {
    let strength = catalogue.of_strength(name.trim()).map(|acid| {
        format!("put `{} = {{}}` under [shelf] of the bench file: an acid of any strength is named by it there", acid.id)
    });
    let help = strength
        .or_else(|| catalogue.strengths_of(name.trim()).map(|all| format!("it takes {all}")))
        .or_else(|| catalogue.meant(name))
        .unwrap_or_else(|| "the salt table lists the ids".to_owned());
    Refusal::input("unknown-salt", format!("there is no salt `{name}`"), Some(help)).about(key, name, None)
}

/// The key under which salts and their amounts stand.
const ADDED: &str = "added";

/// Salts and bottles with their amounts as they were typed, each once.
pub(super) fn went_in(bench: &Bench, typed: &[String]) -> Result<(Vec<Added>, Vec<Drawn>), Refusal> {
    let is_bottle = |typed: &&String| {
        let id = typed.split_once('=').map(|(id, _)| id.trim());
        bench.helpers.iter().any(|helper| Some(helper.id.as_str()) == id)
    };
    let (of_bottles, of_salts): (Vec<&String>, Vec<&String>) = typed.iter().partition(is_bottle);
    // a slip in the id of a bottle is told as such, where no salt is as near
    for typed in &of_salts {
        let id = typed.split_once('=').map_or("", |(id, _)| id.trim());
        let bottles = bench.helpers.iter().map(|helper| helper.id.as_str());
        let salts = bench.catalogue.salts().iter().map(|salt| salt.id.as_str());
        if bench.catalogue.find(id).is_none()
            && let Some(meant) =
                suggest::nearest(id, salts.chain(bottles)).filter(|word| bench.catalogue.find(word).is_none())
        {
            let help = Some(format!("did you mean `{meant}`?"));
            let message = format!("there is no salt and no bottle `{id}`");
            return Err(Refusal::input("unknown-salt", message, help).about(ADDED, id, None));
        }
    }
    let mut bottles: Vec<Drawn> = Vec::new();
    for typed in of_bottles {
        let one = drawn(typed)?;
        if bottles.iter().any(|other| other.bottle == one.bottle) {
            return Err(twice(typed));
        }
        bottles.push(one);
    }
    Ok((salts(bench, of_salts)?, bottles))
}

/// A mass or a volume of what `typed` names.
fn amount(typed: &str, read: &str) -> Result<Amount, Refusal> {
    quantity::amount(read, &ADDED_G, &ADDED_L).map_err(|error| Refusal::unfit_of(ADDED, typed, read, &error))
}

fn drawn(typed: &str) -> Result<Drawn, Refusal> {
    let (id, read) = typed.split_once('=').unwrap_or((typed, ""));
    match amount(typed, read)? {
        Amount::Volume(volume) => Ok(Drawn { bottle: id.trim().to_owned(), volume }),
        Amount::Mass(_) => {
            let message = format!("`{typed}` weighs a bottle; what a gram of it holds is not known");
            let help = Some("state what was drawn up, as in 50mL".to_owned());
            Err(Refusal::input("bottle-by-weight", message, help).about(ADDED, typed, Some("a volume".to_owned())))
        }
    }
}

fn twice(typed: &str) -> Refusal {
    let message = format!("`{typed}` names its salt a second time; add the two up");
    Refusal::input("salt-twice", message, None).about(ADDED, typed, None)
}

/// Salts and amounts as they were typed, each salt once.
pub(super) fn salts<'t>(bench: &Bench, typed: impl IntoIterator<Item = &'t String>) -> Result<Vec<Added>, Refusal> {
    let mut added: Vec<Added> = Vec::new();
    for typed in typed {
        let Some((id, read)) = typed.split_once('=') else {
            let help = Some("write SALT=AMOUNT, as in potassium-nitrate=14.1g".to_owned());
            return Err(Refusal::input("salt-amount", format!("`{typed}` has no `=`"), help).about(ADDED, typed, None));
        };
        let salt = find(bench, ADDED, id.trim())?;
        if added.iter().any(|other| other.salt == salt) {
            return Err(twice(typed));
        }
        added.push(Added { salt, amount: amount(typed, read)? });
    }
    Ok(added)
}

/// A saved recipe.
pub(super) fn recipe(text: &str) -> Result<Recipe, Refusal> {
    serde_json::from_str(text).map_err(|error| {
        let mut refusal = Refusal::input("recipe", format!("is no recipe: {error}"), None).in_file("recipe");
        refusal.problems[0].line = Some(error.line()).filter(|line| *line > 0);
        refusal
    })
}

/// A calendar day.
pub(super) fn day(key: &str, typed: &str) -> Result<Date, Refusal> {
    Date::parse(typed).map_err(|error| {
        let message = format!("`{key}` reads \"{typed}\"; {error}");
        Refusal::input("date", message, None).about(key, typed, Some("a day as in 2027-01-04".to_owned()))
    })
}

/// A logbook, and the moment and the table of uptake by which it is read.
pub(super) struct Read {
    pub(super) logbook: Logbook,
    pub(super) at: Moment,
    pub(super) patterns: Patterns,
}

impl Read {
    pub(super) fn new(logbook: &str, now: Option<&String>, uptake: Option<&String>) -> Result<Self, Refusal> {
        let at = moment(now.map(String::as_str))?;
        let patterns = patterns(uptake.map(String::as_str))?;
        Ok(Self { logbook: self::logbook(logbook)?, at, patterns })
    }

    /// The same, where there is a logbook; what only a logbook gives a meaning is refused without one.
    pub(super) fn maybe(
        logbook: Option<&String>,
        now: Option<&String>,
        uptake: Option<&String>,
    ) -> Result<Option<Self>, Refusal> {
        let given = [("now", now), ("uptake", uptake)];
        match (logbook, given.into_iter().find_map(|(key, given)| Some((key, given?)))) {
            (Some(logbook), _) => Self::new(logbook, now, uptake).map(Some),
            (None, Some((key, given))) => {
                Err(Refusal::input("usage", format!("`{key}` goes with a logbook"), None).about(key, given, None))
            }
            (None, None) => Ok(None),
        }
    }
}

/// The logbook of a text.
pub(super) fn logbook(text: &str) -> Result<Logbook, Refusal> {
    Logbook::parse(text.as_bytes(), &[]).map_err(|damage| Refusal::damaged(&damage))
}

/// Under which name each of several logbooks is told of.
pub(crate) const LOGBOOKS: [&str; 12] = [
    "logbook",
    "logbook 2",
    "logbook 3",
    "logbook 4",
    "logbook 5",
    "logbook 6",
    "logbook 7",
    "logbook 8",
    "logbook 9",
    "logbook 10",
    "logbook 11",
    "logbook 12",
];

/// The logbooks of a bench, each of another tank: that which its first entry names, else the first.
pub(super) fn logbooks(texts: &[String], bench: &Bench) -> Result<Vec<Logbook>, Refusal> {
    if texts.len() > LOGBOOKS.len() {
        return Err(Refusal::input("usage", format!("more than {} logbooks are not taken", LOGBOOKS.len()), None));
    }
    let first = bench.tanks.first().map(|(id, _)| id.as_str());
    let mut all: Vec<Logbook> = Vec::new();
    for (text, name) in texts.iter().zip(LOGBOOKS) {
        let logbook = logbook(text).map_err(|refusal| refusal.in_file(name))?;
        if let Some(id) = logbook.tank() {
            tank_of(bench.clone(), id).map_err(|refusal| refusal.in_file(name))?;
        }
        let own = logbook.tank().or(first);
        if all.iter().any(|other| other.tank().or(first) == own) {
            let of = own.map_or_else(|| "the tank of the bench".to_owned(), |id| format!("`{id}`"));
            let help = Some("a logbook is bound to one of several tanks by the `tank` of its first entry".to_owned());
            return Err(Refusal::input("tank", format!("it is another logbook of {of}"), help).in_file(name));
        }
        all.push(logbook);
    }
    Ok(all)
}

pub(super) fn moment(typed: Option<&str>) -> Result<Moment, Refusal> {
    let typed = typed.ok_or_else(|| {
        let help = "state it as in \"2026-10-03 18:30+02:00\"".to_owned();
        Refusal::input("moment", "`now` is missing: a logbook is read at a moment", Some(help))
    })?;
    Moment::parse(typed).map_err(|why| Refusal::input("moment", format!("`now`: {why}"), None).about("now", typed, None))
}

/// The table of uptake of a text, or the program's own.
pub(super) fn patterns(text: Option<&str>) -> Result<Patterns, Refusal> {
    let Some(text) = text else { return Ok(Patterns::standard()) };
    Patterns::parse(text).map_err(|error| Refusal::input("uptake-table", error.words, None).in_file("uptake"))
}
