//! A cycle for the wall: dates first, then what to weigh, flowers, shopping, what to watch and safety.

use super::bottles::{cut_outs, ingredients};
use super::crossing::{crossing, pollen_labels};
use super::doses::{line, waters};
use super::handling::{handling, put_on, sources};
use super::page::{Block, Leaf, Medium, Page, Table, Words, bold, left, right, strong};
#[cfg(feature = "sheets")]
use super::pictures;
use super::renewal::{renewals, why_and_from};
#[cfg(feature = "sheets")]
use super::sheet::sheet;
use super::text::text;
use super::words::{aligned, ec_words, lasting, litres, millilitres, ph_ends, stuff, tank_name, water_words, why};
use crate::jobs::{BottlePlan, CycleMix, CycleRecord, Fill, GroupDates, Pictures, SaltTotal, TankPlan, Window};
use crate::quantity::{WholeDays, fixed};
use crate::safety::{Code, Finding};

/// Said wherever dates go: on the page, into a calendar, into a table.
pub(super) const OWN_FIGURES: &str = "All dates are by your own figures; a plant may not keep to them.";

/// The report of a cycle.
///
/// * `colour`: bold headings for a terminal
///
/// Returns text of at most 80 columns, names of the grower's own apart.
#[must_use]
pub fn cycle(record: &CycleRecord, colour: bool) -> String {
    text(&cycle_page(record, None), colour)
}

/// A cycle as a page of HTML to print.
///
/// * `pictures`: balances of growth and push by [`crate::jobs::compared`], labels of its salts by [`crate::jobs::labels`]
#[cfg(feature = "sheets")]
#[must_use]
pub fn cycle_sheet(record: &CycleRecord, pictures: &Pictures) -> String {
    sheet(&cycle_page(record, Some(pictures)))
}

pub(super) fn cycle_page(record: &CycleRecord, pictures: Option<&Pictures>) -> Page {
    let labels = pictures.map_or(&[][..], |pictures| &pictures.labels);
    let aside = format!("{}, {} to {}", record.bench, record.start.long(), record.end.long());
    let mut page = Page::new("Cycle", &aside);
    page.line(OWN_FIGURES);
    for tank in &record.tanks {
        phases(&mut page, tank);
    }
    renewals(&mut page, record);
    fresh_tanks(&mut page, record);
    for group in &record.groups {
        flowers(&mut page, group);
    }
    crossing(&mut page, record);
    // of a formula that is over nothing is weighed any more
    let mixed = || record.mixes.iter().filter(|mix| mix.times > 0);
    if mixed().next().is_some() {
        page.gap();
        put_on(&mut page, &record.cautions);
    }
    for mix in mixed() {
        weigh(&mut page, mix);
    }
    bottles(&mut page, record);
    shopping(&mut page, record);
    cut_outs(&mut page, "for pollen", pollen_labels(record));
    watch(&mut page, record);
    #[cfg(feature = "sheets")]
    page.only(Medium::Sheet, |page| {
        page.section("Timeline", "");
        page.leaf(Leaf::Annex);
        page.add(Block::Picture(pictures::timeline(record)));
    });
    #[cfg(feature = "sheets")]
    if let Some(of) = pictures {
        pictures::balance(&mut page, &of.balances, false, &of.not_compared);
    }
    let number = |salt: &str| record.salts.iter().position(|total| total.salt == salt).map(|at| at + 1);
    handling(&mut page, &number, &record.handling, &record.cautions, labels);
    sources(&mut page, &record.sources, labels);
    page
}

/// A run of days.
fn span(window: &Window) -> String {
    if window.days == 1 { window.from.long() } else { format!("{} to {}", window.from.long(), window.to.long()) }
}

fn phases(page: &mut Page, tank: &TankPlan) {
    let name = if tank.group.is_some() || !tank.feeds.is_empty() { tank_name(tank) } else { "one tank".to_owned() };
    let feeds = match (&tank.group, &tank.feeds[..]) {
        (None, [_, ..]) => format!(", feeds {}", tank.feeds.join(", ")),
        _ => String::new(),
    };
    page.section("Phases", &format!("{name}, {}{feeds}", litres(tank.volume_l)));
    let mut table = Table::new([left(""), left(""), right(""), left(""), left("")]).indent(3);
    for phase in &tank.phases {
        let formula = if phase.formula == phase.phase { String::new() } else { format!("feeds {}", phase.formula) };
        table.cells(vec![
            bold(aligned(phase.days.from)),
            phase.phase.as_str().into(),
            lasting(&phase.days).into(),
            format!("to {}", aligned(phase.days.to)).into(),
            formula.into(),
        ]);
    }
    page.table(table).look("phases");
    for hold in &tank.holds {
        page.say(format!(
            "{} from {}: at most {}, so back to growth by {}",
            hold.formula,
            hold.days.from.long(),
            WholeDays(hold.hold_at_most_days),
            hold.back_by.long()
        ));
    }
}

fn fresh_tanks(page: &mut Page, record: &CycleRecord) {
    let on = match &record.renew_on[..] {
        [] => String::new(),
        days => format!("; renewed on {} where that is in time", days.join(", ")),
    };
    let each = record.counted_from.map_or_else(
        || "each in an emptied tank; what to weigh stands below".to_owned(),
        |from| format!("from {} on, each in an emptied tank; weights stand below", from.long()),
    );
    page.section("Mix on", &format!("{each}{on}"));
    let mut fills: Vec<(&TankPlan, &Fill)> =
        record.tanks.iter().flat_map(|tank| tank.fills.iter().map(move |fill| (tank, fill))).collect();
    fills.sort_by_key(|(_, fill)| fill.date);
    let mut table = Table::new([
        left("").on_sheet("day"),
        left("").on_sheet("formula"),
        right("").on_sheet("volume"),
        left("").only(Medium::Text),
        left("").on_sheet("why").only(Medium::Sheet),
        left("").on_sheet("how long"),
        left("").on_sheet("tank"),
    ]);
    for (tank, fill) in fills {
        table.cells(vec![
            bold(aligned(fill.date)),
            strong(&fill.formula),
            litres(tank.volume_l).into(),
            why(fill.reason).into(),
            why_and_from(fill).into(),
            format!("for {}", WholeDays(fill.days)).into(),
            tank_name(tank).into(),
        ]);
    }
    if record.tanks.len() == 1 {
        table.without(6);
    }
    page.table(table.indent(3).ticked("fill")).look("fills");
}

fn flowers(page: &mut Page, group: &GroupDates) {
    let aside = if group.name == group.id { String::new() } else { group.name.clone() };
    page.section_of("Flowers", &group.id, &aside);
    page.leaf(Leaf::More);
    let after = WholeDays(group.opens.from.days_since(group.push_from));
    let run = |days: &Window| Words::from(format!("{}, {}", span(days), lasting(days)));
    let mut table = Table::new([left(""), left("")]).indent(3);
    let mut row = |what: &str, days: Words| table.row([what.into(), days]);
    row("first open", bold(group.opens.from.long()).and(format!(", {after} after its push began")));
    row("flowers open", run(&group.opens));
    row("pollen", run(&group.pollen));
    if let Some(to) = group.dry_pollen_to {
        row("dry pollen", format!("good to {}", to.long()).into());
    }
    row("stigmas", run(&group.stigma));
    page.table(table).look("flowers");
}

fn weigh(page: &mut Page, mix: &CycleMix) {
    let times = if mix.times == 1 { "once".to_owned() } else { format!("{} times", mix.times) };
    page.section_of("Weigh", &mix.formula, &format!("{}, {times}", litres(mix.volume_l)));
    page.add(Block::Doses { doses: mix.doses.iter().map(line).collect(), is_numbered: false });
    for step in &mix.souring {
        page.say(step.text.as_str());
    }
    waters(page, &mix.waters);
    let ph = mix
        .ph
        .map_or_else(|| "pH not known".to_owned(), |ph| format!("pH {}{}", fixed(ph, 1), ph_ends(mix.ph_low, mix.ph_high)));
    page.line(format!("{}; {ph} when mixed", ec_words(mix.ec_ms_cm, mix.ec_plus_minus_ms_cm, mix.meter_scale)));
    if let Some(cost) = mix.cost {
        page.line(format!("cost {} each time", fixed(cost, 2))).look("quiet");
    }
}

/// The mixes that a bottle is for, in words.
pub(super) fn made_for(record: &CycleRecord, bottle: &BottlePlan) -> String {
    let mixes = bottle.mixes.iter().filter_map(|&mix| record.mixes.get(mix));
    mixes.map(|mix| format!("{} of {}", litres(mix.volume_l), mix.formula)).collect::<Vec<_>>().join(", ")
}

/// Bottles to make with their days, and what is taken of those that are there.
fn bottles(page: &mut Page, record: &CycleRecord) {
    if record.bottles.is_empty() {
        return;
    }
    page.section("Bottles", "dilute ones, for what is too little to measure");
    for bottle in &record.bottles {
        let name = bold(&bottle.id);
        if let Some(left) = bottle.left_ml {
            let enough = if bottle.needed_ml > left * (1.0 + 1e-9) { "NOT ENOUGH, " } else { "" };
            let (needed, left) = (millilitres(bottle.needed_ml), millilitres(left));
            page.say(name.and(format!(", there already: {enough}the plan takes {needed}, and {left} are left")));
            continue;
        }
        let waters = bottle.mixes.iter().find_map(|&mix| record.mixes.get(mix)).map_or(&[][..], |mix| &mix.waters);
        let (volume, water) = (millilitres(bottle.volume_ml), water_words(bottle.pure_water, waters));
        page.say(name.and(format!(" for {}: {volume} with {water}", made_for(record, bottle))));
        ingredients(page, &bottle.made_of);
        let days: Vec<String> = bottle.made_on.iter().map(|day| day.long()).collect();
        let times = if days.len() == 1 { "once".to_owned() } else { format!("{} times", days.len()) };
        let keeps = bottle.keep_days.map_or_else(String::new, |days| {
            format!(" It keeps {days} days at most, dark and cool (common practice, no source).")
        });
        page.say_after("     ", format!("Make it {times}, on {}.{keeps}", days.join(", ")));
    }
    let new = || record.bottles.iter().filter(|bottle| bottle.new);
    if new().any(|one| new().filter(|other| other.id == one.id).count() > 1) {
        page.say("Bottles of one name do not hold the same: write on each what it is for.");
    }
    if new().next().is_some() {
        page.say("A mix of the formula, in the tank that it is for, has the label of each.").look("quiet");
    }
}

/// What to buy, in words.
pub(super) fn to_buy(total: &SaltTotal) -> String {
    if total.buy_g <= 0.0 {
        return "-".to_owned();
    }
    let at_most = if total.on_hand_g.is_none() { "up to " } else { "" };
    match (total.bags, total.bag_g) {
        (Some(bags), Some(bag)) => format!("{at_most}{bags} x {}", stuff(bag, total.bag_ml)),
        _ => format!("{at_most}{}", stuff(total.buy_g, total.buy_ml)),
    }
}

fn shopping(page: &mut Page, record: &CycleRecord) {
    let of = record
        .counted_from
        .map_or_else(|| "for the whole plan".to_owned(), |from| format!("for what the plan has from {} on", from.long()));
    page.section("Shopping", &of);
    let mut table =
        Table::new([left("").on_sheet("salt"), right("needed"), right("on hand"), left("buy")]).numbered().ticked("buy");
    for (at, total) in record.salts.iter().enumerate() {
        let on_hand = total.on_hand_g.map_or_else(|| "?".to_owned(), |grams| stuff(grams, total.on_hand_ml));
        let needed = stuff(total.needed_g, total.needed_ml);
        table.cells(vec![total.name.as_str().into(), needed.into(), on_hand.into(), strong(to_buy(total))]);
        if total.buy_g <= 0.0 {
            table.unticked(at);
        }
    }
    page.table(table).look("shopping");
    if record.salts.iter().any(|total| total.on_hand_g.is_none()) {
        page.line("?: the shelf does not say; \"up to\" is for none left").look("quiet");
    }
    page.say("What fills tanks up between, and what corrects their pH, comes on top: `today` tells it as it comes.")
        .look("quiet");
    let money = |cost: Option<f64>| cost.map_or_else(|| "not known, a price is missing".to_owned(), |cost| fixed(cost, 2));
    page.line(format!("cost of all tanks: {}", money(record.cost))).look("quiet");
    let without = match record.no_price.as_slice() {
        [] => String::new(),
        names => format!(", without what has no price: {}", names.join(", ")),
    };
    page.say(format!("cost of what to buy: {}{without}", money(record.shopping_cost))).look("quiet");
}

/// Findings of the plan, then those of its mixes with their names, each once: what differs in its numbers alone is told of the
/// first of them.
fn of_mixes(record: &CycleRecord) -> Vec<Finding> {
    let low = |finding: &Finding| finding.code == Code::NitrogenLow;
    let told = |formula: &str| record.findings.iter().any(|one| low(one) && one.about.as_deref() == Some(formula));
    let mut each: Vec<(Vec<&CycleMix>, &Finding)> = Vec::new();
    for mix in &record.mixes {
        // low nitrogen is told once, with its date
        for finding in mix.findings.iter().filter(|one| !low(one) || !told(&mix.formula)) {
            let same = |other: &Finding| other.message == finding.message && other.remedy == finding.remedy;
            let alike = |of: &[&CycleMix], other: &Finding| {
                other.code == finding.code && of[0].formula == mix.formula && wording(other) == wording(finding)
            };
            match each.iter_mut().find(|(of, other)| same(other) || alike(of, other)) {
                Some((of, _)) => of.push(mix),
                None => each.push((vec![mix], finding)),
            }
        }
    }
    let named = |(of, one): (Vec<&CycleMix>, &Finding)| {
        let names: Vec<String> = of.iter().map(|mix| format!("`{}`, {}", mix.formula, litres(mix.volume_l))).collect();
        if of.iter().all(|mix| mix.findings.contains(one)) {
            return Finding { message: format!("{}: {}", names.join("; "), one.message), ..one.clone() };
        }
        let others = format!("So in {} too, with its own numbers: `bloomsalt mix` has them.", names[1..].join("; "));
        let message = format!("{}: {}", names[0], one.message);
        match &one.remedy {
            Some(remedy) => Finding { message, remedy: Some(format!("{remedy} {others}")), ..one.clone() },
            None => Finding { message: format!("{message} {others}"), ..one.clone() },
        }
    };
    record.findings.iter().cloned().chain(each.into_iter().map(named)).collect()
}

/// The words of a finding without its numbers.
fn wording(finding: &Finding) -> String {
    finding.message.chars().filter(|letter| !letter.is_ascii_digit() && *letter != '.').collect()
}

fn watch(page: &mut Page, record: &CycleRecord) {
    super::handling::watch(page, &of_mixes(record));
    page.line("`bloomsalt mix FORMULA` says how to make each.").look("quiet");
}
