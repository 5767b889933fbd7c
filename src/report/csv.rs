//! A cycle as comma-separated values (RFC 4180): one row for each thing on a date, and for each salt to buy.

use super::crossing::{kind, work};
use super::cycle::{made_for, to_buy};
use super::renewal::why_and_from;
use super::words::tank_name;
use crate::jobs::{CycleRecord, Dosed, GoesIn, Window};
use crate::quantity::round_to;

/// The columns.
const HEAD: [&str; 11] = ["from", "to", "days", "what", "tank", "group", "formula", "salt", "grams", "millilitres", "words"];

/// One row, empty where it has nothing to say.
#[derive(Default)]
struct Row {
    days: Option<Window>,
    what: &'static str,
    tank: String,
    group: String,
    formula: String,
    salt: String,
    grams: Option<f64>,
    millilitres: Option<f64>,
    words: String,
}

/// The cycle as a table for spreadsheets.
///
/// Returns UTF-8 text with a line of headings; lines end in CR LF, dates are 2027-01-04, a last day is counted in, and
/// decimals follow a point.
///
/// # Reference
/// RFC 4180.
#[must_use]
pub fn csv(record: &CycleRecord) -> String {
    let mut rows: Vec<Row> = Vec::new();
    of_bottles(&mut rows, record);
    of_tanks(&mut rows, record);
    of_groups(&mut rows, record);
    rows.extend(record.crossing.iter().map(|step| Row {
        days: Some(step.days),
        what: kind(step.work),
        group: step.stigma_of.clone().or_else(|| step.pollen_of.clone()).unwrap_or_default(),
        words: work(step),
        ..Row::default()
    }));
    // by date; of one date in the order above, and a mix before what goes into it
    rows.sort_by_key(|row| row.days.map(|days| days.from));
    of_salts(&mut rows, record);
    [line(HEAD.map(str::to_owned))].into_iter().chain(rows.iter().map(|row| line(cells(row)))).collect()
}

/// Each making of a bottle, and what goes into it.
fn of_bottles(rows: &mut Vec<Row>, record: &CycleRecord) {
    for bottle in &record.bottles {
        for day in bottle.made_on.iter().map(|day| Window::new(*day, *day)) {
            let made = Row { days: day, what: "make bottle", salt: bottle.id.clone(), ..Row::default() };
            rows.push(Row { millilitres: Some(bottle.volume_ml), words: made_for(record, bottle), ..made });
            rows.extend(bottle.made_of.iter().map(|of| Row {
                days: day,
                what: "into bottle",
                salt: of.salt.clone().or_else(|| of.helper.clone()).unwrap_or_default(),
                grams: of.grams,
                millilitres: of.millilitres,
                words: bottle.id.clone(),
                ..Row::default()
            }));
        }
    }
}

/// Phases and fresh tanks, and what is measured out into each.
fn of_tanks(rows: &mut Vec<Row>, record: &CycleRecord) {
    for tank in &record.tanks {
        let (name, group) = (tank_name(tank), tank.feeds.join(" "));
        let row = |what, days| Row { days, what, tank: name.clone(), group: group.clone(), ..Row::default() };
        for phase in &tank.phases {
            rows.push(Row { formula: phase.formula.clone(), words: phase.phase.clone(), ..row("phase", Some(phase.days)) });
        }
        for hold in &tank.holds {
            let days = Window::new(hold.back_by, hold.back_by);
            rows.push(Row { formula: hold.formula.clone(), ..row("back to growth by", days) });
        }
        for fill in &tank.fills {
            let days = Window::new(fill.date, fill.date.plus(fill.days - 1));
            let words = why_and_from(fill);
            rows.push(Row { formula: fill.formula.clone(), words, ..row("mix", days) });
            for dose in record.mixes.get(fill.mix).iter().flat_map(|mix| &mix.doses) {
                rows.push(Row {
                    formula: fill.formula.clone(),
                    salt: dose.id().to_owned(),
                    grams: dose.grams(),
                    millilitres: dose.millilitres(),
                    words: match &dose.what {
                        Dosed::Salt { goes_in: GoesIn::InBottle { bottle, .. }, .. } => format!("in bottle {bottle}"),
                        Dosed::Salt { goes_in: GoesIn::LeftOut, .. } | Dosed::Bottle { drawn: None, .. } => {
                            "too little to measure".to_owned()
                        }
                        _ => String::new(),
                    },
                    ..row("measure out", Window::new(fill.date, fill.date))
                });
            }
        }
    }
}

/// Flowers, pollen and stigmas.
fn of_groups(rows: &mut Vec<Row>, record: &CycleRecord) {
    for group in &record.groups {
        // as in the calendar file: the days on which no more is shed
        let dry = group.dry_pollen_to.and_then(|to| Window::new(group.pollen.to.plus(1), to));
        let days = [
            ("flowers open", Some(group.opens)),
            ("pollen", Some(group.pollen)),
            ("dry pollen good", dry),
            ("stigmas receptive", Some(group.stigma)),
        ];
        rows.extend(days.into_iter().filter(|(_, days)| days.is_some()).map(|(what, days)| Row {
            days,
            what,
            group: group.id.clone(),
            words: group.name.clone(),
            ..Row::default()
        }));
    }
}

/// What the whole plan takes, and what of it is to be bought.
fn of_salts(rows: &mut Vec<Row>, record: &CycleRecord) {
    rows.extend(record.salts.iter().map(|total| Row {
        what: "needed in all",
        salt: total.salt.clone(),
        grams: Some(total.needed_g),
        millilitres: total.needed_ml,
        ..Row::default()
    }));
    rows.extend(record.salts.iter().filter(|total| total.buy_g > 0.0).map(|total| Row {
        what: "buy",
        salt: total.salt.clone(),
        grams: Some(total.buy_g),
        millilitres: total.buy_ml,
        words: to_buy(total),
        ..Row::default()
    }));
}

fn cells(row: &Row) -> [String; HEAD.len()] {
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| round_to(value, 4).to_string());
    [
        row.days.map_or_else(String::new, |days| days.from.to_string()),
        row.days.map_or_else(String::new, |days| days.to.to_string()),
        row.days.map_or_else(String::new, |days| days.days.to_string()),
        row.what.to_owned(),
        row.tank.clone(),
        row.group.clone(),
        row.formula.clone(),
        row.salt.clone(),
        number(row.grams),
        number(row.millilitres),
        row.words.clone(),
    ]
}

fn line<const N: usize>(cells: [String; N]) -> String {
    cells.map(|cell| quoted(&cell)).join(",") + "\r\n"
}

/// A cell, in quotes where it holds a comma, a quote or a line end; behind an apostrophe where a spreadsheet would reckon with what
/// is no number.
fn quoted(cell: &str) -> String {
    let reckons = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
    let cell = if reckons { format!("'{cell}") } else { cell.to_owned() };
    if cell.contains([',', '"', '\r', '\n']) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
}

#[cfg(test)]
mod tests {
    use super::quoted;

    #[test]
    fn cells_are_quoted_where_they_must_be() {
        for (cell, shown) in [
            ("plain words", "plain words"),
            ("", ""),
            ("a,b", "\"a,b\""),
            ("the \"red\" ones", "\"the \"\"red\"\" ones\""),
            ("-1.5", "-1.5"),
            ("=1+1", "'=1+1"),
            ("@sum(a1,b2)", "\"'@sum(a1,b2)\""),
            ("two\nlines", "\"two\nlines\""),
        ] {
            assert_eq!(quoted(cell), shown);
        }
    }
}
