//! An answer in every form that it has.

use super::{
    beside, check, cycle, document, logbook_added, logbook_forecast, logbook_now, logbook_show, mix, new, scale, stock,
    switch, today, top_up, trade,
};
#[cfg(feature = "sheets")]
use super::{check_sheet, cycle_sheet, mix_sheet, stock_sheet, switch_sheet, today_sheet, top_up_sheet};
use crate::ask::Answer;

/// A form of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Form {
    /// The report for people.
    Text {
        /// True where headings may be coloured.
        colour: bool,
        /// True where a plot may be drawn from letters.
        plot: bool,
    },
    /// The document for programs.
    Json,
    /// A page of HTML to print; needs an answer with `figures`.
    #[cfg(feature = "sheets")]
    Sheet,
}

/// An answer in a form; nothing where it has none: no sheet without `figures`, no text of the salt table, which
/// [`super::salts`] makes from the catalogue.
#[must_use]
pub fn render(answer: &Answer, form: Form) -> Option<String> {
    match form {
        Form::Json => Some(document(answer)),
        Form::Text { colour, plot } => text(answer, colour, plot),
        #[cfg(feature = "sheets")]
        Form::Sheet => sheet(answer),
    }
}

fn text(answer: &Answer, colour: bool, plot: bool) -> Option<String> {
    Some(match answer {
        Answer::Mix(of) => mix(&of.record, colour),
        Answer::MixBeside(of) => beside(of, colour),
        Answer::Trade(of) => trade(of, colour, plot),
        Answer::Check(of) => check(&of.record, colour),
        Answer::Switch(of) => switch(&of.record, colour),
        Answer::Scale(of) => scale(&of.record, colour),
        Answer::Stock(of) => stock(&of.record, colour),
        Answer::Cycle(of) => cycle(&of.record, colour),
        Answer::LogbookAdd(of) => logbook_added(&of.record),
        Answer::LogbookShow(of) => logbook_show(of, colour),
        Answer::LogbookNow(of) => logbook_now(&of.record, colour),
        Answer::LogbookForecast(of) => logbook_forecast(&of.record, colour),
        Answer::Today(of) => today(&of.record, colour),
        Answer::TopUp(of) => top_up(&of.record, colour),
        Answer::New(of) => new(of, colour),
        Answer::Salts(_) => return None,
    })
}

#[cfg(feature = "sheets")]
fn sheet(answer: &Answer) -> Option<String> {
    Some(match answer {
        Answer::Mix(of) => mix_sheet(&of.record, &of.figures.as_ref()?.pictures),
        Answer::Check(of) => check_sheet(&of.record, &of.figures.as_ref()?.pictures),
        Answer::Switch(of) => {
            let figures = of.figures.as_ref()?;
            switch_sheet(&of.record, &figures.pictures, figures.course.as_ref())
        }
        Answer::Stock(of) => stock_sheet(&of.record, &of.figures.as_ref()?.pictures),
        Answer::Today(of) => today_sheet(&of.record, of.figures.as_ref()?.course.as_ref()),
        Answer::TopUp(of) => top_up_sheet(&of.record, &of.figures.as_ref()?.pictures),
        Answer::Cycle(of) => cycle_sheet(&of.record, &of.figures.as_ref()?.pictures),
        _ => return None,
    })
}
