//! An answer in every form that it has.

use super::{
    beside, check, cycle, document, logbook_added, logbook_forecast, logbook_now, logbook_show, mix, scale, stock, switch,
    trade,
};
#[cfg(feature = "sheets")]
use super::{check_sheet, cycle_sheet, mix_sheet, stock_sheet, switch_sheet};
#[cfg(feature = "sheets")]
use super::{
    logbook::{logbook_forecast_page, logbook_now_page, logbook_show_page},
    mix::beside_page,
    sheet::sheet as page_sheet,
    switch::scale_page,
};
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
    /// A page of HTML; of a job that draws figures only where the answer has them.
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
        Answer::Cycle(of) => cycle_sheet(&of.record, &of.figures.as_ref()?.pictures),
        Answer::MixBeside(of) => page_sheet(&beside_page(of)),
        Answer::Scale(of) => page_sheet(&scale_page(&of.record)),
        Answer::LogbookShow(of) => page_sheet(&logbook_show_page(of)),
        Answer::LogbookNow(of) => page_sheet(&logbook_now_page(&of.record)),
        Answer::LogbookForecast(of) => page_sheet(&logbook_forecast_page(&of.record)),
        Answer::Trade(_) | Answer::LogbookAdd(_) | Answer::Salts(_) => return None,
    })
}
