//! The sections of a bench file, each read into its validated form.

use toml::de::{DeTable, DeValue};

use super::cycle;
use super::formulas::formulas;
use super::helpers::{bottles, helpers};
use super::instruments::{jugs, meter, scales, syringe};
use super::names::plain_name;
use super::products::products;
use super::reader::{Item, Problems, Table, did_you_mean};
use super::salts::{grams, known_salt};
use super::waters::{water, waters};
use super::{Acid, Basis, Bench, BenchError, Problem, Stock, Tank};
use crate::catalogue::{Catalogue, SaltId};
use crate::matter::Kind;
use crate::quantity::{self, ON_HAND_G, ON_HAND_L, PH, PLUS_MINUS_L, PRICE, PURITY, TANK_L, TEMPERATURE_C, celsius, liter};

const SECTIONS: [&str; 15] = [
    "name", "bottles", "tank", "water", "scale", "syringe", "jug", "meter", "shelf", "product", "helper", "acid", "formula",
    "cycle", "group",
];

/// So many acids are shared out at most.
const MOST_ACIDS: usize = 3;

/// More tanks than this are refused: each has a logbook of its own.
const TANKS_AT_MOST: usize = 12;

pub(super) fn bench(text: &str, file: &str) -> Result<Bench, BenchError> {
    let refused = |problems: Vec<Problem>| BenchError { file: file.to_owned(), text: text.to_owned(), problems };
    let parsed = DeTable::parse(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let (message, help) = (error.message().to_owned(), toml_help(error.message(), text, span.start));
        refused(vec![Problem { key: String::new(), span, message, allowed: None, help }])
    })?;
    let problems = Problems::default();
    let root = Table::new(&parsed, &problems);
    root.only(&SECTIONS);
    let catalogue = products(&root, Catalogue::standard().clone());
    let named = named(&root);
    let catalogue = catalogue.with_strengths(named.iter().map(String::as_str));
    let own_ids: Vec<&str> =
        root.tables("product").iter().filter_map(|table| table.get("id")).filter_map(|id| id.value.as_str()).collect();
    let tanks = if root.get("tank").is_some_and(|item| item.value.is_array()) { tanks(&root) } else { Vec::new() };
    let first = if root.get("tank").is_some_and(|item| item.value.is_array()) {
        tanks.first().map(|(_, tank)| *tank)
    } else {
        tank(&root)
    };
    let (syringe, meter) = (syringe(&root), meter(&root));
    let bench = Bench {
        name: root.get("name").and_then(|item| item.text("a name in quotes")).unwrap_or("unnamed bench").to_owned(),
        tank: first.unwrap_or(Tank { volume: liter(1.0), plus_minus: liter(0.0), temperature: celsius(25.0) }),
        water: water(&root, &catalogue, meter),
        waters: waters(&root, &catalogue, meter),
        blend: Vec::new(),
        named: Vec::new(),
        scales: scales(&root),
        syringe,
        meter,
        jugs: jugs(&root, &syringe),
        shelf: root.table("shelf", "[shelf]").map_or_else(Vec::new, |table| shelf(&table, &catalogue, &own_ids)),
        helpers: helpers(&root, &catalogue),
        bottles: bottles(&root),
        acid: acid(&root, &catalogue),
        formulas: root
            .table("formula", "[formula]")
            .map_or_else(Vec::new, |table| formulas(&table, catalogue.elements(), &problems, meter)),
        cycle: cycle::cycle(&root),
        groups: cycle::groups(&root, &tanks),
        bags: cycle::bags(&root, &catalogue),
        counted: cycle::counted(&root, &catalogue),
        tanks,
        catalogue,
    };
    let problems = problems.into_sorted();
    if problems.is_empty() { Ok(bench) } else { Err(refused(problems)) }
}

/// Every id of a salt that the shelf, the acid or a bottle names: an acid among them may be of any strength.
fn named(root: &Table) -> Vec<String> {
    let of = |value: Option<&DeValue>| -> Vec<String> {
        let keys = value.and_then(DeValue::as_table).into_iter().flatten();
        keys.map(|(key, _)| key.get_ref().to_string()).collect()
    };
    let mut ids = of(root.get("shelf").map(|item| item.value));
    for helper in root.tables("helper") {
        ids.extend(of(helper.get("made_of").map(|item| item.value)));
    }
    let acid = root.get("acid").and_then(|item| item.value.as_table()?.get("salt"));
    match acid.map(toml::Spanned::get_ref) {
        Some(DeValue::String(id)) => ids.push(id.to_string()),
        Some(DeValue::Array(list)) => ids.extend(list.iter().filter_map(|id| id.get_ref().as_str().map(str::to_owned))),
        _ => {}
    }
    ids
}

/// The usual slips behind a message of the TOML reader.
fn toml_help(message: &str, text: &str, at: usize) -> Option<String> {
    let bytes = text.as_bytes();
    let digit = |at: Option<usize>| at.and_then(|at| bytes.get(at)).is_some_and(u8::is_ascii_digit);
    let help = if bytes.get(at) == Some(&b',') && digit(at.checked_sub(1)) && digit(Some(at + 1)) {
        "write decimals after a point, as in 1.5"
    } else if message.starts_with("string values must be quoted") {
        "put text, and a number with its unit, in quotes, as in \"60 L\""
    } else if message.starts_with("duplicate key") {
        "each key and each section stands once; only [[sections]] in double brackets repeat"
    } else {
        return None;
    };
    Some(help.to_owned())
}

fn tank(root: &Table) -> Option<Tank> {
    let table = root.require("tank", "[tank] with volume = \"60 L\"")?.as_table("[tank]")?;
    table.only(&["volume", "plus_minus", "temperature"]);
    one_tank(&table)
}

/// Every `[[tank]]`, each with an id of its own that cannot be taken for a volume.
fn tanks(root: &Table) -> Vec<(String, Tank)> {
    let mut all: Vec<(String, Tank)> = Vec::new();
    for table in root.tables("tank") {
        table.only(&["id", "volume", "plus_minus", "temperature"]);
        let id = table.require("id", "id = \"small bench\"").and_then(|item| {
            let id = plain_name(&item)?;
            let taken = all.iter().any(|(other, _)| other == id);
            if taken {
                item.wrong(format!("`{id}` is taken"), Some("choose another id".to_owned()));
            } else if quantity::volume(id, &TANK_L).is_ok() {
                item.wrong(format!("`{id}` reads as a volume, and could not be told from one"), None);
            } else if all.len() >= TANKS_AT_MOST {
                item.wrong(format!("more than {TANKS_AT_MOST} tanks are not taken"), None);
            }
            Some(id)
        });
        if let (Some(id), Some(tank)) = (id, one_tank(&table)) {
            all.push((id.to_owned(), tank));
        }
    }
    all
}

fn one_tank(table: &Table) -> Option<Tank> {
    let volume = table.require("volume", "volume = \"60 L\"")?.quantity("60 L", |text| quantity::volume(text, &TANK_L))?;
    let plus_minus = match table.get("plus_minus") {
        None => volume * 0.02,
        Some(item) => {
            let plus_minus = item.quantity("1 L", |text| quantity::volume(text, &PLUS_MINUS_L))?;
            if plus_minus > volume * 0.5 {
                item.wrong("more than half of the tank is no measurement", None);
            }
            plus_minus
        }
    };
    let temperature = match table.get("temperature") {
        None => celsius(25.0),
        Some(item) => item.quantity("21 C", |text| quantity::temperature(text, &TEMPERATURE_C))?,
    };
    Some(Tank { volume, plus_minus, temperature })
}

fn shelf(table: &Table, catalogue: &Catalogue, own_ids: &[&str]) -> Vec<Stock> {
    let mut shelf: Vec<Stock> = table
        .items()
        .filter_map(|item| {
            if catalogue.find(item.name).is_none() && own_ids.contains(&item.name) {
                return None; // its [[product]] was refused, and that is told
            }
            let id = known_salt(&item, item.name, catalogue)?;
            let own = item.own_table()?;
            own.only(&["on_hand", "counted_on", "price_per_kg", "price_per_l", "purity", "bag"]);
            stock(id, &own, catalogue)
        })
        .collect();
    shelf.sort_by_key(|stock| stock.salt);
    shelf
}

fn stock(id: SaltId, own: &Table, catalogue: &Catalogue) -> Option<Stock> {
    let salt = catalogue.salt(id);
    let on_hand = match own.get("on_hand") {
        None => None,
        Some(item) => {
            let amount = item.quantity("2 kg", |text| quantity::amount(text, &ON_HAND_G, &ON_HAND_L))?;
            Some(grams(&item, amount, salt)?)
        }
    };
    let per_kg = own.get("price_per_kg").and_then(|item| item.number(&PRICE)).map(|price| price / 1e3);
    let per_l = own.get("price_per_l").and_then(|item| match salt.density_kg_per_l {
        Some(density) => item.number(&PRICE).map(|price| price / (density * 1e3)),
        None => {
            item.wrong(format!("{} is a solid; state `price_per_kg`", salt.name), None);
            None
        }
    });
    if let (Some(_), Some(_), Some(item)) = (per_kg, per_l, own.get("price_per_l")) {
        item.wrong("states the same thing as `price_per_kg`", Some("keep one of the two".to_owned()));
    }
    let purity = own.get("purity").and_then(|item| item.number(&PURITY));
    Some(Stock { salt: id, on_hand, price_per_g: per_kg.or(per_l), purity })
}

fn acid(root: &Table, catalogue: &Catalogue) -> Option<Acid> {
    let table = root.table("acid", "[acid]")?;
    table.only(&["salt", "target_pH", "basis"]);
    let item = table.require("salt", "salt = \"phosphoric-acid-10\"")?;
    let salts = acid_ids(&item)?;
    for id in &salts {
        is_an_acid(root, catalogue, &item, id)?;
    }
    let target_ph = table.require("target_pH", "target_pH = 5.8")?.number(&PH)?;
    let basis = match table.get("basis") {
        None => Basis::Fresh,
        Some(item) => match item.text("\"fresh\" or \"aired\"")? {
            "fresh" => Basis::Fresh,
            "aired" => Basis::Aired,
            other => {
                item.wrong(
                    format!("read \"{other}\"; it takes \"fresh\" or \"aired\""),
                    did_you_mean(other, ["fresh", "aired"]),
                );
                return None;
            }
        },
    };
    Some(Acid { salts, target_ph, basis })
}

/// One acid by its id, or a list of them.
fn acid_ids(item: &Item) -> Option<Vec<String>> {
    let Some(list) = item.value.as_array() else {
        return Some(vec![item.text("the id of an acid, or a list of ids")?.to_owned()]);
    };
    let ids: Option<Vec<String>> = list.iter().map(|id| id.get_ref().as_str().map(str::to_owned)).collect();
    let example = || Some("write salt = [\"phosphoric-acid-10\", \"citric-acid\"]".to_owned());
    let Some(ids) = ids else {
        item.wrong("a list of acids holds ids in quotes", example());
        return None;
    };
    if ids.is_empty() || ids.len() > MOST_ACIDS {
        item.wrong(format!("read {} ids; it takes one to {MOST_ACIDS}", ids.len()), example());
        return None;
    }
    if let Some(twice) = ids.iter().enumerate().find_map(|(at, id)| ids[..at].contains(id).then_some(id)) {
        item.wrong(format!("`{twice}` stands twice"), Some("name each acid once".to_owned()));
        return None;
    }
    Some(ids)
}

/// Notes what is no acid; nothing where the id is not known.
fn is_an_acid(root: &Table, catalogue: &Catalogue, item: &Item, id: &str) -> Option<()> {
    let is_helper = root
        .tables("helper")
        .iter()
        .any(|helper| helper.get("id").and_then(|i| i.value.as_str().map(str::to_owned)).as_deref() == Some(id));
    if !is_helper {
        let salt = catalogue.salt(known_salt(item, id, catalogue)?);
        if salt.kind != Kind::Acid {
            let acids: Vec<&str> =
                catalogue.salts().iter().filter(|salt| salt.kind == Kind::Acid).map(|salt| salt.id.as_str()).collect();
            item.wrong(
                format!("{} is no acid", salt.name),
                Some(format!("the acids are {}, or one by its per cent, as nitric-acid-38", acids.join(", "))),
            );
        }
    }
    Some(())
}
