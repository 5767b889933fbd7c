//! A page as text, 80 columns wide, with headings that stand out on a terminal.

use anstyle::Style;

use super::page::{Block, DoseLine, Marks, Medium, Page, Part, Table, Weight, Words, bold, left};
use crate::safety::{Finding, Severity};

const WIDTH: usize = 80;

/// The page as text.
///
/// * `colour`: what is bold stands out on a terminal
pub(super) fn text(page: &Page, colour: bool) -> String {
    let mut writer = Writer { text: String::new(), colour };
    for section in page.sections.iter().filter(|section| section.only != Some(Medium::Sheet)) {
        writer.heading(format!("{} {}", section.heading.to_uppercase(), section.name).trim(), &section.aside);
        section.parts.iter().for_each(|part| writer.part(part));
    }
    writer.text
}

/// Text under construction.
struct Writer {
    text: String,
    colour: bool,
}

impl Writer {
    fn words(&self, words: &Words) -> String {
        let style = Style::new().bold();
        let each = words.0.iter().map(|(words, weight)| match (weight, self.colour) {
            (Weight::Bold, true) => format!("{style}{words}{style:#}"),
            _ => words.clone(),
        });
        each.collect()
    }

    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn heading(&mut self, words: &str, aside: &str) {
        if words.is_empty() {
            return;
        }
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        let words = self.words(&bold(words));
        self.line(&if aside.is_empty() { words } else { format!("{words}  {aside}") });
    }

    fn part(&mut self, part: &Part) {
        if part.only == Some(Medium::Sheet) {
            return;
        }
        match &part.block {
            Block::Gap => self.line(""),
            Block::Line(words) => self.line(&format!("   {}", self.words(words))),
            Block::Paragraph { first, words } => self.paragraph(first, words),
            Block::List { marks, items } => {
                for (at, item) in items.iter().enumerate() {
                    let first = match marks {
                        Marks::Numbers(indent, width) => format!("{:indent$}{:>width$}. ", "", at + 1),
                        Marks::Dashes(width) => format!("{:width$}- ", ""),
                        Marks::Nothing(width) => " ".repeat(*width),
                    };
                    self.paragraph(&first, item);
                }
            }
            Block::Table(table) => self.table(table),
            Block::Doses { doses, is_numbered } => self.doses(doses, *is_numbered),
            Block::Findings(findings) => self.findings(findings),
            Block::Picture(_) => {}
            Block::Beside(_, parts) => parts.iter().for_each(|part| self.part(part)),
        }
    }

    /// A paragraph whose first line starts with `first` and whose others are indented alike.
    fn paragraph(&mut self, first: &str, words: &Words) {
        let indent = " ".repeat(first.chars().count());
        let options = textwrap::Options::new(WIDTH)
            .initial_indent(first)
            .subsequent_indent(&indent)
            .break_words(false)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation);
        for line in textwrap::wrap(&self.words(words), options) {
            self.line(&line);
        }
    }

    fn table(&mut self, table: &Table) {
        let shown: Vec<usize> =
            (0..table.columns.len()).filter(|&at| table.columns[at].only != Some(Medium::Sheet)).collect();
        let heads: Vec<Words> = table.columns.iter().map(|column| column.heads[0].as_str().into()).collect();
        let has_heads = shown.iter().any(|&at| !table.columns[at].heads[0].is_empty());
        let rows = std::iter::once((0, &heads)).filter(|_| has_heads).chain((1..).zip(&table.rows));
        let rows: Vec<(usize, &Vec<Words>)> = rows.collect();
        let width = |at: usize| rows.iter().map(|(_, row)| row[at].plain().chars().count()).max().unwrap_or(0);
        let widths: Vec<(usize, usize)> = shown.iter().map(|&at| (at, width(at))).collect();
        for (number, row) in rows {
            let mut line = match number {
                number if table.is_numbered && number > 0 => format!("  {number:>2}.  "),
                _ if table.is_numbered => " ".repeat(7),
                _ => " ".repeat(table.indent),
            };
            for (at, width) in &widths {
                let room = width - row[*at].plain().chars().count();
                line += &self.words(&padded(row[*at].clone(), room, table.columns[*at].is_left));
                line += "  ";
            }
            self.line(&line);
        }
    }

    fn doses(&mut self, doses: &[DoseLine], is_numbered: bool) {
        let mut table = Table::new([left(""), left(""), left(""), left("")]).indent(usize::from(!is_numbered));
        let mut number = 0;
        for dose in doses {
            let place = match (is_numbered, dose.is_within) {
                (true, false) => {
                    number += 1;
                    format!("  {number:>2}.")
                }
                (true, true) => " ".repeat(5),
                (false, _) => String::new(),
            };
            // the decimal points stand under each other
            let point = dose.amount.find('.').unwrap_or_else(|| dose.amount.find(' ').unwrap_or(dose.amount.len()));
            let amount = format!("{}{}", " ".repeat(6_usize.saturating_sub(point)), dose.amount);
            let amount = if is_numbered { bold(amount) } else { amount.into() };
            let name = format!("{}{}", if dose.is_within { "   " } else { "" }, dose.name);
            let portions = dose.portions.map_or_else(String::new, |portions| format!(", {portions} parts"));
            table.cells(vec![place.into(), amount, name.into(), format!("{}{portions}", dose.with).into()]);
        }
        self.table(&table);
    }

    fn findings(&mut self, findings: &[Finding]) {
        for finding in findings {
            let word = match finding.severity {
                Severity::Stop => "   STOP     ",
                Severity::Warning => "   Warning  ",
                Severity::Note => "   Note     ",
            };
            let remedy = finding.remedy.as_ref().map_or_else(String::new, |remedy| format!(" {remedy}"));
            self.paragraph(word, &format!("{}{remedy} [{}]", finding.message, finding.code).into());
        }
    }
}

/// Words with room beside them; what is bold takes the room with it.
fn padded(mut words: Words, room: usize, is_left: bool) -> Words {
    let room = " ".repeat(room);
    match if is_left { words.0.last_mut() } else { words.0.first_mut() } {
        Some((words, _)) if is_left => words.push_str(&room),
        Some((words, _)) => words.insert_str(0, &room),
        None => return room.into(),
    }
    words
}
