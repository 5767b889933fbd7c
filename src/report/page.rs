//! The model of a page: what a job has to say, built once, and printed as text (`text.rs`) or as a sheet (`sheet.rs`).

#[cfg(feature = "sheets")]
use maud::Markup;

use crate::safety::Finding;

/// Without sheets nothing is drawn.
#[cfg(not(feature = "sheets"))]
pub(super) enum Markup {}

/// What a page is printed as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Medium {
    /// 80 columns for a terminal.
    Text,
    /// HTML for the wall.
    Sheet,
}

/// Words, some of them bold.
#[derive(Clone)]
pub(super) struct Words(pub(super) Vec<(String, Weight)>);

/// How words stand out.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Plain,
    /// Bold on a sheet alone.
    Strong,
    Bold,
}

impl Words {
    pub(super) fn and(mut self, more: impl Into<Self>) -> Self {
        self.0.extend(more.into().0);
        self
    }

    pub(super) fn plain(&self) -> String {
        self.0.iter().map(|(words, _)| words.as_str()).collect()
    }
}

impl<T: Into<String>> From<T> for Words {
    fn from(words: T) -> Self {
        Self(vec![(words.into(), Weight::Plain)])
    }
}

/// Words in bold.
pub(super) fn bold(words: impl Into<String>) -> Words {
    Words(vec![(words.into(), Weight::Bold)])
}

/// Words in bold on a sheet.
pub(super) fn strong(words: impl Into<String>) -> Words {
    Words(vec![(words.into(), Weight::Strong)])
}

/// A page under construction: sections, of which the first has its title for a heading.
pub(super) struct Page {
    pub(super) sections: Vec<Section>,
    only: Option<Medium>,
}

/// Where on a sheet a section stands; text keeps the order in which they were written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Leaf {
    /// The first page: all that is needed to do the work.
    Work,
    /// What there is to know of it.
    More,
    /// Pictures, warning labels, sources, labels to cut out.
    Annex,
}

/// A heading and what stands under it.
pub(super) struct Section {
    pub(super) leaf: Leaf,
    /// Text shows it in capitals.
    pub(super) heading: String,
    /// The grower's own name that follows the heading, as it is written.
    pub(super) name: String,
    /// Said beside the heading; may be empty.
    pub(super) aside: String,
    pub(super) only: Option<Medium>,
    pub(super) parts: Vec<Part>,
}

/// A block, and how it is shown.
pub(super) struct Part {
    pub(super) block: Block,
    /// Class in `sheet.css`; text does not heed it.
    pub(super) look: &'static str,
    /// The only medium that has it.
    pub(super) only: Option<Medium>,
}

impl Part {
    /// Shown like this on a sheet.
    pub(super) fn look(&mut self, look: &'static str) {
        self.look = look;
    }
}

/// What can stand on a page.
pub(super) enum Block {
    /// Nothing, a line high.
    Gap,
    /// A few words that text does not break; a sheet makes a sentence of them.
    Line(Words),
    /// A paragraph; text begins it with `first` and indents its other lines alike.
    Paragraph { first: String, words: Words },
    /// Items, one under another.
    List { marks: Marks, items: Vec<Words> },
    /// Columns.
    Table(Table),
    /// What to measure out.
    Doses { doses: Vec<DoseLine>, is_numbered: bool },
    /// What to watch.
    Findings(Vec<Finding>),
    /// A drawing or another piece that only a sheet has.
    Picture(Markup),
    /// A drawing, and beside it what says the same in numbers.
    Beside(Markup, Vec<Part>),
}

/// How the items of a list begin in text.
#[derive(Clone, Copy)]
pub(super) enum Marks {
    /// `1. ` after so many columns, its numbers right-aligned in so many more.
    Numbers(usize, usize),
    /// `- ` after so many columns.
    Dashes(usize),
    /// So many columns.
    Nothing(usize),
}

/// One dose.
pub(super) struct DoseLine {
    /// Its amount; empty for what goes in with the bottle before it.
    pub(super) amount: String,
    pub(super) name: String,
    pub(super) with: String,
    pub(super) portions: Option<u32>,
    pub(super) is_within: bool,
    pub(super) is_left_out: bool,
    pub(super) is_acid: bool,
}

/// Rows of cells under heads.
pub(super) struct Table {
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<Vec<Words>>,
    /// Columns of text before the first.
    pub(super) indent: usize,
    pub(super) is_numbered: bool,
    /// What the ids of boxes to tick begin with, and the rows that have none.
    pub(super) ticks: Option<(&'static str, Vec<usize>)>,
}

/// A column of a table.
pub(super) struct Column {
    /// Its head in text and on a sheet.
    pub(super) heads: [String; 2],
    pub(super) is_left: bool,
    pub(super) only: Option<Medium>,
}

/// A column with words, aligned to the left.
pub(super) fn left(head: &str) -> Column {
    Column { heads: [head.to_owned(), head.to_owned()], is_left: true, only: None }
}

/// A column with numbers, aligned to the right.
pub(super) fn right(head: &str) -> Column {
    Column { is_left: false, ..left(head) }
}

impl Column {
    /// With another head on a sheet, which has room for more words.
    pub(super) fn on_sheet(mut self, head: &str) -> Self {
        head.clone_into(&mut self.heads[1]);
        self
    }

    /// In one medium alone.
    pub(super) fn only(self, medium: Medium) -> Self {
        Self { only: Some(medium), ..self }
    }
}

impl Table {
    pub(super) fn new<const N: usize>(columns: [Column; N]) -> Self {
        Self { columns: columns.into(), rows: Vec::new(), indent: 5, is_numbered: false, ticks: None }
    }

    /// So many columns of text stand before it.
    pub(super) fn indent(self, indent: usize) -> Self {
        Self { indent, ..self }
    }

    /// Each row has its number.
    pub(super) fn numbered(self) -> Self {
        Self { is_numbered: true, ..self }
    }

    /// Each row has a box to tick on a sheet; ids begin with `id`.
    pub(super) fn ticked(self, id: &'static str) -> Self {
        Self { ticks: Some((id, Vec::new())), ..self }
    }

    /// One row has nothing to tick.
    pub(super) fn unticked(&mut self, row: usize) {
        if let Some((_, without)) = &mut self.ticks {
            without.push(row);
        }
    }

    pub(super) fn row<const N: usize>(&mut self, cells: [impl Into<Words>; N]) {
        self.rows.push(cells.map(Into::into).into());
    }

    /// A row whose cells are not all of one kind.
    pub(super) fn cells(&mut self, cells: Vec<Words>) {
        self.rows.push(cells);
    }

    /// Without one of its columns.
    pub(super) fn without(&mut self, at: usize) {
        self.columns.remove(at);
        self.rows.iter_mut().for_each(|row| drop(row.remove(at)));
    }
}

impl Page {
    pub(super) fn new(title: &str, aside: &str) -> Self {
        let mut page = Self { sections: Vec::new(), only: None };
        page.section(title, aside);
        page
    }

    /// Begins a section.
    pub(super) fn section(&mut self, heading: &str, aside: &str) {
        self.section_of(heading, "", aside);
    }

    /// Begins a section of something that has a name of the grower's own.
    pub(super) fn section_of(&mut self, heading: &str, name: &str, aside: &str) {
        let [heading, name, aside] = [heading, name, aside].map(str::to_owned);
        self.sections.push(Section { leaf: Leaf::Work, heading, name, aside, only: self.only, parts: Vec::new() });
    }

    /// The section that was begun last stands on another leaf than the first.
    pub(super) fn leaf(&mut self, leaf: Leaf) {
        if let Some(section) = self.sections.last_mut() {
            section.leaf = leaf;
        }
    }

    /// What `add` adds is for one medium alone, and nothing within what is for the other.
    pub(super) fn only(&mut self, medium: Medium, add: impl FnOnce(&mut Self)) {
        if self.only.is_none_or(|other| other == medium) {
            let before = self.only.replace(medium);
            add(self);
            self.only = before;
            // what follows a section of one medium does not belong to it
            if self.sections.last().is_some_and(|section| section.only != before) {
                self.section("", "");
            }
        }
    }

    pub(super) fn add(&mut self, block: Block) -> &mut Part {
        let part = Part { block, look: "", only: self.only };
        if self.sections.is_empty() {
            self.section("", "");
        }
        let at = self.sections.len() - 1;
        let parts = &mut self.sections[at].parts;
        parts.push(part);
        let last = parts.len() - 1;
        &mut parts[last]
    }

    pub(super) fn gap(&mut self) {
        self.add(Block::Gap);
    }

    pub(super) fn line(&mut self, words: impl Into<Words>) -> &mut Part {
        self.add(Block::Line(words.into()))
    }

    pub(super) fn say(&mut self, words: impl Into<Words>) -> &mut Part {
        self.say_after("   ", words)
    }

    /// A paragraph that text begins with `first`.
    pub(super) fn say_after(&mut self, first: &str, words: impl Into<Words>) -> &mut Part {
        self.add(Block::Paragraph { first: first.to_owned(), words: words.into() })
    }

    pub(super) fn list<W: Into<Words>>(&mut self, marks: Marks, items: impl IntoIterator<Item = W>) -> &mut Part {
        self.add(Block::List { marks, items: items.into_iter().map(Into::into).collect() })
    }

    pub(super) fn table(&mut self, table: Table) -> &mut Part {
        self.add(Block::Table(table))
    }

    /// What `add` adds stands beside a picture, where there is one.
    pub(super) fn beside(&mut self, picture: Option<Markup>, add: impl FnOnce(&mut Self)) {
        let mut inner = Self { sections: Vec::new(), only: self.only };
        inner.section("", "");
        add(&mut inner);
        let parts = inner.sections.into_iter().flat_map(|section| section.parts);
        match picture {
            Some(picture) => {
                self.add(Block::Beside(picture, parts.collect()));
            }
            None => parts.for_each(|part| *self.add(Block::Gap) = part),
        }
    }
}
