//! MAKE FIRST: dilute bottles, how new ones are made and labelled, and which to draw from.

use super::page::{Leaf, Marks, Medium, Page, Table, bold, left, right, strong};
use super::words::{ingredient_amount, ingredient_name, ingredient_with, millilitres, stuff, water_words};
use crate::jobs::{HelperRecord, Ingredient, Left, WaterRecord};
use crate::quantity::{fixed, trimmed};

/// The bottles of a mix; nothing where it has none.
///
/// * `waters`: of the tank that they are for
pub(super) fn bottles(page: &mut Page, helpers: &[HelperRecord], waters: &[WaterRecord]) {
    let (new, there): (Vec<&HelperRecord>, Vec<&HelperRecord>) = helpers.iter().partition(|helper| helper.new);
    if !new.is_empty() {
        page.section("Make first", "dilute bottles, for what is too little to measure");
        page.say("Most of the water first, then each as listed, clear before the next, then up to the mark.").look("quiet");
        for (at, helper) in new.iter().enumerate() {
            if at > 0 {
                page.gap();
            }
            new_bottle(page, helper, waters);
        }
        page.gap();
        let words = "With its lines in the bench file, `made_on` without its `#` and with the day, a bottle is used from now on, and what logbooks draw is taken off.";
        page.only(Medium::Text, |page| {
            page.say(words);
        });
    }
    cut_outs(page, "for dilute bottles", new.iter().map(|helper| helper.label.clone()).collect());
    let left: Vec<String> = there.iter().filter_map(|one| left_then(one)).collect();
    let keeps = there.iter().filter_map(|one| Some(format!("{} until {}", one.id, one.keeps_until?)));
    let keeps: Vec<String> = keeps.collect();
    let said = [("In the bottles then", left), ("They keep, dark and cool", keeps)];
    let said =
        said.into_iter().filter(|(_, each)| !each.is_empty()).map(|(what, each)| format!("{what}: {}.", each.join(", ")));
    let said: Vec<String> = said.collect();
    if !said.is_empty() {
        page.say(said.join(" ")).look("quiet");
    }
    if !there.is_empty() {
        page.only(Medium::Sheet, |page| {
            page.section("Bottles to draw from", "dilute, for what is too little to measure");
            page.list(
                Marks::Nothing(3),
                there.iter().map(|one| strong(&one.id).and(format!(", there already: {}", served(one)))),
            );
        });
    }
}

/// What is left on the shelf and in the bottles; nothing where it is not known of any.
pub(super) fn on_the_shelf(page: &mut Page, left: &[Left]) {
    if left.is_empty() {
        return;
    }
    page.section("On the shelf", "as counted, less what is written down as poured in");
    let each = left.iter().map(|one| format!("{} {}", one.name, stuff(one.grams.unwrap_or_default(), one.millilitres)));
    page.say(each.collect::<Vec<_>>().join(", "));
    if left.iter().any(|one| one.acid) {
        page.say("What of an acid was thinned and not poured is not taken off.").look("quiet");
    }
}

/// What is left of a bottle behind its dose, where it is known what is in it.
fn left_then(helper: &HelperRecord) -> Option<String> {
    let left = (helper.left_ml? - helper.dose_ml?).max(0.0);
    Some(format!("{} {} of {} mL", helper.id, fixed(left, 1), trimmed(helper.volume_ml, 1)))
}

/// What of a bottle goes into the tank, and for how long it lasts.
fn served(helper: &HelperRecord) -> String {
    let (what, tanks) = (if helper.new { "a full bottle" } else { "what is left" }, fixed(helper.tanks, 0));
    match helper.dose_ml {
        Some(ml) => format!("{} mL goes into the tank; {what} serves {tanks} such tanks.", trimmed(ml, 2)),
        None => format!("Only to make the thinner bottle of it; enough for {tanks} such tanks."),
    }
}

fn new_bottle(page: &mut Page, helper: &HelperRecord, waters: &[WaterRecord]) {
    let made_up = format!(", made up to {} with {}", millilitres(helper.volume_ml), water_words(helper.pure_water, waters));
    page.line(bold(&helper.id).and(made_up));
    ingredients(page, &helper.made_of);
    page.say_after("     ", served(helper));
    keep(page, "     ", helper);
    label(page, helper);
}

/// For how long it keeps.
pub(super) fn keep(page: &mut Page, first: &str, helper: &HelperRecord) {
    let words = format!("Keep it dark and cool, {} days at most (common practice, no source).", helper.keep_days);
    page.say_after(first, words).look("quiet");
}

/// What to write on a bottle, and its lines for the bench file. A sheet has labels to cut out in its place.
pub(super) fn label(page: &mut Page, helper: &HelperRecord) {
    page.only(Medium::Text, |page| {
        page.say_after("     ", "Label");
        page.list(Marks::Dashes(7), helper.label.iter().map(String::as_str));
        page.line("  For the bench file");
        for line in helper.entry.iter().flat_map(|entry| entry.lines()) {
            page.line(format!("    {line}"));
        }
    });
}

/// Labels to cut out of a sheet and glue on, one for each list of lines.
///
/// * `what`: what they are for
pub(super) fn cut_outs(page: &mut Page, what: &str, labels: Vec<Vec<String>>) {
    if labels.is_empty() {
        return;
    }
    page.only(Medium::Sheet, |page| {
        page.section("Labels to cut out", what);
        page.leaf(Leaf::Annex);
        for lines in labels {
            page.list(Marks::Nothing(3), lines).look("cut");
        }
    });
}

/// What goes into a bottle, and how much it is with which instrument.
pub(super) fn ingredients(page: &mut Page, made_of: &[Ingredient]) {
    let mut table = Table::new([right(""), left(""), left("")]).indent(7).ticked("into");
    for of in made_of {
        table.row([ingredient_amount(of), ingredient_name(of), ingredient_with(of)]);
    }
    page.table(table).look("into");
}
