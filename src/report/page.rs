//! A page of text, 80 columns wide, with headings that stand out on a terminal.

use std::fmt::Write as _;

use anstyle::Style;

const WIDTH: usize = 80;

/// Text under construction.
pub(super) struct Page {
    text: String,
    colour: bool,
}

impl Page {
    pub(super) fn new(colour: bool) -> Self {
        Self { text: String::new(), colour }
    }

    pub(super) fn into_text(self) -> String {
        self.text
    }

    /// `words` in bold where colour is allowed.
    pub(super) fn bold(&self, words: &str) -> String {
        let style = Style::new().bold();
        if self.colour { format!("{style}{words}{style:#}") } else { words.to_owned() }
    }

    pub(super) fn heading(&mut self, words: &str, aside: &str) {
        let words = self.bold(words);
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        self.line(&if aside.is_empty() { words } else { format!("{words}  {aside}") });
    }

    pub(super) fn line(&mut self, line: &str) {
        // writing to a String cannot fail
        let _ = writeln!(self.text, "{}", line.trim_end());
    }

    /// A paragraph whose first line starts with `first` and whose others are indented alike.
    pub(super) fn paragraph(&mut self, first: &str, words: &str) {
        let indent = " ".repeat(first.chars().count());
        let options = textwrap::Options::new(WIDTH)
            .initial_indent(first)
            .subsequent_indent(&indent)
            .break_words(false)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation);
        for line in textwrap::wrap(words, options) {
            self.line(&line);
        }
    }
}

/// Columns of text: the first and any listed in `left` are left-aligned, the rest right-aligned.
pub(super) fn columns(rows: &[Vec<String>], left: &[usize]) -> Vec<String> {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..count)
        .map(|at| rows.iter().filter_map(|row| row.get(at)).map(|cell| cell.chars().count()).max().unwrap_or(0))
        .collect();
    rows.iter()
        .map(|row| {
            let cells = row.iter().zip(&widths).enumerate().map(|(at, (cell, width))| {
                let pad = " ".repeat(width - cell.chars().count());
                if left.contains(&at) { format!("{cell}{pad}") } else { format!("{pad}{cell}") }
            });
            cells.collect::<Vec<_>>().join("  ")
        })
        .collect()
}
