//! Bottles that are there, and sizes of empty ones.

use super::cycle::day;
use super::names::well_formed;
use super::reader::{Item, Table};
use super::salts::{grams, known_salt};
use super::{Helper, Ingredient};
use crate::catalogue::Catalogue;
use crate::quantity::{self, Amount, BOTTLE_L, Bound, HELPER_SALT_G, LEFT_L, ON_HAND_L, Volume, liter};

pub(super) fn helpers(root: &Table, catalogue: &Catalogue) -> Vec<Helper> {
    let mut helpers: Vec<Helper> = Vec::new();
    let tables = root.tables("helper");
    let ids: Vec<&str> = tables.iter().filter_map(|table| table.get("id")).filter_map(|id| id.value.as_str()).collect();
    for table in &tables {
        let Some(helper) = helper(table, catalogue, &helpers, &ids) else { continue };
        if (helpers.iter().any(|other| other.id == helper.id) || catalogue.find(&helper.id).is_some())
            && let Some(item) = table.get("id")
        {
            item.wrong(format!("`{}` is taken", helper.id), Some("choose another id".to_owned()));
        }
        helpers.push(helper);
    }
    helpers
}

/// Sizes of empty bottles, smallest first; one of a litre where none is stated.
pub(super) fn bottles(root: &Table) -> Vec<Volume> {
    let mut bottles: Vec<Volume> = root.get("bottles").map_or_else(Vec::new, |item| {
        let sizes = item.list("bottles = [\"250 mL\", \"1 L\"]");
        sizes.iter().filter_map(|size| size.quantity("1 L", |text| quantity::volume(text, &BOTTLE_L))).collect()
    });
    if bottles.is_empty() {
        bottles = vec![liter(1.0)];
    }
    bottles.sort_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal));
    bottles.dedup();
    bottles
}

fn volume(item: &Item, bound: &Bound) -> Option<Volume> {
    item.quantity("1 L", |text| quantity::volume(text, bound))
}

/// One thing that goes into a bottle.
///
/// * `(id, bottle)`: of the bottle, what it is called and what it holds
/// * `before`: the bottles above it
/// * `ids`: every bottle, those that were refused too
fn ingredient(
    item: &Item,
    (id, bottle): (&str, Volume),
    catalogue: &Catalogue,
    before: &[Helper],
    ids: &[&str],
) -> Option<(Ingredient, Amount)> {
    if let Some(at) = before.iter().position(|other| other.id == item.name) {
        let drawn = volume(item, &LEFT_L)?;
        if drawn > before[at].volume {
            item.wrong(format!("more goes in than `{}` ever held", item.name), None);
        } else if drawn > bottle {
            item.wrong("more goes in than the bottle holds", None);
        }
        return Some((Ingredient::Helper(at), Amount::Volume(drawn)));
    }
    if ids.contains(&item.name) && catalogue.find(item.name).is_none() {
        if item.name == id {
            item.wrong_key("a bottle cannot be made of itself", None);
            return None;
        }
        let help = Some("a bottle is made of those that stand above it: change their order".to_owned());
        item.wrong_key(format!("the bottle `{}` does not stand above this one", item.name), help);
        return None;
    }
    let salt = known_salt(item, item.name, catalogue)?;
    let amount = item.quantity("3.5 g", |text| quantity::amount(text, &HELPER_SALT_G, &ON_HAND_L))?;
    grams(item, amount, catalogue.salt(salt))?;
    Some((Ingredient::Salt(salt), amount))
}

fn helper(table: &Table, catalogue: &Catalogue, before: &[Helper], ids: &[&str]) -> Option<Helper> {
    table.only(&["id", "volume", "made_of", "made_on", "left", "counted_on", "made_with"]);
    let id_item = table.require("id", "id = \"traces-1\"")?;
    let id = well_formed(&id_item)?.to_owned();
    let bottle = volume(&table.require("volume", "volume = \"1 L\"")?, &BOTTLE_L)?;
    let mut made_of = Vec::new();
    let contents = table.require("made_of", "made_of = { boric-acid = \"3.5 g\" }")?;
    for item in contents.own_table()?.items() {
        made_of.push(ingredient(&item, (&id, bottle), catalogue, before, ids)?);
    }
    if made_of.is_empty() {
        contents.wrong("the bottle holds nothing", None);
    }
    let drawn = |(_, amount): &(Ingredient, Amount)| match amount {
        Amount::Volume(volume) => Some(*volume),
        Amount::Mass(_) => None,
    };
    let volumes: Vec<Volume> = made_of.iter().filter_map(drawn).collect();
    // one that is too much by itself is told above
    if volumes.iter().all(|volume| *volume <= bottle) && volumes.iter().copied().sum::<Volume>() > bottle * (1.0 + 1e-9) {
        contents.wrong("more goes in, all together, than the bottle holds", None);
    }
    let left = table.get("left").and_then(|item| volume(&item, &LEFT_L).map(|left| (left, item)));
    if let Some((left, item)) = &left
        && *left > bottle
    {
        item.wrong("more is left than the bottle holds", None);
    }
    let counted = table.get("counted_on");
    if let (Some(item), None) = (&counted, table.get("left")) {
        item.wrong("goes with `left`: it is the day on which that was looked at", None);
    }
    let made_with_pure_water = table.get("made_with").is_some_and(|item| {
        let pure = item.text("\"pure\", or leave it out for the bench's own water") == Some("pure");
        if !pure {
            item.wrong("it takes \"pure\", or leave it out for the bench's own water", None);
        }
        pure
    });
    Some(Helper {
        id,
        volume: bottle,
        made_of,
        made_on: table.get("made_on").and_then(|item| day(&item)),
        left: left.map(|(left, _)| left),
        counted_on: counted.and_then(|item| day(&item)),
        made_with_pure_water,
    })
}
