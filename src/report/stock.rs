//! Stock bottles for wet hands: what to weigh into which bottle, then the doses, then the meter, labels and what to watch.

use super::bottles::{bottles, cut_outs, ingredients, keep, label};
use super::doses::{acid_at_its_step, doses, line, waters};
use super::handling::{findings, first_line, handling_beside, not_told};
use super::meter::meter;
use super::mix::{aside, rest_by};
use super::page::{Marks, Medium, Page, Table, bold, left, right, strong};
#[cfg(feature = "sheets")]
use super::sheet::sheet;
use super::tank::tank;
use super::text::text;
use super::words::{ec_words, litres, measured, millilitres, numbers, water_words};
use crate::jobs::{Dose, HelperRecord, MixRecord, Pictures, StockBottle, StockRecord, WithSalts};
use crate::quantity::{STOCK_STRENGTH, fixed, significant, trimmed};
use crate::safety::{Code, Finding, Severity};

/// The report of stock bottles.
#[must_use]
pub fn stock(record: &StockRecord, colour: bool) -> String {
    text(&stock_page(record, None), colour)
}

/// Stock bottles as a page of HTML to print.
///
/// * `pictures`: of the tank dosed from them, by [`crate::jobs::pictures`]
#[cfg(feature = "sheets")]
#[must_use]
pub fn stock_sheet(record: &StockRecord, pictures: &Pictures) -> String {
    sheet(&stock_page(record, Some(pictures)))
}

pub(super) fn stock_page(record: &StockRecord, pictures: Option<&Pictures>) -> Page {
    let of = &record.tank;
    let count = if record.bottles.len() == 1 { "1 bottle".to_owned() } else { format!("{} bottles", record.bottles.len()) };
    let mut page = Page::new(
        &format!("Stock for {}", of.formula.as_deref().unwrap_or_default()),
        &format!("{count} of {}, on {}", millilitres(record.bottle_ml), of.bench),
    );
    first_line(&mut page, of);
    page.only(Medium::Sheet, |page| {
        page.say(format!("For a tank of {}.", aside(of)));
    });
    bottles(&mut page, &record.dilute(), &record.tank.waters);
    let made = || record.bottles.iter().filter_map(|bottle| Some((bottle, record.helper(bottle)?)));
    for (bottle, helper) in made() {
        weigh(&mut page, record, bottle, helper);
    }
    dosing(&mut page, record);
    meter(&mut page, of, None);
    tank(&mut page, of, None);
    // the way that comes nearer first: nobody weighs the other by mistake
    if let Some(made) = &record.with_salts {
        with_salts(&mut page, made);
    }
    if let Some(other) = &record.dose_for {
        dose_for(&mut page, other, of);
    }
    apart(&mut page, record);
    // on a sheet they stand with each bottle
    page.only(Medium::Text, |page| {
        page.section("How to make the bottles", "");
        for bottle in &record.bottles {
            page.line(bold(&bottle.id));
            making(page, bottle);
        }
        page.section("Labels", "and the lines for the bench file, from which `mix` then draws");
        made().for_each(|(_, helper)| label(page, helper));
    });
    cut_outs(&mut page, "for stock bottles", made().map(|(_, helper)| helper.label.clone()).collect());
    // bottles are listed more than once and not in one order: salts are named
    rest_by(&mut page, of, &|_| None, pictures);
    page
}

/// What goes into one bottle, and how strong it is.
fn weigh(page: &mut Page, record: &StockRecord, bottle: &StockBottle, helper: &HelperRecord) {
    let (volume, water) = (millilitres(helper.volume_ml), water_words(helper.pure_water, &record.tank.waters));
    let aside = format!("{volume} with {water}, {} times as strong as the tank", trimmed(bottle.strength, 1));
    page.section_of("Weigh into", &bottle.id, &aside);
    ingredients(page, &helper.made_of);
    if let Some(lacks) = bottle_lacks(bottle) {
        page.say(strong(lacks));
    }
    page.only(Medium::Sheet, |page| making(page, bottle));
    if let Some(cost) = bottle.cost {
        page.line(format!("cost {}", fixed(cost, 2))).look("quiet");
    }
    page.say(bottle_limit(record, bottle)).look("quiet");
    page.say(bottle_model(bottle)).look("quiet");
    keep(page, "   ", helper);
}

/// How much of each bottle goes into a tank.
fn dosing(page: &mut Page, record: &StockRecord) {
    page.section("Dose", "in this order, stirring each in before the next");
    page.only(Medium::Sheet, |page| doses(page, &record.tank.doses));
    let whole = litres(record.tank.volume_l);
    let mut table = Table::new([
        left("").on_sheet("for another tank"),
        right("a litre"),
        right("a US gallon"),
        right(&whole),
        left("").only(Medium::Text),
    ]);
    let ml = |ml: f64| format!("{} mL", trimmed(ml, 2));
    for dose in record.tank.doses.iter().filter(|dose| dose.is_measured()) {
        let bottle = record.bottles.iter().find(|bottle| dose.bottle() == Some(&bottle.id));
        let (per_l, per_gal) = match bottle {
            Some(bottle) => (ml(bottle.dose_ml_per_l), ml(bottle.dose_ml_per_us_gal)),
            None => ("-".to_owned(), "-".to_owned()),
        };
        let whole = bottle.and(dose.millilitres()).map_or_else(|| measured(dose).0, ml);
        let bottles = bottle.and(dose.millilitres()).map_or(0.0, |ml| (ml / record.bottle_ml - 1e-9).ceil());
        let several = if bottles > 1.0 { format!(", {} bottles", trimmed(bottles, 0)) } else { String::new() };
        table.row([dose.name.clone(), per_l, per_gal, whole, with(dose) + &several].map(bold));
    }
    page.table(table.numbered()).look("numbers");
    acid_at_its_step(page, &record.tank.doses, &record.tank.order);
    waters(page, &record.tank.waters);
    for one in &record.straight {
        page.say(format!("{} goes into the tank by itself: {}.", one.name, one.why));
    }
    let smallest = litres(record.smallest_tank_l);
    page.say(format!("The syringe can be trusted with tanks of {smallest} and more."));
    let most = record.bottles.iter().map(|bottle| bottle.dose_ml_per_l).filter(|ml| *ml > 0.0).reduce(f64::max);
    if let Some(per_l) = most {
        let does_for = litres((record.bottle_ml / per_l * 10.0).floor() / 10.0);
        page.say(format!(
            "A bottle each does for {does_for} in all: fresh tanks and what is filled up, or turned over, with them."
        ));
    }
}

/// What a dose is measured with, and in how many parts.
fn with(dose: &Dose) -> String {
    let portions = dose.portions().map_or_else(String::new, |portions| format!(", {portions} parts"));
    format!("{}{portions}", line(dose).with)
}

/// The same bottles for another formula.
fn dose_for(page: &mut Page, other: &MixRecord, told: &MixRecord) {
    page.section(
        &format!("The same bottles for {}", other.formula.as_deref().unwrap_or_default()),
        "with nothing beside them",
    );
    doses(page, &other.doses);
    page.line(ec_words(other.ec_ms_cm, other.ec_plus_minus_ms_cm, other.meter_scale));
    findings(page, &other.findings);
    // what a correction of its pH names, beside what is told of the first
    handling_beside(page, &numbers(other), other, &not_told(other, told));
}

/// The same bottles for another formula, with few salts weighed in beside them.
fn with_salts(page: &mut Page, made: &WithSalts) {
    let of = &made.tank;
    let formula = of.formula.as_deref().unwrap_or_default();
    let beside = match made.salts.len() {
        0 => "nothing weighed beside them".to_owned(),
        1 => "and 1 salt beside them".to_owned(),
        count => format!("and {count} salts beside them"),
    };
    if made.as_good {
        let dilute: Vec<HelperRecord> = of.helpers.iter().filter(|helper| helper.new).cloned().collect();
        bottles(page, &dilute, &of.waters);
    }
    page.section(&format!("{formula} from these bottles"), &beside);
    doses(page, &of.doses);
    waters(page, &of.waters);
    page.line(ec_words(of.ec_ms_cm, of.ec_plus_minus_ms_cm, of.meter_scale));
    page.say(strong(&of.verdict.line));
    if !made.as_good {
        page.say(format!("Bottles of its own bring {formula} closer: make a second set."));
        return;
    }
    page.say("A second set of bottles is not needed.");
    page.list(Marks::Numbers(2, 2), of.order.iter().map(|step| step.text.as_str()));
    let is_told = |finding: &&Finding| finding.severity != Severity::Warning || finding.code == Code::TargetMissed;
    let warnings: Vec<Finding> = of.findings.iter().filter(|finding| !is_told(finding)).cloned().collect();
    if !warnings.is_empty() {
        findings(page, &warnings);
    }
    page.line(strong("Safety of what is weighed, by its number above"));
    handling_beside(page, &numbers(of), of, &weighed(of));
}

/// Ids of what is weighed or measured beside the stock bottles, and into dilute ones.
fn weighed(mix: &MixRecord) -> Vec<String> {
    let bottled = mix.helpers.iter().filter(|helper| helper.new).flat_map(|helper| &helper.made_of);
    let salts = mix.doses.iter().filter_map(Dose::salt).chain(bottled.filter_map(|of| of.salt.as_deref()));
    salts.map(str::to_owned).collect()
}

/// Why the bottles cannot be fewer.
fn apart(page: &mut Page, record: &StockRecord) {
    if record.kept_apart.is_empty() {
        return;
    }
    page.section("Why not one bottle", "");
    let why = record.kept_apart.iter().map(|two| {
        let (first, second) = &two.salts;
        strong(format!("{} and {}", two.first, two.second)).and(format!(": {first} and {second}; {}.", two.why))
    });
    page.list(Marks::Dashes(3), why);
}

fn making(page: &mut Page, bottle: &StockBottle) {
    page.list(Marks::Numbers(5, 1), bottle.making.iter().map(|step| step.text.as_str()));
}

/// How strong a stock bottle may be, and what crystallises first.
fn bottle_limit(record: &StockRecord, bottle: &StockBottle) -> String {
    let coldest = trimmed(record.coldest_c, 1);
    match &bottle.limit {
        None => format!("Nothing in it limits its strength at {coldest} C."),
        Some(limit) => {
            let source = limit.solubility_source.as_ref().map_or_else(
                || "of which no solubility is published, so 10 g/L are taken".to_owned(),
                |source| format!("solubility: {source}"),
            );
            if limit.strength > STOCK_STRENGTH.high {
                return format!(
                    "At {coldest} C the solubility of its salts bears more than {} times as strong as the tank, the most that is made.",
                    trimmed(STOCK_STRENGTH.high, 0)
                );
            }
            format!(
                "At {coldest} C it may be up to {} times as strong as the tank by the solubility of its salts, shared ions counted; {} limits it ({source}).",
                significant(limit.strength, 1),
                limit.name
            )
        }
    }
}

/// What belongs into a stock bottle and is not in it; nothing where all is.
fn bottle_lacks(bottle: &StockBottle) -> Option<String> {
    let names = bottle.left_out.join(", ");
    (!names.is_empty()).then(|| format!("LEFT OUT, too little to weigh: {names}. See what to watch."))
}

/// A bottle under this pH holds metals beside phosphate: own choice.
const SOUR_PH: f64 = 5.0;

/// How far the chemistry model reaches into a stock bottle.
fn bottle_model(bottle: &StockBottle) -> String {
    match &bottle.chemistry {
        Some(chemistry) => format!(
            "The chemistry model reaches it: pH {}, ionic strength {} mol/L.{}",
            fixed(chemistry.ph, 1),
            significant(chemistry.ionic_strength_mol_l, 2),
            if chemistry.ph < SOUR_PH {
                " What the salt table keeps apart in a concentrate stays clear in it only while it is that sour."
            } else {
                ""
            }
        ),
        None => {
            "It is too strong for the chemistry model: only the solubility of each salt by itself speaks, with the ions \
                 they share counted together, and what is kept apart."
                .to_owned()
        }
    }
}
