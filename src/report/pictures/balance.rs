//! The balance of cations and anions in two triangles, with the numbers beside them.

use maud::{Markup, html};

use super::svg::{Form, legend};
use super::ternary::ternary;
use crate::jobs::Balance;
use crate::quantity::fixed;
use crate::report::page::{Block, Leaf, Medium, Page};

/// Forms in the order of the balances: the tank itself, then what it is compared with.
const FORMS: [Form; 4] = [Form::Disc, Form::Square, Form::Triangle, Form::Diamond];
const CATIONS: [&str; 3] = ["K", "Ca", "Mg"];
const ANIONS: [&str; 3] = ["NO₃", "H₂PO₄", "SO₄"];

/// One of the two triples of a balance.
type Shares = fn(&Balance) -> Option<[f64; 3]>;

/// Balances as two triangles; nothing where there is nothing to show.
///
/// * `own`: true where the first is the tank of the sheet, whose mark is the disc
/// * `not_compared`: what should stand there and why it does not
pub(in crate::report) fn balance(page: &mut Page, balances: &[Balance], own: bool, not_compared: &[(String, String)]) {
    let forms = if own { &FORMS[..] } else { &FORMS[1..] };
    let all: Vec<(&Balance, Form)> = balances.iter().zip(forms.iter().copied()).collect();
    if all.iter().all(|(one, _)| one.cations_percent.is_none() && one.anions_percent.is_none()) {
        return;
    }
    let pair = html! {
        div .pair {
            (half("cations", "Cations", CATIONS, &all, |one| one.cations_percent))
            (half("anions", "Anions", ANIONS, &all, |one| one.anions_percent))
        }
    };
    page.only(Medium::Sheet, |page| {
        page.section("Balance of cations and anions", "");
        page.leaf(Leaf::Annex);
        page.add(Block::Picture(pair));
        page.say(
            "Percent of the sum of the three by charge. All phosphorus counts as H₂PO₄⁻ and all sulfur as SO₄²⁻; ammonium, \
             sodium and chloride stand outside the triangles. Growth and push are shown as this bench weighs them out. \
             Form of the picture: usual in plant nutrition [from memory].",
        )
        .look("quiet");
        for (name, why) in not_compared {
            page.say(format!("Not shown: {name}, since it cannot be mixed here: {why}")).look("quiet");
        }
    });
}

fn half(id: &str, title: &str, names: [&str; 3], all: &[(&Balance, Form)], shares: Shares) -> Markup {
    let points: Vec<([f64; 3], Form)> = all.iter().filter_map(|(one, form)| Some((shares(one)?, *form))).collect();
    let told: Vec<String> = all.iter().map(|(one, _)| in_words(one, names, shares)).collect();
    html! {
        figure {
            (ternary(id, title, &told.join(" "), names, &points))
            figcaption {
                table .numbers {
                    thead { tr { th scope="col" { (title) ", %" } @for name in names { th scope="col" { (name) } } } }
                    tbody {
                        @for (one, form) in all {
                            tr {
                                th scope="row" { (legend(*form)) " " (one.name) }
                                @match shares(one) {
                                    Some(percent) => @for share in percent { td { (fixed(share, 1)) } },
                                    None => td colspan="3" { "none of the three" },
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn in_words(one: &Balance, names: [&str; 3], shares: Shares) -> String {
    match shares(one) {
        Some(percent) => {
            let each: Vec<String> =
                names.iter().zip(percent).map(|(name, share)| format!("{name} {} %", fixed(share, 1))).collect();
            format!("{}: {}.", one.name, each.join(", "))
        }
        None => format!("{}: none of the three.", one.name),
    }
}
