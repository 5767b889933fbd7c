//! A cycle for the wall: dates first, then what to weigh, flowers, shopping, what to watch and safety.

use super::mix::{dose_cells, finding, handling, ingredients};
use super::page::{Page, columns};
use super::renewal::renewals;
use super::words::ph_ends;
use crate::jobs::{
    BottlePlan, CycleMix, CycleRecord, Fill, FillReason, GroupDates, Meeting, SaltTotal, Shift, TankPlan, Window,
};
use crate::quantity::{Date, WholeDays, fixed, liter, significant, volume_text};
use crate::safety::Finding;

/// Said wherever dates go: on the page, into a calendar, into a table.
pub(super) const OWN_FIGURES: &str = "All dates are by your own figures; a plant may not keep to them.";

/// The report of a cycle.
///
/// * `colour`: bold headings for a terminal
///
/// Returns text of at most 80 columns, names of the grower's own apart.
#[must_use]
pub fn cycle(record: &CycleRecord, colour: bool) -> String {
    let mut page = Page::new(colour);
    let aside = format!("{}, {} to {}", record.bench, record.start.long(), record.end.long());
    page.heading("CYCLE", &aside);
    page.line(&format!("   {OWN_FIGURES}"));
    for tank in &record.tanks {
        phases(&mut page, tank);
    }
    renewals(&mut page, record);
    fresh_tanks(&mut page, record);
    for group in &record.groups {
        flowers(&mut page, group);
    }
    meetings(&mut page, record);
    for mix in &record.mixes {
        weigh(&mut page, mix);
    }
    bottles(&mut page, record);
    shopping(&mut page, record);
    watch(&mut page, record);
    let number = |salt: &str| record.salts.iter().position(|total| total.salt == salt).map(|at| at + 1);
    handling(&mut page, &number, &record.handling, &record.cautions);
    page.into_text()
}

/// What a tank is called.
pub(super) fn tank_name(tank: &TankPlan) -> String {
    tank.group.as_ref().map_or_else(|| "bench tank".to_owned(), |group| format!("tank of {group}"))
}

/// `60 L`.
pub(super) fn litres(volume_l: f64) -> String {
    volume_text(liter(volume_l))
}

/// A day in a column: the day of the month right-aligned.
fn aligned(date: Date) -> String {
    let long = date.long();
    // "Mon 4 Jan 2027" and "Mon 14 Jan 2027" stand under each other
    if long.len() < 15 { long.replacen(' ', "  ", 1) } else { long }
}

/// A run of days.
pub(super) fn span(window: &Window) -> String {
    if window.days == 1 { window.from.long() } else { format!("{} to {}", window.from.long(), window.to.long()) }
}

/// How long it is.
pub(super) fn lasting(window: &Window) -> String {
    WholeDays(window.days).to_string()
}

fn phases(page: &mut Page, tank: &TankPlan) {
    let name = if tank.group.is_some() || !tank.feeds.is_empty() { tank_name(tank) } else { "one tank".to_owned() };
    let feeds = match (&tank.group, &tank.feeds[..]) {
        (None, [_, ..]) => format!(", feeds {}", tank.feeds.join(", ")),
        _ => String::new(),
    };
    page.heading("PHASES", &format!("{name}, {}{feeds}", litres(tank.volume_l)));
    let rows: Vec<Vec<String>> = tank
        .phases
        .iter()
        .map(|phase| {
            let formula = if phase.formula == phase.phase { String::new() } else { format!("feeds {}", phase.formula) };
            vec![
                format!("   {}", page.bold(&aligned(phase.days.from))),
                phase.phase.clone(),
                lasting(&phase.days),
                format!("to {}", aligned(phase.days.to)),
                formula,
            ]
        })
        .collect();
    for line in columns(&rows, &[0, 1, 3, 4]) {
        page.line(&line);
    }
    for hold in &tank.holds {
        let words = format!(
            "{} from {}: at most {}, so back to growth by {}",
            hold.formula,
            hold.days.from.long(),
            WholeDays(hold.hold_at_most_days),
            hold.back_by.long()
        );
        page.paragraph("   ", &words);
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

fn fresh_tanks(page: &mut Page, record: &CycleRecord) {
    page.heading("MIX ON", "what to weigh for each stands below");
    let mut fills: Vec<(&TankPlan, &Fill)> =
        record.tanks.iter().flat_map(|tank| tank.fills.iter().map(move |fill| (tank, fill))).collect();
    fills.sort_by_key(|(_, fill)| fill.date);
    let several = record.tanks.len() > 1;
    let rows: Vec<Vec<String>> = fills
        .iter()
        .map(|(tank, fill)| {
            vec![
                format!("   {}", page.bold(&aligned(fill.date))),
                fill.formula.clone(),
                litres(tank.volume_l),
                why(fill.reason).to_owned(),
                format!("for {}", WholeDays(fill.days)),
                if several { tank_name(tank) } else { String::new() },
            ]
        })
        .collect();
    for line in columns(&rows, &[0, 1, 3, 4, 5]) {
        page.line(&line);
    }
}

fn flowers(page: &mut Page, group: &GroupDates) {
    let aside = if group.name == group.id { String::new() } else { group.name.clone() };
    page.heading(&format!("FLOWERS {}", group.id), &aside);
    let first = page.bold(&group.opens.from.long());
    let mut rows = vec![
        ("first open", format!("{first}, {} after its push began", WholeDays(group.opens.from.days_since(group.push_from)))),
        ("flowers open", format!("{}, {}", span(&group.opens), lasting(&group.opens))),
        ("pollen", format!("{}, {}", span(&group.pollen), lasting(&group.pollen))),
    ];
    if let Some(to) = group.dry_pollen_to {
        rows.push(("dry pollen", format!("good to {}", to.long())));
    }
    rows.push(("stigmas", format!("{}, {}", span(&group.stigma), lasting(&group.stigma))));
    for (what, days) in rows {
        page.line(&format!("   {what:<13} {days}"));
    }
}

fn meetings(page: &mut Page, record: &CycleRecord) {
    if record.meetings.is_empty() {
        return;
    }
    page.heading("POLLEN MEETS STIGMAS", "");
    for meeting in &record.meetings {
        page.paragraph("   ", &format!("{}: {}.", pair(meeting), meets(meeting)));
    }
    if record.shifts.is_empty() {
        return;
    }
    page.heading("BEST START", "for the most days of meeting, both ways added up");
    for shift in &record.shifts {
        page.paragraph("   ", &best_start(shift));
        let one_way = record.meetings.iter().filter(|meeting| {
            let ids = (meeting.pollen_of.as_str(), meeting.stigma_of.as_str());
            ids == (&shift.group, &shift.beside) || ids == (&shift.beside, &shift.group)
        });
        for meeting in one_way {
            let (Some(moves), Some(days)) = (meeting.best_shift_days, meeting.best_days) else { continue };
            let now = meeting.days.map_or(0, |days| days.days);
            if days > now {
                let words = format!(
                    "Only for pollen of {} on {}: {} {}, {} in place of {now}.",
                    meeting.pollen_of,
                    meeting.stigma_of,
                    meeting.pollen_of,
                    earlier_or_later(moves),
                    WholeDays(days),
                );
                page.paragraph("      ", &words);
            }
        }
    }
}

/// Whose pollen on whose stigmas.
pub(super) fn pair(meeting: &Meeting) -> String {
    if meeting.pollen_of == meeting.stigma_of {
        format!("{} within itself", meeting.pollen_of)
    } else {
        format!("pollen of {} on {}", meeting.pollen_of, meeting.stigma_of)
    }
}

/// How many days meet, which, and when the seed is ripe.
pub(super) fn meets(meeting: &Meeting) -> String {
    let Some(days) = &meeting.days else { return "never".to_owned() };
    let fresh = match &meeting.fresh {
        None => ", with dry pollen only".to_owned(),
        Some(fresh) if fresh == days => String::new(),
        Some(fresh) => format!(", fresh pollen on {} of them, {}", fresh.days, span(fresh)),
    };
    let ripe = meeting.ripe.as_ref().map_or_else(String::new, |ripe| format!("; seed ripe {}", span(ripe)));
    format!("{}, {}{fresh}{ripe}", lasting(days), span(days))
}

fn earlier_or_later(days: i32) -> String {
    format!("{} {}", WholeDays(days.abs()), if days < 0 { "earlier" } else { "later" })
}

/// Which start would let two groups meet on the most days.
pub(super) fn best_start(shift: &Shift) -> String {
    let Shift { group, beside, .. } = shift;
    if shift.shift_days == 0 {
        return format!(
            "{group} and {beside} as they stand: no other start gives more than {}.",
            WholeDays(shift.meeting_days)
        );
    }
    let how = match shift.starts_after_days {
        Some(days) => format!(" (starts_after = \"{}\")", WholeDays(days)),
        None => format!(", or {beside} {}", earlier_or_later(-shift.shift_days)),
    };
    let own = if shift.needs_own_tank { " One of them then needs a tank of its own." } else { "" };
    format!(
        "{group} {}{how}: {} of meeting with {beside} in place of {}.{own}",
        earlier_or_later(shift.shift_days),
        WholeDays(shift.meeting_days_then),
        shift.meeting_days
    )
}

fn weigh(page: &mut Page, mix: &CycleMix) {
    let times = if mix.times == 1 { "once".to_owned() } else { format!("{} times", mix.times) };
    page.heading(&format!("WEIGH {}", mix.formula), &format!("{}, {times}", litres(mix.volume_l)));
    let rows: Vec<Vec<String>> = mix
        .doses
        .iter()
        .map(|dose| {
            let [amount, name, with] = dose_cells(dose);
            vec![format!("   {amount}"), name, with]
        })
        .collect();
    for line in columns(&rows, &[0, 1, 2]) {
        page.line(&line);
    }
    let ph = mix
        .ph
        .map_or_else(|| "pH not known".to_owned(), |ph| format!("pH {}{}", fixed(ph, 1), ph_ends(mix.ph_low, mix.ph_high)));
    let (ec, plus_minus) = (fixed(mix.ec_ms_cm, 2), fixed(mix.ec_plus_minus_ms_cm, 2));
    page.line(&format!("   EC {ec} mS/cm at 25 C, give or take {plus_minus}; {ph} when mixed"));
    if let Some(cost) = mix.cost {
        page.line(&format!("   cost {} each time", fixed(cost, 2)));
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
    page.heading("BOTTLES", "dilute ones, for what is too little to measure");
    let ml = |ml: f64| litres(ml * 1e-3);
    for bottle in &record.bottles {
        let name = page.bold(&bottle.id);
        if let Some(left) = bottle.left_ml {
            let enough = if bottle.needed_ml > left * (1.0 + 1e-9) { "NOT ENOUGH, " } else { "" };
            let words = format!("there already: {enough}the plan takes {}, and {} are left", ml(bottle.needed_ml), ml(left));
            page.paragraph("   ", &format!("{name}, {words}"));
            continue;
        }
        let with = if bottle.pure_water { "pure water" } else { "your water" };
        page.paragraph("   ", &format!("{name} for {}: {} with {with}", made_for(record, bottle), ml(bottle.volume_ml)));
        ingredients(page, &bottle.made_of);
        let days: Vec<String> = bottle.made_on.iter().map(|day| day.long()).collect();
        let times = if days.len() == 1 { "once".to_owned() } else { format!("{} times", days.len()) };
        let keeps = bottle.keep_days.map_or_else(String::new, |days| {
            format!(" It keeps {days} days at most, dark and cool (common practice, no source).")
        });
        let words = format!("Make it {times}, on {}.{keeps}", days.join(", "));
        page.paragraph("     ", &words);
    }
    let new = || record.bottles.iter().filter(|bottle| bottle.new);
    if new().any(|one| new().filter(|other| other.id == one.id).count() > 1) {
        page.paragraph("   ", "Bottles of one name do not hold the same: write on each what it is for.");
    }
    if new().next().is_some() {
        page.paragraph("   ", "`bloomsalt mix FORMULA`, with `--tank` for another tank, has the label of each.");
    }
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
    page.heading("SHOPPING", "for the whole plan");
    let mut rows = vec![["   ", "", "needed", "on hand", "buy"].map(str::to_owned).to_vec()];
    for (at, total) in record.salts.iter().enumerate() {
        let on_hand = total.on_hand_g.map_or_else(|| "?".to_owned(), |grams| stuff(grams, total.on_hand_ml));
        rows.push(vec![
            format!("  {:>2}.", at + 1),
            total.name.clone(),
            stuff(total.needed_g, total.needed_ml),
            on_hand,
            to_buy(total),
        ]);
    }
    for line in columns(&rows, &[1, 4]) {
        page.line(&line);
    }
    if record.salts.iter().any(|total| total.on_hand_g.is_none()) {
        page.line("   ?: the shelf does not say; \"up to\" is for none left");
    }
    let money = |cost: Option<f64>| cost.map_or_else(|| "not known, a price is missing".to_owned(), |cost| fixed(cost, 2));
    page.line(&format!("   cost of all tanks: {}", money(record.cost)));
    page.line(&format!("   cost of what to buy: {}", money(record.shopping_cost)));
}

/// Findings of the plan, then those of each mix with its name.
pub(super) fn of_mixes(record: &CycleRecord) -> Vec<Finding> {
    let told = |code: &str, formula: &str| {
        let start = format!("`{formula}`");
        record.findings.iter().any(|finding| finding.code == code && finding.message.starts_with(&start))
    };
    let mut all = record.findings.clone();
    for mix in &record.mixes {
        // low nitrogen is told once, with its date
        let own = mix.findings.iter().filter(|one| one.code != "nitrogen-low" || !told(one.code, &mix.formula));
        all.extend(own.map(|one| {
            let message = format!("`{}`, {}: {}", mix.formula, litres(mix.volume_l), one.message);
            Finding { message, ..one.clone() }
        }));
    }
    all
}

fn watch(page: &mut Page, record: &CycleRecord) {
    page.heading("WATCH", "");
    for one in of_mixes(record) {
        finding(page, &one);
    }
    if record.findings.is_empty() && record.mixes.iter().all(|mix| mix.findings.is_empty()) {
        page.line("   nothing to report");
    }
    page.line("   `bloomsalt mix FORMULA` says how to make each.");
}
