//! The shopping list of a cycle, to tick.

use maud::{Markup, html};

use super::page::section;
use crate::jobs::{CycleRecord, SaltTotal};
use crate::quantity::fixed;
use crate::report::cycle::{stuff, to_buy};

/// What the whole plan takes, what is there, what to buy.
pub(super) fn shopping(record: &CycleRecord) -> Markup {
    let money = |cost: Option<f64>| cost.map_or_else(|| "not known, a price is missing".to_owned(), |cost| fixed(cost, 2));
    let body = html! {
        table .shopping {
            thead { tr { th scope="col" { span .unseen { "bought" } } th scope="col" { "salt" } th scope="col" { "buy" } th scope="col" { "needed" } th scope="col" { "on hand" } } }
            tbody { @for (at, total) in record.salts.iter().enumerate() { (row(total, at + 1)) } }
        }
        @if record.salts.iter().any(|total| total.on_hand_g.is_none()) { p .quiet { "?: the shelf does not say; \"up to\" is for none left." } }
        p .quiet { "Cost of all tanks: " (money(record.cost)) ". Cost of what to buy: " (money(record.shopping_cost)) "." }
    };
    section("shopping", "Shopping", "for the whole plan", &body)
}

fn row(total: &SaltTotal, at: usize) -> Markup {
    let id = format!("buy-{at}");
    let buy = to_buy(total);
    let nothing = buy == "-";
    html! {
        tr {
            td .box { @if !nothing { input type="checkbox" id=(id); } span .number { (at) "." } }
            th scope="row" { @if nothing { (total.name) } @else { label for=(id) { (total.name) } } }
            td { @if nothing { "nothing" } @else { b { (buy) } } }
            td { (stuff(total.needed_g, total.needed_ml)) }
            td { (total.on_hand_g.map_or_else(|| "?".to_owned(), |grams| stuff(grams, total.on_hand_ml))) }
        }
    }
}
