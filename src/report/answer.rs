//! An answer in every form that it has.

use super::{
    beside, check, cycle, document, logbook_added, logbook_forecast, logbook_merged, logbook_now, logbook_show, mix, new,
    salts, scale, stock, switch, today, top_up, trade,
};
#[cfg(feature = "sheets")]
use super::{
    check::check_page,
    cycle::cycle_page,
    logbook::{logbook_forecast_page, logbook_now_page, logbook_show_page},
    mix::{beside_page, mix_page},
    new::new_page,
    salt::salts_page,
    sheet::sheet as page_sheet,
    stock::stock_page,
    switch::{scale_page, switch_page},
    today::today_page,
    top_up::top_up_page,
    trade::trade_page,
};
use crate::ask::Answer;
#[cfg(feature = "sheets")]
use crate::ask::Figures;
#[cfg(feature = "sheets")]
use crate::jobs::{Course, Pictures};

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

/// An answer in a form; nothing where it has none: no sheet of what is only written down, no text of a bench file, which is text.
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
        Answer::LogbookMerge(of) => logbook_merged(&of.record),
        Answer::LogbookNow(of) => logbook_now(&of.record, colour),
        Answer::LogbookForecast(of) => logbook_forecast(&of.record, colour),
        Answer::Today(of) => today(&of.record, colour),
        Answer::TopUp(of) => top_up(&of.record, colour),
        Answer::New(of) => new(of, colour),
        Answer::Salts(of) => salts(of, colour),
        Answer::BenchRead(_) | Answer::BenchEdit(_) => return None,
    })
}

#[cfg(feature = "sheets")]
fn sheet(answer: &Answer) -> Option<String> {
    let page = match answer {
        Answer::Mix(of) => mix_page(&of.record, pictures(of.figures.as_ref())),
        Answer::MixBeside(of) => beside_page(of),
        Answer::Trade(of) => trade_page(of, false),
        Answer::Check(of) => check_page(&of.record, pictures(of.figures.as_ref())),
        Answer::Switch(of) => switch_page(&of.record, pictures(of.figures.as_ref()), course(of.figures.as_ref())),
        Answer::Scale(of) => scale_page(&of.record),
        Answer::Stock(of) => stock_page(&of.record, pictures(of.figures.as_ref())),
        Answer::Cycle(of) => cycle_page(&of.record, pictures(of.figures.as_ref())),
        Answer::LogbookShow(of) => logbook_show_page(of),
        Answer::LogbookNow(of) => logbook_now_page(&of.record),
        Answer::LogbookForecast(of) => logbook_forecast_page(&of.record),
        Answer::Today(of) => today_page(&of.record, course(of.figures.as_ref())),
        Answer::TopUp(of) => top_up_page(&of.record, pictures(of.figures.as_ref())),
        Answer::Salts(of) => salts_page(of),
        Answer::New(of) => new_page(of),
        Answer::LogbookAdd(_) | Answer::LogbookMerge(_) | Answer::BenchRead(_) | Answer::BenchEdit(_) => return None,
    };
    Some(page_sheet(&page))
}

#[cfg(feature = "sheets")]
fn pictures(figures: Option<&Figures>) -> Option<&Pictures> {
    figures.map(|figures| &figures.pictures)
}

#[cfg(feature = "sheets")]
fn course(figures: Option<&Figures>) -> Option<&Course> {
    figures.and_then(|figures| figures.course.as_ref())
}
