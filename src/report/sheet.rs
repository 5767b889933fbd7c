//! A page as a printed sheet: HTML without script or outside resource, for the wall above the tank.

use std::cell::Cell;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::page::{Block, DoseLine, Leaf, Marks, Medium, Page, Part, Section, Table, Weight, Words};
use crate::safety::{Finding, Severity};

/// The look: colours of both schemes, sizes, page breaks.
const STYLE: &str = include_str!("sheet.css");
/// Lists of up to so many lines stay on one page: half a page of A4.
const MOST_WHOLE: usize = 13;

/// The page as a sheet.
pub(super) fn sheet(page: &Page) -> String {
    // some reports have no title of their own: then their first section has it
    let untitled = |section: &&Section| section.heading.is_empty() && section.name.is_empty() && section.parts.is_empty();
    let mut sections = page.sections.iter().skip_while(untitled);
    let Some(first) = sections.next() else { return String::new() };
    let title = if first.heading.is_empty() { &first.name } else { &first.heading };
    let aside = &first.aside;
    let sheet = Sheet { sections: Cell::new(0), ticks: Cell::new(0) };
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) ", " (aside) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    header { h1 { (title) } p .aside { (coded(aside)) } }
                    (sheet.parts(&first.parts))
                    @for section in sheet.leaves(sections) { (section) }
                    footer { p { "The supplier's safety data sheet and the local rules decide." } }
                }
            }
        }
    }
    .into_string()
        + "\n"
}

/// A sheet under construction: what has an id is numbered through.
struct Sheet {
    sections: Cell<usize>,
    ticks: Cell<usize>,
}

fn next(count: &Cell<usize>) -> usize {
    count.set(count.get() + 1);
    count.get()
}

fn words(words: &Words) -> Markup {
    html! { @for (words, weight) in &words.0 { @if *weight == Weight::Plain { (coded(words)) } @else { b { (coded(words)) } } } }
}

/// What stands between backticks is typed as it stands: set apart by its letters, without them.
fn coded(words: &str) -> Markup {
    // an odd one has no partner and stays
    let last = words.matches('`').count();
    let parts = words.split('`').enumerate();
    html! {
        @for (at, part) in parts {
            @if at % 2 == 1 && at < last { code { (part) } } @else { @if at % 2 == 1 { "`" } (part) }
        }
    }
}

/// A few words as a sentence, with a capital and a stop, where they begin with a word and not with a name, number or unit.
fn sentence(line: &Words) -> Words {
    let is_word = |words: &str| {
        let word = words.split([' ', ':', ',']).next().unwrap_or_default();
        !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_lowercase())
    };
    let mut line = line.clone();
    match line.0.first_mut() {
        Some((first, Weight::Plain)) if is_word(first) => first[..1].make_ascii_uppercase(),
        _ => return line,
    }
    if line.plain().ends_with(['.', ':']) { line } else { line.and(".") }
}

impl Sheet {
    /// Sections by the leaf that they stand on, each leaf on a page of its own.
    fn leaves<'p>(&self, sections: impl Iterator<Item = &'p Section>) -> Vec<Markup> {
        let mut all: Vec<&Section> = sections.filter(|section| section.only != Some(Medium::Text)).collect();
        all.sort_by_key(|section| section.leaf);
        let mut leaf = Leaf::Work;
        let each = all.into_iter().map(|section| {
            if section.heading.is_empty() {
                return self.parts(&section.parts);
            }
            let begins = section.leaf != std::mem::replace(&mut leaf, section.leaf);
            self.section(section, begins)
        });
        each.collect()
    }

    /// * `begins`: true for the first of its leaf
    fn section(&self, section: &Section, begins: bool) -> Markup {
        let id = format!("part-{}", next(&self.sections));
        html! {
            section .leaf[begins] aria-labelledby=(id) {
                h2 id=(id) {
                    (section.heading)
                    @if !section.name.is_empty() { " " (section.name) }
                    @if !section.aside.is_empty() { " " span .beside { (coded(&section.aside)) } }
                }
                (self.parts(&section.parts))
            }
        }
    }

    fn parts(&self, parts: &[Part]) -> Markup {
        html! { @for part in parts.iter().filter(|part| part.only != Some(Medium::Text)) { (self.part(part)) } }
    }

    fn part(&self, part: &Part) -> Markup {
        let look = Some(part.look).filter(|look| !look.is_empty());
        match &part.block {
            Block::Gap => html! {},
            Block::Line(line) => html! { p class=[look] { (words(&sentence(line))) } },
            Block::Paragraph { first, words: said } => {
                let first = first.trim();
                html! { p class=[look] { @if !first.is_empty() { (first) " " } (words(said)) } }
            }
            Block::List { marks: Marks::Numbers(..), items } => {
                html! { ol class=(format!("steps {}", part.look).trim_end()) { @for item in items { li { (words(item)) } } } }
            }
            Block::List { items, .. } => {
                html! { ul class=(look.unwrap_or("plain")) { @for item in items { li { (words(item)) } } } }
            }
            Block::Table(table) => self.table(table, part.look),
            Block::Doses { doses, .. } => self.doses(doses),
            Block::Findings(findings) => html! { ul .findings { @for finding in findings { (one(finding)) } } },
            Block::Picture(picture) => picture.clone(),
            Block::Beside(picture, parts) => html! { div .beside-numbers { div { (picture) } div { (self.parts(parts)) } } },
        }
    }

    fn table(&self, table: &Table, look: &str) -> Markup {
        let shown: Vec<usize> =
            (0..table.columns.len()).filter(|&at| table.columns[at].only != Some(Medium::Text)).collect();
        let has_heads = shown.iter().any(|&at| !table.columns[at].heads[1].is_empty());
        let class = format!("rows {look}");
        let side = |at: usize| if table.columns[at].is_left { "left" } else { "right" };
        html! {
            div .scroll {
                table class=(class.trim_end()) {
                    @if has_heads {
                        thead {
                            tr {
                                @if table.is_numbered || table.ticks.is_some() { th scope="col" { span .unseen { "done" } } }
                                @for &at in &shown { th scope="col" class=(side(at)) { (table.columns[at].heads[1]) } }
                            }
                        }
                    }
                    tbody {
                        @for (number, row) in table.rows.iter().enumerate() {
                            @let tick = table.ticks.as_ref().filter(|(_, without)| !without.contains(&number));
                            @let id = tick.map(|(id, _)| format!("{id}-{}", next(&self.ticks)));
                            tr {
                                @if table.is_numbered || table.ticks.is_some() {
                                    td .box {
                                        @if let Some(id) = &id { input type="checkbox" id=(id); }
                                        @if table.is_numbered { span .number { (number + 1) "." } }
                                    }
                                }
                                @for (place, &at) in shown.iter().enumerate() {
                                    // a head without a word heads nothing
                                    @if place == 0 && !row[at].plain().is_empty() {
                                        th scope="row" class=(side(at)) { @if let Some(id) = &id { label for=(id) { (words(&row[at])) } } @else { (words(&row[at])) } }
                                    } @else {
                                        td class=(side(at)) { (words(&row[at])) }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }

    fn doses(&self, doses: &[DoseLine]) -> Markup {
        let most = doses.iter().map(|dose| places(&dose.amount)).max().unwrap_or(0);
        let mut number = 0;
        html! {
            table .weights .whole[doses.len() <= MOST_WHOLE] {
                thead { tr { th scope="col" { span .unseen { "done" } } th scope="col" .amount { "amount" } th scope="col" { "of what, with what" } } }
                tbody {
                    @for dose in doses {
                        @if dose.is_within {
                            tr .within { td {} td {} th scope="row" { (dose.name) " " span .with { (dose.with) } } }
                        } @else {
                            ({ number += 1; self.dose(dose, most, number) })
                        }
                    }
                }
            }
        }
    }

    fn dose(&self, dose: &DoseLine, most: usize, number: usize) -> Markup {
        let id = format!("weigh-{}", next(&self.ticks));
        html! {
            tr .out[dose.is_left_out] .acid[dose.is_acid] {
                // what is left out has nothing to tick
                td .box { @if !dose.is_left_out { input type="checkbox" id=(id); } span .number { (number) "." } }
                td .amount { (points_aligned(&dose.amount, most)) }
                th scope="row" {
                    div .spread {
                        span {
                            @if dose.is_acid { span .acid-mark { "acid" } " " }
                            @if dose.is_left_out { (dose.name) } @else { label for=(id) { (dose.name) } }
                        }
                        " "
                        span .with { (dose.with) @if let Some(portions) = dose.portions { ", in " (portions) " portions" } }
                    }
                }
            }
        }
    }
}

/// Decimals of an amount such as `15.5 g`.
fn places(amount: &str) -> usize {
    let number = amount.trim_start_matches('(').split(' ').next().unwrap_or_default();
    number.split_once('.').map_or(0, |(_, decimals)| decimals.len())
}

/// An amount whose point stands under those of the others: what follows it is as wide as `most` decimals.
fn points_aligned(amount: &str, most: usize) -> Markup {
    let (number, unit) = amount.split_once(' ').unwrap_or((amount, ""));
    let (whole, rest) = number.split_at(number.find('.').unwrap_or(number.len()));
    html! {
        b { (whole) span .after .(format!("room-{most}")) { (rest) } } " " span .unit { (unit) }
    }
}

fn one(finding: &Finding) -> Markup {
    // a border of its own for each, so that no colour is needed to tell them apart
    let (word, class) = match finding.severity {
        Severity::Stop => ("STOP", "stop"),
        Severity::Warning => ("Warning", "warning"),
        Severity::Note => ("Note", "note"),
    };
    html! {
        li {
            span .severity .(class) { (word) } " "
            span .words {
                (coded(&finding.message))
                @if let Some(remedy) = &finding.remedy { " " (coded(remedy)) }
                " " span .code { "[" (finding.code) "]" }
            }
        }
    }
}
